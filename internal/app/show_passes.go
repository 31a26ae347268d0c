package app

import (
	"math"
	"time"

	"brinefield/core/exposure"
	"brinefield/core/study"
)

// Exposures is the table of Exposures, in the season's order.
func (o *OpenSeason) Exposures() (ExposuresView, error) {
	a, err := o.done()
	if err != nil {
		return ExposuresView{}, err
	}
	return a.exposuresView(), nil
}

func (a *Analysis) exposuresView() ExposuresView {
	v := ExposuresView{Heading: a.Findings.Heading, Rows: make([]ExposureRow, len(a.Exposures))}
	for i := range a.Exposures {
		v.Rows[i] = exposureRow(a.Study, &a.Exposures[i])
	}
	return v
}

// Pass is one pass in full.
func (o *OpenSeason) Pass(id string) (PassView, error) {
	a, err := o.done()
	if err != nil {
		return PassView{}, err
	}
	return a.passByID(id)
}

func (a *Analysis) passByID(id string) (PassView, error) {
	for i := range a.Exposures {
		if a.Study.Passes[a.Exposures[i].Pass].ID == id {
			return passView(a, &a.Exposures[i])
		}
	}
	return PassView{}, ErrUnknownPass
}

func exposureRow(s *study.Study, e *exposure.Exposure) ExposureRow {
	p := &s.Passes[e.Pass]
	row := ExposureRow{
		PassExposure: passExposure(s, e),
		Time:         p.Time.Format(time.RFC3339Nano), Individual: p.Individual, Species: s.Species[p.Species].Name,
		Turned: answerText(p.Turned), Bit: answerText(p.Bit), Responded: p.Responded(),
		Visit: p.Visit, Scorer: p.Scorer,
	}
	if current, ok := s.Trials[p.Trial].DrivenCurrentA(); ok && e.Role != study.RoleSealed {
		row.CurrentUA = finite(current * 1e6)
	}
	row.HeadXCm, row.HeadYCm = known(e.HeadXM, 100), known(e.HeadYM, 100)
	return row
}

func answerText(a study.Answer) string {
	return [...]string{study.NotScored: "", study.No: "no", study.Yes: "yes"}[a]
}

func passView(a *Analysis, e *exposure.Exposure) (PassView, error) {
	s := a.Study
	v := PassView{
		Row: exposureRow(s, e), Track: []TrackPoint{}, Fixes: recordedFixes(s, e.Pass),
		T0S: known(e.OnsetBeforeS, 1), OnsetS: known(e.OnsetS, 1),
		DelayS: s.Analysis.ReactionTimeS.Or(0), Note: s.Passes[e.Pass].Note,
	}
	if e.Role == study.RoleSealed {
		v.Track = sealedTrack(a, e.Pass)
		return v, nil
	}
	if !e.Known || len(v.Fixes) == 0 { // old data have no track
		return v, nil
	}
	trace, err := exposure.Along(s, a.Fields, e.Pass, a.options)
	if err != nil {
		return v, err
	}
	for i, t := range trace.TimeS {
		v.Track = append(v.Track, TrackPoint{
			TimeS: t, XCm: trace.XM[i] * 100, YCm: trace.YM[i] * 100, HeightCm: finite(trace.HeightM[i] * 100),
			Field: finite(trace.FieldVPerM[i] * nVPerCmPerVPerM), Phantom: finite(trace.PhantomVPerM[i] * nVPerCmPerVPerM),
		})
	}
	return v, nil
}

// nVPerCmPerUA turns V/m per ampere into nV/cm per µA.
const nVPerCmPerUA = nVPerCmPerVPerM * 1e-6

// sealedTrack is a pass of a sealed trial with the phantom field of each µA,
// which needs no knowledge of what was drawn; empty where the track has no
// field, of which the pass tells more once its trial is opened.
func sealedTrack(a *Analysis, pass int) []TrackPoint {
	out := []TrackPoint{}
	trace, err := exposure.AlongUnit(a.Study, a.Fields, pass)
	if err != nil {
		return out
	}
	for i, t := range trace.TimeS {
		out = append(out, TrackPoint{
			TimeS: t, XCm: trace.XM[i] * 100, YCm: trace.YM[i] * 100, HeightCm: finite(trace.HeightM[i] * 100),
			PerUA: finite(trace.PhantomVPerMPerA[i] * nVPerCmPerUA),
		})
	}
	return out
}

func recordedFixes(s *study.Study, pass int) []TrackPoint {
	out := []TrackPoint{}
	for i := range s.Tracks {
		if s.Tracks[i].Pass != pass {
			continue
		}
		for _, path := range s.Tracks[i].Points {
			for _, f := range path.Fixes {
				out = append(out, TrackPoint{TimeS: f.TimeS, XCm: f.XM * 100, YCm: f.YM * 100, HeightCm: known(f.HeightM, 100)})
			}
		}
	}
	return out
}

// curvePoints is how many fields a curve is drawn at.
const curvePoints = 161

// curves are the fitted distributions of thresholds of every species, on a
// grid that is even in the logarithm of the field.
func curves(f Findings) CurvesView {
	v := CurvesView{Species: []SpeciesCurves{}}
	for i := range f.Detection {
		d := &f.Detection[i]
		c := SpeciesCurves{Species: d.Species}
		var simple *Thresholds
		for j := range f.Thresholds {
			if f.Thresholds[j].Species == d.Species {
				simple = &f.Thresholds[j]
			}
		}
		c.FieldNVPerCm = fieldGrid(d, simple)
		c.Detection = lognormalCurve(c.FieldNVPerCm, d.Mu, d.Sigma)
		if d.Covariance != nil && c.Detection != nil {
			c.DetectionLow, c.DetectionHigh = lognormalBand(c.FieldNVPerCm, *d.Mu, *d.Sigma, *d.Covariance, d.bandFactor)
		}
		if simple != nil {
			c.Lognormal = lognormalCurve(c.FieldNVPerCm, simple.Lognormal.Mu, simple.Lognormal.Sigma)
			if l := simple.LognormalIndividual; l.Mu != nil {
				total := math.Hypot(*l.SigmaWithin, *l.SigmaIndividual)
				c.LognormalIndividual = lognormalCurve(c.FieldNVPerCm, l.Mu, &total)
			}
			c.Steps = stepRows(simple.NPMLE.Support)
		}
		v.Species = append(v.Species, c)
	}
	return v
}

// fieldGrid spans the step curve's finite ends and the middle 99 % of the
// fitted distribution.
func fieldGrid(d *Detection, simple *Thresholds) []float64 {
	low, high := math.Inf(1), 0.0
	widen := func(v float64) {
		if v > 0 && !math.IsInf(v, 0) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	if d.Mu != nil {
		widen(math.Exp(*d.Mu - 2.6**d.Sigma))
		widen(math.Exp(*d.Mu + 2.6**d.Sigma))
	}
	if simple != nil {
		for _, row := range simple.NPMLE.Support {
			for _, end := range row[:2] {
				if end != nil {
					widen(*end)
				}
			}
		}
	}
	if !(low < high) {
		low, high = 1, 1000
	}
	low, high = math.Max(low, high*1e-5), math.Min(high, low*1e6)
	grid := make([]float64, curvePoints)
	for i := range grid {
		grid[i] = low * math.Pow(high/low, float64(i)/float64(curvePoints-1))
	}
	return grid
}

func lognormalCurve(fields []float64, mu, sigma *float64) []float64 {
	if mu == nil || sigma == nil || !(*sigma > 0) {
		return nil
	}
	out := make([]float64, len(fields))
	for i, x := range fields {
		out[i] = normalCDF((math.Log(x) - *mu) / *sigma)
	}
	return out
}

// lognormalBand is the pointwise band of the curve: the standard error of
// z = (ln x − mu)/sigma by the delta method, from the covariance of mu and
// ln sigma.
func lognormalBand(fields []float64, mu, sigma float64, cov [2][2]float64, factor float64) (low, high []float64) {
	for _, x := range fields {
		z := (math.Log(x) - mu) / sigma
		variance := cov[0][0]/(sigma*sigma) + 2*z/sigma*cov[0][1] + z*z*cov[1][1]
		se := math.Sqrt(math.Max(variance, 0))
		low = append(low, normalCDF(z-factor*se))
		high = append(high, normalCDF(z+factor*se))
	}
	return low, high
}

func normalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

func stepRows(support [][3]*float64) []StepRow {
	var out []StepRow
	climbed := 0.0
	for _, row := range support {
		step := StepRow{LowNVPerCm: *row[0], HighNVPerCm: row[1], Before: climbed}
		climbed = math.Min(climbed+*row[2], 1)
		step.After = climbed
		out = append(out, step)
	}
	return out
}
