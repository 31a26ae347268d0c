package app_test

import (
	"encoding/json"
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

func deckOf(t testing.TB, b *app.Study) app.DeckView {
	t.Helper()
	v, err := b.Deck(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestDeckView(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{Blind: true, Author: "Aoife Byrne"})
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now.Add(time.Minute))
	merged(t, b, tablet.Write(
		t,
		recorded(study.KindPermit, "licence", map[string]string{"what": "Licence (invented)", "animals_most": "10", "hours_most": "4.5"}),
		recorded(study.KindCount, "7c1e-k0001", map[string]string{"permit": "licence", "animals": "3", "hours": "0.1"}),
		recorded(study.KindCount, "7c1e-k0002", map[string]string{"permit": "licence", "animals": "many", "hours": "0.2"}),
		recorded(study.KindCount, "7c1e-k0003", map[string]string{"permit": "another", "animals": "5"}),
		recorded(study.KindIndividual, "Blotch", map[string]string{"species": "Raja clavata", "mark": "white left fin"}),
		recorded(study.KindPass, "7c1e-0001", map[string]string{"trial": "T3", "time": "2026-06-02T21:30:00+01:00", "species": "Raja clavata", "pair": "A", "individual": "Blotch", "turned": "no", "bit": "no"}),
		recorded(study.KindPass, "7c1e-0002", map[string]string{"trial": "T1", "time": "2026-06-01T21:30:00+01:00", "species": "Raja clavata", "pair": "A", "individual": "Blotch", "turned": "no", "bit": "no"}),
		recorded(study.KindAttachment, "7c1e-a0001", map[string]string{"kind": "photo", "ref": strings.Repeat("a", 64), "about": "individual/Blotch"}),
		recorded(study.KindAttachment, "7c1e-a0002", map[string]string{"kind": "photo", "ref": strings.Repeat("b", 64), "about": "individual/Blotch"}),
		recorded(study.KindAttachment, "7c1e-a0003", map[string]string{"kind": "voice", "ref": strings.Repeat("c", 64), "about": "individual/Blotch"}),
		// Nobody writes what is guarded into a trial; if somebody did, no tablet would get it.
		journal.Draft{Kind: study.KindTrial, Subject: "T2", Act: journal.Correct, Body: journal.Body{Fields: map[string]string{"current_uA": "77", "bait": "herring"}}},
	)...)
	ctx := app.WithCaller(t.Context(), app.Caller{Device: "x", Role: "scorer", Writes: []string{"deck-7c1e", "deck-00ff"}})
	v, err := b.Deck(ctx)
	if err != nil {
		t.Fatal(err)
	}
	first := m.entries[0]
	for _, e := range m.entries {
		if e.Kind == study.KindStudy {
			first = e
			break
		}
	}
	if v.Identity != first.ID || v.Study != "bay" || v.Title != "Inishcorr bay, two evenings (invented)" || v.SiteName != "Inishcorr bay (invented)" || v.Zone != "Europe/Dublin" ||
		!v.Blind || v.Locked || v.Role != "scorer" || v.Device != "deck-7c1e" || v.SpecWritten || v.Cautions == 0 || v.Position != int64(len(m.entries)) || v.NowMS != m.clock.Now.UnixMilli() {
		t.Errorf("view: %+v", v)
	}
	if diff := cmp.Diff(deck.Default(), v.Spec); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]app.DeckPair{{Label: "A", XM: 0.5}, {Label: "B", XM: -0.5, AzimuthDeg: 90}}, v.Pairs); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]app.DeckSpecies{{Name: "Raja clavata", Aliases: []string{"thornback ray"}}}, v.Species); diff != "" {
		t.Error(diff)
	}
	none := []string{}
	want := []app.DeckIndividual{
		{ID: "Blotch", Species: "Raja clavata", Mark: "white left fin", Pictures: []string{strings.Repeat("b", 64), strings.Repeat("a", 64)}, Passes: 2, LastTrial: "T3"},
		{ID: "R1", Species: "Raja clavata", Pictures: none, Passes: 2, LastTrial: "T2"},
		{ID: "R2", Species: "Raja clavata", Pictures: none, Passes: 2, LastTrial: "T3"},
	}
	if diff := cmp.Diff(want, v.Individuals); diff != "" {
		t.Error(diff)
	}
	ten, hours := 10, 4.5
	permits := []app.DeckPermit{{ID: "licence", What: "Licence (invented)", Animals: 3, AnimalsMost: &ten, Hours: 0.3, HoursMost: &hours}}
	if diff := cmp.Diff(permits, v.Permits); diff != "" {
		t.Error(diff)
	}
	if len(v.Trials) != 3 || v.Trials[0].Passes != 3 || v.Trials[0].Planned || v.Trials[0].Fields["observers"] != "Aoife Byrne, Tom Kett" || v.Trials[1].Fields["bait"] != "herring" {
		t.Errorf("trials: %+v", v.Trials)
	}
	for _, trial := range v.Trials {
		for _, field := range study.GuardedFields {
			if trial.Fields[field] != "" {
				t.Errorf("%s tells %s: %q", trial.Trial, field, trial.Fields[field])
			}
		}
	}
	names := map[string]bool{}
	for _, p := range v.People {
		names[p.Name] = true
		if !strings.HasPrefix(p.Mark, "person:") {
			t.Errorf("mark %q", p.Mark)
		}
	}
	if diff := cmp.Diff(map[string]bool{"Aoife Byrne": true, "Tom Kett": true}, names); diff != "" {
		t.Error(diff)
	}
}

// What a tablet gets is the same whether the pairs are open or not.
func TestDeckTellsNothingOpened(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{Blind: true, Author: "Aoife Byrne"})
	before := deckOf(t, b)
	put(t, m, "Nora Quill", opened("opening 1", ""))
	after := deckOf(t, b)
	before.Position, before.Blind, after.Position, after.Blind = 0, false, 0, false
	before.NowMS, after.NowMS = 0, 0
	before.People, after.People = nil, nil // who opened them is one more
	if diff := cmp.Diff(before, after); diff != "" {
		t.Error(diff)
	}
}

func TestDeckOfASealedSchedule(t *testing.T) {
	b, _, _ := sealedStudy(t, "T001")
	v := deckOf(t, b)
	if v.Spec.TrialMin != 40 || v.Spec.WashoutMin != 30 || v.SpecWritten {
		t.Errorf("spec: %+v", v.Spec)
	}
	plan := smallPlan()
	if len(v.Trials) != plan.Trials+plan.Spare {
		t.Fatalf("%d trials of %+v", len(v.Trials), plan)
	}
	for i, trial := range v.Trials {
		if !trial.Planned || trial.Spare != (i >= plan.Trials) || (trial.Passes == 1) != (trial.Trial == "T001") || (len(trial.Fields) > 0) != (trial.Trial == "T001") {
			t.Errorf("%d: %+v", i, trial)
		}
	}
	// A change of something else leaves the times to the schedule.
	spec := v.Spec
	spec.Checks = spec.Checks[:2]
	v, err := b.DeckSetup(t.Context(), app.DeckSetupRequest{Spec: spec, IfMatch: v.ETag, Author: "Tom Kett"})
	if err != nil || v.Spec.TrialMin != 40 || !v.SpecWritten || len(v.Spec.Checks) != 2 {
		t.Fatalf("%+v, %v", v.Spec, err)
	}
	history, err := b.History(t.Context(), "deck", "")
	if err != nil || len(history.Entries) != 1 || strings.Contains(strings.Join(fieldsIn(history.Entries[0]), " "), "trial_min") {
		t.Errorf("%+v, %v", history, err)
	}
	spec.TrialMin = 25
	if v, err = b.DeckSetup(t.Context(), app.DeckSetupRequest{Spec: spec, IfMatch: v.ETag}); err != nil || v.Spec.TrialMin != 25 || v.Spec.WashoutMin != 30 {
		t.Errorf("%+v, %v", v.Spec, err)
	}
}

func fieldsIn(e app.EntryView) (out []string) {
	for _, v := range e.Values {
		out = append(out, v.Field)
	}
	return out
}

func TestDeckSetup(t *testing.T) {
	b, m, s := bay(t, app.ImportRequest{Author: "Aoife Byrne"})
	v := deckOf(t, b)
	spec := v.Spec
	spec.Heights = nil
	spec.TrialMin = 30
	second, err := b.DeckSetup(t.Context(), app.DeckSetupRequest{Spec: spec, IfMatch: v.ETag, Author: "Tom Kett"})
	if err != nil || !second.SpecWritten || second.ETag == v.ETag || second.Spec.TrialMin != 30 || len(second.Spec.Heights) != 0 {
		t.Fatalf("%+v, %v", second, err)
	}
	written := len(m.entries)
	// The same wish again, as after an answer that was lost.
	if again, err := b.DeckSetup(t.Context(), app.DeckSetupRequest{Spec: spec, IfMatch: v.ETag}); err != nil || again.ETag != second.ETag {
		t.Errorf("%+v, %v", again, err)
	}
	other := v.Spec
	other.WashoutMin = 20
	_, err = b.DeckSetup(t.Context(), app.DeckSetupRequest{Spec: other, IfMatch: v.ETag, Author: "Nora Quill"})
	if !errors.Is(err, app.ErrChangedMeanwhile) || !strings.Contains(err.Error(), "Tom Kett") || !strings.Contains(err.Error(), "11 June 2026 at 10:0") {
		t.Errorf("a second writer: %v", err)
	}
	bad := spec
	bad.Responses = append([]deck.Response{}, spec.Responses...)
	bad.Responses[1].Turned, bad.Responses[1].Bit = "no", "yes"
	bad.TrialMin = -1
	_, err = b.DeckSetup(t.Context(), app.DeckSetupRequest{Spec: bad, IfMatch: second.ETag})
	var wrong *app.EditError
	if !errors.As(err, &wrong) || len(wrong.Faults) != 2 || wrong.Faults[0].Kind != "deck" || wrong.Faults[0].Field != "responses/1/turned" || wrong.Faults[1].Field != "trial_min" {
		t.Errorf("faults: %v", err)
	}
	if len(m.entries) != written {
		t.Errorf("%d entries were written", len(m.entries)-written)
	}
	third, err := b.DeckSetup(t.Context(), app.DeckSetupRequest{Spec: other, IfMatch: strings.Trim(second.ETag, `"`), Author: "Nora Quill", Reason: "longer"})
	if err != nil || third.Spec.WashoutMin != 20 {
		t.Fatalf("%+v, %v", third, err)
	}
	history, err := b.History(t.Context(), "deck", "")
	if err != nil || len(history.Entries) != 2 || history.Entries[1].Reason != "longer" || history.Entries[1].Author != "Nora Quill" {
		t.Fatalf("%+v, %v", history, err)
	}
	if diff := cmp.Diff([]string{"heights", "trial_min", "washout_min"}, fieldsIn(history.Entries[1])); diff != "" {
		t.Error(diff)
	}
	if _, err := b.Undo(t.Context(), app.UndoRequest{Entry: history.Entries[1].Entry}); err != nil {
		t.Fatal(err)
	}
	if got := deckOf(t, b); got.ETag != second.ETag {
		t.Errorf("undone: %+v", got.Spec)
	}
	// No edit of a table writes it.
	_, err = b.Edit(t.Context(), app.EditRequest{Changes: []app.CellChange{{Kind: "deck", Field: "spec", To: "{}"}}})
	if !errors.As(err, &wrong) {
		t.Errorf("edited: %v", err)
	}
	m.readOnly = true
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestDeckOfAnEmptyStudy: a page gets lists, empty ones too, and never null.
func TestDeckOfAnEmptyStudy(t *testing.T) {
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	if _, err := s.Create(t.Context(), app.NewStudyRequest{Study: "empty", Title: "Gannet Sound (invented)"}); err != nil {
		t.Fatal(err)
	}
	b := openStudy(t, s, "empty")
	view, err := b.Deck(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	log, err := b.DeckLog(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for name, v := range map[string]any{"deck": view, "log": log} {
		text, err := json.Marshal(v)
		if err != nil || strings.Contains(string(text), "null") {
			t.Errorf("%s: %s %v", name, text, err)
		}
	}
}
