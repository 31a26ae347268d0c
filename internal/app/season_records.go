package app

import (
	"brinefield/core/exposure"
	"brinefield/core/study"
)

// seasonRecords are the passes of a season as the models see them, in
// canonical order.
func seasonRecords(s *study.Study, exposures []exposure.Exposure) []record {
	out := make([]record, 0, len(exposures))
	tracked := make([]bool, len(s.Passes))
	for i := range s.Tracks {
		tracked[s.Tracks[i].Pass] = true
	}
	for i := range exposures {
		e := &exposures[i]
		p := &s.Passes[e.Pass]
		if e.Role == study.RoleSealed {
			continue
		}
		r := record{
			species:    s.Species[p.Species].Name,
			individual: p.Individual,
			trial:      p.Trial,
			role:       e.Role,
			used:       e.Used,
			turned:     p.Responded(),
			bit:        p.Bit == study.Yes,
			low:        e.Low * nVPerCmPerVPerM,
			high:       noUpperBound(),
			exact:      e.Exact,
			falling:    e.FallingField,
			watched:    e.WatchedS,
			turnPair:   p.TurnPair.Or(p.Pair),
			distanceM:  e.DistanceM,
		}
		r.cluster = clusterName(p.Individual, s.Trials[p.Trial].ID, r.species)
		if e.HighKnown {
			r.high = e.High * nVPerCmPerVPerM
		}
		if e.OnsetS.Known {
			r.onset, r.t0, r.t1 = true, e.OnsetBeforeS.Value, e.OnsetS.Value
		}
		r.atOnset = r.onset || (!tracked[e.Pass] && p.Onset.DistanceM.Known)
		if e.Textbook.Known {
			r.textbook = study.Some(e.Textbook.Value * nVPerCmPerVPerM)
		}
		out = append(out, r)
	}
	canonical(out)
	return out
}

// passExposures are the rows of the document, in the season's order.
func passExposures(s *study.Study, exposures []exposure.Exposure) []PassExposure {
	out := make([]PassExposure, len(exposures))
	for i := range exposures {
		out[i] = passExposure(s, &exposures[i])
	}
	return out
}

func passExposure(s *study.Study, e *exposure.Exposure) PassExposure {
	p := &s.Passes[e.Pass]
	row := PassExposure{Pass: p.ID, Trial: s.Trials[p.Trial].ID, Pair: s.Pairs[p.Pair].Label}
	row.WatchedS = known(e.WatchedS, 1)
	if e.ComputedPair.Known && e.ComputedPair.Value != p.Pair {
		row.PairFromTrack = s.Pairs[e.ComputedPair.Value].Label
	}
	row.DistanceCm, row.HorizontalCm = known(e.DistanceM, 100), known(e.HorizontalM, 100)
	row.AngleDeg, row.HeightCm = known(e.AngleDeg, 1), known(e.HeightM, 100)
	row.NotUsedBecause, row.Warnings = e.WhyNotUsed, e.Warnings
	if e.Role == study.RoleSealed {
		return row
	}
	role, used := e.Role.String(), e.Used
	row.Role, row.Used, row.FallingField = &role, &used, e.FallingField
	row.Textbook = known(e.Textbook, nVPerCmPerVPerM)
	if e.Here.Known {
		h := &e.Here.Value
		if row.Position = finite(h.MagnitudeVPerM * nVPerCmPerVPerM); row.Position != nil {
			row.Components = &[3]float64{h.AlongVPerM * nVPerCmPerVPerM, h.AcrossVPerM * nVPerCmPerVPerM, h.UpVPerM * nVPerCmPerVPerM}
		}
	}
	if !e.Known {
		return row
	}
	row.FieldLow, row.PhantomLow = finite(e.Low*nVPerCmPerVPerM), finite(e.PhantomLow*nVPerCmPerVPerM)
	if e.HighKnown {
		row.FieldHigh, row.PhantomHigh = finite(e.High*nVPerCmPerVPerM), finite(e.PhantomHigh*nVPerCmPerVPerM)
	}
	return row
}
