package app_test

import (
	"strings"
	"testing"

	"brinefield/core/numeric/numtest"
	"brinefield/internal/app"
)

// waterSeason is a season without passes whose [water] and trials vary.
func waterSeason(water, trialColumns, trialCells, cast string) app.Input {
	in := app.Input{
		"study.toml": []byte(`format = 1
title = "Water (invented)"
[site]
name = "Tank (invented)"
timezone = "Europe/Dublin"
depth_m = 3.0
[water]
` + water + `
[bottom]
kind = "insulating"
[[pair]]
label = "A"
centre_m = [0, 0]
azimuth_deg = 0
separation_m = 0.01
electrode_diameter_m = 0
[[species]]
name = "Raja clavata"
[analysis]
pass_radius_cm = 16
reaction_time_s = 0.1
`),
		"trials.csv": []byte("trial,start,end,active_pair,current_uA" + trialColumns + "\nT1,2025-06-01T10:00:00,2025-06-01T11:00:00,A,9" + trialCells + "\n"),
		"passes.csv": []byte("pass,trial,time,individual,species,pair,turned,bit\n"),
		"tracks.csv": []byte("pass,t_s,x_cm,y_cm,height_cm\n"),
	}
	if cast != "" {
		in["water.csv"] = []byte(cast)
	}
	return in
}

// Conductivities at salinity 35, 30 and ITS-90 15 and 20 °C are the working
// table of REFERENCES 3.5, computed with a reference library of TEOS-10.
func TestWaterOfATrial(t *testing.T) {
	const cast = "time,depth_m,temperature_C,salinity\n" +
		"2025-06-01T06:00:00,0,10,30\n2025-06-01T06:00:00,5,10,30\n" +
		"2025-06-01T09:30:00,1,20,35\n2025-06-01T09:30:00,5,10,35\n"
	table := numtest.Tolerance{Rel: 2e-6} // the table has six or seven digits
	exact := numtest.Tolerance{Rel: 1e-12}
	for _, c := range []struct {
		name                      string
		water, columns, cells, in string
		want                      float64
		tol                       numtest.Tolerance
	}{
		{"stated for the study", "conductivity_S_per_m = 4.31", "", "", "", 4.31, exact},
		{"salinity and temperature of the study", "temperature_C = 15\nsalinity = 35", "", "", "", 4.291754, table},
		{"a compensating meter", "conductivity_at_25C_S_per_m = 5.0\ntemperature_C = 15", "", "", "", 5 * (1 - 0.191), exact},
		{"its own coefficient", "conductivity_at_25C_S_per_m = 5.0\ntemperature_C = 15\npercent_per_C = 2", "", "", "", 4, exact},
		{"the trial's own conductivity comes first", "conductivity_S_per_m = 4.31", ",water_S_per_m,temperature_C,salinity", ",3.9,15,35", "", 3.9, exact},
		{"then its temperature and salinity", "conductivity_S_per_m = 4.31", ",temperature_C,salinity", ",20,30", "", 4.174785, table},
		{"one of the two is not enough", "conductivity_S_per_m = 4.31", ",temperature_C,salinity", ",20,", "", 4.31, exact},
		{"then the cast nearest in time, at the plate's depth", `cast = "water.csv"`, "", "", cast, 4.291754, table}, // depth 3: half-way from 20 to 10 °C
		{"the tide moves the plate's depth", `cast = "water.csv"`, ",tide_m", ",-2", cast, 4.791804, table},          // depth 1: 20 °C
		{"below the cast its last reading holds", `cast = "water.csv"`, ",tide_m", ",4", cast, 3.808971, table},      // 10 °C
		{"a trial's conductivity before the cast", `cast = "water.csv"`, ",water_S_per_m", ",4.1", cast, 4.1, exact},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := analyse(t, waterSeason(c.water, c.columns, c.cells, c.in), app.AnalyseOptions{Only: []string{"water"}})
			if len(f.Water) != 1 || f.Water[0].Trial != "T1" || f.Water[0].From == "" {
				t.Fatalf("water = %+v", f.Water)
			}
			numtest.Check(t, "conductivity in S/m", f.Water[0].ConductivitySPerM, c.want, c.tol)
		})
	}
}

func TestWaterWarnings(t *testing.T) {
	f := analyse(t, waterSeason(`cast = "water.csv"`, ",tide_m", ",4", "time,depth_m,temperature_C,salinity\n2025-06-01T09:30:00,1,20,35\n"), app.AnalyseOptions{Only: []string{"water"}})
	if !strings.Contains(strings.Join(f.Warnings, "\n"), "does not reach") {
		t.Errorf("a cast that ends above the plate is not told: %q", f.Warnings)
	}
	if f := analyse(t, waterSeason("temperature_C = 15\nsalinity = 50", "", "", ""), app.AnalyseOptions{Only: []string{"water"}}); len(f.Warnings) == 0 {
		t.Error("salinity 50 lies outside the range of PSS-78 (2 to 42) and nothing says so")
	}
}

// A season without a pass has no findings and says so, section by section.
func TestEmptySeason(t *testing.T) {
	f := analyse(t, waterSeason("conductivity_S_per_m = 4.31", "", "", ""), app.AnalyseOptions{})
	if len(f.Detection) != 0 || len(f.Passes) != 0 || len(f.Preference) != 1 || f.Preference[0].Mixed.NotEstimable == "" {
		t.Errorf("findings of nothing: %+v", f)
	}
}
