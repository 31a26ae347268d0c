package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"brinefield/core/calibration"
)

// The names of explanations.
const (
	asDesigned     = "as_designed"
	heightsMore    = "heights_10_percent_more"
	heightsLess    = "heights_10_percent_less"
	withOffset     = "with_offset"
	withoutReading = "without_reading"
)

// trial of an explanation: another setting's potentials, or other readings.
type explanation struct {
	name, says string
	volts      []float64
	offset     bool
	leftOut    int // index of a used reading, -1: none
}

// explain lays other settings through the readings, each with its own scale
// and offset and with the weights of the fit, the best first.
func (t *Stimulus) explain(ctx context.Context, p *probing, used []int, r *calibration.Result) ([]CalibrationExplanation, error) {
	offset := p.spec.Offset == offsetFit
	list := []explanation{{asDesigned, "As designed.", p.volts, offset, -1}}
	for _, form := range p.otherForms() {
		volts, err := t.probeForm(ctx, p, p.spec.Knobs, form.name)
		var wrong *KnobsError
		if errors.As(err, &wrong) {
			continue // a setting that cannot be is no explanation
		}
		if err != nil {
			return nil, err
		}
		list = append(list, explanation{form.name, form.says, volts, offset, -1})
	}
	for _, h := range []struct {
		name, says string
		factor     float64
	}{
		{heightsMore, "All tips 10 % higher than stated.", 1.1},
		{heightsLess, "All tips 10 % lower than stated.", 0.9},
	} {
		volts, says, err := p.scene.probe(ctx, p.solved, p.spec.Readings, h.factor)
		if err != nil {
			return nil, err
		}
		if !slices.ContainsFunc(used, func(i int) bool { return says[i] != "" }) && !slices.Equal(volts, p.volts) {
			list = append(list, explanation{h.name, h.says, volts, offset, -1})
		}
	}
	if !offset {
		list = append(list, explanation{withOffset, "As designed, with an offset that all readings share.", p.volts, true, -1})
	}
	if worst, ok := outlier(r); ok {
		list = append(list, explanation{withoutReading, "As designed, without " + p.readingName(used[worst]) + ".", p.volts, offset, worst})
	}
	return p.compare(list, used, r), nil
}

type formName struct{ name, says string }

// otherForms are settings that a rig is easily taken for.
func (p *probing) otherForms() []formName {
	var out []formName
	if p.scene.solid() {
		out = append(out, formName{formNoPlate, "No plate (and nothing else in the way): the electrodes bare where they are."})
	}
	if p.scene.solid() || p.bottom > 0 {
		out = append(out, formName{formEndless, "An insulating plate without edges under the electrodes."})
	}
	return out
}

// compare lays each through the readings.
func (p *probing) compare(list []explanation, used []int, r *calibration.Result) []CalibrationExplanation {
	out := []CalibrationExplanation{}
	measured := p.measured(used)
	for i := range measured {
		measured[i].SDV = r.Rows[i].SDV
	}
	water := p.scene.medium.WaterSPerM
	for _, e := range list {
		readings, shape := slices.Clone(measured), perMetre(e.volts, water, used)
		if e.leftOut >= 0 {
			readings, shape = slices.Delete(readings, e.leftOut, e.leftOut+1), slices.Delete(shape, e.leftOut, e.leftOut+1)
		}
		s, err := calibration.Through(readings, shape, p.scene.currentA/water, e.offset)
		if err != nil {
			continue
		}
		out = append(out, CalibrationExplanation{
			Name: e.name, Says: e.says, Factor: estimateIn(s.Factor, 1, "The readings do not tell it."),
			ResidualSDUV: finite(s.ResidualSDV * uVPerV), Misfit: finite(s.SumOfSquares),
		})
	}
	slices.SortStableFunc(out, func(a, b CalibrationExplanation) int {
		return cmp.Compare(statedOr(a.Misfit, 0), statedOr(b.Misfit, 0))
	})
	return out
}

// outlier is the reading that fits the others least, where it plainly does not.
func outlier(r *calibration.Result) (int, bool) {
	worst, p := -1, 0.05
	for i, row := range r.Rows {
		if row.OutlierP < p {
			worst, p = i, row.OutlierP
		}
	}
	return worst, worst >= 0
}

func (p *probing) readingName(i int) string {
	if label := p.spec.Readings[i].Label; label != "" {
		return fmt.Sprintf("reading %d (%s)", i+1, label)
	}
	return fmt.Sprintf("reading %d", i+1)
}
