package inference

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"sort"
)

// MinimumDraws is the smallest number of redrawn schedules that a
// randomisation test accepts.
const MinimumDraws = 9999

// TrialCounts is one trial as the randomisation test sees it. Pairs are
// numbered over the whole study, the same way in every trial.
type TrialCounts struct {
	Trial string
	// Active lists the pairs that were driven, usually one; empty in a silent
	// trial and in one whose active pair is not known. Such a trial is never
	// redrawn but keeps its place in its block.
	Active []int
	// Unknown: the trial may have driven a pair, and which is not known. It
	// matters to [DrawRule.MostAlike] alone.
	Unknown bool
	// Block is the number of the block that the trial was drawn in, from 1 in the
	// order of the schedule; 0 where none is stated.
	Block int
	// TurnsByPair counts, over all pairs of the study, the turns of this trial
	// to each (the pass's turn pair, or its own pair where that is blank).
	TurnsByPair []int
}

// DrawRule is how the study drew its active pairs.
type DrawRule struct {
	// Block is the length of a permuted block in trials, or 0 when every
	// trial's active pair was drawn by itself with equal chances.
	Block int
	// MostAlike is how many trials running may have the same active pairs, silent
	// ones not counted; 0 is no limit. It goes with blocks.
	MostAlike int
}

// Uniform is the rule of independent draws with equal chances.
func Uniform() DrawRule { return DrawRule{} }

// Blocks is the rule of permuted blocks of the given length.
func Blocks(length int) DrawRule { return DrawRule{Block: length} }

// RandomisationResult is the outcome of [RandomisationTest].
type RandomisationResult struct {
	P         float64 // (1 + #{T* ≥ T})/(1 + Draws)
	Statistic int     // T, turns to a pair that was active in its trial
	Expected  float64 // mean of T over the redrawn schedules
	AsLarge   int     // redrawn schedules with T* ≥ T
	Draws     int
	Redrawn   int // trials whose active pairs were redrawn
}

// RandomisationTest asks how often the turns as they fell would have met the
// active pair as often as they did, had the schedule been drawn again. It
// assumes nothing about animals: only that the schedule was drawn by chance,
// by the stated rule, and that without a sense of the field every turn would
// have gone where it went whichever pair was driven.
//
// The statistic T is the number of turns to a pair active in its trial.
// Redrawing follows the rule:
//
//   - Uniform: each trial with k active pairs gets a set of k of the study's
//     pairs, every set equally likely, independently of the other trials.
//   - Blocks: within each block the active sets are permuted over those of its
//     trials that had one. That is the randomisation of a permuted-block design
//     given what each block contained; for a design in which every block holds
//     every pair equally often, the contents are fixed and it is the design
//     itself. Silent trials stay where they are: it is the choice between pairs
//     that the test is about, not the choice to be silent.
//   - With MostAlike: block after block gets an order drawn evenly among those
//     that keep the limit after what came before, and where a block has none the
//     redraw starts over; that is how core/schedule draws, and so its draw given
//     what each block contained. Silent trials neither count nor end a run; where
//     one of unknown pair stands, a new run begins.
//
// Where some trial states its block, blocks are those numbers, in ascending
// order, the trials of each in the order given: trials that were never run then
// leave a gap and move no other trial to another block. Driven trials without a
// number keep their active pairs, which is the randomisation given those. Where
// none states it, blocks are runs of Block consecutive trials in the order given
// (which must be the order of the schedule; the last run may be shorter).
//
// A limit counts every trial of the schedule. It is drawn by exactly where all of
// them are given, those that were never run with their pairs and without turns.
// Where the schedule as it was run breaks MostAlike it is not one of those that
// the rule draws, and the redraw leaves the limit out. [DrawRule.Warnings] tells
// this, and all else that makes p less than exact.
//
// Trials need one TurnsByPair length. Under the uniform rule the order of the
// trials does not matter: they are taken by name. The draws come from rng
// alone, so a seeded stream gives the same p for ever.
//
// Errors: a plain error for fewer than [MinimumDraws] draws, a negative block
// or count, a limit without blocks, a pair number out of range or doubled, trials
// of unequal width; [*NotEstimable] where the rule leaves nothing to redraw (no
// active pair, one pair only, blocks of one trial or of one pair, a limit that
// only one order keeps), or where orders that keep the limit are too rare to be
// drawn. Cost: O(draws · trials with turns), with MostAlike O(draws · trials)
// times the tries that an order takes.
//
// Source: Fisher's randomisation test; the 1 + in numerator and denominator
// counts the schedule that was in fact drawn (from memory). Tests: exhaustive
// enumeration of small schedules, uniform p under no preference, and (in
// internal/app) the draws of core/schedule themselves.
func RandomisationTest(trials []TrialCounts, rule DrawRule, draws int, rng *rand.Rand) (RandomisationResult, error) {
	if err := checkTrials(trials, rule, draws); err != nil {
		return RandomisationResult{}, err
	}
	if rule.Block == 0 {
		trials = byName(trials)
	}
	result := RandomisationResult{Draws: draws}
	var active []TrialCounts
	for _, t := range trials {
		if len(t.Active) > 0 {
			active = append(active, t)
			result.Statistic += turnsTo(t.TurnsByPair, t.Active)
		}
	}
	result.Redrawn = len(active)
	var redraw func() int
	if rule.Block == 0 {
		redraw = uniformRedraw(active, rng)
	} else {
		b := newBlocks(trials, rule)
		result.Redrawn = b.driven
		if rule.MostAlike > 0 && b.broken(rule.MostAlike) == nil {
			return limitedTest(result, newLimited(b, rule.MostAlike, rng))
		}
		redraw = blockRedraw(b, rng)
	}
	total := 0
	for range draws {
		t := redraw()
		total += t
		if t >= result.Statistic {
			result.AsLarge++
		}
	}
	result.Expected = float64(total) / float64(draws)
	result.P = float64(1+result.AsLarge) / float64(1+draws)
	return result, nil
}

// byName returns the trials in order of name; equal names by their contents,
// so that the order of the rows never matters.
func byName(trials []TrialCounts) []TrialCounts {
	sorted := append([]TrialCounts(nil), trials...)
	key := func(t TrialCounts) string { return fmt.Sprint(t.Active, t.TurnsByPair) }
	sort.SliceStable(sorted, func(i, j int) bool {
		if sorted[i].Trial != sorted[j].Trial {
			return sorted[i].Trial < sorted[j].Trial
		}
		return key(sorted[i]) < key(sorted[j])
	})
	return sorted
}

func turnsTo(turns, pairs []int) int {
	sum := 0
	for _, p := range pairs {
		sum += turns[p]
	}
	return sum
}

// uniformRedraw returns a function that redraws every trial and returns T*.
// Trials whose T* cannot vary are added up once.
func uniformRedraw(active []TrialCounts, rng *rand.Rand) func() int {
	fixed := 0
	var single [][]int        // turns by pair of trials with one active pair
	var several []TrialCounts // the rest
	for _, t := range active {
		switch {
		case allEqual(t.TurnsByPair):
			fixed += turnsTo(t.TurnsByPair, t.Active)
		case len(t.Active) == 1:
			single = append(single, t.TurnsByPair)
		default:
			several = append(several, t)
		}
	}
	var order []int
	if len(several) > 0 {
		order = make([]int, len(several[0].TurnsByPair))
		for k := range order {
			order[k] = k
		}
	}
	return func() int {
		sum := fixed
		for _, turns := range single {
			sum += turns[rng.IntN(len(turns))]
		}
		for _, t := range several {
			// The first k of a partial shuffle are a uniform set of k,
			// whatever the order was before.
			for k := range t.Active {
				other := k + rng.IntN(len(order)-k)
				order[k], order[other] = order[other], order[k]
				sum += t.TurnsByPair[order[k]]
			}
		}
		return sum
	}
}

func allEqual(values []int) bool {
	for _, v := range values {
		if v != values[0] {
			return false
		}
	}
	return true
}

// blockRedraw returns a function that permutes the active sets within every
// block and returns T*. gain[i][j] are the turns that trial i would have
// counted with the active set of trial j of the same block.
func blockRedraw(b *blocks, rng *rand.Rand) func() int {
	fixed, most := b.looseTurns(), 0
	var gains [][][]int
	for _, block := range b.list {
		gain := gainsOf(driven(block))
		if slices.ContainsFunc(gain, func(row []int) bool { return !allEqual(row) }) {
			gains = append(gains, gain)
			most = max(most, len(gain))
			continue
		}
		for i := range gain {
			fixed += gain[i][i]
		}
	}
	order := make([]int, most)
	return func() int {
		sum := fixed
		for _, gain := range gains {
			n := len(gain)
			for i := range n {
				order[i] = i
			}
			for i := range n {
				j := i + rng.IntN(n-i)
				order[i], order[j] = order[j], order[i]
				sum += gain[i][order[i]]
			}
		}
		return sum
	}
}

func checkTrials(trials []TrialCounts, rule DrawRule, draws int) error {
	if draws < MinimumDraws {
		return fmt.Errorf("randomisation test: %d draws; at least %d are needed", draws, MinimumDraws)
	}
	if rule.Block < 0 {
		return fmt.Errorf("randomisation test: a block of %d trials; a length of 2 or more is needed", rule.Block)
	}
	if rule.MostAlike < 0 || rule.MostAlike > 0 && rule.Block == 0 {
		return fmt.Errorf("randomisation test: at most %d trials alike in blocks of %d; a limit is 1 or more and goes with blocks", rule.MostAlike, rule.Block)
	}
	active, pairs := 0, -1
	for _, t := range trials {
		if pairs < 0 {
			pairs = len(t.TurnsByPair)
		}
		if err := checkTrial(t, pairs); err != nil {
			return err
		}
		if len(t.Active) > 0 {
			active++
		}
	}
	switch {
	case active == 0:
		return notEstimable("no trial had an active pair, so there is nothing to redraw")
	case rule.Block == 1 && !numbered(trials):
		return notEstimable("blocks of one trial leave no other order of the schedule to compare with")
	case !drawVaries(trials, rule, pairs):
		return notEstimable("the rule could not have drawn any other active pairs than those that were driven")
	}
	return nil
}

// drawVaries reports whether the rule could have drawn another schedule: some
// trial leaves a pair out (uniform), or some block holds two active sets.
func drawVaries(trials []TrialCounts, rule DrawRule, pairs int) bool {
	if rule.Block == 0 {
		return slices.ContainsFunc(trials, func(t TrialCounts) bool {
			return len(t.Active) > 0 && len(t.Active) < pairs
		})
	}
	return slices.ContainsFunc(newBlocks(trials, rule).list, func(block []TrialCounts) bool {
		members := driven(block)
		return slices.ContainsFunc(members, func(t TrialCounts) bool { return !sameSet(t.Active, members[0].Active) })
	})
}

func checkTrial(t TrialCounts, pairs int) error {
	if len(t.TurnsByPair) != pairs {
		return fmt.Errorf("randomisation test: trial %s counts turns at %d pairs, the first trial at %d; all need the study's pairs", t.Trial, len(t.TurnsByPair), pairs)
	}
	if t.Block < 0 {
		return fmt.Errorf("randomisation test: trial %s is in block %d; blocks are numbered from 1", t.Trial, t.Block)
	}
	for k, turns := range t.TurnsByPair {
		if turns < 0 {
			return fmt.Errorf("randomisation test: trial %s has %d turns at pair %d; a count cannot be negative", t.Trial, turns, k)
		}
	}
	for i, p := range t.Active {
		if p < 0 || p >= pairs {
			return fmt.Errorf("randomisation test: trial %s drives pair %d, but pairs are numbered 0 to %d", t.Trial, p, pairs-1)
		}
		for _, q := range t.Active[:i] {
			if p == q {
				return fmt.Errorf("randomisation test: trial %s names pair %d twice", t.Trial, p)
			}
		}
	}
	return nil
}
