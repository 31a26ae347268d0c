package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// A current that was read on deck tells which pair was active, or helps to. Its
// record holds a reference; what was read is kept among what is guarded and is
// looked at only for trials that are opened.

// readingFields are where the readings of a trial count, by when they were read.
var readingFields = map[string]string{readBefore: "current_before_uA", readAfter: "current_after_uA"}

// readCurrent is the field of a reading's guarded text.
const readCurrent = "current_uA"

// trialReadings is what was read on deck, by trial.
type trialReadings struct {
	fields   map[string]Assignment
	warnings []string
}

// readings are the readings that count of the trials that a right sees: of each
// trial and time the newest one that stands, is here and can be read. Of other
// trials nothing is looked up.
func (s *Study) readings(ctx context.Context, current *standingRecords, right Right) (r trialReadings, err error) {
	if !right.Some() {
		return r, nil
	}
	r.fields = map[string]Assignment{}
	states := current.standing(study.KindReading)
	elsewhere := refsOfOthers(states, right)
	states = slices.DeleteFunc(states, func(st journal.State) bool {
		return !right.Sees(st.Fields["trial"]) || readingFields[st.Fields["when"]] == "" || st.Fields[refField] == ""
	})
	newestFirst(states)
	for i := range states {
		st := &states[i]
		trial, field := st.Fields["trial"], readingFields[st.Fields["when"]]
		if _, there := r.fields[trial][field]; there {
			continue
		}
		ours, err := s.alwaysSeen(ctx, st, right)
		if err != nil {
			return r, err
		}
		if !ours || elsewhere[st.Fields[refField]] {
			r.warnings = append(r.warnings, fmt.Sprintf("trial %s: a current that was read is not used, because its record names a trial that is still sealed too", trial))
			continue
		}
		text, here, err := s.readingHere(ctx, right, st.Fields[refField])
		switch {
		case err != nil:
			return r, err
		case !here:
			r.warnings = append(r.warnings, fmt.Sprintf("trial %s: a current that was read %s it has not come from its tablet yet", trial, st.Fields["when"]))
		case !readable(text):
			r.warnings = append(r.warnings, fmt.Sprintf("trial %s: the current that was read %s it is no number and is not used", trial, st.Fields["when"]))
		default:
			if r.fields[trial] == nil {
				r.fields[trial] = Assignment{}
			}
			r.fields[trial][field] = text
		}
	}
	slices.Sort(r.warnings)
	r.warnings = slices.Compact(r.warnings)
	return r, nil
}

// refsOfOthers are the references that readings of sealed trials hold: another
// reading that holds one too shows nothing, or it would tell what is sealed.
func refsOfOthers(states []journal.State, right Right) map[string]bool {
	if right.Granted() {
		return nil
	}
	out := map[string]bool{}
	for i := range states {
		if !right.Sees(states[i].Fields["trial"]) {
			out[states[i].Fields[refField]] = true
		}
	}
	return out
}

// alwaysSeen reports whether a reading never was one of a trial that is sealed.
// No Brinefield moves a reading; an entry of elsewhere could.
func (s *Study) alwaysSeen(ctx context.Context, st *journal.State, right Right) (bool, error) {
	if st.Entries == 1 || right.Granted() {
		return true, nil
	}
	history, err := s.folder.Journal.History(ctx, study.KindReading, st.ID)
	if err != nil {
		return false, err
	}
	for _, e := range history {
		if trial := e.Body.Fields["trial"]; trial != "" && !right.Sees(trial) {
			return false, nil
		}
	}
	return true, nil
}

// newestFirst sorts readings by the time at which they were read, those without
// one last, and those of one time by their entries.
func newestFirst(states []journal.State) {
	when := make(map[string]time.Time, len(states))
	for i := range states {
		when[states[i].ID], _ = passTime(states[i].Fields["time"], time.UTC) // the zero time is before all
	}
	slices.SortFunc(states, func(a, b journal.State) int {
		return cmp.Or(when[b.ID].Compare(when[a.ID]), cmp.Compare(b.First, a.First))
	})
}

// readingHere is what was read; not here where its tablet did not send it yet.
// The caller has looked whether the right sees the trial.
func (s *Study) readingHere(ctx context.Context, right Right, ref string) (text string, here bool, err error) {
	found, err := s.folder.Guarded.Assignments(ctx, right, []string{ref})
	var absent *AbsentError
	if errors.As(err, &absent) {
		return "", false, nil
	}
	if err != nil {
		return "", false, err
	}
	if len(found[0]) != 1 {
		return "", true, nil // an assignment: a reading that names one must not tell it
	}
	return found[0][readCurrent], true, nil
}

func readable(text string) bool {
	v, err := strconv.ParseFloat(text, 64)
	return err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}

// with completes an assignment by what was read in its trial. What is recorded
// stays; added are the fields that the readings gave.
func (r trialReadings) with(trial string, a Assignment) (whole, added Assignment) {
	if a == nil {
		return nil, nil // nothing is known of the trial yet
	}
	for field, text := range r.fields[trial] {
		if a[field] != "" {
			continue
		}
		if whole == nil {
			whole, added = maps.Clone(a), Assignment{}
		}
		whole[field], added[field] = text, text
	}
	if whole == nil {
		return a, nil
	}
	return whole, added
}

// differ says where something else is recorded than was read.
func (r trialReadings) differ(assigned map[string]Assignment) []string {
	var out []string
	for _, trial := range slices.Sorted(maps.Keys(r.fields)) {
		for _, when := range []string{readBefore, readAfter} {
			read, recorded := r.fields[trial][readingFields[when]], assigned[trial][readingFields[when]]
			if read == "" || recorded == "" || sameNumber(read, recorded) {
				continue
			}
			out = append(out, fmt.Sprintf("trial %s: %s µA is recorded as the current %s it, and %s µA was read on deck; what is recorded counts", trial, recorded, when, read))
		}
	}
	return out
}

func sameNumber(a, b string) bool {
	x, errX := strconv.ParseFloat(a, 64)
	y, errY := strconv.ParseFloat(b, 64)
	return a == b || errX == nil && errY == nil && x == y
}

// assigned are the assignments of all trials that a right sees, completed by what
// was read on deck.
func (s *Study) assigned(ctx context.Context, current *standingRecords, right Right) (map[string]Assignment, seenReadings, error) {
	var seen seenReadings
	kept, err := s.assignments(ctx, current, right)
	if err != nil {
		return nil, seen, err
	}
	read, err := s.readings(ctx, current, right)
	if err != nil {
		return nil, seen, err
	}
	seen.warnings = slices.Concat(read.differ(kept), read.warnings)
	out := make(map[string]Assignment, len(kept))
	for trial, a := range kept {
		whole, added := read.with(trial, a)
		out[trial] = whole
		if len(added) > 0 {
			if seen.fields == nil {
				seen.fields = map[string]Assignment{}
			}
			seen.fields[trial] = added
		}
	}
	return out, seen, nil
}

// seenReadings are the fields of trials that come from readings, and what is to
// be said of readings.
type seenReadings struct {
	fields   map[string]Assignment
	warnings []string
}

// readingsWarned are the sentences about readings of a study as it stands.
func (s *Study) readingsWarned(ctx context.Context) ([]string, error) {
	right, err := s.right(ctx)
	if err != nil || !right.Some() {
		return nil, err
	}
	a, err := s.assemble(ctx, right)
	if err != nil {
		return nil, err
	}
	const most = 20
	w := a.read.warnings
	if len(w) > most {
		w = append(slices.Clone(w[:most]), fmt.Sprintf("and %d more of this kind", len(w)-most))
	}
	return w, nil
}
