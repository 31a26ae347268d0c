package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"brinefield/core/rig"
	"brinefield/core/study"
)

// Rig is what the page Rig begins with: the rig as saved, or one made from the
// study, and what was measured. It says nothing of which pair was active.
func (s *Study) Rig(ctx context.Context) (RigStart, error) {
	current, err := s.current(ctx)
	if err != nil {
		return RigStart{}, err
	}
	bench, err := s.bench(ctx, current)
	if err != nil {
		return RigStart{}, err
	}
	fields, err := s.fields(ctx, current, recordName{kind: study.KindRig})
	if err != nil {
		return RigStart{}, err
	}
	text := fields["spec"]
	unreadable := ""
	if text != "" {
		spec, err := readRigSpec(text)
		if err == nil {
			return RigStart{Spec: spec, Saved: true, SpecText: text, From: []string{"As saved in the study."}, Bench: bench, Warnings: []string{}}, nil
		}
		unreadable = err.Error()
	}
	data, err := s.assembledNow(ctx)
	if err != nil {
		return RigStart{}, err
	}
	start, err := rigStart(data.Study, len(data.Faults) > 0)
	if err != nil {
		return RigStart{}, err
	}
	start.SpecText, start.Bench = text, bench
	if unreadable != "" {
		start.Warnings = append(start.Warnings, "What was saved cannot be read, and a new rig stands in; it stays in the study until it is written over. "+unreadable)
	}
	return start, nil
}

// Rig is what the page Rig begins with.
func (l *LooseSeason) Rig(context.Context) (RigStart, error) {
	return rigStart(l.season.study, len(l.season.faults) > 0)
}

// bench lists what was measured, oldest first.
func (s *Study) bench(ctx context.Context, current *standingRecords) ([]RigBench, error) {
	out := []RigBench{}
	for _, state := range current.standing(study.KindBench) {
		r, err := s.people.clear(ctx, state.Record)
		if err != nil {
			return nil, err
		}
		number := func(field string) *float64 {
			v, err := strconv.ParseFloat(r.Fields[field], 64)
			if err != nil {
				return nil
			}
			return finite(v)
		}
		out = append(out, RigBench{
			ID: r.ID, Date: r.Fields["date"], Position: r.Fields["position"], Pair: r.Fields["pair"], CurrentUA: number("current_uA"), SupplyV: number("supply_V"),
			OffsetMV: number("offset_mV"), SilentUA: number("silent_uA"), WaterSPerM: number("water_S_per_m"), By: r.Fields["by"], Note: r.Fields["note"],
		})
	}
	slices.SortStableFunc(out, func(a, b RigBench) int { return cmp.Compare(a.Date, b.Date) })
	return out, nil
}

// readRigSpec reads and checks the text of a rig.
func readRigSpec(text string) (RigSpec, error) {
	var spec RigSpec
	if err := decodeRig("spec", []byte(text), &spec); err != nil {
		var faults *FaultsError
		if errors.As(err, &faults) && len(faults.Faults) > 0 {
			f := faults.Faults[0]
			return spec, &KnobsError{[]KnobFault{{strings.TrimSuffix("rig/"+strings.ReplaceAll(f.Column, ".", "/"), "/"), f.Wrong, f.Expected}}}
		}
		return spec, err
	}
	return spec, spec.check()
}

// checkRigSpec refuses a rig that cannot be worked out. A ladder that cannot
// be built is not refused: it may be waiting for other resistors.
func (e *edit) checkRigSpec(r *study.Record) {
	text := r.Fields["spec"]
	if text == "" {
		return
	}
	_, err := readRigSpec(text)
	var wrong *KnobsError
	switch {
	case errors.As(err, &wrong):
		for _, f := range wrong.Faults {
			e.fault(nameOf(*r), "spec", f.Place+": "+f.Wrong, "expected "+f.Expected)
		}
	case err != nil:
		e.fault(nameOf(*r), "spec", err.Error(), "expected the text of a rig")
	}
}

// checkBench refuses a measurement that cannot be read.
func (e *edit) checkBench(r *study.Record) {
	if text := r.Fields["date"]; text == "" {
		e.fault(nameOf(*r), "date", "missing", "expected the day of the measurement, like 2026-06-01")
	} else if _, err := time.Parse(time.DateOnly, text); err != nil {
		e.fault(nameOf(*r), "date", fmt.Sprintf("%q is no date", text), "expected one like 2026-06-01")
	}
	for _, n := range []struct {
		field     string
		low, high float64
	}{
		{"current_uA", -mostRigUA, mostRigUA}, {"supply_V", 0, mostRigV}, {"offset_mV", -2000, 2000}, {"silent_uA", -mostRigUA, mostRigUA}, {"water_S_per_m", 1e-6, 100},
	} {
		text := r.Fields[n.field]
		if text == "" {
			continue
		}
		if v, err := strconv.ParseFloat(text, 64); err != nil || !(v >= n.low && v <= n.high) {
			e.fault(nameOf(*r), n.field, fmt.Sprintf("found %q", text), fmt.Sprintf("expected a number between %g and %g", n.low, n.high))
		}
	}
	if r.Fields["current_uA"] != "" && r.Fields["position"] == "" {
		e.fault(nameOf(*r), "position", "missing", "expected the position of the switch at which the current was measured")
	}
}

// Where a study does not say, the rig begins with these.
const (
	startRigUA       = 6
	startRigV        = 9
	startFullV       = 9.6
	startEmptyV      = 7.2
	startMAh         = 565
	startCableM      = 20
	startDiameterM   = 0.002
	limitingPercents = 40 // of the whole resistance at the largest current, in each leg
)

// rigStart makes a rig of a study: water, pairs and currents are the study's,
// everything else is a small battery rig to begin with.
func rigStart(s *study.Study, faults bool) (RigStart, error) {
	knobs, err := stimulusStart(s, faults)
	if err != nil {
		return RigStart{}, err
	}
	v := RigStart{From: []string{}, Bench: []RigBench{}, Warnings: append([]string{}, knobs.Warnings...)}
	b := &rigBuilder{s: s, v: &v}
	b.water(&knobs.Knobs.Water)
	b.currents()
	b.pairs()
	b.supply()
	return v, nil
}

type rigBuilder struct {
	s *study.Study
	v *RigStart
}

func (b *rigBuilder) from(format string, args ...any) {
	b.v.From = append(b.v.From, fmt.Sprintf(format, args...))
}

func (b *rigBuilder) water(w *KnobWater) {
	if w.ConductivitySPerM != nil {
		b.v.Spec.WaterSPerM = *w.ConductivitySPerM
	} else {
		var warn warnings
		sigma, err := fromSalinity(*w.Salinity, *w.TemperatureC, 0, &warn)
		if err != nil || !(sigma > 0) {
			sigma, _ = fromSalinity(startSalinity, startTemperatureC, 0, &warn)
		}
		b.v.Spec.WaterSPerM = sigma
	}
	b.from("Water: %.4g S/m, as on the page Stimulus.", b.v.Spec.WaterSPerM)
}

// currents are those that trials state, each once; sealed ones are not looked
// at.
func (b *rigBuilder) currents() {
	var found []float64
	sealed := false
	for i := range b.s.Trials {
		t := &b.s.Trials[i]
		if t.Sealed {
			sealed = true
			continue
		}
		a, ok := t.DrivenCurrentA()
		uA, err := strconv.ParseFloat(strconv.FormatFloat(math.Abs(a)*1e6, 'g', 2, 64), 64) // measured ones scatter round their setting
		if ok && err == nil && uA > 0 && uA <= mostRigUA && !slices.Contains(found, uA) {
			found = append(found, uA)
		}
	}
	slices.Sort(found)
	slices.Reverse(found)
	switch {
	case len(found) > mostRigPositions:
		found = []float64{found[0], found[len(found)-1]}
		b.from("Currents: the largest and the smallest of the trials, which state many.")
	case len(found) > 0:
		b.from("Currents: those of the trials, to two digits.")
	case sealed:
		found = []float64{startRigUA}
		b.from("Currents: sealed with the active pairs until they are opened; %d µA stands in.", startRigUA)
	default:
		found = []float64{startRigUA}
		b.from("Currents: no trial states one; %d µA stands in.", startRigUA)
	}
	two, one, five := 2, 1.0, 5.0
	b.v.Spec.Ladder = RigLadder{WantedUA: found, Series: string(rig.E96), TolerancePercent: &one, MostResistors: &two, LargestErrorPercent: &five}
}

func (b *rigBuilder) pairs() {
	spec := &b.v.Spec
	spec.Pairs = []RigPair{}
	on := onPlate
	for i := range b.s.Pairs {
		p := &b.s.Pairs[i]
		if len(spec.Pairs) == mostRigPairs {
			b.from("Pairs: the first %d of %d.", mostRigPairs, len(b.s.Pairs))
			break
		}
		d := p.ElectrodeDiameterM
		if d == 0 {
			d = math.Min(startDiameterM, p.SeparationM/4)
			b.from("Pair %s: its electrodes have no size in the study; %g mm stand in.", p.Label, d*1000)
		}
		if p.HeightM > d {
			on = onWater
		}
		spec.Pairs = append(spec.Pairs, RigPair{Label: p.Label, CentreM: []float64{p.CentreXM, p.CentreYM}, SeparationM: p.SeparationM, AzimuthDeg: p.AzimuthDeg, ElectrodeDiameterM: d})
	}
	if len(spec.Pairs) == 0 {
		spec.Pairs = append(spec.Pairs, RigPair{Label: "A", CentreM: []float64{0, 0}, SeparationM: 0.01, ElectrodeDiameterM: startDiameterM})
		b.from("Pairs: the study has none yet; one of 1 cm stands in.")
	} else {
		b.from("Pairs: as in study.toml.")
	}
	offset := float64(usualOffsetMV)
	spec.Electrodes = RigElectrodes{Shape: string(rig.Disc), On: on, OffsetMV: &offset}
	if on == onWater {
		spec.Electrodes.Shape = string(rig.Sphere)
		b.from("Electrodes: spheres in open water, as pairs hang above the bottom.")
	} else {
		b.from("Electrodes: discs flush in a plate; polarisation 0, an offset of %d mV.", usualOffsetMV)
	}
}

// supply is a block of 9 V, with limiting resistors that take four fifths of the
// resistance at the largest current, one half in each leg.
func (b *rigBuilder) supply() {
	spec := &b.v.Spec
	volt, full, empty, internal, capacity := float64(startRigV), startFullV, startEmptyV, usualInternalOhm, float64(startMAh)
	spec.Supply = RigSupply{Kind: supplyBattery, VoltageV: &volt, FullV: &full, EmptyV: &empty, InternalOhm: &internal, CapacityMAh: &capacity}
	want := volt / (spec.Ladder.WantedUA[0] * 1e-6) * limitingPercents / 100
	each := 0.0
	for _, v := range rig.E24.Values() {
		if v <= want {
			each = v
		}
	}
	spec.Limiting = &RigLimiting{Ohm: []float64{each, each}, TolerancePercent: 1}
	half, class := 0.5, 5
	spec.Cable = RigCable{LengthM: startCableM, MM2: &half, Class: &class}
	spec.Silent = string(rig.OpenBoth)
	spec.Use = &RigUse{HoursPerDay: 4, Days: 20}
	b.from("Supply: an alkaline block of %d V, from %g to %g V, stands in; limiting resistors of %s in each leg.", startRigV, startFullV, startEmptyV, rig.OhmText(each))
	b.from("Cable: %d m of 0.5 mm² stand in. Switch: opens both legs of silent pairs. Use: 4 h on 20 days.", startCableM)
}
