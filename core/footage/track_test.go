package footage_test

import (
	"math"
	"strings"
	"testing"

	"brinefield/core/footage"
	"brinefield/core/numeric"
	"brinefield/core/optics"
	"brinefield/core/study"
)

// posed is a camera behind a flat port, 1.5 m above the plate and somewhat beside
// it, with the pose that six marks tell.
func posed(t testing.TB, click float64, aside float64) *optics.Posed {
	t.Helper()
	c := optics.Camera{
		WidthPx: 1920, HeightPx: 1080, FxPx: 1180, FyPx: 1175, CxPx: 960, CyPx: 540, K1: -0.05, K2: 0.01,
		Port: &optics.Port{AirGapM: 0.02, GlassM: 0.006, GlassIndex: 1.49, WaterIndex: 1.34},
	}
	tilt := 0.12
	sin, cos := math.Sincos(tilt)
	truth := optics.Posed{Camera: c, Pose: optics.Pose{R: [3][3]float64{{1, 0, 0}, {0, -cos, -sin}, {0, sin, -cos}}}}
	centre := [3]float64{0.1 + aside, -0.2, 1.5}
	for i := range 3 {
		for k := range 3 {
			truth.Pose.T[i] -= truth.Pose.R[i][k] * centre[k]
		}
	}
	var marks []optics.Mark
	for _, at := range [][3]float64{{0.4, 0.3, 0}, {-0.4, 0.3, 0}, {-0.4, -0.3, 0}, {0.4, -0.3, 0}, {0, 0.1, 0.05}, {0.2, -0.1, 0}} {
		pixel, err := truth.Project(at)
		if err != nil {
			t.Fatal(err)
		}
		marks = append(marks, optics.Mark{AtM: at, Pixel: pixel})
	}
	p, err := optics.Fit(c, marks, click)
	if err != nil {
		t.Fatal(err)
	}
	if got := p.Centre(); math.Hypot(got[0]-centre[0], got[2]-centre[2]) > 1e-6 {
		t.Fatalf("the camera is at %v, want %v", got, centre)
	}
	return p
}

// swims is where a snout is after s seconds, and its height.
func swims(s float64) [3]float64 {
	return [3]float64{-0.35 + 0.25*s, 0.08 * math.Sin(2*s), 0.12 + 0.02*math.Cos(s)}
}

func TestATrackIsWhereTheAnimalWas(t *testing.T) {
	r := numeric.Stream(2, "clicks")
	before, after := posed(t, 0.7, 0), posed(t, 0.7, 0.03) // knocked by 3 cm at frame 40
	poses := []footage.Pose{{FromFrame: 0, Posed: before}, {FromFrame: 40, Posed: after}}
	var fixes []footage.Fix
	for frame := 0; frame <= 70; frame++ {
		p := before
		if frame >= 40 {
			p = after
		}
		s := float64(frame) / 25
		snout := swims(s)
		f := footage.Fix{Point: footage.Snout, Frame: frame, ClipS: 5 + s, How: footage.Placed}
		if frame%5 > 0 && frame != 39 && frame != 40 {
			f.How = footage.Filled
		} else {
			pixel, err := p.Project(snout)
			if err != nil {
				t.Fatal(err)
			}
			f.Pixel = [2]float64{pixel[0] + 0.7*r.NormFloat64(), pixel[1] + 0.7*r.NormFloat64()}
		}
		fixes = append(fixes, f)
	}
	located := footage.Locate(fixes, poses, footage.StatedHeights(footage.ByClass, 0.08, 0.16))
	within := 0
	for i := range located {
		l := &located[i]
		if l.Why != "" {
			t.Fatalf("frame %d: %s", l.Frame, l.Why)
		}
		want := swims(l.ClipS - 5)
		c := l.Position.CovarianceM2
		dx, dy := l.Position.AtM[0]-want[0], l.Position.AtM[1]-want[1]
		det := c[0][0]*c[1][1] - c[0][1]*c[1][0]
		if m := (c[1][1]*dx*dx - 2*c[0][1]*dx*dy + c[0][0]*dy*dy) / det; m < 9.21 { // chi-squared of 2, 99 %
			within++
		}
		if l.Height.M != 0.12 || math.Abs(l.Height.SDM-0.08/math.Sqrt(12)) > 1e-15 {
			t.Errorf("height %+v, want 0.12 m ± (0.16 − 0.08)/√12", l.Height)
		}
	}
	if within < len(located)*95/100 {
		t.Errorf("%d of %d places within their 99 %% ellipse", within, len(located))
	}
	rows := footage.Rows(located, 5.2, study.Some(7.6))
	if n := len(rows); n != 61 || rows[0].TimeS != 0 || rows[n-1].TimeS != 2.4 {
		t.Errorf("%d rows from %v to %v s; want 61 from 0 to 2.4", n, rows[0].TimeS, rows[n-1].TimeS)
	}
	if located[0].Why == "" || located[70].Why == "" || !located[0].Found {
		t.Errorf("what is before the start and behind the end: %q, %q", located[0].Why, located[70].Why)
	}
	if rows[3].HeightCm.Known || rows[3].LowCm != 8 || rows[3].HighCm != 16 {
		t.Errorf("a height that is stated between limits is left to the exposure: %+v", rows[3])
	}
	table, track := footage.Table(rows), footage.Track(rows, 4)
	if strings.Join(table.Columns, ",") != "t_s,x_cm,y_cm,height_cm,height_low_cm,height_high_cm" || len(track.Points) != 1 || track.Pass != 4 || len(track.Points[0].Fixes) != 61 {
		t.Errorf("columns %v; points %d", table.Columns, len(track.Points))
	}
}

// The head's width, 20 cm, told in two frames by clicks without error: the height
// comes back to 1e-6 m there, on the straight line between, and is held outside.
func TestHeightsFromTheHead(t *testing.T) {
	p := posed(t, 0.5, 0)
	var fixes []footage.Fix
	see := func(point string, frame int, at [3]float64) {
		pixel, err := p.Project(at)
		if err != nil {
			t.Fatal(err)
		}
		fixes = append(fixes, footage.Fix{Point: point, Frame: frame, ClipS: float64(frame), Pixel: pixel, How: footage.Placed})
	}
	for _, f := range []struct {
		frame int
		z     float64
	}{{2, 0.10}, {6, 0.30}} {
		see(footage.HeadLeft, f.frame, [3]float64{0, 0.1, f.z})
		see(footage.HeadRight, f.frame, [3]float64{0, -0.1, f.z})
	}
	for frame, z := range []float64{0.10, 0.10, 0.10, 0.15, 0.20, 0.25, 0.30, 0.30} {
		see(footage.Snout, frame, [3]float64{0.1, 0, z})
	}
	see(footage.Tail, 4, [3]float64{-0.4, 0, 0.2})
	located := footage.Locate(fixes, []footage.Pose{{Posed: p}}, footage.MeasuredHeights(footage.ByWidth, 0.2, 0.01))
	for i := range located {
		l := &located[i]
		if l.Point != footage.Snout {
			continue
		}
		if l.Why != "" || math.Abs(l.Position.AtM[0]-0.1) > 1e-6 || math.Abs(l.Position.AtM[1]) > 1e-6 {
			t.Errorf("frame %d: %v, %s", l.Frame, l.Position.AtM, l.Why)
		}
		if h := l.Height; !h.Measured || h.SDM <= 0 || math.Abs(h.HighM-h.M-2*h.SDM) > 1e-12 || h.LowM != math.Max(h.M-2*h.SDM, 0) {
			t.Errorf("frame %d: %+v, want limits two sd away and not below 0", l.Frame, h)
		}
	}
	rows := footage.Rows(located, 0, study.Opt[float64]{})
	if n := len(rows); n != 12 || rows[0].Point != "" || rows[8].Point != footage.HeadLeft || !rows[0].HeightCm.Known || rows[0].HeightCm.Value != 10 {
		t.Errorf("%d rows, the first %+v; want 8 of the snout and 4 of the head, the tail only measures", n, rows[0])
	}
	// By length of the body no frame shows both ends but one of them.
	for _, l := range footage.Locate(fixes[:5], []footage.Pose{{Posed: p}}, footage.MeasuredHeights(footage.ByLength, 0.8, 0)) {
		if !strings.Contains(l.Why, "no frame that has a pose shows both the snout and the tail") {
			t.Errorf("why: %q", l.Why)
		}
	}
}

func TestWhyThereIsNoPlace(t *testing.T) {
	p := posed(t, 1, 0)
	at := func(x, y float64, frame int) footage.Fix {
		return footage.Fix{Point: footage.Snout, Frame: frame, ClipS: float64(frame), Pixel: [2]float64{x, y}, How: footage.Placed}
	}
	for _, c := range []struct {
		fix    footage.Fix
		poses  []footage.Pose
		height footage.Heights
		says   string
	}{
		{at(900, 500, 1), nil, footage.StatedHeights(footage.ByClass, 0, 0.1), "no pose of the camera in this clip"},
		{at(900, 500, 1), []footage.Pose{{FromFrame: 2, Posed: p}}, footage.StatedHeights(footage.ByClass, 0, 0.1), "before frame 2"},
		{at(900, 500, 1), []footage.Pose{{Why: "three marks are too few"}}, footage.StatedHeights(footage.ByClass, 0, 0.1), "three marks are too few"},
		{at(1919.6, 500, 1), []footage.Pose{{Posed: p}}, footage.StatedHeights(footage.ByClass, 0, 0.1), "outside the picture of 1920 × 1080"},
		{at(900, 500, 1), []footage.Pose{{Posed: p}}, footage.Heights{How: footage.ByClass}, "its height is not stated"},
		{at(900, 500, 1), []footage.Pose{{Posed: p}}, footage.StatedHeights(footage.ByLimits, 3, 3), ""}, // above the camera: whatever optics says
	} {
		l := footage.Locate([]footage.Fix{c.fix}, c.poses, c.height)[0]
		if l.Why == "" || !strings.Contains(l.Why, c.says) || l.Found {
			t.Errorf("%+v: %q, want one that says %q", c.fix, l.Why, c.says)
		}
	}
}
