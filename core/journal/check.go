package journal

import (
	"errors"
	"fmt"
	"unicode/utf8"

	"brinefield/core/study"
)

// largestInteger is the largest that every reader of JSON keeps exactly
// (RFC 8785 prints numbers as IEEE 754 doubles).
const largestInteger = 1<<53 - 1

// check tells what no journal can hold.
func (e *Entry) check() error {
	switch {
	case e.Device == "" || e.Run == "":
		return errors.New("an entry needs a device and a run of the program")
	case !utf8.ValidString(e.Device) || !utf8.ValidString(e.Run):
		return fmt.Errorf("device %q, run %q: both must be UTF-8", e.Device, e.Run)
	case e.Seq < 1 || e.Version < 1:
		return fmt.Errorf("entry %d of version %d: both are counted from 1", e.Seq, e.Version)
	case e.MonotonicUS < 0:
		return fmt.Errorf("%d µs since the program began: expected 0 or more", e.MonotonicUS)
	case e.Seq > largestInteger || int64(e.Version) > largestInteger || e.MonotonicUS > largestInteger:
		return errors.New("a counter of the entry is beyond what JSON keeps exactly")
	case !validID(e.ID):
		return fmt.Errorf("%q is no UUID of version 7", e.ID)
	}
	if y := e.Wall.UTC().Year(); y < 1970 || y > 9999 {
		return fmt.Errorf("the clock says the year %d: expected 1970 to 9999", y)
	}
	return e.Draft.check()
}

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
	return checkTable(d.Act, d.Body.Table)
}

func checkTable(act Act, t *study.Table) error {
	if t == nil {
		return nil
	}
	none := len(t.Columns) == 0 && len(t.Rows) == 0
	if t.Columns == nil || t.Rows == nil || len(t.Columns) == 0 && !(none && act == Correct) {
		return errors.New("a table needs columns and a list of rows")
	}
	for _, name := range t.Columns {
		if name == "" || !utf8.ValidString(name) {
			return fmt.Errorf("column %q of the table: a name must be UTF-8 and not empty", name)
		}
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
