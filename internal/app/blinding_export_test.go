package app

import "context"

// AfterOpening lists what was changed after the opening.
func (s *Study) AfterOpening(ctx context.Context) ([]AfterOpening, error) {
	right, err := s.right(ctx)
	if err != nil {
		return nil, err
	}
	return s.afterOpening(ctx, right)
}

// BlindingFacts is the part of the page Schedule that the journal tells.
func (s *Study) BlindingFacts(ctx context.Context) (ScheduleView, error) {
	var v ScheduleView
	right, err := s.right(ctx)
	if err != nil {
		return v, err
	}
	err = s.blindingFacts(ctx, right, &v)
	return v, err
}
