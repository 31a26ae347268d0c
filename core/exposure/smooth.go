package exposure

import "math"

// fewestToSmooth: below it a path has too few rows to tell noise from swimming
// (three rows leave one difference for two unknowns), and is left as it is.
const fewestToSmooth = 4

// smooth replaces the positions of rows by their expectation given all rows,
// when each coordinate carries independent normal errors of standard deviation
// sd and the animal's velocity wanders as a random walk:
//
//	dx = v dt,  dv = √q dW,  y_i = x(t_i) + e_i,  e_i ~ N(0, sd²)
//
// The expectation is the cubic smoothing spline with the roughness weight
// sd²/q. q, how restlessly the animal swims, is the one that makes the rows
// most likely, with starting point and velocity left free; x and y share one
// q, heights have their own. Heights that were not measured stay as they are,
// and a smoothed height is never below 0. Times may be uneven.
//
// Source: the equivalence of the smoothing spline and the integrated Wiener
// process, Wahba, J. R. Statist. Soc. B 40 (1978) 364–372; the banded form
// after Reinsch, Numer. Math. 10 (1967) 177–183 (both from memory). Tests: a
// straight line and a cubic's interpolation limit, a dense Gaussian
// conditional expectation, and simulated passes.
func smooth(rows []row, sd float64) {
	n := len(rows)
	if n < fewestToSmooth || !(sd > 0) || !isFinite(sd) {
		return
	}
	t, x, y := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range rows {
		t[i], x[i], y[i] = rows[i].t, rows[i].x, rows[i].y
	}
	smoothed := smoothTogether(t, sd, x, y)
	for i := range rows {
		rows[i].x, rows[i].y = smoothed[0][i], smoothed[1][i]
	}
	smoothHeights(rows, sd)
}

func smoothHeights(rows []row, sd float64) {
	var t, z []float64
	var at []int
	for i := range rows {
		if rows[i].zKnown {
			t, z, at = append(t, rows[i].t), append(z, rows[i].z), append(at, i)
		}
	}
	if len(z) < fewestToSmooth {
		return
	}
	for k, v := range smoothTogether(t, sd, z)[0] {
		rows[at[k]].z = math.Max(v, 0)
	}
}

// smoothTogether smooths coordinates that share their times and their q.
func smoothTogether(t []float64, sd float64, coordinates ...[]float64) [][]float64 {
	b := newSplineBands(t)
	likelihood := func(logQ float64) float64 {
		return b.logLikelihood(math.Exp(logQ), sd*sd, coordinates)
	}
	q, ok := mostLikelyQ(likelihood, t, sd)
	out := make([][]float64, len(coordinates))
	for k, y := range coordinates {
		out[k] = y
		if !ok {
			continue
		}
		if g := b.spline(math.Exp(q), sd*sd, y); allFinite(g) {
			out[k] = g
		}
	}
	return out
}

// mostLikelyQ searches ln q between a path that is straight for all purposes
// (it wanders off by a thirtieth of sd over the whole pass) and one that is
// not smoothed (it wanders off by a hundred sd between two rows).
func mostLikelyQ(likelihood func(logQ float64) float64, t []float64, sd float64) (logQ float64, ok bool) {
	n := len(t)
	total := t[n-1] - t[0]
	step := total / float64(n-1)
	lo := math.Log(1e-3 * sd * sd / (total * total * total))
	hi := math.Log(1e4 * sd * sd / (step * step * step))
	const pieces = 24
	best, value := 0, math.Inf(-1)
	for k := range pieces + 1 {
		if v := likelihood(lo + (hi-lo)*float64(k)/pieces); v > value {
			best, value = k, v
		}
	}
	if math.IsInf(value, -1) {
		return 0, false
	}
	at := func(k int) float64 { return lo + (hi-lo)*float64(k)/pieces }
	if best == 0 || best == pieces {
		return at(best), true
	}
	logQ, _ = brentMax(likelihood, at(best-1), at(best+1), at(best), value, math.NaN(), math.NaN(), 1e-3)
	return logQ, true
}

func allFinite(v []float64) bool {
	for _, x := range v {
		if !isFinite(x) {
			return false
		}
	}
	return true
}

// splineBands holds, for n times, the second divided differences D (n−2 rows
// of three) and the covariance R, per q, that the integrated Wiener process
// gives them (tridiagonal).
type splineBands struct {
	d      [][3]float64 // row k: weights of y_k, y_k+1, y_k+2
	r0, r1 []float64    // diagonal and next
}

func newSplineBands(t []float64) *splineBands {
	m := len(t) - 2
	b := &splineBands{d: make([][3]float64, m), r0: make([]float64, m), r1: make([]float64, m)}
	for k := range m {
		h0, h1 := t[k+1]-t[k], t[k+2]-t[k+1]
		b.d[k] = [3]float64{1 / h0, -1/h0 - 1/h1, 1 / h1}
		b.r0[k] = (h0 + h1) / 3
		b.r1[k] = h1 / 6
	}
	return b
}

// factor is the Cholesky factor of qR + rDDᵀ, the covariance of the second
// differences, as bands below the diagonal: l[k] = (diagonal, one, two below
// left). false where it is not positive definite in floating point.
func (b *splineBands) factor(q, r float64) (l [][3]float64, ok bool) {
	m := len(b.d)
	l = make([][3]float64, m)
	for k := range m {
		d := b.d[k]
		a0 := q*b.r0[k] + r*(d[0]*d[0]+d[1]*d[1]+d[2]*d[2])
		var a1, a2 float64
		if k >= 1 {
			p := b.d[k-1]
			a1 = q*b.r1[k-1] + r*(p[1]*d[0]+p[2]*d[1])
		}
		if k >= 2 {
			a2 = r * b.d[k-2][2] * d[0]
			l[k][2] = a2 / l[k-2][0]
		}
		if k >= 1 {
			l[k][1] = (a1 - l[k][2]*l[k-1][1]) / l[k-1][0]
		}
		pivot := a0 - l[k][1]*l[k][1] - l[k][2]*l[k][2]
		if !(pivot > 0) || math.IsInf(pivot, 0) {
			return nil, false
		}
		l[k][0] = math.Sqrt(pivot)
	}
	return l, true
}

// logLikelihood of the second differences, without the constant.
func (b *splineBands) logLikelihood(q, r float64, coordinates [][]float64) float64 {
	l, ok := b.factor(q, r)
	if !ok {
		return math.Inf(-1)
	}
	sum := 0.0
	for _, y := range coordinates {
		for k, u := range b.forward(l, y) {
			sum -= math.Log(l[k][0]) + u*u/2
		}
	}
	if math.IsNaN(sum) {
		return math.Inf(-1)
	}
	return sum
}

// forward solves L u = D y.
func (b *splineBands) forward(l [][3]float64, y []float64) []float64 {
	u := make([]float64, len(b.d))
	for k, d := range b.d {
		v := d[0]*y[k] + d[1]*y[k+1] + d[2]*y[k+2]
		if k >= 1 {
			v -= l[k][1] * u[k-1]
		}
		if k >= 2 {
			v -= l[k][2] * u[k-2]
		}
		u[k] = v / l[k][0]
	}
	return u
}

// spline is y − r Dᵀ(qR + rDDᵀ)⁻¹ D y.
func (b *splineBands) spline(q, r float64, y []float64) []float64 {
	l, ok := b.factor(q, r)
	if !ok {
		return y
	}
	u := b.forward(l, y)
	for k := len(u) - 1; k >= 0; k-- {
		v := u[k]
		if k+1 < len(u) {
			v -= l[k+1][1] * u[k+1]
		}
		if k+2 < len(u) {
			v -= l[k+2][2] * u[k+2]
		}
		u[k] = v / l[k][0]
	}
	g := append([]float64(nil), y...)
	for k, d := range b.d {
		g[k] -= r * d[0] * u[k]
		g[k+1] -= r * d[1] * u[k]
		g[k+2] -= r * d[2] * u[k]
	}
	return g
}
