package exposure

import (
	"math"
	"testing"

	"brinefield/core/conduction"
	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

// A season in a round tank: the quick field of every pair, also beside the wall, is that of the
// full calculation. Source: conduction.Solve, to the tables' tolerance.
func TestNewFieldsInARoundTank(t *testing.T) {
	w := newWorld(t)
	w.s.Enclosure = &study.Enclosure{DiameterM: study.Some(2.4), CentreXM: 0.2}
	w.s.Pairs[1].ElectrodeDiameterM, w.s.Pairs[1].HeightM = 0.004, 0.02
	w.swim("0 40 30 8, 1 -30 -20 4")
	water := waterOf(w.s, TrialWater{WaterSPerM: 4, BottomSPerM: 1.1, DepthM: 0.8})
	f, err := NewFields(w.s, water, FieldOptions{})
	if err != nil {
		t.Fatal(err)
	}
	m := conduction.Medium{WaterSPerM: 4, DepthM: 0.8, Enclosure: &conduction.Enclosure{DiameterM: 2.4, CentreXM: 0.2}}
	for pair, p := range w.s.Pairs {
		solved, err := conduction.Solve(m, conduction.Pair{
			Centre:     conduction.Point{X: p.CentreXM, Y: p.CentreYM, Z: p.HeightM},
			AzimuthDeg: p.AzimuthDeg, SeparationM: p.SeparationM, DiameterM: p.ElectrodeDiameterM,
		}.Electrodes(1), conduction.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, at := range []vec{{0.3, 0.2, 0.05}, {-0.25, 0.1, 0.08}, {0.05, -0.04, 0.01}, {1.4, 0, 0.1}, {-0.9, 0.4, 0.6}} {
			want, err := solved.FieldAt(conduction.Point{X: at.x, Y: at.y, Z: at.z})
			if err != nil {
				t.Fatal(err)
			}
			ex, ey, ez := f.Pair(0, pair).At(at.x, at.y, at.z)
			numtest.Check(t, "|δE|/|E|", vec{ex - want.X, ey - want.Y, ez - want.Z}.length()/want.Norm(), 0, numtest.Tolerance{Abs: 2e-6})
		}
	}
	if ex, _, _ := f.Pair(0, 0).At(1.5, 0, 0.1); !math.IsNaN(ex) {
		t.Errorf("beyond the wall: %g", ex)
	}
}
