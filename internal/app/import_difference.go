package app

import (
	"context"
	"maps"
	"slices"

	"brinefield/core/season"
	"brinefield/core/study"
)

// difference is what leads from a study to a season folder.
type difference struct {
	changes []change // new and corrected records
	missing []change // in the study and not in the folder
	tables  []PlanTable
	// told is what the folder says of each trial's active pairs, in its order.
	told []trialAssignment
	// tells: the folder tells, or helps to tell, which pair was active. pairs: it
	// names active pairs.
	tells, pairs bool
	// ruleKept: the folder has another [schedule] than the sealed schedule, whose
	// rule stays.
	ruleKept bool
}

type trialAssignment struct {
	trial string
	Assignment
}

// differ compares the records of a folder with a study. What is guarded is
// taken out first, and not compared.
func differ(ctx context.Context, s *Study, current *standingRecords, wanted []study.Record) (*difference, error) {
	d := &difference{}
	counts := map[study.Kind]*PlanTable{}
	for _, kind := range study.SeasonKinds {
		counts[kind] = &PlanTable{Kind: string(kind)}
	}
	held := make(map[recordName]bool, len(wanted))
	sealed := len(current.standing(study.KindSeal)) > 0
	for _, want := range wanted {
		if want.Kind == study.KindTrial {
			var a Assignment
			want, a = splitGuarded(want)
			if len(a) > 0 {
				d.told = append(d.told, trialAssignment{want.ID, a})
				d.tells, d.pairs = true, d.pairs || a["active_pair"] != ""
			}
		}
		held[nameOf(want)] = true
		before, err := s.clearState(ctx, current, nameOf(want))
		if err != nil {
			return nil, err
		}
		c := change{name: nameOf(want), before: before, after: &want}
		_, differs := c.draft()
		switch {
		case sealed && want.Kind == study.KindSchedule:
			counts[want.Kind].Same++
			d.ruleKept = d.ruleKept || differs
			continue
		case before == nil:
			counts[want.Kind].Added++
		case differs:
			counts[want.Kind].Changed++
		default:
			counts[want.Kind].Same++
			continue
		}
		d.changes = append(d.changes, c)
	}
	err := d.findMissing(ctx, s, current, held, counts)
	for _, kind := range study.SeasonKinds {
		if c := *counts[kind]; c.Added+c.Changed+c.Same+c.Missing > 0 {
			d.tables = append(d.tables, c)
		}
	}
	return d, err
}

// findMissing finds what the folder no longer holds, last kinds first, because
// a record refers to those of kinds before its own.
func (d *difference) findMissing(ctx context.Context, s *Study, current *standingRecords, held map[recordName]bool, counts map[study.Kind]*PlanTable) error {
	for _, kind := range slices.Backward(study.SeasonKinds) {
		for _, state := range current.standing(kind) {
			name := nameOf(state.Record)
			if held[name] {
				continue
			}
			if kind == study.KindSchedule && len(current.standing(study.KindSeal)) > 0 {
				d.ruleKept = true
				continue
			}
			before, err := s.clearState(ctx, current, name)
			if err != nil {
				return err
			}
			counts[kind].Missing++
			d.missing = append(d.missing, change{name: name, before: before})
		}
	}
	return nil
}

// clearState is a record that stands, with names in the place of references.
func (s *Study) clearState(ctx context.Context, current *standingRecords, name recordName) (*study.Record, error) {
	state := current.state(name)
	if state == nil {
		return nil, nil
	}
	r, err := s.people.clear(ctx, state.Record)
	return &r, err
}

// assigned are the assignments that the folder gives and that are not kept
// yet. They are compared under the custodian's right, and only written.
func (d *difference) assigned(ctx context.Context, s *Study, current *standingRecords) ([]change, error) {
	kept, err := s.assignments(ctx, current, custodian())
	if err != nil {
		return nil, err
	}
	whole, _, err := s.assigned(ctx, current, custodian())
	if err != nil {
		return nil, err
	}
	var out []change
	for _, told := range d.told {
		was, there := kept[told.trial]
		want := maps.Clone(told.Assignment)
		if there && want["active_pair"] == "" {
			continue // a sealed trial says nothing about an assignment that is kept
		}
		// What an export held of the readings is no news either.
		if !there || !maps.Equal(was, want) && !maps.Equal(whole[told.trial], want) {
			out = append(out, change{name: recordName{study.KindTrial, told.trial}, guarded: &want})
		}
	}
	return out, nil
}

// guardedChanges are the rows of a plan about active pairs. In a blind study
// every trial of which the folder tells the pair has one, whether it differs or
// not, so that a plan cannot be used to guess.
func (d *difference) guardedChanges(ctx context.Context, s *Study, current *standingRecords, right Right) ([]PlanChange, error) {
	kept, _, err := s.assigned(ctx, current, right)
	if err != nil {
		return nil, err
	}
	var out []PlanChange
	for _, told := range d.told {
		trial := recordName{study.KindTrial, told.trial}
		switch there := current.state(recordName{study.KindAssignment, told.trial}) != nil; {
		case there && told.Assignment["active_pair"] == "", current.state(trial) == nil:
		case !right.Sees(told.trial):
			c := PlanChange{Kind: string(study.KindTrial), ID: told.trial, Act: "record", Field: "active_pair", To: sealedWord}
			if there {
				c.Act, c.From = "correct", sealedWord
			}
			out = append(out, c)
		default:
			for _, v := range valueChanges(study.KindTrial, kept[told.trial], told.Assignment) {
				out = append(out, PlanChange{Kind: string(study.KindTrial), ID: told.trial, Act: "correct", Field: v.Field, From: v.From, To: v.To})
			}
		}
	}
	return out, nil
}

// planChanges lists the values of changes; a new or withdrawn record is one
// row, and so is a table.
func planChanges(changes []change) []PlanChange {
	var out []PlanChange
	for _, c := range changes {
		row := PlanChange{Kind: string(c.name.kind), ID: c.name.id}
		switch {
		case c.before == nil:
			row.Act = "record"
			out = append(out, row)
			continue
		case c.after == nil:
			row.Act = "remove"
			out = append(out, row)
			continue
		}
		row.Act = "correct"
		for _, v := range valueChanges(c.name.kind, c.before.Fields, c.after.Fields) {
			row.Field, row.From, row.To = v.Field, v.From, v.To
			out = append(out, row)
		}
		if d, ok := c.draft(); ok && d.Body.Table != nil {
			row.Field, row.From, row.To = "", "", ""
			out = append(out, row)
		}
	}
	return out
}

// readFolder reads a season folder as records; its faults are a *FaultsError.
func readFolder(in Input) (*study.Study, []study.Record, error) {
	st, err := ReadSeason(in)
	if err != nil {
		return st, nil, err
	}
	records, err := season.Records(st)
	return st, records, err
}
