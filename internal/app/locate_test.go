package app_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"brinefield/core/numeric/numtest"
	"brinefield/internal/app"
)

// locateSpec is a camera 1.18 m straight above the plate, 1000 pixels to the metre.
const locateSpec = `{"camera": {"width_px": 1920, "height_px": 1080, "fx_px": 1180, "fy_px": 1180, "cx_px": 960, "cy_px": 540, "k1": 0, "k2": 0, "k3": 0, "p1": 0, "p2": 0, "port": null},
 "marks": [{"at_m": [0.5, 0.4, 0], "pixel": [1460, 140]},
           {"at_m": [-0.5, 0.4, 0], "pixel": [460, 140]},
           {"at_m": [-0.5, -0.4, 0], "pixel": [460, 940]},
           {"at_m": [0.5, -0.4, 0], "pixel": [1460, 940]}],
 "fixes": [{"pixel": [800.2, 410.0], "height_m": 0.12, "height_sd_m": 0.02}],
 "click_sd_px": 1.0, "seed": 1}`

// Similar triangles; and with exact clicks only the height's deviation is left, in
// closed form.
func TestLocateInClosedForm(t *testing.T) {
	d, err := app.Locate("spec.json", []byte(locateSpec), app.Program{Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	if d.Format != 1 || d.Program.Version != "test" || len(d.InputsSHA256["spec.json"]) != 64 || d.Warnings == nil || d.Seed != nil {
		t.Errorf("the heading is %+v", d.Heading)
	}
	x, y := -159.8*(1.18-0.12)/1180, 130*(1.18-0.12)/1180
	abs := numtest.Tolerance{Abs: 1e-9}
	for i, want := range [3]float64{0, 0, 1.18} {
		numtest.Check(t, "camera", d.CameraCentreM[i], want, abs)
	}
	for i, want := range [3]float64{x, y, 0.12} {
		numtest.Check(t, "fix", d.Fixes[0].AtM[i], want, abs)
	}
	numtest.Check(t, "rms", d.ReprojectionRMSPx, 0, abs)
	withClicks := d.Fixes[0].CovarianceM2

	d, err = app.Locate("spec.json", []byte(strings.Replace(locateSpec, `"click_sd_px": 1.0`, `"click_sd_px": 0`, 1)), app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	across := [3]float64{-x / (1.18 - 0.12), -y / (1.18 - 0.12), 1} // how a place runs with the height
	for i := range 3 {
		for j := range 3 {
			numtest.Check(t, fmt.Sprintf("covariance %d %d", i, j), d.Fixes[0].CovarianceM2[i][j], 4e-4*across[i]*across[j], numtest.Tolerance{Abs: 1e-12})
		}
	}
	if least := math.Pow(1.06/1180, 2); withClicks[0][0]-d.Fixes[0].CovarianceM2[0][0] < least {
		t.Errorf("clicks of 1 px add %g m², less than the fix's own %g m²", withClicks[0][0]-d.Fixes[0].CovarianceM2[0][0], least)
	}
}

// What is odd is said in words.
func TestLocateWarns(t *testing.T) {
	for _, row := range []struct {
		name string
		edit []string
		want string
	}{
		{"a mark clicked elsewhere", []string{"[460, 140]", "[500, 140]"}, "more than clicks with 1 px explain"},
		{"marks exchanged", []string{"[0.5, 0.4, 0]", "[a]", "[0.5, -0.4, 0]", "[0.5, 0.4, 0]", "[a]", "[0.5, -0.4, 0]", "[-0.5, 0.4, 0]", "[a]", "[-0.5, -0.4, 0]", "[-0.5, 0.4, 0]", "[a]", "[-0.5, -0.4, 0]"}, "stands below the plate"},
		{"a small plate far away", []string{"1460", "970", "460", "950", "140", "532", "940", "548", "1.0", "1.5", "[950, 532]", "[951.2, 532.4]"}, "A second pose of the camera"},
		{"and its tilt", []string{"1460", "970", "460", "950", "140", "532", "940", "548", "1.0", "1.5", "[950, 532]", "[951.2, 532.4]"}, "hardly tell how the camera is tilted"},
	} {
		d, err := app.Locate("spec.json", []byte(locateEdited(locateSpec, row.edit...)), app.Program{})
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		if !slices.ContainsFunc(d.Warnings, func(w string) bool { return strings.Contains(w, row.want) }) {
			t.Errorf("%s: %q, want %q", row.name, d.Warnings, row.want)
		}
	}
}

func locateEdited(text string, pairs ...string) string {
	for i := 0; i+1 < len(pairs); i += 2 {
		text = strings.Replace(text, pairs[i], pairs[i+1], -1)
	}
	return text
}

// Every fault with its line and place, and what would be right.
func TestLocateTellsEveryFault(t *testing.T) {
	for _, row := range []struct {
		name string
		edit []string
		want []string
	}{
		{"nothing", []string{locateSpec, ""}, []string{"spec.json:1:: the specification cannot be read|the file ends too early"}},
		{"no object", []string{locateSpec, "[1]"}, []string{"spec.json:1:: found a list; a JSON object with the keys of docs/formats/locate-spec.schema.json"}},
		{"more behind", []string{`"seed": 1}`, `"seed": 1} x`}, []string{"spec.json:7:"}},
		{"a format of later", []string{`"seed": 1`, `"format": 2`}, []string{"spec.json:7:format: found 2; 1"}},
		{"no such port", []string{`null`, `{"air_gap_m": 0.02}`}, []string{
			"spec.json:1:camera.port.glass_m: missing; a finite number", "spec.json:1:camera.port.glass_index: missing", "spec.json:1:camera.port.water_index: missing",
		}},
		{"a list for a number", []string{`"fx_px": 1180`, `"fx_px": [1180, {"a": [1]}]`}, []string{"spec.json:1:camera.fx_px: found a list; a finite number"}},
		{"an object for a list", []string{"[1460, 140]", `{"across": 1}`}, []string{"spec.json:2:marks[0].pixel: found a JSON object; a list of 2"}},
		{"null in a place", []string{"[0.5, 0.4, 0]", "[0.5, null, 0]"}, []string{"spec.json:2:marks[0].at_m[1]: found null; a finite number"}},
		{"seed that is none", []string{`"seed": 1`, `"seed": true`}, []string{"spec.json:7:seed: found true; a whole number"}},
		{"pixels at the very edge", []string{"[1460, 140]", "[1919.51, 140]", "[460, 140]", "[460, -0.51]"}, []string{"spec.json:2:marks[0].pixel: found (1919.51, 140), outside", "spec.json:3:marks[1].pixel: found (460, -0.51), outside"}},
		{"one place twice", []string{"[0.5, -0.4, 0]", "[0.5, 0.4, 0]"}, []string{"marks: 3 different places; marks at 4 places or more"}},
		{"two fixes that see nothing", []string{`"fixes": [`, `"fixes": [{"pixel": [0, 0], "height_m": 1.2, "height_sd_m": 0}, {"pixel": [9, 9], "height_m": 1.3, "height_sd_m": 0}, `}, []string{"spec.json:6:fixes[0].pixel: ", "spec.json:6:fixes[1].pixel: "}},
	} {
		_, err := app.Locate("spec.json", []byte(locateEdited(locateSpec, row.edit...)), app.Program{})
		var faults *app.FaultsError
		if !errors.As(err, &faults) {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		if len(faults.Faults) != len(row.want) {
			t.Errorf("%s: %d faults, want %d:\n%v", row.name, len(faults.Faults), len(row.want), err)
		}
		for _, want := range row.want {
			found := false
			for _, either := range strings.Split(want, "|") {
				found = found || strings.Contains(err.Error(), either)
			}
			if !found {
				t.Errorf("%s: no %q in\n%v", row.name, want, err)
			}
		}
	}
	// At the edge, and without what may be left out, nothing is wrong.
	for _, good := range [][]string{
		{"[460, 140]", "[460, -0.5]"},
		{`, "seed": 1`, ""},
		{`, "port": null`, ""},
		{`"seed": 1`, `"format": 1`},
	} {
		if _, err := app.Locate("spec.json", []byte(locateEdited(locateSpec, good...)), app.Program{}); err != nil {
			t.Errorf("%q: %v", good, err)
		}
	}
}

// FuzzLocate: whatever the bytes, a document that can be written or faults with a
// place and an expectation.
func FuzzLocate(f *testing.F) {
	f.Add([]byte(locateSpec))
	f.Add([]byte(locateEdited(locateSpec, "null", `{"air_gap_m": 0.02, "glass_m": 0.006, "glass_index": 1.49, "water_index": 1.34}`, `"k1": 0`, `"k1": -0.3`)))
	f.Add([]byte(locateEdited(locateSpec, "1180", "1e7", "0.12", "1e6")))
	f.Add([]byte(locateEdited(locateSpec, "0.5", "1e-300", "140", "0.1")))
	f.Add([]byte(`{"camera": {"camera": {}}, "marks": [[[[`))
	f.Add([]byte(`{"marks": [{"at_m": [1e999]}], "fixes": null}`))
	f.Fuzz(func(t *testing.T, spec []byte) {
		if len(spec) > 1<<13 {
			t.Skip("a specification is short")
		}
		d, err := app.Locate("spec.json", spec, app.Program{})
		if err == nil {
			if _, err := json.Marshal(d); err != nil {
				t.Errorf("the document cannot be written: %v", err)
			}
			return
		}
		var faults *app.FaultsError
		if !errors.As(err, &faults) {
			t.Fatalf("an error that is no fault of the file: %v", err)
		}
		for _, fault := range faults.Faults {
			if fault.Row < 1 || fault.Row > 1+strings.Count(string(spec), "\n") || fault.Wrong == "" || fault.Expected == "" {
				t.Errorf("fault %+v", fault)
			}
		}
	})
}
