package inference

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
)

// blocks is a schedule as it was drawn in blocks.
type blocks struct {
	list    [][]TrialCounts // the trials of each, in order, silent ones among them
	numbers []int           // theirs; nil where they were counted off
	loose   []TrialCounts   // driven trials that state no block where others do
	lost    []TrialCounts   // trials of unknown pair that state none
	driven  int             // driven trials of all blocks
}

// numbered reports whether some trial states its block.
func numbered(trials []TrialCounts) bool {
	return slices.ContainsFunc(trials, func(t TrialCounts) bool { return t.Block > 0 })
}

// newBlocks finds the blocks of a schedule; see [RandomisationTest].
func newBlocks(trials []TrialCounts, rule DrawRule) *blocks {
	b := &blocks{}
	if !numbered(trials) {
		b.list = slices.Collect(slices.Chunk(trials, rule.Block))
	} else {
		sorted := slices.Clone(trials)
		slices.SortStableFunc(sorted, func(t, u TrialCounts) int { return t.Block - u.Block })
		for _, t := range sorted {
			switch last := len(b.numbers) - 1; {
			case t.Block == 0 && len(t.Active) > 0:
				b.loose = append(b.loose, t)
			case t.Block == 0 && t.Unknown:
				b.lost = append(b.lost, t)
			case t.Block == 0: // silent: no part of the redraw
			case last >= 0 && b.numbers[last] == t.Block:
				b.list[last] = append(b.list[last], t)
			default:
				b.numbers = append(b.numbers, t.Block)
				b.list = append(b.list, []TrialCounts{t})
			}
		}
	}
	for _, block := range b.list {
		b.driven += len(driven(block))
	}
	return b
}

// driven are the trials of a block that had an active pair.
func driven(block []TrialCounts) (members []TrialCounts) {
	for _, t := range block {
		if len(t.Active) > 0 {
			members = append(members, t)
		}
	}
	return members
}

// looseTurns are the turns to active pairs in trials that are not redrawn.
func (b *blocks) looseTurns() int {
	sum := 0
	for _, t := range b.loose {
		sum += turnsTo(t.TurnsByPair, t.Active)
	}
	return sum
}

// gainsOf are the turns that each trial would have counted with the active set
// of each.
func gainsOf(members []TrialCounts) [][]int {
	gain := make([][]int, len(members))
	for i, t := range members {
		for _, other := range members {
			gain[i] = append(gain[i], turnsTo(t.TurnsByPair, other.Active))
		}
	}
	return gain
}

// sameSet reports whether two trials drove the same pairs, in whatever order
// they are named.
func sameSet(a, b []int) bool {
	return slices.Equal(slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b)))
}

// run follows trials with one active set.
type run struct {
	last  int // the set; −1: none yet
	alike int // trials running with it
}

// next is the run with one more trial.
func (r run) next(set int) run {
	if set == r.last {
		return run{set, r.alike + 1}
	}
	return run{set, 1}
}

// place is a driven trial of a block.
type place struct {
	trial string
	set   int  // number of its active set; equal sets have equal numbers
	fresh bool // a trial of unknown pair stands before it
}

// places gives the driven trials of each block, with their sets numbered over
// the whole schedule.
func (b *blocks) places() [][]place {
	var sets [][]int
	out := make([][]place, len(b.list))
	fresh := false
	for i, block := range b.list {
		for _, t := range block {
			if len(t.Active) == 0 {
				fresh = fresh || t.Unknown
				continue
			}
			set := slices.IndexFunc(sets, func(s []int) bool { return sameSet(s, t.Active) })
			if set < 0 {
				set = len(sets)
				sets = append(sets, t.Active)
			}
			out[i] = append(out[i], place{t.Trial, set, fresh})
			fresh = false
		}
	}
	return out
}

// broken is the first trial of the schedule as it was run that has more than
// most trials alike behind it; nil where it keeps the limit.
func (b *blocks) broken(most int) *place {
	r := run{last: -1}
	for _, block := range b.places() {
		for i := range block {
			if block[i].fresh {
				r = run{last: -1}
			}
			if r = r.next(block[i].set); r.alike > most {
				return &block[i]
			}
		}
	}
	return nil
}

// limited redraws blocks with a limit on trials alike.
type limited struct {
	blocks []limitedBlock
	most   int
	fixed  int // turns of trials that are not redrawn
	rng    *rand.Rand
	left   int  // places that may still be drawn
	varied bool // some redraw was not the schedule as it was run
}

type limitedBlock struct {
	places []place
	gain   [][]int
	order  []int // which trial's set each place gets
	tries  int   // after which it has no order
}

// A block whose orders have failed so often has none, as in the draw of
// core/schedule; with the same number the same redraws are dropped. (One with a
// single active set has a single order and is tried once.) The whole
// test may draw so many places, some seconds' work; a schedule drawn by the rule
// needs far fewer.
const (
	triesOfBlock = 1000
	mostPlaces   = 1_000_000_000
)

func newLimited(b *blocks, most int, rng *rand.Rand) *limited {
	l := &limited{most: most, fixed: b.looseTurns(), rng: rng, left: mostPlaces}
	for i, places := range b.places() {
		block := limitedBlock{places: places, gain: gainsOf(driven(b.list[i]))}
		block.tries = 1
		for k := range places {
			block.order = append(block.order, k)
			if places[k].set != places[0].set {
				block.tries = triesOfBlock
			}
		}
		l.blocks = append(l.blocks, block)
	}
	return l
}

// redraw draws one schedule and gives its T*; false where that took too long.
func (l *limited) redraw() (sum int, ok bool) {
	for l.left > 0 {
		if sum, ok = l.attempt(); ok {
			return sum, true
		}
	}
	return 0, false
}

// attempt draws block after block; false where one came to a dead end.
func (l *limited) attempt() (sum int, ok bool) {
	sum = l.fixed
	r := run{last: -1}
	for i := range l.blocks {
		turns := 0
		if turns, r, ok = l.drawBlock(&l.blocks[i], r); !ok {
			return 0, false
		}
		sum += turns
	}
	for i := range l.blocks {
		b := &l.blocks[i]
		for k := range b.places {
			l.varied = l.varied || b.places[b.order[k]].set != b.places[k].set
		}
	}
	return sum, true
}

// drawBlock draws one of the orders that keep the limit after the run before:
// orders evenly drawn, until one keeps it.
func (l *limited) drawBlock(b *limitedBlock, before run) (turns int, after run, ok bool) {
	for range b.tries {
		if turns, after, ok = l.try(b, before); ok || l.left <= 0 {
			return turns, after, ok
		}
	}
	return 0, before, false
}

// try draws an order place by place, and leaves it as soon as it breaks the
// limit: what was drawn so far settles that.
func (l *limited) try(b *limitedBlock, r run) (turns int, after run, ok bool) {
	n := len(b.order)
	for i := range n {
		l.left--
		j := i + l.rng.IntN(n-i)
		b.order[i], b.order[j] = b.order[j], b.order[i]
		if b.places[i].fresh {
			r = run{last: -1}
		}
		if r = r.next(b.places[b.order[i]].set); r.alike > l.most {
			return 0, r, false
		}
		turns += b.gain[i][b.order[i]]
	}
	return turns, r, true
}

// limitedTest finishes a result whose T is known.
func limitedTest(result RandomisationResult, l *limited) (RandomisationResult, error) {
	total := 0
	for range result.Draws {
		t, ok := l.redraw()
		if !ok {
			return RandomisationResult{}, notEstimable("among the orders of these blocks those with at most %d trials alike in a row are too rare to be drawn again", l.most)
		}
		total += t
		if t >= result.Statistic {
			result.AsLarge++
		}
	}
	if !l.varied {
		return RandomisationResult{}, notEstimable("with at most %d trials alike in a row the rule could not have drawn any other active pairs than those that were driven", l.most)
	}
	result.Expected = float64(total) / float64(result.Draws)
	result.P = float64(1+result.AsLarge) / float64(1+result.Draws)
	return result, nil
}

// Warnings says, in sentences, where a schedule as it was run is not what the
// rule describes, and what [RandomisationTest] makes of that; none where the
// redraw has the distribution of the draw. Under the uniform rule there are none.
func (rule DrawRule) Warnings(trials []TrialCounts) (out []string) {
	if rule.Block <= 0 {
		return nil
	}
	b := newBlocks(trials, rule)
	if len(b.loose) > 0 {
		out = append(out, fmt.Sprintf("the randomisation test keeps the active pairs of %s: other trials state their block and these do not; state it for every trial that was drawn with the schedule", named(b.loose)))
	}
	for i, number := range b.numbers {
		if n := len(b.list[i]); n > rule.Block {
			out = append(out, fmt.Sprintf("block %d holds %d trials, and the schedule's rule says %d: the randomisation test permutes what the number says", number, n, rule.Block))
		}
	}
	if rule.MostAlike > 0 {
		out = append(out, b.limitWarnings(rule)...)
	}
	return out
}

// limitWarnings are those of a limit on trials alike.
func (b *blocks) limitWarnings(rule DrawRule) (out []string) {
	if at := b.broken(rule.MostAlike); at != nil {
		return []string{fmt.Sprintf("trial %s is one more than %d alike in a row, the most that the schedule's rule allows: either it was drawn without that limit, or trials before it were never run or are not known. The randomisation test leaves the limit out, and its p is approximate", at.trial, rule.MostAlike)}
	}
	var unknown []TrialCounts
	for _, block := range b.list {
		for _, t := range block {
			if t.Unknown && len(t.Active) == 0 {
				unknown = append(unknown, t)
			}
		}
	}
	if len(unknown) > 0 {
		out = append(out, fmt.Sprintf("which pair was active in %s is not known: in the randomisation test a new run of trials alike begins there, and its p is approximate", named(unknown)))
	}
	if len(b.lost) > 0 {
		out = append(out, fmt.Sprintf("neither the pair nor the block of %s is known: the schedule's limit on trials alike may have counted it, and the p of the randomisation test is approximate", named(b.lost)))
	}
	if gap := b.gap(rule.Block); gap != "" {
		out = append(out, gap+": where the schedule holds more trials there, its limit on trials alike counted trials that were never run, and the p of the randomisation test is approximate")
	}
	return out
}

// gap says where numbered blocks seem to lack trials; "" where none does. Only
// the last block of a draw is shorter than others; how long it was nobody can
// tell.
func (b *blocks) gap(length int) string {
	longest := 0 // of the later blocks
	for i := len(b.numbers) - 1; i >= 0; i-- {
		number, n := b.numbers[i], len(b.list[i])
		switch {
		case n < min(length, longest):
			return fmt.Sprintf("block %d holds %d of %d trials", number, n, length)
		case i == 0 && number > 1 || i > 0 && number > b.numbers[i-1]+1:
			return fmt.Sprintf("no trial is of block %d", number-1)
		}
		longest = max(longest, n)
	}
	return ""
}

// named lists trials in a sentence, the first few by name.
func named(trials []TrialCounts) string {
	const most = 5
	var names []string
	for _, t := range trials[:min(most, len(trials))] {
		names = append(names, t.Trial)
	}
	if more := len(trials) - len(names); more > 0 {
		return fmt.Sprintf("trials %s and %d more", strings.Join(names, ", "), more)
	}
	if len(names) == 1 {
		return "trial " + names[0]
	}
	return "trials " + strings.Join(names, ", ")
}
