package exposure

import (
	"math"
	"strings"
	"testing"

	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

func fix(distanceCM, angleDeg, heightCM float64) study.OldFix {
	f := study.OldFix{DistanceM: study.Some(distanceCM / 100)}
	if !math.IsNaN(angleDeg) {
		f.AngleDeg = study.Some(angleDeg)
	}
	if !math.IsNaN(heightCM) {
		f.HeightM = study.Some(heightCM / 100)
	}
	return f
}

func onsetAt(f study.OldFix) func(*study.Pass) { return func(p *study.Pass) { p.Onset = f } }

func closestAt(f study.OldFix) func(*study.Pass) { return func(p *study.Pass) { p.Closest = f } }

var unknown = math.NaN()

// dipole is the two-pole field on the plane's axis system of §1.3: exact, from
// distance and angle alone.
func twoPole(r, deg float64) float64 {
	w := &world{s: newWorld(nil).s}
	sin, cos := math.Sincos(deg * math.Pi / 180)
	return w.fieldOf(100*r*cos, 100*r*sin, 0, 0)
}

func TestOldTurn(t *testing.T) {
	w := newWorld(t)
	w.swim("", turnedSometime, onsetAt(fix(12, 37, 5)), closestAt(fix(3, 0, 1)))
	e := w.only()
	if !e.Used || !e.Known || !e.HighKnown || e.Low != 0 || e.Exact {
		t.Errorf("%+v", e)
	}
	numtest.Check(t, "high", e.High, twoPole(0.12, 37), tight)
	numtest.Check(t, "phantom high", e.PhantomHigh, twoPole(0.12, 37), tight)
	numtest.Check(t, "distance", e.DistanceM.Value, 0.12, tight)
	numtest.Check(t, "horizontal", e.HorizontalM.Value, math.Sqrt(0.12*0.12-0.05*0.05), tight)
	numtest.Check(t, "angle", e.AngleDeg.Value, 37, tight)
	numtest.Check(t, "textbook", e.Textbook.Value, 6e-6*0.01*math.Cos(37*math.Pi/180)/(worldSigma*math.Pi*math.Pow(0.12, 3)), tight)
}

func TestOldPassWithoutATurn(t *testing.T) {
	w := newWorld(t)
	w.swim("", onsetAt(fix(3, 0, 1)), closestAt(fix(12, 120, 5)))
	e := w.only()
	numtest.Check(t, "low", e.Low, twoPole(0.12, 120), tight)
	if !e.Used || e.HighKnown {
		t.Errorf("%+v", e)
	}
}

func TestOldTurnTakenAsExact(t *testing.T) {
	w := newWorld(t)
	w.swim("", turnedSometime, onsetAt(fix(12, 37, 5)))
	w.swim("", closestAt(fix(12, 37, 5)))
	out, warnings, err := Compute(w.s, w.fields(), Options{TreatOldAsExact: true})
	if err != nil {
		t.Fatal(err)
	}
	if e := out[0]; !e.Exact || e.Low != e.High || e.PhantomLow != e.PhantomHigh {
		t.Errorf("%+v", e)
	}
	numtest.Check(t, "exact", out[0].Low, twoPole(0.12, 37), tight)
	if out[1].Exact || out[1].HighKnown {
		t.Errorf("no turn: %+v", out[1])
	}
	if !strings.Contains(strings.Join(warnings, " "), "assumption") {
		t.Errorf("not labelled: %q", warnings)
	}
}

func TestNeitherTrackNorDistance(t *testing.T) {
	w := newWorld(t)
	w.swim("")
	w.swim("", turnedSometime)
	w.swim("", turnedSometime, closestAt(fix(12, 37, 5)))
	w.swim("", onsetAt(fix(12, 37, 5)))
	for i, e := range w.compute() {
		if e.Known || e.Used || e.DistanceM.Known || !strings.Contains(e.WhyNotUsed, "neither a track nor") {
			t.Errorf("pass %d: %+v", i, e)
		}
	}
}

// A track goes before the distance columns.
func TestATrackGoesBeforeOldColumns(t *testing.T) {
	w := newWorld(t)
	w.swim(passing, closestAt(fix(3, 0, 1)))
	numtest.Check(t, "low", w.only().Low, w.finely(-30, 4, 5, 40, 4, 5), tight)
}

// At a control pair the distance and angle leave two places open, one on each
// side of the axis, at different fields of the driven pair: no turn gets the
// smaller, a turn the larger; the phantom field is the same on both sides.
func TestOldPassAtAControlPair(t *testing.T) {
	near, far := 0.8-0.12*math.Sin(60*math.Pi/180), 0.8+0.12*math.Sin(60*math.Pi/180)
	y := 0.12 * math.Cos(60*math.Pi/180)
	for _, c := range []struct {
		change, place func(*study.Pass)
		x             float64
	}{
		{func(*study.Pass) {}, closestAt(fix(12, 60, 0)), far},
		{turnedSometime, onsetAt(fix(12, 60, 0)), near},
	} {
		w := newWorld(t)
		w.swim("", atPair(1), c.change, c.place)
		e := w.only()
		numtest.Check(t, "field met", max(e.Low, e.High), w.fieldOf(100*c.x, 100*y, 0, 0), tight)
		numtest.Check(t, "phantom", max(e.PhantomLow, e.PhantomHigh), twoPole(0.12, 60), tight)
	}
}

// Without a height or an angle, every one that the distance allows is taken
// as possible. On a half-space the field does not depend on height at a given
// distance and angle; over angles it is smallest at 90° and largest at 0°.
func TestOldPassWithoutHeightOrAngle(t *testing.T) {
	w := newWorld(t)
	w.swim("", closestAt(fix(12, 50, unknown)))
	w.swim("", closestAt(fix(12, unknown, 3)))
	w.swim("", turnedSometime, onsetAt(fix(12, unknown, unknown)))
	e := w.compute()
	numtest.Check(t, "no height", e[0].Low, twoPole(0.12, 50), tight)
	numtest.Check(t, "no angle", e[1].Low, twoPole(0.12, 90), hundred)
	numtest.Check(t, "neither", e[2].High, twoPole(0.12, 0), hundred)
	for i := range e {
		if len(e[i].Warnings) == 0 || !e[i].Used {
			t.Errorf("pass %d: used %v, warnings %q", i, e[i].Used, e[i].Warnings)
		}
	}
	if e[0].HeightM.Known || e[0].HorizontalM.Known || !e[0].Textbook.Known || e[1].Textbook.Known {
		t.Errorf("more printed than recorded: %+v", e[0])
	}
}

func TestOldColumnsThatDoNotFit(t *testing.T) {
	w := newWorld(t)
	w.swim("", closestAt(fix(12, 10, 5))) // height 5 > 12·sin 10° = 2.08
	e := w.only()
	if len(e.Warnings) == 0 || !e.Used {
		t.Errorf("%+v", e)
	}
	numtest.Check(t, "low", e.Low, twoPole(0.12, 10), tight)
	for _, bad := range []study.OldFix{fix(0, 10, 0), fix(-3, 10, 0), fix(12, 190, 0), fix(12, -1, 0)} {
		w := newWorld(t)
		w.swim("", closestAt(bad))
		if e := w.only(); e.Known || e.Used {
			t.Errorf("%+v: %+v", bad, e)
		}
	}
	w = newWorld(t)
	w.swim("", closestAt(fix(0.5, 0, 0))) // on the positive electrode
	if e := w.only(); e.Known || !strings.Contains(e.WhyNotUsed, "electrode") {
		t.Errorf("%+v", e)
	}
}

// Old data whose onset has a time keep it.
func TestOldTurnWithATime(t *testing.T) {
	w := newWorld(t)
	w.swim("", turned(1.5), onsetAt(fix(12, 37, 5)))
	if e := w.only(); e.OnsetS != study.Some(1.5) || e.OnsetBeforeS != study.Some(0.0) || e.Low != 0 || e.FallingField {
		t.Errorf("%+v", e)
	}
}

// A position that would be outside the tank is none: the other side is.
func TestOldPositionOutsideTheTank(t *testing.T) {
	w := newWorld(t)
	w.s.Enclosure = &study.Enclosure{SizeXM: 1.7, SizeYM: 2} // to x = 85 cm; B is at 80
	w.swim("", atPair(1), closestAt(fix(12, 60, 0)))
	near := 80 - 12*math.Sin(60*math.Pi/180)
	numtest.Check(t, "the side inside", w.only().Low, w.fieldOf(near, 6, 0, 0), tight)
	w.s.Enclosure.SizeXM, w.s.Enclosure.CentreXM = 0.1, 0.8
	if e := w.only(); e.Known || !strings.Contains(e.WhyNotUsed, "outside the water") {
		t.Errorf("%+v", e)
	}
}
