package app

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"brinefield/core/rig"
)

// What stands in where a rig does not say. The battery's resistance is that of
// an alkaline block of 9 V at 1 kHz (a maker's data sheet).
const (
	usualInternalOhm   = 1.7
	usualDiverOhm      = 750
	lowDiverOhm        = 500 // above lowDiverV
	lowDiverV          = 50
	usualOffsetMV      = 1
	usualStepsPercent  = 1
	usualErrorPercent  = 5
	usualMostResistors = 2
	resistorsAtC       = 20
	fineTolerance      = 1 // percent, from which on E96 is meant
)

// builtRig is a rig as the core takes it, with what the specification says of
// each position.
type builtRig struct {
	rig.Rig
	spec   *RigSpec
	wanted []float64 // µA of each position; nil where the resistors were given
	series rig.Series
	cable  RigCableFacts
	warn   warnings
}

func corePair(p *RigPair) rig.Pair {
	return rig.Pair{Label: p.Label, XM: p.CentreM[0], YM: p.CentreM[1], SeparationM: p.SeparationM, AzimuthDeg: p.AzimuthDeg, DiameterM: p.ElectrodeDiameterM}
}

// build makes the rig of a specification that was checked, and chooses the
// resistors of its ladder. An impossible one is a [*KnobsError].
func (s *RigSpec) build() (*builtRig, error) {
	b := &builtRig{spec: s}
	b.WaterSPerM, b.WaterSPerMSD = s.WaterSPerM, rigElse(s.WaterSPerMSD, 0)
	b.Silent = rig.Silence(s.Silent)
	for i := range s.Pairs {
		b.Pairs = append(b.Pairs, corePair(&s.Pairs[i]))
	}
	if s.Ammeter != nil && s.Ammeter.StaysIn {
		b.AmmeterOhm = s.Ammeter.BurdenOhm
	}
	b.electrodes()
	b.wires()
	b.supply()
	b.DiverOhm = rigElse(s.DiverOhm, usualDiverOhm)
	if s.DiverOhm == nil && max(b.Supply.FullV, b.Supply.ComplianceV) > lowDiverV {
		b.DiverOhm = lowDiverOhm
	}
	return b, b.ladder()
}

func (b *builtRig) electrodes() {
	e := &b.spec.Electrodes
	b.Electrodes = rig.Electrodes{
		Shape: rig.Shape(e.Shape), OnPlate: e.On == onPlate,
		PolarisationV: rigElse(e.PolarisationV, 0), PolarisationSDV: rigElse(e.PolarisationSD, 0), OffsetV: rigElse(e.OffsetMV, usualOffsetMV) / 1000,
	}
	if e.Bridge != nil {
		b.Electrodes.BridgeOhm = rig.BridgeOhm(e.Bridge.LengthM, e.Bridge.BoreM, e.Bridge.SPerM)
	}
}

func (b *builtRig) wires() {
	k := &b.spec.Cable
	var perM float64
	if k.AWG != nil {
		perM = rig.AWGOhmPerM(*k.AWG)
		b.cable.From = fmt.Sprintf("Solid copper of AWG %d, from its diameter.", *k.AWG)
	} else {
		perM, _ = rig.CoreOhmPerM(*k.MM2, k.class(), k.Tinned)
		tinned := ""
		if k.Tinned {
			tinned = ", tinned"
		}
		b.cable.From = fmt.Sprintf("The most that IEC 60228 allows a core of %g mm², class %d%s.", *k.MM2, k.class(), tinned)
	}
	b.cable.OhmPerKM = perM * 1000
	b.cable.LegOhm = rig.CopperAt(perM, rigElse(k.TemperatureC, resistorsAtC)) * k.LengthM
	b.Cable = rig.Cable{LegOhm: b.cable.LegOhm, LeakOhm: rigElse(k.LeakMohm, 0) * 1e6, LeakToWaterOhm: rigElse(k.LeakToWaterMohm, 0) * 1e6}
}

func (b *builtRig) supply() {
	u := &b.spec.Supply
	if u.Kind == supplyConstant {
		b.Supply = rig.Supply{Constant: true, ConstantBy: rigElse(u.TolerancePercent, 0) / 100, ComplianceV: *u.ComplianceV}
		if b.spec.Limiting != nil {
			b.warn.add("With a supply of constant current the limiting resistors are not counted.")
		}
		return
	}
	b.Supply = rig.Supply{
		VoltageV: *u.VoltageV, FullV: rigElse(u.FullV, *u.VoltageV), EmptyV: rigElse(u.EmptyV, *u.VoltageV), InternalOhm: rigElse(u.InternalOhm, usualInternalOhm),
	}
	if u.InternalOhm == nil {
		b.warn.add(fmt.Sprintf("The battery's own resistance is not stated: %g Ω was counted, as of an alkaline block of 9 V.", usualInternalOhm))
	}
	l := b.spec.Limiting
	warm := rigElse(l.PPMPerC, 0) * 1e-6 * max(rigElse(b.spec.TemperatureC, resistorsAtC)-resistorsAtC, resistorsAtC-rigElse(b.spec.TemperatureC, resistorsAtC))
	b.Limiting = [2]float64{l.Ohm[0], l.Ohm[1]}
	b.LimitingBy = l.TolerancePercent/100 + warm
	b.StepsBy = rigElse(b.spec.Ladder.TolerancePercent, usualStepsPercent)/100 + warm
	if l.Ohm[0] == 0 || l.Ohm[1] == 0 {
		b.warn.add("A leg has no limiting resistor at the battery: one fault in the other puts the whole battery on the plate.")
	}
}

// ladder takes the resistors that are given, or chooses them.
func (b *builtRig) ladder() error {
	l := &b.spec.Ladder
	b.series = rig.Series(l.Series)
	if b.series == "" {
		b.series = rig.E24
		if rigElse(l.TolerancePercent, usualStepsPercent) <= fineTolerance {
			b.series = rig.E96
		}
	}
	if len(l.Positions) > 0 {
		for _, p := range l.Positions {
			b.Steps = append(b.Steps, rig.Step{Label: p.Label, Ohm: p.Ohm})
		}
		return nil
	}
	order := make([]int, len(l.WantedUA))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Compare(l.WantedUA[j], l.WantedUA[i]) })
	var ampere []float64
	for k, i := range order {
		b.wanted = append(b.wanted, l.WantedUA[i])
		ampere = append(ampere, l.WantedUA[i]*1e-6)
		if b.Supply.Constant {
			b.Steps = append(b.Steps, rig.Step{Label: fmt.Sprint(k + 1), Ampere: ampere[k]})
		}
	}
	if b.Supply.Constant {
		return nil
	}
	most := usualMostResistors
	if l.MostResistors != nil {
		most = *l.MostResistors
	}
	steps, err := b.Ladder(rig.Wish{Ampere: ampere, Series: b.series, MostResistors: most, LargestError: rigElse(l.LargestErrorPercent, usualErrorPercent) / 100})
	var unreachable *rig.UnreachableError
	if errors.As(err, &unreachable) {
		place := fmt.Sprintf("rig/ladder/wanted_uA/%d", order[unreachable.Position])
		return &KnobsError{[]KnobFault{{place, unreachable.Error(), b.reachable(unreachable)}}}
	}
	b.Steps = steps
	return err
}

// reachable says what would make a wanted current possible.
func (b *builtRig) reachable(e *rig.UnreachableError) string {
	switch {
	case e.Nearest == 0:
		return "a battery with more voltage than the electrodes' polarisation uses up"
	case e.Nearest < e.Wanted && len(e.Ohm) == 0:
		return fmt.Sprintf("at most %.4g µA with these limiting resistors (%s and %s), or smaller ones", e.Nearest*1e6, rig.OhmText(b.Limiting[0]), rig.OhmText(b.Limiting[1]))
	}
	return fmt.Sprintf("%.4g µA, a finer series, more resistors for a step, or a larger error than %g %%", e.Nearest*1e6, rigElse(b.spec.Ladder.LargestErrorPercent, usualErrorPercent))
}
