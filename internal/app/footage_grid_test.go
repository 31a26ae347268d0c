package app

import (
	"math"
	"testing"

	"brinefield/core/optics"
)

// straightDown is a camera without distortion 2 m above the plate, its picture's
// top towards +y: x px = 320 + 400·x/(2 m), y px = 240 − 400·y/(2 m), closed form.
func straightDown(t *testing.T) *optics.Posed {
	t.Helper()
	c := optics.Camera{WidthPx: 641, HeightPx: 481, FxPx: 400, FyPx: 400, CxPx: 320, CyPx: 240}
	var marks []optics.Mark
	for _, at := range [][2]float64{{-1, -0.8}, {1, -0.8}, {1, 0.8}, {-1, 0.8}, {0.3, 0.1}} {
		marks = append(marks, optics.Mark{AtM: [3]float64{at[0], at[1], 0}, Pixel: [2]float64{320 + 200*at[0], 240 - 200*at[1]}})
	}
	p, err := optics.Fit(c, marks, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestSightStraightDown(t *testing.T) {
	s := sightOf(straightDown(t), [3]float64{})
	if math.Abs(s.Axis[2]+1) > 1e-6 || math.Hypot(s.Axis[0], s.Axis[1]) > 1e-6 {
		t.Errorf("axis %v, not straight down", s.Axis)
	}
	// The picture is 3.2 m × 2.4 m on the plate: 33 and 25 lines of 10 cm.
	if s.StepCm != 10 {
		t.Errorf("step %g cm", s.StepCm)
	}
	var of [2]int
	for _, l := range s.Lines {
		k := 0
		if l.Of == "y" {
			k = 1
		}
		of[k]++
		for _, px := range l.Pixels {
			// On an x line the column is known, on a y line the row; a tenth of a pixel is kept.
			want := [2]float64{320 + 2*l.AtCm, 240 - 2*l.AtCm}[k]
			if math.Abs(px[k]-want) > 0.051 {
				t.Fatalf("line %s = %g cm at %v, not %g", l.Of, l.AtCm, px, want)
			}
		}
	}
	// Lines that lie on the border itself are there or not by rounding.
	if of[0] < 31 || of[0] > 33 || of[1] < 23 || of[1] > 25 {
		t.Errorf("%d lines of x and %d of y", of[0], of[1])
	}
	if len(s.OutlineM) != 4*sightBorder {
		t.Errorf("%d places of the outline", len(s.OutlineM))
	}
	for _, at := range s.OutlineM {
		if math.Abs(math.Abs(at[0])-1.6) > 1e-6 && math.Abs(math.Abs(at[1])-1.2) > 1e-6 {
			t.Errorf("%v is not on the border of 3.2 m × 2.4 m", at)
		}
	}
}

// A camera that looks at the horizon sees a part of the plane only: lines end, and
// nothing is drawn of what lies behind it.
func TestSightAlongThePlate(t *testing.T) {
	c := optics.Camera{
		WidthPx: 640, HeightPx: 360, FxPx: 420, FyPx: 420, CxPx: 320, CyPx: 180,
		Port: &optics.Port{AirGapM: 0.02, GlassM: 0.008, GlassIndex: 1.49, WaterIndex: 1.34},
	}
	// 1.2 m back and 0.5 m up, looking 20° below the horizon.
	down := 20 * math.Pi / 180
	sin, cos := math.Sincos(down)
	p := &optics.Posed{Camera: c, ClickSDPx: 0.5, Pose: optics.Pose{R: [3][3]float64{{1, 0, 0}, {0, -sin, -cos}, {0, cos, -sin}}}}
	centre := [3]float64{0, -1.2, 0.5}
	for i := range 3 {
		for k := range 3 {
			p.Pose.T[i] -= p.Pose.R[i][k] * centre[k]
		}
	}
	s := sightOf(p, [3]float64{})
	if len(s.OutlineM) == 0 || len(s.OutlineM) == 4*sightBorder || len(s.Lines) == 0 {
		t.Fatalf("%d places of the outline, %d lines", len(s.OutlineM), len(s.Lines))
	}
	for _, l := range s.Lines {
		if l.Of == "y" && l.AtCm <= -120 {
			t.Errorf("line y = %g cm lies behind the camera", l.AtCm)
		}
		for _, px := range l.Pixels {
			at, err := p.Locate(px, 0, 0)
			if err != nil {
				continue // rounded to a tenth of a pixel near the horizon
			}
			k := 0
			if l.Of == "y" {
				k = 1
			}
			// A tenth of a pixel is worth more the farther away it is seen.
			far := math.Hypot(at.AtM[0]-centre[0], at.AtM[1]-centre[1])
			if math.Abs(at.AtM[k]-l.AtCm/100) > 0.002*(1+far*far) {
				t.Errorf("line %s = %g cm is seen at %v, which is %v m", l.Of, l.AtCm, px, at.AtM)
			}
		}
	}
}

// Places that were not clicked are expected like those of the study.
func TestExpectedGhosts(t *testing.T) {
	p := straightDown(t)
	v := FootagePose{FootagePoseSpec: FootagePoseSpec{ClickSDPx: 0.5, Marks: []FootagePoseMark{{Name: "a", Pixel: [2]float64{320, 240}}}}}
	v.show(p, &p.Camera, []FootageKnownMark{{Name: "peg", AtM: [3]float64{0.5, -0.25, 0}}, {Name: "far", AtM: [3]float64{9, 0, 0}}})
	if len(v.ExpectedPx) != 2 || v.ExpectedPx[1].Name != "peg" {
		t.Fatalf("expected %v: one of two places is in the picture", v.ExpectedPx)
	}
	// Closed form of straightDown: (320 + 200·0.5, 240 + 200·0.25).
	if got := v.ExpectedPx[1].Pixel; math.Hypot(got[0]-420, got[1]-290) > 1e-6 {
		t.Errorf("the peg is expected at %v, not (420, 290)", got)
	}
	if v.Sight == nil || len(v.Sight.Lines) == 0 {
		t.Error("a pose without what its camera sees")
	}
}
