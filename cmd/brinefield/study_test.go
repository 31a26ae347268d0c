package main

import (
	"bytes"
	"crypto/rand"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/season"
	"brinefield/internal/app"
	"brinefield/internal/files"
)

// TestStudyOnTheDisc takes season A through a study on a real shelf: imported,
// edited, undone, closed, opened again, imported once more. What core/season
// makes of the folder alone is what must come out.
func TestStudyOnTheDisc(t *testing.T) {
	in, err := files.ReadSeason("../../testdata/season-a")
	if err != nil {
		t.Fatal(err)
	}
	want := canonicalSeason(t, in)
	dir := t.TempDir()
	window := func() *app.Studies {
		return app.NewStudies(app.StudiesOptions{Shelf: newShelf(dir), ShelfName: dir, Clock: time.Now, Random: rand.Reader, Background: t.Context()})
	}

	s := window()
	if n := importFolder(t, s, "", "tank 3", in); n < 100 {
		t.Errorf("only %d entries", n)
	}
	sameSeason(t, "imported", want, writtenSeason(t, s, "tank 3"))
	study, err := s.Study(t.Context(), "tank 3")
	if err != nil {
		t.Fatal(err)
	}
	done, err := study.Edit(t.Context(), app.EditRequest{Author: "Nora Quill", Changes: []app.CellChange{
		{Kind: "pass", ID: "P00001", Field: "scorer", From: "MK", To: "Nora Quill"},
		{Kind: "trial", ID: "T001", Field: "active_pair", From: "D", To: "A"},
	}})
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range done.Entries {
		if _, err := study.Undo(t.Context(), app.UndoRequest{Entry: e.Entry}); err != nil {
			t.Fatal(err)
		}
	}
	sameSeason(t, "edited and undone", want, writtenSeason(t, s, "tank 3"))
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}

	s = window()
	defer func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}()
	home, err := s.Home(t.Context())
	if err != nil || len(home.Studies) != 1 || home.Studies[0].Problem != "" || home.Studies[0].Trials == 0 {
		t.Errorf("home: %+v, %v", home, err)
	}
	sameSeason(t, "opened again", want, writtenSeason(t, s, "tank 3"))
	if n := importFolder(t, s, "tank 3", "tank 3", in); n != 0 {
		t.Errorf("%d entries for the same folder", n)
	}
	corrected := app.Input{}
	for name, data := range in {
		corrected[name] = data
	}
	corrected["passes.csv"] = bytes.Replace(in["passes.csv"], []byte(",MK\n"), []byte(",Tom Kett\n"), 2)
	if n := importFolder(t, s, "tank 3", "tank 3", corrected); n != 3 { // two passes, and the import itself
		t.Errorf("%d entries for two corrections", n)
	}
	sameSeason(t, "corrected", canonicalSeason(t, corrected), writtenSeason(t, s, "tank 3"))
	namesOnlyWhereTheyCanBeErased(t, filepath.Join(dir, "tank 3"))
}

func importFolder(t *testing.T, s *app.Studies, into, name string, in app.Input) int {
	t.Helper()
	request := app.PlanRequest{Study: into}
	for file, data := range in {
		request.Files = append(request.Files, app.FileUpload{Name: file, Data: data})
	}
	plan, err := s.Plan(t.Context(), request)
	if err != nil || plan.Plan == "" {
		t.Fatalf("%v, %+v", err, plan.Faults)
	}
	done, err := s.Import(t.Context(), app.ImportRequest{Plan: plan.Plan, Study: name, Author: "Nora Quill"})
	if err != nil {
		t.Fatal(err)
	}
	return done.Entries
}

func canonicalSeason(t *testing.T, in app.Input) app.Input {
	t.Helper()
	s, faults := season.Read(season.Files(in), season.Options{Zone: time.LoadLocation})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	out, err := season.Write(s)
	if err != nil {
		t.Fatal(err)
	}
	return app.Input(out)
}

func writtenSeason(t *testing.T, s *app.Studies, name string) app.Input {
	t.Helper()
	study, err := s.Study(t.Context(), name)
	if err != nil {
		t.Fatal(err)
	}
	out, err := study.ExportStudy(t.Context(), false)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func sameSeason(t *testing.T, what string, want, got app.Input) {
	t.Helper()
	for name, data := range want {
		if !bytes.Equal(data, got[name]) {
			t.Errorf("%s: %s differs: %.1500s", what, name, cmp.Diff(string(data), string(got[name])))
		}
	}
}

// namesOnlyWhereTheyCanBeErased looks for a name in every file of the study's
// databases: only the store that can erase may hold it. The files of an import
// are kept as they came, in the guarded part.
func namesOnlyWhereTheyCanBeErased(t *testing.T, dir string) {
	t.Helper()
	for _, pattern := range []string{"study.db", "study.db-wal"} {
		data, err := os.ReadFile(filepath.Join(dir, pattern))
		if os.IsNotExist(err) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range []string{"Nora Quill", "Tom Kett"} {
			if bytes.Contains(data, []byte(name)) {
				t.Errorf("%s stands in %s", name, pattern)
			}
		}
	}
}
