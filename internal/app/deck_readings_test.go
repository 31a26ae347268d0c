package app_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

// currentRead is a current that a tablet read, and its blob.
func currentRead(m *memStudy, id, trial, when, at, uA string) journal.Draft {
	salt := bytes.Repeat([]byte{9}, 32)
	sum := sha256.Sum256(append(append([]byte{}, salt...), id...)) // the store in memory takes any reference
	ref := hex.EncodeToString(sum[:])
	if uA != "" {
		m.guarded[ref] = memSalted{salt, app.Assignment{"current_uA": uA}}
	}
	return recorded(study.KindReading, id, map[string]string{"trial": trial, "when": when, "time": at, "ref": ref})
}

// currents are what stands of the currents before and after a trial.
func currents(t testing.TB, b *app.Study, trial string) string {
	t.Helper()
	return cell(t, b, "trial", trial, "current_before_uA") + "/" + cell(t, b, "trial", trial, "current_after_uA")
}

func TestReadingsOfOpenedTrials(t *testing.T) {
	b, m, _ := blindBay(t)
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now.Add(time.Minute))
	merged(t, b, tablet.Write(
		t,
		currentRead(m, "7c1e-r0001", "T1", "before", "2026-06-01T20:58:00+01:00", "9.1"),
		currentRead(m, "7c1e-r0002", "T1", "after", "2026-06-01T21:44:00+01:00", "8.7"),
		currentRead(m, "7c1e-r0003", "T1", "after", "2026-06-01T21:42:00+01:00", "1"), // read before the one above, and written down later
		currentRead(m, "7c1e-r0004", "T3", "before", "2026-06-02T20:58:00+01:00", "6.1"),
		currentRead(m, "7c1e-r0005", "T2", "before", "2026-06-01T21:58:00+01:00", ""), // has not come yet
		currentRead(m, "7c1e-r0006", "T2", "after", "2026-06-01T22:58:00+01:00", "about 9"),
	)...)
	for _, trial := range []string{"T1", "T2", "T3"} {
		if got := currents(t, b, trial); got != "/" {
			t.Errorf("blind, %s shows %q", trial, got)
		}
	}
	put(t, m, "Nora Quill", opened("opening 1", "T1"))
	if a, c := currents(t, b, "T1"), currents(t, b, "T3"); a != "9.1/8.7" || c != "/" {
		t.Errorf("one trial opened: T1 %q, T3 %q", a, c)
	}
	put(t, m, "Nora Quill", opened("opening 2", ""))
	if a, n, c := currents(t, b, "T1"), currents(t, b, "T2"), currents(t, b, "T3"); a != "9.1/8.7" || n != "/" || c != "6.1/" {
		t.Errorf("all opened: T1 %q, T2 %q, T3 %q", a, n, c)
	}
	warned := warnedNow(t, b)
	for _, want := range []string{"trial T2: a current that was read before it has not come", "trial T2: the current that was read after it is no number"} {
		if !strings.Contains(warned, want) {
			t.Errorf("no warning %q in %s", want, warned)
		}
	}
	if strings.Contains(warned, "T1") {
		t.Errorf("warned of T1: %s", warned)
	}
	// One that comes in now is marked as late; what it refers to is nothing to read.
	merged(t, b, tablet.Write(t, currentRead(m, "7c1e-r0007", "T3", "after", "2026-06-02T21:44:00+01:00", "5.9"))...)
	rows, err := b.AfterOpening(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	late := map[string]string{}
	for _, row := range rows {
		if row.Kind == "reading" && row.ID == "7c1e-r0007" {
			late[row.Field] = row.To
		}
	}
	if diff := cmp.Diff(map[string]string{"trial": "T3", "when": "after", "time": "2026-06-02T21:44:00+01:00"}, late); diff != "" {
		t.Errorf("late: %s", diff)
	}
	if got := currents(t, b, "T3"); got != "6.1/5.9" {
		t.Errorf("late: %q", got)
	}
	// What is recorded wins, and the difference is told.
	done := set(t, b, "Tom Kett", app.CellChange{Kind: "trial", ID: "T1", Field: "current_before_uA", From: "9.1", To: "9.3"})
	if got := currents(t, b, "T1"); got != "9.3/8.7" {
		t.Errorf("recorded: %q", got)
	}
	kept, err := m.State(t.Context(), study.KindAssignment, "T1")
	if err != nil || m.guarded[kept.Fields["ref"]].Assignment["current_after_uA"] != "" {
		t.Errorf("an edit wrote what was only read: %+v, %v", m.guarded[kept.Fields["ref"]], err)
	}
	if w := warnedNow(t, b); !strings.Contains(w, "trial T1: 9.3 µA is recorded as the current before it, and 9.1 µA was read on deck") {
		t.Errorf("warnings: %s", w)
	}
	if _, err := b.Undo(t.Context(), app.UndoRequest{Entry: done.Entries[0].Entry}); err != nil {
		t.Fatal(err)
	}
	if got := currents(t, b, "T1"); got != "9.1/8.7" {
		t.Errorf("taken back: %q", got)
	}
	// An edit of something else leaves what was read where it is.
	set(t, b, "Tom Kett", app.CellChange{Kind: "trial", ID: "T1", Field: "note", From: "calm", To: "choppy"})
	set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "P1", Field: "note", From: "", To: "seen"})
	if got := currents(t, b, "T1"); got != "9.1/8.7" {
		t.Errorf("after other edits: %q", got)
	}
	if kept, err = m.State(t.Context(), study.KindAssignment, "T1"); err != nil || m.guarded[kept.Fields["ref"]].Assignment["current_before_uA"] != "" {
		t.Errorf("an edit of a note wrote what was only read: %+v, %v", kept, err)
	}
	// A reading that is withdrawn gives its place to the one before.
	if _, err := b.Edit(t.Context(), app.EditRequest{Remove: []app.RowName{{Kind: "reading", ID: "7c1e-r0002"}}, Reason: "plugs swapped"}); err != nil {
		t.Fatal(err)
	}
	if got := currents(t, b, "T1"); got != "9.1/1" {
		t.Errorf("withdrawn: %q", got)
	}
}

func warnedNow(t testing.TB, b *app.Study) string {
	t.Helper()
	if _, err := b.Analyse(t.Context()); err != nil {
		t.Fatal(err)
	}
	for range 600 {
		if v, err := b.Results(t.Context()); err != nil {
			t.Fatal(err)
		} else if v.State != "running" {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	f, err := b.Findings(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(f.Warnings, "\n")
}

// TestReadingsTellNothing: of two blind studies that differ only in what was read
// on deck, every answer is the same to the last byte.
func TestReadingsTellNothing(t *testing.T) {
	var answers [2]map[string]string
	for i, uA := range []string{"9.1", "43.7"} {
		shelf := newMemShelf()
		s := newStudies(t, shelf)
		importInto(t, s, shelf, "bay", smallSeason(), app.ImportRequest{Blind: true, Author: "Aoife Byrne"})
		b, m := openStudy(t, s, "bay"), shelf.studies["bay"]
		tablet := storetest.NewTablet("deck-7c1e", m.clock.Now.Add(time.Minute))
		merged(t, b, tablet.Write(
			t, currentRead(m, "7c1e-r0001", "T1", "before", "2026-06-01T20:58:00+01:00", uA), currentRead(m, "7c1e-r0002", "T2", "after", "2026-06-01T22:44:00+01:00", uA),
		)...)
		answers[i] = everyAnswer(t, s, "bay")
		keep := func(what string, v any, err error) {
			text, failed := json.Marshal([]any{v, fmt.Sprint(err)})
			if failed != nil {
				t.Fatal(failed)
			}
			answers[i][what] = string(text)
		}
		table, err := b.Table(t.Context(), "reading", 0, 100)
		keep("readings", table, err)
		if len(table.Rows) != 2 {
			t.Errorf("%d readings: %v", len(table.Rows), err)
		}
		history, err := b.History(t.Context(), "reading", "7c1e-r0001")
		keep("history of a reading", history, err)
		if text := answers[i]["history of a reading"]; strings.Contains(text, `"ref"`) || !strings.Contains(text, "2026-06-01T20:58:00+01:00") {
			t.Errorf("history: %s", text)
		}
		v, err := b.Deck(t.Context())
		keep("deck", v, err)
		log, err := b.DeckLog(t.Context())
		keep("deck log", log, err)
		_, err = b.Edit(t.Context(), app.EditRequest{Changes: []app.CellChange{{Kind: "trial", ID: "T1", Field: "current_before_uA", From: uA, To: "1"}}})
		keep("edit of what is sealed", nil, err)
	}
	if diff := cmp.Diff(answers[0], answers[1]); diff != "" {
		t.Errorf("the answers tell what was read:\n%s", diff)
	}
}

// assignmentRef is the reference to the assignment of a trial.
func assignmentRef(t *testing.T, m *memStudy, trial string) string {
	t.Helper()
	state, err := m.State(t.Context(), study.KindAssignment, trial)
	if err != nil || state == nil || m.guarded[state.Fields["ref"]].Assignment["current_uA"] == "" {
		t.Fatalf("assignment of %s: %+v, %v; expected one with a current", trial, state, err)
	}
	return state.Fields["ref"]
}

// TestReadingsAreNotMoved: an entry from elsewhere that puts the reading of a
// sealed trial into an opened one shows nothing.
func TestReadingsAreNotMoved(t *testing.T) {
	b, m, _ := blindBay(t)
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now.Add(time.Minute))
	first := currentRead(m, "7c1e-r0001", "T3", "before", "2026-06-02T20:58:00+01:00", "6.1")
	second := currentRead(m, "7c1e-r0002", "T3", "after", "2026-06-02T21:58:00+01:00", "6.2")
	copied := recorded(study.KindReading, "7c1e-r0003", map[string]string{"trial": "T1", "when": "before", "time": "2026-06-02T22:00:00+01:00", "ref": first.Body.Fields["ref"]})
	moved := journal.Draft{Kind: study.KindReading, Subject: "7c1e-r0002", Act: journal.Correct, Body: journal.Body{Fields: map[string]string{"trial": "T1"}, Was: map[string]string{"trial": "T3"}}}
	assigned := recorded(study.KindReading, "7c1e-r0004", map[string]string{"trial": "T1", "when": "after", "time": "2026-06-02T22:00:00+01:00", "ref": assignmentRef(t, m, "T3")})
	merged(t, b, tablet.Write(t, first, second, copied, moved, assigned)...)
	put(t, m, "Nora Quill", opened("opening 1", "T1"))
	if got := currents(t, b, "T1"); got != "/" {
		t.Errorf("T1 shows %q, which was read of a sealed trial", got)
	}
	log, err := b.DeckLog(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range log.Readings {
		if r.CurrentUA != nil {
			t.Errorf("reading %s of %s shows %g", r.ID, r.Trial, *r.CurrentUA)
		}
	}
	// Nor does any Brinefield write such a thing.
	_, err = b.Edit(t.Context(), app.EditRequest{Changes: []app.CellChange{{Kind: "reading", ID: "7c1e-r0001", Field: "trial", From: "T3", To: "T1"}}})
	if err == nil || !strings.Contains(err.Error(), "stays with its trial") {
		t.Errorf("moved: %v", err)
	}
	_, err = b.Edit(t.Context(), app.EditRequest{Add: []app.NewRow{{Kind: "reading", ID: "x", Fields: map[string]string{"trial": "T1"}}}})
	if err == nil {
		t.Error("a reading was made by hand")
	}
}

// TestReadingsInAnExport: an export holds what was read, and taking it in again
// brings no news.
func TestReadingsInAnExport(t *testing.T) {
	b, m, s := bay(t, app.ImportRequest{})
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now.Add(time.Minute))
	merged(t, b, tablet.Write(
		t, currentRead(m, "7c1e-r0001", "T1", "before", "2026-06-01T20:58:00+01:00", "9.1"),
		journal.Draft{Kind: study.KindPass, Subject: "P2", Act: journal.Correct, Body: journal.Body{Fields: map[string]string{"height_class": "on the bottom"}}},
	)...)
	out := exported(t, b)
	if !strings.Contains(string(out["trials.csv"]), "9.1") || !strings.Contains(string(out["passes.csv"]), "height_class") || !strings.Contains(string(out["passes.csv"]), "on the bottom") {
		t.Fatalf("%s%s", out["trials.csv"], out["passes.csv"])
	}
	sameFolder(t, "canonical", out, canonical(t, out))
	before := len(m.entries)
	plan := planOf(t, s, "bay", out)
	done, err := s.Import(t.Context(), app.ImportRequest{Plan: plan.Plan})
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range m.entries[before:] {
		if e.Kind != study.KindImport {
			t.Errorf("taken in again, it writes %s %s (%d entries)", e.Kind, e.Subject, done.Entries)
		}
	}
	sameFolder(t, "again", out, exported(t, b))
}
