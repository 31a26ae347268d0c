package app

import (
	"fmt"
	"time"

	"brinefield/core/study"
)

// waterView is the page Water of a study as far as it could be read. A trial
// whose conductivity cannot be worked out has none, and a warning says why.
func waterView(s *study.Study) WaterView {
	v := WaterView{Casts: []CastView{}, Trials: []TrialWaterView{}, Warnings: []string{}}
	if s == nil {
		return v
	}
	if s.Water != (study.Water{}) {
		v.Statement = waterText(s.Water)
	}
	if s.Site.DepthM > 0 {
		v.DepthM = finite(s.Site.DepthM)
	}
	warn := warnings{}
	casts := castProfiles(s.Cast)
	for i := range casts {
		v.Casts = append(v.Casts, castView(&casts[i], &warn))
	}
	for i := range s.Trials {
		v.Trials = append(v.Trials, trialWaterView(s, &s.Trials[i], casts, &warn))
	}
	v.Warnings = append(v.Warnings, warn.list()...)
	return v
}

func castView(c *profile, warn *warnings) CastView {
	v := CastView{Time: c.time.Format(time.RFC3339), Readings: make([]CastReading, len(c.rows))}
	for i, r := range c.rows {
		v.Readings[i] = CastReading{
			DepthM: r.DepthM, TemperatureC: known(r.TemperatureC, 1), Salinity: known(r.Salinity, 1),
			ConductivitySPerM: known(r.ConductivitySPerM, 1),
		}
		if r.ConductivitySPerM.Known || !r.TemperatureC.Known || !r.Salinity.Known {
			continue
		}
		sigma, err := castReading(r, warn)
		if err != nil {
			warn.add(fmt.Sprintf("the cast of %s at %g m: %v", v.Time, r.DepthM, err))
			continue
		}
		v.Readings[i].ConductivitySPerM, v.Readings[i].Computed = finite(sigma), true
	}
	return v
}

func trialWaterView(s *study.Study, t *study.Trial, casts []profile, warn *warnings) TrialWaterView {
	v := TrialWaterView{Trial: t.ID, Start: t.Start.Format(time.RFC3339), From: waterSource(s, t)}
	depth := plateDepth(s, t)
	if depth > 0 {
		v.DepthM = finite(depth)
	}
	if v.From == "cast" && len(casts) > 0 {
		v.CastTime = nearestCast(casts, middleOf(t)).time.Format(time.RFC3339)
	}
	sigma, _, err := trialConductivity(s, t, casts, warn)
	switch {
	case err != nil:
		warn.add(fmt.Sprintf("trial %s: %v", t.ID, err))
	case sigma > 0:
		v.ConductivitySPerM = finite(sigma)
	}
	return v
}

// waterSource says which of the contract's sources a trial's water is taken
// from; trialConductivity follows the same order.
func waterSource(s *study.Study, t *study.Trial) string {
	switch {
	case t.WaterSPerM.Known:
		return "trial"
	case t.TemperatureC.Known && t.Salinity.Known:
		return "trial_salinity"
	case s.Water.Kind == study.WaterCast:
		return "cast"
	}
	return "study"
}
