package app_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
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
	"brinefield/internal/storetest"
)

func merged(t testing.TB, b *app.Study, lines ...[]byte) app.MergeDone {
	t.Helper()
	done, err := b.MergeJournal(t.Context(), bytes.Join(lines, []byte("\n")))
	if err != nil {
		t.Fatal(err)
	}
	return done
}

// deckPass is a pass as a tablet writes it down.
func deckPass(id, trial, at, pair string) journal.Draft {
	return recorded(study.KindPass, id, map[string]string{"trial": trial, "time": at, "species": "Raja clavata", "pair": pair, "turned": "no", "bit": "no"})
}

func passNote(id, note string) journal.Draft {
	return journal.Draft{Kind: study.KindPass, Subject: id, Act: journal.Correct, Body: journal.Body{Fields: map[string]string{"note": note}, Was: map[string]string{"note": ""}}}
}

func TestMergeJournal(t *testing.T) {
	b, m, _ := blindBay(t)
	tablet := storetest.NewTablet("tablet", m.clock.Now.Add(time.Hour))
	if got := cell(t, b, "pass", "P1", "note"); got != "" {
		t.Fatal(got) // the records are read once before
	}
	lines := tablet.Write(t, deckPass("D1", "T1", "2026-06-01T21:20:00", "A"), deckPass("D2", "T77", "2026-06-01T21:25:00", "B"), passNote("P1", "by the tablet"))
	done := merged(t, b, slices.Concat(lines, lines[:1])...)
	want := app.MergeDone{New: 3, Known: 1, Devices: []app.MergedDevice{{Device: "tablet", New: 3, Known: 1, Entries: 3, Kinds: []app.MergedKind{{Kind: "pass", Entries: 3}}}}, NotHere: []string{}, Notes: []string{}}
	if diff := cmp.Diff(want, done); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got := cell(t, b, "pass", "P1", "note") + ", " + cell(t, b, "pass", "D1", "trial"); got != "by the tablet, T1" {
		t.Errorf("after the merge: %s", got)
	}
	// There is no trial T77: the entry is taken in, and its fault is shown.
	if v := settled(t, b); !strings.Contains(fmt.Sprint(v.Faults), "T77") {
		t.Errorf("faults: %+v", v.Faults)
	}
	if again := merged(t, b, lines...); again.New != 0 || again.Known != 3 {
		t.Errorf("sent again: %+v", again)
	}
	// A tablet whose clock is behind wrote about the same pass before that: it
	// comes in later and changes nothing that the later entry says.
	behind := storetest.NewTablet("behind", tablet.Now.Add(-time.Minute))
	merged(t, b, behind.Write(t, passNote("P1", "earlier"), journal.Draft{Kind: study.KindPass, Subject: "P1", Act: journal.Correct, Body: journal.Body{Fields: map[string]string{"turned": "no"}}})...)
	if got := cell(t, b, "pass", "P1", "note") + ", " + cell(t, b, "pass", "P1", "turned"); got != "by the tablet, no" {
		t.Errorf("an earlier entry that came later: %s", got)
	}
	// Who corrects here sees it hold, though the tablet's clock may be ahead.
	ahead := storetest.NewTablet("ahead", tablet.Now.Add(72*time.Hour))
	merged(t, b, ahead.Write(t, passNote("P2", "of the future"), deckPass("D9", "T1", "2026-06-01T21:28:00", "A"))...)
	set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "P2", Field: "note", From: "of the future", To: "corrected"})
	set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "D2", Field: "trial", From: "T77", To: "T1"})
	if got := cell(t, b, "pass", "P2", "note"); got != "corrected" {
		t.Errorf("corrected here: %s", got)
	}
	if doc, err := b.Verify(t.Context(), nil); err != nil || !doc.Same {
		t.Errorf("verify: %q, %v", doc.Differences, err)
	}
	gap := tablet.Write(t, passNote("P4", "1"), passNote("P4", "2"), passNote("P4", "3"))
	if done := merged(t, b, gap[2]); done.New != 0 || done.Devices[0].SendFrom != 4 || done.Devices[0].SendTo != 5 || done.Devices[0].Waiting != 1 || len(done.Notes) != 1 {
		t.Errorf("a gap: %+v", done)
	}
}

func TestMergeJournalRefuses(t *testing.T) {
	b, m, _ := blindBay(t)
	before := m.plain(t)
	tablet := storetest.NewTablet("tablet", m.clock.Now)
	good := tablet.Write(t, passNote("P1", "x"))[0]
	other := storetest.NewTablet("elsewhere", m.clock.Now).Write(t, recorded(study.KindStudy, "", map[string]string{"title": "Another bay (invented)"}))
	taken := tablet.Write(t, journal.Draft{Kind: study.KindOpening, Subject: "opening 1", Act: journal.Remove})[0]
	for what, c := range map[string]struct {
		lines [][]byte
		is    error
		says  string
	}{
		"another study":   {other, app.ErrOtherStudy, "season folder"},
		"an opening":      {[][]byte{good, taken}, app.ErrOpeningStays, "line 2"},
		"no journal":      {[][]byte{[]byte("pass,trial"), good}, journal.ErrNotCanonical, "line 1"},
		"a torn last one": {[][]byte{good, good[:40]}, journal.ErrNotCanonical, "line 2"},
	} {
		_, err := b.MergeJournal(t.Context(), bytes.Join(c.lines, []byte("\n")))
		if !errors.Is(err, c.is) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if diff := cmp.Diff(before, m.plain(t)); diff != "" {
		t.Errorf("something was left:\n%s", diff)
	}
	if done, err := b.MergeJournal(t.Context(), []byte("\n\r\n")); err != nil || done.New+done.Known != 0 {
		t.Errorf("an empty log: %+v, %v", done, err)
	}
	if done, err := b.MergeJournal(t.Context(), append(good, "\r\n"...)); err != nil || done.New != 1 {
		t.Errorf("lines that end as on Windows: %+v, %v", done, err)
	}
}

// Two laptops that got the same entries in different order write the same
// season, byte for byte, and the same history.
func TestMergeJournalOrderFree(t *testing.T) {
	one, m, _ := blindBay(t)
	var lines [][]byte
	for i := range 3 {
		tablet := storetest.NewTablet(fmt.Sprint("tablet-", i), m.clock.Now.Add(time.Duration(i)*700*time.Millisecond))
		for k := range 5 {
			lines = append(lines, tablet.Write(t, deckPass(fmt.Sprint("D", i, k), "T1", fmt.Sprintf("2026-06-01T21:%02d:%02d", 10+k, i*7), "A"), passNote("P1", fmt.Sprint(i, " ", k)))...)
		}
	}
	merged(t, one, lines...)
	want := exported(t, one)
	chance := rand.New(rand.NewPCG(1, 8))
	for range 3 {
		two, _, _ := blindBay(t)
		if len(exported(t, two)) == 0 {
			t.Fatal("nothing is exported")
		}
		for from := range 3 { // a device at a time, in another order, in two pieces each
			own := lines[(from+1)%3*10 : (from+1)%3*10+10]
			n := 1 + chance.IntN(9)
			merged(t, two, own[:n]...)
			cell(t, two, "pass", "P1", "note")
			pieces := slices.Clone(own)
			chance.Shuffle(len(pieces), func(i, j int) { pieces[i], pieces[j] = pieces[j], pieces[i] })
			merged(t, two, pieces...)
		}
		sameFolder(t, "the other laptop", want, exported(t, two))
		a, errA := one.History(t.Context(), "pass", "P1")
		b, errB := two.History(t.Context(), "pass", "P1")
		if diff := cmp.Diff(a, b); diff != "" || errA != nil || errB != nil {
			t.Errorf("history of P1: %v %v\n%s", errA, errB, diff)
		}
	}
}

// assignedElsewhere is the entry of a trial's active pair on another device, and
// what stands behind its reference there.
func assignedElsewhere(trial, pair string) (d journal.Draft, put func(*memStudy)) {
	salt := bytes.Repeat([]byte{7}, 32)
	sum := sha256.Sum256(append(slices.Clone(salt), pair...))
	ref := hex.EncodeToString(sum[:])
	return recorded(study.KindAssignment, trial, map[string]string{"ref": ref}), func(m *memStudy) {
		m.guarded[ref] = memSalted{salt, app.Assignment{"active_pair": pair, "current_uA": "9"}}
	}
}

// TestMergeJournalSealed: a reference that comes without its thing is nothing
// that is damaged. It stays sealed, and after the opening it reads so until it comes.
func TestMergeJournalSealed(t *testing.T) {
	b, m, _ := blindBay(t)
	tablet := storetest.NewTablet("tablet", m.clock.Now.Add(time.Minute))
	d, putLater := assignedElsewhere("T1", "B")
	done := merged(t, b, tablet.Write(t, d)...)
	if done.Devices[0].Kinds[0].Kind != "assignment" || len(done.NotHere) != 0 {
		t.Errorf("of a sealed study: %+v", done)
	}
	if got := cell(t, b, "trial", "T1", "active_pair"); got != "" {
		t.Errorf("a sealed study shows %q", got)
	}
	put(t, m, "Nora Quill", opened("opening 1", ""))
	if got := cell(t, b, "trial", "T1", "active_pair") + ", " + cell(t, b, "trial", "T3", "active_pair"); got != "sealed, B" {
		t.Errorf("opened: %s", got)
	}
	notHere, err := b.NotHere(t.Context())
	if diff := cmp.Diff([]string{"T1"}, notHere); diff != "" || err != nil {
		t.Errorf("not here: %v, %v", notHere, err)
	}
	history, err := b.History(t.Context(), "trial", "T1")
	if err != nil || !strings.Contains(fmt.Sprint(history), "not here yet") {
		t.Errorf("history: %+v, %v", history, err)
	}
	doc, err := b.Verify(t.Context(), nil)
	if err != nil || !doc.Same || !strings.Contains(strings.Join(doc.Notes, "\n"), "T1") {
		t.Errorf("verify: %q, %q, %v", doc.Differences, doc.Notes, err)
	}
	putLater(m)
	set(t, b, "", app.CellChange{Kind: "pass", ID: "P1", Field: "note", From: "", To: "x"})
	other := storetest.NewTablet("another", m.clock.Now)
	merged(t, b, other.Write(t, passNote("P2", "x"))...)
	if got := cell(t, b, "trial", "T1", "active_pair"); got != "B" {
		t.Errorf("when it has come: %q", got)
	}
	// What this device wrote itself and lost is damage.
	for ref := range m.guarded {
		delete(m.guarded, ref)
	}
	merged(t, b, other.Write(t, passNote("P3", "x"))...)
	if _, err := b.Table(t.Context(), "trial", 0, 10); err == nil {
		t.Error("lost assignments of this device are not told")
	}
}

// TestMergeJournalPeople: names travel apart too.
func TestMergeJournalPeople(t *testing.T) {
	b, m, _ := blindBay(t)
	tablet := storetest.NewTablet("tablet", m.clock.Now)
	d := deckPass("D1", "T1", "2026-06-01T21:20:00", "A")
	ref := strings.Repeat("5", 64)
	d.Body.Fields["scorer"], d.Author = "person:"+ref, "person:"+ref
	merged(t, b, tablet.Write(t, d)...)
	// 0x55555555 is 1 431 655 765.
	if got := cell(t, b, "pass", "D1", "scorer"); got != "person not named here yet 655765" {
		t.Errorf("scorer: %q", got)
	}
	doc, err := b.Verify(t.Context(), nil)
	if err != nil || !doc.Same || !strings.Contains(strings.Join(doc.Notes, "\n"), "1 name") {
		t.Errorf("verify: %q, %q, %v", doc.Differences, doc.Notes, err)
	}
	put(t, m, "", journal.Draft{Kind: study.KindPass, Subject: "D1", Act: journal.Correct, Author: "person:" + ref, Body: journal.Body{Fields: map[string]string{"note": "x"}}})
	if doc, err = b.Verify(t.Context(), nil); err != nil || doc.Same {
		t.Errorf("a name that this device wrote down and lost: %q, %v", doc.Differences, err)
	}
}

// TestMergeAfterOpening: what was made before the opening and came later is
// listed and told apart; what follows the opening by its ID is after it wherever
// it came in first.
func TestMergeAfterOpening(t *testing.T) {
	b, m, _ := blindBay(t)
	began := m.clock.Now
	early := storetest.NewTablet("early", began)
	ahead := storetest.NewTablet("ahead", began.Add(48*time.Hour))
	early.Write(t, passNote("P2", "kept on the tablet"))
	first := storetest.NewTablet("in-time", began)
	merged(t, b, slices.Concat(first.Write(t, passNote("P1", "in time")), ahead.Write(t, passNote("P3", "in time, by a clock that runs ahead")))...)
	put(t, m, "Nora Quill", opened("opening 1", ""))
	if got := afterOpening(t, b); len(got) != 0 {
		t.Errorf("what was here before the opening: %q", got)
	}
	late := storetest.NewTablet("late", began)
	merged(t, b, late.Write(t, passNote("P2", "of before"))...)
	late.Now = began.Add(96 * time.Hour)
	merged(t, b, late.Write(t, passNote("P4", "of after"))...)
	rows, err := b.AfterOpening(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, r := range rows {
		got = append(got, r.ID+" "+r.To+": "+r.Made)
	}
	want := []string{"P2 of before: before, by the clock of its device", "P4 of after: after"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if v := facts(t, b); len(v.After) != 2 {
		t.Errorf("the page lists %+v", v.After)
	}
}

// An opening on another laptop arrives after what was scored here since.
func TestMergeOpeningArrivesLate(t *testing.T) {
	b, m, _ := blindBay(t)
	other := storetest.NewTablet("laptop-2", m.clock.Now.Add(time.Hour))
	opening := other.Write(t, opened("opening 1", "T1"))
	before := storetest.NewTablet("before", m.clock.Now.Add(time.Minute))
	merged(t, b, before.Write(t, passNote("P1", "before"))...)
	m.clock.Now = m.clock.Now.Add(2 * time.Hour)
	set(t, b, "Tom Kett", app.CellChange{Kind: "pass", ID: "P1", Field: "note", From: "before", To: "scored when laptop 2 knew"})
	if v := facts(t, b); len(v.After) != 0 {
		t.Errorf("nothing is opened: %+v", v.After)
	}
	merged(t, b, opening...)
	want := []string{"pass|P1|T1|note|before|scored when laptop 2 knew|Tom Kett|"}
	if diff := cmp.Diff(want, afterOpening(t, b)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if v := facts(t, b); len(v.After) != 1 {
		t.Errorf("the page lists %+v", v.After)
	}
}

// Two devices each wrote an "opening 1": both were seen.
func TestMergeOpeningsOfOneName(t *testing.T) {
	b, m, _ := blindBay(t)
	put(t, m, "Nora Quill", opened("opening 1", "T1"))
	other := storetest.NewTablet("laptop-2", m.clock.Now.Add(time.Hour))
	merged(t, b, other.Write(t, opened("opening 1", "T3"))...)
	for trial, want := range map[string]string{"T1": "A", "T2": "", "T3": "B"} {
		if got := cell(t, b, "trial", trial, "active_pair"); got != want {
			t.Errorf("%s: %q, not %q", trial, got, want)
		}
	}
	if v, err := b.Schedule(t.Context()); err != nil || len(v.Openings) != 2 || v.Openings[0].Trials[0] != "T1" || v.Openings[1].Trials[0] != "T3" {
		t.Errorf("openings: %+v, %v", v.Openings, err)
	}
}

func TestSamePasses(t *testing.T) {
	b, m, _ := blindBay(t)
	if same, err := b.SamePasses(t.Context()); err != nil || len(same) != 0 {
		t.Errorf("on one device: %+v, %v", same, err)
	}
	// P1 was at 21:03 at pair A, of R1.
	tablet := storetest.NewTablet("tablet", m.clock.Now)
	merged(t, b, tablet.Write(t, deckPass("D1", "T1", "2026-06-01T21:03:15", "A"), deckPass("D2", "T1", "2026-06-01T21:03:25", "A"), deckPass("D3", "T1", "not yet", "A"))...)
	same, err := b.SamePasses(t.Context())
	if err != nil || len(same) != 1 || same[0].SecondsApart != 15 || same[0].Passes[0].Pass != "P1" || same[0].Passes[0].Individual != "R1" || same[0].Passes[1].Pass != "D1" || same[0].Passes[1].Device != "tablet" {
		t.Fatalf("%+v, %v", same, err)
	}
	// Reconciled by hand, and that can be undone.
	m.clock.Now = m.clock.Now.Add(time.Minute)
	entry := put(t, m, "Tom Kett", journal.Draft{Kind: study.KindPass, Subject: "D1", Act: journal.Remove, Reason: "the pass P1, logged twice"})
	if same, err := b.SamePasses(t.Context()); err != nil || len(same) != 0 {
		t.Errorf("reconciled: %+v, %v", same, err)
	}
	put(t, m, "", journal.Draft{Kind: study.KindPass, Subject: "D3", Act: journal.Remove})
	if _, err := b.Undo(t.Context(), app.UndoRequest{Entry: entry.ID}); err != nil {
		t.Fatal(err)
	}
	if same, err := b.SamePasses(t.Context()); err != nil || len(same) != 1 {
		t.Errorf("undone: %+v, %v", same, err)
	}
}
