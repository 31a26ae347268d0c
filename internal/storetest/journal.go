package storetest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
)

func testEmpty(t *testing.T, open Open) {
	s := open(t)
	h := head(t, s)
	if h.Entries != 0 || h.Position != 0 || !h.LastWall.IsZero() || h.Device == "" || len(h.Devices) != 0 || h.ClockBehind != 0 {
		t.Errorf("head of an empty journal: %+v", h)
	}
	if got := states(t, s); len(got) != 0 {
		t.Errorf("states of an empty study: %v", got)
	}
	if entries, oldest, err := s.Journal.Recent(t.Context(), 0, 10); err != nil || len(entries) != 0 || oldest != 0 {
		t.Errorf("recent entries of an empty study: %v, %d, %v", entries, oldest, err)
	}
	if same, err := s.Journal.Rebuild(t.Context(), nil); err != nil || !same {
		t.Errorf("rebuilding nothing: %v, %v", same, err)
	}
	if entries, err := s.Journal.Append(t.Context(), nil); err != nil || len(entries) != 0 {
		t.Errorf("appending nothing: %v, %v", entries, err)
	}
}

func testChain(t *testing.T, open Open) {
	s := open(t)
	var want []journal.Entry
	want = append(want, mustAppend(t, s, recordTrial("T1", "calm"), recordTrack("P1"))...)
	want = append(want, mustAppend(t, s, correctTrial("T1", "calm", "choppy"))...)
	if diff := cmp.Diff(want, checkChains(t, s)); diff != "" {
		t.Errorf("what Append returned is not what lies there (-returned +there):\n%s", diff)
	}
	for i, e := range want {
		if e.Seq != int64(i+1) || e.Device != head(t, s).Device {
			t.Errorf("entry %d: seq %d of device %s", i, e.Seq, e.Device)
		}
	}
	if !head(t, s).LastWall.Equal(want[2].Wall) {
		t.Errorf("last at %v, not %v", head(t, s).LastWall, want[2].Wall)
	}
}

func testAllOrNothing(t *testing.T, open Open) {
	s := open(t)
	mustAppend(t, s, recordTrial("T1", "calm"))
	before := s.Plain(t)
	if _, err := s.Journal.Append(t.Context(), []journal.Draft{correctTrial("T1", "calm", "choppy"), recordTrial("T2", ""), unacceptable()}); err == nil {
		t.Fatal("a draft that no journal can hold was taken")
	}
	if diff := cmp.Diff(before, s.Plain(t)); diff != "" {
		t.Errorf("half an append was left:\n%s", diff)
	}
	if e := mustAppend(t, s, recordTrial("T3", "calm")); e[0].Seq != 2 {
		t.Errorf("the next entry is numbered %d", e[0].Seq)
	}
	checkChains(t, s)
}

// stopAfter is a context that ends at the nth question.
type stopAfter struct {
	context.Context
	mu   sync.Mutex
	left int
}

func (c *stopAfter) Err() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.left--; c.left < 0 {
		return context.Canceled
	}
	return nil
}

func testStopped(t *testing.T, open Open) {
	s := open(t)
	mustAppend(t, s, recordTrial("T1", "calm"))
	before := s.Plain(t)
	var drafts []journal.Draft
	for i := range 1000 {
		drafts = append(drafts, recordTrack(fmt.Sprintf("P%d", i)))
	}
	stopped := 0
	for left := range 6 {
		_, err := s.Journal.Append(&stopAfter{Context: t.Context(), left: left}, drafts)
		if err == nil {
			t.Fatalf("not stopped at question %d", left)
		}
		if !errors.Is(err, context.Canceled) {
			t.Fatalf("question %d: %v", left, err)
		}
		stopped++
		if diff := cmp.Diff(before, s.Plain(t)); diff != "" {
			t.Fatalf("stopped at question %d, something was left:\n%s", left, diff)
		}
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := s.Journal.Append(ended, drafts[:1]); !errors.Is(err, context.Canceled) {
		t.Fatalf("with an ended context: %v", err)
	}
	mustAppend(t, s, drafts...)
	checkChains(t, s)
}

func testAcknowledged(t *testing.T, open Open) {
	s := open(t)
	var want []journal.Entry
	for i := range 20 {
		want = append(want, mustAppend(t, s, recordTrial(fmt.Sprint("T", i), "calm"))...)
	}
	refs, err := s.Guarded.PutAssignments(t.Context(), []app.Assignment{{"active_pair": "A"}})
	if err != nil {
		t.Fatal(err)
	}
	again := s.Again(t)
	if diff := cmp.Diff(want, checkChains(t, again)); diff != "" {
		t.Errorf("entries were lost:\n%s", diff)
	}
	if len(states(t, again, study.KindTrial)) != 20 {
		t.Error("records were lost")
	}
	if _, err := again.Guarded.Assignments(t.Context(), Granted(), refs); err != nil {
		t.Error(err)
	}
}

func testStatesInOrder(t *testing.T, open Open) {
	s := open(t)
	mustAppend(t, s, recordTrial("T9", "first"), recordTrack("P2"), recordTrial("T1", "second"), recordTrack("P1"), recordTrial("T5", "third"))
	mustAppend(t, s, correctTrial("T9", "first", "corrected"), removeTrial("T1"))
	ids := func(all []journal.State) (ids []string) {
		for _, state := range all {
			ids = append(ids, string(state.Kind)+" "+state.ID)
		}
		return ids
	}
	for _, c := range []struct {
		kinds []study.Kind
		want  []string
	}{
		{nil, []string{"trial T9", "track P2", "track P1", "trial T5"}},
		{[]study.Kind{study.KindTrial}, []string{"trial T9", "trial T5"}},
		{[]study.Kind{study.KindTrack, study.KindTrial}, []string{"track P2", "track P1", "trial T9", "trial T5"}},
		{[]study.Kind{study.KindSite}, nil},
	} {
		if diff := cmp.Diff(c.want, ids(states(t, s, c.kinds...))); diff != "" {
			t.Errorf("%v (-want +got):\n%s", c.kinds, diff)
		}
	}
	mustAppend(t, s, recordTrial("T1", "again"))
	if diff := cmp.Diff([]string{"trial T9", "trial T1", "trial T5"}, ids(states(t, s, study.KindTrial))); diff != "" {
		t.Errorf("a record that comes back keeps its place (-want +got):\n%s", diff)
	}
}

func testHistory(t *testing.T, open Open) {
	s := open(t)
	first := mustAppend(t, s, recordTrial("T1", "calm"), recordTrial("T2", "calm"))
	second := mustAppend(t, s, correctTrial("T1", "calm", "choppy"))
	third := mustAppend(t, s, removeTrial("T1"))
	want := []journal.Entry{first[0], second[0], third[0]}
	got, err := s.Journal.History(t.Context(), study.KindTrial, "T1")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("history (-want +got):\n%s", diff)
	}
	state, err := s.Journal.State(t.Context(), study.KindTrial, "T1")
	if err != nil || state == nil {
		t.Fatal(state, err)
	}
	if !state.Removed || state.First != first[0].ID || state.Last != third[0].ID || state.Entries != 3 || state.Fields["note"] != "choppy" {
		t.Errorf("state of a removed record: %+v", state)
	}
	if state, err := s.Journal.State(t.Context(), study.KindTrial, "T7"); err != nil || state != nil {
		t.Errorf("state of no record: %v, %v", state, err)
	}
	if got, err := s.Journal.History(t.Context(), study.KindTrial, "T7"); err != nil || len(got) != 0 {
		t.Errorf("history of no record: %v, %v", got, err)
	}
	if got, err := s.Journal.Entry(t.Context(), second[0].ID); err != nil || !cmp.Equal(got, second[0]) {
		t.Errorf("entry by ID: %v, %v", got, err)
	}
	if _, err := s.Journal.Entry(t.Context(), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"); !errors.Is(err, app.ErrUnknownEntry) {
		t.Errorf("unknown entry: %v", err)
	}
}

func testRecent(t *testing.T, open Open) {
	s := open(t)
	var drafts []journal.Draft
	for i := range 25 {
		drafts = append(drafts, recordTrial(fmt.Sprint("T", i), "calm"))
	}
	want := mustAppend(t, s, drafts...)
	slices.Reverse(want)
	var got []journal.Entry
	before, pages := int64(0), 0
	for {
		some, oldest, err := s.Journal.Recent(t.Context(), before, 10)
		if err != nil {
			t.Fatal(err)
		}
		if len(some) == 0 {
			break
		}
		got = append(got, some...)
		before = oldest
		if pages++; pages > 10 {
			t.Fatal("the pages do not end")
		}
		if oldest == 1 {
			break
		}
	}
	if diff := cmp.Diff(want, got); diff != "" || pages != 3 {
		t.Errorf("%d pages (-want +got):\n%s", pages, diff)
	}
}

func testRebuild(t *testing.T, open Open) {
	s := open(t)
	mustAppend(t, s, recordTrial("T1", "calm"), recordTrack("P1"), recordTrial("T2", "<&\u2028é>"))
	mustAppend(t, s, correctTrial("T1", "calm", ""), removeTrial("T2"))
	before := s.Plain(t)
	last := 0
	same, err := s.Journal.Rebuild(t.Context(), func(done, total int) {
		if total != 5 || done < last || done > total {
			t.Errorf("progress %d of %d", done, total)
		}
		last = done
	})
	if err != nil || !same || last != 5 {
		t.Errorf("rebuilt: same %v, %d entries, %v", same, last, err)
	}
	if diff := cmp.Diff(before, s.Plain(t)); diff != "" {
		t.Errorf("rebuilding changed something:\n%s", diff)
	}
}

func testClockSetBack(t *testing.T, open Open) {
	s := open(t)
	first := mustAppend(t, s, recordTrial("T1", "calm"))
	s.Clock.Now = s.Clock.Now.Add(-90 * time.Minute)
	if behind := head(t, s).ClockBehind; behind < 89*time.Minute || behind > 91*time.Minute {
		t.Errorf("the clock is behind by %v, not 90 minutes", behind)
	}
	second := mustAppend(t, s, recordTrial("T2", "calm"))
	if second[0].ID <= first[0].ID {
		t.Errorf("IDs do not rise: %s after %s", second[0].ID, first[0].ID)
	}
	if !second[0].Wall.Before(first[0].Wall) {
		t.Errorf("the entry does not say what the clock said: %v", second[0].Wall)
	}
	checkChains(t, s)
}

func testConcurrent(t *testing.T, open Open) {
	s := open(t)
	const hands, each = 4, 25
	var writers, readers sync.WaitGroup
	done := make(chan struct{})
	for hand := range hands {
		writers.Go(func() {
			for i := range each {
				id := fmt.Sprintf("T%d-%d", hand, i)
				if _, err := s.Journal.Append(t.Context(), []journal.Draft{recordTrial(id, "calm"), recordTrack(id)}); err != nil {
					t.Error(err)
					return
				}
			}
		})
		readers.Go(func() {
			for {
				select {
				case <-done:
					return
				default:
				}
				trials, err := s.Journal.States(t.Context(), study.KindTrial, study.KindTrack)
				if err != nil {
					t.Error(err)
					return
				}
				if len(trials)%2 != 0 {
					t.Errorf("%d records: half an append was seen", len(trials))
					return
				}
				if _, err := s.Journal.Head(t.Context()); err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	writers.Wait()
	close(done)
	readers.Wait()
	if n := len(checkChains(t, s)); n != 2*hands*each {
		t.Errorf("%d entries, not %d", n, 2*hands*each)
	}
}
