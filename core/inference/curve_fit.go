package inference

import (
	"cmp"
	"math"
	"slices"
)

// Slopes per natural logarithm beyond which a curve counts as a step, and
// below which as flat.
const (
	steepest = 200
	flattest = 0.02
	// largestRate keeps guess and lapse off 1, where nothing depends on the level.
	largestRate = 0.999
)

// curveSummit is where a climb ended.
type curveSummit struct {
	at       curvePoint
	value    float64
	gradient curvePoint
	hessian  [curveSize]curvePoint
	ok       bool
}

// fit climbs from the best places of a grid and reads the highest summit.
func (m *curveModel) fit() (CurveFit, error) {
	var best curveSummit
	best.value = math.Inf(-1)
	for _, start := range m.starts() {
		top := m.climb(start, 300)
		// A later summit must be higher by more than rounding, so that which
		// of two equal ones is taken is settled by the grid.
		if top.value > best.value+1e-9*(1+math.Abs(best.value)) || top.ok && !best.ok && top.value > best.value-1e-9*(1+math.Abs(best.value)) {
			best = top
		}
	}
	if err := m.fault(best); err != nil {
		return CurveFit{}, err
	}
	return m.read(best)
}

// starts returns the highest places of a grid, best first.
func (m *curveModel) starts() []curvePoint {
	levels := m.levels()
	low, high := levels[0].log, levels[len(levels)-1].log
	guesses, lapses := []float64{0.02, 0.15}, []float64{0.01, 0.15, 0.4}
	if c := m.cells[0]; math.IsInf(c.log, -1) {
		guesses = []float64{(c.y + 0.5) / (c.n + 1)}
	}
	if m.fixed[guessAt] {
		guesses = []float64{m.start[guessAt]}
	}
	if m.fixed[lapseAt] {
		lapses = []float64{m.start[lapseAt]}
	}
	type place struct {
		at    curvePoint
		value float64
	}
	var places []place
	const medians = 12
	for _, g := range guesses {
		for _, l := range lapses {
			for _, slope := range []float64{0.4, 1, 2.5, 6, 15} {
				for k := range medians + 1 {
					at := curvePoint{g, l, low + (high-low)*float64(k)/medians, math.Log(slope)}
					value, _, _ := m.likelihood(at)
					places = append(places, place{at, value})
				}
			}
		}
	}
	slices.SortStableFunc(places, func(a, b place) int { return cmp.Compare(b.value, a.value) })
	var starts []curvePoint
	for _, p := range places {
		if !slices.ContainsFunc(starts, func(s curvePoint) bool { return s[slopeAt] == p.at[slopeAt] && s[lapseAt] == p.at[lapseAt] }) {
			starts = append(starts, p.at)
		}
		if len(starts) == 6 {
			break
		}
	}
	return starts
}

// climb is Newton's method with bounds: parameters pressed against one are
// held, the others move along a damped step that is clipped to the bounds.
func (m *curveModel) climb(start curvePoint, steps int) curveSummit {
	top := curveSummit{at: start}
	top.value, top.gradient, top.hessian = m.likelihood(start)
	for range steps {
		if m.runAway(top.at) || math.IsInf(top.value, -1) {
			return top
		}
		free := m.free(top.at, top.gradient)
		gradient := make([]float64, len(free))
		for k, i := range free {
			gradient[k] = top.gradient[i]
		}
		step := ascentStep(negated(subInformation(top.hessian, free)), gradient)
		if l := largest(step); l > 1 {
			scaleBy(step, 1/l)
		}
		gain := dot(step, gradient)
		next, better := m.search(top, free, step)
		if gain < 1e-16 || !better && gain < 1e-10 {
			if better {
				top = next
			}
			top.ok = true
			return top
		}
		if !better {
			return top
		}
		top = next
	}
	return top
}

// search halves a step, clipped to the bounds, until the likelihood rises.
func (m *curveModel) search(from curveSummit, free []int, step []float64) (curveSummit, bool) {
	for scale := 1.0; scale > 1e-10; scale /= 2 {
		var to curveSummit
		to.at = from.at
		slope := 0.0
		for k, i := range free {
			to.at[i] += scale * step[k]
			if i <= lapseAt {
				to.at[i] = math.Min(math.Max(0, to.at[i]), largestRate)
			}
			slope += from.gradient[i] * (to.at[i] - from.at[i])
		}
		to.value, to.gradient, to.hessian = m.likelihood(to.at)
		if to.value >= from.value+1e-4*slope-1e-14*math.Abs(from.value) {
			return to, true
		}
	}
	return from, false
}

func (m *curveModel) runAway(at curvePoint) bool {
	slopeGone := at[slopeAt] > math.Log(steepest) || at[slopeAt] < math.Log(flattest)
	return slopeGone && !m.fixed[slopeAt] || at[guessAt] >= largestRate || at[lapseAt] >= largestRate
}

// read turns a summit into the fit.
func (m *curveModel) read(top curveSummit) (CurveFit, error) {
	free := m.free(top.at, top.gradient)
	information := subInformation(top.hessian, free)
	covariance, ok := invertSPD(information)
	if !ok || !wellTold(information) {
		return CurveFit{}, errCurveTangled
	}
	fit := CurveFit{
		Guess: top.at[guessAt], Lapse: top.at[lapseAt],
		Median: math.Exp(top.at[medianAt]), Slope: math.Exp(top.at[slopeAt]),
		LogLikelihood: top.value,
	}
	for _, c := range m.cells {
		fit.Passes += int(c.n)
	}
	for k, i := range free {
		se := math.Sqrt(covariance.At(k, k))
		switch i {
		case medianAt:
			fit.LogMedianSE = se
		case slopeAt:
			fit.SlopeSE = se * fit.Slope
		}
	}
	if fit.LogMedianSE > 10 { // a factor of e^20 either way
		return CurveFit{}, errCurveTangled
	}
	const z975 = 1.959963984540054
	fit.Median95 = Span{Low: fit.Median * math.Exp(-z975*fit.LogMedianSE), High: fit.Median * math.Exp(z975*fit.LogMedianSE)}
	for _, p := range []struct {
		place int
		name  string
	}{{guessAt, "guess"}, {lapseAt, "lapse"}} {
		if !m.fixed[p.place] && top.at[p.place] == 0 {
			fit.Boundary = append(fit.Boundary, p.name)
		}
	}
	levels := m.levels()
	if x := top.at[medianAt]; x < levels[0].log || x > levels[len(levels)-1].log {
		fit.Warnings = append(fit.Warnings, "the median lies outside the levels that were used")
	}
	return fit, nil
}
