package httpapi_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
	"brinefield/internal/httpapi"
)

// The schemas in docs/formats are those of the Go types. UPDATE=1 writes them.
func TestSchemasInDocsAreCurrent(t *testing.T) {
	schemas, err := httpapi.Schemas()
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range schemas {
		path := filepath.Join("..", "..", "docs", "formats", name)
		if os.Getenv("UPDATE") == "1" {
			if err := os.WriteFile(path, text, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		committed, err := os.ReadFile(path)
		if err != nil || !bytes.Equal(committed, text) {
			t.Errorf("docs/formats/%s is not what the Go types say (%v); UPDATE=1 go test ./internal/httpapi writes it", name, err)
		}
	}
}

// A document of a whole season, and one with much that is not estimable, are
// what the schema says.
func TestFindingsFollowTheSchema(t *testing.T) {
	registry := huma.NewMapRegistry("#/$defs/", huma.DefaultSchemaNamer)
	registry.RegisterTypeAlias(reflect.TypeFor[app.Span](), httpapi.SpanSchemaType)
	schema := registry.Schema(reflect.TypeFor[app.Findings](), true, "")
	for _, folder := range []string{"../../testdata/season-a", "../../examples/01-old-spreadsheet", "../../examples/03-round-tank"} {
		in := app.Input{}
		names, err := filepath.Glob(filepath.Join(folder, "*.[ct][so][vm]*"))
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			if in[filepath.Base(name)], err = os.ReadFile(name); err != nil {
				t.Fatal(err)
			}
		}
		s, err := app.ReadSeason(in)
		if err != nil {
			t.Fatal(err)
		}
		analysis, err := app.Analyse(t.Context(), in, s, app.AnalyseOptions{Seed: 1, Only: app.Sections})
		if err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(analysis.Findings)
		if err != nil {
			t.Fatal(err)
		}
		var document any
		if err := json.Unmarshal(text, &document); err != nil {
			t.Fatal(err)
		}
		var result huma.ValidateResult
		huma.Validate(registry, schema, huma.NewPathBuffer(nil, 0), huma.ModeReadFromServer, document, &result)
		for _, e := range result.Errors {
			t.Errorf("%s: %v", folder, e)
		}
	}
}
