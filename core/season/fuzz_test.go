package season_test

import (
	"slices"
	"strings"
	"testing"

	"brinefield/core/season"
)

// saneFaults holds what must be true of any faults.
func saneFaults(t *testing.T, faults []season.Fault, rows map[string]int) {
	t.Helper()
	for _, f := range faults {
		text := f.String()
		if f.Row < 1 || f.Row > rows[f.File] {
			t.Errorf("row %d of %d in %s", f.Row, rows[f.File], text)
		}
		if f.Column == "" || f.Wrong == "" || f.Expected == "" || strings.ContainsAny(text, "\n\r\x00") {
			t.Errorf("not a line that can be read: %q", text)
		}
	}
}

// linesOf is how many rows a file can have at most.
func linesOf(data []byte) int {
	n := 1
	for _, c := range data {
		if c == '\n' || c == '\r' {
			n++
		}
	}
	return n
}

func FuzzRead(f *testing.F) {
	seeds := []season.Files{folder(f, "testdata/full"), folder(f, "../../examples/01-old-spreadsheet")}
	full := seeds[0]
	for _, s := range []sheet{
		{separator: ";", decimalComma: true, lineEnd: "\r\n", encoding: "bom", blankColumns: 2, blankEvery: 1},
		{separator: "\t", lineEnd: "\r", quoteAll: true, spaces: true},
		{separator: ",", lineEnd: "\n", encoding: "utf-16le"},
		{separator: ";", lineEnd: "\n", sepLine: true, noLastBreak: true},
	} {
		seeds = append(seeds, s.saveAll(f, full))
	}
	seeds = append(seeds,
		with(full, season.TrialsFile, "trial;start;end\n\"a\"b\";31/12/2025;\"\n\n"),
		with(full, season.PassesFile, "pass,trial\n#VALUE!,\"1,5\"\n\xe9,\x00\n"),
		with(full, season.TracksFile, "pass,t_s,x_cm,y_cm,height_cm,point\nP1,0,1,2,,\nP1,0,1,2,,\nP1,1,nan,1e400,-1,a\n"),
	)
	for _, files := range seeds {
		f.Add(files["study.toml"], files["water.csv"], files["trials.csv"], files["individuals.csv"], files["clips.csv"], files["passes.csv"], files["tracks.csv"])
	}
	f.Fuzz(func(t *testing.T, toml, water, trials, individuals, clips, passes, tracks []byte) {
		files := season.Files{
			"study.toml": toml, "water.csv": water, "trials.csv": trials, "individuals.csv": individuals,
			"clips.csv": clips, "passes.csv": passes, "tracks.csv": tracks,
		}
		rows := map[string]int{}
		for name, data := range files {
			if len(data) == 0 && name != "study.toml" {
				delete(files, name) // an absent file rather than an empty one
			}
			rows[name] = linesOf(data)
		}
		s, faults := season.Read(files, options)
		if s == nil {
			t.Fatal("no study")
		}
		saneFaults(t, faults, rows)
		if len(faults) > 0 {
			return
		}
		checkWritten(t, s, files)
	})
}

// FuzzTable puts one fuzzed table into a season that is otherwise sound, so
// that faultless tables are met more often.
func FuzzTable(f *testing.F) {
	full := folder(f, "testdata/full")
	names := []string{"water.csv", "trials.csv", "individuals.csv", "clips.csv", "passes.csv", "tracks.csv", "study.toml"}
	for i, name := range names {
		f.Add(i, string(full[name]))
		if name != "study.toml" {
			f.Add(i, string(sheet{separator: ";", decimalComma: true, lineEnd: "\r\n", quoteAll: true}.save(f, full[name])))
		}
	}
	f.Fuzz(func(t *testing.T, which int, content string) {
		if which < 0 || which >= len(names) {
			return
		}
		files := with(full, names[which], content)
		rows := map[string]int{}
		for name, data := range files {
			rows[name] = linesOf(data)
		}
		s, faults := season.Read(files, options)
		saneFaults(t, faults, rows)
		if len(faults) == 0 {
			checkWritten(t, s, files)
		}
	})
}

// FuzzReadIntervals reads any table of intervals.
func FuzzReadIntervals(f *testing.F) {
	f.Add("pass,trial,individual,species,pair,turned,field_low_nV_per_cm,field_high_nV_per_cm,onset_before_s,onset_s,watched_s,visit,bit,exact,mood\nP1,T1,I1,S,active,yes,1,2,0.1,0.2,3,V,no,no,calm\n")
	f.Add("pass;trial;individual;species;pair;turned;level_nV_per_cm\nP1;T1;;S;silent;;12,5\n")
	f.Add("pass,trial,individual,species,pair,turned,field_low_nV_per_cm,field_high_nV_per_cm,exact\nP1,T1,I1,S,active,yes,2,2,yes\nP2,T1,,S,control,no,3,,\n")
	f.Fuzz(func(t *testing.T, content string) {
		table, faults := season.ReadIntervals("PASSES.csv", []byte(content))
		if table == nil {
			t.Fatal("no table")
		}
		saneFaults(t, faults, map[string]int{"PASSES.csv": linesOf([]byte(content))})
		if len(faults) > 0 {
			return
		}
		for _, r := range table.Rows {
			if r.Low < 0 || !(r.High >= 0) || r.Row < 2 || !slices.Contains([]string{"active", "control", "silent"}, r.Pair) {
				t.Errorf("a row without a fault: %+v", r)
			}
		}
	})
}
