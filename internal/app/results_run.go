package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
)

// startRun begins a run in the background, unless one is at work already. A
// run that only reads is replaced by one that analyses.
func (s *Study) startRun(st *standing, analyse bool) {
	r := &s.results
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.job != nil && (r.job.analyse || !analyse) {
		return
	}
	if r.job != nil {
		r.job.cancel()
	}
	ctx, cancel := context.WithCancel(s.options.Background)
	job := &resultsJob{
		position: st.head.Position, analyse: analyse, cancel: cancel, done: make(chan struct{}),
		progress: ProgressView{State: "running", Stage: "Reading"},
	}
	r.job, r.failed = job, nil
	go s.run(ctx, job, st.right)
}

// stopRun ends a run on data older than the position and waits for it.
func (s *Study) stopRun(position int64) {
	s.results.mu.Lock()
	job := s.results.job
	if job == nil || job.analyse && job.position >= position {
		s.results.mu.Unlock()
		return
	}
	job.cancel()
	s.results.mu.Unlock()
	<-job.done
}

// stopResults ends whatever is at work, before the study is closed.
func (s *Study) stopResults() {
	s.results.mu.Lock()
	job := s.results.job
	s.results.mu.Unlock()
	if job != nil {
		job.cancel()
		<-job.done
	}
}

func (s *Study) run(ctx context.Context, job *resultsJob, right Right) {
	defer close(job.done)
	defer job.cancel()
	err := s.work(ctx, job, right)
	r := &s.results
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.job == job {
		r.job = nil
	}
	if err != nil && ctx.Err() == nil && r.right == right {
		r.failed = &failedRun{position: job.position, err: err}
	}
}

// work reads the data and, where that was asked for and nothing was kept for
// them, analyses them.
func (s *Study) work(ctx context.Context, job *resultsJob, right Right) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the analysis broke off, which is a fault of this program: %v", p)
		}
	}()
	began := s.options.Clock()
	data, err := s.assemble(ctx, right)
	if err != nil {
		return err
	}
	print, err := data.Fingerprint()
	if err != nil {
		return err
	}
	s.noteRead(ctx, right, data, print)
	if !job.analyse || len(data.Faults) > 0 || s.isShown(s.resultsKey(print)) {
		return nil
	}
	analysis, err := s.analyse(ctx, data, nil, func(stage string, done, total int) {
		s.results.mu.Lock()
		defer s.results.mu.Unlock()
		job.progress = ProgressView{State: "running", Stage: stage, Done: done, Total: total}
	})
	if err != nil {
		return err
	}
	found := s.newResults(data, analysis, right, print)
	found.Took = s.options.Clock().Sub(began)
	if !s.show(found, analysis, right) {
		return nil
	}
	return s.keep(ctx, found, right)
}

func (s *Study) analyse(ctx context.Context, data *Assembled, only []string, progress func(stage string, done, total int)) (*Analysis, error) {
	opt := s.options.Analyse
	opt.Only, opt.Program, opt.Progress = only, s.options.Program, progress
	files, err := data.Folder()
	if err != nil {
		return nil, err
	}
	analysis, err := Analyse(ctx, files, data.Study, opt)
	if err != nil {
		return nil, err
	}
	analysis.options.Stop, analysis.options.Progress = nil, nil // it outlives the run
	return analysis, nil
}

func (s *Study) newResults(data *Assembled, a *Analysis, right Right, print string) *results {
	exposures := a.exposuresView()
	findings := a.Findings
	findings.Passes = nil // the exposures say it
	return &results{
		Format: Format, Key: s.resultsKey(print), Data: print, Position: data.Position,
		Computed: s.options.Clock(), Findings: findings, Curves: curves(a.Findings),
		granted: right.Granted(), exposures: &exposures,
	}
}

func (s *Study) isShown(key string) bool {
	s.results.mu.Lock()
	defer s.results.mu.Unlock()
	return s.results.shown != nil && s.results.shown.Key == key
}

// show puts new results in place; not, where the right has changed meanwhile.
func (s *Study) show(found *results, a *Analysis, right Right) bool {
	r := &s.results
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.right != right {
		return false
	}
	r.shown, r.held, r.heldKey = found, a, found.Key
	return true
}

// keep caches results where the active pairs are guarded. What was made while
// they are sealed is not kept: it is made again in a moment. A study that
// cannot be written, or a full disc, only costs the next window a new run.
func (s *Study) keep(ctx context.Context, found *results, right Right) error {
	if !right.Granted() || s.folder.ReadOnly {
		return nil
	}
	exposures, err := s.keptForm(ctx, found.exposures)
	if err != nil {
		return err
	}
	text, err := json.Marshal(found)
	if err != nil {
		return err
	}
	// Exposures first: findings that are there have theirs.
	err = s.folder.Guarded.PutResult(ctx, found.Key, keptExposures, exposures)
	if err == nil {
		err = s.folder.Guarded.PutResult(ctx, found.Key, keptFindings, text)
	}
	if errors.Is(err, ErrReadOnly) || errors.Is(err, ErrNoSpace) {
		return nil
	}
	return err
}

// keptForm is the table of exposures as it is cached: with references in the
// place of people's names, so that a name that is erased is not kept here.
func (s *Study) keptForm(ctx context.Context, v *ExposuresView) ([]byte, error) {
	kept := *v
	kept.Rows = slices.Clone(v.Rows)
	for i := range kept.Rows {
		mark, err := s.people.mark(ctx, kept.Rows[i].Scorer)
		if err != nil {
			return nil, err
		}
		kept.Rows[i].Scorer = mark
	}
	return json.Marshal(kept)
}

func (s *Study) shownForm(ctx context.Context, text []byte) (*ExposuresView, error) {
	var v ExposuresView
	if err := json.Unmarshal(text, &v); err != nil {
		return nil, fmt.Errorf("the exposures that were kept cannot be read (%w): work the results out again", err)
	}
	for i := range v.Rows {
		name, err := s.people.name(ctx, v.Rows[i].Scorer)
		if err != nil {
			return nil, err
		}
		v.Rows[i].Scorer = name
	}
	return &v, nil
}

// AnalyseStudy analyses a study as it stands and waits for the document. While
// the active pairs are sealed, so are the roles in it. The error is a
// *FaultsError where the study has faults.
func (s *Study) AnalyseStudy(ctx context.Context, opt AnalyseOptions) (*Analysis, error) {
	data, err := s.assembledNow(ctx)
	if err != nil {
		return nil, err
	}
	if len(data.Faults) > 0 {
		return nil, &FaultsError{Faults: data.Faults}
	}
	files, err := data.Folder()
	if err != nil {
		return nil, err
	}
	a, err := Analyse(ctx, files, data.Study, opt)
	if err != nil {
		return nil, err
	}
	a.Findings, err = s.markFindings(ctx, a.Findings)
	return a, err
}
