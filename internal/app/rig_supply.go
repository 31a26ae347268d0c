package app

import (
	"fmt"
	"math"

	"brinefield/core/rig"
)

// secondPair is the share of the driven current from which on a silent pair is
// called a second live one.
const secondPair = 0.01

// silenceWords say what a state of the switch does with a silent pair.
var silenceWords = map[rig.Silence]string{
	rig.OpenBoth: "both legs are open at the switch",
	rig.OpenOne:  "the positive leg is open, the negative one stays connected to that of the driven pair",
	rig.Closed:   "its two legs are joined at the switch",
}

func (w *rigWork) silent() error {
	if len(w.Pairs) < 2 {
		return nil
	}
	for _, state := range []rig.Silence{rig.OpenBoth, rig.OpenOne, rig.Closed} {
		all, err := w.WorstSilent(state, 0)
		if err != nil {
			return err
		}
		worst := 0.0
		for i := range all {
			v := w.silentView(state, &all[i])
			worst = max(worst, v.Percent)
			w.doc.Silent = append(w.doc.Silent, v)
		}
		if state == w.Silent && worst > 100*secondPair {
			w.warn.add(fmt.Sprintf("Silent pairs are not silent: %s, and up to %s %% of the driven current flows through one. Let the switch open both legs.", silenceWords[state], percentText(worst)))
		}
	}
	return nil
}

func (w *rigWork) silentView(state rig.Silence, s *rig.SilentCurrent) RigSilent {
	v := RigSilent{
		Pair: w.Pairs[s.Pair].Label, State: string(state), Chosen: state == w.Silent, DrivenPair: w.Pairs[s.DrivenPair].Label,
		DrivenUA: s.Driven * 1e6, DriveUA: s.Drive * 1e6, OffsetUA: s.Offset * 1e6, LargestUA: s.Largest() * 1e6, SingleWay: s.SinglePole && s.Largest() > 0,
	}
	if s.Driven > 0 {
		v.Percent = 100 * s.Largest() / s.Driven
	}
	v.SecondPair = s.Largest() > secondPair*s.Driven
	v.Description = fmt.Sprintf("Pair %s, %s: up to %s", v.Pair, silenceWords[state], currentText(v.LargestUA))
	switch {
	case s.Largest() == 0:
		v.Description = fmt.Sprintf("Pair %s, %s: no current can flow.", v.Pair, silenceWords[state])
	case v.SecondPair:
		v.Description += fmt.Sprintf(", %s %% of the driven current: a second live pair.", percentText(v.Percent))
	case v.Percent < 0.01:
		v.Description += ", less than 0.01 % of the driven current."
	default:
		v.Description += fmt.Sprintf(", %.2g %% of the driven current.", v.Percent)
	}
	return v
}

// percentText writes a percentage without powers of ten.
func percentText(v float64) string {
	if v >= 999.5 {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.3g", v)
}

// currentText writes a current of µA in the unit that needs no powers of ten.
func currentText(uA float64) string {
	switch {
	case uA >= 999.5e3:
		return fmt.Sprintf("%.3g A", uA/1e6)
	case uA >= 999.5:
		return fmt.Sprintf("%.3g mA", uA/1e3)
	case uA >= 0.1:
		return fmt.Sprintf("%.3g µA", uA)
	case uA >= 1e-4:
		return fmt.Sprintf("%.3g nA", uA*1e3)
	case uA >= 1e-9:
		return fmt.Sprintf("%.3g pA", uA*1e6)
	}
	return "next to nothing"
}

// chargeSteps is how many voltages the table of the battery's charge has.
const chargeSteps = 5

// shelfLifeH is when an alkaline battery has lost its charge lying about: about
// five years.
const shelfLifeH = 5 * 365.25 * 24

// driftWorthTelling is the change of the current, in percent, from which on the
// program asks for measurements before and after.
const driftWorthTelling = 2

func (w *rigWork) battery() error {
	if w.Supply.Constant {
		return nil
	}
	b := &RigBattery{Charge: []RigCharge{}}
	for _, c := range w.doc.Positions[0].Currents {
		load := c.SupplyUA
		if c.MeasuredUA != nil {
			load = math.Max(load, math.Abs(*c.MeasuredUA))
		}
		b.LoadUA = math.Max(b.LoadUA, load)
	}
	b.SagPercent = 100 * b.LoadUA * 1e-6 * w.Supply.InternalOhm / w.Supply.VoltageV
	if err := w.charge(b); err != nil {
		return err
	}
	if u := w.spec.Use; u != nil {
		b.NeededH = finite(u.HoursPerDay * u.Days)
	}
	if mAh := w.spec.Supply.CapacityMAh; mAh != nil && b.LoadUA > 0 {
		life := *mAh * 1000 / b.LoadUA
		b.LifeH = finite(life)
		if b.NeededH != nil {
			lasts := life >= *b.NeededH
			b.Lasts = &lasts
			if !lasts {
				w.warn.add(fmt.Sprintf("The battery lasts %.4g h at the largest position, and %.4g h are planned.", life, *b.NeededH))
			}
		}
		if life > shelfLifeH {
			w.warn.add("The load would empty the battery only after more than five years: its shelf life and the cold end it first.")
		}
	}
	if -b.DriftPercent > driftWorthTelling {
		w.warn.add(fmt.Sprintf("The current follows the battery: %.3g %% from full to empty. The dose is what was measured before and after each session.", b.DriftPercent))
	}
	w.doc.Battery = b
	return nil
}

func (w *rigWork) charge(b *RigBattery) error {
	full := 0.0
	for i := range chargeSteps {
		volt := w.Supply.FullV + (w.Supply.EmptyV-w.Supply.FullV)*float64(i)/(chargeSteps-1)
		c, err := w.AtVoltage(0, 0, volt)
		if err != nil {
			return err
		}
		row := RigCharge{VoltageV: volt, CurrentUA: c.Electrodes * 1e6}
		if i == 0 {
			full = row.CurrentUA
		}
		if full > 0 {
			row.ChangePercent = 100 * (row.CurrentUA/full - 1)
		}
		b.DriftPercent = row.ChangePercent
		b.Charge = append(b.Charge, row)
		if w.Supply.FullV == w.Supply.EmptyV {
			break
		}
	}
	return nil
}

func (w *rigWork) compliance() error {
	if !w.Supply.Constant {
		return nil
	}
	poorest := w.Rig
	poorest.WaterSPerM -= 2 * w.WaterSPerMSD
	poorest.Electrodes.PolarisationV += 2 * w.Electrodes.PolarisationSDV
	u := w.Supply
	most := w.Steps[0].Ampere * (1 + u.ConstantBy)
	c := &RigCompliance{ComplianceV: u.ComplianceV, LargestOhm: math.Max(0, u.ComplianceV-poorest.Electrodes.PolarisationV) / most, Positions: []RigCompliancePosition{}}
	for k, step := range w.Steps {
		row := RigCompliancePosition{Label: step.Label, GivesUA: math.Inf(1)}
		for pair := range w.Pairs {
			free := poorest
			free.Supply.ComplianceV = math.MaxFloat32
			free.Steps = []rig.Step{{Ampere: step.Ampere * (1 + u.ConstantBy)}}
			needed, err := free.At(0, pair)
			if err != nil {
				return err
			}
			gives, err := poorest.At(k, pair)
			if err != nil {
				return err
			}
			row.NeededV, row.GivesUA = math.Max(row.NeededV, needed.SupplyV), math.Min(row.GivesUA, gives.Electrodes*1e6)
		}
		row.MarginV, row.Held = u.ComplianceV-row.NeededV, row.NeededV <= u.ComplianceV
		row.OfNeeded = u.ComplianceV / row.NeededV
		if !row.Held {
			w.warn.add(fmt.Sprintf("Position %s needs up to %.4g V, and the supply gives %g V: the current is not held there.", step.Label, row.NeededV, u.ComplianceV))
		}
		c.Positions = append(c.Positions, row)
	}
	w.doc.Compliance = c
	return nil
}

func (w *rigWork) wantedField() error {
	f := w.spec.WantedField
	if f == nil {
		return nil
	}
	answer := &RigFieldAnswer{NVPerCm: f.NVPerCm, AtM: f.AtM, Pairs: []RigFieldOfPair{}, Warnings: []string{}}
	for i := range w.Pairs {
		row := RigFieldOfPair{Pair: w.Pairs[i].Label}
		needed := w.CurrentForField(i, f.NVPerCm*1e-7, f.AtM)
		if row.NeededUA = finite(needed * 1e6); row.NeededUA == nil {
			answer.Warnings = append(answer.Warnings, fmt.Sprintf("Pair %s: %g m from its centre is not beyond its electrode.", row.Pair, f.AtM))
			answer.Pairs = append(answer.Pairs, row)
			continue
		}
		nearest := math.Inf(1)
		for _, p := range w.doc.Positions {
			used := math.Abs(p.Currents[i].UsedUA)
			if used == 0 {
				continue
			}
			if d := math.Abs(math.Log(used * 1e-6 / needed)); d < nearest {
				nearest = d
				row.Position, row.PositionUA = p.Label, finite(used)
				row.GivesNVPerCm = finite(w.AxisVPerM(i, f.AtM, used*1e-6, -used*1e-6) * 1e7)
			}
		}
		answer.Pairs = append(answer.Pairs, row)
	}
	w.doc.WantedField = answer
	return nil
}

// methods are the sentences that say how it was worked out.
func (w *rigWork) methods() []string {
	medium := "electrodes on an insulating plate without end"
	if !w.Electrodes.OnPlate {
		medium = "electrodes in open water without end"
	}
	out := []string{
		"Every current is a nodal analysis of the whole network, the water included: " + medium + ", each with its spreading resistance and what it shares with every other one. A real plate has edges and the water a surface: the page Stimulus knows them; for the current they count for millionths.",
		"Worst case: all resistors are in one loop with the supply, so the current falls with each of them; all at the ends of their tolerance, with offsets of the worst sign, and what the water conducts and the polarisation 2 standard deviations off.",
		fmt.Sprintf("Monte Carlo: %d draws for each pair; resistors, settings and offsets anywhere within their bounds with equal chances, water and polarisation normal.", rigDraws),
		"Temperature coefficients widen the tolerance, as their sign is not known.",
		"Silent pairs: with the worst signs of all offsets. Electrodes of a closed silent pair are taken not to be polarised, so that it is the most that can flow.",
		"Faults: the position with the largest current, the full battery, no polarisation, silent pairs left out. A bare pin or end counts as a sphere of 1 mm radius in open water; a diver of the stated resistance touches bare metal, behind a salt bridge too, or the water far away.",
		"An ammeter stands in the positive leg, before the switch.",
	}
	if w.Silent == rig.OpenBoth {
		out = append(out, "Silent pairs are open on both legs and have no part in the currents of the driven pair.")
	}
	return out
}
