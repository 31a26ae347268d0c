package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"brinefield/core/background"
	"brinefield/core/study"
)

// Background is what the page Background begins with: the specification as
// saved, else one made from the study. It says nothing of which pair was active.
func (s *Study) Background(ctx context.Context) (BackgroundStart, error) {
	a, err := s.assembledNow(ctx)
	if err != nil {
		return BackgroundStart{}, err
	}
	saved := ""
	if state := a.current.state(recordName{study.KindBackground, ""}); state != nil {
		r, err := s.people.clear(ctx, state.Record)
		if err != nil {
			return BackgroundStart{}, err
		}
		saved = r.Fields["spec"]
	}
	return backgroundStart(a.Study, len(a.Faults) > 0, saved), nil
}

// Background is what the page Background begins with.
func (l *LooseSeason) Background(context.Context) (BackgroundStart, error) {
	return backgroundStart(l.season.study, len(l.season.faults) > 0, ""), nil
}

func backgroundStart(s *study.Study, faults bool, saved string) BackgroundStart {
	b := &backgroundBuilder{v: BackgroundStart{From: []string{}, SpecText: saved, Kinds: []BackgroundKind{}, Metals: []BackgroundMetal{}, Cautions: backgroundCautions()}}
	for _, k := range background.Kinds() {
		b.v.Kinds = append(b.v.Kinds, BackgroundKind{Kind: k.Kind, Name: k.Name, MomentAM: k.MomentAM, From: k.From, Advice: k.Advice})
	}
	for _, m := range background.Metals() {
		b.v.Metals = append(b.v.Metals, BackgroundMetal{Metal: m.Name, LowV: m.LowV, HighV: m.HighV, From: m.From})
	}
	if !b.saved(saved) {
		b.made(s, faults)
	}
	b.v.Warnings = b.warn.list()
	return b.v
}

type backgroundBuilder struct {
	v    BackgroundStart
	warn warnings
}

func (b *backgroundBuilder) from(format string, args ...any) {
	b.v.From = append(b.v.From, fmt.Sprintf(format, args...))
}

// saved takes the specification that the study keeps.
func (b *backgroundBuilder) saved(text string) bool {
	if text == "" {
		return false
	}
	spec, err := readBackground("spec", []byte(text))
	if err != nil {
		var faults *FaultsError
		if errors.As(err, &faults) {
			b.warn.add("The background that the study keeps cannot be used as it is (" + specFault(faults.Faults[0]) + "); one made from the study stands here.")
		}
		return false
	}
	b.v.Spec, b.v.Saved = spec, true
	b.from("As saved in the study.")
	return true
}

// made takes what the study says.
func (b *backgroundBuilder) made(s *study.Study, faults bool) {
	spec := &b.v.Spec
	spec.Stimulus = &BackgroundStimulus{ThresholdNVPerCm: usualThresholdNV, SharePercent: usualSharePercent}
	if s == nil || faults {
		b.warn.add("The season has faults: site, water and pairs are not taken from it.")
		s = &study.Study{}
	}
	spec.Site = BackgroundSite{
		Latitude: known(s.Site.LatitudeDeg, 1), Longitude: known(s.Site.LongitudeDeg, 1), XAxisDeg: known(s.Site.XAxisBearingDeg, 1),
	}
	switch {
	case spec.Site.Latitude == nil || spec.Site.Longitude == nil:
		spec.Site.Latitude, spec.Site.Longitude = nil, nil
		b.from("Site: latitude and longitude are not both stated; without them nothing is said of the Earth's field.")
	case spec.Site.XAxisDeg == nil:
		b.from("Site: as in study.toml. The bearing of +x is not stated, so fields are told north, east and down only.")
	default:
		b.from("Site: as in study.toml.")
	}
	b.water(s)
	b.day(s)
	for i := range s.Pairs {
		p := &s.Pairs[i]
		spec.Pairs = append(spec.Pairs, BackgroundPair{Label: p.Label, CentreM: []float64{p.CentreXM, p.CentreYM}})
	}
	if len(s.Pairs) > 0 {
		b.from("Pairs: as in study.toml.")
	}
	b.from("Stimulus: nothing in a study says it; %d %% of %d nV/cm stands in.", usualSharePercent, usualThresholdNV)
}

// water is that of the page Stimulus.
func (b *backgroundBuilder) water(s *study.Study) {
	w := &startBuilder{s: s}
	w.water()
	knobs := StimulusKnobs{Water: w.v.Knobs.Water, Bottom: KnobBottom{Kind: bottomInsulating}}
	sigma, _, _, err := knobs.conductivities()
	if err != nil || finite(sigma) == nil {
		sigma, _ = fromSalinity(startSalinity, startTemperatureC, 0, &warnings{})
		w.v.KnobsFrom = []string{fmt.Sprintf("Water: %d °C and a salinity of %d stand in.", startTemperatureC, startSalinity)}
	}
	b.v.Spec.WaterSPerM = sigma
	b.v.Spec.Site.DepthM = w.v.Knobs.DepthM
	b.v.From = append(b.v.From, w.v.KnobsFrom...)
	b.warn.add(w.warn.list()...)
}

// day is the first day of trials that the magnetic model knows, with the stream
// as that day's trials noted it.
func (b *backgroundBuilder) day(s *study.Study) {
	sorted := slices.Clone(s.Trials)
	slices.SortStableFunc(sorted, func(x, y study.Trial) int { return x.Start.Compare(y.Start) })
	for i := range sorted {
		if y := background.DecimalYear(sorted[i].Start); !sorted[i].Start.IsZero() && y >= background.FirstYear && y < background.LastYear {
			b.v.Spec.Date = sorted[i].Start.Format(time.DateOnly)
			b.from("Date: of the first trial that the magnetic model's years hold.")
			b.stream(sorted)
			return
		}
	}
	switch {
	case len(sorted) > 0:
		b.warn.add("No trial lies in the years of the magnetic model, 2025 to 2030: choose a date in them. The Earth's field changes by about a tenth of a per cent in a year.")
	default:
		b.from("Date: there are no trials yet; choose the day of the tide table.")
	}
	// Without a date the specification would be a fault; the middle of the
	// model's years serves every other one.
	b.v.Spec.Date = fmt.Sprintf("%.0f-07-01", (background.FirstYear+background.LastYear)/2-0.5)
	b.from("Date: %s stands in.", b.v.Spec.Date)
}

func (b *backgroundBuilder) stream(sorted []study.Trial) {
	var rows []BackgroundStreamRow
	for i := range sorted {
		t := &sorted[i]
		if t.Start.Format(time.DateOnly) != b.v.Spec.Date || !t.FlowMPerS.Known || !t.FlowBearingDeg.Known {
			continue
		}
		clock := t.Start.Format("15:04")
		if len(rows) > 0 && rows[len(rows)-1].Time >= clock {
			continue
		}
		rows = append(rows, BackgroundStreamRow{Time: clock, SpeedMPerS: t.FlowMPerS.Value, Bearing: t.FlowBearingDeg.Value})
	}
	if len(rows) == 0 {
		return
	}
	b.v.Spec.Stream = &BackgroundStream{Table: rows}
	b.from("Stream: as noted in %s of that day, at their beginnings; flow_bearing_deg is taken to say where the water runs to.", trials(len(rows)))
}

// backgroundCautions are those of the list of the page Question for gear in the
// water.
func backgroundCautions() []string {
	wanted := []string{"dive-plan", "current-isolated", "dive-local", "current-local"}
	out := []string{}
	for _, g := range cautionList {
		for _, c := range g.cautions {
			if slices.Contains(wanted, c.id) {
				out = append(out, c.text)
			}
		}
	}
	return out
}
