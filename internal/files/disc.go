package files

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"strings"

	"brinefield/internal/app"
)

const (
	privateFolder fs.FileMode = 0o700
	privateFile   fs.FileMode = 0o600
)

// disc writes below one folder, in steps that a power cut cannot tear: a new
// file is on the disc before it gets its name, and the name is on the disc
// before anybody is told. Links cannot lead out of the folder. Every step that
// can fail passes through before, so that a test can make each of them fail,
// or end the program there.
type disc struct {
	root   *os.Root
	before func(step, name string) error
}

func (d disc) step(step, name string) error {
	if d.before == nil {
		return nil
	}
	return d.before(step, name)
}

// create makes a new file, runs write, and returns when the content is on the
// disc. On an error nothing is left under the name, unless it was there before.
func (d disc) create(name string, write func(io.Writer) error) error {
	if err := d.step("create", name); err != nil {
		return err
	}
	f, err := d.root.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, privateFile)
	if err != nil {
		return err
	}
	err = func() error {
		if err := d.step("write", name); err != nil {
			return err
		}
		if err := write(f); err != nil {
			return err
		}
		if err := d.step("sync", name); err != nil {
			return err
		}
		return f.Sync()
	}()
	if err := errors.Join(err, f.Close()); err != nil {
		_ = d.root.Remove(name) // the fault that led here is the one to tell
		return err
	}
	return nil
}

func (d disc) createBytes(name string, data []byte) error {
	return d.create(name, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

func (d disc) rename(from, to string) error {
	if err := d.step("rename", from); err != nil {
		return err
	}
	return d.root.Rename(from, to)
}

func (d disc) mkdir(name string) error {
	if err := d.step("mkdir", name); err != nil {
		return err
	}
	return d.root.Mkdir(name, privateFolder)
}

func (d disc) removeAll(name string) error {
	if err := d.step("remove", name); err != nil {
		return err
	}
	return d.root.RemoveAll(name)
}

// syncFolder makes the names in a folder last. Windows keeps names in its own
// journal and refuses to sync a folder; so do some drives elsewhere.
func (d disc) syncFolder(name string) error {
	if err := d.step("sync folder", name); err != nil {
		return err
	}
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := d.root.Open(name)
	if err != nil {
		return err
	}
	err = f.Sync()
	if cannotSyncFolders(err) {
		err = nil
	}
	return errors.Join(err, f.Close())
}

// syncTree makes everything in a folder last: files, then the folders that
// hold them, the folder itself at the end.
func (d disc) syncTree(name string) error {
	entries, err := fs.ReadDir(d.root.FS(), name)
	if err != nil {
		return err
	}
	for _, e := range entries {
		inside := path.Join(name, e.Name())
		switch {
		case e.IsDir():
			err = d.syncTree(inside)
		case e.Type().IsRegular():
			err = d.syncFile(inside)
		}
		if err != nil {
			return err
		}
	}
	return d.syncFolder(name)
}

func (d disc) syncFile(name string) error {
	if err := d.step("sync", name); err != nil {
		return err
	}
	flag := os.O_RDONLY
	if runtime.GOOS == "windows" {
		flag = os.O_RDWR // a handle that only reads cannot be flushed there
	}
	f, err := d.root.OpenFile(name, flag, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// readRegular reads one ordinary file of at most limit bytes: no link, no
// device, no pipe.
func (d disc) readRegular(name string, limit int64) ([]byte, error) {
	info, err := d.root.Lstat(name)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is not an ordinary file", name)
	}
	f, err := d.root.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, limit+1))
	if err == nil && int64(len(data)) > limit {
		err = fmt.Errorf("%s is larger than %d bytes", name, limit)
	}
	return data, err
}

// stagedName is a hidden name beside name for what is not whole yet.
func stagedName(name string) string {
	return "." + name + stagedMark + strings.ToLower(rand.Text()[:12])
}

const stagedMark = ".new-"

// ReadOnlyError means that a study's folder cannot be written. It is an
// app.ErrReadOnly.
type ReadOnlyError struct {
	Path string
	Why  string
}

func (e *ReadOnlyError) Error() string {
	return fmt.Sprintf("%s cannot be written (%s): the study is shown read-only", e.Path, e.Why)
}

// Is reports that this is a case of app.ErrReadOnly.
func (e *ReadOnlyError) Is(target error) bool { return target == app.ErrReadOnly }

// inStudy puts an error of the disc into the study's terms: the disc is full,
// or the folder cannot be written, or what the system says.
func inStudy(doing, folder string, err error) error {
	if err == nil {
		return nil
	}
	if why := refusal(err); why != "" {
		return fmt.Errorf("%s: %w", doing, &ReadOnlyError{Path: folder, Why: why})
	}
	return elsewhere(doing, err)
}

// elsewhere is inStudy for places that are not the study's own.
func elsewhere(doing string, err error) error {
	switch {
	case err == nil:
		return nil
	case diskFull(err):
		return fmt.Errorf("%s: %w", doing, app.ErrNoSpace)
	case refusal(err) != "":
		return fmt.Errorf("%s: %s; choose a folder that you may write to", doing, refusal(err))
	}
	return fmt.Errorf("%s: %w", doing, err)
}

// refusal says why the system let nobody write, or "".
func refusal(err error) string {
	switch {
	case writeProtected(err):
		return "its disc is write-protected"
	case errors.Is(err, fs.ErrPermission):
		return "you have no permission to write there"
	}
	return ""
}

// openDisc opens a folder to write below it.
func openDisc(dir string) (disc, error) {
	info, err := os.Stat(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return disc{}, fmt.Errorf("there is no folder %s", dir)
	case err != nil:
		return disc{}, fmt.Errorf("the folder %s cannot be opened: %w", dir, err)
	case !info.IsDir():
		return disc{}, fmt.Errorf("%s is a file, not a folder", dir)
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return disc{}, fmt.Errorf("the folder %s cannot be opened: %w", filepath.Clean(dir), err)
	}
	return disc{root: root}, nil
}
