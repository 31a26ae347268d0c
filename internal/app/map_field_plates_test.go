package app_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"brinefield/core/conduction"
	"brinefield/core/numeric/numtest"
	"brinefield/internal/app"
)

// femCase is one plate that was solved with finite elements: see
// testdata/plate_fem.json.
type femCase struct {
	Case   string `json:"case"`
	Params struct {
		Side, R, T, Ztop, H, Ss, Sw, D, I float64
	} `json:"params"`
	Points []femPoint `json:"points"`
}

type femPoint struct {
	At, E   [3]float64
	Bar     float64
	NoPlate float64 `json:"no_plate"`
}

func (p femPoint) magnitude() float64 { return math.Hypot(math.Hypot(p.E[0], p.E[1]), p.E[2]) }

func femCases(t testing.TB) []femCase {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", "plate_fem.json"))
	if err != nil {
		t.Fatal(err)
	}
	var all struct {
		Cases []femCase `json:"cases"`
	}
	if err := json.Unmarshal(data, &all); err != nil {
		t.Fatal(err)
	}
	if len(all.Cases) != 5 || len(all.Cases[0].Points) != 42 {
		t.Fatalf("%d cases", len(all.Cases))
	}
	return all.Cases
}

// specification of a case, as text.
func (c *femCase) specification(t testing.TB, tolerance float64) []byte {
	t.Helper()
	p := &c.Params
	plate := map[string]any{"shape": "rectangle", "size_m": []float64{p.Side, p.Side}}
	if p.R > 0 {
		plate = map[string]any{"shape": "disc", "diameter_m": 2 * p.R}
	}
	plate["thickness_m"], plate["top_m"] = p.T, p.Ztop
	var points [][3]float64
	for _, q := range c.Points {
		points = append(points, q.At)
	}
	data, err := json.Marshal(map[string]any{
		"water_S_per_m": p.Sw, "water_depth_m": p.H, "layers": []any{map[string]any{"S_per_m": p.Ss}}, "plates": []any{plate},
		"electrodes": []any{
			map[string]any{"at_m": []float64{p.D / 2, 0, p.Ztop}, "current_A": p.I},
			map[string]any{"at_m": []float64{-p.D / 2, 0, p.Ztop}, "current_A": -p.I},
		},
		"points_m": points, "tolerance": tolerance,
	})
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// Source: finite elements, 42 places a plate, each with its own bar. Within
// the tolerance asked for and the bar.
func TestMapFieldOnPlatesAgreesWithFiniteElements(t *testing.T) {
	long(t)
	for _, c := range femCases(t) {
		const tolerance = 0.005
		m, err := app.MapField(t.Context(), "spec.json", c.specification(t, tolerance), app.Program{})
		if err != nil {
			t.Fatal(c.Case, err)
		}
		worst := 0.0
		for i, q := range c.Points {
			off := 0.0
			for k := range q.E {
				off = math.Hypot(off, m.Points[i].EVPerM[k]-q.E[k])
			}
			off /= q.magnitude()
			worst = math.Max(worst, off-q.Bar)
			if off > tolerance+q.Bar {
				t.Errorf("%s at %v: |δE|/|E| = %.2g, with a bar of %.2g", c.Case, q.At, off, q.Bar)
			}
			if m.Points[i].PotentialV == 0 && q.At[0] != 0 {
				t.Errorf("%s at %v: no potential", c.Case, q.At)
			}
		}
		if m.RelativeError <= 0 || m.RelativeError > tolerance || m.Unknowns < 100 || len(m.Warnings) != 0 || !strings.Contains(m.Method, "plates") {
			t.Errorf("%s: error %g, %d unknowns, method %q, warnings %v", c.Case, m.RelativeError, m.Unknowns, m.Method, m.Warnings)
		}
		t.Logf("%s: worst |δE|/|E| beyond the bar %.2g, estimated %.2g", c.Case, worst, m.RelativeError)
	}
}

const plateSpec = `{"water_S_per_m": 5, "water_depth_m": 3, "layers": [{"S_per_m": 1}], "plates": %s,
 "electrodes": [{"at_m": [0.005, 0, 0], "current_A": 6e-6}, {"at_m": [-0.005, 0, 0], "current_A": -6e-6}],
 "points_m": [[0, 0, 0.1]]%s}`

// An empty list of plates, null and no key at all are one thing.
func TestMapFieldWithoutPlatesIsWhatItWas(t *testing.T) {
	bare, err := app.MapField(t.Context(), "s.json", []byte(strings.Replace(fmt.Sprintf(plateSpec, "null", ""), `"plates": null,`, "", 1)), app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	for _, none := range []string{"null", "[]"} {
		m, err := app.MapField(t.Context(), "s.json", fmt.Appendf(nil, plateSpec, none, ""), app.Program{})
		if err != nil {
			t.Fatal(err)
		}
		if m.Points[0] != bare.Points[0] || m.Method != bare.Method {
			t.Errorf("plates %s: %+v, without the key %+v", none, m.Points[0], bare.Points[0])
		}
	}
}

// A tolerance that no mesh reaches is said, with the error that was reached.
func TestMapFieldSaysWhenTheToleranceIsNotReached(t *testing.T) {
	long(t)
	m, err := app.MapField(t.Context(), "s.json", fmt.Appendf(nil, plateSpec, `[{"shape": "rectangle", "size_m": [0.1, 0.1], "thickness_m": 0.01}]`, `, "tolerance": 1e-9`), app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	if len(m.Warnings) != 1 || !strings.Contains(m.Warnings[0], "1e-09") || !strings.Contains(m.Warnings[0], fmt.Sprintf("%.2g", m.RelativeError)) {
		t.Errorf("warnings %q, error %g", m.Warnings, m.RelativeError)
	}
	// The figure itself: the field over a plate of 10 cm lies between that over none
	// and that over an endless one, which is 1 + 1/5 times that (images, closed form).
	none, err := app.MapField(t.Context(), "s.json", fmt.Appendf(nil, plateSpec, "null", ""), app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	if r := m.Points[0].Magnitude / none.Points[0].Magnitude; r < 1.01 || r > 1.2 {
		t.Errorf("%g times the field without the plate", r)
	}
}

func TestFaultsOfPlatesInASpecification(t *testing.T) {
	good := `"size_m": [0.5, 0.4], "thickness_m": 0.01`
	for _, c := range []struct{ name, plate, path, wrong string }{
		{"no shape", good, "plates[1].shape", "missing"},
		{"unknown shape", `"shape": "square", ` + good, "plates[1].shape", `found "square"`},
		{"size and diameter", `"shape": "rectangle", "diameter_m": 0.4, ` + good, "plates[1].diameter_m", "a rectangle with a diameter"},
		{"diameter and size", `"shape": "disc", "diameter_m": 0.4, ` + good, "plates[1].size_m", "a disc with a size"},
		{"no size", `"shape": "rectangle"`, "plates[1].size_m", "found 0 numbers"},
		{"one size", `"shape": "rectangle", "size_m": [0.5]`, "plates[1].size_m", "found 1 numbers"},
		{"size 0", `"shape": "rectangle", "size_m": [0.5, 0]`, "plates[1].size_m", "found 0"},
		{"no diameter", `"shape": "disc"`, "plates[1].diameter_m", "missing"},
		{"negative diameter", `"shape": "disc", "diameter_m": -1`, "plates[1].diameter_m", "found -1"},
		{"negative thickness", `"shape": "rectangle", "size_m": [0.5, 0.4], "thickness_m": -0.01`, "plates[1].thickness_m", "found -0.01"},
		{"centre of three", `"shape": "rectangle", "centre_m": [0, 0, 0], ` + good, "plates[1].centre_m", "found 3 numbers"},
		{"unknown key", `"shape": "rectangle", "depth_m": 3, ` + good, "depth_m", `unknown key "depth_m"`},
		{"not finite", `"shape": "rectangle", "yaw_deg": 1e999, ` + good, "yaw_deg", "found a number"},
	} {
		plates := "[{\"shape\": \"disc\", \"diameter_m\": 0.1, \"thickness_m\": 0.01, \"centre_m\": [3, 3]},\n{" + c.plate + "}]"
		_, err := app.MapField(t.Context(), "s.json", fmt.Appendf(nil, plateSpec, plates, ""), app.Program{})
		var faults *app.FaultsError
		if !errors.As(err, &faults) || len(faults.Faults) != 1 {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		f := faults.Faults[0]
		if !strings.HasSuffix(f.Column, c.path) || !strings.HasPrefix(f.Wrong, c.wrong) || f.Row != 2 || f.Expected == "" {
			t.Errorf("%s: fault %+v", c.name, f)
		}
	}
}

// What only the engine can see comes back as its error, with the file's name.
func TestRefusalsOfPlatesInASpecification(t *testing.T) {
	plate := `{"shape": "rectangle", "size_m": [0.5, 0.4], "thickness_m": 0.02, "top_m": %g, "centre_m": [%g, 0]}`
	at := func(top, x float64) string { return fmt.Sprintf(plate, top, x) }
	for _, c := range []struct {
		name, plates, change string
		is                   error
	}{
		{"overlap", "[" + at(0, 0) + "," + at(-0.01, 0.3) + "]", "", conduction.ErrPlate},
		{"larger than the tank", "[" + at(0, 0) + "]", `, "enclosure": {"size_m": [0.4, 1]}`, conduction.ErrPlate},
		{"out of the water", "[" + at(3, 0) + "]", "", conduction.ErrPlate},
		{"electrode inside", "[" + at(0.01, 0) + "]", "", conduction.ErrElectrode},
		{"electrode beside", "[" + at(0, 0.5) + "]", "", conduction.ErrElectrode},
		{"point inside", "[" + at(0, 0) + "]", `, "points_m": [[0.1, 0, -0.01]]`, conduction.ErrInPlate},
	} {
		spec := fmt.Sprintf(plateSpec, c.plates, c.change)
		if strings.Contains(c.change, "points_m") {
			spec = strings.Replace(spec, "\"points_m\": [[0, 0, 0.1]],", "", 1)
		}
		_, err := app.MapField(t.Context(), "s.json", []byte(spec), app.Program{})
		var refused *app.SpecError
		if !errors.As(err, &refused) || !errors.Is(err, c.is) || !strings.HasPrefix(err.Error(), "s.json: ") {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// Turning a plate with its electrodes turns the field.
func TestATurnedPlate(t *testing.T) {
	long(t)
	spec := func(plate, electrodes, point string) string {
		return fmt.Sprintf(`{"water_S_per_m": 5, "water_depth_m": 3, "layers": [{"S_per_m": 1}], "plates": [%s], "electrodes": [%s], "points_m": [%s]}`, plate, electrodes, point)
	}
	straight, err := app.MapField(t.Context(), "s.json", []byte(spec(`{"shape": "rectangle", "size_m": [0.5, 0.3], "thickness_m": 0.01, "top_m": 0.01}`,
		`{"at_m": [0.005, 0, 0.01], "current_A": 6e-6}, {"at_m": [-0.005, 0, 0.01], "current_A": -6e-6}`, "[0.2, 0.1, 0.1]")), app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	turned, err := app.MapField(t.Context(), "s.json", []byte(spec(`{"shape": "rectangle", "size_m": [0.5, 0.3], "thickness_m": 0.01, "top_m": 0.01, "yaw_deg": 90, "centre_m": [1, 2]}`,
		`{"at_m": [1, 2.005, 0.01], "current_A": 6e-6}, {"at_m": [1, 1.995, 0.01], "current_A": -6e-6}`, "[0.9, 2.2, 0.1]")), app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	a, b := straight.Points[0].EVPerM, turned.Points[0].EVPerM
	size := straight.Points[0].Magnitude / 1e7
	for k, want := range [3]float64{-a[1], a[0], a[2]} {
		numtest.Check(t, fmt.Sprintf("component %d", k), b[k]/size, want/size, numtest.Tolerance{Abs: 1e-9})
	}
}
