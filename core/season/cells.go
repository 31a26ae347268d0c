package season

import "strings"

// Cells are the rows of a table as they stand, for showing beside its faults:
// Cells(data)[r-1] is the row that faults call r. Text that is not valid UTF-8
// is shown with the mark for what could not be read.
func Cells(data []byte) [][]string {
	scan := newScanner(decodeText(data), func(int, string, string, string) {})
	var rows [][]string
	for scan.next() {
		for len(rows) < scan.row-1 {
			rows = append(rows, nil)
		}
		row := make([]string, len(scan.cells))
		for i, cell := range scan.cells {
			row[i] = strings.ToValidUTF8(cell, "\uFFFD")
		}
		rows = append(rows, row)
	}
	return rows
}
