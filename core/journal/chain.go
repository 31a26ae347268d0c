package journal

import (
	"fmt"
	"time"
)

// Chain checks the entries of one device in the order of Seq.
type Chain struct {
	Device string
	Head   Head
	// SetBack are the places where the device's clock ran backwards between
	// two entries of it by more than a minute.
	SetBack []SetBack
}

// SetBack is a place where a clock was set back.
type SetBack struct {
	Seq    int64 // of the entry after
	Before time.Time
	After  time.Time
}

// setBackTolerance lets a clock be corrected by its time server.
const setBackTolerance = time.Minute

// ChainError says where a chain breaks and how.
type ChainError struct {
	Device string
	Seq    int64
	Wrong  string
}

func (e *ChainError) Error() string {
	return fmt.Sprintf("the journal of device %s breaks at entry %d: %s", e.Device, e.Seq, e.Wrong)
}

func counted(n int64) string {
	if n == 1 {
		return "1 entry is"
	}
	return fmt.Sprintf("%d entries are", n)
}

// Next checks the device's next entry against the end of the chain and moves
// the end on. The stored hash is what was kept beside the bytes.
//
// Errors: [*ChainError]; the end then stays where it was.
func (c *Chain) Next(canonical []byte, stored Hash) (Entry, error) {
	if HashOf(canonical) != stored {
		return Entry{}, c.broken("its bytes were changed (their hash is not the one that was stored)")
	}
	e, err := Parse(canonical)
	if err != nil {
		return Entry{}, c.broken("%v", err)
	}
	if err := c.link(&e, stored); err != nil {
		return Entry{}, err
	}
	return e, nil
}

// broken says what is wrong with the entry that stands in the next place.
func (c *Chain) broken(format string, args ...any) error {
	return &ChainError{Device: c.Device, Seq: c.Head.Seq + 1, Wrong: fmt.Sprintf(format, args...)}
}

// link is Next for an entry that was read already.
func (c *Chain) link(e *Entry, hash Hash) error {
	seq := c.Head.Seq + 1
	switch {
	case e.Device != c.Device:
		return c.broken("it belongs to device %s", e.Device)
	case e.Seq > seq:
		return c.broken("entry %d stands in its place: %s missing or out of order", e.Seq, counted(e.Seq-seq))
	case e.Seq < seq:
		return c.broken("entry %d stands in its place: it is doubled or out of order", e.Seq)
	case e.Previous != c.Head.Hash:
		return c.broken("the entry before it is not the one that it was written after")
	case e.ID <= c.Head.ID:
		return c.broken("its ID %s does not come after %s, the ID of the entry before", e.ID, c.Head.ID)
	}
	if e.Wall.Before(c.Head.Wall.Add(-setBackTolerance)) {
		c.SetBack = append(c.SetBack, SetBack{Seq: e.Seq, Before: c.Head.Wall, After: e.Wall})
	}
	c.Head = Head{Seq: e.Seq, Hash: hash, ID: e.ID, Wall: e.Wall}
	return nil
}
