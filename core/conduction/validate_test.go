package conduction

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestBadMediaAndElectrodesAreRefused(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	water := Medium{WaterSPerM: 5, DepthM: 2}
	rock := Medium{WaterSPerM: 5, DepthM: inf, Layers: []Layer{{1, 2}, {1, 0}, {inf, 3}}}
	pair := Pair{SeparationM: 0.01}.Electrodes(1e-5)
	one := pair[:1]
	for _, c := range []struct {
		name       string
		m          Medium
		electrodes []Electrode
		want       error
		says       string
	}{
		{"no conductivity", Medium{DepthM: 2}, pair, ErrMedium, "water conductivity 0 S/m"},
		{"negative conductivity", Medium{WaterSPerM: -1, DepthM: 2}, pair, ErrMedium, "above 0"},
		{"NaN depth", Medium{WaterSPerM: 5, DepthM: nan}, pair, ErrMedium, "depth NaN"},
		{"no depth", Medium{WaterSPerM: 5}, pair, ErrMedium, "depth 0 m"},
		{"layers and water below", Medium{WaterSPerM: 5, DepthM: 2, WaterBelow: true, Layers: []Layer{{inf, 1}}}, pair, ErrMedium, "both sides"},
		{"last layer ends", Medium{WaterSPerM: 5, DepthM: 2, Layers: []Layer{{1, 1}}}, pair, ErrMedium, "layer 1 is the last"},
		{"endless layer inside", Medium{WaterSPerM: 5, DepthM: 2, Layers: []Layer{{inf, 1}, {inf, 1}}}, pair, ErrMedium, "layer 1: thickness"},
		{"negative layer", Medium{WaterSPerM: 5, DepthM: 2, Layers: []Layer{{inf, -1}}}, pair, ErrMedium, "layer 1: conductivity -1"},
		{"round tank without a width", Medium{WaterSPerM: 5, DepthM: 2, Enclosure: &Enclosure{DiameterM: -3}}, pair, ErrMedium, "diameter -3 m; expected above 0"},
		{"round and square", Medium{WaterSPerM: 5, DepthM: 2, Enclosure: &Enclosure{DiameterM: 3, SizeXM: 2, SizeYM: 2}}, pair, ErrMedium, "2 m by 2 m and diameter 3 m; expected one or the other"},
		{"NaN tank", Medium{WaterSPerM: 5, DepthM: 2, Enclosure: &Enclosure{DiameterM: nan}}, pair, ErrMedium, "enclosure"},
		{"outside a round tank", Medium{WaterSPerM: 5, DepthM: 2, Enclosure: &Enclosure{DiameterM: 3}}, []Electrode{{At: Point{1.2, 1.2, 0}, CurrentA: 1}, {At: Point{}, CurrentA: -1}}, ErrOutside, "electrode 1: at (1.2, 1.2) m it does not fit between the walls of the tank (round, 3 m across)"},
		{"over the edge of a round tank", Medium{WaterSPerM: 5, DepthM: 2, Enclosure: &Enclosure{DiameterM: 3}}, []Electrode{{At: Point{1.45, 0, 0}, CurrentA: 1, DiameterM: 0.2}, {At: Point{}, CurrentA: -1}}, ErrOutside, "electrode 1: at (1.45, 0) m"},
		{"currents in a round tank", Medium{WaterSPerM: 5, DepthM: inf, Enclosure: &Enclosure{DiameterM: 3}}, []Electrode{{At: Point{}, CurrentA: 1}}, ErrCurrents, "1 A are left over"},
		{"flat tank", Medium{WaterSPerM: 5, DepthM: 2, Enclosure: &Enclosure{SizeXM: 3}}, pair, ErrMedium, "enclosure 3 m by 0 m"},
		{"no electrodes", water, nil, ErrElectrode, "none given"},
		{"NaN place", water, []Electrode{{At: Point{nan, 0, 0}, CurrentA: 1, DiameterM: 0}}, ErrNotFinite, "electrode 1"},
		{"negative diameter", water, []Electrode{{At: Point{}, CurrentA: 0, DiameterM: -1}}, ErrElectrode, "diameter -1 m"},
		{"in the air", water, []Electrode{{At: Point{0, 0, 2.5}, CurrentA: 0, DiameterM: 0}}, ErrOutside, "from 0 m to 2 m"},
		{"under the floor", water, []Electrode{{At: Point{0, 0, -0.1}, CurrentA: 0, DiameterM: 0}}, ErrOutside, "height -0.1 m"},
		{"under rock", rock, []Electrode{{At: Point{0, 0, -2.5}, CurrentA: 1, DiameterM: 0}}, ErrOutside, "from -1 m upward"},
		{"overlap", water, []Electrode{{At: Point{}, CurrentA: 1, DiameterM: 0.02}, {At: Point{0.015, 0, 0}, CurrentA: -1, DiameterM: 0.02}}, ErrElectrode, "1 and 2 overlap"},
		{"through a wall", Medium{WaterSPerM: 5, DepthM: 2, Enclosure: &Enclosure{SizeXM: 1, SizeYM: 1}}, []Electrode{{At: Point{0.495, 0, 0}, CurrentA: 0, DiameterM: 0.02}}, ErrOutside, "between the walls"},
		{"closed column", water, one, ErrCurrents, "left over"},
		{"walls, open above", Medium{WaterSPerM: 5, DepthM: inf, Enclosure: &Enclosure{SizeXM: 1, SizeYM: 1}}, one, ErrCurrents, "left over"},
		{"disc on sand in a tank", Medium{WaterSPerM: 5, DepthM: 1, Layers: []Layer{{inf, 1}}, Enclosure: &Enclosure{SizeXM: 1, SizeYM: 1}}, Pair{SeparationM: 0.1, DiameterM: 0.01}.Electrodes(1), ErrNotYet, "bare sediment"},
	} {
		_, err := Solve(c.m, c.electrodes, Options{})
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v; expected %v", c.name, err, c.want)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %q does not say %q", c.name, err, c.says)
		}
	}
}

// A lone electrode is fine wherever a half-space is open.
func TestOpenMediaTakeALoneElectrode(t *testing.T) {
	inf := math.Inf(1)
	for _, m := range []Medium{
		{WaterSPerM: 5, DepthM: inf},
		{WaterSPerM: 5, DepthM: 2, Layers: []Layer{{inf, 1}}},
		{WaterSPerM: 5, DepthM: 2, WaterBelow: true},
		{WaterSPerM: 5, DepthM: inf, Layers: []Layer{{1, 1}, {inf, 0}}},
	} {
		s := mustSolve(t, m, Electrode{CurrentA: 1})
		if e := mustField(t, s, Point{0.1, 0, 0.1}); e.Norm() <= 0 {
			t.Errorf("%+v: no field", m)
		}
	}
}

func TestPointsThatHaveNoField(t *testing.T) {
	s := mustSolve(t, Medium{WaterSPerM: 5, DepthM: 2}, Pair{SeparationM: 0.1, DiameterM: 0.02}.Electrodes(1)...)
	fast, err := s.Fast(Region{1, 0, 2}, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		p    Point
		want error
	}{
		{Point{0.05, 0, 0}, ErrInElectrode},
		{Point{0.059, 0, 0}, ErrInElectrode},
		{Point{0, 0, 2.001}, ErrOutside},
		{Point{0, 0, -1e-9}, ErrOutside},
		{Point{math.NaN(), 0, 0}, ErrNotFinite},
		{Point{0, math.Inf(1), 0}, ErrNotFinite},
		{Point{0, 0, math.NaN()}, ErrNotFinite},
	} {
		if _, err := s.FieldAt(c.p); !errors.Is(err, c.want) {
			t.Errorf("FieldAt %v: %v; expected %v", c.p, err, c.want)
		}
		if _, err := fast.FieldAt(c.p); !errors.Is(err, c.want) {
			t.Errorf("fast FieldAt %v: %v; expected %v", c.p, err, c.want)
		}
	}
	for _, p := range []Point{{0.05, 0, 1e-4}, {0, 0, 0}, {0, 0, 2}, {0.0601, 0, 0}} {
		if _, err := s.FieldAt(p); err != nil {
			t.Errorf("FieldAt %v: %v", p, err)
		}
	}
}

// On an error dst stays as it was, and the error is that of the first bad point.
func TestFieldsLeaveDstAloneOnError(t *testing.T) {
	s := mustSolve(t, Medium{WaterSPerM: 5, DepthM: 2}, Pair{SeparationM: 0.1}.Electrodes(1)...)
	pts := millionPoints(3000, 2)
	pts[1700].Z, pts[2900].Z = 5, math.NaN()
	dst := make([]Vector, len(pts))
	err := s.Fields(dst, pts)
	if !errors.Is(err, ErrOutside) || !strings.Contains(err.Error(), "point 1700") {
		t.Errorf("%v; expected point 1700 outside", err)
	}
	for k, v := range dst {
		if v != (Vector{}) {
			t.Fatalf("dst[%d] = %v was written", k, v)
		}
	}
}

func TestPairElectrodes(t *testing.T) {
	for _, c := range []struct {
		azimuth float64
		want    Point
	}{{0, Point{1.5, 2, 3}}, {90, Point{1, 2.5, 3}}, {-90, Point{1, 1.5, 3}}, {180, Point{0.5, 2, 3}}, {450, Point{1, 2.5, 3}}} {
		e := Pair{Centre: Point{1, 2, 3}, AzimuthDeg: c.azimuth, SeparationM: 1}.Electrodes(2)
		if e[0].At != c.want || e[0].CurrentA != 2 || e[1].CurrentA != -2 {
			t.Errorf("azimuth %g: %+v; expected the positive electrode at %v", c.azimuth, e, c.want)
		}
	}
}

// Media far beyond any sea: nothing panics or hangs, and the two ways of
// calculating that the own estimate compares stay together.
func TestAbsurdMedia(t *testing.T) {
	logUniform := func(t *rapid.T, lo, hi float64, name string) float64 {
		return math.Exp(rapid.Float64Range(math.Log(lo), math.Log(hi)).Draw(t, name))
	}
	rapid.Check(t, func(t *rapid.T) {
		m := Medium{WaterSPerM: logUniform(t, 1e-8, 1e3, "water"), DepthM: math.Inf(1)}
		if rapid.Bool().Draw(t, "air") {
			m.DepthM = logUniform(t, 1e-3, 1e4, "depth")
		}
		for range rapid.IntRange(0, 5).Draw(t, "layers") {
			m.Layers = append(m.Layers, Layer{logUniform(t, 1e-3, 1e3, "thickness"), logUniform(t, 1e-9, 1e4, "layer")})
		}
		if n := len(m.Layers); n > 0 {
			m.Layers[n-1].ThicknessM = math.Inf(1)
		}
		st := newStack(m)
		a, b, p := drawPlace(t, st, "a"), drawPlace(t, st, "b"), drawPlace(t, st, "p")
		if math.Min(distance(a, b), math.Min(distance(a, p), distance(b, p))) < 0.01 {
			t.Skip("places coincide")
		}
		s := solved(t, m, Electrode{At: a, CurrentA: 1}, Electrode{At: b, CurrentA: -1})
		if _, err := s.FieldAt(p); err != nil {
			t.Fatal(err)
		}
		slab, _ := st.slabAt(p.Z)
		// Judge against one electrode alone: a shielded sum may vanish.
		for j, sr := range s.sources {
			dx, dy := p.X-s.electrodes[j].At.X, p.Y-s.electrodes[j].At.Y
			u, v := sr.unitAt(slab, dx*dx+dy*dy, p.Z), sr.unitOtherwise(slab, dx*dx+dy*dy, p.Z)
			rho := math.Hypot(dx, dy)
			size := math.Hypot(u.rho*rho, u.z) + 1e-6/(rho*rho)
			if d := math.Hypot((u.rho-v.rho)*rho, u.z-v.z); d > 1e-7*size {
				t.Fatalf("two ways differ by %g of %g", d, size)
			}
		}
	})
}
