package schedule

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The output of ChaCha8 for this seed as published with its specification
// (c2sp.org/chacha8rand, sample output; the same in the tests of Go's own library).
func TestChanceIsThePublishedOne(t *testing.T) {
	words := rand.NewChaCha8([32]byte([]byte("ABCDEFGHIJKLMNOPQRSTUVWXYZ123456")))
	for i, want := range []uint64{0xb773b6063d4616a5, 0x1160af22a66abc3c, 0x8c2599d9418d287c, 0x7ee07e037edc5cd6} {
		if got := words.Uint64(); got != want {
			t.Errorf("word %d is %#x, published %#x", i, got, want)
		}
	}
}

// Every order of four comes equally often: 24 orders, 48 000 shuffles; χ² with 23
// degrees of freedom stays below 49.7 in 999 of 1 000 (tables of χ²).
func TestShuffleFavoursNoOrder(t *testing.T) {
	c := newChance(Seed{1})
	counts := map[[4]int]int{}
	for range 48_000 {
		list := [4]int{0, 1, 2, 3}
		shuffle(c, list[:])
		counts[list]++
	}
	sum := 0.0
	for _, n := range counts {
		sum += math.Pow(float64(n)-2000, 2) / 2000
	}
	if len(counts) != 24 || sum > 49.7 {
		t.Errorf("%d orders, χ² = %.1f", len(counts), sum)
	}
}

// A schedule that was drawn once is drawn again for ever: fixed by the
// published output of ChaCha8 and by this package's own shuffle. A change of
// these lines means that old seeds no longer give old schedules.
func TestTheSameSeedForEver(t *testing.T) {
	s, err := Draw(Plan{Pairs: []string{"A", "B", "C", "D"}, CurrentsUA: []float64{6, 9, 12}, Trials: 8}, Seed([]byte("ABCDEFGHIJKLMNOPQRSTUVWXYZ123456")))
	if err != nil {
		t.Fatal(err)
	}
	got := ""
	for i := range s.Trials {
		got += string(s.Trials[i].Text()) + "\n"
	}
	if got != foreverText {
		t.Errorf("drawn:\n%s", got)
	}
}

// A plan's draw holds what it promises, whatever the plan.
func TestDrawsKeepTheirPlan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plan := drawPlan(t)
		s, err := Draw(plan, Seed{byte(rapid.IntRange(0, 255).Draw(t, "seed"))})
		if errors.Is(err, ErrPlan) && plan.MostAlike > 0 {
			return // two pairs that must take turns, and one that stays away
		}
		if err != nil {
			t.Fatal(err)
		}
		kinds, odourOff := map[string]int{}, 0
		for i := range s.Trials {
			kinds[s.Trials[i].Kind]++
			if s.Trials[i].OdourOff {
				odourOff++
				if s.Trials[i].Kind != Active {
					t.Errorf("trial %s drives nothing and is without odour", s.Trials[i].ID)
				}
			}
		}
		if len(s.Trials) != plan.Trials || len(s.Spare) != plan.Spare || kinds[Silent] != plan.Silent || kinds[Sham] != plan.Sham || odourOff != plan.OdourOff {
			t.Errorf("%+v gave %d trials, %d spare, %v, %d without odour", plan, len(s.Trials), len(s.Spare), kinds, odourOff)
		}
		b := s.Balance(0)
		if plan.MostAlike > 0 && b.LongestRun > plan.MostAlike {
			t.Errorf("%d alike in a row, at most %d were wanted", b.LongestRun, plan.MostAlike)
		}
		low, high := math.MaxInt, 0
		for p := range plan.Pairs {
			all, least, most := 0, math.MaxInt, 0
			for _, n := range b.PairCurrent[p] {
				all, least, most = all+n, min(least, n), max(most, n)
			}
			if most-least > 1 {
				t.Errorf("pair %s has currents %v", plan.Pairs[p], b.PairCurrent[p])
			}
			low, high = min(low, all), max(high, all)
		}
		if high-low > plan.repeats()+1 {
			t.Errorf("%+v: pairs are driven %d to %d times", plan, low, high)
		}
		if b.ChanceWithBlocks < b.Chance-1e-12 || b.ChanceWithBlocks > 1 {
			t.Errorf("best guess hits %g, a blind one %g", b.ChanceWithBlocks, b.Chance)
		}
		for from := 0; from < len(s.Trials); from += s.Block {
			n := map[string]int{}
			for i := from; i < min(from+s.Block, len(s.Trials)); i++ {
				if s.Trials[i].Kind == Active {
					if n[s.Trials[i].Pair]++; n[s.Trials[i].Pair] > plan.repeats() {
						t.Errorf("the block from %s holds %s too often", s.Trials[from].ID, s.Trials[i].Pair)
					}
				}
			}
		}
	})
}

func drawPlan(t *rapid.T) Plan {
	plan := Plan{
		Pairs: []string{"A", "B", "C", "D", "E"}[:rapid.IntRange(2, 5).Draw(t, "pairs")], CurrentsUA: []float64{6, 9, 12}[:rapid.IntRange(1, 3).Draw(t, "currents")],
		Trials: rapid.IntRange(1, 60).Draw(t, "trials"), Repeats: rapid.IntRange(0, 3).Draw(t, "repeats"), DrawPolarity: rapid.Bool().Draw(t, "polarity"),
		MostAlike: rapid.IntRange(0, 3).Draw(t, "alike"), Spare: rapid.IntRange(0, 9).Draw(t, "spare"),
	}
	plan.Silent = rapid.IntRange(0, plan.Trials-1).Draw(t, "silent")
	plan.Sham = rapid.IntRange(0, plan.Trials-1-plan.Silent).Draw(t, "sham")
	plan.OdourOff = rapid.IntRange(0, plan.driven()).Draw(t, "odour off")
	return plan
}

// Each of the four pairs is as likely as the others in every one of the first
// eight trials: 20 000 schedules, χ² with 3 degrees of freedom stays below 16.3 in
// 999 of 1 000, below 24 with eight looks.
func TestNoTrialFavoursAPair(t *testing.T) {
	plan := Plan{Pairs: []string{"A", "B", "C", "D"}, CurrentsUA: []float64{6}, Trials: 10, Silent: 2, MostAlike: 1}
	var counts [10]map[string]int
	for i := range counts {
		counts[i] = map[string]int{}
	}
	for n := range 20_000 {
		s, err := Draw(plan, Seed{byte(n), byte(n >> 8), 7})
		if err != nil {
			t.Fatal(err)
		}
		for i := range s.Trials {
			counts[i][s.Trials[i].Pair]++
		}
	}
	for i, c := range counts {
		driven := float64(20_000 - c[""])
		sum := 0.0
		for _, pair := range plan.Pairs {
			sum += math.Pow(float64(c[pair])-driven/4, 2) / (driven / 4)
		}
		if sum > 24 {
			t.Errorf("trial %d: %v, χ² = %.1f", i+1, c, sum)
		}
	}
}

func TestPlansThatCannotBe(t *testing.T) {
	good := Plan{Pairs: []string{"A", "B"}, CurrentsUA: []float64{6}, Trials: 10}
	for _, c := range []struct {
		name   string
		change func(*Plan)
	}{
		{"one pair", func(p *Plan) { p.Pairs = p.Pairs[:1] }},
		{"a pair twice", func(p *Plan) { p.Pairs = []string{"A", "A"} }},
		{"a label with a plus", func(p *Plan) { p.Pairs = []string{"A", "B+C"} }},
		{"none as a label", func(p *Plan) { p.Pairs = []string{"A", "none"} }},
		{"no current", func(p *Plan) { p.CurrentsUA = nil }},
		{"a negative current", func(p *Plan) { p.CurrentsUA = []float64{-6} }},
		{"no number", func(p *Plan) { p.CurrentsUA = []float64{math.NaN()} }},
		{"a current twice", func(p *Plan) { p.CurrentsUA = []float64{6, 6} }},
		{"no trials", func(p *Plan) { p.Trials = 0 }},
		{"all silent", func(p *Plan) { p.Silent = 10 }},
		{"too many without odour", func(p *Plan) { p.OdourOff = 11 }},
		{"negative spare", func(p *Plan) { p.Spare = -1 }},
		{"a limit that one of two pairs that stays away breaks", func(p *Plan) { p.MostAlike, p.Repeats, p.Silent = 1, 100, 0; p.Trials = 150 }},
	} {
		plan := good
		c.change(&plan)
		if _, err := Draw(plan, Seed{}); !errors.Is(err, ErrPlan) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// Roots of the trees over the first n of eight leaves as the tests of
// certificate transparency publish them (RFC 6962's tree, which RFC 9162 keeps;
// from memory, and the root of none is the SHA-256 of nothing).
func TestMerkleRootsArePublishedOnes(t *testing.T) {
	var all [][]byte
	for _, text := range []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"} {
		leaf, err := hex.DecodeString(text)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, leaf)
	}
	for n, want := range map[int]string{
		0: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
		1: "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
		2: "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
		3: "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
		4: "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		5: "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
		6: "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
		7: "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
		8: "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
	} {
		if got := merkleRoot(all[:n]).String(); got != want {
			t.Errorf("root of %d leaves is %s, published %s", n, got, want)
		}
	}
}

// The seal moves with the plan, with every commitment and with what is encrypted
// beside it.
func TestTheSealHoldsAll(t *testing.T) {
	plan := Plan{Pairs: []string{"A", "B", "C"}, CurrentsUA: []float64{6, 9}, Trials: 20, Silent: 2, Sham: 1, OdourOff: 2, DrawPolarity: true, Spare: 5}
	seed := Seed(sha256.Sum256([]byte("an invented seed")))
	s, err := Draw(plan, seed)
	if err != nil {
		t.Fatal(err)
	}
	commitments := s.Commitments(seed)
	seals := map[Hash]bool{Seal(plan, commitments): true}
	for i := range commitments {
		changed := slices.Clone(commitments)
		changed[i] = Leaf(commitments[i], "what an invented key opens")
		seals[Seal(plan, changed)] = true
		other := *s.all()[i]
		other.CurrentUA++
		changed[i] = Commitment(&other, s.Nonces(seed)[i])
		seals[Seal(plan, changed)] = true
	}
	other := plan
	other.MostAlike = 9
	seals[Seal(other, commitments)] = true
	if want := 2 + 2*len(commitments); len(commitments) != 25 || len(seals) != want {
		t.Errorf("%d different seals of %d commitments, want %d", len(seals), len(commitments), want)
	}
}

// Two draws of one plan that differ in nothing but the seed share no
// commitment, and nothing of a commitment is that of a text alone.
func TestCommitmentsAreSalted(t *testing.T) {
	plan := Plan{Pairs: []string{"A", "B"}, CurrentsUA: []float64{6}, Trials: 30}
	seen := map[string]bool{}
	for n := range 20 {
		s, err := Draw(plan, Seed{byte(n)})
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range s.Commitments(Seed{byte(n)}) {
			plain := sha256.Sum256(s.Trials[i].Text())
			if seen[string(c)] || reflect.DeepEqual(c, plain[:]) {
				t.Fatalf("commitment %d of seed %d comes twice or is bare", i, n)
			}
			seen[string(c)] = true
		}
	}
}

const foreverText = `{"trial":"T001","kind":"active","active_pair":"D","current_uA":6,"odour":true}
{"trial":"T002","kind":"active","active_pair":"A","current_uA":12,"odour":true}
{"trial":"T003","kind":"active","active_pair":"C","current_uA":12,"odour":true}
{"trial":"T004","kind":"active","active_pair":"B","current_uA":12,"odour":true}
{"trial":"T005","kind":"active","active_pair":"C","current_uA":6,"odour":true}
{"trial":"T006","kind":"active","active_pair":"A","current_uA":6,"odour":true}
{"trial":"T007","kind":"active","active_pair":"D","current_uA":9,"odour":true}
{"trial":"T008","kind":"active","active_pair":"B","current_uA":9,"odour":true}
`
