package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
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

// opening is an edit that opens active pairs.
type opening struct {
	*edit
	in     OpeningRequest
	trials []string // that are opened; all in a full opening, too
	seal   *sealedRecord
	drawn  *ScheduleDocument // with the trials opened; nil without a seal
	drafts []journal.Draft   // beside those of assignments
}

var openingName = recordName{kind: study.KindOpening}

// OpenActivePairs opens which pair was active, in all trials or in those that
// the request names, for good. Who did it and why stays in the journal. All of
// it is opened only when scoring is locked. Where a schedule is sealed, a key
// must open it: what was drawn is then written down as each trial's active pair
// and current, beside what was recorded, which is never overwritten. Opened
// once, opening again writes nothing.
//
// Errors: [ErrReadOnly]; [ErrKey]; [ErrNotSealed]; [*EditError].
func (s *Study) OpenActivePairs(ctx context.Context, in OpeningRequest) (EditDone, error) {
	s.write.Lock()
	defer s.write.Unlock()
	done := EditDone{Entries: []EntryView{}}
	e, err := s.newEdit(ctx, strings.TrimSpace(in.Reason))
	if err != nil {
		return done, err
	}
	o := &opening{edit: e, in: in}
	if o.seal, err = s.sealInForce(e.from.current); err != nil {
		return done, err
	}
	o.wantNameAndReason(openingName, in.Author, "opens the active pairs")
	o.chooseTrials()
	if err := o.failed(); err != nil || o.nothingLeft() {
		return done, err
	}
	by, err := s.people.mark(ctx, strings.TrimSpace(in.Author))
	if err != nil {
		return done, err
	}
	if err := o.checkLock(by); err != nil {
		return done, err
	}
	if err := o.unseal(); err != nil {
		return done, err
	}
	after, err := s.assignDrawn(ctx, o)
	if err != nil {
		return done, err
	}
	openings, err := s.openings(ctx)
	if err != nil {
		return done, err
	}
	d, err := o.draft(len(openings) + 1)
	if err != nil {
		return done, err
	}
	d.Author = by
	// The opening stands last: what it writes itself was not written after it.
	entries, err := s.append(ctx, slices.Concat(o.drafts, after, []journal.Draft{d}))
	if err != nil {
		return done, err
	}
	done.Entries, err = s.entryViews(ctx, o.rightAfter(), entries)
	return done, err
}

func (o *opening) whole() bool { return len(o.in.Trials) == 0 }

func (o *opening) rightAfter() Right {
	if o.whole() {
		return Right{granted: true}
	}
	return o.right.with(o.trials)
}

// nothingLeft: all that is asked for is open already.
func (o *opening) nothingLeft() bool { return o.rightAfter() == o.right }

// chooseTrials takes the trials that are to be opened.
func (o *opening) chooseTrials() {
	known := ids(o.from, study.KindTrial)
	if o.seal != nil {
		for i := range o.seal.doc.count() {
			known = append(known, o.seal.doc.at(i).Trial)
		}
	}
	if o.whole() {
		o.trials = known
		return
	}
	for _, id := range o.in.Trials {
		id = strings.TrimSpace(id)
		switch {
		case !slices.Contains(known, id):
			o.fault(openingName, trialsField, fmt.Sprintf("there is no trial %q", id), "expected trials of the study or its schedule")
		case strings.Contains(id, ", "):
			o.fault(openingName, trialsField, fmt.Sprintf("the trial %q has a comma in its name", id), "expected to open all trials at once")
		default:
			o.trials = append(o.trials, id)
		}
	}
	slices.Sort(o.trials)
	o.trials = slices.Compact(o.trials)
}

// checkLock refuses to open all of it before scoring is locked, and locks it
// where that is asked for.
func (o *opening) checkLock(by string) error {
	if o.from.current.state(lockName) != nil || !o.whole() {
		return nil
	}
	if !o.in.Lock {
		o.fault(openingName, "lock", "scoring is not locked", "expected it to be finished and locked first, so that nobody scores who knows the active pairs")
		return o.failed()
	}
	o.lockFaults(o.in.LeaveUnscored)
	o.drafts = append(o.drafts, lockedDraft(by, o.reason))
	return o.failed()
}

// unseal opens the trials in the sealed schedule.
func (o *opening) unseal() error {
	if o.seal == nil {
		return nil
	}
	if strings.TrimSpace(o.in.Key) == "" {
		o.fault(openingName, "key", "the schedule is sealed, and no key is given", "expected one of those that it was sealed to")
		return o.failed()
	}
	labels := ids(o.from, study.KindPair)
	for _, label := range o.seal.doc.Plan.Pairs {
		// Found out before anything is opened: the fault would tell where it was
		// drawn.
		if !slices.Contains(labels, label) {
			o.fault(openingName, "pairs", fmt.Sprintf("the season has no pair %q any more, which the schedule has", label), "expected it written down again first")
		}
	}
	if err := o.failed(); err != nil {
		return err
	}
	if o.whole() {
		doc, _, err := o.study.openSeal(o.seal, o.in.KeyProof)
		o.drawn = doc
		return err
	}
	secret, err := o.study.options.Sealer.Unlock(o.in.Key, o.in.Passphrase)
	if err != nil {
		return err
	}
	o.drawn = o.seal.doc
	for _, id := range o.trials {
		if !slices.ContainsFunc(slices.Concat(o.seal.doc.Trials, o.seal.doc.Spare), func(t ScheduledTrial) bool { return t.Trial == id }) {
			continue // a trial beside the schedule
		}
		if o.drawn, err = UnsealTrial(o.drawn, id, secret, o.study.options.Sealer); err != nil {
			return err
		}
	}
	return nil
}

// draft is the entry that opens.
func (o *opening) draft(n int) (journal.Draft, error) {
	d := openingDraft("opening "+strconv.Itoa(n), o.reason)
	if !o.whole() {
		d.Body.Fields[trialsField] = strings.Join(o.trials, ", ")
	}
	if o.drawn == nil {
		return d, nil
	}
	var told []ScheduledTrial
	for i := range o.drawn.count() {
		if t := *o.drawn.at(i); t.Kind != "" {
			t.Sealed, t.Commitment = "", ""
			told = append(told, t)
		}
	}
	if len(told) > 0 {
		text, err := json.Marshal(told)
		if err != nil {
			return d, err
		}
		d.Body.Fields[openedField] = string(text)
	}
	if o.drawn.SeedHex != "" {
		d.Body.Fields[seedField] = o.drawn.SeedHex
	}
	return d, nil
}

// assignDrawn gives the trials that were run what was drawn for them, and
// drafts it. What was recorded of them stays.
func (s *Study) assignDrawn(ctx context.Context, o *opening) ([]journal.Draft, error) {
	if o.drawn == nil {
		return nil, nil
	}
	right := o.rightAfter()
	from, err := s.assemble(ctx, right)
	if err != nil {
		return nil, err
	}
	e := &edit{study: s, from: from, right: right, reason: o.reason, before: map[recordName]*study.Record{}, after: map[recordName]*study.Record{}}
	for i := range o.drawn.count() {
		t := o.drawn.at(i)
		if t.Kind == "" || !slices.Contains(o.trials, t.Trial) {
			continue
		}
		r, err := e.take(ctx, recordName{study.KindTrial, t.Trial})
		if err != nil {
			return nil, err
		}
		if r == nil {
			delete(e.after, recordName{study.KindTrial, t.Trial})
			e.order = e.order[:len(e.order)-1]
			continue
		}
		r.Fields = t.fillIn(r.Fields, o.seal.blockOf(i), o.seal.doc.Plan.OdourOff > 0)
	}
	if len(e.order) == 0 {
		return nil, nil
	}
	if err := e.check(); err != nil {
		// Its sentences could tell what is not open yet.
		return nil, errors.Join(ErrNotSealed, errors.New("what was drawn cannot be written into the season as it stands: mend the faults of its trials and pairs first"))
	}
	return s.lower(ctx, from.current, o.in.Author, e.changes())
}

// fillIn is a trial's record with what was drawn where nothing is recorded.
func (t *ScheduledTrial) fillIn(recorded map[string]string, block int, odours bool) map[string]string {
	fields := maps.Clone(recorded)
	fill := func(name, value string) {
		if fields[name] == "" || name == "active_pair" && fields[name] == sealedWord {
			fields[name] = value
		}
	}
	fill("active_pair", t.ActivePair)
	if fields["current_before_uA"] == "" && fields["current_after_uA"] == "" {
		fill("current_uA", strconv.FormatFloat(*t.CurrentUA, 'g', -1, 64))
	}
	fill("block", strconv.Itoa(block))
	if odours {
		fill("odour", map[bool]string{true: "on", false: "off"}[*t.Odour])
	}
	return fields
}
