// Package storetest holds the promises that every store of a study must keep,
// whatever database is behind it, as one suite of tests: see [Run].
//
// Only tests import it.
package storetest

import (
	"testing"
	"time"
	"unsafe"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
)

// Stores are those of one new, empty study, opened for writing.
type Stores struct {
	Journal app.JournalStore
	Guarded app.GuardedStore
	Clock   *Clock // which the study reads
	// Again opens the same study as after a program that was killed: the
	// stores before are not closed, and not used any more.
	Again func(*testing.T) Stores
	// Plain gives all that lies outside the guarded part, row by row.
	Plain func(*testing.T) []string
}

// Clock is set by a test.
type Clock struct{ Now time.Time }

// Open makes a study. Its chance is the same each time.
type Open func(*testing.T) Stores

// Run tests every promise.
func Run(t *testing.T, open Open) {
	for _, promise := range []struct {
		name string
		test func(*testing.T, Open)
	}{
		{"an empty study", testEmpty},
		{"entries are numbered and chained", testChain},
		{"all drafts of one append or none", testAllOrNothing},
		{"an append that is stopped leaves nothing", testStopped},
		{"what was acknowledged is there after a kill", testAcknowledged},
		{"states come in order", testStatesInOrder},
		{"history tells every entry of a record", testHistory},
		{"recent entries in pages", testRecent},
		{"records made again are the same", testRebuild},
		{"a clock set back", testClockSetBack},
		{"many hands at once", testConcurrent},
		{"records are what a simple model says", testModel},
		{"entries of other devices", testReceive},
		{"the same entry twice is one", testReceiveTwice},
		{"an entry of this device that comes back is known", testReceiveOwn},
		{"in whatever order entries come, the records are the same", testReceiveAnyOrder},
		{"what lies beyond a gap waits", testReceiveGap},
		{"a fork is refused", testReceiveFork},
		{"a broken batch leaves nothing", testReceiveBroken},
		{"taking in that is stopped leaves nothing", testReceiveStopped},
		{"what was taken in is there after a kill", testReceiveAcknowledged},
		{"who corrects comes after a clock that runs ahead", testCorrectAhead},
		{"assignments", testAssignments},
		{"assignments of another device", testTakeAssignments},
		{"originals", testOriginals},
		{"results", testResults},
		{"nobody blind reads what is guarded", testBlind},
		{"what was active changes nothing outside", testNonInterference},
	} {
		t.Run(promise.name, func(t *testing.T) { promise.test(t, open) })
	}
}

// Granted is the right to see the active pairs. Outside app nobody can make
// one, and no program should: a test needs it to see that a right is enough.
func Granted() app.Right {
	var right app.Right
	*(*bool)(unsafe.Pointer(&right)) = true
	return right
}

// Invented drafts, of an invented bay.

func recordTrial(id, note string) journal.Draft {
	return journal.Draft{Kind: study.KindTrial, Subject: id, Act: journal.Record, Body: journal.Body{Fields: map[string]string{"start": "2026-06-01T10:00", "note": note}}}
}

func correctTrial(id, was, now string) journal.Draft {
	return journal.Draft{
		Kind: study.KindTrial, Subject: id, Act: journal.Correct, Reason: "misread",
		Body: journal.Body{Fields: map[string]string{"note": now}, Was: map[string]string{"note": was}},
	}
}

func removeTrial(id string) journal.Draft {
	return journal.Draft{Kind: study.KindTrial, Subject: id, Act: journal.Remove}
}

func recordTrack(pass string) journal.Draft {
	return journal.Draft{Kind: study.KindTrack, Subject: pass, Act: journal.Record, Body: journal.Body{Table: &study.Table{
		Columns: []string{"t_s", "x_cm", "y_cm"}, Rows: [][]string{{"0", "12.5", "-3"}, {"0.5", "10.25", "-2.5"}},
	}}}
}

// unacceptable is a draft that no journal can hold.
func unacceptable() journal.Draft {
	return journal.Draft{Kind: study.KindTrial, Subject: "T9", Act: journal.Correct}
}

func mustAppend(t *testing.T, s Stores, drafts ...journal.Draft) []journal.Entry {
	t.Helper()
	entries, err := s.Journal.Append(t.Context(), drafts)
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != len(drafts) {
		t.Fatalf("%d entries for %d drafts", len(entries), len(drafts))
	}
	return entries
}

func head(t *testing.T, s Stores) app.JournalHead {
	t.Helper()
	h, err := s.Journal.Head(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func states(t *testing.T, s Stores, kinds ...study.Kind) []journal.State {
	t.Helper()
	all, err := s.Journal.States(t.Context(), kinds...)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// checkChains reads the whole journal and checks it as anyone outside could.
func checkChains(t *testing.T, s Stores) (entries []journal.Entry) {
	t.Helper()
	chains := map[string]*journal.Chain{}
	position := int64(0)
	for e, err := range s.Journal.All(t.Context()) {
		if err != nil {
			t.Fatal(err)
		}
		if position++; e.Position != position {
			t.Fatalf("position %d after %d", e.Position, position-1)
		}
		if chains[e.Device] == nil {
			chains[e.Device] = &journal.Chain{Device: e.Device}
		}
		entry, err := chains[e.Device].Next(e.Canonical, e.Hash)
		if err != nil {
			t.Fatal(err)
		}
		entries = append(entries, entry)
	}
	h := head(t, s)
	if h.Entries != position || h.Position != position {
		t.Fatalf("the head says %d entries up to position %d, there are %d", h.Entries, h.Position, position)
	}
	for device, chain := range chains {
		if h.Devices[device] != chain.Head {
			t.Fatalf("the head says of device %s %+v, its chain ends at %+v", device, h.Devices[device], chain.Head)
		}
	}
	return entries
}
