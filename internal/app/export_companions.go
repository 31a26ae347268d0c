package app

import (
	"bytes"
	"context"
	"encoding/csv"
	"maps"
)

// afterOpeningFile lists, beside a season in an export, what was changed after
// the active pairs were opened.
const afterOpeningFile = "changed-after-opening.csv"

// exportCompanions are the files that an export puts beside a season. They are
// made of the journal: an import reads none of them and warns of none.
var exportCompanions = []string{afterOpeningFile, "preregistration.md", "schedule.json", attachmentsFile, fixesFile, footageFile}

// withCompanions is the season folder of a study with what goes beside it. It
// shares nothing with the study but the bytes of the files.
func (s *Study) withCompanions(ctx context.Context, a *Assembled, right Right) (Input, error) {
	folder, err := a.Folder()
	if err != nil {
		return nil, err
	}
	files := Input{}
	maps.Copy(files, folder)
	measured, err := s.footageCompanions(ctx, a)
	if err != nil {
		return nil, err
	}
	maps.Copy(files, measured)
	after, err := s.afterOpening(ctx, right)
	if err != nil {
		return nil, err
	}
	if len(after) > 0 {
		files[afterOpeningFile], err = afterOpeningTable(after)
	}
	return files, err
}

// afterOpeningTable writes the changes as a table.
func afterOpeningTable(rows []AfterOpening) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if err := w.Write([]string{"kind", "id", "trial", "field", "from", "to", "when", "by", "reason", "entry", "made"}); err != nil {
		return nil, err
	}
	for _, r := range rows {
		if err := w.Write([]string{r.Kind, r.ID, r.Trial, r.Field, r.From, r.To, r.When, r.By, r.Reason, r.Entry, r.Made}); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}
