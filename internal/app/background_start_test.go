package app_test

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"brinefield/internal/app"
)

func backgroundOf(t *testing.T, in app.Input, how app.ImportRequest) app.BackgroundStart {
	t.Helper()
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	importInto(t, s, shelf, "bay", in, how)
	got, err := openStudy(t, s, "bay").Background(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func TestBackgroundStartIsTheStudy(t *testing.T) {
	in := with(t, smallSeason(), "study.toml", "depth_m = 4.5", "depth_m = 4.5\nlatitude = 51.9\nlongitude = -10.3\nx_axis_bearing_deg = 40")
	in = with(t, in, "trials.csv", "trial,start,end,active_pair,current_uA,waveform,observers,note\nT1,2026-06-01T21:00,2026-06-01T21:40,A,9.0,sine,\"Aoife Byrne, Tom Kett\",calm",
		"trial,start,end,active_pair,current_uA,waveform,observers,note,flow_m_per_s,flow_bearing_deg\nT1,2026-06-01T21:00,2026-06-01T21:40,A,9.0,sine,\"Aoife Byrne, Tom Kett\",calm,0.3,120")
	in = with(t, in, "trials.csv", "T2,2026-06-01T22:00,2026-06-01T22:40,none,9.0,,Tom Kett,\n", "T2,2026-06-01T22:00,2026-06-01T22:40,none,9.0,,Tom Kett,,0.1,130\n")
	in = with(t, in, "trials.csv", "Tom Kett,swell\n", "Tom Kett,swell,,\n")
	got := backgroundOf(t, in, app.ImportRequest{})
	spec := got.Spec
	if got.Saved || got.SpecText != "" || len(got.Kinds) != 5 || len(got.Metals) < 9 || len(got.Cautions) == 0 {
		t.Errorf("%+v", got)
	}
	if *spec.Site.Latitude != 51.9 || *spec.Site.XAxisDeg != 40 || *spec.Site.DepthM != 4.5 || spec.WaterSPerM != 4.2 || spec.Date != "2026-06-01" {
		t.Errorf("%+v", spec)
	}
	if len(spec.Pairs) != 2 || spec.Pairs[1].CentreM[0] != -0.5 {
		t.Errorf("pairs %+v", spec.Pairs)
	}
	if spec.Stream == nil || len(spec.Stream.Table) != 2 || spec.Stream.Table[1] != (app.BackgroundStreamRow{Time: "22:00", SpeedMPerS: 0.1, Bearing: 130}) {
		t.Errorf("stream %+v", spec.Stream)
	}
	// What it begins with can be worked out.
	if d := ask(t, spec); d.Magnetic == nil || len(d.Motional.Rows) != 3 {
		t.Errorf("%+v", d.Motional)
	}
}

// A study without a site's coordinates, of a year that the model does not know:
// the start says so and can be worked out all the same.
func TestBackgroundStartWithoutSite(t *testing.T) {
	in := smallSeason()
	in["trials.csv"] = []byte(strings.ReplaceAll(string(in["trials.csv"]), "2026-", "2019-"))
	in["passes.csv"] = []byte(strings.ReplaceAll(string(in["passes.csv"]), "2026-", "2019-"))
	got := backgroundOf(t, in, app.ImportRequest{})
	if got.Spec.Date != "2027-07-01" || got.Spec.Site.Latitude != nil || !strings.Contains(strings.Join(got.Warnings, " "), "2025 to 2030") {
		t.Errorf("%+v", got)
	}
	if d := ask(t, got.Spec); d.Magnetic != nil {
		t.Error("a magnetic field of nowhere")
	}
	loose, err := app.Loose(app.Open(t.Context(), "bay", in, false, app.AnalyseOptions{Seed: 1})).Background(t.Context())
	if err != nil || loose.Spec.WaterSPerM != 4.2 {
		t.Errorf("a loose season: %+v, %v", loose, err)
	}
}

// Which pair was active does not show in the start.
func TestBackgroundStartTellsNoActivePair(t *testing.T) {
	swapped := with(t, smallSeason(), "trials.csv", "21:40,A,", "21:40,B,")
	swapped = with(t, swapped, "trials.csv", "21:40,B,6", "21:40,A,6")
	one, _ := json.Marshal(backgroundOf(t, smallSeason(), app.ImportRequest{Blind: true}))
	other, _ := json.Marshal(backgroundOf(t, swapped, app.ImportRequest{Blind: true}))
	if string(one) != string(other) {
		t.Errorf("%s\n%s", one, other)
	}
}

// A specification is kept as one text, checked when it is written, and comes
// back to the letter.
func TestBackgroundIsKept(t *testing.T) {
	b, m, _ := bay(t, app.ImportRequest{})
	text, err := json.Marshal(plainBackground())
	if err != nil {
		t.Fatal(err)
	}
	edit := func(from, to string) error {
		_, err := b.Edit(t.Context(), app.EditRequest{Changes: []app.CellChange{{Kind: "background", Field: "spec", From: from, To: to}}})
		return err
	}
	for bad, want := range map[string]string{
		`{"date"`: "ends too early",
		strings.Replace(string(text), "2025-01-01", "2024-01-01", 1):           "date: found 2024-01-01",
		strings.Replace(string(text), `"water_S_per_m"`, `"watr"`, 1):          `unknown key "watr"`,
		strings.Replace(string(text), `"centre_m":[2,0]`, `"centre_m":[2]`, 1): "pairs[1].centre_m: found 1 numbers",
	} {
		before := len(m.entries)
		err := edit("", bad)
		var wrong *app.EditError
		if !errors.As(err, &wrong) || !strings.Contains(err.Error(), want) || wrong.Faults[0].Kind != "background" || wrong.Faults[0].Field != "spec" {
			t.Errorf("%s: %v; want %q", bad, err, want)
		}
		if len(m.entries) != before {
			t.Error("something was written")
		}
	}
	if err := edit("", string(text)); err != nil {
		t.Fatal(err)
	}
	got, err := b.Background(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	again, _ := json.Marshal(got.Spec)
	if !got.Saved || got.SpecText != string(text) || string(again) != string(text) {
		t.Errorf("%s\nbecame\n%s", text, again)
	}
	if err := edit(string(text), ""); err != nil {
		t.Fatal(err)
	}
	if got, err := b.Background(t.Context()); err != nil || got.Saved {
		t.Errorf("taken back: %+v, %v", got, err)
	}
}
