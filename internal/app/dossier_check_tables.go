package app

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

// keySet are the values of some columns of one table.
type keySet struct {
	columns []string
	values  map[string]bool
}

// tables reads every described table row by row: types, what is required, what is
// unique, and that what a row refers to is there. Tables are read twice: what others
// refer to is gathered first.
func (c *packageCheck) tables(ctx context.Context) error {
	wanted := map[string][]*keySet{} // by resource
	for _, t := range c.tablesFound {
		for _, k := range t.schema.ForeignKeys {
			resource := referred(t, k)
			if !slices.ContainsFunc(c.tablesFound, func(o describedTable) bool { return o.resource == resource }) {
				c.differs("%s: a key refers to the table %q, which is not described", t.file, resource)
				continue
			}
			if findKeys(wanted[resource], k.Reference.Fields) == nil {
				wanted[resource] = append(wanted[resource], &keySet{columns: k.Reference.Fields, values: map[string]bool{}})
			}
		}
	}
	for _, t := range c.tablesFound {
		if sets := wanted[t.resource]; len(sets) > 0 {
			if err := c.gatherKeys(ctx, t, sets); err != nil {
				return err
			}
		}
	}
	for _, t := range c.tablesFound {
		if err := c.table(ctx, t, wanted); err != nil {
			return err
		}
	}
	return nil
}

func referred(t describedTable, k foreignKey) string {
	if k.Reference.Resource == "" {
		return t.resource
	}
	return k.Reference.Resource
}

func findKeys(sets []*keySet, columns []string) *keySet {
	for _, s := range sets {
		if slices.Equal(s.columns, columns) {
			return s
		}
	}
	return nil
}

// places finds the columns of a key.
func places(s *tableSchema, names []string) ([]int, bool) {
	out := make([]int, len(names))
	for i, name := range names {
		if out[i] = slices.IndexFunc(s.Fields, func(f fieldSchema) bool { return f.Name == name }); out[i] < 0 {
			return nil, false
		}
	}
	return out, true
}

// keyOf joins the cells of a key; blank where one of them is blank.
func keyOf(row []string, at []int) (key string, blank bool) {
	if len(at) == 1 {
		return row[at[0]], row[at[0]] == ""
	}
	var b strings.Builder
	for _, i := range at {
		blank = blank || row[i] == ""
		fmt.Fprintf(&b, "%d:%s;", len(row[i]), row[i])
	}
	return b.String(), blank
}

func (c *packageCheck) gatherKeys(ctx context.Context, t describedTable, sets []*keySet) error {
	at := make([][]int, len(sets))
	for i, s := range sets {
		var ok bool
		if at[i], ok = places(t.schema, s.columns); !ok {
			c.differs("%s has not the columns %s, to which others refer", t.file, strings.Join(s.columns, ", "))
			s.values = nil
		}
	}
	return c.eachRow(ctx, t.file, func(_ int, row []string) {
		for i, s := range sets {
			if at[i] == nil {
				continue
			}
			if key, blank := keyOf(row, at[i]); !blank {
				s.values[strings.Clone(key)] = true
			}
		}
	}, true)
}

// eachRow reads the rows of a table behind its header; row 1 is the header. A row
// that cannot be read ends the table.
func (c *packageCheck) eachRow(ctx context.Context, file string, take func(n int, row []string), quiet bool) error {
	from, err := c.p.Open(file)
	if err != nil {
		return err
	}
	defer from.Close()
	r := newTableReader(from)
	for n := 1; ; n++ {
		if n%10_000 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		row, err := r.Read()
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			if !quiet {
				c.differs("%s:%d: %s", file, n, plainTableError(err))
			}
			return nil
		case n > 1:
			take(n, row)
		}
	}
}

func plainTableError(err error) string {
	var parse *csv.ParseError
	if errors.As(err, &parse) {
		switch {
		case errors.Is(parse.Err, csv.ErrFieldCount):
			return "the row has not as many cells as the header"
		case errors.Is(parse.Err, csv.ErrQuote), errors.Is(parse.Err, csv.ErrBareQuote):
			return "a quotation mark stands where none may"
		}
	}
	return err.Error()
}

// table checks the rows of one table.
func (c *packageCheck) table(ctx context.Context, t describedTable, keys map[string][]*keySet) error {
	s := t.schema
	var primary []int
	if len(s.PrimaryKey) > 0 {
		primary, _ = places(s, s.PrimaryKey)
	}
	seen := map[string]int{}
	unique := make([]map[string]int, len(s.Fields))
	for i := range s.Fields {
		if s.Fields[i].Constraints.Unique && !(len(primary) == 1 && primary[0] == i) {
			unique[i] = map[string]int{}
		}
	}
	type reference struct {
		at  []int
		set *keySet
		to  string
	}
	var references []reference
	for _, k := range s.ForeignKeys {
		at, _ := places(s, k.Fields)
		if set := findKeys(keys[referred(t, k)], k.Reference.Fields); set != nil && set.values != nil && at != nil {
			references = append(references, reference{at, set, referred(t, k)})
		}
	}
	return c.eachRow(ctx, t.file, func(n int, row []string) {
		c.cells(t, n, row, unique)
		if primary != nil {
			key, blank := keyOf(row, primary)
			if first := seen[key]; first > 0 && !blank {
				c.differs("%s:%d:%s: %s is there already, in row %d", t.file, n, strings.Join(s.PrimaryKey, "+"), sayKey(row, primary), first)
			} else {
				seen[strings.Clone(key)] = n
			}
			if blank && len(primary) == 1 {
				c.differs("%s:%d:%s: the key of the row is blank", t.file, n, s.PrimaryKey[0])
			}
		}
		for _, ref := range references {
			if key, blank := keyOf(row, ref.at); !blank && !ref.set.values[key] {
				c.differs("%s:%d:%s: %s is not in the table %s", t.file, n, s.Fields[ref.at[0]].Name, sayKey(row, ref.at), ref.to)
			}
		}
	}, false)
}

func sayKey(row []string, at []int) string {
	parts := make([]string, len(at))
	for i, c := range at {
		parts[i] = fmt.Sprintf("%.60q", row[c])
	}
	return strings.Join(parts, ", ")
}

func (c *packageCheck) cells(t describedTable, n int, row []string, unique []map[string]int) {
	for i := range t.schema.Fields {
		f, cell := &t.schema.Fields[i], row[i]
		if cell == "" || slices.Contains(t.schema.MissingValues, cell) {
			if f.Constraints.Required {
				c.differs("%s:%d:%s: the cell is blank; expected a value in every row", t.file, n, f.Name)
			}
			continue
		}
		if wrong := f.wrong(cell); wrong != "" {
			c.differs("%s:%d:%s: %s", t.file, n, f.Name, wrong)
		}
		if u := unique[i]; u != nil {
			if first := u[cell]; first > 0 {
				c.differs("%s:%d:%s: %.60q is there already, in row %d", t.file, n, f.Name, cell, first)
			} else {
				u[strings.Clone(cell)] = n
			}
		}
	}
}
