package optics

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
)

// Without distortion a pinhole is similar triangles.
func TestPinholeIsSimilarTriangles(t *testing.T) {
	c := plain()
	pixel, err := c.Project(vec{0.3, -0.2, 1.5})
	if err != nil {
		t.Fatal(err)
	}
	nearPixel(t, "pixel", pixel, [2]float64{960 + 1180*0.2, 540 - 1180*0.2/1.5}, 1e-9)
	from, along, err := c.Ray([2]float64{960 + 1180, 540})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "from", from, vec{}, 0)
	near(t, "along", along, vec{math.Sqrt2 / 2, 0, math.Sqrt2 / 2}, 1e-15)
}

// Projections and undistorted places of OpenCV 4.6 (testdata/check/optics): of
// its sample pictures, and of a camera with much of every coefficient.
func TestDistortionAgreesWithOpenCV(t *testing.T) {
	compare := func(t *testing.T, c *Camera, inCamera []vec, projected, undistorted [][2]float64, pixels [][2]float64) {
		t.Helper()
		l := newLens(c)
		for i, p := range inCamera {
			got, err := c.Project(p)
			if err != nil {
				t.Fatal(err)
			}
			nearPixel(t, "projected", got, projected[i], 1e-9)
			x, y, err := l.inAir(pixels[i])
			if err != nil {
				t.Fatal(err)
			}
			nearPixel(t, "undistorted", [2]float64{x, y}, undistorted[i], 1e-7)
		}
	}
	s := &published.Strong
	compare(t, &s.Camera, s.Places, s.Projected, s.Undistorted, s.Projected)
	views := 0
	for _, v := range published.Views {
		if v.Projected == nil {
			continue
		}
		views++
		pose := Pose{R: rotation(v.Rvec), T: v.Tvec}
		var places []vec
		for _, m := range board(v.Pixels) {
			places = append(places, pose.inCamera(m.AtM))
		}
		compare(t, &published.Camera, places, v.Projected, v.Undistorted, v.Pixels)
	}
	if len(s.Places) != 40 || views != 2 {
		t.Fatalf("%d places and %d views compared: the file is not what it was", len(s.Places), views)
	}
}

// r(1 + k1 r²) folds where its derivative 1 + 3 k1 r² is 0: for k1 = −0.3 at
// r = 1/√0.9, where it is 2/3 of that. The others are polynomials with known roots
// in s = r².
func TestFoldIsWhereTheRadialModelTurns(t *testing.T) {
	for _, c := range []struct{ k1, k2, k3, fold float64 }{
		{-0.3, 0, 0, 1 / math.Sqrt(0.9)},
		{0, -0.2, 0, 1},                     // 1 − 5·0.2 s²
		{0, 0, -1.0 / 7, 1},                 // 1 − s³
		{-1, 1, 0, steepest},                // 1 − 3 s + 5 s²: discriminant 9 − 20 < 0
		{-1, 0.25, 0, math.Sqrt(0.4)},       // 1 − 3 s + 1.25 s²: s = (3 − 2)/2.5
		{0.1, 0.1, 0, steepest},             //
		{-11.0 / 18, 1.0 / 5, -1.0 / 42, 1}, // (1 − s)(1 − s/2)(1 − s/3) = 1 − 11/6 s + s² − s³/6
	} {
		numtest.Check(t, "fold", math.Sqrt(firstFold(c.k1, c.k2, c.k3, steepest*steepest)), c.fold, numtest.Tolerance{Rel: 1e-9})
	}
	c := plain()
	c.K1 = -0.3
	edge := 1180 * (2.0 / 3) / math.Sqrt(0.9)
	if _, _, err := c.Ray([2]float64{960 + edge - 0.01, 540}); err != nil {
		t.Errorf("a pixel just within: %v", err)
	}
	for _, pixel := range [][2]float64{{960 + edge + 0.01, 540}, {960, 540 - edge - 0.01}, {-1e6, 540}, {960 + 1.3*edge, 540}} {
		if _, _, err := c.Ray(pixel); !errors.Is(err, errFold) {
			t.Errorf("the pixel %v beyond the fold: %v", pixel, err)
		}
	}
	// A place beyond the fold would be seen nearer to the middle than it is.
	if _, err := c.Project(vec{1.2, 0, 1}); !errors.Is(err, errFold) {
		t.Errorf("a place beyond the fold: %v", err)
	}
}

func TestWhatCannotBeSeenIsRefused(t *testing.T) {
	flat, port := plain(), bent()
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		camera Camera
		at     vec
		want   error
	}{
		{flat, vec{0, 0, 0}, errBehind},
		{flat, vec{0, 0, -1}, errBehind},
		{port, vec{0, 0, -1}, errBehind},
		{port, vec{0, 0, 0.01}, errGlass},
		{port, vec{0, 0, 0.026}, errGlass},
		{flat, vec{1000, 0, 1}, errSteep},
		{flat, vec{nan, 0, 1}, errNumber},
		{port, vec{0, inf, 1}, errNumber},
		{flat, vec{0, 0, inf}, errNumber},
	} {
		if pixel, err := c.camera.Project(c.at); !errors.Is(err, c.want) || pixel != [2]float64{} {
			t.Errorf("Project(%v) = %v, %v; want %v", c.at, pixel, err, c.want)
		}
	}
	// A pinhole on the glass sees only a cone: sin a = 1/1.34, tan a = 1.1211.
	touching := plain()
	touching.Port = &Port{GlassIndex: 1.49, WaterIndex: 1.34}
	if _, err := touching.Project(vec{1.121, 0, 1}); err != nil {
		t.Errorf("within the cone: %v", err)
	}
	if _, err := touching.Project(vec{1.122, 0, 1}); !errors.Is(err, errSteep) {
		t.Errorf("outside the cone: %v", err)
	}
	for _, pixel := range [][2]float64{{nan, 0}, {0, inf}, {1e308, -1e308}, {1e6, 0}} {
		for _, c := range []Camera{flat, port} {
			if from, along, err := c.Ray(pixel); err == nil || from != (vec{}) || along != (vec{}) {
				t.Errorf("Ray(%v) = %v, %v, %v", pixel, from, along, err)
			}
		}
	}
}

// What a pixel sees is seen at that pixel, and what is seen at a pixel lies on
// its ray: 1e-9 px and 1e-9 of the distance.
func TestRayAndProjectUndoEachOther(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCamera(t)
		l := newLens(&c)
		pixel := [2]float64{rapid.Float64Range(-0.5, 1919.5).Draw(t, "across"), rapid.Float64Range(-0.5, 1079.5).Draw(t, "down")}
		from, along, err := c.Ray(pixel)
		if err != nil {
			if !errors.Is(err, errFold) && !errors.Is(err, errSteep) {
				t.Fatalf("Ray: %v", err)
			}
			t.Skip("beyond the fold")
		}
		x, y, err := l.inAir(pixel)
		if err != nil {
			t.Fatal(err)
		}
		if _, _, d := l.distort(x, y); d[0]*d[2]-d[1]*d[1] < 0.05 {
			t.Skip("at the fold's edge no digits are left")
		}
		if d := math.Abs(size(along) - 1); d > 1e-14 {
			t.Errorf("the direction's length is off by %g", d)
		}
		p := add(from, scaled(rapid.Float64Range(1e-3, 30).Draw(t, "distance"), along))
		back, err := c.Project(p)
		if err != nil {
			t.Fatalf("what pixel %v sees at %v is not seen: %v", pixel, p, err)
		}
		nearPixel(t, "pixel", back, pixel, 1e-9)

		p = vec{rapid.Float64Range(-1, 1).Draw(t, "x"), rapid.Float64Range(-0.6, 0.6).Draw(t, "y"), rapid.Float64Range(0.13, 3).Draw(t, "z")}
		pixel, err = c.Project(p)
		if err != nil || !c.InPicture(pixel) {
			t.Skip("out of sight")
		}
		from, along, err = c.Ray(pixel)
		if err != nil {
			t.Fatalf("what is seen at %v has no ray: %v", pixel, err)
		}
		off := sub(p, from)
		off = sub(off, scaled(dot(off, along), along))
		x, y, _ = l.inAir(pixel)
		if _, _, d := l.distort(x, y); d[0]*d[2]-d[1]*d[1] > 0.05 && size(off) > 1e-9*size(p) {
			t.Errorf("%v lies %g m off the ray of its pixel", p, size(off))
		}
	})
}

// The derivatives against central differences.
func TestDerivativesOfProjection(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCamera(t)
		l := newLens(&c)
		p := vec{rapid.Float64Range(-0.4, 0.4).Draw(t, "x"), rapid.Float64Range(-0.3, 0.3).Draw(t, "y"), rapid.Float64Range(1, 3).Draw(t, "z")}
		if rapid.Bool().Draw(t, "on the axis") {
			p[0], p[1] = 0, 0
		}
		_, d, err := l.project(p)
		if err != nil {
			t.Skip("out of sight")
		}
		const h = 1e-6
		for j := range 3 {
			low, high := p, p
			low[j] -= h
			high[j] += h
			a, _, err1 := l.project(low)
			b, _, err2 := l.project(high)
			if err1 != nil || err2 != nil {
				t.Skip("at an edge")
			}
			for i := range 2 {
				numtest.Check(t, "derivative", d[i][j], (b[i]-a[i])/(2*h), numtest.Tolerance{Abs: 1e-5 * c.FxPx})
			}
		}
	})
}

func TestEveryFaultOfACameraIsTold(t *testing.T) {
	c := Camera{WidthPx: 0, HeightPx: -3, FxPx: math.NaN(), FyPx: 0, CxPx: math.Inf(1), CyPx: 1e9, K1: math.NaN(), K2: 1e13, K3: math.Inf(-1), P1: math.NaN(), P2: math.NaN(), Port: &Port{AirGapM: -1, GlassM: 100, GlassIndex: 0.9, WaterIndex: math.NaN()}}
	told := c.Check()
	keys := []string{"width_px", "height_px", "fx_px", "fy_px", "cx_px", "cy_px", "k1", "k2", "k3", "p1", "p2", "port.air_gap_m", "port.glass_m", "port.glass_index", "port.water_index"}
	if len(told) != len(keys) {
		t.Fatalf("%d faults: %q", len(told), told)
	}
	for i, key := range keys {
		if !strings.HasPrefix(told[i], key+": found ") {
			t.Errorf("fault %d is %q, want that of %s", i, told[i], key)
		}
	}
	for _, good := range []Camera{plain(), bent(), published.Camera, published.Strong.Camera} {
		if told := good.Check(); told != nil {
			t.Errorf("a good camera has faults: %q", told)
		}
	}
	// Bad numbers that nobody checked give errors, not NaN.
	if _, err := c.Project(vec{0, 0, 1}); err == nil {
		t.Error("projected with numbers that are none")
	}
	if _, _, err := c.Ray([2]float64{0, 0}); err == nil {
		t.Error("a ray with numbers that are none")
	}
}
