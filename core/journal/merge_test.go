package journal

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinefield/core/study"
)

func offered(all []sealed) []Offered {
	out := make([]Offered, len(all))
	for i, s := range all {
		out[i] = Offered{Entry: s.entry, Canonical: s.canonical, Hash: s.hash}
	}
	return out
}

func headAt(all []sealed, seq int) Head {
	if seq == 0 {
		return Head{}
	}
	s := all[seq-1]
	return Head{Seq: s.entry.Seq, Hash: s.hash, ID: s.entry.ID, Wall: s.entry.Wall}
}

func thereOf(all []sealed) func(int64) (Hash, error) {
	return func(seq int64) (Hash, error) { return all[seq-1].hash, nil }
}

// The cases follow from what a chain is: the expectation of each was counted by
// hand on five entries of one device.
func TestMergeDecides(t *testing.T) {
	all := sealAll(t, "tablet", passDrafts(5)...)
	offer := offered(all)
	shuffled := []Offered{offer[3], offer[2], offer[4], offer[2]}
	for _, c := range []struct {
		name          string
		have          int
		offer         []Offered
		added, known  int
		missing       *Gap
		beyond, reach int
	}{
		{"all of it", 0, offer, 5, 0, nil, 0, 5},
		{"nothing", 2, nil, 0, 0, nil, 0, 2},
		{"known ones first", 2, offer, 3, 2, nil, 0, 5},
		{"all known", 5, offer, 0, 5, nil, 0, 5},
		{"out of order and doubled", 2, shuffled, 3, 1, nil, 0, 5},
		{"a gap at once", 1, offer[3:], 0, 0, &Gap{2, 3}, 2, 1},
		{"a gap in the middle", 0, []Offered{offer[0], offer[1], offer[4]}, 2, 0, &Gap{3, 4}, 1, 2},
	} {
		m, err := Merge("tablet", headAt(all, c.have), thereOf(all), c.offer)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if len(m.New) != c.added || m.Known != c.known || m.Beyond != c.beyond || m.Head != headAt(all, c.reach) {
			t.Errorf("%s: %d new, %d known, %d beyond, head %d", c.name, len(m.New), m.Known, m.Beyond, m.Head.Seq)
		}
		differ(t, c.name, c.missing, m.Missing)
	}
}

func TestMergeRefuses(t *testing.T) {
	all := sealAll(t, "tablet", passDrafts(4)...)
	other := sealAll(t, "tablet", append(passDrafts(2), Draft{Kind: study.KindPass, Subject: "P9", Act: Record}, Draft{Kind: study.KindPass, Subject: "P8", Act: Record})...)
	offer, forked := offered(all), offered(other)
	var fork *ForkError
	_, err := Merge("tablet", headAt(all, 4), thereOf(all), forked)
	if !errors.As(err, &fork) || fork.Seq != 3 || fork.Here != all[2].hash || fork.There != other[2].hash {
		t.Errorf("another third entry: %v", err)
	}
	for _, want := range []string{"device tablet", "entry 3", all[2].hash.String(), other[2].hash.String()} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q is not in %q", want, err)
		}
	}
	// Only what follows the other third entry: it shows in what was before it.
	if _, err := Merge("tablet", headAt(all, 3), thereOf(all), forked[3:]); !errors.As(err, &fork) || fork.Seq != 3 || fork.There != other[2].hash {
		t.Errorf("after another third entry: %v", err)
	}
	// Two in one offer.
	if _, err := Merge("tablet", Head{}, thereOf(all), append(slices.Clone(offer[:3]), forked[2])); !errors.As(err, &fork) || fork.Seq != 3 {
		t.Errorf("both third entries at once: %v", err)
	}
	var broken *ChainError
	if _, err := Merge("tablet", headAt(all, 2), thereOf(all), []Offered{offer[2], forked[3]}); !errors.As(err, &broken) || broken.Seq != 4 {
		t.Errorf("a fourth entry that follows another third: %v", err)
	}
	if _, err := Merge("laptop", Head{}, thereOf(all), offer); !errors.As(err, &broken) || broken.Device != "laptop" {
		t.Errorf("of another device: %v", err)
	}
	// An ID at the end of time, which a clock of the year 9999 cannot give.
	e := all[0].entry
	e.ID = "ffffffff-ffff-7fff-bfff-ffffffffffff"
	canonical, err := e.Canonical()
	if err != nil {
		t.Fatal(err)
	}
	late, err := Offer(canonical)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Merge("tablet", Head{}, thereOf(all), []Offered{late}); !errors.As(err, &broken) || !strings.Contains(err.Error(), "9999") {
		t.Errorf("at the end of time: %v", err)
	}
	last, err := nextID("", time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC), [10]byte{})
	if stamp, ok := stampOf(last); err != nil || !ok || stamp >= latestStamp {
		t.Errorf("the last moment that a clock says is refused: %v", err)
	}
	wrong := errors.New("the disc")
	if _, err := Merge("tablet", headAt(all, 4), func(int64) (Hash, error) { return Hash{}, wrong }, offer); !errors.Is(err, wrong) {
		t.Errorf("an error of the store: %v", err)
	}
	if _, err := Offer([]byte("{}")); !errors.Is(err, ErrNotCanonical) {
		t.Errorf("no entry: %v", err)
	}
}

// journals writes entries of several devices about few records, with clocks
// that differ.
func journals(t *rapid.T) []sealed {
	var all []sealed
	for d := range rapid.IntRange(1, 4).Draw(t, "devices") {
		device := fmt.Sprint("tablet-", d)
		offset := time.Duration(rapid.IntRange(-5000, 5000).Draw(t, "clock")) * time.Millisecond
		var head Head
		for i := range rapid.IntRange(0, 8).Draw(t, "entries") {
			draft := anyDraft().Draw(t, "draft")
			draft.Kind, draft.Subject = study.KindPass, rapid.SampledFrom([]string{"P1", "P2", "P3"}).Draw(t, "subject")
			wall := noon.Add(offset + time.Duration(i)*time.Second)
			e, canonical, next, err := Seal(head, device, draft, stampAt(wall, d*100+i))
			if err != nil {
				t.Fatal(err)
			}
			head = next
			all = append(all, sealed{e, canonical, next.Hash})
		}
	}
	return all
}

// shelf is a store as simple as can be: chains, and records by live folding.
type shelf struct {
	chains map[string][]Offered
	about  map[string][]Entry
	states map[string]*State
}

func (s *shelf) head(device string) (Head, error) {
	chain := s.chains[device]
	if len(chain) == 0 {
		return Head{}, nil
	}
	o := chain[len(chain)-1]
	return Head{Seq: o.Seq, Hash: o.Hash, ID: o.ID, Wall: o.Wall}, nil
}

func (s *shelf) receive(t *rapid.T, offer []Offered) []Merged {
	all, err := MergeAll(s.head, func(device string, seq int64) (Hash, error) { return s.chains[device][seq-1].Hash, nil }, offer)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range NewInOrder(all) {
		s.chains[o.Device] = append(s.chains[o.Device], o)
		s.about[o.Subject] = append(s.about[o.Subject], o.Entry)
		if before := s.states[o.Subject]; before == nil || o.ID > before.Last {
			s.states[o.Subject], err = Apply(before, o.Entry)
		} else {
			s.states[o.Subject], err = Fold(s.about[o.Subject])
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return all
}

// TestMergeOrderFree: in whatever order, however often and in whatever batches
// entries come, the records are those of one batch in the order of IDs.
func TestMergeOrderFree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := journals(t)
		want := map[string]*State{}
		inOrder := slices.Clone(all)
		slices.SortFunc(inOrder, func(a, b sealed) int { return strings.Compare(a.entry.ID, b.entry.ID) })
		for _, s := range inOrder {
			after, err := Apply(want[s.entry.Subject], s.entry)
			if err != nil {
				t.Fatal(err)
			}
			want[s.entry.Subject] = after
		}
		s := &shelf{chains: map[string][]Offered{}, about: map[string][]Entry{}, states: map[string]*State{}}
		sent := offered(all)
		sent = append(sent, sent[:rapid.IntRange(0, len(sent)).Draw(t, "twice")]...)
		sent = rapid.Permutation(sent).Draw(t, "order")
		for len(sent) > 0 {
			n := rapid.IntRange(1, len(sent)).Draw(t, "batch")
			batch := sent[:n]
			for _, m := range s.receive(t, batch) {
				// What lay beyond a gap is sent again, as the sender would.
				if m.Missing == nil {
					continue
				}
				if m.Missing.From != m.Head.Seq+1 || m.Missing.To < m.Missing.From {
					t.Fatalf("the gap %v does not begin after %d", m.Missing, m.Head.Seq)
				}
				for _, o := range batch {
					if o.Device == m.Device && o.Seq > m.Missing.To {
						sent = append(sent, o)
					}
				}
			}
			sent = sent[n:]
		}
		differ(t, "records", want, s.states)
		for subject, entries := range s.about {
			mixed, err := Fold(rapid.Permutation(entries).Draw(t, "entries"))
			if err != nil {
				t.Fatal(err)
			}
			differ(t, "folded again", want[subject], mixed)
		}
	})
}

func TestFoldOfNothing(t *testing.T) {
	if state, err := Fold(nil); state != nil || err != nil {
		t.Errorf("%v, %v", state, err)
	}
}

// TestSealAfter: who corrects what a clock that runs ahead has written comes
// after it.
func TestSealAfter(t *testing.T) {
	ahead := sealAll(t, "tablet", passDrafts(1)...)[0].entry
	stamp := stampAt(noon.Add(-time.Hour), 7)
	stamp.After = ahead.ID
	e, _, head, err := Seal(Head{}, "lab", passDrafts(2)[1], stamp)
	if err != nil || e.ID <= ahead.ID || !e.Wall.Equal(stamp.Wall) {
		t.Fatalf("%s after %s, %v, %v", e.ID, ahead.ID, e.Wall, err)
	}
	stamp.After = ""
	next, _, _, err := Seal(head, "lab", passDrafts(2)[1], stamp)
	if err != nil || next.ID <= e.ID {
		t.Errorf("%s after %s: %v", next.ID, e.ID, err)
	}
}
