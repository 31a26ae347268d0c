package app_test

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"brinefield/internal/app"
)

// The page begins with the study's own knobs and no readings; what is saved
// comes back as it was written, and a text that could not be worked out is
// refused with its places.
func TestCalibrationOfAStudy(t *testing.T) {
	b, _, _ := bay(t, app.ImportRequest{})
	begin, err := b.Calibration(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	stimulus, err := b.Stimulus(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	had, _ := json.Marshal(stimulus.Knobs)
	got, _ := json.Marshal(begin.Spec.Knobs)
	if begin.Saved || begin.SpecText != "" || string(had) != string(got) || len(begin.Spec.Readings) != 0 || begin.Spec.Offset != "fit" || len(begin.From) < len(stimulus.KnobsFrom)+1 {
		t.Errorf("%+v", begin)
	}
	begin.Spec.Readings = []app.CalibrationReading{{Label: "x", PlusM: []float64{0.1, 0, 0.05}, UV: number(3)}}
	text, err := json.Marshal(begin.Spec)
	if err != nil {
		t.Fatal(err)
	}
	set(t, b, "Tom Kett", app.CellChange{Kind: "calibration", Field: "spec", To: string(text)})
	saved, err := b.Calibration(t.Context())
	if err != nil || !saved.Saved || saved.SpecText != string(text) || len(saved.Spec.Readings) != 1 || *saved.Spec.Readings[0].UV != 3 {
		t.Errorf("%+v, %v", saved, err)
	}
	for _, c := range []struct{ text, place string }{
		{strings.Replace(string(text), `"offset":"fit"`, `"offset":"perhaps"`, 1), "offset"},
		{strings.Replace(string(text), `"offset"`, `"ofset"`, 1), "ofset"},
		{"{", "spec"},
	} {
		_, err := b.Edit(t.Context(), app.EditRequest{Author: "Tom Kett", Changes: []app.CellChange{{Kind: "calibration", Field: "spec", From: string(text), To: c.text}}})
		var refused *app.EditError
		if !errors.As(err, &refused) || refused.Faults[0].Kind != "calibration" || !strings.Contains(err.Error(), c.place) {
			t.Errorf("%.30s: %v; want a fault at %s", c.text, err, c.place)
		}
	}
}
