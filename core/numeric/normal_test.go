package numeric_test

import (
	"math"
	"testing"

	"brinefield/core/numeric"
	"brinefield/core/numeric/numtest"

	"pgregory.net/rapid"
)

// Tail probabilities of the standard normal. Source: closed forms and values
// worked out in 70-digit decimal arithmetic (continued fraction of Mills'
// ratio, series for −5); Φ(−1.959963984540054) = 0.025 is the quantile that every table has.
func TestLogPhi(t *testing.T) {
	cases := []struct{ z, want float64 }{
		{0, -math.Ln2},
		{-1.959963984540054, math.Log(0.025)},
		{1.959963984540054, math.Log(0.975)},
		{-5, -15.064998393988725736},
		{-10, -53.231285150512470578},
		{-12, -75.410673001568795939},
		{-20, -203.91715537109726394},
		{-40, -804.60844201375378817},
		{-1e4, -50000010.129278915181},
		{9, -1.1285884059538407e-19},
	}
	for _, c := range cases {
		numtest.Check(t, "ln Φ", numeric.LogPhi(c.z), c.want, numtest.Tolerance{Rel: 4e-15})
	}
	if !math.IsInf(numeric.LogPhi(math.Inf(-1)), -1) || numeric.LogPhi(math.Inf(1)) != 0 {
		t.Error("ln Φ at the infinities")
	}
	if !math.IsNaN(numeric.LogPhi(math.NaN())) {
		t.Error("NaN became a number")
	}
}

// Both branches of the tail agree where they meet.
func TestUpperTailMeets(t *testing.T) {
	below, belowHazard := numeric.UpperTail(math.Nextafter(12, 0))
	above, aboveHazard := numeric.UpperTail(12)
	numtest.Check(t, "ln U", below, above, numtest.Tolerance{Rel: 1e-15})
	numtest.Check(t, "hazard", belowHazard, aboveHazard, numtest.Tolerance{Rel: 5e-14})
}

// Probability and moments against composite Simpson quadrature of the density,
// scaled by its largest value so that it cannot underflow.
func TestNormalBetween(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(-30, 30).Draw(t, "a")
		width := math.Exp(rapid.Float64Range(-12, 2.5).Draw(t, "ln width"))
		b := a + width
		got := numeric.NormalBetween(a, b)
		logP, m := simpson(a, b)
		numtest.Check(t, "ln P", got.LogP, logP, numtest.Tolerance{Abs: 1e-11, Rel: 1e-13})
		reach := math.Max(math.Abs(a), math.Abs(b))
		// Moments to 1e-11 of what they could be; central ones are what counts.
		power := 1.0
		for k, g := range []float64{got.M1, got.M2, got.M3, got.M4} {
			power *= math.Max(reach, 1)
			numtest.Check(t, "moment", g, m[k], numtest.Tolerance{Abs: 1e-11 * power})
		}
		if v := got.M2 - got.M1*got.M1; width < 1e-3 && v > width*width/4+1e-13*power {
			t.Errorf("variance %g within a width of %g", v, width)
		}
	})
}

func simpson(a, b float64) (logP float64, moments [4]float64) {
	// Nothing is left beyond where the density has fallen by e⁻⁸⁰.
	peak := math.Max(a, math.Min(b, 0))
	if reach := peak + 80/math.Max(math.Abs(peak), 6); a >= 0 && b > reach {
		b = reach
	}
	if reach := peak - 80/math.Max(math.Abs(peak), 6); b <= 0 && a < reach {
		a = reach
	}
	const n = 20000
	h := (b - a) / n
	var sum float64
	for i := 0; i <= n; i++ {
		w := 2.0
		switch {
		case i == 0 || i == n:
			w = 1
		case i%2 == 1:
			w = 4
		}
		x := a + float64(i)*h
		w *= math.Exp((peak*peak - x*x) / 2)
		sum += w
		for k, p := 0, x; k < 4; k, p = k+1, p*x {
			moments[k] += w * p
		}
	}
	for k := range moments {
		moments[k] /= sum
	}
	return math.Log(sum*h/3) - peak*peak/2 - math.Log(2*math.Pi)/2, moments
}

func TestNormalBetweenEdges(t *testing.T) {
	inf := math.Inf(1)
	all := numeric.NormalBetween(-inf, inf)
	if all.LogP != 0 || all.M1 != 0 || all.M2 != 1 || all.M4 != 3 {
		t.Errorf("the whole line: %+v", all)
	}
	half := numeric.NormalBetween(0, inf)
	numtest.Check(t, "half normal mean", half.M1, math.Sqrt(2/math.Pi), numtest.Tolerance{Rel: 1e-15})
	numtest.Check(t, "half normal square", half.M2, 1, numtest.Tolerance{Rel: 1e-15})
	far := numeric.NormalBetween(50, 60)
	numtest.Check(t, "mean far out", far.M1, 50+1/50.-2/125000., numtest.Tolerance{Rel: 1e-7})
	if point := numeric.NormalBetween(2, 2); !math.IsInf(point.LogP, -1) || point.M2 != 4 {
		t.Errorf("a point: %+v", point)
	}
}
