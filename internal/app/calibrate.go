package app

import (
	"context"
	"errors"
	"fmt"
	"math"

	"brinefield/core/calibration"
)

// microvolts in a volt, and nanoamperes in an ampere.
const (
	uVPerV = 1e6
	nAPerA = 1e9
)

// Calibrate fits what was measured round a pair. Faults of the specification
// come back all at once as a *KnobsError.
func (s *Studies) Calibrate(ctx context.Context, spec CalibrationSpec) (CalibrationDocument, error) {
	return s.stimulus.calibrate(ctx, spec, s.options.Program)
}

func (t *Stimulus) calibrate(ctx context.Context, spec CalibrationSpec, program Program) (CalibrationDocument, error) {
	text, err := spec.text()
	if err != nil {
		return CalibrationDocument{}, err
	}
	c := &knobCheck{}
	spec.check(c)
	if err := c.err(); err != nil {
		return CalibrationDocument{}, err
	}
	p, err := t.layOutProbing(ctx, &spec)
	if err != nil {
		return CalibrationDocument{}, err
	}
	d := CalibrationDocument{
		Heading:  Heading{Format: Format, Program: program, InputsSHA256: Input{"spec": text}.Fingerprints(), Warnings: []string{}},
		Form:     formReal,
		Designed: p.designed(), Explanations: []CalibrationExplanation{},
	}
	used := p.used()
	found, err := t.fit(ctx, p, used)
	switch {
	case err == nil:
		if d.Explanations, err = t.explain(ctx, p, used, found); err != nil {
			return CalibrationDocument{}, err
		}
	case !errors.Is(err, calibration.ErrTooFew) && !errors.Is(err, calibration.ErrNotTold) && !errors.Is(err, calibration.ErrNotConverged):
		return CalibrationDocument{}, err
	}
	d.Fit = p.fitView(found, err, len(used))
	d.Readings = p.rows(found, used)
	d.Verdict = p.verdict(found, err, used, d.Explanations)
	quality := (&view{scene: p.scene, solved: p.solved, err: p.solved.RelativeError()}).quality(t.clock(), t.clock())
	d.Method, d.RelativeError, d.Reached, d.Solves = quality.Method, quality.RelativeError, quality.Reached, p.solves
	d.Warnings = append(quality.Warnings, p.warnings(found, used)...)
	return d, nil
}

// fit is the fit of the used readings.
func (t *Stimulus) fit(ctx context.Context, p *probing, used []int) (*calibration.Result, error) {
	if len(used) == 0 {
		return nil, calibration.ErrTooFew
	}
	shape, err := t.shape(ctx, p, used)
	if err != nil {
		return nil, err
	}
	priors := &p.spec.Priors
	share := math.Abs(p.scene.currentA / (p.spec.Knobs.CurrentUA * 1e-6)) // the largest share
	return calibration.Fit(&calibration.Question{
		Readings: p.measured(used), Shape: shape, CurrentA: p.scene.currentA, WaterSPerM: p.scene.medium.WaterSPerM,
		CurrentSDA: statedOr(priors.CurrentUASD, 0) * 1e-6 * share, WaterSDSPerM: statedOr(priors.WaterSPerM, 0), Offset: p.spec.Offset == offsetFit,
	})
}

func (p *probing) measured(used []int) []calibration.Reading {
	out := make([]calibration.Reading, len(used))
	for n, i := range used {
		r := &p.spec.Readings[i]
		out[n] = calibration.Reading{V: *r.UV / uVPerV, SDV: statedOr(r.SDUV, 0) / uVPerV, PlacesPerMetre: p.places[i]}
	}
	return out
}

// designed is what the knobs say.
func (p *probing) designed() CalibrationDesign {
	s := p.scene
	current, water := s.leadCurrentA(), s.medium.WaterSPerM
	d := CalibrationDesign{
		CurrentUA: current * 1e6, WaterSPerM: water, CurrentOverWater: current * 1e6 / water,
		BottomSPerM: p.bottom, BottomGoesWithWater: p.goes, TextbookCentreM: s.season(s.lead.centre),
	}
	if length := s.lead.separationM; length > 0 {
		d.SeparationM, d.DipoleMomentNAM = finite(length), finite(current*length*nAPerA)
		d.MomentOverWater = finite(current * length * nAPerA / water)
	}
	return d
}

// notTold is an estimate that there is none of.
func notTold(why string) CalibrationValue {
	return CalibrationValue{CI95: Span{NotEstimable: why}}
}

// estimateIn is an estimate in another unit; times may be negative.
func estimateIn(v calibration.Value, times float64, why string) CalibrationValue {
	value, se := finite(v.Value*times), finite(v.SE*math.Abs(times))
	low, high := v.Low*times, v.High*times
	if value == nil || se == nil || finite(low) == nil || finite(high) == nil {
		return notTold(why)
	}
	return CalibrationValue{Value: value, SE: se, CI95: Span{Low: math.Min(low, high), High: math.Max(low, high)}}
}

// fitView brings a fit, or why there is none, into the document.
func (p *probing) fitView(r *calibration.Result, failed error, used int) CalibrationFit {
	water := p.scene.medium.WaterSPerM
	v := CalibrationFit{
		UsedReadings: used, Correlation: CalibrationCorrelation{Names: []string{}, Values: []Figures{}},
		TriedLowSPerM: water / p.ratio, TriedHighSPerM: water * p.ratio, Scale: "stated",
	}
	if r == nil {
		why := p.whyNot(failed, used)
		v.Factor, v.MomentOverWater, v.CurrentOverWater, v.DipoleMomentNAM = notTold(why), notTold(why), notTold(why), notTold(why)
		v.CurrentUA, v.WaterSPerM, v.OffsetUV, v.Separation, v.OnlyRatio = notTold(why), notTold(why), notTold(why), why, true
		return v
	}
	lead := p.scene.leadCurrentA() / p.scene.currentA // 1 or −1
	length := p.scene.lead.separationM
	v.OnlyRatio = r.Separation == calibration.ByNothing || r.Separation == calibration.ByTooLess
	v.Separation = p.separation(r)
	v.Factor = estimateIn(r.Factor, 1, "")
	v.CurrentOverWater = estimateIn(r.Ratio, lead*1e6, "")
	v.CurrentUA, v.WaterSPerM = estimateIn(r.CurrentA, lead*1e6, onlyTheRatio), estimateIn(r.WaterSPerM, 1, onlyTheRatio)
	v.MomentOverWater, v.DipoleMomentNAM = notTold(noPair), notTold(noPair)
	if length > 0 {
		v.MomentOverWater = estimateIn(r.Ratio, lead*length*nAPerA, "")
		v.DipoleMomentNAM = estimateIn(r.CurrentA, lead*length*nAPerA, onlyTheRatio)
	}
	v.OffsetUV = estimateIn(r.OffsetV, uVPerV, "The offset was not fitted: the specification says that there is none.")
	v.DegreesFreedom, v.ChiSquare, v.ChiSquareP = finite(r.DegreesOfFreedom), finite(r.ChiSquare), finite(r.ChiSquareP)
	if r.Scale == calibration.Residuals {
		v.ChiSquare = nil
	}
	v.ResidualSDUV, v.PriorAgreementP = finite(r.ResidualSDV*uVPerV), finite(r.PriorsP)
	v.Scale = map[calibration.Scale]string{calibration.Stated: "stated", calibration.Widened: "widened", calibration.Residuals: "residuals"}[r.Scale]
	v.Correlation = correlationView(r, lead)
	return v
}

// correlationView is the correlation, with the lead pair's sign of the current.
func correlationView(r *calibration.Result, lead float64) CalibrationCorrelation {
	v := CalibrationCorrelation{Names: r.Names, Values: make([]Figures, len(r.Names))}
	for i, row := range r.Correlation {
		v.Values[i] = append(Figures{}, row...)
		for j := range row {
			if (i == 0) != (j == 0) {
				v.Values[i][j] *= lead
			}
		}
	}
	return v
}

const onlyTheRatio = "Only its ratio was measured: dipole moment (or current) over conductivity. What would tell it stands beside."

const noPair = "Only single electrodes are driven: there is no pair to have a dipole moment."

// rows lays every reading beside the design and, where it was used, the fit.
func (p *probing) rows(r *calibration.Result, used []int) []CalibrationRow {
	out := make([]CalibrationRow, len(p.spec.Readings))
	for i := range out {
		in := &p.spec.Readings[i]
		out[i] = CalibrationRow{
			Label: in.Label, PlusM: in.PlusM, MinusM: in.MinusM, MiddleM: middleOfTips(in), MeasuredUV: in.UV, Says: p.says[i],
			DesignedUV: finite(p.volts[i] * p.scene.currentA * uVPerV),
		}
		if p.says[i] == "" {
			out[i].TextbookUV = finite(p.scene.textbookUV(in))
			out[i].PositionUV = finite(p.places[i] * math.Abs(p.scene.currentA) / p.scene.medium.WaterSPerM * uVPerV)
		}
		if in.UV == nil && out[i].Says == "" {
			out[i].Says = "Not measured yet: only foretold."
		}
	}
	if r == nil {
		return out
	}
	for n, i := range used {
		from, to := r.Rows[n], &out[i]
		to.SDUV, to.PositionUV = finite(from.SDV*uVPerV), finite(from.PlacesV*uVPerV)
		to.FittedUV, to.ResidualUV = finite(from.FittedV*uVPerV), finite(from.ResidualV*uVPerV)
		to.Standardised, to.Leverage = finite(from.Standardised), finite(from.Leverage)
		to.WithoutIt, to.Influence, to.OutlierP = finite(from.FactorWithout), finite(from.Influence), finite(from.OutlierP)
	}
	return out
}

func middleOfTips(r *CalibrationReading) []float64 {
	if r.MinusM == nil {
		return r.PlusM
	}
	out := make([]float64, 3)
	for i := range out {
		out[i] = (r.PlusM[i] + r.MinusM[i]) / 2
	}
	return out
}

// warnings are what a reader should know beside the quality of the field.
func (p *probing) warnings(r *calibration.Result, used []int) []string {
	out := []string{}
	waiting, nowhere, unchecked := 0, 0, 0
	for i := range p.spec.Readings {
		switch {
		case p.says[i] != "":
			nowhere++
		case p.spec.Readings[i].UV == nil:
			waiting++
		}
	}
	if waiting > 0 {
		out = append(out, fmt.Sprintf("%d of %d readings were not measured yet; they are only foretold.", waiting, len(p.spec.Readings)))
	}
	if nowhere > 0 {
		out = append(out, fmt.Sprintf("%d of %d readings have a tip where there is no potential and are left out; each says where.", nowhere, len(p.spec.Readings)))
	}
	if r == nil {
		return out
	}
	for n := range used {
		if r.Rows[n].Leverage > 0.9 {
			unchecked++
		}
	}
	if unchecked > 0 {
		out = append(out, fmt.Sprintf("%d of the readings make more than nine tenths of their own fitted value: no other reading checks them.", unchecked))
	}
	if statedOr(p.spec.Priors.PositionSDM, 0) > 0 {
		out = append(out, "Places are taken as uncertain independently of each other. A frame that is shifted or turned as a whole moves all readings together and is not in the intervals.")
	}
	return out
}
