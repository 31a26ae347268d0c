package conduction

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"brinefield/core/numeric/numtest"
)

// The quick field of a round tank against the full calculation, at random points: to the
// tolerance asked for, beside wall and electrodes too.
func TestFastFieldInARoundTank(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		name  string
		m     Medium
		pair  Pair
		quick bool
	}{
		{"shallow", Medium{WaterSPerM: 4.3, DepthM: 0.9, Enclosure: &Enclosure{DiameterM: 4}}, Pair{Centre: Point{0.4, 0.4, 0}, SeparationM: 0.01}, true},
		{"2 cm from the wall", Medium{WaterSPerM: 4.3, DepthM: 0.5, Enclosure: &Enclosure{DiameterM: 2, CentreXM: 0.7}}, Pair{Centre: Point{1.68, 0, 0.05}, AzimuthDeg: 90, SeparationM: 0.02, DiameterM: 0.002}, true},
		{"deep", Medium{WaterSPerM: 4, DepthM: 3, Enclosure: &Enclosure{DiameterM: 1}}, Pair{Centre: Point{0.1, 0.2, 1}, SeparationM: 0.05}, true},
		{"sand below", Medium{WaterSPerM: 4, DepthM: 0.6, Layers: []Layer{{inf, 1.1}}, Enclosure: &Enclosure{DiameterM: 3}}, Pair{Centre: Point{0, 0, 0}, AzimuthDeg: 90, SeparationM: 0.01, DiameterM: 0.002}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := mustSolve(t, c.m, c.pair.Electrodes(1e-5)...)
			e := c.m.Enclosure
			f, err := s.Fast(Region{RhoMaxM: e.DiameterM, ZMinM: 0, ZMaxM: math.Min(c.m.DepthM, 1)}, 1e-6)
			if err != nil {
				t.Fatal(err)
			}
			if (f.round != nil) != c.quick {
				t.Errorf("quick = %v, want %v", f.round != nil, c.quick)
			}
			rng := rand.New(rand.NewPCG(1, 2))
			worst := 0.0
			for range 150 {
				sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
				r := e.DiameterM / 2 * math.Sqrt(rng.Float64())
				p := Point{e.CentreXM + r*cos, e.CentreYM + r*sin, rng.Float64() * math.Min(c.m.DepthM, 1)}
				if rng.IntN(2) == 0 { // close to the pair, where animals turn
					p = Point{c.pair.Centre.X + 0.2*(rng.Float64()-0.5), c.pair.Centre.Y + 0.2*(rng.Float64()-0.5), c.pair.Centre.Z + 0.2*rng.Float64()}
				}
				want, err := s.FieldAt(p)
				if err != nil {
					continue
				}
				got, err := f.FieldAt(p)
				if err != nil {
					t.Fatal(err)
				}
				worst = math.Max(worst, got.Sub(want).Norm()/want.Norm())
			}
			if worst > 1e-6 {
				t.Errorf("worst relative error %.2g, asked for 1e-6; own measure %.2g", worst, f.RelativeError())
			}
			if _, err := f.FieldAt(Point{e.CentreXM + e.DiameterM, 0, 0.1}); err == nil {
				t.Error("a point beyond the wall has a field")
			}
		})
	}
}

// Between all walls a trough's quick field has a box of its own. Source: the full calculation.
func TestFastFieldInAFlume(t *testing.T) {
	m := Medium{WaterSPerM: 5, DepthM: 0.3, Enclosure: &Enclosure{SizeXM: 20, SizeYM: 0.4}}
	s := mustSolve(t, m, Pair{Centre: Point{2, 0.05, 0.05}, SeparationM: 0.02}.Electrodes(1e-5)...)
	f, err := s.Fast(Region{RhoMaxM: 20, ZMaxM: 0.3}, 1e-6)
	if err != nil {
		t.Fatal(err)
	}
	if f.tank == nil {
		t.Fatal("no quick field")
	}
	for _, p := range []Point{{2.1, 0, 0.1}, {2, 0.2, 0.05}, {2.3, -0.15, 0.2}, {3, 0, 0.1}, {7, 0.1, 0.1}} {
		want := mustField(t, s, p)
		got, err := f.FieldAt(p)
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, "|δE|/|E|", got.Sub(want).Norm()/want.Norm(), 0, numtest.Tolerance{Abs: 1e-6})
	}
}

// Beyond [stack.farM] a closed column's current flows level. Source: the Hankel quadrature of the
// same kernel, with its zero of the potential.
func TestFarFieldOfAClosedColumn(t *testing.T) {
	for _, m := range []Medium{
		{WaterSPerM: 5, DepthM: 0.2},
		{WaterSPerM: 5, DepthM: 0.2, Layers: []Layer{{0.1, 0.5}, {0.3, 2}, {math.Inf(1), 0}}},
	} {
		st := newStack(m)
		for _, a := range []float64{0, 0.02} {
			sr := newSource(st, 0.05, a)
			for i := range st.slabs {
				z := (st.slabs[i].topM + st.slabs[i].bottomM) / 2
				rho := 1.001 * st.farM()
				far := sr.unitAt(i, rho*rho, z)
				near := sr.hankel(i, rho, z)
				if im, ok := sr.direct(i, z); ok {
					u := sr.imageUnit(unit{}, []image{im}, rho*rho, z)
					near = unit{near.pot + u.pot, near.rho + u.rho, near.z + u.z}
				}
				numtest.Check(t, "E along", far.rho, near.rho, numtest.Tolerance{Rel: 1e-10})
				numtest.Check(t, "E upward", near.z, 0, numtest.Tolerance{Abs: 1e-10 * far.rho * rho})
				numtest.Check(t, "φ", far.pot, near.pot, numtest.Tolerance{Rel: 1e-10, Abs: 1e-10})
			}
		}
	}
	if far := newStack(Medium{WaterSPerM: 5, DepthM: 0.2, Layers: []Layer{{math.Inf(1), 1}}}).farM(); !math.IsInf(far, 1) {
		t.Errorf("an open column is level beyond %g m", far)
	}
}

func BenchmarkRoundTank(b *testing.B) {
	inf := math.Inf(1)
	for _, c := range []struct {
		name string
		m    Medium
		gap  float64 // of the pair from the wall
		at   Point
	}{
		{"middle", Medium{WaterSPerM: 4.3, DepthM: 0.9}, 1.2, Point{0.6, 0.3, 0.1}},
		{"middle over deep sand", Medium{WaterSPerM: 4.3, DepthM: 0.9, Layers: []Layer{{inf, 1}}}, 1.2, Point{0.6, 0.3, 0.1}},
		{"pair at 10 cm, point on the wall", Medium{WaterSPerM: 4.3, DepthM: 0.9}, 0.1, Point{1.5, 0, 0.1}},
		{"pair at 2 cm, point on the wall", Medium{WaterSPerM: 4.3, DepthM: 0.9}, 0.02, Point{1.5, 0, 0.1}},
	} {
		c.m.Enclosure = &Enclosure{DiameterM: 3}
		electrodes := Pair{Centre: Point{1.5 - c.gap, 0, 0.05}, SeparationM: 0.02, AzimuthDeg: 90}.Electrodes(1e-5)
		electrodes[0].At.X -= 0.0001 // a straight pair is farther from a round wall in its middle
		electrodes[1].At.X -= 0.0001
		s, err := Solve(c.m, electrodes, Options{})
		if err != nil {
			b.Fatal(err)
		}
		b.Run("full/"+c.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := s.FieldAt(c.at); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run("prepare/"+c.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := s.Fast(Region{RhoMaxM: 3, ZMaxM: 0.5}, 1e-6); err != nil {
					b.Fatal(err)
				}
			}
		})
		f, err := s.Fast(Region{RhoMaxM: 3, ZMaxM: 0.5}, 1e-6)
		if err != nil {
			b.Fatal(err)
		}
		b.Run("quick/"+c.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := f.FieldAt(c.at); err != nil {
					b.Fatal(err)
				}
			}
		})
		if testing.Verbose() {
			fmt.Printf("%s: quick field measured at %.1g\n", c.name, f.RelativeError())
		}
	}
}
