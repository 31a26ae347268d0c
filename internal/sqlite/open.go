package sqlite

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"

	"brinefield/internal/app"
	"brinefield/internal/sqlite/guardeddb"
	"brinefield/internal/sqlite/studydb"
)

// The names in the table meta.
const (
	metaStudy    = "study"     // the same in both databases
	metaProgram  = "program"   // version that wrote last
	metaFoldedBy = "folded by" // see foldedBy
)

// Create makes a new, empty study in a folder that exists.
//
// Errors: a study is there already; app.ErrNoSpace; app.ErrReadOnly.
func Create(dir string, opt Options) (*Study, error) {
	s := newStudy(dir, opt)
	ctx := context.Background()
	if err := s.create(ctx); err != nil {
		return nil, explain(s.name, err)
	}
	return Open(dir, opt)
}

// Open opens the study in a folder, after a look for damage: a large study is
// looked at only as far as takes a moment (see [Study.Check] for more), and
// records that are behind their journal are made again.
//
// Errors: app.ErrNotAStudy; *app.DamagedError, its Backup left to the caller;
// *app.NewerStudyError; app.ErrReadOnly where an older study should be read
// without being changed; app.ErrNoSpace; that of Options.BeforeMigration.
func Open(dir string, opt Options) (*Study, error) {
	s := newStudy(dir, opt)
	if err := s.open(context.Background()); err != nil {
		_ = s.disconnect()
		return nil, explain(s.name, err)
	}
	return s, nil
}

func newStudy(dir string, opt Options) *Study {
	if opt.migrations == nil {
		opt.migrations = ownMigrations()
	}
	name := filepath.Base(dir)
	if full, err := filepath.Abs(dir); err == nil {
		name = filepath.Base(full)
	}
	return &Study{name: name, dir: dir, opt: opt, random: &chance{source: opt.Random}}
}

func (s *Study) path(file string) string { return filepath.Join(s.dir, file) }

func (s *Study) create(ctx context.Context) (err error) {
	if s.opt.ReadOnly {
		return app.ErrReadOnly
	}
	for _, file := range []string{StudyFile, GuardedFile} {
		if _, err := os.Lstat(s.path(file)); err == nil {
			return fmt.Errorf("the folder %s holds a study already: choose another folder", s.name)
		}
	}
	defer func() {
		if err != nil {
			for _, file := range []string{StudyFile, GuardedFile} {
				removeDatabase(s.path(file))
			}
		}
	}()
	var id [16]byte
	if err := s.random.fill(id[:]); err != nil {
		return err
	}
	study := hex.EncodeToString(id[:])
	if err := makeDatabase(ctx, s.path(StudyFile), s.opt.migrations.study, func(w *writer) error {
		q := studydb.New(w)
		if err := q.PutMeta(ctx, metaStudy, study); err != nil {
			return err
		}
		return q.PutMeta(ctx, metaFoldedBy, foldedBy())
	}); err != nil {
		return err
	}
	if err := makeDatabase(ctx, s.path(GuardedFile), s.opt.migrations.guarded, func(w *writer) error {
		return guardeddb.New(w).PutMeta(ctx, metaStudy, study)
	}); err != nil {
		return err
	}
	return syncFolder(s.dir)
}

// makeDatabase makes a database that only its owner can read; SQLite gives the
// files beside it the same mode.
func makeDatabase(ctx context.Context, path string, steps fs.FS, fill func(*writer) error) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600)
	if err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if err := migrate(ctx, path, steps); err != nil {
		return err
	}
	w, err := newWriter(ctx, path, writing)
	if err != nil {
		return err
	}
	return errors.Join(w.change(ctx, func(context.Context) error { return fill(w) }), w.close())
}

func removeDatabase(path string) {
	for _, end := range []string{"", "-wal", "-shm", "-journal"} {
		_ = os.Remove(path + end)
	}
}

// syncFolder makes the names in a folder last. Windows has no such call and
// needs none.
func syncFolder(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func (s *Study) open(ctx context.Context) error {
	if err := s.present(); err != nil {
		return err
	}
	if err := s.upToDate(ctx); err != nil {
		return err
	}
	if err := s.connectAll(ctx); err != nil {
		return err
	}
	if err := s.belongTogether(ctx); err != nil {
		return err
	}
	if err := s.journalWhole(ctx); err != nil {
		return err
	}
	if err := s.recordsUpToDate(ctx); err != nil {
		return err
	}
	return s.bind(ctx)
}

// present tells a folder without a study from one that has lost a part of it.
func (s *Study) present() error {
	_, err := os.Stat(s.path(StudyFile))
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: %w", s.name, app.ErrNotAStudy)
	}
	if err != nil {
		return err
	}
	_, err = os.Stat(s.path(GuardedFile))
	if errors.Is(err, fs.ErrNotExist) {
		return s.damaged(GuardedFile + ", which holds the active pairs and the imported files, is missing")
	}
	return err
}

// upToDate looks at both databases before anything changes them, and brings
// them to the version of this program.
func (s *Study) upToDate(ctx context.Context) error {
	steps := map[string]fs.FS{StudyFile: s.opt.migrations.study, GuardedFile: s.opt.migrations.guarded}
	var older []string
	var from, to int64
	for _, file := range []string{StudyFile, GuardedFile} {
		found, err := s.look(ctx, file, thoroughOpening)
		if err != nil {
			return err
		}
		known, err := newest(steps[file])
		if err != nil {
			return err
		}
		if found.version > known {
			return &app.NewerStudyError{Study: s.name, Found: int(found.version), Max: int(known), WrittenWith: found.program}
		}
		if found.version < known {
			if len(older) == 0 {
				from, to = found.version, known
			}
			older = append(older, file)
		}
	}
	if len(older) == 0 {
		return nil
	}
	if s.opt.ReadOnly {
		return fmt.Errorf("%w; its storage is version %d and must first be brought to version %d", app.ErrReadOnly, from, to)
	}
	if s.opt.BeforeMigration != nil {
		if err := s.opt.BeforeMigration(from, to); err != nil {
			return fmt.Errorf("the study %s is left as it was, in version %d: %w", s.name, from, err)
		}
	}
	for _, file := range older {
		if err := migrate(ctx, s.path(file), steps[file]); err != nil {
			return err
		}
	}
	return nil
}

// belongTogether refuses a guarded.db that was copied in from another study.
func (s *Study) belongTogether(ctx context.Context) error {
	a, err := studydb.New(s.read).Meta(ctx, metaStudy)
	if err != nil {
		return err
	}
	b, err := guardeddb.New(s.readGuarded).Meta(ctx, metaStudy)
	if err != nil {
		return err
	}
	if a != b {
		return s.damaged(fmt.Sprintf("%s belongs to another study than %s", GuardedFile, StudyFile))
	}
	return nil
}

// recordsUpToDate makes the records again where they are behind the journal,
// or were made in another way than this program makes them.
func (s *Study) recordsUpToDate(ctx context.Context) error {
	q := studydb.New(s.read)
	last, err := q.LastPosition(ctx)
	if err != nil {
		return err
	}
	folded, err := q.FoldedTo(ctx)
	if err != nil {
		return err
	}
	by, err := q.Meta(ctx, metaFoldedBy)
	if err != nil {
		return err
	}
	if folded > last {
		// Both are written in one transaction: the program never leaves this.
		return s.damaged(fmt.Sprintf("the records were made of %d entries and the journal holds %d: its last entries are gone", folded, last))
	}
	if last == folded && by == foldedBy() {
		return nil
	}
	if last == folded && by == foldedByArrival() {
		devices, err := q.Devices(ctx)
		if err != nil || len(devices) <= 1 {
			return err
		}
	}
	if s.opt.ReadOnly {
		return fmt.Errorf("%w; its records must first be made again from the journal", app.ErrReadOnly)
	}
	if _, err := (&journalStore{s}).Rebuild(ctx, nil); err != nil {
		return err
	}
	// Where they came out the same, only the note of how they were made is old.
	if err := s.change(ctx, func(ctx context.Context, q *studydb.Queries) error { return q.PutMeta(ctx, metaFoldedBy, foldedBy()) }); err != nil {
		return err
	}
	if last != folded {
		s.notes = append(s.notes, fmt.Sprintf("the records were not where the journal is (entry %d, not %d): they were made again from it", folded, last))
	}
	return nil
}
