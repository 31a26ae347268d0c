package app

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"brinefield/core/rig"
)

// The words of a rig.
const (
	supplyBattery  = "battery"
	supplyConstant = "constant_current"
	onPlate        = "plate"
	onWater        = "water"
)

// What a rig may hold at most. 120 V is the limit of extra-low voltage of
// direct current (IEC 61140).
const (
	mostRigPairs     = 12
	mostRigPositions = 24
	mostRigBench     = 2000
	mostRigV         = 120
	mostRigOhm       = 1e10
	mostRigUA        = 1e6
)

// rigMaybe is a number that may be absent.
func (c *knobCheck) rigMaybe(place string, v *float64, low, high float64, expected string) {
	if v != nil {
		c.within(place, *v, low, high, expected)
	}
}

// rigNeeded is a number above 0 that must be there.
func (c *knobCheck) rigNeeded(place string, v *float64, high float64, expected string) {
	if v == nil {
		c.fault(place, "missing", expected)
		return
	}
	c.above0(place, *v, high, expected)
}

// check says everything that is wrong with a rig, each with its place.
func (s *RigSpec) check() error {
	c := &knobCheck{}
	c.above0("rig/water_S_per_m", s.WaterSPerM, 100, "a conductivity above 0 and up to 100 S/m")
	if sd := s.WaterSPerMSD; sd != nil && !(*sd >= 0 && *sd <= s.WaterSPerM/4) {
		c.fault("rig/water_S_per_m_sd", fmt.Sprintf("found %g", *sd), "0 or more, and up to a quarter of the conductivity")
	}
	s.checkSupply(c)
	s.checkLimiting(c)
	s.checkLadder(c)
	s.Cable.check(c)
	s.Electrodes.check(c)
	s.checkRigPairs(c)
	if a := s.Ammeter; a != nil {
		c.within("rig/ammeter/burden_ohm", a.BurdenOhm, 0, mostRigOhm, "a resistance of 0 Ω or more")
	}
	c.oneOf("rig/silent", s.Silent, string(rig.OpenBoth), string(rig.OpenOne), string(rig.Closed))
	if u := s.Use; u != nil {
		c.above0("rig/use/hours_per_day", u.HoursPerDay, 24, "hours above 0 and up to 24")
		c.above0("rig/use/days", u.Days, 10000, "days above 0 and up to 10 000")
	}
	c.rigMaybe("rig/temperature_C", s.TemperatureC, -30, 80, "a temperature between -30 and 80 °C")
	c.rigMaybe("rig/diver_ohm", s.DiverOhm, 50, 1e6, "a resistance between 50 and 1 000 000 Ω; 750 is usual below 50 V")
	if w := s.WantedField; w != nil {
		c.above0("rig/wanted_field/nV_per_cm", w.NVPerCm, 1e12, "a field above 0 nV/cm, such as 5")
		c.above0("rig/wanted_field/at_m", w.AtM, farthestM, "a distance above 0 m from the pair's centre")
	}
	s.checkMeasured(c)
	return c.err()
}

func (s *RigSpec) checkSupply(c *knobCheck) {
	u := &s.Supply
	c.oneOf("rig/supply/kind", u.Kind, supplyBattery, supplyConstant)
	volts := fmt.Sprintf("a voltage above 0 and up to %d V, the limit of extra-low voltage", mostRigV)
	switch u.Kind {
	case supplyBattery:
		c.rigNeeded("rig/supply/voltage_V", u.VoltageV, mostRigV, volts)
		if u.FullV != nil {
			c.above0("rig/supply/full_V", *u.FullV, mostRigV, volts)
		}
		if u.EmptyV != nil {
			c.above0("rig/supply/empty_V", *u.EmptyV, mostRigV, volts)
		}
		if u.VoltageV != nil && rigElse(u.FullV, *u.VoltageV) < rigElse(u.EmptyV, *u.VoltageV) {
			c.fault("rig/supply/empty_V", "it is more than the full battery has", "at most the voltage of the full battery")
		}
		if u.InternalOhm != nil {
			c.above0("rig/supply/internal_ohm", *u.InternalOhm, mostRigOhm, "a resistance above 0 Ω; a block of 9 V has about 1.7")
		}
		if u.CapacityMAh != nil {
			c.above0("rig/supply/capacity_mAh", *u.CapacityMAh, 1e9, "a capacity above 0 mAh")
		}
	case supplyConstant:
		c.rigNeeded("rig/supply/current_uA", u.CurrentUA, mostRigUA, "the largest current that it can be set to, above 0 µA")
		c.rigNeeded("rig/supply/compliance_V", u.ComplianceV, mostRigV, volts)
		c.rigMaybe("rig/supply/tolerance_percent", u.TolerancePercent, 0, 50, "a tolerance between 0 and 50 %")
	}
}

func (s *RigSpec) checkLimiting(c *knobCheck) {
	l := s.Limiting
	if s.Supply.Kind != supplyBattery {
		return
	}
	if l == nil {
		c.fault("rig/limiting", "missing", "two limiting resistors at the battery, one in each leg; 0 Ω where there is none")
		return
	}
	if len(l.Ohm) != 2 {
		c.fault("rig/limiting/ohm", fmt.Sprintf("found %d numbers", len(l.Ohm)), "two: in the positive leg and in the negative leg, in Ω")
	}
	for i, v := range l.Ohm {
		c.within(fmt.Sprintf("rig/limiting/ohm/%d", i), v, 0, mostRigOhm, "a resistance of 0 Ω or more")
	}
	c.within("rig/limiting/tolerance_percent", l.TolerancePercent, 0, 50, "a tolerance between 0 and 50 %")
	c.rigMaybe("rig/limiting/ppm_per_C", l.PPMPerC, 0, 1e4, "between 0 and 10 000 millionths for each °C")
}

func (s *RigSpec) checkLadder(c *knobCheck) {
	l := &s.Ladder
	if l.Series != "" {
		c.oneOf("rig/ladder/series", l.Series, string(rig.E24), string(rig.E96))
	}
	c.rigMaybe("rig/ladder/tolerance_percent", l.TolerancePercent, 0, 50, "a tolerance between 0 and 50 %")
	if n := l.MostResistors; n != nil && (*n < 1 || *n > 3) {
		c.fault("rig/ladder/most_resistors", fmt.Sprintf("found %d", *n), "1, 2 or 3 resistors for a step")
	}
	if e := l.LargestErrorPercent; e != nil {
		c.above0("rig/ladder/largest_error_percent", *e, 50, "an error above 0 and up to 50 %")
	}
	switch {
	case len(l.WantedUA) > 0 && len(l.Positions) > 0:
		c.fault("rig/ladder", "both wanted_uA and positions", "the wanted currents, or the resistors that are there")
	case len(l.WantedUA) > 0:
		s.checkWanted(c)
	case s.Supply.Kind == supplyConstant:
		c.fault("rig/ladder/wanted_uA", "missing", "the settings of the supply, in µA")
	case len(l.Positions) > 0:
		l.checkPositions(c)
	default:
		c.fault("rig/ladder/wanted_uA", "missing", "the wanted currents in µA, or positions with the resistors that are there")
	}
}

func (s *RigSpec) checkWanted(c *knobCheck) {
	wanted := s.Ladder.WantedUA
	if len(wanted) > mostRigPositions {
		c.fault("rig/ladder/wanted_uA", fmt.Sprintf("found %d", len(wanted)), fmt.Sprintf("up to %d currents", mostRigPositions))
	}
	for i, v := range wanted {
		place := fmt.Sprintf("rig/ladder/wanted_uA/%d", i)
		c.above0(place, v, mostRigUA, "a current above 0 µA")
		if slices.Contains(wanted[:i], v) {
			c.fault(place, fmt.Sprintf("%g µA stands there twice", v), "each current once")
		}
		if most := s.Supply.CurrentUA; s.Supply.Kind == supplyConstant && most != nil && v > *most {
			c.fault(place, fmt.Sprintf("found %g", v), fmt.Sprintf("at most the %g µA that the supply gives", *most))
		}
	}
}

func (l *RigLadder) checkPositions(c *knobCheck) {
	if len(l.Positions) > mostRigPositions {
		c.fault("rig/ladder/positions", fmt.Sprintf("found %d", len(l.Positions)), fmt.Sprintf("up to %d positions", mostRigPositions))
	}
	seen := map[string]bool{}
	for i, p := range l.Positions {
		place := fmt.Sprintf("rig/ladder/positions/%d", i)
		if strings.TrimSpace(p.Label) == "" || seen[p.Label] {
			c.fault(place+"/label", fmt.Sprintf("found %q", p.Label), "a label of its own for each position")
		}
		seen[p.Label] = true
		if len(p.Ohm) > 20 {
			c.fault(place+"/ohm", fmt.Sprintf("found %d resistors", len(p.Ohm)), "up to 20 for a step")
		}
		for j, v := range p.Ohm {
			c.above0(fmt.Sprintf("%s/ohm/%d", place, j), v, mostRigOhm, "a resistance above 0 Ω")
		}
	}
}

func (k *RigCable) check(c *knobCheck) {
	c.above0("rig/cable/length_m", k.LengthM, 10000, "a length above 0 and up to 10 000 m")
	switch {
	case k.AWG != nil && k.MM2 != nil:
		c.fault("rig/cable/awg", "both awg and mm2", "one of them")
	case k.AWG != nil:
		c.within("rig/cable/awg", float64(*k.AWG), 0, 40, "a gauge between 0 and 40")
	case k.MM2 == nil:
		c.fault("rig/cable/mm2", "missing", "a cross-section of IEC 60228 in mm², or awg")
	default:
		if _, err := rig.CoreOhmPerM(*k.MM2, k.class(), k.Tinned); err != nil {
			c.fault("rig/cable/mm2", err.Error(), "0.5, 0.75, 1, 1.5, 2.5 or 4 mm² of class 1, 2, 5 or 6 (tinned: 5 or 6)")
		}
	}
	c.rigMaybe("rig/cable/temperature_C", k.TemperatureC, -30, 80, "a temperature between -30 and 80 °C")
	if v := k.LeakMohm; v != nil {
		c.within("rig/cable/leak_Mohm", *v, 1e-6, 1e9, "an insulation above 0 MΩ, or null where none leaks")
	}
	if v := k.LeakToWaterMohm; v != nil {
		c.within("rig/cable/leak_to_water_Mohm", *v, 1e-6, 1e9, "an insulation above 0 MΩ, or null where none leaks")
	}
}

func (k *RigCable) class() int {
	if k.Class == nil {
		return 5
	}
	return *k.Class
}

func (e *RigElectrodes) check(c *knobCheck) {
	c.oneOf("rig/electrodes/shape", e.Shape, string(rig.Disc), string(rig.Hemisphere), string(rig.Sphere))
	c.oneOf("rig/electrodes/on", e.On, onPlate, onWater)
	if e.Shape == string(rig.Hemisphere) && e.On == onWater {
		c.fault("rig/electrodes/shape", "a hemisphere in open water", "a hemisphere on a plate, or a sphere")
	}
	c.rigMaybe("rig/electrodes/polarisation_V", e.PolarisationV, 0, 20, "a voltage between 0 and 20 V")
	c.rigMaybe("rig/electrodes/polarisation_sd_V", e.PolarisationSD, 0, 10, "a standard deviation between 0 and 10 V")
	c.rigMaybe("rig/electrodes/offset_mV", e.OffsetMV, 0, 2000, "an offset between 0 and 2000 mV, of either sign")
	if b := e.Bridge; b != nil {
		c.above0("rig/electrodes/bridge/length_m", b.LengthM, farthestM, "a length above 0 m")
		c.above0("rig/electrodes/bridge/bore_m", b.BoreM, 1, "a bore above 0 and up to 1 m")
		c.above0("rig/electrodes/bridge/S_per_m", b.SPerM, 1000, "a conductivity above 0 S/m")
	}
}

func (s *RigSpec) checkRigPairs(c *knobCheck) {
	if n := len(s.Pairs); n < 1 || n > mostRigPairs {
		c.fault("rig/pairs", fmt.Sprintf("found %d", n), fmt.Sprintf("1 to %d pairs", mostRigPairs))
		return
	}
	before := len(c.faults)
	for i := range s.Pairs {
		p, place := &s.Pairs[i], fmt.Sprintf("rig/pairs/%d", i)
		if strings.TrimSpace(p.Label) == "" || slices.ContainsFunc(s.Pairs[:i], func(o RigPair) bool { return o.Label == p.Label }) {
			c.fault(place+"/label", fmt.Sprintf("found %q", p.Label), "a label of its own for each pair")
		}
		c.vector(place+"/centre_m", p.CentreM, 2, "[x, y] in metres")
		c.above0(place+"/separation_m", p.SeparationM, 100, "a distance above 0 and up to 100 m between the electrodes' middles")
		c.above0(place+"/electrode_diameter_m", p.ElectrodeDiameterM, 10, "a diameter above 0 m")
		if p.SeparationM > 0 && p.ElectrodeDiameterM >= p.SeparationM {
			c.fault(place+"/electrode_diameter_m", fmt.Sprintf("found %g", p.ElectrodeDiameterM), fmt.Sprintf("less than the separation of %g m: the electrodes touch", p.SeparationM))
		}
		c.within(place+"/azimuth_deg", p.AzimuthDeg, -3600, 3600, "an angle in degrees")
	}
	if len(c.faults) == before {
		s.checkApart(c)
	}
}

// checkApart wants that no electrodes of two pairs touch.
func (s *RigSpec) checkApart(c *knobCheck) {
	for i := range s.Pairs {
		for j := range i {
			a, b := corePair(&s.Pairs[i]), corePair(&s.Pairs[j])
			if a.Apart(&b) < (a.DiameterM+b.DiameterM)/2 {
				c.fault(fmt.Sprintf("rig/pairs/%d/centre_m", i), fmt.Sprintf("an electrode touches one of pair %s", s.Pairs[j].Label), "pairs that lie apart")
			}
		}
	}
}

func (s *RigSpec) checkMeasured(c *knobCheck) {
	if len(s.Measured) > mostRigBench {
		c.fault("rig/measured", fmt.Sprintf("found %d", len(s.Measured)), fmt.Sprintf("up to %d measurements", mostRigBench))
	}
	for i := range s.Measured {
		m, place := &s.Measured[i], fmt.Sprintf("rig/measured/%d", i)
		if _, err := time.Parse(time.DateOnly, m.Date); err != nil {
			c.fault(place+"/date", fmt.Sprintf("%q is no date", m.Date), "one like 2026-06-01")
		}
		c.rigMaybe(place+"/current_uA", m.CurrentUA, -mostRigUA, mostRigUA, "a current in µA")
		c.rigMaybe(place+"/supply_V", m.SupplyV, 0, mostRigV, fmt.Sprintf("a voltage between 0 and %d V", mostRigV))
		c.rigMaybe(place+"/offset_mV", m.OffsetMV, -2000, 2000, "an offset between -2000 and 2000 mV")
		c.rigMaybe(place+"/silent_uA", m.SilentUA, -mostRigUA, mostRigUA, "a current in µA")
		if v := m.WaterSPerM; v != nil {
			c.above0(place+"/water_S_per_m", *v, 100, "a conductivity above 0 and up to 100 S/m")
		}
	}
}

// rigElse is a number that may be absent, or what stands in for it.
func rigElse(v *float64, otherwise float64) float64 {
	if v == nil || math.IsNaN(*v) {
		return otherwise
	}
	return *v
}
