package app

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// EraseAttachment erases a photo or a voice note from a study: the entry stays
// valid, and says that it was erased. That it was done is an entry of the journal.
// What is not here yet cannot be erased: it would come in later. Erased already,
// nothing is written.
//
// Errors: [ErrReadOnly]; [ErrNoAttachment]; [ErrNotHereYet].
func (s *Study) EraseAttachment(ctx context.Context, id, author, reason string) error {
	if s.folder.ReadOnly {
		return ErrReadOnly
	}
	id, author, reason = strings.TrimSpace(id), strings.TrimSpace(author), strings.TrimSpace(reason)
	s.write.Lock()
	defer s.write.Unlock()
	state, err := s.folder.Journal.State(ctx, study.KindAttachment, id)
	if err != nil {
		return err
	}
	if state == nil || !isRef(state.Fields[refField]) {
		return fmt.Errorf("%q: %w; expected one like 7c1e-a0001, as the page Deck lists them", id, ErrNoAttachment)
	}
	ref := state.Fields[refField]
	switch _, err := s.folder.Erasable.Get(ctx, ref); {
	case errors.Is(err, ErrErased):
		return nil
	case isAbsent(err):
		return fmt.Errorf("%s: %w, so that it cannot be erased here: erase it on that tablet, or when it has come in", id, ErrNotHereYet)
	case ctx.Err() != nil:
		return ctx.Err()
	}
	by, err := s.people.mark(ctx, author)
	if err != nil {
		return err
	}
	// Killed in between, nothing but the word about it can be missing.
	if err := s.folder.Erasable.Erase(ctx, ref); err != nil {
		return err
	}
	return s.writeErasure(ctx, by, reason, map[string]string{"what": attachmentWord(state.Fields["kind"]), "texts": "1", "attachment": id})
}

func attachmentWord(kind string) string {
	if kind == "voice" {
		return "a voice note"
	}
	return "a photo"
}

func isAbsent(err error) bool {
	var absent *AbsentError
	return errors.As(err, &absent)
}

// writeErasure says in the journal that something was erased.
func (s *Study) writeErasure(ctx context.Context, by, reason string, fields map[string]string) error {
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return err
	}
	id := fmt.Sprintf("%s-%d", s.options.Clock().UTC().Format("2006-01-02"), head.Position+1)
	_, err = s.append(ctx, []journal.Draft{{Author: by, Kind: study.KindErasure, Subject: id, Act: journal.Record, Reason: reason, Body: journal.Body{Fields: fields}}})
	return err
}
