//go:build soak

package simulate

import (
	"errors"
	"testing"
	"time"

	"brinefield/core/exposure"
	"brinefield/core/inference"
)

// TestLoadOfAHundredThousandPasses: the exposures of 100 000 sparse passes at
// the study's and four more reaction times, and the detection model of both
// species at each, must take less than 20 s on two cores.
func TestLoadOfAHundredThousandPasses(t *testing.T) {
	const passes = 100_000
	s, _, err := Season(Load(passes), 1)
	if err != nil {
		t.Fatal(err)
	}
	start := time.Now()
	lap := func(what string) {
		t.Logf("%-40s %6.2f s", what, time.Since(start).Seconds())
	}
	fields, err := exposure.NewFields(s, Water(s), exposure.FieldOptions{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	lap("fields of every pair and trial")
	all, _, err := exposure.Compute(s, fields, exposure.Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	lap("exposures")
	other, err := exposure.Sensitivity(s, fields, all, []float64{0, 0.05, 0.1, 0.2}, exposure.Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	lap("at four other reaction times")
	fit := func() {
		for k := range s.Species {
			var none *inference.NotEstimable
			if _, err := inference.Detection(detectionRows(s, all, k)); err != nil && !errors.As(err, &none) {
				t.Fatal(err)
			}
		}
	}
	fit()
	lap("detection")
	for _, bounds := range other {
		for i := range all {
			all[i].Low, all[i].High = bounds[i].Low, bounds[i].High
		}
		fit()
	}
	lap("detection at the other reaction times")
	if took := time.Since(start); took > 20*time.Second {
		t.Errorf("%v, want less than 20 s", took)
	}
}
