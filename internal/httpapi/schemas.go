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
		loose bool // any key may be absent: it is then 0, empty or null
	}{
		"findings.schema.json":         {"Document of brinefield analyse and infer", reflect.TypeFor[app.Findings](), true, false},
		"field.schema.json":            {"Document of brinefield field", reflect.TypeFor[app.FieldMap](), true, false},
		"field-spec.schema.json":       {"Specification that brinefield field reads", reflect.TypeFor[app.FieldSpec](), false, false},
		"range.schema.json":            {"Document of brinefield range", reflect.TypeFor[app.RangeDocument](), true, false},
		"knobs.schema.json":            {"Knobs that brinefield range reads; what is absent is 0, empty or null", reflect.TypeFor[app.StimulusKnobs](), false, true},
		"calibration.schema.json":      {"Document of a calibration", reflect.TypeFor[app.CalibrationDocument](), true, false},
		"calibration-spec.schema.json": {"Specification of a calibration; what is absent is 0, empty or null", reflect.TypeFor[app.CalibrationSpec](), false, true},
		"background.schema.json":       {"Document of brinefield background", reflect.TypeFor[app.BackgroundDocument](), true, false},
		"background-spec.schema.json":  {"Specification that brinefield background reads; what is absent is 0, empty or null", reflect.TypeFor[app.BackgroundSpec](), false, true},
		"rig.schema.json":              {"Document of brinefield rig", reflect.TypeFor[app.RigDocument](), true, false},
		"rig-spec.schema.json":         {"Specification that brinefield rig reads", reflect.TypeFor[app.RigSpec](), false, false},
		"locate.schema.json":           {"Document of brinefield footage locate", reflect.TypeFor[app.LocateDocument](), true, false},
		"probe.schema.json":            {"Document of brinefield footage probe", reflect.TypeFor[app.ProbeDocument](), true, false},
		"locate-spec.schema.json":      {"Specification that brinefield footage locate reads", reflect.TypeFor[app.LocateSpec](), false, false},
		"water.schema.json":            {"Document of brinefield water", reflect.TypeFor[app.WaterDocument](), true, false},
		"schedule.schema.json":         {"Document of brinefield schedule", reflect.TypeFor[app.ScheduleDocument](), true, false},
		"import.schema.json":           {"Document of brinefield import", reflect.TypeFor[app.ImportDocument](), true, false},
		"verify.schema.json":           {"Document of brinefield verify of a study", reflect.TypeFor[app.VerifyDocument](), true, false},
		"package-check.schema.json":    {"Document of brinefield verify of a package", reflect.TypeFor[app.DossierCheck](), true, false},
		"dossier.schema.json":          {"Document of brinefield dossier", reflect.TypeFor[app.DossierDocument](), true, false},
		"dossier-again.schema.json":    {"Document of brinefield dossier --again", reflect.TypeFor[app.DossierAgain](), true, false},
		"dossier-against.schema.json":  {"Document of brinefield dossier --against", reflect.TypeFor[app.DossierDifference](), true, false},
	} {
		text, err := schemaOf(d.title, d.of, d.open, d.loose)
		if err != nil {
			return nil, err
		}
		out[name] = text
	}
	return out, nil
}

func schemaOf(title string, of reflect.Type, open, loose bool) ([]byte, error) {
	huma.DefaultArrayNullable = false
	registry := huma.NewMapRegistry("#/$defs/", huma.DefaultSchemaNamer)
	registry.RegisterTypeAlias(reflect.TypeFor[app.Span](), reflect.TypeFor[spanSchema]())
	registry.RegisterTypeAlias(reflect.TypeFor[app.Figures](), reflect.TypeFor[[]*float64]())
	root := registry.Schema(of, true, "")
	for _, schema := range registry.Map() {
		if open {
			schema.AdditionalProperties = nil
		}
		if loose {
			schema.Required = nil
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
