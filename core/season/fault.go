package season

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// Fault is one thing that is wrong in a season, where it is, and what would
// be right.
type Fault struct {
	File   string
	Row    int    // from 1, the header; in TOML the line. In a table the row that a spreadsheet shows
	Column string // the column's name, or its letter where it has none; in TOML the key
	Found  string // what stands there, as written; "" where nothing does
	// Wrong says what is wrong, Expected what would be right; each is a clause
	// without a full stop.
	Wrong, Expected string
}

// String is the fault on one line: file:row:column: what is wrong; what is
// expected.
func (f Fault) String() string {
	return f.File + ":" + strconv.Itoa(f.Row) + ":" + f.Column + ": " + f.Wrong + "; " + f.Expected
}

// faultList gathers faults in the order in which they are met, each with the
// position of its column, and sorts them once.
type faultList struct {
	placed []placedFault
}

type placedFault struct {
	Fault
	column int
}

func (l *faultList) add(column int, f Fault) {
	f.Column = oneLine(f.Column)
	if f.Column == "" && f.File == StudyFile { // TOML allows a key without a letter
		f.Column = `""`
	}
	f.Wrong, f.Expected = visible(f.Wrong), visible(f.Expected)
	l.placed = append(l.placed, placedFault{f, column})
}

// sorted gives the faults by file, row and column.
func (l *faultList) sorted() []Fault {
	slices.SortStableFunc(l.placed, func(a, b placedFault) int {
		return cmp.Or(
			cmp.Compare(slices.Index(fileNames, a.File), slices.Index(fileNames, b.File)),
			cmp.Compare(a.Row, b.Row),
			cmp.Compare(a.column, b.column),
		)
	})
	out := make([]Fault, len(l.placed))
	for i, p := range l.placed {
		out[i] = p.Fault
	}
	if len(out) == 0 {
		return nil
	}
	return out
}

// longestQuote is how much of a cell a message repeats, in characters.
const longestQuote = 60

// quoted repeats what was found in quotation marks, on one line and cut short.
func quoted(s string) string {
	runes := 0
	for i := range s {
		if runes == longestQuote {
			return strconv.Quote(s[:i]) + "…"
		}
		runes++
	}
	return strconv.Quote(s)
}

// oneLine makes a name from a file fit to stand in a message: no line breaks
// and no control characters.
func oneLine(s string) string {
	plain := true
	for _, r := range s {
		if !unicode.IsPrint(r) || r == unicode.ReplacementChar {
			plain = false
			break
		}
	}
	if plain && len(s) <= longestQuote {
		return s
	}
	q := quoted(s)
	return strings.Trim(q, `"`)
}

// visible replaces what would break a line of faults or hide in it.
func visible(s string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return '�'
		}
		return r
	}, s)
}

// columnLetter names a column as a spreadsheet does: A … Z, AA …
func columnLetter(i int) string {
	name := ""
	for i++; i > 0; i = (i - 1) / 26 {
		name = string(rune('A'+(i-1)%26)) + name
	}
	return name
}
