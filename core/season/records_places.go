package season

import (
	"cmp"
	"slices"

	"brinefield/core/study"
)

// Places says which record a fault of [FromRecords] is about. It looks into
// the records that were read, so they must stand as they were. The zero Places
// knows none.
type Places struct {
	document []documentPlace        // of study.toml, by row
	tables   map[string]*recordRows // by file
}

// documentPlace is where a record begins in study.toml.
type documentPlace struct {
	row    int
	record *study.Record
}

// Of is the record and the field that a fault is about. The field is "" where
// it is the record's ID, or the record as a whole.
//
// A section that is missing, a [site] or every [[pair]], has its kind and no
// ID, though there is no such record; so has a table without rows. A field
// that no record of its kind may hold is told once, and its place is the first
// record that holds it. ok is false for a fault from elsewhere.
func (p Places) Of(f Fault) (kind study.Kind, id, field string, ok bool) {
	if f.File == StudyFile {
		return p.inDocument(f)
	}
	rows := p.tables[f.File]
	if rows == nil || f.Row < 1 {
		return "", "", "", false
	}
	if f.Row == 1 {
		id, field := rows.firstWith(f.Column)
		return rows.kind, id, field, true
	}
	i := f.Row - 2
	if rows.of.series {
		i, ok = slices.BinarySearch(rows.first, f.Row)
		if !ok {
			i--
		}
	}
	if i < 0 || i >= len(rows.records) {
		return "", "", "", false
	}
	r := rows.records[i]
	return rows.kind, r.ID, rows.fieldOf(r, f.Column), true
}

func (p Places) inDocument(f Fault) (kind study.Kind, id, field string, ok bool) {
	i, exact := slices.BinarySearchFunc(p.document, f.Row, func(at documentPlace, row int) int { return cmp.Compare(at.row, row) })
	if !exact {
		i--
	}
	if i < 0 || i >= len(p.document) {
		return "", "", "", false
	}
	r := p.document[i].record
	_, isSection := sectionKeys[study.Kind(f.Column)]
	field = shownAs(r.Fields, f.Column)
	switch {
	case r.Kind == study.KindStudy && isSection && r.Fields[field] == "":
		return study.Kind(f.Column), "", "", true
	case f.Column == string(r.Kind) && r.Fields[field] == "", field == idKeys[r.Kind] && r.Fields[field] == "":
		field = ""
	}
	return r.Kind, r.ID, field, true
}

// firstWith is the first record that holds the column of a fault in the
// header.
func (rows *recordRows) firstWith(column string) (id, field string) {
	for k := len(rows.header) - 1; k > 0; k-- {
		name := rows.header[k]
		if headingOf(name, k) != column {
			continue
		}
		for _, r := range rows.records {
			if trim(r.Fields[name]) != "" && !rows.of.series || r.Table != nil && rows.of.series && slices.Contains(r.Table.Columns, name) {
				return r.ID, name
			}
		}
	}
	return "", ""
}

// fieldOf is the field of a record that a fault calls by its column.
func (rows *recordRows) fieldOf(r *study.Record, column string) string {
	if column == rows.header[0] {
		return ""
	}
	for k, name := range rows.header {
		if headingOf(name, k) == column {
			return name
		}
	}
	return shownAs(r.Fields, column)
}

// headingOf is how a fault calls the column of that name at position k.
func headingOf(name string, k int) string {
	if name = tidyName(name); name == "" {
		return columnLetter(k)
	}
	return oneLine(name)
}

// shownAs is the field that a fault calls by that name.
func shownAs(fields map[string]string, column string) string {
	if _, ok := fields[column]; ok {
		return column
	}
	for name := range fields {
		if cmp.Or(oneLine(name), `""`) == column {
			return name
		}
	}
	return column
}
