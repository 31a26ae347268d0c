package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"

	"brinefield/internal/app"
	"brinefield/internal/sqlite/guardeddb"
	"brinefield/internal/sqlite/studydb"
)

// The databases in a study's folder.
const (
	StudyFile   = "study.db"
	GuardedFile = "guarded.db"
)

// readers is how many pages of the app can read at the same time.
const readers = 4

// Study is an open study. Safe for concurrent use.
type Study struct {
	name   string // of its folder, for messages
	dir    string
	opt    Options
	device string // which this copy of the study writes as
	notes  []string

	end *end // of this device's chain, if it is known; for who has the writer's turn

	write, writeGuarded *writer // on a connection that cannot write where the study is read-only
	read, readGuarded   *sql.DB
	random              *chance
}

// Journal is the study's journal.
func (s *Study) Journal() app.JournalStore { return &journalStore{s} }

// Guarded is the part of the study that tells which pair was active.
func (s *Study) Guarded() app.GuardedStore { return &guardedStore{s} }

// Notes are what the opening did that the user should know.
func (s *Study) Notes() []string { return s.notes }

// Close folds the logs in, so that each database is one file, and closes them.
// Closing twice is no error.
func (s *Study) Close() error {
	var errs []error
	if !s.opt.ReadOnly {
		for _, w := range []*writer{s.write, s.writeGuarded} {
			errs = append(errs, foldLog(context.Background(), w))
		}
	}
	return explain(s.name, errors.Join(append(errs, s.disconnect())...))
}

func (s *Study) disconnect() error {
	var errs []error
	for _, db := range []*sql.DB{s.read, s.readGuarded} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	for _, w := range []*writer{s.write, s.writeGuarded} { // last: who closes a database last removes its log
		if w != nil {
			errs = append(errs, w.close())
		}
	}
	return errors.Join(errs...)
}

// foldLog moves what the log holds into the database. A reader may hold up the
// end of it; then the next opening does the rest.
func foldLog(ctx context.Context, w *writer) error {
	w.turn <- struct{}{}
	defer func() { <-w.turn }()
	if w.closed {
		return nil
	}
	var busy, pages, folded int64
	if err := w.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &pages, &folded); err != nil {
		return fmt.Errorf("the study is whole, but lies in more files than it should until it is opened and closed again: do not take one of them away: %w", err)
	}
	return nil
}

// connectAll opens both databases in both ways.
func (s *Study) connectAll(ctx context.Context) error {
	study, guarded := filepath.Join(s.dir, StudyFile), filepath.Join(s.dir, GuardedFile)
	var err error
	writeStudy, readStudy, writeGuarded, readGuarded := writing, querying, writing, querying
	if s.opt.ReadOnly {
		readStudy, readGuarded = readOnly(ctx, study), readOnly(ctx, guarded)
		writeStudy, writeGuarded = readStudy, readGuarded
	}
	if s.write, err = newWriter(ctx, study, writeStudy); err != nil {
		return err
	}
	if s.writeGuarded, err = newWriter(ctx, guarded, writeGuarded); err != nil {
		return err
	}
	if s.read, err = connect(ctx, study, readStudy, readers); err != nil {
		return err
	}
	s.readGuarded, err = connect(ctx, guarded, readGuarded, readers)
	return err
}

// change runs do in one transaction on the journal's database.
func (s *Study) change(ctx context.Context, do func(context.Context, *studydb.Queries) error) error {
	if s.opt.ReadOnly {
		return app.ErrReadOnly
	}
	return explain(s.name, s.write.change(ctx, func(ctx context.Context) error { return do(ctx, studydb.New(s.write)) }))
}

func (s *Study) changeGuarded(ctx context.Context, do func(context.Context, *guardeddb.Queries) error) error {
	if s.opt.ReadOnly {
		return app.ErrReadOnly
	}
	return explain(s.name, s.writeGuarded.change(ctx, func(ctx context.Context) error { return do(ctx, guardeddb.New(s.writeGuarded)) }))
}
