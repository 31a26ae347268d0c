package app_test

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"brinefield/internal/app"
)

// startOf is the start of a folder that was imported as a study.
func startOf(t *testing.T, in app.Input, how app.ImportRequest) (app.StimulusStart, string) {
	t.Helper()
	shelf := newMemShelf()
	s := newStudies(t, shelf)
	importInto(t, s, shelf, "bay", in, how)
	got, err := openStudy(t, s, "bay").Stimulus(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(got)
	if err != nil {
		t.Fatal(err)
	}
	return got, string(text)
}

// Whichever pair was active, and where the pairs are sealed whatever is
// guarded, the page begins with the same bytes.
func TestStimulusStartTellsNoActivePair(t *testing.T) {
	swapped := with(t, smallSeason(), "trials.csv", "21:40,A,", "21:40,B,")
	swapped = with(t, swapped, "trials.csv", "21:40,B,6", "21:40,A,6")
	_, open := startOf(t, smallSeason(), app.ImportRequest{})
	_, openSwapped := startOf(t, swapped, app.ImportRequest{})
	if diff := cmp.Diff(open, openSwapped); diff != "" {
		t.Errorf("the start tells which pair was active:\n%s", diff)
	}
	other := with(t, swapped, "trials.csv", "21:40,B,9.0,sine", "21:40,none,12,square")
	other = with(t, other, "trials.csv", "22:40,none,9.0,", "22:40,A+B,3,sine")
	_, sealed := startOf(t, smallSeason(), app.ImportRequest{Blind: true})
	_, sealedOther := startOf(t, other, app.ImportRequest{Blind: true})
	if diff := cmp.Diff(sealed, sealedOther); diff != "" {
		t.Errorf("the start tells what is sealed:\n%s", diff)
	}
	if sealed == open || !strings.Contains(sealed, "sealed with the active pairs") {
		t.Errorf("the start of a sealed study does not say that its currents are sealed: %s", sealed)
	}
	if strings.Contains(sealed, "sine") || strings.Contains(sealed, `"current_uA":9`) {
		t.Errorf("the start of a sealed study holds what is guarded: %s", sealed)
	}
}

func TestStimulusStartIsTheStudy(t *testing.T) {
	in := with(t, smallSeason(), "study.toml", `kind = "insulating"`, `kind = "sediment"
porosity = 0.4
cementation_exponent = 1.5

[[plate]]
label = "tray"
shape = "disc"
diameter_m = 0.5
centre_m = [0.5, 0.0]
thickness_m = 0.012
top_above_bottom_m = -0.01

[[plate]]
label = "other tray"
shape = "rectangle"
size_m = [0.4, 0.3]
centre_m = [-0.5, 0.0]
thickness_m = 0.012
top_above_bottom_m = -0.01

[uncertainty]
position_sd_cm = 1.5
current_sd_percent = 2`)
	in = with(t, in, "trials.csv", "waveform,observers,note\n", "waveform,observers,note,frequency_Hz,temperature_C,salinity,tide_m,sand_over_plate_mm\n")
	in = with(t, in, "trials.csv", "calm\n", "calm,0.5,13,34,0.5,4\n")
	in = with(t, in, "trials.csv", ",Tom Kett,\n", ",Tom Kett,,,14,34.5,,\n")
	in = with(t, in, "trials.csv", "swell\n", "swell,1.5,16,35,-1,8\n")
	got, _ := startOf(t, in, app.ImportRequest{})
	k := got.Knobs
	want := app.StimulusKnobs{
		Water: app.KnobWater{TemperatureC: number(14), Salinity: number(34.5)}, DepthM: number(4.5),
		Bottom: app.KnobBottom{Kind: "sediment", Porosity: number(0.4), CementationExponent: number(1.5)},
		Plates: []app.KnobPlate{
			{Shape: "disc", DiameterM: number(0.5), ThicknessM: 0.012, CentreM: []float64{0.5, 0}},
			{Shape: "rectangle", SizeM: []float64{0.4, 0.3}, ThicknessM: 0.012, CentreM: []float64{-0.5, 0}},
		},
		TopAboveBottomM: -0.01, SandOverPlateMM: 6, CurrentUA: 9,
		Pairs: []app.KnobPair{
			{Label: "A", CentreM: []float64{0.5, 0}, SeparationM: 0.01, ElectrodeDiameterM: 0.002, Share: 1},
			{Label: "B", CentreM: []float64{-0.5, 0}, AzimuthDeg: 90, SeparationM: 0.01, ElectrodeDiameterM: 0.002},
		},
		Electrodes: []app.KnobElectrode{}, ElectrodeShape: "disc", Bodies: []app.KnobBody{},
		Waveform: app.KnobWaveform{Kind: "sine", FrequencyHz: number(1)},
	}
	if diff := cmp.Diff(want, k); diff != "" {
		t.Errorf("knobs (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(app.StimulusUncertainty{PositionSDCm: number(1.5), CurrentSDPercent: number(2)}, got.Uncertainty); diff != "" {
		t.Errorf("uncertainty: %s", diff)
	}
	if len(got.KnobsFrom) < 8 || len(got.Cautions) < 5 || len(got.Warnings) != 0 {
		t.Errorf("%d sentences, %d cautions, warnings %v", len(got.KnobsFrom), len(got.Cautions), got.Warnings)
	}
	// What the page begins with can be worked out.
	fieldsAt(t, newStimulus(), k, "endless_plate", []float64{0.6, 0, 0.1})
	// A trial that names a plate: the other one, and the pair on it, do not lie there.
	named := with(t, in, "trials.csv", "sand_over_plate_mm\n", "sand_over_plate_mm,plate\n")
	named = with(t, named, "trials.csv", "0.5,4\n", "0.5,4,tray\n")
	named = with(t, named, "trials.csv", "34.5,,\n", "34.5,,,\n")
	named = with(t, named, "trials.csv", "-1,8\n", "-1,8,\n")
	got, _ = startOf(t, named, app.ImportRequest{})
	if len(got.Knobs.Plates) != 1 || got.Knobs.Plates[0].Shape != "disc" || len(got.Knobs.Pairs) != 1 || got.Knobs.Pairs[0].Label != "A" {
		t.Errorf("plates %+v, pairs %+v; want the tray and A alone", got.Knobs.Plates, got.Knobs.Pairs)
	}
}

// The knobs' water is the analysis's: of a cast at the plate's depth too.
func TestStimulusStartOfACast(t *testing.T) {
	in := with(t, smallSeason(), "study.toml", "conductivity_S_per_m = 4.2", `cast = "water.csv"`)
	in["water.csv"] = []byte("time,depth_m,temperature_C,salinity\n2026-06-01T20:00,0,16,33\n2026-06-01T20:00,9,12,35\n")
	got, _ := startOf(t, in, app.ImportRequest{})
	if diff := cmp.Diff(app.KnobWater{TemperatureC: number(14), Salinity: number(34)}, got.Knobs.Water); diff != "" { // half way at 4.5 m
		t.Errorf("water: %s", diff)
	}
	loose := app.Loose(open(t, in))
	same, err := loose.Stimulus(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(got, same); diff != "" {
		t.Errorf("a season folder begins otherwise than the study made of it: %s", diff)
	}
}

func TestStimulusStartOfAFaultySeason(t *testing.T) {
	in := with(t, smallSeason(), "study.toml", "separation_m = 0.01", "separation_m = -1")
	if _, err := app.Loose(app.Open(t.Context(), "bay", in, false, app.AnalyseOptions{})).Stimulus(t.Context()); !errors.Is(err, app.ErrFaults) {
		t.Errorf("%v; want that the season has faults", err)
	}
}
