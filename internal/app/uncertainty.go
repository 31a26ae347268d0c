package app

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"

	"brinefield/core/exposure"
	"brinefield/core/study"
)

// What the season's own uncertainties do to the medians. The conductivity of the
// bottom, the heights and the current are off in the whole season alike; the
// season is worked out again with each one standard deviation lower and higher.
// Positions are off from pass to pass; that is simulated. docs/physics/exposure.md
// says more.

// uncertain is one thing that the season states a standard deviation of.
type uncertain struct {
	what, unit, how string
	sd              float64 // in the unit
	draws           int
	find            func(ctx context.Context) ([]speciesSpans, error)
}

// The estimates that are followed: their places in medianSet.
const (
	ofDetection = iota
	ofNPMLE
	ofLognormal
	ofLognormalIndividual
	ofCount
)

// medianSet is the natural logarithm of each estimate of one species, NaN with a
// reason where there is none.
type medianSet struct {
	ln  [ofCount]float64
	why [ofCount]string
}

// speciesSpans is from where to where each estimate of one species goes.
type speciesSpans [ofCount]Span

// uncertainInputs are what a season states, in the order of the document.
func (a *Analysis) uncertainInputs(water []exposure.TrialWater, base []medianSet, seed uint64) []uncertain {
	u, out := &a.Study.Uncertainty, []uncertain(nil)
	if sd := u.BottomSPerMSD; stated(sd) && a.Study.Bottom.Kind == study.BottomSediment {
		out = append(out, uncertain{
			what: "bottom conductivity", unit: "S/m", sd: sd.Value,
			how: "the bottom conducts one standard deviation less and more in every trial; fields, exposures and estimates worked out again",
			find: func(ctx context.Context) ([]speciesSpans, error) {
				return a.eachWay(ctx, func(sign float64) ([]medianSet, error) { return a.withBottom(ctx, water, sign*sd.Value) })
			},
		})
	}
	if sd := u.HeightSDM; stated(sd) {
		out = append(out, uncertain{
			what: "height", unit: "cm", sd: sd.Value * 100,
			how: "every height is one standard deviation lower and higher, but never below 0 or over the surface; exposures and estimates worked out again",
			find: func(ctx context.Context) ([]speciesSpans, error) {
				return a.eachWay(ctx, func(sign float64) ([]medianSet, error) {
					return a.medians(ctx, raised(a.Study, sign*sd.Value), a.Fields)
				})
			},
		})
	}
	if sd := u.CurrentSDPercent; stated(sd) {
		out = append(out, uncertain{
			what: "current", unit: "%", sd: sd.Value,
			how:  "every current is one standard deviation less and more: all fields, and with them every median, change by the same factor",
			find: func(context.Context) ([]speciesSpans, error) { return scaled(base, sd.Value/100), nil },
		})
	}
	if sd := u.PositionSDM; stated(sd) {
		out = append(out, uncertain{
			what: "position", unit: "cm", sd: sd.Value * 100, draws: positionDraws,
			how: fmt.Sprintf("%d seasons in which every pass lies elsewhere by a normal error along x and along y, the same all along its track (without a track: along its distance); mean of the logarithm of each median, less and plus its standard deviation", positionDraws),
			find: func(ctx context.Context) ([]speciesSpans, error) {
				return a.moved(ctx, seed, sd.Value)
			},
		})
	}
	return out
}

func stated(sd study.Opt[float64]) bool { return sd.Known && sd.Value > 0 }

// uncertainty fills the section of that name.
func (a *Analysis) uncertainty(ctx context.Context, water []exposure.TrialWater, opt AnalyseOptions, warn *warnings) error {
	s := a.Study
	if stated(s.Uncertainty.BottomSPerMSD) && s.Bottom.Kind != study.BottomSediment {
		warn.add("the season states how well the bottom's conductivity is known (bottom_S_per_m_sd), but its bottom insulates: that is not used")
	}
	names := speciesNames(seasonRecords(s, a.Exposures))
	base := setsOf(seasonRecords(s, a.Exposures), names)
	inputs := a.uncertainInputs(water, base, opt.Seed)
	shifts := make([]jointShift, len(names))
	for i, in := range inputs {
		progress(opt, "Uncertainty", i, len(inputs))
		spans, err := in.find(ctx)
		if err != nil {
			return stopped(ctx, err)
		}
		if in.draws > 0 {
			seed := opt.Seed
			a.Findings.Seed = &seed
		}
		row := Uncertainty{What: in.what, SD: finite(in.sd), Unit: in.unit, How: in.how, Draws: in.draws, Species: []UncertainMedians{}}
		for j, name := range names {
			row.Species = append(row.Species, uncertainMedians(name, spans[j]))
			shifts[j].add(&base[j], &spans[j])
		}
		a.Findings.Uncertainty = append(a.Findings.Uncertainty, row)
	}
	if len(inputs) > 1 {
		row := Uncertainty{What: "all together", How: "the changes of the logarithm of each median, downwards and upwards, added as squares: the inputs are taken to be off independently of one another", Species: []UncertainMedians{}}
		for j, name := range names {
			row.Species = append(row.Species, uncertainMedians(name, shifts[j].spans(&base[j])))
		}
		a.Findings.Uncertainty = append(a.Findings.Uncertainty, row)
	}
	progress(opt, "Uncertainty", len(inputs), len(inputs))
	return nil
}

func uncertainMedians(name string, spans speciesSpans) UncertainMedians {
	return UncertainMedians{
		Species: name, Detection: spans[ofDetection], NPMLE: spans[ofNPMLE],
		Lognormal: spans[ofLognormal], LognormalIndividual: spans[ofLognormalIndividual],
	}
}

// medians are the estimates of a study that differs from the analysis's own in
// its tracks or its fields, by species in the order of their names.
func (a *Analysis) medians(ctx context.Context, s *study.Study, f *exposure.Fields) ([]medianSet, error) {
	options := a.options
	options.Progress = nil
	options.Stop = func() bool { return ctx.Err() != nil }
	exposures, _, err := exposure.Compute(s, f, options)
	if err != nil {
		return nil, err
	}
	return setsOf(seasonRecords(s, exposures), speciesNames(seasonRecords(a.Study, a.Exposures))), ctx.Err()
}

// setsOf are the estimates of the records, by name of the species.
func setsOf(records []record, names []string) []medianSet {
	out := make([]medianSet, len(names))
	inParallel(len(names), func(i int) {
		used := pick(records, ofSpecies(names[i]))
		active := pick(used, func(r *record) bool { return r.role == study.RoleActive })
		d, t := detection(names[i], used), speciesThresholds(names[i], active)
		set := &out[i]
		set.put(ofDetection, d.Median, d.NotEstimable)
		why := t.NPMLE.NotEstimable
		if why == "" && t.NPMLE.MedianInterval != nil {
			why = t.NPMLE.MedianInterval.NotEstimable
		}
		set.put(ofNPMLE, t.NPMLE.Median, why)
		set.put(ofLognormal, t.Lognormal.Median, t.Lognormal.NotEstimable)
		set.put(ofLognormalIndividual, t.LognormalIndividual.Median, t.LognormalIndividual.NotEstimable)
	})
	return out
}

func (m *medianSet) put(k int, median *float64, why string) {
	m.ln[k], m.why[k] = math.NaN(), why
	switch {
	case median != nil && *median > 0:
		m.ln[k] = math.Log(*median)
	case why == "":
		m.why[k] = "the median is not bounded"
	}
}

// eachWay works the estimates out one standard deviation lower and higher.
func (a *Analysis) eachWay(ctx context.Context, find func(sign float64) ([]medianSet, error)) ([]speciesSpans, error) {
	var ends [2][]medianSet
	for k, sign := range [...]float64{-1, 1} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		sets, err := find(sign)
		if err != nil {
			return nil, err
		}
		ends[k] = sets
	}
	out := make([]speciesSpans, len(ends[0]))
	for i := range out {
		for k := range out[i] {
			out[i][k] = between(&ends[0][i], &ends[1][i], k)
		}
	}
	return out, nil
}

func between(a, b *medianSet, k int) Span {
	for _, m := range [...]*medianSet{a, b} {
		if m.why[k] != "" {
			return Span{NotEstimable: m.why[k]}
		}
	}
	return Span{Low: math.Exp(math.Min(a.ln[k], b.ln[k])), High: math.Exp(math.Max(a.ln[k], b.ln[k]))}
}

// withBottom are the estimates with a bottom that conducts so much more, in S/m;
// never less than nothing.
func (a *Analysis) withBottom(ctx context.Context, water []exposure.TrialWater, more float64) ([]medianSet, error) {
	other := slices.Clone(water)
	for i := range other {
		other[i].BottomSPerM = math.Max(other[i].BottomSPerM+more, 0)
	}
	fields, err := exposure.NewFields(a.Study, other, exposure.FieldOptions{
		Workers: runtime.GOMAXPROCS(0), Stop: func() bool { return ctx.Err() != nil },
	})
	if err != nil {
		return nil, err
	}
	return a.medians(ctx, a.Study, fields)
}

// scaled are the estimates where every field is a share less and more: F is a
// family of scale, lapses and spontaneous turns know no field, so that medians
// change by the same factor.
func scaled(base []medianSet, share float64) []speciesSpans {
	out := make([]speciesSpans, len(base))
	for i := range base {
		for k := range out[i] {
			switch {
			case base[i].why[k] != "":
				out[i][k] = Span{NotEstimable: base[i].why[k]}
			case share >= 1:
				out[i][k] = Span{NotEstimable: fmt.Sprintf("a current that is known to %g %% could be none at all", share*100)}
			default:
				m := math.Exp(base[i].ln[k])
				out[i][k] = Span{Low: m * (1 - share), High: m * (1 + share)}
			}
		}
	}
	return out
}

// raised is the study with every height so much higher, in metres, within the
// water.
func raised(s *study.Study, by float64) *study.Study {
	out := *s
	within := func(h study.Opt[float64], trial int) study.Opt[float64] {
		if h.Known {
			h.Value = math.Max(math.Min(h.Value+by, plateDepth(s, &s.Trials[trial])), 0)
		}
		return h
	}
	shallowest := math.Inf(1)
	for i := range s.Trials {
		shallowest = math.Min(shallowest, plateDepth(s, &s.Trials[i]))
	}
	for _, h := range [...]*study.Opt[float64]{&out.Analysis.HeightLowM, &out.Analysis.HeightHighM} {
		if h.Known {
			h.Value = math.Max(math.Min(h.Value+by, shallowest), 0)
		}
	}
	out.Tracks = withFixes(s, func(pass int, f *study.Fix) {
		trial := s.Passes[pass].Trial
		f.HeightM, f.HeightLowM, f.HeightHighM = within(f.HeightM, trial), within(f.HeightLowM, trial), within(f.HeightHighM, trial)
	})
	out.Passes = slices.Clone(s.Passes)
	for i := range out.Passes {
		p := &out.Passes[i]
		p.Onset.HeightM, p.Closest.HeightM = within(p.Onset.HeightM, p.Trial), within(p.Closest.HeightM, p.Trial)
	}
	return &out
}

// withFixes are the study's tracks with every fix changed, in arrays of their own.
func withFixes(s *study.Study, change func(pass int, f *study.Fix)) []study.Track {
	out := slices.Clone(s.Tracks)
	for i := range out {
		out[i].Points = slices.Clone(out[i].Points)
		for k := range out[i].Points {
			fixes := slices.Clone(out[i].Points[k].Fixes)
			for n := range fixes {
				change(out[i].Pass, &fixes[n])
			}
			out[i].Points[k].Fixes = fixes
		}
	}
	return out
}

// jointShift sums the squares of how far the inputs move the logarithm of each
// estimate, downwards and upwards.
type jointShift struct {
	down, up [ofCount]float64
	why      [ofCount]string
}

func (j *jointShift) add(base *medianSet, spans *speciesSpans) {
	for k, span := range spans {
		if why := span.NotEstimable; why != "" {
			j.why[k] = why
			continue
		}
		down, up := math.Max(base.ln[k]-math.Log(span.Low), 0), math.Max(math.Log(span.High)-base.ln[k], 0)
		j.down[k] += down * down
		j.up[k] += up * up
	}
}

func (j *jointShift) spans(base *medianSet) (out speciesSpans) {
	for k := range out {
		switch {
		case base.why[k] != "":
			out[k] = Span{NotEstimable: base.why[k]}
		case j.why[k] != "":
			out[k] = Span{NotEstimable: j.why[k]}
		default:
			out[k] = Span{Low: math.Exp(base.ln[k] - math.Sqrt(j.down[k])), High: math.Exp(base.ln[k] + math.Sqrt(j.up[k]))}
		}
	}
	return out
}

// statesUncertainty reports whether a season states a standard deviation that
// counts.
func statesUncertainty(s *study.Study) bool {
	u := &s.Uncertainty
	return stated(u.PositionSDM) || stated(u.HeightSDM) || stated(u.CurrentSDPercent) ||
		stated(u.BottomSPerMSD) && s.Bottom.Kind == study.BottomSediment
}

// uncertaintyView works the section out for the page, from an analysis that has
// its exposures.
func (a *Analysis) uncertaintyView(ctx context.Context, opt AnalyseOptions) (UncertaintyView, error) {
	v := UncertaintyView{Heading: a.Findings.Heading, Uncertainty: []Uncertainty{}, Stated: statesUncertainty(a.Study)}
	v.Warnings, v.Seed = []string{}, nil
	if !v.Stated {
		return v, nil
	}
	water, _, _, err := waterByTrial(a.Study)
	if err != nil {
		return UncertaintyView{}, err
	}
	again, warn := *a, warnings{}
	again.Findings = Findings{}
	if err := again.uncertainty(ctx, water, opt, &warn); err != nil {
		return UncertaintyView{}, err
	}
	v.Uncertainty, v.Seed, v.Warnings = again.Findings.Uncertainty, again.Findings.Seed, warn.list()
	return v, nil
}
