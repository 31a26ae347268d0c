package calibration

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// ErrNotConverged says that no least squares solution was found.
var ErrNotConverged = errors.New("the fit did not settle")

// Minimum is where a sum of squares is least.
type Minimum struct {
	X            []float64
	Residuals    []float64
	Jacobian     *mat.Dense // of the residuals, row by residual
	SumOfSquares float64
	Iterations   int
}

const (
	mostIterations = 300
	settledStep    = 1e-11 // of a parameter's own size
	roundingStep   = 1e-8  // where rounding allows no better
	roundingSlope  = 1e-5  // cosine between residuals and a column that rounding may leave
)

// LeastSquares finds the parameters for which the sum of squared residuals is
// least, by the method of Levenberg and Marquardt: damped Gauss–Newton steps,
// each parameter damped by the norm of its own column, solved by QR of the
// augmented system so that the condition is not squared. residuals writes the
// n residuals at x; one that is not finite marks a place to keep away from.
// size says of each parameter what is small beside it, for the central
// differences and where a step has become too small to matter.
//
// Source: D. W. Marquardt, J. Soc. Indust. Appl. Math. 11:431–441 (1963).
// Checked against the certified values of NIST's nonlinear reference sets.
//
// Errors: [ErrNotConverged].
func LeastSquares(n int, residuals func(dst, x []float64), start, size []float64) (Minimum, error) {
	k := len(start)
	here := Minimum{X: append([]float64(nil), start...), Residuals: make([]float64, n), Jacobian: mat.NewDense(n, k, nil)}
	residuals(here.Residuals, here.X)
	here.SumOfSquares = sumOfSquares(here.Residuals)
	if math.IsNaN(here.SumOfSquares) || math.IsInf(here.SumOfSquares, 0) {
		return here, fmt.Errorf("%w: the residuals at the start are not finite", ErrNotConverged)
	}
	damping, gained := 1e-3, math.Inf(1)
	for here.Iterations = 1; here.Iterations <= mostIterations; here.Iterations++ {
		differentiate(&here, residuals, size)
		straight, ok := dampedStep(here.Jacobian, here.Residuals, 0x1p-52)
		if !ok {
			return here, fmt.Errorf("%w: its derivatives are not finite", ErrNotConverged)
		}
		near := within(straight, here.X, size, roundingStep)
		if within(straight, here.X, size, settledStep) || near && gained <= 1e-14*here.SumOfSquares {
			return here, nil
		}
		if gained, ok = descend(&here, residuals, &damping); !ok {
			if near || flat(&here) {
				return here, nil
			}
			return here, fmt.Errorf("%w: no step makes the residuals smaller", ErrNotConverged)
		}
	}
	return here, fmt.Errorf("%w in %d steps", ErrNotConverged, mostIterations)
}

// descend takes one step, damped as far as the sum of squares does not grow,
// and says by how much it fell; false where no step is short enough.
func descend(here *Minimum, residuals func(dst, x []float64), damping *float64) (float64, bool) {
	trial, x := make([]float64, len(here.Residuals)), make([]float64, len(here.X))
	for ; *damping < 1e16; *damping *= 10 {
		step, ok := dampedStep(here.Jacobian, here.Residuals, *damping)
		if !ok {
			return 0, false
		}
		for i := range x {
			x[i] = here.X[i] + step[i]
		}
		residuals(trial, x)
		if f := sumOfSquares(trial); f <= here.SumOfSquares {
			gained := here.SumOfSquares - f
			here.X, here.Residuals, here.SumOfSquares = x, trial, f
			*damping = math.Max(*damping/10, 1e-15)
			return gained, true
		}
	}
	return 0, false
}

func sumOfSquares(r []float64) float64 {
	sum := 0.0
	for _, v := range r {
		sum += v * v
	}
	return sum
}

func within(step, x, size []float64, share float64) bool {
	for i, d := range step {
		if math.Abs(d) > share*(math.Abs(x[i])+math.Abs(size[i])) {
			return false
		}
	}
	return true
}

// flat reports whether the residuals stand square to every column, as far as
// rounding shows.
func flat(m *Minimum) bool {
	n, k := m.Jacobian.Dims()
	norm := math.Sqrt(m.SumOfSquares)
	for j := range k {
		dot, column := 0.0, 0.0
		for i := range n {
			v := m.Jacobian.At(i, j)
			dot += v * m.Residuals[i]
			column += v * v
		}
		if math.Abs(dot) > roundingSlope*math.Sqrt(column)*norm {
			return false
		}
	}
	return true
}

// differentiate sets the Jacobian by central differences, whose error is the
// square of a step of about 1e-5 of the parameter.
func differentiate(m *Minimum, residuals func(dst, x []float64), size []float64) {
	n, k := m.Jacobian.Dims()
	low, high, x := make([]float64, n), make([]float64, n), append([]float64(nil), m.X...)
	for j := range k {
		h := math.Cbrt(0x1p-52) * math.Max(math.Abs(m.X[j]), math.Abs(size[j]))
		above, below := m.X[j]+h, m.X[j]-h
		x[j] = above
		residuals(high, x)
		x[j] = below
		residuals(low, x)
		x[j] = m.X[j]
		for i := range n {
			m.Jacobian.Set(i, j, (high[i]-low[i])/(above-below))
		}
	}
}

// dampedStep minimises |J·d + r|² + damping·Σ(|Jⱼ|·dⱼ)². Columns are scaled to
// length 1 first; a column of nothing gets no step.
func dampedStep(jacobian *mat.Dense, r []float64, damping float64) ([]float64, bool) {
	n, k := jacobian.Dims()
	norms := make([]float64, k)
	a, b := mat.NewDense(n+k, k, nil), mat.NewVecDense(n+k, nil)
	for i := range n {
		b.SetVec(i, -r[i])
	}
	for j := range k {
		norms[j] = mat.Norm(jacobian.ColView(j), 2)
		if math.IsNaN(norms[j]) || math.IsInf(norms[j], 0) {
			return nil, false
		}
		for i := 0; i < n && norms[j] > 0; i++ {
			a.Set(i, j, jacobian.At(i, j)/norms[j])
		}
		a.Set(n+j, j, math.Sqrt(damping))
	}
	var qr mat.QR
	qr.Factorize(a)
	solved := mat.NewDense(k, 1, nil)
	var condition mat.Condition
	if err := qr.SolveTo(solved, false, b); err != nil && !errors.As(err, &condition) {
		return nil, false
	}
	step := make([]float64, k)
	for j := range step {
		if norms[j] > 0 {
			step[j] = solved.At(j, 0) / norms[j]
		}
		if math.IsNaN(step[j]) || math.IsInf(step[j], 0) {
			return nil, false
		}
	}
	return step, true
}

// Covariance is (JᵀJ)⁻¹ at the minimum: the covariance of the parameters where
// residuals are in units of their standard deviations. False where the columns
// do not stand apart.
func (m *Minimum) Covariance() (*mat.SymDense, bool) {
	jacobian := m.Jacobian
	n, k := jacobian.Dims()
	norms, scaled := make([]float64, k), mat.NewDense(n, k, nil)
	for j := range k {
		if norms[j] = mat.Norm(jacobian.ColView(j), 2); !(norms[j] > 0) {
			return nil, false
		}
		for i := range n {
			scaled.Set(i, j, jacobian.At(i, j)/norms[j])
		}
	}
	normal := mat.NewSymDense(k, nil)
	normal.SymOuterK(1, scaled.T())
	var cholesky mat.Cholesky
	if !cholesky.Factorize(normal) || cholesky.Cond() > 1e14 {
		return nil, false
	}
	inverse := mat.NewSymDense(k, nil)
	if err := cholesky.InverseTo(inverse); err != nil {
		return nil, false
	}
	for i := range k {
		for j := i; j < k; j++ {
			inverse.SetSym(i, j, inverse.At(i, j)/(norms[i]*norms[j]))
		}
	}
	return inverse, true
}
