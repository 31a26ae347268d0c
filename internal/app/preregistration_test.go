package app_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
)

// plainSealer wraps what it seals and hides nothing: what is tested here never
// looks inside. What else a sealer does is not asked of it.
type plainSealer struct{ app.Sealer }

func (plainSealer) CheckPublic(string) error { return nil }
func (plainSealer) Seal(_ []string, plain []byte) (string, error) {
	return "sealed " + hex.EncodeToString(plain), nil
}

var sealedPlan = app.SchedulePlan{
	Pairs: []string{"A", "B"}, CurrentsUA: []float64{6, 9.5}, Trials: 24, Silent: 4, Sham: 4, OdourOff: 2, Repeats: 2, MostAlike: 3, Spare: 8,
}

// sealInto writes a sealed schedule into a study's journal as sealing it does.
func sealInto(t *testing.T, m *memStudy, id string, chance [32]byte) app.ScheduleDocument {
	t.Helper()
	doc, err := app.DrawSchedule(app.ScheduleQuestion{Plan: sealedPlan, PerDay: 6, SealTo: []string{"age1lead", "age1paper"}}, plainSealer{}, rand.NewChaCha8(chance), app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(doc)
	if err != nil {
		t.Fatal(err)
	}
	write(t, m, study.KindSeal, id, map[string]string{"document": string(text), "per_day": "6"})
	return doc
}

// write puts a record into a study's journal that the program writes itself.
func write(t *testing.T, m *memStudy, kind study.Kind, id string, fields map[string]string) {
	t.Helper()
	_, err := m.folder("bay").Journal.Append(t.Context(), []journal.Draft{{Kind: kind, Subject: id, Act: journal.Record, Body: journal.Body{Fields: fields}}})
	if err != nil {
		t.Fatal(err)
	}
}

func preregistration(t *testing.T, b *app.Study) app.PreregistrationView {
	t.Helper()
	v, err := b.Preregistration(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func register(t *testing.T, b *app.Study, author string) app.PreregistrationView {
	t.Helper()
	v, err := b.Register(t.Context(), app.RegisterRequest{Author: author, SHA256: preregistration(t, b).SHA256})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func protocol(t *testing.T, b *app.Study, fields map[string]string) {
	t.Helper()
	in := app.EditRequest{Author: "Aoife Byrne"}
	for _, field := range []string{"people", "hypotheses", "criteria", "stopping_rule", "analysis_plan", "method"} {
		if to, ok := fields[field]; ok {
			in.Changes = append(in.Changes, app.CellChange{Kind: "protocol", Field: field, From: cell(t, b, "protocol", "", field), To: to})
		}
	}
	if _, err := b.Edit(t.Context(), in); err != nil {
		t.Fatal(err)
	}
}

func TestPreregistrationSaysWhatIsPlanned(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	v := preregistration(t, b)
	want := []string{"hypotheses", "method", "criteria", "stopping_rule", "analysis_plan", "uncertainty", "seal"}
	if diff := cmp.Diff(want, v.Missing); diff != "" {
		t.Errorf("missing: %s", diff)
	}
	protocol(t, b, map[string]string{
		"people": "Aoife Byrne, Tom Kett", "hypotheses": "Rays turn at the live pair.\nThe smallest effect that matters is an odds ratio of 2.",
		"criteria": "All rays that come within 16 cm.\n- no animal in amplexus\n# not a heading\n---", "stopping_rule": "After 24 trials, or on the first injury.",
		"analysis_plan": "The detection median.",
	})
	first := sealInto(t, m, "seal 1", [32]byte{1})
	doc := sealInto(t, m, "seal 2", [32]byte{2})
	v = preregistration(t, b)
	if diff := cmp.Diff([]string{"method", "uncertainty"}, v.Missing); diff != "" {
		t.Errorf("missing: %s", diff)
	}
	for _, part := range []string{
		"# Inishcorr bay, two evenings (invented)\n", "## Question\n\nDo thornback rays turn to a prey-like field?\n",
		"## Hypotheses\n\nRays turn at the live pair.\nThe smallest effect that matters is an odds ratio of 2.\n", "- Raja clavata\n",
		"\n- no animal in amplexus\n\\# not a heading\n\\---\n", "## Stopping rule\n\nAfter 24 trials, or on the first injury.\n",
		"- Pairs: A, B.\n", "- Currents: 6, 9.5 µA.\n", "- Trials: 24, of which silent (no pair is driven): 4, shams (the switch is thrown to no pair): 4.", "- Driven trials without odour: 2.\n", "- Spare draws: 8,",
		"- Trials of a day: 6.\n", "; a block drives no pair more than 2 times.\n", "- Limit: the same pair in at most 3 driven trials running.\n", "- Keys: sealed to 2 keys,",
		"    " + doc.Seal + "\n", "brinefield verify", "## How a trial goes\n\nNot stated.\n",
	} {
		if !strings.Contains(v.Text, part) {
			t.Errorf("it does not say %q:\n%s", part, v.Text)
		}
	}
	for _, not := range []string{"Aoife", "Kett", "age1", first.Seal, doc.Trials[0].Commitment, "sealed 7b"} {
		if strings.Contains(v.Text, not) {
			t.Errorf("it says %q", not)
		}
	}
	sum := sha256.Sum256([]byte(v.Text)) // FIPS 180-4
	if v.SHA256 != hex.EncodeToString(sum[:]) {
		t.Errorf("SHA-256 %s", v.SHA256)
	}
	if again := preregistration(t, b); again.Text != v.Text {
		t.Error("asked twice, it says something else")
	}
}

func TestRegister(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	protocol(t, b, map[string]string{"people": "Aoife Byrne, Tom Kett", "criteria": "All rays."})
	read := preregistration(t, b)
	if read.Changed || len(read.Registered) != 0 {
		t.Fatalf("before the first: %+v", read)
	}
	done := register(t, b, "Aoife Byrne")
	if len(done.Registered) != 1 || done.Changed {
		t.Fatalf("registered: %+v", done)
	}
	got := done.Registered[0]
	// The bay's first trial began on 1 June 2026; the clock of the test says 11 June.
	if got.ID != "preregistration 1" || got.Text != read.Text || got.SHA256 != read.SHA256 || got.Written.By != "Aoife Byrne" || !got.Late || !strings.HasPrefix(got.Written.When, "2026-06-11T10:") {
		t.Errorf("registered: %+v", got)
	}
	entry := m.entries[len(m.entries)-1]
	if entry.Kind != study.KindPreregistration || !strings.HasPrefix(entry.Author, "person:") || entry.Body.Fields["text"] != read.Text || len(entry.Body.Fields) != 2 {
		t.Errorf("entry: %+v", entry)
	}
	for what, in := range map[string]app.RegisterRequest{
		"preregistration//author": {SHA256: read.SHA256, Author: "  "},
		"preregistration//text":   {SHA256: read.SHA256, Author: "Aoife Byrne"}, // nothing changed
	} {
		refuseRegister(t, b, m, in, what)
	}
	protocol(t, b, map[string]string{"criteria": "All rays and skates."})
	if v := preregistration(t, b); !v.Changed || v.Registered[0].Text != read.Text {
		t.Errorf("after a change: %+v", v)
	}
	before := len(m.entries)
	if _, err := b.Register(t.Context(), app.RegisterRequest{Author: "Tom Kett", SHA256: read.SHA256}); !errors.Is(err, app.ErrChangedMeanwhile) || len(m.entries) != before {
		t.Errorf("a text that is not the one that was read: %v", err)
	}
	// A name in what cannot be erased; known people of the study are refused.
	protocol(t, b, map[string]string{"criteria": "As judged by Tom KETT."})
	refuseRegister(t, b, m, app.RegisterRequest{Author: "Aoife Byrne", SHA256: preregistration(t, b).SHA256}, "preregistration//text")
	protocol(t, b, map[string]string{"criteria": "As judged by the second scorer."})
	if v := register(t, b, "Tom Kett"); len(v.Registered) != 2 || v.Registered[1].ID != "preregistration 2" || v.Changed {
		t.Errorf("the second: %+v", v)
	}
	// It cannot be taken back, and nobody edits it.
	last := m.entries[len(m.entries)-1]
	var fault *app.EditError
	if _, err := b.Undo(t.Context(), app.UndoRequest{Entry: last.ID}); !errors.As(err, &fault) {
		t.Errorf("undone: %v", err)
	}
	if _, err := b.Edit(t.Context(), app.EditRequest{Changes: []app.CellChange{{Kind: "preregistration", ID: last.Subject, Field: "text", From: last.Body.Fields["text"], To: "x"}}}); err == nil {
		t.Error("edited")
	}
}

func refuseRegister(t *testing.T, b *app.Study, m *memStudy, in app.RegisterRequest, at string) {
	t.Helper()
	before := len(m.entries)
	_, err := b.Register(t.Context(), in)
	var fault *app.EditError
	if !errors.As(err, &fault) || len(m.entries) != before {
		t.Errorf("%s: %v, %d entries more", at, err, len(m.entries)-before)
		return
	}
	if f := fault.Faults[0]; f.Kind+"/"+f.ID+"/"+f.Field != at || f.Expected == "" {
		t.Errorf("%s: %+v", at, f)
	}
}

func TestRegisterInTime(t *testing.T) {
	shelf := newMemShelf()
	shelf.clock.Now = time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC)
	s := newStudies(t, shelf)
	if _, err := s.Create(t.Context(), app.NewStudyRequest{Study: "early", Title: "Early (invented)", Author: "Aoife Byrne"}); err != nil {
		t.Fatal(err)
	}
	early := openStudy(t, s, "early")
	if v := register(t, early, "Aoife Byrne"); v.Registered[0].Late {
		t.Error("a study without trials is late")
	}
	importInto(t, s, shelf, "bay", smallSeason(), app.ImportRequest{})
	if v := register(t, openStudy(t, s, "bay"), "Aoife Byrne"); v.Registered[0].Late {
		t.Error("registered a month before the first trial, and late")
	}
}

// TestPreregistrationTellsNothing: of two studies that differ only in what is
// guarded, and whose schedules were drawn by other chance, the document and the
// draft of the plan are the same to the last byte, but for the seal itself.
func TestPreregistrationTellsNothing(t *testing.T) {
	other := with(t, smallSeason(), "trials.csv", "21:40,A,9.0,sine", "21:40,none,12,square")
	other = with(t, other, "trials.csv", "22:40,none,9.0,", "22:40,A+B,3,sine")
	var texts, drafts [2]string
	for i, in := range []app.Input{smallSeason(), other} {
		shelf := newMemShelf()
		s := newStudies(t, shelf)
		importInto(t, s, shelf, "bay", in, app.ImportRequest{Blind: true, Author: "Aoife Byrne"})
		b := openStudy(t, s, "bay")
		doc := sealInto(t, shelf.studies["bay"], "seal 1", [32]byte{byte(i)})
		v := register(t, b, "Aoife Byrne")
		texts[i] = strings.ReplaceAll(v.Text, doc.Seal, "SEAL")
		write(t, shelf.studies["bay"], study.KindOpening, "opening 1", map[string]string{"active_pairs": "opened"})
		if preregistration(t, b).Changed {
			t.Error("opening the pairs changes the document")
		}
		q, err := b.Question(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		drafts[i] = q.Draft
	}
	if diff := cmp.Diff(texts[0], texts[1]); diff != "" {
		t.Errorf("the document tells what is sealed:\n%s", diff)
	}
	if drafts[0] != drafts[1] {
		t.Error("the draft tells what is sealed")
	}
	for _, part := range []string{"(Raja clavata", "16 cm", "0, 0.05, 0.1 and 0.2 s"} {
		if !strings.Contains(drafts[0], part) {
			t.Errorf("the draft does not say %q: %s", part, drafts[0])
		}
	}
}

// The file in an export can be checked with what every system has: the hash is
// that of all below the line.
func TestPreregistrationInExport(t *testing.T) {
	b, _, s := bay(t, app.ImportRequest{})
	ctx := context.Background()
	files, err := b.ExportStudy(ctx, true)
	if err != nil {
		t.Fatal(err)
	}
	if files["preregistration.md"] != nil || bytes.Contains(files["README.txt"], []byte("preregistration.md")) {
		t.Error("nothing was registered, and the export speaks of it")
	}
	protocol(t, b, map[string]string{"criteria": "All rays.\n\n---\n\nAnd skates."})
	v := register(t, b, "Aoife Byrne")
	protocol(t, b, map[string]string{"criteria": "Changed later."})
	if files, err = b.ExportStudy(ctx, true); err != nil {
		t.Fatal(err)
	}
	head, text, ok := strings.Cut(string(files["preregistration.md"]), "\n---\n")
	last := v.Registered[0]
	sum := sha256.Sum256([]byte(text))
	if !ok || text != last.Text || !strings.Contains(head, hex.EncodeToString(sum[:])) || !strings.Contains(head, last.Written.When) || !strings.Contains(head, "had begun before") || strings.Contains(head, "Byrne") {
		t.Errorf("file: %s", files["preregistration.md"])
	}
	if !bytes.Contains(files["README.txt"], []byte("preregistration.md\n    ")) {
		t.Errorf("README: %s", files["README.txt"])
	}
	if plain, err := b.ExportStudy(ctx, false); err != nil || plain["preregistration.md"] != nil {
		t.Errorf("without the journal: %v, %s", err, plain["preregistration.md"])
	}
	// Importing such a folder neither warns nor reads it.
	plan := planOf(t, s, "", files)
	if len(plan.Warnings) > 0 {
		t.Errorf("warnings: %q", plan.Warnings)
	}
	files["preregistration.md"] = []byte("\xff nonsense")
	if again := planOf(t, s, "", files); fmt.Sprint(again.Tables, again.Warnings) != fmt.Sprint(plan.Tables, plan.Warnings) || slices.ContainsFunc(again.Tables, func(t app.PlanTable) bool { return t.Kind == "preregistration" }) {
		t.Errorf("it was read: %+v", again)
	}
}
