package files

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// WriteWhole writes a file that appears under its name when it is whole, and on the
// disc. Where write fails, nothing is left. A file that is there already is an error,
// unless it may be replaced.
func WriteWhole(path string, replace bool, write func(io.Writer) error) error {
	if err := FreeToWrite(path, replace); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".brinefield-*")
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	defer os.Remove(f.Name()) // it is gone where all went well
	b := bufio.NewWriterSize(f, 1<<20)
	err = write(b)
	if err == nil {
		err = b.Flush()
	}
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	if err := os.Chmod(f.Name(), 0o644); err != nil {
		return err
	}
	if err := FreeToWrite(path, replace); err != nil { // the work may have taken minutes
		return err
	}
	return os.Rename(f.Name(), path)
}

// FreeToWrite says whether a file can be written under a name.
func FreeToWrite(path string, replace bool) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if dir, err := os.Stat(filepath.Dir(path)); err != nil || !dir.IsDir() {
			return fmt.Errorf("there is no folder %s to write into", filepath.Dir(path))
		}
		return nil
	case err != nil:
		return fmt.Errorf("%s cannot be written: %w", path, err)
	case info.IsDir():
		return fmt.Errorf("%s is a folder; expected the name of a file", path)
	case !info.Mode().IsRegular():
		return fmt.Errorf("%s is no plain file, and is left as it is", path)
	case !replace:
		return fmt.Errorf("%s is there already: name another file, or add --replace", path)
	}
	return nil
}
