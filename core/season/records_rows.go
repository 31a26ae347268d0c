package season

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"

	"brinefield/core/study"
)

// recordRows gives the records of one kind as the rows of their table, without
// the detour over its text: a cell of a record cannot run over into the next.
type recordRows struct {
	kind    study.Kind
	of      recordTable
	records []*study.Record
	header  []string       // the ID's column, then those that are needed or used, then those that are not known
	at      map[string]int // where a field stands; the ID is none
	first   []int          // of series: the first row of each record
	utf8    bool           // every cell so far was valid
	faults  *faultList
	seen    map[string]int // of series: the first row of an ID

	record int   // the next one
	row    int   // the next row of a series
	places []int // of the columns of a series
}

func newRecordRows(kind study.Kind, records []*study.Record) *recordRows {
	rows := &recordRows{kind: kind, of: recordTables[kind], records: records, utf8: true, seen: map[string]int{}}
	used := map[string]bool{}
	for _, r := range records {
		if rows.of.series && r.Table != nil {
			for _, name := range r.Table.Columns {
				used[name] = true
			}
		}
		for name, text := range r.Fields {
			if !rows.of.series && !used[name] && trim(text) != "" {
				used[name] = true
			}
		}
	}
	rows.layOut(used)
	return rows
}

// layOut decides on the columns.
func (rows *recordRows) layOut(used map[string]bool) {
	rows.header = []string{rows.of.specs[0].name}
	rows.at = map[string]int{}
	place := func(name string) {
		rows.at[name] = len(rows.header)
		rows.header = append(rows.header, name)
	}
	for _, spec := range rows.of.specs[1:] {
		if spec.need != optional || used[spec.name] || len(rows.records) == 0 {
			place(spec.name)
		}
		delete(used, spec.name)
	}
	var unknown []string
	for name := range used {
		unknown = append(unknown, name)
	}
	slices.Sort(unknown)
	for _, name := range unknown {
		place(name)
		rows.utf8 = rows.utf8 && utf8.ValidString(name)
	}
}

// openRecords is [openTable] for rows that are records.
func openRecords(rows *recordRows, faults *faultList, suggest *suggester) *table {
	t := &table{file: rows.of.file, specs: rows.of.specs, faults: faults, suggest: suggest, utf8: true, unnamed: map[int]bool{}}
	rows.faults = faults
	t.scan = &scanner{sep: ',', report: t.faultInCell, records: rows}
	t.scan.next()
	t.readHeader(false)
	return t
}

// next puts the next row into the scanner's cells.
func (rows *recordRows) next(s *scanner) bool {
	s.row++
	if s.row == 1 {
		s.cells = append(s.cells[:0], rows.header...)
		return true
	}
	if rows.record == len(rows.records) {
		return false
	}
	s.cells = slices.Grow(s.cells[:0], len(rows.header))[:len(rows.header)]
	clear(s.cells)
	r := rows.records[rows.record]
	s.cells[0] = rows.clean(s, 0, r.ID)
	if rows.of.series {
		rows.seriesRow(s, r)
		return true
	}
	rows.record++
	if r.Table != nil {
		rows.fault(s.row, rows.header[0], "", "a "+rows.of.what+" holds rows of its own", "expected fields alone")
	}
	for name, text := range r.Fields {
		if k, ok := rows.at[name]; ok {
			s.cells[k] = rows.clean(s, k, text)
		}
	}
	return true
}

// seriesRow puts one row of a record's own table into the cells. A record
// without rows is one row of its ID alone, which the reader finds wanting.
func (rows *recordRows) seriesRow(s *scanner, r *study.Record) {
	if rows.row == 0 {
		rows.beginSeries(s.row, r)
	}
	if r.Table != nil && rows.row < len(r.Table.Rows) {
		row := r.Table.Rows[rows.row]
		for i, text := range row[:min(len(row), len(rows.places))] {
			if k := rows.places[i]; k >= 0 {
				s.cells[k] = rows.clean(s, k, text)
			}
		}
		if len(row) > len(rows.places) {
			rows.fault(s.row, rows.header[0], "", "the row has "+plural(len(row), "cell")+" for "+plural(len(rows.places), "column"), "expected one cell for each column")
		}
	}
	rows.row++
	if r.Table == nil || rows.row >= len(r.Table.Rows) {
		rows.record++
		rows.row = 0
	}
}

// beginSeries notes where a record's rows begin, and what is wrong with the
// record as a whole.
func (rows *recordRows) beginSeries(row int, r *study.Record) {
	rows.first = append(rows.first, row)
	if first, doubled := rows.seen[r.ID]; doubled {
		rows.fault(row, rows.header[0], r.ID, quoted(r.ID)+" stands twice, first in row "+itoa(first), "expected each "+rows.of.what+" once")
	} else {
		rows.seen[r.ID] = row
	}
	var names []string
	for name := range r.Fields {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		rows.fault(row, name, r.Fields[name], "a "+rows.of.what+" holds "+quoted(name)+" beside its rows", "expected rows alone")
	}
	rows.places = rows.places[:0]
	if r.Table == nil {
		return
	}
	for i, name := range r.Table.Columns {
		k := rows.at[name]
		if slices.Contains(r.Table.Columns[:i], name) {
			rows.fault(row, name, name, "the column "+quoted(name)+" stands twice", "expected each column once")
			k = -1
		}
		rows.places = append(rows.places, k)
	}
}

func (rows *recordRows) fault(row int, column, found, wrong, expected string) {
	rows.faults.add(0, Fault{File: rows.of.file, Row: row, Column: cmp.Or(column, rows.header[0]), Found: found, Wrong: wrong, Expected: expected})
}

// clean is a text as a cell of the folder would hold it.
func (rows *recordRows) clean(s *scanner, cell int, text string) string {
	if isPlain(text) {
		return text
	}
	text = trim(unixBreaks(text))
	rows.utf8 = rows.utf8 && utf8.ValidString(text)
	if strings.Contains(text, "\n") && holdsRow(text, ',', len(rows.header)) {
		s.report(cell, text, "a line of the text has as many commas as "+rows.of.file+" has and would be read as a row of it", "expected a space after each comma")
	}
	return text
}

// isPlain reports printing ASCII without a space at either end.
func isPlain(text string) bool {
	for i := 0; i < len(text); i++ {
		if text[i] < ' ' || text[i] >= 0x7F {
			return false
		}
	}
	return text == "" || text[0] != ' ' && text[len(text)-1] != ' '
}
