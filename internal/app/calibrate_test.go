package app_test

import (
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"brinefield/core/numeric"
	"brinefield/internal/app"
)

// calibrate works a specification out, and checks what holds for every answer:
// it can be written, so that there is no NaN in it, and every reading has a row.
func calibrate(t *testing.T, spec app.CalibrationSpec) app.CalibrationDocument {
	t.Helper()
	d, err := app.NewStudies(app.StudiesOptions{Program: app.Program{Version: "test"}}).Calibrate(t.Context(), spec)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := json.Marshal(d); err != nil {
		t.Fatal(err)
	}
	if len(d.Readings) != len(spec.Readings) || d.Program.Version != "test" || len(d.InputsSHA256["spec"]) != 64 {
		t.Fatalf("%d rows of %d readings, heading %+v", len(d.Readings), len(spec.Readings), d.Heading)
	}
	return d
}

// floor is a pair of points, 1 cm apart, on an insulating floor under unbounded
// water of 4 S/m, with 6 µA.
func floor() app.StimulusKnobs {
	k := openWater()
	k.Bottom = app.KnobBottom{Kind: "insulating"}
	return k
}

// onFloor is what two tips read of it: ±I/(2πσr) of each electrode, in µV.
func onFloor(plus, minus []float64, currentUA, water float64) float64 {
	at := func(p []float64) float64 {
		if p == nil {
			return 0
		}
		r := func(x float64) float64 { return math.Sqrt((p[0]-x)*(p[0]-x) + p[1]*p[1] + p[2]*p[2]) }
		return currentUA / (2 * math.Pi * water) * (1/r(0.005) - 1/r(-0.005))
	}
	return at(plus) - at(minus)
}

// tipsAround are readings to be measured: n places on a spiral, every third
// against a reference far away.
func tipsAround(n int) []app.CalibrationReading {
	out := make([]app.CalibrationReading, n)
	for i := range out {
		sin, cos := math.Sincos(0.9 * float64(i))
		r, z := 0.06+0.15*float64(i)/float64(n), 0.02+0.02*float64(i%3)
		out[i].PlusM = []float64{r * cos, r * sin, z}
		if i%3 != 0 {
			out[i].MinusM = []float64{(r + 0.04) * cos, (r + 0.04) * sin, z}
		}
	}
	return out
}

// measuredOnFloor are readings of the closed form, with an offset and scatter.
func measuredOnFloor(n int, currentUA, water, offsetUV, sdUV float64) []app.CalibrationReading {
	noise, out := numeric.Stream(8, "calibration"), tipsAround(n)
	for i := range out {
		out[i].UV = number(onFloor(out[i].PlusM, out[i].MinusM, currentUA, water) + offsetUV + sdUV*noise.NormFloat64())
	}
	return out
}

// Exact readings of the closed form of a pair on an insulating plane: the ratio
// is found, and current and conductivity are not made up.
func TestCalibrationOnAnInsulatingFloor(t *testing.T) {
	spec := app.CalibrationSpec{Knobs: floor(), Readings: measuredOnFloor(12, 6.3, 4, 25, 0), Offset: "fit"}
	d := calibrate(t, spec)
	closeTo(t, "factor", *d.Fit.Factor.Value, 1.05, 1e-6)
	closeTo(t, "offset", *d.Fit.OffsetUV.Value, 25, 1e-6)
	closeTo(t, "moment over water", *d.Fit.MomentOverWater.Value, 63.0/4, 1e-6)
	closeTo(t, "current over water", *d.Fit.CurrentOverWater.Value, 6.3/4, 1e-6)
	if !d.Fit.OnlyRatio || d.Fit.CurrentUA.Value != nil || d.Fit.WaterSPerM.Value != nil || d.Fit.DipoleMomentNAM.CI95.NotEstimable == "" {
		t.Errorf("told apart over an insulating floor: %+v", d.Fit)
	}
	for _, says := range []string{"63 nA·m", "4.4 S/m", "69.3 nA·m"} {
		if !strings.Contains(d.Fit.Separation, says) {
			t.Errorf("%q lacks %q", d.Fit.Separation, says)
		}
	}
	if d.Solves != 1 || !d.Designed.BottomGoesWithWater || d.Fit.Correlation.Names[0] != "ratio" {
		t.Errorf("%d solves, %+v, %v", d.Solves, d.Designed, d.Fit.Correlation)
	}
	for i, row := range d.Readings {
		r := spec.Readings[i]
		closeTo(t, "designed", *row.DesignedUV, onFloor(r.PlusM, r.MinusM, 6, 4), 1e-6)
	}
	// The trade's potential of a pair on a plane, ρId·cos θ/(2πr²), along the axis at
	// 1 m: the pair's own length of 1 cm changes it by (d/2r)², 2.5e-5.
	spec.Readings = append(spec.Readings, app.CalibrationReading{PlusM: []float64{1, 0, 0}})
	d = calibrate(t, spec)
	last := d.Readings[12]
	closeTo(t, "textbook", *last.TextbookUV, 6*0.01/(2*math.Pi*4), 1e-9)
	closeTo(t, "textbook beside the design", *last.TextbookUV, *last.DesignedUV, 1e-4)
	if last.MeasuredUV != nil || last.ResidualUV != nil || last.Says == "" {
		t.Errorf("a reading that was not measured: %+v", last)
	}
}

// A measured current tells the conductivity, a measured conductivity the moment.
func TestCalibrationWithAMeasure(t *testing.T) {
	spec := app.CalibrationSpec{Knobs: floor(), Readings: measuredOnFloor(12, 6, 5, 0, 0), Offset: "fit", Priors: app.CalibrationPriors{CurrentUASD: number(0.06)}}
	d := calibrate(t, spec)
	closeTo(t, "water", *d.Fit.WaterSPerM.Value, 5, 1e-5)
	closeTo(t, "its se", *d.Fit.WaterSPerM.SE, 0.05, 1e-2) // 1 % of the current is 1 % of the water
	if d.Fit.OnlyRatio || *d.Fit.CurrentUA.SE > 0.0601 || d.Fit.PriorAgreementP != nil {
		t.Errorf("%+v", d.Fit)
	}
	spec.Priors = app.CalibrationPriors{WaterSPerM: number(0.04)}
	d = calibrate(t, spec)
	closeTo(t, "moment", *d.Fit.DipoleMomentNAM.Value, 60*4.0/5, 1e-5)
	closeTo(t, "its se", *d.Fit.DipoleMomentNAM.SE, 0.48, 1e-2)
	// Both: the potentials lie 20 % off, the design is known to 1.4 %, so they
	// cannot all be right.
	spec.Priors.CurrentUASD = number(0.06)
	if d = calibrate(t, spec); *d.Fit.PriorAgreementP > 1e-6 || d.Verdict.State != "differs" {
		t.Errorf("p %v, %+v", *d.Fit.PriorAgreementP, d.Verdict)
	}
}

// A share below 0 turns the pair's current round; the readings' sign goes with
// it, and so do the figures of the pair. Single electrodes have no moment.
func TestCalibrationSigns(t *testing.T) {
	k := floor()
	k.Pairs[0].Share = -1
	spec := app.CalibrationSpec{Knobs: k, Readings: measuredOnFloor(12, -6.6, 4, 2, 0.001), Offset: "fit", Priors: app.CalibrationPriors{WaterSPerM: number(0.01)}}
	d := calibrate(t, spec)
	closeTo(t, "factor", *d.Fit.Factor.Value, 1.1, 5e-3)
	closeTo(t, "current", *d.Fit.CurrentUA.Value, -6.6, 5e-3)
	closeTo(t, "moment", *d.Fit.DipoleMomentNAM.Value, -66, 5e-3)
	if r := d.Fit.Correlation; r.Names[0] != "current" || r.Values[0][1] >= 0 || r.Values[0][1] != r.Values[1][0] {
		t.Errorf("a larger current is a smaller number here, in water that conducts better: %+v", r)
	}
	if i := d.Fit.CurrentUA.CI95; !(i.Low < -6.6 && -6.6 < i.High) {
		t.Errorf("%+v", i)
	}
	k.Pairs, k.Electrodes = nil, []app.KnobElectrode{{AtM: []float64{0.005, 0, 0}, Share: 1}, {AtM: []float64{-0.005, 0, 0}, Share: -1}}
	spec.Knobs, spec.Readings = k, measuredOnFloor(12, 6, 4, 0, 0)
	d = calibrate(t, spec)
	closeTo(t, "current", *d.Fit.CurrentUA.Value, 6, 1e-4)
	if d.Fit.DipoleMomentNAM.Value != nil || d.Designed.DipoleMomentNAM != nil || d.Readings[0].TextbookUV != nil {
		t.Errorf("single electrodes have a moment: %+v", d.Fit)
	}
}

// The verdict names what would explain the readings.
func TestCalibrationVerdict(t *testing.T) {
	const sd = 0.02
	for _, c := range []struct {
		name     string
		change   func(s *app.CalibrationSpec)
		state    string
		sentence string // of the reasons
	}{
		{"as designed", func(*app.CalibrationSpec) {}, "agrees", ""},
		{"other polarity", func(s *app.CalibrationSpec) { s.Readings = measuredOnFloor(15, -6, 4, 1, sd) }, "differs", "swapped"},
		{"half", func(s *app.CalibrationSpec) { s.Readings = measuredOnFloor(15, 3, 4, 1, sd) }, "differs", "open water"},
		{"twice", func(s *app.CalibrationSpec) { s.Readings = measuredOnFloor(15, 12, 4, 1, sd) }, "differs", "Twice"},
		{"one bad reading", func(s *app.CalibrationSpec) { *s.Readings[7].UV += 3 }, "does_not_fit", "Reading 8 (bad)"},
		{"an offset that is left out", func(s *app.CalibrationSpec) { s.Offset = "none" }, "does_not_fit", "an offset that all readings share"},
		{"higher than thought", func(s *app.CalibrationSpec) {
			for i := range s.Readings {
				s.Readings[i].PlusM[2] /= 1.1
				if m := s.Readings[i].MinusM; m != nil {
					m[2] /= 1.1
				}
			}
		}, "does_not_fit", "10 % higher"},
	} {
		spec := app.CalibrationSpec{Knobs: floor(), Readings: measuredOnFloor(15, 6, 4, 1, sd), Offset: "fit"}
		spec.Readings[7].Label = "bad"
		c.change(&spec)
		spec.Readings[7].Label = "bad"
		for i := range spec.Readings {
			spec.Readings[i].SDUV = number(sd)
			if c.name == "higher than thought" {
				spec.Readings[i].SDUV = number(sd / 20)
				*spec.Readings[i].UV = onFloor(raised(spec.Readings[i].PlusM), raised(spec.Readings[i].MinusM), 6, 4)
			}
		}
		d := calibrate(t, spec)
		found := c.sentence == "" || slices.ContainsFunc(d.Verdict.Reasons, func(r string) bool { return strings.Contains(r, c.sentence) })
		if d.Verdict.State != c.state || !found {
			t.Errorf("%s: %+v, χ² %v, p %v", c.name, d.Verdict, *d.Fit.ChiSquare, *d.Fit.ChiSquareP)
		}
	}
}

func raised(p []float64) []float64 {
	if p == nil {
		return nil
	}
	return []float64{p[0], p[1], p[2] * 1.1}
}

// Too few readings, and none, have an answer that says so and no numbers.
func TestCalibrationOfTooLittle(t *testing.T) {
	for n, state := range []string{"nothing_measured", "not_estimable", "not_estimable"} {
		d := calibrate(t, app.CalibrationSpec{Knobs: floor(), Readings: measuredOnFloor(n, 6, 4, 0, 0), Offset: "fit"})
		if d.Verdict.State != state || d.Fit.Factor.Value != nil || d.Fit.Factor.CI95.NotEstimable == "" || len(d.Explanations) != 0 {
			t.Errorf("%d readings: %+v %+v", n, d.Verdict, d.Fit.Factor)
		}
	}
}

// onDisc is a pair of points on a thin round plate, flush with sediment.
func onDisc() app.StimulusKnobs {
	k := benchKnobs(false)
	k.Pairs[0].ElectrodeDiameterM = 0
	k.Plates = []app.KnobPlate{{Shape: "disc", DiameterM: number(0.5), CentreM: []float64{0, 0}, ThicknessM: 0.01}}
	return k
}

// Over a plate on sediment the readings of the setting itself in other water
// tell the ratio; the water that the readings were made in lies within what is
// said of it, or it is said that they do not tell. Points between the solved
// conductivities are those of a solve there, to 1e-3.
func TestCalibrationOverAPlate(t *testing.T) {
	long(t)
	k := onDisc()
	other := k
	other.Water = app.KnobWater{ConductivitySPerM: number(4.3)}
	truth := calibrate(t, app.CalibrationSpec{Knobs: other, Readings: tipsAround(12), Offset: "fit"})
	spec := app.CalibrationSpec{Knobs: k, Readings: tipsAround(12), Offset: "none", Priors: app.CalibrationPriors{CurrentUASD: number(0.006), PositionSDM: number(0.001)}}
	for i := range spec.Readings {
		spec.Readings[i].UV = truth.Readings[i].DesignedUV
	}
	d := calibrate(t, spec)
	if d.Solves != 5 || d.Fit.OnlyRatio || d.Designed.BottomGoesWithWater {
		t.Fatalf("%d solves, %+v", d.Solves, d.Fit)
	}
	closeTo(t, "water", *d.Fit.WaterSPerM.Value, 4.3, 5e-3) // the plate's solution is good to 3e-3
	if !slices.ContainsFunc(d.Explanations, func(e app.CalibrationExplanation) bool { return e.Name == "no_plate" }) {
		t.Errorf("%+v", d.Explanations)
	}
	if s := *d.Readings[1].PositionUV; !(s > 0) {
		t.Errorf("the tips' places add %g µV", s)
	}
}

// Every fault is told at once, with its place.
func TestCalibrationFaults(t *testing.T) {
	spec := app.CalibrationSpec{Knobs: floor(), Offset: "some", Readings: measuredOnFloor(3, 6, 4, 0, 0)}
	spec.Knobs.CurrentUA = 0
	spec.Knobs.Enclosure = &app.KnobEnclosure{SizeM: []float64{3, 3}}
	spec.Readings[1].SDUV = number(1)
	spec.Readings[2].SDUV = number(-1)
	spec.Readings[2].MinusM = spec.Readings[2].PlusM
	spec.Priors.WaterSPerM = number(0)
	_, err := app.NewStudies(app.StudiesOptions{}).Calibrate(t.Context(), spec)
	var wrong *app.KnobsError
	if !errors.As(err, &wrong) {
		t.Fatal(err)
	}
	var found []string
	for _, f := range wrong.Faults {
		found = append(found, f.Place)
	}
	for _, want := range []string{"knobs/current_uA", "offset", "priors/water_S_per_m_sd", "readings/0/minus_m", "readings/0/sd_uV", "readings/2/sd_uV", "readings/2/minus_m"} {
		if !slices.Contains(found, want) {
			t.Errorf("no fault at %s: %v", want, found)
		}
	}
}

// A tip in a plate has no potential; the reading says so and the rest is used.
func TestCalibrationTipInAPlate(t *testing.T) {
	long(t)
	k := onDisc()
	k.TopAboveBottomM = 0.03
	spec := app.CalibrationSpec{Knobs: k, Readings: tipsAround(3), Offset: "fit"}
	spec.Readings[1].PlusM = []float64{0.1, 0, -0.005}
	d := calibrate(t, spec)
	if row := d.Readings[1]; row.DesignedUV != nil || !strings.Contains(row.Says, "plus tip") || d.Readings[2].DesignedUV == nil {
		t.Errorf("%+v", row)
	}
}

// Odd readings have an answer, or a fault with a place, and never a panic or a
// number that is none (which could not be written).
func TestCalibrationOfOddReadings(t *testing.T) {
	one := func(uv, sd float64) app.CalibrationReading {
		r := app.CalibrationReading{PlusM: []float64{0.1, 0, 0.05}, UV: number(uv)}
		if sd > 0 {
			r.SDUV = number(sd)
		}
		return r
	}
	repeated := slices.Repeat([]app.CalibrationReading{one(3, 0)}, 6)
	atElectrode := append(measuredOnFloor(6, 6, 4, 1, 0.1), app.CalibrationReading{PlusM: []float64{0.005, 0, 0}, UV: number(5)})
	below := append(measuredOnFloor(6, 6, 4, 1, 0.1), app.CalibrationReading{PlusM: []float64{0.1, 0, -0.2}, UV: number(5)})
	nought, huge, tiny := measuredOnFloor(6, 6, 4, 0, 0), measuredOnFloor(6, 6, 4, 0, 0), measuredOnFloor(6, 6, 4, 0, 0)
	for i := range nought {
		nought[i].UV, huge[i].UV = number(0), number(1e7*math.Pow(-1, float64(i)))
		tiny[i].SDUV = number(1e-6)
	}
	for name, c := range map[string]struct {
		readings []app.CalibrationReading
		state    string
	}{
		"one place, six times": {repeated, "not_estimable"},
		"one, stated":          {[]app.CalibrationReading{one(3, 0.1)}, "not_estimable"},
		"at an electrode":      {atElectrode, ""},
		"below the floor":      {below, ""},
		"all nought":           {nought, "differs"},
		"huge":                 {huge, "too_uncertain"},
		"tiny sd":              {tiny, "agrees"},
	} {
		for _, offset := range []string{"fit", "none"} {
			for _, priors := range []app.CalibrationPriors{{}, {CurrentUASD: number(0.1)}, {WaterSPerM: number(1e-9), CurrentUASD: number(1e6)}, {PositionSDM: number(10)}} {
				d := calibrate(t, app.CalibrationSpec{Knobs: floor(), Readings: c.readings, Offset: offset, Priors: priors})
				plain := priors == app.CalibrationPriors{} && offset == "fit"
				if plain && c.state != "" && d.Verdict.State != c.state {
					t.Errorf("%s: %+v", name, d.Verdict)
				}
				if d.Verdict.Sentence == "" || strings.Contains(d.Verdict.Sentence, "NaN") || strings.Contains(d.Verdict.Sentence, "Inf") || strings.Contains(strings.Join(d.Verdict.Reasons, ""), "NaN") || strings.Contains(d.Fit.Separation, "NaN") {
					t.Errorf("%s: %+v, %s", name, d.Verdict, d.Fit.Separation)
				}
			}
		}
	}
}
