package app_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/study"
	"brinefield/internal/app"
)

// bay is the small season as a study whose active pairs are open.
func bay(t *testing.T, how app.ImportRequest) (*app.Study, *memStudy, *app.Studies) {
	t.Helper()
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	importInto(t, s, shelf, "bay", smallSeason(), how)
	return openStudy(t, s, "bay"), shelf.studies["bay"], s
}

func TestEditIsCanonical(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	for _, c := range []struct {
		app.CellChange
		want string
	}{
		{app.CellChange{Kind: "pass", ID: "P1", Field: "onset_s", From: "0.5", To: " 0.50 "}, "0.5"},
		{app.CellChange{Kind: "pass", ID: "P1", Field: "species", From: "Raja clavata", To: "thornback ray"}, "Raja clavata"},
		{app.CellChange{Kind: "trial", ID: "T1", Field: "start", From: "2026-06-01T21:00:00", To: "2026-06-01T20:00:00Z"}, "2026-06-01T21:00:00"},
		{app.CellChange{Kind: "pair", ID: "A", Field: "centre_m", From: "[0.5, 0]", To: "[ 0.50,0 ]"}, "[0.5, 0]"},
	} {
		if got := cell(t, b, c.Kind, c.ID, c.Field); got != c.From {
			t.Errorf("%s %s, %s: %q, the test takes %q for granted", c.Kind, c.ID, c.Field, got, c.From)
			continue
		}
		before := len(m.entries)
		set(t, b, "Tom Kett", c.CellChange)
		if got := cell(t, b, c.Kind, c.ID, c.Field); got != c.want || len(m.entries) != before {
			t.Errorf("%+v: %q, %d entries; want %q and none", c.CellChange, got, len(m.entries)-before, c.want)
		}
	}
	done := set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "P1", Field: "onset_s", From: "0.5", To: "0.250"})
	if got := cell(t, b, "pass", "P1", "onset_s"); got != "0.25" {
		t.Errorf("onset %q", got)
	}
	want := []app.EntryChange{{Field: "onset_s", From: "0.5", To: "0.25"}}
	if len(done.Entries) != 1 || done.Entries[0].Author != "Tom Kett" || !done.Entries[0].CanUndo || cmp.Diff(want, done.Entries[0].Values) != "" {
		t.Errorf("entries: %+v", done.Entries)
	}
	if !strings.HasSuffix(done.Entries[0].When, "+01:00") { // Irish summer time
		t.Errorf("when: %s", done.Entries[0].When)
	}
}

func TestEditRefused(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	change := func(kind, id, field, from, to string) app.EditRequest {
		return app.EditRequest{Changes: []app.CellChange{{Kind: kind, ID: id, Field: field, From: from, To: to}}}
	}
	for _, c := range []struct {
		in   app.EditRequest
		at   string // kind/id/field of the first fault; "" for another error
		want string // in the message
	}{
		{change("pass", "P1", "turned", "yes", "perhaps"), "pass/P1/turned", "perhaps"},
		{change("pass", "P1", "trial", "T1", "T9"), "pass/P1/trial", "T9"},
		{change("pass", "P1", "turned", "yes", ""), "pass/P1/onset_s", ""},
		{change("trial", "T1", "end", "2026-06-01T21:40:00", "2026-06-01T20:40"), "trial/T1/end", ""},
		{change("site", "", "timezone", "Europe/Dublin", "Europe/Atlantis"), "site//timezone", "Atlantis"},
		{change("site", "", "depth_m", "4.5", ""), "site//", "depth_m"},
		{change("pass", "P1", "pass", "P1", "P7"), "pass/P1/pass", "name"},
		{change("pair", "A", "label", "", "C"), "pair/A/label", "withdrawn"},
		{change("pass", "P1", "weight", "", "3"), "pass/P1/weight", "weight"},
		{change("pass", "P77", "note", "", "3"), "pass/P77/note", "P77"},
		{change("track", "P1", "x_cm", "", "3"), "track/P1/x_cm", "import"},
		{change("import", "x", "files", "", "3"), "import/x/", "cannot be edited"},
		{change("protocol", "", "start", "", "June"), "protocol//start", "June"},
		{change("caution", "dive", "ticked", "", "yes"), "caution/dive/", "dive"},
		{change("caution", "dive-plan", "ticked", "", "no"), "caution/dive-plan/ticked", "no"},
		{change("bogus", "P1", "note", "", "3"), "", "no such table"},
		{app.EditRequest{Remove: []app.RowName{{Kind: "trial", ID: "T1"}}}, "pass/P1/trial", "T1"},
		{app.EditRequest{Remove: []app.RowName{{Kind: "pair", ID: "B"}}}, "trial/T3/active_pair", "B"},
		{app.EditRequest{Remove: []app.RowName{{Kind: "pass", ID: "P9"}}}, "pass/P9/", "no pass"},
		{app.EditRequest{Add: []app.NewRow{{Kind: "pass", ID: "P1"}}}, "pass/P1/", "already"},
		{app.EditRequest{Add: []app.NewRow{{Kind: "pass", ID: "P9", Fields: map[string]string{"trial": "T1"}}}}, "pass/P9/time", ""},
		{app.EditRequest{Add: []app.NewRow{{Kind: "permit", ID: " "}}}, "permit//", "no name"},
	} {
		before := len(m.entries)
		_, err := b.Edit(t.Context(), c.in)
		var edit *app.EditError
		switch {
		case err == nil:
			t.Errorf("%+v was accepted", c.in)
		case !strings.Contains(err.Error(), c.want):
			t.Errorf("%+v: %v; want %q", c.in, err, c.want)
		case c.at == "" && errors.As(err, &edit), c.at != "" && !errors.As(err, &edit):
			t.Errorf("%+v: %v", c.in, err)
		case c.at != "":
			f := edit.Faults[0]
			if at := f.Kind + "/" + f.ID + "/" + f.Field; at != c.at && !strings.HasPrefix(at, c.at) {
				t.Errorf("%+v: at %s, want %s: %v", c.in, at, c.at, err)
			}
		}
		if len(m.entries) != before {
			t.Errorf("%+v: something was written", c.in)
		}
	}
}

func TestEditOfAValueThatChanged(t *testing.T) {
	b, m, s := bay(t, app.ImportRequest{})
	c := app.CellChange{Kind: "pass", ID: "P2", Field: "individual", From: "R2", To: "R3"}
	set(t, b, "", c)
	if _, err := b.Edit(t.Context(), app.EditRequest{Changes: []app.CellChange{c}}); !errors.Is(err, app.ErrChangedMeanwhile) {
		t.Errorf("changed meanwhile: %v", err)
	}
	m.readOnly = true
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	shelf := newMemShelf()
	shelf.studies["bay"] = m
	again := openStudy(t, newStudies(t, shelf), "bay")
	c.From, c.To = "R3", "R2"
	if _, err := again.Edit(t.Context(), app.EditRequest{Changes: []app.CellChange{c}}); !errors.Is(err, app.ErrReadOnly) {
		t.Errorf("read-only: %v", err)
	}
}

// A whole row with what refers to it comes and goes in one request.
func TestEditAddsAndRemovesTogether(t *testing.T) {
	b, _, _ := bay(t, app.ImportRequest{})
	done, err := b.Edit(t.Context(), app.EditRequest{Author: "Tom Kett", Reason: "from the paper log", Add: []app.NewRow{
		{Kind: "pass", ID: "P5", Fields: map[string]string{"trial": "T4", "time": "2026-06-02T22:05", "species": "Raja clavata", "pair": "A", "turned": "no", "bit": "no", "scorer": "Nora Quill"}},
		{Kind: "trial", ID: "T4", Fields: map[string]string{"start": "2026-06-02T22:00", "end": "2026-06-02T22:40", "active_pair": "A", "current_uA": "6.0"}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	if len(done.Entries) != 3 { // pass, trial, assignment
		t.Errorf("%d entries", len(done.Entries))
	}
	if got := cell(t, b, "trial", "T4", "current_uA"); got != "6" {
		t.Errorf("current %q", got)
	}
	if got := cell(t, b, "pass", "P5", "scorer"); got != "Nora Quill" {
		t.Errorf("scorer %q", got)
	}
	if _, err := b.Edit(t.Context(), app.EditRequest{Remove: []app.RowName{{Kind: "trial", ID: "T4"}, {Kind: "pass", ID: "P5"}}}); err != nil {
		t.Fatal(err)
	}
	sameFolder(t, "after both", canonical(t, smallSeason()), exported(t, b))
	// A trial that is written down again under the same name starts anew.
	if _, err := b.Edit(t.Context(), app.EditRequest{Add: []app.NewRow{{Kind: "trial", ID: "T4", Fields: map[string]string{"start": "2026-06-02T22:00", "end": "2026-06-02T22:40"}}}}); err != nil {
		t.Fatal(err)
	}
	if got := cell(t, b, "trial", "T4", "active_pair"); got != "sealed" {
		t.Errorf("active pair %q of a trial of which none was written down", got)
	}
}

// An empty study is filled in field by field, and faults that are not made
// worse are no obstacle.
func TestEmptyStudyIsFilledIn(t *testing.T) {
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	if _, err := s.Create(t.Context(), app.NewStudyRequest{Study: "new", Title: " "}); err == nil {
		t.Error("a study without a title")
	}
	if _, err := s.Create(t.Context(), app.NewStudyRequest{Study: "new", Title: "Gannet Sound (invented)", Author: "Nora Quill"}); err != nil {
		t.Fatal(err)
	}
	b := openStudy(t, s, "new")
	one := func(kind, id, field, to string) {
		t.Helper()
		set(t, b, "Nora Quill", app.CellChange{Kind: kind, ID: id, Field: field, To: to})
	}
	one("study", "", "question", "Do catsharks turn?")
	one("site", "", "name", "Gannet Sound (invented)")
	one("site", "", "timezone", "Europe/Dublin")
	one("site", "", "depth_m", "6")
	one("water", "", "conductivity_S_per_m", "4.1")
	one("bottom", "", "kind", "insulating")
	one("analysis", "", "pass_radius_cm", "20")
	add := func(kind, id string, fields map[string]string) {
		t.Helper()
		if _, err := b.Edit(t.Context(), app.EditRequest{Add: []app.NewRow{{Kind: kind, ID: id, Fields: fields}}}); err != nil {
			t.Fatal(err)
		}
	}
	add("pair", "A", map[string]string{"centre_m": "[0, 0]", "azimuth_deg": "0", "separation_m": "0.01", "electrode_diameter_m": "0.002"})
	add("species", "Scyliorhinus canicula", map[string]string{"aliases": `["catshark"]`})
	add("trial", "T1", map[string]string{"start": "2026-06-01T21:00", "end": "2026-06-01T21:40"})
	out := exported(t, b)
	sameFolder(t, "a study filled in by hand is a season", canonical(t, out), out)
	// Nothing of a section that was filled in can be blanked again.
	if _, err := b.Edit(t.Context(), app.EditRequest{Changes: []app.CellChange{{Kind: "site", Field: "depth_m", From: "6"}}}); err == nil {
		t.Error("the depth was blanked")
	}
}

func TestGuardedFieldsNeedTheRight(t *testing.T) {
	b, _, _ := bay(t, app.ImportRequest{Blind: true})
	if _, err := b.Edit(t.Context(), app.EditRequest{Changes: []app.CellChange{{Kind: "trial", ID: "T1", Field: "active_pair", To: "B"}}}); !errors.Is(err, app.ErrBlind) {
		t.Errorf("edited blind: %v", err)
	}
	if got := cell(t, b, "trial", "T1", "active_pair"); got != "" {
		t.Errorf("shown blind: %q", got)
	}
	set(t, b, "Tom Kett", app.CellChange{Kind: "trial", ID: "T1", Field: "note", From: "calm", To: "choppy"})
	if _, err := b.OpenActivePairs(t.Context(), app.OpeningRequest{Author: "Aoife Byrne", Reason: ""}); err == nil {
		t.Error("opened without a reason")
	}
	if _, err := b.OpenActivePairs(t.Context(), app.OpeningRequest{Author: "Aoife Byrne", Reason: "scoring is done", Lock: true}); err != nil {
		t.Fatal(err)
	}
	want := with(t, smallSeason(), "trials.csv", "calm", "choppy")
	sameFolder(t, "opened", canonical(t, want), exported(t, b))
	set(t, b, "Tom Kett", app.CellChange{Kind: "trial", ID: "T1", Field: "active_pair", From: "A", To: "B"})
	want = with(t, want, "trials.csv", "21:40,A,9.0", "21:40,B,9.0")
	sameFolder(t, "corrected", canonical(t, want), exported(t, b))
	history, err := b.History(t.Context(), "trial", "T1")
	if err != nil {
		t.Fatal(err)
	}
	last := history.Entries[len(history.Entries)-1]
	if last.Kind != string(study.KindAssignment) || cmp.Diff([]app.EntryChange{{Field: "active_pair", From: "A", To: "B"}}, last.Values) != "" {
		t.Errorf("last entry: %+v", last)
	}
	if _, err := b.Undo(t.Context(), app.UndoRequest{Entry: last.Entry}); err != nil {
		t.Fatal(err)
	}
	if got := cell(t, b, "trial", "T1", "active_pair"); got != "A" {
		t.Errorf("after the undo: %q", got)
	}
}
