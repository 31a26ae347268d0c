package exposure

import (
	"math"
	"testing"

	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

// The field at the printed place, in the pair's own frame. Source: the closed
// form of two points on an insulating half-space, and an ideal dipole's signs:
// beyond the positive electrode the field points along the axis, beside the
// pair against it, over it against it.
func TestFieldAtThePrintedPlace(t *testing.T) {
	w := newWorld(t)
	w.swim("0 10 0 4")                               // active pair A, on its axis
	w.swim("0 0 10 4")                               // beside it
	w.swim("0 7 6 5", atPair(1))                     // at control B while A is driven
	w.swim("0 80 12 3", atPair(1), inTrial(1))       // active pair B, along y, on its axis
	w.swim("0 70 5 2", atPair(1), inTrial(4))        // both driven: its own pair's field alone
	w.swim("0 7 6 5", inTrial(2))                    // silent: the current that would have flowed
	w.swim("0 7 6 5", inTrial(3))                    // sealed
	w.swim("0 7 6 2~6")                              // unknown height
	w.swim("0 30 0 4, 1 12 3 4, 2 5 9 4", turned(2)) // at the onset less the reaction time
	out := w.compute()
	for i := range out {
		e, p := &out[i], &w.s.Passes[i]
		if unknown := i == 6 || i == 7; e.Here.Known == unknown {
			t.Errorf("pass %s: known %v", p.ID, e.Here.Known)
			continue
		}
		if !e.Here.Known {
			continue
		}
		h := e.Here.Value
		x, y, z := e.HeadXM.Value, e.HeadYM.Value, e.HeightM.Value
		numtest.Check(t, p.ID+" magnitude", h.MagnitudeVPerM, w.fieldOf(x*100, y*100, z*100, p.Pair), numtest.Tolerance{Rel: 1e-12})
		numtest.Check(t, p.ID+" components", math.Hypot(math.Hypot(h.AlongVPerM, h.AcrossVPerM), h.UpVPerM), h.MagnitudeVPerM, numtest.Tolerance{Rel: 1e-12})
	}
	for _, i := range []int{0, 3} {
		if h := out[i].Here.Value; h.AlongVPerM <= 0 || math.Abs(h.AcrossVPerM) > 1e-12*h.AlongVPerM {
			t.Errorf("on the axis: %+v", h)
		}
	}
	if h := out[1].Here.Value; h.AlongVPerM >= 0 || math.Abs(h.UpVPerM) > 1e-12*h.MagnitudeVPerM {
		t.Errorf("beside the pair: %+v", h)
	}
	// A single driven pair of its own: the field met at that place, and on one row
	// the largest.
	numtest.Check(t, "one row", out[0].Here.Value.MagnitudeVPerM, out[0].Low, numtest.Tolerance{Rel: 1e-12})
	// A turn of the pair by 180° turns along and across, and leaves up.
	before := out[8].Here.Value
	w.s.Pairs[0].AzimuthDeg, w.s.Trials[0].CurrentA = 180, study.Some(-6e-6)
	after := w.compute()[8].Here.Value
	numtest.Check(t, "along", after.AlongVPerM, -before.AlongVPerM, numtest.Tolerance{Rel: 1e-9})
	numtest.Check(t, "across", after.AcrossVPerM, -before.AcrossVPerM, numtest.Tolerance{Rel: 1e-9})
	numtest.Check(t, "up", after.UpVPerM, before.UpVPerM, numtest.Tolerance{Rel: 1e-9})
}

// Without a track there is no place on one side of the axis, and nothing is said.
func TestNoPlaceNoField(t *testing.T) {
	w := newWorld(t)
	w.swim("", func(p *study.Pass) {
		p.Closest = study.OldFix{DistanceM: study.Some(0.1), AngleDeg: study.Some(20.0), HeightM: study.Some(0.02)}
	})
	if e := w.only(); e.Here.Known || !e.Textbook.Known {
		t.Errorf("known %v, textbook %v", e.Here.Known, e.Textbook.Known)
	}
}
