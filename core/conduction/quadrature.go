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
// memory; tested against closed forms). add takes the next term and returns
// the present estimate.
type tailSum struct {
	x          []float64 // 1/x_s
	num, den   []float64
	partial    float64
	n          int
	last, prev float64
}

func (t *tailSum) add(x, psi float64) float64 {
	t.n++
	if psi == 0 {
		t.last = t.partial
		return t.partial
	}
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
	t.prev = t.last
	t.last = t.num[0] / t.den[0]
	if math.IsNaN(t.last) || math.IsInf(t.last, 0) {
		t.last = t.partial
	}
	return t.last
}
