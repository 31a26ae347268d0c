package exposure

import (
	"fmt"

	"brinefield/core/study"
)

// Sensitivity repeats the bounds on the field met at other reaction times, in
// seconds: one row a reaction time, one Bounds a pass in the order of base,
// which [Compute] made with the same study, fields and options. Only passes
// with an onset on a track depend on the reaction time; the others keep the
// bounds that they have, so that this costs a fraction of Compute.
func Sensitivity(s *study.Study, f *Fields, base []Exposure, reactionTimesS []float64, opt Options) ([][]Bounds, error) {
	if len(base) != len(s.Passes) {
		return nil, fmt.Errorf("exposure: %d exposures for a study of %d passes", len(base), len(s.Passes))
	}
	for _, delta := range reactionTimesS {
		if !isFinite(delta) || delta < 0 {
			return nil, fmt.Errorf("exposure: a reaction time of %g s; it must be 0 or more", delta)
		}
	}
	c, err := newComputation(s, f, opt)
	if err != nil {
		return nil, err
	}
	out := make([][]Bounds, len(reactionTimesS))
	for k := range out {
		out[k] = make([]Bounds, len(base))
	}
	err = opt.crew().inParallel(len(base), passesAtOnce, func() func(int) {
		w := &walker{}
		return func(i int) {
			for k := range out {
				out[k][i] = Bounds{base[i].Low, base[i].High, base[i].FallingField}
			}
			c.otherTimes(i, w, &base[i], reactionTimesS, out)
		}
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

func (c *computation) otherTimes(i int, w *walker, e *Exposure, deltas []float64, out [][]Bounds) {
	p := &c.s.Passes[i]
	if !e.Known || outcomeOf(p) != turnedAt {
		return
	}
	h, err := c.head(i)
	if h == nil || err != nil {
		return
	}
	w.set(c.drives[p.Trial], h)
	if !h.heightUnknown && !w.drive.none() {
		w.build(0)
	}
	for k, delta := range deltas {
		a := w.intervalBuilt(ask(h, turnedAt, p.OnsetS.Value, delta))
		if a.bounded() {
			out[k][i] = Bounds{a.low, a.high, a.falling}
		}
	}
}
