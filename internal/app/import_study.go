package app

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"brinefield/core/journal"
	"brinefield/core/season"
	"brinefield/core/study"
)

// mostChanges is how many values a plan lists.
const mostChanges = 1000

// Plan says what an import of a season folder would change, and keeps the
// folder until it is carried out. Faults of the folder stand in the plan.
//
// Errors: [ErrUnknownStudy]; those of opening the study.
func (s *Studies) Plan(ctx context.Context, in PlanRequest) (PlanView, error) {
	v := PlanView{
		Study: in.Study, Faults: []FaultView{}, FaultRows: []FaultRows{}, Tables: []PlanTable{}, Changes: []PlanChange{}, Warnings: []string{},
	}
	input := Input{}
	for _, f := range in.Files {
		input[f.Name] = f.Data
	}
	v.Warnings = append(v.Warnings, unknownFilesWarning(input)...)
	st, records, err := readFolder(input)
	v.Title = st.Title
	var faults *FaultsError
	if errors.As(err, &faults) {
		v.Faults, v.FaultRows = faultViews(faults.Faults), faultRows(input, faults.Faults)
		return v, nil
	} else if err != nil {
		return v, err
	}
	if in.Study == "" {
		err = s.planNew(&v, records)
	} else {
		err = s.planChanges(ctx, &v, records)
	}
	if err != nil {
		return v, err
	}
	id, err := s.chance(8)
	if err != nil {
		return v, err
	}
	v.Plan = id
	s.plans.add(&plan{id: id, study: in.Study, input: input})
	return v, nil
}

// planNew plans a study that does not exist yet: everything in it is new.
func (s *Studies) planNew(v *PlanView, records []study.Record) error {
	d, err := differ(context.Background(), &Study{}, gatherStates(0, nil), records)
	if err != nil {
		return err
	}
	v.Tables, v.Guarded = d.tables, d.tells
	var taken []string
	if s.options.Shelf != nil {
		if taken, err = s.options.Shelf.List(); err != nil {
			return err
		}
	}
	v.Suggested = suggestName(v.Title, taken)
	return nil
}

func (s *Studies) planChanges(ctx context.Context, v *PlanView, records []study.Record) error {
	target, err := s.Study(ctx, v.Study)
	if err != nil {
		return err
	}
	right, err := target.right(ctx)
	if err != nil {
		return err
	}
	current, err := target.current(ctx)
	if err != nil {
		return err
	}
	d, err := differ(ctx, target, current, records)
	if err != nil {
		return err
	}
	guarded, err := d.guardedChanges(ctx, target, current, right)
	if err != nil {
		return err
	}
	v.Tables, v.Guarded = d.tables, d.tells
	all := slices.Concat(planChanges(d.changes), guarded, planChanges(d.missing))
	v.Changes = append(v.Changes, all[:min(len(all), mostChanges)]...)
	v.More = len(all) - len(v.Changes)
	if target.folder.ReadOnly {
		v.Warnings = append(v.Warnings, ErrReadOnly.Error())
	}
	if len(guarded) > 0 && !right.Granted() {
		v.Warnings = append(v.Warnings, "the active pairs of this study are sealed and stay sealed: every trial of which the folder tells the pair is listed, whether it differs or not, and only what differs is written")
	}
	if d.ruleKept {
		v.Warnings = append(v.Warnings, "the rule of the sealed schedule stays: what the folder says, or leaves out, under [schedule] is not taken over")
	}
	v.Warnings = append(v.Warnings, faultsTogether(d, records)...)
	return nil
}

// faultsTogether warns of faults that a folder has none of, and that it would
// have together with what only the study holds.
func faultsTogether(d *difference, records []study.Record) []string {
	if len(d.missing) == 0 {
		return nil
	}
	all := slices.Clone(records)
	for _, c := range slices.Backward(d.missing) {
		r := *c.before
		if r.Kind == study.KindTrial {
			r = withAssignment(r, nil)
		}
		all = append(all, r)
	}
	_, faults, places := season.FromRecords(all, season.Options{Zone: time.LoadLocation})
	if len(faults) == 0 {
		return nil
	}
	kind, id, _, _ := places.Of(faults[0])
	return []string{fmt.Sprintf("with what the study holds and this folder no longer does, %s, the first in %s %s: %s; withdraw what the folder no longer holds, or mend it afterwards",
		counted(len(faults), "fault would stand", "faults would stand"), kind, id, faults[0].Wrong)}
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// Import carries out a plan, all of it or nothing. A study that holds active
// pairs sealed stays sealed whatever the request says.
//
// Errors: [ErrUnknownPlan]; [ErrReadOnly]; [ErrBadName]; [ErrNoSpace].
func (s *Studies) Import(ctx context.Context, in ImportRequest) (ImportDone, error) {
	p := s.plans.take(in.Plan)
	if p == nil {
		return ImportDone{}, ErrUnknownPlan
	}
	done, err := s.carryOut(ctx, p, in)
	if err != nil {
		s.plans.add(p) // it can be tried again
		return ImportDone{}, err
	}
	s.cards.drop(done.Study)
	return done, nil
}

func (s *Studies) carryOut(ctx context.Context, p *plan, in ImportRequest) (ImportDone, error) {
	_, records, err := readFolder(p.input)
	if err != nil {
		return ImportDone{}, err
	}
	id, err := s.dated()
	if err != nil {
		return ImportDone{}, err
	}
	job := importJob{id: id, input: p.input, records: records, request: in}
	if p.study == "" {
		return s.create(ctx, in.Study, func(target *Study) (int, error) { return target.importSeason(ctx, job) })
	}
	if in.Study != "" && in.Study != p.study {
		return ImportDone{}, fmt.Errorf("%w: the plan is for the study %s, not for %s", ErrBadName, p.study, in.Study)
	}
	target, err := s.Study(ctx, p.study)
	if err != nil {
		return ImportDone{}, err
	}
	n, err := target.importSeason(ctx, job)
	return ImportDone{Study: p.study, Entries: n}, err
}

type importJob struct {
	id      string
	input   Input
	records []study.Record
	request ImportRequest
}

// importSeason writes what differs. Names, assignments and the files
// themselves are kept first; one transaction of the journal then makes all of
// it count.
func (s *Study) importSeason(ctx context.Context, job importJob) (int, error) {
	s.write.Lock()
	defer s.write.Unlock()
	if s.folder.ReadOnly {
		return 0, ErrReadOnly
	}
	current, err := s.current(ctx)
	if err != nil {
		return 0, err
	}
	d, err := differ(ctx, s, current, job.records)
	if err != nil {
		return 0, err
	}
	changes := d.changes
	if job.request.RemoveMissing {
		changes = append(changes, d.missing...)
	}
	assigned, err := d.assigned(ctx, s, current)
	if err != nil {
		return 0, err
	}
	changes = append(changes, assigned...)
	if len(changes) == 0 {
		return 0, nil
	}
	if err := s.mayImport(ctx, current, changes); err != nil {
		return 0, err
	}
	for i := range changes {
		if changes[i].before != nil {
			changes[i].reason = "import " + job.id
		}
	}
	drafts, err := s.lower(ctx, current, job.request.Author, changes)
	if err != nil {
		return 0, err
	}
	if err := s.folder.Guarded.PutOriginals(ctx, job.id, job.input); err != nil {
		return 0, err
	}
	opening, err := s.openedByImport(ctx, d, current, job)
	if err != nil {
		return 0, err
	}
	by, err := s.people.mark(ctx, job.request.Author)
	if err != nil {
		return 0, err
	}
	drafts = slices.Concat([]journal.Draft{importDraft(job, by)}, drafts, opening)
	for i := range opening {
		drafts[len(drafts)-1-i].Author = by
	}
	entries, err := s.append(ctx, drafts)
	return len(entries), err
}

// mayImport refuses an import that scores while scoring is locked.
func (s *Study) mayImport(ctx context.Context, current *standingRecords, changes []change) error {
	right, err := s.right(ctx)
	if err != nil {
		return err
	}
	for i := range changes {
		if err := mayScore(current, right, changes[i].name.kind); err != nil {
			return err
		}
	}
	return nil
}

// openedByImport is the opening of a folder that tells active pairs in plain
// sight. Nothing that was sealed before is opened by an import.
func (s *Study) openedByImport(ctx context.Context, d *difference, current *standingRecords, job importJob) ([]journal.Draft, error) {
	right, err := s.right(ctx)
	sealed := len(current.standing(study.KindAssignment)) > 0 || len(current.standing(study.KindSeal)) > 0
	if err != nil || right.Granted() || job.request.Blind || !d.tells || sealed {
		return nil, err
	}
	reason := "imported with the active pairs in plain sight"
	if !d.pairs {
		reason = "imported with the stimulus of sealed trials in plain sight"
	}
	return []journal.Draft{openingDraft(job.id, reason)}, nil
}

// importDraft writes down what was imported. Of the trials it gives neither
// size nor hash: which pairs were active could be guessed and tried with them.
func importDraft(job importJob, by string) journal.Draft {
	fields := map[string]string{"files": strings.Join(slices.Sorted(maps.Keys(job.input)), ", ")}
	for name, hash := range job.input.Fingerprints() {
		if openFile(name) {
			fields["sha256 "+name] = hash
			fields["bytes "+name] = strconv.Itoa(len(job.input[name]))
		}
	}
	return journal.Draft{Author: by, Kind: study.KindImport, Subject: job.id, Act: journal.Record, Body: journal.Body{Fields: fields}}
}

// openFile reports whether a file of a season tells nothing about active pairs.
// What is no part of a season may tell anything.
func openFile(name string) bool {
	return name != season.TrialsFile && len(season.Files{name: nil}.Extra()) == 0
}

// chance is random text of 2n hexadecimal digits.
func (s *Studies) chance(n int) (string, error) {
	if s.options.Random == nil {
		return "", errors.New("the studies were joined without a source of chance")
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	b := make([]byte, n)
	if _, err := io.ReadFull(s.options.Random, b); err != nil {
		return "", err
	}
	return hex.EncodeToString(b), nil
}

// dated names an import or an opening: its date and chance.
func (s *Studies) dated() (string, error) {
	id, err := s.chance(4)
	return s.options.Clock().UTC().Format(time.DateOnly) + "-" + id, err
}
