package numeric

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Objective returns the value of a function at x and writes its gradient and
// Hessian. A value of −∞ or NaN marks a place outside its domain, where the
// derivatives need not be written.
type Objective func(x, gradient []float64, hessian *mat.SymDense) float64

// Search bounds a maximisation. Low and High are where a parameter counts as
// having run off; Step is the longest step in each parameter. All have the
// length of the start.
type Search struct {
	Low, High, Step []float64
}

// Maximum is where a maximisation ended.
type Maximum struct {
	X, Gradient []float64
	Hessian     *mat.SymDense
	Value       float64
	// Decrement is √(gᵀ(−H)⁻¹g): how far the end is from the maximum of the
	// local quadratic, in units of the standard errors that −H implies.
	Decrement  float64
	Iterations int
}

// ErrNotConverged says that a maximisation stopped before its decrement was
// small enough.
var ErrNotConverged = errors.New("the search for the maximum did not converge")

// RanOff says that a parameter left the range of its search: the function
// still rises towards an edge.
type RanOff struct {
	Index int  // of the parameter
	Low   bool // left at the lower end
}

func (e *RanOff) Error() string {
	end := "upper"
	if e.Low {
		end = "lower"
	}
	return fmt.Sprintf("parameter %d left its range at the %s end", e.Index, end)
}

const (
	convergedDecrement = 1e-9 // standard errors
	acceptedDecrement  = 1e-6 // where rounding allows no better
	quadraticDecrement = 3e-4 // from here Newton's step needs no line search
	maxIterations      = 200
	maxHalvings        = 50
)

// Maximise climbs from start to a local maximum of f by Newton's method,
// damped: where −H is not positive definite its eigenvalues are replaced by
// their sizes, steps are cut to s.Step and halved until f rises (Armijo).
// It ends when −H is positive definite and the decrement below 1e-9 standard
// errors (1e-6 where rounding in f allows no better).
//
// Errors: [ErrNotConverged]; [*RanOff] when a parameter leaves its range. In
// both cases the Maximum says where the search ended. Made for a handful of
// parameters: every step costs one eigenvalue decomposition.
func Maximise(f Objective, start []float64, s Search) (Maximum, error) {
	k := len(start)
	here := newMaximum(k)
	copy(here.X, start)
	here.Value = f(here.X, here.Gradient, here.Hessian)
	if !finite(here.Value) {
		return here, fmt.Errorf("%w: the function is not finite at the start", ErrNotConverged)
	}
	trial, step := newMaximum(k), make([]float64, k)
	previous := math.Inf(1)
	for here.Iterations < maxIterations {
		definite, ok := newtonStep(&here, step)
		if !ok {
			return here, fmt.Errorf("%w: its derivatives are not finite", ErrNotConverged)
		}
		if definite && here.Decrement <= convergedDecrement {
			return here, nil
		}
		local := definite && here.Decrement <= quadraticDecrement
		if local && here.Decrement <= acceptedDecrement && here.Decrement >= previous/2 {
			return here, nil // rounding: no more digits to be had
		}
		previous = here.Decrement
		if !climb(f, &here, &trial, step, s.Step, local) {
			if definite && here.Decrement <= acceptedDecrement {
				return here, nil
			}
			return here, fmt.Errorf("%w: no step rises", ErrNotConverged)
		}
		trial.Iterations = here.Iterations + 1
		here, trial = trial, here
		for i, x := range here.X {
			if x < s.Low[i] || x > s.High[i] {
				return here, &RanOff{Index: i, Low: x < s.Low[i]}
			}
		}
	}
	return here, fmt.Errorf("%w in %d steps", ErrNotConverged, maxIterations)
}

func newMaximum(k int) Maximum {
	return Maximum{X: make([]float64, k), Gradient: make([]float64, k), Hessian: mat.NewSymDense(k, nil)}
}

// newtonStep fills step with the uphill Newton step at m and sets its
// decrement; definite says that −H is positive definite there.
func newtonStep(m *Maximum, step []float64) (definite, ok bool) {
	k := len(step)
	var eigen mat.EigenSym
	for i := range k {
		if !finite(m.Gradient[i]) {
			return false, false
		}
		for j := i; j < k; j++ {
			if !finite(m.Hessian.At(i, j)) {
				return false, false
			}
		}
	}
	// Each parameter in units of its own curvature, or the small eigenvalues
	// would drown in the rounding of the large ones.
	unit := make([]float64, k)
	scaled := mat.NewSymDense(k, nil)
	for i := range k {
		unit[i] = 1
		if d := math.Abs(m.Hessian.At(i, i)); d > 1e-300 {
			unit[i] = 1 / math.Sqrt(d)
		}
	}
	for i := range k {
		for j := i; j < k; j++ {
			scaled.SetSym(i, j, m.Hessian.At(i, j)*unit[i]*unit[j])
		}
	}
	if !eigen.Factorize(scaled, true) {
		return false, false
	}
	values := eigen.Values(nil)
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	definite = true
	decrement := 0.0
	clear(step)
	for e, v := range values {
		// A curvature of a rounding error is none.
		if v > -1e-13 {
			definite = false
		}
		size := math.Max(math.Abs(v), 1e-13)
		along := 0.0
		for i := range k {
			along += vectors.At(i, e) * m.Gradient[i] * unit[i]
		}
		decrement += along * along / size
		for i := range k {
			step[i] += vectors.At(i, e) * unit[i] * along / size
		}
	}
	m.Decrement = math.Sqrt(decrement)
	return definite, true
}

// climb evaluates f one step on and leaves the result in trial. Close to the
// maximum (local) the rise of f drowns in its rounding, so Newton's step is
// taken as it is.
func climb(f Objective, here, trial *Maximum, step, longest []float64, local bool) bool {
	scale := 1.0
	for i, d := range step {
		if math.Abs(d)*scale > longest[i] {
			scale = longest[i] / math.Abs(d)
		}
	}
	slope := 0.0
	for i, d := range step {
		slope += d * here.Gradient[i]
	}
	for range maxHalvings {
		for i, d := range step {
			trial.X[i] = here.X[i] + scale*d
		}
		trial.Value = f(trial.X, trial.Gradient, trial.Hessian)
		if finite(trial.Value) && (local || trial.Value >= here.Value+1e-4*scale*slope) {
			return true
		}
		scale /= 2
	}
	return false
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
