package season_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/season"
	"brinefield/core/study"
)

// awkward are texts that mean something to some reader of text, and those that
// nearly are right.
var awkward = []string{
	"", " ", "0", "-0", "1e3", "1_000", "+5", " 7 ", ".5", "1e-400", "1e400", "nan", "0x1", "5 cm", "1,5", "−3",
	"A", "A+B", "none", "sealed", "plate", "plate 2", "P1", "T1", "SC1", "snout", "yes", "Raja clavata", "north",
	"[1, 2]", "[1,2] # both", "[[1], [2]]", "[1,\n 2]", "[]", `["a", 'b']`, `["\u0007"]`, `["A"]`, "{ x = 1 }", "[1, 2", `"quoted"`, "'", "\"\"\"",
	"first\nsecond", "a\r\nb\rc", "\tx\ty", "x\n,,,,,,,,,,,,,,,,,,,,,,,,,,,", "x\na,b", "\x00", "\x7f", "\xff", "\ufeffx", "x\u00a0y", "\u2028", "鰩", "#N/A", "###", "=1+1", "]", "[site]",
	"2025-07-01T09:00:00", "2025-10-26T01:30:00", "2025-10-26T01:30:00+01:00", "2025-03-30T01:30", "2025-07-01", "1/7/2025", "9999-01-01T00:00",
	"insulating", "disc", "uniform", "water.csv", "UTC", "largest", strings.Repeat("[", 600), strings.Repeat(".", 2100),
}

// Whatever is changed in the records of a season, they are read without a
// panic, every fault has a place, and what has no fault is a season.
func TestChangedRecordsAreFaultyOrASeason(t *testing.T) {
	clean, all := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		records := spoiled(t, func(*recordSet) {})
		for range rapid.IntRange(1, 3).Draw(rt, "changes") {
			mutate(rt, &records)
		}
		s, faults, places := season.FromRecords(records, options)
		all++
		for _, f := range faults {
			if _, _, _, ok := places.Of(f); !ok {
				rt.Fatalf("no place for %s", f)
			}
		}
		if len(faults) > 0 {
			return
		}
		clean++
		checkRecords(rt, s)
		files, err := season.Write(s)
		if err != nil {
			rt.Fatalf("without faults and not written: %v", err)
		}
		if _, faults := season.Read(files, options); len(faults) > 0 {
			rt.Fatalf("without faults, and the folder has some:\n%s", lines(faults))
		}
	})
	if all >= 100 && (clean == 0 || clean == all) {
		t.Errorf("%d of %d changes were without a fault: the test looks at one side only", clean, all)
	}
}

// mutate makes one change to one record.
func mutate(t *rapid.T, records *[]study.Record) {
	if len(*records) == 0 {
		return
	}
	i := rapid.IntRange(0, len(*records)-1).Draw(t, "record")
	r := &(*records)[i]
	text := rapid.OneOf(rapid.SampledFrom(awkward), rapid.String()).Draw(t, "text")
	switch rapid.IntRange(0, 9).Draw(t, "change") {
	case 0:
		r.ID = text
	case 1:
		*records = slices.Delete(*records, i, i+1)
	case 2:
		*records = append(*records, *r)
	case 3:
		fields := map[string]string{text: "1"}
		for name, value := range r.Fields {
			fields[name] = value
		}
		r.Fields = fields
	default:
		name := rapid.SampledFrom(append(season.FieldsOf(r.Kind), season.Field{Name: "label"})).Draw(t, "field").Name
		if r.Table != nil {
			mutateTable(t, r, name, text)
			return
		}
		fields := map[string]string{}
		for name, value := range r.Fields {
			fields[name] = value
		}
		fields[name] = text
		r.Fields = fields
	}
}

func mutateTable(t *rapid.T, r *study.Record, column, text string) {
	table := &study.Table{Columns: slices.Clone(r.Table.Columns)}
	for _, row := range r.Table.Rows {
		table.Rows = append(table.Rows, slices.Clone(row))
	}
	r.Table = table
	at := slices.Index(table.Columns, column)
	if at < 0 {
		table.Columns = append(table.Columns, column)
		for k := range table.Rows {
			table.Rows[k] = append(table.Rows[k], text)
		}
		return
	}
	if len(table.Rows) > 0 {
		row := table.Rows[rapid.IntRange(0, len(table.Rows)-1).Draw(t, "row")]
		if at < len(row) {
			row[at] = text
		}
	}
}
