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
	"time"

	"brinefield/core/journal"
	"brinefield/core/schedule"
	"brinefield/core/study"
)

// Fields of the records about a sealed schedule.
const (
	documentField = "document" // of a seal
	perDayField   = "per_day"
	trialMinField = "trial_min"
	washoutField  = "washout_min"
	holderField   = "holder_" // and the number of the key, from 1
	trialsField   = "trials"  // of an opening that is not of all
	openedField   = "opened"  // of an opening: what was drawn, with the nonces
	seedField     = "seed"    // of an opening of all: of the draw
)

// mostScheduled is how many trials and spare draws a study's schedule may have:
// each is a text of its own in the journal.
const mostScheduled = 2000

// sealedRecord is a sealed schedule as the journal holds it.
type sealedRecord struct {
	state    journal.State
	doc      *ScheduleDocument // as it was sealed
	times    ScheduleTimes
	inForce  bool
	problems []string
}

// seals are the sealed schedules of a study, oldest first; the last one is in
// force.
func (s *Study) seals(current *standingRecords) ([]sealedRecord, error) {
	states := current.standing(study.KindSeal)
	out := make([]sealedRecord, len(states))
	for i, st := range states {
		doc, err := ReadSchedule(st.ID, []byte(st.Fields[documentField]))
		if err != nil {
			return nil, fmt.Errorf("%w: %w", ErrNotSealed, err)
		}
		out[i] = sealedRecord{state: st, doc: doc, times: scheduleTimesOf(st.Fields), inForce: i == len(states)-1, problems: CheckSchedule(doc)}
	}
	return out, nil
}

// sealInForce is the last one; nil where no schedule was sealed.
func (s *Study) sealInForce(current *standingRecords) (*sealedRecord, error) {
	all, err := s.seals(current)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	return &all[len(all)-1], nil
}

// run are the trials and spare draws of a schedule that the study holds.
func (r *sealedRecord) run(current *standingRecords) (ids []string) {
	for i := range r.doc.count() {
		if id := r.doc.at(i).Trial; current.state(recordName{study.KindTrial, id}) != nil {
			ids = append(ids, id)
		}
	}
	return ids
}

// SealSchedule draws a schedule by chance, seals it and writes it into the
// study, with the rule by which the randomisation test draws again. Nobody sees
// it, and nothing of the draw stays in memory.
//
// Errors: [ErrReadOnly]; [ErrSchedule]; [ErrKey]; [*EditError].
func (s *Study) SealSchedule(ctx context.Context, in SealRequest) (EditDone, error) {
	s.write.Lock()
	defer s.write.Unlock()
	e, err := s.newSealing(ctx, in.Author, in.Reason)
	if err != nil {
		return EditDone{}, err
	}
	publics, holders := make([]string, len(in.Keys)), make([]string, len(in.Keys))
	for i, k := range in.Keys {
		publics[i], holders[i] = strings.TrimSpace(k.Public), strings.TrimSpace(k.Holder)
	}
	e.checkPlan(&in.Plan)
	e.checkTimes(in.ScheduleTimes)
	e.checkHolders(publics, holders)
	if err := e.failed(); err != nil {
		return EditDone{}, err
	}
	if len(publics) == 0 { // which DrawSchedule takes for one that is not to be sealed
		return EditDone{}, fmt.Errorf("%w: no key to seal to; expected at least %d, of which one is printed and kept for recovery", ErrKey, leastKeys)
	}
	doc, err := DrawSchedule(ScheduleQuestion{Plan: in.Plan, PerDay: in.PerDay, SealTo: publics}, s.options.Sealer, s.options.Random, s.options.Program)
	if err != nil {
		return EditDone{}, err
	}
	return s.writeSeal(ctx, e, &doc, in.ScheduleTimes, holders, in.Author)
}

// TakeSchedule writes a schedule into the study that was sealed elsewhere, by
// the command schedule for one.
//
// Errors: as [Study.SealSchedule]; [ErrNotSealed] where it is not what its seal
// says.
func (s *Study) TakeSchedule(ctx context.Context, in TakeRequest) (EditDone, error) {
	s.write.Lock()
	defer s.write.Unlock()
	e, err := s.newSealing(ctx, in.Author, in.Reason)
	if err != nil {
		return EditDone{}, err
	}
	doc, err := ReadSchedule("the schedule", []byte(in.Document))
	if err != nil {
		return EditDone{}, fmt.Errorf("%w: %w", ErrSchedule, err)
	}
	if doc.Sealed == "" || doc.isOpened() {
		return EditDone{}, fmt.Errorf("%w: this schedule is not sealed, or no more: whoever reads it is not blind; expected one that was drawn with --seal-to", ErrSchedule)
	}
	if differences := CheckSchedule(doc); len(differences) > 0 {
		return EditDone{}, fmt.Errorf("%w: %s", ErrNotSealed, differences[0])
	}
	holders := slices.Clone(in.Holders)
	for len(holders) < len(doc.SealedTo) {
		holders = append(holders, "")
	}
	e.checkPlan(&doc.Plan)
	e.checkTimes(in.ScheduleTimes)
	e.checkHolders(doc.SealedTo, holders)
	if err := e.failed(); err != nil {
		return EditDone{}, err
	}
	return s.writeSeal(ctx, e, doc, in.ScheduleTimes, holders, in.Author)
}

// isOpened reports whether some of it is opened.
func (d *ScheduleDocument) isOpened() bool {
	for i := range d.count() {
		if d.at(i).Kind != "" {
			return true
		}
	}
	return false
}

// sealing is an edit that seals a schedule.
type sealing struct {
	*edit
	before int // schedules that were sealed before
}

var sealName = recordName{kind: study.KindSeal}

// newSealing refuses where a schedule can keep nobody blind, or where one is at
// work already.
func (s *Study) newSealing(ctx context.Context, author, reason string) (*sealing, error) {
	e, err := s.newEdit(ctx, strings.TrimSpace(reason))
	if err != nil {
		return nil, err
	}
	out := &sealing{edit: e}
	if strings.TrimSpace(author) == "" {
		e.fault(sealName, "author", "nobody is named", "expected who seals the schedule")
	}
	if e.right.Granted() {
		e.fault(sealName, "", "the active pairs of this study are open, so that a schedule sealed in it would keep nobody blind",
			"expected a study of its own for what comes next: make one, and import the folder of this one without its trials and passes")
	}
	seals, err := s.seals(e.from.current)
	if err != nil {
		return nil, err
	}
	if out.before = len(seals); out.before > 0 {
		if run := seals[len(seals)-1].run(e.from.current); len(run) > 0 {
			e.fault(sealName, "", fmt.Sprintf("%s of the schedule that is sealed already were run, %s first", counted(len(run), "trial", "trials"), run[0]),
				"expected that schedule to be kept to its end: what it has too few of are spare draws")
		} else if e.reason == "" {
			e.fault(sealName, "reason", "a schedule is sealed already, and no reason is given for another one", "expected why it is drawn again")
		}
	}
	return out, nil
}

// checkPlan looks for what a study cannot take in.
func (e *sealing) checkPlan(p *SchedulePlan) {
	labels := ids(e.from, study.KindPair)
	if len(labels) == 0 {
		e.fault(sealName, "pairs", "the season has no pairs yet", "expected them written down first (Tables, pair)")
		return
	}
	for _, label := range p.Pairs {
		if !slices.Contains(labels, label) {
			e.fault(sealName, "pairs", fmt.Sprintf("the season has no pair %q", label), "expected some of "+strings.Join(labels, ", "))
		}
	}
	if n := p.Trials + p.Spare; n > mostScheduled {
		e.fault(sealName, "trials", fmt.Sprintf("%d trials and spare draws", n), fmt.Sprintf("expected at most %d in one study", mostScheduled))
	}
	width := max(3, len(strconv.Itoa(p.Trials)))
	if p.Trials > 0 && p.Trials <= mostScheduled {
		for _, id := range ids(e.from, study.KindTrial) {
			if n, err := strconv.Atoi(strings.TrimPrefix(id, "T")); err == nil && len(id) == width+1 && id[0] == 'T' && n >= 1 && n <= p.Trials {
				e.fault(sealName, "trials", fmt.Sprintf("the study has a trial %s already, which the schedule would draw again", id), "expected a schedule before its first trial, or a study of its own for it")
				return
			}
		}
	}
}

// fields are those of a seal's record; what is not stated is absent.
func (t ScheduleTimes) fields() map[string]string {
	out := map[string]string{}
	if t.PerDay > 0 {
		out[perDayField] = strconv.Itoa(t.PerDay)
	}
	for field, minutes := range map[string]float64{trialMinField: t.TrialMin, washoutField: t.WashoutMin} {
		if minutes > 0 {
			out[field] = strconv.FormatFloat(minutes, 'g', -1, 64)
		}
	}
	return out
}

func scheduleTimesOf(fields map[string]string) (t ScheduleTimes) {
	t.PerDay, _ = strconv.Atoi(fields[perDayField]) // blank: not stated
	t.TrialMin, _ = strconv.ParseFloat(fields[trialMinField], 64)
	t.WashoutMin, _ = strconv.ParseFloat(fields[washoutField], 64)
	return t
}

func (e *sealing) checkTimes(t ScheduleTimes) {
	const day = 24 * 60
	if t.PerDay < 0 || t.PerDay > 1000 {
		e.fault(sealName, perDayField, fmt.Sprintf("%d trials a day", t.PerDay), "expected 1 to 1000, or none")
	}
	if !(t.TrialMin >= 0 && t.TrialMin <= day) {
		e.fault(sealName, trialMinField, fmt.Sprintf("a trial of %g minutes", t.TrialMin), "expected up to a day")
	}
	if !(t.WashoutMin >= 0 && t.WashoutMin <= day) {
		e.fault(sealName, washoutField, fmt.Sprintf("a washout of %g minutes", t.WashoutMin), "expected up to a day")
	}
	if need := float64(t.PerDay)*(t.TrialMin+t.WashoutMin) - t.WashoutMin; t.PerDay > 0 && need > day {
		e.fault(sealName, perDayField, fmt.Sprintf("%d trials a day of %g minutes with %g minutes between them take %.0f hours", t.PerDay, t.TrialMin, t.WashoutMin, need/60), "expected what fits into a day")
	}
}

// mostKeys is how many keys a study's schedule can be sealed to.
const mostKeys = 8

func (e *sealing) checkHolders(publics, holders []string) {
	if len(publics) > mostKeys {
		e.fault(sealName, "keys", fmt.Sprintf("%d keys", len(publics)), fmt.Sprintf("expected at most %d", mostKeys))
	}
	for i := range publics {
		if i < len(holders) && strings.TrimSpace(holders[i]) == "" {
			e.fault(sealName, holderField+strconv.Itoa(i+1), "nobody is said to hold key "+publics[i], "expected a name, or the place where it is kept")
		}
	}
}

// writeSeal writes the sealed schedule, and the season's rule with it.
func (s *Study) writeSeal(ctx context.Context, e *sealing, doc *ScheduleDocument, times ScheduleTimes, holders []string, author string) (EditDone, error) {
	text, err := json.Marshal(doc)
	if err != nil {
		return EditDone{}, err
	}
	fields := map[string]string{documentField: string(text)}
	maps.Copy(fields, times.fields())
	for i, h := range holders {
		fields[holderField+strconv.Itoa(i+1)] = strings.TrimSpace(h)
	}
	name := recordName{study.KindSeal, "seal " + strconv.Itoa(e.before+1)}
	e.order = append(e.order, name)
	e.after[name] = &study.Record{Kind: name.kind, ID: name.id, Fields: fields}
	rule, err := e.take(ctx, recordName{kind: study.KindSchedule})
	if err != nil {
		return EditDone{}, err
	}
	if rule == nil {
		rule = &study.Record{Kind: study.KindSchedule}
	}
	rule.Fields = map[string]string{"rule": doc.Rule.Rule, "block": strconv.Itoa(doc.Rule.Block)}
	if doc.Plan.MostAlike > 0 {
		rule.Fields["most_alike"] = strconv.Itoa(doc.Plan.MostAlike)
	}
	e.after[recordName{kind: study.KindSchedule}] = rule
	if err := e.check(); err != nil {
		return EditDone{}, err
	}
	changes := e.changes()
	for i := range changes {
		changes[i].reason = e.reason
	}
	return s.writeChanges(ctx, e.from.current, e.right, strings.TrimSpace(author), changes)
}

// ScheduleAsOpened is the schedule in force, opened as far as it is.
//
// Errors: [ErrNoSchedule]; [ErrNotSealed].
func (s *Study) ScheduleAsOpened(ctx context.Context) (ScheduleDocument, error) {
	current, err := s.current(ctx)
	if err != nil {
		return ScheduleDocument{}, err
	}
	seal, err := s.sealInForce(current)
	if err != nil {
		return ScheduleDocument{}, err
	}
	if seal == nil {
		return ScheduleDocument{}, ErrNoSchedule
	}
	openings, err := s.openings(ctx)
	if err != nil {
		return ScheduleDocument{}, err
	}
	doc, err := seal.opened(openings)
	if err != nil {
		return ScheduleDocument{}, err
	}
	return *doc, nil
}

// ErrNoSchedule answers where no schedule is sealed.
var ErrNoSchedule = errors.New("no schedule is sealed in this study")

// openedTrials are the trials that an opening names; none: it is one of all.
func openedTrials(fields map[string]string) []string {
	text := fields[trialsField]
	if text == "" {
		return nil
	}
	return strings.Split(text, ", ")
}

// opened is the document with what openings tell of it.
func (r *sealedRecord) opened(openings []journal.State) (*ScheduleDocument, error) {
	out := *r.doc
	out.Trials, out.Spare = slices.Clone(r.doc.Trials), slices.Clone(r.doc.Spare)
	at := map[string]*ScheduledTrial{}
	for i := range out.count() {
		at[out.at(i).Trial] = out.at(i)
	}
	for _, opening := range openings {
		text := opening.Fields[openedField]
		if text == "" {
			continue
		}
		var told []ScheduledTrial
		if err := json.Unmarshal([]byte(text), &told); err != nil {
			return nil, fmt.Errorf("%s: %w: what it tells of the schedule cannot be read", opening.ID, ErrNotSealed)
		}
		for i := range told {
			if t := at[told[i].Trial]; t != nil {
				t.Kind, t.ActivePair, t.CurrentUA, t.Odour, t.Nonce = told[i].Kind, told[i].ActivePair, told[i].CurrentUA, told[i].Odour, told[i].Nonce
			}
		}
		if seed := opening.Fields[seedField]; seed != "" {
			out.SeedHex = seed
		}
	}
	if out.allOpened() {
		s := out.core()
		out.weigh(&s, r.times.PerDay)
	}
	return &out, nil
}

func (d *ScheduleDocument) allOpened() bool {
	for i := range d.count() {
		if d.at(i).Kind == "" {
			return false
		}
	}
	return true
}

// core is an opened document as the schedule that it is.
func (d *ScheduleDocument) core() schedule.Schedule {
	s := schedule.Schedule{Plan: d.Plan.core(), Block: d.Rule.Block}
	for i := range d.Trials {
		s.Trials = append(s.Trials, d.Trials[i].core())
	}
	for i := range d.Spare {
		s.Spare = append(s.Spare, d.Spare[i].core())
	}
	return s
}

func (t *ScheduledTrial) core() schedule.Trial {
	out := schedule.Trial{ID: t.Trial, Kind: t.Kind, CurrentUA: max(*t.CurrentUA, -*t.CurrentUA), Reversed: *t.CurrentUA < 0, OdourOff: !*t.Odour}
	if t.Kind == schedule.Active {
		out.Pair = t.ActivePair
	}
	return out
}

// blockOf is the block of a trial or spare draw, from 1. It is public.
func (r *sealedRecord) blockOf(i int) int {
	s := schedule.Schedule{Plan: r.doc.Plan.core(), Block: r.doc.Rule.Block, Trials: make([]schedule.Trial, len(r.doc.Trials)), Spare: make([]schedule.Trial, len(r.doc.Spare))}
	return s.BlockOf(i)
}

// stamp is when, who and why of an entry.
func (s *Study) stamp(ctx context.Context, e *journal.Entry, zone *time.Location) (StampView, error) {
	by, err := s.people.name(ctx, e.Author)
	return StampView{When: stampText(e.Wall, zone), By: by, Reason: e.Reason}, err
}
