package httpapi_test

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"strings"
	"testing"

	"brinefield/internal/app"
)

const oneKnobs = `{"water":{"temperature_C":14,"salinity":34.8,"conductivity_S_per_m":null},"depth_m":null,
 "bottom":{"kind":"insulating","conductivity_S_per_m":null,"porosity":null,"cementation_exponent":null,"thickness_m":null,"basement_S_per_m":null},
 "enclosure":null,"plates":[{"shape":"disc","size_m":null,"diameter_m":0.5,"thickness_m":0.01,"centre_m":[0,0],"yaw_deg":0}],
 "top_above_bottom_m":0,"sand_over_plate_mm":0,"current_uA":6,
 "pairs":[{"label":"A","centre_m":[0,0],"azimuth_deg":0,"separation_m":0.01,"electrode_diameter_m":0,"height_m":0,"share":1}],
 "electrodes":[],"electrode_shape":"disc","bodies":[{"shape":"box","centre_m":[1,0,0.1],"size_m":[0.1,0.1,0.1],"yaw_deg":0,"pitch_deg":0,"S_per_m":null,"label":""}],
 "waveform":{"kind":"direct","frequency_Hz":null,"duty":null}}`

var stimulusQuestions = map[string]string{
	"section":  `{"knobs":` + oneKnobs + `,"form":"real","section":{"plane":"vertical","azimuth_deg":0,"offset_m":0,"height_m":0,"half_width_m":0.6,"lowest_m":0,"highest_m":0.6,"columns":20,"rows":10}}`,
	"points":   `{"knobs":` + oneKnobs + `,"form":"real","tolerance":0.01,"points_m":[[0,0,0.1]]}`,
	"range":    `{"knobs":` + oneKnobs + `,"form":"real","thresholds_nV_per_cm":[5],"heights_m":[0.05]}`,
	"target":   `{"knobs":` + oneKnobs + `,"form":"real","target":{"prey":"flounder"}}`,
	"errors":   `{"knobs":` + oneKnobs + `,"form":"real","threshold_nV_per_cm":5,"at":{"above_cm":10,"beside_cm":20,"azimuth_deg":90}}`,
	"volume":   `{"knobs":` + oneKnobs + `,"form":"real","half_width_m":1,"highest_m":1,"points":[4,4,4]}`,
	"waveform": `{"knobs":` + oneKnobs + `}`,
}

// Every question arrives as it was sent, nulls and all.
func TestStimulusQuestionsArrive(t *testing.T) {
	for path, question := range stimulusQuestions {
		var asked []any
		h, sessions := start(fakeStudies{asked: &asked}, builtWeb)
		c := signIn(t, h, sessions)
		res := post(h, "/api/stimulus/"+path, question, with(c))
		text, _ := io.ReadAll(res.Body)
		if res.StatusCode != http.StatusOK || len(asked) != 1 {
			t.Errorf("%s: status %d, asked %d times: %s", path, res.StatusCode, len(asked), text)
			continue
		}
		sent, err := json.Marshal(asked[0])
		if err != nil {
			t.Fatal(err)
		}
		var had, got map[string]any
		if err := json.Unmarshal([]byte(question), &had); err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(sent, &got); err != nil {
			t.Fatal(err)
		}
		if want, found := fmt.Sprint(had["knobs"]), fmt.Sprint(got["knobs"]); want != found {
			t.Errorf("%s: knobs\n%s\nbecame\n%s", path, want, found)
		}
		if res := post(h, "/api/stimulus/"+path, question); res.StatusCode != http.StatusUnauthorized {
			t.Errorf("%s without a cookie: status %d", path, res.StatusCode)
		}
	}
}

func TestStimulusStartAndPrey(t *testing.T) {
	h, sessions := start(fakeStudies{}, builtWeb)
	c := signIn(t, h, sessions)
	for _, path := range []string{"/api/studies/bay/stimulus", "/api/stimulus/prey"} {
		if res := ask(h, "GET", path, with(c)); res.StatusCode != http.StatusOK {
			t.Errorf("%s: status %d", path, res.StatusCode)
		}
		if res := ask(h, "GET", path, nil); res.StatusCode != http.StatusUnauthorized {
			t.Errorf("%s without a cookie: status %d", path, res.StatusCode)
		}
	}
}

func TestRefusedKnobsSayWhere(t *testing.T) {
	h, sessions := start(fakeStudies{err: &app.KnobsError{Faults: []app.KnobFault{
		{Place: "knobs/water/salinity", Wrong: "found -3", Expected: "a salinity between 0 and 60"},
		{Place: "section/rows", Wrong: "found 1", Expected: "between 2 and 600 rows"},
	}}}, builtWeb)
	c := signIn(t, h, sessions)
	res := post(h, "/api/stimulus/section", stimulusQuestions["section"], with(c))
	var problem struct {
		Errors []struct{ Message, Location string }
	}
	if err := json.NewDecoder(res.Body).Decode(&problem); err != nil || res.StatusCode != http.StatusUnprocessableEntity || len(problem.Errors) != 2 {
		t.Fatalf("status %d, %+v, %v", res.StatusCode, problem, err)
	}
	if e := problem.Errors[0]; e.Location != "knobs/water/salinity" || e.Message != "found -3; a salinity between 0 and 60" {
		t.Errorf("%+v", e)
	}
}

// The schema lets numbers of a list be null, as they are written.
func TestFiguresAreDescribedAsTheyAreWritten(t *testing.T) {
	text, err := json.Marshal(app.StimulusSection{Magnitude: app.Figures{1, math.NaN()}})
	if err != nil || !strings.Contains(string(text), `"magnitude_nV_per_cm":[1,null]`) {
		t.Errorf("%s, %v", text, err)
	}
}
