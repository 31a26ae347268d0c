package app

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"brinefield/core/conduction"
	"brinefield/core/numeric"
	"brinefield/core/study"
)

// Stimulus is what the page Stimulus begins with: the knobs as the study has
// them. It says nothing of which pair was active, opened or not.
func (s *Study) Stimulus(ctx context.Context) (StimulusStart, error) {
	data, err := s.assembledNow(ctx)
	if err != nil {
		return StimulusStart{}, err
	}
	return stimulusStart(data.Study, len(data.Faults) > 0)
}

// Stimulus is what the page Stimulus begins with.
func (l *LooseSeason) Stimulus(context.Context) (StimulusStart, error) {
	return stimulusStart(l.season.study, len(l.season.faults) > 0)
}

// Where a study does not say, the page begins with these.
const (
	startCurrentUA    = 1
	startTemperatureC = 15
	startSalinity     = 35
)

// stimulusStart takes the knobs from a study. Where trials differ it is their
// middle one (median). Trials' active pairs are not looked at.
func stimulusStart(s *study.Study, faults bool) (StimulusStart, error) {
	if s == nil || faults {
		return StimulusStart{}, ErrFaults
	}
	b := &startBuilder{s: s, v: StimulusStart{
		Knobs:     StimulusKnobs{Plates: []KnobPlate{}, Pairs: []KnobPair{}, Electrodes: []KnobElectrode{}, Bodies: []KnobBody{}, ElectrodeShape: electrodeDisc},
		KnobsFrom: []string{}, ThresholdsNVPerCm: []float64{5, 20}, Cautions: stimulusCautions(),
	}}
	b.water()
	b.bottom()
	b.plates()
	b.pairs()
	b.current()
	b.waveform()
	u := s.Uncertainty
	b.v.Uncertainty = StimulusUncertainty{
		BottomSPerMSD: known(u.BottomSPerMSD, 1), PositionSDCm: known(u.PositionSDM, 100),
		HeightSDCm: known(u.HeightSDM, 100), CurrentSDPercent: known(u.CurrentSDPercent, 1),
	}
	b.v.Warnings = b.warn.list()
	return b.v, nil
}

type startBuilder struct {
	s    *study.Study
	v    StimulusStart
	warn warnings
}

func (b *startBuilder) from(format string, args ...any) {
	b.v.KnobsFrom = append(b.v.KnobsFrom, fmt.Sprintf(format, args...))
}

// median is the middle of values, the mean of the two middle ones; there must
// be one.
func median(values []float64) float64 {
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	n := len(sorted)
	return sorted[(n-1)/2] + (sorted[n/2]-sorted[(n-1)/2])/2
}

// spanOf says how far values lie apart, where they do.
func spanOf(values []float64, unit string) string {
	low, high := slices.Min(values), slices.Max(values)
	if low == high {
		return ""
	}
	return fmt.Sprintf(" (%.4g to %.4g %s)", low, high, unit)
}

func trials(n int) string {
	if n == 1 {
		return "1 trial"
	}
	return fmt.Sprintf("%d trials", n)
}

// water is worked out for every trial as the analysis does. Where all trials
// have a temperature and a salinity that give that conductivity, those are the
// knobs; else the conductivity is.
func (b *startBuilder) water() {
	s, k := b.s, &b.v.Knobs
	casts := castProfiles(s.Cast)
	var sigmas, temperatures, salinities, depths []float64
	same := true // temperature and salinity alone give the conductivity
	for i := range s.Trials {
		t := &s.Trials[i]
		sigma, _, err := trialConductivity(s, t, casts, &b.warn)
		if err != nil || finite(sigma) == nil {
			continue
		}
		sigmas = append(sigmas, sigma)
		temperature, salinity, ok := b.waterOf(t, casts)
		if !ok {
			same = false
			continue
		}
		temperatures, salinities = append(temperatures, temperature), append(salinities, salinity)
		alone, err := fromSalinity(salinity, temperature, 0, &warnings{})
		same = same && err == nil && math.Abs(alone-sigma) <= 0.002*sigma
	}
	for i := range s.Trials {
		if d := s.Site.DepthM + s.Trials[i].TideM.Or(0); d > 0 {
			depths = append(depths, d)
		}
	}
	if len(depths) == 0 && s.Site.DepthM > 0 {
		depths = []float64{s.Site.DepthM}
	}
	switch {
	case len(sigmas) == 0:
		k.Water = KnobWater{TemperatureC: finite(startTemperatureC), Salinity: finite(startSalinity)}
		b.from("Water: no trial says what it conducts; %d °C and a salinity of %d stand in.", startTemperatureC, startSalinity)
	case same:
		k.Water = KnobWater{TemperatureC: finite(median(temperatures)), Salinity: finite(median(salinities))}
		b.from("Water: the middle temperature%s and salinity%s of %s.", spanOf(temperatures, "°C"), spanOf(salinities, ""), trials(len(sigmas)))
	default:
		k.Water = KnobWater{ConductivitySPerM: finite(median(sigmas))}
		if len(temperatures) == len(sigmas) {
			k.Water.TemperatureC, k.Water.Salinity = finite(median(temperatures)), finite(median(salinities))
		}
		b.from("Water: the middle conductivity%s of %s.", spanOf(sigmas, "S/m"), trials(len(sigmas)))
	}
	if len(depths) == 0 {
		b.from("Depth: not stated; unbounded water.")
		return
	}
	k.DepthM = finite(median(depths))
	b.from("Depth: the site's depth and the middle tide%s.", spanOf(depths, "m"))
}

// waterOf is a trial's temperature and salinity, where its conductivity comes
// from them.
func (b *startBuilder) waterOf(t *study.Trial, casts []profile) (temperatureC, salinity float64, ok bool) {
	switch waterSource(b.s, t) {
	case "trial_salinity":
		return t.TemperatureC.Value, t.Salinity.Value, true
	case "cast":
		row, err := castRowAt(casts, middleOf(t), plateDepth(b.s, t), &warnings{})
		ok = err == nil && row.TemperatureC.Known && row.Salinity.Known && !row.ConductivitySPerM.Known
		return row.TemperatureC.Value, row.Salinity.Value, ok
	case "study":
		return b.s.Water.TemperatureC, b.s.Water.Salinity, b.s.Water.Kind == study.WaterSalinity
	}
	return 0, 0, false
}

func (b *startBuilder) bottom() {
	s, k := b.s, &b.v.Knobs
	if s.Bottom.Kind == study.BottomInsulating {
		k.Bottom = KnobBottom{Kind: bottomInsulating}
	} else {
		k.Bottom = KnobBottom{
			Kind: bottomSediment, ConductivitySPerM: known(s.Bottom.ConductivitySPerM, 1), Porosity: known(s.Bottom.Porosity, 1),
			CementationExponent: known(s.Bottom.CementationExponent, 1), ThicknessM: known(s.Bottom.ThicknessM, 1), BasementSPerM: known(s.Bottom.BasementSPerM, 1),
		}
	}
	b.from("Bottom: as in study.toml (%s).", bottomText(s.Bottom))
	if e := s.Enclosure; e != nil {
		k.Enclosure = &KnobEnclosure{DiameterM: known(e.DiameterM, 1), CentreM: []float64{e.CentreXM, e.CentreYM}}
		if !e.DiameterM.Known {
			k.Enclosure.SizeM = []float64{e.SizeXM, e.SizeYM}
		}
		b.from("Tank: as in study.toml.")
	}
}

// plates are all of the study's, or the one that most trials name.
func (b *startBuilder) plates() {
	s, k := b.s, &b.v.Knobs
	if len(s.Plates) == 0 {
		return
	}
	chosen := s.Plates
	if name := b.commonPlate(); name != "" {
		chosen = slices.DeleteFunc(slices.Clone(s.Plates), func(p study.Plate) bool { return p.Label != name })
		b.from("Plate: %q, which most trials name; the others are taken not to lie there.", name)
	} else {
		b.from("Plates: as in study.toml.")
	}
	for i := range chosen {
		p := &chosen[i]
		out := KnobPlate{Shape: plateRectangle, ThicknessM: p.ThicknessM, CentreM: []float64{p.CentreXM, p.CentreYM}, YawDeg: p.YawDeg}
		if p.Disc {
			out.Shape, out.DiameterM = plateDisc, finite(p.DiameterM)
		} else {
			out.SizeM = []float64{p.SizeXM, p.SizeYM}
		}
		k.Plates = append(k.Plates, out)
	}
	k.TopAboveBottomM = s.Plates[0].TopAboveBottomM
	var sand []float64
	for i := range s.Trials {
		if v := s.Trials[i].SandOverPlateM; v.Known {
			sand = append(sand, v.Value*1000)
		}
	}
	if len(sand) > 0 {
		k.SandOverPlateMM = median(sand)
		b.from("Sand over the plate: the middle of %s%s.", trials(len(sand)), spanOf(sand, "mm"))
	}
}

// commonPlate is the plate that most trials name, the first of equals; "" where
// not one trial names any.
func (b *startBuilder) commonPlate() string {
	best, most := "", 0
	for i := range b.s.Plates {
		n := 0
		for j := range b.s.Trials {
			if name := b.s.Trials[j].Plate; name != "" && name == b.s.Plates[i].Label {
				n++
			}
		}
		if n > most {
			best, most = b.s.Plates[i].Label, n
		}
	}
	return best
}

// pairs are all that lie there; the first has the current. Which pair was active
// in which trial has no part in it.
func (b *startBuilder) pairs() {
	s, k := b.s, &b.v.Knobs
	var off []string
	for i := range s.Pairs {
		p := &s.Pairs[i]
		out := KnobPair{
			Label: p.Label, CentreM: []float64{p.CentreXM, p.CentreYM}, AzimuthDeg: p.AzimuthDeg, SeparationM: p.SeparationM,
			ElectrodeDiameterM: p.ElectrodeDiameterM, HeightM: p.HeightM,
		}
		if p.HeightM == 0 && len(k.Plates) > 0 && !k.onPlate(&out) {
			off = append(off, p.Label)
			continue
		}
		if len(k.Pairs) == 0 {
			out.Share = 1
		}
		k.Pairs = append(k.Pairs, out)
	}
	if len(k.Pairs) > 0 {
		b.from("Pairs: as in study.toml. The current flows through %s because it comes first; all others lie there without one.", k.Pairs[0].Label)
	}
	if len(off) > 0 {
		b.from("Left out, because they lie on no plate that is there: %s.", strings.Join(off, ", "))
	}
}

// onPlate reports whether a plate reaches under both electrodes of a pair.
func (k *StimulusKnobs) onPlate(p *KnobPair) bool {
	sin, cos := numeric.SinCosDeg(p.AzimuthDeg)
	plates := k.platesAt(0)
	for i := range plates {
		pl := plates[i]
		pl.TopM, pl.ThicknessM = 1, 2 // so that a place at height 0 lies in the plate
		both := true
		for _, d := range []float64{-0.5, 0.5} {
			both = both && inPlate(&pl, conduction.Point{X: p.CentreM[0] + d*p.SeparationM*cos, Y: p.CentreM[1] + d*p.SeparationM*sin})
		}
		if both {
			return true
		}
	}
	return false
}

func (b *startBuilder) current() {
	var currents []float64
	sealed := 0
	for i := range b.s.Trials {
		t := &b.s.Trials[i]
		if t.Sealed {
			sealed++
			continue
		}
		if a, ok := t.DrivenCurrentA(); ok {
			currents = append(currents, a*1e6)
		}
	}
	switch {
	case len(currents) > 0:
		b.v.Knobs.CurrentUA = median(currents)
		b.from("Current: the middle of %s%s.", trials(len(currents)), spanOf(currents, "µA"))
	case sealed > 0:
		b.v.Knobs.CurrentUA = startCurrentUA
		b.from("Current: sealed with the active pairs until they are opened; %d µA stands in.", startCurrentUA)
	default:
		b.v.Knobs.CurrentUA = startCurrentUA
		b.from("Current: no trial states one; %d µA stands in.", startCurrentUA)
	}
}

// waveform is the one that most trials state, as far as it is one of ours.
func (b *startBuilder) waveform() {
	count := map[string]int{}
	var frequencies []float64
	for i := range b.s.Trials {
		t := &b.s.Trials[i]
		if t.Sealed {
			continue
		}
		count[knownWaveform(t.Waveform)]++
		if f := t.FrequencyHz; f.Known && f.Value > 0 {
			frequencies = append(frequencies, f.Value)
		}
	}
	kind := waveDirect
	for _, k := range []string{waveSine, waveSquare, wavePulses} {
		if count[k] > count[kind] {
			kind = k
		}
	}
	if count[""] > 0 {
		b.warn.add("Some trials state a waveform that this page does not know; it knows direct, sine, square and pulses.")
	}
	w := KnobWaveform{Kind: kind}
	if kind != waveDirect && len(frequencies) > 0 {
		w.FrequencyHz = finite(median(frequencies))
		if kind == wavePulses {
			w.Duty = finite(0.5)
			b.from("Waveform: pulses, as most trials state; how long they last is not recorded, half of the time stands in.")
		} else {
			b.from("Waveform: %s, as most trials state.", kind)
		}
	} else {
		w.Kind = waveDirect
		if kind != waveDirect {
			b.warn.add("Most trials state the waveform " + kind + " without a frequency; a direct current stands in.")
		}
		b.from("Waveform: direct current.")
	}
	b.v.Knobs.Waveform = w
}

// knownWaveform is one of the four kinds for what a season writes, "" for what
// is none of them. A blank is a direct current.
func knownWaveform(text string) string {
	switch w := strings.ToLower(strings.TrimSpace(text)); {
	case w == "" || w == "dc" || strings.HasPrefix(w, "direct") || strings.HasPrefix(w, "constant"):
		return waveDirect
	case strings.HasPrefix(w, "sin"):
		return waveSine
	case strings.HasPrefix(w, "square"):
		return waveSquare
	case strings.HasPrefix(w, "pulse"):
		return wavePulses
	}
	return ""
}

// stimulusCautions are those of the list of the page Question that whoever
// drives electrodes should have before them.
func stimulusCautions() []string {
	wanted := []string{
		"current-limited", "current-isolated", "current-handling", "current-local", "dive-plan", "dive-local",
		"animals-approval", "animals-stop", "animals-local",
	}
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
