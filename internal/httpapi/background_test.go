package httpapi_test

import (
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"testing"

	"brinefield/internal/app"
)

// As the page sends it: nulls where nothing is known.
const oneBackground = `{"site":{"latitude":0,"longitude":120,"x_axis_bearing_deg":null,"depth_m":null},"date":"2025-01-01","water_S_per_m":5,"water_S_per_m_sd":null,
 "stream":{"table":[{"time":"06:00","speed_m_per_s":0.5,"bearing_deg":90}]},"swim_m_per_s":null,"pairs":[{"label":"A","centre_m":[0,0]}],"height_m":null,"stimulus":null,
 "sources":[{"label":"d","kind":"diver","at_m":[5,0,0],"moment_A_m":null,"axis_deg":null}],"meter":null,"cable":null}`

func TestBackground(t *testing.T) {
	h, sessions := start(fakeStudies{}, builtWeb)
	c := signIn(t, h, sessions)
	res := post(h, "/api/background", oneBackground, with(c))
	text, _ := io.ReadAll(res.Body)
	var d app.BackgroundDocument
	if err := json.Unmarshal(text, &d); err != nil || res.StatusCode != http.StatusOK || d.Magnetic == nil || len(d.Sources) != 1 || d.Sources[0].StandoffM == nil {
		t.Fatalf("status %d, %v: %s", res.StatusCode, err, text)
	}
	if res := post(h, "/api/background", oneBackground); res.StatusCode != http.StatusUnauthorized {
		t.Errorf("without a cookie: status %d", res.StatusCode)
	}
	for bad, place := range map[string]string{
		strings.Replace(oneBackground, "2025-01-01", "2031-01-01", 1):             `"location":"background/date"`,
		strings.Replace(oneBackground, `"kind":"diver"`, `"kind":"submarine"`, 1): `"location":"background/sources/0/kind"`,
		strings.Replace(oneBackground, `"date"`, `"dat":1,"date"`, 1):             `body.dat`,
	} {
		res := post(h, "/api/background", bad, with(c))
		text, _ := io.ReadAll(res.Body)
		if res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(string(text), place) {
			t.Errorf("status %d, no %s: %s", res.StatusCode, place, text)
		}
	}
	res = ask(h, "GET", "/api/studies/bay/background", with(c))
	text, _ = io.ReadAll(res.Body)
	if res.StatusCode != http.StatusOK || !strings.Contains(string(text), `"date":"2026-06-01"`) {
		t.Errorf("start: status %d: %s", res.StatusCode, text)
	}
}
