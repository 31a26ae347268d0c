package app_test

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"brinefield/internal/app"
)

// Settings at the edge of what can be asked: every question either says what is
// wrong with them, or has an answer without a number that is none.
func TestOddStimuli(t *testing.T) {
	long(t)
	tank := func(k *app.StimulusKnobs) {
		k.Bottom, k.DepthM = app.KnobBottom{Kind: "insulating"}, number(0.5)
		k.Enclosure = &app.KnobEnclosure{SizeM: []float64{2, 1}, CentreM: []float64{0, 0}}
	}
	for _, c := range []struct {
		name   string
		refuse string // the place of the fault, "" for an answer
		change func(k *app.StimulusKnobs)
	}{
		{"no current", "", func(k *app.StimulusKnobs) { k.CurrentUA = 0 }},
		{"a current the other way", "", func(k *app.StimulusKnobs) { k.CurrentUA = -6 }},
		{"fresh water", "", func(k *app.StimulusKnobs) {
			k.Water = app.KnobWater{TemperatureC: number(10), Salinity: number(0)}
		}},
		{"a tank", "", tank},
		{"a pair through the wall", "knobs/pairs", func(k *app.StimulusKnobs) { tank(k); k.Pairs[0].CentreM = []float64{1, 0} }},
		{"two pairs, one reversed", "", func(k *app.StimulusKnobs) {
			second := k.Pairs[0]
			second.CentreM, second.Share = []float64{0.5, 0}, -1
			k.Pairs = append(k.Pairs, second)
		}},
		{"two pairs in one place", "knobs/pairs", func(k *app.StimulusKnobs) { k.Pairs = append(k.Pairs, k.Pairs[0]) }},
		{"a silent pair in the same place", "", func(k *app.StimulusKnobs) {
			second := k.Pairs[0]
			second.Share = 0
			k.Pairs = append(k.Pairs, second)
		}},
		{"one electrode, its current goes off into the sediment", "", func(k *app.StimulusKnobs) {
			k.Pairs, k.Electrodes = nil, []app.KnobElectrode{{AtM: []float64{0, 0, 0.1}, Share: 1}}
		}},
		{"one electrode with no way out", "knobs/pairs", func(k *app.StimulusKnobs) {
			tank(k)
			k.Pairs, k.Electrodes = nil, []app.KnobElectrode{{AtM: []float64{0, 0, 0.1}, Share: 1}}
		}},
		{"three electrodes", "", func(k *app.StimulusKnobs) {
			k.Pairs = nil
			for i, share := range []float64{1, -0.5, -0.5} {
				k.Electrodes = append(k.Electrodes, app.KnobElectrode{AtM: []float64{0.01 * float64(i), 0, 0}, Share: share})
			}
		}},
		{"hemispheres", "", func(k *app.StimulusKnobs) { k.ElectrodeShape = "hemisphere" }},
		{"a pair high up in the water", "", func(k *app.StimulusKnobs) { k.Pairs[0].HeightM = 3 }},
		{"a pair over the surface", "knobs/pairs", func(k *app.StimulusKnobs) { k.Pairs[0].HeightM = 9 }},
		{"a plate that fills its tank", "knobs/plates", func(k *app.StimulusKnobs) {
			tank(k)
			k.Plates = []app.KnobPlate{{Shape: "disc", DiameterM: number(3), ThicknessM: 0.01, CentreM: []float64{0, 0}}}
			k.TopAboveBottomM = 0.1
		}},
		{"a sediment that insulates", "", func(k *app.StimulusKnobs) { k.Bottom.ConductivitySPerM = number(0) }},
		{"sand up to the surface", "knobs/sand_over_plate_mm", func(k *app.StimulusKnobs) {
			*k = benchKnobs(true)
			k.DepthM, k.SandOverPlateMM = number(0.3), 400
		}},
		{"sand over a plate on a tank's floor", "", func(k *app.StimulusKnobs) {
			tank(k)
			k.Plates, k.SandOverPlateMM = benchKnobs(true).Plates, 10
		}},
	} {
		k := benchKnobs(false)
		c.change(&k)
		s := newStimulus()
		for what, ask := range map[string]func() (any, error){
			"section": func() (any, error) {
				return s.Section(t.Context(), app.SectionRequest{StimulusAsk: asked(k, "real"), Section: app.SectionPlane{Plane: "vertical", HalfWidthM: 2, LowestM: -1, HighestM: 1, Columns: 21, Rows: 21}})
			},
			"points": func() (any, error) {
				return s.Points(t.Context(), app.PointsRequest{StimulusAsk: asked(k, "real"), PointsM: [][]float64{{0, 0, 0}, {0.005, 0, 0}, {0, 0, 0.2}, {900, 0, 0.1}}})
			},
			"range": func() (any, error) {
				return s.Range(t.Context(), app.RangeRequest{StimulusAsk: asked(k, "real"), ThresholdsNVPerCm: []float64{2, 50}, HeightsM: []float64{-0.5, 0, 0.1}, Directions: 8})
			},
		} {
			got, err := ask()
			var fault *app.KnobsError
			switch {
			case c.refuse != "" && (!errors.As(err, &fault) || fault.Faults[0].Place != c.refuse):
				t.Errorf("%s, %s: %v; want a fault at %s", c.name, what, err, c.refuse)
			case c.refuse == "" && err != nil:
				t.Errorf("%s, %s: %v", c.name, what, err)
			case c.refuse == "":
				if text, err := json.Marshal(got); err != nil || strings.Contains(string(text), "NaN") {
					t.Errorf("%s, %s: %v, %.300s", c.name, what, err, text)
				}
			}
		}
	}
}

func TestSeasonViewHasItsPlates(t *testing.T) {
	in := with(t, smallSeason(), "study.toml", "[[pair]]\nlabel = \"A\"", `[[plate]]
label = "tray"
shape = "disc"
diameter_m = 1.6
centre_m = [0.1, 0.2]
thickness_m = 0.012

[[pair]]
label = "A"`)
	got := app.Open(t.Context(), "bay", in, false, app.AnalyseOptions{}).Season()
	if len(got.Plates) != 1 {
		t.Fatalf("%d plates, faults %v", len(got.Plates), got.Faults)
	}
	p := got.Plates[0]
	if p.DiameterCm == nil || *p.DiameterCm != 160 || p.CentreXCm != 10 || p.CentreYCm != 20 || p.Label != "tray" {
		t.Errorf("%+v", p)
	}
}
