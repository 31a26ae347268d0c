package main

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"brinefield/internal/app"
	"brinefield/internal/files"
	"brinefield/internal/sqlite"
)

// studiesVariable names the folder of studies where no flag does.
const studiesVariable = "BRINEFIELD_STUDIES"

// shelf joins the parts that live on the disc into studies: folders and locks
// of internal/files, databases of internal/sqlite.
type shelf struct {
	files.Shelf
	program   app.Program
	clock     func() time.Time
	monotonic func() time.Duration // since this run began
	random    io.Reader
	run       string // names this run of the program in every entry
}

// newShelf is the shelf in a folder.
func newShelf(dir string) *shelf {
	var run [8]byte
	_, _ = rand.Read(run[:]) // never fails: the standard library ends the program instead
	began := time.Now()
	return &shelf{
		Shelf:   files.Shelf{Dir: dir},
		program: program(), clock: time.Now, monotonic: func() time.Duration { return time.Since(began) }, random: rand.Reader, run: hex.EncodeToString(run[:]),
	}
}

// shelfFolder is where this person's studies lie: the flag, else the
// environment, else Brinefield in the home folder.
func shelfFolder(flag string) (string, error) {
	dir := flag
	if dir == "" {
		dir = os.Getenv(studiesVariable)
	}
	if dir == "" {
		home, err := os.UserHomeDir()
		if err != nil {
			return "", fmt.Errorf("this machine does not say where your home folder is (%w): name the folder of studies with --studies DIR or in %s", err, studiesVariable)
		}
		dir = filepath.Join(home, "Brinefield")
	}
	full, err := filepath.Abs(dir)
	if err != nil {
		return "", fmt.Errorf("the folder of studies %s: %w", dir, err)
	}
	return full, nil
}

func (s *shelf) options() sqlite.Options {
	return sqlite.Options{
		Clock: s.clock, Monotonic: s.monotonic,
		Random: s.random, Run: s.run, Program: s.program.Version,
	}
}

// Create makes a new study; it appears under its name when fill returns nil.
func (s *shelf) Create(ctx context.Context, name string, fill func(*app.StudyFolder) error) error {
	if err := s.checkNew(name); err != nil {
		return err
	}
	// What killed runs left of studies that never got their name; where it
	// cannot be removed, it is in nobody's way.
	_, _ = s.Sweep(ctx, s.clock())
	return s.NewFolder(name, func(dir string) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		database, err := sqlite.Create(dir, s.options())
		if err != nil {
			return err
		}
		folder, err := s.join(name, dir, database, nil)
		if err != nil {
			return errors.Join(err, database.Close())
		}
		return errors.Join(fill(folder), folder.Close())
	})
}

func (s *shelf) checkNew(name string) error {
	if err := files.CheckName(name); err != nil {
		return fmt.Errorf("%w: %w", app.ErrBadName, err)
	}
	entries, err := os.ReadDir(s.Dir)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("the folder of studies %s cannot be read: %w", s.Dir, err)
	}
	for _, e := range entries {
		if strings.EqualFold(e.Name(), name) {
			return fmt.Errorf("%w: there is already a study or folder %q", app.ErrBadName, e.Name())
		}
	}
	return nil
}

// Open opens a study. Where another window has it, or the folder cannot be
// written, it is read-only, and a note says why.
func (s *shelf) Open(ctx context.Context, name string) (*app.StudyFolder, error) {
	dir, err := s.Path(name)
	if err != nil {
		return nil, err
	}
	notes, readOnly, err := files.LookAtStudy(dir, true)
	if err != nil {
		return nil, err
	}
	var lock *files.Lock
	if readOnly == nil {
		lock, readOnly, err = s.acquire(ctx, dir)
		if err != nil {
			return nil, err
		}
	}
	if readOnly != nil {
		notes = append([]string{sentence(readOnly.Error())}, notes...)
	}
	folder, err := s.open(ctx, name, dir, lock)
	if err != nil {
		if lock != nil {
			err = errors.Join(err, lock.Release())
		}
		return nil, s.withBackup(ctx, dir, err)
	}
	folder.Notes = append(notes, folder.Notes...)
	return folder, nil
}

// lookFor is how long a lock is waited for: another window that only looks who
// holds it has it for an instant.
const lookFor = 300 * time.Millisecond

// acquire takes the lock, or says why the study is read-only.
func (s *shelf) acquire(ctx context.Context, dir string) (lock *files.Lock, readOnly, err error) {
	for began := time.Now(); ; {
		lock, err = files.Acquire(dir, files.ThisWindow("Brinefield "+s.program.Version, s.clock()))
		var held *files.LockedError
		switch {
		case errors.As(err, &held) && time.Since(began) < lookFor:
			select {
			case <-ctx.Done():
				return nil, nil, ctx.Err()
			case <-time.After(20 * time.Millisecond):
			}
		case errors.Is(err, app.ErrReadOnly):
			return nil, err, nil
		default:
			return lock, nil, err
		}
	}
}

// Look opens a study for reading, without the lock. ReadOnly says whether Open
// would be able to write.
func (s *shelf) Look(ctx context.Context, name string) (*app.StudyFolder, error) {
	dir, err := s.Path(name)
	if err != nil {
		return nil, err
	}
	notes, readOnly, err := files.LookAtStudy(dir, false)
	if err != nil {
		return nil, err
	}
	if readOnly == nil {
		lock, err := files.Acquire(dir, files.ThisWindow("Brinefield "+s.program.Version, s.clock()))
		switch {
		case errors.Is(err, app.ErrReadOnly):
			readOnly = err
		case err != nil:
			return nil, err
		default:
			if err := lock.Release(); err != nil {
				return nil, err
			}
		}
	}
	folder, err := s.open(ctx, name, dir, nil)
	if errors.Is(err, app.ErrReadOnly) && readOnly == nil {
		return s.Open(ctx, name) // its storage must be put in order first
	}
	if err != nil {
		return nil, s.withBackup(ctx, dir, err)
	}
	if readOnly != nil {
		notes = append([]string{sentence(readOnly.Error())}, notes...)
	}
	folder.ReadOnly, folder.Notes = readOnly != nil, append(notes, folder.Notes...)
	return folder, nil
}

// open opens the databases, and puts in order what a killed run left.
func (s *shelf) open(ctx context.Context, name, dir string, lock *files.Lock) (*app.StudyFolder, error) {
	opt := s.options()
	opt.ReadOnly = lock == nil
	opt.BeforeMigration = func(from, _ int64) error { return s.backupBefore(ctx, name, dir) }
	database, err := sqlite.Open(dir, opt)
	if err != nil {
		return nil, err
	}
	folder, err := s.join(name, dir, database, lock)
	if err != nil {
		return nil, errors.Join(err, database.Close())
	}
	return folder, nil
}

// join makes one study of its parts. Without a lock it is read-only, unless it
// is new and has no name yet.
func (s *shelf) join(name, dir string, database *sqlite.Study, lock *files.Lock) (*app.StudyFolder, error) {
	made := filepath.Base(dir) != name // still under its hidden name
	readOnly := lock == nil && !made
	erasable, err := files.OpenErasable(dir, s.random, readOnly)
	if err != nil {
		return nil, err
	}
	footage, err := files.OpenFootage(dir, readOnly)
	if err != nil {
		return nil, errors.Join(err, erasable.Close())
	}
	dossiers, err := files.OpenDossiers(dir, readOnly)
	if err != nil {
		return nil, errors.Join(err, erasable.Close(), footage.Close())
	}
	notes := database.Notes()
	if !readOnly {
		err := errors.Join(erasable.Tidy(context.Background()), files.SettleExport(dir, s.clock()), footage.Tidy(context.Background()))
		if err != nil {
			return nil, errors.Join(err, erasable.Close(), footage.Close(), dossiers.Close())
		}
	}
	return &app.StudyFolder{
		Name: name, Path: dir, ReadOnly: readOnly, Notes: notes,
		Journal: database.Journal(), Guarded: database.Guarded(), Erasable: erasable, Footage: footage, Dossiers: dossiers,
		Check: func(ctx context.Context, full bool, progress func(done, total int)) ([]string, error) {
			wrong, err := database.Check(ctx, full, progress)
			if err != nil || !full {
				return wrong, err
			}
			more, err := erasable.Check(ctx, progress)
			return append(wrong, more...), err
		},
		Snapshot: func(ctx context.Context, to string) error {
			// The databases first: every reference in them then leads to a file.
			if err := database.Snapshot(ctx, to); err != nil {
				return err
			}
			return erasable.CopyTo(ctx, to)
		},
		WriteExport: func(ctx context.Context, plain map[string][]byte) (string, error) {
			return files.WriteExport(ctx, dir, plain, s.clock())
		},
		ExportedAt: func() (time.Time, error) { return files.ExportedAt(dir) },
		Close: func() error {
			err := errors.Join(database.Close(), erasable.Close(), footage.Close(), dossiers.Close())
			if lock != nil {
				err = errors.Join(err, lock.Release())
			}
			return err
		},
	}, nil
}

// backupBefore makes the backup that stands before a change of a study's
// storage. The databases are closed. Copies of footage are not in it: such a change
// does not touch them, and they may be larger than all else together.
func (s *shelf) backupBefore(ctx context.Context, name, dir string) error {
	into, err := files.BackupsFolder(dir, s.clock())
	if err != nil {
		return err
	}
	erasable, err := files.OpenErasable(dir, s.random, true)
	if err != nil {
		return err
	}
	defer erasable.Close()
	_, err = s.writeBackup(ctx, filepath.Join(into, files.BackupName(name, s.clock())), name, nil, func(ctx context.Context, to string) error {
		return errors.Join(sqlite.Copy(ctx, dir, to), erasable.CopyTo(ctx, to))
	})
	return err
}

// writeBackup takes a snapshot beside the backup and packs it.
func (s *shelf) writeBackup(ctx context.Context, file, name string, held []files.HeldFile, snapshot func(context.Context, string) error) (files.Manifest, error) {
	beside, err := os.MkdirTemp(filepath.Dir(file), ".snapshot-")
	if err != nil {
		return files.Manifest{}, fmt.Errorf("the backup %s cannot be written there: %w", file, err)
	}
	defer os.RemoveAll(beside)
	if err := snapshot(ctx, beside); err != nil {
		return files.Manifest{}, err
	}
	return files.WriteBackup(ctx, file, beside, files.BackupInfo{Program: s.program, MadeAt: s.clock(), Study: name, Held: held})
}

// withBackup adds to a study's damage the newest backup that lies in it.
func (s *shelf) withBackup(ctx context.Context, dir string, err error) error {
	var damaged *app.DamagedError
	if !errors.As(err, &damaged) || damaged.Backup != "" {
		return err
	}
	if newest, _, lookErr := files.NewestBackup(ctx, filepath.Join(dir, "backups")); lookErr == nil {
		damaged.Backup = newest
	}
	return err
}

// Backup writes a backup of an open study to a new file.
func (s *shelf) Backup(ctx context.Context, folder *app.StudyFolder, file string) (app.BackupDone, error) {
	done := app.BackupDone{Study: folder.Name, File: file}
	var held []files.HeldFile
	if footage, ok := folder.Footage.(*files.Footage); ok {
		var err error
		if held, err = footage.Held(); err != nil {
			return done, err
		}
	}
	manifest, err := s.writeBackup(ctx, file, folder.Name, held, folder.Snapshot)
	for _, f := range manifest.Files {
		done.Files, done.Bytes = done.Files+1, done.Bytes+f.Size
		if files.IsFootage(f.Path) {
			done.Footage, done.FootageBytes = done.Footage+1, done.FootageBytes+f.Size
		}
	}
	return done, err
}

// Restore makes a new study of a backup; it gets its name when check returns
// nil.
func (s *shelf) Restore(ctx context.Context, backup, name string, check func(*app.StudyFolder) error) error {
	if err := s.checkNew(name); err != nil {
		return err
	}
	return s.NewFolder(name, func(dir string) error {
		if _, err := files.ExtractBackup(ctx, backup, dir); err != nil {
			return err
		}
		opt := s.options()
		opt.BeforeMigration = func(int64, int64) error { return nil } // the backup itself is one
		database, err := sqlite.Open(dir, opt)
		if err != nil {
			return err
		}
		folder, err := s.join(name, dir, database, nil)
		if err != nil {
			return errors.Join(err, database.Close())
		}
		return errors.Join(check(folder), folder.Close())
	})
}

// Copies lists the backups and exports that lie inside a study.
func (s *shelf) Copies(name string) []string {
	dir := filepath.Join(s.Dir, name)
	found, _ := filepath.Glob(filepath.Join(dir, "backups", "*.zip")) // the pattern is well formed
	if exports, _ := filepath.Glob(filepath.Join(dir, "export*")); len(exports) > 0 {
		found = append(found, exports...)
	}
	return found
}

func sentence(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:] + "."
}
