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

// passes makes n rows at a level, turned of which are turns.
func passes(level float64, active bool, turned, n int) []CurveRow {
	rows := make([]CurveRow, n)
	for k := range rows {
		rows[k] = CurveRow{LevelNVPerCm: level, Active: active, Turned: k < turned}
	}
	return rows
}

// Two-choice data, 90 answers at each of 13 levels. Source: public copies of a
// demonstration set; maximum-likelihood values recomputed. The published curve
// is normal in the level itself, so the level here is its exponential: ln level
// is then 1000 times the published level, and slope and median those of the
// published μ and σ. The published lapse λ is a share of all answers, ours of
// those not guessed: λ/(1 − γ).
func TestCurveTwoChoice(t *testing.T) {
	correct := []int{45, 50, 44, 44, 52, 53, 62, 64, 76, 79, 88, 90, 90}
	levels := []float64{1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 6.0, 7.0, 8.0, 10.0}
	var rows []CurveRow
	for k, level := range levels {
		rows = append(rows, passes(math.Exp(level), true, correct[k], 90)...)
	}
	for _, c := range []struct {
		name                      string
		lapse                     float64 // published λ; negative: estimated
		mu, sigma, minusLogLik    float64
		se                        float64
		tolMu, tolSigma, tolLogLi float64
	}{
		{"no lapse", 0, 4.647817, 1.416257, 565.955165, 0.1491, 6e-7, 6e-7, 6e-7},
		{"lapse 0.01", 0.01, 4.593499, 1.361182, 567.658405, 0, 6e-7, 6e-7, 6e-7},
		{"lapse 0.02", 0.02, 4.541568, 1.310815, 569.482103, 0, 6e-7, 6e-7, 6e-7},
		{"lapse free", -1, 4.647817, 1.416257, 565.955165, 0.1491, 6e-7, 6e-7, 6e-7},
	} {
		t.Run(c.name, func(t *testing.T) {
			options := []CurveOption{FixGuess(0.5)}
			if c.lapse >= 0 {
				options = append(options, FixLapse(c.lapse/(1-0.5)))
			}
			fit, err := Curve(rows, options...)
			if err != nil {
				t.Fatal(err)
			}
			numtest.Check(t, "μ", math.Log(fit.Median), c.mu, numtest.Tolerance{Abs: c.tolMu})
			numtest.Check(t, "σ", 1/fit.Slope, c.sigma, numtest.Tolerance{Abs: c.tolSigma})
			numtest.Check(t, "−log-likelihood", -fit.LogLikelihood, c.minusLogLik, numtest.Tolerance{Abs: c.tolLogLi})
			if c.se > 0 {
				numtest.Check(t, "SE of μ", fit.LogMedianSE, c.se, numtest.Tolerance{Rel: 5e-3})
			}
			if onEdge := reflect.DeepEqual(fit.Boundary, []string{"lapse"}); onEdge != (c.lapse < 0) {
				t.Errorf("boundary %v", fit.Boundary)
			}
		})
	}
}

// logisticLink serves the published sets, which use it; the project's own link
// is the normal one. Everything else of the likelihood is the same.
func logisticLink(u float64) (F, rest, f, df float64) {
	p, q, _, _ := logistic(u)
	return p, q, p * q, p * q * (q - p)
}

func fitWith(l link, rows []CurveRow, options ...CurveOption) (CurveFit, error) {
	m := &curveModel{link: l}
	for _, o := range options {
		o(m)
	}
	if err := m.count(rows); err != nil {
		return CurveFit{}, err
	}
	return m.fit()
}

// checkPublished compares with a published fit in log10 of the level, whose
// lapse is a share of all passes: ours is lapse/(1 − guess).
func checkPublished(t *testing.T, fit CurveFit, want reference) {
	t.Helper()
	guess, lapse := want.number(t, "guess"), want.number(t, "lapse")
	se := want.number(t, "se", "a")
	numtest.Check(t, "midpoint", math.Log10(fit.Median), want.number(t, "a_midpoint_log10"), numtest.Tolerance{Abs: 1e-4 * se})
	numtest.Check(t, "slope", fit.Slope*math.Ln10, want.number(t, "b_slope_per_log10"), numtest.Tolerance{Abs: 1e-4 * want.number(t, "se", "b")})
	numtest.Check(t, "guess", fit.Guess, guess, numtest.Tolerance{Abs: 1e-6})
	numtest.Check(t, "lapse", fit.Lapse*(1-fit.Guess), lapse, numtest.Tolerance{Abs: 2e-6})
	numtest.Check(t, "log-likelihood", fit.LogLikelihood, want.number(t, "logLik_without_binomial_coefficients"), numtest.Tolerance{Abs: 1e-7})
	numtest.Check(t, "SE of the midpoint", fit.LogMedianSE/math.Ln10, se, numtest.Tolerance{Rel: 1e-4})
}

// Source: g_ecc2.json, g_menarche.json and g_invented.json.
func TestCurvePublished(t *testing.T) {
	detection := readTable(t, "stats/g_ecc2_detection.csv")
	results := readReference(t, "stats/g_ecc2.json")
	for _, size := range []string{"12.4", "20.6", "41.3", "83"} {
		t.Run("letters "+size, func(t *testing.T) {
			var rows []CurveRow
			for _, r := range detection {
				if r["letter_size"] == size {
					rows = append(rows, passes(number(t, r["contrast"]), true, int(number(t, r["correct"])), int(number(t, r["n"])))...)
				}
			}
			fit, err := Curve(rows, FixGuess(0.25), FixLapse(0))
			if err != nil {
				t.Fatal(err)
			}
			checkPublished(t, fit, results.at(t, "size_"+size, "probit_guess_025"))
			for _, c := range []struct {
				key     string
				options []CurveOption
			}{
				{"logistic_guess_025", []CurveOption{FixGuess(0.25), FixLapse(0)}},
				{"logistic_guess_025_free_lapse", []CurveOption{FixGuess(0.25)}},
			} {
				fit, err := fitWith(logisticLink, rows, c.options...)
				if err != nil {
					t.Fatal(err)
				}
				checkPublished(t, fit, results.at(t, "size_"+size, c.key))
			}
		})
	}
	t.Run("menarche", func(t *testing.T) {
		var rows []CurveRow // x is the plain age: the level is ten to its power
		for _, r := range readTable(t, "stats/g_menarche.csv") {
			rows = append(rows, passes(math.Pow(10, number(t, r["Age"])), true, int(number(t, r["Menarche"])), int(number(t, r["Total"])))...)
		}
		fit, err := fitWith(logisticLink, rows, FixGuess(0), FixLapse(0))
		if err != nil {
			t.Fatal(err)
		}
		checkPublished(t, fit, readReference(t, "stats/g_menarche.json").at(t, "psy_fit"))
	})
	invented := readReference(t, "stats/g_invented.json")
	t.Run("fixed", func(t *testing.T) {
		var rows []CurveRow
		for _, r := range readTable(t, "stats/g_invented_fixed.csv") {
			rows = append(rows, passes(number(t, r["field_nV_cm"]), true, int(number(t, r["responses"])), int(number(t, r["n"])))...)
		}
		fit, err := fitWith(logisticLink, rows, FixGuess(0.1), FixLapse(0.02/0.9))
		if err != nil {
			t.Fatal(err)
		}
		checkPublished(t, fit, invented.at(t, "fixed_guess_lapse"))
	})
	var joint, active []CurveRow
	for _, r := range readTable(t, "stats/g_invented_joint.csv") {
		row := CurveRow{Active: r["pair"] == "active", Turned: r["responded"] == "1"}
		if row.Active { // control rows have no level
			row.LevelNVPerCm = number(t, r["field_nV_cm"])
		}
		joint = append(joint, row)
		if row.Active {
			active = append(active, row)
		}
	}
	for _, c := range []struct {
		key     string
		rows    []CurveRow
		options []CurveOption
	}{
		{"joint_guess_lapse_free", joint, nil},
		{"joint_guess_free_lapse_0", joint, []CurveOption{FixLapse(0)}},
		{"active_rows_only_guess_lapse_free", active, nil},
		{"active_rows_guess_plugged_from_control_lapse_0", active, []CurveOption{FixGuess(0.115), FixLapse(0)}},
	} {
		t.Run(c.key, func(t *testing.T) {
			fit, err := fitWith(logisticLink, c.rows, c.options...)
			if err != nil {
				t.Fatal(err)
			}
			checkPublished(t, fit, invented.at(t, c.key))
		})
	}
}

// The project-shape sets, as the contract's curve would read them had their
// fields been set by the experimenter; published with the logistic link.
func TestCurveProjectShape(t *testing.T) {
	for _, name := range []string{"p1_two_species", "p3_psychometric"} {
		t.Run(name, func(t *testing.T) {
			var rows []CurveRow
			for _, r := range readTable(t, "stats/"+name+".csv") {
				dose := r["field_low_nV_cm"]
				if r["responded"] == "1" {
					dose = r["field_high_nV_cm"]
				}
				rows = append(rows, CurveRow{LevelNVPerCm: number(t, dose), Active: r["pair"] == "active", Turned: r["responded"] == "1"})
			}
			fit, err := fitWith(logisticLink, rows)
			if err != nil {
				t.Fatal(err)
			}
			checkPublished(t, fit, readReference(t, "stats/"+name+".json").at(t, "psychometric", "joint_guess_free_lapse_free"))
		})
	}
}

func TestCurveDerivatives(t *testing.T) {
	var rows []CurveRow
	for k, level := range []float64{0, 0.5, 2, 5, 9, 30} {
		rows = append(rows, passes(level, true, 2*k+1, 14)...)
	}
	rows = append(rows, passes(0, false, 3, 20)...)
	for _, l := range []link{normalLink, logisticLink} {
		m := &curveModel{link: l}
		if err := m.count(rows); err != nil {
			t.Fatal(err)
		}
		for _, at := range []curvePoint{{0.1, 0.05, 1.5, 0.3}, {0.3, 0.2, 0, -0.5}, {0.01, 0.4, 2.5, 0.8}} {
			_, gradient, hessian := m.likelihood(at)
			const h = 1e-6
			for i := range curveSize {
				up, down := at, at
				up[i] += h
				down[i] -= h
				upValue, upGradient, _ := m.likelihood(up)
				downValue, downGradient, _ := m.likelihood(down)
				numtest.Check(t, "gradient", gradient[i], (upValue-downValue)/(2*h), numtest.Tolerance{Rel: 1e-6, Abs: 1e-6})
				for j := range curveSize {
					numtest.Check(t, "Hessian", hessian[i][j], (upGradient[j]-downGradient[j])/(2*h), numtest.Tolerance{Rel: 1e-6, Abs: 1e-5})
				}
			}
		}
	}
}

func TestCurveNotEstimable(t *testing.T) {
	concat := func(parts ...[]CurveRow) []CurveRow {
		var all []CurveRow
		for _, p := range parts {
			all = append(all, p...)
		}
		return all
	}
	control := passes(0, false, 4, 40)
	for _, c := range []struct {
		name string
		rows []CurveRow
		why  string
	}{
		{"empty", nil, "two or more levels"},
		{"controls only", control, "two or more levels"},
		{"one level", concat(control, passes(5, true, 3, 9), passes(0, true, 0, 9)), "there are 1"},
		{"nobody turned", concat(control, passes(5, true, 0, 9), passes(9, true, 0, 9)), "nobody ever turned"},
		{"everybody turned", concat(control, passes(5, true, 9, 9), passes(9, true, 9, 9)), "every pass"},
		{"a step", concat(passes(0, false, 0, 40), passes(5, true, 0, 30), passes(9, true, 30, 30)), "as a step"},
		{"falls with the level", concat(control, passes(2, true, 25, 30), passes(5, true, 15, 30), passes(20, true, 4, 30)), "do not become more frequent"},
	} {
		t.Run(c.name, func(t *testing.T) {
			fit, err := Curve(c.rows)
			var not *NotEstimable
			if !errors.As(err, &not) || !strings.Contains(not.Why, c.why) {
				t.Errorf("%+v, %v; want not estimable with %q", fit, err, c.why)
			}
		})
	}
}

func TestCurveRefusals(t *testing.T) {
	good := append(passes(5, true, 3, 9), passes(9, true, 7, 9)...)
	var not *NotEstimable
	for _, level := range []float64{-1, math.NaN(), math.Inf(1)} {
		_, err := Curve(append(passes(level, true, 1, 1), good...))
		if err == nil || errors.As(err, &not) || !strings.Contains(err.Error(), "row 0") {
			t.Errorf("level %g: %v", level, err)
		}
	}
	for _, option := range []CurveOption{FixGuess(1), FixGuess(-0.1), FixLapse(math.NaN()), FixLapse(2)} {
		if _, err := Curve(good, option); err == nil || errors.As(err, &not) || !strings.Contains(err.Error(), "is held at") {
			t.Errorf("%v", err)
		}
	}
	// Where the pair was not active the level is not used, whatever it says.
	withControl := append(passes(math.NaN(), false, 1, 20), good...)
	if _, err := Curve(withControl); err != nil && !errors.As(err, &not) {
		t.Errorf("a control without a level: %v", err)
	}
}

// A known truth is found again, and the order of the rows changes no bit.
func TestCurveRecoversTruth(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	const guess, lapse, median, slope = 0.08, 0.1, 12.0, 1.8
	var rows []CurveRow
	for k := range 12_000 {
		row := CurveRow{LevelNVPerCm: []float64{1, 3, 6, 12, 24, 60, 150}[k%7], Active: k%3 != 0}
		p := guess
		if row.Active {
			F, _, _, _ := normalLink(slope * math.Log(row.LevelNVPerCm/median))
			p += (1 - guess) * (1 - lapse) * F
		}
		row.Turned = rng.Float64() < p
		rows = append(rows, row)
	}
	fit, err := Curve(rows)
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "guess", fit.Guess, guess, numtest.Tolerance{Abs: 0.012})
	numtest.Check(t, "lapse", fit.Lapse, lapse, numtest.Tolerance{Abs: 0.03})
	numtest.Check(t, "ln median", math.Log(fit.Median), math.Log(median), numtest.Tolerance{Abs: 3 * fit.LogMedianSE})
	numtest.Check(t, "slope", fit.Slope, slope, numtest.Tolerance{Abs: 3 * fit.SlopeSE})
	if fit.LogMedianSE > 0.05 || len(fit.Boundary) > 0 || !(fit.Median95.Low < median && median < fit.Median95.High) {
		t.Errorf("%+v", fit)
	}
	for range 5 {
		rng.Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
		if again, err := Curve(rows); err != nil || !reflect.DeepEqual(again, fit) {
			t.Fatalf("another order: %+v (%v), want %+v", again, err, fit)
		}
	}
}

// Whatever the table, the answer is finite, is no worse than places near by,
// or says why there is none.
func TestCurveNeverNonsense(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) CurveRow {
			return CurveRow{
				LevelNVPerCm: rapid.SampledFrom([]float64{0, 1e-3, 1, 2, 5, 20, 1e6}).Draw(t, "level"),
				Active:       rapid.IntRange(0, 3).Draw(t, "active") > 0,
				Turned:       rapid.Bool().Draw(t, "turned"),
			}
		}), 0, 60).Draw(t, "rows")
		fit, err := Curve(rows)
		var not *NotEstimable
		if err != nil {
			if !errors.As(err, &not) {
				t.Fatal(err)
			}
			return
		}
		for k, v := range []float64{fit.Guess, fit.Lapse, fit.Median, fit.Slope, fit.LogLikelihood, fit.LogMedianSE, fit.SlopeSE, fit.Median95.Low, fit.Median95.High} {
			if math.IsNaN(v) || math.IsInf(v, 0) || k < 4 && v < 0 {
				t.Fatalf("value %d is %g: %+v", k, v, fit)
			}
		}
		m := &curveModel{link: normalLink}
		if err := m.count(rows); err != nil {
			t.Fatal(err)
		}
		at := curvePoint{fit.Guess, fit.Lapse, math.Log(fit.Median), math.Log(fit.Slope)}
		for i := range curveSize {
			for _, by := range []float64{-0.05, 0.05} {
				moved := at
				moved[i] += by
				if i <= lapseAt && (moved[i] < 0 || moved[i] > 1) {
					continue
				}
				if value, _, _ := m.likelihood(moved); value > fit.LogLikelihood+1e-7 {
					t.Fatalf("moving parameter %d by %g gains %g: %+v", i, by, value-fit.LogLikelihood, fit)
				}
			}
		}
	})
}

func BenchmarkCurve(b *testing.B) {
	rng := rand.New(rand.NewPCG(5, 6))
	rows := make([]CurveRow, 20_000)
	for k := range rows {
		level := math.Exp(3 * rng.Float64())
		F, _, _, _ := normalLink(math.Log(level / 4))
		rows[k] = CurveRow{LevelNVPerCm: level, Active: k%3 != 0, Turned: rng.Float64() < 0.1+0.8*F*indicator(k%3 != 0)}
	}
	for b.Loop() {
		if _, err := Curve(rows); err != nil {
			b.Fatal(err)
		}
	}
}
