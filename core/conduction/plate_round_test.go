package conduction

import (
	"math"
	"testing"
)

// ∫₀¹ x·cos x dx = sin 1 + cos 1 − 1, and polynomials by hand.
func TestRingWeights(t *testing.T) {
	g := newGrade(20, false, 0, 0)
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
			sum += w[i] * c.f(x[10+i])
		}
		if math.Abs(sum-c.want) > 1e-13 {
			t.Errorf("∫x·%s = %.15f, want %.15f", c.name, sum, c.want)
		}
	}
}
