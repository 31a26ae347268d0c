package app_test

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"brinefield/core/numeric/numtest"
	"brinefield/internal/app"
)

// expectedSeasonA are estimates of an invented season of known truth, made
// with a general statistics language (survival, lme4, optim, an own sandwich)
// from exposures known to about 1e-4: testdata/check/season-a.expected.json.
type expectedSeasonA struct {
	Estimates struct {
		Preference []struct {
			Species       string  `json:"species"`
			PassesActive  int     `json:"passes_active"`
			PassesControl int     `json:"passes_control"`
			TurnsActive   int     `json:"turns_active"`
			TurnsControl  int     `json:"turns_control"`
			ExactP        float64 `json:"exact_p"`
			Mixed         struct {
				LogOddsRatio float64 `json:"log_odds_ratio"`
				SE           float64 `json:"se"`
				Intercept    float64 `json:"intercept"`
				IndividualSD float64 `json:"individual_sd"`
			} `json:"mixed"`
		} `json:"preference"`
		Thresholds []struct {
			Species            string  `json:"species"`
			Passes             int     `json:"passes"`
			Individuals        int     `json:"individuals"`
			PassesUnidentified int     `json:"passes_unidentified"`
			NPMLEMedian        float64 `json:"npmle_median_R"`
			Lognormal          struct {
				Mu     float64    `json:"mu"`
				Sigma  float64    `json:"sigma"`
				LogL   float64    `json:"log_likelihood"`
				Median float64    `json:"median"`
				CI     [2]float64 `json:"ci95"`
			} `json:"lognormal"`
			Individual struct {
				Mu    float64 `json:"mu"`
				Sigma float64 `json:"sigma_within"`
				Tau   float64 `json:"sigma_individual"`
				LogL  float64 `json:"log_likelihood"`
			} `json:"lognormal_individual"`
		} `json:"thresholds"`
		Detection []struct {
			Species string     `json:"species"`
			Passes  int        `json:"passes"`
			Lapse   float64    `json:"lapse"`
			H       float64    `json:"spontaneous_per_s"`
			Mu      float64    `json:"mu"`
			Sigma   float64    `json:"sigma"`
			LogL    float64    `json:"log_likelihood"`
			Median  float64    `json:"median"`
			CI      [2]float64 `json:"ci95"`
		} `json:"detection"`
	} `json:"estimates"`
}

func readFolder(t testing.TB, path string) app.Input {
	t.Helper()
	entries, err := os.ReadDir(path)
	if err != nil {
		t.Fatal(err)
	}
	in := app.Input{}
	for _, e := range entries {
		if ext := filepath.Ext(e.Name()); ext != ".csv" && ext != ".toml" {
			continue
		}
		data, err := os.ReadFile(filepath.Join(path, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		in[e.Name()] = data
	}
	return in
}

func analyse(t testing.TB, in app.Input, opt app.AnalyseOptions) app.Findings {
	t.Helper()
	s, err := app.ReadSeason(in)
	if err != nil {
		t.Fatal(err)
	}
	if opt.Seed == 0 {
		opt.Seed = 1
	}
	a, err := app.Analyse(context.Background(), in, s, opt)
	if err != nil {
		t.Fatal(err)
	}
	return a.Findings
}

func seasonAFindings(t testing.TB) app.Findings {
	return analyse(t, readFolder(t, "../../testdata/season-a"), app.AnalyseOptions{})
}

func expected(t testing.TB) expectedSeasonA {
	t.Helper()
	data, err := os.ReadFile("../../testdata/check/season-a.expected.json")
	if err != nil {
		t.Fatal(err)
	}
	var e expectedSeasonA
	if err := json.Unmarshal(data, &e); err != nil {
		t.Fatal(err)
	}
	return e
}

func check(t *testing.T, what string, got *float64, want float64, tol numtest.Tolerance) {
	t.Helper()
	if got == nil {
		t.Errorf("%s is absent, want %g", what, want)
		return
	}
	numtest.Check(t, what, *got, want, tol)
}

func checkSpan(t *testing.T, what string, got *app.Span, want [2]float64, tol numtest.Tolerance) {
	t.Helper()
	if got == nil || got.NotEstimable != "" {
		t.Errorf("%s is absent (%+v), want %v", what, got, want)
		return
	}
	numtest.Check(t, what+" low", got.Low, want[0], tol)
	numtest.Check(t, what+" high", got.High, want[1], tol)
}

// TestSeasonAFromFolderToFindings runs the whole way: files, water, field,
// exposures, estimates. The reference exposures are good to about 1e-4, so
// estimates agree to that and not to the optimiser's precision.
func TestSeasonAFromFolderToFindings(t *testing.T) {
	got, want := seasonAFindings(t), expected(t).Estimates
	tol := numtest.Tolerance{Rel: 2e-4, Abs: 2e-4}
	interval := numtest.Tolerance{Rel: 5e-4}

	for i, w := range want.Preference {
		g := got.Preference[i]
		if g.Species != w.Species || g.PassesActive != w.PassesActive || g.PassesControl != w.PassesControl || g.TurnsActive != w.TurnsActive || g.TurnsControl != w.TurnsControl {
			t.Errorf("preference %d counts: got %+v, want %+v", i, g, w)
		}
		check(t, w.Species+" exact p", g.ExactP, w.ExactP, numtest.Tolerance{Rel: 1e-8})
		check(t, w.Species+" log odds ratio", g.Mixed.LogOddsRatio, w.Mixed.LogOddsRatio, tol)
		check(t, w.Species+" se", g.Mixed.SE, w.Mixed.SE, numtest.Tolerance{Rel: 1e-3})
		check(t, w.Species+" intercept", g.Mixed.Intercept, w.Mixed.Intercept, tol)
		check(t, w.Species+" individual sd", g.Mixed.IndividualSD, w.Mixed.IndividualSD, numtest.Tolerance{Rel: 1e-3, Abs: 1e-3})
	}
	for i, w := range want.Thresholds {
		g := got.Thresholds[i]
		if g.Species != w.Species || g.Passes != w.Passes || g.Individuals != w.Individuals || g.PassesUnidentified != w.PassesUnidentified {
			t.Errorf("thresholds %d counts: got %s %d %d %d, want %+v", i, g.Species, g.Passes, g.Individuals, g.PassesUnidentified, w)
		}
		check(t, w.Species+" lognormal mu", g.Lognormal.Mu, w.Lognormal.Mu, tol)
		check(t, w.Species+" lognormal sigma", g.Lognormal.Sigma, w.Lognormal.Sigma, tol)
		check(t, w.Species+" lognormal log likelihood", g.Lognormal.LogLikelihood, w.Lognormal.LogL, numtest.Tolerance{Abs: 0.02})
		checkSpan(t, w.Species+" lognormal interval", g.Lognormal.CI95, w.Lognormal.CI, interval)
		check(t, w.Species+" individual mu", g.LognormalIndividual.Mu, w.Individual.Mu, tol)
		check(t, w.Species+" sigma within", g.LognormalIndividual.SigmaWithin, w.Individual.Sigma, tol)
		check(t, w.Species+" sigma individual", g.LognormalIndividual.SigmaIndividual, w.Individual.Tau, numtest.Tolerance{Rel: 1e-3, Abs: 1e-3})
		if m := g.NPMLE.MedianInterval; m == nil || w.NPMLEMedian < m.Low*(1-1e-4) || w.NPMLEMedian > m.High*(1+1e-4) {
			t.Errorf("%s: reference median %g of the step curve outside the median interval %+v", w.Species, w.NPMLEMedian, m)
		}
	}
	for i, w := range want.Detection {
		g := got.Detection[i]
		if g.Species != w.Species || g.Passes != w.Passes {
			t.Errorf("detection %d: got %s with %d passes, want %s with %d", i, g.Species, g.Passes, w.Species, w.Passes)
		}
		check(t, w.Species+" detection mu", g.Mu, w.Mu, tol)
		check(t, w.Species+" detection sigma", g.Sigma, w.Sigma, numtest.Tolerance{Rel: 5e-4})
		check(t, w.Species+" lapse", g.Lapse, w.Lapse, numtest.Tolerance{Abs: 2e-4})
		check(t, w.Species+" spontaneous", g.SpontaneousPerS, w.H, numtest.Tolerance{Rel: 5e-4})
		check(t, w.Species+" detection log likelihood", g.LogLikelihood, w.LogL, numtest.Tolerance{Abs: 0.02})
		check(t, w.Species+" detection median", g.Median, w.Median, interval)
		checkSpan(t, w.Species+" detection interval", g.CI95, w.CI, interval)
	}
}
