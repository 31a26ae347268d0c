package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"brinefield/core/journal"
	"brinefield/core/study"
	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

// options are those of a test: an invented clock that ticks, and the same
// chance each time.
func options() (Options, *storetest.Clock) {
	clock := &storetest.Clock{Now: time.Date(2026, 6, 1, 10, 0, 0, 0, time.UTC)}
	return Options{
		Clock:     func() time.Time { return clock.Now },
		Monotonic: func() time.Duration { return time.Second },
		Random:    rand.NewChaCha8([32]byte{1}), Run: "0123456789abcdef", Program: "1.2.3",
	}, clock
}

func mustOpen(t testing.TB, dir string, opt Options) *Study {
	t.Helper()
	s, err := Open(dir, opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.disconnect() })
	return s
}

func mustCreate(t testing.TB, dir string) *Study {
	t.Helper()
	opt, _ := options()
	s, err := Create(dir, opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.disconnect() })
	return s
}

func mustClose(t testing.TB, s *Study) {
	t.Helper()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestPromises(t *testing.T) {
	storetest.Run(t, func(t *testing.T) storetest.Stores {
		dir, opt := t.TempDir(), Options{}
		opt, clock := options()
		s, err := Create(dir, opt)
		if err != nil {
			t.Fatal(err)
		}
		return stores(t, dir, s, opt, clock)
	})
}

func stores(t *testing.T, dir string, s *Study, opt Options, clock *storetest.Clock) storetest.Stores {
	t.Cleanup(func() { _ = s.disconnect() })
	return storetest.Stores{
		Journal: s.Journal(), Guarded: s.Guarded(), Clock: clock,
		Again: func(t *testing.T) storetest.Stores { return stores(t, dir, mustOpen(t, dir, opt), opt, clock) },
		Plain: func(t *testing.T) []string { return dump(t, s.read) },
	}
}

// dump gives every row of the journal and of what is derived from it.
func dump(t testing.TB, db *sql.DB) (rows []string) {
	t.Helper()
	for _, query := range []string{
		"SELECT position, id, device, seq, kind, subject, lower(hex(hash)), CAST(canonical AS TEXT) FROM entry ORDER BY position",
		"SELECT rank, kind, id, first, last, entries, removed, body FROM record ORDER BY rank",
		"SELECT id, position, seq, lower(hex(hash)), last, wall_ms FROM device ORDER BY id",
		"SELECT name, value FROM meta ORDER BY name",
	} {
		rows = append(rows, queryAll(t, db, query)...)
	}
	return rows
}

func queryAll(t testing.TB, db *sql.DB, query string) (lines []string) {
	t.Helper()
	rows, err := db.Query(query)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	for rows.Next() {
		cells := make([]any, len(columns))
		for i := range cells {
			cells[i] = new(any)
		}
		if err := rows.Scan(cells...); err != nil {
			t.Fatal(err)
		}
		var line strings.Builder
		for _, c := range cells {
			line.WriteString(fmt.Sprint(*c.(*any)) + "|")
		}
		lines = append(lines, line.String())
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return lines
}

func trial(id, note string) journal.Draft {
	return journal.Draft{Kind: study.KindTrial, Subject: id, Act: journal.Record, Body: journal.Body{Fields: map[string]string{"start": "2026-06-01T10:00", "note": note}}}
}

func appendTrials(t testing.TB, s *Study, n int) []journal.Entry {
	t.Helper()
	drafts := make([]journal.Draft, n)
	for i := range drafts {
		drafts[i] = trial(fmt.Sprintf("T%05d", i), "calm")
	}
	entries, err := s.Journal().Append(t.Context(), drafts)
	if err != nil {
		t.Fatal(err)
	}
	return entries
}

func TestClosedStudyIsOneFileEach(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "Bantry 50% #1 ü?&x=1")
	if runtime.GOOS == "windows" {
		dir = filepath.Join(t.TempDir(), "Bantry 50% #1 ü&x=1")
	}
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	s := mustCreate(t, dir)
	appendTrials(t, s, 3)
	if _, err := os.Stat(filepath.Join(dir, StudyFile+"-wal")); err != nil {
		t.Errorf("no log is in use: %v", err)
	}
	mustClose(t, s)
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range files {
		names = append(names, f.Name())
		if info, err := f.Info(); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
			t.Errorf("%s has mode %v (%v)", f.Name(), info.Mode(), err)
		}
	}
	if got := strings.Join(names, " "); got != "device guarded.db study.db" {
		t.Errorf("a closed study has the files %s", got)
	}
	opt, _ := options()
	if s, err := Create(dir, opt); err == nil {
		t.Error("a study was made over another", s)
	}
	again := mustOpen(t, dir, opt)
	if h, err := again.Journal().Head(t.Context()); err != nil || h.Entries != 3 {
		t.Errorf("%+v, %v", h, err)
	}
	if len(again.Notes()) != 0 {
		t.Errorf("notes %v", again.Notes())
	}
}

// What the database promises of itself, whoever writes to it.
func TestJournalRefusesChange(t *testing.T) {
	s := mustCreate(t, t.TempDir())
	appendTrials(t, s, 2)
	before := dump(t, s.read)
	for _, attempt := range []string{
		"UPDATE entry SET subject = 'T7' WHERE position = 1",
		"DELETE FROM entry WHERE position = 2",
		"INSERT OR REPLACE INTO entry SELECT position, id, 'other', seq, kind, subject, hash, canonical FROM entry WHERE position = 2",
		"INSERT INTO entry SELECT 7, 'x', device, 7, kind, subject, hash, canonical FROM entry WHERE position = 2",
		"INSERT INTO entry SELECT 3, 'x', device, 2, kind, subject, hash, canonical FROM entry WHERE position = 2",
		"INSERT INTO entry SELECT 3, id, device, 3, kind, subject, hash, canonical FROM entry WHERE position = 2",
	} {
		if _, err := s.write.ExecContext(t.Context(), attempt); err == nil {
			t.Errorf("the database let through: %s", attempt)
		}
		if _, err := s.read.Exec(attempt); err == nil {
			t.Errorf("a reader may write: %s", attempt)
		}
	}
	if got := dump(t, s.read); strings.Join(got, "\n") != strings.Join(before, "\n") {
		t.Error("the journal was changed")
	}
	for _, attempt := range []string{
		"UPDATE assignment SET body = x'00'", "DELETE FROM assignment", "UPDATE original SET data = x'00'", "DELETE FROM original",
	} {
		if _, err := s.Guarded().PutAssignments(t.Context(), []app.Assignment{{"active_pair": "A"}}); err != nil {
			t.Fatal(err)
		}
		_ = s.Guarded().PutOriginals(t.Context(), "import 1", app.Input{"a": nil})
		if _, err := s.writeGuarded.ExecContext(t.Context(), attempt); err == nil {
			t.Errorf("the database let through: %s", attempt)
		}
	}
}

// The settings that durability rests on, as SQLite's documentation of PRAGMA
// names their values.
func TestDurableSettings(t *testing.T) {
	s := mustCreate(t, t.TempDir())
	for _, w := range []*writer{s.write, s.writeGuarded} {
		for pragma, want := range map[string]string{"journal_mode": "wal", "synchronous": "2", "fullfsync": "1", "checkpoint_fullfsync": "1", "foreign_keys": "1", "busy_timeout": "10000"} {
			var got string
			if err := w.QueryRowContext(t.Context(), "PRAGMA "+pragma).Scan(&got); err != nil || got != want {
				t.Errorf("%s is %s, not %s (%v)", pragma, got, want, err)
			}
		}
	}
}

func TestLongAppendIsLinear(t *testing.T) {
	s := mustCreate(t, t.TempDir())
	const passes = 2000
	drafts := make([]journal.Draft, 0, 2*passes)
	for i := range passes {
		id := fmt.Sprintf("P%05d", i)
		drafts = append(drafts, journal.Draft{Kind: study.KindPass, Subject: id, Act: journal.Record, Body: journal.Body{Fields: map[string]string{"trial": "T1"}}}, track(id))
	}
	if _, err := s.Journal().Append(t.Context(), drafts); err != nil {
		t.Fatal(err)
	}
	for _, query := range []string{
		"SELECT * FROM record WHERE kind = 'pass' AND removed = 0",
		"SELECT canonical, hash FROM entry WHERE kind = 'pass' AND subject = 'P00001' ORDER BY position",
		"SELECT position FROM entry WHERE (kind, subject, position) > ('pass', 'P00001', 3) ORDER BY kind, subject, position LIMIT 500",
	} {
		plan := strings.Join(queryAll(t, s.read, "EXPLAIN QUERY PLAN "+query), "\n")
		if !strings.Contains(plan, "SEARCH") || strings.Contains(plan, "TEMP B-TREE") {
			t.Errorf("%s\nsorts or reads everything: %s", query, plan)
		}
	}
}

func track(pass string) journal.Draft {
	rows := make([][]string, 10)
	for i := range rows {
		rows[i] = []string{fmt.Sprintf("%.1f", float64(i)/10), fmt.Sprintf("%.2f", 30-float64(i)*2.25), "-3.5", "7.6"}
	}
	return journal.Draft{Kind: study.KindTrack, Subject: pass, Act: journal.Record, Body: journal.Body{Table: &study.Table{Columns: []string{"t_s", "x_cm", "y_cm", "height_cm"}, Rows: rows}}}
}

// brokenReader gives a few bytes and no more.
type brokenReader struct{ left int }

func (r *brokenReader) Read(p []byte) (int, error) {
	if len(p) > r.left {
		return 0, io.ErrUnexpectedEOF
	}
	r.left -= len(p)
	return len(p), nil
}

func TestWithoutChance(t *testing.T) {
	dir := t.TempDir()
	s := mustCreate(t, dir)
	mustClose(t, s)
	opt, _ := options()
	opt.Random = &brokenReader{left: 24 + 10}
	s = mustOpen(t, dir, opt)
	before := dump(t, s.read)
	if _, err := s.Journal().Append(context.Background(), []journal.Draft{trial("T1", "a"), trial("T2", "b")}); err == nil {
		t.Error("an entry was made without chance")
	}
	if strings.Join(dump(t, s.read), "\n") != strings.Join(before, "\n") {
		t.Error("half an append was left")
	}
}

// freshRandom is another chance each time.
func freshRandom() io.Reader {
	return rand.NewChaCha8([32]byte{2, byte(counter.Add(1)), byte(counter.Load() >> 8)})
}

var counter atomic.Int64
