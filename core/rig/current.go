package rig

import "math"

// Current is what one position drives through one pair, in amperes and volts.
type Current struct {
	Electrodes float64 // the mean of what leaves the positive and what enters the negative electrode
	Supply     float64
	PairV      float64 // between the metal of the two electrodes
	SupplyV    float64 // at the switch
}

// At is the nominal current of a position through a pair.
func (r *Rig) At(position, pair int) (Current, error) {
	v := r.nominal()
	return r.at(&v, position, pair)
}

// AtVoltage is the same at another voltage of the battery.
func (r *Rig) AtVoltage(position, pair int, volt float64) (Current, error) {
	v := r.nominal()
	v.voltageV = volt
	return r.at(&v, position, pair)
}

func (r *Rig) at(v *values, position, pair int) (Current, error) {
	l, err := r.loadOf(v, pair, r.Silent, r.Silent == OpenBoth)
	if err != nil {
		return Current{}, err
	}
	return r.current(l, v, position)
}

func (r *Rig) current(l *load, v *values, position int) (Current, error) {
	i, volt := r.supplied(l, v, position)
	s, err := l.stepped.solve(0, 1, injection{l.plus, l.minus, i})
	if err != nil {
		return Current{}, err
	}
	c := Current{
		Electrodes: l.through(i),
		Supply:     i, SupplyV: volt, PairV: s.volt[l.driven.metal[0]] - s.volt[l.driven.metal[1]],
	}
	if i == 0 { // polarisation holds everything up: nothing flows, it does not drive back
		c.PairV, c.SupplyV = v.voltageV, v.voltageV
	}
	return c, nil
}

// MeterShift is the share by which a meter in the positive leg lowers the
// current of a position while it is there.
func (r *Rig) MeterShift(position, pair int, burdenOhm float64) (float64, error) {
	with, without := *r, *r
	with.AmmeterOhm, without.AmmeterOhm = burdenOhm, 0
	a, err := with.At(position, pair)
	if err != nil {
		return 0, err
	}
	b, err := without.At(position, pair)
	if err != nil || b.Electrodes == 0 {
		return 0, err
	}
	return 1 - a.Electrodes/b.Electrodes, nil
}

// Part names a part of a rig that takes some of the current.
type Part string

// The parts.
const (
	PartBattery      Part = "battery"
	PartAmmeter      Part = "ammeter"
	PartCable        Part = "cable"
	PartLeak         Part = "leak"
	PartBridge       Part = "bridge"
	PartWater        Part = "water"
	PartPolarisation Part = "polarisation"
)

// without is the rig with a part that takes nothing.
func (r *Rig) without(p Part) Rig {
	out := *r
	switch p {
	case PartBattery:
		out.Supply.InternalOhm = 0
	case PartAmmeter:
		out.AmmeterOhm = 0
	case PartCable:
		out.Cable.LegOhm = 0
	case PartLeak:
		out.Cable.LeakOhm, out.Cable.LeakToWaterOhm = 0, 0
	case PartBridge:
		out.Electrodes.BridgeOhm = 0
	case PartWater:
		out.WaterSPerM *= 1e9
	case PartPolarisation:
		out.Electrodes.PolarisationV = 0
	}
	return out
}

// Lost is the share by which a part lowers the current of a position through a
// pair.
func (r *Rig) Lost(position, pair int, p Part) (float64, error) {
	with, err := r.At(position, pair)
	if err != nil {
		return 0, err
	}
	other := r.without(p)
	free, err := other.At(position, pair)
	if err != nil || free.Electrodes == 0 || math.IsNaN(with.Electrodes/free.Electrodes) {
		return 0, err
	}
	return 1 - with.Electrodes/free.Electrodes, nil
}
