package season_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"brinefield/core/season"
	"brinefield/core/study"
)

// What no season can hold is refused, with the thing and the field named.
func TestWriteRefuses(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(*study.Study)
		want  string
	}{
		{"no zone", func(s *study.Study) { s.Site.Zone = nil }, "site: the time zone is not known"},
		{"no title", func(s *study.Study) { s.Title = "" }, "study.toml: title is blank"},
		{"depth not a number", func(s *study.Study) { s.Site.DepthM = math.NaN() }, "study.toml [site]: depth_m is not finite"},
		{"infinite height", func(s *study.Study) { s.Tracks[0].Points[0].Fixes[0].HeightM.Value = math.Inf(1) }, "track 1: height_cm is not finite"},
		{"cast elsewhere", func(s *study.Study) { s.Water.CastFile = "ctd.csv" }, `study.toml [water]: cast is "ctd.csv"`},
		{"pair out of range", func(s *study.Study) { s.Passes[1].Pair = 2 }, "pass 2: pair is pair 2 of 2"},
		{"reference at fault", func(s *study.Study) { s.Passes[1].Trial = -1 }, "pass 2: trial is -1 of 4"},
		{"species at fault", func(s *study.Study) { s.Passes[0].Species = -1 }, "pass 1: species is -1 of 2"},
		{"active pair at fault", func(s *study.Study) { s.Trials[0].ActivePairs = []int{-1} }, "trial 1: active_pair is pair -1 of 2"},
		{"sealed and active", func(s *study.Study) { s.Trials[0].Sealed = true }, "trial 1: a sealed trial has active pairs"},
		{"no current", func(s *study.Study) { s.Trials[2].CurrentA = study.Opt[float64]{} }, "trial 3: current_uA is blank"},
		{"doubled pass", func(s *study.Study) { s.Passes[1].ID = "P1" }, `pass 2: pass "P1" stands twice`},
		{"blank trial", func(s *study.Study) { s.Trials[1].ID = "" }, "trial 2: trial is blank"},
		{"name with a space", func(s *study.Study) { s.Trials[1].ID = " T2" }, "has spaces round it"},
		{"name with a break", func(s *study.Study) { s.Passes[0].Visit = "a\nb" }, "pass 1: visit"},
		{"note with spaces", func(s *study.Study) { s.Passes[0].Note = "x " }, "pass 1: note"},
		{"note not UTF-8", func(s *study.Study) { s.Passes[0].Note = "\xe9" }, "is not UTF-8"},
		{"title not UTF-8", func(s *study.Study) { s.Title = "\xe9" }, "is not UTF-8"},
		{"error mark", func(s *study.Study) { s.Trials[0].Bait = "#N/A" }, "error mark"},
		{"note like a row", func(s *study.Study) { s.Trials[0].Note = "x\n" + strings.Repeat(",", 22) }, "would be read as a row"},
		{"block below 1", func(s *study.Study) { s.Trials[1].Block = -1 }, "trial 2: block is -1"},
		{"block too large", func(s *study.Study) { s.Trials[1].Block = 1_000_001 }, "trial 2: block is 1000001"},
		{"limit below 1", func(s *study.Study) { s.Schedule.MostAlike = -2 }, "study.toml [schedule]: most_alike is -2"},
		{"year 2500", func(s *study.Study) { s.Trials[0].Start = time.Date(2500, 1, 1, 0, 0, 0, 0, time.UTC) }, "trial 1: start is outside the years"},
		{"time stands still", func(s *study.Study) { s.Tracks[0].Points[0].Fixes[1].TimeS = 0 }, "track 1: t_s does not increase"},
		{"half a range", func(s *study.Study) { s.Analysis.HeightLowM = study.Opt[float64]{} }, "height_range_cm has one end"},
	} {
		s, faults := season.Read(folder(t, "testdata/full"), options)
		noFaults(t, faults)
		c.spoil(s)
		files, err := season.Write(s)
		if err == nil || !strings.Contains(err.Error(), c.want) || files != nil {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if _, err := season.Write(nil); err == nil {
		t.Error("nothing was written without an error")
	}
}

// A time that the clock showed twice is written with its offset, all others
// without.
func TestTimesAreWrittenWithAnOffsetOnlyWhereNeeded(t *testing.T) {
	s, faults := season.Read(folder(t, "testdata/full"), options)
	noFaults(t, faults)
	s.Trials[0].Start = time.Date(2025, 10, 26, 0, 30, 0, 0, time.UTC)
	s.Trials[0].End = time.Date(2025, 10, 26, 1, 30, 0, 0, time.UTC)
	files, err := season.Write(s)
	if err != nil {
		t.Fatal(err)
	}
	if row := strings.Split(string(files[season.TrialsFile]), "\n")[1]; !strings.HasPrefix(row, "T1,2025-10-26T01:30:00+01:00,2025-10-26T01:30:00+00:00,A,") {
		t.Errorf("written %q", row)
	}
}

func TestExtra(t *testing.T) {
	files := season.Files{"study.toml": nil, "notes.docx": nil, "Trials.csv": nil, "a.mp4": nil}
	if got := strings.Join(files.Extra(), " "); got != "Trials.csv a.mp4 notes.docx" {
		t.Errorf("extra files %q", got)
	}
}

// With faults the study still holds what could be read, and an index that
// could not be resolved is -1.
func TestReadGivesWhatItCould(t *testing.T) {
	files := folder(t, "testdata/full")
	files[season.PassesFile] = []byte(strings.Replace(string(files[season.PassesFile]), "P2,T2,", "P2,T9,", 1))
	s, faults := season.Read(files, options)
	if len(faults) != 1 || len(s.Passes) != 4 || s.Passes[1].Trial != -1 || s.Passes[2].Trial != 2 || len(s.Tracks) != 2 {
		t.Errorf("%d faults, %s, the second pass in trial %d", len(faults), describe(s), s.Passes[1].Trial)
	}
	for _, nothing := range []season.Files{nil, {}} {
		if s, faults := season.Read(nothing, season.Options{}); s == nil || len(faults) != 3 {
			t.Errorf("an empty folder has the faults\n%s", lines(faults))
		}
	}
}

// Without a source of time zones only UTC is known.
func TestWithoutZones(t *testing.T) {
	files := folder(t, "testdata/full")
	_, faults := season.Read(files, season.Options{})
	if len(faults) != 1 || faults[0].Column != "timezone" {
		t.Errorf("faults:\n%s", lines(faults))
	}
	files[season.StudyFile] = []byte(strings.Replace(string(files[season.StudyFile]), "Europe/Dublin", "UTC", 1))
	_, faults = season.Read(files, season.Options{})
	noFaults(t, faults)
}
