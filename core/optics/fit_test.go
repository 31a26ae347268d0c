package optics

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric"
	"brinefield/core/numeric/numtest"
)

// A camera straight above the plate, in closed form, without and with a port.
func TestFitFindsACameraOverhead(t *testing.T) {
	for _, c := range []Camera{plain(), bent()} {
		marks := marksOf(t, c, overhead(1.5), plateCorners, 0, nil)
		p, err := Fit(c, marks, 1)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "centre", p.Centre(), vec{0, 0, 1.5}, 1e-9)
		numtest.Check(t, "tilt", p.Pose.TiltDeg(), 0, numtest.Tolerance{Abs: 1e-7})
		numtest.Check(t, "rms", p.RMSPx, 0, numtest.Tolerance{Abs: 1e-9})
		if p.SecondRMSPx != 0 && p.SecondRMSPx < p.RMSPx {
			t.Errorf("the second pose (%g px) is better than the first (%g px)", p.SecondRMSPx, p.RMSPx)
		}
	}
	// Pixels by hand: f/height = 1000 px/m.
	c := plain()
	marks := []Mark{
		{vec{0.5, 0.4, 0}, [2]float64{1460, 140}},
		{vec{-0.5, 0.4, 0}, [2]float64{460, 140}},
		{vec{-0.5, -0.4, 0}, [2]float64{460, 940}},
		{vec{0.5, -0.4, 0}, [2]float64{1460, 940}},
	}
	p, err := Fit(c, marks, 1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "centre", p.Centre(), vec{0, 0, 1.18}, 1e-9)
}

// Poses of OpenCV 4.6 for its sample pictures, which it refined to the same least
// squares: to 1e-6 of the place, its residuals to 1e-8 px; and the errors that
// OpenCV published for those pictures, to what its corners have moved since.
func TestFitAgreesWithOpenCV(t *testing.T) {
	var squares float64
	for _, v := range published.Views {
		p, err := Fit(published.Camera, board(v.Pixels), 0.2)
		if err != nil {
			t.Fatalf("%s: %v", v.Picture, err)
		}
		theirs := rotation(v.Rvec)
		numtest.Check(t, v.Picture+": turn between the two", angleBetween(&p.Pose.R, &theirs), 0, numtest.Tolerance{Abs: 1e-6})
		near(t, v.Picture+": place", p.Pose.T, v.Tvec, 1e-6*size(v.Tvec))
		numtest.Check(t, v.Picture+": rms", p.RMSPx, v.RMSPx, numtest.Tolerance{Abs: 1e-8})
		if p.RMSPx > v.RMSPx+1e-10 {
			t.Errorf("%s: OpenCV found a better pose: %.12g against %.12g px", v.Picture, v.RMSPx, p.RMSPx)
		}
		numtest.Check(t, v.Picture+": published rms", p.RMSPx, v.Published, numtest.Tolerance{Abs: 2e-4})
		near(t, v.Picture+": published place", p.Pose.T, vec{v.Extrinsics[3], v.Extrinsics[4], v.Extrinsics[5]}, 1e-6)
		squares += p.RMSPx * p.RMSPx
	}
	if len(published.Views) != 13 {
		t.Fatalf("%d views compared: the file is not what it was", len(published.Views))
	}
	numtest.Check(t, "rms of all", math.Sqrt(squares/13), published.RMSPx, numtest.Tolerance{Abs: 1e-5})
}

// Both poses that four corners of a far plate allow, as OpenCV finds and refines
// them.
func TestBothPosesOfFlatMarksAreFound(t *testing.T) {
	f := &published.Flat
	var marks []Mark
	for i, at := range f.Places {
		marks = append(marks, Mark{at, f.Pixels[i]})
	}
	p, err := Fit(plain(), marks, 1)
	if err != nil {
		t.Fatal(err)
	}
	first := rotation(f.Poses[0].Rvec)
	numtest.Check(t, "turn between the two", angleBetween(&p.Pose.R, &first), 0, numtest.Tolerance{Abs: 1e-6})
	numtest.Check(t, "rms", p.RMSPx, f.Poses[0].RMSPx, numtest.Tolerance{Abs: 1e-8})
	numtest.Check(t, "rms of the second", p.SecondRMSPx, f.Poses[1].RMSPx, numtest.Tolerance{Abs: 1e-8})
	// Clicks that are better tell the two apart.
	if p, err = Fit(plain(), marksOf(t, plain(), p.Pose, f.Places, 0, nil), 0.05); err != nil || p.SecondRMSPx != 0 {
		t.Errorf("%v: a second pose with %g px", err, p.SecondRMSPx)
	}
}

// Whatever camera and pose: exact pixels give the pose back.
func TestFitFindsAnyPose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, pose := anyCamera(t), anyPose(t)
		l := newLens(&c)
		flat := rapid.Bool().Draw(t, "flat")
		var marks []Mark
		for i := range rapid.IntRange(5, 9).Draw(t, "marks") {
			angle := float64(i) * 2.4 // spread over the plate
			far := rapid.Float64Range(0.1, 0.3).Draw(t, "from the middle")
			at := vec{far * math.Cos(angle), far * math.Sin(angle), 0}
			if !flat {
				at[2] = rapid.Float64Range(0, 0.2).Draw(t, "z")
			}
			pixel, _, err := l.project(pose.inCamera(at))
			if err != nil {
				continue
			}
			marks = append(marks, Mark{at, pixel})
		}
		if len(marks) < 5 {
			t.Skip("too few are seen")
		}
		p, err := Fit(c, marks, 0.5)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "centre", p.Centre(), pose.Centre(), 1e-6)
		numtest.Check(t, "turn", angleBetween(&p.Pose.R, &pose.R), 0, numtest.Tolerance{Abs: 1e-6})
		for i, m := range marks {
			again, err := p.Project(m.AtM)
			if err != nil {
				t.Fatal(err)
			}
			nearPixel(t, "seen at", again, [2]float64{m.Pixel[0] - p.ResidualPx[i][0], m.Pixel[1] - p.ResidualPx[i][1]}, 1e-9)
		}
	})
}

func TestMarksThatTellNoPoseAreRefused(t *testing.T) {
	c := plain()
	good := marksOf(t, c, overhead(1.5), plateCorners, 0, nil)
	change := func(f func(m []Mark) []Mark) []Mark { return f(append([]Mark(nil), good...)) }
	line := []vec{{-0.3, -0.1, 0}, {-0.1, -0.1 + 0.2/3, 0}, {0.1, 0.1 - 0.2/3, 0}, {0.3, 0.1, 0}}
	for _, row := range []struct {
		name  string
		marks []Mark
		click float64
		want  string
	}{
		{"three", good[:3], 1, "3 different places"},
		{"none", nil, 1, "0 different places"},
		{"one twice", change(func(m []Mark) []Mark { m[3].AtM = m[0].AtM; return m }), 1, "3 different places"},
		{"one line", marksOf(t, c, overhead(1.5), line, 0, nil), 1, "on one line"},
		{"not a number", change(func(m []Mark) []Mark { m[1].AtM[2] = math.NaN(); return m }), 1, "mark 2: a place at NaN"},
		{"far off", change(func(m []Mark) []Mark { m[1].AtM[2] = 1e9; return m }), 1, "mark 2: a place at 1e+09 m"},
		{"no pixel", change(func(m []Mark) []Mark { m[2].Pixel[0] = math.Inf(1); return m }), 1, "mark 3: the pixel"},
		{"negative click", good, -1, "standard deviation of -1 pixels"},
		{"click that is none", good, math.NaN(), "standard deviation of NaN"},
	} {
		p, err := Fit(c, row.marks, row.click)
		var marks *MarksError
		if p != nil || !errors.As(err, &marks) || !strings.Contains(err.Error(), row.want) || marks.Expected == "" {
			t.Errorf("%s: %v, want %q", row.name, err, row.want)
		}
	}
	bad := plain()
	bad.FxPx = -1
	var camera *CameraError
	if _, err := Fit(bad, good, 1); !errors.As(err, &camera) || !strings.Contains(err.Error(), "fx_px") {
		t.Errorf("a camera with a fault: %v", err)
	}
	// All marks clicked on one pixel.
	same := change(func(m []Mark) []Mark {
		for i := range m {
			m[i].Pixel = [2]float64{900, 500}
		}
		return m
	})
	if p, err := Fit(c, same, 1); err == nil {
		// A camera far away sees the plate as a point: then the covariance must say so.
		if sd := math.Sqrt(p.CentreCovarianceM2()[2][2]); sd < 0.1*size(p.Centre()) {
			t.Errorf("marks on one pixel give a camera at %v ± %g m", p.Centre(), sd)
		}
	}
}

// Corners of the plate in the wrong turn look like a plate seen from below. The
// camera stands above it, unless only a place below fits.
func TestCameraBelowThePlateIsTheLastAnswer(t *testing.T) {
	c := plain()
	below := Pose{R: rot{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, T: vec{0, 0, 1.5}} // looks up from z = −1.5
	p, err := Fit(c, marksOf(t, c, below, plateCorners, 0, nil), 1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "centre", p.Centre(), vec{0, 0, -1.5}, 1e-9)
	// A plate so far away that it hardly matters: above is taken although below
	// fits a little better.
	rng := numeric.Stream(3, "below")
	far := marksOf(t, c, overhead(40), plateCorners, 0, nil)
	for range 50 {
		noisy := append([]Mark(nil), far...)
		for i := range noisy {
			noisy[i].Pixel[0] += 3 * rng.NormFloat64()
			noisy[i].Pixel[1] += 3 * rng.NormFloat64()
		}
		p, err := Fit(c, noisy, 3)
		if err != nil {
			t.Fatal(err)
		}
		if z := p.Centre()[2]; z < 0 {
			t.Errorf("the camera is put at z = %g m, with %g px", z, p.RMSPx)
		}
	}
}

// The pose with the least residuals is the answer that matters: noisy marks, many
// draws, against the minimum from the truth itself.
func TestFitIsNeverWorseThanFromTheTruth(t *testing.T) {
	rng := numeric.Stream(1, "fit from the truth")
	for draw := range 150 {
		c := plain()
		if draw%2 == 0 {
			c = bent()
		}
		pose := looking(vec{2*rng.Float64() - 1, 2*rng.Float64() - 1, 0.8 + rng.Float64()}, vec{0.1 * rng.NormFloat64(), 0.1 * rng.NormFloat64(), 0}, 6*rng.Float64())
		at := make([]vec, 4+draw%6)
		for i := range at {
			at[i] = vec{0.6*rng.Float64() - 0.3, 0.6*rng.Float64() - 0.3, 0}
			if draw%3 == 0 {
				at[i][2] = 0.3 * rng.Float64()
			}
		}
		marks := marksOf(t, c, pose, at, 1, rng)
		p, err := Fit(c, marks, 1)
		if err != nil {
			t.Errorf("draw %d: %v", draw, err)
			continue
		}
		b, err := newBundle(&c, marks, 1)
		if err != nil {
			t.Fatal(err)
		}
		f, ok := b.refine(candidate{r: pose.R, t: pose.inCamera(b.middle)})
		if rms := math.Sqrt(f.ss / float64(len(at))); ok && p.RMSPx > rms*(1+1e-9) {
			t.Errorf("draw %d: from the truth %g px, found %g px", draw, rms, p.RMSPx)
		}
	}
}

// A small plate straight below, far away, with rough clicks, tells the tilt by so
// little that the deviations of the linear theory are too small (stated 11 mm,
// 13.5 mm in simulation); near by, or aslant, they are right. Bend tells the two
// apart.
func TestBendTellsWhereDeviationsAreTooSmall(t *testing.T) {
	for _, row := range []struct {
		name      string
		pose      Pose
		click     float64
		low, high float64
	}{
		{"3 m above, 1 px", overhead(3), 1, LooseBend, 3},
		{"3 m above, 0.3 px", overhead(3), 0.3, 0, LooseBend},
		{"1.5 m above, 1 px", overhead(1.5), 1, 0, 0.2},
		{"aslant, 1 px", looking(vec{1, 0, 1.2}, vec{}, 0.2), 1, 0, 0.05},
		{"exact", overhead(3), 0, 0, 0},
	} {
		p, err := Fit(plain(), marksOf(t, plain(), row.pose, plateCorners, 0, nil), row.click)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %.3f", row.name, p.Bend)
		if p.Bend < row.low || p.Bend > row.high {
			t.Errorf("%s: a bend of %g, want %g to %g", row.name, p.Bend, row.low, row.high)
		}
	}
}
