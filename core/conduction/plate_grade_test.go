package conduction

import (
	"math"
	"testing"
)

// The rules are held against integrals and functions in closed form.
func TestGradeIntegratesAndInterpolates(t *testing.T) {
	for _, c := range []struct {
		name       string
		open       bool
		x0, spread float64
		f          func(x float64) float64
		integral   float64
	}{
		{"body, plain", false, 0, 0, func(x float64) float64 { return math.Exp(x) }, math.E - 1/math.E},
		{"body, dense at 0.4", false, 0.4, 0.3, func(x float64) float64 { return math.Exp(x) }, math.E - 1/math.E},
		{"sheet, plain", true, 0, 0, func(x float64) float64 { return math.Sqrt(1 - x*x) }, math.Pi / 2},
		{"sheet, dense at 0", true, 0, 0.4, func(x float64) float64 { return math.Sqrt(1-x*x) * (1 + x*x) }, math.Pi/2 + math.Pi/8},
	} {
		t.Run(c.name, func(t *testing.T) {
			g := newGrade(24, c.open, c.x0, c.spread)
			x, w := g.probes()
			sum := 0.0
			for j := range x {
				sum += w[j] * c.f(x[j])
			}
			if math.Abs(sum-c.integral) > 1e-6 {
				t.Errorf("integral %.8f, want %.8f", sum, c.integral)
			}
			to := g.finer(3)
			fine, _ := to.probes()
			for i, row := range g.interpolation(to) {
				v := 0.0
				for j := range row {
					v += row[j] * c.f(x[j])
				}
				want := c.f(fine[i])
				if c.open { // a sheet's values stand for sums over cells: the mean over one
					want = mean(c.f, to, i, g.step()/2)
				}
				if math.Abs(v-want) > 5e-6 {
					t.Fatalf("at %.4f: %.9f, want %.9f", fine[i], v, want)
				}
			}
		})
	}
}

// mean is that of f over θ ± reach, by Simpson's rule; f is odd in θ at the
// ends of a sheet.
func mean(f func(float64) float64, g grade, i int, reach float64) float64 {
	theta, _ := g.angles()
	at := func(t float64) float64 {
		x, _ := g.at(t)
		if t < 0 || t > math.Pi {
			return -f(x)
		}
		return f(x)
	}
	const n = 200
	sum := 0.0
	for k := 0; k <= n; k++ {
		w := 2.0 + 2*float64(k%2)
		if k == 0 || k == n {
			w = 1
		}
		sum += w * at(theta[i]+reach*(2*float64(k)/n-1))
	}
	return sum / 3 / n
}
