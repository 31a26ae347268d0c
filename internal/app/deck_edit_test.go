package app_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/deck"
	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

// What came from tablets is corrected as anything else is, except what only a
// task may write.
func TestEditOfWhatTabletsLogged(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{Author: "Aoife Byrne"})
	tom := personIn(t, m, "Tom Kett")
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now.Add(time.Minute))
	photo := strings.Repeat("d", 64)
	merged(t, b, tablet.Write(
		t,
		recorded(study.KindPermit, "licence", map[string]string{"what": "Licence (invented)"}),
		recorded(study.KindCheck, "7c1e-c0001", map[string]string{"trial": "T1", "check": "plate", "state": "not ok", "time": "yesterday", "by": tom}),
		recorded(study.KindEvent, "7c1e-e0001", map[string]string{"what": "adverse", "text": "ray caught in the line (invented)", "by": tom}),
		recorded(study.KindCount, "7c1e-k0001", map[string]string{"permit": "licence", "animals": "3", "by": tom}),
		recorded(study.KindAttachment, "7c1e-a0001", map[string]string{"kind": "photo", "ref": photo, "about": "pass/P1", "by": tom}),
		recorded(study.KindClock, "deck-7c1e", map[string]string{"offset_s": "2.5", "stated": "2026-06-11T10:00:00+01:00"}),
		recorded(study.KindDistinct, "P1|P2", map[string]string{"by": tom}),
	)...)
	if by := cell(t, b, "check", "7c1e-c0001", "by"); by != "Tom Kett" {
		t.Errorf("by %q", by)
	}
	for _, c := range []app.CellChange{
		{Kind: "check", ID: "7c1e-c0001", Field: "state", From: "not ok", To: "ok"}, // its time, which nobody can read, stays as it is
		{Kind: "check", ID: "7c1e-c0001", Field: "time", From: "yesterday", To: "2026-06-01T20:40:00"},
		{Kind: "check", ID: "7c1e-c0001", Field: "by", From: "Tom Kett", To: "Aoife Byrne"},
		{Kind: "event", ID: "7c1e-e0001", Field: "text", From: "ray caught in the line (invented)", To: "ray brushed the line (invented)"},
		{Kind: "count", ID: "7c1e-k0001", Field: "hours", To: "1.5"},
		{Kind: "clock", ID: "deck-7c1e", Field: "note", To: "set by hand at noon"},
		{Kind: "distinct", ID: "P1|P2", Field: "note", To: "one had a scar"},
		{Kind: "permit", ID: "licence", Field: "animals_most", To: "10"},
		{Kind: "permit", ID: "licence", Field: "hours_most", To: "4.5"},
	} {
		done := set(t, b, "Aoife Byrne", c)
		if got := cell(t, b, c.Kind, c.ID, c.Field); got != c.To || len(done.Entries) != 1 || !done.Entries[0].CanUndo {
			t.Errorf("%+v: %q, %+v", c, got, done.Entries)
		}
	}
	if c, err := m.State(t.Context(), study.KindCheck, "7c1e-c0001"); err != nil || !strings.HasPrefix(c.Fields["by"], "person:") {
		t.Errorf("the journal holds the name: %+v, %v", c, err)
	}
	for _, c := range []struct {
		in app.CellChange
		at string // the field of the fault
	}{
		{app.CellChange{Kind: "check", ID: "7c1e-c0001", Field: "state", From: "ok", To: "fine"}, "state"},
		{app.CellChange{Kind: "check", ID: "7c1e-c0001", Field: "check", From: "plate"}, "check"},
		{app.CellChange{Kind: "check", ID: "7c1e-c0001", Field: "time", From: "2026-06-01T20:40:00", To: "noon"}, "time"},
		{app.CellChange{Kind: "event", ID: "7c1e-e0001", Field: "what", From: "adverse", To: "good"}, "what"},
		{app.CellChange{Kind: "event", ID: "7c1e-e0001", Field: "text", From: "ray brushed the line (invented)", To: strings.Repeat("x", 4001)}, "text"},
		{app.CellChange{Kind: "count", ID: "7c1e-k0001", Field: "animals", From: "3", To: "-1"}, "animals"},
		{app.CellChange{Kind: "count", ID: "7c1e-k0001", Field: "hours", From: "1.5", To: "Inf"}, "hours"},
		{app.CellChange{Kind: "count", ID: "7c1e-k0001", Field: "permit", From: "licence", To: "none"}, "permit"},
		{app.CellChange{Kind: "clock", ID: "deck-7c1e", Field: "offset_s", From: "2.5", To: "3"}, "offset_s"},
		{app.CellChange{Kind: "attachment", ID: "7c1e-a0001", Field: "about", From: "pass/P1", To: "pass/P2"}, "about"},
		{app.CellChange{Kind: "permit", ID: "licence", Field: "animals_most", From: "10", To: "a few"}, "animals_most"},
		{app.CellChange{Kind: "permit", ID: "licence", Field: "hours_most", From: "4.5", To: "NaN"}, "hours_most"},
	} {
		before := len(m.entries)
		_, err := b.Edit(t.Context(), app.EditRequest{Changes: []app.CellChange{c.in}})
		var wrong *app.EditError
		if !errors.As(err, &wrong) || len(wrong.Faults) != 1 || wrong.Faults[0].Field != c.at || len(m.entries) != before {
			t.Errorf("%+v: %v", c.in, err)
		}
	}
	for _, kind := range []string{"attachment", "clock", "distinct", "reading"} {
		_, err := b.Edit(t.Context(), app.EditRequest{Add: []app.NewRow{{Kind: kind, ID: "x", Fields: map[string]string{}}}})
		var wrong *app.EditError
		if !errors.As(err, &wrong) || !strings.Contains(err.Error(), "by hand") {
			t.Errorf("a new %s: %v", kind, err)
		}
	}
	if _, err := b.Edit(t.Context(), app.EditRequest{Remove: []app.RowName{{Kind: "attachment", ID: "7c1e-a0001"}, {Kind: "distinct", ID: "P1|P2"}}}); err != nil {
		t.Error(err)
	}
	// On the laptop a sheet of paper is written down under its own names.
	add(t, b, "event", "paper-1", map[string]string{"what": "note", "text": "swell from noon on (invented)"})
	if v := deckOf(t, b); *v.Permits[0].AnimalsMost != 10 || v.Permits[0].Animals != 3 || v.Permits[0].Hours != 1.5 {
		t.Errorf("permits: %+v", v.Permits)
	}
}

// Photos and voice notes lie in the store of names, and are no names.
func TestPhotosAreNoNames(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{Author: "Aoife Byrne"})
	store := m.folder("bay").Erasable
	told, err := store.Put(t.Context(), []byte("looks like a name"))
	if err != nil {
		t.Fatal(err)
	}
	untold, err := store.Put(t.Context(), []byte("\xff\xd8\xff\xe0\x00\x10JFIF")) // its entry is still on the tablet
	if err != nil {
		t.Fatal(err)
	}
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now.Add(time.Minute))
	merged(t, b, tablet.Write(t, recorded(study.KindAttachment, "7c1e-a0001", map[string]string{"kind": "photo", "ref": told}))...)
	want := []string{"Aoife Byrne", "Aoife Byrne, Tom Kett", "Tom Kett"}
	persons, err := b.Persons(t.Context())
	if diff := cmp.Diff(want, persons); diff != "" || err != nil {
		t.Errorf("%v: %s", err, diff)
	}
	for _, p := range deckOf(t, b).People {
		if p.Mark == "person:"+told || p.Mark == "person:"+untold || strings.Contains(p.Name, ",") {
			t.Errorf("somebody to pick: %+v", p)
		}
	}
	if _, err := b.ErasePerson(t.Context(), "Tom Kett", "Aoife Byrne"); err != nil {
		t.Fatal(err)
	}
	for _, p := range deckOf(t, b).People {
		if p.Name != "Aoife Byrne" {
			t.Errorf("to pick after the erasure: %+v", p)
		}
	}
}

// A study that a newer program set up says so, and nothing is written over it.
func TestDeckOfANewerProgram(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	tag := deckOf(t, b).ETag
	put(t, m, "", journal.Draft{Kind: study.KindDeck, Act: journal.Record, Body: journal.Body{Fields: map[string]string{"spec": `{"format":2,"tides":true}`}}})
	if _, err := b.Deck(t.Context()); !errors.Is(err, app.ErrDeckSpec) || !strings.Contains(err.Error(), "newer program") {
		t.Errorf("shown: %v", err)
	}
	before := len(m.entries)
	if _, err := b.DeckSetup(t.Context(), app.DeckSetupRequest{Spec: deck.Default(), IfMatch: tag}); err == nil || len(m.entries) != before {
		t.Errorf("written over: %v", err)
	}
}
