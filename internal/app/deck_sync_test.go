package app_test

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

// asTablet is a context in which a tablet asks.
func asTablet(ctx context.Context, role string, writes ...string) context.Context {
	return app.WithCaller(ctx, app.Caller{Device: "d1", Name: "the bow's", Role: role, Writes: writes})
}

func texts(lines [][]byte) []string {
	out := []string{}
	for _, line := range lines {
		out = append(out, string(line))
	}
	return out
}

func identityOf(t testing.TB, b *app.Study) string {
	t.Helper()
	identity, err := b.Identity(t.Context())
	if err != nil || identity == "" {
		t.Fatalf("identity %q, %v", identity, err)
	}
	return identity
}

// brought is a batch without a clock.
func brought(t testing.TB, b *app.Study, lines [][]byte, blobs ...app.DeckBlob) app.DeckBatch {
	t.Helper()
	return app.DeckBatch{Identity: identityOf(t, b), Entries: texts(lines), Blobs: blobs}
}

func synced(t testing.TB, ctx context.Context, b *app.Study, in app.DeckBatch) app.DeckAnswer {
	t.Helper()
	a, err := b.DeckSync(ctx, in)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func blobOf(kind string, chance byte, data string) app.DeckBlob {
	ref, salt := storetest.Blob(chance, data)
	return app.DeckBlob{Ref: ref, Kind: kind, Salt: salt, Data: []byte(data)}
}

func reading(id string, blob app.DeckBlob) journal.Draft {
	return recorded(study.KindReading, id, map[string]string{"trial": "T1", "when": "before", "time": "2026-06-01T20:55:00+01:00", "ref": blob.Ref})
}

func photographed(id string, blob app.DeckBlob) journal.Draft {
	return recorded(study.KindAttachment, id, map[string]string{"kind": blob.Kind, "ref": blob.Ref, "type": "image/jpeg", "about": "pass/7c1e-0001", "time": "2026-06-01T21:04:00+01:00"})
}

// trialOf is a trial as tablets write it: a correction of what may not be there.
func trialOf(id string, fields map[string]string) journal.Draft {
	was := map[string]string{}
	for name := range fields {
		was[name] = ""
	}
	return journal.Draft{Kind: study.KindTrial, Subject: id, Act: journal.Correct, Body: journal.Body{Fields: fields, Was: was}}
}

func headOf(h journal.Head) app.DeckHead { return app.DeckHead{Seq: h.Seq, Hash: h.Hash.String()} }

func TestDeckSync(t *testing.T) {
	b, m, _ := blindBay(t)
	ctx := asTablet(t.Context(), "operator", "deck-7c1e")
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now)
	person, photo, current := blobOf("person", 1, "Nora Quill (invented)"), blobOf("photo", 2, "\xff\xd8\xff a photo, invented"), blobOf("guarded", 3, `{"current_uA":"9.1"}`)
	pass := deckPass("7c1e-0001", "T1", "2026-06-01T21:20:00+01:00", "A")
	pass.Body.Fields["scorer"], pass.Author = "person:"+person.Ref, "person:"+person.Ref
	lines := tablet.Write(t, trialOf("T1", map[string]string{"note": "calm"}), pass, reading("7c1e-r0001", current), photographed("7c1e-a0001", photo))

	if a := synced(t, ctx, b, brought(t, b, nil)); len(a.Heads)+len(a.Missing)+len(a.Blobs) != 0 || a.NowMS != m.clock.Now.UnixMilli() {
		t.Errorf("a tablet that has nothing here: %+v", a)
	}
	a := synced(t, ctx, b, brought(t, b, lines))
	// Names first, then what was read, then pictures.
	want := app.DeckAnswer{
		Heads: map[string]app.DeckHead{"deck-7c1e": headOf(tablet.Head)}, Blobs: []string{}, Erased: []string{}, Refused: []app.DeckRefusal{},
		Missing: []string{person.Ref, current.Ref, photo.Ref}, NowMS: m.clock.Now.UnixMilli(), Position: int64(len(m.lines)),
	}
	if diff := cmp.Diff(want, a); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got := cell(t, b, "pass", "7c1e-0001", "scorer"); !strings.HasPrefix(got, "person not named here yet") {
		t.Errorf("before the name came: %q", got)
	}
	for i, blob := range []app.DeckBlob{photo, person, current} {
		a = synced(t, ctx, b, brought(t, b, nil, blob))
		if !slices.Equal(a.Blobs, []string{blob.Ref}) || len(a.Missing) != 2-i || slices.Contains(a.Missing, blob.Ref) {
			t.Errorf("after blob %d: %+v", i, a)
		}
	}
	if got := cell(t, b, "pass", "7c1e-0001", "scorer"); got != "Nora Quill (invented)" {
		t.Errorf("after the name came: %q", got)
	}
	// A picture is no name.
	if names, err := b.Persons(t.Context()); err != nil || !slices.Contains(names, "Nora Quill (invented)") || strings.Contains(fmt.Sprint(names), "photo") {
		t.Errorf("persons: %q, %v", names, err)
	}
	if got := m.guarded[current.Ref].Assignment["current_uA"]; got != "9.1" {
		t.Errorf("the reading: %q", got)
	}
	for _, row := range m.plain(t) {
		if strings.Contains(row, "9.1") || strings.Contains(row, "Nora") {
			t.Errorf("outside: %s", row)
		}
	}
	// Twice is one, whole and in parts, after the program was started again too.
	before := m.plain(t)
	whole := brought(t, b, lines, photo, person, current)
	again := openStudy(t, newStudies(t, &memShelf{studies: map[string]*memStudy{"bay": m}, clock: m.clock, random: m.random}), "bay")
	for _, s := range []*app.Study{b, again} {
		a = synced(t, ctx, s, whole)
		if len(a.Missing) != 0 || len(a.Blobs) != 3 || a.Heads["deck-7c1e"] != headOf(tablet.Head) {
			t.Errorf("sent again: %+v", a)
		}
		synced(t, ctx, s, brought(t, b, lines[2:]))
	}
	if diff := cmp.Diff(before, m.plain(t)); diff != "" {
		t.Errorf("sending again changed something:\n%s", diff)
	}
	// What is sent beyond a gap is told by the head.
	more := tablet.Write(t, passNote("7c1e-0001", "1"), passNote("7c1e-0001", "2"))
	if a := synced(t, ctx, b, brought(t, b, more[1:])); a.Heads["deck-7c1e"].Seq != 4 {
		t.Errorf("beyond a gap: %+v", a)
	}
	if a := synced(t, ctx, b, brought(t, b, more)); a.Heads["deck-7c1e"] != headOf(tablet.Head) {
		t.Errorf("the gap filled: %+v", a)
	}
	if doc, err := b.Verify(t.Context(), nil); err != nil || !doc.Same {
		t.Errorf("verify: %q, %v", doc.Differences, err)
	}
}

// The season may get faults by what a tablet acknowledged: it is taken in.
func TestDeckSyncTakesFaultsIn(t *testing.T) {
	b, m, _ := blindBay(t)
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now)
	lines := tablet.Write(t, deckPass("7c1e-0001", "T77", "never", "Z"), trialOf("T9", map[string]string{"start": "noon", "temperature_C": "warm"}),
		recorded(study.KindCheck, "7c1e-c0001", map[string]string{"state": "perhaps"}), journal.Draft{Kind: study.KindPass, Subject: "P1", Act: journal.Remove})
	a := synced(t, asTablet(t.Context(), "scorer", "deck-7c1e"), b, brought(t, b, lines))
	if a.Heads["deck-7c1e"] != headOf(tablet.Head) {
		t.Errorf("%+v", a)
	}
	if v := settled(t, b); !strings.Contains(fmt.Sprint(v.Faults), "T77") {
		t.Errorf("faults: %+v", v.Faults)
	}
}

// kindsOfStudy are all kinds that the program knows, and one that it does not.
func kindsOfStudy() []study.Kind {
	return slices.Concat(study.SeasonKinds, study.OwnKinds, study.FootageKinds, []study.Kind{
		study.KindAssignment, study.KindImport, study.KindOpening, study.KindErasure, study.KindSeal, study.KindRehearsal, study.KindCard, study.KindLock,
		study.KindPreregistration, study.KindDeck, study.KindClock, study.KindDistinct, study.KindCheck, study.KindReading, study.KindEvent, study.KindCount,
		study.KindAttachment, "nothing known",
	})
}

// Read off the table of the contract: which roles may bring which kinds.
func TestDeckSyncKindsByRole(t *testing.T) {
	recording := []study.Kind{study.KindTrial, study.KindPass, study.KindIndividual, study.KindCheck, study.KindEvent, study.KindCount, study.KindAttachment}
	b, m, _ := blindBay(t)
	kinds := kindsOfStudy()
	slices.Sort(kinds)
	kinds = slices.Compact(kinds)
	tried := 0
	for _, role := range []string{"lead", "operator", "scorer", "guest", "", "master"} {
		for _, kind := range kinds {
			for _, act := range []journal.Act{journal.Record, journal.Correct, journal.Remove} {
				d := journal.Draft{Kind: kind, Subject: "X1", Act: act}
				if act != journal.Remove {
					d.Body.Fields = map[string]string{"note": "x"}
				}
				name := fmt.Sprintf("deck-%04x", tried)
				tried++
				lines := storetest.NewTablet(name, m.clock.Now).Write(t, recorded(study.KindEvent, "e", map[string]string{"what": "note"}), d)
				before := len(m.lines)
				_, err := b.DeckSync(asTablet(t.Context(), role, name), brought(t, b, lines))
				may := slices.Contains([]string{"lead", "operator", "scorer"}, role) && slices.Contains(recording, kind) ||
					slices.Contains([]string{"lead", "operator"}, role) && kind == study.KindReading
				switch {
				case may && err != nil:
					t.Errorf("%s %s %s: %v", role, act, kind, err)
				case !may && (!errors.Is(err, app.ErrDeckRefused) || len(m.lines) != before):
					t.Errorf("%s %s %s: %v, %d entries were left", role, act, kind, err, len(m.lines)-before)
				case !may && role != "guest" && role != "" && role != "master" && !strings.Contains(err.Error(), "entry 2 of device "+name):
					t.Errorf("%s %s %s: it does not say which: %v", role, act, kind, err)
				}
			}
		}
	}
	if tried < 300 {
		t.Errorf("only %d cases", tried)
	}
}

// What would tell the active pair outside the guarded part is refused.
func TestDeckSyncGuardedFields(t *testing.T) {
	b, m, _ := blindBay(t)
	before := m.plain(t)
	for _, field := range study.GuardedFields {
		for what, d := range map[string]journal.Draft{
			"a field":       trialOf("T1", map[string]string{field: "A"}),
			"what was":      {Kind: study.KindTrial, Subject: "T1", Act: journal.Correct, Body: journal.Body{Fields: map[string]string{"note": "x"}, Was: map[string]string{field: "A"}}},
			"of an event":   recorded(study.KindEvent, "e", map[string]string{field: "A"}),
			"of a reading":  recorded(study.KindReading, "r", map[string]string{field: "9.1"}),
			"in its column": {Kind: study.KindPass, Subject: "p", Act: journal.Record, Body: journal.Body{Table: &study.Table{Columns: []string{field}, Rows: [][]string{{"A"}}}}},
		} {
			for _, ctx := range []context.Context{asTablet(t.Context(), "lead", "deck-7c1e"), t.Context()} { // of a tablet, also through the laptop
				_, err := b.DeckSync(ctx, brought(t, b, storetest.NewTablet("deck-7c1e", m.clock.Now).Write(t, d)))
				if !errors.Is(err, app.ErrDeckRefused) {
					t.Errorf("%s %s: %v", field, what, err)
				}
			}
		}
	}
	_, err := b.DeckSync(asTablet(t.Context(), "scorer", "deck-7c1e"), brought(t, b, nil, blobOf("guarded", 1, `{"current_uA":"9.1"}`)))
	if !errors.Is(err, app.ErrDeckRefused) || len(m.guarded) != 3 {
		t.Errorf("a reading from a scorer: %v, %d", err, len(m.guarded))
	}
	if diff := cmp.Diff(before, m.plain(t)); diff != "" {
		t.Errorf("something was left:\n%s", diff)
	}
}

func TestDeckSyncDevices(t *testing.T) {
	b, m, _ := blindBay(t)
	for device, may := range map[string]bool{
		"deck-7c1e": true, "deck-7c1e-2": true, "deck-7c1e-17": true,
		"deck-7c1e-1": false, "deck-7c1e-0": false, "deck-7c1e-02": false, "deck-7c1e-": false, "deck-7c1e-x": false, "deck-7c1e-+2": false, "deck-7c1e-2-2": false,
		"deck-7c1": false, "deck-7c1ee": false, "deck-7c1f": false, "memory": false, "laptop-2": false, "deck-7c1e-99999999999999999999": false,
	} {
		_, err := b.DeckSync(asTablet(t.Context(), "lead", "deck-aaaa", "deck-7c1e"), brought(t, b, storetest.NewTablet(device, m.clock.Now).Write(t, recorded(study.KindEvent, device, map[string]string{"what": "note"}))))
		if may && err != nil || !may && (!errors.Is(err, app.ErrDeckRefused) || !strings.Contains(err.Error(), "deck-aaaa and deck-7c1e")) {
			t.Errorf("%s: %v", device, err)
		}
	}
	// It is told of all that it writes as.
	if a := synced(t, asTablet(t.Context(), "lead", "deck-7c1e"), b, brought(t, b, nil)); len(a.Heads) != 3 {
		t.Errorf("%+v", a.Heads)
	}
	if _, err := b.DeckSync(asTablet(t.Context(), "lead"), brought(t, b, storetest.NewTablet("deck-1", m.clock.Now).Write(t, passNote("P1", "x")))); !errors.Is(err, app.ErrDeckRefused) {
		t.Errorf("a tablet that writes as nobody: %v", err)
	}
	if _, err := b.DeckSync(asTablet(t.Context(), "lead", ""), brought(t, b, storetest.NewTablet("-2", m.clock.Now).Write(t, passNote("P1", "x")))); !errors.Is(err, app.ErrDeckRefused) {
		t.Errorf("a tablet whose name is empty: %v", err)
	}
}

func TestDeckSyncRefusals(t *testing.T) {
	b, m, _ := blindBay(t)
	ctx := asTablet(t.Context(), "lead", "deck-7c1e")
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now)
	good := tablet.Write(t, passNote("P1", "one"), passNote("P1", "two"))
	copied := *tablet
	third, other := tablet.Write(t, passNote("P2", "of one")), copied.Write(t, passNote("P2", "of its copy"))
	synced(t, ctx, b, brought(t, b, append(good, third...)))
	before := m.plain(t)
	broken := []byte(strings.Replace(string(storetest.NewTablet("deck-7c1e-2", m.clock.Now).Write(t, passNote("P1", "x"))[0]), `"seq":1`, `"seq":0`, 1))
	blob := blobOf("person", 1, "Nora Quill (invented)")
	var fork *app.DeckForkError
	for what, c := range map[string]struct {
		in   app.DeckBatch
		is   error
		as   any
		says string
	}{
		"another study": {app.DeckBatch{Identity: "01c38c8e-8180-7000-9715-609f7c746c69", Entries: texts(good)}, app.ErrOtherLog, nil, "another study"},
		"no study":      {app.DeckBatch{Entries: texts(good)}, app.ErrOtherLog, nil, ""},
		"a fork":        {brought(t, b, other, blob), nil, &fork, "save the log of this tablet as a file"},
		"torn":          {brought(t, b, [][]byte{good[0], good[1][:50]}, blob), app.ErrDeckUnfit, nil, "entry 2 of 2"},
		"broken":        {brought(t, b, [][]byte{broken}, blob), app.ErrDeckUnfit, nil, ""},
	} {
		_, err := b.DeckSync(ctx, c.in)
		if err == nil || c.is != nil && !errors.Is(err, c.is) || c.as != nil && !errors.As(err, c.as) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", what, err)
		}
		if diff := cmp.Diff(before, m.plain(t)); diff != "" {
			t.Errorf("%s: something was left:\n%s", what, diff)
		}
	}
	if m.erasable[blob.Ref] != nil {
		t.Error("a refused batch left a name")
	}
	m.readOnly = true
	locked := openStudy(t, newStudies(t, &memShelf{studies: map[string]*memStudy{"bay": m}, clock: m.clock, random: m.random}), "bay")
	if _, err := locked.DeckSync(ctx, brought(t, b, good)); !errors.Is(err, app.ErrReadOnly) {
		t.Errorf("a study that cannot be written: %v", err)
	}
}

// A thing that is not what its reference says does not keep the rest back.
func TestDeckSyncBlobs(t *testing.T) {
	b, m, _ := blindBay(t)
	ctx := asTablet(t.Context(), "operator", "deck-7c1e")
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now)
	photo, voice, current := blobOf("photo", 1, "\x89PNG"), blobOf("voice", 2, "OggS\x00"), blobOf("guarded", 3, `{"current_uA":"9.1"}`)
	lines := tablet.Write(t, photographed("7c1e-a0001", photo), photographed("7c1e-a0002", voice), reading("7c1e-r0001", current))
	cut, salted, noObject := photo, voice, blobOf("guarded", 4, "9.1")
	cut.Data, salted.Salt = cut.Data[:3], salted.Salt[:31]
	changed := current
	changed.Data = []byte(`{"current_uA":"0"}`)
	a := synced(t, ctx, b, brought(t, b, lines, cut, salted, noObject, changed))
	if len(a.Blobs) != 0 || len(a.Refused) != 4 || len(a.Missing) != 3 || a.Heads["deck-7c1e"].Seq != 3 || a.Refused[0].Why == "" {
		t.Errorf("%+v", a)
	}
	a = synced(t, ctx, b, brought(t, b, nil, photo, voice, current, photo))
	if len(a.Missing) != 0 || len(a.Refused) != 0 || len(a.Blobs) != 4 {
		t.Errorf("%+v", a)
	}
	// Erased stays erased: here by the study's own task, then sent again.
	if err := b.EraseAttachment(t.Context(), "7c1e-a0001", "Aoife Byrne", "a face"); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		a = synced(t, ctx, b, brought(t, b, lines, photo))
		if !slices.Equal(a.Erased, []string{photo.Ref}) || len(a.Missing) != 0 || !slices.Equal(a.Blobs, []string{photo.Ref}) || m.erasable[photo.Ref] != nil {
			t.Errorf("erased: %+v", a)
		}
	}
	// The disc is full in the middle: what was told is there, the rest is sent again.
	more := tablet.Write(t, photographed("7c1e-a0003", blobOf("photo", 5, "\xff\xd8 late")))
	m.fail = func(step string) error {
		if step == "take" {
			return app.ErrNoSpace
		}
		return nil
	}
	if _, err := b.DeckSync(ctx, brought(t, b, more, blobOf("photo", 5, "\xff\xd8 late"))); !errors.Is(err, app.ErrNoSpace) {
		t.Errorf("a full disc: %v", err)
	}
	m.fail = nil
	if a = synced(t, ctx, b, brought(t, b, nil)); a.Heads["deck-7c1e"].Seq != 4 || len(a.Missing) != 1 {
		t.Errorf("after a full disc: %+v", a)
	}
	if a = synced(t, ctx, b, brought(t, b, more, blobOf("photo", 5, "\xff\xd8 late"))); len(a.Missing) != 0 || len(a.Blobs) != 1 {
		t.Errorf("sent again: %+v", a)
	}
}

// So many are asked for at once, and not one twice.
func TestDeckSyncMissingIsBounded(t *testing.T) {
	b, m, _ := blindBay(t)
	ctx := asTablet(t.Context(), "scorer", "deck-7c1e")
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now)
	var drafts []journal.Draft
	for i := range 700 {
		drafts = append(drafts, photographed(fmt.Sprintf("7c1e-a%04d", i), blobOf("photo", byte(i), fmt.Sprint("\xff\xd8", i))))
	}
	a := synced(t, ctx, b, brought(t, b, tablet.Write(t, drafts...)))
	if len(a.Missing) != 500 || !slices.IsSorted(a.Missing) {
		t.Errorf("%d are asked for", len(a.Missing))
	}
	// Another tablet is not asked for them.
	if a := synced(t, asTablet(t.Context(), "scorer", "deck-2"), b, brought(t, b, storetest.NewTablet("deck-2", m.clock.Now).Write(t, passNote("P1", "x")))); len(a.Missing) != 0 {
		t.Errorf("of another: %d", len(a.Missing))
	}
}

func clockOf(t testing.TB, m *memStudy, device string) map[string]string {
	t.Helper()
	st, err := m.State(t.Context(), study.KindClock, device)
	if err != nil || st == nil {
		t.Fatalf("no clock of %s: %v", device, err)
	}
	return st.Fields
}

// Offsets by hand: the tablet's clock less the laptop's.
func TestDeckSyncClock(t *testing.T) {
	b, m, _ := blindBay(t)
	ctx := asTablet(t.Context(), "scorer", "deck-7c1e")
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now.Add(time.Hour))
	send := func(ahead time.Duration, blobs ...app.DeckBlob) {
		t.Helper()
		m.clock.Now = m.clock.Now.Add(time.Minute)
		in := brought(t, b, tablet.Write(t, passNote("P1", fmt.Sprint(ahead, tablet.Head.Seq))), blobs...)
		in.NowMS = m.clock.Now.Add(ahead).UnixMilli()
		synced(t, ctx, b, in)
	}
	large := blobOf("photo", 1, strings.Repeat("\xff", 600<<10))
	send(time.Hour, large) // on its way for longer than a moment: it says nothing
	if st, _ := m.State(t.Context(), study.KindClock, "deck-7c1e"); st != nil {
		t.Errorf("stated by a large batch: %+v", st)
	}
	steps := []struct {
		ahead time.Duration
		want  string
	}{
		{3700 * time.Millisecond, "3.7"},
		{5600 * time.Millisecond, "3.7"},
		{1800 * time.Millisecond, "3.7"},
		{5750 * time.Millisecond, "5.8"},
		{-40 * time.Millisecond, "0.0"},
		{-90 * time.Minute, "-5400.0"},
		{0, "0.0"},
	}
	stated := 0
	for i, s := range steps {
		send(s.ahead)
		if got := clockOf(t, m, "deck-7c1e"); got["offset_s"] != s.want {
			t.Errorf("step %d: %v", i, got)
		}
		if i == 0 || s.want != steps[i-1].want {
			stated++
			if got := clockOf(t, m, "deck-7c1e")["stated"]; got != m.clock.Now.Format(time.RFC3339) {
				t.Errorf("stated %s", got)
			}
		}
	}
	history, err := m.History(t.Context(), study.KindClock, "deck-7c1e")
	if err != nil || len(history) != stated || history[1].Body.Was["offset_s"] != "3.7" || history[0].Act != journal.Correct {
		t.Errorf("%d entries, not %d: %+v, %v", len(history), stated, history, err)
	}
	if st, _ := m.State(t.Context(), study.KindClock, "memory"); st != nil {
		t.Error("this laptop has no offset to itself")
	}
}

// The clock of the tablet was set back between entries: order and names hold.
func TestDeckSyncClockSetBack(t *testing.T) {
	b, m, _ := blindBay(t)
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now.Add(10*time.Hour))
	lines := tablet.Write(t, passNote("P1", "first"))
	tablet.Now = m.clock.Now.Add(-20 * time.Hour)
	lines = append(lines, tablet.Write(t, passNote("P1", "second"))...)
	for _, line := range lines {
		synced(t, asTablet(t.Context(), "scorer", "deck-7c1e"), b, brought(t, b, [][]byte{line}))
	}
	if got := cell(t, b, "pass", "P1", "note"); got != "second" {
		t.Errorf("%q", got)
	}
}

// Scoring is locked: what was logged is taken in.
func TestDeckSyncAfterTheLock(t *testing.T) {
	b, m, _ := blindBay(t)
	if _, err := b.LockScoring(t.Context(), app.LockRequest{Author: "Aoife Byrne", Reason: "all scored", LeaveUnscored: true}); err != nil {
		t.Fatal(err)
	}
	put(t, m, "Aoife Byrne", opened("opening 1", ""))
	tablet := storetest.NewTablet("deck-7c1e", m.clock.Now.Add(-time.Hour))
	synced(t, asTablet(t.Context(), "scorer", "deck-7c1e"), b, brought(t, b, tablet.Write(t, deckPass("7c1e-0001", "T1", "2026-06-01T21:20:00+01:00", "A"))))
	rows, err := b.AfterOpening(t.Context())
	if err != nil || len(rows) == 0 || rows[0].ID != "7c1e-0001" || !strings.HasPrefix(rows[0].Made, "before") {
		t.Errorf("%+v, %v", rows, err)
	}
}

// TestDeckSyncOrderFree cuts the logs of three tablets into batches in any order,
// some sent twice, with their things in any batch, and expects the same study.
func TestDeckSyncOrderFree(t *testing.T) {
	one, m, _ := blindBay(t)
	identity := identityOf(t, one)
	began := m.clock.Now
	logs, blobs := map[string][][]byte{}, []app.DeckBlob{}
	for i := range 3 {
		device := fmt.Sprintf("deck-000%d", i)
		tablet := storetest.NewTablet(device, began.Add(time.Duration(i)*700*time.Millisecond))
		person, photo := blobOf("person", byte(10+i), fmt.Sprint("Person ", i, " (invented)")), blobOf("photo", byte(20+i), fmt.Sprint("\xff\xd8", i))
		current := blobOf("guarded", byte(30+i), fmt.Sprintf(`{"current_uA":"%d"}`, i))
		blobs = append(blobs, person, photo, current)
		for k := range 4 {
			pass := deckPass(fmt.Sprintf("000%d-000%d", i, k), "T1", fmt.Sprintf("2026-06-01T21:%02d:%02d+01:00", 10+k, i*7), "A")
			pass.Author, pass.Body.Fields["scorer"] = "person:"+person.Ref, "person:"+person.Ref
			logs[device] = append(logs[device], tablet.Write(t, pass, passNote("P1", fmt.Sprint(i, " ", k)), trialOf("T1", map[string]string{"note": fmt.Sprint("tablet ", i, k)}))...)
		}
		logs[device] = append(logs[device], tablet.Write(t, photographed(fmt.Sprintf("000%d-a0001", i), photo), reading(fmt.Sprintf("000%d-r0001", i), current))...)
	}
	devices := slices.Sorted(maps.Keys(logs))
	ctxOf := func(device string) context.Context { return asTablet(t.Context(), "operator", device) }
	for i, device := range devices {
		a := synced(t, ctxOf(device), one, app.DeckBatch{Identity: identity, Entries: texts(logs[device]), Blobs: blobs[3*i : 3*i+3]})
		if len(a.Missing) != 0 {
			t.Fatalf("%+v", a)
		}
	}
	wantSeason, wantStates := exported(t, one), statesOf(t, m)
	rapid.Check(t, func(r *rapid.T) {
		two, m2, _ := blindBay(t)
		chance := rand.New(rand.NewPCG(rapid.Uint64().Draw(r, "seed"), 8))
		left, things := maps.Clone(logs), slices.Clone(blobs)
		chance.Shuffle(len(things), func(i, j int) { things[i], things[j] = things[j], things[i] })
		for len(left)+len(things) > 0 {
			device := devices[chance.IntN(3)]
			all, rest := logs[device], left[device]
			n := 0
			if len(rest) > 0 {
				n = 1 + chance.IntN(len(rest))
			}
			// Perhaps what was sent before once more, and shuffled: the answer did not come.
			done := len(all) - len(rest)
			batch := slices.Clone(all[done-chance.IntN(done+1) : done+n])
			chance.Shuffle(len(batch), func(i, j int) { batch[i], batch[j] = batch[j], batch[i] })
			k := chance.IntN(min(len(things), 3) + 1)
			a := synced(t, ctxOf(device), two, app.DeckBatch{Identity: identityOf(t, two), Entries: texts(batch), Blobs: things[:k]})
			if a.Heads[device].Seq != int64(done+n) || len(a.Blobs) != k {
				r.Fatalf("%d of %s: %+v", done+n, device, a)
			}
			if things = things[k:]; done+n == len(all) {
				delete(left, device)
			} else {
				left[device] = all[done+n:]
			}
			if chance.IntN(3) == 0 {
				exported(t, two) // what was read before must not stay
			}
		}
		for _, device := range devices {
			if a := synced(t, ctxOf(device), two, app.DeckBatch{Identity: identityOf(t, two)}); len(a.Missing) != 0 {
				r.Fatalf("missing at the end: %+v", a)
			}
		}
		if diff := cmp.Diff(wantStates, statesOf(t, m2)); diff != "" {
			r.Fatalf("records (-one batch +many):\n%s", diff)
		}
		if diff := cmp.Diff(asText(wantSeason), asText(exported(t, two))); diff != "" {
			r.Fatalf("season (-one batch +many):\n%.2000s", diff)
		}
	})
}

// statesOf are all records but what this laptop itself wrote about clocks.
func statesOf(t testing.TB, m *memStudy) []journal.State {
	t.Helper()
	states, err := m.States(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return states
}
