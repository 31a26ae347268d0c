package background_test

import (
	"math"
	"testing"

	"brinefield/core/background"
	"brinefield/core/numeric/numtest"
)

// Closed form: v times B where they are at right angles, 1 m/s in 50 µT is
// 500 nV/cm and so on (recomputed values of the project's reference list).
func TestMotionalValues(t *testing.T) {
	for _, c := range []struct{ speed, nT, want float64 }{
		{0.02, 50_000, 10}, {0.1, 50_000, 50}, {0.5, 50_000, 250}, {1, 50_000, 500}, {1, 25_000, 250},
	} {
		// Straight down, as at a magnetic pole: water to the north drives a field to
		// the west (v × B by the right hand).
		v := background.Flow{SpeedMPerS: c.speed}.Velocity()
		e := background.Motional(v, background.Vector{Down: c.nT})
		numtest.Check(t, "magnitude", e.Length(), c.want, numtest.Tolerance{Rel: 1e-12})
		numtest.Check(t, "east", e.East, -c.want, numtest.Tolerance{Rel: 1e-12})
	}
	// Water to the east in a level field to the north drives one upwards.
	e := background.Motional(background.Flow{SpeedMPerS: 1, BearingDeg: 90}.Velocity(), background.Vector{North: 30_000})
	numtest.Check(t, "down", e.Down, -300, numtest.Tolerance{Rel: 1e-12})
	numtest.Check(t, "level", math.Hypot(e.North, e.East), 0, numtest.Tolerance{Abs: 1e-12})
	// Nothing along either of its factors.
	v, b := background.Vector{North: 0.3, East: -0.2}, background.Vector{North: 18_000, East: -900, Down: 45_000}
	e = background.Motional(v, b)
	numtest.Check(t, "E·v", e.North*v.North+e.East*v.East, 0, numtest.Tolerance{Abs: 1e-10})
	numtest.Check(t, "E·B", e.North*b.North+e.East*b.East+e.Down*b.Down, 0, numtest.Tolerance{Abs: 1e-7})
}

// +x on the bearing 0 is north, +y then west, and z up: the season frame of
// CONTRACTS.md, worked by hand.
func TestInSeason(t *testing.T) {
	v := background.Vector{North: 1, East: 2, Down: 3}
	for _, c := range []struct {
		bearing float64
		want    [3]float64
	}{{0, [3]float64{1, -2, -3}}, {90, [3]float64{2, 1, -3}}, {180, [3]float64{-1, 2, -3}}} {
		if got := v.InSeason(c.bearing); got != c.want {
			t.Errorf("bearing %g: %v, want %v", c.bearing, got, c.want)
		}
	}
	// A flow along +x, whatever that is, has no y.
	got := background.Flow{SpeedMPerS: 2, BearingDeg: 37}.Velocity().InSeason(37)
	numtest.Check(t, "x", got[0], 2, numtest.Tolerance{Rel: 1e-12})
	numtest.Check(t, "y", got[1], 0, numtest.Tolerance{Abs: 1e-12})
}

// The bounds of swimming against a search over bearings.
func TestSwimming(t *testing.T) {
	b := background.Vector{North: 18_000, East: -900, Down: 45_000}
	most, least := 0.0, math.Inf(1)
	for bearing := 0.0; bearing < 360; bearing += 0.1 {
		e := background.Motional(background.Flow{SpeedMPerS: 0.5, BearingDeg: bearing}.Velocity(), b).Length()
		most, least = math.Max(most, e), math.Min(least, e)
	}
	largest, smallest := background.SwimmingNV(0.5, b)
	numtest.Check(t, "largest", most, largest, numtest.Tolerance{Rel: 1e-6})
	numtest.Check(t, "smallest", least, smallest, numtest.Tolerance{Rel: 1e-6})
}

// A sine: closed form at slack, peak and half way; the ebb the other way.
func TestTide(t *testing.T) {
	tide := background.Tide{FloodMPerS: 0.6, EbbMPerS: 0.4, FloodBearingDeg: 250, SlackHour: 3, PeriodHours: 12}
	for _, c := range []struct{ hour, speed, bearing float64 }{
		{3, 0, 250}, {6, 0.6, 250}, {4, 0.3, 250}, {9, 0, 250}, {12, 0.4, 70}, {15, 0, 250}, {18, 0.6, 250}, {0, 0.4, 70},
	} {
		f, ok := tide.At(c.hour)
		if !ok || f.BearingDeg != c.bearing {
			t.Errorf("%g h: %+v %v, want the bearing %g", c.hour, f, ok, c.bearing)
		}
		numtest.Check(t, "speed", f.SpeedMPerS, c.speed, numtest.Tolerance{Abs: 1e-12})
	}
	if got := tide.Peaks(); len(got) != 7 || got[0] != 0 || got[1] != 0 || got[2] != 6 || got[6] != 24 {
		t.Errorf("peaks %v", got)
	}
}

// An atlas runs straight in components: half way between two opposite flows the
// water stands, between two at right angles it is slower by √2.
func TestAtlas(t *testing.T) {
	a := background.Atlas{
		{Hour: 2, Flow: background.Flow{SpeedMPerS: 1, BearingDeg: 0}},
		{Hour: 4, Flow: background.Flow{SpeedMPerS: 1, BearingDeg: 90}},
		{Hour: 6, Flow: background.Flow{SpeedMPerS: 1, BearingDeg: 270}},
	}
	f, ok := a.At(3)
	if !ok {
		t.Fatal("not known at 3 h")
	}
	numtest.Check(t, "speed", f.SpeedMPerS, math.Sqrt2/2, numtest.Tolerance{Rel: 1e-12})
	numtest.Check(t, "bearing", f.BearingDeg, 45, numtest.Tolerance{Rel: 1e-12})
	f, _ = a.At(5)
	numtest.Check(t, "standing", f.SpeedMPerS, 0, numtest.Tolerance{Abs: 1e-12})
	for _, hour := range []float64{0, 1.99, 6.01, math.NaN()} {
		if _, ok := a.At(hour); ok {
			t.Errorf("known at %g h", hour)
		}
	}
	if _, ok := (background.Atlas{}).At(1); ok {
		t.Error("an empty atlas is known")
	}
}
