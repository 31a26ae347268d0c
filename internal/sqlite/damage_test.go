package sqlite

import (
	"database/sql"
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"brinefield/internal/app"
)

// withFile is a closed study of some entries; change is done to the file.
func withFile(t *testing.T, entries int, file string, change func([]byte) []byte) string {
	t.Helper()
	dir := t.TempDir()
	s := mustCreate(t, dir)
	appendTrials(t, s, entries)
	if _, err := s.Guarded().PutAssignments(t.Context(), []app.Assignment{{"active_pair": "A"}}); err != nil {
		t.Fatal(err)
	}
	mustClose(t, s)
	path := filepath.Join(dir, file)
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if data = change(data); data == nil {
		err = os.Remove(path)
	} else {
		err = os.WriteFile(path, data, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	return dir
}

func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	for _, name := range []string{StudyFile, GuardedFile, deviceFile} {
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			t.Fatal(err)
		}
		all[name] = string(data)
	}
	return all
}

// The offsets are those of SQLite's documentation of its file format: page
// size at 16, page count at 28, 100 bytes of header (from memory).
func TestDamageIsFoundAtOpening(t *testing.T) {
	for _, c := range []struct {
		name, file string
		change     func([]byte) []byte
		want       string
	}{
		{"cut off in a page", StudyFile, func(b []byte) []byte { return b[:len(b)-1000] }, "cut off"},
		{"pages missing", StudyFile, func(b []byte) []byte { return b[:len(b)-3*4096] }, "cut off"},
		{"a few bytes left", StudyFile, func(b []byte) []byte { return b[:57] }, "cut off"},
		{"nothing left", StudyFile, func([]byte) []byte { return []byte{} }, "empty"},
		{"another file", StudyFile, func(b []byte) []byte { return []byte(strings.Repeat("trial,start,end\n", 600)) }, "something else was written over it"},
		{"header", StudyFile, func(b []byte) []byte { binary.BigEndian.PutUint16(b[16:], 777); return b }, "damaged"},
		{"zeros in the middle", StudyFile, func(b []byte) []byte { clear(b[len(b)/2 : len(b)/2+8192]); return b }, "study.db"},
		{"one digit of an entry", StudyFile, func(b []byte) []byte {
			return []byte(strings.ReplaceAll(string(b), `"seq":150,`, `"seq":151,`))
		}, "changed"},
		{"guarded cut off", GuardedFile, func(b []byte) []byte { return b[:len(b)-4096] }, "guarded.db"},
		{"guarded gone", GuardedFile, func([]byte) []byte { return nil }, "guarded.db, which holds the active pairs and the imported files, is missing"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := withFile(t, 200, c.file, c.change)
			before := contents(t, dir)
			opt, _ := options()
			s, err := Open(dir, opt)
			if err == nil {
				_ = s.Close()
			}
			var damaged *app.DamagedError
			if !errors.As(err, &damaged) {
				t.Fatalf("opened with %v", err)
			}
			if text := strings.Join(damaged.What, "; "); !strings.Contains(text, c.want) || damaged.Study != filepath.Base(dir) || damaged.Backup != "" {
				t.Errorf("%+v does not say %q", damaged, c.want)
			}
			for name, was := range before {
				if contents(t, dir)[name] != was {
					t.Errorf("%s was changed", name)
				}
			}
		})
	}
}

func TestNoStudy(t *testing.T) {
	opt, _ := options()
	for _, dir := range []string{t.TempDir(), filepath.Join(t.TempDir(), "nowhere")} {
		if _, err := Open(dir, opt); !errors.Is(err, app.ErrNotAStudy) {
			t.Errorf("%v", err)
		}
	}
	if _, err := Create(filepath.Join(t.TempDir(), "nowhere"), opt); err == nil {
		t.Error("made a study nowhere")
	}
}

func TestGuardedOfAnotherStudy(t *testing.T) {
	a, b := t.TempDir(), t.TempDir()
	for i, dir := range []string{a, b} {
		opt, _ := options()
		opt.Random = &countingReader{byte(i)}
		s, err := Create(dir, opt)
		if err != nil {
			t.Fatal(err)
		}
		mustClose(t, s)
	}
	data, err := os.ReadFile(filepath.Join(b, GuardedFile))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(a, GuardedFile), data, 0o600); err != nil {
		t.Fatal(err)
	}
	opt, _ := options()
	_, err = Open(a, opt)
	var damaged *app.DamagedError
	if !errors.As(err, &damaged) || !strings.Contains(err.Error(), "belongs to another study") {
		t.Error(err)
	}
}

type countingReader struct{ next byte }

func (r *countingReader) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = r.next
		r.next += 7
	}
	return len(p), nil
}

// meddle changes a closed study behind the program's back.
func meddle(t *testing.T, dir, file string, statements ...string) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, file))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, s := range statements {
		if _, err := db.Exec(s); err != nil {
			t.Fatal(s, err)
		}
	}
}

func TestRecordsBehindTheJournal(t *testing.T) {
	dir := t.TempDir()
	s := mustCreate(t, dir)
	appendTrials(t, s, 20)
	want := dump(t, s.read)
	mustClose(t, s)
	for _, meddling := range [][]string{
		{"DELETE FROM record WHERE rank > 15", "UPDATE device SET position = 15, seq = 15"},
		{"DELETE FROM record", "DELETE FROM device"},
		{"UPDATE meta SET value = 'form 0' WHERE name = 'folded by'", "UPDATE record SET body = '{}'"},
	} {
		meddle(t, dir, StudyFile, meddling...)
		opt, _ := options()
		opt.ReadOnly = true
		if _, err := Open(dir, opt); !errors.Is(err, app.ErrReadOnly) {
			t.Errorf("%s: read-only: %v", meddling, err)
		}
		opt.ReadOnly = false
		s := mustOpen(t, dir, opt)
		if strings.Join(dump(t, s.read), "\n") != strings.Join(want, "\n") {
			t.Errorf("%s: the records were not made again", meddling)
		}
		if told := len(s.Notes()) == 1; told != strings.HasPrefix(meddling[0], "DELETE") {
			t.Errorf("%s: notes %v", meddling, s.Notes())
		}
		mustClose(t, s)
	}
}

func TestRebuildMendsAndTells(t *testing.T) {
	dir := t.TempDir()
	s := mustCreate(t, dir)
	appendTrials(t, s, 20)
	want := dump(t, s.read)
	for _, meddling := range []string{
		"UPDATE record SET body = '{\"fields\":{\"note\":\"warm\"}}' WHERE rank = 3",
		"DELETE FROM record WHERE rank = 20",
		"INSERT INTO record VALUES (99, 'trial', 'T99', '', '', 1, 0, '{}')",
		"UPDATE record SET removed = 1 WHERE rank = 7",
		"UPDATE device SET wall_ms = wall_ms + 1",
	} {
		mustClose(t, s)
		meddle(t, dir, StudyFile, meddling)
		opt, _ := options()
		s = mustOpen(t, dir, opt)
		if wrong, err := s.Check(t.Context(), true, nil); err != nil || len(wrong) != 1 {
			t.Errorf("%s: the check says %q, %v", meddling, wrong, err)
		}
		if same, err := s.Journal().Rebuild(t.Context(), nil); err != nil || same {
			t.Errorf("%s: rebuilt: same %v, %v", meddling, same, err)
		}
		if strings.Join(dump(t, s.read), "\n") != strings.Join(want, "\n") {
			t.Errorf("%s: not mended", meddling)
		}
		if wrong, err := s.Check(t.Context(), true, nil); err != nil || len(wrong) != 0 {
			t.Errorf("%s: afterwards the check says %q, %v", meddling, wrong, err)
		}
	}
}

// What a full check finds and an opening of a large study does not look for.
func TestFullCheck(t *testing.T) {
	for _, c := range []struct{ file, drop, meddling, want string }{
		{StudyFile, "entry_not_changed", "UPDATE entry SET subject = 'T7' WHERE position = 2", "filed under another entry's name"},
		{StudyFile, "entry_not_changed", "UPDATE entry SET canonical = CAST(replace(CAST(canonical AS TEXT), 'calm', 'warm') AS BLOB) WHERE position = 2", "bytes were changed"},
		{StudyFile, "entry_not_deleted", "DELETE FROM entry WHERE position = 2", "lacks the entries 2 to 2"},
		{GuardedFile, "assignment_not_changed", "UPDATE assignment SET body = CAST('{\"active_pair\":\"B\"}' AS BLOB)", "was changed"},
		{GuardedFile, "original_not_changed", "UPDATE original SET data = x'00'", "its hash is not the one"},
	} {
		dir := t.TempDir()
		s := mustCreate(t, dir)
		appendTrials(t, s, 5)
		if _, err := s.Guarded().PutAssignments(t.Context(), []app.Assignment{{"active_pair": "A"}}); err != nil {
			t.Fatal(err)
		}
		if err := s.Guarded().PutOriginals(t.Context(), "import 1", app.Input{"a.csv": []byte("a")}); err != nil {
			t.Fatal(err)
		}
		if wrong, err := s.Check(t.Context(), true, nil); err != nil || len(wrong) > 0 {
			t.Fatal(wrong, err)
		}
		meddle(t, dir, c.file, "DROP TRIGGER "+c.drop, c.meddling)
		wrong, err := s.Check(t.Context(), true, nil)
		if err != nil {
			t.Fatal(err)
		}
		if text := strings.Join(wrong, "; "); !strings.Contains(text, c.want) {
			t.Errorf("%s: %q, not %q", c.meddling, text, c.want)
		}
	}
}
