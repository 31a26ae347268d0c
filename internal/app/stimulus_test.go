package app_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"brinefield/core/conduction"
	"brinefield/core/numeric/numtest"
	"brinefield/internal/app"
)

func closeTo(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	numtest.Check(t, what, got, want, numtest.Tolerance{Rel: relative})
}

// digits is what rounding to six digits may change.
const digits = 6e-6

func newStimulus() *app.Stimulus { return app.NewStimulus(nil) }

func asked(k app.StimulusKnobs, form string) app.StimulusAsk {
	return app.StimulusAsk{Knobs: k, Form: form}
}

// fieldsAt are |E| at places in nV/cm.
func fieldsAt(t *testing.T, s *app.Stimulus, k app.StimulusKnobs, form string, places ...[]float64) []float64 {
	t.Helper()
	got, err := s.Points(t.Context(), app.PointsRequest{StimulusAsk: asked(k, form), PointsM: places})
	if err != nil {
		t.Fatal(err)
	}
	out := make([]float64, len(places))
	for i, p := range got.Points {
		if p.MagnitudeNVPerCm == nil {
			t.Fatalf("%s: no field at %v (%s)", form, places[i], p.Inside)
		}
		out[i] = *p.MagnitudeNVPerCm
	}
	return out
}

// openWater is a pair of points in water without end.
func openWater() app.StimulusKnobs {
	k := benchKnobs(false)
	k.DepthM, k.Bottom.ConductivitySPerM = nil, k.Water.ConductivitySPerM
	k.Pairs[0].ElectrodeDiameterM = 0
	return k
}

var places = [][]float64{{0.1, 0, 0.05}, {0, 0.2, 0.1}, {0.3, -0.2, 0.02}}

// twoPoints is |E| of two point sources in open water, I/(4πσr²) each, in nV/cm:
// the closed form that every form is compared with.
func twoPoints(p []float64, currentA, sigma, d float64) float64 {
	var e [3]float64
	for _, sign := range []float64{1, -1} {
		r := []float64{p[0] - sign*d/2, p[1], p[2]}
		n := math.Sqrt(r[0]*r[0] + r[1]*r[1] + r[2]*r[2])
		for i := range e {
			e[i] += sign * currentA / (4 * math.Pi * sigma) * r[i] / (n * n * n)
		}
	}
	return math.Sqrt(e[0]*e[0]+e[1]*e[1]+e[2]*e[2]) * 1e7
}

func TestStimulusFormsAgainstClosedForms(t *testing.T) {
	s, k := newStimulus(), openWater()
	open, endless, textbook := fieldsAt(t, s, k, "no_plate", places...), fieldsAt(t, s, k, "endless_plate", places...), fieldsAt(t, s, k, "textbook", places...)
	actual := fieldsAt(t, s, k, "real", places...)
	for i, p := range places {
		want := twoPoints(p, 6e-6, 4, 0.01)
		closeTo(t, fmt.Sprintf("open water at %v", p), open[i], want, digits)
		closeTo(t, fmt.Sprintf("real without a plate at %v", p), actual[i], want, digits)
		closeTo(t, fmt.Sprintf("over an insulator without end at %v", p), endless[i], 2*want, digits) // the image
		r := math.Sqrt(p[0]*p[0] + p[1]*p[1] + p[2]*p[2])
		closeTo(t, fmt.Sprintf("textbook at %v", p), textbook[i]+1, 1+6e-6*0.01*math.Abs(p[0]/r)/(math.Pi*4*r*r*r)*1e7, digits)
	}
}

// The season frame: the engine itself, asked in its own frame, must say the
// same, and sand over a plate is a plate that is buried by it.
func TestStimulusSeasonFrame(t *testing.T) {
	long(t)
	for _, c := range []struct {
		name      string
		top, sand float64
	}{{"flush", 0, 0}, {"proud", 0.03, 0}, {"buried", -0.02, 0}, {"under sand", 0.03, 20}} {
		k := benchKnobs(true)
		k.TopAboveBottomM, k.SandOverPlateMM = c.top, c.sand
		top, depth := c.top, 8.0
		if c.sand > 0 {
			top, depth = -c.sand/1000, depth-c.top-c.sand/1000
		}
		solved, err := conduction.SolveOnPlates(
			conduction.Medium{WaterSPerM: 4, DepthM: depth, Layers: []conduction.Layer{{ThicknessM: math.Inf(1), SPerM: 1}}},
			[]conduction.Plate{{SizeXM: 0.6, SizeYM: 0.6, ThicknessM: 0.01, TopM: top}},
			conduction.Pair{Centre: conduction.Point{Z: top}, SeparationM: 0.01, DiameterM: 0.002}.Electrodes(6e-6),
			conduction.PlateOptions{RelativeTolerance: 0.01},
		)
		if err != nil {
			t.Fatal(err)
		}
		got := fieldsAt(t, newStimulus(), k, "real", places...)
		for i, p := range places {
			want, err := solved.FieldAt(conduction.Point{X: p[0], Y: p[1], Z: p[2] + top})
			if err != nil {
				t.Fatal(err)
			}
			closeTo(t, fmt.Sprintf("%s at %v", c.name, p), got[i], want.Norm()*1e7, digits)
		}
	}
}

// An endless plate stands for a large one: 3 m of it under sand, as far as
// 0.2 m from a pair in its middle. The edge at 1.5 m adds a share of about
// (0.2/1.5)³.
func TestEndlessPlateIsALargePlate(t *testing.T) {
	long(t)
	k := benchKnobs(true)
	k.Plates[0].SizeM = []float64{3, 3}
	for _, sand := range []float64{0, 15} {
		k.SandOverPlateMM = sand
		large, endless := fieldsAt(t, newStimulus(), k, "real", places[:2]...), fieldsAt(t, newStimulus(), k, "endless_plate", places[:2]...)
		for i := range large {
			closeTo(t, fmt.Sprintf("%g mm of sand, at %v", sand, places[i]), endless[i], large[i], 0.015)
		}
	}
}

func TestStimulusSection(t *testing.T) {
	k := benchKnobs(true)
	s := newStimulus()
	in := app.SectionRequest{StimulusAsk: asked(k, "real"), Section: app.SectionPlane{
		Plane: "vertical", AzimuthDeg: 90, OffsetM: 0.1, HalfWidthM: 0.5, LowestM: -0.1, HighestM: 0.3, Columns: 21, Rows: 41,
	}}
	got, err := s.Section(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	if got.Columns != 21 || got.Rows != 41 || len(got.UM) != 21 || len(got.VM) != 41 || len(got.Magnitude) != 21*41 || !got.Reached || got.RelativeError == nil || *got.RelativeError > 0.01 {
		t.Fatalf("%d by %d, %d numbers, %+v", got.Columns, got.Rows, len(got.Magnitude), got.StimulusQuality)
	}
	var asks [][]float64
	var drawn []float64
	for r, v := range got.VM {
		for c, u := range got.UM {
			m := got.Magnitude[r*21+c]
			if math.Abs(math.Abs(u)-0.3) < 1e-9 {
				continue // the plate's edge, where the field has no bound
			}
			if inside := v > -0.01+1e-9 && v < -1e-9 && math.Abs(u) < 0.3; math.IsNaN(m) != inside {
				t.Errorf("at u = %g, v = %g: %g; want nothing inside the plate alone", u, v, m)
			} else if !inside && (r*21+c)%37 == 0 {
				// Left of a line along y is −x.
				asks, drawn = append(asks, []float64{-0.1, u, v}), append(drawn, m)
			}
		}
	}
	for i, m := range fieldsAt(t, s, k, "real", asks...) {
		closeTo(t, fmt.Sprintf("picture and point at %v", asks[i]), drawn[i], m, digits)
	}
	in.Section = app.SectionPlane{Plane: "horizontal", HeightM: 0.05, HalfWidthM: 0.4, LowestM: -0.2, HighestM: 0.2, Columns: 5, Rows: 3}
	flat, err := s.Section(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	want := fieldsAt(t, s, k, "real", []float64{-0.4, -0.2, 0.05}, []float64{0.2, 0, 0.05})
	closeTo(t, "the first number of a horizontal picture", flat.Magnitude[0], want[0], digits)
	closeTo(t, "column 4 of row 2", flat.Magnitude[1*5+3], want[1], digits)
}

// A picture of layers is drawn from a table: it must be the field all the same.
func TestSectionOfLayersIsTheField(t *testing.T) {
	k := benchKnobs(false)
	k.DepthM, k.Bottom.ThicknessM, k.Bottom.BasementSPerM = number(1.5), number(0.4), number(0.1)
	s := newStimulus()
	got, err := s.Section(t.Context(), app.SectionRequest{StimulusAsk: asked(k, "no_plate"), Section: benchSection()})
	if err != nil {
		t.Fatal(err)
	}
	for i := 777; i < len(got.Magnitude); i += 2500 {
		p := []float64{got.UM[i%200], 0, got.VM[i/200]}
		closeTo(t, fmt.Sprintf("at %v", p), got.Magnitude[i], fieldsAt(t, s, k, "no_plate", p)[0], digits+1e-6) // with the table's error
	}
}

func TestStimulusSolvesOnce(t *testing.T) {
	s, k := newStimulus(), benchKnobs(true)
	ask := func(k app.StimulusKnobs) {
		t.Helper()
		in := app.SectionRequest{StimulusAsk: asked(k, "real"), Section: app.SectionPlane{Plane: "vertical", HalfWidthM: 0.5, HighestM: 0.3, Columns: 3, Rows: 3}}
		if _, err := s.Section(t.Context(), in); err != nil {
			t.Error(err)
		}
	}
	var wait sync.WaitGroup
	for i := range 4 {
		wait.Go(func() {
			turned := benchKnobs(true)
			turned.CurrentUA = float64(i + 1)
			ask(turned)
		})
	}
	wait.Wait()
	k.Pairs[0].Share = -3 // reversed and threefold: the same but for the current
	ask(k)
	if n := s.Solved(); n != 2 {
		t.Errorf("solved %d times; want 2: one for four currents at once, one for the reversed pair", n)
	}
	k.Pairs[0].Share = -1
	ask(k)
	if n := s.Solved(); n != 2 {
		t.Errorf("solved %d times; want 2: a share of all is a factor", n)
	}
	for i := range 8 { // as many other settings as are kept
		k.Water.ConductivitySPerM = number(4.1 + float64(i)/10)
		ask(k)
	}
	ask(benchKnobs(true))
	if n := s.Solved(); n != 11 {
		t.Errorf("solved %d times; want 11: the first setting was let go of", n)
	}
}

// Who goes away stops the work, unless somebody else waits for the same.
func TestStimulusStops(t *testing.T) {
	k := benchKnobs(true)
	k.Plates = append(k.Plates, k.Plates[0], k.Plates[0], k.Plates[0]) // seconds of work
	for i := range k.Plates {
		k.Plates[i].CentreM = []float64{0.7 * float64(i), 0}
	}
	s := newStimulus()
	ctx, cancel := context.WithCancel(t.Context())
	in := app.PointsRequest{StimulusAsk: app.StimulusAsk{Knobs: k, Form: "real", Tolerance: 1e-4}, PointsM: places}
	done := make(chan error)
	go func() { _, err := s.Points(ctx, in); done <- err }()
	time.Sleep(20 * time.Millisecond)
	cancel()
	if err := <-done; !errors.Is(err, context.Canceled) {
		t.Errorf("%v; want that it was cancelled", err)
	}
	for range 1000 {
		if s.Working() == 0 {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Error("the work goes on although nobody waits for it")
}

func TestStimulusFaultsAllAtOnce(t *testing.T) {
	k := benchKnobs(true)
	k.Water = app.KnobWater{TemperatureC: number(99), Salinity: number(-3)}
	k.Bottom.Kind = "mud"
	k.Plates[0].SizeM = []float64{0.6}
	k.Pairs[0].SeparationM, k.Pairs[0].Share = 0, 0
	k.ElectrodeShape = "needle"
	k.Waveform = app.KnobWaveform{Kind: "pulses", FrequencyHz: number(0)}
	k.Bodies = []app.KnobBody{{Shape: "spheroid", CentreM: []float64{0, 0, 1}, SizeM: []float64{1, 0.2, 0.3}}}
	in := app.SectionRequest{StimulusAsk: asked(k, "unreal"), Section: app.SectionPlane{Plane: "slanted", Columns: 1, Rows: 100000}}
	_, err := newStimulus().Section(t.Context(), in)
	var faults *app.KnobsError
	if !errors.As(err, &faults) {
		t.Fatalf("%v; want faults with their places", err)
	}
	var got []string
	for _, f := range faults.Faults {
		got = append(got, f.Place)
		if f.Wrong == "" || f.Expected == "" {
			t.Errorf("%+v says too little", f)
		}
	}
	for _, want := range []string{
		"form", "section/plane", "section/half_width_m", "section/highest_m", "section/columns", "section/rows",
		"knobs/water/salinity", "knobs/water/temperature_C", "knobs/bottom/kind", "knobs/plates/0/size_m", "knobs/pairs",
		"knobs/pairs/0/separation_m", "knobs/electrode_shape", "knobs/waveform/frequency_Hz", "knobs/waveform/duty", "knobs/bodies/0/size_m",
	} {
		if !slices.Contains(got, want) {
			t.Errorf("no fault at %s; found %v", want, got)
		}
	}
	// What takes the whole scene to see comes from the engine, with a place.
	k = benchKnobs(true)
	k.Pairs[0].CentreM = []float64{0.3, 0}
	if _, err := newStimulus().Points(t.Context(), app.PointsRequest{StimulusAsk: asked(k, "real"), PointsM: places}); !errors.As(err, &faults) || faults.Faults[0].Place != "knobs/pairs" {
		t.Errorf("a pair over a plate's edge: %v", err)
	}
}

func TestStimulusSaysNullWhereThereIsNoField(t *testing.T) {
	k := benchKnobs(true)
	in := app.PointsRequest{StimulusAsk: asked(k, "real"), PointsM: [][]float64{{0.1, 0, -0.005}, {0.005, 0, 0}, {0, 0, 9}, {0, 0, 0.1}}}
	got, err := newStimulus().Points(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"plate", "electrode", "outside", ""} {
		p := got.Points[i]
		if p.Inside != want || (p.MagnitudeNVPerCm == nil) != (want != "") || (p.PotentialV == nil) != (want != "") {
			t.Errorf("at %v: %+v; want it inside %q", in.PointsM[i], p, want)
		}
	}
	text, err := json.Marshal(got)
	if err != nil || !strings.Contains(string(text), `"E_nV_per_cm":[null,null,null]`) {
		t.Errorf("%v: %s", err, text)
	}
	closeTo(t, "distance", *got.Points[3].DistanceCm, 10, 1e-6)
	closeTo(t, "angle", *got.Points[3].AngleDeg, 90, 1e-6)
}

func TestFiguresHaveSixDigitsAndNoNaN(t *testing.T) {
	text, err := json.Marshal(app.Figures{0, math.Copysign(0, -1), 1.0 / 3, math.NaN(), math.Inf(1), -1234567.8, 1e-300, 1e21})
	if want := `[0,0,0.333333,null,null,-1.23457e+06,1e-300,1e+21]`; err != nil || string(text) != want {
		t.Errorf("%s, %v; want %s", text, err, want)
	}
}

func TestStimulusVolume(t *testing.T) {
	s, k := newStimulus(), benchKnobs(false)
	k.Pairs[0].CentreM = []float64{0.2, 0.1}
	got, err := s.Volume(t.Context(), app.VolumeRequest{StimulusAsk: asked(k, "no_plate"), HalfWidthM: 0.3, HighestM: 0.4, Points: []int{4, 3, 5}})
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Magnitude) != 60 || got.XM[0] != -0.1 && math.Abs(got.XM[0]+0.1) > 1e-12 {
		t.Fatalf("%d numbers, x from %g", len(got.Magnitude), got.XM[0])
	}
	x, y, z := 3, 2, 4
	closeTo(t, "the last number", got.Magnitude[x+4*(y+3*z)], fieldsAt(t, s, k, "no_plate", []float64{got.XM[x], got.YM[y], got.ZM[z]})[0], digits)
	x, y, z = 1, 0, 2
	closeTo(t, "one in the middle", got.Magnitude[x+4*(y+3*z)], fieldsAt(t, s, k, "no_plate", []float64{got.XM[x], got.YM[y], got.ZM[z]})[0], digits)
}
