package files

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strconv"
	"strings"
	"time"

	"brinefield/internal/app"
)

const lockFile = "lock"

// Holder is who has a study open for writing.
type Holder struct {
	Program string    // name and version
	Process int       // its number on that machine
	Machine string    // name of the machine
	Since   time.Time // to the second
}

// ThisWindow is a Holder for this process.
func ThisWindow(program string, now time.Time) Holder {
	host, err := os.Hostname()
	if err != nil {
		host = "" // told as a machine without a name
	}
	return Holder{Program: program, Process: os.Getpid(), Machine: host, Since: now}
}

// Lock is the right to write to a study. The system takes it back when the
// program ends, also when it is killed.
type Lock struct{ file *os.File }

// LockedError means that another window has the study open. It is an
// app.ErrReadOnly.
type LockedError struct {
	Holder Holder // the zero Holder where it has not said yet who it is
	Asked  time.Time
}

func (e *LockedError) Error() string {
	text := "this study is open in another window"
	h := e.Holder
	if h.Machine != "" {
		text += " on " + h.Machine
	}
	if !h.Since.IsZero() {
		since := h.Since.In(e.Asked.Location())
		layout := "15:04 on 2 January 2006"
		if since.Format(time.DateOnly) == e.Asked.Format(time.DateOnly) {
			layout = "15:04"
		}
		text += " since " + since.Format(layout)
	}
	details := []string{}
	if h.Process != 0 {
		details = append(details, fmt.Sprintf("process %d", h.Process))
	}
	if h.Program != "" {
		details = append(details, h.Program)
	}
	if len(details) > 0 {
		text += " (" + strings.Join(details, ", ") + ")"
	}
	return text + ": it is shown read-only here; close the other window to write"
}

// Is reports that this is a case of app.ErrReadOnly.
func (e *LockedError) Is(target error) bool { return target == app.ErrReadOnly }

// Acquire takes the lock of a study's folder for the life of a window. Where
// another holds it, the error is a *LockedError; where the folder cannot be
// written, a *ReadOnlyError. The file `lock` says in plain text who holds it
// and stays when nobody does: it is the system's lock that counts, not the
// file.
func Acquire(dir string, who Holder) (*Lock, error) {
	d, err := openDisc(dir)
	if err != nil {
		return nil, err
	}
	defer d.root.Close()
	if info, err := d.root.Lstat(lockFile); err == nil && !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s in the study's folder is not an ordinary file: move it away and open the study again", lockFile)
	}
	f, err := d.root.OpenFile(lockFile, os.O_RDWR|os.O_CREATE, privateFile)
	if err != nil {
		return nil, inStudy("opening the study for writing", dir, err)
	}
	if err := lockWhole(f); err != nil {
		defer f.Close()
		if errors.Is(err, errLocked) {
			return nil, &LockedError{Holder: holderIn(f), Asked: who.Since}
		}
		return nil, &ReadOnlyError{Path: dir, Why: fmt.Sprintf("its drive cannot keep two windows from writing at the same time (%v); copy the study to this computer's own disc", err)}
	}
	if err := writeHolder(f, who); err != nil {
		return nil, errors.Join(inStudy("opening the study for writing", dir, err), f.Close())
	}
	return &Lock{file: f}, nil
}

// Release gives the lock back. Twice is no error.
func (l *Lock) Release() error {
	if l.file == nil {
		return nil
	}
	f := l.file
	l.file = nil
	// Emptied, so that a study that nobody has open names nobody.
	return errors.Join(f.Truncate(0), unlockWhole(f), f.Close())
}

// writeHolder needs no sync: the text matters only while this process lives.
func writeHolder(f *os.File, h Holder) error {
	text := fmt.Sprintf(`This study is open in another window. The file does no harm when it is not.
program: %s
process: %d
machine: %s
since: %s
`, oneLine(h.Program), h.Process, oneLine(h.Machine), h.Since.Format(time.RFC3339))
	if err := f.Truncate(0); err != nil {
		return err
	}
	_, err := f.WriteAt([]byte(text), 0)
	return err
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// holderIn reads who holds the lock. The holder may be about to write it.
func holderIn(f *os.File) Holder {
	for range 10 {
		text, err := io.ReadAll(io.NewSectionReader(f, 0, 4096))
		if h := parseHolder(string(text)); err == nil && !h.Since.IsZero() {
			return h
		}
		time.Sleep(10 * time.Millisecond)
	}
	return Holder{}
}

func parseHolder(text string) Holder {
	var h Holder
	for line := range strings.Lines(text) {
		key, value, _ := strings.Cut(strings.TrimSpace(line), ": ")
		switch key {
		case "program":
			h.Program = value
		case "process":
			h.Process, _ = strconv.Atoi(value) // 0 is shown as nothing
		case "machine":
			h.Machine = value
		case "since":
			h.Since, _ = time.Parse(time.RFC3339, value) // zero is shown as nothing
		}
	}
	return h
}

// Writable says whether files can be made in a folder: nil, a *ReadOnlyError,
// or app.ErrNoSpace.
func Writable(dir string) error {
	d, err := openDisc(dir)
	if err != nil {
		return err
	}
	defer d.root.Close()
	name := stagedName("probe")
	if err := d.createBytes(name, nil); err != nil {
		return inStudy("looking whether the study can be written", dir, err)
	}
	if err := d.root.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return inStudy("looking whether the study can be written", dir, err)
	}
	return nil
}
