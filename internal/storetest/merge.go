package storetest

import (
	"context"
	"encoding/binary"
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

// Tablet writes entries as another device of the study does.
type Tablet struct {
	Name string
	Now  time.Time // its clock, a second later after each entry
	Head journal.Head
	n    uint64
}

// NewTablet is a device with a clock of its own and an empty chain.
func NewTablet(name string, now time.Time) *Tablet { return &Tablet{Name: name, Now: now} }

// Write seals drafts and gives their canonical bytes.
func (d *Tablet) Write(t testing.TB, drafts ...journal.Draft) (lines [][]byte) {
	t.Helper()
	for _, draft := range drafts {
		stamp := journal.Stamp{Wall: d.Now, Run: d.Name + "-1"}
		d.n++
		sum := journal.HashOf(binary.BigEndian.AppendUint64([]byte(d.Name), d.n))
		copy(stamp.Random[:], sum[:])
		_, canonical, head, err := journal.Seal(d.Head, d.Name, draft, stamp)
		if err != nil {
			t.Fatal(err)
		}
		d.Head, d.Now = head, d.Now.Add(time.Second)
		lines = append(lines, canonical)
	}
	return lines
}

// at is the clock of most tablets: some time after that of the study began.
var at = time.Date(2026, 6, 11, 12, 0, 0, 0, time.UTC)

func mustReceive(t *testing.T, s Stores, lines ...[]byte) app.Received {
	t.Helper()
	got, err := s.Journal.Receive(t.Context(), lines)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// checkFolded makes the records again and expects that nothing moves.
func checkFolded(t *testing.T, s Stores) {
	t.Helper()
	if same, err := s.Journal.Rebuild(t.Context(), nil); err != nil || !same {
		t.Fatalf("records made again: same %v, %v", same, err)
	}
}

func testReceive(t *testing.T, open Open) {
	s := open(t)
	mustAppend(t, s, recordTrial("T1", "calm"))
	one, two := NewTablet("tablet-1", at), NewTablet("tablet-2", at.Add(time.Minute))
	lines := slices.Concat(one.Write(t, recordTrial("T2", "calm"), recordTrack("P1")), two.Write(t, correctTrial("T2", "calm", "choppy")))
	got := mustReceive(t, s, lines...)
	want := app.Received{Devices: []app.ReceivedDevice{
		{Device: "tablet-1", New: 2, Kinds: map[study.Kind]int{study.KindTrial: 1, study.KindTrack: 1}, Head: one.Head},
		{Device: "tablet-2", New: 1, Kinds: map[study.Kind]int{study.KindTrial: 1}, Head: two.Head},
	}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("received (-want +got):\n%s", diff)
	}
	if n := len(checkChains(t, s)); n != 4 {
		t.Errorf("%d entries, not 4", n)
	}
	if got := mustAppend(t, s, correctTrial("T2", "choppy", "calm again")); got[0].Seq != 2 {
		t.Errorf("this device goes on with entry %d", got[0].Seq)
	}
	if state, err := s.Journal.State(t.Context(), study.KindTrial, "T2"); err != nil || state.Fields["note"] != "calm again" || state.Entries != 3 {
		t.Errorf("%+v, %v", state, err)
	}
	checkChains(t, s)
	checkFolded(t, s)
	if got, err := s.Journal.Receive(t.Context(), nil); err != nil || len(got.Devices) != 0 {
		t.Errorf("receiving nothing: %+v, %v", got, err)
	}
}

func testReceiveTwice(t *testing.T, open Open) {
	s := open(t)
	tablet := NewTablet("tablet", at)
	lines := tablet.Write(t, recordTrial("T1", "calm"), correctTrial("T1", "calm", "choppy"))
	if got := mustReceive(t, s, slices.Concat(lines, lines)...).Devices[0]; got.New != 2 || got.Known != 2 {
		t.Errorf("twice in a batch: %+v", got)
	}
	before := s.Plain(t)
	if got := mustReceive(t, s, lines...).Devices[0]; got.New != 0 || got.Known != 2 || got.Head != tablet.Head {
		t.Errorf("sent again: %+v", got)
	}
	if diff := cmp.Diff(before, s.Plain(t)); diff != "" {
		t.Errorf("sending again changed something:\n%s", diff)
	}
}

func testReceiveOwn(t *testing.T, open Open) {
	s := open(t)
	mustAppend(t, s, recordTrial("T1", "calm"), recordTrack("P1"))
	var lines [][]byte
	for e, err := range s.Journal.All(t.Context()) {
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, slices.Clone(e.Canonical))
	}
	before := s.Plain(t)
	if got := mustReceive(t, s, lines...).Devices[0]; got.New != 0 || got.Known != 2 || got.Device != head(t, s).Device {
		t.Errorf("%+v", got)
	}
	if diff := cmp.Diff(before, s.Plain(t)); diff != "" {
		t.Errorf("its own entries changed something:\n%s", diff)
	}
	// The end of its own chain, which another copy has kept, comes back too.
	again := open(t)
	if head(t, again).Device != head(t, s).Device {
		return // each of these studies is a device of its own
	}
	if got := mustReceive(t, again, lines...).Devices[0]; got.New != 2 {
		t.Errorf("%+v", got)
	}
	if e := mustAppend(t, again, recordTrial("T2", "calm")); e[0].Seq != 3 {
		t.Errorf("it goes on with entry %d", e[0].Seq)
	}
	checkChains(t, again)
}

// someJournals are entries of four devices about the same records, whose clocks differ.
func someJournals(t *testing.T) (lines [][]byte) {
	for i := range 4 {
		d := NewTablet(fmt.Sprint("tablet-", i), at.Add(time.Duration(i-2)*1500*time.Millisecond))
		for k := range 6 {
			trial := fmt.Sprint("T", k%3)
			switch (i + k) % 4 {
			case 0:
				lines = append(lines, d.Write(t, recordTrial(trial, d.Name))...)
			case 1:
				lines = append(lines, d.Write(t, correctTrial(trial, "", d.Name+" again"))...)
			case 2:
				lines = append(lines, d.Write(t, recordTrack(fmt.Sprint("P", i, k)))...)
			default:
				lines = append(lines, d.Write(t, removeTrial(trial))...)
			}
		}
	}
	return lines
}

func testReceiveAnyOrder(t *testing.T, open Open) {
	lines := someJournals(t)
	var entries []journal.Entry
	for _, line := range lines {
		e, err := journal.Parse(line)
		if err != nil {
			t.Fatal(err)
		}
		entries = append(entries, e)
	}
	want := open(t)
	mustReceive(t, want, lines...)
	if n := len(states(t, want)); n < 7 {
		t.Fatalf("only %d records stand", n)
	}
	chance := rand.New(rand.NewPCG(8, 4))
	for range 8 {
		s := open(t)
		left := slices.Concat(lines, lines[:chance.IntN(len(lines))])
		chance.Shuffle(len(left), func(i, j int) { left[i], left[j] = left[j], left[i] })
		for len(left) > 0 {
			n := 1 + chance.IntN(len(left))
			batch := left[:n]
			left = left[n:]
			for _, d := range mustReceive(t, s, batch...).Devices {
				if d.Missing != nil { // what waits is sent again
					for _, line := range batch {
						if e, err := journal.Parse(line); err == nil && e.Device == d.Device && e.Seq > d.Missing.To {
							left = append(left, line)
						}
					}
				}
			}
		}
		if diff := cmp.Diff(states(t, want), states(t, s)); diff != "" {
			t.Fatalf("records (-one batch +many):\n%s", diff)
		}
		checkChains(t, s)
		checkFolded(t, s)
		for _, st := range states(t, s) {
			history, err := s.Journal.History(t.Context(), st.Kind, st.ID)
			if err != nil {
				t.Fatal(err)
			}
			about := slices.DeleteFunc(slices.Clone(entries), func(e journal.Entry) bool { return e.Kind != st.Kind || e.Subject != st.ID })
			if diff := cmp.Diff(journal.InOrder(about), history); diff != "" {
				t.Fatalf("history of %s (-want +got):\n%s", st.ID, diff)
			}
		}
	}
}

func testReceiveGap(t *testing.T, open Open) {
	s := open(t)
	one, two := NewTablet("tablet-1", at), NewTablet("tablet-2", at)
	lines := one.Write(t, recordTrial("T1", "1"), recordTrial("T2", "2"), recordTrial("T3", "3"), recordTrial("T4", "4"), recordTrial("T5", "5"))
	others := two.Write(t, recordTrial("T9", "9"))
	got := mustReceive(t, s, lines[0], lines[3], lines[4], others[0])
	d := got.Devices[0]
	if d.New != 1 || d.Beyond != 2 || d.Head.Seq != 1 || d.Missing == nil || *d.Missing != (journal.Gap{From: 2, To: 3}) {
		t.Errorf("of a device with a gap: %+v", d)
	}
	if d := got.Devices[1]; d.New != 1 || d.Missing != nil {
		t.Errorf("of a device beside it: %+v", d)
	}
	if d := mustReceive(t, s, lines[1:]...).Devices[0]; d.New != 4 || d.Missing != nil || d.Head != one.Head {
		t.Errorf("sent again: %+v", d)
	}
	checkChains(t, s)
}

func testReceiveFork(t *testing.T, open Open) {
	s := open(t)
	tablet := NewTablet("tablet", at)
	lines := tablet.Write(t, recordTrial("T1", "calm"))
	copied := *tablet
	lines = append(lines, tablet.Write(t, recordTrial("T2", "of one"))...)
	other := copied.Write(t, recordTrial("T2", "of its copy"), recordTrial("T3", "calm"))
	mustReceive(t, s, lines...)
	before := s.Plain(t)
	harmless := NewTablet("another", at).Write(t, recordTrial("T8", "calm"))
	for what, batch := range map[string][][]byte{"from the fork on": {harmless[0], other[0], other[1]}, "after it": {harmless[0], other[1]}} {
		var fork *journal.ForkError
		_, err := s.Journal.Receive(t.Context(), batch)
		if !errors.As(err, &fork) || fork.Device != "tablet" || fork.Seq != 2 || fork.Here != journal.HashOf(lines[1]) || fork.There != journal.HashOf(other[0]) {
			t.Errorf("%s: %v", what, err)
		}
		if diff := cmp.Diff(before, s.Plain(t)); diff != "" {
			t.Errorf("%s: a refused batch left something:\n%s", what, diff)
		}
	}
	mustReceive(t, s, harmless...)
	checkChains(t, s)
}

func testReceiveBroken(t *testing.T, open Open) {
	s := open(t)
	mine := mustAppend(t, s, recordTrial("T1", "calm"))[0]
	before := s.Plain(t)
	good := NewTablet("tablet-1", at).Write(t, recordTrial("T2", "calm"), recordTrial("T3", "calm"))
	newer := NewTablet("tablet-2", at)
	changed := []byte(strings.Replace(string(good[1]), "calm", "wild", 1))
	torn := good[1][:len(good[1])-5]

	e, err := journal.Parse(newer.Write(t, recordTrial("T4", "calm"))[0])
	if err != nil {
		t.Fatal(err)
	}
	e.Version = 99
	later, err := e.Canonical()
	if err != nil {
		t.Fatal(err)
	}
	e.Version, e.ID = 1, mine.ID
	sameID, err := e.Canonical()
	if err != nil {
		t.Fatal(err)
	}
	e, err = journal.Parse(good[1])
	if err != nil {
		t.Fatal(err)
	}
	e.Previous[0] ^= 1
	unlinked, err := e.Canonical()
	if err != nil {
		t.Fatal(err)
	}
	for what, c := range map[string]struct {
		batch [][]byte
		want  any
	}{
		"torn":                 {[][]byte{good[0], torn}, nil},
		"forked within":        {[][]byte{good[0], good[1], changed}, new(*journal.ForkError)},
		"not linked":           {[][]byte{good[0], unlinked}, new(*journal.ChainError)},
		"of a newer program":   {[][]byte{good[0], later}, new(*journal.NewerError)},
		"with an ID once more": {[][]byte{good[0], sameID}, new(*app.SameIDError)},
	} {
		_, err := s.Journal.Receive(t.Context(), c.batch)
		if err == nil || c.want == nil && !errors.Is(err, journal.ErrNotCanonical) || c.want != nil && !errors.As(err, c.want) {
			t.Errorf("%s: %v", what, err)
		}
		if diff := cmp.Diff(before, s.Plain(t)); diff != "" {
			t.Errorf("%s: a refused batch left something:\n%s", what, diff)
		}
	}
	mustReceive(t, s, good...)
	mustAppend(t, s, recordTrial("T7", "calm"))
	checkChains(t, s)
}

func testReceiveStopped(t *testing.T, open Open) {
	s := open(t)
	mustAppend(t, s, recordTrial("T1", "calm"))
	tablet := NewTablet("tablet", at)
	lines := tablet.Write(t, recordTrial("T1", "of the tablet"))
	for i := range 1000 {
		lines = append(lines, tablet.Write(t, recordTrack(fmt.Sprint("P", i)))...)
	}
	before := s.Plain(t)
	for left := range 20 {
		if _, err := s.Journal.Receive(&stopAfter{Context: t.Context(), left: left}, lines); !errors.Is(err, context.Canceled) {
			t.Fatalf("stopped at question %d: %v", left, err)
		}
		if diff := cmp.Diff(before, s.Plain(t)); diff != "" {
			t.Fatalf("stopped at question %d, something was left:\n%s", left, diff)
		}
	}
	if got := mustReceive(t, s, lines...).Devices[0]; got.New != len(lines) {
		t.Errorf("%+v", got)
	}
	checkChains(t, s)
}

func testReceiveAcknowledged(t *testing.T, open Open) {
	s := open(t)
	lines := someJournals(t)
	mustReceive(t, s, lines...)
	want := states(t, s)
	again := s.Again(t)
	if n := len(checkChains(t, again)); n != len(lines) {
		t.Errorf("%d of %d entries are left", n, len(lines))
	}
	if diff := cmp.Diff(want, states(t, again)); diff != "" {
		t.Errorf("records (-before +after):\n%s", diff)
	}
}

func testCorrectAhead(t *testing.T, open Open) {
	s := open(t)
	ahead := NewTablet("tablet", s.Clock.Now.Add(48*time.Hour))
	mustReceive(t, s, ahead.Write(t, recordTrial("T1", "by a clock that runs ahead"))...)
	e := mustAppend(t, s, correctTrial("T1", "by a clock that runs ahead", "corrected"))[0]
	if !e.Wall.Before(ahead.Now.Add(-47 * time.Hour)) {
		t.Errorf("the entry does not say what this clock said: %v", e.Wall)
	}
	state, err := s.Journal.State(t.Context(), study.KindTrial, "T1")
	if err != nil || state.Fields["note"] != "corrected" || state.Last != e.ID {
		t.Errorf("%+v, %v", state, err)
	}
	checkChains(t, s)
	checkFolded(t, s)
}
