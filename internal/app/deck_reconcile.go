package app

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// DeckAlign states how far a device's clock was ahead of this laptop's. Where it is
// asked for, the times of the passes that the device has logged are corrected by
// it, each by an entry of its own that can be undone, and so are the starts and ends
// of trials that stand as the device wrote them. A pass that was corrected
// by its device's clock and not undone is never corrected so again, whatever is
// stated now.
//
// Errors: [ErrReadOnly]; [ErrLocked] where times would change; [*EditError].
func (s *Study) DeckAlign(ctx context.Context, in DeckAlignRequest) (DeckLogView, error) {
	if err := s.align(ctx, in); err != nil {
		return DeckLogView{}, err
	}
	return s.DeckLog(ctx)
}

func (s *Study) align(ctx context.Context, in DeckAlignRequest) error {
	s.write.Lock()
	defer s.write.Unlock()
	e, err := s.newEdit(ctx, strings.TrimSpace(in.Reason))
	if err != nil {
		return err
	}
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return err
	}
	name := recordName{study.KindClock, strings.TrimSpace(in.Device)}
	if _, known := head.Devices[name.id]; !known {
		e.fault(name, "", fmt.Sprintf("no device %q has written in this study", name.id), "expected one of the page Deck")
	} else if name.id == head.Device {
		e.fault(name, "offset_s", "this is the laptop itself, by whose clock the others are told", "expected another device")
	}
	if !(math.Abs(in.OffsetS) <= 86400) {
		e.fault(name, "offset_s", fmt.Sprintf("%g s is no offset of a clock", in.OffsetS), "expected at most a day, 86400 s, ahead or behind")
	}
	if err := e.failed(); err != nil {
		return err
	}
	offset := math.Round(in.OffsetS*10) / 10
	var drafts []journal.Draft
	now := e.from.current.state(name)
	if now == nil || now.Fields["offset_s"] != offsetText(offset) {
		drafts = append(drafts, clockDraft(now, name.id, offset, s.options.Clock()))
	}
	if in.Correct && offset != 0 {
		moved, err := e.alignTimes(ctx, name.id, offset)
		if err != nil {
			return err
		}
		drafts = append(drafts, moved...)
	}
	if len(drafts) == 0 {
		return nil
	}
	by, err := s.people.mark(ctx, strings.TrimSpace(in.Author))
	if err != nil {
		return err
	}
	for i := range drafts {
		drafts[i].Author = by
		if drafts[i].Kind == study.KindClock {
			drafts[i].Reason = e.reason
		}
	}
	_, err = s.append(ctx, drafts)
	return err
}

// alignTimes drafts the corrections of the times of a device's passes and trials. A
// season that would get a fault by them is refused as with any edit.
func (e *edit) alignTimes(ctx context.Context, device string, offsetS float64) ([]journal.Draft, error) {
	zone, err := e.study.zone(ctx)
	if err != nil {
		return nil, err
	}
	var drafts []journal.Draft
	for _, kind := range []study.Kind{study.KindTrial, study.KindPass} {
		before := len(drafts)
		for _, st := range e.from.current.standing(kind) {
			fields, err := e.study.timesOf(ctx, &st, device)
			if err != nil {
				return nil, err
			}
			body := journal.Body{Fields: map[string]string{}, Was: map[string]string{}}
			for _, field := range fields {
				if moved, ok := movedTime(st.Fields[field], -seconds(offsetS), zone); ok {
					body.Fields[field], body.Was[field] = moved, st.Fields[field]
				} // else a fault of the season, told there
			}
			if len(body.Fields) == 0 {
				continue
			}
			r, err := e.take(ctx, nameOf(st.Record))
			if err != nil {
				return nil, err
			}
			if r == nil {
				continue
			}
			maps.Copy(r.Fields, body.Fields)
			drafts = append(drafts, journal.Draft{Kind: kind, Subject: st.ID, Act: journal.Correct, Reason: alignWords(device, offsetS, e.reason), Body: body})
		}
		if len(drafts) == before {
			continue
		}
		if err := mayScore(e.from.current, e.right, kind); err != nil {
			return nil, err
		}
	}
	if len(drafts) == 0 {
		return nil, nil
	}
	return drafts, e.check()
}

// timesOf are the fields of a trial or a pass that hold times of a device's clock
// which were not corrected by it.
func (s *Study) timesOf(ctx context.Context, st *journal.State, device string) ([]string, error) {
	if st.Kind == study.KindTrial {
		return s.trialTimesOf(ctx, st, device)
	}
	logged, err := s.logged.of(ctx, s, st)
	if err != nil || logged.device != device || logged.aligned {
		return nil, err
	}
	return []string{"time"}, nil
}

// trialTimesOf are the times of a trial that stand as a device wrote them: several
// devices write about one trial, and what was corrected since is of another.
func (s *Study) trialTimesOf(ctx context.Context, st *journal.State, device string) ([]string, error) {
	history, err := s.folder.Journal.History(ctx, study.KindTrial, st.ID)
	if err != nil {
		return nil, err
	}
	var out []string
	history = journal.InOrder(history)
	for _, field := range []string{"start", "end"} {
		for _, entry := range slices.Backward(history) {
			if entry.Body.Fields[field] == "" {
				continue
			}
			if entry.Device == device && entry.Body.Fields[field] == st.Fields[field] {
				out = append(out, field)
			}
			break
		}
	}
	return out, nil
}

// movedTime moves a time and writes it as it was written: with its offset from UTC,
// or on the clock of the site.
func movedTime(text string, by time.Duration, zone *time.Location) (string, bool) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t.Add(by).Format(time.RFC3339Nano), true
	}
	t, ok := passTime(text, zone)
	return t.Add(by).In(zone).Format("2006-01-02T15:04:05.999999999"), ok
}

// DeckReconcile writes down what somebody says of two passes: that they are one,
// and the one that is not kept is withdrawn, or that they are two, and they are not
// listed any more. Both can be undone.
//
// Errors: [ErrReadOnly]; [ErrLocked] where a pass would be withdrawn; [*EditError].
func (s *Study) DeckReconcile(ctx context.Context, in DeckReconcileRequest) (DeckLogView, error) {
	in.Author, in.Reason = strings.TrimSpace(in.Author), strings.TrimSpace(in.Reason)
	var err error
	if in.Verdict == "one" {
		err = s.makeOne(ctx, in)
	} else {
		err = s.sayTwo(ctx, in)
	}
	if err != nil {
		return DeckLogView{}, err
	}
	return s.DeckLog(ctx)
}

func (s *Study) makeOne(ctx context.Context, in DeckReconcileRequest) error {
	i := slices.Index(in.Passes[:], in.Keep)
	if i < 0 || in.Passes[0] == in.Passes[1] {
		return &EditError{Faults: []EditFault{{
			Kind: string(study.KindPass), ID: in.Keep, Wrong: fmt.Sprintf("%q is none of the two passes %s and %s, or they are the same", in.Keep, in.Passes[0], in.Passes[1]),
			Expected: "expected which of two passes stands",
		}}}
	}
	if kept, err := s.folder.Journal.State(ctx, study.KindPass, in.Keep); err != nil {
		return err
	} else if kept == nil || kept.Removed {
		return &EditError{Faults: []EditFault{{Kind: string(study.KindPass), ID: in.Keep, Wrong: "there is no such pass, or it was withdrawn", Expected: "expected one that stands"}}}
	}
	reason := "logged twice: it is the pass " + in.Keep
	if in.Reason != "" {
		reason += ": " + in.Reason
	}
	_, err := s.Edit(ctx, EditRequest{Author: in.Author, Reason: reason, Remove: []RowName{{Kind: string(study.KindPass), ID: in.Passes[1-i]}}})
	return err
}

func (s *Study) sayTwo(ctx context.Context, in DeckReconcileRequest) error {
	s.write.Lock()
	defer s.write.Unlock()
	e, err := s.newEdit(ctx, in.Reason)
	if err != nil {
		return err
	}
	name := recordName{study.KindDistinct, pairOfPasses(in.Passes[0], in.Passes[1])}
	if in.Verdict != "two" {
		e.fault(name, "", fmt.Sprintf("%q is no verdict", in.Verdict), "expected one or two")
	}
	if in.Passes[0] == in.Passes[1] {
		e.fault(name, "", "this is one pass", "expected two")
	}
	for _, pass := range in.Passes {
		if e.from.current.state(recordName{study.KindPass, pass}) == nil {
			e.fault(name, "", fmt.Sprintf("there is no pass %q, or it was withdrawn", pass), "expected two that stand")
		}
	}
	if err := e.failed(); err != nil || e.from.current.state(name) != nil {
		return err
	}
	by, err := s.people.mark(ctx, in.Author)
	if err != nil {
		return err
	}
	want := study.Record{Kind: name.kind, ID: name.id, Fields: map[string]string{}}
	for field, value := range map[string]string{"by": by, "note": in.Reason} {
		if value != "" {
			want.Fields[field] = value
		}
	}
	d, _ := journal.Changes(nil, want)
	d.Author, d.Reason = by, in.Reason
	_, err = s.append(ctx, []journal.Draft{d})
	return err
}
