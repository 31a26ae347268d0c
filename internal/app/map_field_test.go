package app_test

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"brinefield/core/numeric/numtest"
	"brinefield/internal/app"
)

const halfSpace = `{"water_S_per_m": 4.347826086956522, "layers": [],
 "electrodes": [{"at_m": [0.025, 0, 0], "current_A": 8e-6}, {"at_m": [-0.025, 0, 0], "current_A": -8e-6}],
 "points_m": [[0.4, 0, 0], [0, 0.4, 0]]}`

// The published worked example of the classic 5 nV/cm: 8 µA over 5 cm in
// 0.23 ohm m, 0.4 m away on the axis (Oceanus 20:45, 1977, as quoted in the
// reference list, 1.1 and 1.4): 4.5757e-7 V/m for an ideal dipole, times
// 1/(1−(d/2r)²)² for two poles.
func TestMapFieldOfThePublishedExample(t *testing.T) {
	m, err := app.MapField(t.Context(), "spec.json", []byte(halfSpace), app.Program{Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	q := 1 - (0.025/0.4)*(0.025/0.4)
	numtest.Check(t, "on the axis, nV/cm", m.Points[0].Magnitude, 4.5757/(q*q), numtest.Tolerance{Rel: 2e-5})
	if m.Points[0].EVPerM[0] <= 0 {
		t.Error("on the axis, beyond the positive electrode, the field points away from it")
	}
	if m.Points[1].EVPerM[0] >= 0 {
		t.Error("beside the pair the field points from the positive to the negative electrode")
	}
	if m.Method == "" || m.RelativeError <= 0 || m.RelativeError > 1e-6 || m.Format != 1 || len(m.InputsSHA256["spec.json"]) != 64 {
		t.Errorf("document %+v", m.Heading)
	}
}

func FuzzMapField(f *testing.F) {
	f.Add([]byte(halfSpace))
	f.Add([]byte(`{"water_S_per_m": 5, "layers": [{"thickness_m": 2, "S_per_m": 1.2}, {"S_per_m": 0.01}], "water_depth_m": 3, "enclosure": {"size_m": [3, 2]},
 "electrodes": [{"at_m": [0.1, 0, 0.2], "current_A": 1e-6, "diameter_m": 0.002}, {"at_m": [0, 0, 0], "current_A": -1e-6}], "points_m": [[0, 0, 1]], "tolerance": 0.005}`))
	f.Add([]byte(`{"water_S_per_m": 5, "layers": null, "plates": [{}], "electrodes": [{}], "points_m": [[]]}`))
	// Electrodes beside the plate: what is wrong is found before anything is solved,
	// which takes seconds on a plate.
	f.Add([]byte(`{"water_S_per_m": 5, "layers": [{"S_per_m": 1}], "plates": [{"shape": "rectangle", "size_m": [0.3, 0.2], "yaw_deg": 10}, {"shape": "disc", "diameter_m": 1, "centre_m": [4, 0], "thickness_m": 0.1}],
 "electrodes": [{"at_m": [1, 0, 0], "current_A": 1e-6}], "points_m": [[0, 0, 0.1]], "tolerance": 0.05}`))
	f.Add([]byte(`{"water_S_per_m": 1e999}`))
	f.Add([]byte("[[[["))
	f.Add([]byte(`{"electrodes": 5}`))
	f.Fuzz(func(t *testing.T, spec []byte) {
		if len(spec) > 1<<12 {
			t.Skip("a specification is short")
		}
		m, err := app.MapField(t.Context(), "spec.json", spec, app.Program{})
		var faults *app.FaultsError
		var other *app.SpecError
		switch {
		case errors.As(err, &faults):
			for _, fault := range faults.Faults {
				if fault.Row < 0 || fault.Row > 1+strings.Count(string(spec), "\n") || fault.Wrong == "" || fault.Expected == "" {
					t.Errorf("fault %+v", fault)
				}
			}
		case errors.As(err, &other):
		case err != nil:
			t.Errorf("an error that is neither a fault nor a refusal: %v", err)
		default:
			if _, err := json.Marshal(m); err != nil {
				t.Errorf("the document cannot be written: %v", err)
			}
		}
	})
}
