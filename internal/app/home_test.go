package app_test

import (
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"brinefield/internal/app"
)

func stateOf(c app.StudyCard) string {
	var states []string
	for _, step := range c.Steps {
		states = append(states, step.Step+" "+step.State)
	}
	return strings.Join(states, ", ")
}

func TestHome(t *testing.T) {
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	importInto(t, s, shelf, "bay", smallSeason(), app.ImportRequest{})
	if _, err := s.Create(t.Context(), app.NewStudyRequest{Study: "empty", Title: "Gannet Sound (invented)"}); err != nil {
		t.Fatal(err)
	}
	shelf.broken["torn"] = &app.DamagedError{Study: "torn", What: []string{"the file ends too early"}}
	openStudy(t, s, "empty")
	home, err := s.Home(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if !home.Writes || len(home.Studies) != 3 {
		t.Fatalf("home: %+v", home)
	}
	bay, empty, torn := home.Studies[0], home.Studies[1], home.Studies[2]
	if bay.Trials != 3 || bay.Passes != 4 || bay.Animals != 2 || bay.Blind || bay.Title != "Inishcorr bay, two evenings (invented)" || bay.Changed != "2026-06-11T10:00:00+01:00" {
		t.Errorf("bay: %+v", bay)
	}
	if want := "question done, water done, rig done, schedule done, trials done, passes done, findings next"; stateOf(bay) != want {
		t.Errorf("bay: %s, want %s", stateOf(bay), want)
	}
	if want := "question next, water later, rig later, schedule later, trials later, passes later, findings later"; stateOf(empty) != want {
		t.Errorf("empty: %s, want %s", stateOf(empty), want)
	}
	if !strings.Contains(torn.Problem, "ends too early") || torn.Title != "torn" {
		t.Errorf("torn: %+v", torn)
	}
	for _, c := range home.Studies {
		if c.Notes == nil || c.Steps == nil {
			t.Errorf("%s: a list is null", c.Study)
		}
	}
}

// The card of a large study is made without reading its passes.
func TestHomeOfALargeStudy(t *testing.T) {
	shelf := newMemShelf()
	importInto(t, newStudies(t, shelf), shelf, "bay", largeSeason(10_500), app.ImportRequest{})
	shelf.studies["bay"].hides = true
	home, err := newStudies(t, shelf).Home(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	card := home.Studies[0]
	// There is no table of individuals, and passes are not read for their names.
	if card.Problem != "" || card.Trials != 3 || card.Passes != 10_500 || card.Animals != 0 || card.Steps[4].State != "done" || len(card.Notes) == 0 {
		t.Errorf("%+v", card)
	}
}

func TestQuestion(t *testing.T) {
	b, _, _ := bay(t, app.ImportRequest{})
	set(t, b, "Aoife Byrne",
		app.CellChange{Kind: "protocol", Field: "people", To: "Aoife Byrne, Tom Kett"},
		app.CellChange{Kind: "protocol", Field: "start", To: "2026-06-01"},
		app.CellChange{Kind: "caution", ID: "dive-plan", Field: "ticked", To: "yes"},
		app.CellChange{Kind: "caution", ID: "dive-plan", Field: "note", To: "plan of 28 May"})
	if _, err := b.Edit(t.Context(), app.EditRequest{Add: []app.NewRow{{Kind: "permit", ID: "1", Fields: map[string]string{
		"what": "work with thornback rays", "holder": "Nora Quill", "valid_from": "2026-05-01", "valid_to": "2026-09-30",
	}}}}); err != nil {
		t.Fatal(err)
	}
	v, err := b.Question(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if v.Protocol["people"] != "Aoife Byrne, Tom Kett" || v.Site["timezone"] != "Europe/Dublin" || v.Question == "" {
		t.Errorf("question: %+v", v)
	}
	if len(v.Permits) != 1 || v.Permits[0].Fields["holder"] != "Nora Quill" {
		t.Errorf("permits: %+v", v.Permits)
	}
	want := app.CautionView{ID: "dive-plan", Ticked: true, By: "Aoife Byrne", When: "2026-06-11T10:00:00+01:00", Note: "plan of 28 May"}
	got := v.Cautions[0].Cautions[0]
	if got.Caution == "" || got.Rests == "" {
		t.Errorf("caution: %+v", got)
	}
	got.Caution, got.Rests = "", ""
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("caution (-want +got):\n%s", diff)
	}
	seen := map[string]bool{}
	for _, g := range v.Cautions {
		if last := g.Cautions[len(g.Cautions)-1]; last.Rests != "Local rules decide" {
			t.Errorf("%s does not end with the local rules: %+v", g.About, last)
		}
		for _, c := range g.Cautions {
			if seen[c.ID] || c.ID == "" {
				t.Errorf("the ID %q stands twice", c.ID)
			}
			seen[c.ID] = true
		}
	}
}

// No name of a person stands in the journal, the records or the guarded part's
// index: only where it can be erased.
func TestNamesStandOnlyWhereTheyCanBeErased(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{Author: "Nora Quill"})
	set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "P1", Field: "scorer", From: "Aoife Byrne", To: "Tom Kett"},
		app.CellChange{Kind: "caution", ID: "dive-plan", Field: "by", To: "Tom Kett"},
		app.CellChange{Kind: "protocol", Field: "contact", To: "Nora Quill"})
	for _, row := range m.plain(t) {
		for _, name := range []string{"Kett", "Byrne", "Quill"} {
			if strings.Contains(row, name) {
				t.Errorf("%s stands in %.300s", name, row)
			}
		}
	}
	refs, err := (*memErasable)(m).Refs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(refs) != 4 { // three people, and the two observers of T1 together
		t.Errorf("%d references", len(refs))
	}
	for _, ref := range refs {
		if data, _ := (*memErasable)(m).Get(t.Context(), ref); string(data) == "Tom Kett" {
			if err := (*memErasable)(m).Erase(t.Context(), ref); err != nil {
				t.Fatal(err)
			}
		}
	}
	shelf := newMemShelf()
	shelf.studies["bay"] = m
	s := newStudies(t, shelf)
	again := openStudy(t, s, "bay")
	erased := cell(t, again, "pass", "P1", "scorer")
	if !strings.HasPrefix(erased, "erased person ") || cell(t, again, "pass", "P3", "scorer") != erased {
		t.Errorf("erased: %q", erased)
	}
	out := exported(t, again)
	if done := importInto(t, s, shelf, "bay", out, app.ImportRequest{}); done.Entries != 0 {
		t.Errorf("the export of a study with an erased person writes %d entries when it is imported again", done.Entries)
	}
}

func TestJournalInPages(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	var seen []string
	for before := int64(0); ; {
		v, err := b.Journal(t.Context(), before, 7)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range v.Entries {
			seen = append(seen, e.Entry)
		}
		if before = v.Before; before == 0 {
			break
		}
	}
	var want []string
	for i := len(m.entries) - 1; i >= 0; i-- {
		want = append(want, m.entries[i].ID)
	}
	if diff := cmp.Diff(want, seen); diff != "" {
		t.Errorf("entries (-want +got):\n%s", diff)
	}
}

func TestManyHandsWorkers(t *testing.T) {
	b, _, s := bay(t, app.ImportRequest{})
	var wait sync.WaitGroup
	for _, id := range []string{"P1", "P2", "P3", "P4"} {
		wait.Go(func() {
			for _, to := range []string{"a", "b", "c"} {
				from := cell(t, b, "pass", id, "note")
				if _, err := b.Edit(t.Context(), app.EditRequest{Author: to, Changes: []app.CellChange{{Kind: "pass", ID: id, Field: "note", From: from, To: to}}}); err != nil {
					t.Error(err)
				}
				if _, err := s.Home(t.Context()); err != nil {
					t.Error(err)
				}
				if _, err := b.Journal(t.Context(), 0, 20); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wait.Wait()
	for _, id := range []string{"P1", "P2", "P3", "P4"} {
		if got := cell(t, b, "pass", id, "note"); got != "c" {
			t.Errorf("%s: %q", id, got)
		}
	}
}
