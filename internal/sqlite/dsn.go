package sqlite

import (
	"context"
	"database/sql"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"
)

// access is how a database is opened.
type access int

const (
	writing access = iota
	querying
	// looking takes the database as it is, and only folds in a log that a
	// killed program has left.
	looking
	// elsewhere reads what another window may be writing.
	elsewhere
	// still reads a database that nobody can write, on a disc where SQLite
	// cannot make the files that it would otherwise need beside it.
	still
)

// The disc must hold an entry before it is acknowledged: synchronous=FULL
// syncs the log at every commit; on macOS only fullfsync reaches the platter.
// A longer log than SQLite's usual is folded in more rarely, and the ends of
// the indexes, which every append changes, then once for many appends.
var pragmas = []string{"busy_timeout(10000)", "synchronous(FULL)", "fullfsync(1)", "checkpoint_fullfsync(1)", "foreign_keys(1)", "recursive_triggers(1)"}

// SQLite's builds for Linux sync with fdatasync; this one is asked to.
var useFdatasync = sync.OnceFunc(func() {
	_, _ = sqlite.Fdatasync(true) // an error only where the system has none
})

func dataSource(path string, a access) string {
	slashed := filepath.ToSlash(path)
	if !strings.HasPrefix(slashed, "/") {
		slashed = "/" + slashed // C:/… on Windows
	}
	q := url.Values{"_pragma": pragmas, "_txlock": {"immediate"}}
	switch a {
	case writing:
		q.Add("_pragma", "journal_mode(WAL)")
		q.Add("_pragma", "wal_autocheckpoint(4000)")
		q.Add("_pragma", "cache_size(-65536)") // kB: a long import writes each page once
		q.Add("mode", "rw")
	case querying:
		q.Add("_pragma", "query_only(1)")
		q.Add("mode", "rw")
	case looking:
		q.Add("mode", "rw")
	case elsewhere:
		q.Add("mode", "ro")
	case still:
		q.Add("mode", "ro")
		q.Add("immutable", "1")
	}
	if a >= elsewhere {
		q.Set("_txlock", "deferred")
	}
	return (&url.URL{Scheme: "file", OmitHost: true, Path: slashed, RawQuery: q.Encode()}).String()
}

// connect opens a pool of at most n connections and tries it.
func connect(ctx context.Context, path string, a access, n int) (*sql.DB, error) {
	useFdatasync()
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	db, err := sql.Open("sqlite", dataSource(path, a))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(n)
	db.SetMaxIdleConns(n)
	var pages int64
	if err := db.QueryRowContext(ctx, "PRAGMA schema_version").Scan(&pages); err != nil {
		_ = db.Close()
		return nil, err
	}
	return db, nil
}

// readOnly finds the way in which a database can be read without changing it.
func readOnly(ctx context.Context, path string) access {
	if log, err := os.Stat(path + "-wal"); err == nil && log.Size() > 0 {
		return elsewhere // still would not see what the log holds
	}
	db, err := connect(ctx, path, elsewhere, 1)
	if answers(err, lib.SQLITE_CANTOPEN) || answers(err, lib.SQLITE_READONLY) {
		return still
	}
	if err == nil {
		_ = db.Close()
	}
	return elsewhere
}
