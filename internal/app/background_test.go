package app_test

import (
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
	"brinefield/internal/app"
)

// plainBackground is a background over an endless insulating bottom at a place of
// the published test values of the magnetic model.
func plainBackground() app.BackgroundSpec {
	return app.BackgroundSpec{
		Site: app.BackgroundSite{Latitude: new(0.0), Longitude: new(120.0), XAxisDeg: new(90.0)},
		Date: "2025-01-01", WaterSPerM: 5,
		Pairs:    []app.BackgroundPair{{Label: "A", CentreM: []float64{0, 0}}, {Label: "B", CentreM: []float64{2, 0}}},
		Stimulus: &app.BackgroundStimulus{ThresholdNVPerCm: 50, SharePercent: 10},
	}
}

func ask(t *testing.T, spec app.BackgroundSpec) app.BackgroundDocument {
	t.Helper()
	d, err := app.NewStudies(app.StudiesOptions{}).Background(t.Context(), spec)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := json.Marshal(d); err != nil { // nothing infinite, nothing that is no number
		t.Fatal(err)
	}
	return d
}

// Published test value of WMM2025 (0° N, 120° E, 2025.0) and v × B worked by
// hand of it: water to the east, along +x.
func TestBackgroundMotional(t *testing.T) {
	spec := plainBackground()
	spec.Stream = &app.BackgroundStream{FloodPeakMPerS: new(0.5), FloodBearing: new(90.0), Slack: "03:00", PeriodH: new(12.0), EbbPeakMPerS: new(0.25)}
	spec.SwimMPerS = new(1.0)
	d := ask(t, spec)
	numtest.Check(t, "X", d.Magnetic.NorthNT, 39677.8, numtest.Tolerance{Abs: 0.051})
	numtest.Check(t, "Z", d.Magnetic.DownNT, -10580.2, numtest.Tolerance{Abs: 0.051})
	if n := len(d.Motional.Rows); n != 49 {
		t.Fatalf("%d rows", n)
	}
	peak := d.Motional.Rows[12]
	if peak.Time != "06:00" || d.Motional.Largest.Time != "06:00" {
		t.Errorf("peak at %s, largest at %s", peak.Time, d.Motional.Largest.Time)
	}
	// East flow: north = v·Z, down = −v·X, both times 0.01 nV/cm per nT·m/s.
	numtest.Check(t, "north", peak.NorthEastDown[0], 0.5*-10580.2/100, numtest.Tolerance{Abs: 1e-3})
	numtest.Check(t, "down", peak.NorthEastDown[2], -0.5*39677.8/100, numtest.Tolerance{Abs: 1e-3})
	// +x is east, so +y is north.
	numtest.Check(t, "y", peak.Season[1], 0.5*-10580.2/100, numtest.Tolerance{Abs: 1e-3})
	numtest.Check(t, "z", peak.Season[2], 0.5*39677.8/100, numtest.Tolerance{Abs: 1e-3})
	numtest.Check(t, "magnitude", *peak.MagnitudeNV, 0.5*math.Hypot(10580.2, 39677.8)/100, numtest.Tolerance{Abs: 1e-3})
	numtest.Check(t, "ebb", *d.Motional.Rows[24].MagnitudeNV, *peak.MagnitudeNV/2, numtest.Tolerance{Rel: 1e-9})
	numtest.Check(t, "swim", *d.Motional.Swim.LargestNV, 41064.3/100, numtest.Tolerance{Abs: 1e-3})
	numtest.Check(t, "swim along", *d.Motional.Swim.SmallestNV, 10580.2/100, numtest.Tolerance{Abs: 1e-3})
	numtest.Check(t, "thresholds", *peak.Thresholds, *peak.MagnitudeNV/50, numtest.Tolerance{Rel: 1e-12})
}

func TestBackgroundAtlas(t *testing.T) {
	spec := plainBackground()
	spec.Site.XAxisDeg = nil
	spec.Stream = &app.BackgroundStream{Table: []app.BackgroundStreamRow{{Time: "06:10", SpeedMPerS: 1, Bearing: 0}, {Time: "07:10", SpeedMPerS: 0.2, Bearing: 0}}}
	d := ask(t, spec)
	rows := d.Motional.Rows
	if len(rows) != 2 || rows[0].Time != "06:30" || rows[1].Time != "07:00" || rows[0].Season != nil {
		t.Fatalf("rows %+v", rows)
	}
	if d.Motional.Largest.Time != "06:10" || d.Motional.Largest.SpeedMPerS != 1 {
		t.Errorf("largest %+v", d.Motional.Largest)
	}
	numtest.Check(t, "speed", rows[0].SpeedMPerS, 1-0.8/3, numtest.Tolerance{Rel: 1e-12})
	if !slices.ContainsFunc(d.Warnings, func(s string) bool { return strings.Contains(s, "06:30 to 07:00") }) {
		t.Errorf("no word about the rest of the day: %v", d.Warnings)
	}
}

// Standoffs of the project's reference list: 5 nV/cm in 0.2 Ω·m, half space, on
// the axis: p = 1e-6: 0.503 m; 1e-5: 1.084; 1e-4: 2.335; 1e-3 A·m: 5.031 m.
func TestBackgroundStandoffs(t *testing.T) {
	spec := plainBackground()
	want := []float64{0.503, 1.084, 2.335, 5.031}
	for i, moment := range []float64{1e-6, 1e-5, 1e-4, 1e-3} {
		spec.Sources = append(spec.Sources, app.BackgroundSource{Label: string(rune('p' + i)), Kind: "dipole", AtM: []float64{-1, 0, 0}, MomentAM: &moment})
	}
	d := ask(t, spec)
	numtest.Check(t, "limit", *d.LimitNV, 5, numtest.Tolerance{Rel: 1e-12})
	sum := 0.0
	for i := range want {
		s := &d.Sources[i]
		numtest.Check(t, s.Label, *s.StandoffM, want[i], numtest.Tolerance{Abs: 5.1e-4})
		ratio := want[i] / 1
		numtest.Check(t, "field at A", *s.Pairs[0].FieldNV, 5*ratio*ratio*ratio, numtest.Tolerance{Rel: 4e-3})
		numtest.Check(t, "gradient at A", *s.Pairs[0].GradientNV, 3**s.Pairs[0].FieldNV/100, numtest.Tolerance{Rel: 1e-12})
		if *s.OK != (want[i] < 1) || *s.NearestM != 1 {
			t.Errorf("%s: ok %v, nearest %g", s.Label, *s.OK, *s.NearestM)
		}
		if s.Pairs[0].FieldSDNV != nil || s.StandoffHighM != nil {
			t.Errorf("%s: an uncertainty that nobody stated", s.Label)
		}
		sum += *s.Pairs[0].FieldNV
	}
	numtest.Check(t, "all at A", *d.Pairs[0].FieldNV, sum, numtest.Tolerance{Rel: 1e-12})
	if d.Pairs[0].Largest != "s" || *d.Pairs[0].OK {
		t.Errorf("pair A: %+v", d.Pairs[0])
	}
	// Two standard deviations less water: 1/(1 − 2·0.02), a cube root of it farther.
	spec.WaterSD = new(0.1)
	d = ask(t, spec)
	numtest.Check(t, "farther", *d.Sources[0].StandoffHighM / *d.Sources[0].StandoffM, math.Cbrt(1/0.96), numtest.Tolerance{Rel: 1e-9})
	numtest.Check(t, "field's sd", *d.Sources[0].Pairs[0].FieldSDNV, 0.02**d.Sources[0].Pairs[0].FieldNV, numtest.Tolerance{Rel: 1e-9})
}

func TestBackgroundKindsOfSource(t *testing.T) {
	spec := plainBackground()
	spec.WaterSD = new(0.5)
	spec.Sources = []app.BackgroundSource{
		// Balls of 1 mm in 0.2 Ω·m have 15.9155 Ω each (ρ/4πa); zinc and copper differ by 0.67 V.
		{Label: "couple", Kind: "couple", Metals: []string{"zinc", "copper"}, RadiiCm: []float64{0.1, 0.1}, ApartM: new(0.5), AtM: []float64{-4, 0, 0}},
		{Label: "measured", Kind: "measured", FieldNVPerCm: new(40.0), DistanceM: new(0.5), AtM: []float64{1, 0, 0}},
		{Label: "leak", Kind: "cable", CurrentNA: new(90.0), LengthM: new(20.0), AtM: []float64{0, 0.5, 0}},
		{Label: "diver", Kind: "diver", AtM: []float64{0, 0, 0}},
		{Label: "painted", Kind: "couple", Metals: []string{"zinc", "copper"}, AreasCm2: []float64{1, 1}, ApartM: new(0.5), PaintedPercent: new(100.0), AtM: []float64{0, 0, 0}},
	}
	d := ask(t, spec)
	couple := &d.Sources[0]
	numtest.Check(t, "couple's current", *couple.CurrentUA, 0.67e6/(2*15.91549430918954-0.2/(2*math.Pi*0.5)), numtest.Tolerance{Rel: 1e-9})
	numtest.Check(t, "couple's moment", *couple.MomentAM, *couple.CurrentUA*0.5e-6, numtest.Tolerance{Rel: 1e-12})
	if couple.StandoffHighM != nil || couple.Pairs[0].FieldSDNV != nil {
		t.Error("the water's uncertainty changes the field of a couple")
	}
	numtest.Check(t, "measured", *d.Sources[1].StandoffM, 1, numtest.Tolerance{Rel: 1e-12})
	if !*d.Sources[1].OK {
		t.Errorf("at its standoff: %s", d.Sources[1].Verdict)
	}
	// Two poles that are not nearer: 2·ρI/(2πr²) = 0.2·90e-9/(π·0.25) V/m.
	numtest.Check(t, "leak", *d.Sources[2].Pairs[0].FieldNV, 1e7*0.2*90e-9/(math.Pi*0.25), numtest.Tolerance{Rel: 1e-9})
	diver := &d.Sources[3]
	if diver.Pairs[0].FieldNV != nil || *diver.OK || !strings.Contains(diver.MomentFrom, "from memory") || !strings.Contains(diver.Verdict, "pair A itself") {
		t.Errorf("the diver on a pair: %+v", diver)
	}
	painted := &d.Sources[4]
	if *painted.Pairs[0].FieldNV != 0 || *painted.StandoffM != 0 || !*painted.OK || painted.ResistanceOhm != nil {
		t.Errorf("a painted couple: %+v", painted)
	}
	if d.Pairs[0].FieldNV != nil || d.Pairs[0].Largest != "diver" {
		t.Errorf("all together: %+v", d.Pairs[0])
	}
}

// 9 V over 100 MΩ leak 90 nA (reference list of the project).
func TestSilentPlate(t *testing.T) {
	spec := plainBackground()
	spec.Stimulus.ThresholdNVPerCm = 5
	spec.Cable = &app.BackgroundCable{LeakMohm: 100, VoltageV: 9, LengthM: 30, PlateEndAtM: []float64{0, 0.3, 0}}
	d := ask(t, spec)
	numtest.Check(t, "leak", *d.Silent.LeakNA, 90, numtest.Tolerance{Rel: 1e-12})
	if *d.Silent.OK || d.Silent.Needed == nil {
		t.Fatalf("%+v", d.Silent)
	}
	spec.Cable.LeakMohm = *d.Silent.Needed
	d = ask(t, spec)
	if !*d.Silent.OK || !strings.Contains(d.Silent.Verdict, "is silent") {
		t.Errorf("with the insulation asked for: %s", d.Silent.Verdict)
	}
}

// A meter that compensates to 25 °C, read raw: 40.154 % too high at 10 °C and
// 23.609 % at 15 °C with 1.91 % per °C (the usual table of factors).
func TestBackgroundMeter(t *testing.T) {
	for _, c := range []struct{ temperature, percent float64 }{{10, 40.154}, {15, 23.609}} {
		spec := plainBackground()
		spec.Meter = &app.BackgroundMeter{ReadingSPerM: 5, Compensated: "unknown", TemperatureC: c.temperature}
		d := ask(t, spec)
		numtest.Check(t, "too high", *d.Meter.TooHighPercent, c.percent, numtest.Tolerance{Abs: 1e-3})
		if d.Meter.SPerM != nil {
			t.Error("an unknown meter says what the water conducts")
		}
		spec.Meter.Compensated = "yes"
		d = ask(t, spec)
		numtest.Check(t, "water", *d.Meter.SPerM, 5/(1+c.percent/100), numtest.Tolerance{Rel: 1e-5})
		if !slices.ContainsFunc(d.Warnings, func(s string) bool { return strings.Contains(s, "The meter says") }) {
			t.Errorf("no word that the specification says otherwise: %v", d.Warnings)
		}
	}
}

func TestBackgroundFaults(t *testing.T) {
	spec := plainBackground()
	spec.Date = "2024-12-31"
	spec.Site.Latitude = new(91.0)
	spec.WaterSPerM = -1
	spec.Stream = &app.BackgroundStream{Table: []app.BackgroundStreamRow{{Time: "25:00"}, {Time: "07:00", SpeedMPerS: -1}, {Time: "06:00"}}, Slack: "03:00"}
	spec.HeightM = new(math.NaN())
	spec.Sources = []app.BackgroundSource{
		{Kind: "ufo", AtM: []float64{0}},
		{Kind: "couple", Metals: []string{"zinc", "gold"}, AreasCm2: []float64{-1, 1}, AtM: []float64{0, 0, 0}},
		{Kind: "dipole", AtM: []float64{0, 0, 0}, CurrentNA: new(1.0)},
		{Kind: "measured", AtM: []float64{0, 0, 0}, FieldNVPerCm: new(math.Inf(1)), DistanceM: new(0.0)},
		{Kind: "couple", Metals: []string{"zinc", "brass"}, RadiiCm: []float64{10, 10}, ApartM: new(0.1), AtM: []float64{0, 0, 0}},
	}
	spec.Meter = &app.BackgroundMeter{ReadingSPerM: 5, Compensated: "maybe", TemperatureC: 99}
	spec.Cable = &app.BackgroundCable{}
	_, err := app.NewStudies(app.StudiesOptions{}).Background(t.Context(), spec)
	var faults *app.KnobsError
	if !errors.As(err, &faults) {
		t.Fatalf("%v", err)
	}
	for _, place := range []string{
		"date", "site/latitude", "water_S_per_m", "stream", "height_m", "sources/0/kind", "sources/0/at_m", "sources/1/metals", "sources/1/areas_cm2/0",
		"sources/1/apart_m", "sources/2/moment_A_m", "sources/2/current_nA", "sources/3/field_nV_per_cm", "sources/3/distance_m", "sources/4/apart_m",
		"meter/compensated_to_25C", "meter/temperature_C", "cable/leak_to_water_Mohm", "cable/length_m", "cable/plate_end_at_m",
	} {
		if !slices.ContainsFunc(faults.Faults, func(f app.KnobFault) bool { return f.Place == "background/"+place && f.Wrong != "" && f.Expected != "" }) {
			t.Errorf("no fault at %s", place)
		}
	}
	if !strings.Contains(err.Error(), "2025-01-01 to 2030-01-01") {
		t.Errorf("the years of the model are not told: %v", err)
	}
	spec = plainBackground()
	spec.Stream = &app.BackgroundStream{Table: []app.BackgroundStreamRow{{Time: "07:00"}, {Time: "07:00"}, {Time: "7:30"}}}
	_, err = app.NewStudies(app.StudiesOptions{}).Background(t.Context(), spec)
	if !errors.As(err, &faults) || len(faults.Faults) != 2 {
		t.Errorf("%v", err)
	}
}

// Without a site there is no word of the Earth, and the rest is told.
func TestBackgroundWithoutSite(t *testing.T) {
	d := ask(t, app.BackgroundSpec{WaterSPerM: 4, Sources: []app.BackgroundSource{{Kind: "boat", AtM: []float64{9, 0, 3}}}})
	if d.Magnetic != nil || d.Motional != nil || len(d.Warnings) != 2 {
		t.Errorf("%+v", d)
	}
	if s := d.Sources[0]; s.OK != nil || s.NearestM != nil || !strings.HasPrefix(s.Verdict, "Keep it ") {
		t.Errorf("without pairs: %+v", s)
	}
}

// Whatever is asked, there is an answer that can be written down or a list of
// faults: sizes from the smallest number that there is to the largest.
func TestBackgroundOddSpecs(t *testing.T) {
	studies := app.NewStudies(app.StudiesOptions{})
	rapid.Check(t, func(t *rapid.T) {
		size := func(name string) *float64 {
			v := rapid.OneOf(rapid.Float64(), rapid.Float64Range(0, 2), rapid.SampledFrom([]float64{0, 5e-324, 1e-200, 1e308, math.Inf(1), math.NaN()})).Draw(t, name)
			return &v
		}
		place := func(name string) []float64 {
			return rapid.SliceOfN(rapid.SampledFrom([]float64{0, 0, 1, 5e-324, -1000, 1000, 1e-170}), 3, 3).Draw(t, name)
		}
		spec := plainBackground()
		spec.Site.DepthM = rapid.SampledFrom([]*float64{nil, new(2.0), new(1e-300), new(5e-324)}).Draw(t, "surface")
		spec.WaterSPerM = rapid.SampledFrom([]float64{5, 5, 5e-324}).Draw(t, "conductivity")
		spec.WaterSD = rapid.SampledFrom([]*float64{nil, new(1.0), new(4.9), new(0.0)}).Draw(t, "sd")
		switch rapid.IntRange(0, 7).Draw(t, "what") { // one odd thing at a time, so that most are answered
		case 0:
			spec.Stream = &app.BackgroundStream{FloodPeakMPerS: size("flood"), FloodBearing: size("bearing"), Slack: "03:00", PeriodH: size("period")}
		case 1:
			spec.Sources = []app.BackgroundSource{{Kind: "dipole", MomentAM: size("moment"), AtM: place("dipole")}}
		case 2:
			spec.Sources = []app.BackgroundSource{{Kind: "couple", Metals: []string{"zinc", "lead"}, AreasCm2: []float64{*size("a"), 1e-200}, ApartM: new(0.5), PaintedPercent: new(50.0), AtM: place("couple")}}
		case 3:
			spec.Sources = []app.BackgroundSource{{Kind: "measured", FieldNVPerCm: size("field"), DistanceM: size("distance"), AtM: place("measured")}}
		case 4:
			spec.Sources = []app.BackgroundSource{{Kind: "cable", CurrentNA: size("current"), LengthM: size("length"), AtM: place("cable")}}
		case 5:
			spec.Cable = &app.BackgroundCable{LeakMohm: 1, VoltageV: *size("voltage"), LengthM: *size("cable length"), PlateEndAtM: place("end")}
		case 6:
			spec.Meter = &app.BackgroundMeter{ReadingSPerM: *size("reading"), Compensated: "yes", TemperatureC: 10, PercentPerC: size("percent")}
		case 7:
			spec.Sources = []app.BackgroundSource{{Kind: "boat", AxisDeg: size("axis"), AtM: place("boat")}}
		}
		d, err := studies.Background(t.Context(), spec)
		var faults *app.KnobsError
		if errors.As(err, &faults) && len(faults.Faults) > 0 {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if _, err := json.Marshal(d); err != nil {
			t.Fatal(err)
		}
	})
}
