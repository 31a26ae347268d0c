package httpapi_test

import (
	"context"
	"io"

	"brinefield/internal/app"
	"brinefield/internal/httpapi"
)

// fakeStudies has one study, "bay", which answers with marked values and notes
// what it was asked; its error, where set, answers instead.
type fakeStudies struct {
	err   error
	asked *[]any
	file  app.AttachmentFile
	media fakeMedia
}

func (f fakeStudies) note(what ...any) {
	if f.asked != nil {
		*f.asked = append(*f.asked, what...)
	}
}

func (f fakeStudies) Home(context.Context) (app.HomeView, error) {
	return app.HomeView{Shelf: "secret shelf", Studies: []app.StudyCard{}}, f.err
}

func (f fakeStudies) Create(_ context.Context, in app.NewStudyRequest) (app.ImportDone, error) {
	f.note(in)
	return app.ImportDone{Study: in.Study, Entries: 1}, f.err
}

func (f fakeStudies) Plan(_ context.Context, in app.PlanRequest) (app.PlanView, error) {
	f.note(in)
	return app.PlanView{Plan: "p1", Study: in.Study}, f.err
}

func (f fakeStudies) Import(_ context.Context, in app.ImportRequest) (app.ImportDone, error) {
	f.note(in)
	return app.ImportDone{Study: in.Study, Entries: 2}, f.err
}

func (f fakeStudies) Study(_ context.Context, name string) (httpapi.Study, error) {
	if name != "bay" && name != "Bay of Ríán, 2025" {
		return nil, app.ErrUnknownStudy
	}
	return fakeStudy{f}, nil
}

func (f fakeStudies) Stimulus() httpapi.Stimulus { return fakeStimulus{f} }

func (f fakeStudies) ScheduleExample(in app.ExampleRequest) (app.ScheduleDocument, error) {
	f.note(in)
	return app.ScheduleDocument{}, f.err
}

func (f fakeStudies) NewScheduleKey(in app.NewKeyRequest) (app.NewKeyView, error) {
	f.note(in)
	return app.NewKeyView{}, f.err
}

func (f fakeStudies) Calibrate(_ context.Context, in app.CalibrationSpec) (app.CalibrationDocument, error) {
	f.note(in)
	return app.CalibrationDocument{}, f.err
}

func (f fakeStudies) Rig(_ context.Context, in app.RigSpec) (app.RigDocument, error) {
	f.note(in)
	return app.RigDocument{}, f.err
}

type fakeStudy struct{ fakeStudies }

func (f fakeStudy) Rig(context.Context) (app.RigStart, error) { return app.RigStart{}, f.err }

func (f fakeStudy) Background(context.Context) (app.BackgroundStart, error) {
	return app.BackgroundStart{Spec: app.BackgroundSpec{Date: "2026-06-01"}}, f.err
}

func (f fakeStudy) Stimulus(context.Context) (app.StimulusStart, error) {
	return app.StimulusStart{}, f.err
}

func (f fakeStudy) Calibration(context.Context) (app.CalibrationStart, error) {
	return app.CalibrationStart{}, f.err
}

func (f fakeStudy) Season(context.Context) (app.SeasonView, error) {
	return app.SeasonView{Title: "secret season"}, f.err
}

func (f fakeStudy) Progress(context.Context) (app.ProgressView, error) {
	return app.ProgressView{State: "running"}, f.err
}

func (f fakeStudy) Exposures(context.Context) (app.ExposuresView, error) {
	return app.ExposuresView{}, f.err
}

func (f fakeStudy) Pass(_ context.Context, id string) (app.PassView, error) {
	return app.PassView{Note: "pass " + id}, f.err
}

func (f fakeStudy) Findings(context.Context) (app.Findings, error) { return app.Findings{}, f.err }

func (f fakeStudy) Curves(context.Context) (app.CurvesView, error) { return app.CurvesView{}, f.err }

func (f fakeStudy) Uncertainty(context.Context) (app.UncertaintyView, error) {
	return app.UncertaintyView{}, f.err
}

func (f fakeStudy) Results(context.Context) (app.ResultsView, error) {
	return app.ResultsView{State: "current"}, f.err
}

func (f fakeStudy) Analyse(context.Context) (app.ResultsView, error) {
	f.note("analyse")
	return app.ResultsView{State: "running"}, f.err
}

func (f fakeStudy) Question(context.Context) (app.QuestionView, error) {
	return app.QuestionView{Title: "secret question"}, f.err
}

func (f fakeStudy) Water(context.Context) (app.WaterView, error) { return app.WaterView{}, f.err }

func (f fakeStudy) Tables(context.Context) (app.TableList, error) { return app.TableList{}, f.err }

func (f fakeStudy) Table(_ context.Context, kind string, offset, limit int) (app.TableView, error) {
	f.note(kind, offset, limit)
	return app.TableView{Kind: kind, Offset: offset}, f.err
}

func (f fakeStudy) Edit(_ context.Context, in app.EditRequest) (app.EditDone, error) {
	f.note(in)
	return app.EditDone{}, f.err
}

func (f fakeStudy) Undo(_ context.Context, in app.UndoRequest) (app.EditDone, error) {
	f.note(in)
	return app.EditDone{}, f.err
}

func (f fakeStudy) History(_ context.Context, kind, id string) (app.HistoryView, error) {
	f.note(kind, id)
	return app.HistoryView{}, f.err
}

func (f fakeStudy) Journal(_ context.Context, before int64, limit int) (app.HistoryView, error) {
	f.note(before, limit)
	return app.HistoryView{}, f.err
}

func (f fakeStudy) OpenActivePairs(_ context.Context, in app.OpeningRequest) (app.EditDone, error) {
	f.note(in)
	return app.EditDone{}, f.err
}

func (f fakeStudy) SealSchedule(_ context.Context, in app.SealRequest) (app.EditDone, error) {
	f.note(in)
	return app.EditDone{}, f.err
}

func (f fakeStudy) TakeSchedule(_ context.Context, in app.TakeRequest) (app.EditDone, error) {
	f.note(in)
	return app.EditDone{}, f.err
}

func (f fakeStudy) RehearseKey(_ context.Context, in app.RehearseRequest) (app.RehearsalView, error) {
	f.note(in)
	return app.RehearsalView{}, f.err
}

func (f fakeStudy) TakeCardsOut(_ context.Context, in app.CardsRequest) (app.CardsView, error) {
	f.note(in)
	return app.CardsView{}, f.err
}

func (f fakeStudy) Card(_ context.Context, in app.CardRequest) (app.CardView, error) {
	f.note(in)
	return app.CardView{}, f.err
}

func (f fakeStudy) AllCards(_ context.Context, in app.CardRequest) (app.CardList, error) {
	f.note(in)
	return app.CardList{}, f.err
}

func (f fakeStudy) Wiring(_ context.Context, in app.CardRequest) (app.WiringView, error) {
	f.note(in)
	return app.WiringView{}, f.err
}

func (f fakeStudy) PutCardsAway(_ context.Context, in app.CardRequest) (app.EditDone, error) {
	f.note(in)
	return app.EditDone{}, f.err
}

func (f fakeStudy) LockScoring(_ context.Context, in app.LockRequest) (app.EditDone, error) {
	f.note(in)
	return app.EditDone{}, f.err
}

func (f fakeStudy) UnlockScoring(_ context.Context, in app.UnlockRequest) (app.EditDone, error) {
	f.note(in)
	return app.EditDone{}, f.err
}

func (f fakeStudy) Schedule(context.Context) (app.ScheduleView, error) {
	return app.ScheduleView{}, f.err
}

func (f fakeStudy) ScheduleAsOpened(context.Context) (app.ScheduleDocument, error) {
	return app.ScheduleDocument{}, f.err
}

func (f fakeStudy) WriteSeason(_ context.Context, w io.Writer) (string, error) {
	if f.err != nil {
		_, _ = w.Write([]byte("half a zip"))
		return "", f.err
	}
	_, err := w.Write([]byte("PK"))
	return "bay é.zip", err
}
