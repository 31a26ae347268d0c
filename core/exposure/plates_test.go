package exposure

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"brinefield/core/conduction"
	"brinefield/core/numeric/numtest"
	"brinefield/core/study"
)

// boarded is the small study of [newWorld] over sand of 1 S/m, with pair A on a
// thin board of 30 by 24 cm, flush with the sand, and pair B on a like board
// round its own centre, turned by 90° as the pair is.
func boarded(tb tester) *world {
	w := newWorld(tb)
	w.s.Bottom = study.Bottom{Kind: study.BottomSediment}
	board := study.Plate{Label: "west", SizeXM: 0.3, SizeYM: 0.24}
	w.s.Plates = []study.Plate{board, board}
	w.s.Plates[1].Label, w.s.Plates[1].CentreXM, w.s.Plates[1].YawDeg = "east", 0.8, 90
	return w
}

// onDisc is the same with pair A alone, on a disc of 30 cm that lies on the sand,
// its top 1.2 cm over the bottom.
func onDisc(tb tester) *world {
	w := newWorld(tb)
	w.s.Bottom = study.Bottom{Kind: study.BottomSediment}
	w.s.Plates = []study.Plate{{Disc: true, DiameterM: 0.3, ThicknessM: 0.012, TopAboveBottomM: 0.012}}
	w.s.Pairs, w.s.Trials = w.s.Pairs[:1], w.s.Trials[:1]
	return w
}

// many makes n trials like the first, each in its own water.
func (w *world) many(n int, water func(i int) TrialWater) []TrialWater {
	out := make([]TrialWater, n)
	first := w.s.Trials[0]
	w.s.Trials = nil
	for i := range out {
		first.ID = fmt.Sprintf("T%d", i+1)
		w.s.Trials = append(w.s.Trials, first)
		out[i] = water(i)
	}
	return out
}

var sandy = TrialWater{WaterSPerM: 5, BottomSPerM: 1, DepthM: 3}

func mustFields(tb tester, s *study.Study, water []TrialWater) *Fields {
	tb.Helper()
	f, err := NewFields(s, water, FieldOptions{Workers: 2})
	if err != nil {
		tb.Fatal(err)
	}
	return f
}

// directly is the engine's field of one pair, asked without any of this package's
// means, in the season frame, per ampere.
func directly(tb tester, w TrialWater, plates []study.Plate, pair *study.Pair, tolerance float64) func(p vec) vec {
	tb.Helper()
	top := plates[0].TopAboveBottomM
	var list []conduction.Plate
	for _, p := range plates {
		list = append(list, conduction.Plate{SizeXM: p.SizeXM, SizeYM: p.SizeYM, DiameterM: p.DiameterM, ThicknessM: p.ThicknessM, TopM: top, CentreXM: p.CentreXM, CentreYM: p.CentreYM, YawDeg: p.YawDeg})
	}
	solved, err := conduction.SolveOnPlates(
		conduction.Medium{WaterSPerM: w.WaterSPerM, DepthM: w.DepthM, Layers: []conduction.Layer{{ThicknessM: math.Inf(1), SPerM: w.BottomSPerM}}},
		list, conduction.Pair{
			Centre: conduction.Point{X: pair.CentreXM, Y: pair.CentreYM, Z: pair.HeightM + top}, AzimuthDeg: pair.AzimuthDeg,
			SeparationM: pair.SeparationM, DiameterM: pair.ElectrodeDiameterM,
		}.Electrodes(1), conduction.PlateOptions{RelativeTolerance: tolerance})
	if err != nil {
		tb.Fatal(err)
	}
	return func(p vec) vec {
		e, err := solved.FieldAt(conduction.Point{X: p.x, Y: p.y, Z: p.z + top})
		if err != nil {
			tb.Fatal(err)
		}
		return vec{e.X, e.Y, e.Z}
	}
}

// round is places about a centre: near, far, low and high.
func round(c vec) []vec {
	return []vec{
		{c.x + 0.02, c.y, 0.02},
		{c.x - 0.05, c.y + 0.04, 0.05},
		{c.x + 0.1, c.y - 0.1, 0.03},
		{c.x - 0.3, c.y + 0.2, 0.02},
		{c.x, c.y, 0.3},
		{c.x + 0.5, c.y + 0.6, 0.1},
		{c.x - 1.2, c.y, 0.4},
		{c.x + 0.15, c.y + 0.02, 0.005},
	}
}

func apart(a, b vec) float64 { return a.minus(b).length() / b.length() }

// Source: the engine itself, asked in its own frame. Pair B's board and pair are
// A's turned by 90°, and each is solved, because their trials name different
// boards.
func TestFieldsOnPlatesAreTheEngines(t *testing.T) {
	w := boarded(t)
	w.s.Pairs[0].ElectrodeDiameterM, w.s.Pairs[1].ElectrodeDiameterM = 0.004, 0.004
	w.s.Trials[0].Plate, w.s.Trials[1].Plate = "west", "east"
	w.s.Trials = w.s.Trials[:2]
	f := mustFields(t, w.s, waterOf(w.s, sandy))
	for pair := range 2 {
		p := &w.s.Pairs[pair]
		want := directly(t, sandy, w.s.Plates[pair:pair+1], p, platedTolerance)
		for _, at := range round(vec{p.CentreXM, p.CentreYM, 0}) {
			x, y, z := f.Pair(pair, pair).At(at.x, at.y, at.z)
			numtest.Check(t, fmt.Sprintf("pair %s at %v: |δE|/|E|", p.Label, at), apart(vec{x, y, z}, want(at)), 0, numtest.Tolerance{Abs: 1e-9})
		}
	}
	if x, _, _ := f.Pair(0, 1).At(0.8, 0, 0.1); !math.IsNaN(x) {
		t.Errorf("pair B has a field in a trial whose board it does not lie on: %g", x)
	}
}

// A disc that stands proud: heights count from its top. The pair above it counts
// from there too.
func TestHeightsCountFromTheTop(t *testing.T) {
	w := onDisc(t)
	w.s.Pairs = append(w.s.Pairs, study.Pair{Label: "C", CentreXM: 0.05, CentreYM: 0.02, HeightM: 0.03, SeparationM: 0.01, AzimuthDeg: 30, ElectrodeDiameterM: 0.003})
	f := mustFields(t, w.s, waterOf(w.s, sandy))
	for pair := range w.s.Pairs {
		p := &w.s.Pairs[pair]
		want := directly(t, sandy, w.s.Plates, p, platedTolerance)
		for _, at := range round(vec{p.CentreXM, p.CentreYM, 0}) {
			x, y, z := f.Pair(0, pair).At(at.x, at.y, at.z)
			numtest.Check(t, fmt.Sprintf("pair %s at %v: |δE|/|E|", p.Label, at), apart(vec{x, y, z}, want(at)), 0, numtest.Tolerance{Abs: 1e-9})
		}
	}
}

// With both boards there (no trial names one) each pair's field is that of the
// two boards; pair B lies as A does, mirrored or turned, so only one is solved.
func TestPairsThatLieAlikeShareOneSolution(t *testing.T) {
	w := boarded(t)
	w.s.Plates[1].YawDeg = 0
	w.s.Pairs[1].AzimuthDeg = 0
	w.s.Trials = w.s.Trials[:2]
	layouts, err := layoutsOf(w.s)
	if err != nil || len(layouts) != 1 {
		t.Fatalf("%d layouts, %v", len(layouts), err)
	}
	layouts[0].findAlike(w.s)
	if r := layouts[0].reps[1]; r.rep != 0 {
		t.Errorf("pair B stands for itself: %+v", r)
	}
	f := mustFields(t, w.s, waterOf(w.s, sandy))
	b := &w.s.Pairs[1]
	want := directly(t, sandy, w.s.Plates, b, platedTolerance)
	for _, at := range round(vec{b.CentreXM, b.CentreYM, 0}) {
		x, y, z := f.Pair(1, 1).At(at.x, at.y, at.z)
		numtest.Check(t, fmt.Sprintf("at %v: |δE|/|E|", at), apart(vec{x, y, z}, want(at)), 0, numtest.Tolerance{Abs: 2 * platedTolerance})
	}
	// A thicker board under B: nothing is alike any more.
	w.s.Plates[1].ThicknessM = 0.01
	if layouts, err = layoutsOf(w.s); err != nil {
		t.Fatal(err)
	}
	layouts[0].findAlike(w.s)
	if r := layouts[0].reps[1]; r.rep != 1 {
		t.Errorf("pair B uses pair A's solution on another board")
	}
}

// Four pairs in the corners of a square, as in season A: turned, mirrored and
// with the poles swapped, every one follows from the first. Source: the closed
// form of pairs on an endless plate has these symmetries.
func TestIsometriesCarryTheClosedForm(t *testing.T) {
	s := seasonA(t)
	s.Plates = []study.Plate{{SizeXM: 1.2, SizeYM: 1.2, ThicknessM: 0.01}}
	s.Pairs = append(s.Pairs, study.Pair{Label: "E", CentreXM: 0.4, CentreYM: -0.4, AzimuthDeg: 180, SeparationM: 0.01}, study.Pair{Label: "F", CentreXM: 0.4, CentreYM: 0.3, SeparationM: 0.01})
	layouts, err := layoutsOf(s)
	if err != nil {
		t.Fatal(err)
	}
	l := layouts[0]
	l.findAlike(s)
	field := func(k int, p vec) vec {
		e := electrodesOf(&s.Pairs[k])
		x, y, z := shallow{4, 1, e[0].at, e[1].at}.At(p.x, p.y, p.z)
		return vec{x, y, z}
	}
	for k, want := range []int{0, 0, 0, 0, 0, 5} {
		r := l.reps[k]
		if r.rep != want {
			t.Errorf("pair %s uses pair %s", s.Pairs[k].Label, s.Pairs[r.rep].Label)
			continue
		}
		for _, at := range round(centre(&s.Pairs[k])) {
			got := r.move.turn(field(r.rep, r.move.back(at))).times(r.sign)
			numtest.Check(t, s.Pairs[k].Label+": |δE|/|E|", apart(got, field(k, at)), 0, numtest.Tolerance{Abs: 1e-12})
			numtest.Check(t, "there and back", r.move.to(r.move.back(at)).minus(at).length(), 0, numtest.Tolerance{Abs: 1e-12})
		}
	}
	// Long plates carry fewer: A onto E and C (mirrored, turned), not onto B and D.
	s.Plates[0].SizeYM = 1.1
	if layouts, err = layoutsOf(s); err != nil {
		t.Fatal(err)
	}
	layouts[0].findAlike(s)
	for k, want := range []int{0, 1, 0, 1, 0, 5} {
		if layouts[0].reps[k].rep != want {
			t.Errorf("on a long plate pair %s uses pair %s", s.Pairs[k].Label, s.Pairs[layouts[0].reps[k].rep].Label)
		}
	}
}

// A season with a cast and a tide: twelve waters over one disc. Source: trials
// solved by themselves. |δE|/|E| ≤ 2e-4.
func TestMixedWatersAgreeWithEachTrialSolved(t *testing.T) {
	for _, c := range []struct {
		name   string
		bottom func(water float64) float64
		spread float64 // of the water's conductivity, S/m
		tide   float64 // m
		nodes  int
	}{
		{"one sediment", func(float64) float64 { return 1 }, 0.7, 0.14, 2 * 2},
		{"one sediment, much fresher at ebb", func(float64) float64 { return 1 }, 2, 0.47, 3 * 3},
		{"a sediment that follows its pore water", func(water float64) float64 { return water / 4 }, 0.9, 0.47, 3},
	} {
		w := onDisc(t)
		water := w.many(12, func(i int) TrialWater {
			a := 2 * math.Pi * (float64(i) + 0.3) / 12
			sigma := 4.6 + c.spread*math.Sin(a)
			return TrialWater{WaterSPerM: sigma, BottomSPerM: c.bottom(sigma), DepthM: 2.4 + c.tide*math.Cos(a)}
		})
		media := make([]conduction.Medium, len(water))
		for i := range water {
			media[i] = mediumOf(w.s, water[i])
		}
		if n := len(mixWaters(media).nodes); n != c.nodes {
			t.Errorf("%s: %d media are solved, want %d", c.name, n, c.nodes)
		}
		f := mustFields(t, w.s, water)
		worst := 0.0
		for _, trial := range []int{0, 2, 6, 9} {
			want := directly(t, water[trial], w.s.Plates, &w.s.Pairs[0], platedTolerance)
			for _, at := range round(vec{}) {
				ex, ey, ez := f.Pair(trial, 0).At(at.x, at.y, at.z)
				off := apart(vec{ex, ey, ez}, want(at))
				worst = math.Max(worst, off)
				numtest.Check(t, fmt.Sprintf("%s: trial %d at %v: |δE|/|E|", c.name, trial, at), off, 0, numtest.Tolerance{Abs: 2e-4})
			}
		}
		t.Logf("%s: largest |δE|/|E| %.2g", c.name, worst)
	}
}

// Above the surface of a shallower node the response goes on as its mirror
// image. Source: the trial of the highest tide, solved by itself. So near the
// surface of shallow water the depth counts most; |δE|/|E| ≤ 1e-2 there, where
// the field is a thousandth of that at 10 cm, and 2e-4 half-way up.
func TestMixedWatersAboveTheLowestTide(t *testing.T) {
	w := onDisc(t)
	water := w.many(6, func(i int) TrialWater {
		return TrialWater{WaterSPerM: 5, BottomSPerM: 1, DepthM: 0.8 + 0.05*float64(i)}
	})
	f := mustFields(t, w.s, water)
	want := directly(t, water[5], w.s.Plates, &w.s.Pairs[0], platedTolerance)
	for _, c := range []struct {
		at        vec
		tolerance float64
	}{{vec{0.1, 0.2, 0.95}, 1e-2}, {vec{0.05, 0, 1.02}, 1e-2}, {vec{0.6, 0.3, 0.9}, 1e-2}, {vec{0.1, 0.2, 0.4}, 2e-4}} {
		x, y, z := f.Pair(5, 0).At(c.at.x, c.at.y, c.at.z)
		numtest.Check(t, fmt.Sprintf("at %v: |δE|/|E|", c.at), apart(vec{x, y, z}, want(c.at)), 0, numtest.Tolerance{Abs: c.tolerance})
	}
}

// Weights of a mix: they sum to 1, and give back a quadratic in the contrast and
// in the logarithm of the depth. Source: interpolation is exact for polynomials
// of its degree.
func TestWaterGridIsExactForPolynomials(t *testing.T) {
	w := newWorld(t)
	w.s.Bottom = study.Bottom{Kind: study.BottomSediment, ThicknessM: study.Some(1.0), BasementSPerM: study.Some(0.05)}
	var media []conduction.Medium
	for i := range 40 {
		a := float64(i)
		media = append(media, mediumOf(w.s, TrialWater{WaterSPerM: 4.5 + math.Sin(a), BottomSPerM: 1.2 + 0.4*math.Cos(3*a), DepthM: 2 + 0.4*math.Sin(2*a)}))
	}
	mix := mixWaters(media)
	if len(mix.nodes) >= len(media) || len(mix.nodes) < 8 {
		t.Fatalf("%d nodes", len(mix.nodes))
	}
	f := func(m conduction.Medium) float64 {
		r := ratios(m)
		a, b, h := contrast(r[0]), contrast(r[1]), math.Log(m.DepthM)
		return 1 + a*a*h + 3*b - 2*a*b*h*h
	}
	for i, m := range media {
		sum, value := 0.0, 0.0
		for _, s := range mix.shares[i] {
			sum += s.weight
			value += s.weight * f(mix.nodes[s.node])
		}
		numtest.Check(t, "sum of the weights", sum, 1, numtest.Tolerance{Abs: 1e-12})
		numtest.Check(t, "a polynomial", value, f(m), numtest.Tolerance{Rel: 1e-11})
	}
	// A sediment of one conductivity on rock of one: the ratios lie on a line, and
	// one axis does for both.
	for i := range media {
		media[i] = mediumOf(w.s, TrialWater{WaterSPerM: 4.5 + 1.5*math.Sin(float64(i)), BottomSPerM: 1.2, DepthM: 2})
	}
	if n := len(mixWaters(media).nodes); n != 3 {
		t.Errorf("%d nodes for one ratio that changes, want 3", n)
	}
	// Depths far apart are groups of their own.
	for i := range media {
		media[i] = mediumOf(w.s, TrialWater{WaterSPerM: 4.5, BottomSPerM: 1.2, DepthM: 1 + 0.1*float64(i)})
	}
	mix = mixWaters(media)
	for i, m := range media {
		for _, s := range mix.shares[i] {
			if d := mix.nodes[s.node].DepthM; d > deepest*m.DepthM || m.DepthM > deepest*d {
				t.Errorf("a water of %g m takes from one of %g m", m.DepthM, d)
			}
		}
	}
}

func TestFieldsOnPlatesRefuse(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(s *study.Study)
		says   string
		is     error
	}{
		{"a pair beside the boards", func(s *study.Study) { s.Pairs[1].CentreXM = 3 }, "pair B lies on no plate", nil},
		{"another pair's board", func(s *study.Study) { s.Trials[0].Plate = "east" }, `trial T1 was run on the plate "east", but drove pair A`, nil},
		{"a pass at another board", func(s *study.Study) { s.Trials[0].Plate = "west"; s.Passes[0].Pair = 1 }, `its pass P1 is at pair B`, nil},
		{"an unknown board", func(s *study.Study) { s.Trials[0].Plate = "north" }, `names the plate "north"`, nil},
		{"two tops", func(s *study.Study) { s.Plates[1].TopAboveBottomM = 0.1 }, "expected one top", nil},
		{"boards that overlap", func(s *study.Study) { s.Plates[1].SizeXM, s.Plates[1].SizeYM = 2, 2 }, "overlap", conduction.ErrPlate},
		{"a board out of the water", func(s *study.Study) { s.Plates[0].TopAboveBottomM, s.Plates[1].TopAboveBottomM = 3, 3 }, "surface", conduction.ErrPlate},
	} {
		w := boarded(t)
		w.swim("0 10 5 5")
		c.change(w.s)
		_, err := NewFields(w.s, waterOf(w.s, sandy), FieldOptions{})
		if err == nil || !strings.Contains(err.Error(), c.says) || c.is != nil && !errors.Is(err, c.is) {
			t.Errorf("%s: error %v", c.name, err)
		}
	}
	w := boarded(t)
	if _, err := NewFields(w.s, waterOf(w.s, sandy), FieldOptions{Stop: func() bool { return true }}); !errors.Is(err, ErrStopped) {
		t.Errorf("stopped: error %v", err)
	}
}

// Heights of a season with a plate count from its top: the surface is nearer.
func TestTheWaterOverAPlate(t *testing.T) {
	w := onDisc(t)
	w.s.Plates[0].TopAboveBottomM = 0.5
	w.swim("0 10 5 5, 1 12 5 240")
	w.swim("0 10 5 5, 1 12 5 260")
	f, err := FieldsFrom(w.s, waterOf(w.s, sandy), func(_, _ int) UnitField { return shallow{5, math.Inf(1), vec{0.005, 0, 0}, vec{-0.005, 0, 0}} })
	if err != nil {
		t.Fatal(err)
	}
	got, _, err := Compute(w.s, f, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !got[0].Used || got[1].Used || !strings.Contains(got[1].WhyNotUsed, "2.5 m over the plate's top") {
		t.Errorf("%q and %q", got[0].WhyNotUsed, got[1].WhyNotUsed)
	}
}
