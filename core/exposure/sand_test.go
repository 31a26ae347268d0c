package exposure

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"brinefield/core/conduction"
	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

// sanded is pair A on a flush disc of 30 cm in half a metre of sediment over
// rock, and one trial for each depth of sand over the plate, in metres; a
// negative one is a blank cell.
func sanded(tb tester, sands ...float64) (*world, []TrialWater) {
	w := onDisc(tb)
	w.s.Plates[0].TopAboveBottomM, w.s.Plates[0].ThicknessM = 0, 0.01
	w.s.Bottom.ThicknessM, w.s.Bottom.BasementSPerM = study.Some(0.5), study.Some(0.02)
	water := w.many(len(sands), func(int) TrialWater { return TrialWater{WaterSPerM: 5, BottomSPerM: 1, DepthM: 3} })
	for i, sand := range sands {
		if sand >= 0 {
			w.s.Trials[i].SandOverPlateM = study.Some(sand)
		}
	}
	return w, water
}

// buried is the engine's field per ampere of pair A of [sanded], with the plate a
// depth under the sediment's surface, asked in the season frame.
func buried(tb tester, water TrialWater, depth float64, p *study.Pair) func(vec) vec {
	tb.Helper()
	solved, err := conduction.SolveOnPlates(
		conduction.Medium{WaterSPerM: water.WaterSPerM, DepthM: water.DepthM - depth, Layers: []conduction.Layer{
			{ThicknessM: 0.5 + depth, SPerM: water.BottomSPerM}, {ThicknessM: math.Inf(1), SPerM: 0.02},
		}},
		[]conduction.Plate{{DiameterM: 0.3, ThicknessM: 0.01, TopM: -depth}},
		conduction.Pair{Centre: conduction.Point{Z: p.HeightM - depth}, SeparationM: p.SeparationM, DiameterM: p.ElectrodeDiameterM}.Electrodes(1),
		conduction.PlateOptions{RelativeTolerance: platedTolerance})
	if err != nil {
		tb.Fatal(err)
	}
	return func(q vec) vec {
		e, err := solved.FieldAt(conduction.Point{X: q.x, Y: q.y, Z: q.z - depth})
		if err != nil {
			tb.Fatal(err)
		}
		return vec{e.X, e.Y, e.Z}
	}
}

// Sand over the plate: each trial's field is that of the plate buried by its own
// sand, in sediment that is thicker and under water that is less deep by as much,
// in the water and within the sand. Source: the engine, asked in its own frame.
func TestSandBuriesThePlate(t *testing.T) {
	sands := []float64{-1, 0.004, 0.02, 0, 0.004}
	w, water := sanded(t, sands...)
	w.s.Pairs[0].ElectrodeDiameterM = 0.004
	f := mustFields(t, w.s, water)
	at := append(round(vec{}), vec{0.03, 0.02, 0.012}, vec{0.2, 0, 0.001}) // both within 20 mm of sand
	var plain, deep []vec
	for trial, sand := range sands {
		want := buried(t, water[trial], math.Max(sand, 0), &w.s.Pairs[0])
		for _, q := range at {
			x, y, z := f.Pair(trial, 0).At(q.x, q.y, q.z)
			got := vec{x, y, z}
			numtest.Check(t, fmt.Sprintf("%g m of sand, at %v: |δE|/|E|", sand, q), apart(got, want(q)), 0, numtest.Tolerance{Abs: 1e-9})
			switch trial {
			case 0:
				plain = append(plain, got)
			case 2:
				deep = append(deep, got)
			}
		}
	}
	// 20 mm of sand of a fifth of the water's conductivity change what is met.
	for i, q := range at[:3] {
		if off := apart(deep[i], plain[i]); off < 0.05 {
			t.Errorf("at %v: 20 mm of sand change the field by %.2g of itself", q, off)
		}
	}
}

// Over a plate so wide that its edge is far, the field is that of electrodes on an
// insulator under a layer of sand. Source: the engine of layers, which knows no
// plates. A plate of 3 m leaves 1 % within 20 cm of its middle.
func TestSandOverAWidePlate(t *testing.T) {
	w, water := sanded(t, 0.015)
	w.s.Plates[0].DiameterM = 3
	f := mustFields(t, w.s, water)
	solved, err := conduction.Solve(conduction.Medium{WaterSPerM: 5, DepthM: 3 - 0.015, Layers: []conduction.Layer{
		{ThicknessM: 0.015, SPerM: 1}, {ThicknessM: math.Inf(1), SPerM: 0},
	}}, conduction.Pair{Centre: conduction.Point{Z: -0.015}, SeparationM: 0.01}.Electrodes(1), conduction.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range []vec{{0, 0, 0.03}, {0.02, 0.01, 0.005}, {0.1, 0.05, 0.05}, {-0.15, 0.1, 0.02}, {0, 0.1, 0.1}} {
		want, err := solved.FieldAt(conduction.Point{X: q.x, Y: q.y, Z: q.z - 0.015})
		if err != nil {
			t.Fatal(err)
		}
		x, y, z := f.Pair(0, 0).At(q.x, q.y, q.z)
		numtest.Check(t, fmt.Sprintf("at %v: |δE|/|E|", q), apart(vec{x, y, z}, vec{want.X, want.Y, want.Z}), 0, numtest.Tolerance{Abs: 0.01})
	}
}

// Many waters under few depths of sand are mixed within each depth. Source: trials
// that were solved themselves. |δE|/|E| ≤ 2e-4.
func TestMixedWatersUnderSand(t *testing.T) {
	sands := make([]float64, 12)
	for i := range sands {
		sands[i] = []float64{-1, 0.006}[i%2]
	}
	w, water := sanded(t, sands...)
	for i := range water {
		water[i].WaterSPerM, water[i].DepthM = 4.6+0.3*math.Sin(float64(i)), 2.4+0.1*math.Cos(float64(i))
	}
	w.s.Bottom.BasementSPerM = study.Some(0.02)
	layouts, err := layoutsOf(w.s)
	if err != nil || len(layouts) != 2 || len(layouts[0].trials) != 6 {
		t.Fatalf("%d layouts, %v", len(layouts), err)
	}
	f := mustFields(t, w.s, water)
	for _, trial := range []int{0, 5, 7} {
		want := buried(t, water[trial], math.Max(sands[trial], 0), &w.s.Pairs[0])
		for _, q := range round(vec{}) {
			x, y, z := f.Pair(trial, 0).At(q.x, q.y, q.z)
			numtest.Check(t, fmt.Sprintf("trial %d at %v: |δE|/|E|", trial, q), apart(vec{x, y, z}, want(q)), 0, numtest.Tolerance{Abs: 2e-4})
		}
	}
}

// The table over a plate under a little and under more sand, against the engine
// asked directly. |δE|/|E| ≤ 2e-4.
func TestTableUnderSandAgainstDirectValues(t *testing.T) {
	for _, sand := range []float64{0.001, 0.015} {
		w, water := sanded(t, sand)
		w.swarm(60, 60)
		f := mustFields(t, w.s, water)
		u := f.Pair(0, 0).(*platedUnit)
		direct := *u
		direct.pair = &platedPair{responses: u.pair.responses}
		r := rand.New(rand.NewPCG(5, 6))
		worst, tabled := 0.0, 0
		for range 400 {
			points := w.s.Tracks[r.IntN(len(w.s.Tracks))].Points
			fix := &points[0].Fixes[r.IntN(len(points[0].Fixes))]
			if u.pair.table.find(vec{fix.XM, fix.YM, fix.HeightM.Value - sand}) == nil {
				continue
			}
			tabled++
			x, y, z := u.At(fix.XM, fix.YM, fix.HeightM.Value)
			dx, dy, dz := direct.At(fix.XM, fix.YM, fix.HeightM.Value)
			worst = math.Max(worst, apart(vec{x, y, z}, vec{dx, dy, dz}))
		}
		if !(worst <= 2e-4) || tabled < 80 {
			t.Errorf("%g m of sand: |δE|/|E| up to %.2g; %d of 400 fixes had a box", sand, worst, tabled)
		}
		t.Logf("%g m of sand: |δE|/|E| up to %.2g; %d of 400 fixes had a box", sand, worst, tabled)
	}
}

func TestTopUnderSand(t *testing.T) {
	for _, c := range []struct{ stated, sand, want float64 }{
		{0, 0, 0}, {0, 0.005, -0.005}, {0.012, 0, 0.012}, {0.012, 0.005, -0.005}, {-0.02, 0, -0.02}, {-0.02, 0.005, -0.005},
	} {
		if got := TopUnderSand(c.stated, c.sand); got != c.want {
			t.Errorf("top stated at %g m, %g m of sand: %g m, want %g m", c.stated, c.sand, got, c.want)
		}
	}
}

func TestWarningsOfSand(t *testing.T) {
	for _, c := range []struct {
		name   string
		sand   float64
		change func(s *study.Study)
		says   string // "": nothing
	}{
		{"a little", 0.004, func(*study.Study) {}, ""},
		{"blank", -1, func(*study.Study) {}, ""},
		{"much", 0.08, func(*study.Study) {}, "More than 50 mm of sand over the plate: T1 (80 mm)"},
		{"no plate", 0.004, func(s *study.Study) { s.Plates = nil }, "the season has no plate: the column is not used"},
		{"no plate, none measured", 0, func(s *study.Study) { s.Plates = nil }, ""},
		{"a tank's floor", 0.004, func(s *study.Study) { s.Bottom = study.Bottom{Kind: study.BottomInsulating} }, "the sand is left out"},
		{"buried otherwise", 0.004, func(s *study.Study) { s.Plates[0].TopAboveBottomM = -0.02 }, "the measured one was taken: T1 (4 mm)"},
		{"buried as measured", 0.02, func(s *study.Study) { s.Plates[0].TopAboveBottomM = -0.02 }, ""},
		{"buried, none measured", 0, func(s *study.Study) { s.Plates[0].TopAboveBottomM = -0.02 }, "the study's depth was kept: T1"},
	} {
		w, _ := sanded(t, c.sand)
		c.change(w.s)
		got := strings.Join(sandWarnings(w.s), "\n")
		if c.says == "" && got != "" || !strings.Contains(got, c.says) {
			t.Errorf("%s: %q", c.name, got)
		}
	}
	w, _ := sanded(t, 0.02)
	w.swim("0 10 5 5, 1 12 5 1")
	w.swim("0 10 5 5, 1 12 5 4")
	if got := strings.Join(sandWarnings(w.s), "\n"); !strings.Contains(got, "In 1 pass a height is less than the sand") {
		t.Errorf("a head in the sand: %q", got)
	}
	// Without plates, or over an insulating floor, the fields are those of no sand.
	w, water := sanded(t, 0.02)
	w.s.Plates = nil
	f := mustFields(t, w.s, water)
	_, warnings, err := Compute(w.s, f, Options{})
	if err != nil || !strings.Contains(strings.Join(warnings, "\n"), "the column is not used") {
		t.Errorf("no plate: %v %q", err, warnings)
	}
}

func TestSandThatCannotBe(t *testing.T) {
	for _, c := range []struct {
		sand, top float64
		thickness study.Opt[float64]
		says      string
	}{
		{3, 0, study.Opt[float64]{}, "reach the surface, 3 m over the plate"},
		{math.NaN(), 0, study.Opt[float64]{}, "expected 0 or more"},
		{0.001, -0.6, study.Some(0.5), "leave nothing of a sediment of 0.5 m"},
	} {
		w, water := sanded(t, c.sand)
		w.s.Trials[0].SandOverPlateM = study.Some(c.sand)
		w.s.Plates[0].TopAboveBottomM = c.top
		w.s.Bottom.ThicknessM = c.thickness
		if _, err := NewFields(w.s, water, FieldOptions{}); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%g m of sand: %v", c.sand, err)
		}
	}
}
