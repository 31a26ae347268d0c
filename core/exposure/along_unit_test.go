package exposure

import (
	"math"
	"reflect"
	"testing"

	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

// TestAlongUnit holds the field per ampere to the closed form of two point
// electrodes on an insulating plane (fieldOf, an image of each), at every
// sample of the trace.
func TestAlongUnit(t *testing.T) {
	w := newWorld(t)
	w.swim(passing, inTrial(3))
	tr, err := AlongUnit(w.s, w.fields(), 0)
	if err != nil {
		t.Fatal(err)
	}
	n := len(tr.TimeS)
	if n < tracePoints || len(tr.XM) != n || len(tr.YM) != n || len(tr.HeightM) != n || len(tr.PhantomVPerMPerA) != n {
		t.Fatalf("lengths %d, %d, %d, %d, %d", n, len(tr.XM), len(tr.YM), len(tr.HeightM), len(tr.PhantomVPerMPerA))
	}
	for i := range n {
		if i > 0 && tr.TimeS[i] <= tr.TimeS[i-1] {
			t.Fatalf("times %g, %g", tr.TimeS[i-1], tr.TimeS[i])
		}
		want := w.fieldOf(100*tr.XM[i], 100*tr.YM[i], 100*tr.HeightM[i], 0) / 6e-6
		numtest.Check(t, "field per ampere", tr.PhantomVPerMPerA[i], want, tight)
	}
}

// TestAlongUnitIsThePhantom: times the current it is what Along gives once the
// trial is opened, at every time that both have, for known heights, unknown
// ones and a head of two points.
func TestAlongUnitIsThePhantom(t *testing.T) {
	w := newWorld(t)
	w.swim(passing, inTrial(1))
	w.swim("0 -20 6 2~5, 1 25 4 3", inTrial(2))
	w.swim("0 -20 6 3, 1 25 4 3", inTrial(2))
	w.point("eye", "0 -20 9 3, 1 25 8 3")
	f := w.fields()
	for pass := range w.s.Passes {
		unit, err := AlongUnit(w.s, f, pass)
		if err != nil {
			t.Fatal(err)
		}
		open, err := Along(w.s, f, pass, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if unit.HeightUnknown != open.HeightUnknown || unit.Point != open.Point {
			t.Errorf("pass %d: %+v", pass, unit.Point)
		}
		at := map[float64]float64{}
		for i, when := range open.TimeS {
			at[when] = open.PhantomVPerM[i]
		}
		common := 0
		for i, when := range unit.TimeS {
			if phantom, both := at[when]; both {
				common++
				numtest.Check(t, "phantom", 6e-6*unit.PhantomVPerMPerA[i], phantom, tight)
			}
		}
		if common < tracePoints {
			t.Errorf("pass %d: %d times in common", pass, common)
		}
	}
}

// TestAlongUnitReadsNoAllocation: the same bytes whatever was driven.
func TestAlongUnitReadsNoAllocation(t *testing.T) {
	var first UnitTrace
	for i, draw := range []study.Trial{
		{ID: "T1", Sealed: true},
		{ID: "T1", ActivePairs: []int{0}, CurrentA: study.Some(6e-6)},
		{ID: "T1", ActivePairs: []int{1}, CurrentA: study.Some(-9e-6)},
		{ID: "T1", CurrentA: study.Some(math.Inf(1))},
	} {
		w := newWorld(t)
		w.swim(passing, turned(0.7))
		w.s.Trials[0] = draw
		tr, err := AlongUnit(w.s, w.fields(), 0)
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			first = tr
		} else if !reflect.DeepEqual(first, tr) {
			t.Errorf("draw %d gives another trace", i)
		}
	}
}

func TestAlongUnitRefuses(t *testing.T) {
	w := newWorld(t)
	w.swim("", inTrial(3))
	w.swim("0 -20 0 0, 1 20 0 0", inTrial(3))
	w.swim("0 -20 4 3, 1 20 4 6000", inTrial(3))
	for _, pass := range []int{-1, 0, 1, 2, 3} {
		if tr, err := AlongUnit(w.s, w.fields(), pass); err == nil || len(tr.TimeS) > 0 {
			t.Errorf("pass %d: %d points, error %v", pass, len(tr.TimeS), err)
		}
	}
	w.s.Trials = w.s.Trials[:4]
	if _, err := AlongUnit(w.s, &Fields{}, 1); err == nil {
		t.Error("fields of another study were taken")
	}
}
