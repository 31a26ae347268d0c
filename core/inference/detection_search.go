package inference

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"brinefield/core/numeric"
)

// detectionPeak is where a climb of the detection model ended.
type detectionPeak struct {
	x     [detectionSize]float64 // −Inf: on the boundary
	free  []int                  // the parameters that were climbed
	top   numeric.Maximum        // over the free ones
	ran   string                 // why this is no maximum, or ""
	cell  Span                   // of a step: nV/cm between which it may lie
	step  bool                   // the spread is 0
	value float64
}

const (
	// A value this much better is better; less is rounding.
	betterBy = 1e-6
	// Tables longer than this are first searched on a part of their rows.
	thinAbove, thinTo = 16000, 8000
)

// search finds the best place of the likelihood: climbs from several starts,
// on a thinned table first where it is long, and, beside them, the limit of no
// spread. Boundaries are taken and left as the slopes there ask.
func (p *detectionProblem) search() (detectionPeak, error) {
	finder := p
	if len(p.rows) > thinAbove {
		finder = p.thinned(thinTo)
		if finder.existence() != nil {
			finder = p
		}
	}
	starts := finder.starts()
	if len(starts) == 0 {
		return detectionPeak{}, notEstimable("the passes leave every start of the search impossible")
	}
	from := starts[0]
	peaks := finder.climbAll(starts)
	if finder != p {
		starts = starts[:0]
		for _, peak := range peaks[:min(2, len(peaks))] {
			starts = append(starts, peak.x)
		}
		peaks = p.climbAll(starts)
	}
	best := detectionPeak{value: math.Inf(-1)}
	if len(peaks) > 0 {
		best, from = peaks[0], peaks[0].x
	}
	// Without spread: where that is as good, a climb that stopped before it only
	// ran out of digits. On a long table only if the part did not rule it out.
	if finder == p || finder.climbStep(from).value > finder.value(from)-20 {
		if step := p.climbStep(from); step.value >= best.value-betterBy {
			best = step
		}
	}
	return best, p.judge(best)
}

// judge says why the best place found is no estimate.
func (p *detectionProblem) judge(best detectionPeak) error {
	switch nothing := p.withoutField(); {
	case math.IsInf(best.value, -1):
		return notEstimable("the search found no maximum")
	case best.value <= nothing+betterBy:
		return notEstimable("the turns are explained as well without any field, by spontaneous turns alone")
	case best.ran != "":
		return notEstimable("%s", best.ran)
	}
	return nil
}

// value of the log-likelihood at x.
func (p *detectionProblem) value(x [detectionSize]float64) float64 {
	return p.at(x, nil, nil, nil)
}

// climbAll climbs from every start and returns the peaks, best first, without
// those that are the same place again.
func (p *detectionProblem) climbAll(starts [][detectionSize]float64) []detectionPeak {
	var peaks []detectionPeak
	for _, x := range starts {
		peak := p.climb(x, []int{atMu, atSigma})
		if math.IsNaN(peak.value) || math.IsInf(peak.value, 0) {
			continue
		}
		known := slices.ContainsFunc(peaks, func(other detectionPeak) bool {
			return math.Abs(other.value-peak.value) < betterBy && math.Abs(other.x[atMu]-peak.x[atMu]) < 1e-3
		})
		if !known {
			peaks = append(peaks, peak)
		}
	}
	slices.SortStableFunc(peaks, func(a, b detectionPeak) int {
		// Of two as good, one that is a maximum. Densities of exact thresholds grow
		// without bound as the spread closes on one of them: there the highest
		// proper maximum is meant.
		if (p.exact || math.Abs(a.value-b.value) < betterBy) && (a.ran == "") != (b.ran == "") {
			return compareBool(a.ran != "", b.ran != "")
		}
		return cmp.Compare(b.value, a.value)
	})
	return peaks
}

// climb goes uphill from x in the parameters always and in lapse and
// spontaneous rate while they are off their boundaries. One that runs to its
// boundary is put there; one on its boundary is freed where the likelihood
// rises from it.
func (p *detectionProblem) climb(x [detectionSize]float64, always []int) detectionPeak {
	peak := detectionPeak{x: x}
	floor := [2]float64{-14, math.Log(1e-6 / p.longest)}
	for range 8 {
		peak.ran = ""
		peak.free = peak.free[:0]
		for i := range 2 {
			if !math.IsInf(peak.x[i], -1) {
				peak.free = append(peak.free, i)
			}
		}
		peak.free = append(peak.free, always...)
		err := p.climbFree(&peak, floor)
		var off *numeric.RanOff
		switch {
		case errors.As(err, &off) && off.Low && peak.free[off.Index] < 2:
			peak.x[peak.free[off.Index]] = math.Inf(-1)
			continue
		case err != nil:
			peak.ran = p.reason(err, peak.free)
			return peak
		}
		freed := p.freeBoundaries(&peak.x)
		if !freed {
			return peak
		}
		// What came back from the boundary has its maximum very near to it.
		floor = [2]float64{-40, math.Log(1e-14 / p.longest)}
	}
	return peak
}

// climbFree maximises over the free parameters of the peak.
func (p *detectionProblem) climbFree(peak *detectionPeak, floor [2]float64) error {
	low := [detectionSize]float64{floor[0], floor[1], p.lowest - 20, -9}
	high := [detectionSize]float64{14, math.Log(1e6 / p.longest), p.highest + 20, 4}
	step := [detectionSize]float64{3, 3, 2, 1}
	var start []float64
	var s numeric.Search
	for _, i := range peak.free {
		start = append(start, peak.x[i])
		s.Low, s.High, s.Step = append(s.Low, low[i]), append(s.High, high[i]), append(s.Step, step[i])
	}
	x := peak.x
	objective := func(at, gradient []float64, hessian *mat.SymDense) float64 {
		for k, i := range peak.free {
			x[i] = at[k]
		}
		return p.at(x, peak.free, gradient, hessian)
	}
	if len(start) == 0 {
		peak.value = p.value(x)
		return nil
	}
	top, err := numeric.Maximise(objective, start, s)
	for k, i := range peak.free {
		peak.x[i] = top.X[k]
	}
	peak.top, peak.value = top, top.Value
	return err
}

// reason turns a search without end into words about the passes.
func (p *detectionProblem) reason(err error, free []int) string {
	var off *numeric.RanOff
	if !errors.As(err, &off) {
		return err.Error()
	}
	switch free[off.Index] {
	case atLapse:
		return "nearly every pass would be a lapse: no field is answered"
	case atSpontaneous:
		return "spontaneous turns would come without end"
	case atMu:
		return "the median runs off beyond every field that was met"
	}
	if off.Low {
		return "the spread of the thresholds runs to 0"
	}
	return "the spread of the thresholds has no bound: the median could lie anywhere"
}

// freeBoundaries takes lapse and rate off their boundary where the likelihood
// rises with them, and says whether one was.
func (p *detectionProblem) freeBoundaries(x *[detectionSize]float64) bool {
	freed := false
	for i, tiny := range [2]float64{math.Log(1e-10), math.Log(1e-10 / p.longest)} {
		if !math.IsInf(x[i], -1) {
			continue
		}
		probe := *x
		probe[i] = tiny
		gradient, hessian := make([]float64, 1), mat.NewSymDense(1, nil)
		p.at(probe, []int{i}, gradient, hessian)
		// The slope by the parameter itself, in units of the rows.
		if gradient[0]/1e-10 > 1e-6*float64(len(p.rows)) {
			x[i] = tiny + math.Log(1e6)
			freed = true
		}
	}
	return freed
}

// withoutField is the best log-likelihood if no field is ever answered.
func (p *detectionProblem) withoutField() float64 {
	x := [detectionSize]float64{math.Inf(1), math.Log(p.turns / p.time), 0, 0}
	peak := detectionPeak{x: x, free: []int{atSpontaneous}}
	if math.IsInf(p.value(x), -1) {
		return math.Inf(-1)
	}
	if err := p.climbFree(&peak, [2]float64{0, math.Log(1e-12 / p.longest)}); err != nil {
		return p.value(x)
	}
	return peak.value
}
