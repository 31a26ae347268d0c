package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"brinefield/core/study"
)

// StudiesOptions are what the studies of one window need of the outside.
type StudiesOptions struct {
	Shelf      StudyShelf // nil: nothing can be created, a season folder is shown
	ShelfName  string     // as the user would write it
	Seasons    map[string]*OpenSeason
	Invented   func(study string) bool // marks demo studies; may be nil
	Program    Program
	Clock      func() time.Time
	Random     io.Reader      // names plans, imports and openings, and draws schedules
	Sealer     Sealer         // of schedules
	Media      Media          // of footage; nil: none, and what needs it says so
	Printer    DossierPrinter // of dossiers; nil: none, and what needs it says so
	Analyse    AnalyseOptions
	Background context.Context // ends the analyses when the window closes
}

// Studies are the studies that one window can reach: those on its shelf, and
// season folders that are only shown. It is safe for concurrent use.
type Studies struct {
	options StudiesOptions

	mu      sync.Mutex
	open    map[string]*Study
	opening map[string]*sync.Mutex // one at a time opens a study
	closed  bool

	stimulus *Stimulus

	plans planList
	cards agedList[StudyCard] // of studies that are not open in this window
	names agedList[StudyName]
}

// NewStudies joins the studies of a window. Close ends it.
func NewStudies(opt StudiesOptions) *Studies {
	if opt.Background == nil {
		opt.Background = context.Background()
	}
	return &Studies{options: opt, open: map[string]*Study{}, opening: map[string]*sync.Mutex{}, stimulus: NewStimulus(opt.Clock)}
}

// Stimulus answers what the page Stimulus asks.
func (s *Studies) Stimulus() *Stimulus { return s.stimulus }

// Study is one open study. It is safe for concurrent use.
type Study struct {
	options StudiesOptions
	folder  *StudyFolder

	// write lets one change at a time look at what stands and write.
	write   sync.Mutex
	reading sync.Mutex // of what follows
	held    *standingRecords
	made    [2]*Assembled // without and with the right
	ready   *readySeason  // of the edit before
	people  people
	cards   cardsOut

	results   resultsState
	uncertain *uncertainOnce
	after     afterMarks
	deck      deckRefs
	footage   footageState
	worked    footageWorked
	logged    loggedPasses
	dossiers  dossierState
}

func newStudy(opt StudiesOptions, folder *StudyFolder) *Study {
	s := &Study{options: opt, folder: folder, uncertain: newUncertainOnce()}
	s.people.store = folder.Erasable
	s.people.attached = func(ctx context.Context) (map[string]bool, error) {
		states, err := folder.Journal.States(ctx, study.KindAttachment)
		refs := make(map[string]bool, len(states))
		for i := range states {
			refs[states[i].Fields[refField]] = true
		}
		return refs, err
	}
	return s
}

var errClosed = errors.New("this window is closing")

// Season finds a season folder that is only shown.
func (s *Studies) Season(name string) (*OpenSeason, bool) {
	o, ok := s.options.Seasons[name]
	return o, ok
}

// Study finds a study on the shelf by the name of its folder, opening it if it
// is not open yet.
//
// Errors: [ErrUnknownStudy]; those of [StudyShelf].Open.
func (s *Studies) Study(ctx context.Context, name string) (*Study, error) {
	one := s.turn(name)
	one.Lock()
	defer one.Unlock()
	if open, err := s.opened(name); open != nil || err != nil {
		return open, err
	}
	if s.options.Shelf == nil {
		return nil, fmt.Errorf("%w: %s", ErrUnknownStudy, name)
	}
	folder, err := s.options.Shelf.Open(ctx, name)
	if err != nil {
		return nil, err
	}
	study := newStudy(s.options, folder)
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, errors.Join(errClosed, folder.Close())
	}
	s.open[name] = study
	return study, nil
}

// turn is the lock of one study's opening.
func (s *Studies) turn(name string) *sync.Mutex {
	s.mu.Lock()
	defer s.mu.Unlock()
	one := s.opening[name]
	if one == nil {
		one = &sync.Mutex{}
		s.opening[name] = one
	}
	return one
}

func (s *Studies) opened(name string) (*Study, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, errClosed
	}
	return s.open[name], nil
}

// Close closes every open study.
func (s *Studies) Close() error {
	s.mu.Lock()
	open := s.open
	s.open, s.closed = map[string]*Study{}, true
	s.mu.Unlock()
	var errs []error
	for _, study := range open {
		errs = append(errs, study.closeStudy())
	}
	return errors.Join(errs...)
}
