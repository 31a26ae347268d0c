package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// An entry that tells which pair was active holds only a reference. What stands
// behind it is kept apart and travels apart, so that it can come in later than
// the entry of another device. Until then the trial reads as a sealed one,
// nothing is computed of it that needs the pair, and the study says so.

// notHereWord stands in a list of entries for an active pair that was not sent
// yet.
const notHereWord = "not here yet"

// assignmentHere is what was kept under a reference of a trial. It is nil where
// another device wrote the reference and what it stands for did not come yet.
func (s *Study) assignmentHere(ctx context.Context, right Right, trial, ref string) (Assignment, error) {
	found, err := s.folder.Guarded.Assignments(ctx, right, []string{ref})
	if err == nil {
		return found[0], nil
	}
	var absent *AbsentError
	if !errors.As(err, &absent) {
		return nil, err
	}
	head, inner := s.folder.Journal.Head(ctx)
	if inner != nil {
		return nil, inner
	}
	history, inner := s.folder.Journal.History(ctx, study.KindAssignment, trial)
	if inner != nil {
		return nil, inner
	}
	// An entry of this device may hold it too: an undo puts it back.
	first := slices.IndexFunc(history, func(e journal.Entry) bool { return e.Body.Fields[refField] == ref })
	if first >= 0 && history[first].Device != head.Device {
		return nil, nil
	}
	return nil, err
}

// assignmentsHere are those of some records, nil for what is not here yet.
func (s *Study) assignmentsHere(ctx context.Context, right Right, states []journal.State) ([]Assignment, error) {
	out := make([]Assignment, len(states))
	for i := range states {
		var err error
		if out[i], err = s.assignmentHere(ctx, right, states[i].ID, states[i].Fields[refField]); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// NotHere names the trials that are opened and whose active pair another device
// has not sent yet.
func (s *Study) NotHere(ctx context.Context) ([]string, error) {
	head, err := s.folder.Journal.Head(ctx)
	if err != nil || len(head.Devices) < 2 {
		return nil, err
	}
	right, err := s.right(ctx)
	if err != nil || !right.Some() {
		return nil, err
	}
	current, err := s.current(ctx)
	if err != nil {
		return nil, err
	}
	assigned, err := s.assignments(ctx, current, right)
	if err != nil {
		return nil, err
	}
	var out []string
	for trial, a := range assigned {
		if a == nil {
			out = append(out, trial)
		}
	}
	slices.Sort(out)
	return out, nil
}

func notHereWords(trials []string) string {
	const most = 10
	named := strings.Join(trials[:min(most, len(trials))], ", ")
	if len(trials) > most {
		named += ", …"
	}
	return fmt.Sprintf("which pair was active in %s (%s) was written down on another device and is not here yet: until that device sends it, it reads as sealed",
		counted(len(trials), "trial", "trials"), named)
}
