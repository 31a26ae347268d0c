package inference

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"brinefield/core/numeric/numtest"

	"pgregory.net/rapid"
)

// Invented passes with a known truth: every estimate within 4 standard errors
// (of independent passes, which these are), and the interval about the median.
func TestDetectionFindsTheTruth(t *testing.T) {
	for seed := range uint64(6) {
		rows := inventPasses(plainTruth, 3000, 40, seed+10)
		fit, err := Detection(rows)
		if err != nil {
			t.Fatal(err)
		}
		if len(fit.Parameters) != 4 || len(fit.Boundary) != 0 || fit.CIErr != nil {
			t.Fatalf("%+v", fit)
		}
		got := [4]float64{math.Log(fit.Lapse / (1 - fit.Lapse)), math.Log(fit.SpontaneousPerS), fit.Mu, math.Log(fit.Sigma)}
		want := [4]float64{math.Log(plainTruth.lapse / (1 - plainTruth.lapse)), math.Log(plainTruth.perS), plainTruth.mu, math.Log(plainTruth.sigma)}
		for i, name := range fit.Parameters {
			se := math.Sqrt(fit.CovModel.At(i, i))
			if math.Abs(got[i]-want[i]) > 4*se {
				t.Errorf("seed %d: %s = %g ± %g, truth %g", seed, name, got[i], se, want[i])
			}
			// The passes are independent, so both covariances estimate the same.
			if ratio := math.Sqrt(fit.Cov.At(i, i)) / se; ratio < 0.6 || ratio > 1.6 {
				t.Errorf("seed %d: %s: sandwich over model %g", seed, name, ratio)
			}
		}
	}
}

// Without lapses or without spontaneous turns in the truth the estimate is
// often 0: then it is named, fixed there, and no value beside it is better.
func TestDetectionBoundaries(t *testing.T) {
	cases := []struct {
		name  string
		truth inventedTruth
		check func(DetectionFit) float64
	}{
		{"lapse", inventedTruth{mu: 3, sigma: 0.4, lapse: 0, perS: 0.05, active: 0.5, step: 0.1}, func(f DetectionFit) float64 { return f.Lapse }},
		{"spontaneous_per_s", inventedTruth{mu: 3, sigma: 0.4, lapse: 0.1, perS: 1e-9, active: 0.5, step: 0.1}, func(f DetectionFit) float64 { return f.SpontaneousPerS }},
	}
	for _, c := range cases {
		found := 0
		for seed := range uint64(12) {
			rows := inventPasses(c.truth, 150, 12, seed)
			fit, err := Detection(rows)
			if err != nil {
				t.Fatalf("%s, seed %d: %v", c.name, seed, err)
			}
			checkNoBetterNeighbour(t, rows, fit)
			if slices.Contains(fit.Boundary, c.name) {
				found++
				if c.check(fit) != 0 {
					t.Errorf("%s is %g on its boundary", c.name, c.check(fit))
				}
				if len(fit.Parameters) != 4-len(fit.Boundary) || slices.Contains(fit.Boundary, "sigma") {
					t.Errorf("boundary %v, parameters %v", fit.Boundary, fit.Parameters)
				}
				if fit.CIErr != nil || !(fit.CI.Low < fit.Median && fit.Median < fit.CI.High) {
					t.Errorf("interval %v, %v", fit.CI, fit.CIErr)
				}
			}
		}
		if found < 3 {
			t.Errorf("%s: only %d of 12 tables on the boundary: the test tests nothing", c.name, found)
		}
	}
}

// checkNoBetterNeighbour moves each parameter a little, off its boundary too.
func checkNoBetterNeighbour(t numtest.TB, rows []DetectionRow, fit DetectionFit) {
	t.Helper()
	p := newDetectionProblem(rows)
	x := [detectionSize]float64{math.Log(fit.Lapse / (1 - fit.Lapse)), math.Log(fit.SpontaneousPerS), fit.Mu, math.Log(fit.Sigma)}
	numtest.Check(t, "log-likelihood", p.value(x), fit.LogLikelihood, numtest.Tolerance{Rel: 1e-10, Abs: 1e-10})
	for i := range x {
		for _, by := range []float64{-1e-2, -1e-4, 1e-4, 1e-2} {
			y := x
			y[i] += by
			if math.IsInf(x[i], -1) {
				y[i] = math.Log(math.Abs(by) / 10)
			}
			if v := p.value(y); v > fit.LogLikelihood+1e-9*(1+math.Abs(v)) {
				t.Errorf("%s from %g to %g: %.12g is better than %.12g", detectionNames[i], x[i], y[i], v, fit.LogLikelihood)
			}
		}
	}
}

// All passes agree on one threshold between 10 and 12 nV/cm.
func TestDetectionWithoutSpread(t *testing.T) {
	var rows []DetectionRow
	for i := range 30 {
		animal := string(rune('a' + i%6))
		rows = append(rows,
			DetectionRow{Cluster: animal, Identified: true, Low: 10 - 0.2*float64(i), WatchedS: 2},
			DetectionRow{Cluster: animal, Identified: true, Low: 8, High: 12 + float64(i), Turned: true, Onset: true, OnsetBeforeS: 1, OnsetS: 1.1})
	}
	fit, err := Detection(rows)
	if err != nil {
		t.Fatal(err)
	}
	if fit.Sigma != 0 || !slices.Contains(fit.Boundary, "sigma") {
		t.Fatalf("sigma %g, boundary %v", fit.Sigma, fit.Boundary)
	}
	numtest.Check(t, "low", fit.MedianSpan.Low, 10, numtest.Tolerance{Rel: 1e-12})
	numtest.Check(t, "high", fit.MedianSpan.High, 12, numtest.Tolerance{Rel: 1e-12})
	numtest.Check(t, "median", fit.Median, math.Sqrt(120), numtest.Tolerance{Rel: 1e-12})
	checkNotEstimable(t, "interval", fit.CIErr, "between 10 and 12")
	if len(fit.Warnings) == 0 {
		t.Error("no warning")
	}
}

func TestDetectionNotEstimable(t *testing.T) {
	quiet := DetectionRow{Cluster: "a", Identified: true, Low: 5, WatchedS: 2}
	falling := DetectionRow{Cluster: "a", Identified: true, Low: 5, High: 4, Turned: true, Onset: true, OnsetBeforeS: 1, OnsetS: 1.1}
	rising := DetectionRow{Cluster: "a", Identified: true, Low: 5, High: 7, Turned: true, Onset: true, OnsetBeforeS: 1, OnsetS: 1.1}
	inf := math.Inf(1)
	timeless := DetectionRow{Cluster: "a", Identified: true, Low: 5}
	// Turns as frequent where there is no field as where there is much.
	var chance []DetectionRow
	for i := range 40 {
		r := DetectionRow{Cluster: string(rune('a' + i%8)), Identified: true, Low: float64(i%4) * 10, WatchedS: 2}
		if i%3 == 0 {
			r.Turned, r.Onset, r.OnsetBeforeS, r.OnsetS, r.High = true, true, 0.9, 1, 0.9*r.Low
			if i%5 == 0 {
				r.Low, r.High = 0, 1
			}
		}
		chance = append(chance, r)
	}
	// Two passes can agree on a threshold, but say no more than where it lies.
	fit, err := Detection([]DetectionRow{falling, rising})
	if err != nil || !slices.Contains(fit.Boundary, "sigma") || fit.CIErr == nil || math.Abs(fit.MedianSpan.High-7) > 1e-12 {
		t.Errorf("one of each: %+v, %v", fit, err)
	}
	cases := []struct {
		name string
		rows []DetectionRow
		why  string
	}{
		{"nothing", nil, "no passes"},
		{"no turn", []DetectionRow{quiet, quiet}, "none of the 2 passes turned"},
		{"no time", []DetectionRow{timeless, {Cluster: "b", Low: 3, High: 4, Turned: true}}, "how long it was watched"},
		{"no bounds", []DetectionRow{{Cluster: "a", WatchedS: 1}, {Cluster: "b", High: inf, Turned: true, WatchedS: 1}}, "no pass gives a bound"},
		{"falling only", []DetectionRow{quiet, falling}, "rising field"},
		{"chance", chance, ""},
	}
	for _, c := range cases {
		_, err := Detection(c.rows)
		checkNotEstimable(t, c.name, err, c.why)
	}
}

func TestImpossiblePasses(t *testing.T) {
	good := DetectionRow{Cluster: "a", Low: 5, High: 7, Turned: true, Onset: true, OnsetBeforeS: 1, OnsetS: 1.1}
	nan, inf := math.NaN(), math.Inf(1)
	for _, spoil := range []func(*DetectionRow){
		func(r *DetectionRow) { r.Low = nan },
		func(r *DetectionRow) { r.Low = -1 },
		func(r *DetectionRow) { r.Low = inf },
		func(r *DetectionRow) { r.High = nan },
		func(r *DetectionRow) { r.Turned = false },
		func(r *DetectionRow) { r.OnsetS = 0.9 },
		func(r *DetectionRow) { r.OnsetS = inf },
		func(r *DetectionRow) { r.OnsetBeforeS = nan },
		func(r *DetectionRow) { r.Exact = true },
		func(r *DetectionRow) { r.Onset, r.WatchedS = false, -1 },
		func(r *DetectionRow) { r.Onset, r.WatchedS = false, nan },
	} {
		bad := good
		spoil(&bad)
		if _, err := Detection([]DetectionRow{good, bad}); err == nil {
			t.Errorf("%+v was taken", bad)
		}
	}
}

// A turn at the very first moment in no field has no place in the model: it is
// left out and said.
func TestDetectionLeavesOutImpossibleTurns(t *testing.T) {
	rows := inventPasses(plainTruth, 400, 12, 5)
	want, err := Detection(rows)
	if err != nil {
		t.Fatal(err)
	}
	got, err := Detection(append(rows, DetectionRow{Cluster: "zz", Identified: true, Turned: true, Onset: true}))
	if err != nil {
		t.Fatal(err)
	}
	if got.Mu != want.Mu || got.Passes != want.Passes || len(got.Warnings) != len(want.Warnings)+1 {
		t.Errorf("%+v\n%+v", got, want)
	}
}

// Order changes no bit; multiplying fields moves mu; dividing times multiplies
// the spontaneous rate.
func TestDetectionOrderAndScale(t *testing.T) {
	for seed := range uint64(8) {
		rows := inventPasses(plainTruth, 250, 9, 100+seed)
		want, err := Detection(rows)
		if err != nil {
			t.Fatal(err)
		}
		shuffled, scaled := slices.Clone(rows), slices.Clone(rows)
		rand.New(rand.NewPCG(seed, 3)).Shuffle(len(rows), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		again, err := Detection(shuffled)
		if err != nil || again.Mu != want.Mu || again.Lapse != want.Lapse || again.CI != want.CI || again.LogLikelihood != want.LogLikelihood {
			t.Errorf("other bits after a shuffle: %v\n%+v\n%+v", err, again, want)
		}
		for i := range scaled {
			r := &scaled[i]
			r.Low, r.High = r.Low*1e3, r.High*1e3
			r.OnsetBeforeS, r.OnsetS, r.WatchedS = r.OnsetBeforeS/7, r.OnsetS/7, r.WatchedS/7
		}
		other, err := Detection(scaled)
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, "mu", other.Mu, want.Mu+math.Log(1e3), numtest.Tolerance{Abs: 1e-7})
		numtest.Check(t, "sigma", other.Sigma, want.Sigma, numtest.Tolerance{Rel: 1e-7})
		numtest.Check(t, "lapse", other.Lapse, want.Lapse, numtest.Tolerance{Abs: 1e-7})
		numtest.Check(t, "rate", other.SpontaneousPerS, 7*want.SpontaneousPerS, numtest.Tolerance{Rel: 1e-6})
		numtest.Check(t, "interval", other.CI.Low, 1e3*want.CI.Low, numtest.Tolerance{Rel: 1e-6})
	}
}

// Whatever the table: an estimate that no neighbour beats, or a reason; never
// NaN, never a panic, and the same bits in any order.
func TestDetectionOnAnyTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := drawPasses(t, 0, 40)
		fit, err := Detection(rows)
		if err != nil {
			checkNotEstimable(t, "any table", err, "")
			return
		}
		for _, v := range []float64{fit.Mu, fit.Sigma, fit.Lapse, fit.SpontaneousPerS, fit.LogLikelihood, fit.Median, fit.SEMu, fit.SEModel, fit.CI.Low, fit.CI.High} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%+v", fit)
			}
		}
		if fit.Sigma > 0 {
			checkNoBetterNeighbour(t, rows, fit)
		}
		reversed := slices.Clone(rows)
		slices.Reverse(reversed)
		again, err := Detection(reversed)
		if err != nil || again.Mu != fit.Mu || again.LogLikelihood != fit.LogLikelihood {
			t.Fatalf("reversed: %v\n%+v\n%+v", err, again, fit)
		}
	})
}

// Turning the intervals of the turns that the field caused into exact values
// near their truth changes the estimates little, and finds a proper maximum
// although the density has none.
func TestDetectionWithExactThresholds(t *testing.T) {
	truth := plainTruth // few spontaneous turns, or those would pass for exact thresholds
	truth.perS = 0.002
	rows := inventPasses(truth, 2000, 30, 21)
	want, err := Detection(rows)
	if err != nil {
		t.Fatal(err)
	}
	exact := slices.Clone(rows)
	for i := range exact {
		r := &exact[i]
		if r.Onset && r.Low > 2 && r.High > r.Low {
			r.Exact, r.Low = true, math.Sqrt(r.Low*r.High)
			r.High = r.Low
		}
	}
	got, err := Detection(exact)
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "mu", got.Mu, want.Mu, numtest.Tolerance{Abs: 2 * want.SEModel})
	numtest.Check(t, "sigma", got.Sigma, want.Sigma, numtest.Tolerance{Rel: 0.1})
	checkNoBetterNeighbour(t, exact, got)
}

// Small tables have several maxima. From random starts no climb ends higher
// than the fit. (600 such tables with 30 random starts each were tried once:
// none did.)
func TestDetectionFindsTheHighestPeak(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 9))
	for k := range 40 {
		truth := inventedTruth{
			mu: 2 + 2*random.Float64(), sigma: 0.2 + random.Float64(), lapse: 0.3 * random.Float64(), perS: 0.1 * random.Float64(),
			active: 0.3 + 0.5*random.Float64(), noOnset: 0.1 * random.Float64(), step: 0.1,
		}
		p := newDetectionProblem(inventPasses(truth, 15+random.IntN(120), 8, uint64(k)))
		best, err := p.search()
		if err != nil {
			t.Fatal(err)
		}
		for range 10 {
			other := p.climb([detectionSize]float64{
				-5 + 6*random.Float64(), math.Log(p.turns/p.time) - 4*random.Float64(),
				p.lowest + (p.highest-p.lowest)*random.Float64(), -2 + 3*random.Float64(),
			}, []int{atMu, atSigma})
			if other.value > best.value+betterBy {
				t.Errorf("table %d: %.9g at %.3v, found only %.9g at %.3v", k, other.value, other.x, best.value, best.x)
			}
		}
	}
}
