package journal

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"brinefield/core/study"
)

// wire is an entry as JSON, as it is read. [Entry.appendTo] writes it.
type wire struct {
	Act         Act        `json:"act"`
	Author      string     `json:"author,omitempty"`
	Body        Body       `json:"body"`
	Device      string     `json:"device"`
	ID          string     `json:"id"`
	Kind        study.Kind `json:"kind"`
	MonotonicUS int64      `json:"monotonic_us"`
	Previous    string     `json:"previous"`
	Reason      string     `json:"reason,omitempty"`
	Run         string     `json:"run"`
	Seq         int64      `json:"seq"`
	Subject     string     `json:"subject"`
	Undoes      string     `json:"undoes,omitempty"`
	Version     int        `json:"version"`
	Wall        string     `json:"wall"`
}

const wallLayout = "2006-01-02T15:04:05.000Z"

// Canonical is the entry as JSON in the one form of RFC 8785: sorted keys, no
// spaces, UTF-8. Its hash is the entry's.
//
// Errors: an entry that no journal can hold.
func (e *Entry) Canonical() ([]byte, error) {
	if err := e.check(); err != nil {
		return nil, err
	}
	return e.appendTo(make([]byte, 0, 1024)), nil
}

// ErrNotCanonical means that bytes are no entry in its one form: something
// else than this program wrote them, or they were changed.
var ErrNotCanonical = errors.New("these bytes are no journal entry in canonical form")

// Parse reads an entry from its canonical bytes, and refuses any others. An
// entry of an older version is returned as it is: see [Upcast].
func Parse(canonical []byte) (Entry, error) {
	var w wire
	decoder := json.NewDecoder(bytes.NewReader(canonical))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&w); err != nil {
		return Entry{}, fmt.Errorf("%w: %v", ErrNotCanonical, err)
	}
	wall, err := time.Parse(wallLayout, w.Wall)
	if err != nil {
		return Entry{}, fmt.Errorf("%w: wall: %v", ErrNotCanonical, err)
	}
	previous, err := ParseHash(w.Previous)
	if err != nil {
		return Entry{}, fmt.Errorf("%w: previous: %v", ErrNotCanonical, err)
	}
	e := Entry{
		ID: w.ID, Device: w.Device, Seq: w.Seq, Wall: wall, MonotonicUS: w.MonotonicUS, Run: w.Run, Version: w.Version, Previous: previous,
		Draft: Draft{Author: w.Author, Kind: w.Kind, Subject: w.Subject, Act: w.Act, Body: w.Body, Reason: w.Reason, Undoes: w.Undoes},
	}
	again, err := e.Canonical()
	if err != nil {
		return Entry{}, fmt.Errorf("%w: %v", ErrNotCanonical, err)
	}
	if !bytes.Equal(again, canonical) {
		return Entry{}, ErrNotCanonical
	}
	return e, nil
}
