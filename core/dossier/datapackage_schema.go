package dossier

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// csvTable is a table of the package, read back to be described.
type csvTable struct {
	file  string
	names []string
	rows  [][]string
	own   []Column // what the table says of its columns
}

// readTables reads every CSV of the package whose columns have names of their own;
// others are files like any other.
func readTables(files []File) (map[string]*csvTable, error) {
	out := map[string]*csvTable{}
	for _, f := range files {
		if !strings.HasSuffix(f.Name, ".csv") {
			continue
		}
		r := csv.NewReader(bytes.NewReader(f.Bytes))
		r.FieldsPerRecord = 0
		rows, err := r.ReadAll()
		if err != nil {
			return nil, fmt.Errorf("%s cannot be described: %w", f.Name, err)
		}
		if len(rows) == 0 || !distinct(rows[0]) {
			continue
		}
		out[f.Name] = &csvTable{file: f.Name, names: rows[0], rows: rows[1:], own: f.Columns}
	}
	return out, nil
}

func distinct(names []string) bool {
	seen := map[string]bool{}
	for _, n := range names {
		if n == "" || seen[n] {
			return false
		}
		seen[n] = true
	}
	return len(names) > 0
}

// schema is the Table Schema: types, units, keys and links, as the cells keep them.
func (t *csvTable) schema(all map[string]*csvTable, names map[string]string) *tableSchema {
	s := &tableSchema{MissingValues: []string{""}}
	for i, n := range t.names {
		s.Fields = append(s.Fields, t.field(i, n))
	}
	if key := tableKeys[t.file]; len(key) > 0 && t.identifies(key) {
		s.PrimaryKey = key
		for i := range s.Fields {
			if slices.Contains(key, s.Fields[i].Name) {
				c := s.Fields[i].Constraints
				if c == nil {
					c = &constraints{}
					s.Fields[i].Constraints = c
				}
				c.Required, c.Unique = true, len(key) == 1
			}
		}
	}
	for _, l := range tableLinks {
		to := all[l.to]
		if l.file != t.file || to == nil || !t.within(l.column, to, l.key) {
			continue
		}
		ref := keyReference{Resource: names[l.to], Fields: []string{l.key}}
		if l.to == t.file {
			ref.Resource = ""
		}
		s.ForeignKeys = append(s.ForeignKeys, foreignKey{Fields: []string{l.column}, Reference: ref})
	}
	return s
}

func (t *csvTable) field(i int, name string) schemaField {
	f := schemaField{Name: name, Format: "default", Unit: unitOf(name)}
	c := constraints{}
	switch known, fact := knownFields[t.file][name], columnFacts[name]; {
	case known.kind != "":
		f.Type, f.Description = known.kind, known.what
		c.Required, c.Minimum = known.required, known.least
	case strings.HasPrefix(t.file, TablesFolder) && fact.Kind != "":
		f.Type, f.Title, f.Description = fact.Kind, fact.Title, fact.What
		c.Enum, c.Minimum, c.Maximum = fact.Enum, fact.Least, fact.Most
	case strings.HasPrefix(t.file, darwinFolder):
		f.Type, f.Description = darwinKind(name), darwinWhat(name)
	default:
		f.Type, f.Description = t.guess(i), whatOfColumn(name)
		if i < len(t.own) && t.own[i].Name == name {
			f.Title = oneLine(t.own[i].Title)
			if t.own[i].What != "" {
				f.Description = oneLine(t.own[i].What)
			}
			if f.Unit == "" {
				f.Unit = oneLine(t.own[i].Unit)
			}
		}
	}
	if !t.keeps(i, f.Type, c) { // what the cells do not keep is not promised
		f.Type, c = textKind, constraints{}
	}
	if f.Unit != "" {
		f.Description = strings.TrimSpace(f.Description + " Unit: " + f.Unit + ".")
	}
	switch f.Type {
	case yesNoKind:
		f.TrueValues, f.FalseValues = []string{"yes"}, []string{"no"}
	case timeKind:
		f.Format = "any"
	case textKind, numberKind, integerKind, dateKind:
	}
	if c.Required || len(c.Enum) > 0 || c.Minimum != nil || c.Maximum != nil {
		f.Constraints = &c
	}
	return f
}

// guess is a number where all cells are, and at least one is.
func (t *csvTable) guess(i int) columnKind {
	some := false
	for _, r := range t.rows {
		if r[i] == "" {
			continue
		}
		if !isNumber(r[i]) {
			return textKind
		}
		some = true
	}
	if some {
		return numberKind
	}
	return textKind
}

// isNumber reports whether s is a number as every reader of CSV takes it: decimal
// digits, no hexadecimal, no words.
func isNumber(s string) bool {
	if strings.Trim(s, "0123456789.+-eE") != "" {
		return false
	}
	_, err := strconv.ParseFloat(s, 64)
	return err == nil
}

func (t *csvTable) keeps(i int, kind columnKind, c constraints) bool {
	for _, r := range t.rows {
		cell := r[i]
		if cell == "" {
			if c.Required {
				return false
			}
			continue
		}
		if len(c.Enum) > 0 && !slices.Contains(c.Enum, cell) {
			return false
		}
		switch kind {
		case yesNoKind:
			if cell != "yes" && cell != "no" {
				return false
			}
		case numberKind, integerKind:
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil || !isNumber(cell) || c.Minimum != nil && v < *c.Minimum || c.Maximum != nil && v > *c.Maximum {
				return false
			}
			if kind != integerKind {
				continue
			}
			if _, err := strconv.ParseInt(cell, 10, 64); err != nil {
				return false
			}
		case textKind, timeKind, dateKind:
		}
	}
	return true
}

// identifies reports whether no two rows have the same cells there, and none is blank.
func (t *csvTable) identifies(key []string) bool {
	at := make([]int, len(key))
	for k, n := range key {
		if at[k] = slices.Index(t.names, n); at[k] < 0 {
			return false
		}
	}
	seen := make(map[string]bool, len(t.rows))
	for _, r := range t.rows {
		var name strings.Builder
		for _, i := range at {
			if r[i] == "" {
				return false
			}
			name.WriteString(strconv.Quote(r[i]))
		}
		if seen[name.String()] {
			return false
		}
		seen[name.String()] = true
	}
	return true
}

// within reports whether every cell of the column that is not blank stands in the
// key of the other table.
func (t *csvTable) within(column string, to *csvTable, key string) bool {
	i, k := slices.Index(t.names, column), slices.Index(to.names, key)
	if i < 0 || k < 0 {
		return false
	}
	there := make(map[string]bool, len(to.rows))
	for _, r := range to.rows {
		there[r[k]] = true
	}
	for _, r := range t.rows {
		if r[i] != "" && !there[r[i]] {
			return false
		}
	}
	return true
}
