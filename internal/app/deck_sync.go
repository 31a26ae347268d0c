package app

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// What a clock says of another is taken only where the batch was on its way for a
// moment, and written down where it moved.
const (
	clockMovedS    = 2.0
	clockBatchMost = 512 << 10 // bytes; a fraction of a second on a boat's network
	clockMostS     = 100 * 365 * 24 * 3600
)

// DeckSync takes in what a tablet brings. What the answer names is on the disc.
//
// Entries come first, all or none, then what they refer to: killed in between, an
// entry has its name or picture "not here yet", as it may have anyway, and the
// tablet sends it again. The other way round, a batch that is refused would leave
// names and pictures here that no entry knows of, and that nobody would erase.
//
// A thing that does not fit its reference, or was erased here, does not keep
// the entries back: the answer says which.
//
// Errors: [ErrReadOnly]; [ErrOtherLog]; [ErrDeckRefused]; [*DeckForkError];
// [ErrDeckUnfit]. Nothing was taken in then. [ErrNoSpace] also where
// the disc was full in the middle: what came before is kept.
func (s *Study) DeckSync(ctx context.Context, in DeckBatch) (DeckAnswer, error) {
	now := s.options.Clock()
	if s.folder.ReadOnly {
		return DeckAnswer{}, ErrReadOnly
	}
	identity, err := s.Identity(ctx)
	if err != nil {
		return DeckAnswer{}, err
	}
	if in.Identity != identity {
		return DeckAnswer{}, ErrOtherLog
	}
	caller := CallerOf(ctx)
	lines := make([][]byte, len(in.Entries))
	for i, line := range in.Entries {
		lines[i] = []byte(line)
	}
	offer, err := OfferOf(ctx, lines)
	if err != nil {
		return DeckAnswer{}, unfit(err)
	}
	if err := caller.check(offer, in.Blobs); err != nil {
		return DeckAnswer{}, err
	}
	if len(in.Entries)+len(in.Blobs) > 0 && !caller.records() {
		return DeckAnswer{}, fmt.Errorf("a %s writes nothing down: %w", caller.role(), ErrDeckRefused)
	}
	received, err := s.takeIn(ctx, offer, in.Blobs)
	if err != nil {
		return DeckAnswer{}, err
	}
	if err := s.stateClocks(ctx, caller, &in, received.entries, now); err != nil {
		return DeckAnswer{}, err
	}
	return s.deckAnswer(ctx, caller, offer, received)
}

// check refuses a batch with anything that the caller may not bring.
func (c Caller) check(offer []journal.Offered, blobs []DeckBlob) error {
	for i := range offer {
		if why := c.mayBring(&offer[i].Entry); why != "" {
			return fmt.Errorf("entry %d of device %s: %s: %w", offer[i].Seq, offer[i].Device, why, ErrDeckRefused)
		}
	}
	for i := range blobs {
		if blobs[i].Kind == blobGuarded && !c.seesCards() {
			return fmt.Errorf("what was read of a current tells which pair was active, and a %s does not see that; expected that the tablet of the lead or the operator brings it: %w", c.role(), ErrDeckRefused)
		}
	}
	return nil
}

// blobGuarded is the kind of a blob that tells, or helps to tell, the active pair.
const blobGuarded = "guarded"

// takenIn says what came of a batch.
type takenIn struct {
	entries Received
	added   int              // entries
	blobs   []string         // that are here now
	fresh   int              // of them, that were not here before
	erased  []string         // that were erased here
	refused map[string]error // that do not fit their references
}

// takeIn takes in entries, then blobs.
func (s *Study) takeIn(ctx context.Context, offer []journal.Offered, blobs []DeckBlob) (takenIn, error) {
	t := takenIn{refused: map[string]error{}}
	s.deck.mu.Lock()
	defer s.deck.mu.Unlock()
	var err error
	if t.entries, err = s.receive(ctx, offer); err != nil {
		return t, unfit(err)
	}
	for _, d := range t.entries.Devices {
		t.added += d.New
	}
	err = s.takeBlobs(ctx, blobs, &t)
	s.deck.arrived(t.blobs)
	s.deck.arrived(t.erased)
	if err != nil {
		return t, err
	}
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return t, err
	}
	return t, s.deck.catchUp(ctx, s, head, t.added, offer)
}

// takeBlobs keeps what entries refer to, and lets what was made before of a name or
// a reading that was not here be made again.
func (s *Study) takeBlobs(ctx context.Context, blobs []DeckBlob, t *takenIn) error {
	names, readings, guarded := 0, 0, []GuardedBlob{}
	defer func() {
		if names+readings > 0 {
			s.dropMade()
		}
		if names > 0 {
			s.people.forget()
			s.dropShown()
			s.after.drop()
		}
	}()
	for i := range blobs {
		b := &blobs[i]
		if b.Kind == blobGuarded {
			g := GuardedBlob{Ref: b.Ref, Salt: b.Salt, Body: b.Data}
			if _, err := g.Check(); err != nil {
				t.refused[b.Ref] = err
				continue
			}
			guarded = append(guarded, g)
			continue
		}
		if err := CheckBlob(b.Ref, b.Salt, b.Data); err != nil {
			t.refused[b.Ref] = err
			continue
		}
		fresh, err := s.folder.Erasable.Take(ctx, b.Ref, b.Salt, b.Data)
		switch {
		case errors.Is(err, ErrErased):
			t.erased = append(t.erased, b.Ref)
			continue
		case err != nil:
			return err
		}
		t.blobs = append(t.blobs, b.Ref)
		if fresh {
			t.fresh++
			if b.Kind == "person" {
				names++
			}
		}
	}
	var err error
	if readings, err = s.folder.Guarded.TakeAssignments(ctx, guarded); err != nil {
		return err
	}
	t.fresh += readings
	for _, g := range guarded {
		t.blobs = append(t.blobs, g.Ref)
	}
	return nil
}

// dropMade lets the season be put together again: what stands behind its references
// has changed.
func (s *Study) dropMade() {
	s.reading.Lock()
	defer s.reading.Unlock()
	s.ready, s.made = nil, [2]*Assembled{}
}

// stateClocks writes down how far a device's clock is ahead of this one's, where
// that was not known, or moved.
func (s *Study) stateClocks(ctx context.Context, caller Caller, in *DeckBatch, received Received, now time.Time) error {
	size := 0
	for _, line := range in.Entries {
		size += len(line)
	}
	for i := range in.Blobs {
		size += len(in.Blobs[i].Data)
	}
	offset := time.UnixMilli(in.NowMS).Sub(now).Seconds()
	if in.NowMS <= 0 || size > clockBatchMost || math.Abs(offset) > clockMostS {
		return nil
	}
	s.write.Lock()
	defer s.write.Unlock()
	var drafts []journal.Draft
	for _, d := range received.Devices {
		if !ofTablet(d.Device) || !caller.writesAs(d.Device) {
			continue
		}
		stated, err := s.folder.Journal.State(ctx, study.KindClock, d.Device)
		if err != nil {
			return err
		}
		if was, ok := offsetOf(stated); ok && math.Abs(was-offset) <= clockMovedS {
			continue
		}
		drafts = append(drafts, clockDraft(stated, d.Device, offset, now))
	}
	if len(drafts) == 0 {
		return nil
	}
	_, err := s.append(ctx, drafts)
	return err
}

// offsetOf is the offset that is stated in the record of a clock, in seconds.
func offsetOf(clock *journal.State) (float64, bool) {
	if clock == nil || clock.Removed {
		return 0, false
	}
	s, err := strconv.ParseFloat(clock.Fields["offset_s"], 64)
	return s, err == nil && math.Abs(s) <= clockMostS
}

func offsetText(offsetS float64) string {
	text := strconv.FormatFloat(offsetS, 'f', 1, 64)
	if text == "-0.0" {
		return "0.0"
	}
	return text
}

// clockDraft states an offset.
func clockDraft(now *journal.State, device string, offsetS float64, at time.Time) journal.Draft {
	d := journal.Draft{Kind: study.KindClock, Subject: device, Act: journal.Correct, Body: journal.Body{
		Fields: map[string]string{"offset_s": offsetText(offsetS), "stated": at.UTC().Format(time.RFC3339)}, Was: map[string]string{},
	}}
	for field := range d.Body.Fields {
		d.Body.Was[field] = ""
		if now != nil && !now.Removed {
			d.Body.Was[field] = now.Fields[field]
		}
	}
	return d
}

// deckAnswer says what is here of the batch's devices.
func (s *Study) deckAnswer(ctx context.Context, caller Caller, offer []journal.Offered, t takenIn) (DeckAnswer, error) {
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return DeckAnswer{}, err
	}
	devices := map[string]bool{}
	for i := range offer {
		devices[offer[i].Device] = true
	}
	if !caller.laptop() { // also of a tablet that begins by asking
		for device := range head.Devices {
			if caller.writesAs(device) {
				devices[device] = true
			}
		}
	}
	a := DeckAnswer{
		Heads: map[string]DeckHead{}, Blobs: append([]string{}, t.blobs...), Erased: append([]string{}, t.erased...),
		Refused: []DeckRefusal{}, NowMS: s.options.Clock().UnixMilli(), Position: head.Position,
	}
	for device := range devices {
		if h, ok := head.Devices[device]; ok && h.Seq > 0 {
			a.Heads[device] = DeckHead{Seq: h.Seq, Hash: h.Hash.String()}
		}
	}
	// Nothing is left to do about what was erased: a tablet that knows of Blobs alone
	// must not send it for ever.
	a.Blobs = append(a.Blobs, t.erased...)
	for _, ref := range slices.Sorted(maps.Keys(t.refused)) {
		a.Refused = append(a.Refused, DeckRefusal{Ref: ref, Why: t.refused[ref].Error()})
	}
	s.deck.mu.Lock()
	defer s.deck.mu.Unlock()
	a.Missing = s.deck.missing(slices.Sorted(maps.Keys(devices)))
	return a, nil
}
