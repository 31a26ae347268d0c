package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"brinefield/core/study"
)

// footageReason stands at every entry that the page Footage writes, and tells
// which entries about a pass were written together.
const footageReason = "measured in footage"

// footageEdit begins an edit, or the trial of one, which a study that cannot be
// written allows too.
func (s *Study) footageEdit(ctx context.Context, save bool, reason string) (*edit, error) {
	if save {
		return s.newEdit(ctx, reason)
	}
	right, err := s.right(ctx)
	if err != nil {
		return nil, err
	}
	a, err := s.assemble(ctx, right)
	if err != nil {
		return nil, err
	}
	return &edit{study: s, from: a, right: right, before: map[recordName]*study.Record{}, after: map[recordName]*study.Record{}}, nil
}

// setFields states fields of a record, which is made where there is none; blank
// ones are taken out.
func (e *edit) setFields(ctx context.Context, name recordName, fields map[string]string) error {
	r, err := e.take(ctx, name)
	if err != nil {
		return err
	}
	if r == nil {
		r = &study.Record{Kind: name.kind, ID: name.id}
	}
	if r.Fields == nil {
		r.Fields = map[string]string{}
	}
	for field, text := range fields {
		if text == "" {
			delete(r.Fields, field)
			continue
		}
		r.Fields[field] = text
	}
	e.after[name] = r
	return nil
}

// writeFootage checks an edit as any other and writes it.
func (s *Study) writeFootage(ctx context.Context, e *edit, author string) error {
	if err := e.check(); err != nil {
		return err
	}
	done, err := s.writeChanges(ctx, e.from.current, e.right, strings.TrimSpace(author), e.changes())
	if err == nil && len(done.Entries) > 0 {
		s.takeOver(e)
	}
	return err
}

// recordsETag stands for records as they are. It changes with every entry about
// one of them.
func recordsETag(current *standingRecords, names ...recordName) string {
	return recordsAndETag(current, "", names...)
}

func recordsAndETag(current *standingRecords, more string, names ...recordName) string {
	var b strings.Builder
	b.WriteString(more)
	for _, name := range names {
		last := ""
		if st := current.state(name); st != nil {
			last = st.Last
		}
		fmt.Fprintf(&b, "\n%s", last)
	}
	sum := sha256.Sum256([]byte(b.String()))
	return `"` + hex.EncodeToString(sum[:16]) + `"`
}

func clipETag(current *standingRecords, clip string) string {
	return recordsETag(current, clipName(clip), footageName(clip))
}

// passETag stands for what the page Footage writes of a pass: another field of the
// pass may change meanwhile.
func passETag(current *standingRecords, pass string) string {
	more := ""
	if st := current.state(recordName{study.KindPass, pass}); st != nil {
		more = st.Fields["clip"] + "\n" + st.Fields["onset_s"] + "\n" + st.Fields["watched_s"]
	}
	return recordsAndETag(current, more, fixesName(pass), recordName{study.KindTrack, pass})
}

// changedSince says who changed something last, and when.
func (s *Study) footageChanged(ctx context.Context, current *standingRecords, what string, names ...recordName) error {
	last := ""
	for _, name := range names {
		if st := current.state(name); st != nil && st.Last > last {
			last = st.Last
		}
	}
	if last == "" {
		return fmt.Errorf("%s was withdrawn: %w", what, ErrChangedMeanwhile)
	}
	entry, err := s.folder.Journal.Entry(ctx, last)
	if err != nil {
		return err
	}
	who, err := s.people.name(ctx, entry.Author)
	if err != nil {
		return err
	}
	if who == "" {
		who = "somebody who is not named"
	}
	zone, err := s.zone(ctx)
	if err != nil {
		return err
	}
	return fmt.Errorf("%s changed %s on %s: %w", who, what, entry.Wall.In(zone).Format("2 January 2006 at 15:04:05"), ErrChangedMeanwhile)
}

// passIndex is where a pass stands in a study, or −1.
func passIndex(st *study.Study, id string) int {
	return slices.IndexFunc(st.Passes, func(p study.Pass) bool { return p.ID == id })
}
