package optics

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
)

// A flat port with nothing between makes things look n times larger near the axis,
// and more so off it: the ratio of the tangents in air and in water (Snell's law;
// the table of the project's reference notes, n = 1.34).
func TestFlatPortMagnifiesByTheIndexAndMoreOffTheAxis(t *testing.T) {
	c := plain()
	c.Port = &Port{GlassIndex: 1.49, WaterIndex: 1.34}
	for _, row := range []struct{ airDeg, ratio float64 }{
		{1e-4, 1.34},
		{5, 1.34227},
		{10, 1.34920},
		{20, 1.37877},
		{30, 1.43555},
		{40, 1.53485},
	} {
		tan := math.Tan(row.airDeg * math.Pi / 180)
		_, along, err := c.Ray([2]float64{960 + 1180*tan, 540})
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, "tan in air over tan in water", tan/(along[0]/along[2]), row.ratio, numtest.Tolerance{Abs: 6e-6})
	}
	// The field of view: 90° in air is 63.699° in water, 60° is 43.818°.
	for _, row := range []struct{ airDeg, waterDeg float64 }{{90, 63.699}, {60, 43.818}} {
		_, along, err := c.Ray([2]float64{960, 540 + 1180*math.Tan(row.airDeg*math.Pi/360)})
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, "field of view in water", 2*math.Atan2(along[1], along[2])*180/math.Pi, row.waterDeg, numtest.Tolerance{Abs: 6e-4})
	}
}

// Near the axis the port is a pinhole with the focal length n·f that stands where
// the rays seem to come from: gap·n + glass·n/n_glass before the outer face
// (paraxial refraction at two planes).
func TestFlatPortNearTheAxis(t *testing.T) {
	c := plain()
	c.Port = &Port{AirGapM: 0.03, GlassM: 0.01, GlassIndex: 1.5, WaterIndex: 1.34}
	const x, z = 1e-5, 1.2
	pixel, err := c.Project(vec{x, 0, z})
	if err != nil {
		t.Fatal(err)
	}
	want := 1180 * 1.34 * x / (z - 0.04 + 0.03*1.34 + 0.01*1.34/1.5)
	numtest.Check(t, "pixels from the middle", pixel[0]-960, want, numtest.Tolerance{Rel: 1e-8})
	// On the axis itself.
	pixel, err = c.Project(vec{0, 0, z})
	if err != nil {
		t.Fatal(err)
	}
	nearPixel(t, "the middle", pixel, [2]float64{960, 540}, 0)
}

// refract is Snell's law in its form for vectors, at a face square to z.
func refract(v vec, ratio float64) vec {
	normal := vec{0, 0, 1}
	cos := dot(v, normal)
	k := math.Sqrt(1 - ratio*ratio*(1-cos*cos))
	return add(scaled(ratio, v), scaled(k-ratio*cos, normal))
}

// A ray that is bent at one face after the other, and Fermat: of the paths from
// the pinhole through the two faces to a point on the ray, it is the one of the
// shortest time.
func TestPortAgreesWithVectorSnellAndFermat(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := plain()
		c.Port = &Port{
			AirGapM: rapid.Float64Range(1e-3, 0.1).Draw(t, "air gap"), GlassM: rapid.Float64Range(1e-3, 0.02).Draw(t, "glass"),
			GlassIndex: rapid.Float64Range(1, 1.6).Draw(t, "glass index"), WaterIndex: rapid.Float64Range(1, 1.36).Draw(t, "water index"),
		}
		q := c.Port
		x, y := rapid.Float64Range(-1.5, 1.5).Draw(t, "x"), rapid.Float64Range(-1.5, 1.5).Draw(t, "y")
		from, along, err := c.Ray([2]float64{960 + 1180*x, 540 + 1180*y})
		if err != nil {
			t.Fatal(err)
		}
		air := scaled(1/math.Sqrt(1+x*x+y*y), vec{x, y, 1})
		glass := refract(air, 1/q.GlassIndex)
		water := refract(glass, q.GlassIndex/q.WaterIndex)
		inner := scaled(q.AirGapM/air[2], air)
		outer := add(inner, scaled(q.GlassM/glass[2], glass))
		near(t, "from", from, outer, 1e-12)
		near(t, "along", along, water, 1e-12)

		p := add(from, scaled(rapid.Float64Range(0.1, 3).Draw(t, "distance"), along))
		time := func(a, b float64) float64 { // of the path that meets the faces a and b farther out
			i, o := inner, outer
			i[0], o[0] = i[0]+a, o[0]+b
			return size(i) + q.GlassIndex*size(sub(o, i)) + q.WaterIndex*size(sub(p, o))
		}
		const h = 1e-5
		for _, d := range [][2]float64{{h, 0}, {-h, 0}, {0, h}, {0, -h}, {h, h}, {-h, -h}} {
			if time(d[0], d[1]) < time(0, 0)-1e-15 {
				t.Errorf("a path %v m beside is quicker by %g m", d, time(0, 0)-time(d[0], d[1]))
			}
		}
		pixel, err := c.Project(p)
		if err != nil {
			t.Fatal(err)
		}
		nearPixel(t, "pixel", pixel, [2]float64{960 + 1180*x, 540 + 1180*y}, 1e-8)
	})
}

// A port whose glass and water are air is none.
func TestPortOfAirIsNone(t *testing.T) {
	c, none := bent(), bent()
	c.Port = &Port{AirGapM: 0.05, GlassM: 0.01, GlassIndex: 1, WaterIndex: 1}
	none.Port = nil
	for _, p := range []vec{{0.3, -0.2, 1}, {0, 0, 0.5}, {-0.4, 0.3, 2}} {
		a, err1 := c.Project(p)
		b, err2 := none.Project(p)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		nearPixel(t, "pixel", a, b, 1e-9)
	}
}

// A port that is left out, near the axis in closed form: the pose makes up for it
// in the plate's plane by putting the camera at H*/n, H* = H − face + gap·n +
// glass·n/n_glass; what is z high is then found at (H* − n z)/(H* − z) of where it
// is.
func TestPortLeftOut(t *testing.T) {
	const height, z, n = 1.5, 0.12, 1.34
	c := plain()
	c.Port = &Port{AirGapM: 0.02, GlassM: 0.006, GlassIndex: 1.49, WaterIndex: n}
	small := []vec{{0.01, 0.01, 0}, {-0.01, 0.01, 0}, {-0.01, -0.01, 0}, {0.01, -0.01, 0}}
	wrong, err := Fit(plain(), marksOf(t, c, overhead(height), small, 0, nil), 1)
	if err != nil {
		t.Fatal(err)
	}
	const star = height - 0.026 + 0.02*n + 0.006*n/1.49
	near(t, "camera", wrong.Centre(), vec{0, 0, star / n}, 1e-3)
	right := Posed{Camera: c, Pose: overhead(height)}
	pixel, err := right.Project(vec{0.01, 0, z})
	if err != nil {
		t.Fatal(err)
	}
	at, err := wrong.Locate(pixel, z, 0)
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "found over truth", at.AtM[0]/0.01, (star-n*z)/(star-z), numtest.Tolerance{Abs: 1e-4})
}
