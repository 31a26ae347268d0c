package inference

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// summit is where a climb ended.
type summit struct {
	theta     []float64 // coefficients and, last, the spread, not negative
	value     float64
	gradient  []float64
	hessian   *mat.SymDense
	converged bool
	ranAway   bool // the spread grew beyond every bound
}

// climb maximises the marginal likelihood from a start by Newton's method,
// damped where the Hessian is not negative definite and shortened where a step
// does not gain, until a step promises a gain below enough. The likelihood is
// even in the spread, so a negative spread is its own mirror image.
func climb(m *marginal, start []float64, enough float64) summit {
	top := summit{theta: append([]float64(nil), start...)}
	last := len(start) - 1
	top.value, top.gradient, top.hessian = m.value(top.theta)
	for range 60 {
		step := ascentStep(top.hessian, top.gradient)
		gain := dot(step, top.gradient) // twice what a quadratic would gain
		limit := 2.0 + top.theta[last]
		if l := largest(step); l > limit {
			scaleBy(step, limit/l)
		}
		next, better := lineSearch(m, top, step)
		if gain < enough || (!better && gain < 1e-9) {
			// The last, tiny step is taken when it does not lose.
			if better {
				top = next
			}
			top.converged = true
			return top
		}
		if !better {
			return top
		}
		top = next
		if top.theta[last] > largestSD {
			top.ranAway = true
			return top
		}
	}
	return top
}

// lineSearch halves the step until the likelihood does not fall.
func lineSearch(m *marginal, from summit, step []float64) (summit, bool) {
	last := len(step) - 1
	slope := dot(step, from.gradient)
	for scale := 1.0; scale > 1e-3; scale /= 2 {
		var to summit
		to.theta = addScaled(from.theta, step, scale)
		to.theta[last] = math.Abs(to.theta[last])
		to.value, to.gradient, to.hessian = m.value(to.theta)
		if to.value >= from.value+1e-4*scale*slope-1e-14*math.Abs(from.value) {
			return to, true
		}
	}
	return from, false
}

// ascentStep solves (−H + λD)·step = gradient with the smallest λ of a rising
// row that makes the matrix positive definite; D is the size of H's diagonal.
func ascentStep(hessian *mat.SymDense, gradient []float64) []float64 {
	base := negated(hessian)
	size := len(gradient)
	for lambda := 0.0; lambda < 1e8; lambda = math.Max(1e-3, lambda*10) {
		damped := mat.NewSymDense(size, nil)
		damped.CopySym(base)
		for i := range size {
			damped.SetSym(i, i, base.At(i, i)+lambda*(math.Abs(base.At(i, i))+1e-8))
		}
		if step, ok := solveSPD(damped, gradient); ok {
			return step
		}
	}
	return append([]float64(nil), gradient...) // steepest ascent: the line search shortens it
}

func scaleBy(values []float64, factor float64) {
	for k := range values {
		values[k] *= factor
	}
}
