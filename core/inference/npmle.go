package inference

import (
	"math"
)

// Mass is one step of a nonparametric distribution: a probability that lies
// somewhere in (Low, High], or at the point where Low = High. High may be +Inf.
// Where within the interval it lies the data cannot say.
type Mass struct {
	Low, High float64 // nV/cm
	Mass      float64
}

// Steps is the nonparametric maximum-likelihood distribution of thresholds.
type Steps struct {
	Support       []Mass // ascending; masses sum to 1
	LogLikelihood float64
	// Gap is the Karush–Kuhn–Tucker gap, max_j d_j/n − 1 over all places where
	// mass could lie, d_j the slope of the log-likelihood there: 0 at the
	// maximum, and the log-likelihood is within n·Gap of it.
	Gap            float64
	MedianInterval Span    // where the survivor function passes 1/2
	Median         float64 // its geometric middle (its upper end where the lower is 0)
	MedianErr      error   // a [*NotEstimable] where the median is unbounded
}

const (
	// A survivor function within this of 1/2 counts as exactly 1/2. It is above
	// the error of the masses and below what 10⁷ passes could tell apart.
	halfTolerance = 1e-8
	smallestMass  = 1e-10 // smaller masses are dropped, and the gap checked again
	largestGap    = 1e-8
)

// NPMLE is the distribution of thresholds that makes the intervals most
// likely, whatever its shape. Mass can only lie in the places where a lower
// end is followed by an upper end (Turnbull's innermost intervals, with the
// rows (low, high] and exact rows closed points); among them the masses are
// found by Newton's method on an active set of places, checked by the gap.
// Exact rows add the logarithm of the mass of their point.
//
// Errors: [*NotEstimable] without rows; an error that names an impossible row;
// an error should the gap not come below 1e-8.
//
// Source: Turnbull, J R Stat Soc B 38:290 (1976) for the places; constrained
// Newton steps on the places where the slope is largest after Wang, J R Stat
// Soc B 69:185 (2007); optimality after Gentleman and Geyer, Biometrika 81:618
// (1994); all from memory. Tests: published data sets, masses to 1e-8.
func NPMLE(rows []Interval) (Steps, error) {
	if err := checkIntervals(rows); err != nil {
		return Steps{}, err
	}
	if len(rows) == 0 {
		return Steps{}, notEstimable("no passes")
	}
	problem := innermost(rows)
	masses, gap, err := problem.solve()
	if err != nil {
		return Steps{}, err
	}
	steps := Steps{LogLikelihood: problem.logLikelihood(masses), Gap: gap}
	for j, mass := range masses {
		if mass > 0 {
			steps.Support = append(steps.Support, Mass{problem.places[j].Low, problem.places[j].High, mass})
		}
	}
	steps.MedianInterval, steps.MedianErr = medianOfSteps(steps.Support)
	if steps.MedianErr == nil {
		steps.Median = geometricMiddle(steps.MedianInterval)
	} else {
		steps.MedianInterval = Span{}
	}
	return steps, nil
}

// medianOfSteps is the innermost interval where the survivor function passes
// 1/2: the step that passes it or, where a step ends at exactly 1/2, from the
// end of that step to the start of the next.
func medianOfSteps(support []Mass) (Span, error) {
	survivor := 1.0
	for k, step := range support {
		survivor -= step.Mass
		if survivor > 0.5+halfTolerance {
			continue
		}
		span := Span{step.Low, step.High}
		if survivor > 0.5-halfTolerance && k+1 < len(support) {
			span = Span{step.High, support[k+1].Low}
		}
		if math.IsInf(span.High, 1) {
			return Span{}, notEstimable("half of the thresholds or more are only known to lie above %s nV/cm", numberText(span.Low))
		}
		return span, nil
	}
	return Span{}, notEstimable("the distribution has no mass")
}

func geometricMiddle(s Span) float64 {
	if s.Low == 0 {
		return s.High
	}
	// Not √(low·high), which could underflow.
	return math.Sqrt(s.Low) * math.Sqrt(s.High)
}
