package app

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"brinefield/core/calibration"
)

const (
	// plainDifference of weighted squares is about what chance alone gives in one
	// of twenty cases.
	plainDifference = 4
	// closeEnough is a difference that no stimulus is repeated better than.
	closeEnough = 0.05
	// tooWide an interval shows nothing of a rig.
	tooWide = 0.3
	// badFit is the chance below which scatter is not chance.
	badFit = 0.01
)

// whyNot says why there is no fit.
func (p *probing) whyNot(err error, used int) string {
	offset := p.spec.Offset == offsetFit
	switch {
	case used == 0:
		return "Nothing was measured yet."
	case errors.Is(err, calibration.ErrTooFew) && offset:
		return fmt.Sprintf("%d readings are too few to tell a scale and an offset, and how sure they are: at least 3 (2 with stated standard deviations).", used)
	case errors.Is(err, calibration.ErrTooFew):
		return fmt.Sprintf("%d readings are too few to tell a scale and how sure it is: at least 2 (1 with a stated standard deviation).", used)
	case errors.Is(err, calibration.ErrNotTold):
		return "The readings tell nothing of the scale: by the design the potential is the same at all of them. Measure at places where it differs."
	}
	return "The fit did not settle: the readings contradict what else was measured, or tell too little."
}

// separation says what tells current and conductivity apart.
func (p *probing) separation(r *calibration.Result) string {
	ratio, water := r.Ratio.Value*p.scene.leadCurrentA()/p.scene.currentA, p.scene.medium.WaterSPerM
	what, value := "current", func(s float64) string { return fmt.Sprintf("%.4g µA", ratio*s*1e6) }
	if length := p.scene.lead.separationM; length > 0 {
		what, value = "dipole moment", func(s float64) string { return fmt.Sprintf("%.4g nA·m", ratio*s*length*nAPerA) }
	}
	designed := fmt.Sprintf("In water of %.4g S/m, as designed, the readings mean a %s of %s", water, what, value(water))
	const remedy = "Measure the current or the conductivity, and state its standard deviation, to tell both."
	switch r.Separation {
	case calibration.ByNothing:
		return fmt.Sprintf("Only %s over conductivity was measured: nothing but the water conducts, or all else in proportion to it, and then twice the current in water that conducts twice as well gives the same potentials everywhere. %s; in water of %.4g S/m the same readings mean %s. %s",
			what, designed, 1.1*water, value(1.1*water), remedy)
	case calibration.ByTooLess:
		if p.spec.Priors.CurrentUASD != nil || p.spec.Priors.WaterSPerM != nil {
			return fmt.Sprintf("Current and conductivity are not told: with what else was measured the readings want water outside %.3g to %.3g S/m, where it was sought. %s. One of current, conductivity and places is not what it is taken for.",
				water/p.ratio, water*p.ratio, designed)
		}
		return fmt.Sprintf("Only %s over conductivity was measured: the bottom tells the two apart too weakly for these readings, or not at all (round a pair on bare sediment of one conductivity all potentials go with the current over the sum of water's and sediment's). %s. %s",
			what, designed, remedy)
	case calibration.ByShape:
		return fmt.Sprintf("The bottom tells current and conductivity apart (correlation %.3f), as far as what it conducts itself, %.4g S/m, is right: that is taken as exact.", r.Correlation[0][1], p.bottom)
	}
	return fmt.Sprintf("Current and conductivity are told apart by what else was measured (correlation %.3f): %s. The potentials measured their ratio.", r.Correlation[0][1], p.whatElse())
}

func (p *probing) whatElse() string {
	current, water := p.spec.Priors.CurrentUASD, p.spec.Priors.WaterSPerM
	switch {
	case current != nil && water != nil:
		return fmt.Sprintf("a current known to ± %.3g µA and a conductivity known to ± %.3g S/m", *current, *water)
	case current != nil:
		return fmt.Sprintf("a current known to ± %.3g µA", *current)
	}
	return fmt.Sprintf("a conductivity known to ± %.3g S/m", *water)
}

// verdict is the answer in words.
func (p *probing) verdict(r *calibration.Result, failed error, used []int, others []CalibrationExplanation) CalibrationVerdict {
	if r == nil {
		v := CalibrationVerdict{State: "not_estimable", Sentence: p.whyNot(failed, len(used)), Reasons: []string{}}
		if len(used) == 0 {
			v.State = "nothing_measured"
			v.Sentence += " What the rig as designed would give is foretold for each reading."
		}
		return v
	}
	f := r.Factor
	within := math.Max(math.Abs(f.Low-1), math.Abs(f.High-1))
	v := CalibrationVerdict{WithinPct: finite(100 * within), Reasons: []string{}}
	low, high := p.widened(f)
	figures := fmt.Sprintf("%.4g times the designed potentials (95 %%: %.4g to %.4g)", f.Value, f.Low, f.High)
	misfit := !math.IsNaN(r.ChiSquareP) && r.ChiSquareP < badFit
	switch {
	case misfit:
		v.State = "does_not_fit"
		v.Sentence = fmt.Sprintf("The readings scatter by %.3g µV about the best fit, %.3g times what they state (χ² %.4g with %.3g degrees of freedom). The fit gives %s, with the interval widened; until the scatter is explained it is not to be relied on.",
			r.ResidualSDV*uVPerV, math.Sqrt(r.ChiSquare/r.DegreesOfFreedom), r.ChiSquare, r.DegreesOfFreedom, figures)
	case low <= 1 && 1 <= high && within > tooWide:
		v.State = "too_uncertain"
		v.Sentence = fmt.Sprintf("The readings give %s: the rig may be as designed, but that is not shown closer than %.0f %%. Measure nearer to the pair, or more.", figures, 100*within)
	case low <= 1 && 1 <= high || within <= closeEnough:
		v.State = "agrees"
		v.Sentence = fmt.Sprintf("Agrees with the rig as designed within %.2g %% (95 %%): the readings give %s.", 100*within, figures)
		if within > closeEnough && (f.Low > 1 || f.High < 1) {
			v.Sentence += " The difference lies within what current, conductivity and the computed field are known to."
		}
	default:
		v.State = "differs"
		v.Sentence = fmt.Sprintf("Differs from the rig as designed: the readings give %s.", figures)
	}
	if v.State == "differs" || v.State == "does_not_fit" {
		v.Reasons = p.reasons(r, used, others)
	} else if worst, ok := outlier(r); ok {
		v.Reasons = []string{p.badReading(r, used, worst)}
	}
	return v
}

// widened is the interval of the factor with what the design itself is
// uncertain by: current and conductivity as measured, and the computed field.
func (p *probing) widened(f calibration.Value) (low, high float64) {
	const z = 1.96
	rest := z * math.Hypot(statedOr(p.spec.Priors.CurrentUASD, 0)/p.spec.Knobs.CurrentUA, statedOr(p.spec.Priors.WaterSPerM, 0)/p.scene.medium.WaterSPerM)
	solver := math.Abs(f.Value) * p.solved.RelativeError()
	return f.Value - math.Hypot(f.Value-f.Low, rest) - solver, f.Value + math.Hypot(f.High-f.Value, rest) + solver
}

// reasons are what would explain what was found, the likeliest first.
func (p *probing) reasons(r *calibration.Result, used []int, others []CalibrationExplanation) []string {
	out := []string{}
	f := r.Factor
	size, low, high := math.Abs(f.Value), f.Low, f.High
	if f.High < 0 {
		low, high = -f.High, -f.Low
		out = append(out, "The sign is the other one: the pair's two leads, or the probe's, are swapped.")
	}
	if worst, ok := outlier(r); ok {
		out = append(out, p.badReading(r, used, worst))
	}
	near := func(v float64) bool { return low <= v && v <= high || math.Abs(size/v-1) < 0.08 }
	switch {
	case near(0.5):
		out = append(out, "Half of what was designed: as if the pair hung in open water, or lay on a bottom that conducts like the water, and not on an insulating plate or floor; or the current is half.")
	case near(2):
		out = append(out, "Twice what was designed: as if the pair lay on an insulating plate or floor and not in open water; or the current is twice (peak to peak taken for peak).")
	}
	out = append(out, p.betterSettings(r, others)...)
	if math.Abs(size-1) > 0.02 && size > 0 {
		designed := math.Abs(p.scene.leadCurrentA()) * 1e6
		would := fmt.Sprintf("A current of %.4g µA in place of %.4g µA would give it", designed*size, designed)
		if p.goes { // else another water changes the shape too
			would += fmt.Sprintf(", or water of %.4g S/m in place of %.4g S/m", p.scene.medium.WaterSPerM/size, p.scene.medium.WaterSPerM)
		}
		out = append(out, would+".")
	}
	return out
}

// betterSettings are other settings that fit plainly better, or as well and
// without a change of scale.
func (p *probing) betterSettings(r *calibration.Result, others []CalibrationExplanation) []string {
	at := slices.IndexFunc(others, func(e CalibrationExplanation) bool { return e.Name == asDesigned })
	if at < 0 || others[at].Misfit == nil {
		return nil
	}
	design := *others[at].Misfit
	plain := plainDifference * r.Spread * r.Spread
	var out []string
	for i, e := range others {
		if i == at || e.Name == withoutReading || e.Misfit == nil || e.Factor.Value == nil {
			continue
		}
		one := e.Factor.CI95.Low <= 1 && 1 <= e.Factor.CI95.High || e.Factor.CI95.Low <= -1 && -1 <= e.Factor.CI95.High
		switch {
		case *e.Misfit < design-plain && one:
			out = append(out, fmt.Sprintf("This fits plainly better, and at the designed current: %s", e.Says))
		case *e.Misfit < design-plain:
			out = append(out, fmt.Sprintf("This fits plainly better, with %.4g times the designed current: %s", *e.Factor.Value, e.Says))
		case *e.Misfit < design+plain && one:
			out = append(out, fmt.Sprintf("This fits as well, and at the designed current: %s", e.Says))
		}
	}
	return out
}

func (p *probing) badReading(r *calibration.Result, used []int, worst int) string {
	row := r.Rows[worst]
	s := fmt.Sprintf("%s does not fit the others (p %.2g as the worst of %d)", "R"+p.readingName(used[worst])[1:], row.OutlierP, len(used))
	if !math.IsNaN(row.FactorWithout) {
		s += fmt.Sprintf("; without it the readings give %.4g times the designed potentials", row.FactorWithout)
	}
	return s + ". Measure it again."
}
