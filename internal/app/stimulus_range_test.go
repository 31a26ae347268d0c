package app_test

import (
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"brinefield/internal/app"
)

// A short pair in open water is a dipole: |E| = p/(4πσr³)·√(1 + 3cos²θ), so that
// the field reaches r = (p·√(1 + 3cos²θ)/(4πσx))^(1/3); in the far field of 1 mm
// the electrodes' distance changes that by (d/r)², less than 1e-4.
func TestStimulusRangeOfADipole(t *testing.T) {
	k := openWater()
	k.Pairs[0].SeparationM = 0.001
	k.Pairs[0].CentreM, k.Pairs[0].HeightM = []float64{2, -1}, 0.5
	k.CurrentUA = 100
	got, err := newStimulus().Range(t.Context(), app.RangeRequest{StimulusAsk: asked(k, "real"), ThresholdsNVPerCm: []float64{5, 40, 1e8}, HeightsM: []float64{0.5}, Directions: 8})
	if err != nil {
		t.Fatal(err)
	}
	reach := func(x, cos float64) float64 {
		return math.Cbrt(1e-7 * math.Sqrt(1+3*cos*cos) / (4 * math.Pi * 4 * x * 1e-7))
	}
	for i, x := range []float64{5, 40} {
		r := got.Thresholds[i]
		closeTo(t, "largest", r.Largest.DistanceM, reach(x, 1), 1e-3)
		closeTo(t, "at y", r.Largest.AtM[1], -1, 1e-3)
		closeTo(t, "at z", r.Largest.AtM[2], 0.5, 1e-2)
		for n, d := range r.Heights[0].ByDirectionM {
			closeTo(t, "by direction", d, reach(x, math.Cos(float64(n)*math.Pi/4)), 1e-3)
		}
	}
	if r := got.Thresholds[2]; r.Largest != nil && r.Largest.DistanceM > 0.001 || got.Thresholds[0].Beyond {
		t.Errorf("100 mV/cm: %+v; want it at the electrodes alone", r)
	}
}

// The heights are of the season: over a plate that stands 3 cm proud, the range at
// 5 cm is where the field at 5 cm over its top is the threshold.
func TestStimulusRangeIsInTheSeasonFrame(t *testing.T) {
	long(t)
	k := benchKnobs(true)
	k.TopAboveBottomM = 0.03
	s := newStimulus()
	got, err := s.Range(t.Context(), app.RangeRequest{StimulusAsk: asked(k, "real"), ThresholdsNVPerCm: []float64{8}, HeightsM: []float64{0.05, 0.1}, Directions: 6})
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range got.Thresholds[0].Heights {
		for n, d := range h.ByDirectionM {
			sin, cos := math.Sincos(float64(n) * math.Pi / 3)
			closeTo(t, "the field where the range ends", fieldsAt(t, s, k, "real", []float64{d * cos, d * sin, h.HeightM})[0], 8, 6e-3) // a distance good to 1e-3, the field falls with its cube or faster
		}
	}
	largest := got.Thresholds[0].Largest
	closeTo(t, "the field at the farthest place", fieldsAt(t, s, k, "real", largest.AtM)[0], 8, 6e-3)
	if s.Solved() != 1 {
		t.Errorf("solved %d times; want once", s.Solved())
	}
}

// The current that a target asks for gives the field that it asks for.
func TestStimulusTargetComesBack(t *testing.T) {
	long(t)
	k := benchKnobs(true)
	k.Pairs[0].Share = -0.5
	s := newStimulus()
	above, beside, azimuth := 10.0, 20.0, 30.0
	in := app.TargetRequest{StimulusAsk: asked(k, "real"), Target: app.StimulusTarget{NVPerCm: number(15), AboveCm: &above, BesideCm: &beside, AzimuthDeg: &azimuth}}
	got, err := s.Target(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Currents) != 5 || got.TargetNVPerCm != 15 {
		t.Fatalf("%+v", got)
	}
	own := 0
	for _, c := range got.Currents {
		back := benchKnobs(true)
		back.Pairs[0].Share, back.Pairs[0].SeparationM, back.CurrentUA = -0.5, c.SeparationM, *c.CurrentUA
		closeTo(t, "the field with that current", fieldsAt(t, newStimulus(), back, "real", got.AtM)[0], 15, 2*digits)
		closeTo(t, "dipole moment", *c.DipoleMomentNAM, *c.CurrentUA*0.5*c.SeparationM*1e3, 2*digits)
		if c.Own {
			own++
			closeTo(t, "now", *got.Now.NVPerCm, 15*6 / *c.CurrentUA, 2*digits)
		}
	}
	if own != 1 {
		t.Errorf("%d separations are the knob's own", own)
	}
	// A plate of 8 cm has no room for 10 cm: that is said, and is no fault.
	in.Knobs.Plates[0].SizeM = []float64{0.08, 0.08}
	got, err = s.Target(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	if last := got.Currents[4]; last.CurrentUA != nil || !strings.Contains(last.Says, "plate") {
		t.Errorf("%+v", last)
	}
}

// The moment of 3e-7 A·m that makes the published 2e-5 V/m in front of a flounder
// on an insulating bottom, in its own water of 0.23 Ω·m, is a current of 27.3 µA for
// 1 cm: p/(πσr³) = E.
func TestStimulusTargetOfAFlounder(t *testing.T) {
	k := benchKnobs(false)
	k.Water.ConductivitySPerM, k.DepthM = number(1/0.23), nil
	k.Pairs[0].AzimuthDeg = 40
	k.Pairs[0].ElectrodeDiameterM = 0
	got, err := newStimulus().Target(t.Context(), app.TargetRequest{StimulusAsk: asked(k, "endless_plate"), Target: app.StimulusTarget{Prey: "Flounder"}})
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "its field", got.TargetNVPerCm, 200, 1e-9)
	closeTo(t, "moment of 5 mm", *got.Currents[0].DipoleMomentNAM, 2e-5*math.Pi/0.23*1e-3*1e9, 2e-3) // (d/2r)²·2 of it is the pair's length
	if len(got.Warnings) != 1 || !strings.Contains(got.Warnings[0], "flounder") {
		t.Errorf("warnings %q", got.Warnings)
	}
	var fault *app.KnobsError
	if _, err := newStimulus().Target(t.Context(), app.TargetRequest{StimulusAsk: asked(k, "no_plate"), Target: app.StimulusTarget{Prey: "bony fishes"}}); !errors.As(err, &fault) || fault.Faults[0].Place != "target/prey" {
		t.Errorf("a prey without a field at a distance: %v", err)
	}
}

// Field and current go together: 10 % of the one are 10 % of the other. The same
// for the separation of a short pair, and the inverse for the conductivity of open
// water.
func TestStimulusErrors(t *testing.T) {
	k := openWater()
	k.Bottom.ConductivitySPerM, k.Bottom.Porosity, k.Bottom.CementationExponent = nil, number(1), number(1) // the water's own
	got, err := newStimulus().Errors(t.Context(), app.ErrorsRequest{
		StimulusAsk: asked(k, "no_plate"), ThresholdNVPerCm: 2, At: app.StimulusPlace{AboveCm: 10, BesideCm: 20, AzimuthDeg: 90},
		Uncertainty: app.StimulusUncertainty{CurrentSDPercent: number(5), PositionSDCm: number(2)},
	})
	if err != nil {
		t.Fatal(err)
	}
	base := fieldsAt(t, newStimulus(), k, "no_plate", []float64{0, 0.2, 0.1})[0]
	closeTo(t, "base", *got.FieldBase, base, digits)
	var names []string
	for _, r := range got.Rows {
		names = append(names, r.What)
		switch r.What {
		case "current", "separation":
			closeTo(t, r.What, r.Field[0], 0.9*base, 1e-3)
			closeTo(t, r.What, r.Field[1], 1.1*base, 1e-3)
		case "conductivity":
			closeTo(t, r.What, r.Field[0], base/0.9, 2*digits)
			closeTo(t, r.What, r.Field[1], base/1.1, 2*digits)
		case "position":
			closeTo(t, r.What, r.Field[1], fieldsAt(t, newStimulus(), k, "no_plate", []float64{0, 0.22, 0.1})[0], 2*digits)
			closeTo(t, "the range whatever the position", r.RangeM[0], *got.RangeBase, 1e-12+digits)
		}
	}
	for _, want := range []string{"conductivity", "sediment", "current", "height", "position", "separation"} {
		if !slices.Contains(names, want) {
			t.Errorf("no row for %s among %v", want, names)
		}
	}
	if slices.Contains(names, "depth") {
		t.Error("a row for the depth of water without a surface")
	}
	if len(got.Season) != 2 {
		t.Fatalf("%d rows of the season; want current and position", len(got.Season))
	}
	for _, r := range got.Season {
		if r.What == "current" {
			closeTo(t, "the season's current", r.Field[1], 1.05*base, 2*digits)
		}
	}
}

// 503.29/√(σf) m is the skin depth (the published constant); a pair that is driven
// steadily has none.
func TestStimulusWaveform(t *testing.T) {
	k := benchKnobs(false)
	k.Waveform = app.KnobWaveform{Kind: "sine", FrequencyHz: number(50)}
	got, err := newStimulus().Waveform(t.Context(), app.WaveformRequest{Knobs: k})
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "skin depth", *got.SkinDepthM, 503.29/math.Sqrt(4*50), 1e-4)
	closeTo(t, "r.m.s.", *got.RMSUA, 6/math.Sqrt2, digits)
	if !strings.HasPrefix(got.Says, "Slow enough") || *got.LargestRelativeChange > 0.01 {
		t.Errorf("%+v", got)
	}
	k.Waveform = app.KnobWaveform{Kind: "direct"}
	steady, err := newStimulus().Waveform(t.Context(), app.WaveformRequest{Knobs: k})
	if err != nil || steady.SkinDepthM != nil || *steady.LargestRelativeChange != 0 {
		t.Errorf("%+v, %v", steady, err)
	}
}

func TestStimulusPreyNamesItsSources(t *testing.T) {
	got, err := newStimulus().Prey(t.Context())
	if err != nil || len(got.Prey) < 5 {
		t.Fatalf("%d, %v", len(got.Prey), err)
	}
	for _, p := range got.Prey {
		if p.Source == "" || !strings.Contains(p.Source, "memory") && !strings.Contains(p.Source, "seen") {
			t.Errorf("%s does not say how it is known: %q", p.Name, p.Source)
		}
	}
	text, err := json.Marshal(got)
	if err != nil || strings.Contains(string(text), "NaN") {
		t.Errorf("%v %s", err, text)
	}
}

func TestRangeFileFaults(t *testing.T) {
	ask := func(data string) error {
		_, err := app.MeasureRange(t.Context(), "k.json", []byte(data), app.RangeQuestion{Form: "real", ThresholdsNVPerCm: []float64{5}}, app.Program{})
		return err
	}
	for _, k := range []struct{ what, data, want string }{
		{"not JSON", "{", "k.json:1:"},
		{"a list", "[]", "k.json:1:"},
		{"a null", "null", "k.json"},
		{"an unknown key of a body", `{"bodies": [{"shape": "box", "colour": "red"}]}`, "colour"},
		{"a body that lies about its diameters", "{\"water\": {\"conductivity_S_per_m\": 4},\n\"bottom\": {\"kind\": \"insulating\"},\n\"pairs\": [{\"centre_m\": [0, 0], \"separation_m\": 0.01, \"share\": 1}],\n\"bodies\": [{\"shape\": \"cylinder\", \"centre_m\": [0, 0, 1], \"size_m\": [1, 1, 2]}]}", "k.json:4:bodies[0].size_m: found the diameters 1 and 2 m"},
		{"a huge number", `{"water": {"conductivity_S_per_m": 1e300}, "bottom": {"kind": "insulating"}}`, "water.conductivity_S_per_m"},
	} {
		err := ask(k.data)
		var faults *app.FaultsError
		if !errors.As(err, &faults) || !strings.Contains(err.Error(), k.want) {
			t.Errorf("%s: %v; want faults about %q", k.what, err, k.want)
		}
	}
}
