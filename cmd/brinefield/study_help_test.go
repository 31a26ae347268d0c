package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"brinefield/internal/app"
	"brinefield/internal/ffmpeg"
)

// Tests of the studies on the true stores: files and databases on this disc.

// handClock is a clock that a test sets.
type handClock struct {
	mu  sync.Mutex
	now time.Time
}

func newClock() *handClock { return &handClock{now: time.Date(2026, 6, 11, 9, 0, 0, 0, time.UTC)} }

func (c *handClock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *handClock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// desk is one window on a shelf.
type desk struct {
	*app.Studies
	shelf *shelf
	clock *handClock
}

func openDesk(t *testing.T, dir string, clock *handClock) *desk {
	t.Helper()
	d := &desk{shelf: newShelf(dir), clock: clock}
	d.shelf.clock = clock.Now
	d.Studies = app.NewStudies(app.StudiesOptions{
		Shelf: d.shelf, ShelfName: "shelf", Program: program(), Clock: clock.Now, Random: outside().Random,
		Media: ffmpeg.System(), Analyse: app.AnalyseOptions{Seed: 1}, Background: t.Context(),
	})
	t.Cleanup(func() { d.close(t) })
	return d
}

func (d *desk) close(t *testing.T) {
	t.Helper()
	if err := d.Close(); err != nil {
		t.Error(err)
	}
}

func (d *desk) importNew(t *testing.T, name string, in app.Input, how app.ImportRequest) *app.Study {
	t.Helper()
	plan, err := d.Plan(t.Context(), app.PlanRequest{Files: app.Uploads(in)})
	if err != nil || len(plan.Faults) > 0 {
		t.Fatalf("%+v, %v", plan.Faults, err)
	}
	how.Plan, how.Study = plan.Plan, name
	if _, err := d.Import(t.Context(), how); err != nil {
		t.Fatal(err)
	}
	return d.study(t, name)
}

func (d *desk) study(t *testing.T, name string) *app.Study {
	t.Helper()
	s, err := d.Study(t.Context(), name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// smallSeason is the first trials of season A with their passes and tracks.
func smallSeason(t *testing.T) app.Input {
	t.Helper()
	in := app.Input{}
	for _, name := range []string{"study.toml", "trials.csv", "passes.csv", "tracks.csv"} {
		data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "season-a", name))
		if err != nil {
			t.Fatal(err)
		}
		in[name] = data
	}
	in["trials.csv"] = keepRows(in["trials.csv"], func(cells []string) bool { return cells[0] <= "T006" })
	passes := map[string]bool{}
	in["passes.csv"] = keepRows(in["passes.csv"], func(cells []string) bool {
		passes[cells[0]] = cells[1] <= "T006"
		return cells[1] <= "T006"
	})
	in["tracks.csv"] = keepRows(in["tracks.csv"], func(cells []string) bool { return passes[cells[0]] })
	return in
}

func keepRows(table []byte, keep func(cells []string) bool) []byte {
	lines := slices.Collect(bytes.Lines(table))
	out := slices.Clone(lines[0])
	for _, line := range lines[1:] {
		if keep(strings.Split(strings.TrimRight(string(line), "\r\n"), ",")) {
			out = append(out, line...)
		}
	}
	return out
}

// waitFor asks for the results until they are no longer being made.
func waitFor(t *testing.T, s *app.Study) app.ResultsView {
	t.Helper()
	for deadline := time.Now().Add(2 * time.Minute); ; time.Sleep(10 * time.Millisecond) {
		v, err := s.Results(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if v.State != "running" {
			return v
		}
		if time.Now().After(deadline) {
			t.Fatal("the analysis does not end")
		}
	}
}

func asJSON(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// must is for answers that cannot fail here; a panic ends the test with the
// error.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func edit(t *testing.T, s *app.Study, kind, id, field, from, to string) string {
	t.Helper()
	done, err := s.Edit(t.Context(), app.EditRequest{Changes: []app.CellChange{{Kind: kind, ID: id, Field: field, From: from, To: to}}})
	if err != nil || len(done.Entries) != 1 {
		t.Fatalf("%+v, %v", done, err)
	}
	return done.Entries[0].Entry
}
