package journal

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"time"
	"unicode/utf8"

	"github.com/gowebpki/jcs"

	"brinefield/core/study"
)

// wire is an entry as JSON.
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

// largestInteger is the largest that every reader of JSON keeps exactly
// (RFC 8785 prints numbers as IEEE 754 doubles).
const largestInteger = 1<<53 - 1

// Canonical is the entry as JSON in the one form of RFC 8785: sorted keys, no
// spaces, UTF-8. Its hash is the entry's.
func (e *Entry) Canonical() ([]byte, error) {
	if e.Seq > largestInteger || e.MonotonicUS > largestInteger || e.MonotonicUS < 0 {
		return nil, errors.New("a counter of the entry is beyond what JSON keeps exactly")
	}
	if y := e.Wall.Year(); y < 0 || y > 9999 {
		return nil, fmt.Errorf("the year %d cannot be written", y)
	}
	var raw bytes.Buffer
	encoder := json.NewEncoder(&raw)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(wire{
		Act: e.Act, Author: e.Author, Body: e.Body, Device: e.Device, ID: e.ID, Kind: e.Kind, MonotonicUS: e.MonotonicUS,
		Previous: e.Previous.String(), Reason: e.Reason, Run: e.Run, Seq: e.Seq, Subject: e.Subject, Undoes: e.Undoes,
		Version: e.Version, Wall: e.Wall.UTC().Format(wallLayout),
	}); err != nil {
		return nil, err
	}
	return jcs.Transform(raw.Bytes())
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
	if err := e.check(); err != nil {
		return Entry{}, fmt.Errorf("%w: %v", ErrNotCanonical, err)
	}
	if !validID(e.ID) {
		return Entry{}, fmt.Errorf("%w: %q is no UUID of version 7", ErrNotCanonical, e.ID)
	}
	again, err := e.Canonical()
	if err != nil || !bytes.Equal(again, canonical) {
		return Entry{}, ErrNotCanonical
	}
	return e, nil
}

// check tells what no journal can hold.
func (d *Draft) check() error {
	switch {
	case d.Kind == "":
		return errors.New("an entry needs a kind")
	case d.Act != Record && d.Act != Correct && d.Act != Remove:
		return fmt.Errorf("%q is no act: expected record, correct or remove", d.Act)
	case d.Act == Correct && len(d.Body.Fields) == 0 && d.Body.Table == nil:
		return errors.New("a correction that changes nothing")
	case d.Act != Correct && len(d.Body.Was) > 0:
		return errors.New("only a correction says what was there before")
	case d.Act == Remove && (len(d.Body.Fields) > 0 || d.Body.Table != nil):
		return errors.New("a removal holds no values")
	}
	for _, text := range []string{d.Author, string(d.Kind), d.Subject, d.Reason, d.Undoes} {
		if !utf8.ValidString(text) {
			return fmt.Errorf("%q is not UTF-8", text)
		}
	}
	for _, fields := range []map[string]string{d.Body.Fields, d.Body.Was} {
		for name, value := range fields {
			if name == "" || !utf8.ValidString(name) || !utf8.ValidString(value) {
				return fmt.Errorf("field %q: a name and a value must be UTF-8, and a name not empty", name)
			}
			if value == "" && d.Act == Record {
				return fmt.Errorf("field %q is blank: a new record leaves it out", name)
			}
		}
	}
	return checkTable(d.Body.Table)
}

func checkTable(t *study.Table) error {
	if t == nil {
		return nil
	}
	if len(t.Columns) == 0 || t.Rows == nil {
		return errors.New("a table needs columns and a list of rows")
	}
	for i, row := range t.Rows {
		if len(row) != len(t.Columns) {
			return fmt.Errorf("row %d of the table has %d cells for %d columns", i+1, len(row), len(t.Columns))
		}
		for _, cell := range row {
			if !utf8.ValidString(cell) {
				return fmt.Errorf("row %d of the table: %q is not UTF-8", i+1, cell)
			}
		}
	}
	return nil
}
