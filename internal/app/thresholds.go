package app

import (
	"fmt"
	"math"

	"brinefield/core/inference"
	"brinefield/core/study"
)

// thresholds are the simpler estimates of every species, from passes at the
// active pair.
func thresholds(records []record) []Thresholds {
	names := speciesNames(records)
	out := make([]Thresholds, len(names))
	inParallel(len(names), func(i int) {
		rows := pick(records, func(r *record) bool {
			return r.used && r.species == names[i] && r.role == study.RoleActive
		})
		out[i] = speciesThresholds(names[i], rows)
	})
	return out
}

func speciesThresholds(name string, rows []record) Thresholds {
	t := Thresholds{Species: name, Passes: len(rows)}
	t.Individuals, t.PassesUnidentified = countAnimals(rows)
	intervals := thresholdIntervals(rows)
	t.NPMLE = stepEstimate(intervals)
	t.Lognormal = lognormal(intervals)
	t.LognormalIndividual = lognormalIndividual(intervals)
	return t
}

// thresholdIntervals applies the contract's rule: a turn has its threshold in
// (low, high], no turn and a falling field have it above low.
func thresholdIntervals(rows []record) []inference.Interval {
	out := make([]inference.Interval, len(rows))
	for i := range rows {
		r := &rows[i]
		out[i] = inference.Interval{Cluster: r.cluster, Identified: r.identified(), Low: r.low, High: r.high, Exact: r.exact}
		if !r.turned || r.falling {
			out[i].High, out[i].Exact = math.Inf(1), false
		}
	}
	return out
}

func stepEstimate(intervals []inference.Interval) StepEstimate {
	steps, err := inference.NPMLE(intervals)
	if err != nil {
		return StepEstimate{Reason: Reason{reasonOf(err)}}
	}
	e := StepEstimate{
		LogLikelihood: finite(steps.LogLikelihood),
		Gap:           finite(steps.Gap),
		Made:          Made{Method: "npmle", Assumptions: assumptionsSteps, Ignores: ignoresSteps},
	}
	for _, m := range steps.Support {
		e.Support = append(e.Support, [3]*float64{finite(m.Low), finite(m.High), finite(m.Mass)})
	}
	if steps.MedianErr != nil {
		e.MedianInterval = &Span{NotEstimable: reasonOf(steps.MedianErr)}
		return e
	}
	e.Median = finite(steps.Median)
	e.MedianInterval = &Span{Low: steps.MedianInterval.Low, High: steps.MedianInterval.High}
	return e
}

func lognormal(intervals []inference.Interval) Lognormal {
	fit, err := inference.Lognormal(intervals)
	if err != nil {
		return Lognormal{Reason: Reason{reasonOf(err)}}
	}
	return Lognormal{
		Mu: finite(fit.Mu), Sigma: finite(fit.Sigma), LogLikelihood: finite(fit.LogLikelihood),
		Median: finite(fit.Median), SEMu: positive(fit.SEMu), CI95: interval(fit.CI, fit.CIErr),
		Made: Made{Method: "lognormal", Assumptions: assumptionsLognormal, Ignores: ignoresLognormal, Warnings: fit.Warnings},
	}
}

func lognormalIndividual(intervals []inference.Interval) LognormalIndividual {
	fit, err := inference.LognormalIndividual(intervals)
	if err != nil {
		return LognormalIndividual{Reason: Reason{reasonOf(err)}}
	}
	return LognormalIndividual{
		Mu: finite(fit.Mu), SigmaWithin: finite(fit.SigmaWithin), SigmaIndividual: finite(fit.SigmaIndividual),
		LogLikelihood: finite(fit.LogLikelihood), Median: finite(fit.Median), CI95: interval(fit.CI, fit.CIErr),
		Boundary: fit.Boundary,
		Made:     Made{Method: "lognormal_individual", Assumptions: assumptionsLognormalIndividual, Ignores: ignoresLognormalIndividual, Warnings: fit.Warnings},
	}
}

func interval(span inference.Span, err error) *Span {
	if err != nil {
		return &Span{NotEstimable: reasonOf(err)}
	}
	if !(span.High < span.Low*widestInterval) {
		return &Span{NotEstimable: fmt.Sprintf("the passes hardly bound it (from %.2g to %.2g nV/cm)", span.Low, span.High)}
	}
	return &Span{Low: span.Low, High: span.High}
}

// widestInterval is the ratio of its ends beyond which an interval says
// nothing that a biologist could use, and is said in words instead.
const widestInterval = 1e8

// positive is a standard error, or nothing where there is none.
func positive(v float64) *float64 {
	if !(v > 0) {
		return nil
	}
	return finite(v)
}
