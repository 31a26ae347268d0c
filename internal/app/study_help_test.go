package app_test

import (
	"archive/zip"
	"bytes"
	"io"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/season"
	"brinefield/internal/app"
)

// newStudies joins studies in memory with clock and chance that are the same
// each time.
func newStudies(t testing.TB, shelf *memShelf) *app.Studies {
	t.Helper()
	s := app.NewStudies(app.StudiesOptions{
		Shelf: shelf, ShelfName: "memory", Clock: func() time.Time { return shelf.clock.Now }, Random: rand.NewChaCha8([32]byte{9}), Sealer: shelf.sealer,
		Printer: tellingPrinter{}, Background: t.Context(),
	})
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func upload(in app.Input) []app.FileUpload {
	var files []app.FileUpload
	for _, name := range slices.Sorted(maps.Keys(in)) {
		files = append(files, app.FileUpload{Name: name, Data: in[name]})
	}
	return files
}

// planOf plans an import and expects no faults.
func planOf(t testing.TB, s *app.Studies, study string, in app.Input) app.PlanView {
	t.Helper()
	plan, err := s.Plan(t.Context(), app.PlanRequest{Study: study, Files: upload(in)})
	if err != nil {
		t.Fatal(err)
	}
	if len(plan.Faults) > 0 {
		t.Fatalf("the folder has faults: %+v", plan.Faults)
	}
	return plan
}

// importInto imports a folder; a new study where there is none of that name.
func importInto(t testing.TB, s *app.Studies, shelf *memShelf, name string, in app.Input, how app.ImportRequest) app.ImportDone {
	t.Helper()
	target := ""
	if shelf.studies[name] != nil {
		target = name
	}
	how.Plan, how.Study = planOf(t, s, target, in).Plan, name
	done, err := s.Import(t.Context(), how)
	if err != nil {
		t.Fatal(err)
	}
	return done
}

func openStudy(t testing.TB, s *app.Studies, name string) *app.Study {
	t.Helper()
	study, err := s.Study(t.Context(), name)
	if err != nil {
		t.Fatal(err)
	}
	return study
}

// exported is the season that a study writes, without the zip round it and
// without what an export puts beside a season.
func exported(t testing.TB, study *app.Study) app.Input {
	t.Helper()
	out := unzipped(t, study)
	delete(out, "changed-after-opening.csv")
	return out
}

func unzipped(t testing.TB, study *app.Study) app.Input {
	t.Helper()
	var b bytes.Buffer
	if _, err := study.WriteSeason(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	out := app.Input{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		out[f.Name[strings.LastIndex(f.Name, "/")+1:]] = data
	}
	return out
}

// canonical is what core/season writes of a folder, without a study between.
func canonical(t testing.TB, in app.Input) app.Input {
	t.Helper()
	s, faults := season.Read(season.Files(in), season.Options{Zone: time.LoadLocation})
	if len(faults) > 0 {
		t.Fatalf("faults: %v", faults)
	}
	out, err := season.Write(s)
	if err != nil {
		t.Fatal(err)
	}
	return app.Input(out)
}

func sameFolder(t testing.TB, what string, want, got app.Input) {
	t.Helper()
	if diff := cmp.Diff(asText(want), asText(got)); diff != "" {
		t.Errorf("%s (-want +got):\n%.3000s", what, diff)
	}
}

func asText(in app.Input) map[string]string {
	out := map[string]string{}
	for name, data := range in {
		out[name] = string(data)
	}
	return out
}

// cell reads one value of a table.
func cell(t testing.TB, study *app.Study, kind, id, field string) string {
	t.Helper()
	table, err := study.Table(t.Context(), kind, 0, 100_000)
	if err != nil {
		t.Fatal(err)
	}
	c := slices.IndexFunc(table.Columns, func(c app.TableColumn) bool { return c.Name == field })
	r := slices.IndexFunc(table.Rows, func(r app.TableRow) bool { return r.ID == id })
	if c < 0 || r < 0 {
		t.Fatalf("no %s %s, %s", kind, id, field)
	}
	return table.Rows[r].Cells[c]
}

func set(t testing.TB, study *app.Study, author string, changes ...app.CellChange) app.EditDone {
	t.Helper()
	done, err := study.Edit(t.Context(), app.EditRequest{Author: author, Changes: changes})
	if err != nil {
		t.Fatal(err)
	}
	return done
}

// smallSeason is an invented season in an invented bay, small enough to read.
func smallSeason() app.Input {
	return app.Input{
		"study.toml": []byte(`format = 1
title = "Inishcorr bay, two evenings (invented)"
question = "Do thornback rays turn to a prey-like field?"

[site]
name = "Inishcorr bay (invented)"
timezone = "Europe/Dublin"
depth_m = 4.5

[water]
conductivity_S_per_m = 4.2

[bottom]
kind = "insulating"

[[pair]]
label = "A"
centre_m = [0.5, 0.0]
azimuth_deg = 0
separation_m = 0.01
electrode_diameter_m = 0.002

[[pair]]
label = "B"
centre_m = [-0.5, 0.0]
azimuth_deg = 90
separation_m = 0.01
electrode_diameter_m = 0.002

[[species]]
name = "Raja clavata"
aliases = ["thornback ray"]

[schedule]
rule = "uniform"

[analysis]
pass_radius_cm = 16
reaction_time_s = 0.08
`),
		"trials.csv": []byte(`trial,start,end,active_pair,current_uA,waveform,observers,note
T1,2026-06-01T21:00,2026-06-01T21:40,A,9.0,sine,"Aoife Byrne, Tom Kett",calm
T2,2026-06-01T22:00,2026-06-01T22:40,none,9.0,,Tom Kett,
T3,2026-06-02T21:00,2026-06-02T21:40,B,6,sine,Tom Kett,swell
`),
		"passes.csv": []byte(`pass,trial,time,individual,species,pair,turned,bit,onset_s,scorer
P1,T1,2026-06-01T21:03,R1,thornback ray,A,yes,no,0.5,Aoife Byrne
P2,T1,2026-06-01T21:09,R2,thornback ray,B,no,no,,Aoife Byrne
P3,T2,2026-06-01T22:15,R1,thornback ray,A,no,no,,Tom Kett
P4,T3,2026-06-02T21:20,R2,thornback ray,B,yes,yes,0.25,Tom Kett
`),
		"tracks.csv": []byte(`pass,t_s,x_cm,y_cm,height_cm
P1,0,30,5,6
P1,0.5,42,2,5
P1,1,48,0,4
P2,0,-30,5,6
P2,1,-55,-3,6
P3,0,30,5,6
P3,1,60,0,6
P4,0,-30,2,5
P4,0.25,-44,1,4
P4,0.75,-50,0,3
`),
	}
}

// with replaces text in one file of a folder.
func with(t testing.TB, in app.Input, file, old, replacement string) app.Input {
	t.Helper()
	out := maps.Clone(in)
	if !bytes.Contains(in[file], []byte(old)) {
		t.Fatalf("%s does not hold %q", file, old)
	}
	out[file] = bytes.Replace(in[file], []byte(old), []byte(replacement), 1)
	return out
}
