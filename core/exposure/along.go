package exposure

import (
	"fmt"
	"math"
	"slices"

	"brinefield/core/study"
)

// Trace is one pass densely, for a picture: slices of equal length, times in
// order. Where the head has several points, the trace is of the one that met
// the largest field. Unknown heights are drawn at the fraction HeightFraction
// of their range.
type Trace struct {
	TimeS, XM, YM, HeightM   []float64
	FieldVPerM, PhantomVPerM []float64

	Point          string
	HeightUnknown  bool
	HeightFraction float64

	// The pass's interval: FromS = t0 − δ, ToS = t1 − δ, where it had an onset.
	FromS, ToS study.Opt[float64]
	Exposure   Exposure
}

// tracePoints is how many samples a trace has at least.
const tracePoints = 400

// Along is the field met and the phantom field along one pass. The error says
// why there is nothing to draw: no track, a sealed trial, a track that leaves
// the water or runs over an electrode.
func Along(s *study.Study, f *Fields, pass int, opt Options) (Trace, error) {
	if pass < 0 || pass >= len(s.Passes) {
		return Trace{}, fmt.Errorf("exposure: no pass %d; the study has %d", pass, len(s.Passes))
	}
	c, err := newComputation(s, f, opt)
	if err != nil {
		return Trace{}, err
	}
	w := &walker{}
	tr := Trace{Exposure: c.pass(pass, w)}
	id := s.Passes[pass].ID
	if !tr.Exposure.Known {
		return tr, fmt.Errorf("exposure: pass %s has no field: %s", id, tr.Exposure.WhyNotUsed)
	}
	h, err := c.head(pass)
	if err != nil {
		return tr, err
	}
	if h == nil {
		return tr, fmt.Errorf("exposure: pass %s has no track", id)
	}
	trial := s.Passes[pass].Trial
	phantom, err := f.Phantom(s, trial, s.Passes[pass].Pair)
	if err != nil {
		return tr, err
	}
	tr.HeightUnknown = h.heightUnknown
	if h.heightUnknown {
		tr.HeightFraction = 0.5
	}
	real := c.drives[trial]
	shown := real
	if real.none() {
		shown = phantom
	}
	w.set(shown, h)
	w.build(tr.HeightFraction)
	point := w.largest(h.first(), h.last()).point
	tr.Point = pointName(s, c.tracks[pass], point)
	if q := outcomeOf(&s.Passes[pass]); q == turnedAt {
		times := ask(h, q, s.Passes[pass].OnsetS.Value, c.reactionTime)
		tr.FromS, tr.ToS = study.Some(times.t0-times.reactionTime), study.Some(times.t1-times.reactionTime)
	}
	for _, t := range traceTimes(&w.profiles[point]) {
		at := w.profiles[point].line.at(t)
		fieldMet, fieldPhantom := real.bounded(at), phantom.bounded(at)
		if !isFinite(fieldMet) || !isFinite(fieldPhantom) {
			return tr, fmt.Errorf("exposure: pass %s runs over an electrode at %g s", id, t)
		}
		tr.TimeS, tr.XM, tr.YM, tr.HeightM = append(tr.TimeS, t), append(tr.XM, at.x), append(tr.YM, at.y), append(tr.HeightM, at.z)
		tr.FieldVPerM, tr.PhantomVPerM = append(tr.FieldVPerM, fieldMet), append(tr.PhantomVPerM, fieldPhantom)
	}
	return tr, nil
}

// pointName is the name of the k-th point of the head that counts.
func pointName(s *study.Study, track *study.Track, k int) string {
	if only, one := fieldAt(s); one {
		return only
	}
	for i := range track.Points {
		if len(track.Points[i].Fixes) == 0 {
			continue
		}
		if k == 0 {
			return track.Points[i].Name
		}
		k--
	}
	return ""
}

// traceTimes are the rows, the samples and the tops of a profile, and even
// times between them.
func traceTimes(p *profile) []float64 {
	n := len(p.line.t)
	first, last := p.line.t[0], p.line.t[n-1]
	times := append([]float64(nil), p.line.t...)
	for _, s := range p.inner {
		times = append(times, s.t)
	}
	for i := range p.humps {
		p.climb(&p.humps[i])
		times = append(times, p.humps[i].tTop)
	}
	for k := 1; k < tracePoints; k++ {
		times = append(times, first+(last-first)*float64(k)/tracePoints)
	}
	return distinct(times)
}

// distinct sorts times and leaves out those closer than the time tolerance.
func distinct(times []float64) []float64 {
	sorted := append([]float64(nil), times...)
	slices.Sort(sorted)
	out := sorted[:0]
	before := math.Inf(-1)
	for _, t := range sorted {
		if t-before > timeTolS {
			out = append(out, t)
			before = t
		}
	}
	return out
}
