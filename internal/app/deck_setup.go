package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"brinefield/core/deck"
	"brinefield/core/study"
)

// ErrDeckSpec answers where what a study says of its own logging cannot be read,
// because a newer program wrote it, for one.
var ErrDeckSpec = errors.New("how this study logs on deck cannot be read")

var deckName = recordName{kind: study.KindDeck}

// deckSpec is what the study says of its own logging, the usual one where it
// says nothing.
func deckSpec(current *standingRecords) (spec deck.Spec, written bool, err error) {
	st := current.state(deckName)
	if st == nil || st.Fields["spec"] == "" {
		return deck.Default(), false, nil
	}
	if spec, err = deck.Parse(st.Fields["spec"]); err != nil {
		err = fmt.Errorf("%w: %w", ErrDeckSpec, err)
	}
	return spec, true, err
}

// deckETag stands for what a spec says. It changes where the spec does, and not
// where anything else of the study does.
func deckETag(spec deck.Spec) (string, error) {
	text, err := spec.Text()
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256([]byte(text))
	return `"` + hex.EncodeToString(sum[:16]) + `"`, nil
}

// sameETag takes the quotation marks of HTTP, and the mark of a weak one that a
// proxy may have set, for nothing.
func sameETag(a, b string) bool {
	bare := func(tag string) string {
		return strings.Trim(strings.TrimPrefix(strings.TrimSpace(tag), "W/"), `"`)
	}
	return bare(a) == bare(b)
}

// DeckSetup changes how the study logs on deck. Who changes a spec that somebody
// else has changed meanwhile is told who did and when. What stands already is
// written no second time.
//
// A time that is the one of the sealed schedule is kept as what it was shown for:
// the study states none of its own.
//
// Errors: [ErrReadOnly]; [ErrChangedMeanwhile]; [*EditError] with the place of
// every fault as its field.
func (s *Study) DeckSetup(ctx context.Context, in DeckSetupRequest) (DeckView, error) {
	if err := s.changeDeck(ctx, in); err != nil {
		return DeckView{}, err
	}
	return s.Deck(ctx)
}

func (s *Study) changeDeck(ctx context.Context, in DeckSetupRequest) error {
	s.write.Lock()
	defer s.write.Unlock()
	e, err := s.newEdit(ctx, strings.TrimSpace(in.Reason))
	if err != nil {
		return err
	}
	for _, f := range in.Spec.Faults() {
		e.fault(deckName, f.Place, f.Wrong, "expected "+f.Expected)
	}
	if err := e.failed(); err != nil {
		return err
	}
	was, written, err := deckSpec(e.from.current)
	if err != nil {
		return err
	}
	spec := in.Spec
	seal, err := s.sealInForce(e.from.current)
	if err != nil {
		return err
	}
	if seal != nil {
		spec = withoutTimes(spec, was, seal.times)
	}
	text, err := spec.Text()
	if err != nil {
		return err
	}
	old, err := was.Text()
	if err != nil {
		return err
	}
	if written && text == old {
		return nil // also where the answer to the same wish was lost
	}
	tag, err := deckETag(was)
	if err != nil {
		return err
	}
	if !sameETag(tag, in.IfMatch) {
		return s.deckChanged(ctx, e.from.current)
	}
	c := change{name: deckName, reason: e.reason, after: &study.Record{Kind: study.KindDeck, Fields: map[string]string{"spec": text}}}
	if st := e.from.current.state(deckName); st != nil {
		c.before = &st.Record
	}
	_, err = s.writeChanges(ctx, e.from.current, e.right, strings.TrimSpace(in.Author), []change{c})
	return err
}

// withTimes puts the times of the sealed schedule in where a spec states none.
func withTimes(spec deck.Spec, times ScheduleTimes) deck.Spec {
	if spec.TrialMin == 0 {
		spec.TrialMin = times.TrialMin
	}
	if spec.WashoutMin == 0 {
		spec.WashoutMin = times.WashoutMin
	}
	return spec
}

// withoutTimes takes out what withTimes put in.
func withoutTimes(spec, was deck.Spec, times ScheduleTimes) deck.Spec {
	if was.TrialMin == 0 && spec.TrialMin == times.TrialMin {
		spec.TrialMin = 0
	}
	if was.WashoutMin == 0 && spec.WashoutMin == times.WashoutMin {
		spec.WashoutMin = 0
	}
	return spec
}

// deckChanged says who changed the spec last, and when.
func (s *Study) deckChanged(ctx context.Context, current *standingRecords) error {
	st := current.state(deckName)
	if st == nil {
		return fmt.Errorf("how this study logs on deck is the usual way again: %w", ErrChangedMeanwhile)
	}
	last, err := s.folder.Journal.Entry(ctx, st.Last)
	if err != nil {
		return err
	}
	who, err := s.people.name(ctx, last.Author)
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
	return fmt.Errorf("%s changed how this study logs on deck on %s: %w", who, last.Wall.In(zone).Format("2 January 2006 at 15:04:05"), ErrChangedMeanwhile)
}

// deckChanges tell two specs apart in a few words, for lists of entries.
func deckChanges(from, to map[string]string) []EntryChange {
	out := []EntryChange{}
	var both [2]deck.Spec
	for i, fields := range []map[string]string{from, to} {
		spec, err := deck.Parse(fields["spec"])
		if err != nil && fields["spec"] != "" {
			return append(out, EntryChange{Field: "spec", From: shortened(documentField, from["spec"]), To: shortened(documentField, to["spec"])})
		}
		both[i] = spec
	}
	for _, part := range []struct {
		field string
		text  func(deck.Spec) string
	}{
		{"responses", responsesText},
		{"heights", heightsText},
		{"checks", checksText},
		{"trial_min", func(s deck.Spec) string { return minutesText(s.TrialMin) }},
		{"washout_min", func(s deck.Spec) string { return minutesText(s.WashoutMin) }},
	} {
		if a, b := part.text(both[0]), part.text(both[1]); a != b {
			out = append(out, EntryChange{Field: part.field, From: a, To: b})
		}
	}
	return out
}

func responsesText(s deck.Spec) string {
	return listText(s.Responses, func(r deck.Response) string {
		text := r.Label
		var says []string
		if r.Word != "" {
			says = append(says, strconv.Quote(r.Word))
		}
		if r.Turned != deck.Blank {
			says = append(says, "turned "+string(r.Turned))
		}
		if r.Bit != deck.Blank {
			says = append(says, "bit "+string(r.Bit))
		}
		if r.Electrode {
			says = append(says, "asks which electrode")
		}
		if len(says) > 0 {
			text += " (" + strings.Join(says, ", ") + ")"
		}
		return text
	})
}

func heightsText(s deck.Spec) string {
	return listText(s.Heights, func(h deck.Height) string { return fmt.Sprintf("%s (%g to %g cm)", h.Word, h.LowCM, h.HighCM) })
}

func checksText(s deck.Spec) string {
	return listText(s.Checks, func(c deck.Check) string { return fmt.Sprintf("%s (%s)", c.Label, c.Word) })
}

func listText[T any](list []T, text func(T) string) string {
	parts := make([]string, len(list))
	for i, v := range list {
		parts[i] = text(v)
	}
	return strings.Join(parts, "; ")
}

func minutesText(m float64) string {
	if m == 0 {
		return ""
	}
	return strconv.FormatFloat(m, 'f', -1, 64)
}

// nowMS is the laptop's clock as tablets get it.
func (s *Study) nowMS() int64 { return s.options.Clock().Truncate(time.Millisecond).UnixMilli() }
