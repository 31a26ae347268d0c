package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"
)

// exportEvery is how old the plain export may grow while the journal moves.
const exportEvery = 24 * time.Hour

// ExportDue writes the plain export of every open study where it is due. A
// failure is remembered for Home and stops nothing. Call it now and then.
func (s *Studies) ExportDue(ctx context.Context) {
	s.mu.Lock()
	open := slices.Collect(maps.Values(s.open))
	s.mu.Unlock()
	for _, study := range open {
		study.exportIfDue(ctx)
	}
}

// exportState remembers why the last export did not succeed, or that one that
// somebody had changed was kept.
type exportState struct{ problem, kept string }

// closeStudy ends what is at work, writes the plain export if it is due, and
// lets others write to the study.
func (s *Study) closeStudy() error {
	s.stopResults()
	s.stopFootage()
	s.endDossier(true)
	s.exportIfDue(context.WithoutCancel(s.options.Background))
	return s.folder.Close()
}

// exportNote is what Home says about the plain export; "" where all is well.
func (s *Study) exportNote() string {
	s.results.mu.Lock()
	defer s.results.mu.Unlock()
	if problem := s.results.export.problem; problem != "" {
		return problem
	}
	if kept := s.results.export.kept; kept != "" {
		return fmt.Sprintf("somebody changed the plain export inside the study; it was kept as %q beside the new one (changes there do not reach the study: import them)", kept)
	}
	return ""
}

func (s *Study) exportIfDue(ctx context.Context) {
	if s.folder.ReadOnly || s.folder.WriteExport == nil {
		return
	}
	due, err := s.exportDue(ctx)
	if err == nil && due {
		err = s.ExportNow(ctx)
	}
	if ctx.Err() != nil {
		return
	}
	s.results.mu.Lock()
	defer s.results.mu.Unlock()
	s.results.export.problem = ""
	if err != nil {
		s.results.export.problem = fmt.Sprintf("the plain export inside the study could not be written: %v", err)
	}
}

// exportDue: the last one is a day old and the journal has moved since.
func (s *Study) exportDue(ctx context.Context) (bool, error) {
	head, err := s.folder.Journal.Head(ctx)
	if err != nil || head.Entries == 0 {
		return false, err
	}
	last, err := s.folder.ExportedAt()
	if err != nil || last.IsZero() {
		return err == nil, err
	}
	moved := head.LastWall.After(last) || head.ClockBehind > 0
	age := s.options.Clock().Sub(last)
	return moved && (age >= exportEvery || age < 0), nil
}

// ExportNow replaces the plain export inside the study.
func (s *Study) ExportNow(ctx context.Context) error {
	files, err := s.plainExport(ctx, true)
	if err != nil {
		return err
	}
	kept, err := s.folder.WriteExport(ctx, files)
	if kept != "" {
		s.results.mu.Lock()
		s.results.export.kept = kept
		s.results.mu.Unlock()
	}
	return err
}

// plainExport is the study as plain files: the season folder, the journal
// where that is wanted, and a text that explains both without this program.
func (s *Study) plainExport(ctx context.Context, withJournal bool) (map[string][]byte, error) {
	right, err := s.right(ctx)
	if err != nil {
		return nil, err
	}
	data, err := s.assemble(ctx, right)
	if err != nil {
		return nil, err
	}
	files, err := s.withCompanions(ctx, data, right)
	if err != nil {
		return nil, err
	}
	if !withJournal {
		return files, nil
	}
	lines, err := s.journalLines(ctx)
	if err != nil {
		return nil, err
	}
	files["journal.jsonl"] = lines
	registered, err := s.preregistrationFile(ctx)
	if err != nil {
		return nil, err
	}
	if registered != nil {
		files["preregistration.md"] = registered
	}
	doc, err := s.ScheduleAsOpened(ctx)
	switch {
	case errors.Is(err, ErrNoSchedule):
	case err != nil:
		return nil, err
	default:
		if files["schedule.json"], err = json.MarshalIndent(doc, "", "  "); err != nil {
			return nil, err
		}
	}
	files["README.txt"] = []byte(readme(s.folder.Name, data, files, s.options.Program, s.options.Clock()))
	return files, nil
}

// journalLines is the journal, one canonical entry a line, in the order in
// which the entries came in.
func (s *Study) journalLines(ctx context.Context) ([]byte, error) {
	var out bytes.Buffer
	for entry, err := range s.folder.Journal.All(ctx) {
		if err != nil {
			return nil, err
		}
		out.Write(entry.Canonical)
		out.WriteByte('\n')
	}
	return out.Bytes(), nil
}

// ExportStudy gives the plain season folder of a study, with its journal and a
// text that explains it where journal is true. A study that has faults gives
// its folder as it stands and the faults.
func (s *Study) ExportStudy(ctx context.Context, journal bool) (Input, error) {
	files, err := s.plainExport(ctx, journal)
	if err != nil {
		return nil, err
	}
	data, err := s.assembledNow(ctx)
	if err != nil {
		return nil, err
	}
	if len(data.Faults) > 0 {
		return files, &FaultsError{Faults: data.Faults}
	}
	return files, nil
}
