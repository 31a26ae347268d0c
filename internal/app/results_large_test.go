package app_test

import (
	"encoding/json"
	"testing"
	"time"

	"brinefield/core/numeric/numtest"
	"brinefield/internal/app"
)

// A large study is not read while the page waits: what the newest entries are
// about says whether results are out of date, and the rest follows.
func TestResultsOfALargeStudy(t *testing.T) {
	t.Cleanup(app.ReadAtOnce(0))
	shelf := newMemShelf()
	studies := newStudies(t, shelf)
	importInto(t, studies, shelf, "bay", smallSeason(), app.ImportRequest{})
	s := openStudy(t, studies, "bay")
	results := func() app.ResultsView {
		t.Helper()
		v, err := s.Results(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	until := func(state string) app.ResultsView {
		t.Helper()
		for deadline := time.Now().Add(time.Minute); ; time.Sleep(5 * time.Millisecond) {
			v := results()
			if v.State == state && v.Data != "" {
				return v
			}
			if time.Now().After(deadline) {
				t.Fatalf("%+v; want %s", v, state)
			}
		}
	}
	if v := results(); v.State != "running" {
		t.Errorf("at first: %+v", v)
	}
	first := until("current")

	if _, err := s.Edit(t.Context(), app.EditRequest{Add: []app.NewRow{{Kind: "permit", ID: "1", Fields: map[string]string{"what": "licence (invented)"}}}}); err != nil {
		t.Fatal(err)
	}
	if v := results(); v.State != "current" || v.Since != 0 || v.Data != first.Data {
		t.Errorf("after a permit: %+v", v)
	}
	table, err := s.Table(t.Context(), "study", 0, 1)
	if err != nil {
		t.Fatal(err)
	}
	id, title := table.Rows[0].ID, cell(t, s, "study", table.Rows[0].ID, "title")
	done := set(t, s, "", app.CellChange{Kind: "study", ID: id, Field: "title", From: title, To: title + " again"})
	if v := results(); v.State != "out_of_date" || v.Since != 2 || v.Shown != first.Shown {
		t.Errorf("after an edit: %+v", v)
	}
	if v := until("out_of_date"); v.Data == v.Shown {
		t.Errorf("once it was read: %+v", v)
	}
	if _, err := s.Undo(t.Context(), app.UndoRequest{Entry: done.Entries[0].Entry}); err != nil {
		t.Fatal(err)
	}
	if v := until("current"); v.Shown != first.Shown || v.Computed != first.Computed {
		t.Errorf("after undo: %+v; want the results of before", v)
	}
}

func TestSpanReadsWhatItWrites(t *testing.T) {
	for _, text := range []string{`[1.5,2]`, `[null,2]`, `[1,null]`, `[null,null]`, `{"not_estimable":"fewer than 5 animals"}`} {
		var s app.Span
		if err := json.Unmarshal([]byte(text), &s); err != nil {
			t.Fatalf("%s: %v", text, err)
		}
		if again, err := json.Marshal(s); err != nil || string(again) != text {
			t.Errorf("%s is written again as %s, %v", text, again, err)
		}
	}
	var s app.Span
	if json.Unmarshal([]byte(`"wide"`), &s) == nil {
		t.Error("a text is no interval")
	}
}

// The page Water of a season folder: where each trial's conductivity comes
// from. 42.914 mS/cm is the conductivity of water of salinity 35 at 15 °C that
// PSS-78 rests on; the programs of TEOS-10 give 4.29175 S/m on ITS-90 (the value
// that the water command is tested against).
func TestWaterPage(t *testing.T) {
	const cast = "time,depth_m,temperature_C,salinity\n" +
		"2025-06-01T06:00:00,0,10,30\n2025-06-01T06:00:00,5,10,30\n" +
		"2025-06-01T09:30:00,5,15,35\n2025-06-01T09:30:00,1,15,35\n"
	for _, k := range []struct {
		name, water, columns, cells, cast string
		from, castTime                    string
		sigma                             float64
	}{
		{"a cast", `cast = "water.csv"`, "", "", cast, "cast", "2025-06-01T09:30:00+01:00", 4.29175398516},
		{"the trial", `cast = "water.csv"`, ",water_S_per_m", ",4.4", cast, "trial", "", 4.4},
		{"the trial's salinity", "conductivity_S_per_m = 4.31", ",temperature_C,salinity", ",15,35", "", "trial_salinity", "", 4.29175398516},
		{"the study", "conductivity_S_per_m = 4.31", "", "", "", "study", "", 4.31},
	} {
		v, err := app.Loose(open(t, waterSeason(k.water, k.columns, k.cells, k.cast))).Water(t.Context())
		if err != nil || len(v.Trials) != 1 || v.Trials[0].ConductivitySPerM == nil {
			t.Fatalf("%s: %+v, %v", k.name, v, err)
		}
		trial := v.Trials[0]
		if trial.From != k.from || trial.CastTime != k.castTime || trial.DepthM == nil || *trial.DepthM != 3 {
			t.Errorf("%s: %+v", k.name, trial)
		}
		numtest.Check(t, k.name, *trial.ConductivitySPerM, k.sigma, numtest.Tolerance{Rel: 1e-9})
		if k.cast == "" {
			continue
		}
		if len(v.Casts) != 2 || len(v.Casts[1].Readings) != 2 {
			t.Fatalf("%s: casts %+v", k.name, v.Casts)
		}
		for i, r := range v.Casts[1].Readings {
			if r.DepthM != []float64{1, 5}[i] || !r.Computed || r.ConductivitySPerM == nil {
				t.Errorf("%s: reading %+v", k.name, r)
				continue
			}
			numtest.Check(t, "the cast", *r.ConductivitySPerM, 4.29175398516, numtest.Tolerance{Rel: 1e-9})
		}
	}
}
