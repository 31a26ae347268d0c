package app

import (
	"cmp"
	"context"
	"slices"

	"brinefield/core/journal"
	"brinefield/core/study"
)

// openings are all openings of active pairs, oldest first. Who has seen a pair
// has seen it: two devices may both have written an "opening 1", and neither takes
// the place of the other.
func (s *Study) openings(ctx context.Context) ([]journal.State, error) {
	all, err := s.everyRecording(ctx, study.KindOpening)
	slices.SortFunc(all, func(a, b journal.State) int { return cmp.Compare(a.First, b.First) })
	return all, err
}

// everyRecording gives the standing records of the kinds as States does, and of a
// record that several devices wrote down under one name each writing of it as a
// record of its own.
func (s *Study) everyRecording(ctx context.Context, kinds ...study.Kind) ([]journal.State, error) {
	states, err := s.folder.Journal.States(ctx, kinds...)
	if err != nil {
		return nil, err
	}
	var out []journal.State
	for i := range states {
		if states[i].Entries == 1 {
			out = append(out, states[i])
			continue
		}
		history, err := s.folder.Journal.History(ctx, states[i].Kind, states[i].ID)
		if err != nil {
			return nil, err
		}
		devices := map[string]bool{}
		for _, e := range history {
			devices[e.Device] = true
		}
		if len(devices) < 2 {
			out = append(out, states[i])
			continue
		}
		for _, e := range history {
			if e.Act != journal.Record {
				continue
			}
			st, err := journal.Apply(nil, e)
			if err != nil {
				return nil, err
			}
			out = append(out, *st)
		}
	}
	return out, nil
}
