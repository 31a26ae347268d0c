package app

import (
	"context"
	"strconv"
	"strings"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// openingDraft writes down that the active pairs were shown to people.
func openingDraft(id, reason string) journal.Draft {
	return journal.Draft{
		Kind: study.KindOpening, Subject: id, Act: journal.Record, Reason: reason,
		Body: journal.Body{Fields: map[string]string{"active_pairs": "opened"}},
	}
}

// OpenActivePairs opens which pair was active in each trial, for good. Who did
// it and why stays in the journal. Opened once, opening again writes nothing.
//
// Errors: [ErrReadOnly]; [*EditError] without a name or a reason.
func (s *Study) OpenActivePairs(ctx context.Context, in OpeningRequest) (EditDone, error) {
	s.write.Lock()
	defer s.write.Unlock()
	e, err := s.newEdit(ctx, "")
	if err != nil {
		return EditDone{}, err
	}
	author, reason := strings.TrimSpace(in.Author), strings.TrimSpace(in.Reason)
	name := recordName{kind: study.KindOpening}
	if author == "" {
		e.fault(name, "author", "nobody is named", "expected who opens the active pairs")
	}
	if reason == "" {
		e.fault(name, "reason", "no reason is given", "expected why the active pairs are opened now")
	}
	if err := e.failed(); err != nil || e.right.Granted() {
		return EditDone{Entries: []EntryView{}}, err
	}
	by, err := s.people.mark(ctx, author)
	if err != nil {
		return EditDone{}, err
	}
	openings, err := s.folder.Journal.States(ctx, study.KindOpening)
	if err != nil {
		return EditDone{}, err
	}
	d := openingDraft("opening "+strconv.Itoa(len(openings)+1), reason)
	d.Author = by
	entries, err := s.append(ctx, []journal.Draft{d})
	if err != nil {
		return EditDone{}, err
	}
	views, err := s.entryViews(ctx, Right{granted: true}, entries)
	return EditDone{Entries: views}, err
}
