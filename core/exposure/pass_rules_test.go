package exposure

import (
	"math"
	"strings"
	"testing"
	"time"

	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

func TestRoles(t *testing.T) {
	w := newWorld(t)
	const track = "0 -10 4 5, 1 -9 4 5"
	for _, c := range []struct{ trial, pair int }{{0, 0}, {0, 1}, {1, 0}, {2, 0}, {3, 0}, {4, 1}} {
		w.swim(track, inTrial(c.trial), atPair(c.pair))
	}
	want := []study.Role{study.RoleActive, study.RoleControl, study.RoleControl, study.RoleSilent, study.RoleSealed, study.RoleActive}
	for i, e := range w.compute() {
		if e.Role != want[i] {
			t.Errorf("pass %d: role %q, want %q", i, e.Role, want[i])
		}
	}
}

// The field met is that of everything driven, at control pairs too; the
// phantom field is the same track with the current moved to the pass's pair.
func TestFieldMetAndPhantom(t *testing.T) {
	const row = "0 10 4 5"
	for _, c := range []struct {
		name        string
		trial, pair int
		met         []int
		phantom     int
	}{
		{"active", 0, 0, []int{0}, 0},
		{"control", 1, 0, []int{1}, 0},
		{"silent", 2, 0, nil, 0},
		{"two active", 4, 0, []int{0, 1}, 0},
		{"two active, the other pair", 4, 1, []int{0, 1}, 1},
	} {
		w := newWorld(t)
		w.swim(row, inTrial(c.trial), atPair(c.pair))
		e := w.only()
		numtest.Check(t, c.name+": met", e.Low, w.fieldOf(10, 4, 5, c.met...), tight)
		numtest.Check(t, c.name+": phantom", e.PhantomLow, w.fieldOf(10, 4, 5, c.phantom), tight)
		if !e.Used || !e.DistanceM.Known {
			t.Errorf("%s: used %v, distance %v", c.name, e.Used, e.DistanceM)
		}
	}
}

// In a silent trial a turn meets no field: low = high = 0, which is falling.
func TestTurnInASilentTrial(t *testing.T) {
	w := newWorld(t)
	w.swim(coming, inTrial(2), turned(0.5))
	e := w.only()
	if e.Low != 0 || e.High != 0 || !e.HighKnown || !e.FallingField || !e.Used {
		t.Errorf("%+v", e)
	}
	numtest.Check(t, "phantom high", e.PhantomHigh, w.fieldOf(-20, 0, 5, 0), tight)
	numtest.Check(t, "distance", e.HorizontalM.Value, 0.2, tight)
}

// Currents measured before and after: their mean; one alone: that one.
func TestMeasuredCurrentsAreUsed(t *testing.T) {
	for _, c := range []struct {
		name          string
		before, after study.Opt[float64]
		want          float64
	}{
		{"stated", study.Opt[float64]{}, study.Opt[float64]{}, 6},
		{"both", study.Some(4e-6), study.Some(5e-6), 4.5},
		{"before", study.Some(3e-6), study.Opt[float64]{}, 3},
		{"after", study.Opt[float64]{}, study.Some(7e-6), 7},
	} {
		w := newWorld(t)
		w.s.Trials[0].CurrentBeforeA, w.s.Trials[0].CurrentAfterA = c.before, c.after
		w.swim("0 10 4 5")
		numtest.Check(t, c.name, w.only().Low, w.fieldOf(10, 4, 5, 0)*c.want/6, tight)
	}
}

func TestScored(t *testing.T) {
	w := newWorld(t)
	w.swim(passing, func(p *study.Pass) { p.Turned, p.Bit = study.NotScored, study.No })
	w.swim(passing, func(p *study.Pass) { p.Turned, p.Bit = study.NotScored, study.NotScored })
	for _, e := range w.compute() {
		if e.Used || !e.Known || !strings.Contains(e.WhyNotUsed, "not scored") {
			t.Errorf("a pass that was not scored: %+v", e)
		}
	}
}

func TestSealedTrial(t *testing.T) {
	w := newWorld(t)
	w.swim(passing, inTrial(3), turned(0.5))
	e := w.only()
	if e.Used || e.Known || e.HighKnown || e.Role.String() != "" || e.Low != 0 || !strings.Contains(e.WhyNotUsed, "sealed") {
		t.Errorf("%+v", e)
	}
	if !e.WatchedS.Known {
		t.Error("how long it was watched is no secret")
	}
}

func TestOnlyTheFirstResponseOfAVisitCounts(t *testing.T) {
	at := func(minute int) func(*study.Pass) {
		return func(p *study.Pass) { p.Time = time.Date(2025, 7, 1, 12, minute, 0, 0, time.UTC) }
	}
	bitten := func(p *study.Pass) { p.Bit = study.Yes }
	sealed := inTrial(3)
	blank := visit("")
	type change = func(*study.Pass)
	for _, c := range []struct {
		name   string
		passes [][]change
		after  string // one letter a pass: + after the first response
	}{
		{"none responds", [][]change{{visit("V1"), at(1)}, {visit("V1"), at(2)}}, "--"},
		{"a turn", [][]change{{visit("V1"), at(1)}, {visit("V1"), at(2), turnedSometime}, {visit("V1"), at(3)}, {visit("V1"), at(4), turnedSometime}}, "--++"},
		{"a bite", [][]change{{visit("V1"), at(1), bitten}, {visit("V1"), at(2)}}, "-+"},
		{"by the clock, not by row", [][]change{{visit("V1"), at(3)}, {visit("V1"), at(1), turnedSometime}}, "+-"},
		{"ties: row order", [][]change{{visit("V1"), at(1), turnedSometime}, {visit("V1"), at(1)}}, "-+"},
		{"another visit", [][]change{{visit("V1"), at(1), turnedSometime}, {visit("V2"), at(2)}}, "--"},
		{"blank is a visit of its own", [][]change{{blank, at(1), turnedSometime}, {blank, at(2)}}, "--"},
		{"a response in a sealed trial", [][]change{{visit("V1"), at(1), sealed, turnedSometime}, {visit("V1"), at(2)}}, "-+"},
	} {
		w := newWorld(t)
		for _, changes := range c.passes {
			w.swim(passing, changes...)
		}
		for i, e := range w.compute() {
			want := c.after[i] == '+'
			if e.AfterFirstResponse != want || e.Used != (!want && e.Role != study.RoleSealed) {
				t.Errorf("%s: pass %d after %v, used %v (%s)", c.name, i, e.AfterFirstResponse, e.Used, e.WhyNotUsed)
			}
			if want && !e.Known {
				t.Errorf("%s: pass %d was not kept in the tables", c.name, i)
			}
		}
	}
}

func TestAVisitOfTwoAnimalsIsSaid(t *testing.T) {
	w := newWorld(t)
	w.swim(passing, visit("V1"))
	w.swim(passing, visit("V1"), func(p *study.Pass) { p.Individual = "SC02" })
	if !strings.Contains(w.warnings(), "V1") {
		t.Errorf("warnings: %q", w.warnings())
	}
}

func TestWatched(t *testing.T) {
	w := newWorld(t)
	w.swim("0.5 -10 0 5, 2.5 10 3 5")
	w.point("snout", "0.5 -10 0 5, 2.75 10 3 5")
	w.swim("0 -10 0 5, 2.5 10 3 5", func(p *study.Pass) { p.WatchedS = study.Some(9.0) })
	w.swim("")
	out := w.compute()
	if out[0].WatchedS != study.Some(2.75) || out[1].WatchedS != study.Some(9.0) || out[2].WatchedS.Known {
		t.Errorf("watched %v, %v, %v", out[0].WatchedS, out[1].WatchedS, out[2].WatchedS)
	}
}

func TestClusters(t *testing.T) {
	nobody := func(p *study.Pass) { p.Individual = "" }
	ray := func(p *study.Pass) { p.Species = 1 }
	w := newWorld(t)
	w.swim(passing)                        // SC01
	w.swim(passing, nobody)                // trial 0, catshark
	w.swim(passing, nobody)                // the same
	w.swim(passing, nobody, ray)           // trial 0, ray
	w.swim(passing, nobody, inTrial(1))    // trial 1, catshark
	w.swim(passing, inTrial(1), atPair(1)) // SC01
	out := w.compute()
	same := [][2]int{{1, 2}, {0, 5}}
	different := [][2]int{{0, 1}, {1, 3}, {1, 4}, {3, 4}}
	for _, p := range same {
		if out[p[0]].Cluster != out[p[1]].Cluster {
			t.Errorf("passes %v: clusters %q and %q", p, out[p[0]].Cluster, out[p[1]].Cluster)
		}
	}
	for _, p := range different {
		if out[p[0]].Cluster == out[p[1]].Cluster {
			t.Errorf("passes %v share the cluster %q", p, out[p[0]].Cluster)
		}
	}
	if !out[0].Identified || out[1].Identified {
		t.Error("identified wrong")
	}
}

// A pass begins when the head crosses the circle round a pair; a track that
// disagrees with what was recorded is named, and what was recorded is kept.
func TestPairOfATrack(t *testing.T) {
	for _, c := range []struct {
		name, track string
		pair        int
		change      func(*study.Pass)
		want        int // −1: none
		said        bool
	}{
		{"A first", "0 -60 3 5, 9 60 3 5", 0, nil, 0, false},
		{"B first, recorded A", "0 140 3 5, 9 -60 3 5", 0, nil, 1, true},
		{"starts nearer to B, enters A first", "0 45 0 5, 1 10 0 5, 2 80 0 5", 0, nil, 0, false},
		{"starts inside B", "0 75 3 5, 9 0 3 5", 0, nil, 1, true},
		{"grazes A between rows", "0 -20 15.9 5, 1 20 15.9 5", 0, nil, 0, false},
		{"passes A by", "0 -20 16.1 5, 1 20 16.1 5", 0, nil, -1, false},
		{"turned before any crossing", "0 -60 3 5, 1 -30 3 5, 2 90 3 5", 1, turned(1), -1, false},
	} {
		w := newWorld(t)
		changes := []func(*study.Pass){atPair(c.pair)}
		if c.change != nil {
			changes = append(changes, c.change)
		}
		w.swim(c.track, changes...)
		e := w.only()
		if got := e.ComputedPair; got.Known != (c.want >= 0) || got.Known && got.Value != c.want {
			t.Errorf("%s: pair %v, want %d", c.name, got, c.want)
		}
		if said := strings.Contains(w.warnings(), "P1 (recorded A, track B)"); said != c.said {
			t.Errorf("%s: warnings %q", c.name, w.warnings())
		}
	}
}

// Source: REFERENCES §1.5 (ρ = 19 Ω cm, 6 µA, 1 cm, half-space; E_r in nV/cm),
// and §0.11: the textbook form is 0 at 90°.
func TestTextbookForm(t *testing.T) {
	for _, c := range []struct{ rCM, deg, want float64 }{
		{5, 0, 290.299},
		{5, 45, 205.272},
		{5, 60, 145.149},
		{10, 0, 36.2873},
		{10, 120, 18.1437},
		{20, 45, 3.20738},
		{30, 180, 1.34398},
		{44, 60, 0.212994},
		{10, 90, 0},
	} {
		got, ok := textbook(1/0.19, 6e-6, 0.01, c.rCM/100, c.deg)
		if !ok {
			t.Fatal("no value")
		}
		numtest.Check(t, "textbook", got*1e7, c.want, numtest.Tolerance{Rel: 5e-6})
	}
	if _, ok := textbook(1/0.19, 6e-6, 0.01, 0, 0); ok {
		t.Error("a value at distance 0")
	}
}

// The textbook form uses the printed distance and angle at the pass's own pair.
func TestTextbookOfAPass(t *testing.T) {
	w := newWorld(t)
	w.swim("0 70 -4 0", inTrial(0), atPair(1)) // B is at x = 80 along y
	e := w.only()
	r := math.Hypot(0.10, 0.04)
	numtest.Check(t, "distance", e.DistanceM.Value, r, tight)
	numtest.Check(t, "angle", e.AngleDeg.Value, math.Acos(-0.04/r)*180/math.Pi, tight)
	numtest.Check(t, "textbook", e.Textbook.Value, 6e-6*0.01*(0.04/r)/(worldSigma*math.Pi*r*r*r), tight)
}

func TestATrackOverAnElectrodeSaysSo(t *testing.T) {
	for _, track := range []string{
		"0 -10 0 0, 1 10 0 0",           // along the axis, through both
		"0 -10 0 0, 1 0.5 0 0, 2 3 9 9", // a row on the electrode
		"0 0.5 -7 0, 1 0.5 12 0",        // across, through one
	} {
		for _, change := range []func(*study.Pass){func(*study.Pass) {}, turned(1), turnedSometime} {
			w := newWorld(t)
			w.s.Analysis.ReactionTimeS = study.Some(0.0)
			w.swim(track, change)
			e := w.only()
			if e.Known || e.Used || !strings.Contains(e.WhyNotUsed, "electrode") || math.IsInf(e.Low, 0) || math.IsInf(e.High, 0) {
				t.Errorf("%s: %+v", track, e)
			}
			if !strings.Contains(w.warnings(), "P1") {
				t.Errorf("%s: warnings %q", track, w.warnings())
			}
		}
	}
}

// A hundredth of a millimetre beside the electrode the field is huge, and finite.
func TestATrackBesideAnElectrode(t *testing.T) {
	w := newWorld(t)
	w.swim("0 -30 0.001 0, 1 40 0.001 0")
	e := w.only()
	numtest.Check(t, "low", e.Low, w.finely(0.45, 0.001, 0, 0.55, 0.001, 0), numtest.Tolerance{Rel: 1e-5})
}

func TestOutsideTheWater(t *testing.T) {
	for _, c := range []struct{ track, want string }{
		{"0 0 9 5, 1 0 9 6000", "above the surface"},
		{"0 0 9 5, 1 251 9 5", "outside the tank"},
		{"0 0 9 5, 1 0 151 5", "outside the tank"},
		{"0 0 9 5, 1 0 9 -1", "below the bottom"},
	} {
		w := newWorld(t)
		w.s.Enclosure = &study.Enclosure{SizeXM: 5, SizeYM: 3}
		w.swim(c.track)
		if e := w.only(); e.Known || e.Used || !strings.Contains(e.WhyNotUsed, c.want) {
			t.Errorf("%s: %q, want %q", c.track, e.WhyNotUsed, c.want)
		}
	}
	w := newWorld(t)
	w.s.Enclosure = &study.Enclosure{DiameterM: study.Some(2.0)}
	w.swim("0 80 80 5")
	if e := w.only(); e.Known || !strings.Contains(e.WhyNotUsed, "outside the tank") {
		t.Errorf("round tank: %q", e.WhyNotUsed)
	}
}

// An electrode with a diameter is a disc: over it the head may pass at a
// height, on it it may not.
func TestDiscElectrodes(t *testing.T) {
	w := newWorld(t)
	w.s.Pairs[0].ElectrodeDiameterM = 0.006 // centres at x = ±0.5 cm
	e := electrodesOf(&w.s.Pairs[0])[0]
	for _, c := range []struct{ x, y, z, want float64 }{
		{0.005, 0, 0.02, 0.02}, {0.0065, 0.001, 0, 0}, {0.013, 0, 0, 0.005}, {0.011, 0, 0.004, 0.005},
	} {
		numtest.Check(t, "distance to a disc", e.distance(vec{c.x, c.y, c.z}), c.want, numtest.Tolerance{Abs: 1e-12})
	}
	w.swim("0 -20 0.2 0, 1 20 0.2 0") // over the metal
	w.swim("0 -20 0.2 0.1, 1 20 0.2 0.1")
	w.swim("0 -20 0.4 0, 1 20 0.4 0") // beside it
	f, err := NewFields(w.s, waterOf(w.s, TrialWater{WaterSPerM: 4, DepthM: 2}), FieldOptions{})
	if err != nil {
		t.Fatal(err)
	}
	out, _, err := Compute(w.s, f, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if out[0].Known || !strings.Contains(out[0].WhyNotUsed, "electrode") {
		t.Errorf("on a disc: %+v", out[0])
	}
	if !out[1].Known || !out[2].Known || out[1].Low <= 0 || out[2].Low <= 0 {
		t.Errorf("over and beside a disc: %+v, %+v", out[1], out[2])
	}
}
