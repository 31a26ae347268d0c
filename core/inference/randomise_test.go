package inference

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric"
	"brinefield/core/numeric/numtest"
)

// schedule reads a one-line form: trials separated by blanks, each
// "active:turns by pair", pairs joined by +, "-" for a silent trial, as in
// "0:3,0,1 -:0,0,2 1+2:0,4,1".
func schedule(t testing.TB, line string) []TrialCounts {
	t.Helper()
	var trials []TrialCounts
	for k, field := range strings.Fields(line) {
		active, turns, ok := strings.Cut(field, ":")
		if !ok {
			t.Fatalf("no colon in %q", field)
		}
		trial := TrialCounts{Trial: fmt.Sprintf("T%03d", k+1)}
		if active != "-" {
			for _, p := range strings.Split(active, "+") {
				trial.Active = append(trial.Active, int(number(t, p)))
			}
		}
		for _, n := range strings.Split(turns, ",") {
			trial.TurnsByPair = append(trial.TurnsByPair, int(number(t, n)))
		}
		trials = append(trials, trial)
	}
	return trials
}

// exhaustive returns the share of equally likely redrawn schedules whose
// statistic is at least the observed, by enumeration.
func exhaustive(trials []TrialCounts, rule DrawRule) (share, expected float64, observed int) {
	law := map[int]float64{0: 1} // of T*, trial by trial or block by block
	add := func(part map[int]float64) {
		next := make(map[int]float64)
		for a, p := range law {
			for b, q := range part {
				next[a+b] += p * q
			}
		}
		law = next
	}
	length := rule.Block
	if length == 0 {
		length = 1
	}
	for start := 0; start < len(trials); start += length {
		var members []TrialCounts
		for _, trial := range trials[start:min(start+length, len(trials))] {
			if len(trial.Active) > 0 {
				members = append(members, trial)
				observed += turnsTo(trial.TurnsByPair, trial.Active)
			}
		}
		part := make(map[int]float64)
		if rule.Block > 0 {
			permutations(len(members), func(order []int, share float64) {
				sum := 0
				for i, j := range order {
					sum += turnsTo(members[i].TurnsByPair, members[j].Active)
				}
				part[sum] += share
			})
		} else if len(members) == 1 {
			subsets(len(members[0].TurnsByPair), len(members[0].Active), func(set []int, share float64) {
				part[turnsTo(members[0].TurnsByPair, set)] += share
			})
		} else {
			part[0] = 1
		}
		add(part)
	}
	for t, p := range law {
		expected += float64(t) * p
		if t >= observed {
			share += p
		}
	}
	return share, expected, observed
}

func permutations(n int, visit func([]int, float64)) {
	total := 1.0
	for k := 2; k <= n; k++ {
		total *= float64(k)
	}
	order := make([]int, 0, n)
	used := make([]bool, n)
	var extend func()
	extend = func() {
		if len(order) == n {
			visit(order, 1/total)
			return
		}
		for k := range n {
			if !used[k] {
				used[k] = true
				order = append(order, k)
				extend()
				order = order[:len(order)-1]
				used[k] = false
			}
		}
	}
	extend()
}

func subsets(n, k int, visit func([]int, float64)) {
	var sets [][]int
	for mask := range 1 << n {
		var set []int
		for p := range n {
			if mask>>p&1 == 1 {
				set = append(set, p)
			}
		}
		if len(set) == k {
			sets = append(sets, set)
		}
	}
	for _, s := range sets {
		visit(s, 1/float64(len(sets)))
	}
}

// The Monte Carlo p must lie within 4.5 standard errors of the exact share of
// schedules, found by enumerating all of them. Source: enumeration.
func TestRandomisationAgainstEnumeration(t *testing.T) {
	for _, c := range []struct {
		name, line string
		rule       DrawRule
	}{
		{"uniform", "0:3,0,1 1:0,2,0 2:1,0,1 0:1,1,0 1:0,3,2", Uniform()},
		{"uniform with silence", "0:3,0,1 -:0,2,0 2:1,0,1 -:9,9,9 1:0,3,2", Uniform()},
		{"uniform, several active", "0+1:3,0,1,0 2:0,2,4,1 1+3:1,0,1,5 0:1,0,0,0", Uniform()},
		{"balanced blocks", "0:3,0,1 1:0,2,0 2:1,0,1 2:1,1,4 0:2,3,2 1:0,1,0", Blocks(3)},
		{"blocks with silence and a short end", "0:3,0,1 -:5,5,5 2:1,0,1 1:1,1,4 0:2,3,2 1:0,1,0 2:1,1,3 0:1,0,2", Blocks(3)},
		{"blocks, several active", "0+1:3,0,1 2:0,2,2 1:1,3,1 0:1,1,0 1+2:0,1,2 0:2,0,0", Blocks(6)},
	} {
		t.Run(c.name, func(t *testing.T) {
			trials := schedule(t, c.line)
			share, expected, observed := exhaustive(trials, c.rule)
			const draws = 40_000
			got, err := RandomisationTest(trials, c.rule, draws, numeric.Stream(3, c.name))
			if err != nil {
				t.Fatal(err)
			}
			if got.Statistic != observed {
				t.Errorf("T = %d, want %d", got.Statistic, observed)
			}
			se := math.Sqrt(share * (1 - share) / draws)
			numtest.Check(t, "p", got.P, share, numtest.Tolerance{Abs: 4.5*se + 1.0/draws})
			numtest.Check(t, "mean of T", got.Expected, expected, numtest.Tolerance{Rel: 0.02})
			numtest.Check(t, "p from its counts", got.P, float64(1+got.AsLarge)/(1+draws), numtest.Tolerance{})
			t.Logf("p %.5f, exact share %.5f", got.P, share)
		})
	}
}

// Source: e_permutation.json (invented data), the sign-flip test over all 4096
// arrangements of 12 individuals. Exchanging active and control within an
// individual is drawing one of two pairs in a trial; turn rates times 360360
// are whole numbers.
func TestRandomisationSignFlip(t *testing.T) {
	var trials []TrialCounts
	for _, r := range readTable(t, "stats/e_permutation.csv") {
		rate := func(turns, passes string) int {
			return int(math.Round(360360 * number(t, r[turns]) / number(t, r[passes])))
		}
		trials = append(trials, TrialCounts{
			Trial: r["individual"], Active: []int{0},
			TurnsByPair: []int{rate("active", "n_active"), rate("control", "n_control")},
		})
	}
	want := readReference(t, "stats/e_permutation.json").number(t, "sign_flip_active_vs_control", "p_greater")
	share, _, _ := exhaustive(trials, Uniform())
	numtest.Check(t, "share by enumeration", share, want, numtest.Tolerance{Rel: 1e-12})
	const draws = 200_000
	got, err := RandomisationTest(trials, Uniform(), draws, numeric.Stream(2, "sign flip"))
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "p", got.P, want, numtest.Tolerance{Abs: 4.5 * math.Sqrt(want*(1-want)/draws)})
}

func TestRandomisationEdges(t *testing.T) {
	stream := func() *rand.Rand { return numeric.Stream(1, "edges") }
	for _, c := range []struct {
		name, line string
		rule       DrawRule
		draws      int
		why        string // of NotEstimable
		fault      string // of a plain error
	}{
		{"no trials", "", Uniform(), 9999, "nothing to redraw", ""},
		{"all silent", "-:1,2 -:0,1", Uniform(), 9999, "nothing to redraw", ""},
		{"one pair", "0:4 0:2", Uniform(), 9999, "could not have drawn", ""},
		{"every pair driven", "0+1:4,1", Uniform(), 9999, "could not have drawn", ""},
		{"blocks of one", "0:4,1 1:1,2", Blocks(1), 9999, "blocks of one trial", ""},
		{"blocks of one pair", "0:4,1 0:1,2 1:0,1 1:3,0", Blocks(2), 9999, "could not have drawn", ""},
		{"blocks with one set in two orders", "0+1:4,1,0 1+0:1,2,0", Blocks(2), 9999, "could not have drawn", ""},
		{"too few draws", "0:4,1", Uniform(), 9998, "", "at least 9999"},
		{"negative block", "0:4,1", Blocks(-2), 9999, "", "block of -2"},
		{"pair out of range", "2:4,1", Uniform(), 9999, "", "drives pair 2"},
		{"pair twice", "1+1:4,1", Uniform(), 9999, "", "names pair 1 twice"},
		{"ragged", "0:4,1 0:4,1,2", Uniform(), 9999, "", "trial T002 counts turns at 3 pairs"},
		{"negative count", "0:4,-1", Uniform(), 9999, "", "-1 turns"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := RandomisationTest(schedule(t, c.line), c.rule, c.draws, stream())
			var not *NotEstimable
			switch {
			case err == nil:
				t.Fatal("no error")
			case c.why != "" && (!errors.As(err, &not) || !strings.Contains(not.Why, c.why)):
				t.Errorf("%v, want not estimable: %s", err, c.why)
			case c.fault != "" && (errors.As(err, &not) || !strings.Contains(err.Error(), c.fault)):
				t.Errorf("%v, want an error with %q", err, c.fault)
			}
		})
	}
	t.Run("no turns", func(t *testing.T) {
		got, err := RandomisationTest(schedule(t, "0:0,0 1:0,0"), Uniform(), 9999, stream())
		if err != nil || got.P != 1 {
			t.Errorf("p = %g, %v; want 1", got.P, err)
		}
	})
	t.Run("the smallest p", func(t *testing.T) {
		line := strings.Repeat("0:5,0,0,0 1:0,5,0,0 ", 20)
		got, err := RandomisationTest(schedule(t, line), Uniform(), 9999, stream())
		if err != nil || got.P != 1e-4 {
			t.Errorf("p = %g, %v; want 1/10000", got.P, err)
		}
	})
}

// Under the uniform rule the order of the trials changes nothing, whatever
// the names.
func TestRandomisationOrderInvariance(t *testing.T) {
	trials := schedule(t, "0:3,0,1 1:0,2,0 2:1,0,1 -:1,1,1 0+1:1,1,0 1:0,3,2")
	trials[2].Trial = trials[1].Trial
	want, err := RandomisationTest(trials, Uniform(), 9999, numeric.Stream(5, "order"))
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		shuffled := rapid.Permutation(trials).Draw(t, "trials")
		got, err := RandomisationTest(shuffled, Uniform(), 9999, numeric.Stream(5, "order"))
		if err != nil || got != want {
			t.Fatalf("%+v (%v), want %+v", got, err, want)
		}
	})
}

// Where turns have nothing to do with the schedule, p ≤ 0.1 comes up about one
// time in ten and no more often: the test keeps its promise.
func TestRandomisationHoldsItsLevel(t *testing.T) {
	for _, rule := range []DrawRule{Uniform(), Blocks(4)} {
		rng := numeric.Stream(9, "level")
		const studies = 300
		small := 0
		for range studies {
			var trials []TrialCounts
			order := []int{0, 1, 2, 3}
			for k := range 24 {
				if k%4 == 0 {
					rng.Shuffle(4, func(i, j int) { order[i], order[j] = order[j], order[i] })
				}
				active := order[k%4]
				if rule.Block == 0 {
					active = rng.IntN(4)
				}
				turns := make([]int, 4)
				for range 12 {
					turns[rng.IntN(4)]++
				}
				trials = append(trials, TrialCounts{Trial: fmt.Sprint(100 + k), Active: []int{active}, TurnsByPair: turns})
			}
			got, err := RandomisationTest(trials, rule, 9999, rng)
			if err != nil {
				t.Fatal(err)
			}
			if got.P <= 0.1 {
				small++
			}
		}
		share := float64(small) / studies
		if share > 0.1+3*math.Sqrt(0.09/studies) || share < 0.03 {
			t.Errorf("rule %+v: p ≤ 0.1 in %.3f of the studies without a preference", rule, share)
		}
		t.Logf("rule %+v: p ≤ 0.1 in %.3f of %d studies", rule, share, studies)
	}
}
