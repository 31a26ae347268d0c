package app

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// History gives every entry about one record, oldest first; with a trial those
// about which of its pairs were active.
func (s *Study) History(ctx context.Context, kind, id string) (HistoryView, error) {
	view := HistoryView{Entries: []EntryView{}}
	entries, err := s.folder.Journal.History(ctx, study.Kind(kind), id)
	if err != nil {
		return view, err
	}
	if study.Kind(kind) == study.KindTrial {
		assigned, err := s.folder.Journal.History(ctx, study.KindAssignment, id)
		if err != nil {
			return view, err
		}
		entries = append(entries, assigned...)
		slices.SortStableFunc(entries, func(a, b journal.Entry) int { return cmp.Compare(a.ID, b.ID) })
	}
	right, err := s.right(ctx)
	if err != nil {
		return view, err
	}
	view.Entries, err = s.entryViews(ctx, right, entries)
	return view, err
}

// Journal gives the newest entries before a position (0: from the end), newest
// first.
func (s *Study) Journal(ctx context.Context, before int64, limit int) (HistoryView, error) {
	view := HistoryView{Entries: []EntryView{}}
	entries, oldest, err := s.folder.Journal.Recent(ctx, before, limit)
	if err != nil {
		return view, err
	}
	if len(entries) == limit && oldest > 1 {
		view.Before = oldest
	}
	right, err := s.right(ctx)
	if err != nil {
		return view, err
	}
	view.Entries, err = s.entryViews(ctx, right, entries)
	return view, err
}

// told is the history of one record with its state after each entry.
type told struct {
	entries []journal.Entry
	after   []*journal.State
}

func (s *Study) tell(ctx context.Context, name recordName) (*told, error) {
	entries, err := s.folder.Journal.History(ctx, name.kind, name.id)
	if err != nil {
		return nil, err
	}
	t := &told{entries: make([]journal.Entry, len(entries)), after: make([]*journal.State, len(entries))}
	var state *journal.State
	for i, e := range entries {
		if t.entries[i], err = journal.Upcast(e); err != nil {
			return nil, err
		}
		if state, err = journal.Apply(state, e); err != nil {
			return nil, err
		}
		t.after[i] = state
	}
	return t, nil
}

func (t *told) index(id string) int {
	return slices.IndexFunc(t.entries, func(e journal.Entry) bool { return e.ID == id })
}

func (t *told) now() *journal.State { return t.after[len(t.after)-1] }

func (t *told) before(i int) *journal.State {
	if i == 0 {
		return nil
	}
	return t.after[i-1]
}

// undoneBy is the entry that took back the effect of one and was not taken
// back itself; "" where there is none.
func (t *told) undoneBy(id string) string {
	for i := len(t.entries) - 1; i >= 0; i-- {
		if e := t.entries[i]; e.Undoes == id && t.undoneBy(e.ID) == "" {
			return e.ID
		}
	}
	return ""
}

// entryViews shows entries, in the order given.
func (s *Study) entryViews(ctx context.Context, right Right, entries []journal.Entry) ([]EntryView, error) {
	zone, err := s.zone(ctx)
	if err != nil {
		return nil, err
	}
	histories := map[recordName]*told{}
	out := make([]EntryView, 0, len(entries))
	for _, e := range entries {
		name := recordName{e.Kind, e.Subject}
		if histories[name] == nil {
			if histories[name], err = s.tell(ctx, name); err != nil {
				return nil, err
			}
		}
		v, err := s.entryView(ctx, right, histories[name], e.ID, zone)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// zone is that of the site; UTC where none is known yet.
func (s *Study) zone(ctx context.Context) (*time.Location, error) {
	site, err := s.folder.Journal.State(ctx, study.KindSite, "")
	if err != nil || site == nil {
		return time.UTC, err
	}
	zone, err := time.LoadLocation(site.Fields["timezone"])
	if err != nil {
		return time.UTC, nil // a zone that is not known is a fault of the site, told there
	}
	return zone, nil
}

func (s *Study) entryView(ctx context.Context, right Right, t *told, id string, zone *time.Location) (EntryView, error) {
	i := t.index(id)
	if i < 0 {
		return EntryView{}, ErrUnknownEntry
	}
	e := t.entries[i]
	author, err := s.people.name(ctx, e.Author)
	if err != nil {
		return EntryView{}, err
	}
	v := EntryView{
		Entry: e.ID, Kind: string(e.Kind), ID: e.Subject, Act: string(e.Act), Author: author, When: e.Wall.In(zone).Format(time.RFC3339),
		Device: e.Device, Seq: e.Seq, Reason: e.Reason, Undoes: e.Undoes, UndoneBy: t.undoneBy(e.ID), Table: e.Body.Table != nil,
	}
	v.CanUndo = !s.folder.ReadOnly && v.UndoneBy == "" && undoable(e.Kind) && t.changedSince(i) == nil
	v.Values, err = s.entryValues(ctx, right, t, i)
	return v, err
}

// entryValues are the values that an entry set, in the order of the table.
func (s *Study) entryValues(ctx context.Context, right Right, t *told, i int) ([]EntryChange, error) {
	e := t.entries[i]
	from, to := map[string]string{}, map[string]string{}
	switch e.Act {
	case journal.Correct:
		from, to = maps.Clone(e.Body.Was), e.Body.Fields
	case journal.Remove:
		if before := t.before(i); before != nil {
			from = before.Fields
		}
	default:
		to = e.Body.Fields
	}
	if e.Kind == study.KindAssignment {
		return s.assignmentValues(ctx, right, e.Subject, from[refField], to[refField])
	}
	if e.Kind == study.KindDeck {
		return deckChanges(from, to), nil
	}
	if slices.Contains(study.FootageKinds, e.Kind) {
		from, to = withoutDocuments(from, to)
	}
	if e.Kind == study.KindReading { // a reference says nothing to people
		from, to = without(from, refField), without(to, refField)
	}
	before, err := s.people.clear(ctx, study.Record{Kind: e.Kind, Fields: from})
	if err != nil {
		return nil, err
	}
	after, err := s.people.clear(ctx, study.Record{Kind: e.Kind, Fields: to})
	if err != nil {
		return nil, err
	}
	return valueChanges(e.Kind, before.Fields, after.Fields), nil
}

// withoutDocuments puts a few words in the place of what footage holds as JSON.
func withoutDocuments(from, to map[string]string) (a, b map[string]string) {
	a, b = maps.Clone(from), maps.Clone(to)
	for _, fields := range []map[string]string{a, b} {
		delete(fields, trackPrint)
		for _, name := range []string{"spec", "chapters", "sync", "poses", "heights"} {
			if text := fields[name]; text != "" {
				fields[name] = footageWords(name, text)
			}
		}
	}
	for _, name := range []string{"spec", "chapters", "sync", "poses", "heights"} {
		if x := a[name]; x != "" && x == b[name] && from[name] != to[name] { // the same words for two documents
			b[name] += ", changed"
		}
	}
	return a, b
}

func without(fields map[string]string, name string) map[string]string {
	fields = maps.Clone(fields)
	delete(fields, name)
	return fields
}

// valueChanges lists what differs between two sets of fields.
func valueChanges(kind study.Kind, before, after map[string]string) []EntryChange {
	out := []EntryChange{}
	names := fieldNames(kind)
	all := maps.Clone(before)
	if all == nil {
		all = map[string]string{}
	}
	maps.Copy(all, after)
	for _, name := range append(names, unknownNames(all, names)...) {
		if before[name] != after[name] {
			out = append(out, EntryChange{Field: name, From: shortened(name, before[name]), To: shortened(name, after[name])})
		}
	}
	return out
}

// wholeDocuments are fields that hold a document, of which a list of entries
// shows the size alone.
var wholeDocuments = []string{documentField, openedField}

func shortened(field, value string) string {
	if value == "" || !slices.Contains(wholeDocuments, field) {
		return value
	}
	return fmt.Sprintf("(%d characters)", len(value))
}

// assignmentValues tells two assignments apart, or only that there were some.
func (s *Study) assignmentValues(ctx context.Context, right Right, trial, from, to string) ([]EntryChange, error) {
	var both [2]map[string]string
	for i, ref := range []string{from, to} {
		switch {
		case ref == "":
		case !right.Sees(trial):
			both[i] = map[string]string{"active_pair": sealedWord}
		default:
			found, err := s.assignmentHere(ctx, right, trial, ref)
			if err != nil {
				return nil, err
			}
			if both[i] = found; found == nil {
				both[i] = map[string]string{"active_pair": notHereWord}
			}
		}
	}
	if !right.Sees(trial) {
		return []EntryChange{{Field: "active_pair", From: both[0]["active_pair"], To: both[1]["active_pair"]}}, nil
	}
	return valueChanges(study.KindTrial, both[0], both[1]), nil
}
