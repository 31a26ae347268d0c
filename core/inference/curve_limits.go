package inference

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

var errCurveTangled = &NotEstimable{Why: "there are too few levels or passes to tell guess, lapse, median and slope apart"}

// sameLikelihood is a gain in log-likelihood too small to prefer one curve to
// another.
const sameLikelihood = 1e-6

// fault says why a summit is no estimate: the likelihood does no better there
// than at one of its limits, a level line or a step.
func (m *curveModel) fault(top curveSummit) error {
	levels := m.levels()
	low, high := levels[0].log, levels[len(levels)-1].log
	switch {
	case top.value <= m.levelLine()+sameLikelihood:
		return notEstimable("turns do not become more frequent with the level, so there is no curve")
	case top.at[slopeAt] > math.Log(steepest) || m.stepIsAsGood(top):
		return notEstimable("the turns set in as a step at one level or between two, so the slope has no upper end")
	case top.at[medianAt] > high+math.Log(1e4) || top.at[medianAt] < low-math.Log(1e4):
		return notEstimable("the median lies far outside the levels that were used")
	case !top.ok || m.runAway(top.at):
		return notEstimable("the likelihood of the curve has no maximum that Newton's method could reach")
	}
	return nil
}

// levelLine is the largest log-likelihood of a response that does not depend
// on the level above 0: one rate without a stimulus, one not smaller with it.
// It is the limit of the curve as its slope goes to 0.
func (m *curveModel) levelLine() float64 {
	var quiet, driven curveCell
	for _, c := range m.cells {
		into := &driven
		if math.IsInf(c.log, -1) {
			into = &quiet
		}
		into.n += c.n
		into.y += c.y
	}
	guess := quiet.y / quiet.n // not used where n is 0
	rate := driven.y / driven.n
	switch {
	case m.fixed[guessAt]:
		guess = m.start[guessAt]
		rate = math.Max(rate, guess)
	case quiet.n == 0:
		guess = rate
	case guess > rate:
		guess = (quiet.y + driven.y) / (quiet.n + driven.n)
		rate = guess
	}
	return quiet.at(guess) + driven.at(rate)
}

// at is the Bernoulli log-likelihood of a cell at a rate.
func (c curveCell) at(rate float64) float64 {
	var value float64
	if c.y > 0 {
		value += c.y * math.Log(rate)
	}
	if c.y < c.n {
		value += (c.n - c.y) * math.Log1p(-rate)
	}
	return value
}

// stepIsAsGood reports whether a curve ten times as steep does as well, its
// other parameters fitted again: it starts from the same median, from the
// middle between its neighbouring levels, and from the places that leave one
// of the two at its response.
//
// A slope that its curvature alone tells to a factor of e^±0.8 is no step, and
// is not looked at further: with thousands of levels the climbs would be slow.
func (m *curveModel) stepIsAsGood(top curveSummit) bool {
	if m.logSlopeSE(top) < 0.4 {
		return false
	}
	const steeper = 10
	held := *m
	held.fixed[slopeAt] = true
	levels := m.levels()
	median := top.at[medianAt]
	above, _ := slices.BinarySearchFunc(levels, median, func(c curveCell, x float64) int {
		if c.log < x {
			return -1
		}
		return 1
	})
	medians := []float64{median}
	if above > 0 && above < len(levels) {
		medians = append(medians, (levels[above-1].log+levels[above].log)/2)
	}
	for _, k := range []int{above - 1, above} {
		if k >= 0 && k < len(levels) {
			medians = append(medians, levels[k].log+(median-levels[k].log)/steeper)
		}
	}
	for _, x := range medians {
		start := top.at
		start[medianAt] = x
		start[slopeAt] += math.Log(steeper)
		// Off the bounds, so that no turn is impossible where the climb starts.
		for _, i := range []int{guessAt, lapseAt} {
			if !m.fixed[i] {
				start[i] = math.Max(start[i], 1e-3)
			}
		}
		if held.climb(start, 40).value >= top.value-sameLikelihood {
			return true
		}
	}
	return false
}

// logSlopeSE is the standard error of the logarithm of the slope, +∞ where the
// information is singular.
func (m *curveModel) logSlopeSE(top curveSummit) float64 {
	free := m.free(top.at, top.gradient)
	covariance, ok := invertSPD(subInformation(top.hessian, free))
	k := slices.Index(free, slopeAt)
	if !ok || k < 0 {
		return math.Inf(1)
	}
	return math.Sqrt(covariance.At(k, k))
}

// wellTold reports whether an information matrix, scaled to a unit diagonal,
// is far from singular.
func wellTold(information *mat.SymDense) bool {
	n := information.SymmetricDim()
	scaled := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			scaled.SetSym(i, j, information.At(i, j)/math.Sqrt(information.At(i, i)*information.At(j, j)))
		}
	}
	var factor mat.Cholesky
	return factor.Factorize(scaled) && factor.Cond() < 1e8
}
