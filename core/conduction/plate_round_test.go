package conduction

import (
	"math"
	"testing"
)

// ∫₀¹ x·cos x dx = sin 1 + cos 1 − 1, and polynomials by hand.
func TestRingWeights(t *testing.T) {
	for _, spread := range []float64{0, 0.5} {
		g := newGrade(40, false, 0, spread)
		ringIntegrals(t, g)
	}
}

func ringIntegrals(t *testing.T, g grade) {
	x, _ := g.probes()
	w := ringWeights(g)
	for _, c := range []struct {
		name string
		f    func(float64) float64
		want float64
	}{
		{"1", func(float64) float64 { return 1 }, 0.5},
		{"x⁴", func(x float64) float64 { return x * x * x * x }, 1.0 / 6},
		{"cos x", math.Cos, math.Sin(1) + math.Cos(1) - 1},
	} {
		sum := 0.0
		for i := range w {
			sum += w[i] * c.f(x[20+i])
		}
		if math.Abs(sum-c.want) > 1e-11 {
			t.Errorf("spread %g: ∫x·%s = %.15f, want %.15f", g.spread, c.name, sum, c.want)
		}
	}
}
