package app

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"

	"brinefield/core/exposure"
	"brinefield/core/inference"
	"brinefield/core/study"
)

// Sections are the top-level keys of the findings document that --only names.
var Sections = append(slices.Clone(wholeRun), onlyAsked)

// wholeRun are those that an analysis works out where none is named.
var wholeRun = []string{"water", "passes", "preference", "descriptive", "thresholds", "detection", "individuals"}

// onlyAsked is worked out only where it is named: it repeats the analysis some
// thirty times.
const onlyAsked = "uncertainty"

// sensitivityTimesS are the reaction times at which the detection median is
// always stated.
var sensitivityTimesS = []float64{0, 0.05, 0.1, 0.2}

// AnalyseOptions are the choices of one analysis.
type AnalyseOptions struct {
	Only            []string // sections; empty = all but uncertainty
	Seed            uint64
	TreatOldAsExact bool // old data: the field at the onset columns is the threshold itself
	Program         Program
	Progress        func(stage string, done, total int) // may be nil
}

// Analysis is everything that one analysis of a season found, and what is
// needed to show any pass of it.
type Analysis struct {
	Study     *study.Study
	Fields    *exposure.Fields
	Exposures []exposure.Exposure
	Findings  Findings
	options   exposure.Options
}

// Analyse turns a season that was read without faults into findings: water,
// fields, exposures, estimates, in that order.
func Analyse(ctx context.Context, in Input, s *study.Study, opt AnalyseOptions) (*Analysis, error) {
	wanted, err := sections(opt.Only)
	if err != nil {
		return nil, err
	}
	warn := warnings{}
	warn.add(unknownFilesWarning(in)...)
	water, entries, waterWarnings, err := waterByTrial(s)
	if err != nil {
		return nil, err
	}
	warn.add(waterWarnings...)

	a := &Analysis{Study: s, Findings: Findings{Heading: Heading{
		Format: Format, Program: opt.Program, InputsSHA256: in.Fingerprints(),
	}}}
	if wanted["water"] {
		a.Findings.Water = entries
	}
	if err := a.expose(ctx, water, opt, wanted, &warn); err != nil {
		return nil, err
	}
	records := seasonRecords(s, a.Exposures)
	if wanted["passes"] {
		a.Findings.Passes = passExposures(s, a.Exposures)
	}
	if err := a.estimate(ctx, records, opt, wanted); err != nil {
		return nil, err
	}
	if wanted[onlyAsked] {
		if err := a.uncertainty(ctx, water, opt, &warn); err != nil {
			return nil, err
		}
	}
	if wanted["preference"] {
		warn.add(designWarnings(s)...)
	}
	a.Findings.Warnings = warn.list()
	return a, nil
}

func sections(only []string) (map[string]bool, error) {
	wanted := map[string]bool{}
	if len(only) == 0 {
		only = wholeRun
	}
	for _, name := range only {
		if !slices.Contains(Sections, name) {
			return nil, fmt.Errorf("--only names %q; expected one or more of %s", name, strings.Join(Sections, ", "))
		}
		wanted[name] = true
	}
	return wanted, nil
}

func (a *Analysis) expose(ctx context.Context, water []exposure.TrialWater, opt AnalyseOptions, wanted map[string]bool, warn *warnings) error {
	needed := wanted["passes"] || wanted["preference"] || wanted["descriptive"] || wanted["thresholds"] || wanted["detection"] || wanted["individuals"] || wanted[onlyAsked]
	if !needed {
		return nil
	}
	progress(opt, "Fields", 0, len(a.Study.Trials))
	stop := func() bool { return ctx.Err() != nil }
	fields, err := exposure.NewFields(a.Study, water, exposure.FieldOptions{
		Workers:  runtime.GOMAXPROCS(0),
		Progress: func(done, total int) { progress(opt, "Fields", done, total) },
		Stop:     stop,
	})
	if err != nil {
		return stopped(ctx, err)
	}
	a.Fields = fields
	a.options = exposure.Options{
		TreatOldAsExact: opt.TreatOldAsExact,
		Workers:         runtime.GOMAXPROCS(0),
		Stop:            stop,
		Progress:        func(done, total int) { progress(opt, "Exposures", done, total) },
	}
	exposures, warned, err := exposure.Compute(a.Study, fields, a.options)
	if err != nil {
		return stopped(ctx, err)
	}
	warn.add(warned...)
	a.Exposures = exposures
	return ctx.Err()
}

// estimate fills the sections that estimate something. They are independent
// of one another and of their order.
func (a *Analysis) estimate(ctx context.Context, records []record, opt AnalyseOptions, wanted map[string]bool) error {
	f := &a.Findings
	steps := []struct {
		name string
		do   func() error
	}{
		{"preference", func() error {
			seed := opt.Seed
			f.Seed = &seed
			f.Preference = preferences(records, design(a.Study), opt.Seed)
			return nil
		}},
		{"descriptive", func() error { f.Descriptive = descriptives(records); return nil }},
		{"thresholds", func() error { f.Thresholds = thresholds(records); return nil }},
		{"detection", func() error {
			f.Detection = detections(records)
			return a.sensitivity(ctx, f.Detection)
		}},
		{"individuals", func() error { f.Individuals = individuals(records); return nil }},
	}
	for i, step := range steps {
		if !wanted[step.name] {
			continue
		}
		progress(opt, "Estimates", i, len(steps))
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := step.do(); err != nil {
			return err
		}
	}
	progress(opt, "Estimates", len(steps), len(steps))
	return nil
}

// sensitivity repeats the bounds on the field and the detection model at each
// reaction time.
func (a *Analysis) sensitivity(ctx context.Context, rows []Detection) error {
	options := a.options
	options.Progress = nil
	bounds, err := exposure.Sensitivity(a.Study, a.Fields, a.Exposures, sensitivityTimesS, options)
	if err != nil {
		return stopped(ctx, err)
	}
	for i, delay := range sensitivityTimesS {
		if err := ctx.Err(); err != nil {
			return err
		}
		again := detections(seasonRecords(a.Study, withBounds(a.Exposures, bounds[i])))
		for j := range rows {
			s := Sensitivity{ReactionTimeS: delay, Median: again[j].Median}
			s.NotEstimable = again[j].NotEstimable
			rows[j].Sensitivity = append(rows[j].Sensitivity, s)
		}
	}
	return nil
}

func withBounds(exposures []exposure.Exposure, bounds []exposure.Bounds) []exposure.Exposure {
	out := slices.Clone(exposures)
	for i := range out {
		out[i].Low, out[i].High, out[i].FallingField = bounds[i].Low, bounds[i].High, bounds[i].FallingField
	}
	return out
}

// stopped gives the context's own error where the work was stopped for it.
func stopped(ctx context.Context, err error) error {
	if errors.Is(err, exposure.ErrStopped) && ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

func progress(opt AnalyseOptions, stage string, done, total int) {
	if opt.Progress != nil {
		opt.Progress(stage, done, total)
	}
}

// design is the schedule for the randomisation test: the trials in order of
// their start, those of unknown pair without one.
func design(s *study.Study) scheduleDesign {
	d := scheduleDesign{pairs: len(s.Pairs), rule: inference.Uniform()}
	if s.Schedule.Kind == study.ScheduleBlocks {
		d.rule = inference.DrawRule{Block: s.Schedule.Block, MostAlike: s.Schedule.MostAlike}
	}
	order := make([]int, len(s.Trials))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return s.Trials[a].Start.Compare(s.Trials[b].Start) })
	for _, i := range order {
		t := &s.Trials[i]
		d.trials = append(d.trials, designTrial{id: t.ID, index: i, active: t.ActivePairs, unknown: t.Sealed, block: t.Block})
	}
	return d
}

// designWarnings says where the season's trials are not what its rule describes.
func designWarnings(s *study.Study) []string {
	var out []string
	if s.Schedule.Kind == study.ScheduleUnstated {
		out = append(out, "the season does not say how active pairs were drawn ([schedule] rule): the randomisation test takes them as drawn independently with equal chances")
	}
	if s.Schedule.Kind != study.ScheduleBlocks && slices.ContainsFunc(s.Trials, func(t study.Trial) bool { return t.Block > 0 }) {
		out = append(out, `trials state the block that they were drawn in, but [schedule] rule is not "blocks": the randomisation test does not use them`)
	}
	d := design(s)
	return append(out, d.rule.Warnings(d.withTurns(nil))...)
}
