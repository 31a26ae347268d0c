package httpapi

import (
	"encoding/json"
	"reflect"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/app"
)

// Schemas are JSON Schemas (2020-12) of the documents that commands print and
// of the field command's specification, by file name, made from the Go types.
func Schemas() (map[string][]byte, error) {
	out := map[string][]byte{}
	for name, d := range map[string]struct {
		title string
		of    reflect.Type
		open  bool // keys may be added to documents, but a specification is checked for slips
	}{
		"findings.schema.json":   {"Document of brinefield analyse and infer", reflect.TypeFor[app.Findings](), true},
		"field.schema.json":      {"Document of brinefield field", reflect.TypeFor[app.FieldMap](), true},
		"field-spec.schema.json": {"Specification that brinefield field reads", reflect.TypeFor[app.FieldSpec](), false},
		"water.schema.json":      {"Document of brinefield water", reflect.TypeFor[app.WaterDocument](), true},
		"import.schema.json":     {"Document of brinefield import", reflect.TypeFor[app.ImportDocument](), true},
		"verify.schema.json":     {"Document of brinefield verify", reflect.TypeFor[app.VerifyDocument](), true},
	} {
		text, err := schemaOf(d.title, d.of, d.open)
		if err != nil {
			return nil, err
		}
		out[name] = text
	}
	return out, nil
}

func schemaOf(title string, of reflect.Type, open bool) ([]byte, error) {
	huma.DefaultArrayNullable = false
	registry := huma.NewMapRegistry("#/$defs/", huma.DefaultSchemaNamer)
	registry.RegisterTypeAlias(reflect.TypeFor[app.Span](), reflect.TypeFor[spanSchema]())
	root := registry.Schema(of, true, "")
	for _, schema := range registry.Map() {
		if open {
			schema.AdditionalProperties = nil
		}
	}
	document := map[string]any{
		"$schema": "https://json-schema.org/draft/2020-12/schema",
		"title":   title,
		"$ref":    root.Ref,
		"$defs":   registry.Map(),
	}
	text, err := json.MarshalIndent(document, "", "  ")
	return append(text, '\n'), err
}
