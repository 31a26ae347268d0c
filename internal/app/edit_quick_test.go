package app

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"brinefield/core/season"
	"brinefield/core/study"
)

// An edit of passes that is checked alone must come to what the whole season
// says: the same study, and never a fault let through.
func TestPassesCheckedAlone(t *testing.T) {
	if testing.Short() {
		t.Skip("takes minutes under the race detector or on an emulated processor")
	}
	in, err := DemoSeason()
	if err != nil {
		t.Fatal(err)
	}
	st, faults := season.Read(season.Files(in), season.Options{Zone: time.LoadLocation})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	records, err := season.Records(st)
	if err != nil {
		t.Fatal(err)
	}
	read := readRecords(records)
	if len(read.faults) > 0 {
		t.Fatal(read.faults)
	}
	from := &Assembled{Study: read.study, Places: read.places, records: records}
	var passes []study.Record
	for _, r := range records {
		if r.Kind == study.KindPass {
			passes = append(passes, r)
		}
	}
	quick, refused := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		e := &edit{from: from, before: map[recordName]*study.Record{}, after: map[recordName]*study.Record{}}
		for range rapid.IntRange(1, 3).Draw(t, "passes") {
			r := passes[rapid.IntRange(0, len(passes)-1).Draw(t, "pass")]
			name := nameOf(r)
			if e.after[name] != nil {
				continue
			}
			after := study.Record{Kind: r.Kind, ID: r.ID, Fields: map[string]string{}}
			for k, v := range r.Fields {
				after.Fields[k] = v
			}
			field := rapid.SampledFrom([]string{"turned", "bit", "onset_s", "trial", "pair", "turn_pair", "species", "individual", "time", "watched_s", "note", "clip", "visit"}).Draw(t, "field")
			after.Fields[field] = rapid.SampledFrom([]string{"yes", "no", "1.50", "1e9", "-3", "T01", "T99", "N", "Q", "Raja clavata", "Raja", "CAT06", "RAY07", "2025-07-07T09:32:21.50", "yesterday", "calm, grey"}).Draw(t, "text")
			e.order = append(e.order, name)
			before := r
			e.before[name], e.after[name] = &before, &after
		}
		whole := readRecords(e.records())
		if !e.checkPasses() {
			if len(whole.faults) == 0 {
				t.Fatalf("refused alone, and the whole has no fault: %v", e.after)
			}
			refused++
			return
		}
		quick++
		if len(whole.faults) > 0 {
			t.Fatalf("let through alone: %v", whole.faults)
		}
		if diff := cmp.Diff(whole.study, e.read.study, cmp.Comparer(func(a, b *time.Location) bool { return a.String() == b.String() })); diff != "" {
			t.Fatalf("(-whole +alone):\n%s", diff)
		}
	})
	if quick == 0 || refused == 0 {
		t.Errorf("%d accepted and %d refused: both must be met", quick, refused)
	}
}
