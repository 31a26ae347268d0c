package app

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"brinefield/core/season"
	"brinefield/core/study"
)

// edit gathers what a request does to each record before any of it is written.
type edit struct {
	study  *Study
	from   *Assembled
	right  Right
	reason string
	order  []recordName
	before map[recordName]*study.Record // nil: there was none
	after  map[recordName]*study.Record // nil: withdrawn
	faults []EditFault
	read   *seasonRead // the season as it would be, where it was read
}

// Edit changes records, all of it or nothing. A study that has faults can be
// edited as long as the edit brings no new one. Numbers and times are kept as
// the canonical season folder writes them.
//
// Errors: [ErrReadOnly]; [ErrChangedMeanwhile]; [ErrBlind] for what is sealed;
// [ErrUnknownTable]; [*EditError] with every fault.
func (s *Study) Edit(ctx context.Context, in EditRequest) (EditDone, error) {
	s.write.Lock()
	defer s.write.Unlock()
	e, err := s.newEdit(ctx, in.Reason)
	if err != nil {
		return EditDone{}, err
	}
	if err := e.gather(ctx, in); err != nil {
		return EditDone{}, err
	}
	e.dropEmpty()
	e.checkOwn()
	if err := e.checkGuesses(ctx); err != nil {
		return EditDone{}, err
	}
	if err := e.check(); err != nil {
		return EditDone{}, err
	}
	done, err := s.writeChanges(ctx, e.from.current, e.right, in.Author, e.changes())
	if err == nil && len(done.Entries) > 0 {
		s.takeOver(e)
	}
	return done, err
}

// takeOver keeps the season that an edit of fields was checked on: it is the
// one that stands now, and need not be read again.
func (s *Study) takeOver(e *edit) {
	s.reading.Lock()
	defer s.reading.Unlock()
	if e.read == nil || s.held == nil || s.held.position == e.from.Position {
		return
	}
	for _, name := range e.order {
		if ofSeason(name.kind) && (e.before[name] == nil || e.after[name] == nil) {
			return // where a record comes or goes, the order is the store's
		}
		if name.kind == study.KindReading || name.kind == study.KindTrial && len(s.held.standing(study.KindReading)) > 0 {
			return // what was read is put together with what is recorded anew
		}
	}
	s.ready = &readySeason{current: s.held, right: e.right, records: e.records(), read: e.from.read, seasonRead: *e.read}
}

func (s *Study) newEdit(ctx context.Context, reason string) (*edit, error) {
	if s.folder.ReadOnly {
		return nil, ErrReadOnly
	}
	right, err := s.right(ctx)
	if err != nil {
		return nil, err
	}
	a, err := s.assemble(ctx, right)
	if err != nil {
		return nil, err
	}
	return &edit{study: s, from: a, right: right, reason: reason, before: map[recordName]*study.Record{}, after: map[recordName]*study.Record{}}, nil
}

// writeChanges writes changes and shows their entries.
func (s *Study) writeChanges(ctx context.Context, current *standingRecords, right Right, author string, changes []change) (EditDone, error) {
	done := EditDone{Entries: []EntryView{}}
	drafts, err := s.lower(ctx, current, author, changes)
	if err != nil || len(drafts) == 0 {
		return done, err
	}
	entries, err := s.append(ctx, drafts)
	if err != nil {
		return done, err
	}
	done.Entries, err = s.entryViews(ctx, right, entries)
	return done, err
}

func (e *edit) gather(ctx context.Context, in EditRequest) error {
	for _, c := range in.Changes {
		if err := e.change(ctx, c); err != nil {
			return err
		}
	}
	for _, row := range in.Add {
		if err := e.add(ctx, row); err != nil {
			return err
		}
	}
	for _, row := range in.Remove {
		if err := e.remove(ctx, row); err != nil {
			return err
		}
	}
	return e.failed()
}

func (e *edit) failed() error {
	if len(e.faults) == 0 {
		return nil
	}
	return &EditError{Faults: e.faults}
}

func (e *edit) fault(name recordName, field, wrong, expected string) {
	e.faults = append(e.faults, EditFault{Kind: string(name.kind), ID: name.id, Field: field, Wrong: wrong, Expected: expected})
}

// take is the record as the edit has left it so far; nil where there is none.
func (e *edit) take(ctx context.Context, name recordName) (*study.Record, error) {
	if r, ok := e.after[name]; ok {
		return r, nil
	}
	r, err := e.study.clearRecord(ctx, e.from, name)
	if err != nil {
		return nil, err
	}
	e.order = append(e.order, name)
	e.before[name] = r
	if r != nil {
		own := *r
		own.Fields = maps.Clone(r.Fields)
		r = &own
	}
	e.after[name] = r
	return r, nil
}

// writtenByProgram are the kinds of records that no edit changes.
var writtenByProgram = []study.Kind{
	study.KindImport, study.KindOpening, study.KindErasure, study.KindAssignment, study.KindSeal, study.KindRehearsal, study.KindCard,
	study.KindLock, study.KindPreregistration, study.KindDeck, study.KindCamera, study.KindFootage, study.KindFixes,
}

// nameIn is the record that a request names.
func (e *edit) nameIn(kind, id string) (recordName, error) {
	name := recordName{study.Kind(kind), strings.TrimSpace(id)}
	if err := mayScore(e.from.current, e.right, name.kind); err != nil {
		return name, err
	}
	if slices.Contains(writtenByProgram, name.kind) {
		e.fault(name, "", "what the program wrote down itself cannot be edited", "expected a record that people write: of the season, the protocol, a permit, a caution, the rig or the background; how a study logs on deck is changed on the page Deck, and what was measured in footage on the page Footage")
		return name, e.failed()
	}
	if !editable(name.kind) {
		return name, fmt.Errorf("%w: %q", ErrUnknownTable, kind)
	}
	if isSingle(name.kind) {
		name.id = ""
	}
	return name, nil
}

// mayHold checks that a field can be written in a record of the kind.
func (e *edit) mayHold(name recordName, field string) (bool, error) {
	fields := fieldsOf(name.kind)
	i := slices.IndexFunc(fields, func(f season.Field) bool { return f.Name == field })
	switch {
	case slices.Contains(fieldsOfTasks[name.kind], field):
		e.fault(name, field, fmt.Sprintf("the %s of this is not edited: %s", field, whyOfTasks[name.kind]), "expected a note, or that it is withdrawn")
	case hasRows(name.kind):
		e.fault(name, field, "the readings of a "+string(name.kind)+" are not edited one by one", "expected a corrected season folder: import it again")
	case i < 0 && (field == "" || field == season.IDField(name.kind)):
		e.fault(name, field, fmt.Sprintf("the name of a %s stays as it was first written down", name.kind),
			"expected that this one is withdrawn and another added under the new name, and that what refers to it gets the new name too")
	case i < 0:
		e.fault(name, field, fmt.Sprintf("a %s has no %q", name.kind, field), "expected one of "+strings.Join(fieldNames(name.kind), ", "))
	case fields[i].Guarded && !e.right.Sees(name.id):
		return false, ErrBlind
	default:
		return true, nil
	}
	return false, nil
}

func (e *edit) change(ctx context.Context, c CellChange) error {
	name, err := e.nameIn(c.Kind, c.ID)
	if err != nil {
		return err
	}
	if ok, err := e.mayHold(name, c.Field); !ok {
		return err
	}
	r, err := e.take(ctx, name)
	if err != nil {
		return err
	}
	if r == nil {
		if !isSingle(name.kind) && name.kind != study.KindCaution {
			e.fault(name, c.Field, fmt.Sprintf("there is no %s %q", name.kind, name.id), "expected one of the table: it may have been withdrawn")
			return nil
		}
		r = &study.Record{Kind: name.kind, ID: name.id}
		e.after[name] = r
	}
	if r.Fields[c.Field] != c.From {
		return fmt.Errorf("%s %s, %s: it is now %q: %w", name.kind, name.id, c.Field, r.Fields[c.Field], ErrChangedMeanwhile)
	}
	if r.Fields == nil {
		r.Fields = map[string]string{}
	}
	r.Fields[c.Field] = strings.TrimSpace(c.To)
	return nil
}

func (e *edit) add(ctx context.Context, row NewRow) error {
	name, err := e.nameIn(row.Kind, row.ID)
	if err != nil {
		return err
	}
	r := &study.Record{Kind: name.kind, ID: name.id, Fields: map[string]string{}}
	for _, field := range slices.Sorted(maps.Keys(row.Fields)) {
		value := strings.TrimSpace(row.Fields[field])
		if value == "" || value == sealedWord && field == "active_pair" && !e.right.Sees(name.id) {
			continue
		}
		if ok, err := e.mayHold(name, field); err != nil {
			return err
		} else if ok {
			r.Fields[field] = value
		}
	}
	before, err := e.take(ctx, name)
	switch {
	case err != nil:
		return err
	case before != nil:
		e.fault(name, "", fmt.Sprintf("there is a %s %q already", name.kind, name.id), "expected a name of its own")
	case name.id == "" && !isSingle(name.kind):
		e.fault(name, "", fmt.Sprintf("the %s has no name", name.kind), "expected one")
	case fieldsOfTasks[name.kind] != nil:
		e.fault(name, "", "this is not written by hand: "+whyOfTasks[name.kind], "expected it from the page Deck")
	case hasRows(name.kind):
		e.fault(name, "", "the readings of a "+string(name.kind)+" are not written one by one", "expected a season folder that holds them: import it")
	}
	if name.kind == study.KindTrial && r.Fields["active_pair"] == "" {
		r.Fields["active_pair"] = sealedWord
	}
	e.after[name] = r
	return nil
}

func (e *edit) remove(ctx context.Context, row RowName) error {
	name, err := e.nameIn(row.Kind, row.ID)
	if err != nil {
		return err
	}
	r, err := e.take(ctx, name)
	if err != nil {
		return err
	}
	if r == nil {
		e.fault(name, "", fmt.Sprintf("there is no %s %q", name.kind, name.id), "expected one of the table: it may have been withdrawn already")
	}
	e.after[name] = nil
	return nil
}

// dropEmpty withdraws what may be missing and holds nothing any more.
func (e *edit) dropEmpty() {
	mayLack := append([]study.Kind{study.KindEnclosure, study.KindSchedule, study.KindUncertainty, study.KindCaution}, ownSingle...)
	for name, r := range e.after {
		if r == nil || !slices.Contains(mayLack, name.kind) {
			continue
		}
		if !slices.ContainsFunc(slices.Collect(maps.Values(r.Fields)), func(v string) bool { return v != "" }) {
			e.after[name] = nil
		}
	}
}

// changes are what the edit comes to.
func (e *edit) changes() []change {
	var out []change
	for _, name := range e.order {
		c := change{name: name, before: e.before[name], after: e.after[name], reason: e.reason}
		if name.kind == study.KindTrial && c.after != nil {
			plain, wanted := splitGuarded(*c.after)
			c.after = &plain
			held := Assignment{}
			if c.before != nil {
				var was study.Record
				was, held = splitGuarded(*c.before)
				c.before = &was
			}
			left := c.before == nil && e.from.current.state(recordName{study.KindAssignment, name.id}) != nil
			for field, text := range e.from.read.fields[name.id] { // read on deck, and not recorded here
				if held[field] == text {
					delete(held, field)
				}
				if wanted[field] == text {
					delete(wanted, field)
				}
			}
			if e.right.Sees(name.id) && !maps.Equal(held, wanted) || left {
				c.guarded = &wanted
			}
		} else if name.kind == study.KindTrial && c.before != nil {
			was, _ := splitGuarded(*c.before)
			c.before = &was
		}
		out = append(out, c)
	}
	return out
}
