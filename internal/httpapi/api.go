// Package httpapi serves the studies to the browser on this machine:
// routes, JSON, and who may call. It knows the tasks of app and nothing of
// how they are done.
package httpapi

import (
	"context"
	"errors"
	"io/fs"
	"net/http"
	"reflect"
	"strconv"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"

	"brinefield/internal/app"
)

// Config is what the server serves and to whom.
type Config struct {
	Studies Studies
	Tablets Tablets  // nil: this window serves none
	Web     fs.FS    // the built front end
	Hosts   []string // exact values of the Host header that are answered
	Session *Sessions
	Version string
}

// New returns the whole handler: guard, API and front end.
func New(c Config) http.Handler {
	answers, mux := http.NewServeMux(), http.NewServeMux()
	if c.Tablets == nil {
		c.Tablets = noTablets{}
	}
	Routes(answers, c.Studies, c.Tablets, c.Version)
	mux.Handle("/api/", notStored(answers))
	for _, d := range downloads {
		mux.HandleFunc(d.pattern, func(w http.ResponseWriter, r *http.Request) { d.send(c.Studies, w, r) })
	}
	mux.HandleFunc("GET /enter", c.Session.enter)
	mux.Handle("/", frontEnd(c.Web))
	return guard(c.Hosts, c.Session, mux)
}

// Routes adds the API to mux and returns its description. The studies and tablets
// may be nil when only the description is wanted.
func Routes(mux *http.ServeMux, studies Studies, tablets Tablets, version string) *huma.OpenAPI {
	return routes(mux, studies, tablets, version, nil)
}

// routes adds the API; where there is a gate, nothing is answered that it does
// not admit.
func routes(mux *http.ServeMux, studies Studies, tablets Tablets, version string, gate Gate) *huma.OpenAPI {
	huma.DefaultArrayNullable = false // lists are empty, never null
	config := huma.DefaultConfig("Brinefield", version)
	config.DocsPath = "" // the stock page loads a script from outside
	config.SchemasPath = ""
	config.CreateHooks = nil // plain JSON, no $schema key
	config.Components.Schemas.RegisterTypeAlias(reflect.TypeFor[app.Span](), reflect.TypeFor[spanSchema]())
	config.Components.Schemas.RegisterTypeAlias(reflect.TypeFor[app.Figures](), reflect.TypeFor[[]*float64]())
	api := humago.New(mux, config)
	if gate != nil {
		api.UseMiddleware(admitted(api, gate))
	}

	shelfRoutes(api, studies)
	studyRoutes(api, studies)
	stimulusRoutes(api, studies)
	rigRoutes(api, studies)
	backgroundRoutes(api, studies)
	calibrationRoutes(api, studies)
	preregistrationRoutes(api, studies)
	scheduleRoutes(api, studies)
	deckRoutes(api, studies, gate)
	footageRoutes(api, studies)
	dossierRoutes(api, studies)
	tabletRoutes(api, tablets)
	return api.OpenAPI()
}

type body[T any] struct {
	Body T
}

func answer[T any](v T, err error) (*body[T], error) {
	if err != nil {
		return nil, problem(err)
	}
	return &body[T]{v}, nil
}

// problem turns an error of app into a status; the sentence stays the same.
func problem(err error) error {
	var edit *app.EditError
	if errors.As(err, &edit) {
		return editProblem(edit)
	}
	var knobs *app.KnobsError
	if errors.As(err, &knobs) {
		return knobsProblem(knobs)
	}
	var much *app.TooMuchError
	if errors.As(err, &much) {
		return huma.ErrorWithHeaders(huma.Error429TooManyRequests(much.Error()), http.Header{"Retry-After": {strconv.Itoa(much.Seconds())}})
	}
	return huma.NewError(statusOf(err), err.Error())
}

func statusOf(err error) int {
	for _, known := range statuses {
		if errors.Is(err, known.err) {
			return known.status
		}
	}
	var newer *app.NewerStudyError
	var damaged *app.DamagedError
	var fork *app.DeckForkError
	var media *app.MediaError
	if errors.As(err, &media) {
		return http.StatusUnprocessableEntity
	}
	if errors.As(err, &newer) || errors.As(err, &damaged) || errors.As(err, &fork) {
		return http.StatusConflict
	}
	return http.StatusInternalServerError
}

var statuses = []struct {
	err    error
	status int
}{
	{app.ErrNotReady, http.StatusServiceUnavailable},
	{app.ErrUnknownPass, http.StatusNotFound},
	{app.ErrUnknownStudy, http.StatusNotFound},
	{app.ErrUnknownTable, http.StatusNotFound},
	{app.ErrUnknownEntry, http.StatusNotFound},
	{app.ErrUnknownPlan, http.StatusNotFound},
	{app.ErrNoResult, http.StatusServiceUnavailable},
	{app.ErrFaults, http.StatusConflict},
	{app.ErrIncomplete, http.StatusConflict},
	{app.ErrDataGone, http.StatusConflict},
	{app.ErrLooseSeason, http.StatusConflict},
	{app.ErrNotAStudy, http.StatusNotFound},
	{app.ErrNoDossier, http.StatusNotFound},
	{app.ErrNoFigure, http.StatusNotFound},
	{app.ErrNoPrinter, http.StatusConflict},
	{app.ErrNoDossiers, http.StatusConflict},
	{app.ErrDossierRuns, http.StatusConflict},
	{app.ErrNoPackage, http.StatusUnprocessableEntity},
	{app.ErrChangedMeanwhile, http.StatusConflict},
	{app.ErrReadOnly, http.StatusForbidden},
	{app.ErrDeckRefused, http.StatusForbidden},
	{app.ErrOtherLog, http.StatusConflict},
	{app.ErrOtherStudy, http.StatusConflict},
	{app.ErrOpeningStays, http.StatusConflict},
	{app.ErrOtherBlob, http.StatusUnprocessableEntity},
	{app.ErrErased, http.StatusGone},
	{app.ErrDeckUnfit, http.StatusConflict},
	{app.ErrDeckSpec, http.StatusConflict},
	{app.ErrNoDeckLog, http.StatusUnprocessableEntity},
	{app.ErrBlind, http.StatusForbidden},
	{app.ErrLocked, http.StatusConflict},
	{app.ErrNotSealed, http.StatusConflict},
	{app.ErrNoSchedule, http.StatusNotFound},
	{app.ErrNoCards, http.StatusForbidden},
	{app.ErrKey, http.StatusUnprocessableEntity},
	{app.ErrSchedule, http.StatusUnprocessableEntity},
	{app.ErrBadName, http.StatusUnprocessableEntity},
	{context.Canceled, http.StatusServiceUnavailable}, // nobody is there to read it
	{app.ErrNoSpace, http.StatusInsufficientStorage},
	{app.ErrNotPaired, http.StatusUnauthorized},
	{app.ErrNotAllowed, http.StatusForbidden},
	{app.ErrPairing, http.StatusForbidden},
	{app.ErrNotServing, http.StatusConflict},
	{app.ErrUnknownTablet, http.StatusNotFound},
	{app.ErrTablet, http.StatusUnprocessableEntity},
	{app.ErrNoAttachment, http.StatusNotFound},
	{app.ErrNotHereYet, http.StatusNotFound},
	{app.ErrErased, http.StatusGone},
	{app.ErrCannotClean, http.StatusUnprocessableEntity},
	{app.ErrNoClip, http.StatusNotFound},
	{app.ErrFootageMissing, http.StatusGone},
	{app.ErrFootage, http.StatusUnprocessableEntity},
}

// editProblem lists what is wrong with an edit, each with its place as
// kind/ID/field: "pass/P00001/turned".
func editProblem(e *app.EditError) error {
	details := make([]error, len(e.Faults))
	for i, f := range e.Faults {
		details[i] = faultAt(f.Kind+"/"+f.ID+"/"+f.Field, f.Wrong, f.Expected)
	}
	return huma.Error422UnprocessableEntity(e.Error(), details...)
}

func faultAt(place, wrong, expected string) error {
	return &huma.ErrorDetail{Message: wrong + "; " + expected, Location: place}
}

func read[I, O any](api huma.API, id, path, summary string, handler func(context.Context, *I) (*O, error)) {
	huma.Register(api, huma.Operation{
		OperationID: id, Method: http.MethodGet, Path: path, Summary: summary,
		Errors: []int{http.StatusUnauthorized, http.StatusNotFound, http.StatusConflict, http.StatusServiceUnavailable},
	}, handler)
}

// spanSchema describes app.Span as it is written: two numbers (null where
// unbounded) or the reason why there are none.
type spanSchema struct{}

// Schema implements huma.SchemaProvider.
func (spanSchema) Schema(huma.Registry) *huma.Schema {
	two := 2
	return &huma.Schema{OneOf: []*huma.Schema{
		{Type: huma.TypeArray, MinItems: &two, MaxItems: &two, Items: &huma.Schema{Type: huma.TypeNumber, Nullable: true}},
		{
			Type: huma.TypeObject, Required: []string{"not_estimable"}, AdditionalProperties: false,
			Properties: map[string]*huma.Schema{"not_estimable": {Type: huma.TypeString}},
		},
	}}
}
