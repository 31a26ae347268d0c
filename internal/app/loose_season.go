package app

import (
	"context"
	"errors"
	"io"
)

// ErrLooseSeason answers for what only a study has.
var ErrLooseSeason = errors.New("this is a season folder, shown as it is: import it into a study to edit it and to keep its history")

// LooseSeason is a season folder among studies: it can be looked at, and has
// neither tables to edit nor a journal. It is safe for concurrent use.
type LooseSeason struct{ season *OpenSeason }

// Loose shows a season folder as a study that cannot be changed.
func Loose(o *OpenSeason) *LooseSeason { return &LooseSeason{o} }

// Season is the season as it was read.
func (l *LooseSeason) Season(context.Context) (SeasonView, error) { return l.season.Season(), nil }

// Progress says how far the analysis is.
func (l *LooseSeason) Progress(context.Context) (ProgressView, error) {
	return l.season.Progress(), nil
}

// Exposures is the table of Exposures.
func (l *LooseSeason) Exposures(context.Context) (ExposuresView, error) { return l.season.Exposures() }

// Pass is one pass in full.
func (l *LooseSeason) Pass(_ context.Context, id string) (PassView, error) { return l.season.Pass(id) }

// Findings are the estimates.
func (l *LooseSeason) Findings(context.Context) (Findings, error) { return l.season.Findings() }

// Uncertainty is what the season's own uncertainties do to the medians.
func (l *LooseSeason) Uncertainty(ctx context.Context) (UncertaintyView, error) {
	return l.season.Uncertainty(ctx)
}

// Curves are the curves of Findings.
func (l *LooseSeason) Curves(context.Context) (CurvesView, error) { return l.season.Curves() }

// Results are current as soon as they are there: the folder was read once.
func (l *LooseSeason) Results(context.Context) (ResultsView, error) {
	o := l.season
	v := ResultsView{Data: fingerprint(o.input), Faults: faultViews(o.faults), FaultRows: faultRows(o.input, o.faults)}
	switch p := o.Progress(); {
	case len(o.faults) > 0:
		v.State = "incomplete"
	case p.State == "running":
		v.State, v.Progress = "running", &p
	case p.State == "failed":
		v.State, v.Error = "failed", p.Error
	default:
		v.State, v.Shown = "current", v.Data
	}
	return v, nil
}

// Analyse has nothing to do again: the folder was read and analysed once.
func (l *LooseSeason) Analyse(ctx context.Context) (ResultsView, error) { return l.Results(ctx) }

// Water is the page Water.
func (l *LooseSeason) Water(context.Context) (WaterView, error) {
	return waterView(l.season.study), nil
}

// Question answers [ErrLooseSeason].
func (l *LooseSeason) Question(context.Context) (QuestionView, error) {
	return QuestionView{}, ErrLooseSeason
}

// Tables answers [ErrLooseSeason].
func (l *LooseSeason) Tables(context.Context) (TableList, error) { return TableList{}, ErrLooseSeason }

// Table answers [ErrLooseSeason].
func (l *LooseSeason) Table(context.Context, string, int, int) (TableView, error) {
	return TableView{}, ErrLooseSeason
}

// Edit answers [ErrLooseSeason].
func (l *LooseSeason) Edit(context.Context, EditRequest) (EditDone, error) {
	return EditDone{}, ErrLooseSeason
}

// Undo answers [ErrLooseSeason].
func (l *LooseSeason) Undo(context.Context, UndoRequest) (EditDone, error) {
	return EditDone{}, ErrLooseSeason
}

// History answers [ErrLooseSeason].
func (l *LooseSeason) History(context.Context, string, string) (HistoryView, error) {
	return HistoryView{}, ErrLooseSeason
}

// Journal answers [ErrLooseSeason].
func (l *LooseSeason) Journal(context.Context, int64, int) (HistoryView, error) {
	return HistoryView{}, ErrLooseSeason
}

// OpenActivePairs answers [ErrLooseSeason].
func (l *LooseSeason) OpenActivePairs(context.Context, OpeningRequest) (EditDone, error) {
	return EditDone{}, ErrLooseSeason
}

// Preregistration answers [ErrLooseSeason].
func (l *LooseSeason) Preregistration(context.Context) (PreregistrationView, error) {
	return PreregistrationView{}, ErrLooseSeason
}

// Register answers [ErrLooseSeason].
func (l *LooseSeason) Register(context.Context, RegisterRequest) (PreregistrationView, error) {
	return PreregistrationView{}, ErrLooseSeason
}

// WriteSeason answers [ErrLooseSeason]: the folder is there already.
func (l *LooseSeason) WriteSeason(context.Context, io.Writer) (string, error) {
	return "", ErrLooseSeason
}
