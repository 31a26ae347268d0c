package journal

import (
	"strconv"
	"testing"
	"time"

	"brinefield/core/study"
)

// trackDraft is a track of ten fixes, a common entry and the longest.
func trackDraft(n int) Draft {
	table := &study.Table{Columns: []string{"t_s", "x_cm", "y_cm", "height_cm"}}
	for i := range 10 {
		table.Rows = append(table.Rows, []string{"0." + strconv.Itoa(4*i), "-" + strconv.Itoa(40-i) + ".125", "12.5", "7.0"})
	}
	return Draft{Kind: study.KindTrack, Subject: "P" + strconv.Itoa(n), Act: Record, Body: Body{Table: table}}
}

func BenchmarkEntry(b *testing.B) {
	for name, draft := range map[string]func(int) Draft{"pass": func(int) Draft { return passDrafts(1)[0] }, "track": trackDraft} {
		one := sealAll(b, "deck", draft(1))[0]
		b.Run(name+"/seal", func(b *testing.B) {
			var head Head
			for n := range b.N {
				var err error
				if _, _, head, err = Seal(head, "deck", draft(n), stampAt(noon.Add(time.Duration(n)*time.Millisecond), n)); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(name+"/check", func(b *testing.B) {
			for range b.N {
				c := Chain{Device: "deck"}
				if _, err := c.Next(one.canonical, one.hash); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(name+"/apply", func(b *testing.B) {
			for range b.N {
				if _, err := Apply(nil, one.entry); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
