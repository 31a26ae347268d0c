package season_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"brinefield/core/season"
	"brinefield/core/study"
)

// largeSeason is an invented season of n passes with four rows of track each.
func largeSeason(tb testing.TB, n int) season.Files {
	files := season.Files{season.StudyFile: folder(tb, "../../testdata/season-a")[season.StudyFile]}
	var trials, passes, tracks strings.Builder
	trials.WriteString("trial,start,end,active_pair,current_uA\n")
	passes.WriteString("pass,trial,time,individual,species,pair,turned,bit,visit,onset_s,watched_s,total_length_cm,scorer,note\n")
	tracks.WriteString("pass,t_s,x_cm,y_cm,height_cm\n")
	start := time.Date(2025, 6, 1, 9, 0, 0, 0, time.UTC)
	for i := range n {
		at := start.Add(time.Duration(i) * 90 * time.Second)
		if i%100 == 0 {
			fmt.Fprintf(&trials, "T%05d,%s,%s,A,9.0\n", i/100, at.Format("2006-01-02T15:04:05Z"), at.Add(time.Hour).Format("2006-01-02T15:04:05Z"))
		}
		fmt.Fprintf(&passes, "P%06d,T%05d,%s,SC%02d,S. canicula,%c,%s,no,V%05d,,3.36,72.7,MK,\n", i, i/100, at.Format("2006-01-02T15:04:05Z"), i%60, 'A'+i%4, []string{"no", "yes"}[i%2], i/3)
		for k := range 4 {
			fmt.Fprintf(&tracks, "P%06d,%.2f,%.2f,%.2f,%.2f\n", i, float64(k)*0.08, -79.84+float64(i%700)/10, -18.11+float64(k), 2.46+float64(k)/10)
		}
	}
	files[season.TrialsFile], files[season.PassesFile], files[season.TracksFile] = []byte(trials.String()), []byte(passes.String()), []byte(tracks.String())
	return files
}

func BenchmarkReadLarge(b *testing.B) {
	files := largeSeason(b, 100_000)
	b.ReportAllocs()
	for b.Loop() {
		if _, faults := season.Read(files, options); len(faults) > 0 {
			b.Fatal(faults[0])
		}
	}
}

func BenchmarkWriteLarge(b *testing.B) {
	s, _ := season.Read(largeSeason(b, 100_000), options)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := season.Write(s); err != nil {
			b.Fatal(err)
		}
	}
}

// Nothing matches anything: every row has faults, and suggestions are looked
// for among many names.
func BenchmarkReadLargeAllWrong(b *testing.B) {
	files := largeSeason(b, 100_000)
	files[season.TracksFile] = []byte(strings.ReplaceAll(string(files[season.TracksFile]), "\nP", "\nQ7"))
	b.ReportAllocs()
	for b.Loop() {
		if _, faults := season.Read(files, options); len(faults) != 400_000 {
			b.Fatal(len(faults))
		}
	}
}

// longTracks gives every track of a study as many rows as asked for.
func longTracks(s *study.Study, rows int) {
	for i := range s.Tracks {
		p := &s.Tracks[i].Points[0]
		for k := len(p.Fixes); k < rows; k++ {
			next := p.Fixes[k-1]
			next.TimeS, next.XM = float64(k)*0.08, next.XM+0.0123
			p.Fixes = append(p.Fixes, next)
		}
	}
}

// The records of 100 000 passes with ten rows of track each, and beside them
// what the folder takes.
func BenchmarkRecordsLarge(b *testing.B) {
	s, _ := season.Read(largeSeason(b, 100_000), options)
	longTracks(s, 10)
	files, err := season.Write(s)
	if err != nil {
		b.Fatal(err)
	}
	records, err := season.Records(s)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("Write", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := season.Write(s); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("Records", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := season.Records(s); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("Read", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, faults := season.Read(files, options); len(faults) > 0 {
				b.Fatal(faults[0])
			}
		}
	})
	b.Run("FromRecords", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, faults, _ := season.FromRecords(records, options); len(faults) > 0 {
				b.Fatal(faults[0])
			}
		}
	})
}
