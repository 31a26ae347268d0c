package schedule

import (
	"errors"
	"strconv"
	"testing"
)

// A plan that can hardly be drawn is given up after a known number of places,
// and not after a million shuffles of two thousand: the chance that twenty pairs,
// each a hundred times in one block, come in an order without neighbours alike is
// about e^−99 (2 000 places, of which each has a like neighbour 99 times in
// 1 999).
func TestHardPlansAreGivenUp(t *testing.T) {
	plan := Plan{CurrentsUA: []float64{6}, Trials: 2000, Repeats: 100, MostAlike: 1}
	for i := range 20 {
		plan.Pairs = append(plan.Pairs, "P"+strconv.Itoa(i+1))
	}
	for _, before := range []int{10_000, 50_000, 1_000_000} {
		work := before
		if draw(plan, plan.Block(), newChance(Seed{1}), &work) != nil {
			t.Fatalf("drawn with the work of %d places", before)
		}
		if work < -plan.capacity() {
			t.Errorf("of the work of %d places %d more was done", before, -work)
		}
	}
	if _, err := Draw(plan, Seed{1}); !errors.Is(err, ErrPlan) {
		t.Errorf("the plan came to %v", err)
	}
}

// The largest plans take far less than what is given up at: 100 000 trials and
// as many spare draws, with and without a limit.
func TestLargePlansAreDrawn(t *testing.T) {
	for _, alike := range []int{0, 1, 2} {
		plan := Plan{Pairs: []string{"A", "B", "C", "D"}, CurrentsUA: []float64{6, 9, 12}, Trials: mostTrials, Repeats: 2, MostAlike: alike, Spare: mostTrials}
		work := mostWork
		s := draw(plan, plan.Block(), newChance(Seed{2}), &work)
		if s == nil || len(s.Trials) != mostTrials || len(s.Spare) != mostTrials {
			t.Fatalf("at most %d alike: not drawn", alike)
		}
		if work < mostWork*9/10 {
			t.Errorf("at most %d alike: %d of the work of %d places is left", alike, work, mostWork)
		}
	}
}
