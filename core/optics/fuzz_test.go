package optics

import (
	"testing"
)

// FuzzRay: whatever the numbers, a ray and what comes of it are finite or an
// error, nothing hangs, and what a good ray sees is seen again.
func FuzzRay(f *testing.F) {
	f.Add(1180.0, -0.2, 0.05, -0.01, 0.001, 0.02, 0.006, 1.49, 1.34, 800.0, 410.0, 0.5)
	f.Add(1180.0, -0.3, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1789.2, 540.0, 1.0)
	f.Add(1e7, 1e12, -1e12, 1e12, 1e12, 10.0, 10.0, 4.0, 4.0, -0.5, -0.5, 1e6)
	f.Add(5e-324, -1e-300, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.34, 960.0, 540.0, 1e-9)
	f.Add(1.0, 1.0, -3.0, 2.0, -0.5, 1e-12, 0.0, 1.0000001, 1.0, 961.0, 541.0, 0.1)
	f.Fuzz(func(t *testing.T, focal, k1, k2, k3, p1, gap, glass, glassIndex, waterIndex, across, down, far float64) {
		c := Camera{WidthPx: 1920, HeightPx: 1080, FxPx: focal, FyPx: focal, CxPx: 960, CyPx: 540, K1: k1, K2: k2, K3: k3, P1: p1, P2: -p1, Port: &Port{gap, glass, glassIndex, waterIndex}}
		checked := c.Check() == nil
		from, along, err := c.Ray([2]float64{across, down})
		if err != nil {
			return
		}
		if !finiteVec(from) || !finiteVec(along) {
			t.Fatalf("a ray of %v and %v", from, along)
		}
		pixel, err := c.Project(add(from, scaled(far, along)))
		if err != nil {
			return
		}
		if !isFinite(pixel[0]) || !isFinite(pixel[1]) {
			t.Fatalf("a pixel at %v", pixel)
		}
		if !checked {
			return
		}
		marks := make([]Mark, 0, 5)
		for i := range 5 {
			m := Mark{vec{float64(i % 2), float64(i / 2), k2}, [2]float64{across + float64(i*i)*far, down - float64(i)*far}}
			marks = append(marks, m)
		}
		p, err := Fit(c, marks, 1)
		if err != nil {
			return
		}
		for _, row := range p.Covariance {
			for _, v := range row {
				if !isFinite(v) {
					t.Fatalf("a covariance of %v", p.Covariance)
				}
			}
		}
		if !finiteVec(p.Centre()) || !isFinite(p.RMSPx) || !isFinite(p.SecondRMSPx) {
			t.Fatalf("a pose of %+v", p)
		}
		if at, err := p.Locate([2]float64{across, down}, k3, far); err == nil && (!finiteVec(at.AtM) || !psd(&at.CovarianceM2)) {
			t.Fatalf("a place of %+v", at)
		}
		if h, sd, err := p.HeightOf(marks[0].Pixel, marks[4].Pixel, far, glass); err == nil && (!isFinite(h) || !(sd >= 0)) {
			t.Fatalf("a height of %g ± %g", h, sd)
		}
	})
}
