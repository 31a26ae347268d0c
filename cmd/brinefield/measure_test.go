//go:build measure

package main

import (
	"context"
	"fmt"
	"os"
	"testing"
	"time"

	"brinefield/core/journal"
	"brinefield/internal/app"
)

// TestMeasureMillion opens a study of a million entries: half a million passes,
// each corrected once.
func TestMeasureMillion(t *testing.T) {
	const passes, together = 500_000, 100_000
	ctx := context.Background()
	dir := t.TempDir()
	d := openDesk(t, dir, newClock())
	d.importNew(t, "bay", smallSeason(t), app.ImportRequest{})
	d.close(t)
	folder, err := d.shelf.Open(ctx, "bay")
	if err != nil {
		t.Fatal(err)
	}
	for _, act := range []journal.Act{journal.Record, journal.Correct} {
		for from := 0; from < passes; from += together {
			drafts := make([]journal.Draft, together)
			for i := range drafts {
				drafts[i] = passEntry(from+i, act)
			}
			if _, err := folder.Journal.Append(ctx, drafts); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := folder.Close(); err != nil {
		t.Fatal(err)
	}
	var home, results time.Duration
	for range 3 {
		again := openDesk(t, dir, newClock())
		began := time.Now()
		view, err := again.Home(ctx)
		if err != nil || len(view.Studies) != 1 || view.Studies[0].Passes < passes {
			t.Fatalf("%+v, %v", view.Studies, err)
		}
		atHome := time.Since(began)
		began = time.Now()
		study, err := again.Study(ctx, "bay")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := study.Results(ctx); err != nil {
			t.Fatal(err)
		}
		opened := time.Since(began)
		if results == 0 || opened < results {
			home, results = atHome, opened
		}
		again.close(t)
	}
	measured(t, "opening a study with 1 000 000 entries, to the state of its results", results, time.Second)
	measured(t, "*Home* with that study closed", home, time.Second)
}

func passEntry(n int, act journal.Act) journal.Draft {
	d := journal.Draft{Kind: "pass", Subject: fmt.Sprintf("X%07d", n), Act: act}
	if act == journal.Record {
		d.Body.Fields = map[string]string{
			"trial": "T001", "time": "2026-06-10T20:05:00", "species": "Scyliorhinus canicula", "pair": "A", "turned": "no", "bit": "no",
		}
		return d
	}
	d.Body.Fields, d.Body.Was = map[string]string{"note": "seen twice"}, map[string]string{"note": ""}
	return d
}

// measured writes a row for docs/performance.md and fails where a promise is
// not kept.
func measured(t *testing.T, what string, took, promised time.Duration) {
	t.Helper()
	kept := "yes"
	if took > promised {
		kept = "**no**"
		t.Errorf("%s: %v, promised %v", what, took, promised)
	}
	row := fmt.Sprintf("| %s | %.2f s | under %.0f s | %s |\n", what, took.Seconds(), promised.Seconds(), kept)
	t.Log(row)
	name := os.Getenv("BRINEFIELD_MEASURED")
	if name == "" {
		return
	}
	f, err := os.OpenFile(name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteString(row); err != nil {
		t.Fatal(err)
	}
}
