package journal

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinefield/core/study"
)

// follow checks entries one by one and gives the end and the first error.
func follow(device string, entries []sealed) (Chain, error) {
	c := Chain{Device: device}
	for _, e := range entries {
		if _, err := c.Next(e.canonical, e.hash); err != nil {
			return c, err
		}
	}
	return c, nil
}

func TestAWholeChain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var head Head
		c := Chain{Device: "deck"}
		for i, d := range rapid.SliceOfN(anyDraft(), 0, 8).Draw(t, "drafts") {
			e, canonical, next, err := Seal(head, "deck", d, stampAt(noon.Add(time.Duration(i)*time.Minute), i))
			if err != nil {
				t.Fatal(err)
			}
			head = next
			got, err := c.Next(canonical, next.Hash)
			if err != nil {
				t.Fatal(err)
			}
			differ(t, "entry", e, got)
			differ(t, "end", head, c.Head)
		}
		if len(c.SetBack) > 0 {
			t.Errorf("the clock was not set back: %v", c.SetBack)
		}
	})
}

// TestABrokenChainSaysWhere: device, number, and what is wrong there.
func TestABrokenChainSaysWhere(t *testing.T) {
	const own = "the journal of device deck breaks at entry "
	deck := sealAll(t, "deck", passDrafts(5)...)
	lab := sealAll(t, "lab", passDrafts(3)...)
	rewritten := slices.Clone(deck)
	other := passDrafts(5)
	other[1].Reason = "invented afterwards"
	rewritten[1] = sealAll(t, "deck", other...)[1] // a sound entry in its place, with its own hash
	changed := slices.Clone(deck)
	changed[2].canonical = []byte(strings.Replace(string(changed[2].canonical), "look 2", "look 7", 1))
	forged := slices.Clone(changed)
	forged[2].hash = HashOf(forged[2].canonical)
	unreadable := slices.Clone(deck)
	unreadable[2].canonical = []byte("{}")
	unreadable[2].hash = HashOf(unreadable[2].canonical)
	pick := func(from []sealed, numbers ...int) (out []sealed) {
		for _, n := range numbers {
			out = append(out, from[n-1])
		}
		return out
	}
	for name, c := range map[string]struct {
		entries []sealed
		want    string
	}{
		"dropped":                {pick(deck, 1, 3, 4, 5), own + "2: entry 3 stands in its place: 1 entry is missing or out of order"},
		"two dropped":            {pick(deck, 1, 4, 5), own + "2: entry 4 stands in its place: 2 entries are missing or out of order"},
		"the first dropped":      {pick(deck, 2, 3), own + "1: entry 2 stands in its place: 1 entry is missing or out of order"},
		"doubled":                {pick(deck, 1, 2, 2, 3), own + "3: entry 2 stands in its place: it is doubled or out of order"},
		"swapped":                {pick(deck, 1, 3, 2, 4), own + "2: entry 3 stands in its place: 1 entry is missing or out of order"},
		"of another device":      {append(pick(deck, 1, 2), lab[2]), own + "3: it belongs to device lab"},
		"rewritten in its place": {rewritten, own + "3: the entry before it is not the one that it was written after"},
		"changed":                {changed, own + "3: its bytes were changed (their hash is not the one that was stored)"},
		"changed with its hash":  {forged, own + "4: the entry before it is not the one that it was written after"},
		"no entry":               {unreadable, own + "3: these bytes are no journal entry in canonical form"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := follow("deck", c.entries)
			var broken *ChainError
			if !errors.As(err, &broken) || !strings.HasPrefix(err.Error(), c.want) {
				t.Fatalf("got  %v\nwant %s", err, c.want)
			}
			if broken.Device != "deck" || broken.Seq != got.Head.Seq+1 {
				t.Errorf("device %s, entry %d, after entry %d", broken.Device, broken.Seq, got.Head.Seq)
			}
		})
	}
	if _, err := follow("deck", deck); err != nil {
		t.Errorf("the chain without a fault: %v", err)
	}
}

// TestAFallingIDBreaksTheChain, though numbers and hashes agree: the order of
// IDs decides which of two devices' corrections is the later one.
func TestAFallingIDBreaksTheChain(t *testing.T) {
	first := sealAll(t, "deck", passDrafts(1)...)[0]
	head := Head{Seq: 1, Hash: first.hash} // forgets the ID of the entry before
	_, canonical, next, err := Seal(head, "deck", passDrafts(2)[1], stampAt(noon.Add(-time.Hour), 2))
	if err != nil {
		t.Fatal(err)
	}
	_, err = follow("deck", []sealed{first, {canonical: canonical, hash: next.Hash}})
	if err == nil || !strings.Contains(err.Error(), "breaks at entry 2: its ID") {
		t.Errorf("got %v", err)
	}
}

// TestAfterAnErrorTheEndStands: the right entry can still follow.
func TestAfterAnErrorTheEndStands(t *testing.T) {
	deck := sealAll(t, "deck", passDrafts(3)...)
	c, err := follow("deck", deck[:1])
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.Next(deck[2].canonical, deck[2].hash); err == nil {
		t.Fatal("a gap is accepted")
	}
	for _, e := range deck[1:] {
		if _, err := c.Next(e.canonical, e.hash); err != nil {
			t.Error(err)
		}
	}
}

// TestAChangedByteIsFound at every position and in every bit: the stored hash
// does not fit; and where someone makes the hash again, the bytes are no entry,
// or the next entry does not fit, or after the last one the known end.
func TestAChangedByteIsFound(t *testing.T) {
	drafts := passDrafts(2)
	drafts[0].Body.Table = &study.Table{Columns: []string{"t_s", "x_cm"}, Rows: [][]string{{"0", "-1.50"}, {"0.04", "é"}}}
	deck := sealAll(t, "deck", drafts...)
	for i := range deck {
		for p := range deck[i].canonical {
			for bit := range 8 {
				changedByteIsFound(t, deck, i, p, 1<<bit)
			}
		}
	}
}

func TestAChangedByteIsFoundAnywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deck := sealAll(t, "deck", rapid.SliceOfN(anyDraft(), 1, 4).Draw(t, "drafts")...)
		i := rapid.IntRange(0, len(deck)-1).Draw(t, "entry")
		p := rapid.IntRange(0, len(deck[i].canonical)-1).Draw(t, "position")
		changedByteIsFound(t, deck, i, p, rapid.ByteMin(1).Draw(t, "mask"))
	})
}

func changedByteIsFound(t rapid.TB, deck []sealed, i, position int, mask byte) {
	t.Helper()
	known := deck[len(deck)-1].hash
	changed := slices.Clone(deck)
	changed[i].canonical = slices.Clone(deck[i].canonical)
	changed[i].canonical[position] ^= mask
	_, err := follow("deck", changed)
	var broken *ChainError
	if !errors.As(err, &broken) || broken.Seq != int64(i+1) {
		t.Fatalf("byte %d of entry %d changed by %02x: %v", position, i+1, mask, err)
	}
	changed[i].hash = HashOf(changed[i].canonical)
	if c, err := follow("deck", changed); err == nil && c.Head.Hash == known {
		t.Fatalf("byte %d of entry %d changed by %02x, and its hash with it: not found", position, i+1, mask)
	} else if err == nil && i < len(deck)-1 {
		t.Fatalf("byte %d of entry %d changed by %02x, and its hash with it: found only at the end", position, i+1, mask)
	}
	if e, err := Parse(changed[i].canonical); err == nil {
		if again, err := e.Canonical(); err != nil || string(again) != string(changed[i].canonical) {
			t.Fatalf("%s is read as another entry: %s (%v)", changed[i].canonical, again, err)
		}
	} else if !errors.Is(err, ErrNotCanonical) {
		t.Fatalf("an error of another kind: %v", err)
	}
}

// TestAClockThatWasSetBack by more than a minute is told; less is what a time
// server does.
func TestAClockThatWasSetBack(t *testing.T) {
	walls := []time.Duration{0, time.Hour, time.Hour - time.Minute, time.Hour - 2*time.Minute - time.Millisecond, 30 * time.Hour, 30 * time.Minute, 30*time.Minute + 1}
	var head Head
	c := Chain{Device: "deck"}
	for i, after := range walls {
		e, canonical, next, err := Seal(head, "deck", passDrafts(i + 1)[i], stampAt(noon.Add(after), i))
		if err != nil {
			t.Fatal(err)
		}
		if !e.Wall.Equal(noon.Add(after).Truncate(time.Millisecond)) {
			t.Errorf("entry %d says %s: the clock said %s", i+1, e.Wall, noon.Add(after))
		}
		if _, err := c.Next(canonical, next.Hash); err != nil {
			t.Fatal(err)
		}
		head = next
	}
	differ(t, "set back", []SetBack{
		{Seq: 4, Before: noon.Add(walls[2]), After: noon.Add(walls[3])},
		{Seq: 6, Before: noon.Add(walls[4]), After: noon.Add(walls[5])},
	}, c.SetBack)
}
