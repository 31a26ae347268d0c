package exposure

import (
	"math"
	"strings"
	"testing"

	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

// hundred asks for the contract's 1e-4.
var hundred = numtest.Tolerance{Rel: 1e-4}

func studyRange(w *world, lowCM, highCM float64) {
	w.s.Analysis.HeightLowM, w.s.Analysis.HeightHighM = study.Some(lowCM/100), study.Some(highCM/100)
}

// No turn: the smallest of the largest fields; over a pair on the bottom the
// field falls with height, so that the top of the range decides.
func TestUnknownHeightWithoutATurn(t *testing.T) {
	for _, c := range []struct {
		name, track string
		lowZ, highZ float64 // of the line that decides
	}{
		{"its own range", "0 -20 4 2~8, 1 20 4 2~8", 8, 8},
		{"a range that changes at the same fraction", "0 -20 4 2~8, 1 20 4 3~12", 8, 12},
		{"the study's range", "0 -20 4 ?, 1 20 4 ?", 9, 9},
		{"a known height stays", "0 -20 4 5, 1 20 4 2~8", 5, 8},
	} {
		w := newWorld(t)
		studyRange(w, 1, 9)
		w.swim(c.track)
		e := w.only()
		numtest.Check(t, c.name, e.Low, w.finely(-20, 4, c.lowZ, 20, 4, c.highZ), hundred)
		if e.DistanceM.Known || e.HeightM.Known || e.AngleDeg.Known || e.Textbook.Known || !e.HorizontalM.Known {
			t.Errorf("%s: a distance in three dimensions from an unknown height: %+v", c.name, e)
		}
	}
}

// A turn gets the smallest low and the largest high, each over all heights.
func TestUnknownHeightOfATurn(t *testing.T) {
	w := newWorld(t)
	track := strings.ReplaceAll(coming, " 5", " 2~8")
	w.swim(track, turned(0.5))
	e := w.only()
	numtest.Check(t, "low", e.Low, w.fieldOf(-30, 0, 8, 0), hundred)
	numtest.Check(t, "high", e.High, w.fieldOf(-20, 0, 2, 0), hundred)

	w = newWorld(t)
	w.swim(track, turnedSometime)
	numtest.Check(t, "high without onset", w.only().High, w.finely(-60, 0, 2, -10, 0, 2), hundred)
}

// A pair in mid-water: the field is largest at its height and falls above and
// below, so that the extremes are not at the ends, or at either end.
func TestFieldsAreNotMonotoneInHeight(t *testing.T) {
	for _, c := range []struct{ low, high, pairHeight, z float64 }{
		{2, 30, 10, 10}, // largest inside
		{9.7, 10.4, 10, 10},
		{0, 49, 11, 11},
	} {
		w := newWorld(t)
		w.s.Pairs[0].HeightM = c.pairHeight / 100
		studyRange(w, c.low, c.high)
		w.swim("0 -20 1 ?, 1 20 1.1 ?", turnedSometime)
		w.swim("0 -20 1 ?, 1 20 1.1 ?")
		e := w.compute()
		largest, smallest := 0.0, math.Inf(1)
		for k := range 2001 {
			z := c.low + (c.high-c.low)*float64(k)/2000
			f := 0.0
			for j := range 801 {
				s := float64(j) / 800
				f = max(f, w.fieldOf(-20+40*s, 1+0.1*s, z, 0))
			}
			largest, smallest = max(largest, f), min(smallest, f)
		}
		// The brute search is itself good to (0.025/0.7)²·6 ≈ 1e-3 at worst.
		if e[0].High < largest*(1-1e-4) || e[0].High > largest*(1+2e-3) {
			t.Errorf("heights %g–%g: largest high %g, looked for %g", c.low, c.high, e[0].High, largest)
		}
		if e[1].Low > smallest*(1+2e-3) || e[1].Low < smallest*(1-1e-4) {
			t.Errorf("heights %g–%g: smallest of the largest %g, looked for %g", c.low, c.high, e[1].Low, smallest)
		}
	}
}

func TestUnknownHeightWithoutARangeIsAFault(t *testing.T) {
	w := newWorld(t)
	w.swim("0 -20 4 5, 1 20 4 ?")
	e := w.only()
	if e.Known || e.Used || !strings.Contains(e.WhyNotUsed, "height_range_cm") {
		t.Errorf("%+v", e)
	}
}

// A range of heights that begins on an electrode: the largest high has no
// bound, the smallest of the largest fields has one.
func TestARangeOfHeightsDownToAnElectrode(t *testing.T) {
	w := newWorld(t)
	w.swim("0 -20 0 0~8, 1 20 0 0~8")
	w.swim("0 -20 0 0~8, 1 20 0 0~8", turnedSometime)
	e := w.compute()
	numtest.Check(t, "low", e[0].Low, w.finely(-20, 0, 8, 20, 0, 8), hundred)
	if e[1].Known || e[1].Used {
		t.Errorf("a high without bound: %+v", e[1])
	}
}

// The search over heights against looking everywhere, on functions with kinks
// and several minima.
func TestSearchOverHeights(t *testing.T) {
	for _, c := range []struct {
		name string
		f    func(u float64) float64
	}{
		{"rising", func(u float64) float64 { return 1 + u }},
		{"falling", func(u float64) float64 { return 2 - u }},
		{"level", func(float64) float64 { return 3 }},
		{"a kink beside the end", func(u float64) float64 { return 1 + math.Abs(u-0.031) + u*u }},
		{"a kink inside", func(u float64) float64 { return 1 + math.Max(0.7-u, 2*(u-0.2)) }},
		{"a kink beside the other end", func(u float64) float64 { return 1 + 3*math.Abs(u-0.97) }},
		{"two bottoms", func(u float64) float64 { return 1.2 + math.Cos(12*u) + 0.1*u }},
		{"the lower of two is not at the lowest sample", func(u float64) float64 {
			return math.Min(1.1+3*math.Abs(u-0.25), 1+2*math.Abs(u-0.56))
		}},
		{"no bound at one end", func(u float64) float64 { return 1 / u }},
		{"negative", func(u float64) float64 { return -1 / (0.02 + (u-0.4)*(u-0.4)) }},
	} {
		_, got := overHeights(c.f, 8)
		want := math.Inf(1)
		for k := range 200001 {
			want = min(want, c.f(float64(k)/200000))
		}
		numtest.Check(t, c.name, got, want, numtest.Tolerance{Rel: 1e-4})
	}
}

func TestSeveralPointsOfTheHead(t *testing.T) {
	build := func(fieldAt string) *world {
		w := newWorld(t)
		w.s.Analysis.FieldAt = fieldAt
		w.swim("0 -30 4 5, 0.2 -20 4 5, 0.4 -10 4 5, 0.6 -5 4 5")
		w.point("snout", "0 -26 4 3, 0.2 -16 4 3, 0.4 -6 4 3") // nearer, not seen in the last row
		return w
	}
	w := build("largest")
	e := w.only()
	numtest.Check(t, "largest over the points", e.Low, w.finely(-26, 4, 3, -6, 4, 3), tight)
	numtest.Check(t, "height is the point's", e.HeightM.Value, 0.03, tight)
	w = build("")
	numtest.Check(t, "largest is the default", w.only().Low, w.finely(-26, 4, 3, -6, 4, 3), tight)
	w = build("snout")
	numtest.Check(t, "the named point", w.only().Low, w.finely(-26, 4, 3, -6, 4, 3), tight)
	w = build("pore")
	if e := w.only(); e.Known || !strings.Contains(e.WhyNotUsed, `"pore"`) {
		t.Errorf("a point that the track does not have: %+v", e)
	}
}

// A point counts from its first to its last row only, and the last earlier row
// is that of any point that counts.
func TestPointsWithTimesOfTheirOwn(t *testing.T) {
	w := newWorld(t)
	w.s.Analysis.ReactionTimeS = study.Some(0.0)
	w.swim("0 -40 4 5, 1 -30 4 5, 2 -20 4 5", turned(2))
	w.point("snout", "1.5 -10 4 5, 1.8 -12 4 5, 2.5 -9 4 5")
	e := w.only()
	if e.OnsetBeforeS != study.Some(1.8) {
		t.Errorf("t0 = %v, want 1.8", e.OnsetBeforeS)
	}
	numtest.Check(t, "low", e.Low, w.fieldOf(-10, 4, 5, 0), tight)             // up to 1.8 the snout at 1.5
	numtest.Check(t, "high", e.High, w.fieldOf(-12+3*0.2/0.7, 4, 5, 0), tight) // in [1.8, 2] the snout at 2
	numtest.Check(t, "place", e.HorizontalM.Value, math.Hypot(0.12-0.03*0.2/0.7, 0.04), tight)
}

// Between the rows of two points that do not overlap nothing was seen: the
// last position seen stands for the head.
func TestAGapBetweenPoints(t *testing.T) {
	w := newWorld(t)
	w.s.Analysis.ReactionTimeS = study.Some(0.5)
	w.swim("0 -40 4 5, 1 -30 4 5", turned(2))
	w.point("snout", "2 -10 4 5, 3 -12 4 5")
	e := w.only() // t0 = 1: low up to 0.5, high in [0.5, 1.5], where only the first point was seen
	numtest.Check(t, "low", e.Low, w.fieldOf(-35, 4, 5, 0), tight)
	numtest.Check(t, "high", e.High, w.fieldOf(-30, 4, 5, 0), tight)
	numtest.Check(t, "place", e.HorizontalM.Value, math.Hypot(0.3, 0.04), tight)
}
