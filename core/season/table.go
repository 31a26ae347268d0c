package season

import (
	"strings"
	"unicode/utf8"
)

// need says what a table must have of a column.
type need int

const (
	optional     need = iota // the column may be left out
	columnNeeded             // the column must be there, its cells may be blank
	cellNeeded               // the column must be there and no cell may be blank
)

// columnSpec is a column of a table. A table's specs stand in canonical order,
// and their positions are the column numbers that the readers use.
type columnSpec struct {
	name string
	need need
}

// table reads one table of a season row by row.
type table struct {
	file    string
	specs   []columnSpec
	at      []int    // where each spec's column stands, -1 = nowhere
	heads   []string // the header
	further []string // columns that no spec knows, where they are allowed
	scan    *scanner
	faults  *faultList
	suggest *suggester
	utf8    bool         // the whole text is valid
	unnamed map[int]bool // columns without a name that were told already

	// Thousands or decimals: see number.go.
	sawComma bool
	doubtful []doubtfulNumber
}

// openTable reads the header. Every unknown, doubled and missing column is a
// fault, save that further columns may be allowed. It returns nil where there
// is no header to read rows by.
func openTable(file string, data []byte, specs []columnSpec, furtherAllowed bool, faults *faultList, suggest *suggester) *table {
	text := decodeText(data)
	t := &table{
		file: file, specs: specs, faults: faults, suggest: suggest,
		utf8: utf8.ValidString(text), unnamed: map[int]bool{},
	}
	t.scan = newScanner(text, t.faultInCell)
	for t.scan.next() {
		if !allBlank(t.scan.cells) {
			t.readHeader(furtherAllowed)
			return t
		}
	}
	faults.add(0, Fault{
		File: file, Row: 1, Column: specs[0].name, Wrong: "the file is empty",
		Expected: "expected a header row: " + headerOf(specs),
	})
	return nil
}

func headerOf(specs []columnSpec) string {
	var names []string
	for _, s := range specs {
		if s.need != optional {
			names = append(names, s.name)
		}
	}
	return strings.Join(names, ",")
}

func allBlank(cells []string) bool {
	for _, c := range cells {
		if c != "" {
			return false
		}
	}
	return true
}

func (t *table) readHeader(furtherAllowed bool) {
	t.mendEncoding()
	t.heads = make([]string, headerWidth(t.scan.cells))
	for i := range t.heads {
		t.heads[i] = strings.Clone(tidyName(t.scan.cells[i]))
	}
	t.scan.width = len(t.heads)
	t.at = make([]int, len(t.specs))
	for i := range t.at {
		t.at[i] = -1
	}
	meant := t.placeColumns(furtherAllowed)
	for i, spec := range t.specs {
		if spec.need == optional || t.at[i] >= 0 || meant[spec.name] {
			continue
		}
		t.faults.add(len(t.heads)+i, Fault{
			File: t.file, Row: t.scan.row, Column: spec.name, Wrong: "the column " + quoted(spec.name) + " is missing",
			Expected: didYouMean("expected it in the header", t.suggest.nearest("head "+t.file, spec.name, t.further)),
		})
	}
}

// headerWidth is how many columns a header has, without those at its end that
// have no name.
func headerWidth(cells []string) int {
	width := len(cells)
	for width > 0 && tidyName(cells[width-1]) == "" {
		width--
	}
	return width
}

// placeColumns finds where each column stands and returns the names that a
// misspelt heading was probably meant for.
func (t *table) placeColumns(furtherAllowed bool) map[string]bool {
	meant := map[string]bool{}
	numbers := map[string]int{}
	names := make([]string, len(t.specs))
	for i, s := range t.specs {
		names[i], numbers[s.name] = s.name, i
	}
	for position, head := range t.heads {
		i, known := numbers[head]
		switch {
		case head == "":
		case known && t.at[i] >= 0:
			t.faultAt(position, head, "the column "+quoted(head)+" stands twice, first as column "+columnLetter(t.at[i]), "expected each column once")
		case known:
			t.at[i] = position
		case furtherAllowed:
			t.further = append(t.further, head)
		default:
			suggestion := t.suggest.nearest("column "+t.file, head, t.absent(names))
			meant[suggestion] = true
			t.faultAt(position, head, "unknown column "+quoted(head), didYouMean("expected a column of "+t.file+" in format 1", suggestion))
		}
	}
	return meant
}

// absent is the names that the header does not hold, or all where it holds all.
func (t *table) absent(names []string) []string {
	here := map[string]bool{}
	for _, h := range t.heads {
		here[h] = true
	}
	var out []string
	for _, n := range names {
		if !here[n] {
			out = append(out, n)
		}
	}
	return out
}

// rowsAbout is how many rows to make room for: not more than there are lines,
// and not more than rows of three letters a cell would fill.
func (t *table) rowsAbout() int {
	if t.scan.records != nil {
		return len(t.scan.records.records)
	}
	rest := t.scan.text[t.scan.pos:]
	return min(strings.Count(rest, "\n")+1, len(rest)/(3*max(1, len(t.heads)))+1)
}

// next steps to the next row that is not blank; a record is a row even where it
// is blank.
func (t *table) next() bool {
	for t.scan.next() {
		if t.scan.records == nil && allBlank(t.scan.cells) {
			continue
		}
		t.mendEncoding()
		t.checkUnnamed()
		return true
	}
	return false
}

// row is the number of the row that next stepped to.
func (t *table) row() int { return t.scan.row }

// mendEncoding tells cells that are no UTF-8 and reads them as the spreadsheet
// probably meant them.
func (t *table) mendEncoding() {
	if t.utf8 && (t.scan.records == nil || t.scan.records.utf8) {
		return
	}
	for i, c := range t.scan.cells {
		if !utf8.ValidString(c) {
			meant := fromLatin1(c)
			t.faultAt(i, meant, "a character that is not UTF-8 (probably "+quoted(meant)+")",
				`expected UTF-8: save the file again as "CSV UTF-8"`)
			t.scan.cells[i] = meant
		}
	}
}

// checkUnnamed tells cells that stand under no heading: beyond the header in
// every row, within it once a column.
func (t *table) checkUnnamed() {
	for i, c := range t.scan.cells {
		switch {
		case c == "" || i < len(t.heads) && t.heads[i] != "":
		case i >= len(t.heads):
			t.faultAt(i, c, quoted(c)+" stands beyond the last column of the header", "expected "+plural(len(t.heads), "cell")+t.commaHint())
		case !t.unnamed[i]:
			t.unnamed[i] = true
			t.faultAt(i, c, quoted(c)+" stands in a column without a name", "expected a name in the header, or no cells in the column")
		}
	}
}

// commaHint says what usually makes a row too long.
func (t *table) commaHint() string {
	if t.scan.sep == ',' {
		return " (a decimal comma, or a comma in a text without quotation marks, makes two cells of one)"
	}
	return ""
}

// cell is the text of a column in this row, "" where it has none.
func (t *table) cell(column int) string {
	i := t.at[column]
	if i < 0 || i >= len(t.scan.cells) {
		return ""
	}
	return t.scan.cells[i]
}

// has reports whether the table has the column.
func (t *table) has(column int) bool { return t.at[column] >= 0 }

// fault tells what is wrong in a column of this row.
func (t *table) fault(column int, wrong, expected string) {
	position := t.at[column]
	if position < 0 {
		position = len(t.heads) + column
	}
	t.faults.add(position, Fault{
		File: t.file, Row: t.row(), Column: t.specs[column].name,
		Found: strings.Clone(t.cell(column)), Wrong: wrong, Expected: expected,
	})
}

// faultAt tells what is wrong in a cell by its position.
func (t *table) faultAt(position int, found, wrong, expected string) {
	column := columnLetter(position)
	if position < len(t.heads) && t.heads[position] != "" {
		column = t.heads[position]
	}
	t.faults.add(position, Fault{
		File: t.file, Row: t.row(), Column: column,
		Found: strings.Clone(found), Wrong: wrong, Expected: expected,
	})
}

func (t *table) faultInCell(cell int, found, wrong, expected string) {
	t.faultAt(cell, strings.ToValidUTF8(found, "�"), wrong, expected)
}

// blankFault tells a blank cell where the column may have none. A column that
// is missing altogether was told with the header.
func (t *table) blankFault(column int, expected string) {
	if t.specs[column].need == cellNeeded && t.has(column) {
		t.fault(column, "the cell is blank", "expected "+expected)
	}
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return itoa(n) + " " + word + "s"
}
