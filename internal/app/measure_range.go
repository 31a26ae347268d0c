package app

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"strings"

	"brinefield/core/conduction"
)

// RangeDocument is the document of the range command: how far the field of a
// setting of the knobs reaches, by threshold, in the season frame.
type RangeDocument struct {
	Heading
	Form          string           `json:"form"`
	Thresholds    []ThresholdRange `json:"thresholds"`
	RelativeError *float64         `json:"relative_error" nullable:"true"`
	Reached       bool             `json:"reached"`
	Method        string           `json:"method"`
}

// RangeQuestion is what the range command asks beside the knobs.
type RangeQuestion struct {
	Form              string
	ThresholdsNVPerCm []float64
	HeightsM          []float64
	Directions        int
	Tolerance         float64
}

// MeasureRange works out how far the field of knobs reaches. Faults of the
// file come back all at once as a *FaultsError.
func MeasureRange(ctx context.Context, name string, data []byte, q RangeQuestion, program Program) (RangeDocument, error) {
	var knobs StimulusKnobs
	if err := decodeStrict(name, data, &knobs); err != nil {
		var faults *FaultsError
		if errors.As(err, &faults) {
			for i := range faults.Faults {
				faults.Faults[i].Expected = strings.ReplaceAll(faults.Faults[i].Expected, "the keys of the field command", "the knobs of a stimulus (docs/formats/knobs.schema.json)")
			}
		}
		return RangeDocument{}, err
	}
	found, err := NewStimulus(nil).Range(ctx, RangeRequest{
		StimulusAsk:       StimulusAsk{Knobs: knobs, Form: q.Form, Tolerance: q.Tolerance},
		ThresholdsNVPerCm: q.ThresholdsNVPerCm, HeightsM: q.HeightsM, Directions: q.Directions,
	})
	var wrong *KnobsError
	switch {
	case errors.As(err, &wrong):
		return RangeDocument{}, faultsInFile(name, data, wrong)
	case errors.Is(err, conduction.ErrNotFinite):
		return RangeDocument{}, &SpecError{File: name, Err: err}
	case err != nil:
		return RangeDocument{}, err
	}
	return RangeDocument{
		Heading: Heading{Format: Format, Program: program, InputsSHA256: Input{name: data}.Fingerprints(), Warnings: found.Warnings},
		Form:    found.Form, Thresholds: found.Thresholds, RelativeError: found.RelativeError, Reached: found.Reached, Method: found.Method,
	}, nil
}

// faultsInFile gives faults of knobs the lines of their file. Those of the
// question itself have none.
func faultsInFile(name string, data []byte, e *KnobsError) error {
	c := &specCheck{name: name, lines: jsonLines(data)}
	for _, f := range e.Faults {
		path, ofKnobs := strings.CutPrefix(f.Place, "knobs")
		if !ofKnobs {
			return fmt.Errorf("%s: %s; expected %s", strings.ReplaceAll(f.Place, "_", " "), f.Wrong, f.Expected)
		}
		path = indexed.ReplaceAllString(strings.TrimPrefix(path, "/"), "[$1]")
		c.fault(strings.ReplaceAll(path, "/", "."), f.Wrong, f.Expected)
	}
	return &FaultsError{Faults: c.faults}
}

// indexed finds the places in a list among the steps to a knob.
var indexed = regexp.MustCompile(`/(\d+)`)
