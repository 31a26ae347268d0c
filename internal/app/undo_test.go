package app_test

import (
	"errors"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"brinefield/internal/app"
)

func undo(t *testing.T, b *app.Study, entry string) app.EntryView {
	t.Helper()
	done, err := b.Undo(t.Context(), app.UndoRequest{Entry: entry, Author: "Nora Quill"})
	if err != nil {
		t.Fatal(err)
	}
	if len(done.Entries) != 1 || done.Entries[0].Undoes != entry {
		t.Fatalf("undo of %s: %+v", entry, done.Entries)
	}
	return done.Entries[0]
}

func TestUndoAndRedo(t *testing.T) {
	b, _, _ := bay(t, app.ImportRequest{})
	done := set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "P1", Field: "scorer", From: "Aoife Byrne", To: "Nora Quill"},
		app.CellChange{Kind: "pass", ID: "P1", Field: "note", To: "murky"})
	first := done.Entries[0].Entry
	back := undo(t, b, first)
	if cell(t, b, "pass", "P1", "scorer") != "Aoife Byrne" || cell(t, b, "pass", "P1", "note") != "" {
		t.Error("the values before are not back")
	}
	if _, err := b.Undo(t.Context(), app.UndoRequest{Entry: first}); err == nil || !strings.Contains(err.Error(), "undone already") {
		t.Errorf("undone twice: %v", err)
	}
	undo(t, b, back.Entry)
	if cell(t, b, "pass", "P1", "scorer") != "Nora Quill" || cell(t, b, "pass", "P1", "note") != "murky" {
		t.Error("the undo was not undone")
	}
	history, err := b.History(t.Context(), "pass", "P1")
	if err != nil {
		t.Fatal(err)
	}
	var marks []string
	for _, e := range history.Entries {
		mark := e.Act
		if e.UndoneBy != "" {
			mark += " undone"
		}
		if e.CanUndo {
			mark += " can be undone"
		}
		marks = append(marks, mark)
	}
	want := "record, correct can be undone, correct undone, correct can be undone"
	if got := strings.Join(marks, ", "); got != want {
		t.Errorf("history: %s\nwant: %s", got, want)
	}
}

func TestUndoOfWhatWasOvertaken(t *testing.T) {
	b, _, _ := bay(t, app.ImportRequest{})
	first := set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "P2", Field: "individual", From: "R2", To: "R3"}).Entries[0]
	second := set(t, b, "Aoife Byrne", app.CellChange{Kind: "pass", ID: "P2", Field: "individual", From: "R3", To: "R4"}).Entries[0]
	var edit *app.EditError
	_, err := b.Undo(t.Context(), app.UndoRequest{Entry: first.Entry})
	if !errors.As(err, &edit) || edit.Faults[0].Field != "individual" || !strings.Contains(err.Error(), "Aoife Byrne") || !strings.Contains(err.Error(), second.Entry) {
		t.Errorf("overtaken: %v", err)
	}
	// Another field of the same record is no obstacle.
	other := set(t, b, "", app.CellChange{Kind: "pass", ID: "P2", Field: "note", To: "left at once"}).Entries[0]
	undo(t, b, second.Entry)
	undo(t, b, first.Entry)
	undo(t, b, other.Entry)
	sameFolder(t, "all undone", canonical(t, smallSeason()), exported(t, b))
}

func TestUndoOfRowsThatComeAndGo(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	done, err := b.Edit(t.Context(), app.EditRequest{Add: []app.NewRow{{Kind: "clip", ID: "C9", Fields: map[string]string{"file": "C9.mp4", "start": "2026-06-01T21:00"}}}})
	if err != nil {
		t.Fatal(err)
	}
	// Without any clip written down, what passes name is not checked.
	if _, err := b.Edit(t.Context(), app.EditRequest{Add: []app.NewRow{{Kind: "clip", ID: "C8", Fields: map[string]string{"file": "C8.mp4", "start": "2026-06-01T21:30"}}}}); err != nil {
		t.Fatal(err)
	}
	gone := undo(t, b, done.Entries[0].Entry)
	if gone.Act != "remove" {
		t.Errorf("act %s", gone.Act)
	}
	again := undo(t, b, gone.Entry)
	if again.Act != "record" || cell(t, b, "clip", "C9", "start") != "2026-06-01T21:00:00" {
		t.Errorf("record again: %+v", again)
	}
	set(t, b, "", app.CellChange{Kind: "pass", ID: "P1", Field: "clip", To: "C9"})
	if _, err := b.Undo(t.Context(), app.UndoRequest{Entry: again.Entry}); err == nil || !strings.Contains(err.Error(), "pass P1, clip") {
		t.Errorf("a clip that a pass names was taken away: %v", err)
	}
	removed, err := b.Edit(t.Context(), app.EditRequest{Remove: []app.RowName{{Kind: "track", ID: "P2"}, {Kind: "pass", ID: "P2"}}})
	if err != nil {
		t.Fatal(err)
	}
	var pass string
	for _, e := range removed.Entries {
		if e.Kind == "track" {
			if _, err := b.Undo(t.Context(), app.UndoRequest{Entry: e.Entry}); err == nil {
				t.Error("a track came back without its pass")
			}
			continue
		}
		pass = e.Entry
	}
	undo(t, b, pass)
	for _, e := range removed.Entries {
		if e.Kind == "track" {
			undo(t, b, e.Entry)
		}
	}
	for _, e := range m.entries {
		if e.Kind == "import" || e.Kind == "opening" {
			if _, err := b.Undo(t.Context(), app.UndoRequest{Entry: e.ID}); err == nil {
				t.Errorf("an entry about an %s was undone", e.Kind)
			}
		}
	}
	if _, err := b.Undo(t.Context(), app.UndoRequest{Entry: "nothing"}); !errors.Is(err, app.ErrUnknownEntry) {
		t.Errorf("an unknown entry: %v", err)
	}
}

// Random edits, each undone in the end, newest first: the season is what it
// was, whatever they were; and what is held in memory is what the store says.
func TestUndoOfManyEdits(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	chance := rand.New(rand.NewPCG(1, 2))
	var entries []string
	notes := []string{"", "a", "b", "c"}
	for i := range 60 {
		if i%10 == 5 {
			set(t, b, "Tom Kett", app.CellChange{Kind: "protocol", Field: "method", From: cell(t, b, "protocol", "", "method"), To: notes[1] + strings.Repeat("x", i)})
		}
		c := app.CellChange{Kind: "pass", ID: []string{"P1", "P2", "P3"}[chance.IntN(3)], Field: []string{"note", "scorer", "visit"}[chance.IntN(3)]}
		c.From, c.To = cell(t, b, c.Kind, c.ID, c.Field), notes[chance.IntN(len(notes))]
		for _, e := range set(t, b, "", c).Entries {
			entries = append(entries, e.Entry)
		}
	}
	if len(entries) < 20 {
		t.Fatalf("only %d edits", len(entries))
	}
	shelf := newMemShelf()
	shelf.studies["bay"] = m
	anew := openStudy(t, newStudies(t, shelf), "bay")
	sameFolder(t, "held and read anew", exported(t, anew), exported(t, b))
	for _, kind := range []string{"pass", "trial", "pair", "protocol"} {
		want, err := anew.Table(t.Context(), kind, 0, 100)
		if err != nil {
			t.Fatal(err)
		}
		got, err := b.Table(t.Context(), kind, 0, 100)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s, read anew and held:\n%s", kind, diff)
		}
	}
	for i := len(entries) - 1; i >= 0; i-- {
		undo(t, b, entries[i])
	}
	sameFolder(t, "all undone", canonical(t, smallSeason()), exported(t, b))
}
