package files

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"brinefield/internal/app"
)

// studyFile is the file by which a folder is known to hold a study.
const studyFile = "study.db"

// leftOverAge is how old a folder of an unfinished study must be before it is
// swept away.
const leftOverAge = 24 * time.Hour

// Shelf is the folder in which studies lie, one folder each.
type Shelf struct {
	Dir    string
	before func(step, name string) error // see disc
}

// List names the folders that hold a study, without opening them, in
// alphabetical order. Links and hidden folders are left out. A shelf that is
// not there yet is empty.
func (s Shelf) List() ([]string, error) {
	entries, err := os.ReadDir(s.Dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("the folder of studies %s cannot be read: %w", s.Dir, err)
	}
	var names []string
	for _, e := range entries {
		if e.IsDir() && !strings.HasPrefix(e.Name(), ".") && holdsStudy(filepath.Join(s.Dir, e.Name())) {
			names = append(names, e.Name())
		}
	}
	slices.SortStableFunc(names, func(a, b string) int {
		return strings.Compare(strings.ToLower(a), strings.ToLower(b))
	})
	return names, nil
}

func holdsStudy(dir string) bool {
	info, err := os.Lstat(filepath.Join(dir, studyFile))
	return err == nil && info.Mode().IsRegular()
}

// Path is the folder of a study on the shelf: app.ErrUnknownStudy where there
// is none, app.ErrNotAStudy where the folder holds something else. A name
// that [CheckName] refuses is found too, if some other program gave it.
func (s Shelf) Path(name string) (string, error) {
	if !filepath.IsLocal(name) || strings.ContainsAny(name, `/\`) || strings.HasPrefix(name, ".") {
		return "", fmt.Errorf("%q: %w", name, app.ErrUnknownStudy)
	}
	path := filepath.Join(s.Dir, name)
	info, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "", fmt.Errorf("%q: %w", name, app.ErrUnknownStudy)
	case err != nil:
		return "", fmt.Errorf("the study %q cannot be looked at: %w", name, err)
	case !info.IsDir() || !holdsStudy(path):
		return "", fmt.Errorf("%q: %w", name, app.ErrNotAStudy)
	}
	return path, nil
}

// NewFolder makes the folder of a new study. fill is called with a hidden
// folder beside it, which only this user can read; when it returns nil, all in
// that folder is put on the disc and the folder gets its name. Until then, and
// where the program is killed, there is nothing under the name. fill must have
// closed whatever it opened in the folder.
func (s Shelf) NewFolder(name string, fill func(dir string) error) error {
	if err := CheckName(name); err != nil {
		return err
	}
	doing := fmt.Sprintf("making the study %q in %s", name, s.Dir)
	if err := os.MkdirAll(s.Dir, privateFolder); err != nil {
		return elsewhere(doing, err)
	}
	d, err := openDisc(s.Dir)
	if err != nil {
		return err
	}
	defer d.root.Close()
	d.before = s.before
	if err := s.free(name); err != nil {
		return err
	}
	staged := stagedName(name)
	if err := d.mkdir(staged); err != nil {
		return elsewhere(doing, err)
	}
	defer d.root.RemoveAll(staged) // nothing is left there once it has its name
	if err := fill(filepath.Join(s.Dir, staged)); err != nil {
		return err
	}
	if err := d.syncTree(staged); err != nil {
		return elsewhere(doing, err)
	}
	if err := s.free(name); err != nil { // made by another window in the meantime
		return err
	}
	if err := d.rename(staged, name); err != nil {
		return elsewhere(doing, err)
	}
	if err := d.syncFolder("."); err != nil {
		return errors.Join(elsewhere(doing, err), d.root.Rename(name, staged))
	}
	return nil
}

// free says whether a name is free on the shelf, in any case of its letters:
// Windows and macOS take "Bay" and "bay" for the same folder.
func (s Shelf) free(name string) error {
	entries, err := os.ReadDir(s.Dir)
	if err != nil {
		return fmt.Errorf("the folder of studies %s cannot be read: %w", s.Dir, err)
	}
	for _, e := range entries {
		if strings.EqualFold(e.Name(), name) {
			return fmt.Errorf("there is already a folder %q in %s: choose another name", e.Name(), s.Dir)
		}
	}
	return nil
}

var leftOver = regexp.MustCompile(`^\..+\.new-[a-z0-9]{12}$`)

// Sweep removes what killed programs left of studies that never got their
// name: hidden folders in which nothing has changed for a day before now and
// that nobody holds a lock on. It returns the names of those it removed.
func (s Shelf) Sweep(ctx context.Context, now time.Time) ([]string, error) {
	entries, err := os.ReadDir(s.Dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("the folder of studies %s cannot be read: %w", s.Dir, err)
	}
	var swept []string
	for _, e := range entries {
		if err := ctx.Err(); err != nil {
			return swept, err
		}
		dir := filepath.Join(s.Dir, e.Name())
		if !e.IsDir() || !leftOver.MatchString(e.Name()) || now.Sub(lastChange(dir, now)) < leftOverAge || inUse(dir) {
			continue
		}
		if err := os.RemoveAll(dir); err != nil {
			return swept, elsewhere("removing what is left of a study that was not finished, "+dir, err)
		}
		swept = append(swept, e.Name())
	}
	return swept, nil
}

// lastChange is the newest time in a folder, and now where that cannot be told.
func lastChange(dir string, now time.Time) time.Time {
	var last time.Time
	err := filepath.WalkDir(dir, func(_ string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := e.Info()
		if err == nil && info.ModTime().After(last) {
			last = info.ModTime()
		}
		return err
	})
	if err != nil {
		return now
	}
	return last
}

// inUse reports whether somebody holds the lock of a folder, or that cannot be
// told.
func inUse(dir string) bool {
	if _, err := os.Lstat(filepath.Join(dir, lockFile)); errors.Is(err, fs.ErrNotExist) {
		return false
	}
	lock, err := Acquire(dir, Holder{Program: "sweeping up"})
	if err != nil {
		return true
	}
	return lock.Release() != nil
}
