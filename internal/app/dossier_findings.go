package app

import (
	"brinefield/core/dossier"
	"brinefield/core/exposure"
	"brinefield/core/study"
)

// dossierPasses are the passes of an analysis with what they met, in the order
// of the season.
func dossierPasses(s *study.Study, exposures []exposure.Exposure) []dossier.Pass {
	tracked := make([]bool, len(s.Passes))
	for i := range s.Tracks {
		tracked[s.Tracks[i].Pass] = true
	}
	out := make([]dossier.Pass, len(exposures))
	for i := range exposures {
		e := &exposures[i]
		p, row := &s.Passes[e.Pass], exposureRow(s, e)
		d := dossier.Pass{
			ID: p.ID, Trial: row.Trial, Pair: row.Pair, Species: row.Species, Individual: p.Individual,
			Time: p.Time, Visit: p.Visit, Clip: p.Clip, Scorer: p.Scorer,
			Turned: p.Turned, Bit: p.Bit, Responded: p.Responded(), Used: row.Used, NotUsedBecause: row.NotUsedBecause,
			LowNVPerCm: row.FieldLow, HighNVPerCm: row.FieldHigh, PhantomLowNVPerCm: row.PhantomLow, PhantomHighNVPerCm: row.PhantomHigh,
			TextbookNVPerCm: row.Textbook, PositionNVPerCm: row.Position, FallingField: row.FallingField,
			DistanceCm: row.DistanceCm, HorizontalCm: row.HorizontalCm, AngleDeg: row.AngleDeg, HeightCm: row.HeightCm,
			WatchedS: row.WatchedS, CurrentUA: row.CurrentUA, HeadXCm: row.HeadXCm, HeadYCm: row.HeadYCm, HasTrack: tracked[e.Pass],
		}
		if row.Role != nil {
			d.Role = *row.Role
		}
		out[i] = d
	}
	return out
}

// dossierFindings are the findings, lean.
func dossierFindings(f *Findings, drawn CurvesView) dossier.Findings {
	out := dossier.Findings{Seed: f.Seed, Warnings: f.Warnings}
	for i := range f.Preference {
		out.Preference = append(out.Preference, dossierPreference(&f.Preference[i]))
	}
	for i := range f.Descriptive {
		d, t := &f.Descriptive[i], &f.Descriptive[i].Textbook
		out.Descriptive = append(out.Descriptive, dossier.Descriptive{
			Species: d.Species, N: d.N, Median: d.Median, Q1: d.Q1, Q3: d.Q3, Smallest: d.Smallest, LongestDistanceCm: d.LongestDistanceCm,
			ShareBelow5: d.ShareBelow5, ShareBelow20: d.ShareBelow20,
			TextbookMedian: t.Median, TextbookQ1: t.Q1, TextbookQ3: t.Q3, TextbookSmallest: t.Smallest, TextbookBelow20: t.ShareBelow20,
		})
	}
	for i := range f.Thresholds {
		out.Thresholds = append(out.Thresholds, dossierThresholds(&f.Thresholds[i]))
	}
	for i := range f.Detection {
		out.Detection = append(out.Detection, dossierDetection(&f.Detection[i]))
	}
	for i := range f.Individuals {
		n := &f.Individuals[i]
		out.Individuals = append(out.Individuals, dossier.Individual{
			ID: n.Individual, Species: n.Species, PassesActive: n.PassesActive, TurnsActive: n.TurnsActive,
			PassesControl: n.PassesControl, TurnsControl: n.TurnsControl, PassesSilent: n.PassesSilent, TurnsSilent: n.TurnsSilent,
			LowestTurn: n.LowestTurn, HighestNoTurn: n.HighestNoTurn,
		})
	}
	for i := range drawn.Species {
		c := &drawn.Species[i]
		d := dossier.Curves{
			Species: c.Species, Field: c.FieldNVPerCm, Detection: c.Detection, DetectionLow: c.DetectionLow, DetectionHigh: c.DetectionHigh,
			Lognormal: c.Lognormal, LognormalIndividual: c.LognormalIndividual,
		}
		for _, step := range c.Steps {
			d.Steps = append(d.Steps, dossier.Step{Low: step.LowNVPerCm, High: step.HighNVPerCm, Before: step.Before, After: step.After})
		}
		out.Curves = append(out.Curves, d)
	}
	for i := range f.Uncertainty {
		u := &f.Uncertainty[i]
		d := dossier.Uncertainty{What: u.What, Unit: u.Unit, How: u.How, SD: u.SD}
		for k := range u.Species {
			d.Species = append(d.Species, dossier.UncertainMedian{Species: u.Species[k].Species, Median: intervalOf(&u.Species[k].Detection)})
		}
		out.Uncertainty = append(out.Uncertainty, d)
	}
	return out
}

func dossierPreference(p *Preference) dossier.Preference {
	out := dossier.Preference{
		Species: p.Species, PassesActive: p.PassesActive, PassesControl: p.PassesControl, TurnsActive: p.TurnsActive, TurnsControl: p.TurnsControl,
		BitesActive: p.BitesActive, BitesControl: p.BitesControl, ExactP: p.ExactP, RandomisationP: p.RandomisationP,
		RandomisationN: p.RandomisationN, RandomisationWhy: p.RandomisationWhy,
		LogOddsRatio: p.Mixed.LogOddsRatio, SE: p.Mixed.SE, Intercept: p.Mixed.Intercept, IndividualSD: p.Mixed.IndividualSD,
		MixedWhy: p.Mixed.NotEstimable, Boundary: p.Mixed.Boundary, Warnings: joined(p.Warnings, p.Mixed.Warnings),
	}
	if p.Penalised != nil {
		out.PenalisedLogOddsRatio, out.PenalisedCI95 = p.Penalised.LogOddsRatio, intervalOf(p.Penalised.CI95)
		out.Warnings = joined(out.Warnings, p.Penalised.Warnings)
	}
	return out
}

func dossierThresholds(t *Thresholds) dossier.Thresholds {
	step, plain, own := &t.NPMLE, &t.Lognormal, &t.LognormalIndividual
	return dossier.Thresholds{
		Species: t.Species, Passes: t.Passes, Individuals: t.Individuals, PassesUnidentified: t.PassesUnidentified,
		Step: dossier.Estimate{
			Median: step.Median, CI95: intervalOf(step.MedianInterval), LogLikelihood: step.LogLikelihood, Why: step.NotEstimable,
			Assumptions: step.Assumptions, Ignores: step.Ignores, Warnings: step.Warnings,
		},
		Lognormal: dossier.Estimate{
			Median: plain.Median, CI95: intervalOf(plain.CI95), Mu: plain.Mu, Sigma: plain.Sigma, LogLikelihood: plain.LogLikelihood, Why: plain.NotEstimable,
			Assumptions: plain.Assumptions, Ignores: plain.Ignores, Warnings: plain.Warnings,
		},
		Individual: dossier.Estimate{
			Median: own.Median, CI95: intervalOf(own.CI95), Mu: own.Mu, Sigma: own.SigmaWithin, SigmaIndividual: own.SigmaIndividual,
			LogLikelihood: own.LogLikelihood, Why: own.NotEstimable, Boundary: own.Boundary,
			Assumptions: own.Assumptions, Ignores: own.Ignores, Warnings: own.Warnings,
		},
	}
}

func dossierDetection(d *Detection) dossier.Detection {
	out := dossier.Detection{
		Species: d.Species, Passes: d.Passes, Individuals: d.Individuals, PassesUnidentified: d.PassesUnidentified,
		Estimate: dossier.Estimate{
			Median: d.Median, CI95: intervalOf(d.CI95), Mu: d.Mu, Sigma: d.Sigma, LogLikelihood: d.LogLikelihood, Why: d.NotEstimable,
			Boundary: d.Boundary, Assumptions: d.Assumptions, Ignores: d.Ignores, Warnings: d.Warnings,
		},
		Lapse: d.Lapse, SpontaneousPerS: d.SpontaneousPerS,
	}
	for _, s := range d.Sensitivity {
		out.Sensitivity = append(out.Sensitivity, dossier.Sensitivity{ReactionTimeS: s.ReactionTimeS, Median: s.Median, Why: s.NotEstimable})
	}
	return out
}

// intervalOf is a range; both ends nil and no reason where there is none.
func intervalOf(s *Span) dossier.Interval {
	if s == nil {
		return dossier.Interval{}
	}
	if s.NotEstimable != "" {
		return dossier.Interval{Why: s.NotEstimable}
	}
	return dossier.Interval{Low: finite(s.Low), High: finite(s.High)}
}

func joined(a, b []string) []string { return append(append([]string(nil), a...), b...) }
