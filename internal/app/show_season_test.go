package app_test

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"brinefield/internal/app"
)

func open(t *testing.T, in app.Input) *app.OpenSeason {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	t.Cleanup(cancel)
	o := app.Open(ctx, "season", in, false, app.AnalyseOptions{Seed: 1})
	for deadline := time.Now().Add(time.Minute); o.Progress().State == "running"; time.Sleep(5 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatal("the analysis does not end")
		}
	}
	return o
}

func TestOpenSeasonShowsEveryPass(t *testing.T) {
	o := open(t, readFolder(t, "../../testdata/season-a"))
	if p := o.Progress(); p.State != "done" {
		t.Fatalf("progress %+v", p)
	}
	table, err := o.Exposures()
	if err != nil || len(table.Rows) != 646 || o.Season().PassCount != 646 {
		t.Fatalf("%d rows, %v", len(table.Rows), err)
	}
	for _, row := range table.Rows {
		v, err := o.Pass(row.Pass)
		if err != nil || len(v.Track) < 2 || len(v.Fixes) < 2 {
			t.Fatalf("%s: %d points, %d fixes, %v", row.Pass, len(v.Track), len(v.Fixes), err)
		}
		// What is drawn along the track agrees with what the table says.
		largest := 0.0
		for _, p := range v.Track {
			largest = max(largest, *p.Field)
		}
		if row.FieldHigh == nil && (largest > *row.FieldLow*1.0001 || largest < *row.FieldLow*0.98) {
			t.Errorf("%s: drawn up to %g nV/cm, in the table %g", row.Pass, largest, *row.FieldLow)
		}
		if row.Responded && (row.HeadXCm == nil || row.HeadYCm == nil) {
			t.Errorf("%s turned, but has no place on the plan", row.Pass)
		}
	}
	if _, err := o.Pass("P99999"); !errors.Is(err, app.ErrUnknownPass) {
		t.Errorf("an unknown pass: %v", err)
	}
}

func TestCurvesBelongToTheFindings(t *testing.T) {
	o := open(t, readFolder(t, "../../testdata/season-a"))
	curves, err := o.Curves()
	if err != nil || len(curves.Species) != 2 {
		t.Fatalf("%d species, %v", len(curves.Species), err)
	}
	findings, _ := o.Findings()
	for i, c := range curves.Species {
		median := *findings.Detection[i].Median
		for j, x := range c.FieldNVPerCm {
			if x < median && c.Detection[j] > 0.5 || x > median && c.Detection[j] < 0.5 {
				t.Errorf("%s: the curve at %g nV/cm is %g, the median %g", c.Species, x, c.Detection[j], median)
			}
			if c.DetectionLow[j] > c.Detection[j] || c.DetectionHigh[j] < c.Detection[j] || j > 0 && c.Detection[j] < c.Detection[j-1] {
				t.Errorf("%s: band or curve out of order at %g nV/cm", c.Species, x)
			}
		}
		if len(c.Steps) == 0 || c.Steps[len(c.Steps)-1].After < 1-1e-9 {
			t.Errorf("%s: the step curve ends at %+v", c.Species, c.Steps)
		}
	}
}

func TestFaultySeasonShowsFaultsBesideTheRows(t *testing.T) {
	in := readFolder(t, "../../testdata/season-a")
	in["trials.csv"] = bytes.Replace(in["trials.csv"], []byte(",D,9.0"), []byte(",Dd,9.0"), 1)
	in["passes.csv"] = bytes.Replace(in["passes.csv"], []byte("P00002,T001,"), []byte("P00002,T01,"), 1)
	in["study.toml"] = bytes.Replace(in["study.toml"], []byte("depth_m = 0.9"), []byte("depth_m = -0.9"), 1)
	o := open(t, in)
	v := o.Season()
	if len(v.Faults) != 3 || len(v.FaultRows) != 3 {
		t.Fatalf("faults %+v, rows %+v", v.Faults, v.FaultRows)
	}
	for i, want := range []string{"depth_m = -0.9", "T001", "P00002"} {
		rows := v.FaultRows[i]
		if len(rows.Rows) != 1 || !strings.Contains(strings.Join(rows.Rows[0].Cells, ","), want) || rows.Rows[0].Row != v.Faults[i].Row {
			t.Errorf("%s: rows %+v, want the one with %s", rows.File, rows.Rows, want)
		}
	}
	if _, err := o.Findings(); !errors.Is(err, app.ErrFaults) {
		t.Errorf("findings of a faulty season: %v", err)
	}
}
