package inference

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric"
	"brinefield/core/numeric/numtest"
)

// inBlocks reads a line as schedule does, with | between blocks and ? for a
// trial of unknown pair.
func inBlocks(t testing.TB, line string) (blocks [][]TrialCounts) {
	t.Helper()
	at := 0
	for _, part := range strings.Split(line, "|") {
		block := schedule(t, strings.ReplaceAll(part, "?:", "-:"))
		for k, field := range strings.Fields(part) {
			block[k].Unknown = strings.HasPrefix(field, "?")
			at++
			block[k].Trial = fmt.Sprintf("T%03d", at)
		}
		blocks = append(blocks, block)
	}
	return blocks
}

// withNumbers numbers blocks and deals their trials out in turn, so that those
// of one block do not stand together.
func withNumbers(blocks [][]TrialCounts, numbers ...int) (trials []TrialCounts) {
	for k, more := 0, true; more; k++ {
		more = false
		for i := len(blocks) - 1; i >= 0; i-- {
			if k < len(blocks[i]) {
				t := blocks[i][k]
				t.Block = numbers[i]
				trials, more = append(trials, t), true
			}
		}
	}
	return trials
}

// enumerateLimited gives the share of redraws with T* ≥ T, and their mean, by
// enumeration: block after block, each order that keeps the limit after the
// trials before equally likely; what comes to a dead end is left out, and the rest
// scaled up for it.
func enumerateLimited(blocks [][]TrialCounts, most int) (share, expected float64) {
	observed, complete := 0, 0.0
	for _, block := range blocks {
		for _, trial := range block {
			observed += turnsTo(trial.TurnsByPair, trial.Active)
		}
	}
	var extend func(i, sum int, weight float64, last string, alike int)
	extend = func(i, sum int, weight float64, last string, alike int) {
		if i == len(blocks) {
			complete += weight
			expected += weight * float64(sum)
			if sum >= observed {
				share += weight
			}
			return
		}
		var members []TrialCounts
		for _, trial := range blocks[i] {
			if len(trial.Active) > 0 {
				members = append(members, trial)
			}
		}
		type end struct {
			sum   int
			last  string
			alike int
		}
		var kept []end
		permutations(len(members), func(order []int, _ float64) {
			e, at := end{sum, last, alike}, 0
			for _, trial := range blocks[i] {
				if trial.Unknown {
					e.last = ""
				}
				if len(trial.Active) == 0 {
					continue
				}
				active := members[order[at]].Active
				at++
				if set := fmt.Sprint(slices.Sorted(slices.Values(active))); set == e.last {
					e.alike++
				} else {
					e.last, e.alike = set, 1
				}
				if e.alike > most {
					return
				}
				e.sum += turnsTo(trial.TurnsByPair, active)
			}
			kept = append(kept, e)
		})
		for _, e := range kept {
			extend(i+1, e.sum, weight/float64(len(kept)), e.last, e.alike)
		}
	}
	extend(0, 0, 1, "", 0)
	return share / complete, expected / complete
}

// As TestRandomisationAgainstEnumeration, for blocks that are stated and for a
// limit on trials alike. Source: enumeration.
func TestBlocksAgainstEnumeration(t *testing.T) {
	const none = 100 // a limit that no schedule here meets
	for _, c := range []struct {
		name, line string
		numbers    []int // nil: counted off
		rule       DrawRule
		most       int
	}{
		{"trials that were never run", "0:3,0,1 2:1,0,1 | 1:0,2,0 | 2:1,1,4 0:2,3,2 1:0,1,0 | 1:1,3,0 0:0,1,2", []int{1, 2, 5, 6}, Blocks(3), none},
		{"more in a block than the rule says", "0:3,0,1 2:1,0,1 1:0,2,0 2:1,1,4 | 0:2,3,2 1:0,1,0", []int{1, 2}, Blocks(3), none},
		{"blocks of one by their number", "0:3,0,1 2:1,0,1 1:0,2,0 | 2:1,1,4 0:2,3,2 1:0,1,0", []int{1, 2}, Blocks(1), none},
		{"none alike", "0:3,0,1 1:0,2,0 2:1,0,1 | 0:1,1,4 1:2,3,2 2:0,1,0", nil, DrawRule{Block: 3, MostAlike: 1}, 1},
		{"two alike, pairs twice", "0:3,0 0:0,2 1:1,0 1:1,4 | 0:2,3 1:0,1 1:1,3 0:2,0", nil, DrawRule{Block: 4, MostAlike: 2}, 2},
		{"dead ends", "0:3,0,1 1:0,2,0 2:1,0,1 | 1:1,1,4 2:2,3,2 0:0,1,0 | 2:1,4,1", nil, DrawRule{Block: 3, MostAlike: 1}, 1},
		{"silent trials end no run", "0:3,0 -:7,7 1:0,2 0:1,0 1:5,2 | -:1,1 1:1,0 0:2,3 -:2,2 1:0,1 0:1,2", []int{3, 4}, DrawRule{Block: 6, MostAlike: 2}, 2},
		{"unknown ones do", "0:3,0 0:0,2 ?:1,0 0:5,2 1:4,1 0:1,0 1:0,6 | 1:2,3 ?:0,0 1:0,1 0:1,2 1:3,1", []int{1, 2}, DrawRule{Block: 7, MostAlike: 2}, 2},
		{"an unknown one between blocks", "0:3,0 1:0,2 1:4,0 ?:1,1 | 1:2,3 1:0,5 0:1,2", []int{1, 2}, DrawRule{Block: 4, MostAlike: 2}, 2},
		{"several active", "0+1:3,0,1 2:0,2,2 0+1:1,3,1 2:1,1,0 | 1+0:0,1,2 2:2,0,0 1:0,4,1", []int{1, 2}, DrawRule{Block: 4, MostAlike: 1}, 1},
		{"a block with one set amid others", "0:3,0 1:0,2 0:4,0 1:0,1 | 0:2,3 | 1:2,3 1:0,5 0:1,2", []int{1, 2, 3}, DrawRule{Block: 4, MostAlike: 2}, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			blocks := inBlocks(t, c.line)
			var trials []TrialCounts
			for _, block := range blocks {
				trials = append(trials, block...)
			}
			if c.numbers != nil {
				trials = withNumbers(blocks, c.numbers...)
			}
			share, expected := enumerateLimited(blocks, c.most)
			const draws = 40_000
			got, err := RandomisationTest(trials, c.rule, draws, numeric.Stream(3, c.name))
			if err != nil {
				t.Fatal(err)
			}
			se := math.Sqrt(share * (1 - share) / draws)
			numtest.Check(t, "p", got.P, share, numtest.Tolerance{Abs: 4.5*se + 1.0/draws})
			numtest.Check(t, "mean of T", got.Expected, expected, numtest.Tolerance{Rel: 0.02})
			t.Logf("p %.5f, exact share %.5f", got.P, share)
		})
	}
}

// Trials without a number, where others have one, keep their pairs: the redraw
// of the others alone, with the turns of those added to T and to each T*.
func TestTrialsWithoutABlockAreNotRedrawn(t *testing.T) {
	for _, rule := range []DrawRule{Blocks(3), {Block: 3, MostAlike: 1}} {
		inside := withNumbers(inBlocks(t, "0:3,0,1 1:0,2,0 2:1,0,1 | 0:1,1,4 1:2,3,2 2:0,1,0"), 1, 2)
		all := append(schedule(t, "1:0,7,2"), inside...)
		all = append(all, schedule(t, "-:1,2,3 1:0,2,0")...)
		want, err := RandomisationTest(inside, rule, 9999, numeric.Stream(4, "loose"))
		if err != nil {
			t.Fatal(err)
		}
		got, err := RandomisationTest(all, rule, 9999, numeric.Stream(4, "loose"))
		if err != nil {
			t.Fatal(err)
		}
		want.Statistic += 9
		want.Expected += 9
		numtest.Check(t, "mean of T", got.Expected, want.Expected, numtest.Tolerance{Rel: 1e-12})
		if got.Expected = want.Expected; got != want || got.Redrawn != 6 {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
}

// Blocks that are counted off are the same as their numbers, to the bit.
func TestNumbersOfWholeBlocksChangeNothing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		rule := DrawRule{Block: rapid.IntRange(2, 5).Draw(rt, "block"), MostAlike: rapid.IntRange(0, 3).Draw(rt, "most alike")}
		var trials []TrialCounts
		for k := range rapid.IntRange(1, 14).Draw(rt, "trials") {
			trial := TrialCounts{Trial: fmt.Sprint(k), TurnsByPair: []int{k % 3, 2, k % 5}}
			if p := rapid.IntRange(-1, 2).Draw(rt, "pair"); p >= 0 {
				trial.Active = []int{p}
			}
			trials = append(trials, trial)
		}
		want, wantErr := RandomisationTest(trials, rule, MinimumDraws, numeric.Stream(6, "numbers"))
		for k := range trials {
			trials[k].Block = 10 + k/rule.Block
		}
		got, err := RandomisationTest(trials, rule, MinimumDraws, numeric.Stream(6, "numbers"))
		if got != want || fmt.Sprint(err) != fmt.Sprint(wantErr) {
			rt.Fatalf("%+v (%v), want %+v (%v)", got, err, want, wantErr)
		}
	})
}

func TestBlockEdges(t *testing.T) {
	for _, c := range []struct {
		name, line string
		rule       DrawRule
		why        string // of NotEstimable
		fault      string // of a plain error
	}{
		{"a negative limit", "0:4,1 1:1,2", DrawRule{Block: 2, MostAlike: -1}, "", "at most -1"},
		{"a limit without blocks", "0:4,1 1:1,2", DrawRule{MostAlike: 2}, "", "goes with blocks"},
		{"a limit that one order keeps", "0:4,1 1:1,2 0:2,1", DrawRule{Block: 3, MostAlike: 1}, "with at most 1 trials alike", ""},
	} {
		_, err := RandomisationTest(schedule(t, c.line), c.rule, 9999, numeric.Stream(1, "edges"))
		var not *NotEstimable
		if c.why != "" && (!errors.As(err, &not) || !strings.Contains(not.Why, c.why)) || c.fault != "" && (err == nil || errors.As(err, &not) || !strings.Contains(err.Error(), c.fault)) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	trials := schedule(t, "0:4,1 1:1,2")
	trials[1].Block = -3
	if _, err := RandomisationTest(trials, Blocks(2), 9999, numeric.Stream(1, "edges")); err == nil || !strings.Contains(err.Error(), "trial T002 is in block -3") {
		t.Errorf("a negative block: %v", err)
	}
	trials = schedule(t, "0:4,1 1:1,2")
	trials[0].Block, trials[1].Block = 1, 2
	if _, err := RandomisationTest(trials, Blocks(2), 9999, numeric.Stream(1, "edges")); err == nil || !strings.Contains(err.Error(), "could not have drawn") {
		t.Errorf("one trial of each block: %v", err)
	}
}

// Pairs that take turns sixty times are one order of 10¹⁷: it is not waited for.
func TestALimitThatIsTooRare(t *testing.T) {
	trials := schedule(t, strings.Repeat("0:4,1 1:1,2 ", 30))
	l := newLimited(newBlocks(trials, Blocks(60)), 1, numeric.Stream(1, "rare"))
	l.left = 300_000
	_, err := limitedTest(RandomisationResult{Draws: 9999}, l)
	var not *NotEstimable
	if !errors.As(err, &not) || !strings.Contains(not.Why, "too rare") || l.left > 0 {
		t.Errorf("%v, %d left", err, l.left)
	}
}

// A schedule that breaks the limit was not drawn with it, or not all of it was
// run: the redraw is the one without.
func TestABrokenLimitIsLeftOut(t *testing.T) {
	trials := withNumbers(inBlocks(t, "0:3,0 0:0,2 1:1,0 1:1,4 | 1:2,3 0:0,1 1:1,3 0:2,0"), 1, 2)
	want, err := RandomisationTest(trials, Blocks(4), 9999, numeric.Stream(7, "broken"))
	if err != nil {
		t.Fatal(err)
	}
	rule := DrawRule{Block: 4, MostAlike: 2}
	got, err := RandomisationTest(trials, rule, 9999, numeric.Stream(7, "broken"))
	if err != nil || got != want {
		t.Errorf("%+v (%v), want %+v", got, err, want)
	}
	if w := rule.Warnings(trials); len(w) != 1 || !strings.Contains(w[0], "trial T005 is one more than 2 alike") {
		t.Errorf("%q", w)
	}
}

func TestWarningsOfARule(t *testing.T) {
	whole := "0:3,0 1:0,2 0:1,0 1:1,4 | 1:2,3 0:0,1 1:1,3 0:2,0"
	limit := DrawRule{Block: 4, MostAlike: 2}
	for _, c := range []struct {
		name    string
		line    string
		numbers []int // nil: none
		loose   string
		rule    DrawRule
		want    []string // parts, one a warning
	}{
		{"as it was drawn", whole, []int{1, 2}, "", limit, nil},
		{"counted off", whole, nil, "", limit, nil},
		{"uniform", whole, []int{1, 9}, "1:0,0", Uniform(), nil},
		{"never run, no limit", "0:3,0 1:0,2 | 1:2,3", []int{2, 4}, "", Blocks(4), nil},
		{"two without a number", whole, []int{1, 2}, "1:0,0 0:0,0 -:0,0", limit, []string{"keeps the active pairs of trials T001, T002: other trials"}},
		{"many without a number", whole, []int{1, 2}, strings.Repeat("1:0,0 ", 9), limit, []string{"trials T001, T002, T003, T004, T005 and 4 more:"}},
		{"too many in a block", whole, []int{1, 1}, "", Blocks(4), []string{"block 1 holds 8 trials, and the schedule's rule says 4"}},
		{"a short block and a limit", "0:3,0 1:0,2 0:1,0 | 1:2,3 0:0,1 1:1,3 0:2,0", []int{1, 2}, "", limit, []string{"block 1 holds 3 of 4 trials"}},
		{"a block that was not run, and a limit", whole, []int{1, 3}, "", limit, []string{"no trial is of block 2"}},
		{"the first was not run, and a limit", whole, []int{2, 3}, "", limit, []string{"no trial is of block 1"}},
		{"a pair that is not known, no limit", "0:3,0 ?:0,0 1:0,2 0:1,0", []int{1}, "", Blocks(4), nil},
		{"a pair that is not known, and a limit", "0:3,0 ?:0,0 1:0,2 0:1,0", []int{1}, "", limit, []string{"which pair was active in trial T002 is not known"}},
		{"neither pair nor block is known, no limit", whole, []int{1, 2}, "?:0,0", Blocks(4), nil},
		{"neither pair nor block is known, and a limit", whole, []int{1, 2}, "?:0,0", limit, []string{"neither the pair nor the block of trial T001 is known"}},
	} {
		blocks := inBlocks(t, c.line)
		var trials []TrialCounts
		if c.numbers != nil {
			trials = withNumbers(blocks, c.numbers...)
		} else {
			for _, block := range blocks {
				trials = append(trials, block...)
			}
		}
		trials = append(trials, inBlocks(t, c.loose)[0]...)
		got := c.rule.Warnings(trials)
		if len(got) != len(c.want) {
			t.Errorf("%s: %q", c.name, got)
			continue
		}
		for i := range got {
			if !strings.Contains(got[i], c.want[i]) {
				t.Errorf("%s: %q, want %q", c.name, got[i], c.want[i])
			}
		}
	}
}
