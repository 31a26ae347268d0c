package exposure

import (
	"fmt"

	"brinefield/core/study"
)

// UnitTrace is one pass densely, with the field that each ampere through the
// pass's own pair would have made: slices of equal length, times in order. Where
// the head has several points, the trace is of the one that met the largest of
// these fields. Unknown heights are drawn at the fraction HeightFraction of
// their range.
type UnitTrace struct {
	TimeS, XM, YM, HeightM []float64
	PhantomVPerMPerA       []float64 // magnitude, in V/m per ampere

	Point          string
	HeightUnknown  bool
	HeightFraction float64
}

// AlongUnit is the phantom field per ampere along one pass. It asks for the
// track, the pass's own pair and the water of its trial; which pairs were
// active and which current flowed are not read, so that a sealed trial gives
// the same bytes whatever was drawn for it. Times the current of the trial it
// is the PhantomVPerM of [Along].
//
// The error says why there is nothing to draw: no track, a track that leaves
// the water or runs over an electrode of the pair.
func AlongUnit(s *study.Study, f *Fields, pass int) (UnitTrace, error) {
	if pass < 0 || pass >= len(s.Passes) {
		return UnitTrace{}, fmt.Errorf("exposure: no pass %d; the study has %d", pass, len(s.Passes))
	}
	if len(f.water) != len(s.Trials) {
		return UnitTrace{}, fmt.Errorf("exposure: fields of %d trials for a study of %d", len(f.water), len(s.Trials))
	}
	p := &s.Passes[pass]
	c := &computation{s: s, f: f, tracks: make([]*study.Track, len(s.Passes))}
	for i := range s.Tracks {
		c.tracks[s.Tracks[i].Pass] = &s.Tracks[i]
	}
	h, err := c.head(pass)
	switch {
	case err != nil:
		return UnitTrace{}, fmt.Errorf("exposure: pass %s has no field: %w", p.ID, err)
	case h == nil:
		return UnitTrace{}, fmt.Errorf("exposure: pass %s has no track", p.ID)
	}
	if err := inWater(s, h, surfaceOf(s, f.water[p.Trial])); err != nil {
		return UnitTrace{}, fmt.Errorf("exposure: pass %s has no field: %w", p.ID, err)
	}
	tr := UnitTrace{HeightUnknown: h.heightUnknown}
	if h.heightUnknown {
		tr.HeightFraction = 0.5
	}
	ends := electrodesOf(&s.Pairs[p.Pair])
	unit := &Drive{parts: []drivenPart{{f.unit(p.Trial, p.Pair), 1}}, ends: ends[:]}
	w := &walker{}
	w.set(unit, h)
	w.build(tr.HeightFraction)
	point := w.largest(h.first(), h.last()).point
	tr.Point = pointName(s, c.tracks[pass], point)
	for _, t := range traceTimes(&w.profiles[point]) {
		at := w.profiles[point].line.at(t)
		field := unit.bounded(at)
		if !isFinite(field) {
			return UnitTrace{}, fmt.Errorf("exposure: pass %s runs over an electrode at %g s", p.ID, t)
		}
		tr.TimeS, tr.XM, tr.YM, tr.HeightM = append(tr.TimeS, t), append(tr.XM, at.x), append(tr.YM, at.y), append(tr.HeightM, at.z)
		tr.PhantomVPerMPerA = append(tr.PhantomVPerMPerA, field)
	}
	return tr, nil
}
