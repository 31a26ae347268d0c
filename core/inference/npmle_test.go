package inference

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"brinefield/core/numeric/numtest"

	"pgregory.net/rapid"
)

// Masses, places and log-likelihood of published interval-censored data.
// Source: npmle_exact of testdata/check/stats (EM, iterative convex minorant
// and Newton in R, optimality proved to 1e-10); for breast cosmesis also the
// values printed in J Stat Softw 36(2), 2010.
func TestNPMLEPublishedData(t *testing.T) {
	cases := []struct {
		name, file, column, value string
		reference                 []string
	}{
		{"cosmesis, radiotherapy", "stats/d_bcdeter.csv", "group", "1", []string{"group_1", "npmle_exact"}},
		{"cosmesis, with chemotherapy", "stats/d_bcdeter.csv", "group", "2", []string{"group_2", "npmle_exact"}},
		{"salinity", "stats/d_salinity.csv", "group", "1", []string{"group_1", "npmle_exact"}},
		{"smoked fish", "stats/d_smokedfish.csv", "group", "1", []string{"group_1", "npmle_exact"}},
		{"kidney, exact and right-censored", "stats/d_kidney_km.csv", "group", "1", []string{"group_1", "npmle_exact"}},
		{"tiny, by hand", "stats/d_tiny.csv", "group", "1", []string{"group_1", "npmle_exact"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			rows := readCensored(t, c.file, "", ofValue(c.column, c.value))
			want := readReference(t, c.file[:len(c.file)-4]+".json").at(t, c.reference...)
			checkSteps(t, rows, want)
		})
	}
}

func TestNPMLEProjectShape(t *testing.T) {
	p1 := readReference(t, "stats/p1_two_species.json")
	checkSteps(t, readPasses(t, "stats/p1_two_species.csv", nil), p1.at(t, "turnbull_all"))
	for _, species := range []string{"sp_A", "sp_B"} {
		rows := readPasses(t, "stats/p1_two_species.csv", ofValue("species", species))
		checkSteps(t, rows, p1.at(t, "turnbull_by_species", species))
	}
	checkSteps(t, readPasses(t, "stats/p2_small.csv", nil), readReference(t, "stats/p2_small.json").at(t, "turnbull_all"))
}

func checkSteps(t *testing.T, rows []Interval, want reference) {
	t.Helper()
	got, err := NPMLE(rows)
	if err != nil {
		t.Fatal(err)
	}
	low, high := want.extended(t, "left"), want.extended(t, "right")
	mass := want.numbers(t, "prob")
	if len(got.Support) != len(mass) {
		t.Fatalf("%d steps, want %d: %v", len(got.Support), len(mass), got.Support)
	}
	for k, step := range got.Support {
		numtest.Check(t, "low", step.Low, low[k], numtest.Tolerance{})
		numtest.Check(t, "high", step.High, high[k], numtest.Tolerance{})
		numtest.Check(t, "mass", step.Mass, mass[k], numtest.Tolerance{Rel: 1e-6, Abs: 1e-8})
	}
	numtest.Check(t, "log-likelihood", got.LogLikelihood, want.number(t, "logLik"), numtest.Tolerance{Rel: 1e-10})
	if got.Gap > 1e-10 {
		t.Errorf("gap %g, want below 1e-10", got.Gap)
	}
}

// The survivor function of the tiny set is exactly 1/2 after (1, 2]: by the
// contract the median lies between the end of that step and the start of the
// next, the point 3.
func TestMedianOfSteps(t *testing.T) {
	inf := math.Inf(1)
	cases := []struct {
		name    string
		support []Mass
		want    Span
		median  float64
		why     string // part of the reason, where there is no median
	}{
		{"inside a step", []Mass{{1, 2, 0.4}, {3, 12, 0.2}, {20, inf, 0.4}}, Span{3, 12}, 6, ""},
		{"exactly half", []Mass{{1, 2, 0.2}, {2, 3, 0.3}, {12, 13, 0.5}}, Span{3, 12}, 6, ""},
		{"half but for rounding", []Mass{{1, 2, 0.2}, {2, 3, 0.3 + 1e-12}, {12, 13, 0.5 - 1e-12}}, Span{3, 12}, 6, ""},
		{"from zero", []Mass{{0, 7, 0.9}, {8, 9, 0.1}}, Span{0, 7}, 7, ""},
		{"at a point", []Mass{{4, 4, 0.6}, {8, 9, 0.4}}, Span{4, 4}, 4, ""},
		{"unbounded", []Mass{{4, 5, 0.4}, {9, inf, 0.6}}, Span{}, 0, "above 9"},
	}
	for _, c := range cases {
		span, err := medianOfSteps(c.support)
		if c.why != "" {
			checkNotEstimable(t, c.name, err, c.why)
			continue
		}
		if err != nil || span != c.want {
			t.Errorf("%s: %v, %v; want %v", c.name, span, err, c.want)
			continue
		}
		numtest.Check(t, c.name, geometricMiddle(span), c.median, numtest.Tolerance{Rel: 1e-15})
	}
	tiny, err := NPMLE(readCensored(t, "stats/d_tiny.csv", "", nil))
	if err != nil || tiny.MedianInterval != (Span{2, 3}) {
		t.Errorf("tiny set: median in %v, %v; want 2 to 3", tiny.MedianInterval, err)
	}
}

// drawIntervals draws a table of every kind of row from a small set of values,
// so that ends coincide often.
func drawIntervals(t *rapid.T) []Interval {
	n := rapid.IntRange(1, 40).Draw(t, "n")
	rows := make([]Interval, n)
	for i := range rows {
		low := float64(rapid.IntRange(0, 12).Draw(t, "low"))
		r := Interval{Cluster: rapid.StringMatching(`[a-f]`).Draw(t, "cluster"), Identified: true, Low: low}
		switch rapid.IntRange(0, 5).Draw(t, "kind") {
		case 0:
			r.Low, r.High, r.Exact = low+1, low+1, true
		case 1:
			r.High = math.Inf(1)
		default:
			r.High = low + float64(rapid.IntRange(1, 6).Draw(t, "width"))
		}
		rows[i] = r
	}
	return rows
}

// Optimality, from scratch: for every value the slope of the log-likelihood
// towards mass there is at most n, whatever the solver believed.
func TestNPMLEIsAMaximum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := drawIntervals(t)
		got, err := NPMLE(rows)
		if err != nil {
			t.Fatal(err)
		}
		total := 0.0
		for _, s := range got.Support {
			total += s.Mass
		}
		if math.Abs(total-1) > 1e-12 {
			t.Fatalf("masses sum to %g", total)
		}
		for twice := 1; twice <= 40; twice++ { // 0.5, 1, 1.5 …: points and open gaps
			x := float64(twice) / 2
			slope := 0.0
			for _, r := range rows {
				if holds(r, x) {
					slope += 1 / probabilityOf(r, got.Support)
				}
			}
			if slope > float64(len(rows))*(1+1e-8) {
				t.Fatalf("mass at %g would help: slope %g for %d rows", x, slope, len(rows))
			}
		}
	})
}

func holds(r Interval, x float64) bool {
	return r.Exact && x == r.Low || !r.Exact && r.Low < x && x <= r.High
}

func probabilityOf(r Interval, support []Mass) float64 {
	p := 0.0
	for _, s := range support {
		inside := r.Low <= s.Low && s.High <= r.High
		if s.Low == s.High && s.Low == r.Low && !r.Exact {
			inside = false // the point is not in (low, high]
		}
		if r.Exact && s.Low != s.High {
			inside = false
		}
		if inside {
			p += s.Mass
		}
	}
	return p
}

func TestNPMLEIgnoresRowOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := drawIntervals(t)
		shuffled := slices.Clone(rows)
		rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)).Shuffle(len(rows), func(i, j int) {
			shuffled[i], shuffled[j] = shuffled[j], shuffled[i]
		})
		a, errA := NPMLE(rows)
		b, errB := NPMLE(shuffled)
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		if !slices.Equal(a.Support, b.Support) || a.LogLikelihood != b.LogLikelihood {
			t.Fatalf("other bits after a shuffle:\n%v\n%v", a, b)
		}
	})
}

// A long season: thousands of places, and a second table with thousands of
// steps, which takes the conjugate gradients.
func TestNPMLELongTables(t *testing.T) {
	truth := plainTruth
	truth.active = 1
	rows := inventIntervals(inventPasses(truth, 12_000, 100, 3))
	mixed := slices.Clone(rows)
	for i := range mixed {
		if i%2 == 0 && !math.IsInf(mixed[i].High, 1) {
			mixed[i].Low, mixed[i].Exact = mixed[i].High, true
		}
	}
	for name, table := range map[string][]Interval{"intervals": rows, "half exact": mixed} {
		got, err := NPMLE(table)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if got.Gap > 1e-10 {
			t.Errorf("%s: gap %g", name, got.Gap)
		}
		total := 0.0
		for _, s := range got.Support {
			total += s.Mass
		}
		numtest.Check(t, name+": masses", total, 1, numtest.Tolerance{Abs: 1e-12})
		// The truth, a lognormal with 12 % that never answer, has its median here.
		numtest.Check(t, name+": median", math.Log(got.Median), truth.mu+truth.sigma*0.1734, numtest.Tolerance{Abs: 0.1})
		if name == "half exact" && len(got.Support) <= densest {
			t.Errorf("%d steps do not need the conjugate gradients", len(got.Support))
		}
	}
}

// Both ways to solve the network agree, also where a part of it floats.
func TestNetworkSolversAgree(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	for range 50 {
		size := 2 + random.IntN(40)
		var edges []stepRow
		for k := range size { // every border is held by its neighbour
			edges = append(edges, stepRow{k, k + 1, math.Exp(3 * random.NormFloat64())})
		}
		for range 3 * size {
			from := random.IntN(size)
			edges = append(edges, stepRow{from, from + 1 + random.IntN(size-from), math.Exp(3 * random.NormFloat64())})
		}
		right := make([]float64, size)
		for k := range right {
			right[k] = random.NormFloat64()
		}
		dense, sparse := solveNetworkDense(edges, right), solveNetwork(edges, right)
		largest := 0.0
		for _, v := range dense {
			largest = math.Max(largest, math.Abs(v))
		}
		for k := range dense {
			numtest.Check(t, "solution", sparse[k], dense[k], numtest.Tolerance{Abs: 1e-8 * largest})
		}
	}
}

// The breast-cosmesis data in full. Source: Finkelstein and Wolfe, Biometrics
// 41:933 (1985); masses and log-likelihoods worked out with a checked optimality
// condition, the first arm's with the four digits of J Stat Softw 36(2), 2010.
func TestNPMLECosmesis(t *testing.T) {
	cases := []struct {
		arm           string
		logLikelihood float64
		support       []Mass
	}{
		{"0", -58.060022, []Mass{
			{4, 5, .046347},
			{6, 7, .033363},
			{7, 8, .088667},
			{11, 12, .070753},
			{24, 25, .092646},
			{33, 34, .081786},
			{38, 40, .120880},
			{46, 48, .465558},
		}},
		{"1", -65.636965, []Mass{
			{4, 5, .043283},
			{5, 8, .043283},
			{11, 12, .069206},
			{16, 17, .145398},
			{18, 19, .141095},
			{19, 20, .115746},
			{24, 25, .099865},
			{30, 31, .070881},
			{35, 36, .160831},
			{44, 48, .055206},
			{48, 60, .055206},
		}},
	}
	for _, c := range cases {
		got, err := NPMLE(readCensored(t, "stats/cosmesis.csv", "", ofValue("chemotherapy", c.arm)))
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, "log-likelihood", got.LogLikelihood, c.logLikelihood, numtest.Tolerance{Abs: 6e-7})
		if len(got.Support) != len(c.support) {
			t.Fatalf("arm %s: %v", c.arm, got.Support)
		}
		for k, s := range got.Support {
			if s.Low != c.support[k].Low || s.High != c.support[k].High {
				t.Errorf("arm %s: step %d is %v, want %v", c.arm, k, s, c.support[k])
			}
			numtest.Check(t, "mass", s.Mass, c.support[k].Mass, numtest.Tolerance{Abs: 6e-7})
		}
	}
	pooled, err := NPMLE(readCensored(t, "stats/cosmesis.csv", "", nil))
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "pooled log-likelihood", pooled.LogLikelihood, -136.963804, numtest.Tolerance{Abs: 6e-7})
}
