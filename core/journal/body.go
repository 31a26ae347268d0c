package journal

import (
	"maps"
	"slices"

	"brinefield/core/study"
)

// Body is what an entry says of its record.
type Body struct {
	// Fields are all fields of a new record, or the corrected ones with their
	// new values, where "" stands for now blank.
	Fields map[string]string `json:"fields,omitempty"`
	// Table is the table of a new record, or replaces the record's table; in a
	// correction a table without columns and rows takes it away.
	Table *study.Table `json:"table,omitempty"`
	// Was holds, in a correction, what its fields held before ("" = blank).
	Was map[string]string `json:"was,omitempty"`
}

// clone shares nothing with the body. Fields of which there are none are nil,
// as [Parse] gives them.
func (b Body) clone() Body {
	c := Body{Table: cloneTable(b.Table)}
	if len(b.Fields) > 0 {
		c.Fields = maps.Clone(b.Fields)
	}
	if len(b.Was) > 0 {
		c.Was = maps.Clone(b.Was)
	}
	return c
}

// someFields is a copy without the blank ones, nil where none is left.
func someFields(fields map[string]string) map[string]string {
	var some map[string]string
	for name, value := range fields {
		if value == "" {
			continue
		}
		if some == nil {
			some = make(map[string]string, len(fields))
		}
		some[name] = value
	}
	return some
}

// someTable is a copy, nil where the table has neither columns nor rows.
func someTable(t *study.Table) *study.Table {
	if t == nil || len(t.Columns) == 0 && len(t.Rows) == 0 {
		return nil
	}
	return cloneTable(t)
}

// cloneTable is a copy in which no list is nil: JSON tells [] from null.
func cloneTable(t *study.Table) *study.Table {
	if t == nil {
		return nil
	}
	n := 0
	for _, row := range t.Rows {
		n += len(row)
	}
	cells := make([]string, 0, n)
	c := &study.Table{Columns: append([]string{}, t.Columns...), Rows: make([][]string, len(t.Rows))}
	for i, row := range t.Rows {
		from := len(cells)
		cells = append(cells, row...)
		c.Rows[i] = cells[from:len(cells):len(cells)]
	}
	return c
}

// sameTable takes a table without columns and rows for none.
func sameTable(a, b *study.Table) bool {
	a, b = orNone(a), orNone(b)
	return slices.Equal(a.Columns, b.Columns) && slices.EqualFunc(a.Rows, b.Rows, slices.Equal)
}

func orNone(t *study.Table) *study.Table {
	if t == nil {
		return &study.Table{}
	}
	return t
}
