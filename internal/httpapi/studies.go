package httpapi

import (
	"context"
	"io"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
)

// Studies is what the server needs of the studies on this machine.
type Studies interface {
	Home(ctx context.Context) (app.HomeView, error)
	Create(ctx context.Context, in app.NewStudyRequest) (app.ImportDone, error)
	Plan(ctx context.Context, in app.PlanRequest) (app.PlanView, error)
	Import(ctx context.Context, in app.ImportRequest) (app.ImportDone, error)
	// Study finds one study by the name of its folder, opening it if it is not
	// open yet.
	Study(ctx context.Context, name string) (Study, error)
	Stimulus() Stimulus
	// Rig works out what a rig delivers; it reads and writes nothing of a study.
	Rig(ctx context.Context, in app.RigSpec) (app.RigDocument, error)
	Background(ctx context.Context, in app.BackgroundSpec) (app.BackgroundDocument, error)
	// ScheduleExample and NewScheduleKey keep nothing.
	ScheduleExample(in app.ExampleRequest) (app.ScheduleDocument, error)
	NewScheduleKey(in app.NewKeyRequest) (app.NewKeyView, error)
	// Calibrate fits measured potentials; it reads and writes nothing of a study.
	Calibrate(ctx context.Context, in app.CalibrationSpec) (app.CalibrationDocument, error)
}

// Study is one open study, or a season folder that is shown read-only.
// Results that are still being computed answer with app.ErrNotReady.
type Study interface {
	Season(ctx context.Context) (app.SeasonView, error)
	Progress(ctx context.Context) (app.ProgressView, error)
	Exposures(ctx context.Context) (app.ExposuresView, error)
	Pass(ctx context.Context, id string) (app.PassView, error)
	Findings(ctx context.Context) (app.Findings, error)
	Curves(ctx context.Context) (app.CurvesView, error)
	// Uncertainty may take minutes, and ends with ctx.
	Uncertainty(ctx context.Context) (app.UncertaintyView, error)
	Results(ctx context.Context) (app.ResultsView, error)
	Analyse(ctx context.Context) (app.ResultsView, error)

	Question(ctx context.Context) (app.QuestionView, error)
	Water(ctx context.Context) (app.WaterView, error)
	Stimulus(ctx context.Context) (app.StimulusStart, error)
	Rig(ctx context.Context) (app.RigStart, error)
	Background(ctx context.Context) (app.BackgroundStart, error)
	Calibration(ctx context.Context) (app.CalibrationStart, error)
	Tables(ctx context.Context) (app.TableList, error)
	Table(ctx context.Context, kind string, offset, limit int) (app.TableView, error)
	Edit(ctx context.Context, in app.EditRequest) (app.EditDone, error)
	Undo(ctx context.Context, in app.UndoRequest) (app.EditDone, error)
	History(ctx context.Context, kind, id string) (app.HistoryView, error)
	Journal(ctx context.Context, before int64, limit int) (app.HistoryView, error)
	Preregistration(ctx context.Context) (app.PreregistrationView, error)
	Register(ctx context.Context, in app.RegisterRequest) (app.PreregistrationView, error)
	Blinding
	Deck
	Footage
	Dossier
	// WriteSeason writes the plain season folder as a zip and names the file.
	WriteSeason(ctx context.Context, w io.Writer) (name string, err error)
}

// ownDeadline: the server of the listener says how long a body may take, not
// the router.
const ownDeadline = -1

// largestUpload is the most that a dropped folder may hold, as base64.
const largestUpload = 1 << 30

// StudyInput is the part of an address that names a study; huma reads only
// exported structs where they are embedded.
type StudyInput struct {
	Study string `path:"study" doc:"Name of the study's folder."`
}

type passInput struct {
	StudyInput
	ID string `path:"id" doc:"Identifier of the pass."`
}

type tableInput struct {
	StudyInput
	Kind   string `path:"kind"`
	Offset int    `query:"offset" minimum:"0"`
	Limit  int    `query:"limit" minimum:"1" maximum:"5000" default:"1000"`
}

type historyInput struct {
	StudyInput
	Kind string `query:"kind" required:"true"`
	ID   string `query:"id"`
}

type journalInput struct {
	StudyInput
	Before int64 `query:"before" minimum:"0"`
	Limit  int   `query:"limit" minimum:"1" maximum:"1000" default:"100"`
}

type studyBody[T any] struct {
	StudyInput
	Body T
}

type requestBody[T any] struct {
	Body T
}

func shelfRoutes(api huma.API, studies Studies) {
	read(api, "home", "/api/home", "The studies on this machine", func(ctx context.Context, _ *struct{}) (*body[app.HomeView], error) {
		return answer(studies.Home(ctx))
	})
	change(api, "create-study", "/api/studies", "Make an empty study", func(ctx context.Context, in *requestBody[app.NewStudyRequest]) (*body[app.ImportDone], error) {
		return answer(studies.Create(ctx, in.Body))
	})
	change(api, "plan-import", "/api/imports/plan", "What an import would change; nothing is changed", func(ctx context.Context, in *requestBody[app.PlanRequest]) (*body[app.PlanView], error) {
		return answer(studies.Plan(ctx, in.Body))
	})
	change(api, "import", "/api/imports", "Carry out a planned import, all or nothing", func(ctx context.Context, in *requestBody[app.ImportRequest]) (*body[app.ImportDone], error) {
		return answer(studies.Import(ctx, in.Body))
	})
}

func studyRoutes(api huma.API, studies Studies) {
	of(api, studies, "season", "season", "The season as it stands, with its faults", Study.Season)
	of(api, studies, "progress", "progress", "How far the analysis is", Study.Progress)
	of(api, studies, "exposures", "exposures", "What the animal met on every pass", Study.Exposures)
	of(api, studies, "findings", "findings", "The estimates", Study.Findings)
	of(api, studies, "curves", "curves", "The curves of Findings", Study.Curves)
	of(api, studies, "uncertainty", "uncertainty", "What the season's own uncertainties do to the medians: worked out when asked for", Study.Uncertainty)
	of(api, studies, "results", "results", "Whether the results are up to date", Study.Results)
	of(api, studies, "question", "question", "The question, the place, the people, permits and cautions", Study.Question)
	of(api, studies, "water", "water", "Casts, and the conductivity of each trial", Study.Water)
	of(api, studies, "tables", "tables", "The tables of the study", Study.Tables)
	read(api, "pass", "/api/studies/{study}/passes/{id}", "One pass: its track and the field along it", func(ctx context.Context, in *passInput) (*body[app.PassView], error) {
		return with(ctx, studies, in.Study, func(s Study) (app.PassView, error) { return s.Pass(ctx, in.ID) })
	})
	read(api, "table", "/api/studies/{study}/tables/{kind}", "A part of one table as it stands", func(ctx context.Context, in *tableInput) (*body[app.TableView], error) {
		return with(ctx, studies, in.Study, func(s Study) (app.TableView, error) { return s.Table(ctx, in.Kind, in.Offset, in.Limit) })
	})
	read(api, "history", "/api/studies/{study}/history", "Every entry about one record", func(ctx context.Context, in *historyInput) (*body[app.HistoryView], error) {
		return with(ctx, studies, in.Study, func(s Study) (app.HistoryView, error) { return s.History(ctx, in.Kind, in.ID) })
	})
	read(api, "journal", "/api/studies/{study}/journal", "The journal, newest entries first", func(ctx context.Context, in *journalInput) (*body[app.HistoryView], error) {
		return with(ctx, studies, in.Study, func(s Study) (app.HistoryView, error) { return s.Journal(ctx, in.Before, in.Limit) })
	})
	to(api, studies, "edit", "edits", "Change records, all or nothing", Study.Edit)
	to(api, studies, "undo", "undo", "Take back the effect of one entry", Study.Undo)
	change(api, "analyse", "/api/studies/{study}/analyse", "Analyse the study as it stands", func(ctx context.Context, in *StudyInput) (*body[app.ResultsView], error) {
		return with(ctx, studies, in.Study, func(s Study) (app.ResultsView, error) { return s.Analyse(ctx) })
	})
}

// of adds a reading route below one study.
func of[T any](api huma.API, studies Studies, id, path, summary string, ask func(Study, context.Context) (T, error)) {
	read(api, id, "/api/studies/{study}/"+path, summary, func(ctx context.Context, in *StudyInput) (*body[T], error) {
		return with(ctx, studies, in.Study, func(s Study) (T, error) { return ask(s, ctx) })
	})
}

// to adds a changing route below one study.
func to[I, O any](api huma.API, studies Studies, id, path, summary string, do func(Study, context.Context, I) (O, error)) {
	change(api, id, "/api/studies/{study}/"+path, summary, func(ctx context.Context, in *studyBody[I]) (*body[O], error) {
		return with(ctx, studies, in.Study, func(s Study) (O, error) { return do(s, ctx, in.Body) })
	})
}

func with[T any](ctx context.Context, studies Studies, name string, ask func(Study) (T, error)) (*body[T], error) {
	study, err := studies.Study(ctx, name)
	if err != nil {
		return nil, problem(err)
	}
	return answer(ask(study))
}

func change[I, O any](api huma.API, id, path, summary string, handler func(context.Context, *I) (*O, error)) {
	huma.Register(api, huma.Operation{
		OperationID: id, Method: http.MethodPost, Path: path, Summary: summary, MaxBodyBytes: largestUpload, BodyReadTimeout: ownDeadline,
		Errors: []int{
			http.StatusUnauthorized, http.StatusForbidden, http.StatusNotFound, http.StatusConflict,
			http.StatusUnprocessableEntity, http.StatusServiceUnavailable, http.StatusInsufficientStorage,
		},
	}, handler)
}
