package app_test

import (
	"bytes"
	"fmt"
	"testing"
	"time"

	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

// largeSeason is the small season with many more passes, each with a track of
// ten fixes.
func largeSeason(passes int) app.Input {
	in := smallSeason()
	var rows, tracks bytes.Buffer
	rows.WriteString("pass,trial,time,individual,species,pair,turned,bit,scorer\n")
	tracks.WriteString("pass,t_s,x_cm,y_cm,height_cm\n")
	for i := range passes {
		fmt.Fprintf(&rows, "P%06d,T%d,2026-06-01T21:%02d:%02d,R%d,Raja clavata,A,no,no,Tom Kett\n", i, i%3+1, i%40, i%60, i%50)
		for k := range 10 {
			fmt.Fprintf(&tracks, "P%06d,%.1f,%.1f,%.1f,%.1f\n", i, float64(k)/10, float64(i%97), float64(10-k), 4.5)
		}
	}
	in["passes.csv"], in["tracks.csv"] = rows.Bytes(), tracks.Bytes()
	return in
}

// BenchmarkLargeStudy times the tasks on a study of 20 000 passes and as many
// tracks, on stores in memory: what a database costs comes on top.
func BenchmarkLargeStudy(b *testing.B) {
	in := largeSeason(20_000)
	shelf := newMemShelf()
	s := newStudies(b, shelf)
	importInto(b, s, shelf, "bay", in, app.ImportRequest{})
	study := openStudy(b, s, "bay")
	b.Run("import", func(b *testing.B) {
		for i := range b.N {
			importInto(b, s, shelf, fmt.Sprint("bay ", b.N, i), in, app.ImportRequest{})
		}
	})
	b.Run("plan of the same", func(b *testing.B) {
		for range b.N {
			planOf(b, s, "bay", in)
		}
	})
	b.Run("edit and read", func(b *testing.B) {
		for i := range b.N {
			if _, err := study.Edit(b.Context(), app.EditRequest{Changes: []app.CellChange{{Kind: "pass", ID: "P000007", Field: "note", From: cell(b, study, "pass", "P000007", "note"), To: fmt.Sprint(b.N, " ", i)}}}); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("deck after a pass came in", func(b *testing.B) {
		tablet := storetest.NewTablet(fmt.Sprint("deck-", b.N), shelf.clock.Now.Add(time.Minute))
		for i := range b.N {
			b.StopTimer()
			merged(b, study, tablet.Write(b, deckPass(fmt.Sprint(b.N, "-", i), "T1", "2026-06-01T21:30:00+01:00", "A"))...)
			b.StartTimer()
			deckOf(b, study)
		}
	})
	b.Run("export", func(b *testing.B) {
		for range b.N {
			exported(b, study)
		}
	})
}
