package exposure

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"brinefield/core/study"
)

// An invented field with poles where a pair lies: the table against the formula.
// Source: the closed form of a pair of points. The table of a plate does not have
// to hold the poles themselves (platedPair.steep); with them |δE|/|E| ≤ 1e-3.
func TestBoxesHoldAClosedForm(t *testing.T) {
	plus, minus := vec{0.005, 0, 0}, vec{-0.005, 0, 0}
	at := func(p vec) vec {
		x, y, z := shallow{4, math.Inf(1), plus, minus}.At(p.x, p.y, p.z)
		return vec{x, y, z}
	}
	gap := func(p vec) float64 { return math.Min(p.minus(plus).length(), p.minus(minus).length()) }
	r := rand.New(rand.NewPCG(1, 2))
	var places []vec
	for range 60_000 {
		d := 0.02 * math.Pow(50, r.Float64())
		up, turn := r.Float64(), 2*math.Pi*r.Float64()
		flat := math.Sqrt(1 - up*up)
		places = append(places, vec{d * flat * math.Cos(turn), d * flat * math.Sin(turn), d * up})
	}
	far := vec{math.Inf(1), math.Inf(1), math.Inf(1)}
	tree := newBoxTree(places, vec{math.Inf(-1), math.Inf(-1), 0}, far, 1, gap, func(_ int, points, values []vec) bool {
		for i, p := range points {
			values[i] = at(p)
		}
		return true
	})
	tabled, worst := 0, 0.0
	for _, p := range places {
		b := tree.find(p)
		if b == nil {
			continue
		}
		tabled++
		got, ok := tree.at(b, 0, p)
		if !ok {
			t.Fatalf("no polynomial at %v", p)
		}
		worst = math.Max(worst, apart(got, at(p)))
	}
	if worst > 1e-3 {
		t.Errorf("largest |δE|/|E| %.2g", worst)
	}
	if tabled < len(places)/2 {
		t.Errorf("%d of %d places have a box", tabled, len(places))
	}
	t.Logf("%d of %d places have a box; largest |δE|/|E| %.2g", tabled, len(places), worst)
}

func TestBoxesThatAreNotWorthIt(t *testing.T) {
	far := vec{math.Inf(1), math.Inf(1), math.Inf(1)}
	none := func(int, []vec, []vec) bool { return false }
	far0 := far.times(-1)
	few := make([]vec, worthABox-1)
	if newBoxTree(few, far0, far, 1, func(vec) float64 { return 10 }, none) != nil {
		t.Error("a table for a handful of places")
	}
	if newBoxTree(make([]vec, 1000), far0, far, 1, func(vec) float64 { return 0 }, none) != nil {
		t.Error("a box on a body")
	}
	tree := newBoxTree(make([]vec, 1000), far0, far, 1, func(vec) float64 { return 10 }, none)
	b := tree.find(vec{})
	if b == nil {
		t.Fatal("no box")
	}
	if _, ok := tree.at(b, 0, vec{}); ok {
		t.Error("a polynomial without values")
	}
	if tree.find(vec{1, 0, 0}) != nil || (*boxTree)(nil).find(vec{}) != nil {
		t.Error("a box where there is none")
	}
}

// swarm adds passes that swim over the plate, 2 to 12 cm high, with many fixes.
func (w *world) swarm(passes, fixes int) {
	r := rand.New(rand.NewPCG(7, 8))
	for k := range passes {
		i := w.swim("0 0 0 5")
		w.s.Passes[i].Trial = k % len(w.s.Trials)
		rows := make([]study.Fix, fixes)
		x0, y0, a, z := 0.3*r.Float64()-0.15, 0.3*r.Float64()-0.15, 2*math.Pi*r.Float64(), 0.02+0.1*r.Float64()
		for n := range rows {
			s := 0.8 * (float64(n)/float64(fixes) - 0.5)
			rows[n] = study.Fix{TimeS: 0.04 * float64(n), XM: x0 + s*math.Cos(a), YM: y0 + s*math.Sin(a), HeightM: study.Some(z)}
		}
		w.s.Tracks[len(w.s.Tracks)-1].Points[0].Fixes = rows
	}
}

// The table of a plate against the engine asked directly, at heights of 2 cm and
// more, along paths all over it and on the pair itself. |δE|/|E| ≤ 2e-4.
func TestTableOfAPlateAgainstDirectValues(t *testing.T) {
	if testing.Short() {
		t.Skip("takes minutes under the race detector or on an emulated processor")
	}
	for _, c := range []struct {
		name   string
		change func(s *study.Study)
	}{
		{"a disc that stands proud", func(*study.Study) {}},
		{"a flush sheet", func(s *study.Study) { s.Plates[0] = study.Plate{SizeXM: 0.3, SizeYM: 0.24} }},
		{"wide electrodes", func(s *study.Study) { s.Pairs[0].ElectrodeDiameterM = 0.006 }},
		{"a pair over the plate", func(s *study.Study) { s.Pairs[0].HeightM = 0.01 }},
		{"buried", func(s *study.Study) { s.Plates[0].TopAboveBottomM = -0.02 }},
	} {
		w := onDisc(t)
		c.change(w.s)
		w.swarm(60, 60)
		w.swim("0 0 0 5")
		hover := &w.s.Tracks[len(w.s.Tracks)-1].Points[0]
		hover.Fixes = nil
		r := rand.New(rand.NewPCG(3, 4))
		for n := range 4000 {
			hover.Fixes = append(hover.Fixes, study.Fix{TimeS: float64(n), XM: 0.1 * (r.Float64() - 0.5), YM: 0.1 * (r.Float64() - 0.5), HeightM: study.Some(0.02 + 0.06*r.Float64())})
		}
		f := mustFields(t, w.s, waterOf(w.s, sandy))
		u := f.Pair(0, 0).(*platedUnit)
		if u.pair.table == nil {
			t.Fatal(c.name, "no table")
		}
		direct := *u
		direct.pair = &platedPair{responses: u.pair.responses}
		worst, tabled, asked := 0.0, 0, 0
		for range 800 {
			points := w.s.Tracks[r.IntN(len(w.s.Tracks))].Points
			if r.IntN(2) == 0 {
				points = []study.PointTrack{*hover}
			}
			fix := &points[0].Fixes[r.IntN(len(points[0].Fixes))]
			asked++
			if u.pair.table.find(vec{fix.XM, fix.YM, fix.HeightM.Value + topOf(w.s)}) == nil {
				continue
			}
			tabled++
			x, y, z := u.At(fix.XM, fix.YM, fix.HeightM.Value)
			dx, dy, dz := direct.At(fix.XM, fix.YM, fix.HeightM.Value)
			worst = math.Max(worst, apart(vec{x, y, z}, vec{dx, dy, dz}))
		}
		if !(worst <= 2e-4) || tabled < asked/5 {
			t.Errorf("%s: |δE|/|E| up to %.2g; %d of %d fixes had a box", c.name, worst, tabled, asked)
		}
		t.Logf("%s: |δE|/|E| up to %.2g; %d of %d fixes had a box", c.name, worst, tabled, asked)
	}
}

// One worker or three: the same bits, tables and all.
func TestWorkersChangeNothingOnPlates(t *testing.T) {
	compute := func(workers int) string {
		w := onDisc(t)
		water := w.many(6, func(i int) TrialWater {
			return TrialWater{WaterSPerM: 4.5 + 0.1*float64(i), BottomSPerM: 1, DepthM: 3}
		})
		w.swarm(150, 40)
		f, err := NewFields(w.s, water, FieldOptions{Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		if f.Pair(0, 0).(*platedUnit).pair.table == nil {
			t.Fatal("no table")
		}
		out, _, err := Compute(w.s, f, Options{Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		text := ""
		for i := range out {
			if !out[i].Used {
				t.Fatal(out[i].WhyNotUsed)
			}
			text += fmt.Sprintf("%x %x\n", out[i].Low, out[i].PhantomLow)
		}
		return text
	}
	if one, three := compute(1), compute(3); one != three {
		t.Error("the number of workers changes the bits")
	}
}

// BenchmarkFixesOnAPlate asks a season's fixes for the field of a pair on a plate,
// once more after the boxes of its table are made, and tells with the making too.
// Fixes without a box are asked of the engine.
func BenchmarkFixesOnAPlate(b *testing.B) {
	w := onDisc(b)
	w.s.Plates[0] = study.Plate{SizeXM: 0.3, SizeYM: 0.24, ThicknessM: 0.01}
	w.swarm(400, 250)
	f, err := NewFields(w.s, waterOf(w.s, sandy), FieldOptions{Workers: 1})
	if err != nil {
		b.Fatal(err)
	}
	u := f.Pair(0, 0)
	all := func() (asked int, took time.Duration) {
		began := time.Now()
		for i := range w.s.Tracks {
			for _, fix := range w.s.Tracks[i].Points[0].Fixes {
				if x, _, _ := u.At(fix.XM, fix.YM, fix.HeightM.Value); math.IsNaN(x) {
					b.Fatal("no field at ", fix)
				}
				asked++
			}
		}
		return asked, time.Since(began)
	}
	asked, first := all()
	var again time.Duration
	for b.Loop() {
		_, took := all()
		again += took
	}
	b.ReportMetric(float64(asked)/first.Seconds(), "first-points/s")
	b.ReportMetric(float64(b.N*asked)/again.Seconds(), "points/s")
}
