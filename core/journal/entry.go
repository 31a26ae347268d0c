// Package journal is the append-only log of a study: immutable entries with
// canonical bytes, chained by hash for each device, and the records that are
// derived from them.
//
// [Seal] turns a [Draft] into an [Entry]; [Parse] reads one back; a [Chain]
// checks a device's entries one by one; [Apply] folds an entry into the record
// that it is about. What is derived can be made again from the entries at any
// time, with the same bytes.
//
// Entries are never changed. A correction, an undo and an erasure are entries
// of their own.
package journal

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"brinefield/core/study"
)

// Act is what an entry does to its record.
type Act string

// The acts.
const (
	Record  Act = "record"  // the record is written down for the first time, or again after a removal
	Correct Act = "correct" // some of its fields, or its table, get other values
	Remove  Act = "remove"  // the record is withdrawn; its history stays
)

// Draft is an entry before it has a place in the journal.
type Draft struct {
	Author  string // a reference to a person, or "" where nobody was named
	Kind    study.Kind
	Subject string // the record's ID
	Act     Act
	Body    Body
	Reason  string // why a correction was made
	Undoes  string // the ID of the entry whose effect a correction takes back
}

// Entry is one immutable entry.
type Entry struct {
	ID     string // UUID version 7
	Device string
	Seq    int64 // of the device, from 1, without gaps
	// Wall is the clock of the device, in UTC, to the millisecond. It may have
	// been wrong; the order of a device's entries is Seq.
	Wall time.Time
	// MonotonicUS counts microseconds since the run of the program began; it
	// cannot be set back.
	MonotonicUS int64
	Run         string // of the program
	Version     int    // of the kind's body
	Previous    Hash   // of the device's entry before, zero for its first
	Draft
}

// Hash is the SHA-256 of an entry's canonical bytes.
type Hash [sha256.Size]byte

func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// HashOf is the hash of an entry's canonical bytes.
func HashOf(canonical []byte) Hash { return sha256.Sum256(canonical) }

// ParseHash reads 64 hexadecimal digits in lower case.
func ParseHash(s string) (Hash, error) {
	var h Hash
	b, err := hex.DecodeString(s)
	if err != nil || len(b) != len(h) || hex.EncodeToString(b) != s {
		return h, fmt.Errorf("%q is no hash: expected 64 hexadecimal digits in lower case", s)
	}
	copy(h[:], b)
	return h, nil
}

// Head is where a device's chain ends; the zero Head is an empty chain.
type Head struct {
	Seq  int64
	Hash Hash
	ID   string
	Wall time.Time
}

// Stamp is what the outside adds to a draft: clocks and chance.
type Stamp struct {
	Wall        time.Time
	MonotonicUS int64
	Run         string
	Random      [10]byte
	// After is an ID that the entry's own must follow: that of the last entry
	// about its record, whatever device wrote it. "" where there is none.
	After string
}

// Seal gives a draft its place at the end of a device's chain, and returns the
// entry, its canonical bytes and the new end. IDs of one device rise with Seq
// even where its clock was set back: the time in the ID then stands still and
// Wall says what the clock said. In the same way an entry follows the one that it
// comes after where that was written by a clock that runs ahead: who corrects
// what is there is not overtaken by it.
//
// Errors: a draft that no journal can hold (an unknown act, no kind, a text
// that is not UTF-8, a correction that changes nothing, a ragged table); no
// device or run; a clock before 1970 or after 9999. The end is then unchanged.
func Seal(head Head, device string, d Draft, s Stamp) (Entry, []byte, Head, error) {
	id, err := nextID(max(head.ID, s.After), s.Wall, s.Random)
	if err != nil {
		return Entry{}, nil, head, err
	}
	d.Body = d.Body.clone() // nobody can change the entry through the draft
	e := Entry{
		ID: id, Device: device, Seq: head.Seq + 1, Wall: s.Wall.UTC().Truncate(time.Millisecond),
		MonotonicUS: s.MonotonicUS, Run: s.Run, Version: Latest(d.Kind), Previous: head.Hash, Draft: d,
	}
	canonical, err := e.Canonical()
	if err != nil {
		return Entry{}, nil, head, err
	}
	return e, canonical, Head{Seq: e.Seq, Hash: HashOf(canonical), ID: e.ID, Wall: e.Wall}, nil
}
