package app

import (
	"fmt"
	"math"

	"brinefield/core/rig"
)

// The verdicts.
const (
	harmless = "harmless"
	look     = "look"
	danger   = "danger"
)

// marginToLook is how many times below the twitch field the field near a pair
// should lie; a tenth of what is felt is the same for divers.
const (
	marginToLook = 100
	shareToLook  = 0.1
)

type caseWords struct{ title, text string }

// faultWords says of each case what broke and what that does.
var faultWords = map[rig.Case]caseWords{
	rig.Intact:        {"Nothing is broken", "The rig as it should be."},
	rig.ShortAtPlate:  {"Short at the plate", "The two legs touch: the current goes through the short, and next to none through the water."},
	rig.FloodedPlus:   {"Connector of the positive leg flooded", "A bare pin leads current into the water beside the positive electrode; the negative one still carries all of it."},
	rig.FloodedMinus:  {"Connector of the negative leg flooded", "A bare pin takes current out of the water beside the negative electrode; the positive one still carries all of it."},
	rig.FloodedBoth:   {"Both connectors flooded", "Two bare pins in the water share the current with the electrodes: a dipole where the connectors lie."},
	rig.OpenPlus:      {"Positive leg broken, its end dry", "Nothing flows. Who takes the broken end and a bare part of the other leg has the voltage of the supply, behind what limits its current, between the hands."},
	rig.OpenMinus:     {"Negative leg broken, its end dry", "Nothing flows. Who takes the broken end and a bare part of the other leg has the voltage of the supply, behind what limits its current, between the hands."},
	rig.BarePlus:      {"Positive leg broken, its end bare in the water", "The current enters at the broken end and leaves through the negative electrode: two single poles far apart."},
	rig.BareMinus:     {"Negative leg broken, its end bare in the water", "The current enters at the positive electrode and leaves through the broken end: two single poles far apart."},
	rig.LimitingPlus:  {"Limiting resistor of the positive leg shorted", "The other limiting resistor and the ladder still limit the current."},
	rig.LimitingMinus: {"Limiting resistor of the negative leg shorted", "The other limiting resistor and the ladder still limit the current."},
	rig.LadderShorted: {"Whole ladder shorted", "The limiting resistors alone set the current."},
	rig.BetweenTaps:   {"Switch between two positions, both taps joined", "The position with more current rules: never more than the first."},
	rig.LeakAtBattery: {"Battery box damp, both poles leak into the water", "What leaks before the resistors is limited by nothing but the leak."},
	rig.LimitingBoth:  {"Both limiting resistors shorted (two faults)", "Only the ladder limits the current."},
	rig.FullVoltage:   {"Full battery voltage on the plate (all resistors shorted)", "Nothing limits the current but the water, the cable and the battery itself."},
	rig.AtCompliance:  {"A leg open: the supply at its compliance", "Nothing flows, and the supply raises its voltage to the most it can give. Who closes the gap gets the set current."},
	rig.SupplyUnbound: {"Supply out of control", "The supply gives its full voltage, whatever flows."},
}

func (w *rigWork) faults() error {
	w.doc.Faults = []RigFault{}
	live := 0.0
	for _, c := range w.Cases() {
		f, err := w.BreakWorst(c, 0)
		if err != nil {
			return err
		}
		largest := math.Max(f.Electrode, f.Elsewhere)
		if c == rig.Intact {
			live = largest
		}
		v := w.faultView(&f)
		if live > 0 {
			v.StrengthVsLive = finite(largest / live)
		}
		if c == rig.LeakAtBattery && w.Cable.LeakOhm == 0 && w.Cable.LeakToWaterOhm == 0 {
			v.Text += " No leak is stated: 1 MΩ from pole to pole was counted."
		}
		w.doc.Faults = append(w.doc.Faults, v)
	}
	w.safety()
	return nil
}

func (w *rigWork) faultView(f *rig.Fault) RigFault {
	v := RigFault{
		Case: string(f.Case), Title: faultWords[f.Case].title, Text: faultWords[f.Case].text, Pair: w.Pairs[f.Pair].Label, Position: w.Steps[0].Label,
		ElectrodeUA: f.Electrode * 1e6, ElsewhereUA: f.Elsewhere * 1e6, SupplyUA: f.Supply * 1e6, WaterV: f.WaterV, DiverUA: f.Diver * 1e6,
		DiverShare: f.Diver / rig.FeltA, Felt: f.Diver >= rig.FeltA, NearVPerM: f.NearVPerM, NearM: f.NearM, FaceVPerM: f.FaceVPerM, Verdict: harmless,
	}
	v.NearMargin, v.FaceMargin = finite(rig.TwitchVPerM/f.NearVPerM), finite(rig.TwitchVPerM/f.FaceVPerM)
	switch {
	case v.Felt || f.NearVPerM >= rig.TwitchVPerM:
		v.Verdict = danger
	case v.DiverShare >= shareToLook || f.NearVPerM*marginToLook > rig.TwitchVPerM:
		v.Verdict = look
	}
	return v
}

// safety sums up the faults. That the worst single fault decides is why the
// limiting resistors are two.
func (w *rigWork) safety() {
	s := RigSafety{
		DiverOhm: w.DiverOhm, FeltUA: rig.FeltA * 1e6, TwitchVPerM: rig.TwitchVPerM, Verdict: harmless,
		Sources: []string{
			"IEC 60479-1: direct current is about felt from 2 mA on (from memory; local rules decide).",
			"750 Ω for a diver's body up to 50 V, 500 Ω above it: practice of underwater construction.",
			"Twitch field 4.16 V/m, the smaller mean of two species of shark: Marine Technology Society Journal 42(2), 2008.",
		},
	}
	for i, c := range w.Cases() {
		f := &w.doc.Faults[i]
		if f.DiverUA > s.WorstDiverUA || s.WorstCase == "" {
			s.WorstCase, s.WorstDiverUA = f.Case, f.DiverUA
		}
		if !c.Single() {
			continue
		}
		s.LimitedDiverUA = math.Max(s.LimitedDiverUA, f.DiverUA)
		if f.Verdict == danger || f.Verdict == look && s.Verdict == harmless {
			s.Verdict = f.Verdict
		}
	}
	s.Text = fmt.Sprintf("With any one fault at most %s pass a diver of %g Ω; about felt are 2 mA", currentText(s.LimitedDiverUA), s.DiverOhm)
	if w.Supply.Constant {
		s.Text += "; the supply out of control is one of them."
	} else {
		s.Text += "; with every resistor lost " + currentText(s.WorstDiverUA) + "."
	}
	if s.Verdict == danger {
		w.warn.add("A single fault makes the rig dangerous: see the table of faults.")
	}
	w.doc.Safety = s
}
