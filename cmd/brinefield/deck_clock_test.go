//go:build unix

package main

import (
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
)

// TestTabletClockSetBack sets a tablet's clock back by three hours, then by nine
// years, in the middle of its work. What it wrote keeps its order: IDs rise, the later
// correction holds, the clock's own word stands in each entry, and the study says
// where it was set back.
func TestTabletClockSetBack(t *testing.T) {
	b := newBoat(t, t.TempDir())
	b.start(t)
	d := b.pair(t, deckSeed, "")
	moved := time.Duration(0)
	d.clock = func() time.Time { return time.Now().Add(moved) }
	pass := d.name[len("deck-"):] + "-9000" // which log leaves alone
	note := func(text string) {
		d.seal(journal.Draft{Author: d.person, Kind: study.KindPass, Subject: pass, Act: journal.Correct, Body: journal.Body{Fields: map[string]string{"note": text}, Was: map[string]string{"note": ""}}})
	}
	d.seal(journal.Draft{Author: d.person, Kind: study.KindPass, Subject: pass, Act: journal.Record, Body: journal.Body{Fields: map[string]string{
		"trial": "T001", "time": "2026-06-11T12:00:00Z", "species": "Scyliorhinus canicula", "pair": "A", "turned": "no", "bit": "no",
	}}})
	for _, back := range []time.Duration{0, -3 * time.Hour, -9 * 365 * 24 * time.Hour} {
		moved = back
		d.log(20)
		note("after " + back.String())
		if err := d.bringAll(t.Context(), 7); err != nil {
			t.Fatal(err)
		}
	}
	b.stop(t)
	wholeOn(t, b.dir, []*deckTablet{d})
	last := ""
	for i, line := range d.lines {
		e := must(journal.Parse([]byte(line)))
		if e.ID <= last || e.Seq != int64(i+1) {
			t.Fatalf("entry %d has the ID %s after %s", e.Seq, e.ID, last)
		}
		last = e.ID
	}
	studies := studiesOn(b.dir)
	defer studies.Close()
	bay := must(studies.Study(t.Context(), "bay"))
	if got := noteOf(t, bay, pass); got != "after -78840h0m0s" {
		t.Errorf("the pass says %q; want the correction that was written last", got)
	}
	doc := must(bay.Verify(t.Context(), nil))
	if notes := strings.Join(doc.Notes, "\n"); strings.Count(notes, "set back before its entry") != 2 {
		t.Errorf("verify says of the clock: %q", notes)
	}
	// How far the clock was off is written down each time that it moved.
	if history := must(bay.History(t.Context(), "clock", d.name)).Entries; len(history) != 3 {
		t.Errorf("%d words about the clock; want 3", len(history))
	}
}

// noteOf is the note of a pass as it stands.
func noteOf(t *testing.T, s *app.Study, pass string) string {
	t.Helper()
	table := must(s.Table(t.Context(), "pass", 0, 5000))
	column := slices.IndexFunc(table.Columns, func(c app.TableColumn) bool { return c.Name == "note" })
	for _, row := range table.Rows {
		if row.ID == pass {
			return row.Cells[column]
		}
	}
	return "no such pass"
}

// TestLaptopClockSetBack sets the laptop's clock back by two days between batches.
// What a tablet brings and what is corrected on the laptop keep their order, and a second
// copy of the study that gets the same entries in another order says the same.
func TestLaptopClockSetBack(t *testing.T) {
	dirs := []string{t.TempDir(), t.TempDir()}
	var exports []app.Input
	one := loggingTablet("deck-7c1e", 1)
	for i, dir := range dirs {
		clock := newClock()
		desk := openDesk(t, dir, clock)
		bay := desk.importNew(t, "bay", smallSeason(t), app.ImportRequest{})
		d := *one
		d.identity = must(bay.Identity(t.Context()))
		take := func(from, to int) {
			ctx := app.WithCaller(t.Context(), app.Caller{Device: "a", Role: "operator", Writes: []string{d.name}})
			batch := app.DeckBatch{Identity: d.identity, Entries: d.lines[from:to], Blobs: slices.Collect(maps.Values(d.blobs)), NowMS: clock.Now().UnixMilli()}
			answer, err := bay.DeckSync(ctx, batch)
			if err != nil || answer.Heads[d.name].Seq < int64(to) {
				t.Fatalf("%+v, %v; want %d entries", answer.Heads, err, to)
			}
		}
		take(0, 60)
		clock.pass(-48 * time.Hour)
		edit(t, bay, "pass", "P00001", "note", "", "by the laptop")
		if i == 0 {
			take(60, 90)
			take(90, 120)
		} else {
			take(60, 120)
			take(60, 90) // once more
		}
		edit(t, bay, "pass", "P00001", "note", "by the laptop", "again")
		if got := noteOf(t, bay, "P00001"); got != "again" {
			t.Errorf("the pass says %q", got)
		}
		if doc := must(bay.Verify(t.Context(), nil)); !doc.Same {
			t.Errorf("verify: %q", doc.Differences)
		}
		files, _ := bay.ExportStudy(t.Context(), false) // the tablet's passes may have faults in this season
		exports = append(exports, files)
		desk.close(t)
	}
	for _, name := range []string{"study.toml", "trials.csv", "passes.csv", "tracks.csv"} { // the rest names entries of each laptop
		if a, b := exports[0][name], exports[1][name]; len(a) < 100 || string(a) != string(b) {
			t.Errorf("%s: two laptops with the same entries write different seasons: %s", name, cmp.Diff(string(a), string(b)))
		}
	}
}

// loggingTablet is a tablet without a net, which has logged a day.
func loggingTablet(name string, seed uint64) *deckTablet {
	began := time.Date(2026, 6, 11, 8, 0, 0, 0, time.UTC)
	d := newTablet(name, seed, http.DefaultClient, "")
	d.clock = func() time.Time { return began.Add(time.Duration(len(d.lines)) * time.Minute) }
	d.person = "person:" + d.keep("person", []byte("Scorer (invented)"))
	d.log(120)
	return d
}
