package main

import (
	"strings"
	"testing"
	"time"

	"brinefield/internal/app"
)

// A clock that is set back stops nothing: what is written is kept in order,
// Home tells of the clock, and verify lists the place without calling it a
// difference.
func TestClockSetBack(t *testing.T) {
	dir := t.TempDir()
	clock := newClock()
	d := openDesk(t, dir, clock)
	s := d.importNew(t, "bay", smallSeason(t), app.ImportRequest{})
	clock.pass(-3 * time.Hour)
	if notes := strings.Join(must(d.Home(t.Context())).Studies[0].Notes, "\n"); !strings.Contains(notes, "clock") {
		t.Errorf("Home says nothing of the clock: %q", notes)
	}
	first := edit(t, s, "pass", "P00001", "note", "", "before noon")
	second := edit(t, s, "pass", "P00001", "note", "before noon", "after noon")
	history := must(s.History(t.Context(), "pass", "P00001")).Entries
	if n := len(history); n != 3 || history[1].Entry != first || history[2].Entry != second || !(history[0].Entry < first && first < second) {
		t.Errorf("the order was lost: %+v", history)
	}
	d.close(t)
	doc, err := verify(t, d.shelf, "bay")
	if err != nil || !doc.Same || len(doc.Differences) > 0 {
		t.Errorf("%v, %v", doc.Differences, err)
	}
	if notes := strings.Join(doc.Notes, "\n"); strings.Count(notes, "was set back before its entry") != 1 {
		t.Errorf("verify: %q", notes)
	}
}
