package app

import (
	"errors"
	"fmt"
	"strings"
)

func (e *NewerStudyError) Error() string {
	by := ""
	if e.WrittenWith != "" {
		by = " (Brinefield " + e.WrittenWith + ")"
	}
	return fmt.Sprintf("the study %s was written by a newer program%s: its storage is version %d, this program knows versions up to %d; use the newer program, which leaves a backup of the older version", e.Study, by, e.Found, e.Max)
}

func (e *DamagedError) Error() string {
	remedy := "there is no backup in its folder; look for one that you made elsewhere and restore it: brinefield restore BACKUP NEW-FOLDER"
	if e.Backup != "" {
		remedy = fmt.Sprintf("restore the newest backup into a new folder: brinefield restore %q NEW-FOLDER", e.Backup)
	}
	return fmt.Sprintf("the study %s is damaged and was not changed: %s; keep the folder as it is, and %s", e.Study, strings.Join(e.What, "; "), remedy)
}

var (
	// ErrUnknownTable answers for a kind that has no table.
	ErrUnknownTable = errors.New("there is no such table in a study")
	// ErrUnknownPlan answers for an import that was not planned, or too long ago.
	ErrUnknownPlan = errors.New("this import was not planned in this window, or too long ago: choose the folder again")
	// ErrChangedMeanwhile answers for an edit of a value that changed since the
	// page was read.
	ErrChangedMeanwhile = errors.New("this value was changed meanwhile: look at it again")
	// ErrBadName answers for a name that no folder can have; it is wrapped with
	// what would be right.
	ErrBadName = errors.New("this name cannot be used")
)

// EditError carries every fault that an edit would make; nothing was changed.
type EditError struct {
	Faults []EditFault
}

// EditFault is one fault with the field that it is about.
type EditFault struct {
	Kind, ID, Field string
	Wrong, Expected string
}

func (e *EditError) Error() string {
	lines := make([]string, len(e.Faults))
	for i, f := range e.Faults {
		lines[i] = fmt.Sprintf("%s %s, %s: %s; %s", f.Kind, f.ID, f.Field, f.Wrong, f.Expected)
	}
	return strings.Join(lines, "\n")
}
