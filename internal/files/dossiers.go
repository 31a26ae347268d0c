package files

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"regexp"
	"slices"
	"strings"
	"sync"

	"brinefield/internal/app"
)

const (
	dossiersFolder = "dossiers"
	takenFolder    = dossiersFolder + "/.taken"
)

var (
	dossierName = regexp.MustCompile(`^[^\x00-\x1f/\\:*?"<>|]{1,200}\.zip$`)
	takenName   = regexp.MustCompile(`^taken-[a-z0-9]{12}$`)
)

// Dossiers is the folder `dossiers` of a study: packages that were made of it, and,
// until it is closed, those that were sent to be looked at. It is an
// app.DossierStore.
type Dossiers struct {
	disc
	dir      string
	readOnly bool
	mu       sync.Mutex
	taken    []string // tokens of this window
}

// OpenDossiers opens the packages of the study in dir. What was sent to an earlier
// window is removed where it may be written.
func OpenDossiers(dir string, readOnly bool) (*Dossiers, error) {
	d, err := openDisc(dir)
	if err != nil {
		return nil, err
	}
	s := &Dossiers{disc: d, dir: dir, readOnly: readOnly}
	if !readOnly {
		s.tidy()
	}
	return s, nil
}

// tidy removes what killed runs left. What cannot be removed is in nobody's way.
func (s *Dossiers) tidy() {
	_ = s.root.RemoveAll(takenFolder)
	entries, err := fs.ReadDir(s.root.FS(), dossiersFolder)
	if err != nil {
		return
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") && strings.Contains(e.Name(), stagedMark) && e.Type().IsRegular() {
			_ = s.root.Remove(path.Join(dossiersFolder, e.Name()))
		}
	}
}

// Close lets go of the folder, and of what was sent.
func (s *Dossiers) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, token := range s.taken {
		_ = s.root.Remove(path.Join(takenFolder, token)) // the next window looks again
	}
	if len(s.taken) > 0 {
		_ = s.root.Remove(takenFolder)
	}
	return s.root.Close()
}

func (s *Dossiers) folder(names ...string) error {
	for _, name := range names {
		if err := s.mkdir(name); err != nil && !errors.Is(err, fs.ErrExist) {
			return err
		}
	}
	return nil
}

// Put writes a package whole, or not at all.
func (s *Dossiers) Put(ctx context.Context, name string, write func(io.Writer) error) error {
	const doing = "writing the package"
	switch {
	case s.readOnly:
		return app.ErrReadOnly
	case !dossierName.MatchString(name) || strings.HasPrefix(name, "."):
		return fmt.Errorf("%s: %.80q is no name of a package; expected a file name that ends in .zip", doing, name)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	err := func() error {
		if err := s.folder(dossiersFolder); err != nil {
			return err
		}
		full := path.Join(dossiersFolder, name)
		if s.has(full) {
			return fmt.Errorf("there is already a package %q", name)
		}
		staged := path.Join(dossiersFolder, stagedName(name))
		err := s.create(staged, func(w io.Writer) error {
			buffered := bufio.NewWriterSize(writerUntil{ctx, w}, 1<<16)
			return errors.Join(write(buffered), buffered.Flush())
		})
		if err == nil {
			if err = s.rename(staged, full); err != nil {
				_ = s.root.Remove(staged) // the fault that led here is the one to tell
			}
		}
		if err == nil {
			err = s.syncFolder(dossiersFolder)
		}
		return err
	}()
	if ctx.Err() != nil && err != nil {
		return ctx.Err()
	}
	return inStudy(doing, s.dir, err)
}

// writerUntil is a writer that ends with ctx.
type writerUntil struct {
	ctx context.Context
	w   io.Writer
}

func (s writerUntil) Write(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.w.Write(p)
}

// List gives the packages, the last written first.
func (s *Dossiers) List(context.Context) ([]app.StoredDossier, error) {
	entries, err := fs.ReadDir(s.root.FS(), dossiersFolder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("the study's folder %s cannot be read: %w", dossiersFolder, err)
	}
	var out []app.StoredDossier
	for _, e := range entries {
		if !dossierName.MatchString(e.Name()) || strings.HasPrefix(e.Name(), ".") || !e.Type().IsRegular() {
			continue
		}
		info, err := e.Info()
		if err != nil {
			continue // removed meanwhile
		}
		out = append(out, app.StoredDossier{Name: e.Name(), Bytes: info.Size(), Written: info.ModTime()})
	}
	slices.SortStableFunc(out, func(a, b app.StoredDossier) int {
		if c := b.Written.Compare(a.Written); c != 0 {
			return c
		}
		return strings.Compare(b.Name, a.Name)
	})
	return out, nil
}

// Open opens a package, or what was sent under a token.
func (s *Dossiers) Open(_ context.Context, name string) (app.StoredFile, error) {
	full := path.Join(dossiersFolder, name)
	switch {
	case takenName.MatchString(name):
		full = path.Join(takenFolder, name)
	case !dossierName.MatchString(name) || strings.HasPrefix(name, "."):
		return nil, fmt.Errorf("%w: %.80q", app.ErrNoDossier, name)
	}
	info, err := s.root.Lstat(full)
	if errors.Is(err, fs.ErrNotExist) || err == nil && !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%w: %.80q", app.ErrNoDossier, name)
	}
	var f *os.File
	if err == nil {
		f, err = s.root.Open(full)
	}
	if err != nil {
		return nil, fmt.Errorf("the package %.80q cannot be opened: %w", name, err)
	}
	return storedFile{f, info.Size()}, nil
}

type storedFile struct {
	*os.File
	size int64
}

func (f storedFile) Size() int64 { return f.size }

// Remove takes a package away.
func (s *Dossiers) Remove(_ context.Context, name string) error {
	if s.readOnly {
		return app.ErrReadOnly
	}
	if !dossierName.MatchString(name) || strings.HasPrefix(name, ".") {
		return fmt.Errorf("%w: %.80q", app.ErrNoDossier, name)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	err := s.root.Remove(path.Join(dossiersFolder, name))
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%w: %.80q", app.ErrNoDossier, name)
	}
	if err == nil {
		err = s.syncFolder(dossiersFolder)
	}
	return inStudy("removing the package", s.dir, err)
}

// mostTaken is how many packages a window keeps that were sent to be looked at: two
// that are compared, and two more.
const mostTaken = 4

// Take keeps a file that was sent; the oldest of more than a few goes.
func (s *Dossiers) Take(ctx context.Context, from io.Reader, most int64) (token string, err error) {
	const doing = "taking in the package"
	if s.readOnly {
		return "", app.ErrReadOnly
	}
	token = "taken-" + strings.TrimPrefix(stagedName("x"), ".x"+stagedMark)
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.folder(dossiersFolder, takenFolder); err != nil {
		return "", inStudy(doing, s.dir, err)
	}
	var tooLarge error
	err = s.create(path.Join(takenFolder, token), func(w io.Writer) error {
		n, err := io.Copy(writerUntil{ctx, w}, io.LimitReader(from, most+1))
		if err == nil && n > most {
			tooLarge = fmt.Errorf("%s: it is larger than %d MB", doing, most>>20)
			return tooLarge
		}
		return err
	})
	switch {
	case tooLarge != nil:
		return "", tooLarge
	case ctx.Err() != nil && err != nil:
		return "", ctx.Err()
	case err != nil:
		return "", inStudy(doing, s.dir, err)
	}
	s.taken = append(s.taken, token)
	if len(s.taken) > mostTaken {
		_ = s.root.Remove(path.Join(takenFolder, s.taken[0])) // on Windows it may be open: it goes when the study is closed
		s.taken = s.taken[1:]
	}
	return token, nil
}
