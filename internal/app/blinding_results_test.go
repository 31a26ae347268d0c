package app_test

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"brinefield/internal/app"
)

// While a trial is sealed a pass shows the phantom field of each µA, and no
// other; times the current that is the phantom field that it shows once its
// trial is opened, at every time that both show. 1e-6 is the tolerance of the
// field's tables.
func TestSealedPassShowsTheFieldOfEachMicroampere(t *testing.T) {
	blind, _, _ := blindBay(t)
	open, _, _ := bay(t, app.ImportRequest{})
	settled(t, blind)
	settled(t, open)
	for _, c := range []struct {
		pass      string
		currentUA float64
	}{{"P1", 9}, {"P2", 9}, {"P3", 9}, {"P4", 6}} {
		sealed, err := blind.Pass(t.Context(), c.pass)
		if err != nil {
			t.Fatal(err)
		}
		shown, err := open.Pass(t.Context(), c.pass)
		if err != nil {
			t.Fatal(err)
		}
		phantom := map[float64]float64{}
		for _, p := range shown.Track {
			if p.PerUA != nil || p.Phantom == nil {
				t.Fatalf("%s, opened: %+v", c.pass, p)
			}
			phantom[p.TimeS] = *p.Phantom
		}
		both := 0
		for _, p := range sealed.Track {
			if p.Field != nil || p.Phantom != nil || p.PerUA == nil {
				t.Fatalf("%s, sealed: %+v", c.pass, p)
			}
			if want, ok := phantom[p.TimeS]; ok {
				both++
				if got := *p.PerUA * c.currentUA; math.Abs(got-want) > 1e-6*want {
					t.Errorf("%s at %g s: %g, want %g", c.pass, p.TimeS, got, want)
				}
			}
		}
		for _, p := range sealed.Fixes {
			if p.PerUA != nil {
				t.Errorf("%s: a fix has a field", c.pass)
			}
		}
		if both < 300 {
			t.Errorf("%s: %d times in common of %d and %d", c.pass, both, len(sealed.Track), len(shown.Track))
		}
	}
}

// Every export of a study says what was changed after the opening, and says
// nothing where nothing was; an import neither reads it nor wonders at it.
func TestExportsAreMarked(t *testing.T) {
	const file = "changed-after-opening.csv"
	b, _, s := bay(t, app.ImportRequest{Author: "Aoife Byrne"})
	exports := func() map[string]app.Input {
		t.Helper()
		out := map[string]app.Input{"zip": unzipped(t, b)}
		for _, journal := range []bool{false, true} {
			files, err := b.ExportStudy(t.Context(), journal)
			if err != nil {
				t.Fatal(err)
			}
			out[fmt.Sprint("export, journal ", journal)] = files
		}
		return out
	}
	for what, files := range exports() {
		if files[file] != nil || strings.Contains(string(files["README.txt"]), file) {
			t.Errorf("%s: marked, and nothing was changed", what)
		}
	}
	edited(t, b, app.EditRequest{Author: "Tom Kett", Reason: "a comma, and \"quotes\"", Changes: []app.CellChange{{Kind: "pass", ID: "P1", Field: "note", To: "x"}}})
	want := regexp.MustCompile(`^kind,id,trial,field,from,to,when,by,reason,entry,made\npass,P1,T1,note,,x,2026-06-11T10:00:00\+01:00,Tom Kett,"a comma, and ""quotes""",[0-9a-f-]{36},after\n$`)
	for what, files := range exports() {
		if !want.Match(files[file]) {
			t.Errorf("%s: %s", what, files[file])
		}
		if readme := string(files["README.txt"]); readme != "" && !strings.Contains(readme, file+"\n    every value") {
			t.Errorf("%s: README.txt does not explain it", what)
		}
	}
	again, err := s.Plan(t.Context(), app.PlanRequest{Study: "bay", Files: upload(exports()["export, journal true"])})
	if err != nil || len(again.Warnings) != 0 || len(again.Changes) != 0 || len(again.Faults) != 0 {
		t.Errorf("imported again: %+v, %v", again, err)
	}
	odd := exports()["zip"]
	odd["notes.csv"] = []byte("x\n")
	if again, err = s.Plan(t.Context(), app.PlanRequest{Study: "bay", Files: upload(odd)}); err != nil || len(again.Warnings) != 1 || strings.Contains(again.Warnings[0], file) {
		t.Errorf("an unknown file: %q, %v", again.Warnings, err)
	}
}

// Documents of results say it too, those that were kept before the change as
// well.
func TestResultsAreMarked(t *testing.T) {
	b, _, _ := bay(t, app.ImportRequest{Author: "Aoife Byrne"})
	marked := func() (findings, table, document []string, warned int) {
		t.Helper()
		settled(t, b)
		f, err := b.Findings(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		a, err := b.AnalyseStudy(t.Context(), app.AnalyseOptions{})
		if err != nil {
			t.Fatal(err)
		}
		for _, list := range [][]string{f.Warnings, a.Findings.Warnings} {
			for _, w := range list {
				if strings.Contains(w, "after the active pair of the trial was opened") {
					warned++
					findings = append(findings, w)
				}
			}
		}
		for _, p := range a.Findings.Passes {
			if p.AfterOpening {
				document = append(document, p.Pass)
			}
		}
		v, err := b.Exposures(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range v.Rows {
			if r.AfterOpening {
				table = append(table, r.Pass)
			}
			pass, err := b.Pass(t.Context(), r.Pass)
			if err != nil || pass.Row.AfterOpening != r.AfterOpening {
				t.Errorf("pass %s: %v, %v", r.Pass, pass.Row.AfterOpening, err)
			}
		}
		return findings, table, document, warned
	}
	if sentences, table, document, n := marked(); n != 0 || len(table)+len(document) != 0 {
		t.Errorf("nothing was changed: %q, %v, %v", sentences, table, document)
	}
	set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "P2", Field: "note", To: "x"}, app.CellChange{Kind: "trial", ID: "T3", Field: "note", From: "swell", To: "calm"})
	set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "P2", Field: "note", From: "x"}, app.CellChange{Kind: "trial", ID: "T3", Field: "note", From: "calm", To: "swell"})
	sentences, table, document, n := marked() // the data are again those of the kept results
	if n != 2 || !strings.HasPrefix(sentences[0], "4 values were recorded") || !strings.Contains(sentences[0], "concerned: 1)") {
		t.Errorf("%q", sentences)
	}
	if !slices.Equal(table, []string{"P2"}) || !slices.Equal(document, table) {
		t.Errorf("table %v, document %v", table, document)
	}
}
