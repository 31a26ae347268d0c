package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Snapshot writes a consistent copy of both databases into a new, empty
// folder, while the study is in use.
func (s *Study) Snapshot(ctx context.Context, dir string) error { return Copy(ctx, s.dir, dir) }

// Copy writes a consistent copy of the databases of the study in one folder
// into another, which exists and is empty; of any version, open or not. Where
// it fails it leaves nothing behind. The copy has no device of its own yet.
//
// What is guarded is copied last: every reference that the copied journal
// holds leads to something.
func Copy(ctx context.Context, from, to string) (err error) {
	name := filepath.Base(from)
	for _, file := range []string{StudyFile, GuardedFile} {
		if _, err := os.Lstat(filepath.Join(to, file)); err == nil {
			return fmt.Errorf("there is a %s in %s already: a copy needs an empty folder", file, filepath.Base(to))
		}
	}
	defer func() {
		if err != nil {
			removeDatabase(filepath.Join(to, StudyFile))
			removeDatabase(filepath.Join(to, GuardedFile))
			err = explain(name, err)
		}
	}()
	for _, file := range []string{StudyFile, GuardedFile} {
		if err := copyDatabase(ctx, filepath.Join(from, file), filepath.Join(to, file)); err != nil {
			return err
		}
	}
	return syncFolder(to)
}

func copyDatabase(ctx context.Context, from, to string) error {
	f, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600)
	if err != nil {
		return err
	}
	defer f.Close()
	db, err := connect(ctx, from, readOnly(ctx, from), 1)
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, "VACUUM INTO ?", to)
	if err = errors.Join(err, db.Close()); err != nil {
		return err
	}
	if err := forgetDevice(ctx, to); err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close()) // SQLite does not sync such a copy
}

// forgetDevice leaves it to the first opening of a copy to name a device.
func forgetDevice(ctx context.Context, path string) error {
	db, err := connect(ctx, path, looking, 1)
	if err != nil {
		return err
	}
	defer db.Close()
	var name string
	switch err := db.QueryRowContext(ctx, "SELECT name FROM sqlite_schema WHERE type = 'table' AND name = 'here'").Scan(&name); {
	case errors.Is(err, sql.ErrNoRows):
		return nil
	case err != nil:
		return err
	}
	if _, err := db.ExecContext(ctx, "DELETE FROM here"); err != nil {
		return err
	}
	return db.Close()
}
