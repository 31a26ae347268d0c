package inference

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"brinefield/core/numeric/numtest"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

var estimate = numtest.Tolerance{Rel: 1e-8, Abs: 1e-9}

// Intercept-only sets: estimates, log-likelihood and model-based covariance of
// (mu, ln sigma). Source: testdata/check/stats, "independent_check" (a fit in R
// with gradients below 1e-8, beside survreg).
func TestLognormalPublishedData(t *testing.T) {
	for _, set := range []string{"c_salinity", "c_smokedfish", "c_fluazinam"} {
		t.Run(set, func(t *testing.T) {
			fit, err := Lognormal(readCensored(t, "stats/"+set+".csv", "", nil))
			if err != nil {
				t.Fatal(err)
			}
			want := readReference(t, "stats/"+set+".json").at(t, "lognormal", "independent_check")
			numtest.Check(t, "mu", fit.Mu, want.number(t, "coef_and_log_scale", "(Intercept)"), estimate)
			numtest.Check(t, "ln sigma", math.Log(fit.Sigma), want.number(t, "coef_and_log_scale", "Log(scale)"), estimate)
			numtest.Check(t, "log-likelihood", fit.LogLikelihood, want.number(t, "logLik"), numtest.Tolerance{Rel: 1e-12})
			checkMatrix(t, "covariance", fit.CovModel, want.at(t, "vcov", "values"), numtest.Tolerance{Rel: 1e-6})
		})
	}
}

func checkMatrix(t *testing.T, what string, got mat.Matrix, want reference, tol numtest.Tolerance) {
	t.Helper()
	for i, row := range want.value.([]any) {
		for j, v := range row.([]any) {
			numtest.Check(t, what, got.At(i, j), v.(float64), tol)
		}
	}
}

// Sets with one covariate: dividing each field by exp(b·x), b the published
// coefficient, leaves a set whose intercept, spread and covariance of these two
// are those of the model with b known. Exact rows change by the Jacobian.
func TestLognormalWithKnownEffect(t *testing.T) {
	cases := []struct {
		set, column, cluster string
	}{{"c_bcdeter", "treat", ""}, {"c_kidney", "female", "id"}}
	for _, c := range cases {
		t.Run(c.set, func(t *testing.T) {
			want := readReference(t, "stats/"+c.set+".json").at(t, "lognormal", "independent_check")
			rows, jacobian := withoutEffect(t, c.set, c.column, c.cluster, want.number(t, "coef_and_log_scale", c.column))
			fit, err := Lognormal(rows)
			if err != nil {
				t.Fatal(err)
			}
			numtest.Check(t, "mu", fit.Mu, want.number(t, "coef_and_log_scale", "(Intercept)"), numtest.Tolerance{Rel: 1e-8})
			numtest.Check(t, "ln sigma", math.Log(fit.Sigma), want.number(t, "coef_and_log_scale", "Log(scale)"), numtest.Tolerance{Rel: 1e-8})
			numtest.Check(t, "log-likelihood", fit.LogLikelihood+jacobian, want.number(t, "logLik"), numtest.Tolerance{Rel: 1e-12})
		})
	}
}

func withoutEffect(t *testing.T, set, column, cluster string, effect float64) (rows []Interval, jacobian float64) {
	rows = readCensored(t, "stats/"+set+".csv", cluster, nil)
	for i, row := range readTable(t, "stats/"+set+".csv") {
		shift := effect * number(t, row[column])
		rows[i].Low *= math.Exp(-shift)
		rows[i].High *= math.Exp(-shift)
		if rows[i].Exact {
			rows[i].High = rows[i].Low
			jacobian -= shift
		}
	}
	return rows, jacobian
}

// Invented passes: all, and each species alone.
func TestLognormalProjectShape(t *testing.T) {
	p1 := readReference(t, "stats/p1_two_species.json")
	p2 := readReference(t, "stats/p2_small.json")
	cases := []struct {
		name string
		rows []Interval
		want reference
	}{
		{"both species", readPasses(t, "stats/p1_two_species.csv", nil), p1.at(t, "threshold_lognormal_all")},
		{"A alone", readPasses(t, "stats/p1_two_species.csv", ofValue("species", "sp_A")), p1.at(t, "threshold_lognormal_each_species_alone", "sp_A")},
		{"B alone", readPasses(t, "stats/p1_two_species.csv", ofValue("species", "sp_B")), p1.at(t, "threshold_lognormal_each_species_alone", "sp_B")},
		{"small", readPasses(t, "stats/p2_small.csv", nil), p2.at(t, "threshold_lognormal_all")},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			fit, err := Lognormal(c.rows)
			if err != nil {
				t.Fatal(err)
			}
			want := c.want.at(t, "no_random_effect")
			numtest.Check(t, "mu", fit.Mu, want.number(t, "coef", "(Intercept)"), estimate)
			numtest.Check(t, "sigma", fit.Sigma, want.number(t, "sigma"), estimate)
			numtest.Check(t, "log-likelihood", fit.LogLikelihood, want.number(t, "logLik_T"), numtest.Tolerance{Rel: 1e-12})
			checkMatrix(t, "covariance", fit.CovModel, want.at(t, "vcov", "values"), numtest.Tolerance{Rel: 1e-6})
			if fit.Clusters != int(want.number(t, "cluster_robust", "n_clusters")) {
				t.Errorf("%d clusters", fit.Clusters)
			}
		})
	}
}

// Each way in which the likelihood has no maximum.
func TestLognormalExistence(t *testing.T) {
	inf := math.Inf(1)
	cases := []struct {
		name string
		ends [][2]float64
		why  string
	}{
		{"nothing", nil, "no passes"},
		{"knows nothing", [][2]float64{{0, inf}, {0, inf}}, "says anything"},
		{"no turns", [][2]float64{{3, inf}, {9, inf}}, "above 9"},
		{"all at once", [][2]float64{{0, 8}, {0, 4}}, "below 4"},
		{"one row", [][2]float64{{3, 5}}, "between 3 and 5"},
		{"a common stretch", [][2]float64{{3, 7}, {5, 9}, {4, inf}, {0, 6.5}}, "between 5 and 6.5"},
		{"touching ends", [][2]float64{{3, 5}, {5, 9}}, "5 nV/cm"},
		{"one value", [][2]float64{{4, 4}, {4, 4}, {3, inf}}, "4 nV/cm"},
		{"wrong way round", [][2]float64{{0, 5}, {0, 6}, {20, inf}, {3, inf}}, "no larger fields"},
	}
	for _, c := range cases {
		_, err := Lognormal(fromEnds(c.ends))
		checkNotEstimable(t, c.name, err, c.why)
	}
	// Their neighbours that do have a maximum.
	for name, ends := range map[string][][2]float64{
		"overlap broken": {{3, 7}, {5, 9}, {4, inf}, {0, 4.9}},
		"ends apart":     {{3, 5}, {5.01, 9}},
		"right way":      {{0, 15}, {0, 16}, {20, inf}, {3, inf}},
		"two values":     {{4, 4}, {4.001, 4.001}},
		"far out":        {{1e-9, 2e-9}, {1e9, inf}, {3e8, 4e8}},
		"hair's breadth": {{5, 5.0000001}, {5.0000002, 5.0000003}, {4, 9}},
	} {
		fit, err := Lognormal(fromEnds(ends))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !(fit.Sigma > 0) || math.IsInf(fit.Mu, 0) || math.IsNaN(fit.LogLikelihood) {
			t.Errorf("%s: %+v", name, fit)
		}
	}
}

func fromEnds(ends [][2]float64) []Interval {
	rows := make([]Interval, len(ends))
	for i, e := range ends {
		rows[i] = Interval{Cluster: string(rune('a' + i)), Identified: true, Low: e[0], High: e[1], Exact: e[0] == e[1]}
	}
	return rows
}

func TestImpossibleIntervals(t *testing.T) {
	for _, r := range []Interval{
		{Low: math.NaN(), High: 3},
		{Low: 1, High: math.NaN()},
		{Low: -1, High: 3},
		{Low: 3, High: 3},
		{Low: 4, High: 3},
		{Low: math.Inf(1), High: math.Inf(1)},
		{Exact: true},
		{Low: 2, High: 3, Exact: true},
	} {
		rows := append(fromEnds([][2]float64{{1, 2}, {3, 4}}), r)
		_, a := Lognormal(rows)
		_, b := NPMLE(rows)
		_, c := LognormalIndividual(rows)
		if a == nil || b == nil || c == nil {
			t.Errorf("%+v was taken: %v, %v, %v", r, a, b, c)
		}
	}
}

// First and second derivatives of every kind of row against central
// differences of the value and of the first derivatives. (Narrower intervals
// have too few digits in the difference of their ends for differences of the
// value; the tests of numeric.NormalBetween have them.)
func TestRowDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-4, 4).Draw(t, "low")
		r := logRow{low: low, high: low + math.Exp(rapid.Float64Range(-6, 2).Draw(t, "ln width"))}
		switch rapid.IntRange(0, 3).Draw(t, "kind") {
		case 0:
			r.high, r.exact = low, true
		case 1:
			r.high = math.Inf(1)
		case 2:
			r.low = math.Inf(-1)
		}
		mu, s := rapid.Float64Range(-4, 4).Draw(t, "mu"), rapid.Float64Range(-1.5, 1.5).Draw(t, "ln sigma")
		at := func(mu, s float64) derivatives { return pointLikelihood(r, mu, s, math.Exp(-s)) }
		here := at(mu, s)
		const h = 1e-5
		right, left, up, down := at(mu+h, s), at(mu-h, s), at(mu, s+h), at(mu, s-h)
		// Rounding of the value over h, and h² times a third derivative.
		scale := 1 + math.Abs(here.value) + math.Abs(here.byScaleScale)
		tol := numtest.Tolerance{Abs: 2e-8 * scale, Rel: 2e-7}
		numtest.Check(t, "by mu", here.byMu, (right.value-left.value)/(2*h), tol)
		numtest.Check(t, "by ln sigma", here.byScale, (up.value-down.value)/(2*h), tol)
		numtest.Check(t, "by mu twice", here.byMuMu, (right.byMu-left.byMu)/(2*h), tol)
		numtest.Check(t, "by mu and ln sigma", here.byMuScale, (right.byScale-left.byScale)/(2*h), tol)
		numtest.Check(t, "the other way round", here.byMuScale, (up.byMu-down.byMu)/(2*h), tol)
		numtest.Check(t, "by ln sigma twice", here.byScaleScale, (up.byScale-down.byScale)/(2*h), tol)
	})
}

// Multiplying every field by c moves mu by ln c and leaves sigma and the
// probabilities as they are; the order of the rows changes no bit.
func TestLognormalScaleAndOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := drawIntervals(t)
		fit, err := Lognormal(rows)
		c := math.Exp(rapid.Float64Range(-8, 8).Draw(t, "ln c"))
		scaled, shuffled := slices.Clone(rows), slices.Clone(rows)
		jacobian := 0.0
		for i := range scaled {
			scaled[i].Low *= c
			scaled[i].High *= c
			if scaled[i].Exact {
				jacobian -= math.Log(c)
			}
		}
		rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)).Shuffle(len(rows), func(i, j int) {
			shuffled[i], shuffled[j] = shuffled[j], shuffled[i]
		})
		other, otherErr := Lognormal(scaled)
		again, againErr := Lognormal(shuffled)
		if (err == nil) != (otherErr == nil) || (err == nil) != (againErr == nil) {
			t.Fatalf("%v; scaled: %v; shuffled: %v", err, otherErr, againErr)
		}
		if err != nil {
			return
		}
		numtest.Check(t, "mu", other.Mu, fit.Mu+math.Log(c), numtest.Tolerance{Abs: 1e-7 * (1 + fit.Sigma)})
		numtest.Check(t, "sigma", other.Sigma, fit.Sigma, numtest.Tolerance{Rel: 1e-7})
		numtest.Check(t, "log-likelihood", other.LogLikelihood, fit.LogLikelihood+jacobian, numtest.Tolerance{Rel: 1e-10, Abs: 1e-9})
		if again.Mu != fit.Mu || again.Sigma != fit.Sigma || again.LogLikelihood != fit.LogLikelihood || again.CI != fit.CI {
			t.Fatal("other bits after a shuffle")
		}
	})
}

// The invented season A against R (survreg, and its cluster sandwich with the
// same correction). survreg stopped up to 4e-7 of sigma short of the maximum
// (its log-likelihood is the lower one).
func TestThresholdsSeasonA(t *testing.T) {
	for _, species := range []string{"Raja clavata", "Scyliorhinus canicula"} {
		t.Run(species, func(t *testing.T) {
			rows, _ := readSeason(t, species)
			all := readReference(t, "season-a-thresholds.json").at(t, "thresholds", species)
			want := all.at(t, "lognormal")
			fit, err := Lognormal(rows)
			if err != nil {
				t.Fatal(err)
			}
			numtest.Check(t, "mu", fit.Mu, want.number(t, "mu"), numtest.Tolerance{Rel: 1e-7})
			numtest.Check(t, "sigma", fit.Sigma, want.number(t, "sigma"), numtest.Tolerance{Rel: 1e-6})
			numtest.Check(t, "log-likelihood", fit.LogLikelihood, want.number(t, "log_likelihood"), numtest.Tolerance{Rel: 1e-11})
			numtest.Check(t, "se", fit.SEMu, want.number(t, "se_robust"), numtest.Tolerance{Rel: 1e-6})
			numtest.Check(t, "se of independent passes", fit.SEModel, want.number(t, "se_naive"), numtest.Tolerance{Rel: 1e-6})
			ci := want.numbers(t, "ci95")
			numtest.Check(t, "ci low", fit.CI.Low, ci[0], numtest.Tolerance{Rel: 1e-6})
			numtest.Check(t, "ci high", fit.CI.High, ci[1], numtest.Tolerance{Rel: 1e-6})
			if fit.Clusters != int(all.number(t, "clusters")) || fit.IdentifiedAnimals != int(all.number(t, "individuals")) {
				t.Errorf("%d clusters, %d animals", fit.Clusters, fit.IdentifiedAnimals)
			}

			// R left Raja clavata's spread between animals at 5e-4, short of its 0.
			want = all.at(t, "lognormal_individual")
			individual, err := LognormalIndividual(rows)
			if err != nil {
				t.Fatal(err)
			}
			numtest.Check(t, "mu", individual.Mu, want.number(t, "mu"), numtest.Tolerance{Abs: 1e-6})
			numtest.Check(t, "sigma within", individual.SigmaWithin, want.number(t, "sigma_within"), numtest.Tolerance{Rel: 1e-5})
			numtest.Check(t, "sigma individual", individual.SigmaIndividual, want.number(t, "sigma_individual"), numtest.Tolerance{Rel: 1e-4, Abs: 5e-4})
			numtest.Check(t, "log-likelihood", individual.LogLikelihood, want.number(t, "log_likelihood"), numtest.Tolerance{Abs: 2e-6})
			numtest.Check(t, "se", individual.SEMu, want.number(t, "se_mu"), numtest.Tolerance{Rel: 1e-4})

			steps, err := NPMLE(rows)
			if err != nil {
				t.Fatal(err)
			}
			// survfit puts the median at the arithmetic middle of the step.
			middle := (steps.MedianInterval.Low + steps.MedianInterval.High) / 2
			numtest.Check(t, "middle of the median step", middle, all.number(t, "npmle_median_R"), numtest.Tolerance{Rel: 1e-12})
		})
	}
}

// The breast-cosmesis data with an effect of chemotherapy on the log scale:
// the largest log-likelihood over that effect is −146.622332 (worked out from
// the published data, with the same intervals).
func TestLognormalCosmesis(t *testing.T) {
	table := readTable(t, "stats/cosmesis.csv")
	at := func(effect float64) float64 {
		rows := readCensored(t, "stats/cosmesis.csv", "", nil)
		for i := range rows {
			if table[i]["chemotherapy"] == "1" {
				rows[i].Low *= math.Exp(-effect)
				rows[i].High *= math.Exp(-effect)
			}
		}
		fit, err := Lognormal(rows)
		if err != nil {
			t.Fatal(err)
		}
		return fit.LogLikelihood
	}
	low, high := -2.0, 1.0 // the profile is concave
	for high-low > 1e-5 {
		a, b := low+(high-low)/3, high-(high-low)/3
		if at(a) < at(b) {
			low = a
		} else {
			high = b
		}
	}
	numtest.Check(t, "log-likelihood", at((low+high)/2), -146.622332, numtest.Tolerance{Abs: 6e-7})
}

// The theory of existence, held against the search: where a maximum exists the
// fit finds it, and no neighbour is better.
func TestLognormalFindsWhatExists(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := drawIntervals(t)
		exists := existence(canonical(rows))
		fit, err := Lognormal(rows)
		if (exists == nil) != (err == nil) {
			t.Fatalf("existence says %v, the fit %v", exists, err)
		}
		if err != nil {
			return
		}
		logs := logRows(canonical(rows))
		for _, by := range [][2]float64{{1e-3, 0}, {-1e-3, 0}, {0, 1e-3}, {0, -1e-3}} {
			var sum [6]float64
			addLognormal(logs, fit.Mu+by[0]*fit.Sigma, math.Log(fit.Sigma)+by[1], sum[:])
			if sum[0] > fit.LogLikelihood+1e-10*(1+math.Abs(sum[0])) {
				t.Fatalf("%.15g beside %.15g", sum[0], fit.LogLikelihood)
			}
		}
	})
}

// Passes without tracks say only "below" and "above". Where the fields of
// those that turned are hardly larger, the likelihood has a peak, but at a
// median of 1e54 nV/cm: no number that a biologist may be given.
func TestMedianFarBeyondEveryFieldIsNotEstimable(t *testing.T) {
	var rows []Interval
	for i := range 10 {
		field := 10 + float64(i)
		rows = append(rows, Interval{Cluster: fmt.Sprint(i), Identified: true, Low: field, High: math.Inf(1)})
		if i%3 == 0 {
			rows = append(rows, Interval{Cluster: fmt.Sprint(i), Identified: true, Low: 0, High: field + 0.15})
		}
	}
	for name, fit := range map[string]func() error{
		"lognormal":   func() error { _, err := Lognormal(rows); return err },
		"individuals": func() error { _, err := LognormalIndividual(rows); return err },
	} {
		var why *NotEstimable
		if err := fit(); !errors.As(err, &why) || !strings.Contains(why.Why, "hardly rise") {
			t.Errorf("%s: %v, want it not estimable because turns hardly rise with the field", name, err)
		}
	}
}
