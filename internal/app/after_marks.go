package app

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"sync"
)

// mostAfter is how many values the page lists.
const mostAfter = 1000

// afterMarks are what is known of changes after the opening at one position of
// the journal. They grow with the journal, so that a page that asks again reads
// only what came in meanwhile.
type afterMarks struct {
	mu       sync.Mutex
	position int64
	right    Right          // under which the rest was read
	first    []AfterOpening // at most mostAfter
	total    int
	passes   map[string]bool
	late     map[string]bool
}

// afterSummary is a copy of the marks that nobody changes.
type afterSummary struct {
	first  []AfterOpening
	total  int
	passes map[string]bool
	late   map[string]bool
}

// afterNow brings the marks up to the journal.
func (s *Study) afterNow(ctx context.Context) (afterSummary, error) {
	m := &s.after
	m.mu.Lock()
	defer m.mu.Unlock()
	head, err := s.folder.Journal.Head(ctx)
	if err != nil {
		return afterSummary{}, err
	}
	right, err := s.right(ctx)
	if err != nil {
		return afterSummary{}, err
	}
	if m.right != right {
		// More may be shown than before: what stands in the place of active pairs is read anew.
		m.position, m.first, m.total, m.passes, m.late, m.right = 0, nil, 0, nil, nil, right
	}
	if m.passes == nil || m.position != head.Position {
		found, err := s.changedSince(ctx, right, m.position, head.Position)
		if err == nil && found.erased && m.position > 0 {
			// A name that was shown may not be shown any more.
			m.position, m.first, m.total, m.passes, m.late = 0, nil, 0, nil, nil
			found, err = s.changedSince(ctx, right, 0, head.Position)
		}
		if err != nil {
			return afterSummary{}, err
		}
		m.grow(found)
		m.position = head.Position
	}
	return afterSummary{m.first, m.total, m.passes, m.late}, nil
}

// drop forgets what is known: entries came in that may stand before others.
func (m *afterMarks) drop() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.position, m.first, m.total, m.passes, m.late = 0, nil, 0, nil, nil
}

// grow adds what was found. What was handed out before is not changed.
func (m *afterMarks) grow(found *laterChanges) {
	passes, late := maps.Clone(found.passes), maps.Clone(found.late)
	maps.Copy(passes, m.passes)
	maps.Copy(late, m.late)
	rows := found.rows[:min(len(found.rows), mostAfter-len(m.first))]
	m.first, m.passes, m.late = slices.Concat(m.first, rows), passes, late
	m.total += len(found.rows)
}

// warning is the sentence of a document; none where nothing was changed.
func (a afterSummary) warning() []string {
	if a.total == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%s recorded, changed or withdrawn after the active pair of the trial was opened (passes concerned: %d): the file %s of every export lists them",
		counted(a.total, "value was", "values were"), len(a.passes), afterOpeningFile)}
}

// markFindings says in a document what was changed after the opening.
func (s *Study) markFindings(ctx context.Context, f Findings) (Findings, error) {
	notHere, err := s.NotHere(ctx)
	if err != nil {
		return f, err
	}
	if len(notHere) > 0 {
		f.Warnings = append(slices.Clip(f.Warnings), notHereWords(notHere))
	}
	read, err := s.readingsWarned(ctx)
	if err != nil {
		return f, err
	}
	if len(read) > 0 {
		f.Warnings = append(slices.Clip(f.Warnings), read...)
	}
	after, err := s.afterNow(ctx)
	if err != nil || after.total == 0 {
		return f, err
	}
	f.Warnings = slices.Concat(f.Warnings, after.warning())
	if len(after.passes) > 0 {
		f.Passes = slices.Clone(f.Passes)
		for i := range f.Passes {
			f.Passes[i].AfterOpening = after.passes[f.Passes[i].Pass]
		}
	}
	return f, nil
}

// markRows marks the passes of a table that were changed after the opening.
func (s *Study) markRows(ctx context.Context, rows []ExposureRow) ([]ExposureRow, error) {
	after, err := s.afterNow(ctx)
	if err != nil || len(after.passes) == 0 {
		return rows, err
	}
	rows = slices.Clone(rows)
	for i := range rows {
		rows[i].AfterOpening = after.passes[rows[i].Pass]
	}
	return rows, nil
}
