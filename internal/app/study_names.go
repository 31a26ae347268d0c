package app

import (
	"context"
	"fmt"
	"slices"
)

// StudyName is a study by its folder and by what it is.
type StudyName struct {
	Study    string // its folder
	Identity string // [Study.Identity]
	Title    string
}

// Name is what a study on the shelf is, by the name of its folder. A study that
// is not open in this window is only looked at: who asks cannot make this
// window keep others from writing to it.
//
// Errors: [ErrUnknownStudy]; those of [StudyShelf].Look.
func (s *Studies) Name(ctx context.Context, folder string) (StudyName, error) {
	out := StudyName{Study: folder}
	if s.options.Shelf == nil {
		return out, fmt.Errorf("%w: %s", ErrUnknownStudy, folder)
	}
	folders, err := s.options.Shelf.List()
	if err != nil {
		return out, err
	}
	if !slices.Contains(folders, folder) { // made-up names leave nothing behind
		return out, fmt.Errorf("%w: %s", ErrUnknownStudy, folder)
	}
	one := s.turn(folder)
	one.Lock()
	defer one.Unlock()
	open, err := s.opened(folder)
	if err != nil {
		return out, err
	}
	if open != nil {
		out.Identity, out.Title, err = open.identityAndTitle(ctx)
		return out, err
	}
	now := s.options.Clock()
	if kept, ok := s.names.get(folder, now); ok {
		return kept, nil
	}
	looked, err := s.options.Shelf.Look(ctx, folder)
	if err != nil {
		return out, err
	}
	out.Identity, out.Title, err = newStudy(s.options, looked).identityAndTitle(ctx)
	if closing := looked.Close(); err == nil {
		err = closing
	}
	if err == nil {
		s.names.put(out.Study, out, now)
	}
	return out, err
}

// Names are all studies on the shelf that can be read, in order of their
// folders.
func (s *Studies) Names(ctx context.Context) ([]StudyName, error) {
	if s.options.Shelf == nil {
		return nil, nil
	}
	folders, err := s.options.Shelf.List()
	if err != nil {
		return nil, err
	}
	out := make([]StudyName, 0, len(folders))
	for _, folder := range folders {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if n, err := s.Name(ctx, folder); err == nil { // Home says what is wrong with the others
			out = append(out, n)
		}
	}
	return out, nil
}
