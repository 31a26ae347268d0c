package app

import (
	"context"
	"errors"
	"maps"
	"slices"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// recordName names a record within a study.
type recordName struct {
	kind study.Kind
	id   string
}

func nameOf(r study.Record) recordName { return recordName{r.Kind, r.ID} }

// standingRecords are the records of a study as they stand at one position of
// its journal: references in the place of names, assignments in the place of
// active pairs. They are never changed; [standingRecords.after] makes new ones.
type standingRecords struct {
	position int64
	kinds    map[study.Kind]*recordsOfKind
}

// recordsOfKind are in the order of their first entries' IDs. A record that was
// removed after they were read keeps its place.
type recordsOfKind struct {
	list []journal.State
	at   map[string]int
}

// readKinds are the kinds that pages and edits work with. Openings and
// assignments are among them; what an import or an erasure wrote down is not.
var readKinds = slices.Concat(study.SeasonKinds, []study.Kind{study.KindAssignment, study.KindSeal, study.KindRehearsal, study.KindCard, study.KindLock, study.KindDeck}, study.OwnKinds, study.FootageKinds)

func gatherStates(position int64, states []journal.State) *standingRecords {
	c := &standingRecords{position: position, kinds: map[study.Kind]*recordsOfKind{}}
	for _, st := range states {
		c.of(st.Kind).add(st)
	}
	return c
}

func (c *standingRecords) of(kind study.Kind) *recordsOfKind {
	k := c.kinds[kind]
	if k == nil {
		k = &recordsOfKind{at: map[string]int{}}
		c.kinds[kind] = k
	}
	return k
}

func (k *recordsOfKind) add(st journal.State) {
	if i, ok := k.at[st.ID]; ok {
		k.list[i] = st
		return
	}
	k.at[st.ID] = len(k.list)
	k.list = append(k.list, st)
}

// state is a record that stands, or nil.
func (c *standingRecords) state(name recordName) *journal.State {
	k := c.kinds[name.kind]
	if k == nil {
		return nil
	}
	i, ok := k.at[name.id]
	if !ok || k.list[i].Removed {
		return nil
	}
	return &k.list[i]
}

// standing gives the records of a kind that stand, in order.
func (c *standingRecords) standing(kind study.Kind) []journal.State {
	k := c.kinds[kind]
	if k == nil {
		return nil
	}
	out := make([]journal.State, 0, len(k.list))
	for _, st := range k.list {
		if !st.Removed {
			out = append(out, st)
		}
	}
	return out
}

// after folds entries in that this device has just written. It answers nil where
// the records must be read anew: one that was removed before these were read came
// back, or an entry has its place before others, because the clock of another
// device runs ahead.
func (c *standingRecords) after(entries []journal.Entry, returns func(journal.Entry) (bool, error)) (*standingRecords, error) {
	next := &standingRecords{position: c.position + int64(len(entries)), kinds: maps.Clone(c.kinds)}
	own := map[study.Kind]bool{}
	for _, e := range entries {
		if !slices.Contains(readKinds, e.Kind) {
			if e.Kind == study.KindErasure {
				return nil, nil
			}
			continue
		}
		if !own[e.Kind] {
			k := next.of(e.Kind)
			next.kinds[e.Kind] = &recordsOfKind{list: slices.Clone(k.list), at: maps.Clone(k.at)}
			own[e.Kind] = true
		}
		k := next.kinds[e.Kind]
		var before *journal.State
		if i, ok := k.at[e.Subject]; ok {
			if before = &k.list[i]; e.ID < before.Last {
				return nil, nil
			}
		} else if n := len(k.list); n > 0 && e.ID < k.list[n-1].First {
			return nil, nil
		} else if back, err := returns(e); back || err != nil {
			return nil, err
		}
		st, err := journal.Apply(before, e)
		if err != nil {
			return nil, err
		}
		k.add(*st)
	}
	return next, nil
}

var errBusy = errors.New("the study is being written all the time: try again in a moment")

// current reads the records as they stand; what was read before is taken where
// the journal has not moved.
func (s *Study) current(ctx context.Context) (*standingRecords, error) {
	s.reading.Lock()
	defer s.reading.Unlock()
	return s.currentLocked(ctx)
}

func (s *Study) currentLocked(ctx context.Context) (*standingRecords, error) {
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return nil, err
	}
	for range 20 {
		if s.held != nil && s.held.position == head.Position {
			return s.held, nil
		}
		s.people.forget()
		states, err := s.folder.Journal.States(ctx, readKinds...)
		if err != nil {
			return nil, err
		}
		again, err := s.folder.Journal.Head(ctx)
		if err != nil {
			return nil, err
		}
		if again.Position == head.Position {
			s.held = gatherStates(head.Position, states)
			return s.held, nil
		}
		head = again
	}
	return nil, errBusy
}

// standingOf are the records of some kinds as they stand; more where they were read
// already.
func (s *Study) standingOf(ctx context.Context, kinds []study.Kind) (*standingRecords, error) {
	s.reading.Lock()
	held := s.held
	s.reading.Unlock()
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return nil, err
	}
	for range 20 {
		if held != nil && held.position == head.Position {
			return held, nil
		}
		states, err := s.folder.Journal.States(ctx, kinds...)
		if err != nil {
			return nil, err
		}
		again, err := s.folder.Journal.Head(ctx)
		if err != nil {
			return nil, err
		}
		if again.Position == head.Position {
			return gatherStates(head.Position, states), nil
		}
		head = again
	}
	return nil, errBusy
}

// manyEntries are so many that reading the records anew costs no more than
// folding them in.
const manyEntries = 1000

// append writes drafts and takes over what they changed. The caller holds
// s.write.
func (s *Study) append(ctx context.Context, drafts []journal.Draft) ([]journal.Entry, error) {
	entries, err := s.folder.Journal.Append(ctx, drafts)
	if err != nil {
		return nil, err
	}
	s.reading.Lock()
	defer s.reading.Unlock()
	held := s.held
	s.held = nil
	if len(entries) > manyEntries {
		return entries, nil
	}
	if head, err := s.folder.Journal.Head(ctx); err != nil || held == nil || head.Position != held.position+int64(len(entries)) {
		return entries, nil // what was written stays written; it is read anew
	}
	next, err := held.after(entries, func(e journal.Entry) (bool, error) {
		st, err := s.folder.Journal.State(ctx, e.Kind, e.Subject)
		return st == nil || st.First != e.ID, err
	})
	if err == nil {
		s.held = next
	}
	return entries, nil
}
