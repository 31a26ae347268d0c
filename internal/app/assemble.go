package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"

	"brinefield/core/journal"
	"brinefield/core/season"
	"brinefield/core/study"
)

// Assembled is a study as it stands, made of its records.
type Assembled struct {
	Study    *study.Study
	Faults   []season.Fault
	Places   season.Places
	Position int64 // of the journal
	Blind    bool  // which pair was active is sealed, in all trials or in some

	// records are those that the rest is made of, names in the place of
	// references and, with the right, each trial's assignment among its fields.
	records []study.Record
	read    seenReadings
	current *standingRecords
	right   Right
	laid    sync.Once
	files   Input
	print   string
	layErr  error
	indexed sync.Once
	index   map[recordName]int
}

// Folder is the canonical season folder where there are no faults, else the
// folder that the faults are about. It is laid out when it is first asked for:
// an edit does not need it.
func (a *Assembled) Folder() (Input, error) {
	a.laid.Do(func() {
		if len(a.Faults) > 0 {
			a.files = Input(season.Folder(a.records))
		} else {
			files, err := season.Write(a.Study)
			if err != nil {
				a.layErr = err
				return
			}
			a.files = Input(files)
		}
		a.print = fingerprint(a.files)
	})
	return a.files, a.layErr
}

// Fingerprint is the SHA-256, in hex, over the sorted names and hashes of the
// files of Folder.
func (a *Assembled) Fingerprint() (string, error) {
	_, err := a.Folder()
	return a.print, err
}

// faultRows are the rows of the folder that hold faults.
func (a *Assembled) faultRows() []FaultRows {
	if len(a.Faults) == 0 {
		return faultRows(nil, nil)
	}
	files, _ := a.Folder() // a folder with faults is laid out as it stands
	return faultRows(files, a.Faults)
}

// at is where each record stands among the records.
func (a *Assembled) at() map[recordName]int {
	a.indexed.Do(func() {
		a.index = make(map[recordName]int, len(a.records))
		for i := range a.records {
			a.index[nameOf(a.records[i])] = i
		}
	})
	return a.index
}

// right is the right to see which pair was active: there is one as soon as
// the journal holds an opening, of all trials or of those that it names.
func (s *Study) right(ctx context.Context) (Right, error) {
	openings, err := s.openings(ctx)
	if err != nil {
		return Right{}, err
	}
	var right Right
	for i := range openings {
		if trials := openedTrials(openings[i].Fields); len(trials) > 0 {
			right = right.with(trials)
		} else {
			right = Right{granted: true}
		}
	}
	return right, nil
}

// custodian is the right under which an import compares what a folder says with
// what is sealed. What comes of it is written or left; it is never shown.
func custodian() Right { return Right{granted: true} }

// sealedWord stands for the active pair of a trial that is sealed.
const sealedWord = "sealed"

// assemble makes the study of its records as they stand, with what the right
// allows to be seen. What it returns is shared: nobody may change it.
func (s *Study) assemble(ctx context.Context, right Right) (*Assembled, error) {
	s.reading.Lock()
	defer s.reading.Unlock()
	current, err := s.currentLocked(ctx)
	if err != nil {
		return nil, err
	}
	place := &s.made[0]
	if right.Some() {
		place = &s.made[1]
	}
	if a := *place; a != nil && a.current == current && a.right == right {
		return a, nil
	}
	ready := s.ready
	if s.ready = nil; ready == nil || ready.current != current || ready.right != right {
		records, read, err := s.clearRecords(ctx, current, right)
		if err != nil {
			return nil, err
		}
		ready = &readySeason{records: records, read: read, seasonRead: readRecords(records)}
	}
	a := &Assembled{Study: ready.study, Faults: ready.faults, Places: ready.places, records: ready.records, read: ready.read}
	a.current, a.right, a.Position, a.Blind = current, right, current.position, !right.Granted()
	*place = a
	return a, nil
}

// seasonRead is what reading records as a season gave.
type seasonRead struct {
	study  *study.Study
	faults []season.Fault
	places season.Places
}

func readRecords(records []study.Record) (r seasonRead) {
	r.study, r.faults, r.places = season.FromRecords(records, season.Options{Zone: time.LoadLocation})
	return r
}

// readySeason is a season that was read when an edit was checked on it.
type readySeason struct {
	current *standingRecords
	right   Right
	records []study.Record
	read    seenReadings
	seasonRead
}

// clearRecords are the records of the season with what may be read in the
// place of references.
func (s *Study) clearRecords(ctx context.Context, current *standingRecords, right Right) ([]study.Record, seenReadings, error) {
	assigned, read, err := s.assigned(ctx, current, right)
	if err != nil {
		return nil, read, err
	}
	var out []study.Record
	for _, kind := range study.SeasonKinds {
		for _, state := range current.standing(kind) {
			r, err := s.people.clear(ctx, state.Record)
			if err != nil {
				return nil, read, err
			}
			if kind == study.KindTrial {
				r = withAssignment(r, assigned[r.ID])
			}
			out = append(out, r)
		}
	}
	return out, read, nil
}

// assignments are those of all trials, none without the right.
func (s *Study) assignments(ctx context.Context, current *standingRecords, right Right) (map[string]Assignment, error) {
	states := current.standing(study.KindAssignment)
	states = slices.DeleteFunc(states, func(st journal.State) bool { return !right.Sees(st.ID) })
	if len(states) == 0 {
		return nil, nil
	}
	refs := make([]string, len(states))
	for i := range states {
		refs[i] = states[i].Fields[refField]
	}
	found, err := s.folder.Guarded.Assignments(ctx, right, refs)
	var absent *AbsentError
	if errors.As(err, &absent) {
		found, err = s.assignmentsHere(ctx, right, states)
	}
	if err != nil {
		return nil, err
	}
	out := make(map[string]Assignment, len(states))
	for i := range states {
		out[states[i].ID] = found[i]
	}
	return out, nil
}

// refField is the one field of an assignment's record: its reference.
const refField = "ref"

// withAssignment is a trial with what is known of its active pairs; where
// nothing is, it is sealed.
func withAssignment(trial study.Record, a Assignment) study.Record {
	fields := make(map[string]string, len(trial.Fields)+len(a)+1)
	maps.Copy(fields, trial.Fields)
	fields["active_pair"] = sealedWord
	maps.Copy(fields, a)
	trial.Fields = fields
	return trial
}

// splitGuarded takes from a trial's record what tells, or helps to tell, which
// pair was active. A trial that says "sealed" says nothing about the pair.
func splitGuarded(trial study.Record) (study.Record, Assignment) {
	fields := maps.Clone(trial.Fields)
	a := Assignment{}
	for _, name := range study.GuardedFields {
		if v := fields[name]; v != "" && !(name == "active_pair" && v == sealedWord) {
			a[name] = v
		}
		delete(fields, name)
	}
	trial.Fields = fields
	return trial, a
}

// fingerprint is one hash of a folder.
func fingerprint(in Input) string {
	prints := in.Fingerprints()
	h := sha256.New()
	for _, name := range slices.Sorted(maps.Keys(prints)) {
		fmt.Fprintf(h, "%s\n%s\n", name, prints[name])
	}
	return hex.EncodeToString(h.Sum(nil))
}
