package sqlite

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	lib "modernc.org/sqlite/lib"
)

// thorough is how far a database's pages are looked at.
type thorough int

const (
	thoroughSize    thorough = iota // whether the file is all there
	thoroughOpening                 // every page too, where that takes a moment
	thoroughFull                    // every page, and every index against its table
)

// smallDatabase is looked at as a whole at each opening.
const smallDatabase = 64 << 20

// look is what a look at a database file has found.
type look struct {
	version int64  // of the storage
	program string // that wrote last; "" where it is not said
}

// look reads a database as it lies there, before anything is changed.
//
// Errors: *app.DamagedError that says what is wrong with the file.
func (s *Study) look(ctx context.Context, file string, how thorough) (look, error) {
	path := s.path(file)
	a := looking
	if s.opt.ReadOnly {
		a = readOnly(ctx, path)
	}
	found, err := look{}, s.whole(ctx, file, a)
	if err == nil {
		found, err = s.lookInside(ctx, file, a, how)
	}
	if answers(err, lib.SQLITE_CORRUPT) || answers(err, lib.SQLITE_NOTADB) {
		return found, s.damaged(file + " " + describe(path, err))
	}
	return found, err
}

func (s *Study) lookInside(ctx context.Context, file string, a access, how thorough) (found look, err error) {
	info, err := os.Stat(s.path(file))
	if err != nil {
		return found, err
	}
	if info.Size() >= smallDatabase && how == thoroughOpening {
		how = thoroughSize
	}
	db, err := connect(ctx, s.path(file), a, 1)
	if err != nil {
		return found, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if how != thoroughSize {
		wrong, err := pageFaults(ctx, db, how)
		if err != nil {
			return found, err
		}
		if len(wrong) > 0 {
			return found, s.damaged(fmt.Sprintf("%s is damaged inside (%s)", file, strings.Join(wrong, "; ")))
		}
	}
	var tables int
	if err := db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name IN ('goose_db_version', 'meta')").Scan(&tables); err != nil {
		return found, err
	}
	if tables != 2 {
		return found, s.damaged(file + " is a database, but not one of a study")
	}
	if err := db.QueryRowContext(ctx, "SELECT coalesce(max(version_id), 0) FROM goose_db_version").Scan(&found.version); err != nil {
		return found, err
	}
	err = db.QueryRowContext(ctx, "SELECT value FROM meta WHERE name = ?", metaProgram).Scan(&found.program)
	if err != nil && !answers(err, lib.SQLITE_ERROR) && !errors.Is(err, sql.ErrNoRows) {
		return found, err // else a newer program says it in another way
	}
	return found, nil
}

// pageFaults lets SQLite check its pages.
func pageFaults(ctx context.Context, db *sql.DB, how thorough) ([]string, error) {
	check := "PRAGMA quick_check(10)"
	if how == thoroughFull {
		check = "PRAGMA integrity_check(10)"
	}
	rows, err := db.QueryContext(ctx, check)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var wrong []string
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			return nil, err
		}
		if line != "ok" {
			line = strings.TrimPrefix(line, "*** in database main ***\n")
			wrong = append(wrong, strings.Split(line, "\n")...)
		}
	}
	return wrong[:min(3, len(wrong))], rows.Err() // the rest follows from them
}

// whole compares the size of a file with what it says of itself. A log that a
// killed program has left is folded in first; where another window is still
// writing it, there is nothing to be compared yet.
func (s *Study) whole(ctx context.Context, file string, a access) error {
	info, err := os.Stat(s.path(file))
	if err != nil {
		return err
	}
	if info.Size() == 0 {
		return s.damaged(file + " is empty: nothing of it is left")
	}
	db, err := connect(ctx, s.path(file), a, 1)
	if err != nil {
		return err
	}
	var pages, size int64
	err = errors.Join(
		db.QueryRowContext(ctx, "PRAGMA page_count").Scan(&pages),
		db.QueryRowContext(ctx, "PRAGMA page_size").Scan(&size),
	)
	if err = errors.Join(err, db.Close()); err != nil {
		return err
	}
	if log, err := os.Stat(s.path(file) + "-wal"); err == nil && log.Size() > 0 {
		return nil
	}
	if info, err = os.Stat(s.path(file)); err != nil {
		return err
	}
	if n := info.Size(); n%size != 0 || n < pages*size {
		return s.damaged(fmt.Sprintf("%s has %d bytes, but should have %d: it was cut off", file, n, pages*size))
	}
	return nil
}

// describe says in words why SQLite refuses a file. It is called only when the
// file could not be opened: to close it again would take SQLite's locks off.
func describe(path string, refused error) string {
	f, err := os.Open(path)
	if err != nil {
		return "cannot be read: " + err.Error()
	}
	defer f.Close()
	header := make([]byte, 100)
	n, err := io.ReadFull(f, header)
	switch {
	case err != nil && !errors.Is(err, io.ErrUnexpectedEOF):
		return "cannot be read: " + err.Error()
	case !bytes.HasPrefix(header[:n], []byte("SQLite format 3\x00")):
		return "is no SQLite database: something else was written over it"
	case n < len(header):
		return fmt.Sprintf("has only %d bytes: it was cut off", n)
	}
	size := int64(binary.BigEndian.Uint16(header[16:]))
	if size == 1 {
		size = 65536
	}
	pages := int64(binary.BigEndian.Uint32(header[28:]))
	if size < 512 || size&(size-1) != 0 {
		return "has a damaged header"
	}
	if info, err := f.Stat(); err == nil && info.Size() < pages*size {
		return fmt.Sprintf("has %d bytes, but should have %d: it was cut off", info.Size(), pages*size)
	}
	return "is damaged: " + refused.Error()
}
