package schedule

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The vector that docs/formats/seal.md publishes. It was worked out by a second
// implementation in another language, of chacha8rand (c2sp.org/chacha8rand; it
// gave the sample output of the specification) and of HMAC-SHA-256. A change of
// it means that old boxes are wired wrong.
func TestTheSameWiringForEver(t *testing.T) {
	seed := Seed([]byte("ABCDEFGHIJKLMNOPQRSTUVWXYZ123456"))
	for _, c := range []struct {
		sham int
		want []string
	}{{0, []string{"B", "A", "D", "C"}}, {1, []string{"D", "B", "A", "", "C"}}, {3, []string{"D", "B", "A", "", "C"}}} {
		s, err := Draw(Plan{Pairs: []string{"A", "B", "C", "D"}, CurrentsUA: []float64{6, 9, 12}, Trials: 8, Sham: c.sham}, seed)
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Wiring(seed); !slices.Equal(got, c.want) {
			t.Errorf("%d shams: wired %q, published %q", c.sham, got, c.want)
		}
	}
}

// Every pair is wired once, and one position to nothing where there are shams;
// the plan stays as it was.
func TestEveryPairIsWiredOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plan := drawPlan(t)
		seed := Seed(rapid.SliceOfN(rapid.Byte(), SeedSize, SeedSize).Draw(t, "seed"))
		s, err := Draw(plan, seed)
		if errors.Is(err, ErrPlan) && plan.MostAlike > 0 {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		before := slices.Clone(s.Plan.Pairs)
		got := s.Wiring(seed)
		if !slices.Equal(got, s.Wiring(seed)) || !slices.Equal(before, s.Plan.Pairs) {
			t.Error("wired twice, it came out another way, or changed the plan")
		}
		want := slices.Clone(plan.Pairs)
		if plan.Sham > 0 {
			want = append(want, "")
		}
		slices.Sort(want)
		slices.Sort(got)
		if !slices.Equal(got, want) {
			t.Errorf("wired %q of %q", got, want)
		}
	})
}

// Every order of three pairs and an empty position comes equally often (24 of
// them), and the position of pair A tells nothing of the pair of the first
// trial (4 × 3 cells). 24 000 seeds. In 999 of 1 000 χ² stays below 49.728 with 23
// degrees of freedom and below 22.458 with 6.
//
// Source of the quantiles: NIST/SEMATECH e-Handbook of Statistical Methods, table
// 1.3.6.7.4, upper tail 0.001 (from memory).
func TestWiringFavoursNoOrder(t *testing.T) {
	const seeds, wide, narrow = 24_000, 49.728, 22.458
	plan := Plan{Pairs: []string{"A", "B", "C"}, CurrentsUA: []float64{6}, Trials: 4, Sham: 1}
	orders := map[[4]string]int{}
	var cells [4][3]float64
	for n := range seeds {
		seed := Seed{byte(n), byte(n >> 8), 0x5c}
		s, err := Draw(plan, seed)
		if err != nil {
			t.Fatal(err)
		}
		wires := s.Wiring(seed)
		orders[[4]string(wires)]++
		first := slices.IndexFunc(s.Trials, func(t Trial) bool { return t.Kind == Active })
		cells[slices.Index(wires, "A")][slices.Index(plan.Pairs, s.Trials[first].Pair)]++
	}
	sum := 0.0
	for _, n := range orders {
		sum += math.Pow(float64(n)-seeds/24.0, 2) / (seeds / 24.0)
	}
	if len(orders) != 24 || sum > wide {
		t.Errorf("%d orders, χ² = %.1f", len(orders), sum)
	}
	var rows [4]float64
	var columns [3]float64
	for i := range cells {
		for j, n := range cells[i] {
			rows[i] += n
			columns[j] += n
		}
	}
	sum = 0
	for i := range cells {
		for j, n := range cells[i] {
			want := rows[i] * columns[j] / seeds
			sum += math.Pow(n-want, 2) / want
		}
	}
	if sum > narrow {
		t.Errorf("position of A by the pair of the first driven trial: %v, χ² = %.1f", cells, sum)
	}
}

// The numbers of blocks are those of the draw: they begin with 1, grow by one,
// and every block holds what the draw puts into one: no pair more often than
// Repeats, and each as often in a block that is full of driven trials. Spare
// draws never share a block with trials.
func TestBlocksAreThoseOfTheDraw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plan := drawPlan(t)
		plan.Spare = rapid.IntRange(0, 60).Draw(t, "more spare")
		s, err := Draw(plan, Seed{byte(rapid.IntRange(0, 255).Draw(t, "seed"))})
		if errors.Is(err, ErrPlan) && plan.MostAlike > 0 {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		all := s.all()
		last := 0
		pairs, length, spare := map[int]map[string]int{}, map[int]int{}, map[int]bool{}
		for i, trial := range all {
			b := s.BlockOf(i)
			if b != last && b != last+1 {
				t.Fatalf("block %d follows block %d at trial %s", b, last, trial.ID)
			}
			last = b
			if i < len(s.Trials) {
				if want := i/s.Block + 1; b != want {
					t.Errorf("trial %s is in block %d, want %d", trial.ID, b, want)
				}
			} else {
				spare[b] = true
			}
			if pairs[b] == nil {
				pairs[b] = map[string]int{}
			}
			length[b]++
			if trial.Kind == Active {
				pairs[b][trial.Pair]++
			}
		}
		for b, count := range pairs {
			driven := 0
			for pair, n := range count {
				driven += n
				if n > plan.repeats() {
					t.Errorf("block %d holds %s %d times, repeats are %d", b, pair, n, plan.repeats())
				}
			}
			if driven == plan.capacity() && len(count) != len(plan.Pairs) {
				t.Errorf("block %d is full and holds %v", b, count)
			}
			switch {
			case !spare[b] && length[b] != s.Block && b != (plan.Trials-1)/s.Block+1:
				t.Errorf("block %d of %d trials, the rule says %d", b, length[b], s.Block)
			case spare[b] && length[b] != plan.capacity() && b != last:
				t.Errorf("block %d of %d spare draws, a block holds %d", b, length[b], plan.capacity())
			case spare[b] && driven != length[b]:
				t.Errorf("block %d of spare draws holds trials, or one that drives nothing", b)
			}
		}
		want := (plan.Trials+s.Block-1)/s.Block + (plan.Spare+plan.capacity()-1)/plan.capacity()
		if last != want {
			t.Errorf("%d blocks, the draw made %d", last, want)
		}
		for _, i := range []int{-1, len(all), math.MaxInt} {
			if b := s.BlockOf(i); b != 0 {
				t.Errorf("trial %d, which is not there, is in block %d", i, b)
			}
		}
	})
}
