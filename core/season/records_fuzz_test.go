package season_test

import (
	"strings"
	"testing"

	"brinefield/core/season"
	"brinefield/core/study"
)

// Records as bytes, for the fuzzer: a record ends at "\x1e", its parts at
// "\x1f": kind, ID, then name=text for a field, and for a table |columns|row|row
// with cells parted by "\x1d".
func recordsOf(data string) []study.Record {
	var out []study.Record
	for text := range strings.SplitSeq(data, "\x1e") {
		parts := strings.Split(text, "\x1f")
		r := study.Record{Kind: study.Kind(parts[0])}
		if len(parts) > 1 {
			r.ID = parts[1]
		}
		for _, part := range parts[min(2, len(parts)):] {
			if table, ok := strings.CutPrefix(part, "|"); ok {
				r.Table = tableOf(table)
				continue
			}
			if r.Fields == nil {
				r.Fields = map[string]string{}
			}
			name, value, _ := strings.Cut(part, "=")
			r.Fields[name] = value
		}
		out = append(out, r)
	}
	return out
}

func tableOf(text string) *study.Table {
	rows := strings.Split(text, "|")
	t := &study.Table{Columns: strings.Split(rows[0], "\x1d")}
	for _, row := range rows[1:] {
		t.Rows = append(t.Rows, strings.Split(row, "\x1d"))
	}
	return t
}

func recordBytes(records []study.Record) string {
	var out []string
	for _, r := range records {
		parts := []string{string(r.Kind), r.ID}
		for name, value := range r.Fields {
			parts = append(parts, name+"="+value)
		}
		if r.Table != nil {
			rows := []string{"|" + strings.Join(r.Table.Columns, "\x1d")}
			for _, row := range r.Table.Rows {
				rows = append(rows, strings.Join(row, "\x1d"))
			}
			parts = append(parts, strings.Join(rows, "|"))
		}
		out = append(out, strings.Join(parts, "\x1f"))
	}
	return strings.Join(out, "\x1e")
}

func TestTheDecoderOfTheFuzzerLosesNothing(t *testing.T) {
	records := spoiled(t, func(*recordSet) {})
	s, faults, _ := season.FromRecords(recordsOf(recordBytes(records)), options)
	noFaults(t, faults)
	checkRecords(t, s)
}

// Any records are read without a panic; every fault has a place; what has no
// fault is written, read and made records again.
func FuzzFromRecords(f *testing.F) {
	f.Add(recordBytes(spoiled(f, func(*recordSet) {})))
	s, _ := season.Read(folder(f, "../../examples/01-old-spreadsheet"), options)
	if records, err := season.Records(s); err == nil {
		f.Add(recordBytes(records))
	}
	f.Add(recordBytes(spoiled(f, func(r *recordSet) {
		r.set(study.KindTrial, "T1", " note", "x")
		r.set(study.KindTrial, "T1", ";;;;;;;;\t;;;;;;;;;;;;;;;;;;;;;", "x")
		r.set(study.KindSite, "", "", "x")
		r.set(study.KindSpecies, "Raja clavata", "aliases", "['''a''', \"b\\u0007\", 2020-01-01, {v=1}]")
		r.set(study.KindPair, "B", "centre_m", "[[1],\n#x\n2.5e-3,]")
		r.set(study.KindStudy, "", "title", "a\x00b\r\nc")
		r.of(study.KindPlate, "north").ID = "plate 2"
		r.of(study.KindTrack, "P1").Table.Columns = []string{"", "", "\x01"}
		r.of(study.KindTrack, "P2").Table.Rows = nil
		r.add(study.Record{Kind: study.KindCast, ID: "2025-10-26T01:30:00+01:00"})
	})))
	f.Fuzz(func(t *testing.T, data string) {
		records := recordsOf(data)
		s, faults, places := season.FromRecords(records, options)
		if s == nil {
			t.Fatal("no study")
		}
		for _, fault := range faults {
			text := fault.String()
			if fault.Row < 1 || fault.Column == "" || fault.Wrong == "" || fault.Expected == "" || strings.ContainsAny(text, "\n\r\x00") {
				t.Errorf("not a line that can be read: %q", text)
			}
			if kind, _, _, ok := places.Of(fault); !ok || kind == "" {
				t.Errorf("no place for %q", text)
			}
		}
		if len(faults) > 0 {
			return
		}
		checkRecords(t, s)
		checkFixedPoint(t, s)
	})
}
