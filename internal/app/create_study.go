package app

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"brinefield/core/journal"
	"brinefield/core/study"
)

var errNoShelf = errors.New("a season folder is shown here, and nothing can be created: open Brinefield without it")

// Create makes a study that holds a title and nothing else yet.
//
// Errors: [*EditError] without a title; [ErrBadName]; [ErrNoSpace].
func (s *Studies) Create(ctx context.Context, in NewStudyRequest) (ImportDone, error) {
	title := strings.TrimSpace(in.Title)
	if title == "" {
		return ImportDone{}, &EditError{Faults: []EditFault{{Kind: string(study.KindStudy), Field: "title", Wrong: "the study has no title", Expected: "expected a few words"}}}
	}
	record := study.Record{Kind: study.KindStudy, Fields: map[string]string{"title": title}}
	return s.create(ctx, in.Study, func(target *Study) (int, error) {
		by, err := target.people.mark(ctx, in.Author)
		if err != nil {
			return 0, err
		}
		d, _ := journal.Changes(nil, record)
		d.Author = by
		entries, err := target.folder.Journal.Append(ctx, []journal.Draft{d})
		return len(entries), err
	})
}

// create makes a study on the shelf; it appears when fill has written
// everything.
func (s *Studies) create(ctx context.Context, name string, fill func(*Study) (int, error)) (ImportDone, error) {
	if s.options.Shelf == nil {
		return ImportDone{}, fmt.Errorf("%w: %w", ErrReadOnly, errNoShelf)
	}
	done := ImportDone{Study: strings.TrimSpace(name)}
	err := s.options.Shelf.Create(ctx, done.Study, func(folder *StudyFolder) error {
		n, err := fill(newStudy(s.options, folder))
		done.Entries = n
		return err
	})
	return done, err
}
