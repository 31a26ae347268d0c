package exposure

import (
	"strings"
	"testing"

	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

// Fields in these tests come from the closed form of two points on an
// insulating half-space (REFERENCES §1.3); 1e-6 is asked where the contract
// asks for 1e-4.
var tight = numtest.Tolerance{Rel: 1e-6}

// A head that comes straight at pair A along x at 5 cm height, 10 cm a tenth
// of a second; the field rises all the way to x = 0.
const coming = "0 -60 0 5, 0.1 -50 0 5, 0.2 -40 0 5, 0.3 -30 0 5, 0.4 -20 0 5, 0.5 -10 0 5"

func TestIntervalOfATurn(t *testing.T) {
	w := newWorld(t)
	w.swim(coming, turned(0.5)) // t0 = 0.4, δ = 0.1: low up to 0.3, high in [0.3, 0.4]
	e := w.only()
	numtest.Check(t, "low", e.Low, w.fieldOf(-30, 0, 5, 0), tight)
	numtest.Check(t, "high", e.High, w.fieldOf(-20, 0, 5, 0), tight)
	if !e.Known || !e.HighKnown || e.FallingField || !e.Used {
		t.Errorf("known %v, high known %v, falling %v, used %v", e.Known, e.HighKnown, e.FallingField, e.Used)
	}
	if e.OnsetBeforeS != study.Some(0.4) || e.OnsetS != study.Some(0.5) {
		t.Errorf("onset in (%v, %v], want (0.4, 0.5]", e.OnsetBeforeS, e.OnsetS)
	}
	numtest.Check(t, "distance at t1 − δ", e.DistanceM.Value, 0.20615528128088303, tight) // √(20² + 5²) cm
	numtest.Check(t, "horizontal", e.HorizontalM.Value, 0.2, tight)
	numtest.Check(t, "height", e.HeightM.Value, 0.05, tight)
	numtest.Check(t, "angle", e.AngleDeg.Value, 165.96375653207352, tight) // 180° − atan(5/20)
}

// An onset between rows: t0 is the row before it, and the ends of the interval
// lie on the lines.
func TestOnsetBetweenRows(t *testing.T) {
	w := newWorld(t)
	w.swim(coming, turned(0.45)) // t0 = 0.4: low up to 0.3, high up to 0.35
	e := w.only()
	numtest.Check(t, "low", e.Low, w.fieldOf(-30, 0, 5, 0), tight)
	numtest.Check(t, "high", e.High, w.fieldOf(-25, 0, 5, 0), tight)
}

// Times are compared to 1e-9 s: a row that is meant to be the onset is not an
// earlier row.
func TestTimesAreComparedToANanosecond(t *testing.T) {
	for _, onset := range []float64{0.4, 0.4 + 4e-10, 0.4 - 4e-10} {
		w := newWorld(t)
		w.swim(coming, turned(onset))
		if e := w.only(); e.OnsetBeforeS != study.Some(0.3) {
			t.Errorf("onset %.12g: t0 = %v, want 0.3", onset, e.OnsetBeforeS)
		}
	}
	w := newWorld(t)
	w.swim(coming, turned(0.4+3e-9))
	if e := w.only(); e.OnsetBeforeS != study.Some(0.4) {
		t.Errorf("t0 = %v, want 0.4", e.OnsetBeforeS)
	}
}

func TestNoEarlierRow(t *testing.T) {
	w := newWorld(t)
	w.swim("0.3 -30 0 5, 0.4 -20 0 5", turned(0.3))
	e := w.only()
	if e.OnsetBeforeS != study.Some(0.0) || e.Low != 0 {
		t.Errorf("t0 = %v, low = %g; want 0 and 0", e.OnsetBeforeS, e.Low)
	}
	// Times before the first row count as the first row.
	numtest.Check(t, "high", e.High, w.fieldOf(-30, 0, 5, 0), tight)
}

func TestLowIsZeroBeforeTheFirstRow(t *testing.T) {
	for _, c := range []struct {
		name    string
		onset   float64
		wantLow bool
	}{
		{"t0 − δ before the first row", 0.1, false}, // t0 = 0, t0 − δ = −0.1
		{"t0 − δ is the first row", 0.2, true},      // t0 = 0.1
	} {
		w := newWorld(t)
		w.swim(coming, turned(c.onset))
		e := w.only()
		want := 0.0
		if c.wantLow {
			want = w.fieldOf(-60, 0, 5, 0)
		}
		numtest.Check(t, c.name, e.Low, want, tight)
	}
}

func TestTimesBeforeTheFirstRowCountAsTheFirstRow(t *testing.T) {
	w := newWorld(t)
	w.s.Analysis.ReactionTimeS = study.Some(0.5)
	w.swim(coming, turned(0.2)) // both ends of the interval before 0
	e := w.only()
	numtest.Check(t, "high", e.High, w.fieldOf(-60, 0, 5, 0), tight)
	numtest.Check(t, "distance", e.HorizontalM.Value, 0.6, tight)
}

// A head that passes over the pair: the field falls after t = 0.3.
const passing = "0 -30 4 5, 0.1 -20 4 5, 0.2 -10 4 5, 0.3 0 4 5, 0.4 10 4 5, 0.5 20 4 5, 0.6 30 4 5, 0.7 40 4 5"

func TestFallingField(t *testing.T) {
	w := newWorld(t)
	w.swim(passing, turned(0.7)) // low up to 0.5, high in [0.5, 0.6]
	e := w.only()
	if !e.FallingField || !e.Used {
		t.Errorf("falling %v, used %v; want both", e.FallingField, e.Used)
	}
	numtest.Check(t, "low", e.Low, w.finely(-30, 4, 5, 40, 4, 5), tight)
	numtest.Check(t, "high", e.High, w.fieldOf(20, 4, 5, 0), tight)
}

// Both ends belong to the interval: with the largest field exactly at t0 − δ
// it counts in both bounds, high = low, and the field is falling.
func TestBothEndsAreIncluded(t *testing.T) {
	w := newWorld(t)
	w.swim("0 0 -40 5, 0.1 0 -20 5, 0.2 0 0 5, 0.3 0 20 5, 0.4 0 40 5", turned(0.4)) // t0 − δ = 0.2
	e := w.only()
	want := w.fieldOf(0, 0, 5, 0)
	numtest.Check(t, "low", e.Low, want, tight)
	numtest.Check(t, "high", e.High, want, tight)
	if e.High != e.Low || !e.FallingField {
		t.Errorf("high − low = %g, falling %v", e.High-e.Low, e.FallingField)
	}
}

// The largest field lies between rows: over the pair, where there is no row.
func TestLargestFieldIsSoughtBetweenRows(t *testing.T) {
	for _, c := range []struct{ name, track string }{
		{"one long line", "0 -300 4 5, 9 300 4 5"},
		{"along the axis at 1 cm, two tops", "0 -300 0 1, 9 300 0 1"},
		{"across the axis", "0 0.2 -77 3, 9 0.2 300 3"},
		{"a thousand times the distance", "0 -1000 0.3 1, 9 1100 0.4 1"},
		{"the top just inside a bend", "0 -40 30 5, 1 0.1 4 5, 2 -40 -20 5"},
	} {
		w := newWorld(t)
		w.swim(c.track)
		e := w.only()
		f := w.fixes(c.track)
		want := 0.0
		for i := range len(f) - 1 {
			a, b := f[i], f[i+1]
			want = max(want, w.finely(a.XM*100, a.YM*100, a.HeightM.Value*100, b.XM*100, b.YM*100, b.HeightM.Value*100))
		}
		numtest.Check(t, c.name, e.Low, want, numtest.Tolerance{Rel: 1e-5})
	}
}

func TestNoTurn(t *testing.T) {
	w := newWorld(t)
	w.swim(passing)
	e := w.only()
	numtest.Check(t, "low", e.Low, w.finely(-30, 4, 5, 40, 4, 5), tight)
	if e.HighKnown || e.High != 0 || e.OnsetS.Known || e.OnsetBeforeS.Known || e.FallingField {
		t.Errorf("a pass without a turn has %+v", e)
	}
	if e.HorizontalM.Value < 0.0399 || e.HorizontalM.Value > 0.043 {
		t.Errorf("horizontal distance at the largest field %g m", e.HorizontalM.Value)
	}
}

func TestTurnWithoutOnset(t *testing.T) {
	w := newWorld(t)
	w.swim(passing, turnedSometime)
	e := w.only()
	if e.Low != 0 || !e.HighKnown || e.OnsetS.Known || e.FallingField {
		t.Errorf("a turn without onset has %+v", e)
	}
	numtest.Check(t, "high", e.High, w.finely(-30, 4, 5, 40, 4, 5), tight)
}

func TestABiteCountsAsATurnWithoutOnset(t *testing.T) {
	for _, turned := range []study.Answer{study.No, study.NotScored} {
		w := newWorld(t)
		w.swim(passing, func(p *study.Pass) { p.Turned, p.Bit = turned, study.Yes })
		e := w.only()
		if !e.Used || e.Low != 0 || !e.HighKnown || e.High <= 0 || e.OnsetS.Known {
			t.Errorf("turned = %v, bit = yes: %+v", turned, e)
		}
	}
}

func TestReactionTimeMissing(t *testing.T) {
	w := newWorld(t)
	w.s.Analysis.ReactionTimeS = study.Opt[float64]{}
	w.swim(coming, turned(0.5))
	e := w.only()
	numtest.Check(t, "low", e.Low, w.fieldOf(-20, 0, 5, 0), tight)
	numtest.Check(t, "high", e.High, w.fieldOf(-10, 0, 5, 0), tight)
	if !strings.Contains(w.warnings(), "reaction_time_s") {
		t.Errorf("warnings: %q", w.warnings())
	}
}

func TestReactionTimeOverridden(t *testing.T) {
	w := newWorld(t)
	w.swim(coming, turned(0.5))
	out, warnings, err := Compute(w.s, w.fields(), Options{ReactionTimeS: study.Some(0.0)})
	if err != nil || len(warnings) > 0 {
		t.Fatal(err, warnings)
	}
	numtest.Check(t, "high", out[0].High, w.fieldOf(-10, 0, 5, 0), tight)
	if _, _, err := Compute(w.s, w.fields(), Options{ReactionTimeS: study.Some(-0.1)}); err == nil {
		t.Error("a negative reaction time was taken")
	}
}

func TestOnlyOneRow(t *testing.T) {
	w := newWorld(t)
	w.swim("0.2 -10 0 5")
	w.swim("0.2 -10 0 5", turned(0.2))
	e := w.compute()
	numtest.Check(t, "low without a turn", e[0].Low, w.fieldOf(-10, 0, 5, 0), tight)
	numtest.Check(t, "high of a turn", e[1].High, w.fieldOf(-10, 0, 5, 0), tight)
}
