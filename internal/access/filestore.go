package access

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
)

// File is a [Store] in one file of JSON that only this user can read.
type File struct{ Path string }

// kept is the file's content.
type kept struct {
	Version int `json:"version"`
	State
}

const (
	fileVersion = 1
	largestFile = 64 << 20
)

// Load implements [Store]. A file that is damaged, newer, or readable by others
// is an error that says what to do: it is never taken for an empty one.
func (f File) Load() (State, error) {
	info, err := os.Lstat(f.Path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return State{}, nil
	case err != nil:
		return State{}, fmt.Errorf("the list of devices cannot be read: %w", err)
	case !info.Mode().IsRegular():
		return State{}, fmt.Errorf("%s is not an ordinary file; expected the list of devices that this program wrote", f.Path)
	case info.Mode().Perm()&0o077 != 0 && runtime.GOOS != "windows":
		return State{}, fmt.Errorf("others on this machine can read or change %s (mode %04o), which says who may come in; check its devices, then: chmod 600 '%s'", f.Path, info.Mode().Perm(), f.Path)
	case info.Size() > largestFile:
		return State{}, fmt.Errorf("%s is longer than any list of devices", f.Path)
	}
	data, err := os.ReadFile(f.Path)
	if err != nil {
		return State{}, fmt.Errorf("the list of devices cannot be read: %w", err)
	}
	var k kept
	d := json.NewDecoder(bytes.NewReader(data))
	if err := d.Decode(&k); err != nil {
		return State{}, f.damaged(err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return State{}, f.damaged(errors.New("something stands after its end"))
	}
	if k.Version != fileVersion {
		return State{}, fmt.Errorf("%s has version %d, and this program knows version %d; use a newer program", f.Path, k.Version, fileVersion)
	}
	if err := k.Check(); err != nil {
		return State{}, f.damaged(err)
	}
	return k.State, nil
}

func (f File) damaged(why error) error {
	return fmt.Errorf("the list of devices %s is damaged (%w), so that nobody is let in by it. Move it away, and pair every tablet again; nothing that a tablet wrote is lost by that", f.Path, why)
}

// Save implements [Store]: beside, on the disc, then under its name.
func (f File) Save(s State) error {
	data, err := json.MarshalIndent(kept{fileVersion, s}, "", "  ")
	if err != nil {
		return err
	}
	dir := filepath.Dir(f.Path)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	temp, err := os.CreateTemp(dir, "."+filepath.Base(f.Path)+".new-") // 0600
	if err != nil {
		return err
	}
	defer os.Remove(temp.Name())
	_, err = temp.Write(append(data, '\n'))
	if err := errors.Join(err, temp.Sync(), temp.Close()); err != nil {
		return err
	}
	if err := os.Rename(temp.Name(), f.Path); err != nil {
		return err
	}
	return syncFolder(dir)
}

// syncFolder makes the new name last. Windows keeps names in its own journal;
// a drive that refuses has the file's content all the same.
func syncFolder(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	_ = d.Sync()
	return d.Close()
}
