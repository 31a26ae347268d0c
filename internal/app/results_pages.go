package app

import (
	"context"

	"brinefield/core/season"
)

// Season is the study as it stands, as a season.
func (s *Study) Season(ctx context.Context) (SeasonView, error) {
	data, err := s.assembledNow(ctx)
	if err != nil {
		return SeasonView{}, err
	}
	v := s.seasonView()
	v.Faults, v.FaultRows = faultViews(data.Faults), data.faultRows()
	if data.Study != nil {
		describeStudy(&v, data.Study)
	}
	return v, nil
}

func (s *Study) seasonView() SeasonView {
	v := emptySeasonView(s.options.Program, s.folder.Name)
	v.Invented = s.options.Invented != nil && s.options.Invented(s.folder.Name)
	return v
}

// Water is the page Water.
func (s *Study) Water(ctx context.Context) (WaterView, error) {
	data, err := s.assembledNow(ctx)
	if err != nil {
		return WaterView{}, err
	}
	return waterView(data.Study), nil
}

func (s *Study) assembledNow(ctx context.Context) (*Assembled, error) {
	right, err := s.right(ctx)
	if err != nil {
		return nil, err
	}
	return s.assemble(ctx, right)
}

// Progress says how far the analysis is.
func (s *Study) Progress(ctx context.Context) (ProgressView, error) {
	v, err := s.Results(ctx)
	switch {
	case err != nil:
		return ProgressView{}, err
	case v.Progress != nil:
		return *v.Progress, nil
	case v.State == "failed":
		return ProgressView{State: "failed", Error: v.Error}, nil
	case v.State == "incomplete":
		return ProgressView{State: "failed", Error: ErrIncomplete.Error()}, nil
	}
	return ProgressView{State: "done"}, nil
}

// look gives the results that are shown; where they are out of date and were
// made in a moment, it has them made again.
func (s *Study) look(ctx context.Context) (*results, error) {
	st, err := s.standing(ctx)
	if err != nil {
		return nil, err
	}
	again := st.shown != nil && st.state() == "out_of_date" && st.shown.Took < quick
	if again || st.wantsFirst() {
		s.startRun(st, true)
		st.runs = true
	}
	if st.shown == nil {
		return nil, st.missing()
	}
	return st.shown, nil
}

// Findings are the estimates, without the table of passes, which Exposures
// holds.
func (s *Study) Findings(ctx context.Context) (Findings, error) {
	shown, err := s.look(ctx)
	if err != nil {
		return Findings{}, err
	}
	return s.markFindings(ctx, shown.Findings)
}

// Curves are the curves of Findings.
func (s *Study) Curves(ctx context.Context) (CurvesView, error) {
	shown, err := s.look(ctx)
	if err != nil {
		return CurvesView{}, err
	}
	return shown.Curves, nil
}

// Exposures is the table of Exposures. What is kept of it is without the marks
// of what was changed after the opening: those are the journal's.
func (s *Study) Exposures(ctx context.Context) (ExposuresView, error) {
	v, err := s.exposures(ctx)
	if err != nil {
		return v, err
	}
	v.Rows, err = s.markRows(ctx, v.Rows)
	return v, err
}

func (s *Study) exposures(ctx context.Context) (ExposuresView, error) {
	shown, err := s.look(ctx)
	if err != nil {
		return ExposuresView{}, err
	}
	s.results.mu.Lock()
	held := shown.exposures
	s.results.mu.Unlock()
	if held != nil {
		return *held, nil
	}
	right, err := s.right(ctx)
	if err != nil {
		return ExposuresView{}, err
	}
	text, err := s.folder.Guarded.Result(ctx, right, shown.Key, keptExposures)
	if err != nil {
		return ExposuresView{}, err
	}
	v, err := s.shownForm(ctx, text)
	if err != nil {
		return ExposuresView{}, err
	}
	s.results.mu.Lock()
	defer s.results.mu.Unlock()
	shown.exposures = v
	return *v, nil
}

// Pass is one pass of the results shown, in full: its track and the field
// along it. The fields are worked out again where only the results were kept.
// Errors: [ErrDataGone], [ErrUnknownPass], and why there are no results.
func (s *Study) Pass(ctx context.Context, id string) (PassView, error) {
	shown, err := s.look(ctx)
	if err != nil {
		return PassView{}, err
	}
	a, err := s.heldAnalysis(ctx, shown)
	if err != nil {
		return PassView{}, err
	}
	v, err := a.passByID(id)
	if err != nil {
		return v, err
	}
	rows, err := s.markRows(ctx, []ExposureRow{v.Row})
	if err != nil {
		return v, err
	}
	v.Row = rows[0]
	return v, nil
}

// heldAnalysis is the analysis behind the results shown. One caller at a time
// works it out.
func (s *Study) heldAnalysis(ctx context.Context, shown *results) (*Analysis, error) {
	turn := s.turn()
	select {
	case turn <- struct{}{}:
		defer func() { <-turn }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	s.results.mu.Lock()
	held := s.results.held
	if s.results.heldKey != shown.Key {
		held = nil
	}
	s.results.mu.Unlock()
	if held != nil {
		return held, nil
	}
	right, err := s.right(ctx)
	if err != nil {
		return nil, err
	}
	data, err := s.assemble(ctx, right)
	if err != nil {
		return nil, err
	}
	print, err := data.Fingerprint()
	if err != nil {
		return nil, err
	}
	if s.resultsKey(print) != shown.Key {
		return nil, ErrDataGone
	}
	a, err := s.analyse(ctx, data, []string{"passes"}, nil)
	if err != nil {
		return nil, err
	}
	s.results.mu.Lock()
	defer s.results.mu.Unlock()
	if s.results.right == right {
		s.results.held, s.results.heldKey = a, shown.Key
	}
	return a, nil
}

func (s *Study) turn() chan struct{} {
	s.results.mu.Lock()
	defer s.results.mu.Unlock()
	if s.results.holding == nil {
		s.results.holding = make(chan struct{}, 1)
	}
	return s.results.holding
}

func faultViews(faults []season.Fault) []FaultView {
	out := make([]FaultView, len(faults))
	for i, f := range faults {
		out[i] = FaultView{File: f.File, Row: f.Row, Column: f.Column, Wrong: f.Wrong, Expected: f.Expected}
	}
	return out
}
