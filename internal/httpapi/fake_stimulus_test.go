package httpapi_test

import (
	"context"

	"brinefield/internal/app"
)

// fakeStimulus notes what it was asked, and answers marked values.
type fakeStimulus struct{ fakeStudies }

func (f fakeStimulus) Section(_ context.Context, in app.SectionRequest) (app.StimulusSection, error) {
	f.note(in)
	return app.StimulusSection{}, f.err
}

func (f fakeStimulus) Points(_ context.Context, in app.PointsRequest) (app.StimulusPoints, error) {
	f.note(in)
	return app.StimulusPoints{}, f.err
}

func (f fakeStimulus) Range(_ context.Context, in app.RangeRequest) (app.StimulusRange, error) {
	f.note(in)
	return app.StimulusRange{}, f.err
}

func (f fakeStimulus) Target(_ context.Context, in app.TargetRequest) (app.TargetAnswer, error) {
	f.note(in)
	return app.TargetAnswer{}, f.err
}

func (f fakeStimulus) Errors(_ context.Context, in app.ErrorsRequest) (app.StimulusErrors, error) {
	f.note(in)
	return app.StimulusErrors{}, f.err
}

func (f fakeStimulus) Volume(_ context.Context, in app.VolumeRequest) (app.StimulusVolume, error) {
	f.note(in)
	return app.StimulusVolume{}, f.err
}

func (f fakeStimulus) Prey(context.Context) (app.PreyList, error) { return app.PreyList{}, f.err }

func (f fakeStimulus) Waveform(_ context.Context, in app.WaveformRequest) (app.WaveformAnswer, error) {
	f.note(in)
	return app.WaveformAnswer{}, f.err
}
