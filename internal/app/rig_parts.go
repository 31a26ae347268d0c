package app

import (
	"fmt"
	"slices"
	"strconv"

	"brinefield/core/rig"
)

// powerRatings are those of resistors in every shop, in watts.
var powerRatings = []float64{0.125, 0.25, 0.5, 1, 2, 5, 10, 25, 50, 100}

func (w *rigWork) parts() error {
	w.doc.Parts = []RigPart{}
	w.supplyParts()
	if !w.Supply.Constant {
		w.limitingParts()
		w.ladderParts()
	}
	w.plainParts()
	return nil
}

func (w *rigWork) add(p RigPart) { w.doc.Parts = append(w.doc.Parts, p) }

func (w *rigWork) supplyParts() {
	if w.Supply.Constant {
		w.add(RigPart{
			What: "Supply of constant current", Count: 1, Value: fmt.Sprintf("up to %.4g µA, %g V", *w.spec.Supply.CurrentUA, w.Supply.ComplianceV),
			TolerancePercent: finite(100 * w.Supply.ConstantBy), Note: "On a battery, without any path to the mains or the boat's supply.",
		})
		return
	}
	value := fmt.Sprintf("%g V", w.Supply.VoltageV)
	if c := w.spec.Supply.CapacityMAh; c != nil {
		value += fmt.Sprintf(", %g mAh", *c)
	}
	w.add(RigPart{What: "Battery", Count: 1, Value: value, Note: "In a dry box; no path to the mains or the boat's supply. Take a spare."})
}

// resistor is a line of the parts list. Its power is what it turns into heat
// with the full battery on it alone, everything else shorted.
func (w *rigWork) resistor(what string, count int, ohm, tolerance float64, note string) {
	power := w.Supply.FullV * w.Supply.FullV / ohm
	p := RigPart{What: what, Count: count, Value: rig.OhmText(ohm), ValueOhm: finite(ohm), Series: seriesOf(ohm), TolerancePercent: finite(tolerance), PowerW: finite(power), Note: note}
	for _, rating := range powerRatings {
		if rating >= 2*power {
			p.RatingW = finite(rating)
			break
		}
	}
	w.add(p)
}

// seriesOf is the coarser series that has a value; blank where none has it.
func seriesOf(ohm float64) string {
	for _, s := range []rig.Series{rig.E24, rig.E96} {
		if slices.ContainsFunc(s.Values(), func(v float64) bool { return ohm > v*(1-1e-9) && ohm < v*(1+1e-9) }) {
			return string(s)
		}
	}
	return ""
}

func (w *rigWork) limitingParts() {
	const note = "Potted at the battery, before anything that can get wet."
	tolerance := w.spec.Limiting.TolerancePercent
	if w.Limiting[0] == w.Limiting[1] && w.Limiting[0] > 0 {
		w.resistor("Limiting resistor, one in each leg", 2, w.Limiting[0], tolerance, note)
		return
	}
	for i, leg := range []string{"positive", "negative"} {
		if w.Limiting[i] > 0 {
			w.resistor("Limiting resistor, "+leg+" leg", 1, w.Limiting[i], tolerance, note)
		}
	}
}

// ladderParts counts the resistors of the ladder by value, the largest first.
func (w *rigWork) ladderParts() {
	used := map[float64][]string{}
	var values []float64
	for _, step := range w.Steps {
		for _, ohm := range step.Ohm {
			if used[ohm] == nil {
				values = append(values, ohm)
			}
			used[ohm] = append(used[ohm], step.Label)
		}
	}
	slices.Sort(values)
	slices.Reverse(values)
	for _, ohm := range values {
		steps := slices.Compact(slices.Clone(used[ohm]))
		word := "Position "
		if len(steps) > 1 {
			word = "Positions "
		}
		w.resistor("Ladder resistor", len(used[ohm]), ohm, rigElse(w.spec.Ladder.TolerancePercent, usualStepsPercent), word+joinWords(steps)+".")
	}
}

func (w *rigWork) plainParts() {
	if !w.Supply.Constant {
		w.add(RigPart{What: "Switch of the ladder", Count: 1, Value: fmt.Sprintf("1 pole, %d positions", len(w.Steps)), Note: "Either kind of contact will do: between two positions the current never exceeds that of the first."})
	}
	w.add(RigPart{
		What: "Switch of the pairs", Count: 1, Value: fmt.Sprintf("2 poles, %d positions", len(w.Pairs)+1),
		Note: "Breaks both legs of every pair that is not driven; one position drives none, for silent trials.",
	})
	k := &w.spec.Cable
	size := ""
	if k.AWG != nil {
		size = fmt.Sprintf("AWG %d", *k.AWG)
	} else {
		size = fmt.Sprintf("%g mm²", *k.MM2)
	}
	w.add(RigPart{What: "Cable, two cores", Count: len(w.Pairs), Value: fmt.Sprintf("%g m, 2 × %s", k.LengthM, size), Note: "One to each pair. Test the insulation wet, before the season."})
	for _, d := range w.diameters() {
		w.add(RigPart{What: "Electrode, " + w.spec.Electrodes.Shape, Count: d.count, Value: fmt.Sprintf("%g mm", d.mm), Note: "All of one metal, from one batch; soaked together before use."})
	}
	if b := w.spec.Electrodes.Bridge; b != nil {
		w.add(RigPart{What: "Salt bridge", Count: 2 * len(w.Pairs), Value: fmt.Sprintf("%g m, bore %g mm", b.LengthM, b.BoreM*1000), ValueOhm: finite(w.Electrodes.BridgeOhm), Note: rig.OhmText(threeDigits(w.Electrodes.BridgeOhm)) + " each."})
	}
	if a := w.spec.Ammeter; a != nil {
		note := "Only while the current is measured."
		if a.StaysIn {
			note = "Stays in the positive leg."
		}
		w.add(RigPart{What: "Ammeter", Count: 1, Value: rig.OhmText(a.BurdenOhm) + " burden", ValueOhm: finite(a.BurdenOhm), Note: note})
	}
}

func threeDigits(v float64) float64 {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	if err != nil {
		return v
	}
	return rounded
}

type sizeCount struct {
	mm    float64
	count int
}

// diameters counts electrodes by their diameter, in the order of the pairs.
func (w *rigWork) diameters() []sizeCount {
	var out []sizeCount
	for i := range w.Pairs {
		mm := w.Pairs[i].DiameterM * 1000
		at := slices.IndexFunc(out, func(s sizeCount) bool { return s.mm == mm })
		if at < 0 {
			out = append(out, sizeCount{mm: mm})
			at = len(out) - 1
		}
		out[at].count += 2
	}
	return out
}
