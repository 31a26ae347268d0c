package conduction

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/integrate/quad"
)

// The 16-point Gauss–Legendre rule on [−1, 1], used panel by panel.
var gaussNodes, gaussWeights = func() (x, w [16]float64) {
	quad.Legendre{}.FixedLocations(x[:], w[:], -1, 1)
	return x, w
}()

// panels returns nodes and weights on (0, kMax] in panels that halve towards
// zero until kMin: a kernel may change at any scale of k, and a function that is
// analytic but for a point on the negative axis is integrated to machine
// precision by 16 nodes an octave.
func panels(kMin, kMax float64) (k, w []float64) {
	hi := kMax
	for hi > kMin {
		k, w = panel(k, w, hi/2, hi)
		hi /= 2
	}
	return panel(k, w, 0, hi)
}

// panel appends one Gauss panel.
func panel(k, w []float64, lo, hi float64) (kOut, wOut []float64) {
	half, mid := (hi-lo)/2, (hi+lo)/2
	for i, t := range gaussNodes {
		k = append(k, mid+half*t)
		w = append(w, half*gaussWeights[i])
	}
	return k, w
}

// sqrtRight is the root with a positive real part.
func sqrtRight(z complex128) complex128 {
	r := cmplx.Sqrt(z)
	if real(r) < 0 {
		return -r
	}
	return r
}

// tailSum extrapolates a sum of terms over equal stretches of an oscillating,
// slowly decaying integrand to its limit (the W algorithm of the mW
// transformation: Sidi, Mathematics of Computation 51:249–266, 1988, from
// memory; tested against closed forms). The estimate that is kept is the one
// about which the sequence was calmest, since rounding wins in the end.
type tailSum struct {
	x, num, den []float64 // 1/x_s and the divided differences
	partial     float64   // the plain sum
	last, step  float64   // latest estimate and its latest change
	best, calm  float64   // calmest estimate and how much it moved
	spent       int       // stretches in a row that added nothing
}

func newTailSum(start float64) tailSum {
	return tailSum{partial: start, last: math.Inf(1), step: math.Inf(1), best: start, calm: math.Inf(1)}
}

// add takes the integral psi of the stretch that ends at x.
func (t *tailSum) add(x, psi float64) {
	if math.Abs(psi) <= 1e-18*math.Abs(t.partial) {
		// The integrand has died away (or underflows): the plain sum is it.
		t.partial += psi
		if t.spent++; t.spent >= 2 {
			t.best, t.calm = t.partial, 0
		}
		return
	}
	t.spent = 0
	if math.Abs(psi) > 1e-290 {
		t.x = append(t.x, 1/x)
		t.num = append(t.num, t.partial/psi)
		t.den = append(t.den, 1/psi)
		n := len(t.x) - 1
		for i := n - 1; i >= 0; i-- {
			d := t.x[i] - t.x[n]
			t.num[i] = (t.num[i] - t.num[i+1]) / d
			t.den[i] = (t.den[i] - t.den[i+1]) / d
		}
		t.partial += psi
	}
	next := t.partial
	if len(t.x) > 0 && finite(t.num[0]/t.den[0]) {
		next = t.num[0] / t.den[0]
	}
	step := math.Abs(next - t.last)
	if moved := math.Max(step, t.step); moved < t.calm {
		t.best, t.calm = next, moved
	}
	t.last, t.step = next, step
}

// done reports whether the estimate moves by no more than a rounding error.
func (t *tailSum) done() bool { return t.calm <= 2e-16*math.Abs(t.best) }

// discRule is a Gauss–Legendre rule on [0, 1] for n = 3 or 8.
func discRule(n int) (x, w []float64) {
	if n == 3 {
		return discCoarse.x[:], discCoarse.w[:]
	}
	return discFine.x[:], discFine.w[:]
}

type rule struct{ x, w []float64 }

var discCoarse, discFine = legendre01(3), legendre01(8)

func legendre01(n int) rule {
	r := rule{make([]float64, n), make([]float64, n)}
	quad.Legendre{}.FixedLocations(r.x, r.w, 0, 1)
	return r
}
