package app_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

// A season that went through a study is the same as one that core/season read
// and wrote itself, and a second study made of it gives the same again.
func TestRoundTripOfSeasons(t *testing.T) {
	long(t)
	demo, err := app.DemoSeason()
	if err != nil {
		t.Fatal(err)
	}
	for name, in := range map[string]app.Input{"season A": readFolder(t, "../../testdata/season-a"), "demo": demo, "small": smallSeason()} {
		t.Run(name, func(t *testing.T) {
			shelf := newMemShelf()
			s := newStudies(t, shelf)
			importInto(t, s, shelf, "first", in, app.ImportRequest{})
			first := exported(t, openStudy(t, s, "first"))
			sameFolder(t, "exported", canonical(t, in), first)
			importInto(t, s, shelf, "second", first, app.ImportRequest{})
			sameFolder(t, "exported again", first, exported(t, openStudy(t, s, "second")))
		})
	}
}

func TestImportAgainWritesNothing(t *testing.T) {
	for _, blind := range []bool{false, true} {
		shelf := newMemShelf()
		s := newStudies(t, shelf)
		importInto(t, s, shelf, "bay", smallSeason(), app.ImportRequest{Blind: blind, Author: "Aoife Byrne"})
		before := len(shelf.studies["bay"].entries)
		if done := importInto(t, s, shelf, "bay", smallSeason(), app.ImportRequest{Author: "Tom Kett"}); done.Entries != 0 {
			t.Errorf("blind %v: %d entries", blind, done.Entries)
		}
		if n := len(shelf.studies["bay"].entries); n != before {
			t.Errorf("blind %v: %d entries after %d", blind, n, before)
		}
	}
}

func TestImportOfACorrectedFolder(t *testing.T) {
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	importInto(t, s, shelf, "bay", smallSeason(), app.ImportRequest{})
	corrected := with(t, smallSeason(), "passes.csv", "R2,thornback ray,B,no,no", "R3,thornback ray,B,no,no")
	corrected = with(t, corrected, "passes.csv", "P4,T3,2026-06-02T21:20,R2,thornback ray,B,yes,yes,0.25,Tom Kett\n", "P5,T3,2026-06-02T21:30,R2,thornback ray,B,no,no,,Tom Kett\n")
	corrected = with(t, corrected, "trials.csv", "T3,2026-06-02T21:00,2026-06-02T21:40,B,6", "T3,2026-06-02T21:00,2026-06-02T21:40,A,6")
	corrected = with(t, corrected, "tracks.csv", "P1,1,48,0,4", "P1,1,47,0,4")
	corrected = with(t, corrected, "tracks.csv", "P4,0,-30,2,5\nP4,0.25,-44,1,4\nP4,0.75,-50,0,3\n", "")
	plan := planOf(t, s, "bay", corrected)
	want := []app.PlanChange{
		{Kind: "pass", ID: "P2", Act: "correct", Field: "individual", From: "R2", To: "R3"},
		{Kind: "pass", ID: "P5", Act: "record"},
		{Kind: "track", ID: "P1", Act: "correct"},
		{Kind: "trial", ID: "T3", Act: "correct", Field: "active_pair", From: "B", To: "A"},
		{Kind: "track", ID: "P4", Act: "remove"},
		{Kind: "pass", ID: "P4", Act: "remove"},
	}
	if diff := cmp.Diff(want, plan.Changes); diff != "" {
		t.Errorf("changes (-want +got):\n%s", diff)
	}
	for _, table := range plan.Tables {
		if table.Kind == "pass" && table != (app.PlanTable{Kind: "pass", Added: 1, Changed: 1, Same: 2, Missing: 1}) {
			t.Errorf("passes: %+v", table)
		}
	}
	done, err := s.Import(t.Context(), app.ImportRequest{Plan: plan.Plan, Study: "bay", RemoveMissing: true})
	if err != nil {
		t.Fatal(err)
	}
	if done.Entries != 7 { // five records, one assignment, and the import itself
		t.Errorf("%d entries", done.Entries)
	}
	sameFolder(t, "after the correction", canonical(t, corrected), exported(t, openStudy(t, s, "bay")))
	if _, err := s.Import(t.Context(), app.ImportRequest{Plan: plan.Plan, Study: "bay"}); !errors.Is(err, app.ErrUnknownPlan) {
		t.Errorf("carried out twice: %v", err)
	}
	originals, err := shelf.studies["bay"].Originals(t.Context(), storetest.Granted(), lastImport(t, shelf.studies["bay"]))
	if err != nil {
		t.Fatal(err)
	}
	sameFolder(t, "originals", corrected, originals)
}

func lastImport(t *testing.T, m *memStudy) string {
	t.Helper()
	states, err := m.States(t.Context(), study.KindImport)
	if err != nil || len(states) == 0 {
		t.Fatal(states, err)
	}
	return states[len(states)-1].ID
}

func TestMissingRecordsStay(t *testing.T) {
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	importInto(t, s, shelf, "bay", smallSeason(), app.ImportRequest{})
	fewer := with(t, smallSeason(), "passes.csv", "P4,T3,2026-06-02T21:20,R2,thornback ray,B,yes,yes,0.25,Tom Kett\n", "")
	fewer = with(t, fewer, "tracks.csv", "P4,0,-30,2,5\nP4,0.25,-44,1,4\nP4,0.75,-50,0,3\n", "")
	if done := importInto(t, s, shelf, "bay", fewer, app.ImportRequest{}); done.Entries != 0 {
		t.Errorf("%d entries", done.Entries)
	}
	sameFolder(t, "nothing was withdrawn", canonical(t, smallSeason()), exported(t, openStudy(t, s, "bay")))
}

func TestPlanTellsEveryFault(t *testing.T) {
	s := newStudies(t, newMemShelf())
	broken := with(t, smallSeason(), "passes.csv", "P2,T1", "P2,T9")
	broken = with(t, broken, "passes.csv", "P4,T3,2026-06-02T21:20", "P4,T3,02/06/2026")
	plan, err := s.Plan(t.Context(), app.PlanRequest{Files: upload(broken)})
	if err != nil {
		t.Fatal(err)
	}
	if plan.Plan != "" || len(plan.Faults) < 2 || len(plan.FaultRows) != 1 || len(plan.FaultRows[0].Rows) != 2 {
		t.Errorf("plan %q, faults %+v, rows %+v", plan.Plan, plan.Faults, plan.FaultRows)
	}
}

// An import that breaks off at any step leaves the journal as it was, and can
// be done again.
func TestImportBreaksOff(t *testing.T) {
	broken := errors.New("the power failed")
	for _, step := range []string{"person", "assignments", "originals", "append"} {
		shelf := newMemShelf()
		s := newStudies(t, shelf)
		importInto(t, s, shelf, "bay", smallSeason(), app.ImportRequest{})
		bay := shelf.studies["bay"]
		before := exported(t, openStudy(t, s, "bay"))
		corrected := with(t, smallSeason(), "trials.csv", "21:40,B,6,sine,Tom Kett", "21:40,A,6,sine,Nora Quill")
		plan := planOf(t, s, "bay", corrected)
		bay.fail = func(at string) error {
			if at == step {
				return broken
			}
			return nil
		}
		request := app.ImportRequest{Plan: plan.Plan, Study: "bay"}
		if _, err := s.Import(t.Context(), request); !errors.Is(err, broken) {
			t.Fatalf("%s: %v", step, err)
		}
		sameFolder(t, "after breaking off at "+step, before, exported(t, openStudy(t, s, "bay")))
		bay.fail = nil
		if _, err := s.Import(t.Context(), request); err != nil {
			t.Fatalf("%s, again: %v", step, err)
		}
		sameFolder(t, "done again after "+step, canonical(t, corrected), exported(t, openStudy(t, s, "bay")))
	}
}

// A new study appears whole or not at all.
func TestNewStudyBreaksOff(t *testing.T) {
	broken := errors.New("the power failed")
	for _, step := range []string{"person", "assignments", "originals", "append"} {
		shelf := newMemShelf()
		s := newStudies(t, shelf)
		shelf.fail = func(at string) error {
			if at == step {
				return broken
			}
			return nil
		}
		request := app.ImportRequest{Plan: planOf(t, s, "", smallSeason()).Plan, Study: "bay"}
		if _, err := s.Import(t.Context(), request); !errors.Is(err, broken) || len(shelf.studies) != 0 {
			t.Errorf("%s: %v, %d studies", step, err, len(shelf.studies))
		}
		shelf.fail = nil
		if _, err := s.Import(t.Context(), request); err != nil {
			t.Errorf("%s, again: %v", step, err)
		}
		sameFolder(t, "done again", canonical(t, smallSeason()), exported(t, openStudy(t, s, "bay")))
	}
}

// A sealed trial in a folder says nothing about what a study keeps.
func TestSealedTrialKeepsItsAssignment(t *testing.T) {
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	importInto(t, s, shelf, "bay", smallSeason(), app.ImportRequest{})
	sealed := with(t, smallSeason(), "trials.csv", "21:40,A,9.0,sine", "21:40,sealed,,")
	if done := importInto(t, s, shelf, "bay", sealed, app.ImportRequest{}); done.Entries != 0 {
		t.Errorf("%d entries", done.Entries)
	}
	sameFolder(t, "season", canonical(t, smallSeason()), exported(t, openStudy(t, s, "bay")))
}

// No import opens what was sealed, whatever it is asked for.
func TestImportOpensNothingThatWasSealed(t *testing.T) {
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	importInto(t, s, shelf, "bay", smallSeason(), app.ImportRequest{Blind: true})
	corrected := with(t, smallSeason(), "trials.csv", "calm", "choppy")
	importInto(t, s, shelf, "bay", corrected, app.ImportRequest{Blind: false})
	out := exported(t, openStudy(t, s, "bay"))
	if !strings.Contains(string(out["trials.csv"]), "sealed") || strings.Contains(string(out["trials.csv"]), "sine") {
		t.Errorf("opened:\n%s", out["trials.csv"])
	}
	if !strings.Contains(string(out["trials.csv"]), "choppy") {
		t.Error("the correction was not written")
	}
}

// A plan of a blind study is the same whether the folder tells the pairs that
// are kept or others: it cannot be used to guess.
func TestPlanCannotBeUsedToGuess(t *testing.T) {
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	importInto(t, s, shelf, "bay", smallSeason(), app.ImportRequest{Blind: true})
	right := planOf(t, s, "bay", smallSeason())
	wrong := planOf(t, s, "bay", with(t, smallSeason(), "trials.csv", "21:40,A,9.0,sine", "21:40,B,9.0,sine"))
	right.Plan, wrong.Plan = "", ""
	if diff := cmp.Diff(right, wrong); diff != "" {
		t.Errorf("a right and a wrong guess differ:\n%s", diff)
	}
	if len(right.Changes) != 3 || right.Changes[0] != (app.PlanChange{Kind: "trial", ID: "T1", Act: "correct", Field: "active_pair", From: "sealed", To: "sealed"}) {
		t.Errorf("changes: %+v", right.Changes)
	}
}

func TestPlansAreDropped(t *testing.T) {
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	first := planOf(t, s, "", smallSeason())
	for range 8 {
		planOf(t, s, "", smallSeason())
	}
	if _, err := s.Import(t.Context(), app.ImportRequest{Plan: first.Plan, Study: "bay"}); !errors.Is(err, app.ErrUnknownPlan) {
		t.Errorf("the ninth oldest plan: %v", err)
	}
	if first.Suggested != "Inishcorr bay two evenings invented" {
		t.Errorf("suggested %q", first.Suggested)
	}
}
