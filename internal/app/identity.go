package app

import (
	"cmp"
	"context"
	"fmt"

	"brinefield/core/study"
)

// Identity is what a study is called whatever its folder is called, on every
// laptop and tablet that has a copy of it: the ID of the entry that first
// recorded the study.
//
// Errors: [ErrNotAStudy] where nothing was written yet; those of the journal.
func (s *Study) Identity(ctx context.Context) (string, error) {
	identity, _, err := s.identityAndTitle(ctx)
	return identity, err
}

func (s *Study) identityAndTitle(ctx context.Context) (identity, title string, err error) {
	state, err := s.folder.Journal.State(ctx, study.KindStudy, "")
	if err != nil {
		return "", "", err
	}
	if state == nil {
		return "", "", fmt.Errorf("%w: the journal of %s begins with no study", ErrNotAStudy, s.folder.Name)
	}
	return state.First, cmp.Or(state.Fields["title"], s.folder.Name), nil
}
