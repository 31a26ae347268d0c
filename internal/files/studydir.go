package files

import (
	"errors"
	"fmt"
	"os"
	"runtime"

	"brinefield/internal/app"
)

// littleSpace is below what a user is warned: a long day with its exports and
// one backup.
const littleSpace = 200 << 20

// MakePrivate takes the rights of other users of this machine to a study's
// folder away (mode 0700), and says so where they had any. Where that cannot be
// done, the note says that others can read the study. Windows keeps the
// folders of a user private by itself.
func MakePrivate(dir string) (note string, err error) {
	if runtime.GOOS == "windows" {
		return "", nil
	}
	before, err := os.Stat(dir)
	if err != nil {
		return "", fmt.Errorf("the folder %s cannot be looked at: %w", dir, err)
	}
	if before.Mode().Perm()&0o077 == 0 {
		return "", nil
	}
	fault := os.Chmod(dir, privateFolder)
	after, err := os.Stat(dir)
	if err != nil {
		return "", fmt.Errorf("the folder %s cannot be looked at: %w", dir, err)
	}
	if fault == nil && after.Mode().Perm()&0o077 == 0 {
		return fmt.Sprintf("Other users of this computer could read or change this study's folder (mode %04o); now only you can.", before.Mode().Perm()), nil
	}
	return fmt.Sprintf("Other users of this computer can read or change this study's folder (mode %04o), and that could not be changed; keep the study in a folder of your own.", after.Mode().Perm()), nil
}

// SpaceNote warns of a disc with little free space; "" where there is enough.
func SpaceNote(free uint64) string {
	if free >= littleSpace {
		return ""
	}
	return fmt.Sprintf("Only %d MB are free on this study's disc; make room before you go on, 200 MB at least.", free>>20)
}

// LookAtStudy gathers what the user should know of a study's folder before it
// is opened: where it lies, who could read it, how much room there is. A wide
// mode is mended where mend is set and the folder can be written.
// readOnly is nil, a *ReadOnlyError, or app.ErrNoSpace.
func LookAtStudy(dir string, mend bool) (notes []string, readOnly, err error) {
	readOnly = Writable(dir)
	if readOnly != nil && !errors.Is(readOnly, app.ErrReadOnly) && !errors.Is(readOnly, app.ErrNoSpace) {
		return nil, nil, readOnly
	}
	if mend && readOnly == nil {
		note, err := MakePrivate(dir)
		if err != nil {
			return nil, nil, err
		}
		notes = appendNote(notes, note)
	}
	place, err := LookAtPlace(dir)
	if err != nil {
		return nil, nil, fmt.Errorf("the folder %s cannot be looked at: %w", dir, err)
	}
	for _, n := range NotesOfPlace(place) {
		notes = append(notes, n.String())
	}
	if free, err := FreeSpace(dir); err == nil { // a drive that does not say is no fault
		notes = appendNote(notes, SpaceNote(free))
	}
	return notes, readOnly, nil
}

func appendNote(notes []string, note string) []string {
	if note == "" {
		return notes
	}
	return append(notes, note)
}
