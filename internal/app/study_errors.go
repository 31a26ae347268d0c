package app

import (
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
