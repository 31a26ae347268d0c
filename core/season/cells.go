package season

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// Cells gives the cells of a table as they stand, for showing rows beside
// their faults: element i is row i+1, as a spreadsheet numbers them, blank rows
// among them. Cells are trimmed; bytes that are no UTF-8 are read as Latin-1.
func Cells(data []byte) [][]string {
	text := decodeText(data)
	valid := utf8.ValidString(text)
	s := newScanner(text, func(int, string, string, string) {})
	var out [][]string
	for s.next() {
		if s.width == 0 && !allBlank(s.cells) {
			s.width = headerWidth(s.cells)
		}
		row := slices.Clone(s.cells)
		for i, c := range row {
			if row[i] = strings.Clone(c); !valid {
				row[i] = fromLatin1(c)
			}
		}
		out = append(out, row)
	}
	return out
}
