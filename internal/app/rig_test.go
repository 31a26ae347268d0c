package app_test

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/internal/app"
)

// oneRig is the rig of examples/04-rig: a block of 9 V, 15 to 6 µA, pairs of 1, 2
// and 5 cm on a plate.
func oneRig(t testing.TB) app.RigSpec {
	t.Helper()
	text, err := os.ReadFile("../../examples/04-rig/rig.json")
	if err != nil {
		t.Fatal(err)
	}
	var spec app.RigSpec
	if err := json.Unmarshal(text, &spec); err != nil {
		t.Fatal(err)
	}
	return spec
}

func workOut(spec app.RigSpec) (app.RigDocument, error) {
	return app.NewStudies(app.StudiesOptions{Program: app.Program{Version: "test"}}).Rig(context.Background(), spec)
}

func rigOf(t *testing.T, spec app.RigSpec) app.RigDocument {
	t.Helper()
	d, err := workOut(spec)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := json.Marshal(d); err != nil {
		t.Fatal(err)
	}
	return d
}

func rigNear(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s: %.9g, want %.9g", what, got, want)
	}
}

// The published range of rigs (REFERENCES §1.1: 6 to 15 µA, 1 to 5 cm), end to
// end: every wanted current within the stated error; 8 µA over 5 cm at 0.4 m in
// water of 0.23 Ω m is the classic 5 nV/cm.
func TestPublishedRig(t *testing.T) {
	spec := oneRig(t)
	spec.WaterSPerM = 1 / 0.23
	spec.WantedField = &app.RigWanted{NVPerCm: 4.5757 / math.Pow(1-math.Pow(0.05/0.8, 2), 2), AtM: 0.4}
	d := rigOf(t, spec)
	for i, want := range []float64{15, 12, 9.6, 8, 6} {
		p := d.Positions[i]
		rigNear(t, "position "+p.Label, p.NominalUA, want, *spec.Ladder.LargestErrorPercent/100)
		for _, c := range p.Currents {
			if !(c.SeasonUA[0] < c.WorstUA[0] && c.WorstUA[0] < c.DrawnUA[0] && c.DrawnUA[0] < c.NominalUA && c.NominalUA < c.DrawnUA[1] && c.DrawnUA[1] < c.WorstUA[1] && c.WorstUA[1] < c.SeasonUA[1]) {
				t.Errorf("position %s, pair %s: intervals do not lie in each other: %+v", p.Label, c.Pair, c)
			}
			rigNear(t, "empty against full", *c.EmptyUA / *c.FullUA, 0.75, 1e-3) // 9.6 to 7.2 V is −25 %
		}
	}
	wide := d.WantedField.Pairs[2]
	if wide.Pair != "C" || wide.Position != "4" {
		t.Errorf("%+v", wide)
	}
	rigNear(t, "current for 5 nV/cm", *wide.NeededUA, 8, 1e-4)
	rigNear(t, "drift", d.Battery.DriftPercent, -25, 1e-3)
	rigNear(t, "life", *d.Battery.LifeH, 565e3/d.Positions[0].Currents[0].SupplyUA, 1e-3)
	if d.Safety.Verdict != "harmless" || d.Safety.LimitedDiverUA > 40 || d.Safety.WorstCase != "full_voltage" || d.Safety.WorstDiverUA < 2000 {
		t.Errorf("%+v", d.Safety)
	}
	if !strings.Contains(d.Safety.Text, "with every resistor lost 12.") || !strings.Contains(d.Safety.Text, " mA.") {
		t.Errorf("%s", d.Safety.Text)
	}
	if len(d.Faults) != 16 || d.Faults[0].Case != "none" {
		t.Errorf("%d faults", len(d.Faults))
	}
}

// 565 mAh at 6 µA are 94 167 h (REFERENCES §8).
func TestBatteryLife(t *testing.T) {
	spec := oneRig(t)
	spec.Ladder.WantedUA = []float64{6}
	uA := 6.0
	for _, pair := range spec.Pairs {
		spec.Measured = append(spec.Measured, app.RigBench{Date: "2026-05-30", Position: "1", Pair: pair.Label, CurrentUA: &uA})
	}
	d := rigOf(t, spec)
	rigNear(t, "life", *d.Battery.LifeH, 94167, 1e-3)
}

func ptr[T any](v T) *T { return &v }

// The newest measurement of a position and pair replaces the nominal current;
// what does not fit is said.
func TestMeasuredReplacesNominal(t *testing.T) {
	spec := oneRig(t)
	spec.Measured = []app.RigBench{
		{Date: "2026-05-30", Position: "2", CurrentUA: ptr(11.9)},
		{Date: "2026-06-02", Position: "2", Pair: "B", CurrentUA: ptr(11.5), OffsetMV: ptr(3.0), SilentUA: ptr(0.2)},
		{Date: "2026-05-01", Position: "2", Pair: "B", CurrentUA: ptr(10.0)},
		{Date: "2026-06-03", Position: "1", Pair: "A", CurrentUA: ptr(30.0)},
		{Date: "2026-06-03", Position: "9", Pair: "Q", CurrentUA: ptr(1.0)},
	}
	d := rigOf(t, spec)
	a, b, c := d.Positions[1].Currents[0], d.Positions[1].Currents[1], d.Positions[2].Currents[0]
	if a.UsedUA != 11.9 || a.MeasuredOn != "2026-05-30" || b.UsedUA != 11.5 || b.MeasuredOn != "2026-06-02" || c.MeasuredUA != nil || c.UsedUA != c.NominalUA {
		t.Errorf("%+v\n%+v\n%+v", a, b, c)
	}
	for _, want := range []string{"outside the worst case", `no position "9"`, `no pair "Q"`, "offset of 3 mV", "carried 0.2 µA"} {
		if !slices.ContainsFunc(d.Warnings, func(s string) bool { return strings.Contains(s, want) }) {
			t.Errorf("no warning of %q in %q", want, d.Warnings)
		}
	}
}

// The three states of the switch: open on both legs nothing, closed some 10 µA of
// offset, open on one leg half of the current.
func TestSilentStates(t *testing.T) {
	spec := oneRig(t)
	spec.Cable.LeakMohm, spec.Cable.LeakToWaterMohm = nil, nil
	spec.Silent = "closed"
	d := rigOf(t, spec)
	for _, s := range d.Silent {
		switch s.State {
		case "open_both":
			if s.LargestUA != 0 || s.SecondPair || s.Chosen {
				t.Errorf("%+v", s)
			}
		case "closed":
			if s.OffsetUA < 6 || s.OffsetUA > 11 || !s.SecondPair || !s.Chosen || s.SingleWay {
				t.Errorf("%+v", s)
			}
		case "open_one":
			if s.Percent < 20 || !s.SingleWay || !s.SecondPair {
				t.Errorf("%+v", s)
			}
		}
	}
	if !slices.ContainsFunc(d.Warnings, func(s string) bool { return strings.Contains(s, "Silent pairs are not silent") }) {
		t.Errorf("%q", d.Warnings)
	}
}

func TestConstantCurrentRig(t *testing.T) {
	spec := oneRig(t)
	spec.Supply = app.RigSupply{Kind: "constant_current", CurrentUA: ptr(15.0), ComplianceV: ptr(1.0), TolerancePercent: ptr(2.0)}
	spec.Limiting, spec.Cable.LeakMohm = nil, nil
	spec.Electrodes.Bridge = &app.RigBridge{LengthM: 1, BoreM: 0.003, SPerM: 5}
	d := rigOf(t, spec)
	if d.Battery != nil || d.Compliance == nil || d.Supply.VoltageV != nil || len(d.Compliance.Positions) != 5 {
		t.Fatalf("%+v", d.Compliance)
	}
	// two bridges of 28 294 Ω (REFERENCES §8) and 15 µA + 2 %: 0.866 V and the water
	first := d.Compliance.Positions[0]
	if !first.Held || first.NeededV < 0.8657 || first.NeededV > 0.869 {
		t.Errorf("%+v", first)
	}
	rigNear(t, "worst", d.Positions[0].Currents[0].WorstUA[1], 15.3, 1e-6)
	spec.Supply.ComplianceV = ptr(0.5)
	d = rigOf(t, spec)
	if d.Compliance.Positions[0].Held || d.Compliance.Positions[0].GivesUA > 9 || !d.Compliance.Positions[4].Held {
		t.Errorf("%+v", d.Compliance)
	}
}

// A warm rig: 100 ppm for each °C at 30 °C widen a tolerance of 1 % by 0.1 %, which
// is the worst case of a loop of 9 V over resistors alone. Above 50 V a diver counts
// with 500 Ω (REFERENCES §11).
func TestTemperatureAndDiver(t *testing.T) {
	spec := oneRig(t)
	spec.Cable.LeakMohm, spec.WaterSPerMSD, spec.Electrodes.OffsetMV = nil, nil, ptr(0.0)
	spec.TemperatureC, spec.Limiting.PPMPerC = ptr(30.0), ptr(100.0)
	c := rigOf(t, spec).Positions[0].Currents[0]
	loop := 9e6 / c.NominalUA // with some 110 Ω that are no resistors: battery, cable, water
	rigNear(t, "low", 9e6/c.WorstUA[0], loop+0.011*(loop-110), 1e-5)
	rigNear(t, "high", 9e6/c.WorstUA[1], loop-0.011*(loop-110), 1e-5)
	if d := rigOf(t, spec).Safety.DiverOhm; d != 750 {
		t.Errorf("%g Ω", d)
	}
	spec.Supply.VoltageV, spec.Supply.FullV = ptr(60.0), nil
	spec.Ladder = app.RigLadder{Positions: []app.RigPositionSpec{{Label: "1", Ohm: []float64{1e6}}}}
	if d := rigOf(t, spec).Safety.DiverOhm; d != 500 {
		t.Errorf("%g Ω", d)
	}
}

// Faults of a specification, each with its place.
func TestRigFaultsSayWhere(t *testing.T) {
	for place, change := range map[string]func(*app.RigSpec){
		"rig/water_S_per_m":         func(s *app.RigSpec) { s.WaterSPerM = 0 },
		"rig/supply/voltage_V":      func(s *app.RigSpec) { s.Supply.VoltageV = nil },
		"rig/supply/empty_V":        func(s *app.RigSpec) { s.Supply.EmptyV = ptr(20.0) },
		"rig/supply/kind":           func(s *app.RigSpec) { s.Supply.Kind = "mains" },
		"rig/limiting":              func(s *app.RigSpec) { s.Limiting = nil },
		"rig/limiting/ohm/1":        func(s *app.RigSpec) { s.Limiting.Ohm = []float64{1, -5} },
		"rig/limiting/ohm":          func(s *app.RigSpec) { s.Limiting.Ohm = []float64{1} },
		"rig/ladder/wanted_uA/1":    func(s *app.RigSpec) { s.Ladder.WantedUA = []float64{3, 3} },
		"rig/ladder/wanted_uA/0":    func(s *app.RigSpec) { s.Ladder.WantedUA = []float64{1000, 6} },
		"rig/ladder":                func(s *app.RigSpec) { s.Ladder.Positions = []app.RigPositionSpec{{Label: "1"}} },
		"rig/ladder/wanted_uA":      func(s *app.RigSpec) { s.Ladder.WantedUA = nil },
		"rig/ladder/series":         func(s *app.RigSpec) { s.Ladder.Series = "E12" },
		"rig/ladder/most_resistors": func(s *app.RigSpec) { s.Ladder.MostResistors = ptr(4) },
		"rig/cable/mm2":             func(s *app.RigSpec) { s.Cable.MM2 = ptr(0.6) },
		"rig/cable/awg":             func(s *app.RigSpec) { s.Cable.AWG = ptr(20) },
		"rig/electrodes/shape":      func(s *app.RigSpec) { s.Electrodes.Shape, s.Electrodes.On = "hemisphere", "water" },
		"rig/pairs/1/label":         func(s *app.RigSpec) { s.Pairs[1].Label = "A" },
		"rig/pairs/1/centre_m": func(s *app.RigSpec) {
			s.Pairs[1].CentreM = s.Pairs[0].CentreM
			s.Pairs[1].SeparationM = 0.01
			s.Pairs[1].AzimuthDeg = 0
		},
		"rig/pairs/0/electrode_diameter_m": func(s *app.RigSpec) { s.Pairs[0].ElectrodeDiameterM = 0.02 },
		"rig/silent":                       func(s *app.RigSpec) { s.Silent = "shorted" },
		"rig/measured/0/date":              func(s *app.RigSpec) { s.Measured = []app.RigBench{{Date: "June", Position: "1"}} },
		"rig/wanted_field/at_m":            func(s *app.RigSpec) { s.WantedField = &app.RigWanted{NVPerCm: 5} },
		"rig/ladder/positions/0/ohm/0": func(s *app.RigSpec) {
			s.Ladder = app.RigLadder{Positions: []app.RigPositionSpec{{Label: "1", Ohm: []float64{-1}}}}
		},
		"rig/electrodes/bridge/bore_m":     func(s *app.RigSpec) { s.Electrodes.Bridge = &app.RigBridge{LengthM: 1, SPerM: 5} },
		"rig/pairs":                        func(s *app.RigSpec) { s.Pairs = nil },
		"rig/water_S_per_m_sd":             func(s *app.RigSpec) { s.WaterSPerMSD = ptr(4.0) },
		"rig/ladder/largest_error_percent": func(s *app.RigSpec) { s.Ladder.LargestErrorPercent = ptr(0.0) },
		"rig/electrodes/polarisation_sd_V": func(s *app.RigSpec) { s.Electrodes.PolarisationSD = ptr(-1.0) },
		"rig/cable/leak_Mohm":              func(s *app.RigSpec) { s.Cable.LeakMohm = ptr(0.0) },
		"rig/diver_ohm":                    func(s *app.RigSpec) { s.DiverOhm = ptr(0.0) },
	} {
		spec := oneRig(t)
		change(&spec)
		_, err := workOut(spec)
		var wrong *app.KnobsError
		if !errors.As(err, &wrong) || !slices.ContainsFunc(wrong.Faults, func(f app.KnobFault) bool { return f.Place == place && f.Wrong != "" && f.Expected != "" }) {
			t.Errorf("%s: %v", place, err)
		}
	}
}

// An impossible ladder names the nearest current: 2 × 220 kΩ under 9 V.
func TestImpossibleLadder(t *testing.T) {
	spec := oneRig(t)
	spec.Ladder.WantedUA = []float64{6, 30}
	_, err := workOut(spec)
	var wrong *app.KnobsError
	if !errors.As(err, &wrong) || len(wrong.Faults) != 1 || wrong.Faults[0].Place != "rig/ladder/wanted_uA/1" ||
		!strings.Contains(wrong.Faults[0].Wrong, "the nearest is 20.4") || !strings.Contains(wrong.Faults[0].Expected, "220 kΩ") {
		t.Errorf("%v", err)
	}
}

// The same bits on one core and on many.
func TestRigOnAnyNumberOfCores(t *testing.T) {
	spec := oneRig(t)
	before := runtime.GOMAXPROCS(1)
	one, err := json.Marshal(rigOf(t, spec))
	runtime.GOMAXPROCS(4)
	many, err2 := json.Marshal(rigOf(t, spec))
	runtime.GOMAXPROCS(before)
	if err != nil || err2 != nil || string(one) != string(many) {
		t.Errorf("the documents differ (%v, %v)", err, err2)
	}
}

// Whatever is allowed is worked out, without NaN, infinity or panic.
func TestAnyRigIsWorkedOut(t *testing.T) {
	if testing.Short() {
		t.Skip("many rigs")
	}
	base := oneRig(t)
	rapid.Check(t, func(t *rapid.T) {
		spec := base
		pick := func(name string, low, high float64) float64 {
			return math.Exp(rapid.Float64Range(math.Log(low), math.Log(high)).Draw(t, name))
		}
		maybe := func(name string, low, high float64) *float64 {
			if rapid.Bool().Draw(t, name+"?") {
				return nil
			}
			return ptr(pick(name, low, high))
		}
		spec.WaterSPerM = pick("water", 1e-4, 100)
		spec.Supply.VoltageV, spec.Supply.FullV, spec.Supply.EmptyV = ptr(pick("V", 0.1, 120)), nil, nil
		spec.Supply.InternalOhm, spec.Supply.CapacityMAh = maybe("r", 1e-3, 1e6), maybe("mAh", 1, 1e6)
		spec.Limiting = &app.RigLimiting{Ohm: []float64{pick("r1", 1e-3, 1e10), 0}, TolerancePercent: 5}
		spec.Ladder = app.RigLadder{Positions: []app.RigPositionSpec{{Label: "x", Ohm: []float64{pick("step", 1e-3, 1e10)}}, {Label: "y"}}}
		spec.Cable.LeakMohm, spec.Cable.LeakToWaterMohm = maybe("leak", 1e-6, 1e9), maybe("to water", 1e-6, 1e9)
		spec.Electrodes.PolarisationV, spec.Electrodes.PolarisationSD = maybe("pol", 1e-3, 20), maybe("pol sd", 1e-3, 10)
		spec.Silent = rapid.SampledFrom([]string{"open_both", "open_one", "closed"}).Draw(t, "silent")
		spec.Pairs = spec.Pairs[:rapid.IntRange(1, 3).Draw(t, "pairs")]
		if rapid.Bool().Draw(t, "constant") {
			spec.Supply = app.RigSupply{Kind: "constant_current", CurrentUA: ptr(1e6), ComplianceV: spec.Supply.VoltageV, TolerancePercent: ptr(3.0)}
			spec.Ladder = app.RigLadder{WantedUA: []float64{pick("uA", 1e-6, 1e6)}}
		}
		d, err := workOut(spec)
		var wrong *app.KnobsError
		if errors.As(err, &wrong) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if _, err := json.Marshal(d); err != nil {
			t.Fatal(err)
		}
		for _, p := range d.Positions {
			for _, c := range p.Currents {
				if c.NominalUA < 0 || c.WorstUA[0] > c.NominalUA*(1+1e-9) || c.WorstUA[1] < c.NominalUA*(1-1e-9) {
					t.Fatalf("nominal %g, worst %v", c.NominalUA, c.WorstUA)
				}
			}
		}
	})
}
