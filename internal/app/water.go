package app

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"brinefield/core/exposure"
	"brinefield/core/seawater"
	"brinefield/core/study"
)

// defaultPercentPerC is the linear temperature coefficient of a compensating
// meter where the season states none (CONTRACTS: p = 1.91).
const defaultPercentPerC = 1.91

// waterByTrial works out what the water and the bottom of every trial conduct,
// and how deep the water is. The order of preference is the contract's: the
// trial's own conductivity, its temperature and salinity, the cast, [water].
func waterByTrial(s *study.Study) ([]exposure.TrialWater, []TrialWater, []string, error) {
	cast := castProfiles(s.Cast)
	water := make([]exposure.TrialWater, len(s.Trials))
	entries := make([]TrialWater, len(s.Trials))
	warn := warnings{}
	for i := range s.Trials {
		t := &s.Trials[i]
		sigma, from, err := trialConductivity(s, t, cast, &warn)
		if err != nil {
			return nil, nil, nil, fmt.Errorf("trial %s: %w", t.ID, err)
		}
		bottom, err := bottomConductivity(s.Bottom, sigma)
		if err != nil {
			return nil, nil, nil, fmt.Errorf("the bottom: %w", err)
		}
		depth := s.Site.DepthM + t.TideM.Or(0)
		if depth <= 0 {
			return nil, nil, nil, fmt.Errorf("trial %s: depth_m + tide_m is %g m: the water must be deeper than 0", t.ID, depth)
		}
		water[i] = exposure.TrialWater{WaterSPerM: sigma, BottomSPerM: bottom, DepthM: depth}
		entries[i] = TrialWater{Trial: t.ID, ConductivitySPerM: sigma, From: from}
	}
	return water, entries, warn.list(), nil
}

func trialConductivity(s *study.Study, t *study.Trial, cast []profile, warn *warnings) (float64, string, error) {
	switch {
	case t.WaterSPerM.Known:
		return t.WaterSPerM.Value, "measured in the trial", nil
	case t.TemperatureC.Known && t.Salinity.Known:
		sigma, err := fromSalinity(t.Salinity.Value, t.TemperatureC.Value, s.Water.PressureDbar.Or(0), warn)
		return sigma, "temperature and salinity of the trial", err
	case s.Water.Kind == study.WaterCast:
		sigma, err := castConductivity(cast, middleOf(t), plateDepth(s, t), warn)
		return sigma, "the cast nearest in time, at the plate's depth", err
	case s.Water.Kind == study.WaterCompensated:
		sigma, err := seawater.FromCompensated(s.Water.ConductivityAt25CSPerM, s.Water.TemperatureC, s.Water.PercentPerC.Or(defaultPercentPerC))
		return sigma, "a meter that compensates to 25 °C", err
	case s.Water.Kind == study.WaterSalinity:
		sigma, err := fromSalinity(s.Water.Salinity, s.Water.TemperatureC, s.Water.PressureDbar.Or(0), warn)
		return sigma, "temperature and salinity of the study", err
	}
	return s.Water.ConductivitySPerM, "stated for the study", nil
}

func fromSalinity(salinity, temperatureC, pressureDbar float64, warn *warnings) (float64, error) {
	sigma, err := seawater.ConductivityFromSalinity(salinity, temperatureC, pressureDbar)
	if err == nil {
		warn.add(seawater.Validity(salinity, temperatureC, pressureDbar)...)
	}
	return sigma, err
}

// plateDepth is how deep z = 0 lies: the bottom, or the plate's top.
func plateDepth(s *study.Study, t *study.Trial) float64 {
	depth := s.Site.DepthM + t.TideM.Or(0)
	if len(s.Plates) > 0 {
		depth -= s.Plates[0].TopAboveBottomM
	}
	return depth
}

func bottomConductivity(b study.Bottom, water float64) (float64, error) {
	switch {
	case b.Kind == study.BottomInsulating:
		return 0, nil
	case b.ConductivitySPerM.Known:
		return b.ConductivitySPerM.Value, nil
	}
	return seawater.ArchieConductivity(water, b.Porosity.Value, b.CementationExponent.Value)
}

// profile is one cast: the readings taken at one time, by depth.
type profile struct {
	time time.Time
	rows []study.CastRow
}

func castProfiles(rows []study.CastRow) []profile {
	sorted := slices.Clone(rows)
	slices.SortStableFunc(sorted, func(a, b study.CastRow) int {
		if c := a.Time.Compare(b.Time); c != 0 {
			return c
		}
		return cmp.Compare(a.DepthM, b.DepthM)
	})
	var out []profile
	for _, r := range sorted {
		if n := len(out); n > 0 && out[n-1].time.Equal(r.Time) {
			out[n-1].rows = append(out[n-1].rows, r)
			continue
		}
		out = append(out, profile{time: r.Time, rows: []study.CastRow{r}})
	}
	return out
}

func middleOf(t *study.Trial) time.Time { return t.Start.Add(t.End.Sub(t.Start) / 2) }

// nearestCast is the cast nearest in time, the earlier of two equally near.
// There must be one.
func nearestCast(casts []profile, at time.Time) *profile {
	best := 0
	for i := range casts {
		if casts[i].time.Sub(at).Abs() < casts[best].time.Sub(at).Abs() {
			best = i
		}
	}
	return &casts[best]
}

// castConductivity is what the water of a cast conducts at a depth; see castRowAt.
func castConductivity(casts []profile, at time.Time, depthM float64, warn *warnings) (float64, error) {
	row, err := castRowAt(casts, at, depthM, warn)
	if err != nil {
		return 0, err
	}
	return castReading(row, warn)
}

// castRowAt interpolates the cast nearest in time (the earlier of two
// equally near) at a depth, linearly in depth; above its first and below its
// last reading the nearest reading holds.
func castRowAt(casts []profile, at time.Time, depthM float64, warn *warnings) (study.CastRow, error) {
	if len(casts) == 0 {
		return study.CastRow{}, fmt.Errorf("[water] names a cast, but the cast has no rows")
	}
	nearest := nearestCast(casts, at)
	rows := nearest.rows
	if depthM < rows[0].DepthM-1e-9 || depthM > rows[len(rows)-1].DepthM+1e-9 {
		warn.add(fmt.Sprintf("the cast of %s does not reach the plate's depth (%.2f m): its nearest reading was used", nearest.time.Format(time.RFC3339), depthM))
	}
	lower := slices.IndexFunc(rows, func(r study.CastRow) bool { return r.DepthM >= depthM })
	switch lower {
	case -1:
		return rows[len(rows)-1], nil
	case 0:
		return rows[0], nil
	}
	upper, under := rows[lower-1], rows[lower]
	f := (depthM - upper.DepthM) / (under.DepthM - upper.DepthM)
	return study.CastRow{
		TemperatureC:      mix(upper.TemperatureC, under.TemperatureC, f),
		Salinity:          mix(upper.Salinity, under.Salinity, f),
		ConductivitySPerM: mix(upper.ConductivitySPerM, under.ConductivitySPerM, f),
	}, nil
}

func castReading(r study.CastRow, warn *warnings) (float64, error) {
	if r.ConductivitySPerM.Known {
		return r.ConductivitySPerM.Value, nil
	}
	if !r.TemperatureC.Known || !r.Salinity.Known {
		return 0, fmt.Errorf("the cast has neither conductivity nor temperature and salinity at the plate's depth")
	}
	return fromSalinity(r.Salinity.Value, r.TemperatureC.Value, 0, warn)
}

func mix(a, b study.Opt[float64], f float64) study.Opt[float64] {
	if !a.Known || !b.Known {
		return study.Opt[float64]{}
	}
	return study.Some(a.Value + f*(b.Value-a.Value))
}
