package app

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"brinefield/core/study"
)

// Schedule is the page Schedule.
func (s *Study) Schedule(ctx context.Context) (ScheduleView, error) {
	v := ScheduleView{
		Study: s.folder.Name, ReadOnly: s.folder.ReadOnly, Pairs: []string{}, Seals: []SealView{}, Trials: []ScheduleTrialView{}, Openings: []OpeningView{},
		Guesses: []GuessView{}, Guessed: []GuessTest{}, Knowers: []KnowerView{}, Warnings: []string{}, After: []AfterOpening{},
	}
	right, err := s.right(ctx)
	if err != nil {
		return v, err
	}
	a, err := s.assemble(ctx, right)
	if err != nil {
		return v, err
	}
	w := &scheduleShown{study: s, view: &v, from: a, right: right}
	if w.zone, err = s.zone(ctx); err != nil {
		return v, err
	}
	v.Blind = !right.Granted()
	v.Pairs = append(v.Pairs, ids(a, study.KindPair)...)
	v.Start = startPlan(v.Pairs)
	v.Unscored = unscored(a.current)
	for _, step := range []func(context.Context) error{w.openings, w.lock, w.seals, w.trials} {
		if err := step(ctx); err != nil {
			return v, err
		}
	}
	w.warn()
	w.warnOfWashout()
	err = s.blindingFacts(ctx, right, &v)
	return v, err
}

// startPlan is a plan that a form can begin with.
func startPlan(pairs []string) SchedulePlan {
	n := max(len(pairs), 2)
	return SchedulePlan{Pairs: slices.Clone(pairs), CurrentsUA: []float64{6}, Trials: 12 * n, Silent: n, Repeats: 2, Spare: n}
}

// scheduleShown is the page while it is filled.
type scheduleShown struct {
	study  *Study
	view   *ScheduleView
	from   *Assembled
	right  Right
	zone   *time.Location
	opened *ScheduleDocument // the schedule in force, as far as it is opened
	seal   *sealedRecord
}

// written is the stamp of the entry that wrote a record first.
func (w *scheduleShown) written(ctx context.Context, kind study.Kind, id string) (StampView, error) {
	history, err := w.study.folder.Journal.History(ctx, kind, id)
	if err != nil || len(history) == 0 {
		return StampView{}, err
	}
	return w.study.stamp(ctx, &history[0], w.zone)
}

func (w *scheduleShown) openings(ctx context.Context) error {
	states, err := w.study.openings(ctx)
	if err != nil {
		return err
	}
	for _, st := range states {
		first, err := w.study.folder.Journal.Entry(ctx, st.First)
		if err != nil {
			return err
		}
		stamp, err := w.study.stamp(ctx, &first, w.zone)
		if err != nil {
			return err
		}
		o := OpeningView{ID: st.ID, Opened: stamp, Trials: []string{}}
		o.Trials = append(o.Trials, openedTrials(st.Fields)...)
		w.view.Openings = append(w.view.Openings, o)
	}
	if w.seal, err = w.study.sealInForce(w.from.current); err != nil || w.seal == nil {
		return err
	}
	w.opened, err = w.seal.opened(states)
	return err
}

// lock is the last entry that locked scoring.
func (w *scheduleShown) lock(ctx context.Context) error {
	if w.from.current.state(lockName) == nil {
		return nil
	}
	history, err := w.study.folder.Journal.History(ctx, study.KindLock, "")
	if err != nil || len(history) == 0 {
		return err
	}
	stamp, err := w.study.stamp(ctx, &history[len(history)-1], w.zone)
	w.view.Lock = &stamp
	return err
}

func (w *scheduleShown) seals(ctx context.Context) error {
	all, err := w.study.seals(w.from.current)
	if err != nil {
		return err
	}
	for i := range all {
		r := &all[i]
		v := SealView{
			ID: r.state.ID, Seal: r.doc.Seal, Plan: r.doc.Plan, ScheduleTimes: r.times, Rule: r.doc.Rule, Keys: []SealKeyView{},
			InForce: r.inForce, TrialsRun: len(r.run(w.from.current)), Problem: strings.Join(r.problems, "; "),
		}
		if v.Written, err = w.written(ctx, study.KindSeal, r.state.ID); err != nil {
			return err
		}
		for k, public := range r.doc.SealedTo {
			key := SealKeyView{Public: public}
			if key.Holder, err = w.study.people.name(ctx, r.state.Fields[holderField+strconv.Itoa(k+1)]); err != nil {
				return err
			}
			if key.Rehearsed, err = w.rehearsed(ctx, r.doc.Seal, public); err != nil {
				return err
			}
			v.Keys = append(v.Keys, key)
		}
		w.view.Seals = append(w.view.Seals, v)
	}
	return nil
}

// rehearsed is when a key was last seen to open a schedule; nil: never.
func (w *scheduleShown) rehearsed(ctx context.Context, seal, public string) (*StampView, error) {
	for _, st := range slices.Backward(w.from.current.standing(study.KindRehearsal)) {
		if st.Fields["seal"] == seal && st.Fields["key"] == public {
			stamp, err := w.written(ctx, study.KindRehearsal, st.ID)
			return &stamp, err
		}
	}
	return nil, nil
}

// trials are those of the schedule in force, or of the season where there is
// none.
func (w *scheduleShown) trials(ctx context.Context) error {
	passes := map[string]int{}
	for _, st := range w.from.current.standing(study.KindPass) {
		passes[st.Fields["trial"]]++
	}
	add := func(t ScheduleTrialView) {
		t.Passes = passes[t.Trial]
		w.view.Trials = append(w.view.Trials, t)
	}
	scheduled := map[string]bool{}
	if w.seal != nil {
		for i := range w.opened.count() {
			t := w.opened.at(i)
			scheduled[t.Trial] = true
			row := ScheduleTrialView{Trial: t.Trial, Spare: i >= len(w.opened.Trials), Block: w.seal.blockOf(i), Opened: t.Kind != ""}
			row.Run = w.from.current.state(recordName{study.KindTrial, t.Trial}) != nil
			if row.Opened {
				row.Kind, row.ActivePair, row.CurrentUA, row.Odour = t.Kind, t.ActivePair, t.CurrentUA, t.Odour
				if err := w.recorded(ctx, &row); err != nil {
					return err
				}
			}
			add(row)
		}
		w.view.Chance, w.view.Balance = w.opened.Chance, w.opened.Balance
	}
	for _, st := range w.from.current.standing(study.KindTrial) {
		if scheduled[st.ID] {
			continue
		}
		row := ScheduleTrialView{Trial: st.ID, Run: true, Opened: w.right.Sees(st.ID)}
		row.Block, _ = strconv.Atoi(st.Fields["block"]) // blank: none is stated
		if row.Opened {
			if err := w.ofSeason(ctx, &row); err != nil {
				return err
			}
		}
		add(row)
	}
	return nil
}

// warn says what endangers the schedule in force.
func (w *scheduleShown) warn() {
	if w.seal == nil {
		return
	}
	v := &w.view.Seals[len(w.view.Seals)-1]
	if v.Problem != "" {
		w.view.Warnings = append(w.view.Warnings, "The schedule is not what its seal says: "+v.Problem+".")
	}
	if v.TrialsRun > 0 && w.view.Blind {
		for _, k := range v.Keys {
			if k.Rehearsed == nil {
				w.view.Warnings = append(w.view.Warnings, fmt.Sprintf("Nobody has tried whether the key of %s opens the schedule: rehearse it, so that the season cannot be lost with the other keys.", k.Holder))
			}
		}
	}
	rule := w.from.Study.Schedule
	if rule.Kind != study.ScheduleBlocks || rule.Block != v.Rule.Block || rule.MostAlike != v.Plan.MostAlike {
		w.view.Warnings = append(w.view.Warnings, "The rule in the table schedule is not that of the sealed schedule: the randomisation test would draw again by another one.")
	}
}

// mostShort is how many breaches of the washout are named.
const mostShort = 5

// warnOfWashout names the trials of the schedule in force that began too soon
// after the one before.
func (w *scheduleShown) warnOfWashout() {
	if w.seal == nil || w.seal.times.WashoutMin == 0 {
		return
	}
	least := time.Duration(w.seal.times.WashoutMin * float64(time.Minute))
	var trials []study.Trial
	for _, t := range w.from.Study.Trials {
		if !t.Start.IsZero() && !t.End.IsZero() {
			trials = append(trials, t)
		}
	}
	slices.SortStableFunc(trials, func(a, b study.Trial) int { return a.Start.Compare(b.Start) })
	short := 0
	for i := 1; i < len(trials); i++ {
		gap := trials[i].Start.Sub(trials[i-1].End)
		if gap >= least {
			continue
		}
		if short++; short <= mostShort {
			w.view.Warnings = append(w.view.Warnings, fmt.Sprintf("Trial %s began %.0f minutes after the end of %s; the plan wants %g.", trials[i].ID, gap.Minutes(), trials[i-1].ID, w.seal.times.WashoutMin))
		}
	}
	if short > mostShort {
		w.view.Warnings = append(w.view.Warnings, fmt.Sprintf("So did %d more trials.", short-mostShort))
	}
}

// ofSeason fills in what the season holds of a trial beside the schedule.
func (w *scheduleShown) ofSeason(ctx context.Context, row *ScheduleTrialView) error {
	r, err := w.study.clearRecord(ctx, w.from, recordName{study.KindTrial, row.Trial})
	if err != nil || r == nil {
		return err
	}
	row.ActivePair = r.Fields["active_pair"]
	if current, err := strconv.ParseFloat(r.Fields["current_uA"], 64); err == nil {
		row.CurrentUA = finite(current)
	}
	return nil
}

// recorded says where the study holds something else than what was drawn.
func (w *scheduleShown) recorded(ctx context.Context, row *ScheduleTrialView) error {
	if !row.Run || !w.right.Sees(row.Trial) {
		return nil
	}
	r, err := w.study.clearRecord(ctx, w.from, recordName{study.KindTrial, row.Trial})
	if err != nil || r == nil {
		return err
	}
	var differs []string
	if pair := r.Fields["active_pair"]; pair != row.ActivePair && pair != sealedWord {
		differs = append(differs, "active pair "+pair)
	}
	if text := r.Fields["current_uA"]; text != "" {
		if current, err := strconv.ParseFloat(text, 64); err == nil && current != *row.CurrentUA {
			differs = append(differs, fmt.Sprintf("%s µA", text))
		}
	}
	row.Recorded = strings.Join(differs, ", ")
	return nil
}
