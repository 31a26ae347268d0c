package app_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"brinefield/internal/app"
)

// Each test here is a reason for which a biologist would put the program away
// in the first hour.

const catshark = "Scyliorhinus canicula"

func ofSpecies[T any](t *testing.T, rows []T, name func(T) string, species string) T {
	t.Helper()
	for _, r := range rows {
		if name(r) == species {
			return r
		}
	}
	t.Fatalf("no row for %s", species)
	panic("unreachable")
}

func detectionOf(t *testing.T, f app.Findings, species string) app.Detection {
	return ofSpecies(t, f.Detection, func(d app.Detection) string { return d.Species }, species)
}

func thresholdsOf(t *testing.T, f app.Findings, species string) app.Thresholds {
	return ofSpecies(t, f.Thresholds, func(d app.Thresholds) string { return d.Species }, species)
}

func TestTwentyTwoAnimalsAreNotShownAsTwentyNine(t *testing.T) {
	f := seasonAFindings(t)
	th := thresholdsOf(t, f, catshark)
	if th.Individuals != 22 || th.PassesUnidentified != 8 {
		t.Errorf("%d animals and %d unidentified passes, want 22 and 8", th.Individuals, th.PassesUnidentified)
	}
	if d := detectionOf(t, f, catshark); d.Individuals >= 29 {
		t.Errorf("the headline counts %d animals", d.Individuals)
	}
}

func TestHeadlineIsNearTheTruthWhereTheSimplerModelIsNot(t *testing.T) {
	f := seasonAFindings(t)
	d, th := detectionOf(t, f, catshark), thresholdsOf(t, f, catshark)
	const truth = 31.0
	if d.CI95.Low > truth || d.CI95.High < truth || *d.Median < truth/1.15 || *d.Median > truth*1.15 {
		t.Errorf("headline %.3g (%.3g–%.3g): the truth is %g", *d.Median, d.CI95.Low, d.CI95.High, truth)
	}
	if *th.Lognormal.Median < 40 {
		t.Errorf("the lognormal median is %.3g: this season no longer shows what the headline is for", *th.Lognormal.Median)
	}
	if len(th.Lognormal.Ignores) == 0 {
		t.Error("the simpler model does not say what it ignores")
	}
}

func TestBiteWithoutAnOnsetIsAResponse(t *testing.T) {
	in := readFolder(t, "../../testdata/season-a")
	before := analyse(t, in, app.AnalyseOptions{Only: []string{"preference"}})
	// P00009 passed the active pair without a turn: on deck somebody saw a bite.
	in["passes.csv"] = bytes.Replace(in["passes.csv"], []byte("SC13,small-spotted catshark,D,no,no,V0005"), []byte("SC13,small-spotted catshark,D,,yes,V0005"), 1)
	after := analyse(t, in, app.AnalyseOptions{Only: []string{"preference", "passes"}})
	if got, want := after.Preference[0].TurnsActive, before.Preference[0].TurnsActive+1; got != want {
		t.Errorf("turns at active pairs: %d, want %d", got, want)
	}
	for _, p := range after.Passes {
		if p.Pass == "P00009" {
			if p.Used == nil || !*p.Used || p.FieldLow == nil || *p.FieldLow != 0 || p.FieldHigh == nil || *p.FieldHigh < 11 {
				t.Errorf("the pass is %+v: want it used, from 0 to the largest field on its track", p)
			}
		}
	}
}

func TestControlThatNobodyTurnedToStillHasAnAnswer(t *testing.T) {
	table := "pass,trial,individual,species,pair,turned,field_low_nV_per_cm,field_high_nV_per_cm\n"
	for i := range 12 {
		id := string(rune('A' + i))
		table += "a" + id + ",T1," + id + ",Raja clavata,active," + map[bool]string{true: "yes,5,20", false: "no,15,"}[i%3 > 0] + "\n"
		table += "c" + id + ",T1," + id + ",Raja clavata,control,no,0.2,\n"
	}
	f, err := app.Infer("table.csv", []byte(table), app.InferOptions{})
	if err != nil {
		t.Fatal(err)
	}
	p := f.Preference[0]
	if p.Mixed.NotEstimable == "" || !strings.Contains(p.Mixed.NotEstimable, "control") {
		t.Errorf("mixed: %+v, want a reason that names the control", p.Mixed)
	}
	if p.Penalised == nil || p.Penalised.LogOddsRatio == nil || *p.Penalised.LogOddsRatio < 1 {
		t.Errorf("beside it there is no finite estimate: %+v", p.Penalised)
	}
	if p.ExactP == nil || *p.ExactP > 0.01 {
		t.Errorf("exact p = %v", p.ExactP)
	}
}

func TestNumbersThatTheTradePublishes(t *testing.T) {
	f := seasonAFindings(t)
	for _, d := range f.Descriptive {
		if d.N == 0 || d.Median == nil || d.Q1 == nil || d.Q3 == nil || d.Smallest == nil || d.LongestDistanceCm == nil || d.ShareBelow5 == nil || d.ShareBelow20 == nil || d.Textbook.Median == nil || d.Textbook.Smallest == nil {
			t.Errorf("%s lacks a number: %+v", d.Species, d)
			continue
		}
		// The textbook form is zero beside a pair, so its smallest value lies
		// below that of the field itself (REFERENCES: trap of the cosine).
		if *d.Textbook.Smallest >= *d.Smallest {
			t.Errorf("%s: smallest textbook field %g is not below the smallest field %g", d.Species, *d.Textbook.Smallest, *d.Smallest)
		}
	}
}

func TestOldSpreadsheetCanBeRead(t *testing.T) {
	f := analyse(t, readFolder(t, "../../examples/01-old-spreadsheet"), app.AnalyseOptions{})
	used := 0
	for _, p := range f.Passes {
		if p.Used != nil && *p.Used && p.FieldLow != nil {
			used++
		}
	}
	if used == 0 || len(f.Thresholds) == 0 {
		t.Fatalf("nothing came of the old spreadsheet: %d usable passes", used)
	}
	exact := analyse(t, readFolder(t, "../../examples/01-old-spreadsheet"), app.AnalyseOptions{TreatOldAsExact: true})
	if len(exact.Warnings) == 0 {
		t.Error("taking old fields as exact is not labelled")
	}
}

func TestDocumentsHoldNoNaNAndNoNullLists(t *testing.T) {
	f := seasonAFindings(t)
	data, err := json.Marshal(f) // fails on NaN and infinities
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{`"warnings":null`, `"boundary":null`, `"support":null`, `"sensitivity":null`} {
		if bytes.Contains(data, []byte(key)) {
			t.Errorf("the document holds %s", key)
		}
	}
}

func TestAnalysisCanBeStopped(t *testing.T) {
	in := readFolder(t, "../../testdata/season-a")
	s, err := app.ReadSeason(in)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	_, err = app.Analyse(ctx, in, s, app.AnalyseOptions{Progress: func(stage string, done, _ int) {
		if stage == "Exposures" && done > 0 {
			cancel()
		}
	}})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error = %v, want it cancelled", err)
	}
}
