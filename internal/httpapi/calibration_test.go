package httpapi_test

import (
	"encoding/json"
	"io"
	"net/http"
	"testing"

	"brinefield/internal/app"
)

const oneCalibration = `{"knobs":` + oneKnobs + `,"offset":"fit","readings":[{"plus_m":[0.1,0,0.05],"minus_m":null,"uV":1.5,"sd_uV":null},{"label":"b","plus_m":[0.2,0,0.05],"minus_m":[0.3,0,0.05]}],
 "priors":{"current_uA_sd":0.1}}`

// A calibration arrives as it was sent, with what may be left out left out, and
// only with a cookie; its faults say where.
func TestCalibrationArrives(t *testing.T) {
	var asked []any
	h, sessions := start(fakeStudies{asked: &asked}, builtWeb)
	c := signIn(t, h, sessions)
	res := post(h, "/api/calibration", oneCalibration, with(c))
	text, _ := io.ReadAll(res.Body)
	if res.StatusCode != http.StatusOK || len(asked) != 1 {
		t.Fatalf("status %d, asked %d times: %s", res.StatusCode, len(asked), text)
	}
	spec := asked[0].(app.CalibrationSpec)
	if len(spec.Readings) != 2 || *spec.Readings[0].UV != 1.5 || spec.Readings[0].MinusM != nil || spec.Readings[1].UV != nil || *spec.Priors.CurrentUASD != 0.1 || spec.Priors.WaterSPerM != nil {
		t.Errorf("%+v", spec)
	}
	for _, path := range []string{"/api/studies/bay/calibration"} {
		if res := ask(h, "GET", path, with(c)); res.StatusCode != http.StatusOK {
			t.Errorf("%s: status %d", path, res.StatusCode)
		}
		if res := ask(h, "GET", path, nil); res.StatusCode != http.StatusUnauthorized {
			t.Errorf("%s without a cookie: status %d", path, res.StatusCode)
		}
	}
	if res := post(h, "/api/calibration", oneCalibration); res.StatusCode != http.StatusUnauthorized {
		t.Errorf("without a cookie: status %d", res.StatusCode)
	}
	if res := post(h, "/api/calibration", `{"knobs":`+oneKnobs+`,"offset":"fit","readings":[],"readngs":[]}`, with(c)); res.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("an unknown key: status %d", res.StatusCode)
	}
}

func TestRefusedCalibrationSaysWhere(t *testing.T) {
	h, sessions := start(fakeStudies{err: &app.KnobsError{Faults: []app.KnobFault{{Place: "readings/0/sd_uV", Wrong: "found -1", Expected: "a standard deviation above 0 µV, or null"}}}}, builtWeb)
	c := signIn(t, h, sessions)
	res := post(h, "/api/calibration", oneCalibration, with(c))
	var problem struct {
		Errors []struct{ Message, Location string }
	}
	if err := json.NewDecoder(res.Body).Decode(&problem); err != nil || res.StatusCode != http.StatusUnprocessableEntity || len(problem.Errors) != 1 || problem.Errors[0].Location != "readings/0/sd_uV" {
		t.Errorf("status %d, %+v, %v", res.StatusCode, problem, err)
	}
}
