package season_test

import (
	"encoding/csv"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/BurntSushi/toml"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"brinefield/core/season"
	"brinefield/core/simulate"
	"brinefield/core/study"
)

// fataler is what testing.T and rapid.T share.
type fataler interface {
	Helper()
	Fatalf(format string, args ...any)
}

// checkRecords holds a study without faults to the promise of [season.Records]:
// its records are a study that is written to the same bytes, and has the same
// records.
func checkRecords(t fataler, s *study.Study) []study.Record {
	t.Helper()
	want, err := season.Write(s)
	if err != nil {
		t.Fatalf("not written: %v", err)
	}
	records, err := season.Records(s)
	if err != nil {
		t.Fatalf("written, and no records: %v", err)
	}
	checkShape(t, records)
	again, faults, _ := season.FromRecords(records, options)
	if len(faults) > 0 {
		t.Fatalf("faults of records:\n%s", lines(faults))
	}
	got, err := season.Write(again)
	if err != nil {
		t.Fatalf("read from records and not written: %v", err)
	}
	if diff := cmp.Diff(slices.Sorted(maps.Keys(want)), slices.Sorted(maps.Keys(got))); diff != "" {
		t.Fatalf("files (-want +got):\n%s", diff)
	}
	for name := range want {
		if string(got[name]) != string(want[name]) {
			t.Fatalf("%s differs\ngot:\n%.3000s\nwant:\n%.3000s", name, got[name], want[name])
		}
	}
	twice, err := season.Records(again)
	if err != nil {
		t.Fatalf("records of records: %v", err)
	}
	if diff := cmp.Diff(records, twice); diff != "" {
		t.Fatalf("records of records (-was +is):\n%s", diff)
	}
	return records
}

// checkShape holds what a journal needs of records.
func checkShape(t fataler, records []study.Record) {
	t.Helper()
	type name struct {
		kind study.Kind
		id   string
	}
	seen := map[name]bool{}
	last := 0
	for _, r := range records {
		order := slices.Index(study.SeasonKinds, r.Kind)
		if order < last || seen[name{r.Kind, r.ID}] {
			t.Fatalf("%s %q stands out of order or twice", r.Kind, r.ID)
		}
		last, seen[name{r.Kind, r.ID}] = order, true
		var known []string
		for _, f := range season.FieldsOf(r.Kind) {
			known = append(known, f.Name)
		}
		for field, text := range r.Fields {
			if text == "" || !slices.Contains(known, field) && (r.Kind != study.KindPlate || field != "label") {
				t.Fatalf("%s %q has %s = %q", r.Kind, r.ID, field, text)
			}
		}
		series := r.Kind == study.KindCast || r.Kind == study.KindTrack
		if series != (r.Table != nil) || series && (r.Fields != nil || len(r.Table.Columns) == 0 || len(r.Table.Rows) == 0) || r.Fields != nil && len(r.Fields) == 0 {
			t.Fatalf("%s %q is not as a journal takes it: %v", r.Kind, r.ID, r)
		}
		if !series {
			continue
		}
		at := -1
		for _, c := range r.Table.Columns {
			next := slices.Index(known, c)
			if next <= at {
				t.Fatalf("%s %q has the columns %q", r.Kind, r.ID, r.Table.Columns)
			}
			at = next
		}
		for _, row := range r.Table.Rows {
			if len(row) != len(r.Table.Columns) {
				t.Fatalf("%s %q has a row %q", r.Kind, r.ID, row)
			}
		}
	}
}

func TestASeasonIsItsRecords(t *testing.T) {
	for _, path := range []string{"../../testdata/season-a", "testdata/full", "../../examples/01-old-spreadsheet"} {
		t.Run(path, func(t *testing.T) {
			s, faults := season.Read(folder(t, path), options)
			noFaults(t, faults)
			checkRecords(t, s)
		})
	}
	for name, plan := range map[string]simulate.Plan{"demo": simulate.Demo(), "load": simulate.Load(300)} {
		t.Run(name, func(t *testing.T) {
			s, _, err := simulate.Season(plan, 20260611)
			if err != nil {
				t.Fatal(err)
			}
			checkRecords(t, s)
		})
	}
}

func TestAnyStudyIsItsRecords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) { checkRecords(t, drawStudy(t)) })
}

// The fields are the cells of the canonical folder, read here with the CSV
// reader of the standard library and with the TOML library.
func TestRecordsHoldTheTextOfTheFolder(t *testing.T) {
	files := folder(t, "testdata/full") // is canonical: TestEveryKeyAndColumnIsReadAndWritten
	s, faults := season.Read(files, options)
	noFaults(t, faults)
	records := checkRecords(t, s)
	for kind, file := range map[study.Kind]string{
		study.KindTrial: "trials.csv", study.KindIndividual: "individuals.csv", study.KindClip: "clips.csv",
		study.KindPass: "passes.csv", study.KindCast: "water.csv", study.KindTrack: "tracks.csv",
	} {
		rows, err := csv.NewReader(strings.NewReader(string(files[file]))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		var got []map[string]string
		for _, r := range records {
			switch {
			case r.Kind != kind:
			case r.Table == nil:
				row := maps.Clone(r.Fields)
				row[rows[0][0]] = r.ID
				got = append(got, row)
			default:
				for _, cells := range r.Table.Rows {
					row := map[string]string{rows[0][0]: r.ID}
					for c, text := range cells {
						row[r.Table.Columns[c]] = text
					}
					got = append(got, row)
				}
			}
		}
		for _, row := range got {
			maps.DeleteFunc(row, func(_, text string) bool { return text == "" })
		}
		var want []map[string]string
		for _, cells := range rows[1:] {
			row := map[string]string{}
			for c, text := range cells {
				if text != "" {
					row[rows[0][c]] = text
				}
			}
			want = append(want, row)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-file +records):\n%s", file, diff)
		}
	}
	checkDocument(t, string(files["study.toml"]), records)
}

// checkDocument holds the records of study.toml against what the TOML library
// reads.
func checkDocument(t *testing.T, text string, records []study.Record) {
	var want map[string]any
	if _, err := toml.Decode(text, &want); err != nil {
		t.Fatal(err)
	}
	seen := map[study.Kind]int{}
	values := 0
	for _, r := range records {
		var section map[string]any
		switch in := want[string(r.Kind)].(type) {
		case nil:
			if r.Kind != study.KindStudy {
				continue
			}
			section = want
		case map[string]any:
			section = in
		case []map[string]any:
			section = in[seen[r.Kind]]
			for _, key := range []string{"label", "name"} {
				if id, ok := section[key]; ok && id != r.ID {
					t.Errorf("%s %d is %q, the file says %q", r.Kind, seen[r.Kind], r.ID, id)
				}
			}
		}
		seen[r.Kind]++
		for field, got := range r.Fields {
			values++
			want := section[field]
			switch v := want.(type) {
			case string:
				if got != v {
					t.Errorf("%s %s is %q, the file says %q", r.Kind, field, got, v)
				}
			case []any:
				var again struct{ V []any }
				if _, err := toml.Decode("V = "+got, &again); err != nil || !cmp.Equal(again.V, v) {
					t.Errorf("%s %s is %q, the file says %v", r.Kind, field, got, v)
				}
			default:
				number, err := strconv.ParseFloat(got, 64)
				if whole, ok := v.(int64); ok {
					v = float64(whole)
				}
				if err != nil || v != number {
					t.Errorf("%s %s is %q, the file says %v", r.Kind, field, got, v)
				}
			}
		}
	}
	keys := strings.Count(text, " = ") - 1 /* format */ - 2 /* plates */ - 2 /* pairs */ - 2 /* species */
	if values != keys {
		t.Errorf("%d values in records, %d in the file", values, keys)
	}
}

// Plates need no label, and may be called what the ID of one without is.
func TestPlatesWithoutALabel(t *testing.T) {
	for _, c := range []struct{ labels, ids []string }{
		{[]string{""}, []string{"plate"}},
		{[]string{"", "north", "", ""}, []string{"plate", "north", "plate 2", "plate 3"}},
		{[]string{"", "plate"}, []string{"plate 2", "plate"}},
		{[]string{"plate 3", "", "", "plate"}, []string{"plate 3", "plate 2", "plate 4", "plate"}},
		{[]string{"plate 1", "plate 02", ""}, []string{"plate 1", "plate 02", "plate"}},
	} {
		s, faults := season.Read(folder(t, "testdata/full"), options)
		noFaults(t, faults)
		plate := s.Plates[0]
		s.Plates, s.Trials[0].Plate = nil, ""
		for _, label := range c.labels {
			plate.Label = label
			s.Plates = append(s.Plates, plate)
		}
		var got []string
		for _, r := range checkRecords(t, s) {
			if r.Kind == study.KindPlate {
				got = append(got, r.ID)
			}
		}
		if !slices.Equal(got, c.ids) {
			t.Errorf("plates labelled %q are %q, want %q", c.labels, got, c.ids)
		}
	}
}

// A cast is one record, wherever its readings stand in the file.
func TestReadingsOfOneTimeStandTogether(t *testing.T) {
	files := with(folder(t, "testdata/full"), season.WaterFile, "time,depth_m,conductivity_S_per_m\n"+
		"2025-07-02T08:00,0,4.1\n2025-07-01T08:00,0,4.2\n2025-07-02T08:00,3,4.3\n2025-07-01T08:00,2,4.4\n")
	s, faults := season.Read(files, options)
	noFaults(t, faults)
	var got []study.Record
	for _, r := range checkRecords(t, s) {
		if r.Kind == study.KindCast {
			got = append(got, r)
		}
	}
	columns := []string{"depth_m", "conductivity_S_per_m"}
	want := []study.Record{
		{Kind: study.KindCast, ID: "2025-07-02T08:00:00", Table: &study.Table{Columns: columns, Rows: [][]string{{"0", "4.1"}, {"3", "4.3"}}}},
		{Kind: study.KindCast, ID: "2025-07-01T08:00:00", Table: &study.Table{Columns: columns, Rows: [][]string{{"0", "4.2"}, {"2", "4.4"}}}},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("casts (-want +got):\n%s", diff)
	}
	checkFixedPoint(t, s)
}

// Records refuses what Write refuses, and two tracks of one pass.
func TestRecordsRefuses(t *testing.T) {
	if _, err := season.Records(nil); err == nil {
		t.Error("nothing has records")
	}
	for _, c := range []struct {
		spoil func(*study.Study)
		want  string
	}{
		{func(s *study.Study) { s.Site.Zone = nil }, "site: the time zone is not known"},
		{func(s *study.Study) { s.Passes[1].ID = "P1" }, `pass 2: pass "P1" stands twice`},
		{func(s *study.Study) { s.Trials[0].Note = "x\n" + strings.Repeat(",", 22) }, "would be read as a row"},
		{func(s *study.Study) { s.Tracks[1].Pass = 0 }, `track 2: pass "P1" has a second track`},
		{func(s *study.Study) { s.Tracks[1].Pass = 9 }, "track 2: pass is 9 of 4"},
		{func(s *study.Study) { s.Cast[0].Time = time.Date(2500, 1, 1, 0, 0, 0, 0, time.UTC) }, "water reading 1: time is outside the years"},
	} {
		s, faults := season.Read(folder(t, "testdata/full"), options)
		noFaults(t, faults)
		c.spoil(s)
		if records, err := season.Records(s); err == nil || !strings.Contains(err.Error(), c.want) || records != nil {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
}
