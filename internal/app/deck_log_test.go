package app_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

// logFile is a saved log as docs/formats/deck-log.md says it.
func logFile(t testing.TB, name, device string, lines [][]byte, blobs ...app.DeckBlob) string {
	t.Helper()
	var b strings.Builder
	put := func(v any) {
		text, err := json.Marshal(v) // keys of a map come sorted
		if err != nil {
			t.Fatal(err)
		}
		b.Write(text)
		b.WriteByte('\n')
	}
	put(map[string]any{"deck": map[string]any{"device": device, "format": "brinefield deck log", "name": name, "version": 1}})
	hash := sha256.New()
	for _, line := range lines {
		hash.Write(append(slices.Clone(line), '\n'))
		b.Write(append(slices.Clone(line), '\n'))
	}
	for _, blob := range blobs {
		put(map[string]any{"blob": map[string]any{"data": blob.Data, "kind": blob.Kind, "ref": blob.Ref, "salt": blob.Salt}})
	}
	put(map[string]any{"end": map[string]any{"blobs": len(blobs), "entries": len(lines), "missing": 0, "saved": "2026-06-11T09:00:00.000Z", "sha256": hex.EncodeToString(hash.Sum(nil))}})
	return b.String()
}

func takenLog(t testing.TB, b *app.Study, file string) app.DeckImported {
	t.Helper()
	done, err := b.DeckImport(t.Context(), app.DeckImportRequest{File: file})
	if err != nil {
		t.Fatal(err)
	}
	return done
}

func TestDeckImport(t *testing.T) {
	b, m, _ := blindBay(t)
	identity := identityOf(t, b)
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now)
	person, current := blobOf("person", 1, "Nora Quill (invented)"), blobOf("guarded", 3, `{"current_uA":"9.1"}`)
	pass := deckPass("7c1e-0001", "T1", "2026-06-01T21:20:00+01:00", "A")
	pass.Body.Fields["scorer"] = "person:" + person.Ref
	lines := tablet.Write(t, pass, reading("7c1e-r0001", current), passNote("7c1e-0001", "x"))
	tablet.Now = m.clock.Now.Add(-time.Hour)
	lines = append(lines, tablet.Write(t, passNote("7c1e-0001", "y"))...)
	file := logFile(t, identity, "deck-7c1e", lines, person, current)
	done := takenLog(t, b, file)
	if done.New != 4 || done.Known != 0 || done.Blobs != 2 || len(done.Faults) != 0 || len(done.Notes) != 1 || !strings.Contains(done.Notes[0], "set back before its entry 4") || !slices.Equal(done.Devices, []string{"deck-7c1e"}) {
		t.Errorf("%+v", done)
	}
	if got := cell(t, b, "pass", "7c1e-0001", "scorer") + cell(t, b, "pass", "7c1e-0001", "note"); got != "Nora Quill (invented)y" {
		t.Errorf("%q", got)
	}
	before := m.plain(t)
	if again := takenLog(t, b, file); again.New != 0 || again.Known != 4 || again.Blobs != 0 || len(again.Faults) != 0 {
		t.Errorf("again: %+v", again)
	}
	if diff := cmp.Diff(before, m.plain(t)); diff != "" {
		t.Errorf("the same file again changed something:\n%s", diff)
	}
	// The tablet goes on over the network as if nothing had been.
	if a := synced(t, asTablet(t.Context(), "operator", "deck-7c1e"), b, brought(t, b, append(lines, tablet.Write(t, passNote("P1", "later"))...))); a.Heads["deck-7c1e"].Seq != 5 || len(a.Missing) != 0 {
		t.Errorf("%+v", a)
	}
	for what, c := range map[string]struct {
		file string
		is   error
	}{
		"another study": {logFile(t, "01c38c8e-8180-7000-9715-609f7c746c69", "deck-7c1e", lines), app.ErrOtherLog},
		"no log":        {"pass,trial\n", app.ErrNoDeckLog},
		"nothing":       {"", app.ErrNoDeckLog},
		"an opening":    {logFile(t, identity, "deck-9", storetest.NewTablet("deck-9", m.clock.Now).Write(t, opened("opening 1", ""))), app.ErrDeckRefused},
		"one taken back": {logFile(t, identity, "deck-9", storetest.NewTablet("laptop-2", m.clock.Now).Write(t,
			journal.Draft{Kind: study.KindOpening, Subject: "opening 1", Act: journal.Remove})), app.ErrDeckRefused},
		"a seal": {logFile(t, identity, "deck-9", storetest.NewTablet("deck-9", m.clock.Now).Write(t, recorded(study.KindSeal, "s", map[string]string{"spec": "{}"}))), app.ErrDeckRefused},
	} {
		if _, err := b.DeckImport(t.Context(), app.DeckImportRequest{File: c.file}); !errors.Is(err, c.is) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if _, err := b.DeckImport(t.Context(), app.DeckImportRequest{File: strings.Replace(file, `"version":1`, `"version":2`, 1)}); err == nil || !strings.Contains(err.Error(), "update the program") {
		t.Errorf("of a newer program: %v", err)
	}
}

// Files that are not whole: what is whole was counted by hand.
func TestDeckImportOfWhatIsLeft(t *testing.T) {
	base, m, _ := blindBay(t)
	identity := identityOf(t, base)
	one, two := storetest.NewTablet("deck-1", m.clock.Now), storetest.NewTablet("deck-1-2", m.clock.Now.Add(time.Hour))
	lines := slices.Concat(one.Write(t, passNote("P1", "1"), passNote("P1", "2"), passNote("P1", "3")), two.Write(t, passNote("P2", "1"), passNote("P2", "2")))
	person, photo := blobOf("person", 1, "Nora Quill (invented)"), blobOf("photo", 2, "\xff\xd8")
	whole := logFile(t, identity, "deck-1-2", lines, person, photo)
	rows := strings.SplitAfter(whole, "\n") // head, five entries, two blobs, end
	join := func(rows ...string) string { return strings.Join(rows, "") }
	changed := strings.Replace(rows[2], `"note":"2"`, `"note":"8"`, 1)
	for what, c := range map[string]struct {
		file             string
		new, blobs       int
		faults           int
		says             string
		known, endsWhole bool
	}{
		"cut in an entry":       {file: join(rows[0], rows[1], rows[2][:40]), new: 1, faults: 2, says: "line 3"},
		"cut after an entry":    {file: join(rows[:4]...), new: 3, faults: 1, says: "cut off"},
		"cut in a blob":         {file: join(rows[:7]...) + rows[7][:60], new: 5, blobs: 1, faults: 2, says: "line 8"},
		"only the head":         {file: rows[0], faults: 1, says: "cut off"},
		"a line is gone":        {file: join(rows[0], rows[1], rows[3], rows[4], rows[5], rows[6], rows[7], rows[8]), new: 3, blobs: 2, faults: 3, says: "line 3: entry 3 of device deck-1 does not go on"},
		"a line was changed":    {file: join(rows[0], rows[1], changed, rows[3], rows[4], rows[5], rows[6], rows[7], rows[8]), new: 4, blobs: 2, faults: 2, says: "line 4"},
		"a line stands twice":   {file: join(rows[0], rows[1], rows[1], rows[2], rows[3], rows[4], rows[5], rows[6], rows[7], rows[8]), new: 5, blobs: 2, faults: 2, says: "counts 5 entries, and 6 are there"},
		"something behind":      {file: whole + rows[1], new: 5, blobs: 2, faults: 1, says: "line 10: it stands after the end"},
		"a blob was changed":    {file: strings.Replace(whole, `"kind":"photo","ref":"`, `"kind":"photo","ref":"0`, 1), new: 5, blobs: 1, faults: 2, says: "line 8"},
		"a blob of other kind":  {file: strings.Replace(whole, `"kind":"photo"`, `"kind":"film"`, 1), new: 5, blobs: 1, faults: 2, says: "film"},
		"lines as on Windows":   {file: strings.ReplaceAll(whole, "\n", "\r\n"), new: 5, blobs: 2},
		"not text":              {file: join(rows[0], "\xff\xfe\n", rows[1], rows[2], rows[3], rows[4], rows[5], rows[6], rows[7], rows[8]), new: 5, blobs: 2, faults: 3, says: "line 2"},
		"things that were lost": {file: strings.Replace(whole, `"missing":0`, `"missing":2`, 1), new: 5, blobs: 2, faults: 1, says: "2 names"},
	} {
		t.Run(what, func(t *testing.T) {
			b, m, _ := blindBay(t)
			done := takenLog(t, b, strings.Replace(c.file, identity, identityOf(t, b), 1))
			if done.New != c.new || done.Blobs != c.blobs || len(done.Faults) != c.faults || !strings.Contains(strings.Join(done.Faults, "\n"), c.says) {
				t.Errorf("%d new, %d blobs, faults:\n%s", done.New, done.Blobs, strings.Join(done.Faults, "\n"))
			}
			if doc, err := b.Verify(t.Context(), nil); err != nil || !doc.Same {
				t.Errorf("verify: %q, %v", doc.Differences, err)
			}
			// The whole file afterwards brings the rest, where nothing else stands there.
			if what != "a line was changed" {
				takenLog(t, b, strings.Replace(whole, identity, identityOf(t, b), 1))
				if h := m.heads["deck-1"]; h != one.Head || m.heads["deck-1-2"] != two.Head || m.erasable[photo.Ref] == nil {
					t.Errorf("the rest did not come in: %+v", h)
				}
			}
		})
	}
}

// Of two devices of a file one has forked: the other is taken in.
func TestDeckImportFork(t *testing.T) {
	b, m, _ := blindBay(t)
	one, two := storetest.NewTablet("deck-1", m.clock.Now), storetest.NewTablet("deck-1-2", m.clock.Now)
	one.Write(t)
	copied := *one
	synced(t, asTablet(t.Context(), "scorer", "deck-1"), b, brought(t, b, one.Write(t, passNote("P1", "here"))))
	lines := slices.Concat(copied.Write(t, passNote("P1", "in the file")), two.Write(t, passNote("P2", "1")))
	done := takenLog(t, b, logFile(t, identityOf(t, b), "deck-1-2", lines))
	if done.New != 1 || len(done.Faults) != 1 || !strings.Contains(done.Faults[0], "of device deck-1 nothing was taken in: its entry 1") {
		t.Errorf("%+v", done)
	}
	gap := storetest.NewTablet("deck-3", m.clock.Now).Write(t, passNote("P1", "1"), passNote("P1", "2"), passNote("P1", "3"))
	if done := takenLog(t, b, logFile(t, identityOf(t, b), "deck-3", gap[2:])); done.New != 0 || len(done.Faults) != 1 || !strings.Contains(done.Faults[0], "entries 1 to 2 are neither here") {
		t.Errorf("%+v", done)
	}
}

func logOf(t testing.TB, b *app.Study) app.DeckLogView {
	t.Helper()
	v, err := b.DeckLog(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestDeckLog(t *testing.T) {
	b, m, _ := blindBay(t)
	if v := logOf(t, b); len(v.Devices) != 1 || !v.Devices[0].Here || len(v.Same)+len(v.Passes)+len(v.Warnings) != 0 || v.Warnings == nil {
		t.Errorf("before anything came: %+v", v)
	}
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now)
	person, photo, gone := blobOf("person", 1, "Nora Quill (invented)"), blobOf("photo", 2, "\xff\xd8 here"), blobOf("voice", 3, "OggS\x00 erased")
	read, closed := blobOf("guarded", 4, `{"current_uA":"9.1"}`), blobOf("guarded", 5, `{"current_uA":"8.7"}`)
	by := "person:" + person.Ref
	of := func(d journal.Draft) journal.Draft { d.Body.Fields["by"] = by; return d }
	sealed := of(reading("7c1e-r0002", closed))
	sealed.Body.Fields["trial"], sealed.Body.Fields["when"] = "T3", "after"
	lines := tablet.Write(t,
		deckPass("7c1e-0001", "T1", "2026-06-01T21:20:00+01:00", "A"),
		of(recorded(study.KindEvent, "7c1e-e0001", map[string]string{"what": "adverse", "text": "snagged", "animal": "R1", "trial": "T1", "time": "2026-06-01T21:30:00+01:00"})),
		of(recorded(study.KindEvent, "7c1e-e0002", map[string]string{"what": "note", "text": "a seal came by"})),
		of(recorded(study.KindCheck, "7c1e-c0001", map[string]string{"trial": "T1", "check": "level", "state": "not ok", "note": "tilted"})),
		of(recorded(study.KindCount, "7c1e-k0001", map[string]string{"permit": "1", "animals": "3", "hours": "1.5", "species": "Raja clavata"})),
		of(recorded(study.KindCount, "7c1e-k0002", map[string]string{"permit": "1", "animals": "many", "hours": "NaN"})),
		of(reading("7c1e-r0001", read)), sealed,
		of(photographed("7c1e-a0001", photo)), of(photographed("7c1e-a0002", gone)), of(photographed("7c1e-a0003", blobOf("photo", 9, "later"))),
	)
	ctx := asTablet(t.Context(), "operator", "deck-7c1e")
	in := brought(t, b, lines, person, photo, gone, read, closed)
	in.NowMS = m.clock.Now.Add(90 * time.Second).UnixMilli()
	synced(t, ctx, b, in)
	if err := b.EraseAttachment(t.Context(), "7c1e-a0002", "Aoife Byrne", "a voice"); err != nil {
		t.Fatal(err)
	}
	if err := b.EraseAttachment(t.Context(), "7c1e-a0003", "Aoife Byrne", "a face"); !errors.Is(err, app.ErrNotHereYet) {
		t.Errorf("erasing what is not here yet: %v", err)
	}
	if err := b.EraseAttachment(t.Context(), "7c1e-a9999", "Aoife Byrne", "a face"); !errors.Is(err, app.ErrNoAttachment) {
		t.Errorf("erasing what there is not: %v", err)
	}
	put(t, m, "Nora Quill", opened("opening 1", "T1"))
	v := logOf(t, b)
	d := v.Devices[slices.IndexFunc(v.Devices, func(d app.DeckDevice) bool { return d.Device == "deck-7c1e" })]
	if d.Entries != 11 || d.Here || d.Passes != 1 || d.OffsetS == nil || *d.OffsetS != 90 || d.Stated == "" || d.Aligned || !strings.HasSuffix(d.Last, "+01:00") {
		t.Errorf("device: %+v", d)
	}
	if len(v.Events) != 2 || v.Events[0].What != "adverse" || v.Events[0].By != "Nora Quill (invented)" || v.Events[1].Text != "a seal came by" {
		t.Errorf("events: %+v", v.Events)
	}
	if len(v.Checks) != 1 || v.Checks[0].State != "not ok" || v.Checks[0].Note != "tilted" {
		t.Errorf("checks: %+v", v.Checks)
	}
	// Newest first; what is no number counts as nothing.
	if len(v.Counts) != 2 || v.Counts[1].Animals == nil || *v.Counts[1].Animals != 3 || *v.Counts[1].Hours != 1.5 || *v.Counts[0].Animals != 0 || *v.Counts[0].Hours != 0 {
		t.Errorf("counts: %+v", v.Counts)
	}
	// T1 is opened, T3 is not.
	if len(v.Readings) != 2 || v.Readings[1].Sealed || v.Readings[1].CurrentUA == nil || *v.Readings[1].CurrentUA != 9.1 || !v.Readings[0].Sealed || v.Readings[0].CurrentUA != nil || !v.Readings[0].Here {
		t.Errorf("readings: %+v", v.Readings)
	}
	text, err := json.Marshal(v)
	if err != nil || bytes.Contains(text, []byte("8.7")) || bytes.Contains(text, []byte("active_pair")) {
		t.Errorf("it tells what is sealed: %s, %v", text, err)
	}
	var states []string
	for _, a := range v.Attachments {
		states = append(states, a.ID+" "+a.State)
	}
	if diff := cmp.Diff([]string{"7c1e-a0003 not here yet", "7c1e-a0002 erased", "7c1e-a0001 here"}, states); diff != "" {
		t.Errorf("attachments (-want +got):\n%s", diff)
	}
	if len(v.Passes) != 1 || v.Passes[0].Pass != "7c1e-0001" || v.Passes[0].Device != "deck-7c1e" {
		t.Errorf("passes: %+v", v.Passes)
	}
	if said := strings.Join(v.Warnings, "\n"); !strings.Contains(said, "1 photo or voice note is not here yet") || !strings.Contains(said, "90.0 s ahead") {
		t.Errorf("warnings: %q", v.Warnings)
	}
	if doc, err := b.Verify(t.Context(), nil); err != nil || !doc.Same || !strings.Contains(strings.Join(doc.Notes, "\n"), "1 photo or voice note") {
		t.Errorf("verify: %q, %q, %v", doc.Differences, doc.Notes, err)
	}
}

func timesOf(t testing.TB, m *memStudy, passes ...string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, pass := range passes {
		st, err := m.State(t.Context(), study.KindPass, pass)
		if err != nil || st == nil {
			t.Fatalf("no pass %s: %v", pass, err)
		}
		out[pass] = st.Fields["time"]
	}
	return out
}

// Times by hand: the offset is taken off.
// TestDeckAlignMovesTrials: the start that a fast clock wrote moves with its passes;
// what another device, or a person, wrote stays, and nothing moves twice.
func TestDeckAlignMovesTrials(t *testing.T) {
	b, m, _ := blindBay(t)
	m.clock.Now = m.clock.Now.Add(time.Minute)
	fast, other := storetest.NewTablet("deck-7c1e", m.clock.Now), storetest.NewTablet("deck-9", m.clock.Now.Add(time.Second))
	trial := func(field, at string) journal.Draft {
		return journal.Draft{Kind: study.KindTrial, Subject: "T9", Act: journal.Correct, Body: journal.Body{Fields: map[string]string{field: at}}}
	}
	synced(t, asTablet(t.Context(), "scorer", "deck-7c1e"), b, brought(t, b, fast.Write(t,
		trial("start", "2026-06-01T21:01:30+01:00"), deckPass("7c1e-0001", "T9", "2026-06-01T21:02:00+01:00", "A"))))
	synced(t, asTablet(t.Context(), "scorer", "deck-9"), b, brought(t, b, other.Write(t, trial("end", "2026-06-01T21:40:00+01:00"))))
	m.clock.Now = m.clock.Now.Add(time.Hour)
	for range 2 {
		if _, err := b.DeckAlign(t.Context(), app.DeckAlignRequest{Device: "deck-7c1e", OffsetS: 90, Correct: true, Author: "Aoife Byrne"}); err != nil {
			t.Fatal(err)
		}
		state, err := m.State(t.Context(), study.KindTrial, "T9")
		if err != nil || state.Fields["start"] != "2026-06-01T21:00:00+01:00" || state.Fields["end"] != "2026-06-01T21:40:00+01:00" {
			t.Errorf("%+v, %v", state.Fields, err)
		}
		if got := timesOf(t, m, "7c1e-0001")["7c1e-0001"]; got != "2026-06-01T21:00:30+01:00" {
			t.Errorf("the pass is at %s", got)
		}
	}
}

func TestDeckAlign(t *testing.T) {
	b, m, _ := blindBay(t)
	m.clock.Now = m.clock.Now.Add(time.Minute)
	tablet, other := storetest.NewTablet("deck-7c1e", m.clock.Now), storetest.NewTablet("deck-9", m.clock.Now)
	synced(t, asTablet(t.Context(), "scorer", "deck-7c1e"), b, brought(t, b, tablet.Write(t,
		deckPass("7c1e-0001", "T1", "2026-06-01T21:20:00+01:00", "A"), deckPass("7c1e-0002", "T1", "2026-06-01T21:25:00.25+01:00", "A"),
		deckPass("7c1e-0003", "T1", "2026-06-01T21:26:10", "A"), deckPass("7c1e-0004", "T1", "no time", "A"), passNote("P1", "its own time stays"))))
	synced(t, asTablet(t.Context(), "scorer", "deck-9"), b, brought(t, b, other.Write(t, deckPass("9-0001", "T1", "2026-06-01T21:20:00+01:00", "B"))))
	m.clock.Now = m.clock.Now.Add(time.Hour)
	align := func(offset float64, correct bool) app.DeckLogView {
		t.Helper()
		v, err := b.DeckAlign(t.Context(), app.DeckAlignRequest{Device: "deck-7c1e", OffsetS: offset, Correct: correct, Author: "Aoife Byrne", Reason: "by the GPS"})
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	all := []string{"7c1e-0001", "7c1e-0002", "7c1e-0003", "7c1e-0004", "9-0001", "P1"}
	before := timesOf(t, m, all...)
	align(12.34, false)
	if diff := cmp.Diff(before, timesOf(t, m, all...)); diff != "" || clockOf(t, m, "deck-7c1e")["offset_s"] != "12.3" {
		t.Errorf("only stated: %s", diff)
	}
	v := align(12.34, true)
	want := maps.Clone(before)
	want["7c1e-0001"], want["7c1e-0002"], want["7c1e-0003"] = "2026-06-01T21:19:47.7+01:00", "2026-06-01T21:24:47.95+01:00", "2026-06-01T21:25:57.7"
	if diff := cmp.Diff(want, timesOf(t, m, all...)); diff != "" {
		t.Errorf("corrected (-want +got):\n%s", diff)
	}
	history, err := m.History(t.Context(), study.KindPass, "7c1e-0001")
	if err != nil || len(history) != 2 || history[1].Reason != "clock of device deck-7c1e was 12.3 s ahead of the laptop's: by the GPS" || history[1].Author == "" || len(history[1].Body.Fields) != 1 {
		t.Errorf("%+v, %v", history, err)
	}
	if d := v.Devices[0]; d.Device != "deck-7c1e" || d.Aligned || *d.OffsetS != 12.3 {
		t.Errorf("one of its passes has no time: %+v", d)
	}
	// Never twice, also with another offset, and with another study opened on it.
	n := len(m.lines)
	align(12.34, true)
	if len(m.lines) != n {
		t.Errorf("%d entries more", len(m.lines)-n)
	}
	align(-5, true)
	if diff := cmp.Diff(want, timesOf(t, m, all...)); diff != "" || len(m.lines) != n+1 {
		t.Errorf("aligned again: %d more %s", len(m.lines)-n, diff)
	}
	// Undone, it can be done again; an undo that was undone stands.
	undo := func(id string) string {
		t.Helper()
		done, err := b.Undo(t.Context(), app.UndoRequest{Entry: id, Author: "Aoife Byrne"})
		if err != nil {
			t.Fatal(err)
		}
		return done.Entries[0].Entry
	}
	undone := undo(history[1].ID)
	if got := timesOf(t, m, "7c1e-0001")["7c1e-0001"]; got != before["7c1e-0001"] {
		t.Errorf("undone: %s", got)
	}
	undo(undone)
	align(-5, true)
	if diff := cmp.Diff(want, timesOf(t, m, all...)); diff != "" {
		t.Errorf("undone twice, then aligned: %s", diff)
	}
	history, err = m.History(t.Context(), study.KindPass, "7c1e-0001")
	if err != nil {
		t.Fatal(err)
	}
	undo(history[len(history)-1].ID)
	align(-5, true)
	if got := timesOf(t, m, "7c1e-0001")["7c1e-0001"]; got != "2026-06-01T21:20:05+01:00" {
		t.Errorf("aligned anew: %s", got)
	}
	for what, in := range map[string]app.DeckAlignRequest{
		"this laptop": {Device: "memory", OffsetS: 1}, "nobody": {Device: "deck-0", OffsetS: 1}, "too much": {Device: "deck-9", OffsetS: 86401},
	} {
		var fault *app.EditError
		if _, err := b.DeckAlign(t.Context(), in); !errors.As(err, &fault) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if _, err := b.LockScoring(t.Context(), app.LockRequest{Author: "Aoife Byrne", Reason: "all scored", LeaveUnscored: true}); err == nil {
		if _, err := b.DeckAlign(t.Context(), app.DeckAlignRequest{Device: "deck-9", OffsetS: 3, Correct: true}); !errors.Is(err, app.ErrLocked) {
			t.Errorf("while scoring is locked: %v", err)
		}
	} else {
		t.Error(err)
	}
	if doc, err := b.Verify(t.Context(), nil); err != nil || !doc.Same {
		t.Errorf("verify: %q, %v", doc.Differences, err)
	}
}

func TestDeckReconcile(t *testing.T) {
	b, m, _ := blindBay(t)
	// P1 was at 21:03 at pair A, of R1, by this laptop; the tablet's clock is 60 s ahead.
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now.Add(time.Minute))
	in := brought(t, b, tablet.Write(t, deckPass("7c1e-0001", "T1", "2026-06-01T21:04:05+01:00", "A"), deckPass("7c1e-0002", "T1", "2026-06-01T21:03:05+01:00", "A")))
	in.NowMS = m.clock.Now.Add(time.Minute).UnixMilli()
	synced(t, asTablet(t.Context(), "scorer", "deck-7c1e"), b, in)
	same := logOf(t, b).Same
	if len(same) != 1 || same[0].ID != "7c1e-0001|P1" || same[0].SecondsApart != 5 || same[0].Passes[0].Pass != "P1" || same[0].Passes[1].Device != "deck-7c1e" || !slices.Contains(same[0].Differ, "individual") || slices.Contains(same[0].Differ, "trial") {
		t.Fatalf("%+v", same)
	}
	m.clock.Now = m.clock.Now.Add(time.Hour)
	// Aligned, it is the same one, and not moved twice.
	v, err := b.DeckAlign(t.Context(), app.DeckAlignRequest{Device: "deck-7c1e", OffsetS: 60, Correct: true})
	if err != nil || len(v.Same) != 1 || v.Same[0].ID != "7c1e-0001|P1" || v.Same[0].SecondsApart != 5 || !v.Devices[0].Aligned {
		t.Fatalf("aligned: %+v, %v", v.Same, err)
	}
	reconcile := func(verdict, keep string) app.DeckLogView {
		t.Helper()
		v, err := b.DeckReconcile(t.Context(), app.DeckReconcileRequest{Passes: [2]string{"P1", "7c1e-0001"}, Verdict: verdict, Keep: keep, Author: "Aoife Byrne", Reason: "on the film"})
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	last := func(kind study.Kind, id string) journal.Entry {
		t.Helper()
		h, err := m.History(t.Context(), kind, id)
		if err != nil || len(h) == 0 {
			t.Fatal(err)
		}
		return h[len(h)-1]
	}
	undo := func(e journal.Entry) {
		t.Helper()
		if _, err := b.Undo(t.Context(), app.UndoRequest{Entry: e.ID}); err != nil {
			t.Fatal(err)
		}
		if same := logOf(t, b).Same; len(same) != 1 {
			t.Errorf("undone: %+v", same)
		}
	}
	if v := reconcile("two", ""); len(v.Same) != 0 {
		t.Errorf("two: %+v", v.Same)
	}
	n := len(m.lines)
	reconcile("two", "")
	if len(m.lines) != n {
		t.Error("said twice")
	}
	e := last(study.KindDistinct, "7c1e-0001|P1")
	if e.Body.Fields["note"] != "on the film" || !strings.HasPrefix(e.Body.Fields["by"], "person:") {
		t.Errorf("%+v", e)
	}
	undo(e)
	if v := reconcile("one", "P1"); len(v.Same) != 0 || len(v.Passes) != 1 {
		t.Errorf("one: %+v", v)
	}
	if e = last(study.KindPass, "7c1e-0001"); e.Act != journal.Remove || e.Reason != "logged twice: it is the pass P1: on the film" {
		t.Errorf("%+v", e)
	}
	undo(e)
	for what, in := range map[string]app.DeckReconcileRequest{
		"no verdict":     {Passes: [2]string{"P1", "7c1e-0001"}, Verdict: "three"},
		"one of others":  {Passes: [2]string{"P1", "7c1e-0001"}, Verdict: "one", Keep: "P2"},
		"keeps nothing":  {Passes: [2]string{"P1", "7c1e-0001"}, Verdict: "one"},
		"one with none":  {Passes: [2]string{"P1", "P99"}, Verdict: "one", Keep: "P99"},
		"none withdrawn": {Passes: [2]string{"P1", "P99"}, Verdict: "one", Keep: "P1"},
		"itself":         {Passes: [2]string{"P1", "P1"}, Verdict: "one", Keep: "P1"},
		"two of one":     {Passes: [2]string{"P1", "P1"}, Verdict: "two"},
		"two of nothing": {Passes: [2]string{"P1", "P99"}, Verdict: "two"},
	} {
		before, fault := len(m.lines), (*app.EditError)(nil)
		if _, err := b.DeckReconcile(t.Context(), in); !errors.As(err, &fault) || len(m.lines) != before {
			t.Errorf("%s: %v, %s", what, err, fmt.Sprint(len(m.lines)-before))
		}
	}
}
