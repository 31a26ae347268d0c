package app

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// MergeDone says what a journal of other devices brought.
type MergeDone struct {
	New     int
	Known   int // entries that were here already
	Devices []MergedDevice
	// NotHere are opened trials whose active pair is still on another device.
	NotHere []string
	Notes   []string // worth knowing: a clock that was set back, for one
}

// MergedDevice is what came in of one device.
type MergedDevice struct {
	Device  string
	New     int
	Known   int
	Entries int64 // of the device that are here now
	Kinds   []MergedKind
	// SendFrom is the first entry that was missing, SendTo the last; the Waiting
	// ones after them were not taken in and have to be sent again. 0: none is missing.
	SendFrom, SendTo int64
	Waiting          int
}

// MergedKind counts the new entries about one kind.
type MergedKind struct {
	Kind    string
	Entries int
}

var (
	// ErrOtherStudy answers for the journal of another study.
	ErrOtherStudy = errors.New("this is the journal of another study: it begins a study of its own, and no device of it has written here; to join two studies, import the season folder of one into the other")
	// ErrOpeningStays answers for an entry that would take an opening back.
	ErrOpeningStays = errors.New("that the active pairs were opened is never corrected or withdrawn: no Brinefield writes such an entry, so that nothing of this journal was taken in")
)

// MergeJournal takes in the journal of other devices: the lines of a journal.jsonl
// or of a log that a tablet saved, one canonical entry a line, in any order. What
// is here already is passed over. Entries are taken in whatever they say, also
// where the season gets faults by them, which are then shown. When it returns,
// the new entries are on the disc: all of them, or none.
//
// It tells of entries nothing but their devices and kinds, and so nothing that is
// sealed.
//
// Errors: [ErrReadOnly]; [ErrOtherStudy]; [ErrOpeningStays]; those of
// [JournalStore].Receive.
func (s *Study) MergeJournal(ctx context.Context, lines []byte) (MergeDone, error) {
	if s.folder.ReadOnly {
		return MergeDone{}, ErrReadOnly
	}
	batch, err := s.readJournal(ctx, lines)
	if err != nil {
		return MergeDone{}, err
	}
	offer, err := OfferOf(ctx, batch)
	if err != nil {
		return MergeDone{}, err
	}
	received, err := s.receive(ctx, offer)
	if err != nil {
		return MergeDone{}, err
	}
	done := MergeDone{Devices: []MergedDevice{}, NotHere: []string{}, Notes: []string{}}
	for _, r := range received.Devices {
		d := MergedDevice{Device: r.Device, New: r.New, Known: r.Known, Entries: r.Head.Seq, Kinds: []MergedKind{}, Waiting: r.Beyond}
		if r.Missing != nil {
			d.SendFrom, d.SendTo = r.Missing.From, r.Missing.To
			done.Notes = append(done.Notes, fmt.Sprintf("of device %s, entries %d to %d are missing; the %d after them were not taken in: send everything from entry %d on again", d.Device, d.SendFrom, d.SendTo, d.Waiting, d.SendFrom))
		}
		for _, kind := range slices.Sorted(maps.Keys(r.Kinds)) {
			d.Kinds = append(d.Kinds, MergedKind{Kind: string(kind), Entries: r.Kinds[kind]})
		}
		for _, back := range r.SetBack {
			done.Notes = append(done.Notes, fmt.Sprintf("the clock of device %s was set back before its entry %d: from %s to %s", d.Device, back.Seq, back.Before.Format(time.RFC3339), back.After.Format(time.RFC3339)))
		}
		done.New += d.New
		done.Known += d.Known
		done.Devices = append(done.Devices, d)
	}
	switch notHere, err := s.NotHere(ctx); {
	case err != nil: // the entries are in; what else is wrong is no fault of theirs
		done.Notes = append(done.Notes, err.Error())
	case len(notHere) > 0:
		done.NotHere = notHere
		done.Notes = append(done.Notes, notHereWords(notHere))
	}
	return done, nil
}

// receive takes entries in and drops what was made of the journal before.
func (s *Study) receive(ctx context.Context, batch []journal.Offered) (Received, error) {
	s.write.Lock()
	defer s.write.Unlock()
	received, err := s.folder.Journal.ReceiveOffered(ctx, batch)
	if err != nil {
		return Received{}, err
	}
	if !slices.ContainsFunc(received.Devices, func(d ReceivedDevice) bool { return d.New > 0 }) {
		return received, nil
	}
	s.reading.Lock()
	s.held, s.ready = nil, nil
	s.reading.Unlock()
	s.people.forget()
	s.after.drop()
	return received, nil
}

// readJournal splits a journal into its entries and refuses what is none of this
// study.
func (s *Study) readJournal(ctx context.Context, lines []byte) ([][]byte, error) {
	var batch [][]byte
	devices := map[string]bool{}
	begins := "" // the entry that begins a study
	number := 0
	for line := range bytes.Lines(lines) {
		number++
		if line = bytes.TrimRight(line, "\r\n"); len(line) == 0 {
			continue
		}
		if number%1000 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		e, err := journal.Parse(line)
		if err != nil {
			return nil, fmt.Errorf("line %d of the journal: %w; expected one entry a line, as journal.jsonl of an export and a saved log hold them", number, err)
		}
		if e.Kind == study.KindOpening && e.Act != journal.Record {
			return nil, fmt.Errorf("line %d of the journal, entry %d of device %s: %w", number, e.Seq, e.Device, ErrOpeningStays)
		}
		if e.Kind == study.KindStudy && e.Act == journal.Record && begins == "" {
			begins = e.ID
		}
		devices[e.Device] = true
		batch = append(batch, line)
	}
	if begins == "" {
		return batch, nil
	}
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return nil, err
	}
	for device := range devices {
		if _, known := head.Devices[device]; known {
			return batch, nil
		}
	}
	here, err := s.folder.Journal.State(ctx, study.KindStudy, "")
	if err == nil && here != nil {
		err = ErrOtherStudy
	}
	return batch, err
}
