package inference

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// plainLogit is a logistic model without individuals.
type plainLogit struct {
	beta          []float64
	information   *mat.SymDense // Σ n·p(1 − p)·x xᵀ at beta
	logLikelihood float64
}

// errSeparated is what the likelihood looks like from inside a separated
// table; callers with better words for it use those.
var errSeparated = &NotEstimable{Why: "the columns tell turns from no turns without exception (separation), so an estimate has no end"}

var errSingular = &NotEstimable{Why: "the columns of the design depend on each other, or there is too little data to tell their effects apart"}

// fitPlainLogit maximises the Bernoulli likelihood by Newton's method, whose
// information is here both observed and expected. The likelihood is concave,
// so what it converges to is the maximum; where it runs away, the table is
// separated and there is none.
func fitPlainLogit(cells []designCell, columns int) (plainLogit, error) {
	beta := make([]float64, columns)
	value, gradient, information := plainLikelihood(cells, beta)
	for range 100 {
		step, ok := solveSPD(information, gradient)
		if !ok {
			if largestLogit(cells, beta) > runaway {
				return plainLogit{}, errSeparated
			}
			return plainLogit{}, errSingular
		}
		moved := 0.0 // largest change of any cell's logit
		for _, c := range cells {
			moved = math.Max(moved, math.Abs(dot(c.x, step)))
		}
		if moved < 1e-11 {
			return plainLogit{beta: beta, information: information, logLikelihood: value}, nil
		}
		next, nextValue, nextGradient, nextInformation := beta, value, gradient, information
		for scale := 1.0; ; scale /= 2 {
			next = addScaled(beta, step, scale)
			nextValue, nextGradient, nextInformation = plainLikelihood(cells, next)
			if nextValue >= value-1e-12*math.Abs(value) {
				break
			}
			if scale < 1e-10 { // rounding only: this is the maximum
				return plainLogit{beta: beta, information: information, logLikelihood: value}, nil
			}
		}
		// Along a separating direction the Newton step stays near one logit
		// for ever while the likelihood has nothing left to gain.
		if moved > 0.5 && largestLogit(cells, next) > runaway {
			return plainLogit{}, errSeparated
		}
		beta, value, gradient, information = next, nextValue, nextGradient, nextInformation
	}
	return plainLogit{}, errSeparated
}

// runaway is a logit at which a cell would need e^18 = 66 million passes to be
// seen to differ from "always".
const runaway = 18

func plainLikelihood(cells []designCell, beta []float64) (float64, []float64, *mat.SymDense) {
	columns := len(beta)
	var value float64
	gradient := make([]float64, columns)
	information := mat.NewSymDense(columns, nil)
	for _, c := range cells {
		p, q, logP, logQ := logistic(dot(c.x, beta))
		value += c.y*logP + (c.n-c.y)*logQ
		residual := c.y*q - (c.n-c.y)*p
		weight := c.n * p * q
		for i, xi := range c.x {
			gradient[i] += residual * xi
			for j := i; j < columns; j++ {
				information.SetSym(i, j, information.At(i, j)+weight*xi*c.x[j])
			}
		}
	}
	return value, gradient, information
}

func largestLogit(cells []designCell, beta []float64) float64 {
	largest := 0.0
	for _, c := range cells {
		largest = math.Max(largest, math.Abs(dot(c.x, beta)))
	}
	return largest
}

// solveSPD solves m·x = b for a symmetric positive definite m; ok is false
// where m is not, or is so nearly singular that the digits are gone.
func solveSPD(m *mat.SymDense, b []float64) (x []float64, ok bool) {
	var factor mat.Cholesky
	if !factor.Factorize(m) || factor.Cond() > 1e13 {
		return nil, false
	}
	var solution mat.VecDense
	if err := factor.SolveVecTo(&solution, mat.NewVecDense(len(b), b)); err != nil {
		return nil, false
	}
	return solution.RawVector().Data, true
}

// invertSPD returns the inverse of a symmetric positive definite matrix.
func invertSPD(m *mat.SymDense) (*mat.SymDense, bool) {
	var factor mat.Cholesky
	if !factor.Factorize(m) {
		return nil, false
	}
	var inverse mat.SymDense
	if err := factor.InverseTo(&inverse); err != nil {
		return nil, false
	}
	return &inverse, true
}

func addScaled(a, b []float64, scale float64) []float64 {
	sum := make([]float64, len(a))
	for k := range a {
		sum[k] = a[k] + scale*b[k]
	}
	return sum
}
