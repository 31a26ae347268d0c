package app_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"brinefield/core/conduction"
	"brinefield/internal/app"
)

const bodySpec = `{"water_S_per_m": 5, "bodies": %s,
 "electrodes": [{"at_m": [0, 0, -1000], "current_A": 31.41592653589793}, {"at_m": [0, 0, 1000], "current_A": -31.41592653589793}],
 "points_m": [[0.15, 0, 0], [0, 0, 0.15]]%s}`

// A ball in the uniform field of far electrodes, E₀ = 2I/(4πσ·(1000 m)²) = 1 µV/m: at
// the distance r beside and before it the field is E₀·(1 ∓ …): (1 − b/r³) and (1 + 2b/r³) with b = a³·(κ−1)/(κ+2)
// (Jackson, Classical Electrodynamics, section 4.4; from memory).
func TestMapFieldRoundABall(t *testing.T) {
	long(t)
	const e0, a, r = 1e-6, 0.1, 0.15
	for _, c := range []struct {
		name, key string
		factor    float64
	}{
		{"insulating by default", "", -0.5},
		{"insulating", `, "S_per_m": 0`, -0.5},
		{"perfectly conducting", `, "S_per_m": null`, 1},
		{"poorly conducting", `, "S_per_m": 0.5`, (0.1 - 1) / (0.1 + 2)},
		{"as the water", `, "S_per_m": 5`, 0},
	} {
		ball := `[{"shape": "spheroid", "centre_m": [0, 0, 0], "size_m": [0.2, 0.2, 0.2], "yaw_deg": 10, "pitch_deg": 20, "label": "a ball"` + c.key + `}]`
		m, err := app.MapField(t.Context(), "s.json", fmt.Appendf(nil, bodySpec, ball, `, "tolerance": 0.002`), app.Program{})
		if err != nil {
			t.Fatal(c.name, err)
		}
		b := c.factor * math.Pow(a/r, 3)
		for k, want := range [2]float64{e0 * (1 - b), e0 * (1 + 2*b)} {
			got := m.Points[k].EVPerM
			if off := math.Hypot(math.Hypot(got[0], got[1]), got[2]-want) / want; off > 0.002 {
				t.Errorf("%s: at point %d E = %v, want %g upward: |δE|/|E| = %.1e", c.name, k, got, want, off)
			}
		}
		if m.RelativeError > 0.002 || len(m.Warnings) != 0 {
			t.Errorf("%s: error %g, warnings %v", c.name, m.RelativeError, m.Warnings)
		}
		if (c.factor != 0) != strings.Contains(m.Method, "bodies") || (c.factor != 0) != (m.Unknowns > 50) {
			t.Errorf("%s: method %q, %d unknowns", c.name, m.Method, m.Unknowns)
		}
	}
}

// The largest field at the skin of an insulating ball in a uniform field is 3/2 of
// that field, at its girth; of a perfect conductor 3 times, at its poles
// (Jackson, Classical Electrodynamics, section 4.4; from memory).
func TestFieldAtTheSkinOfABall(t *testing.T) {
	long(t)
	const e0 = 1e-6
	for _, c := range []struct {
		name, key string
		factor    float64
		polar     bool
	}{{"insulating", "", 1.5, false}, {"perfectly conducting", `, "S_per_m": null`, 3, true}} {
		ball := `[{"shape": "spheroid", "centre_m": [0, 0, 0], "size_m": [0.2, 0.2, 0.2], "label": "a ball"` + c.key + `}]`
		m, err := app.MapField(t.Context(), "s.json", fmt.Appendf(nil, bodySpec, ball, `, "tolerance": 0.002, "field_at_skin": true`), app.Program{})
		if err != nil {
			t.Fatal(c.name, err)
		}
		if len(m.AtSkin) != 1 || m.AtSkin[0].Magnitude == nil || m.AtSkin[0].Label != "a ball" {
			t.Fatalf("%s: %+v", c.name, m.AtSkin)
		}
		skin := m.AtSkin[0]
		if off := math.Abs(*skin.Magnitude/(c.factor*e0*1e7) - 1); off > 0.01 {
			t.Errorf("%s: %g nV/cm at the skin, want %g: off by %.2g", c.name, *skin.Magnitude, c.factor*e0*1e7, off)
		}
		at := *skin.AtM
		if r := math.Hypot(math.Hypot(at[0], at[1]), at[2]); math.Abs(r-0.1) > 1e-9 || (math.Abs(at[2]) > 0.07) != c.polar {
			t.Errorf("%s: largest at %v", c.name, at)
		}
	}
}

func TestNoFieldAtTheSkinUnlessAsked(t *testing.T) {
	ball := `[{"shape": "spheroid", "centre_m": [0, 0, 0], "size_m": [0.2, 0.2, 0.2]}]`
	m, err := app.MapField(t.Context(), "s.json", fmt.Appendf(nil, bodySpec, ball, ""), app.Program{})
	if err != nil || m.AtSkin != nil {
		t.Errorf("%v, %+v", err, m.AtSkin)
	}
	if m, err = app.MapField(t.Context(), "s.json", fmt.Appendf(nil, bodySpec, "[]", `, "field_at_skin": true`), app.Program{}); err != nil || len(m.AtSkin) != 0 {
		t.Errorf("without bodies: %v, %+v", err, m.AtSkin)
	}
}

// An empty list of bodies, null and no key at all are one thing.
func TestMapFieldWithoutBodiesIsWhatItWas(t *testing.T) {
	bare, err := app.MapField(t.Context(), "s.json", []byte(strings.Replace(fmt.Sprintf(bodySpec, "null", ""), `"bodies": null,`, "", 1)), app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	for _, none := range []string{"null", "[]"} {
		m, err := app.MapField(t.Context(), "s.json", fmt.Appendf(nil, bodySpec, none, ""), app.Program{})
		if err != nil {
			t.Fatal(err)
		}
		if m.Points[0] != bare.Points[0] || m.Method != bare.Method {
			t.Errorf("bodies %s: %+v, without the key %+v", none, m.Points[0], bare.Points[0])
		}
	}
}

func TestFaultsOfBodiesInASpecification(t *testing.T) {
	good := `"centre_m": [1, 0, 0], "size_m": [0.2, 0.1, 0.1]`
	for _, c := range []struct{ name, body, path, wrong string }{
		{"no shape", good, "bodies[1].shape", "missing"},
		{"unknown shape", `"shape": "ball", ` + good, "bodies[1].shape", `found "ball"`},
		{"no size", `"shape": "box", "centre_m": [1, 0, 0]`, "bodies[1].size_m", "found 0 numbers"},
		{"two sizes", `"shape": "box", "centre_m": [1, 0, 0], "size_m": [0.2, 0.1]`, "bodies[1].size_m", "found 2 numbers"},
		{"size 0", `"shape": "box", "centre_m": [1, 0, 0], "size_m": [0.2, 0, 0.1]`, "bodies[1].size_m", "found 0"},
		{"negative size", `"shape": "box", "centre_m": [1, 0, 0], "size_m": [-0.2, 0.1, 0.1]`, "bodies[1].size_m", "found -0.2"},
		{"two diameters", `"shape": "cylinder", "centre_m": [1, 0, 0], "size_m": [0.2, 0.1, 0.15]`, "bodies[1].size_m", "found the diameters 0.1 and 0.15"},
		{"no centre", `"shape": "box", "size_m": [0.2, 0.1, 0.1]`, "bodies[1].centre_m", "found 0 numbers"},
		{"centre of two", `"shape": "box", "centre_m": [1, 0], "size_m": [0.2, 0.1, 0.1]`, "bodies[1].centre_m", "found 2 numbers"},
		{"negative conductivity", `"shape": "box", "S_per_m": -1, ` + good, "bodies[1].S_per_m", "found -1"},
		{"word for a conductivity", `"shape": "box", "S_per_m": "metal", ` + good, "S_per_m", "found a string"},
		{"unknown key", `"shape": "box", "roll_deg": 3, ` + good, "roll_deg", `unknown key "roll_deg"`},
		{"not finite", `"shape": "box", "pitch_deg": 1e999, ` + good, "pitch_deg", "found a number"},
	} {
		bodies := "[{\"shape\": \"box\", \"centre_m\": [-1, 0, 0], \"size_m\": [0.1, 0.1, 0.1]},\n{" + c.body + "}]"
		_, err := app.MapField(t.Context(), "s.json", fmt.Appendf(nil, bodySpec, bodies, ""), app.Program{})
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
func TestRefusalsOfBodiesInASpecification(t *testing.T) {
	box := `{"shape": "box", "centre_m": [%g, 0, %g], "size_m": [0.2, 0.2, 0.2]}`
	at := func(x, z float64) string { return fmt.Sprintf(box, x, z) }
	for _, c := range []struct {
		name, bodies, change string
		is                   error
	}{
		{"overlap", "[" + at(1, 0) + "," + at(1.1, 0.1) + "]", "", conduction.ErrBody},
		{"on a plate", "[" + at(1, 0.1) + "]", `, "layers": [{"S_per_m": 1}], "plates": [{"shape": "disc", "diameter_m": 3}]`, conduction.ErrBody},
		{"through the surface", "[" + at(1, 1.95) + "]", `, "water_depth_m": 2, "layers": [{"S_per_m": 1}]`, conduction.ErrBody},
		{"through a wall", "[" + at(1, 0) + "]", `, "enclosure": {"size_m": [2, 2]}`, conduction.ErrBody},
		{"thin", `[{"shape": "box", "centre_m": [1, 0, 0], "size_m": [1, 1, 0.01]}]`, "", conduction.ErrBody},
		{"electrode inside", "[" + at(0, 1000) + "]", "", conduction.ErrElectrode},
		{"point inside", "[" + at(0.1, 0) + "]", "", conduction.ErrInBody},
	} {
		spec := fmt.Sprintf(bodySpec, c.bodies, c.change)
		if c.name == "through the surface" || c.name == "on a plate" || c.name == "through a wall" {
			spec = strings.NewReplacer("-1000", "0.5", "1000", "0.6", "[0, 0, 0.15]", "[0, 0.4, 0.15]").Replace(spec)
		}
		_, err := app.MapField(t.Context(), "s.json", []byte(spec), app.Program{})
		var refused *app.SpecError
		if !errors.As(err, &refused) || !errors.Is(err, c.is) || !strings.HasPrefix(err.Error(), "s.json: ") {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}
