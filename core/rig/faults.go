package rig

import "math"

// What bodies and animals are measured against.
const (
	// FeltA is the direct current through a body that is about felt (IEC 60479-1,
	// zone DC-1 up to 2 mA; from memory).
	FeltA = 2e-3
	// TwitchVPerM is the field at which sharks twitched, the smaller mean of two
	// species (Mar. Technol. Soc. J. 42(2), 2008).
	TwitchVPerM = 4.16
	// bareM is the radius of a sphere that stands for a bare connector pin or the
	// end of a broken core.
	bareM = 1e-3
	// nearM and beyondM: the field near a pair is told 1 cm from its centre, and
	// at least 5 mm beyond the middle of an electrode (half of that beyond its rim).
	nearM, beyondM = 0.01, 0.005
	// leastA is what the arithmetic leaves of 100 V where nothing flows.
	leastA = 1e-13
)

// Case is something that can break.
type Case string

// The cases. Plus and minus are the two legs.
const (
	Intact        Case = "none"
	ShortAtPlate  Case = "short_at_plate"
	FloodedPlus   Case = "flooded_plus"
	FloodedMinus  Case = "flooded_minus"
	FloodedBoth   Case = "flooded_both"
	LimitingPlus  Case = "limiting_plus_shorted"
	LimitingMinus Case = "limiting_minus_shorted"
	LadderShorted Case = "ladder_shorted"
	BetweenTaps   Case = "switch_between"
	OpenPlus      Case = "open_plus"
	OpenMinus     Case = "open_minus"
	BarePlus      Case = "bare_plus"
	BareMinus     Case = "bare_minus"
	LeakAtBattery Case = "leak_at_battery"
	LimitingBoth  Case = "limiting_both_shorted"
	FullVoltage   Case = "full_voltage"
	SupplyUnbound Case = "supply_unbound"
	AtCompliance  Case = "at_compliance"
)

// Cases are those of a rig, the intact one first.
func (r *Rig) Cases() []Case {
	legs := []Case{ShortAtPlate, FloodedPlus, FloodedMinus, FloodedBoth, OpenPlus, OpenMinus, BarePlus, BareMinus}
	if r.Supply.Constant {
		legs[4] = AtCompliance // an open leg
		return append(append([]Case{Intact}, legs...), SupplyUnbound)
	}
	return append(append([]Case{Intact}, legs...), LimitingPlus, LimitingMinus, LadderShorted, BetweenTaps, LeakAtBattery, LimitingBoth, FullVoltage)
}

// Single reports whether a case is one fault, and not two at once.
func (c Case) Single() bool { return c != LimitingBoth && c != FullVoltage }

// Fault is what a case does, in amperes and volts.
type Fault struct {
	Case      Case
	Pair      int
	Electrode float64 // the largest current through an electrode
	Elsewhere float64 // the largest that enters the water anywhere else
	Supply    float64
	WaterV    float64 // the largest voltage between bare conductors, or one and the water far away
	Diver     float64 // through a diver across any two of them
	NearVPerM float64 // field on the axis at NearM from the pair's centre, or 1 cm from where current enters elsewhere
	NearM     float64
	FaceVPerM float64 // mean field at the face of an electrode
}

// leakOhmWhereNone is counted between poles of a damp battery box where no leak
// is stated.
const leakOhmWhereNone = 1e6

// poleLeakOhm is what leaks from each pole of the battery to the water: as from
// a leg, or half of what is between two legs.
func (r *Rig) poleLeakOhm() float64 {
	switch {
	case r.Cable.LeakToWaterOhm > 0:
		return r.Cable.LeakToWaterOhm
	case r.Cable.LeakOhm > 0:
		return r.Cable.LeakOhm / 2
	}
	return leakOhmWhereNone / 2
}

// broken is a rig with a fault in it, as a network.
type broken struct {
	*network
	supply  int   // which source
	bare    []int // nodes that a hand can reach
	leaks   []int // places of resistors into the water in the list
	driven  ends
	setting float64 // A, of constant current; 0: a battery
}

// breakAt builds the network of a case at a position: full battery, the driven
// pair alone, without polarisation, which could only lower what flows. diver are two nodes of bare that a diver joins; nil: nobody.
func (r *Rig) breakAt(c Case, position, pair int, diver *[2]int) *broken {
	v := r.nominal()
	b := &broken{network: newNetwork()}
	plus, minus := b.node(), b.node()
	b.feed(r, &v, c, position, plus, minus)
	b.driven = r.pairOf(b.network, &v, pair)
	e := b.driven
	opened := map[Case]int{OpenPlus: 0, BarePlus: 0, OpenMinus: 1, BareMinus: 1, AtCompliance: 0}
	if which, ok := opened[c]; ok {
		e.leg[which] = b.node()
		b.bare = append(b.bare, e.leg[which])
	}
	b.bare = append(b.bare, b.driven.metal[0], b.driven.metal[1])
	r.legs(b.network, [2]int{plus, minus}, e)
	b.damage(r, c, e)
	b.water = r.waterOhm(b.contacts, v.sPerM)
	if diver != nil {
		b.resist(diver[0], diver[1], r.DiverOhm)
	}
	return b
}

// feed puts the supply and what lies between it and the switch.
func (b *broken) feed(r *Rig, v *values, c Case, position int, plus, minus int) {
	if r.Supply.Constant {
		b.supply = b.drive(plus, minus, r.Supply.ComplianceV, 0)
		if c != SupplyUnbound {
			b.setting = r.Steps[position].Ampere * (1 + r.Supply.ConstantBy)
		}
		return
	}
	limiting, chain := v.limiting, v.chain(position)
	switch c {
	case LimitingPlus:
		limiting[0] = 0
	case LimitingMinus:
		limiting[1] = 0
	case LimitingBoth:
		limiting = [2]float64{}
	case LadderShorted:
		chain = 0
	case BetweenTaps:
		chain = v.chain(0)
	case FullVoltage:
		limiting, chain = [2]float64{}, 0
	}
	poles := [2]int{b.node(), b.node()}
	b.supply = b.drive(poles[0], poles[1], r.Supply.FullV, r.Supply.InternalOhm)
	b.resist(poles[0], plus, limiting[0]+chain+r.AmmeterOhm)
	b.resist(minus, poles[1], limiting[1])
	if c == LeakAtBattery {
		b.leak(poles[0], r.poleLeakOhm())
		b.leak(poles[1], r.poleLeakOhm())
	}
}

func (b *broken) leak(node int, ohm float64) {
	b.leaks = append(b.leaks, len(b.resistors))
	b.resist(node, farAway, ohm)
}

// damage adds what a case does at the plate. A bare pin or end is far from all
// electrodes, in open water: ρ/(4πa).
func (b *broken) damage(r *Rig, c Case, e ends) {
	bare := 1 / (4 * math.Pi * r.WaterSPerM * bareM)
	switch c {
	case ShortAtPlate:
		b.resist(e.metal[0], e.metal[1], 0)
	case FloodedPlus, BarePlus:
		b.leak(e.leg[0], bare)
	case FloodedMinus, BareMinus:
		b.leak(e.leg[1], bare)
	case FloodedBoth:
		b.leak(e.leg[0], bare)
		b.leak(e.leg[1], bare)
	}
}

// settle solves it. A supply of constant current gives its setting, or its
// compliance where that drives less. A battery that polarisation holds up gives
// nothing.
func (b *broken) settle() (state, float64, error) {
	s, err := b.factor()
	if err != nil {
		return state{}, 0, err
	}
	out, err := s.solve(1, 1)
	if err != nil {
		return state{}, 0, err
	}
	given := out.sources[b.supply]
	if b.setting > 0 && given > b.setting {
		held := *b.network
		src := held.sources[b.supply]
		held.sources = append(append([]source(nil), held.sources[:b.supply]...), held.sources[b.supply+1:]...)
		if s, err = held.factor(); err != nil {
			return state{}, 0, err
		}
		out, err = s.solve(1, 1, injection{src.plus, src.minus, b.setting})
		return out, b.setting, err
	}
	return out, given, nil
}

// Break is what a case does at a position with one pair driven.
func (r *Rig) Break(c Case, position, pair int) (Fault, error) {
	b := r.breakAt(c, position, pair, nil)
	s, supply, err := b.settle()
	if err != nil {
		return Fault{}, err
	}
	f := Fault{Case: c, Pair: pair, Supply: supply}
	currents := [2]float64{s.contacts[b.driven.contact[0]], s.contacts[b.driven.contact[1]]}
	for i := range currents {
		if math.Abs(currents[i]) < math.Max(leastA, rounding*1e3*math.Abs(supply)) {
			currents[i] = 0 // a short or an open leg leaves nothing for the water
		}
	}
	f.Electrode = math.Max(math.Abs(currents[0]), math.Abs(currents[1]))
	for _, k := range b.leaks {
		leak := b.resistors[k]
		f.Elsewhere = math.Max(f.Elsewhere, math.Abs(s.volt[leak.a])/leak.ohm)
	}
	for _, two := range b.touched() {
		f.WaterV = math.Max(f.WaterV, math.Abs(s.volt[two[0]]-s.volt[two[1]]))
		with, _, err := r.breakAt(c, position, pair, &two).settle()
		if err != nil {
			return Fault{}, err
		}
		f.Diver = math.Max(f.Diver, math.Abs(with.volt[two[0]]-with.volt[two[1]])/r.DiverOhm)
	}
	r.fields(&f, currents)
	return f, nil
}

// touched are all twos of what a hand can reach, the water itself included.
func (b *broken) touched() [][2]int {
	places := append([]int{farAway}, b.bare...)
	var out [][2]int
	for i := range places {
		for _, other := range places[i+1:] {
			out = append(out, [2]int{places[i], other})
		}
	}
	return out
}

func (r *Rig) fields(f *Fault, currents [2]float64) {
	p := &r.Pairs[f.Pair]
	f.NearM = math.Max(nearM, p.SeparationM/2+math.Max(beyondM, p.DiameterM/2+beyondM/2))
	f.NearVPerM = math.Max(r.AxisVPerM(f.Pair, f.NearM, currents[0], currents[1]), r.AxisVPerM(f.Pair, f.NearM, currents[1], currents[0]))
	if elsewhere := f.Elsewhere / (4 * math.Pi * r.WaterSPerM * nearM * nearM); elsewhere > f.NearVPerM {
		f.NearVPerM = elsewhere
	}
	f.FaceVPerM = f.Electrode / r.Electrodes.FaceM2(p.DiameterM) / r.WaterSPerM
}

// BreakWorst is what a case does with the driven pair that is worst: the largest
// current through a diver, else through an electrode.
func (r *Rig) BreakWorst(c Case, position int) (Fault, error) {
	var worst Fault
	for pair := range r.Pairs {
		f, err := r.Break(c, position, pair)
		if err != nil {
			return Fault{}, err
		}
		if pair == 0 || f.Diver > worst.Diver*(1+1e-9) || f.Diver >= worst.Diver && f.Electrode > worst.Electrode {
			worst = f
		}
	}
	return worst, nil
}
