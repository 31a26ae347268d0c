package httpapi

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
)

// Stimulus is what the server needs for the page Stimulus: calculations on
// knobs that read and write nothing of a study.
type Stimulus interface {
	Section(ctx context.Context, in app.SectionRequest) (app.StimulusSection, error)
	Points(ctx context.Context, in app.PointsRequest) (app.StimulusPoints, error)
	Range(ctx context.Context, in app.RangeRequest) (app.StimulusRange, error)
	Target(ctx context.Context, in app.TargetRequest) (app.TargetAnswer, error)
	Errors(ctx context.Context, in app.ErrorsRequest) (app.StimulusErrors, error)
	Volume(ctx context.Context, in app.VolumeRequest) (app.StimulusVolume, error)
	Prey(ctx context.Context) (app.PreyList, error)
	Waveform(ctx context.Context, in app.WaveformRequest) (app.WaveformAnswer, error)
}

// largestQuestion is the most that a question about a stimulus may hold: the
// knobs and ten thousand points.
const largestQuestion = 2 << 20

func stimulusRoutes(api huma.API, studies Studies) {
	of(api, studies, "stimulus", "stimulus", "The knobs of the page Stimulus as the study has them", Study.Stimulus)
	read(api, "stimulus-prey", "/api/stimulus/prey", "What is published of natural prey", func(ctx context.Context, _ *struct{}) (*body[app.PreyList], error) {
		return answer(studies.Stimulus().Prey(ctx))
	})
	calculate(api, studies, "stimulus-section", "section", "The field in one plane", Stimulus.Section)
	calculate(api, studies, "stimulus-points", "points", "The field at places", Stimulus.Points)
	calculate(api, studies, "stimulus-range", "range", "How far the field reaches", Stimulus.Range)
	calculate(api, studies, "stimulus-target", "target", "The current that a field at a place needs", Stimulus.Target)
	calculate(api, studies, "stimulus-errors", "errors", "What an error of each knob does to range and field", Stimulus.Errors)
	calculate(api, studies, "stimulus-volume", "volume", "The field in a box", Stimulus.Volume)
	calculate(api, studies, "stimulus-waveform", "waveform", "Whether the field is that of a steady current", Stimulus.Waveform)
}

// calculate adds a route that works something out of what it is sent; it ends
// early when the browser gives up.
func calculate[I, O any](api huma.API, studies Studies, id, path, summary string, ask func(Stimulus, context.Context, I) (O, error)) {
	huma.Register(api, huma.Operation{
		OperationID: id, Method: http.MethodPost, Path: "/api/stimulus/" + path, Summary: summary, MaxBodyBytes: largestQuestion,
		Errors: []int{http.StatusUnauthorized, http.StatusUnprocessableEntity},
	}, func(ctx context.Context, in *requestBody[I]) (*body[O], error) {
		return answer(ask(studies.Stimulus(), ctx, in.Body))
	})
}

// knobsProblem lists what is wrong with a question about a stimulus, each with
// its place: "knobs/water/salinity".
func knobsProblem(e *app.KnobsError) error {
	details := make([]error, len(e.Faults))
	for i, f := range e.Faults {
		details[i] = faultAt(f.Place, f.Wrong, f.Expected)
	}
	return huma.Error422UnprocessableEntity(e.Error(), details...)
}
