package dossier

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// CSV is the table as a file: RFC 4180 with line feeds, UTF-8, the columns' names
// in the first row. A cell is its exact digits where it has them; what is not known
// is blank.
func (t Table) CSV() []byte {
	rows := make([][]string, 0, len(t.Rows)+1)
	names := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		names[i] = c.Name
	}
	rows = append(rows, names)
	for _, r := range t.Rows {
		cells := make([]string, len(t.Columns))
		for i := range min(len(r), len(cells)) {
			cells[i] = r[i].Exact
			if cells[i] == "" {
				cells[i] = r[i].Text
			}
			cells[i] = plainText(cells[i])
		}
		rows = append(rows, cells)
	}
	return csvOf(rows)
}

// csvOf writes rows. A row of one blank cell is quoted, so that no reader takes it
// for an empty line.
func csvOf(rows [][]string) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	for _, r := range rows {
		if len(r) == 1 && r[0] == "" {
			w.Flush()
			b.WriteString("\"\"\n")
			continue
		}
		_ = w.Write(r) // a buffer takes all, and the comma is a valid separator
	}
	w.Flush()
	return b.Bytes()
}

// plainText is s without what neither XML 1.0 nor a spreadsheet can hold: control
// characters but tab and line feed become U+FFFD, as do broken UTF-8 and the two
// noncharacters U+FFFE and U+FFFF; line ends become line feeds.
func plainText(s string) string {
	if isPlain(s) {
		return s
	}
	s = strings.ReplaceAll(s, "\r\n", "\n")
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\r':
			return '\n'
		case r == '\n' || r == '\t':
			return r
		case unicode.IsControl(r), r == 0xFFFE, r == 0xFFFF:
			return utf8.RuneError
		}
		return r
	}, s)
}

func isPlain(s string) bool {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c > '~' {
			return false
		}
	}
	return true
}

// oneLine is plain text on one line, for places that hold no more.
func oneLine(s string) string { return strings.Join(strings.Fields(plainText(s)), " ") }

// exactNumber is the shortest decimal text that reads back as v, without an exponent
// where people would write none; "" where v is no finite number.
func exactNumber(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	if v == 0 {
		return "0" // not -0
	}
	if a := math.Abs(v); a >= 1e-5 && a < 1e15 {
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

// numberCell has three digits that count in print and all in a file.
func numberCell(v *float64) Cell {
	if v == nil || exactNumber(*v) == "" {
		return Cell{}
	}
	return Cell{Text: strconv.FormatFloat(*v, 'g', 3, 64), Exact: exactNumber(*v)}
}

func countCell(n int) Cell { return Cell{Text: strconv.Itoa(n)} }

func textCell(s string) Cell { return Cell{Text: s} }

func yesNoCell(b bool) Cell {
	if b {
		return Cell{Text: "yes"}
	}
	return Cell{Text: "no"}
}

func listCell(items []string) Cell { return Cell{Text: strings.Join(items, "; ")} }

// timeText is RFC 3339 with the site's offset; "" for no time.
func timeText(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.RFC3339Nano)
}
