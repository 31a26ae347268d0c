package app

import (
	"context"
	"maps"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// change is what happens to one record, in the words that people read.
type change struct {
	name   recordName
	before *study.Record // nil: there is none. Without guarded fields
	after  *study.Record // nil: it is withdrawn. Without guarded fields
	// guarded is what is to be kept of a trial's active pairs; nil: what is kept
	// stays, empty: nothing is kept any more.
	guarded *Assignment
	reason  string
	undoes  string
}

// draft is the change as an entry that names people; ok is false where
// nothing changes but what is guarded.
func (c change) draft() (d journal.Draft, ok bool) {
	switch {
	case c.after == nil && c.before == nil:
		return d, false
	case c.after == nil:
		d, ok = journal.Draft{Kind: c.name.kind, Subject: c.name.id, Act: journal.Remove}, true
	case c.before == nil:
		d, ok = journal.Changes(nil, *c.after)
	default:
		d, ok = journal.Changes(&journal.State{Record: *c.before}, *c.after)
	}
	d.Reason, d.Undoes = c.reason, c.undoes
	return d, ok
}

// lower makes the drafts of changes: references in the place of names and of
// assignments. Names and assignments are kept by their stores before it
// returns; without an entry that holds their references they do no harm.
func (s *Study) lower(ctx context.Context, current *standingRecords, author string, changes []change) ([]journal.Draft, error) {
	by, err := s.people.mark(ctx, author)
	if err != nil {
		return nil, err
	}
	var drafts []journal.Draft
	for _, c := range changes {
		d, ok := c.draft()
		if !ok {
			continue
		}
		if err := s.markPeople(ctx, current.state(c.name), &d); err != nil {
			return nil, err
		}
		drafts = append(drafts, d)
	}
	assigned, err := s.lowerAssignments(ctx, current, changes)
	if err != nil {
		return nil, err
	}
	drafts = append(drafts, assigned...)
	for i := range drafts {
		drafts[i].Author = by
	}
	return drafts, nil
}

// markPeople puts references in the place of names.
func (s *Study) markPeople(ctx context.Context, now *journal.State, d *journal.Draft) error {
	for _, field := range study.PersonFields[d.Kind] {
		if name := d.Body.Fields[field]; name != "" {
			mark, err := s.people.mark(ctx, name)
			if err != nil {
				return err
			}
			d.Body.Fields[field] = mark
		}
		if _, ok := d.Body.Was[field]; ok && now != nil {
			d.Body.Was[field] = now.Fields[field]
		}
	}
	return nil
}

// lowerAssignments keeps the assignments of trials and drafts their records.
func (s *Study) lowerAssignments(ctx context.Context, current *standingRecords, changes []change) ([]journal.Draft, error) {
	var keep []Assignment
	var kept []change
	var drafts []journal.Draft
	for _, c := range changes {
		switch name := (recordName{study.KindAssignment, c.name.id}); {
		case c.guarded == nil:
		case len(*c.guarded) > 0:
			keep, kept = append(keep, maps.Clone(*c.guarded)), append(kept, c)
		case current.state(name) != nil:
			drafts = append(drafts, journal.Draft{Kind: name.kind, Subject: name.id, Act: journal.Remove, Reason: c.reason, Undoes: c.undoes})
		}
	}
	if len(keep) == 0 {
		return drafts, nil
	}
	refs, err := s.folder.Guarded.PutAssignments(ctx, keep)
	if err != nil {
		return nil, err
	}
	for i, c := range kept {
		name := recordName{study.KindAssignment, c.name.id}
		want := study.Record{Kind: name.kind, ID: name.id, Fields: map[string]string{refField: refs[i]}}
		d, ok := journal.Changes(current.state(name), want)
		if ok {
			d.Reason, d.Undoes = c.reason, c.undoes
			drafts = append(drafts, d)
		}
	}
	return drafts, nil
}
