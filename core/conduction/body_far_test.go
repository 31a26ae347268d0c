package conduction

import (
	"testing"

	"brinefield/core/numeric"
)

// Against the plain sum over dipoles, from just beyond the reach outward.
func TestExpansionOfDipoles(t *testing.T) {
	rng := numeric.Stream(3, "dipoles")
	draw := func() Vector { return Vector{2*rng.Float64() - 1, 2*rng.Float64() - 1, 2*rng.Float64() - 1} }
	centre := Vector{0.3, -0.2, 0.5}
	var places, moments []Vector
	for len(places) < 200 {
		if v := draw(); v.Norm() < 1 {
			places, moments = append(places, centre.Add(v.Scale(0.1))), append(moments, draw())
		}
	}
	x := newExpansionOf(centre, places, moments)
	if x.reach < 0.2 || x.reach > farReach*0.1 {
		t.Fatalf("reach %g", x.reach)
	}
	for k := range 60 {
		dir := draw()
		p := centre.Add(dir.Scale(x.reach * (1.001 + float64(k)/10) / dir.Norm()))
		pot, e := x.at(p)
		wantPot, wantE := made(p, places, moments)
		// The dipoles' moments are spread at random and nearly cancel: the error is held
		// against the largest that 200 of them can make there.
		r := p.Sub(centre).Norm()
		most := 200 / (r * r * r)
		if d := e.Sub(wantE).Norm(); d > 3e-5*most || d > 3e-3*wantE.Norm() {
			t.Errorf("%.2f reaches away: field off by %.1e of %.1e", r/x.reach, d, wantE.Norm())
		}
		if d := pot - wantPot; d > 3e-5*most*r || d < -3e-5*most*r {
			t.Errorf("%.2f reaches away: potential off by %.1e of %.1e", r/x.reach, d, wantPot)
		}
	}
}
