package main

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"brinefield/core/season"
	"brinefield/internal/app"
)

// The results of a study are those of its season folder, bit for bit: at
// first, and read back from what was kept.
func TestResultsAreThoseOfTheFolder(t *testing.T) {
	dir, clock, in := t.TempDir(), newClock(), smallSeason(t)
	d := openDesk(t, dir, clock)
	s := d.importNew(t, "bay", in, app.ImportRequest{})
	if v := must(s.Results(t.Context())); v.State != "running" {
		t.Errorf("first opened, the results are %s; want running", v.State)
	}
	if v := waitFor(t, s); v.State != "current" || v.Shown != v.Data || v.Since != 0 {
		t.Fatalf("%+v", v)
	}
	folder, err := app.ReadSeason(in)
	if err != nil {
		t.Fatal(err)
	}
	canonical, err := season.Write(folder)
	if err != nil {
		t.Fatal(err)
	}
	loose := app.Open(t.Context(), "bay", app.Input(canonical), false, app.AnalyseOptions{Seed: 1, Program: program()})
	for loose.Progress().State == "running" {
		time.Sleep(10 * time.Millisecond)
	}
	want := pagesOf(t, app.Loose(loose))
	if got := pagesOf(t, s); got != want {
		t.Error("the pages of the study are not those of its season folder")
	}
	d.close(t)
	again := openDesk(t, dir, clock).study(t, "bay")
	if v := must(again.Results(t.Context())); v.State != "current" {
		t.Fatalf("opened again: %+v", v)
	}
	if got := pagesOf(t, again); got != want {
		t.Error("what was kept is not what was found")
	}
}

type resultPages interface {
	Findings(ctx context.Context) (app.Findings, error)
	Curves(ctx context.Context) (app.CurvesView, error)
	Exposures(ctx context.Context) (app.ExposuresView, error)
	Pass(ctx context.Context, id string) (app.PassView, error)
}

// pagesOf is all that the pages of results show, without what they mark as
// changed after the opening: that is of the journal, and
// stays when the data are those of before.
func pagesOf(t *testing.T, s resultPages) string {
	t.Helper()
	ctx := t.Context()
	findings := must(s.Findings(ctx))
	findings.Warnings = slices.DeleteFunc(slices.Clone(findings.Warnings), func(w string) bool {
		return strings.Contains(w, "after the active pair of the trial was opened")
	})
	out := []string{asJSON(t, findings), asJSON(t, must(s.Curves(ctx)))}
	table := must(s.Exposures(ctx))
	table.Rows = slices.Clone(table.Rows)
	for i := range table.Rows {
		table.Rows[i].AfterOpening = false
	}
	out = append(out, asJSON(t, table))
	for _, row := range []int{0, len(table.Rows) / 2, len(table.Rows) - 1} {
		pass := must(s.Pass(ctx, table.Rows[row].Pass))
		pass.Row.AfterOpening = false
		out = append(out, asJSON(t, pass))
	}
	return strings.Join(out, "\n")
}

func TestResultsGoOutOfDateAndComeBack(t *testing.T) {
	dir, clock := t.TempDir(), newClock()
	d := openDesk(t, dir, clock)
	s := d.importNew(t, "bay", smallSeason(t), app.ImportRequest{})
	waitFor(t, s)
	before := pagesOf(t, s)

	// A caution is no data.
	if _, err := s.Edit(t.Context(), app.EditRequest{Add: []app.NewRow{{Kind: "permit", ID: "1", Fields: map[string]string{"what": "tank licence (invented)"}}}}); err != nil {
		t.Fatal(err)
	}
	if v := must(s.Results(t.Context())); v.State != "current" || v.Since != 0 {
		t.Errorf("after a permit: %+v", v)
	}

	entry := edit(t, s, "pass", "P00001", "turned", "no", "yes")
	v := must(s.Results(t.Context()))
	if v.State != "out_of_date" || v.Since != 2 || v.Shown == v.Data || v.Data == "" {
		t.Errorf("after an edit: %+v", v)
	}
	d.close(t)

	// Opened again, the old results are shown as such; a pass of them cannot be
	// drawn, because their data are gone.
	d = openDesk(t, dir, clock)
	s = d.study(t, "bay")
	if v := must(s.Results(t.Context())); v.State != "out_of_date" || v.Since != 2 {
		t.Errorf("opened again: %+v", v)
	}
	if _, err := s.Pass(t.Context(), "P00001"); !errors.Is(err, app.ErrDataGone) && err != nil {
		t.Errorf("a pass of old results: %v", err)
	}
	if v := waitFor(t, s); v.State == "out_of_date" { // slow machine: it is not repeated without being asked
		if v := must(s.Analyse(t.Context())); v.State != "running" || v.Progress == nil {
			t.Errorf("asked for: %+v", v)
		}
	}
	if v := waitFor(t, s); v.State != "current" {
		t.Fatalf("worked out again: %+v", v)
	}
	if pagesOf(t, s) == before {
		t.Error("a turn more changes nothing")
	}

	// Taken back, the data are those of before, and so are the results: at once.
	if _, err := s.Undo(t.Context(), app.UndoRequest{Entry: entry}); err != nil {
		t.Fatal(err)
	}
	if v := must(s.Results(t.Context())); v.State != "current" {
		t.Errorf("after undo: %+v", v)
	}
	if pagesOf(t, s) != before {
		t.Error("after undo the results are not those of before")
	}
	if _, err := s.Pass(t.Context(), "P99999"); !errors.Is(err, app.ErrUnknownPass) {
		t.Errorf("an unknown pass: %v", err)
	}
}

func TestResultsOfAnIncompleteStudy(t *testing.T) {
	d := openDesk(t, t.TempDir(), newClock())
	if _, err := d.Create(t.Context(), app.NewStudyRequest{Study: "new", Title: "New (invented)"}); err != nil {
		t.Fatal(err)
	}
	s := d.study(t, "new")
	v := waitFor(t, s)
	if v.State != "incomplete" || len(v.Faults) == 0 || v.Shown != "" {
		t.Errorf("%+v", v)
	}
	if _, err := s.Findings(t.Context()); !errors.Is(err, app.ErrIncomplete) {
		t.Errorf("findings: %v", err)
	}
	if v := must(s.Analyse(t.Context())); v.State != "incomplete" && v.State != "running" {
		t.Errorf("analysed all the same: %+v", v)
	}
	if p := must(s.Progress(t.Context())); p.State == "done" {
		t.Errorf("progress %+v", p)
	}
}

// While the active pairs are sealed, no result tells a role, and none is kept;
// once they are open, the results made before are out of date.
func TestResultsOfABlindStudy(t *testing.T) {
	dir, clock := t.TempDir(), newClock()
	d := openDesk(t, dir, clock)
	s := d.importNew(t, "bay", smallSeason(t), app.ImportRequest{Blind: true})
	if v := waitFor(t, s); v.State != "current" || !v.Blind {
		t.Fatalf("%+v", v)
	}
	sealed := must(s.Exposures(t.Context()))
	for _, row := range sealed.Rows {
		if row.Role != nil || row.FieldLow != nil || row.CurrentUA != nil || row.Used != nil {
			t.Fatalf("%s tells %+v", row.Pass, row)
		}
	}
	v := must(s.Pass(t.Context(), sealed.Rows[0].Pass))
	for _, p := range v.Track {
		if p.Field != nil || p.Phantom != nil || p.PerUA == nil {
			t.Fatalf("a sealed pass has a field on its track that tells the current: %+v", p)
		}
	}
	if len(v.Track) == 0 || len(v.Fixes) == 0 {
		t.Errorf("a sealed pass has no track: %+v", v)
	}
	if _, err := s.OpenActivePairs(t.Context(), app.OpeningRequest{Author: "Ciara (invented)", Reason: "scoring is done", Lock: true, LeaveUnscored: true}); err != nil {
		t.Fatal(err)
	}
	if v := must(s.Results(t.Context())); v.State != "out_of_date" || v.Blind {
		t.Errorf("after the opening: %+v", v)
	}
	must(s.Analyse(t.Context()))
	waitFor(t, s)
	open := must(s.Exposures(t.Context()))
	if open.Rows[0].Role == nil || open.Rows[0].FieldLow == nil {
		t.Errorf("after the opening: %+v", open.Rows[0])
	}
}

// An import of a corrected folder has the results made again by itself.
func TestResultsAfterAnImport(t *testing.T) {
	d := openDesk(t, t.TempDir(), newClock())
	in := smallSeason(t)
	s := d.importNew(t, "bay", in, app.ImportRequest{})
	first := waitFor(t, s)
	in["passes.csv"] = []byte(strings.Replace(string(in["passes.csv"]), "R. clavata,C,no,no", "R. clavata,C,yes,no", 1))
	plan := must(d.Plan(t.Context(), app.PlanRequest{Study: "bay", Files: app.Uploads(in)}))
	if _, err := d.Import(t.Context(), app.ImportRequest{Plan: plan.Plan, Study: "bay"}); err != nil {
		t.Fatal(err)
	}
	if v := must(s.Results(t.Context())); v.State != "running" || v.Shown != first.Shown {
		t.Errorf("after an import: %+v; want running, the old ones shown", v)
	}
	if v := waitFor(t, s); v.State != "current" || v.Shown == first.Shown {
		t.Errorf("%+v", v)
	}
}
