package app

import (
	"context"
	"slices"
	"strings"
	"time"

	"brinefield/core/inference"
	"brinefield/core/journal"
	"brinefield/core/numeric"
	"brinefield/core/study"
)

// What a guess says where it names no pair.
const (
	guessNone    = "none"    // that the trial was silent
	guessUnknown = "unknown" // that the scorer has no idea
)

// everyScorer is the name of the row over all scorers.
const everyScorer = "all"

// guessViews are the guesses that stand, in the order in which they were last
// written. late names those that were made or changed after their trial was
// opened.
func (s *Study) guessViews(ctx context.Context, late map[string]bool) ([]GuessView, error) {
	states, err := s.folder.Journal.States(ctx, study.KindGuess)
	if err != nil {
		return nil, err
	}
	zone, err := s.zone(ctx)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(states, func(a, b journal.State) int { return strings.Compare(a.Last, b.Last) })
	out := []GuessView{}
	for i := range states {
		r, err := s.people.clear(ctx, states[i].Record)
		if err != nil {
			return nil, err
		}
		entry, err := s.folder.Journal.Entry(ctx, states[i].Last)
		if err != nil {
			return nil, err
		}
		out = append(out, GuessView{
			ID: r.ID, Trial: r.Fields["trial"], Pair: r.Fields["pair"], By: r.Fields["by"], Note: r.Fields["note"],
			When: entry.Wall.In(zone).Format(time.RFC3339), Late: late[r.ID],
		})
	}
	return out, nil
}

// guessTests asks, for all who scored and for each, whether their guesses met
// the active pair more often than chance lets them. labels are the pairs of the
// season in its order.
//
// A hit is a guess that names a pair that was active in its trial. Only guesses
// that name a pair, in trials that drove one, can hit and can miss: "none" in a
// silent trial is right, but it is no choice between pairs, and who names a pair
// in a silent trial cannot have seen it driven. Unknown counts the guesses that
// name no pair. Guesses made or changed after the opening (Late) do not count,
// and of several by one scorer for one trial only the last of the list does.
//
// The test is that of [inference.RandomisationTest] with the guesses at each
// pair in the place of turns: the schedule is drawn again by the rule that drew
// it, the guesses stay. So what the rule gives away by itself (what is left of
// a block, a pair that is never the same more than so often running) counts as
// chance, and so does a liking for one pair.
//
// Clinical trials ask participants which treatment they think they had, and sum
// that up as blinding indices (Bang, Ni and Davis, Assessment of blinding in
// clinical trials, Controlled Clinical Trials 2004, doi:10.1016/j.cct.2003.10.016;
// from memory). Those are built for one guess by each of many participants, who
// are independent of one another, with intervals for large samples. Here two or
// three people guess at some dozens of trials that were drawn in blocks, so the
// guesses of one person hang together and the samples are small; drawing the
// schedule again takes neither for granted and is exact for any number.
func guessTests(guesses []GuessView, labels []string, design scheduleDesign, seed uint64) []GuessTest {
	counted := lastGuesses(guesses)
	names := []string{everyScorer}
	for _, g := range counted {
		if !slices.ContainsFunc(names[1:], func(name string) bool { return samePerson(name, g.By) }) {
			names = append(names, g.By)
		}
	}
	slices.Sort(names[1:])
	out := make([]GuessTest, len(names))
	for i, name := range names {
		var own []GuessView
		for _, g := range counted {
			if i == 0 || samePerson(g.By, name) {
				own = append(own, g)
			}
		}
		stream := everyScorer
		if i > 0 {
			stream = "of " + name // somebody may be called all
		}
		out[i] = guessTest(own, labels, design, seed, stream)
		out[i].By = name
	}
	return out
}

// lastGuesses are the guesses that count, in order.
func lastGuesses(guesses []GuessView) []GuessView {
	var out []GuessView
	for _, g := range guesses {
		if g.Late {
			continue
		}
		out = slices.DeleteFunc(out, func(before GuessView) bool {
			return before.Trial == g.Trial && samePerson(before.By, g.By)
		})
		out = append(out, g)
	}
	return out
}

func guessTest(guesses []GuessView, labels []string, design scheduleDesign, seed uint64, stream string) GuessTest {
	t := GuessTest{Guesses: len(guesses)}
	byName := map[string][]int{}
	for _, g := range guesses {
		pair := slices.Index(labels, g.Pair)
		if pair < 0 || pair >= design.pairs {
			t.Unknown++
			continue
		}
		if byName[g.Trial] == nil {
			byName[g.Trial] = make([]int, design.pairs)
		}
		byName[g.Trial][pair]++
	}
	byTrial := map[int][]int{}
	chosen := 0
	for _, d := range design.trials {
		counts := byName[d.id]
		if counts == nil || len(d.active) == 0 {
			continue
		}
		byTrial[d.index] = counts
		for pair, n := range counts {
			if chosen += n; slices.Contains(d.active, pair) {
				t.Hits += n
			}
		}
	}
	switch {
	case design.why != "":
		t.NotEstimable = design.why
		return t
	case chosen == 0:
		t.NotEstimable = "no guess names a pair in a trial that drove one"
		return t
	}
	result, err := inference.RandomisationTest(design.withTurns(byTrial), design.rule, randomisationDraws, numeric.Stream(seed, "guesses "+stream))
	if err != nil {
		t.NotEstimable = reasonOf(err)
		return t
	}
	t.Expected, t.P = finite(result.Expected), finite(result.P)
	t.Warnings = design.rule.Warnings(design.withTurns(nil))
	return t
}

// samePerson takes two names for one where they differ in blanks around them
// and in capital letters only. Nobody is not somebody.
func samePerson(a, b string) bool {
	a, b = strings.TrimSpace(a), strings.TrimSpace(b)
	return a != "" && strings.EqualFold(a, b)
}
