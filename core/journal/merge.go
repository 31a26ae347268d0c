package journal

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"
)

// Offered is an entry that another copy of the study brings: read, and not yet
// looked at beside what is there.
type Offered struct {
	Entry
	Canonical []byte
	Hash      Hash
}

// Offer reads an entry from its canonical bytes.
//
// Errors: those of [Parse].
func Offer(canonical []byte) (Offered, error) {
	e, err := Parse(canonical)
	return Offered{Entry: e, Canonical: canonical, Hash: HashOf(canonical)}, err
}

// Gap is a run of entries of a device that were not sent, both ends included.
type Gap struct{ From, To int64 }

// Merged is what an offer of one device's entries comes to.
type Merged struct {
	Device string
	New    []Offered // to be taken in, in the order of Seq, right after the end of the chain
	Known  int       // were there already with the same bytes, or stood twice in the offer
	Head   Head      // the end of the chain with the new ones
	// Missing says what has to be sent before the Beyond entries that follow it
	// can be taken; nil where nothing is missing.
	Missing *Gap
	Beyond  int
	SetBack []SetBack // places among the new ones where the clock ran backwards
}

// ForkError means that two copies of one device have both gone on writing: the
// same place in its chain holds two different entries. No program can tell
// which one is right.
type ForkError struct {
	Device      string
	Seq         int64
	Here, There Hash // of the entry that is here, and of the one that was offered
}

func (e *ForkError) Error() string {
	return fmt.Sprintf("the journal of device %s forks at entry %d: the one here has the hash %s, the one that was offered has %s; "+
		"two copies of that device have both written on, and one of them has to go on as a device of its own", e.Device, e.Seq, e.Here, e.There)
}

// latestStamp is the last moment that an ID may name, a day after the last that
// a clock may say. IDs rise, so that one at the end of time would leave no room
// for whoever corrects its record.
var latestStamp = uint64(time.Date(10000, 1, 2, 0, 0, 0, 0, time.UTC).UnixMilli()) << 12

// Merge decides about entries of one device that another copy of the study
// brings. head is the end of the device's chain here; there tells the hash of an
// entry that is here, for a seq of 1 to head.Seq. The offer may be in any order,
// hold entries twice, begin before the end of the chain and lack some.
//
// What follows the end of the chain without a gap is new. What lies beyond a gap
// is not taken, and Missing says what to send first.
//
// Errors: [*ForkError]; [*ChainError] for an entry that does not fit its place,
// of another device, or with an ID at the end of time; those of there. Nothing
// is new then.
func Merge(device string, head Head, there func(seq int64) (Hash, error), offer []Offered) (Merged, error) {
	bySeq := func(a, b Offered) int { return cmp.Compare(a.Seq, b.Seq) }
	if !slices.IsSortedFunc(offer, bySeq) {
		offer = slices.SortedStableFunc(slices.Values(offer), bySeq)
	}
	chain := Chain{Device: device, Head: head}
	m := Merged{Device: device}
	for i := range offer {
		o := &offer[i]
		switch end := chain.Head; {
		case o.Device != device:
			return Merged{}, chain.broken("it belongs to device %s", o.Device)
		case o.Seq <= end.Seq:
			here, err := hashAt(head, there, m.New, o.Seq)
			if err != nil {
				return Merged{}, err
			}
			if here != o.Hash {
				return Merged{}, &ForkError{Device: device, Seq: o.Seq, Here: here, There: o.Hash}
			}
			m.Known++
			continue
		case o.Seq > end.Seq+1:
			m.Missing, m.Beyond = &Gap{From: end.Seq + 1, To: o.Seq - 1}, len(offer)-i
			m.Head, m.SetBack = end, chain.SetBack
			return m, nil
		case o.Previous != end.Hash && end.Seq == head.Seq && head.Seq > 0:
			// It was written after another entry than the one that is here.
			return Merged{}, &ForkError{Device: device, Seq: head.Seq, Here: head.Hash, There: o.Previous}
		}
		if stamp, _ := stampOf(o.ID); stamp >= latestStamp {
			return Merged{}, chain.broken("its ID %s names a moment after the year 9999, which no clock says", o.ID)
		}
		if err := chain.link(&o.Entry, o.Hash); err != nil {
			return Merged{}, err
		}
		m.New = append(m.New, *o)
	}
	m.Head, m.SetBack = chain.Head, chain.SetBack
	return m, nil
}

// hashAt is the hash of an entry that is here or that the offer has just added.
func hashAt(head Head, there func(seq int64) (Hash, error), added []Offered, seq int64) (Hash, error) {
	switch {
	case seq > head.Seq:
		return added[seq-head.Seq-1].Hash, nil
	case seq == head.Seq:
		return head.Hash, nil
	}
	return there(seq)
}

// MergeAll is [Merge] for an offer of several devices, whose entries may stand
// in any order. It answers for each device in the order of their names.
//
// Errors: those of Merge, for the first device that has one, and those of head
// and there. Then nothing is new of any.
func MergeAll(head func(device string) (Head, error), there func(device string, seq int64) (Hash, error), offer []Offered) ([]Merged, error) {
	of := map[string][]Offered{}
	for _, o := range offer {
		of[o.Device] = append(of[o.Device], o)
	}
	out := make([]Merged, 0, len(of))
	for _, device := range slices.Sorted(maps.Keys(of)) {
		end, err := head(device)
		if err != nil {
			return nil, err
		}
		m, err := Merge(device, end, func(seq int64) (Hash, error) { return there(device, seq) }, of[device])
		if err != nil {
			return nil, err
		}
		out = append(out, m)
	}
	return out, nil
}

// NewInOrder gives what is new of all devices in the order of IDs, which keeps
// the order of each device: its IDs rise.
func NewInOrder(all []Merged) []Offered {
	var out []Offered
	for _, m := range all {
		out = append(out, m.New...)
	}
	byID := func(a, b Offered) int { return cmp.Compare(a.ID, b.ID) }
	if !slices.IsSortedFunc(out, byID) {
		slices.SortFunc(out, byID)
	}
	return out
}
