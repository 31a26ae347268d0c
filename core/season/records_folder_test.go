package season_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/season"
	"brinefield/core/study"
)

// Whatever is changed in records, the row that a fault names in the folder is
// the row of the record that the fault is about.
func TestFaultsStandInTheFolderAsItStands(t *testing.T) {
	rows, lines := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		records := spoiled(t, func(*recordSet) {})
		for range rapid.IntRange(1, 3).Draw(rt, "changes") {
			mutate(rt, &records)
		}
		_, faults, places := season.FromRecords(records, options)
		folder := season.Folder(records)
		for _, f := range faults {
			kind, id, field, _ := places.Of(f)
			table := season.Cells(folder[f.File])
			switch {
			case f.File == season.StudyFile:
				text := strings.Split(string(folder[f.File]), "\n")
				if f.Row < 1 || f.Row > len(text) {
					rt.Fatalf("%s: study.toml has %d lines:\n%s", f, len(text), folder[f.File])
				}
				line := strings.TrimPrefix(text[f.Row-1], `"`)
				if plain := isASCII(field) && !strings.ContainsAny(field, `"\\`); f.Found != "" && plain && !strings.HasPrefix(line, field) && !strings.HasPrefix(line, "[") {
					rt.Fatalf("%s: line %q, want one of %q", f, line, field)
				}
				lines++
			case f.Row > 1 && f.Row <= len(table) && isASCII(id):
				if got := table[f.Row-1][0]; got != strings.TrimSpace(id) {
					rt.Fatalf("%s: the row is of %q, the record is %s %q", f, got, kind, id)
				}
				rows++
			}
		}
	})
	if rows == 0 || lines == 0 {
		t.Errorf("faults in %d rows and %d lines: both must be met", rows, lines)
	}
}

func isASCII(text string) bool {
	return strings.IndexFunc(text, func(r rune) bool { return r < ' ' || r > '~' }) < 0
}

// Records without faults stand in the folder as a season that reads the same.
func TestFolderOfFaultlessRecords(t *testing.T) {
	records := spoiled(t, func(*recordSet) {})
	s, faults := season.Read(season.Folder(records), options)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	again, err := season.Records(s)
	if err != nil {
		t.Fatal(err)
	}
	if len(again) != len(records) {
		t.Errorf("%d records, want %d", len(again), len(records))
	}
	for _, kind := range []study.Kind{study.KindStudy, study.KindPair, study.KindSpecies, study.KindCast, study.KindTrial, study.KindTrack} {
		want := map[study.Kind]string{study.KindPair: "label", study.KindSpecies: "name", study.KindCast: "time", study.KindTrial: "trial", study.KindTrack: "pass"}[kind]
		if got := season.IDField(kind); got != want {
			t.Errorf("the ID of a %s is its %q, want %q", kind, got, want)
		}
	}
}
