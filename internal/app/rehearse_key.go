package app

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// NewScheduleKey makes a key to seal to. The program keeps neither part.
//
// Errors: [ErrKey] for a passphrase that protects nothing.
func (s *Studies) NewScheduleKey(in NewKeyRequest) (NewKeyView, error) {
	return NewKey(s.options.Sealer, in.Passphrase)
}

// NewKey makes a key; its secret part is the text of a file, protected where a
// passphrase is given.
func NewKey(sealer Sealer, passphrase string) (NewKeyView, error) {
	public, secret, err := sealer.NewKey()
	if err != nil {
		return NewKeyView{}, err
	}
	text := fmt.Sprintf("# A secret key of Brinefield (age format). Whoever has it can open what was sealed to\n# %s\n%s\n", public, secret)
	if passphrase != "" {
		if text, err = sealer.Protect(text, passphrase); err != nil {
			return NewKeyView{}, err
		}
	}
	return NewKeyView{Public: public, Secret: text}, nil
}

// RehearseKey sees whether a key opens the schedule in force and whether it is
// the sealed one, writes down that it did, and shows nothing of it.
//
// Errors: [ErrReadOnly]; [ErrNoSchedule]; [ErrKey]; [ErrNotSealed].
func (s *Study) RehearseKey(ctx context.Context, in RehearseRequest) (RehearsalView, error) {
	s.write.Lock()
	defer s.write.Unlock()
	if s.folder.ReadOnly {
		return RehearsalView{}, ErrReadOnly
	}
	current, err := s.current(ctx)
	if err != nil {
		return RehearsalView{}, err
	}
	seal, err := s.sealInForce(current)
	if err != nil {
		return RehearsalView{}, err
	}
	if seal == nil {
		return RehearsalView{}, ErrNoSchedule
	}
	_, public, err := s.openSeal(seal, in.KeyProof)
	if err != nil {
		return RehearsalView{}, err
	}
	by, err := s.people.mark(ctx, strings.TrimSpace(in.Author))
	if err != nil {
		return RehearsalView{}, err
	}
	d := journal.Draft{
		Author: by, Kind: study.KindRehearsal, Subject: "rehearsal " + strconv.Itoa(len(current.standing(study.KindRehearsal))+1), Act: journal.Record,
		Body: journal.Body{Fields: map[string]string{"seal": seal.doc.Seal, "key": public}},
	}
	if _, err := s.append(ctx, []journal.Draft{d}); err != nil {
		return RehearsalView{}, err
	}
	return RehearsalView{Public: public, Seal: seal.doc.Seal}, nil
}

// openSeal opens a sealed schedule with a key, and says which of its public
// keys that was.
func (s *Study) openSeal(seal *sealedRecord, proof KeyProof) (opened *ScheduleDocument, public string, err error) {
	secret, err := s.options.Sealer.Unlock(proof.Key, proof.Passphrase)
	if err != nil {
		return nil, "", err
	}
	if opened, err = UnsealSchedule(seal.doc, secret, s.options.Sealer, s.options.Program); err != nil {
		return nil, "", err
	}
	if public, err = s.options.Sealer.PublicOf(secret); err != nil {
		return nil, "", err
	}
	if !slices.Contains(seal.doc.SealedTo, public) {
		public = "" // a file with several keys, another of which opened it
	}
	return opened, public, nil
}
