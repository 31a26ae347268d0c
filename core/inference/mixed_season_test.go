package inference

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
)

func seasonA(t testing.TB, species string) ([]MixedRow, preferenceTable) {
	t.Helper()
	var rows []MixedRow
	for _, r := range readTable(t, "season-a-preference.csv") {
		if species == "all" || species == r["species"] {
			rows = append(rows, MixedRow{Cluster: r["cluster"], Active: r["pair"] == "active", Turned: r["turned"] == "yes"})
		}
	}
	return rows, twoByTwo(mixedCells(rows))
}

// Source: season A (invented), R's fit with 25 nodes; tolerances as the note
// beside the check file says.
func TestSeasonAPreference(t *testing.T) {
	for _, species := range []string{"all", "Raja clavata", "Scyliorhinus canicula"} {
		t.Run(species, func(t *testing.T) {
			want := readReference(t, "season-a-preference.json").at(t, species)
			rows, table := seasonA(t, species)
			for _, c := range []struct {
				what string
				got  int
			}{
				{"turns_active", table.activeTurned},
				{"turns_control", table.controlTurned},
				{"passes_active", table.activeTurned + table.activeNot},
				{"passes_control", table.controlTurned + table.controlNot},
			} {
				numtest.Check(t, c.what, float64(c.got), want.number(t, c.what), numtest.Tolerance{})
			}
			p := FisherExact(table.activeTurned, table.activeNot, table.controlTurned, table.controlNot)
			numtest.Check(t, "exact_p", p, want.number(t, "exact_p"), numtest.Tolerance{Rel: 1e-9})
			fit, err := Mixed(rows)
			if err != nil {
				t.Fatal(err)
			}
			se := want.number(t, "mixed", "se")
			numtest.Check(t, "log_odds_ratio", fit.LogOddsRatio, want.number(t, "mixed", "log_odds_ratio"), numtest.Tolerance{Abs: 1e-2 * se})
			numtest.Check(t, "se", fit.SE, se, numtest.Tolerance{Rel: 2e-2})
			numtest.Check(t, "intercept", fit.Intercept, want.number(t, "mixed", "intercept"), numtest.Tolerance{Abs: 1e-2 * fit.InterceptSE})
			numtest.Check(t, "individual_sd", fit.IndividualSD, want.number(t, "mixed", "individual_sd"), numtest.Tolerance{Abs: 2e-3})
			if onEdge := len(fit.Boundary) == 1 && fit.Boundary[0] == "individual_sd"; onEdge != (fit.IndividualSD == 0) {
				t.Errorf("individual SD %g with boundary %v", fit.IndividualSD, fit.Boundary)
			}
			t.Logf("log odds ratio %.10g (SE %.10g), intercept %.10g, SD %.10g, log-likelihood %.10g", fit.LogOddsRatio, fit.SE, fit.Intercept, fit.IndividualSD, fit.LogLikelihood)
		})
	}
}

// The order of the rows and of the clusters' cells must not change one bit.
func TestMixedOrderInvariance(t *testing.T) {
	rows, _ := seasonA(t, "all")
	want, err := Mixed(rows)
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		shuffled := append([]MixedRow(nil), rows...)
		rng.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		got, err := Mixed(shuffled)
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("after a shuffle: %+v (%v), want %+v", got, err, want)
		}
	})
}

// Exchanging active and control turns the odds ratio over; exchanging turns
// and no turns changes every sign. The likelihood stays.
func TestMixedSymmetry(t *testing.T) {
	rows, _ := seasonA(t, "Scyliorhinus canicula")
	want, err := Mixed(rows)
	if err != nil {
		t.Fatal(err)
	}
	swapped := make([]MixedRow, len(rows))
	for k, r := range rows {
		swapped[k] = MixedRow{Cluster: r.Cluster, Active: !r.Active, Turned: !r.Turned}
	}
	got, err := Mixed(swapped)
	if err != nil {
		t.Fatal(err)
	}
	tol := numtest.Tolerance{Rel: 1e-7}
	numtest.Check(t, "log odds ratio", got.LogOddsRatio, want.LogOddsRatio, tol)
	numtest.Check(t, "SE", got.SE, want.SE, tol)
	numtest.Check(t, "intercept", got.Intercept, -want.Intercept-want.LogOddsRatio, tol)
	numtest.Check(t, "SD", got.IndividualSD, want.IndividualSD, tol)
	numtest.Check(t, "log-likelihood", got.LogLikelihood, want.LogLikelihood, numtest.Tolerance{Rel: 1e-12})
}

// repeat makes n passes.
func repeat(cluster string, active, turned bool, n int) []MixedRow {
	rows := make([]MixedRow, n)
	for k := range rows {
		rows[k] = MixedRow{Cluster: cluster, Active: active, Turned: turned}
	}
	return rows
}

func join(parts ...[]MixedRow) []MixedRow {
	var all []MixedRow
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

func TestMixedNotEstimable(t *testing.T) {
	var always []MixedRow // every animal does the same on every pass
	for k := range 40 {
		name := fmt.Sprint("animal ", k)
		always = append(always, repeat(name, true, k%4 != 0, 6)...)
		always = append(always, repeat(name, false, k%4 == 1, 6)...)
	}
	for _, c := range []struct {
		name string
		rows []MixedRow
		why  string
	}{
		{"empty", nil, "no passes at an active pair"},
		{"no control", repeat("a", true, true, 3), "no passes at a control pair"},
		{"no active", repeat("a", false, true, 3), "no passes at an active pair"},
		{"nobody turned", join(repeat("a", true, false, 3), repeat("a", false, false, 3)), "nobody ever turned, at an active pair or at a control pair"},
		{"everybody turned", join(repeat("a", true, true, 3), repeat("a", false, true, 3)), "every pass had a turn"},
		{"quiet controls", join(repeat("a", true, true, 3), repeat("b", true, false, 2), repeat("a", false, false, 9)), "nobody ever turned at a control pair, so the odds ratio has no upper end"},
		{"active always", join(repeat("a", true, true, 3), repeat("b", false, true, 2), repeat("a", false, false, 9)), "every pass at an active pair had a turn"},
		{"active never", join(repeat("a", true, false, 3), repeat("b", false, true, 2), repeat("a", false, false, 9)), "nobody ever turned at an active pair"},
		{"control always", join(repeat("a", true, true, 3), repeat("a", true, false, 3), repeat("b", false, true, 2)), "every pass at a control pair had a turn"},
		{"all or nothing animals", always, "no upper end"},
	} {
		t.Run(c.name, func(t *testing.T) {
			fit, err := Mixed(c.rows)
			var not *NotEstimable
			if !errors.As(err, &not) || !strings.Contains(not.Why, c.why) {
				t.Errorf("got %+v, %v; want not estimable with %q", fit, err, c.why)
			}
		})
	}
}

// Every animal seen once: nothing tells a spread from none, and the answer is
// that of the plain table.
func TestMixedSingletons(t *testing.T) {
	var rows []MixedRow
	for k := range 80 {
		rows = append(rows, MixedRow{Cluster: fmt.Sprint(k), Active: k%2 == 0, Turned: k%3 == 0 || k%10 == 4})
	}
	fit, err := Mixed(rows)
	if err != nil {
		t.Fatal(err)
	}
	if len(fit.Boundary) != 1 {
		t.Errorf("boundary %v with SD %g", fit.Boundary, fit.IndividualSD)
	}
}

// A known truth is found again: 400 animals, 24 passes each.
func TestMixedRecoversTruth(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	var rows []MixedRow
	for k := range 400 {
		u := 0.9 * rng.NormFloat64()
		for pass := range 24 {
			active := pass%2 == 0
			p, _, _, _ := logistic(-2 + 2.5*indicator(active) + u)
			rows = append(rows, MixedRow{Cluster: fmt.Sprint(k), Active: active, Turned: rng.Float64() < p})
		}
	}
	fit, err := Mixed(rows)
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "log odds ratio", fit.LogOddsRatio, 2.5, numtest.Tolerance{Abs: 3 * fit.SE})
	numtest.Check(t, "intercept", fit.Intercept, -2, numtest.Tolerance{Abs: 3 * fit.InterceptSE})
	numtest.Check(t, "SD", fit.IndividualSD, 0.9, numtest.Tolerance{Abs: 3 * fit.IndividualSDSE})
	if fit.SE > 0.1 || fit.IndividualSDSE > 0.1 {
		t.Errorf("standard errors %g and %g are too wide for the check to mean anything", fit.SE, fit.IndividualSDSE)
	}
}

func TestMixedLogitRefusesBadCells(t *testing.T) {
	good := Cell{Cluster: "a", X: []float64{1}, Passes: 4, Turns: 2}
	for _, c := range []struct {
		name string
		bad  Cell
		want string
	}{
		{"more turns than passes", Cell{Cluster: "b", X: []float64{1}, Passes: 1, Turns: 2}, "2 turns in 1 passes"},
		{"negative", Cell{Cluster: "b", X: []float64{1}, Passes: -1, Turns: -2}, "want 0 ≤ turns"},
		{"ragged", Cell{Cluster: "b", X: []float64{1, 2}, Passes: 1}, "2 columns"},
	} {
		_, err := MixedLogit([]Cell{good, c.bad})
		var not *NotEstimable
		if err == nil || errors.As(err, &not) || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), `"b"`) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	twice := []Cell{{Cluster: "a", X: []float64{1, 1}, Passes: 4, Turns: 2}, {Cluster: "b", X: []float64{1, 1}, Passes: 4, Turns: 1}}
	var not *NotEstimable
	if _, err := MixedLogit(twice); !errors.As(err, &not) {
		t.Errorf("a doubled column: %v, want not estimable", err)
	}
}

// Whatever the table, the answer is finite or says why there is none.
func TestMixedNeverNonsense(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) MixedRow {
			return MixedRow{
				Cluster: rapid.SampledFrom([]string{"a", "b", "c", "d", "e"}).Draw(t, "cluster"),
				Active:  rapid.Bool().Draw(t, "active"),
				Turned:  rapid.Bool().Draw(t, "turned"),
			}
		}), 0, 40).Draw(t, "rows")
		fit, err := Mixed(rows)
		var not *NotEstimable
		if err != nil {
			if !errors.As(err, &not) {
				t.Fatal(err)
			}
			return
		}
		for k, v := range []float64{fit.LogOddsRatio, fit.Intercept, fit.IndividualSD, fit.LogLikelihood, fit.SE, fit.InterceptSE} {
			if v != v || v > 1e6 || v < -1e6 {
				t.Fatalf("value %d is %g: %+v", k, v, fit)
			}
		}
		if fit.SE <= 0 || fit.InterceptSE <= 0 || (len(fit.Boundary) == 0) != (fit.IndividualSD > 0) || fit.LogLikelihood >= 0 {
			t.Fatalf("%+v", fit)
		}
	})
}

// Seven passes by five animals, found by chance in [TestMixedNeverNonsense]:
// the likelihood rises towards a level that no finite spread reaches, and the
// climb used to end on it with a standard error of 3e7.
func TestMixedLevelTop(t *testing.T) {
	rows := []MixedRow{
		{"c", false, true},
		{"b", true, false},
		{"e", false, false},
		{"a", false, true},
		{"c", true, true},
		{"d", true, false},
		{"a", true, false},
	}
	fit, err := Mixed(rows)
	var not *NotEstimable
	if !errors.As(err, &not) {
		t.Fatalf("%+v, %v: want not estimable", fit, err)
	}
}

// Hard tables: few animals that differ by many logits. Whatever comes out is a
// maximum, by a finer rule than the fit used, and no warning is needed.
func TestMixedHardTables(t *testing.T) {
	fitted := 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 3))
		sd := []float64{1, 4, 8}[rng.IntN(3)]
		var rows []MixedRow
		for k := range 2 + rng.IntN(14) {
			u := sd * rng.NormFloat64()
			for range 1 + rng.IntN(12) {
				active := rng.IntN(2) == 0
				p, _, _, _ := logistic(-1.5 + 2*indicator(active) + u)
				rows = append(rows, MixedRow{Cluster: fmt.Sprint(k), Active: active, Turned: rng.Float64() < p})
			}
		}
		fit, err := Mixed(rows)
		if err != nil {
			var not *NotEstimable
			if !errors.As(err, &not) {
				t.Fatal(err)
			}
			continue
		}
		fitted++
		if len(fit.Warnings) > 0 {
			t.Errorf("seed %d: %q", seed, fit.Warnings)
		}
		d, err := newDesign(mixedCells(rows))
		if err != nil {
			t.Fatal(err)
		}
		judge := newMarginal(d, ruleCount-1)
		theta := []float64{fit.Intercept, fit.LogOddsRatio, fit.IndividualSD}
		top, _, _ := judge.value(theta)
		numtest.Check(t, "log-likelihood by the finest rule", fit.LogLikelihood, top, numtest.Tolerance{Rel: 2e-8})
		for i := range theta {
			for _, by := range []float64{-0.3, -0.03, 0.03, 0.3, 2} {
				moved := append([]float64(nil), theta...)
				moved[i] += by
				if value, _, _ := judge.value(moved); value > top+1e-7 {
					t.Errorf("seed %d: moving parameter %d of %v by %g gains %g", seed, i, theta, by, value-top)
				}
			}
		}
	}
	if fitted < 36 {
		t.Errorf("only %d tables had a fit", fitted)
	}
}
