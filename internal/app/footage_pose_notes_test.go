package app

import (
	"strings"
	"testing"

	"brinefield/core/optics"
)

// A camera that looks straight down sees a place (x, y) on the plate f·x/h beside
// the middle of its picture (closed form of the pinhole).
func TestPoseSaysWhenItsDeviationsAreTooSmall(t *testing.T) {
	c := optics.Camera{WidthPx: 1920, HeightPx: 1080, FxPx: 1180, FyPx: 1180, CxPx: 960, CyPx: 540}
	const heightM = 3.0
	for name, k := range map[string]struct {
		clickPx, widthM, depthM float64
		warns                   bool
	}{
		"a small plate, rough clicks": {2, 0.6, 0.4, true},
		"a small plate, fine clicks":  {0.2, 0.6, 0.4, false},
		"marks far apart":             {1, 3, 2, false},
	} {
		var marks []optics.Mark
		v := FootagePose{FootagePoseSpec: FootagePoseSpec{ClickSDPx: k.clickPx}, TiltDeg: new(float64), CentreM: &[3]float64{0, 0, heightM}}
		for _, at := range [][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
			x, y := at[0]*k.widthM/2, at[1]*k.depthM/2
			m := optics.Mark{AtM: [3]float64{x, y, 0}, Pixel: [2]float64{c.CxPx + c.FxPx*x/heightM, c.CyPx - c.FyPx*y/heightM}}
			marks = append(marks, m)
			v.Marks = append(v.Marks, FootagePoseMark{Name: "corner", AtM: m.AtM, Pixel: m.Pixel})
		}
		p, err := optics.Fit(c, marks, k.clickPx)
		if err != nil {
			t.Fatal(name, err)
		}
		v.note(p, &c)
		if said := strings.Contains(strings.Join(v.Notes, " "), "hardly tell how the camera is tilted"); said != k.warns {
			t.Errorf("%s: bend %.2f, notes %q", name, p.Bend, v.Notes)
		}
	}
}
