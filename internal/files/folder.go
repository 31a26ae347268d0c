// Package files reads and writes folders on disk: season folders; the shelf of
// studies with their locks, erasable files, plain exports and backups; and the
// small private files that a start needs.
package files

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// largestFile is the most that one file of a season may hold. A season of a
// million passes stays well below it; a film renamed to .csv does not.
const largestFile = 1 << 30

// ReadSeason reads the text files of a season folder: study.toml and every
// .csv beside it. Folders inside it and other files are left alone; the root
// is opened so that no link in it can lead out.
func ReadSeason(path string) (map[string][]byte, error) {
	root, err := os.OpenRoot(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("there is no folder %s", path)
	case err != nil:
		return nil, fmt.Errorf("the season folder cannot be opened: %w", err)
	}
	defer root.Close()
	entries, err := fs.ReadDir(root.FS(), ".")
	if err != nil {
		return nil, fmt.Errorf("%s is not a folder that can be read: %w", path, err)
	}
	files := map[string][]byte{}
	for _, e := range entries {
		name := e.Name()
		if e.IsDir() || strings.HasPrefix(name, ".") || (name != "study.toml" && !strings.EqualFold(filepath.Ext(name), ".csv")) {
			continue
		}
		data, err := readLimited(root, name)
		if err != nil {
			return nil, err
		}
		files[name] = data
	}
	if _, ok := files["study.toml"]; !ok {
		return nil, fmt.Errorf("%s holds no study.toml: a season folder has study.toml, trials.csv, passes.csv and, where there are tracks, tracks.csv", path)
	}
	return files, nil
}

func readLimited(root *os.Root, name string) ([]byte, error) {
	f, err := root.Open(name)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", name, err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, largestFile+1))
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", name, err)
	}
	if len(data) > largestFile {
		return nil, fmt.Errorf("%s is larger than %d MB: it cannot be a table of a season", name, largestFile>>20)
	}
	return data, nil
}

// WriteSeason writes a season into a folder that does not exist yet or is
// empty. The files appear together: they are written beside it and moved. more,
// where it is not nil, is called with what adds a file, in the folder or one folder
// down, so that not all of them have to be in memory at once.
func WriteSeason(path string, files map[string][]byte, more func(write func(name string, data []byte) error) error) error {
	if entries, err := os.ReadDir(path); err == nil && len(entries) > 0 {
		return fmt.Errorf("%s is not empty: name a new folder", path)
	}
	parent := filepath.Dir(filepath.Clean(path))
	if err := os.MkdirAll(parent, 0o755); err != nil {
		return err
	}
	staged, err := os.MkdirTemp(parent, ".season-")
	if err != nil {
		return fmt.Errorf("the season cannot be written there: %w", err)
	}
	defer os.RemoveAll(staged)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if err := writeSynced(filepath.Join(staged, name), files[name]); err != nil {
			return err
		}
	}
	if more != nil {
		if err := more(func(name string, data []byte) error { return writeBelow(staged, name, data) }); err != nil {
			return err
		}
	}
	if err := os.Chmod(staged, 0o755); err != nil {
		return err
	}
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return os.Rename(staged, path)
}

// writeBelow writes a file into a folder, or into a folder in that.
func writeBelow(dir, name string, data []byte) error {
	parts := strings.Split(name, "/")
	if len(parts) > 2 {
		return fmt.Errorf("%q lies too deep: one folder down at most", name)
	}
	for _, part := range parts {
		if err := checkElement(part); err != nil {
			return err
		}
	}
	if len(parts) == 2 {
		if err := os.Mkdir(filepath.Join(dir, parts[0]), 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
			return err
		}
	}
	return writeSynced(filepath.Join(dir, filepath.FromSlash(name)), data)
}

func writeSynced(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	return errors.Join(err, f.Sync(), f.Close())
}

// WriteSecret writes a new file that only this user can read. A file that is
// there already is left as it is, and is an error.
func WriteSecret(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	switch {
	case errors.Is(err, fs.ErrExist):
		return fmt.Errorf("%s is there already; expected a new file", path)
	case err != nil:
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	_, err = f.Write(data)
	return errors.Join(err, f.Sync(), f.Close())
}

// ReadFile reads one file, or all of in where the path is "-".
func ReadFile(path string, in io.Reader) ([]byte, error) {
	if path == "-" {
		return io.ReadAll(in)
	}
	data, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("there is no file %s", path)
	case err != nil:
		return nil, fmt.Errorf("%s cannot be read: %w", path, err)
	}
	return data, nil
}

// PrivatePage writes a page that only this user can read into a new private
// folder, and returns its path and how to remove it. It hands a one-time
// address to the browser without showing it to other users of the machine,
// who can read the arguments of every process but not this file.
func PrivatePage(html string) (path string, remove func(), err error) {
	dir, err := os.MkdirTemp("", "brinefield-") // 0700
	if err != nil {
		return "", nil, err
	}
	path = filepath.Join(dir, "open.html")
	if err := os.WriteFile(path, []byte(html), 0o600); err != nil {
		os.RemoveAll(dir)
		return "", nil, err
	}
	return path, func() { os.RemoveAll(dir) }, nil
}
