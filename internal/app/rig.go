package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"brinefield/core/rig"
)

// rigDraws is the number of draws of the Monte Carlo intervals.
const rigDraws = 2000

// Rig works out what a rig delivers. Faults of the specification come back all
// at once as a [*KnobsError].
func (s *Studies) Rig(ctx context.Context, spec RigSpec) (RigDocument, error) {
	text, err := json.Marshal(spec)
	if err != nil {
		return RigDocument{}, err
	}
	return workOutRig(ctx, &spec, "rig", text, 1, s.options.Program)
}

// MeasureRig is the rig command. Faults of the file come back all at once as a
// [*FaultsError].
func MeasureRig(ctx context.Context, name string, data []byte, seed uint64, program Program) (RigDocument, error) {
	var spec RigSpec
	if err := decodeRig(name, data, &spec); err != nil {
		return RigDocument{}, err
	}
	document, err := workOutRig(ctx, &spec, name, data, seed, program)
	var wrong *KnobsError
	if errors.As(err, &wrong) {
		return RigDocument{}, faultsOfRig(name, data, wrong)
	}
	return document, err
}

func decodeRig(name string, data []byte, spec *RigSpec) error {
	err := decodeStrict(name, data, spec)
	var faults *FaultsError
	if errors.As(err, &faults) {
		for i := range faults.Faults {
			faults.Faults[i].Expected = strings.ReplaceAll(faults.Faults[i].Expected, "the keys of the field command", "the keys of a rig (docs/formats/rig-spec.schema.json)")
		}
	}
	return err
}

// faultsOfRig gives faults of a rig the lines of their file.
func faultsOfRig(name string, data []byte, e *KnobsError) error {
	c := &specCheck{name: name, lines: jsonLines(data)}
	for _, f := range e.Faults {
		path := strings.TrimPrefix(strings.TrimPrefix(f.Place, "rig"), "/")
		c.fault(strings.ReplaceAll(indexed.ReplaceAllString(path, "[$1]"), "/", "."), f.Wrong, f.Expected)
	}
	return &FaultsError{Faults: c.faults}
}

// rigWork is a rig while its document is written.
type rigWork struct {
	*builtRig
	ctx context.Context
	doc RigDocument
}

func workOutRig(ctx context.Context, spec *RigSpec, name string, text []byte, seed uint64, program Program) (RigDocument, error) {
	if err := spec.check(); err != nil {
		return RigDocument{}, err
	}
	b, err := spec.build()
	if err != nil {
		return RigDocument{}, err
	}
	w := &rigWork{builtRig: b, ctx: ctx}
	w.doc = RigDocument{
		Heading:    Heading{Format: Format, Program: program, InputsSHA256: Input{name: text}.Fingerprints(), Seed: &seed},
		WaterSPerM: spec.WaterSPerM, Cable: b.cable, Draws: rigDraws, Lost: []RigLoss{}, Silent: []RigSilent{},
	}
	w.supplyFacts()
	for _, step := range []func() error{
		func() error { return w.positions(seed) }, w.pairFacts, w.losses, w.silent, w.battery, w.compliance, w.faults, w.parts, w.wantedField,
	} {
		if err := errors.Join(ctx.Err(), step()); err != nil {
			return RigDocument{}, err
		}
	}
	w.doc.Methods = w.methods()
	w.doc.Warnings = w.warn.list()
	return w.doc, nil
}

func (w *rigWork) supplyFacts() {
	f := &w.doc.Supply
	f.Kind, f.LimitingOhm = w.spec.Supply.Kind, []string{}
	if w.Supply.Constant {
		return
	}
	f.VoltageV, f.FullV, f.EmptyV, f.InternalOhm = finite(w.Supply.VoltageV), finite(w.Supply.FullV), finite(w.Supply.EmptyV), finite(w.Supply.InternalOhm)
	f.LimitingOhm = []string{rig.OhmText(w.Limiting[0]), rig.OhmText(w.Limiting[1])}
}

// pairSpread is what a pair's currents may be, by position.
type pairSpread struct {
	worst, season, drawn []rig.Interval
	err                  error
}

func (w *rigWork) spreads(seed uint64) []pairSpread {
	out := make([]pairSpread, len(w.Pairs))
	inParallel(len(out), func(i int) {
		s := &out[i]
		u := w.Supply
		var errs [3]error
		s.worst, errs[0] = w.Worst(i, u.VoltageV, u.VoltageV)
		s.season, errs[1] = w.Worst(i, u.EmptyV, u.FullV)
		s.drawn, errs[2] = w.Drawn(i, rigDraws, seed)
		s.err = errors.Join(errs[:]...)
	})
	return out
}

func microamperes(i rig.Interval) [2]float64 { return [2]float64{i.Low * 1e6, i.High * 1e6} }

func (w *rigWork) positions(seed uint64) error {
	w.doc.Positions = []RigPosition{}
	spreads := w.spreads(seed)
	for _, s := range spreads {
		if s.err != nil {
			return s.err
		}
	}
	chain := 0.0
	for k, step := range w.Steps {
		p := RigPosition{Label: step.Label, StepOhm: append([]float64{}, step.Ohm...), StepText: rig.SumText(step.Ohm), Currents: []RigCurrent{}}
		for _, ohm := range step.Ohm {
			chain += ohm
		}
		p.ChainOhm = chain
		if w.wanted != nil {
			p.WantedUA = finite(w.wanted[k])
		}
		for pair := range w.Pairs {
			c, err := w.current(k, pair, &spreads[pair])
			if err != nil {
				return err
			}
			p.NominalUA += c.NominalUA / float64(len(w.Pairs))
			p.Currents = append(p.Currents, c)
		}
		p.ErrorPercent = w.off(p.NominalUA, k)
		w.doc.Positions = append(w.doc.Positions, p)
	}
	w.measured()
	return nil
}

// off is how far a current lies from what its position was wanted for, in
// percent.
func (w *rigWork) off(uA float64, position int) *float64 {
	if w.wanted == nil {
		return nil
	}
	return finite(100 * (uA/w.wanted[position] - 1))
}

func (w *rigWork) current(k, pair int, s *pairSpread) (RigCurrent, error) {
	at, err := w.At(k, pair)
	if err != nil {
		return RigCurrent{}, err
	}
	c := RigCurrent{
		Pair: w.Pairs[pair].Label, NominalUA: at.Electrodes * 1e6, SupplyUA: at.Supply * 1e6, PairV: at.PairV, UsedUA: at.Electrodes * 1e6,
		ErrorPercent: w.off(at.Electrodes*1e6, k), WorstUA: microamperes(s.worst[k]), DrawnUA: microamperes(s.drawn[k]), SeasonUA: microamperes(s.season[k]),
	}
	if at.Supply == 0 {
		w.warn.add(fmt.Sprintf("Nothing flows: the electrodes' polarisation of %g V uses up the whole voltage.", w.Electrodes.PolarisationV))
	}
	if !w.Supply.Constant {
		for _, end := range []struct {
			volt float64
			into **float64
		}{{w.Supply.FullV, &c.FullUA}, {w.Supply.EmptyV, &c.EmptyUA}} {
			at, err := w.AtVoltage(k, pair, end.volt)
			if err != nil {
				return RigCurrent{}, err
			}
			*end.into = finite(at.Electrodes * 1e6)
		}
	}
	if a := w.spec.Ammeter; a != nil {
		shift, err := w.MeterShift(k, pair, a.BurdenOhm)
		if err != nil {
			return RigCurrent{}, err
		}
		c.MeterShift = finite(100 * shift)
	}
	return c, nil
}

// measured lays what was measured beside what is nominal.
func (w *rigWork) measured() {
	for i := range w.doc.Positions {
		p := &w.doc.Positions[i]
		for j := range p.Currents {
			w.measuredAt(p.Label, &p.Currents[j])
		}
	}
	for i := range w.spec.Measured {
		w.judgeBench(&w.spec.Measured[i])
	}
}

func (w *rigWork) measuredAt(position string, c *RigCurrent) {
	var newest *RigBench
	for i := range w.spec.Measured {
		m := &w.spec.Measured[i]
		if m.Position == position && (m.Pair == "" || m.Pair == c.Pair) && m.CurrentUA != nil && (newest == nil || m.Date >= newest.Date) {
			newest = m
		}
	}
	if newest == nil {
		return
	}
	v := *newest.CurrentUA
	c.MeasuredUA, c.MeasuredOn, c.UsedUA = finite(v), newest.Date, v
	if c.NominalUA > 0 {
		c.MeasuredOff = finite(100 * (v/c.NominalUA - 1))
	}
	if low, high := c.SeasonUA[0], c.SeasonUA[1]; math.Abs(v) < low || math.Abs(v) > high {
		w.warn.add(fmt.Sprintf("Position %s, pair %s: the %.4g µA measured on %s lie outside the worst case of %.4g to %.4g µA: something is not as it is written here.", position, c.Pair, v, newest.Date, low, high))
	}
}

// judgeBench says what a measurement shows beside its current.
func (w *rigWork) judgeBench(m *RigBench) {
	if m.Position != "" && !slices.ContainsFunc(w.Steps, func(s rig.Step) bool { return s.Label == m.Position }) {
		w.warn.add(fmt.Sprintf("There is no position %q, for which something was measured on %s.", m.Position, m.Date))
	}
	if m.Pair != "" && !slices.ContainsFunc(w.Pairs, func(p rig.Pair) bool { return p.Label == m.Pair }) {
		w.warn.add(fmt.Sprintf("There is no pair %q, for which something was measured on %s.", m.Pair, m.Date))
	}
	if m.OffsetMV != nil && math.Abs(*m.OffsetMV) > w.Electrodes.OffsetV*1000*(1+1e-9) {
		w.warn.add(fmt.Sprintf("Pair %s had an offset of %.4g mV on %s, more than the %.4g mV that are counted with.", m.Pair, *m.OffsetMV, m.Date, w.Electrodes.OffsetV*1000))
	}
	if m.SilentUA != nil && *m.SilentUA != 0 {
		w.warn.add(fmt.Sprintf("Pair %s carried %.4g µA on %s while it was silent.", m.Pair, *m.SilentUA, m.Date))
	}
}

// smallWater says from which distance on points stand for electrodes: at five
// radii the potential of a disc is 0.7 % off (REFERENCES: (r/a)·asin(a/r)).
const smallWater = 5

func (w *rigWork) pairFacts() error {
	w.doc.Electrodes = []RigPairFacts{}
	for i := range w.Pairs {
		p := &w.Pairs[i]
		self := w.Electrodes.SpreadingOhm(p.DiameterM, w.WaterSPerM)
		w.doc.Electrodes = append(w.doc.Electrodes, RigPairFacts{
			Pair: p.Label, SelfOhm: self, BridgeOhm: w.Electrodes.BridgeOhm, PairOhm: w.PairOhm(i), OffsetUA: w.OffsetThrough(i) * 1e6,
			FaceMM2: w.Electrodes.FaceM2(p.DiameterM) * 1e6, Millivolts: w.doc.Positions[0].Currents[i].NominalUA * w.PairOhm(i) / 1000,
		})
		if p.SeparationM < smallWater*p.DiameterM/2 {
			w.warn.add(fmt.Sprintf("Pair %s: its electrodes lie nearer than five radii; what they share of the water is taken between points, and is off by more than 1 %%.", p.Label))
		}
	}
	return nil
}

func (w *rigWork) losses() error {
	parts := []struct {
		part rig.Part
		here bool
		text string
	}{
		{rig.PartBattery, !w.Supply.Constant, "The battery's own resistance."},
		{rig.PartAmmeter, w.AmmeterOhm > 0, "The ammeter that stays in."},
		{rig.PartCable, true, "Both cores of the cable."},
		{rig.PartLeak, w.Cable.LeakOhm > 0 || w.Cable.LeakToWaterOhm > 0, "What passes the insulation of the cable."},
		{rig.PartBridge, w.Electrodes.BridgeOhm > 0, "Both salt bridges."},
		{rig.PartWater, true, "The water between the electrodes."},
		{rig.PartPolarisation, w.Electrodes.PolarisationV > 0, "The voltage that the electrodes use up before a current flows."},
	}
	for _, p := range parts {
		if !p.here {
			continue
		}
		share, err := w.Lost(0, 0, p.part)
		if err != nil {
			return err
		}
		w.doc.Lost = append(w.doc.Lost, RigLoss{What: string(p.part), Percent: 100 * share, Text: p.text})
	}
	return nil
}
