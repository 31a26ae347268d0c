package app

import (
	"context"

	"brinefield/core/study"
)

// blindingFacts fills in what the journal tells of the blinding: guesses and,
// once every trial is opened, whether they beat chance; who could have known
// what; warnings; and what was changed after the opening.
func (s *Study) blindingFacts(ctx context.Context, right Right, v *ScheduleView) error {
	after, err := s.afterNow(ctx)
	if err != nil {
		return err
	}
	v.After, v.MoreAfter = append([]AfterOpening{}, after.first...), after.total-len(after.first)
	if v.Guesses, err = s.guessViews(ctx, after.late); err != nil {
		return err
	}
	if v.Guessed, err = s.guessed(ctx, right, v.Guesses); err != nil {
		return err
	}
	var sentences []string
	if v.Knowers, sentences, err = s.knowers(ctx); err != nil {
		return err
	}
	v.Warnings = append(append(append([]string{}, v.Warnings...), sentences...), after.warning()...)
	return nil
}

// guessed tests the guesses once every trial of the season is opened, and says
// nothing before.
func (s *Study) guessed(ctx context.Context, right Right, guesses []GuessView) ([]GuessTest, error) {
	out := []GuessTest{}
	if !right.Granted() || len(guesses) == 0 {
		return out, nil
	}
	data, err := s.assemble(ctx, right)
	if err != nil {
		return out, err
	}
	if len(data.Faults) > 0 {
		without := scheduleDesign{pairs: len(data.Study.Pairs), why: "the study has faults: mend them first"}
		return guessTests(guesses, pairLabels(data.Study), without, s.options.Analyse.Seed), nil
	}
	return guessTests(guesses, pairLabels(data.Study), design(data.Study), s.options.Analyse.Seed), nil
}

// pairLabels are the labels of the pairs of a season, in its order.
func pairLabels(s *study.Study) []string {
	labels := make([]string, len(s.Pairs))
	for i := range s.Pairs {
		labels[i] = s.Pairs[i].Label
	}
	return labels
}
