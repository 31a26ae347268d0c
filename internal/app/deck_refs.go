package app

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"
	"sync"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// deckRefs knows what entries of other devices refer to and what of it is not here
// yet. It reads the journal once, then only what is new in it.
type deckRefs struct {
	mu       sync.Mutex
	read     bool
	position int64
	settled  map[string]bool                   // here, or erased
	waiting  map[string]map[string]sortOfThing // by device and reference
}

// sortOfThing is where a thing is kept, and the order in which it is asked for.
type sortOfThing int

const (
	thingName sortOfThing = iota
	thingGuarded
	thingAttachment
)

// mostMissing are asked for at once.
const mostMissing = 500

// isRef reports whether a text has the form of a reference.
func isRef(text string) bool {
	return len(text) == 64 && strings.Trim(text, "0123456789abcdef") == ""
}

// refsOf calls found with everything that an entry refers to.
func refsOf(e *journal.Entry, found func(ref string, sort sortOfThing)) {
	person := func(value string) {
		if ref, ok := strings.CutPrefix(value, personMark); ok && isRef(ref) {
			found(ref, thingName)
		}
	}
	person(e.Author)
	for _, value := range e.Body.Fields {
		person(value)
	}
	ref := e.Body.Fields[refField]
	if !isRef(ref) {
		return
	}
	switch e.Kind {
	case study.KindAttachment:
		found(ref, thingAttachment)
	case study.KindReading, study.KindAssignment:
		found(ref, thingGuarded)
	}
}

// catchUp reads what is new in the journal. entries are those of which so many were
// taken in since d.mu is held: where nothing else came in they are all that is new.
func (d *deckRefs) catchUp(ctx context.Context, s *Study, head JournalHead, taken int, entries []journal.Offered) error {
	switch {
	case d.read && head.Position == d.position:
		return nil
	case d.read && head.Position == d.position+int64(taken):
		for i := range entries {
			if entries[i].Seq > head.Devices[entries[i].Device].Seq {
				continue // beyond a gap
			}
			if err := d.note(ctx, s, head.Device, &entries[i].Entry); err != nil {
				return err
			}
		}
	case d.read && head.Position-d.position <= manyEntries:
		newest, _, err := s.folder.Journal.Recent(ctx, 0, int(head.Position-d.position))
		if err != nil {
			return err
		}
		for i := range newest {
			if err := d.note(ctx, s, head.Device, &newest[i]); err != nil {
				return err
			}
		}
	default:
		if err := d.readAll(ctx, s, head); err != nil {
			return err
		}
	}
	d.read, d.position = true, head.Position
	return nil
}

func (d *deckRefs) readAll(ctx context.Context, s *Study, head JournalHead) error {
	d.settled, d.waiting = map[string]bool{}, map[string]map[string]sortOfThing{}
	held, err := s.folder.Erasable.Refs(ctx)
	if err != nil {
		return err
	}
	for _, ref := range held {
		d.settled[ref] = true
	}
	for stored, err := range s.folder.Journal.All(ctx) {
		if err != nil {
			return err
		}
		if stored.Device == head.Device || !bytes.Contains(stored.Canonical, []byte(personMark)) && !bytes.Contains(stored.Canonical, []byte(`"`+refField+`":`)) {
			continue
		}
		e, err := journal.Parse(stored.Canonical)
		if err != nil {
			return err
		}
		if err := d.note(ctx, s, head.Device, &e); err != nil {
			return err
		}
	}
	return nil
}

// note keeps what an entry refers to and is not here.
func (d *deckRefs) note(ctx context.Context, s *Study, own string, e *journal.Entry) (err error) {
	if e.Device == own {
		return nil
	}
	refsOf(e, func(ref string, sort sortOfThing) {
		if err != nil || d.settled[ref] {
			return
		}
		if _, known := d.waiting[e.Device][ref]; known {
			return
		}
		var here bool
		if here, err = s.thingHere(ctx, ref, sort); err != nil {
			return
		}
		if here {
			d.settled[ref] = true
			return
		}
		if d.waiting[e.Device] == nil {
			d.waiting[e.Device] = map[string]sortOfThing{}
		}
		d.waiting[e.Device][ref] = sort
	})
	return err
}

// thingHere reports whether something is here, or was erased. What is damaged is
// not here: it is asked for again.
func (s *Study) thingHere(ctx context.Context, ref string, sort sortOfThing) (bool, error) {
	var err error
	if sort == thingGuarded {
		// Nothing but whether it is here leaves this function.
		_, err = s.folder.Guarded.Assignments(ctx, custodian(), []string{ref})
	} else {
		_, err = s.folder.Erasable.Get(ctx, ref)
	}
	if ctx.Err() != nil {
		return false, ctx.Err()
	}
	return err == nil || errors.Is(err, ErrErased), nil
}

// arrived notes that things are here now.
func (d *deckRefs) arrived(refs []string) {
	for _, ref := range refs {
		if d.settled != nil {
			d.settled[ref] = true
		}
		for _, of := range d.waiting {
			delete(of, ref)
		}
	}
}

// missing are at most mostMissing references that entries of the devices name and
// that are not here: names first, then readings, then pictures and voices.
func (d *deckRefs) missing(devices []string) []string {
	sorts := map[string]sortOfThing{}
	for _, device := range devices {
		for ref, sort := range d.waiting[device] {
			sorts[ref] = sort
		}
	}
	refs := mapKeys(sorts)
	slices.SortStableFunc(refs, func(a, b string) int { return cmp.Compare(sorts[a], sorts[b]) })
	return slices.Clip(refs[:min(len(refs), mostMissing)])
}
