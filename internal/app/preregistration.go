package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// Preregistration is what the study plans, as one document, and what was
// registered of it. It is made of what is public: the records of the season's
// own settings, the protocol and the public part of the sealed schedule. It
// names nobody, holds no time but those of records, and reads nothing of any
// trial but when the first began.
func (s *Study) Preregistration(ctx context.Context) (PreregistrationView, error) {
	v := PreregistrationView{Registered: []RegisteredView{}}
	text, missing, err := s.preregistrationText(ctx)
	if err != nil {
		return v, err
	}
	v.Text, v.SHA256, v.Missing = text, sha256Of(text), missing
	if v.Registered, err = s.registered(ctx); err != nil {
		return v, err
	}
	if n := len(v.Registered); n > 0 {
		v.Changed = v.Registered[n-1].Text != text
	}
	return v, nil
}

// Register writes the document into the journal. The time of its entry is its
// date.
//
// Errors: [ErrReadOnly]; [ErrChangedMeanwhile] where the text is not the one
// that was read; [*EditError] without an author, where nothing changed since
// the last one, and where the text names somebody of the study.
func (s *Study) Register(ctx context.Context, in RegisterRequest) (PreregistrationView, error) {
	s.write.Lock()
	defer s.write.Unlock()
	if s.folder.ReadOnly {
		return PreregistrationView{}, ErrReadOnly
	}
	v, err := s.Preregistration(ctx)
	if err != nil {
		return v, err
	}
	author := strings.TrimSpace(in.Author)
	faults, err := s.registerFaults(ctx, &v, author)
	if err != nil {
		return PreregistrationView{}, err
	}
	if len(faults) > 0 {
		return PreregistrationView{}, &EditError{Faults: faults}
	}
	if in.SHA256 != v.SHA256 {
		return PreregistrationView{}, fmt.Errorf("the document of the study %s: %w", s.folder.Name, ErrChangedMeanwhile)
	}
	by, err := s.people.mark(ctx, author)
	if err != nil {
		return PreregistrationView{}, err
	}
	_, err = s.append(ctx, []journal.Draft{{
		Author: by, Kind: study.KindPreregistration, Subject: "preregistration " + strconv.Itoa(len(v.Registered)+1), Act: journal.Record,
		Body: journal.Body{Fields: map[string]string{"text": v.Text, "sha256": v.SHA256}},
	}})
	if err != nil {
		return PreregistrationView{}, err
	}
	return s.Preregistration(ctx)
}

func (s *Study) registerFaults(ctx context.Context, v *PreregistrationView, author string) ([]EditFault, error) {
	var faults []EditFault
	fault := func(field, wrong, expected string) {
		faults = append(faults, EditFault{Kind: string(study.KindPreregistration), Field: field, Wrong: wrong, Expected: expected})
	}
	if author == "" {
		fault("author", "nobody is named", "expected who registers the document")
	}
	if n := len(v.Registered); n > 0 && !v.Changed {
		fault("text", "nothing has changed since "+v.Registered[n-1].ID, "expected a document that says something else than the last one")
	}
	named, err := s.namesIn(ctx, v.Text)
	for _, name := range named {
		fault("text", fmt.Sprintf("it names %s, and what is registered stays for good", name), "expected a role in the place of the name, such as the lead or the first scorer, so that the name can still be erased from the study")
	}
	return faults, err
}

// namesIn are the full names of people of the study that stand in the text. A
// name of one word is left alone: it may be any word.
func (s *Study) namesIn(ctx context.Context, text string) ([]string, error) {
	marks, err := s.people.all(ctx)
	if err != nil {
		return nil, err
	}
	var found []string
	for _, held := range marks {
		for _, name := range strings.FieldsFunc(held, func(r rune) bool { return strings.ContainsRune(",;/&+\n", r) }) {
			name = strings.TrimSpace(name)
			if strings.Contains(name, " ") && strings.Contains(strings.ToLower(text), strings.ToLower(name)) {
				found = append(found, name)
			}
		}
	}
	slices.Sort(found)
	return slices.Compact(found), nil
}

func sha256Of(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// registered are the documents that were registered, oldest first.
func (s *Study) registered(ctx context.Context) ([]RegisteredView, error) {
	out := []RegisteredView{}
	states, err := s.folder.Journal.States(ctx, study.KindPreregistration)
	if err != nil || len(states) == 0 {
		return out, err
	}
	zone, err := s.zone(ctx)
	if err != nil {
		return out, err
	}
	first, err := s.firstTrial(ctx)
	if err != nil {
		return out, err
	}
	for i := range states {
		e, err := s.folder.Journal.Entry(ctx, states[i].First)
		if err != nil {
			return out, err
		}
		author, err := s.people.name(ctx, e.Author)
		if err != nil {
			return out, err
		}
		out = append(out, RegisteredView{
			ID: states[i].ID, Written: StampView{When: stampText(e.Wall, zone), By: author, Reason: e.Reason},
			Text: states[i].Fields["text"], SHA256: states[i].Fields["sha256"],
			Late: !first.IsZero() && first.Before(e.Wall),
		})
	}
	return out, nil
}

// firstTrial is when the first trial of the season began; zero where there is
// none.
func (s *Study) firstTrial(ctx context.Context) (first time.Time, err error) {
	right, err := s.right(ctx)
	if err != nil {
		return first, err
	}
	a, err := s.assemble(ctx, right)
	if err != nil || a.Study == nil {
		return first, err
	}
	for i := range a.Study.Trials {
		if start := a.Study.Trials[i].Start; !start.IsZero() && (first.IsZero() || start.Before(first)) {
			first = start
		}
	}
	return first, nil
}

// preregistrationFile is the last registered document as a file of an export;
// nil where there is none. The text stands below the first line of dashes.
func (s *Study) preregistrationFile(ctx context.Context) ([]byte, error) {
	all, err := s.registered(ctx)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	last := all[len(all)-1]
	late := ""
	if last.Late {
		late = "The first trial had begun before that.\n"
	}
	return fmt.Appendf(nil, "Registered on %s as %q.\n%sSHA-256 of all that stands below the line, in UTF-8: %s\n\n---\n%s", last.Written.When, last.ID, late, last.SHA256, last.Text), nil
}
