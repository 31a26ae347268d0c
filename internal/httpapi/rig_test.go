package httpapi_test

import (
	"encoding/json"
	"io"
	"net/http"
	"os"
	"strings"
	"testing"

	"brinefield/internal/app"
)

func exampleRig(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile("../../examples/04-rig/rig.json")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// A rig arrives as it was sent, with what may be left out left out or null, and
// only with a cookie.
func TestRigArrives(t *testing.T) {
	var asked []any
	h, sessions := start(fakeStudies{asked: &asked}, builtWeb)
	c := signIn(t, h, sessions)
	sent := strings.Replace(exampleRig(t), `"water_S_per_m_sd": 0.1`, `"water_S_per_m_sd": null, "measured": [{"date": "2026-06-01", "position": "5", "current_uA": 5.9, "supply_V": null}]`, 1)
	res := post(h, "/api/rig", sent, with(c))
	text, _ := io.ReadAll(res.Body)
	if res.StatusCode != http.StatusOK || len(asked) != 1 {
		t.Fatalf("status %d, asked %d times: %s", res.StatusCode, len(asked), text)
	}
	spec := asked[0].(app.RigSpec)
	if spec.WaterSPerMSD != nil || *spec.Supply.FullV != 9.6 || spec.Supply.ComplianceV != nil || spec.Pairs[2].SeparationM != 0.05 || *spec.Measured[0].CurrentUA != 5.9 {
		t.Errorf("%+v", spec)
	}
	if res := post(h, "/api/rig", sent); res.StatusCode != http.StatusUnauthorized {
		t.Errorf("without a cookie: status %d", res.StatusCode)
	}
	if res := post(h, "/api/rig", strings.Replace(sent, "internal_ohm", "inner_ohm", 1), with(c)); res.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("an unknown key: status %d", res.StatusCode)
	}
	if res := ask(h, "GET", "/api/studies/bay/rig", with(c)); res.StatusCode != http.StatusOK {
		t.Errorf("start: status %d", res.StatusCode)
	}
	if res := ask(h, "GET", "/api/studies/bay/rig", nil); res.StatusCode != http.StatusUnauthorized {
		t.Errorf("start without a cookie: status %d", res.StatusCode)
	}
}

func TestRefusedRigSaysWhere(t *testing.T) {
	h, sessions := start(fakeStudies{err: &app.KnobsError{Faults: []app.KnobFault{{Place: "rig/supply/voltage_V", Wrong: "found -9", Expected: "a voltage above 0"}}}}, builtWeb)
	c := signIn(t, h, sessions)
	res := post(h, "/api/rig", exampleRig(t), with(c))
	var problem struct {
		Errors []struct{ Message, Location string }
	}
	if err := json.NewDecoder(res.Body).Decode(&problem); err != nil || res.StatusCode != http.StatusUnprocessableEntity || len(problem.Errors) != 1 || problem.Errors[0].Location != "rig/supply/voltage_V" {
		t.Errorf("status %d, %+v, %v", res.StatusCode, problem, err)
	}
}
