package conduction

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"testing"

	"pgregory.net/rapid"
)

// drawBody is any body near the origin, in the water, upon, half in or under the bottom.
func drawBody(t *rapid.T, m Medium, name string) Body {
	b := Body{Shape: BodyShape(rapid.IntRange(0, 2).Draw(t, name+" shape"))}
	b.SizeM[0] = rapid.Float64Range(0.1, 0.3).Draw(t, name+" length")
	b.SizeM[1] = rapid.Float64Range(0.06, 0.2).Draw(t, name+" breadth")
	b.SizeM[2] = b.SizeM[1]
	if b.Shape == BodyBox {
		b.SizeM[2] = rapid.Float64Range(0.06, 0.2).Draw(t, name+" height")
	}
	b.YawDeg = rapid.Float64Range(-180, 180).Draw(t, name+" yaw")
	b.PitchDeg = rapid.SampledFrom([]float64{0, 0, 90, -90, 30}).Draw(t, name+" pitch")
	b.SPerM = m.WaterSPerM * rapid.SampledFrom([]float64{0, 0, 0.1, 10, math.Inf(1)}).Draw(t, name+" conducts")
	s := newSolid(b)
	up := s.reach(Vector{Z: 1})
	b.Centre.Z = rapid.SampledFrom([]float64{1.2 * up, up, 0.4 * up, -1.3 * up}).Draw(t, name+" lies")
	return b
}

// What current flows through a surface round a body and no electrode: none.
// Midpoints of a cylinder's patches, 5 cm round it.
func TestBodiesGiveOffNoCurrent(t *testing.T) {
	long(t)
	fewCases(t, func(t *rapid.T) {
		m := drawSea(t)
		if math.IsInf(m.DepthM, 1) {
			m.DepthM = 5
		}
		b := drawBody(t, m, "body")
		pair := Pair{Centre: Point{0.5, 0.1, 0.1}, SeparationM: 0.1, AzimuthDeg: 30}.Electrodes(1e-5)
		s, err := SolveWithBodies(m, nil, []Body{b}, pair, PlateOptions{RelativeTolerance: 0.01})
		if err != nil {
			t.Fatal(err)
		}
		so := newSolid(b)
		lo, hi := so.heights()
		lo, hi = lo-0.05, hi+0.05
		if len(m.Layers) > 1 && m.Layers[1].SPerM == 0 {
			lo = math.Max(lo, -m.Layers[0].ThicknessM)
		}
		r := math.Max(so.reach(Vector{X: 1}), math.Max(so.reach(Vector{Y: 1}), so.reach(Vector{X: math.Sqrt2 / 2, Y: math.Sqrt2 / 2}))) * 1.1
		r = math.Min(r+0.05, 0.4)
		through, all := 0.0, 0.0
		st := newStack(m)
		add := func(p Point, n Vector, area float64) {
			e, err := s.FieldAt(p)
			if errors.Is(err, ErrOutside) {
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			slab, _ := st.slabAt(p.Z)
			j := st.slabs[slab].sigma * dotOf(e, n) * area
			through += j
			all += math.Abs(j)
		}
		const around = 48
		for g := range around {
			sin, cos := math.Sincos(2 * math.Pi * (float64(g) + 0.5) / around)
			for _, part := range cuts(st, lo, hi) {
				for k, x := range gaussNodes {
					z := (part[0]+part[1])/2 + x*(part[1]-part[0])/2
					add(Point{r * cos, r * sin, z}, Vector{cos, sin, 0}, gaussWeights[k]*(part[1]-part[0])/2*2*math.Pi*r/around)
				}
			}
			for k, x := range gaussNodes {
				rho := r * (1 + x) / 2
				a := gaussWeights[k] * r / 2 * rho * 2 * math.Pi / around
				add(Point{rho * cos, rho * sin, hi}, Vector{Z: 1}, a)
				add(Point{rho * cos, rho * sin, lo}, Vector{Z: -1}, a)
			}
		}
		if math.Abs(through) > 0.01*all {
			t.Errorf("%+v in %+v: %.2g of the current through its neighbourhood comes from the body", b, m, through/all)
		}
	})
}

// Reciprocity: the voltage that a current through one pair makes at another is that which
// it makes the other way round; what may be missing is what both solutions say of themselves.
func TestBodiesAreReciprocal(t *testing.T) {
	long(t)
	fewCases(t, func(t *rapid.T) {
		m := drawSea(t)
		m.DepthM = math.Max(m.DepthM, 1.5)
		bodies := []Body{drawBody(t, m, "body")}
		if rapid.Bool().Draw(t, "two") {
			other := drawBody(t, m, "other")
			other.Centre.X, other.Centre.Y = -0.5, 0.4
			bodies = append(bodies, other)
		}
		a := Pair{Centre: Point{0.35, 0.05, 0.08}, SeparationM: 0.03, AzimuthDeg: 20}
		b := Pair{Centre: Point{-0.1, -0.42, 0.15}, SeparationM: 0.03, AzimuthDeg: 120}
		there, bar1 := voltageBeside(t, m, bodies, a, b)
		back, bar2 := voltageBeside(t, m, bodies, b, a)
		if math.Abs(there-back) > bar1+bar2 {
			t.Errorf("%+v in %+v: %g V there, %g V back, bars %.2g and %.2g", bodies, m, there, back, bar1, bar2)
		}
	})
}

// voltageBeside is the voltage that 1 A through one pair makes at another beside
// bodies, and the error of it by the solution's own estimate.
func voltageBeside(t rapid.TB, m Medium, bodies []Body, driven, asked Pair) (v, bar float64) {
	t.Helper()
	s, err := SolveWithBodies(m, nil, bodies, driven.Electrodes(1), PlateOptions{RelativeTolerance: 0.01, Points: []Point{asked.Centre}})
	if err != nil {
		t.Fatal(err)
	}
	ends := asked.Electrodes(1)
	two := make([]float64, 2)
	if err := s.Potentials(two, []Point{ends[0].At, ends[1].At}); err != nil {
		t.Fatal(err)
	}
	e, err := s.FieldAt(asked.Centre)
	if err != nil {
		t.Fatal(err)
	}
	return two[0] - two[1], s.RelativeError() * e.Norm() * asked.SeparationM
}

// compared are two solutions at the same places.
func compared(t *testing.T, name string, a, b *BodySolution, points []Point, allowed float64) {
	t.Helper()
	want := make([]Vector, len(points))
	if err := b.Fields(want, points); err != nil {
		t.Fatal(name, err)
	}
	off := worstOf(t, a, points, func(k int) Vector { return want[k] })
	t.Logf("%s: apart by %.1e, estimates %.1e and %.1e", name, off, a.RelativeError(), b.RelativeError())
	if off > allowed {
		t.Errorf("%s: apart by %.2e, allowed %.2e", name, off, allowed)
	}
}

// Of a body that reaches into the bottom and conducts as the water, only the buried part is there; of
// one that conducts as the sediment, only the part above. That is another mesh, without the cut inside.
func TestBodyAcrossTheBottom(t *testing.T) {
	long(t)
	sea := Medium{WaterSPerM: 5, DepthM: 2, Layers: []Layer{{math.Inf(1), 1}}}
	pair := []Electrode{{At: Point{0.25, 0.05, 0.05}, CurrentA: 1e-5}, {At: Point{0.28, 0.05, 0.05}, CurrentA: -1e-5}}
	box := func(lo, hi, sigma float64) []Body {
		return []Body{{SizeM: [3]float64{0.2, 0.16, hi - lo}, Centre: Point{Z: (lo + hi) / 2}, YawDeg: 30, SPerM: sigma}}
	}
	tube := func(lo, hi, sigma float64) []Body {
		return []Body{{Shape: BodyCylinder, SizeM: [3]float64{hi - lo, 0.2, 0.2}, Centre: Point{Z: (lo + hi) / 2}, PitchDeg: 90, SPerM: sigma}}
	}
	points := []Point{{0.2, 0.2, 0.1}, {-0.2, 0, 0.05}, {0.1, -0.2, 0.02}, {0, 0, 0.2}, {0.3, 0.3, -0.1}, {0, 0.05, -0.25}}
	for name, shape := range map[string]func(lo, hi, sigma float64) []Body{"box": box, "cylinder": tube} {
		for _, c := range []struct {
			name         string
			sigma        float64
			lo, hi, a, b float64
		}{
			{"as the water", 5, -0.1, 0.08, -0.1, 0},
			{"as the sediment", 1, -0.1, 0.08, 0, 0.08},
		} {
			across := solvedWithBodies(t, sea, nil, shape(c.lo, c.hi, c.sigma), pair, 0.006, points...)
			part := solvedWithBodies(t, sea, nil, shape(c.a, c.b, c.sigma), pair, 0.006, points...)
			var ask []Point
			for _, p := range points {
				if _, err := across.FieldAt(p); err == nil {
					ask = append(ask, p)
				}
			}
			compared(t, name+", "+c.name, across, part, ask, across.RelativeError()+part.RelativeError())
		}
		// From far above the conductivity of all else, a body conducts perfectly.
		perfect := solvedWithBodies(t, sea, nil, shape(-0.1, 0.08, math.Inf(1)), pair, 0.006, points...)
		well := solvedWithBodies(t, sea, nil, shape(-0.1, 0.08, 5e5), pair, 0.006, points...)
		compared(t, name+", as good as perfect", well, perfect, points, perfect.RelativeError()+well.RelativeError()+1e-4)
	}
}

// A large conductivity is a perfect one, a small one none; equal to the water's it is nothing, to the bit.
func TestLimitsOfConductivity(t *testing.T) {
	long(t)
	sea := Medium{WaterSPerM: 5, DepthM: 2, Layers: []Layer{{math.Inf(1), 1}}}
	pair := Pair{Centre: Point{0.25, 0.05, 0}, SeparationM: 0.02}.Electrodes(1e-5)
	for _, shape := range []BodyShape{BodyBox, BodyCylinder, BodySpheroid} {
		b := Body{Shape: shape, SizeM: [3]float64{0.3, 0.12, 0.12}, Centre: Point{Z: 0.15}, YawDeg: 20, PitchDeg: 15}
		points := shell(b, 0.03, 20)
		with := func(sigma float64) *BodySolution {
			b.SPerM = sigma
			return solvedWithBodies(t, sea, nil, []Body{b}, pair, 0.05, points...)
		}
		compared(t, shape.String()+", perfect", with(5e7), with(math.Inf(1)), points, 1e-5)
		compared(t, shape.String()+", insulating", with(5e-8), with(0), points, 1e-5)
		plain, err := Solve(sea, pair, Options{})
		if err != nil {
			t.Fatal(err)
		}
		same := with(5)
		for _, p := range points {
			want, err := plain.FieldAt(p)
			got, err2 := same.FieldAt(p)
			if err != nil || err2 != nil || got != want {
				t.Errorf("%s of the water's conductivity: %v, without it %v (%v, %v)", shape, got, want, err, err2)
			}
		}
		if same.Unknowns() != 0 || same.Method() != plain.Method() {
			t.Errorf("%s of the water's conductivity: %d unknowns, %q", shape, same.Unknowns(), same.Method())
		}
		if _, err := same.FieldAt(b.Centre); !errors.Is(err, ErrInBody) {
			t.Errorf("inside a %s of the water's conductivity: %v", shape, err)
		}
	}
}

// Two bodies are solved together, each with the other's field.
func TestTwoBodies(t *testing.T) {
	deep := freeWater()
	pair := farPair(1e-6, Vector{X: 1})
	// Two balls on one axis, four radii apart, in a field along it: by the method of reflections each makes the other's field larger by
	// 2·b/R³ with the induced moment b = −a³/2 of an insulating ball, and so on in turn: b' = b/(1 − 2b/R³), to the order (a/R)⁵.
	const a, apart = 0.05, 0.2
	balls := []Body{
		{Shape: BodySpheroid, SizeM: [3]float64{2 * a, 2 * a, 2 * a}, Centre: Point{X: -apart / 2}},
		{Shape: BodySpheroid, SizeM: [3]float64{2 * a, 2 * a, 2 * a}, Centre: Point{X: apart / 2}},
	}
	s := solvedWithBodies(t, deep, nil, balls, pair, 0.001, Point{X: 2})
	e, err := s.FieldAt(Point{X: 2})
	if err != nil {
		t.Fatal(err)
	}
	b := -a * a * a / 2
	b /= 1 - 2*b/(apart*apart*apart)
	want := 2 * b * (1/math.Pow(2-apart/2, 3) + 1/math.Pow(2+apart/2, 3))
	if got := e.X/1e-6 - 1 - 4e-6*3; math.Abs(got/want-1) > 0.01 { // 12e-6: the far electrodes' field 2 m off the middle
		t.Errorf("two balls change the far field by %.4g of it, by reflections %.4g", got, want)
	}
}

// The same bits for any number of workers.
func TestBodiesAreTheSameOnAnyNumberOfCores(t *testing.T) {
	long(t)
	sea := Medium{WaterSPerM: 5, DepthM: 1, Layers: []Layer{{0.5, 1}, {math.Inf(1), 0.2}}}
	body := Body{Shape: BodyCylinder, SizeM: [3]float64{0.2, 0.1, 0.1}, Centre: Point{Z: 0.03}, PitchDeg: 20, SPerM: 0.4}
	points := shell(Body{SizeM: body.SizeM, Centre: Point{Z: 0.4}}, 0.1, 20)
	fields := func(workers int) []Vector {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(workers))
		s := solvedWithBodies(t, sea, nil, []Body{body}, Pair{Centre: Point{0.2, 0, 0.05}, SeparationM: 0.02}.Electrodes(1e-5), 0.05)
		out := make([]Vector, len(points))
		if err := s.Fields(out, points); err != nil {
			t.Fatal(err)
		}
		return out
	}
	one := fields(1)
	for _, n := range []int{2, 5} {
		if got := fields(n); fmt.Sprint(got) != fmt.Sprint(one) {
			t.Errorf("%d workers give other bits than one", n)
		}
	}
}
