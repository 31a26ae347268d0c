package app

import (
	"context"
	"slices"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// measuredKinds are written together when a pass is measured, in this order.
var measuredKinds = []study.Kind{study.KindFixes, study.KindTrack, study.KindPass}

// oneGo is how far apart entries of one writing may say that they were made.
const oneGo = 2 * time.Second

// undoTarget is one entry of those that are taken back together.
type undoTarget struct {
	entry   journal.Entry
	history *told
	at      int
	want    *study.Record
}

// undoMeasured takes back everything that was written when a pass was measured:
// fixes, track and what the pass says of it, in one step, whichever of its entries
// was named.
//
// Errors: those of [Study.Undo].
func (s *Study) undoMeasured(ctx context.Context, e *edit, author string, named journal.Entry) (EditDone, error) {
	targets, err := s.writtenTogether(ctx, named)
	if err != nil {
		return EditDone{}, err
	}
	for i := range targets {
		t := &targets[i]
		if err := s.mayUndo(ctx, e, t.history, t.at); err != nil {
			return EditDone{}, err
		}
		t.want = t.history.takenBack(t.at)
		name := recordName{t.entry.Kind, t.entry.Subject}
		if _, err := e.take(ctx, name); err != nil {
			return EditDone{}, err
		}
		if t.want == nil {
			e.after[name] = nil
			continue
		}
		clear, err := s.people.clear(ctx, *t.want)
		if err != nil {
			return EditDone{}, err
		}
		e.after[name] = &clear
	}
	if err := e.check(); err != nil {
		return EditDone{}, err
	}
	by, err := s.people.mark(ctx, author)
	if err != nil {
		return EditDone{}, err
	}
	var drafts []journal.Draft
	for i := range targets {
		t := &targets[i]
		d, ok := journal.Draft{Kind: t.entry.Kind, Subject: t.entry.Subject, Act: journal.Remove}, true
		if t.want != nil {
			d, ok = journal.Changes(t.history.now(), *t.want)
		}
		if ok {
			d.Author, d.Undoes, d.Reason = by, t.entry.ID, footageReason
			drafts = append(drafts, d)
		}
	}
	if len(drafts) == 0 {
		return EditDone{Entries: []EntryView{}}, nil
	}
	entries, err := s.append(ctx, drafts)
	if err != nil {
		return EditDone{}, err
	}
	views, err := s.entryViews(ctx, e.right, entries)
	return EditDone{Entries: views}, err
}

// writtenTogether are the entries about one pass that were written in one go with
// the one named, in the order in which they were: they follow each other in the
// chain of their device, one of each kind at most.
func (s *Study) writtenTogether(ctx context.Context, named journal.Entry) ([]undoTarget, error) {
	bySeq := map[int64]undoTarget{}
	for _, kind := range measuredKinds {
		history, err := s.tell(ctx, recordName{kind, named.Subject})
		if err != nil {
			return nil, err
		}
		for i, entry := range history.entries {
			apart := entry.Wall.Sub(named.Wall).Abs()
			if entry.Device == named.Device && entry.Reason == footageReason && entry.Author == named.Author && apart <= oneGo {
				bySeq[entry.Seq] = undoTarget{entry: entry, history: history, at: i}
			}
		}
	}
	rank := func(seq int64) int {
		t, there := bySeq[seq]
		if !there {
			return -1
		}
		return slices.Index(measuredKinds, t.entry.Kind)
	}
	first := named.Seq
	for rank(first-1) >= 0 && rank(first-1) < rank(first) {
		first--
	}
	out := []undoTarget{bySeq[first]}
	for seq := first + 1; rank(seq) > rank(seq-1); seq++ {
		out = append(out, bySeq[seq])
	}
	return out, nil
}
