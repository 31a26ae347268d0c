package exposure

import (
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

// drawTrack is a path of up to seven rows that may come near the pairs.
func drawTrack(t *rapid.T) []study.Fix {
	n := rapid.IntRange(1, 7).Draw(t, "rows")
	scale := rapid.SampledFrom([]float64{0.03, 0.3, 3}).Draw(t, "scale")
	var out []study.Fix
	at := 0.0
	for range n {
		out = append(out, study.Fix{
			TimeS:   at,
			XM:      scale * rapid.Float64Range(-1, 1).Draw(t, "x"),
			YM:      scale * rapid.Float64Range(-1, 1).Draw(t, "y"),
			HeightM: study.Some(0.002 + 0.1*rapid.Float64Range(0, 1).Draw(t, "z")),
		})
		at += rapid.Float64Range(0.02, 2).Draw(t, "dt")
	}
	return out
}

func drawWorld(t *rapid.T) *world {
	w := newWorld(t)
	trial := rapid.IntRange(0, 4).Draw(t, "trial")
	change := []func(*study.Pass){inTrial(trial), atPair(rapid.IntRange(0, 1).Draw(t, "pair"))}
	track := drawTrack(t)
	switch rapid.IntRange(0, 2).Draw(t, "outcome") {
	case 1:
		change = append(change, turnedSometime)
	case 2:
		change = append(change, turned(rapid.Float64Range(0, track[len(track)-1].TimeS).Draw(t, "onset")))
	}
	w.swim("0 0 0 5", change...)
	w.s.Tracks[0].Points[0].Fixes = track
	return w
}

// looksEverywhere is the largest field on a path between two times, by brute
// force: 4 000 places a segment, then 400 round each of the high tops. Looking
// only round the highest missed the other of two tops that are nearly as high.
func looksEverywhere(d *Drive, line *polyline, a, b float64) float64 {
	best := 0.0
	look := func(t float64) float64 {
		f := d.magnitude(line.at(math.Min(math.Max(t, a), b)))
		best = math.Max(best, f)
		return f
	}
	look(a)
	look(b)
	for i := range len(line.t) - 1 {
		lo, hi := math.Max(a, line.t[i]), math.Min(b, line.t[i+1])
		if lo > hi {
			continue
		}
		const n = 4000
		step := (hi - lo) / n
		seen, top := make([]float64, n+1), 0.0
		for k := range seen {
			seen[k] = look(lo + float64(k)*step)
			top = math.Max(top, seen[k])
		}
		for k, f := range seen {
			if f < top/2 || k > 0 && seen[k-1] > f || k < n && seen[k+1] > f {
				continue
			}
			for m := -200; m <= 200; m++ {
				look(math.Min(math.Max(lo+(float64(k)+float64(m)/200)*step, lo), hi))
			}
		}
	}
	return best
}

// The search for the largest field, between any two times, against looking
// everywhere: never above, and below by less than 1e-5.
func TestLargestAgainstLookingEverywhere(t *testing.T) {
	if testing.Short() {
		t.Skip("takes minutes under the race detector or on an emulated processor")
	}
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		f := w.fields()
		d, err := f.Driven(w.s, rapid.SampledFrom([]int{0, 1, 4}).Draw(t, "driven"))
		if err != nil {
			t.Fatal(err)
		}
		h, err := headOf(w.s, &w.s.Tracks[0])
		if err != nil {
			t.Fatal(err)
		}
		var walk walker
		walk.set(d, h)
		walk.build(0)
		line := &walk.profiles[0].line
		last := h.last()
		a := rapid.Float64Range(0, last).Draw(t, "from")
		b := rapid.Float64Range(a, last).Draw(t, "to")
		got, want := walk.largest(a, b).f, looksEverywhere(d, line, a, b)
		numtest.Check(t, "largest", got, want, numtest.Tolerance{Rel: 1e-5})
	})
}

func sameBounds(t numtest.TB, what string, got, want Exposure, factor float64, tol numtest.Tolerance) {
	t.Helper()
	numtest.Check(t, what+": low", got.Low, factor*want.Low, tol)
	numtest.Check(t, what+": high", got.High, factor*want.High, tol)
	numtest.Check(t, what+": phantom low", got.PhantomLow, factor*want.PhantomLow, tol)
	numtest.Check(t, what+": phantom high", got.PhantomHigh, factor*want.PhantomHigh, tol)
}

// Turning and moving the whole season changes nothing.
func TestTheOriginIsTheStudysChoice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		before := w.only()
		deg := rapid.Float64Range(0, 360).Draw(t, "turn")
		dx, dy := rapid.Float64Range(-5, 5).Draw(t, "dx"), rapid.Float64Range(-5, 5).Draw(t, "dy")
		sin, cos := math.Sincos(deg * math.Pi / 180)
		move := func(x, y *float64) { *x, *y = dx+cos**x-sin**y, dy+sin**x+cos**y }
		for i := range w.s.Pairs {
			p := &w.s.Pairs[i]
			move(&p.CentreXM, &p.CentreYM)
			p.AzimuthDeg += deg
		}
		fixes := w.s.Tracks[0].Points[0].Fixes
		for i := range fixes {
			move(&fixes[i].XM, &fixes[i].YM)
		}
		after := w.only()
		sameBounds(t, "moved", after, before, 1, tight)
		if before.OnsetS.Known { // else the place is that of the largest field, of which a path may have two
			numtest.Check(t, "distance", after.DistanceM.Or(0), before.DistanceM.Or(0), numtest.Tolerance{Rel: 1e-9})
		}
	})
}

// A row on the line between two rows says nothing new where there is no onset.
func TestARowOnALineChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		w.s.Passes[0].OnsetS = study.Opt[float64]{}
		before := w.only()
		fixes := w.s.Tracks[0].Points[0].Fixes
		if len(fixes) < 2 {
			return
		}
		i := rapid.IntRange(0, len(fixes)-2).Draw(t, "after")
		s := rapid.Float64Range(0.01, 0.99).Draw(t, "share")
		a, b := fixes[i], fixes[i+1]
		mid := study.Fix{
			TimeS: a.TimeS + s*(b.TimeS-a.TimeS), XM: a.XM + s*(b.XM-a.XM), YM: a.YM + s*(b.YM-a.YM),
			HeightM: study.Some(a.HeightM.Value + s*(b.HeightM.Value-a.HeightM.Value)),
		}
		w.s.Tracks[0].Points[0].Fixes = append(append(append([]study.Fix(nil), fixes[:i+1]...), mid), fixes[i+1:]...)
		sameBounds(t, "one row more", w.only(), before, 1, tight)
	})
}

// Fields are proportional to the current, and its sign does not matter.
func TestFieldsAreProportionalToTheCurrent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		before := w.only()
		k := rapid.SampledFrom([]float64{-1, 0.01, 2.5, 1000}).Draw(t, "factor")
		for i := range w.s.Trials {
			w.s.Trials[i].CurrentA.Value *= k
		}
		after := w.only()
		sameBounds(t, "scaled", after, before, math.Abs(k), numtest.Tolerance{Rel: 1e-9})
	})
}

// Bounds are in order: a turn's low is no more than the largest on its track,
// and a longer reaction time never raises low.
func TestBoundsAreInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		e := w.only()
		if !e.Known {
			return
		}
		whole := *w.s
		whole.Passes = append([]study.Pass(nil), w.s.Passes...)
		whole.Passes[0].Turned, whole.Passes[0].OnsetS = study.No, study.Opt[float64]{}
		all := (&world{w.tb, &whole}).only()
		if e.Low > all.Low*(1+1e-6) || e.High > all.Low*(1+1e-6) {
			t.Fatalf("low %g, high %g, largest on the track %g", e.Low, e.High, all.Low)
		}
		later, _, err := Compute(w.s, w.fields(), Options{ReactionTimeS: study.Some(0.3)})
		if err != nil {
			t.Fatal(err)
		}
		if later[0].Low > e.Low*(1+1e-6) {
			t.Fatalf("low %g at 0.1 s, %g at 0.3 s", e.Low, later[0].Low)
		}
	})
}

func TestWorkersChangeNothing(t *testing.T) {
	s := seasonA(t)
	f := shallowFields(t, s, 4.31, math.Inf(1))
	one, _, err := Compute(s, f, Options{Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	var reported int
	five, _, err := Compute(s, f, Options{Workers: 5, Progress: func(done, total int) {
		reported++
		if total != len(s.Passes) || done > total {
			t.Errorf("progress %d of %d", done, total)
		}
	}})
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(one, five) {
		t.Error("five workers gave other bits than one")
	}
	if reported == 0 {
		t.Error("no progress was told")
	}
}

func TestSensitivityIsComputeAtOtherReactionTimes(t *testing.T) {
	s := seasonA(t)
	f := shallowFields(t, s, 4.31, math.Inf(1))
	base, _, err := Compute(s, f, Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	deltas := []float64{0, 0.05, 0.08, 0.1, 0.2}
	got, err := Sensitivity(s, f, base, deltas, Options{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	changed := 0
	for k, delta := range deltas {
		want, _, err := Compute(s, f, Options{ReactionTimeS: study.Some(delta), Workers: 2})
		if err != nil {
			t.Fatal(err)
		}
		for i := range want {
			if b := got[k][i]; b != (Bounds{want[i].Low, want[i].High, want[i].FallingField}) {
				t.Fatalf("pass %d at %g s: %+v, Compute gives %+v", i, delta, b, want[i])
			}
			if want[i].High != base[i].High {
				changed++
			}
		}
	}
	if changed == 0 {
		t.Error("the reaction time changed nothing: the test does not look")
	}
	if _, err := Sensitivity(s, f, base[:3], deltas, Options{}); err == nil {
		t.Error("exposures of another study were taken")
	}
	if _, err := Sensitivity(s, f, base, []float64{math.NaN()}, Options{}); err == nil {
		t.Error("NaN was taken as a reaction time")
	}
}

func TestAlong(t *testing.T) {
	w := newWorld(t)
	w.swim(passing, turned(0.7))
	w.swim(passing, inTrial(3))
	w.swim("")
	w.swim("0 -20 0 0, 1 20 0 0")
	tr, err := Along(w.s, w.fields(), 0, Options{})
	if err != nil {
		t.Fatal(err)
	}
	n := len(tr.TimeS)
	if n < tracePoints || len(tr.XM) != n || len(tr.YM) != n || len(tr.HeightM) != n || len(tr.FieldVPerM) != n || len(tr.PhantomVPerM) != n {
		t.Fatalf("lengths %d, %d, %d, %d, %d, %d", n, len(tr.XM), len(tr.YM), len(tr.HeightM), len(tr.FieldVPerM), len(tr.PhantomVPerM))
	}
	top := 0.0
	for i := range n {
		if i > 0 && tr.TimeS[i] <= tr.TimeS[i-1] {
			t.Fatalf("times %g, %g", tr.TimeS[i-1], tr.TimeS[i])
		}
		top = math.Max(top, tr.FieldVPerM[i])
		numtest.Check(t, "field", tr.FieldVPerM[i], w.fieldOf(100*tr.XM[i], 100*tr.YM[i], 100*tr.HeightM[i], 0), tight)
	}
	numtest.Check(t, "the picture shows the largest field", top, tr.Exposure.Low, tight)
	numtest.Check(t, "from", tr.FromS.Value, 0.5, tight)
	numtest.Check(t, "to", tr.ToS.Value, 0.6, tight)
	for _, pass := range []int{1, 2, 3, 4, -1} {
		if _, err := Along(w.s, w.fields(), pass, Options{}); err == nil {
			t.Errorf("pass %d: no error", pass)
		}
	}
}
