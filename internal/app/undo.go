package app

import (
	"context"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// undoable reports whether entries about a kind can be taken back. That the
// active pairs were opened, that something was imported or erased, stays.
func undoable(kind study.Kind) bool {
	return editable(kind) || kind == study.KindAssignment || kind == study.KindDeck || slices.Contains(study.FootageKinds, kind)
}

// overtaken is why an entry's effect does not stand any more.
type overtaken struct {
	field string
	by    *journal.Entry // the later entry; nil where none is known
}

// changedSince tells what of an entry's effect was changed by a later one; nil
// where all of it stands.
func (t *told) changedSince(i int) *overtaken {
	e, after, now := t.entries[i], t.after[i], t.now()
	if now.Removed != after.Removed {
		return &overtaken{by: t.lastAfter(i, "")}
	}
	fields := e.Body.Fields
	if e.Act == journal.Record {
		fields = maps.Clone(after.Fields)
		if fields == nil {
			fields = map[string]string{}
		}
		maps.Copy(fields, now.Fields)
	}
	for _, name := range slices.Sorted(maps.Keys(fields)) {
		if now.Fields[name] != after.Fields[name] {
			return &overtaken{field: name, by: t.lastAfter(i, name)}
		}
	}
	if (e.Body.Table != nil || e.Act == journal.Record) && !reflect.DeepEqual(now.Table, after.Table) {
		return &overtaken{by: t.lastAfter(i, "")}
	}
	return nil
}

// lastAfter is the newest entry after one that set a field, or any ("").
func (t *told) lastAfter(i int, field string) *journal.Entry {
	for k := len(t.entries) - 1; k > i; k-- {
		if _, sets := t.entries[k].Body.Fields[field]; sets || field == "" {
			return &t.entries[k]
		}
	}
	return nil
}

// takenBack is the record without the effect of an entry; nil: withdrawn.
func (t *told) takenBack(i int) *study.Record {
	e, before, now := t.entries[i], t.before(i), t.now()
	if e.Act == journal.Record {
		return nil
	}
	want := now.Record
	want.Fields = maps.Clone(now.Fields)
	if want.Fields == nil {
		want.Fields = map[string]string{}
	}
	if e.Act == journal.Remove {
		return &want
	}
	for name := range e.Body.Fields {
		delete(want.Fields, name)
		if before != nil && before.Fields[name] != "" {
			want.Fields[name] = before.Fields[name]
		}
	}
	if e.Body.Table != nil {
		want.Table = nil
		if before != nil {
			want.Table = before.Table
		}
	}
	return &want
}

// Undo takes back the effect of one entry by a new one: a correction to the
// values before it, a withdrawal, or the record again. An undo can be undone.
//
// Errors: [ErrReadOnly]; [ErrUnknownEntry]; [*EditError] where a later entry
// changed the same, where the entry is one that stays, or where the season
// would get a fault.
func (s *Study) Undo(ctx context.Context, in UndoRequest) (EditDone, error) {
	s.write.Lock()
	defer s.write.Unlock()
	e, err := s.newEdit(ctx, "")
	if err != nil {
		return EditDone{}, err
	}
	entry, err := s.folder.Journal.Entry(ctx, in.Entry)
	if err != nil {
		return EditDone{}, err
	}
	name := recordName{entry.Kind, entry.Subject}
	history, err := s.tell(ctx, name)
	if err != nil {
		return EditDone{}, err
	}
	i := history.index(entry.ID)
	if i < 0 {
		return EditDone{}, ErrUnknownEntry
	}
	if entry.Reason == footageReason && slices.Contains(measuredKinds, entry.Kind) {
		return s.undoMeasured(ctx, e, in.Author, entry)
	}
	if err := s.mayUndo(ctx, e, history, i); err != nil {
		return EditDone{}, err
	}
	want := history.takenBack(i)
	if err := e.wouldBe(ctx, name, want); err != nil {
		return EditDone{}, err
	}
	return s.writeUndo(ctx, e.right, in.Author, entry, history.now(), want)
}

// mayUndo refuses an entry that stays, and one that was overtaken.
func (s *Study) mayUndo(ctx context.Context, e *edit, history *told, i int) error {
	entry := history.entries[i]
	name := recordName{entry.Kind, entry.Subject}
	if !undoable(entry.Kind) {
		e.fault(name, "", "what the program wrote down itself, of an import, a schedule, an opening or an erasure, stays", "expected an entry about a record of the study")
		return e.failed()
	}
	if err := mayScore(e.from.current, e.right, entry.Kind); err != nil {
		return err
	}
	if by := history.undoneBy(entry.ID); by != "" {
		e.fault(name, "", "this was undone already", "expected to undo that undo (entry "+by+") instead")
		return e.failed()
	}
	since := history.changedSince(i)
	if since == nil {
		return nil
	}
	field := since.field
	if entry.Kind == study.KindAssignment {
		field = "active_pair"
	}
	wrong, expected := "this was changed since", "expected to undo what came later first"
	if since.by != nil {
		who, err := s.people.name(ctx, since.by.Author)
		if err != nil {
			return err
		}
		if who != "" {
			wrong += " by " + who
		}
		zone, err := s.zone(ctx)
		if err != nil {
			return err
		}
		wrong += " on " + since.by.Wall.In(zone).Format("2 January 2006 at 15:04:05")
		expected = fmt.Sprintf("expected to undo that first (entry %s)", since.by.ID)
	}
	e.fault(name, field, wrong, expected)
	return e.failed()
}

// wouldBe checks that a record may be so; nil stands for withdrawn.
func (e *edit) wouldBe(ctx context.Context, name recordName, want *study.Record) error {
	shown := name
	if name.kind == study.KindAssignment {
		if !e.right.Sees(name.id) {
			return nil // what is sealed brings no fault before it is opened
		}
		shown.kind = study.KindTrial
	}
	now, err := e.take(ctx, shown)
	if err != nil {
		return err
	}
	after, err := e.clearAs(ctx, name, want, now)
	if err != nil {
		return err
	}
	e.after[shown] = after
	if now == nil && after == nil {
		return nil // an assignment of a trial that was withdrawn
	}
	e.checkOwn()
	return e.check()
}

// clearAs is how a record would be read if it were so.
func (e *edit) clearAs(ctx context.Context, name recordName, want, now *study.Record) (*study.Record, error) {
	s := e.study
	if name.kind == study.KindAssignment {
		if now == nil {
			return nil, nil
		}
		plain, _ := splitGuarded(*now)
		a := Assignment{}
		if want != nil {
			found, err := s.assignmentHere(ctx, e.right, name.id, want.Fields[refField])
			if err != nil {
				return nil, err
			}
			a = found
		}
		r := withAssignment(plain, a)
		return &r, nil
	}
	if want == nil {
		return nil, nil
	}
	r, err := s.people.clear(ctx, *want)
	if err != nil || name.kind != study.KindTrial {
		return &r, err
	}
	assigned, _, err := s.assigned(ctx, e.from.current, e.right)
	if err != nil {
		return nil, err
	}
	r = withAssignment(r, assigned[name.id])
	return &r, nil
}

// writeUndo writes the entry that takes one back.
func (s *Study) writeUndo(ctx context.Context, right Right, author string, entry journal.Entry, now *journal.State, want *study.Record) (EditDone, error) {
	d, ok := journal.Draft{Kind: entry.Kind, Subject: entry.Subject, Act: journal.Remove}, true
	if want != nil {
		d, ok = journal.Changes(now, *want)
	}
	if !ok {
		return EditDone{Entries: []EntryView{}}, nil
	}
	by, err := s.people.mark(ctx, author)
	if err != nil {
		return EditDone{}, err
	}
	d.Author, d.Undoes = by, entry.ID
	entries, err := s.append(ctx, []journal.Draft{d})
	if err != nil {
		return EditDone{}, err
	}
	views, err := s.entryViews(ctx, right, entries)
	return EditDone{Entries: views}, err
}

// stampText is a moment as pages get it; "" where there is none.
func stampText(t time.Time, zone *time.Location) string {
	if t.IsZero() {
		return ""
	}
	return t.In(zone).Format(time.RFC3339)
}
