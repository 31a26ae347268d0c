package conduction

import (
	"math"
	"slices"
	"testing"
)

// The error falls with the cells on a side at least as n⁻² for a plate without
// thickness and as n⁻¹·⁵ for others, from the first mesh to the fourth, at the
// worst of the places and at nine of ten. Source: testdata/plate_fem.json, where
// its bar is below 2e-4; for thin squares, whose reference has errors of its
// own near 1e-4, the finest mesh (TestThinSquares compares that); testdata/plate_thin_disc.json.
func TestPlatesConverge(t *testing.T) {
	cases := plateCases(t, "plate_fem.json")
	for _, c := range cases {
		if c.Points[0][9] != 0 && c.Diameter == 0 {
			cases = append(cases, c.thin())
		}
	}
	for _, c := range plateCases(t, "plate_thin_disc.json") {
		c.Depth = math.Inf(1)
		cases = append(cases, c)
	}
	const compared = 4
	for _, c := range cases {
		var points []Point
		var want []Vector
		for k, p := range c.points() {
			if w, bar := c.want(k); bar < 2e-4 {
				points, want = append(points, p), append(want, w)
			}
		}
		if c.Thickness == 0 && c.Diameter == 0 {
			finest := atLevel(t, c.medium(), c.plates(), c.electrodes(), len(sizes)-1)
			for k, p := range points {
				want[k] = finest(p)
			}
		}
		var worst, most [compared]float64
		for level := range compared {
			field := atLevel(t, c.medium(), c.plates(), c.electrodes(), level)
			errs := make([]float64, len(points))
			for k, p := range points {
				errs[k] = relative(field(p), want[k])
			}
			worst[level], most[level] = quantile(errs, 1), quantile(errs, 0.9)
		}
		n := math.Log(float64(sizes[compared-1]) / float64(sizes[0]))
		slope, slope90 := math.Log(worst[0]/worst[compared-1])/n, math.Log(most[0]/most[compared-1])/n
		order, kind := 1.5, "thick"
		if c.Thickness == 0 {
			order, kind = 2, "thin"
		}
		t.Logf("%s, %s: worst %.1e, at nine of ten %.1e with %v cells; n^-%.1f, n^-%.1f", c.Name, kind, worst, most, sizes[:compared], slope, slope90)
		if !(slope >= order && slope90 >= order) {
			t.Errorf("%s, %s: the error falls as n^-%.2f and n^-%.2f, expected n^-%g", c.Name, kind, slope, slope90, order)
		}
	}
}

// quantile is the smallest value that a share of all does not exceed.
func quantile(v []float64, share float64) float64 {
	s := slices.Sorted(slices.Values(v))
	return s[max(0, int(math.Ceil(share*float64(len(s))))-1)]
}
