package season

import "strings"

// scanner walks the records of a table. It is hand-written, because what a
// spreadsheet shows as row 7 must be row 7 here (blank rows count, a quoted
// cell with line breaks is one row), and because a stray quotation mark must
// cost one row and never swallow the rest of the file.
//
// The cells are substrings of the text and are only good until next is called
// again; whoever keeps one clones it.
type scanner struct {
	text  string
	pos   int
	sep   byte
	row   int      // of the record in cells, the first is 1
	cells []string // trimmed
	width int      // cells in the header, 0 before it is known
	// report is called with the position of a cell that is at fault.
	report func(cell int, found, wrong, expected string)
	// records, where the rows are not those of a text, gives them.
	records *recordRows
}

// newScanner finds the separator in the first line. A first line `sep=;`,
// which spreadsheets read and do not show, is obeyed and not counted.
func newScanner(text string, report func(cell int, found, wrong, expected string)) *scanner {
	s := &scanner{text: text, sep: ',', report: report}
	line := firstLine(text)
	if sep, ok := statedSeparator(line); ok {
		s.sep = sep
		s.pos = lineEnd(text, len(line))
		return s
	}
	s.sep = separatorOf(firstFilledLine(text))
	return s
}

// statedSeparator reads a line such as `sep=;`, also in quotation marks.
func statedSeparator(line string) (byte, bool) {
	lower := strings.ToLower(line)
	_, rest, found := strings.Cut(lower, "sep=")
	if !found || rest == "" || !isSeparator(rest[0]) || strings.Trim(lower, "\" \t,;") != "sep=" {
		return 0, false
	}
	return rest[0], true
}

func isSeparator(c byte) bool { return c == ',' || c == ';' || c == '\t' }

func firstLine(text string) string {
	if i := strings.IndexAny(text, "\r\n"); i >= 0 {
		return text[:i]
	}
	return text
}

func firstFilledLine(text string) string {
	for text != "" {
		line := firstLine(text)
		if strings.Trim(line, ",; \t\u00a0") != "" {
			return line
		}
		text = text[lineEnd(text, len(line)):]
	}
	return ""
}

// lineEnd is the position after the line break that stands at pos.
func lineEnd(text string, pos int) int {
	if pos < len(text) && text[pos] == '\r' {
		pos++
		if pos < len(text) && text[pos] == '\n' {
			pos++
		}
		return pos
	}
	if pos < len(text) {
		pos++
	}
	return pos
}

// separatorOf is the commonest of comma, semicolon and tab outside quotation
// marks; a comma where none is.
func separatorOf(line string) byte {
	var comma, semicolon, tab int
	inside := false
	for i := 0; i < len(line); i++ {
		switch {
		case line[i] == '"':
			inside = !inside
		case inside:
		case line[i] == ',':
			comma++
		case line[i] == ';':
			semicolon++
		case line[i] == '\t':
			tab++
		}
	}
	switch {
	case semicolon > comma && semicolon >= tab:
		return ';'
	case tab > comma && tab > semicolon:
		return '\t'
	}
	return ','
}

// next reads one record into cells; false at the end of the text.
func (s *scanner) next() bool {
	if s.records != nil {
		return s.records.next(s)
	}
	if s.pos >= len(s.text) {
		return false
	}
	s.row++
	s.cells = s.cells[:0]
	for s.cell() {
	}
	return true
}

// cell reads one cell and reports whether the record goes on.
func (s *scanner) cell() bool {
	start := s.pos
	for start < len(s.text) && (s.text[start] == ' ' || s.text[start] == '\t' && s.sep != '\t') {
		start++
	}
	if start < len(s.text) && s.text[start] == '"' && s.quotedCell(start) {
		return s.endOfCell()
	}
	stray := -1
	i := s.pos
	for ; i < len(s.text); i++ {
		c := s.text[i]
		if c == s.sep || c == '\n' || c == '\r' {
			break
		}
		if c == '"' && stray < 0 {
			stray = i
		}
	}
	value := trim(s.text[s.pos:i])
	// A quotation mark at the start was told by quotedCell.
	if stray >= 0 && stray != start {
		s.report(len(s.cells), value, "a stray quotation mark in "+quoted(value),
			`expected the whole cell in quotation marks and each mark inside it doubled: `+requote(value))
	}
	s.cells = append(s.cells, value)
	s.pos = i
	return s.endOfCell()
}

// endOfCell steps over what ends a cell and reports whether it was a separator.
func (s *scanner) endOfCell() bool {
	if s.pos >= len(s.text) {
		return false
	}
	if s.text[s.pos] == s.sep {
		s.pos++
		return true
	}
	s.pos = lineEnd(s.text, s.pos)
	return false
}

// quotedCell reads a cell that opens with a quotation mark. Where the marks do
// not match it says so, leaves pos as it was and returns false: the cell is
// then taken to end where it would without them, so nothing is swallowed.
func (s *scanner) quotedCell(open int) bool {
	doubled, broken := false, false
	for i := open + 1; i < len(s.text); i++ {
		switch s.text[i] {
		case '\n', '\r':
			broken = true
		case '"':
			if i+1 < len(s.text) && s.text[i+1] == '"' {
				doubled = true
				i++
				continue
			}
			return s.closeQuote(open+1, i, doubled, broken)
		}
	}
	s.strayOpen(open, "a quotation mark that is never closed")
	return false
}

func (s *scanner) closeQuote(from, to int, doubled, broken bool) bool {
	after := to + 1
	for after < len(s.text) && (s.text[after] == ' ' || s.text[after] == '\t' && s.sep != '\t') {
		after++
	}
	if after < len(s.text) && s.text[after] != s.sep && s.text[after] != '\n' && s.text[after] != '\r' {
		s.strayOpen(from-1, "a stray quotation mark in a quoted cell")
		return false
	}
	value := s.text[from:to]
	if broken && s.swallowsRows(value) {
		s.strayOpen(from-1, "a quotation mark that takes whole rows into one cell")
		return false
	}
	if doubled {
		value = strings.ReplaceAll(value, `""`, `"`)
	}
	if broken {
		value = unixBreaks(value)
	}
	s.cells = append(s.cells, trim(value))
	s.pos = after
	return true
}

func (s *scanner) strayOpen(open int, wrong string) {
	line := firstLine(s.text[open:])
	s.report(len(s.cells), line, wrong+": "+quoted(line),
		"expected a closing mark at the end of the cell, and each mark inside it doubled")
}

// swallowsRows reports whether a quoted cell holds what looks like a row of
// the table after its first line: the mark that should have closed it is then
// probably missing.
func (s *scanner) swallowsRows(value string) bool {
	return s.width > 1 && holdsRow(value, s.sep, s.width)
}

// holdsRow reports whether a line of a text after its first has as many cells
// as the table, none of which begins with the space that follows a comma in
// prose.
func holdsRow(text string, sep byte, width int) bool {
	prose := string(sep) + " "
	for i := strings.IndexAny(text, "\r\n"); i >= 0; i = strings.IndexAny(text, "\r\n") {
		text = text[lineEnd(text, i):]
		line := firstLine(text)
		if width > 1 && strings.Count(line, string(sep)) == width-1 && !strings.Contains(line, prose) {
			return true
		}
	}
	return false
}

func unixBreaks(s string) string {
	if !strings.Contains(s, "\r") {
		return s
	}
	return strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
}

// requote writes a cell with its quotation marks doubled.
func requote(s string) string {
	return `"` + strings.ReplaceAll(strings.Trim(s, `"`), `"`, `""`) + `"`
}
