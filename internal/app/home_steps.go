package app

import (
	"context"
	"errors"
	"fmt"
	"time"

	"brinefield/core/study"
)

// overview is what a card and its steps tell of a study.
type overview struct {
	title, question, siteName string
	zone                      *time.Location
	trials, passes, animals   int
	casts, pairs, ticked      int
	clips, filmed, tracked    int // clips; passes that name one; those of them with a track
	untracked, measured       int // passes without a track; with fixes of their own
	water, bottom             bool
	sealed                    bool                    // a schedule is sealed, or was
	partly                    bool                    // animals that only passes name are not among the animals
	assigned                  bool                    // some trial's active pairs are kept
	faults                    map[study.Kind][]string // what is wrong, by kind
	missing                   map[study.Kind]bool     // sections that are not there yet
}

// overview reads all records where that is quick, else only the few that it
// needs; the animals of a large study are then those of its table of
// individuals, until its records are read for a page.
func (s *Study) overview(ctx context.Context, head JournalHead, right Right) (*overview, error) {
	if head.Entries <= readAtOnce {
		a, err := s.assemble(ctx, right)
		if err != nil {
			return nil, err
		}
		return s.overviewOf(ctx, a.current, a)
	}
	s.reading.Lock()
	known := s.held != nil && s.held.position == head.Position
	s.reading.Unlock()
	if known {
		current, err := s.current(ctx)
		if err != nil {
			return nil, err
		}
		return s.overviewOf(ctx, current, nil)
	}
	states, err := s.folder.Journal.States(ctx, study.KindStudy, study.KindSite, study.KindWater, study.KindBottom, study.KindPair,
		study.KindTrial, study.KindIndividual, study.KindAssignment, study.KindCaution, study.KindSeal)
	if err != nil {
		return nil, err
	}
	o, err := s.overviewOf(ctx, gatherStates(head.Position, states), nil)
	if err != nil {
		return nil, err
	}
	n, err := s.folder.Journal.Counts(ctx)
	if err != nil {
		return nil, err
	}
	o.passes, o.casts, o.partly = n[study.KindPass], n[study.KindCast], true
	o.clips, o.measured, o.untracked = n[study.KindClip], n[study.KindFixes], max(n[study.KindPass]-n[study.KindTrack], 0)
	return o, nil
}

func (s *Study) overviewOf(ctx context.Context, current *standingRecords, a *Assembled) (*overview, error) {
	o := &overview{faults: map[study.Kind][]string{}, missing: map[study.Kind]bool{}}
	if state := current.state(recordName{kind: study.KindStudy}); state != nil {
		o.title, o.question = state.Fields["title"], state.Fields["question"]
	}
	if state := current.state(recordName{kind: study.KindSite}); state != nil {
		o.siteName = state.Fields["name"]
	}
	o.water = current.state(recordName{kind: study.KindWater}) != nil
	o.bottom = current.state(recordName{kind: study.KindBottom}) != nil
	o.casts, o.pairs = len(current.standing(study.KindCast)), len(current.standing(study.KindPair))
	o.trials, o.passes = len(current.standing(study.KindTrial)), len(current.standing(study.KindPass))
	o.assigned = len(current.standing(study.KindAssignment)) > 0
	o.sealed = len(current.standing(study.KindSeal)) > 0
	animals := map[string]bool{}
	for _, state := range current.standing(study.KindIndividual) {
		animals[state.ID] = true
	}
	for _, state := range current.standing(study.KindPass) {
		if id := state.Fields["individual"]; id != "" {
			animals[id] = true
		}
		o.film(current, state.ID, state.Fields["clip"] != "")
	}
	o.clips, o.measured = len(current.standing(study.KindClip)), len(current.standing(study.KindFixes))
	o.animals = len(animals)
	for _, state := range current.standing(study.KindCaution) {
		if knownCaution(state.ID) && state.Fields["ticked"] == "yes" {
			o.ticked++
		}
	}
	if a != nil {
		o.takeFaults(a)
	}
	var err error
	o.zone, err = s.zone(ctx)
	return o, err
}

func (o *overview) takeFaults(a *Assembled) {
	for _, f := range a.Faults {
		p, _ := placeOf(a.Places, f)
		if p.id == "" && p.field == "" && f.Found == "" {
			o.missing[p.kind] = true
			continue
		}
		place := string(p.kind)
		if p.id != "" {
			place += " " + p.id
		}
		if p.field != "" {
			place += ", " + p.field
		}
		o.faults[p.kind] = append(o.faults[p.kind], place+": "+f.Wrong)
	}
}

// steps are the steps of the work in their order: the first that is not done
// is next.
func (s *Study) steps(ctx context.Context, o *overview, right Right, open bool) ([]StepView, error) {
	steps := []StepView{
		o.step("question", []study.Kind{study.KindStudy, study.KindSite}, o.question != "" && o.siteName != "",
			fmt.Sprintf("The question and the site are written down; %d of %d cautions are ticked.", o.ticked, cautionCount()),
			"Write down what is asked, and where."),
		o.step("water", []study.Kind{study.KindWater, study.KindCast}, o.water,
			"What the water conducts is stated"+castsText(o.casts)+".", "Say what the water conducts, or import a season with a cast."),
		o.step("rig", []study.Kind{study.KindBottom, study.KindEnclosure, study.KindPlate, study.KindPair}, o.pairs > 0 && o.bottom,
			fmt.Sprintf("The bottom and %s are described.", counted(o.pairs, "pair", "pairs")), "Describe the bottom and the pairs."),
		o.step("schedule", []study.Kind{study.KindSchedule}, o.sealed || o.trials > 0, o.scheduleText(right), "Draw and seal which pair is active in which trial."),
		o.step("trials", []study.Kind{study.KindTrial}, o.trials > 0,
			counted(o.trials, "trial is", "trials are")+" written down.", "Write down the trials, or import them."),
		o.step("passes", []study.Kind{study.KindSpecies, study.KindIndividual, study.KindClip, study.KindPass, study.KindTrack}, o.passes > 0,
			o.passesText(), "Write down the passes, or import them."),
	}
	if o.clips > 0 {
		steps = append(steps, o.footageStep())
	}
	findings, err := s.findingsStep(ctx, o, right, open)
	if err != nil {
		return nil, err
	}
	steps = append(steps, findings)
	next := false
	for i := range steps {
		switch {
		case steps[i].State == "later" && !next:
			steps[i].State, next = "next", true
		case steps[i].State == "attention":
			next = true
		}
	}
	return steps, nil
}

func (o *overview) scheduleText(right Right) string {
	switch {
	case !o.sealed:
		return "The trials came with their own allocation; no schedule was sealed here."
	case right.Granted():
		return "The schedule was sealed, and is open."
	case right.Some():
		return "The schedule is sealed, but for single trials."
	}
	return "The schedule is sealed."
}

func (o *overview) passesText() string {
	text := counted(o.passes, "pass", "passes")
	if !o.partly {
		text += " of " + counted(o.animals, "recognised animal", "recognised animals")
	}
	return text + "."
}

func castsText(n int) string {
	if n == 0 {
		return ""
	}
	return ", with " + counted(n, "cast", "casts")
}

// step is one step: done, at fault, or still to come.
func (o *overview) step(name string, kinds []study.Kind, done bool, said, todo string) StepView {
	faults, missing := []string{}, false
	for _, kind := range kinds {
		faults = append(faults, o.faults[kind]...)
		missing = missing || o.missing[kind]
	}
	switch {
	case len(faults) > 0:
		say := faults[0]
		if len(faults) > 1 {
			say += fmt.Sprintf(", and %d more", len(faults)-1)
		}
		return StepView{Step: name, State: "attention", Say: say + "."}
	case done && !missing:
		return StepView{Step: name, State: "done", Say: said}
	}
	return StepView{Step: name, State: "later", Say: todo}
}

// film counts a pass for the step of footage.
func (o *overview) film(current *standingRecords, pass string, named bool) {
	there := current.state(recordName{study.KindTrack, pass}) != nil
	if !there {
		o.untracked++
	}
	if named {
		o.filmed++
		if there {
			o.tracked++
		}
	}
}

// footageStep is there where the study has clips. It is done once every pass that
// names one has a track, measured here or brought along.
func (o *overview) footageStep() StepView {
	here := ""
	if o.measured > 0 {
		here = fmt.Sprintf(", %d measured here", o.measured)
	}
	v := StepView{Step: "footage", State: "later"}
	switch clips := counted(o.clips, "clip", "clips"); {
	case o.partly:
		v.Say = fmt.Sprintf("%s; %s without a track%s.", clips, counted(o.untracked, "pass", "passes"), here)
		if o.untracked == 0 {
			v.State = "done"
		}
	case o.filmed == 0:
		v.Say = clips + ", and no pass names one."
		if o.untracked == 0 {
			v.State = "done"
		}
	case o.tracked < o.filmed:
		v.Say = fmt.Sprintf("%d of %s in %s %s a track%s.", o.tracked, counted(o.filmed, "pass", "passes"), clips, has(o.tracked), here)
	default:
		v.State, v.Say = "done", fmt.Sprintf("%s in %s %s a track%s.", counted(o.filmed, "pass", "passes"), clips, has(o.filmed), here)
	}
	return v
}

func has(n int) string {
	if n == 1 {
		return "has"
	}
	return "have"
}

// findingsStep says whether there are findings, without making any.
func (s *Study) findingsStep(ctx context.Context, o *overview, right Right, open bool) (StepView, error) {
	v := StepView{Step: "findings", State: "later", Say: "They are worked out once there are trials and passes."}
	if analysis := o.step("findings", []study.Kind{study.KindAnalysis, study.KindUncertainty}, true, "", ""); analysis.State == "attention" {
		return analysis, nil
	}
	switch {
	case o.missing[study.KindAnalysis]:
		v.Say = "Say from which distance on a pass counts (Tables, analysis)."
		return v, nil
	case o.passes == 0:
		return v, nil
	case !right.Granted():
		v.Say = "Which pair was active is sealed: what depends on it can be estimated once it is opened."
		return v, nil
	}
	v.Say = "They can be worked out."
	if open {
		st, err := s.standing(ctx)
		if err != nil {
			return v, err
		}
		switch st.state() {
		case "current":
			v.State, v.Say = "done", "They are up to date."
		case "out_of_date":
			v.State, v.Say = "attention", "The study changed since they were worked out."
		case "failed":
			v.State, v.Say = "attention", st.err.Error()+"."
		case "running":
			v.Say = "They are being worked out."
		}
		return v, nil
	}
	_, _, err := s.folder.Guarded.LatestResult(ctx, right, keptFindings)
	if errors.Is(err, ErrNoResult) {
		return v, nil
	}
	if err == nil {
		v.State, v.Say = "done", "They were worked out."
	}
	return v, err
}
