// Package httpapi serves one open season to the browser on this machine:
// routes, JSON, and who may call. It knows the tasks of app and nothing of
// how they are done.
package httpapi

import (
	"context"
	"errors"
	"io/fs"
	"net/http"
	"reflect"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"

	"brinefield/internal/app"
)

// Season is what the server needs of an open season. Results that are still
// being computed answer with app.ErrNotReady.
type Season interface {
	Season() app.SeasonView
	Progress() app.ProgressView
	Exposures() (app.ExposuresView, error)
	Pass(id string) (app.PassView, error)
	Findings() (app.Findings, error)
	Curves() (app.CurvesView, error)
}

// Config is what the server serves and to whom.
type Config struct {
	Season  Season
	Web     fs.FS    // the built front end
	Hosts   []string // exact values of the Host header that are answered
	Session *Sessions
	Version string
}

// New returns the whole handler: guard, API and front end.
func New(c Config) http.Handler {
	mux := http.NewServeMux()
	Routes(mux, c.Season, c.Version)
	mux.HandleFunc("GET /enter", c.Session.enter)
	mux.Handle("/", frontEnd(c.Web))
	return guard(c.Hosts, c.Session, mux)
}

// Routes adds the API to mux and returns its description. The season may be
// nil when only the description is wanted.
func Routes(mux *http.ServeMux, season Season, version string) *huma.OpenAPI {
	huma.DefaultArrayNullable = false // lists are empty, never null
	config := huma.DefaultConfig("Brinefield", version)
	config.DocsPath = "" // the stock page loads a script from outside
	config.SchemasPath = ""
	config.CreateHooks = nil // plain JSON, no $schema key
	config.Components.Schemas.RegisterTypeAlias(reflect.TypeFor[app.Span](), reflect.TypeFor[spanSchema]())
	api := humago.New(mux, config)

	read(api, "season", "/api/season", "The season as it was read, with its faults", func(context.Context, *struct{}) (*body[app.SeasonView], error) {
		return &body[app.SeasonView]{season.Season()}, nil
	})
	read(api, "progress", "/api/progress", "How far the analysis is", func(context.Context, *struct{}) (*body[app.ProgressView], error) {
		return &body[app.ProgressView]{season.Progress()}, nil
	})
	read(api, "exposures", "/api/exposures", "What the animal met on every pass", func(context.Context, *struct{}) (*body[app.ExposuresView], error) {
		return answer(season.Exposures())
	})
	read(api, "pass", "/api/passes/{id}", "One pass: its track and the field along it", func(_ context.Context, in *passInput) (*body[app.PassView], error) {
		return answer(season.Pass(in.ID))
	})
	read(api, "findings", "/api/findings", "The estimates", func(context.Context, *struct{}) (*body[app.Findings], error) {
		return answer(season.Findings())
	})
	read(api, "curves", "/api/curves", "The curves of Findings", func(context.Context, *struct{}) (*body[app.CurvesView], error) {
		return answer(season.Curves())
	})
	return api.OpenAPI()
}

type passInput struct {
	ID string `path:"id" doc:"Identifier of the pass."`
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
	switch {
	case errors.Is(err, app.ErrNotReady):
		return huma.Error503ServiceUnavailable(err.Error())
	case errors.Is(err, app.ErrUnknownPass):
		return huma.Error404NotFound(err.Error())
	case errors.Is(err, app.ErrFaults):
		return huma.Error409Conflict(err.Error())
	}
	return huma.Error500InternalServerError(err.Error())
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
