package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"

	"brinefield/core/reach"
)

// errorDirections is in how many directions the range is looked for when
// knobs are off: enough for the farthest of them.
const errorDirections = 24

// setting is knobs with a place; says is where a fault of them goes.
type setting struct {
	ask   StimulusAsk
	place StimulusPlace
	says  *string
	keep  bool // the knobs as they are: their solution is kept
}

// Errors is what an error of each knob does to the range at the height of a
// place and to the field there. The range is the farthest horizontal distance
// at that height.
func (t *Stimulus) Errors(ctx context.Context, in ErrorsRequest) (StimulusErrors, error) {
	began := t.clock()
	c := &knobCheck{}
	percent := cmp.Or(in.Percent, 10)
	checkThreshold(c, "threshold_nV_per_cm", in.ThresholdNVPerCm)
	c.within("percent", percent, 0.01, 90, "a percentage between 0.01 and 90")
	in.At.check(c, "at")
	in.Uncertainty.check(c)
	s, err := newScene(&in.StimulusAsk, c)
	if err != nil {
		return StimulusErrors{}, err
	}
	look, err := t.look(ctx, s, nil)
	if err != nil {
		return StimulusErrors{}, err
	}
	base := setting{ask: in.StimulusAsk, place: in.At, says: new(string), keep: true}
	measure := func(one setting) (reach.Measured, error) { return t.measure(ctx, one, in.ThresholdNVPerCm) }
	out := StimulusErrors{}
	var measured reach.Measured
	for _, set := range []struct {
		rows []reach.Change[setting]
		into *[]ErrorRow
	}{
		{base.changes(percent), &out.Rows},
		{base.seasonChanges(&in.Uncertainty), &out.Season},
	} {
		var effects []reach.Effect
		measured, effects, err = reach.Vary(base, set.rows, runtime.GOMAXPROCS(0), measure)
		if err := cmp.Or(ctx.Err(), err); err != nil {
			return StimulusErrors{}, err
		}
		*set.into = errorRows(measured, effects, set.rows)
	}
	out.RangeBase, out.FieldBase = figure(measured.RangeM), figure(measured.FieldVPerM*nVPerCmPerVPerM)
	out.StimulusQuality = look.quality(began, t.clock())
	return out, nil
}

func (u *StimulusUncertainty) check(c *knobCheck) {
	for _, f := range []struct {
		name string
		v    *float64
	}{
		{"bottom_S_per_m_sd", u.BottomSPerMSD},
		{"position_sd_cm", u.PositionSDCm},
		{"height_sd_cm", u.HeightSDCm},
		{"current_sd_percent", u.CurrentSDPercent},
	} {
		if f.v != nil {
			c.within("uncertainty/"+f.name, *f.v, 0, 1e4, "a standard deviation of 0 or more")
		}
	}
}

// measure is the range at the height of the place, and the field there. Knobs
// that cannot be laid out have neither, and say why.
func (t *Stimulus) measure(ctx context.Context, one setting, thresholdNVPerCm float64) (reach.Measured, error) {
	none := reach.Measured{RangeM: math.NaN(), FieldVPerM: math.NaN()}
	s, err := newScene(&one.ask, &knobCheck{})
	var solved *solved
	switch {
	case err != nil:
	case one.keep || s.form == formTextbook:
		solved, err = t.solution(ctx, s)
	default:
		solved, err = s.solveOnce(ctx)
	}
	var fault *KnobsError
	if errors.As(err, &fault) {
		*one.says = fault.Faults[0].Wrong
		return none, nil
	}
	if err != nil {
		return none, err
	}
	height := s.season(s.beside(one.place))[2]
	ranges, v, err := t.reach(ctx, s, solved, []float64{thresholdNVPerCm / nVPerCmPerVPerM}, []float64{height}, errorDirections)
	if err != nil {
		return none, err
	}
	field, err := reach.MagnitudeAt(v.vectors(ctx), s.beside(one.place))
	return reach.Measured{RangeM: ranges[0].Rings[0].FarthestM, FieldVPerM: field}, err
}

// changes are the knobs each off by a percentage.
func (b *setting) changes(percent float64) []reach.Change[setting] {
	p := percent / 100
	k := &b.ask.Knobs
	var out []reach.Change[setting]
	row := func(what string, value float64, unit string, set func(s *setting, v float64)) {
		low, high := value*(1-p), value*(1+p)
		out = append(out, b.change(what, fmt.Sprintf("± %.3g %% (%.4g to %.4g %s)", percent, low, high, unit), low, high, set))
	}
	if k.Water.ConductivitySPerM != nil {
		row("conductivity", *k.Water.ConductivitySPerM, "S/m", func(s *setting, v float64) { s.ask.Knobs.Water.ConductivitySPerM = &v })
	} else {
		row("temperature", *k.Water.TemperatureC, "°C", func(s *setting, v float64) { s.ask.Knobs.Water.TemperatureC = &v })
		row("salinity", *k.Water.Salinity, "", func(s *setting, v float64) { s.ask.Knobs.Water.Salinity = &v })
	}
	if bottom := k.sediment(); bottom > 0 {
		row("sediment", bottom, "S/m", setSediment)
	}
	row("current", k.CurrentUA, "µA", setCurrent)
	row("height", b.place.AboveCm, "cm above the pair", setHeight)
	row("position", b.place.BesideCm, "cm beside the pair", setPosition)
	if lead := k.lead(); lead >= 0 {
		row("separation", k.Pairs[lead].SeparationM*100, "cm", func(s *setting, v float64) {
			s.ask.Knobs = s.ask.Knobs.withLead(func(pair *KnobPair) { pair.SeparationM = v / 100 })
		})
	}
	if k.DepthM != nil {
		row("depth", *k.DepthM, "m", func(s *setting, v float64) { s.ask.Knobs.DepthM = &v })
	}
	return out
}

// seasonChanges are the knobs each off by what the season states of them.
func (b *setting) seasonChanges(u *StimulusUncertainty) []reach.Change[setting] {
	k := &b.ask.Knobs
	var out []reach.Change[setting]
	row := func(what string, value, sd float64, unit string, least float64, set func(s *setting, v float64)) {
		low, high := math.Max(value-sd, least), value+sd
		out = append(out, b.change(what, fmt.Sprintf("± %.3g %s (%.4g to %.4g)", sd, unit, low, high), low, high, set))
	}
	if bottom := k.sediment(); u.BottomSPerMSD != nil && bottom > 0 {
		row("sediment", bottom, *u.BottomSPerMSD, "S/m", 0, setSediment)
	}
	if u.CurrentSDPercent != nil {
		row("current", k.CurrentUA, math.Abs(k.CurrentUA)**u.CurrentSDPercent/100, "µA", -mostCurrentUA, setCurrent)
	}
	if u.HeightSDCm != nil {
		row("height", b.place.AboveCm, *u.HeightSDCm, "cm", math.Min(0, b.place.AboveCm), setHeight)
	}
	if u.PositionSDCm != nil {
		row("position", b.place.BesideCm, *u.PositionSDCm, "cm", 0, setPosition)
	}
	return out
}

func (b *setting) change(what, said string, low, high float64, set func(s *setting, v float64)) reach.Change[setting] {
	at := func(v float64) setting {
		s := setting{ask: b.ask, place: b.place, says: new(string)}
		set(&s, v)
		return s
	}
	return reach.Change[setting]{What: what, Said: said, Low: at(low), High: at(high)}
}

func setSediment(s *setting, v float64) {
	b := &s.ask.Knobs.Bottom
	b.ConductivitySPerM, b.Porosity, b.CementationExponent = &v, nil, nil
}

func setCurrent(s *setting, v float64)  { s.ask.Knobs.CurrentUA, s.keep = v, true }
func setHeight(s *setting, v float64)   { s.place.AboveCm, s.keep = v, true }
func setPosition(s *setting, v float64) { s.place.BesideCm, s.keep = v, true }

// sediment is what the bottom conducts, 0 where it insulates or cannot be worked
// out.
func (k *StimulusKnobs) sediment() float64 {
	_, bottom, _, err := k.conductivities()
	if err != nil {
		return 0
	}
	return bottom
}

// errorRows brings the effects into words and figures.
func errorRows(base reach.Measured, effects []reach.Effect, changes []reach.Change[setting]) []ErrorRow {
	out := make([]ErrorRow, len(effects))
	for i, e := range effects {
		out[i] = ErrorRow{
			What: e.What, Change: e.Said, RangeM: Figures{e.Low.RangeM, e.High.RangeM},
			Field:     Figures{e.Low.FieldVPerM * nVPerCmPerVPerM, e.High.FieldVPerM * nVPerCmPerVPerM},
			RangeBase: figure(base.RangeM), FieldBase: figure(base.FieldVPerM * nVPerCmPerVPerM),
		}
		for _, c := range changes {
			if c.What == e.What {
				out[i].Says = cmp.Or(*c.Low.says, *c.High.says)
			}
		}
	}
	return out
}
