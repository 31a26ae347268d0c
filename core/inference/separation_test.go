package inference

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
)

func tableRows(activeTurned, activeNot, controlTurned, controlNot int) []MixedRow {
	return join(
		repeat("a", true, true, activeTurned), repeat("b", true, false, activeNot),
		repeat("a", false, true, controlTurned), repeat("c", false, false, controlNot),
	)
}

// Source: j_separation.json, the endometrial data of Heinze and Schemper
// (2002); penalised estimates to 1e-6 relative.
func TestFirthEndometrial(t *testing.T) {
	columns := []string{"(Intercept)", "NV", "PI", "EH"}
	var cells []Cell
	for k, r := range readTable(t, "stats/j_endometrial.csv") {
		c := binary(string(rune('a'+k%26)), r["HG"], 1, number(t, r["NV"]), number(t, r["PI"]), number(t, r["EH"]))
		cells = append(cells, c)
	}
	d, err := newDesign(cells)
	if err != nil {
		t.Fatal(err)
	}
	want := readReference(t, "stats/j_separation.json").at(t, "endometrial")
	f := firth{cells: d.pooled(), columns: 4}
	top, err := f.maximise(nil, -1)
	if err != nil {
		t.Fatal(err)
	}
	covariance, _ := invertSPD(top.information)
	for k, column := range columns {
		numtest.Check(t, column, top.beta[k], want.number(t, "firth", column), numtest.Tolerance{Rel: 1e-8})
		numtest.Check(t, "SE of "+column, math.Sqrt(covariance.At(k, k)), want.number(t, "firth_se", column), numtest.Tolerance{Rel: 1e-8})
	}
	numtest.Check(t, "penalised log-likelihood", top.value, want.number(t, "penalised_logLik"), numtest.Tolerance{Abs: 1e-9})
	// The maximum of the likelihood itself is at infinity, and is seen to be.
	var not *NotEstimable
	if _, err := fitPlainLogit(d.pooled(), 4); !errors.As(err, &not) || !strings.Contains(not.Why, "separation") {
		t.Errorf("plain fit of separated data: %v", err)
	}
	if _, err := MixedLogit(cells); !errors.As(err, &not) {
		t.Errorf("mixed fit of separated data: %v", err)
	}
}

// Source: closed form (a half added to each cell), and the two-group set of
// j_separation.json.
func TestPenalisedClosedForm(t *testing.T) {
	fit, err := Penalised(tableRows(6, 0, 0, 5))
	if err != nil {
		t.Fatal(err)
	}
	want := readReference(t, "stats/j_separation.json").at(t, "two_groups_complete")
	numtest.Check(t, "log odds ratio", fit.LogOddsRatio, want.number(t, "closed_form", "x"), numtest.Tolerance{Rel: 1e-10})
	numtest.Check(t, "intercept", fit.Intercept, want.number(t, "closed_form", "intercept"), numtest.Tolerance{Rel: 1e-10})
	numtest.Check(t, "SE", fit.SE, want.number(t, "firth_se", "x"), numtest.Tolerance{Rel: 1e-6})
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.IntRange(0, 40)
		a, b, c, d := count.Draw(t, "a"), count.Draw(t, "b"), count.Draw(t, "c"), count.Draw(t, "d")
		fit, err := Penalised(tableRows(a, b, c, d))
		if a+b == 0 || c+d == 0 || a+c == 0 || b+d == 0 {
			var not *NotEstimable
			if !errors.As(err, &not) {
				t.Fatalf("%v, want not estimable", err)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		half := func(n int) float64 { return float64(n) + 0.5 }
		numtest.Check(t, "log odds ratio", fit.LogOddsRatio, math.Log(half(a)*half(d)/(half(b)*half(c))), numtest.Tolerance{Rel: 1e-9, Abs: 1e-9})
		if !(fit.CI.Low < fit.LogOddsRatio && fit.LogOddsRatio < fit.CI.High) || !(fit.P > 0 && fit.P <= 1) || !(fit.SE > 0) || len(fit.Warnings) == 0 {
			t.Fatalf("%+v", fit)
		}
		// p and the interval are the same likelihood read in two ways.
		if inside := fit.CI.Low < 0 && 0 < fit.CI.High; inside != (fit.P > 0.05) {
			t.Fatalf("p = %g with the interval %+v", fit.P, fit.CI)
		}
	})
}

// Exact bounds against R's conditional intervals in e_fisher.json.
func TestOddsBounds(t *testing.T) {
	results := readReference(t, "stats/e_fisher.json")
	for _, c := range []struct {
		name       string
		a, b, c, d int
	}{
		{"tea", 3, 1, 1, 3},
		{"convictions", 2, 15, 10, 3},
		{"zero_cell", 10, 2, 0, 8},
		{"both_zero", 9, 0, 0, 12},
	} {
		law := newTables(c.a, c.b, c.c, c.d)
		for _, side := range []struct {
			key   string
			index int
			alpha float64
			lower bool
		}{
			{"two_sided", 0, 0.025, true},
			{"two_sided", 1, 0.025, false},
			{"greater", 0, 0.05, true},
			{"less", 1, 0.05, false},
		} {
			list := results.at(t, c.name, side.key, "conf_int").value.([]any)
			want, finite := list[side.index].(float64)
			got, ok := law.oddsBound(c.a, side.alpha, side.lower)
			if ok != finite {
				t.Errorf("%s %s: bound known %v, want %v", c.name, side.key, ok, finite)
				continue
			}
			if !ok {
				continue
			}
			// R stops its root finder at 1.22e-4 in the odds ratio, or in its
			// inverse where that is the smaller number.
			odds := math.Exp(got)
			if want > 1 {
				odds, want = 1/odds, 1/want
			}
			numtest.Check(t, c.name+" "+side.key, odds, want, numtest.Tolerance{Abs: 1.3e-4})
			numtest.Check(t, c.name+" "+side.key+": tail at the bound", oddsTail(c.a, c.b, c.c, c.d, got, side.lower), side.alpha, numtest.Tolerance{Rel: 1e-10})
		}
	}
}

// oddsTail is the probability, at a log odds ratio, of tables with at least
// (lower) or at most the top left cell seen, from binomial coefficients.
func oddsTail(a, b, c, d int, logOdds float64, lower bool) float64 {
	choose := func(n, k int) float64 {
		product := 1.0
		for i := range k {
			product *= float64(n-i) / float64(i+1)
		}
		return product
	}
	var in, all float64
	for k := max(0, a-d); k <= min(a+b, a+c); k++ {
		p := choose(a+b, k) * choose(c+d, a+c-k) * math.Exp(logOdds*float64(k))
		all += p
		if lower && k >= a || !lower && k <= a {
			in += p
		}
	}
	return in / all
}

// A control that nobody ever turned to: the mixed model declines, and beside
// it stand numbers that a biologist can use.
func TestQuietControls(t *testing.T) {
	rows := tableRows(14, 11, 0, 30)
	var not *NotEstimable
	if _, err := Mixed(rows); !errors.As(err, &not) || not.Why != "nobody ever turned at a control pair, so the odds ratio has no upper end" {
		t.Errorf("mixed: %v", err)
	}
	fit, err := Penalised(rows)
	if err != nil {
		t.Fatal(err)
	}
	if !(fit.CI.Low > 1 && fit.CI.High < 12 && fit.P < 1e-4 && fit.Bounded && fit.BoundIsLower && fit.Bound > 1) {
		t.Errorf("%+v", fit)
	}
	// The other way round, every sign turns.
	mirror, err := Penalised(tableRows(0, 30, 14, 11))
	if err != nil {
		t.Fatal(err)
	}
	tol := numtest.Tolerance{Rel: 1e-8}
	numtest.Check(t, "log odds ratio", mirror.LogOddsRatio, -fit.LogOddsRatio, tol)
	numtest.Check(t, "low end", mirror.CI.Low, -fit.CI.High, tol)
	numtest.Check(t, "bound", mirror.Bound, -fit.Bound, tol)
	if mirror.BoundIsLower {
		t.Error("the bound must be the upper one")
	}
	t.Logf("%+v", fit)
}

func TestPenalisedExtremes(t *testing.T) {
	for _, c := range [][4]int{{1, 0, 0, 1}, {1, 0, 0, 50_000}, {50_000, 0, 0, 50_000}, {1, 50_000, 0, 50_000}} {
		fit, err := Penalised(tableRows(c[0], c[1], c[2], c[3]))
		if err != nil {
			t.Errorf("%v: %v", c, err)
			continue
		}
		for _, v := range []float64{fit.LogOddsRatio, fit.SE, fit.CI.Low, fit.CI.High, fit.P, fit.Bound, fit.LogLikelihood} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("%v: %+v", c, fit)
				break
			}
		}
		t.Logf("%v: %+v", c, fit)
	}
}

func TestPenalisedOrderInvariance(t *testing.T) {
	rows, _ := seasonA(t, "Raja clavata")
	want, err := Penalised(rows)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for range 20 {
		rng.Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
		if got, err := Penalised(rows); err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("%+v (%v), want %+v", got, err, want)
		}
	}
}
