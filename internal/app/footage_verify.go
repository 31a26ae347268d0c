package app

import (
	"context"
	"fmt"
)

// hasFootage reports whether there is anything to verify of footage.
func (v *verifier) hasFootage(ctx context.Context) bool {
	if v.study.folder.Footage == nil {
		return false
	}
	records, err := v.study.footageRecords(ctx)
	if err != nil || len(records) > 0 {
		return true
	}
	return len(v.study.folder.Footage.Copies()) > 0
}

// footage reads all copies of footage. A file that lies elsewhere and is missing,
// and a copy that no clip names, are no damage: they are told.
func (v *verifier) footage(ctx context.Context) error {
	records, err := v.study.footageRecords(ctx)
	if err != nil {
		v.differs("%v", err)
		return nil
	}
	copies := v.study.folder.Footage.Copies()
	wrong, err := v.study.folder.Footage.Check(ctx, v.tell)
	if err != nil {
		return err
	}
	for _, what := range wrong {
		v.differs("%s", what)
	}
	loose := map[string]bool{}
	for _, sha256 := range copies {
		loose[sha256] = true
	}
	var away []wantedFile
	for _, r := range records {
		for _, c := range r.chapters {
			delete(loose, c.SHA256)
			_, state := v.study.placeOf(c.SHA256)
			if state == PlaceMissing || state == PlaceChanged {
				away = append(away, wantedFile{r.id, c})
			}
			if _, err := v.study.summaryOf(c); err != nil {
				v.differs("clip %s, %s: %v", r.id, c.Name, err)
			}
		}
	}
	if len(away) > 0 {
		v.doc.Notes = append(v.doc.Notes, fmt.Sprintf("%s not where they were when they were imported, or on another machine: %s. What was measured in them stays",
			counted(len(away), "file of footage is", "files of footage are"), missingWords(away)))
	}
	if len(loose) > 0 {
		v.doc.Notes = append(v.doc.Notes, fmt.Sprintf("%s in the study's folder footage/files, of which no clip speaks (its clip was withdrawn, or its import broke off)",
			counted(len(loose), "copy lies", "copies lie")))
	}
	return nil
}
