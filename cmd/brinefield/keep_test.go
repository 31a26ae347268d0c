package main

import (
	"bytes"
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"brinefield/core/journal"
	"brinefield/internal/app"
)

// The plain export: written when it is a day old and something has moved, with
// a journal whose chain can be checked and a text that explains it.
func TestNightlyExport(t *testing.T) {
	dir, clock := t.TempDir(), newClock()
	d := openDesk(t, dir, clock)
	s := d.importNew(t, "bay", smallSeason(t), app.ImportRequest{Blind: true})
	exported := func() time.Time {
		t.Helper()
		return must(time.Parse(time.RFC3339, must(d.Home(t.Context())).Studies[0].Exported))
	}
	d.ExportDue(t.Context())
	first := exported()
	checkExport(t, filepath.Join(dir, "bay", "export"))
	for _, k := range []struct {
		what    string
		wait    time.Duration
		edit    bool
		written bool
	}{
		{"a day without an entry", 25 * time.Hour, false, false},
		{"an entry, a day after the last", time.Minute, true, true},
		{"an entry, an hour after the last", time.Hour, true, false},
		{"that entry, a day after the last", 23 * time.Hour, false, true},
	} {
		clock.pass(k.wait)
		if k.edit {
			now := must(s.Table(t.Context(), "study", 0, 1))
			i := slices.IndexFunc(now.Columns, func(c app.TableColumn) bool { return c.Name == "question" })
			edit(t, s, "study", "", "question", now.Rows[0].Cells[i], now.Rows[0].Cells[i]+"?")
		}
		d.ExportDue(t.Context())
		if at := exported(); at.After(first) != k.written {
			t.Errorf("%s: exported %v before, %v after; want written %t", k.what, first, at, k.written)
		}
		first = exported()
	}
}

func checkExport(t *testing.T, dir string) {
	t.Helper()
	in := app.Input{}
	for _, name := range []string{"study.toml", "trials.csv", "passes.csv", "tracks.csv"} {
		in[name] = must(os.ReadFile(filepath.Join(dir, name)))
	}
	if _, err := app.ReadSeason(in); err != nil {
		t.Errorf("the export is no season folder: %v", err)
	}
	if bytes.Contains(in["trials.csv"], []byte(",D,")) || !bytes.Contains(in["trials.csv"], []byte("sealed")) {
		t.Errorf("the export of a blind study:\n%s", in["trials.csv"])
	}
	text := string(must(os.ReadFile(filepath.Join(dir, "README.txt"))))
	for _, want := range []string{"sealed", "journal.jsonl", "passes.csv", "SHA-256", "RFC 8785"} {
		if !strings.Contains(text, want) {
			t.Errorf("README.txt does not speak of %s", want)
		}
	}
	var chain *journal.Chain
	for line := range bytes.Lines(must(os.ReadFile(filepath.Join(dir, "journal.jsonl")))) {
		line = bytes.TrimSuffix(line, []byte("\n"))
		if chain == nil {
			chain = &journal.Chain{Device: must(journal.Parse(line)).Device}
		}
		if _, err := chain.Next(line, journal.HashOf(line)); err != nil {
			t.Fatal(err)
		}
	}
}

// A failure to export is said on Home and stops nothing.
func TestExportThatFailsIsANote(t *testing.T) {
	dir := t.TempDir()
	d := openDesk(t, dir, newClock())
	s := d.importNew(t, "bay", smallSeason(t), app.ImportRequest{})
	if err := os.RemoveAll(filepath.Join(dir, "bay", "export")); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "bay", "export"), []byte("not a folder"), 0o600); err != nil {
		t.Fatal(err)
	}
	d.ExportDue(t.Context())
	card := must(d.Home(t.Context())).Studies[0]
	if len(card.Notes)+len(card.Problem) == 0 {
		t.Errorf("Home says nothing: %+v", card)
	}
	edit(t, s, "pass", "P00001", "turned", "no", "yes")
}

// change runs SQL on a database of a closed study, past its guards.
func change(t *testing.T, path string, statements ...string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, statement := range statements {
		if _, err := db.Exec(statement); err != nil {
			t.Fatalf("%s: %v", statement, err)
		}
	}
}

func verify(t *testing.T, d *shelf, name string) (app.VerifyDocument, error) {
	t.Helper()
	folder, err := d.Open(t.Context(), name)
	if err != nil {
		return app.VerifyDocument{}, err
	}
	defer folder.Close()
	return app.VerifyFolder(t.Context(), folder, app.StudiesOptions{Program: program(), Clock: time.Now}, nil)
}

func TestVerifyFindsWhatWasChanged(t *testing.T) {
	for _, k := range []struct {
		what    string
		tamper  func(t *testing.T, dir string)
		differs string // "" = it is refused at opening
	}{
		{"nothing", func(*testing.T, string) {}, "same"},
		{"a record", func(t *testing.T, dir string) {
			change(t, filepath.Join(dir, "study.db"), `UPDATE record SET body = replace(body, '"turned":"no"', '"turned":"yes"') WHERE kind = 'pass' AND id = 'P00001'`)
		}, "pass P00001"},
		{"a record taken away", func(t *testing.T, dir string) {
			change(t, filepath.Join(dir, "study.db"), `DELETE FROM record WHERE kind = 'pass' AND id = 'P00002'`)
		}, "pass P00002"},
		{"an assignment", func(t *testing.T, dir string) {
			change(t, filepath.Join(dir, "guarded.db"), dropTriggers(t, filepath.Join(dir, "guarded.db"))+`UPDATE assignment SET body = CAST(replace(CAST(body AS TEXT), '"D"', '"A"') AS BLOB)`)
		}, "active pair"},
		{"an original", func(t *testing.T, dir string) {
			change(t, filepath.Join(dir, "guarded.db"), dropTriggers(t, filepath.Join(dir, "guarded.db"))+`UPDATE original SET data = zeroblob(length(data)) WHERE name = 'passes.csv'`)
		}, "passes.csv"},
		{"a file", func(t *testing.T, dir string) {
			file := erasableFiles(t, dir)[0]
			data := must(os.ReadFile(file))
			data[len(data)-1] ^= 1
			if err := os.WriteFile(file, data, 0o600); err != nil {
				t.Fatal(err)
			}
		}, "damaged"},
		{"a file taken away", func(t *testing.T, dir string) {
			if err := os.Remove(erasableFiles(t, dir)[0]); err != nil {
				t.Fatal(err)
			}
		}, "missing"},
		{"an entry", func(t *testing.T, dir string) {
			change(t, filepath.Join(dir, "study.db"), dropTriggers(t, filepath.Join(dir, "study.db"))+`UPDATE entry SET canonical = CAST(replace(CAST(canonical AS TEXT), '"turned":"no"', '"turned":"yes"') AS BLOB) WHERE subject = 'P00001' AND kind = 'pass'`)
		}, ""},
		{"the last entry taken away", func(t *testing.T, dir string) {
			change(t, filepath.Join(dir, "study.db"), dropTriggers(t, filepath.Join(dir, "study.db"))+`DELETE FROM entry WHERE position = (SELECT max(position) FROM entry)`)
		}, ""},
	} {
		t.Run(k.what, func(t *testing.T) {
			dir := t.TempDir()
			d := openDesk(t, dir, newClock())
			d.importNew(t, "bay", smallSeason(t), app.ImportRequest{Author: "Ciara (invented)"})
			d.close(t)
			k.tamper(t, filepath.Join(dir, "bay"))
			doc, err := verify(t, d.shelf, "bay")
			var damaged *app.DamagedError
			switch {
			case k.differs == "same":
				if err != nil || !doc.Same {
					t.Errorf("%v, %v", doc.Differences, err)
				}
			case errors.As(err, &damaged):
			case k.differs == "" || err != nil:
				t.Errorf("opened with %v, %v; want damage", doc.Differences, err)
			case !strings.Contains(strings.Join(doc.Differences, "\n"), k.differs):
				t.Errorf("found %v; want something about %q", doc.Differences, k.differs)
			}
		})
	}
}

// dropTriggers are the statements that take the guards of a database away.
func dropTriggers(t *testing.T, path string) string {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.Query("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	drop := ""
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			t.Fatal(err)
		}
		drop += "DROP TRIGGER " + name + "; "
	}
	return drop
}

func erasableFiles(t *testing.T, dir string) []string {
	t.Helper()
	var found []string
	err := filepath.WalkDir(filepath.Join(dir, "files"), func(path string, e fs.DirEntry, err error) error {
		if err == nil && e.Type().IsRegular() && !strings.HasSuffix(path, ".erased") {
			found = append(found, path)
		}
		return err
	})
	if err != nil || len(found) == 0 {
		t.Fatalf("%v, %v", found, err)
	}
	return found
}

// After an erasure no page and no file of the study holds the name, but the
// files of the import as they came, and the program says so.
func TestErasedNameIsNowhere(t *testing.T) {
	const name, other = "Eithne Unmistakable (invented)", "Fiadh (invented)"
	dir := t.TempDir()
	d := openDesk(t, dir, newClock())
	in := smallSeason(t)
	in["passes.csv"] = []byte(strings.ReplaceAll(string(in["passes.csv"]), ",MK", ","+name))
	in["trials.csv"] = []byte(strings.Replace(strings.ReplaceAll(string(in["trials.csv"]), "\n", `,"`+other+", "+name+"\"\n"), `,"`+other+", "+name+`"`, ",observers", 1))
	s := d.importNew(t, "bay", in, app.ImportRequest{Author: name})
	waitFor(t, s)
	d.ExportDue(t.Context())
	if _, err := s.ErasePerson(t.Context(), "Nobody", ""); !errors.Is(err, app.ErrUnknownPerson) || !strings.Contains(err.Error(), name) {
		t.Errorf("an unknown person: %v", err)
	}
	done, err := s.ErasePerson(t.Context(), name, other)
	if err != nil || done.Texts != 2 || done.Corrected == 0 || len(done.StillHeld) != 2 {
		t.Errorf("%+v, %v", done, err)
	}
	if err := s.ExportNow(t.Context()); err != nil {
		t.Fatal(err)
	}
	var zip bytes.Buffer
	must(s.WriteSeason(t.Context(), &zip))
	pages := asJSON(t, must(s.Journal(t.Context(), 0, 1000))) + asJSON(t, must(s.Table(t.Context(), "pass", 0, 1000))) +
		asJSON(t, must(s.Table(t.Context(), "trial", 0, 1000))) + asJSON(t, must(s.Exposures(t.Context()))) + asJSON(t, must(s.History(t.Context(), "pass", "P00001")))
	if strings.Contains(pages, "Unmistakable") {
		t.Error("a page still holds the name")
	}
	if !strings.Contains(pages, "erased person") || !strings.Contains(pages, other) {
		t.Error("the pages do not say that somebody was erased, or have lost the other name")
	}
	d.close(t)
	holdsName(t, filepath.Join(dir, "bay"), "Unmistakable")
	if doc, err := verify(t, d.shelf, "bay"); err != nil || !doc.Same || doc.Erased != 2 {
		t.Errorf("%+v, %v", doc, err)
	}
}

func holdsName(t *testing.T, dir, name string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || !e.Type().IsRegular() || filepath.Base(path) == "guarded.db" {
			return err
		}
		data, err := os.ReadFile(path)
		if bytes.Contains(data, []byte(name)) {
			t.Errorf("%s still holds the name", path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// A second window on the same study is read-only and says who has it; when the
// first is closed, the next one writes.
func TestSecondWindow(t *testing.T) {
	dir := t.TempDir()
	first := openDesk(t, dir, newClock())
	first.importNew(t, "bay", smallSeason(t), app.ImportRequest{})
	second := openDesk(t, dir, newClock())
	s := second.study(t, "bay")
	card := must(second.Home(t.Context())).Studies[0]
	if !card.ReadOnly || len(card.Notes) == 0 || !strings.Contains(card.Notes[0], "another window") || !strings.Contains(card.Notes[0], "process") {
		t.Errorf("%+v", card)
	}
	_, err := s.Edit(t.Context(), app.EditRequest{Changes: []app.CellChange{{Kind: "pass", ID: "P00001", Field: "turned", From: "no", To: "yes"}}})
	if !errors.Is(err, app.ErrReadOnly) {
		t.Errorf("an edit in the second window: %v", err)
	}
	if v := waitFor(t, s); v.State != "current" {
		t.Errorf("the second window cannot analyse: %+v", v)
	}
	second.close(t)
	first.close(t)
	third := openDesk(t, dir, newClock())
	edit(t, third.study(t, "bay"), "pass", "P00001", "turned", "no", "yes")
}
