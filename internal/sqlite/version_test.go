package sqlite

import (
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

// For a new version: UPDATE=1 go test ./internal/sqlite -run EveryVersion stores
// a study of it in testdata/schema-N, once. One that is there stays as it is.

// stored is what a stored study of some version must be found to hold.
type stored struct {
	States      []journal.State
	Entries     []journal.Entry
	Refs        []string
	Assignments []app.Assignment
}

func readStored(t *testing.T, s *Study, refs []string) stored {
	t.Helper()
	got := stored{Refs: refs}
	var err error
	if got.States, err = s.Journal().States(t.Context()); err != nil {
		t.Fatal(err)
	}
	for e, err := range s.Journal().All(t.Context()) {
		if err != nil {
			t.Fatal(err)
		}
		entry, err := journal.Parse(e.Canonical)
		if err != nil {
			t.Fatal(err)
		}
		got.Entries = append(got.Entries, entry)
	}
	if got.Assignments, err = s.Guarded().Assignments(t.Context(), storetest.Granted(), refs); err != nil {
		t.Fatal(err)
	}
	return got
}

func TestEveryVersionOpens(t *testing.T) {
	last, err := newest(ownMigrations().study)
	if err != nil {
		t.Fatal(err)
	}
	folders, err := filepath.Glob("testdata/schema-*")
	if err != nil {
		t.Fatal(err)
	}
	if os.Getenv("UPDATE") != "" {
		folders = append(folders, storeVersion(t, last)...)
	}
	if len(folders) != int(last) {
		t.Fatalf("stored studies %v, versions 1 to %d: store one of each (see the top of this file)", folders, last)
	}
	for _, folder := range folders {
		t.Run(filepath.Base(folder), func(t *testing.T) {
			text, err := os.ReadFile(filepath.Join(folder, "holds.json"))
			if err != nil {
				t.Fatal(err)
			}
			var want stored
			if err := json.Unmarshal(text, &want); err != nil {
				t.Fatal(err)
			}
			dir := t.TempDir()
			if err := os.CopyFS(dir, os.DirFS(folder)); err != nil {
				t.Fatal(err)
			}
			opt, _ := options()
			s := mustOpen(t, dir, opt)
			if diff := cmp.Diff(want, readStored(t, s, want.Refs)); diff != "" {
				t.Errorf("(-stored +opened):\n%s", diff)
			}
			if wrong, err := s.Check(t.Context(), true, nil); err != nil || len(wrong) > 0 {
				t.Errorf("%q, %v", wrong, err)
			}
			appendTrials(t, s, 1)
			mustClose(t, s)
		})
	}
}

func storeVersion(t *testing.T, version int64) []string {
	folder := filepath.Join("testdata", "schema-"+string(rune('0'+version)))
	if err := os.Mkdir(folder, 0o755); errors.Is(err, fs.ErrExist) {
		return nil
	} else if err != nil {
		t.Fatal(err)
	}
	s := mustCreate(t, t.TempDir())
	refs, err := s.Guarded().PutAssignments(t.Context(), []app.Assignment{{"active_pair": "A", "current_uA": "6.0"}, {"active_pair": "none"}})
	if err != nil {
		t.Fatal(err)
	}
	for _, drafts := range [][]journal.Draft{
		{
			{Kind: study.KindStudy, Act: journal.Record, Body: journal.Body{Fields: map[string]string{"title": "Invented: thornback rays in Ballyquiet Bay"}}},
			trial("T1", "calm"), trial("T2", "choppy, \"two\" divers; 5 µA"), track("P1"),
			{Kind: study.KindAssignment, Subject: "T1", Act: journal.Record, Body: journal.Body{Fields: map[string]string{"ref": refs[0]}}},
		},
		{
			{Kind: study.KindTrial, Subject: "T1", Act: journal.Correct, Reason: "misread", Body: journal.Body{Fields: map[string]string{"note": ""}, Was: map[string]string{"note": "calm"}}},
			{Kind: study.KindTrial, Subject: "T2", Act: journal.Remove},
		},
	} {
		if _, err := s.Journal().Append(t.Context(), drafts); err != nil {
			t.Fatal(err)
		}
	}
	text, err := json.MarshalIndent(readStored(t, s, refs), "", " ")
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Snapshot(t.Context(), folder); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, "holds.json"), append(text, '\n'), 0o644); err != nil {
		t.Fatal(err)
	}
	return []string{folder}
}

// inventedSteps are this program's steps with more behind them, as a later
// program would have: up to version last.
func inventedSteps(t testing.TB, last int) *migrations {
	t.Helper()
	more := []string{
		2: "-- +goose Up\nCREATE TABLE invented (number INTEGER PRIMARY KEY, text TEXT NOT NULL) STRICT;\nINSERT INTO invented (text) SELECT subject FROM entry;\n",
		3: "-- +goose Up\nALTER TABLE invented ADD COLUMN more TEXT;\nUPDATE invented SET more = text || '!';\n",
	}
	text, err := fs.ReadFile(ownMigrations().study, "00001_journal.sql")
	if err != nil {
		t.Fatal(err)
	}
	steps := fstest.MapFS{"00001_journal.sql": {Data: text}}
	for v := 2; v <= last; v++ {
		steps["0000"+string(rune('0'+v))+"_invented.sql"] = &fstest.MapFile{Data: []byte(more[v])}
	}
	return &migrations{study: steps, guarded: ownMigrations().guarded}
}

func TestOlderStudyIsBroughtUp(t *testing.T) {
	dir := t.TempDir()
	s := mustCreate(t, dir)
	appendTrials(t, s, 10)
	before := dump(t, s.read)
	mustClose(t, s)
	untouched := contents(t, dir)

	opt, _ := options()
	opt.migrations = inventedSteps(t, 3)
	opt.ReadOnly = true
	if _, err := Open(dir, opt); !errors.Is(err, app.ErrReadOnly) || !strings.Contains(err.Error(), "version 1 and must first be brought to version 3") {
		t.Errorf("read-only: %v", err)
	}
	opt.ReadOnly = false
	full := errors.New("no room for a backup")
	opt.BeforeMigration = func(from, to int64) error { return full }
	if _, err := Open(dir, opt); !errors.Is(err, full) {
		t.Errorf("without a backup: %v", err)
	}
	if diff := cmp.Diff(untouched, contents(t, dir)); diff != "" {
		t.Error("a study was changed without a backup")
	}

	backup, calls := t.TempDir(), 0
	opt.BeforeMigration = func(from, to int64) error {
		calls++
		if from != 1 || to != 3 {
			t.Errorf("from %d to %d", from, to)
		}
		return Copy(t.Context(), dir, backup)
	}
	s = mustOpen(t, dir, opt)
	if diff := cmp.Diff(before, dump(t, s.read)); diff != "" || calls != 1 {
		t.Errorf("%d backups; the study was changed:\n%s", calls, diff)
	}
	if got := queryAll(t, s.read, "SELECT count(*), max(more) FROM invented"); got[0] != "10|T00009!|" {
		t.Errorf("the steps did not run: %v", got)
	}
	mustClose(t, s)

	// The backup is a whole study of the older version.
	old, _ := options()
	if s, err := Open(backup, old); err != nil {
		t.Error(err)
	} else {
		mustClose(t, s)
	}
	// This program refuses the newer one and says who can read it.
	newer := contents(t, dir)
	_, err := Open(dir, old)
	var refused *app.NewerStudyError
	if !errors.As(err, &refused) || refused.Found != 3 || refused.Max != 1 || refused.WrittenWith != "1.2.3" || refused.Study != filepath.Base(dir) {
		t.Errorf("a newer study: %v", err)
	}
	if diff := cmp.Diff(newer, contents(t, dir)); diff != "" {
		t.Error("a newer study was changed")
	}
}

// A step that fails takes back all that it did.
func TestFailedStep(t *testing.T) {
	dir := t.TempDir()
	s := mustCreate(t, dir)
	appendTrials(t, s, 10)
	before := dump(t, s.read)
	mustClose(t, s)
	opt, _ := options()
	opt.migrations = inventedSteps(t, 2)
	opt.migrations.study.(fstest.MapFS)["00003_bad.sql"] = &fstest.MapFile{Data: []byte("-- +goose Up\nDROP TABLE record;\nDROP TABLE invented;\nSELECT nothing FROM nowhere;\n")}
	if _, err := Open(dir, opt); err == nil {
		t.Fatal("a step that cannot run was taken for done")
	}
	opt.migrations = inventedSteps(t, 2)
	s = mustOpen(t, dir, opt)
	if diff := cmp.Diff(before, dump(t, s.read)); diff != "" {
		t.Error(diff)
	}
	if got := queryAll(t, s.read, "SELECT count(*) FROM invented"); got[0] != "10|" {
		t.Errorf("version 2 is not whole: %v", got)
	}
}

func TestReadOnly(t *testing.T) {
	dir := t.TempDir()
	s := mustCreate(t, dir)
	appendTrials(t, s, 10)
	want := dump(t, s.read)
	opt, _ := options()
	opt.ReadOnly = true
	look := func(what string) {
		t.Helper()
		r := mustOpen(t, dir, opt)
		if diff := cmp.Diff(want, dump(t, r.read)); diff != "" {
			t.Errorf("%s: %s", what, diff)
		}
		if _, err := r.Journal().Append(t.Context(), []journal.Draft{trial("T1", "x")}); !errors.Is(err, app.ErrReadOnly) {
			t.Errorf("%s: append: %v", what, err)
		}
		if _, err := r.Guarded().PutAssignments(t.Context(), nil); !errors.Is(err, app.ErrReadOnly) {
			t.Errorf("%s: assignments: %v", what, err)
		}
		if _, err := r.Journal().Rebuild(t.Context(), nil); !errors.Is(err, app.ErrReadOnly) {
			t.Errorf("%s: rebuild: %v", what, err)
		}
		if wrong, err := r.Check(t.Context(), true, nil); err != nil || len(wrong) > 0 {
			t.Errorf("%s: check: %q, %v", what, wrong, err)
		}
		if err := r.Snapshot(t.Context(), t.TempDir()); err != nil {
			t.Errorf("%s: snapshot: %v", what, err)
		}
		mustClose(t, r)
	}
	look("beside a window that writes")
	appendTrials(t, s, 1) // the reader did not take its files away
	want = dump(t, s.read)
	look("again")
	mustClose(t, s)
	before := contents(t, dir)
	look("closed")
	if diff := cmp.Diff(before, contents(t, dir)); diff != "" {
		t.Error("reading changed the study")
	}
	if runtime.GOOS != "linux" || os.Getuid() != 0 {
		t.Skip("a disc that cannot be written is made with a mount, which needs root on Linux")
	}
	mountReadOnly(t, dir)
	look("on a disc that cannot be written")
	opt.ReadOnly = false
	if s, err := Open(dir, opt); !errors.Is(err, app.ErrReadOnly) {
		t.Errorf("opened for writing on such a disc: %v, %v", s, err)
	}
}
