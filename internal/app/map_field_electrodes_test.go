package app_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"brinefield/core/conduction"
	"brinefield/core/numeric/numtest"
	"brinefield/internal/app"
)

// mapped is the field document of electrodes (and more keys) in water of 4 S/m.
func mapped(t *testing.T, rest string) app.FieldMap {
	t.Helper()
	m, err := app.MapField(t.Context(), "s.json", []byte(`{"water_S_per_m": 4, `+rest+`}`), app.Program{})
	if err != nil {
		t.Fatalf("%s: %v", rest, err)
	}
	return m
}

// A linear quadrupole +I, −2I, +I in endless water: on the axis at a distance r
// from its middle the field is I/(4πσ)·(1/(r−d)² − 2/r² + 1/(r+d)²), by Coulomb's law;
// three electrodes need no fourth.
func TestThreeElectrodes(t *testing.T) {
	const d, r, current = 0.05, 0.4, 1e-5
	m := mapped(t, `"electrodes": [{"at_m": [0.05, 0, 1], "current_A": 1e-5}, {"at_m": [0, 0, 1], "current_A": -2e-5}, {"at_m": [-0.05, 0, 1], "current_A": 1e-5}], "points_m": [[0.4, 0, 1], [0, 0.4, 1]]`)
	f := current / (4 * math.Pi * 4)
	numtest.Check(t, "on the axis", m.Points[0].EVPerM[0], f*(1/((r-d)*(r-d))-2/(r*r)+1/((r+d)*(r+d))), numtest.Tolerance{Rel: 1e-11})
	across := math.Pow(r*r+d*d, 1.5)
	numtest.Check(t, "across it", m.Points[1].EVPerM[1], f*(2*r/across-2/(r*r)), numtest.Tolerance{Rel: 1e-11})
}

// Four electrodes are two pairs: on a plate the document of all is the sum of the
// documents of each, to twice the tolerance asked for.
func TestFourElectrodesOnAPlate(t *testing.T) {
	long(t)
	const rest = `"water_depth_m": 3, "layers": [{"S_per_m": 1.2}], "plates": [{"shape": "rectangle", "size_m": [0.6, 0.4], "thickness_m": 0.01}], "tolerance": 0.005, "points_m": [[0, 0, 0.1], [0.2, 0.1, 0.05], [-0.5, 0.3, 0.2]], "electrodes": `
	east := `{"at_m": [0.105, 0.05, 0], "current_A": 6e-6}, {"at_m": [0.095, 0.05, 0], "current_A": -6e-6}`
	west := `{"at_m": [-0.095, 0, 0], "current_A": -4e-6}, {"at_m": [-0.105, 0, 0], "current_A": 4e-6}`
	both, a, b := mapped(t, rest+"["+east+","+west+"]"), mapped(t, rest+"["+east+"]"), mapped(t, rest+"["+west+"]")
	for k := range both.Points {
		off, size := 0.0, 0.0
		for c := range 3 {
			x, y := a.Points[k].EVPerM[c], b.Points[k].EVPerM[c]
			off = math.Hypot(off, both.Points[k].EVPerM[c]-x-y)
			size = math.Hypot(size, math.Abs(x)+math.Abs(y))
		}
		if off > 0.01*size {
			t.Errorf("point %d: the field of four electrodes is off by %.2g of the sum of the pairs'", k, off/size)
		}
	}
}

// Currents must sum to zero exactly where none can leave.
func TestCurrentsOfThreeElectrodes(t *testing.T) {
	three := `"electrodes": [{"at_m": [0.05, 0, 0.1], "current_A": 1e-5}, {"at_m": [0, 0, 0.1], "current_A": -2e-5}, {"at_m": [-0.05, 0, 0.1], "current_A": %s}], "points_m": [[0.4, 0, 0.1]], `
	for _, c := range []struct {
		name, medium string
		open         bool
	}{
		{"endless water", `"layers": null`, true},
		{"over sediment", `"water_depth_m": 2, "layers": [{"S_per_m": 1}]`, true},
		{"over a plate on sediment", `"water_depth_m": 2, "layers": [{"S_per_m": 1}], "tolerance": 0.2, "plates": [{"shape": "disc", "diameter_m": 0.2, "thickness_m": 0.01}]`, true},
		{"over an insulator", `"water_depth_m": 2, "layers": []`, false},
		{"in a tank", `"enclosure": {"size_m": [2, 2]}, "layers": [{"S_per_m": 1}]`, false},
		{"over a plate on an insulator", `"water_depth_m": 2, "layers": [], "tolerance": 0.2, "plates": [{"shape": "disc", "diameter_m": 0.2, "thickness_m": 0.01, "top_m": 0.01}]`, false},
	} {
		for _, last := range []string{"1e-5", "1.5e-5"} {
			_, err := app.MapField(t.Context(), "s.json", []byte(`{"water_S_per_m": 4, `+fmt.Sprintf(three, last)+c.medium+`}`), app.Program{})
			if c.open || last == "1e-5" {
				if err != nil {
					t.Errorf("%s, third %s A: %v", c.name, last, err)
				}
				continue
			}
			if !errors.Is(err, conduction.ErrCurrents) || !strings.Contains(err.Error(), "A are left over") {
				t.Errorf("%s, third %s A: %v; expected that the currents do not sum to zero", c.name, last, err)
			}
		}
	}
}

// A hemisphere in a plane, by Ohm's law through half shells: V = I/(2πσr).
func TestHemisphereOfASpecification(t *testing.T) {
	m := mapped(t, `"layers": [], "electrodes": [{"at_m": [0, 0, 0], "current_A": 1e-5, "diameter_m": 0.01, "shape": "hemisphere"}], "points_m": [[0.003, 0, 0.0041], [0, 0, 0.3]]`)
	for k, r := range []float64{math.Hypot(0.003, 0.0041), 0.3} {
		numtest.Check(t, "potential", m.Points[k].PotentialV, 1e-5/(2*math.Pi*4*r), numtest.Tolerance{Rel: 1e-12})
	}
	onPlate := `"water_depth_m": 2, "layers": [{"S_per_m": 1}], "tolerance": 0.05, "plates": [{"shape": "disc", "diameter_m": 0.4, "thickness_m": 0.01, "top_m": 0.01}], `
	for _, c := range []struct{ name, rest, says string }{
		{"hangs", `"layers": [], "electrodes": [{"at_m": [0, 0, 0.1], "current_A": 1e-5, "diameter_m": 0.01, "shape": "hemisphere"}], "points_m": [[0, 0, 1]]`, "hangs free"},
		{"buried", `"layers": [{"S_per_m": 1}], "electrodes": [{"at_m": [0, 0, -0.1], "current_A": 1e-5, "diameter_m": 0.01, "shape": "hemisphere"}], "points_m": [[0, 0, 1]]`, "buried"},
		{"point inside", `"layers": [], "electrodes": [{"at_m": [0, 0, 0], "current_A": 1e-5, "diameter_m": 0.01, "shape": "hemisphere"}], "points_m": [[0, 0, 0.004]]`, "inside an electrode"},
		{"point inside, on a plate", onPlate + `"electrodes": [{"at_m": [0, 0, 0.01], "current_A": 1e-5, "diameter_m": 0.01, "shape": "hemisphere"}], "points_m": [[0, 0, 0.014]]`, "inside an electrode"},
	} {
		_, err := app.MapField(t.Context(), "s.json", []byte(`{"water_S_per_m": 4, `+c.rest+`}`), app.Program{})
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v; expected %q", c.name, err, c.says)
		}
	}
}

func TestFaultsOfShapes(t *testing.T) {
	for _, c := range []struct{ electrode, path, wrong string }{
		{`"shape": "ball"`, "electrodes[0].shape", `found "ball"`},
		{`"shape": ""`, "electrodes[0].shape", `found ""`},
		{`"shape": "hemisphere"`, "electrodes[0].diameter_m", "missing"},
		{`"shape": "hemisphere", "diameter_m": 0`, "electrodes[0].diameter_m", "found 0"},
		{`"shape": "hemisphere", "diameter_m": -1`, "electrodes[0].diameter_m", "found -1"},
		{`"shape": "disc", "diameter_m": -1`, "electrodes[0].diameter_m", "found -1"},
	} {
		_, err := app.MapField(t.Context(), "s.json", []byte(`{"water_S_per_m": 4, "points_m": [[0, 0, 1]],
"electrodes": [{"at_m": [0, 0, 0], "current_A": 1e-5, `+c.electrode+`}]}`), app.Program{})
		var faults *app.FaultsError
		if !errors.As(err, &faults) || len(faults.Faults) != 1 {
			t.Errorf("%s: %v", c.electrode, err)
			continue
		}
		if f := faults.Faults[0]; f.Column != c.path || f.Wrong != c.wrong || f.Row != 2 || f.Expected == "" {
			t.Errorf("%s: fault %+v", c.electrode, f)
		}
	}
}
