package optics

import "math"

// normal is JᵀJ of a least squares problem in six unknowns.
type normal [6][6]float64

// factor is the Cholesky factor of a normal matrix, each unknown in units of its
// own size.
type factor struct {
	unit [6]float64
	low  [6][6]float64
}

// factored fails where a pivot of the scaled matrix, damped by 1 + damping on its
// diagonal, is below least: where the unknowns are not told apart.
func (n *normal) factored(damping, least float64) (f factor, ok bool) {
	for i := range 6 {
		if !(n[i][i] > 0) || math.IsInf(n[i][i], 1) {
			return f, false
		}
		f.unit[i] = 1 / math.Sqrt(n[i][i])
	}
	for j := range 6 {
		d := 1 + damping
		for k := range j {
			d -= f.low[j][k] * f.low[j][k]
		}
		if !(d > least) {
			return f, false
		}
		f.low[j][j] = math.Sqrt(d)
		for i := j + 1; i < 6; i++ {
			v := n[i][j] * f.unit[i] * f.unit[j]
			for k := range j {
				v -= f.low[i][k] * f.low[j][k]
			}
			f.low[i][j] = v / f.low[j][j]
		}
	}
	return f, true
}

// solve gives the x of N·x = b.
func (f *factor) solve(b *[6]float64) (x [6]float64) {
	for i := range 6 {
		v := b[i] * f.unit[i]
		for k := range i {
			v -= f.low[i][k] * x[k]
		}
		x[i] = v / f.low[i][i]
	}
	for i := 5; i >= 0; i-- {
		v := x[i]
		for k := i + 1; k < 6; k++ {
			v -= f.low[k][i] * x[k]
		}
		x[i] = v / f.low[i][i]
	}
	for i := range 6 {
		x[i] *= f.unit[i]
	}
	return x
}

// inverse of the matrix, symmetric to the last bit.
func (f *factor) inverse() (out [6][6]float64) {
	for j := range 6 {
		var unit [6]float64
		unit[j] = 1
		x := f.solve(&unit)
		for i := range j + 1 {
			out[i][j], out[j][i] = x[i], x[i]
		}
	}
	return out
}
