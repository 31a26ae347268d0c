package conduction

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// The quick field of a tank against the full calculation, at random points:
// to the tolerance asked for, beside walls and electrodes too.
func TestFastFieldInATank(t *testing.T) {
	sand := []Layer{{ThicknessM: 0.1, SPerM: 1.1}, {ThicknessM: math.Inf(1), SPerM: 0}}
	for _, c := range []struct {
		name  string
		m     Medium
		pair  Pair
		quick bool
	}{
		{"shallow", Medium{WaterSPerM: 4.3, DepthM: 0.9, Enclosure: &Enclosure{SizeXM: 4, SizeYM: 3}}, Pair{Centre: Point{0.4, 0.4, 0}, SeparationM: 0.01}, true},
		{"off centre, near a wall", Medium{WaterSPerM: 4.3, DepthM: 0.5, Enclosure: &Enclosure{SizeXM: 2, SizeYM: 2, CentreXM: 0.7, CentreYM: -0.2}}, Pair{Centre: Point{-0.2, 0.3, 0.05}, AzimuthDeg: 30, SeparationM: 0.02, DiameterM: 0.002}, true},
		{"a long trough", Medium{WaterSPerM: 2, DepthM: 0.3, Enclosure: &Enclosure{SizeXM: 5, SizeYM: 0.8}}, Pair{Centre: Point{1, 0.1, 0}, SeparationM: 0.01}, true},
		{"deep", Medium{WaterSPerM: 4, DepthM: 3, Enclosure: &Enclosure{SizeXM: 1.5, SizeYM: 1.5}}, Pair{Centre: Point{0.1, 0.2, 1}, SeparationM: 0.05}, true},
		{"sand on the floor", Medium{WaterSPerM: 4, DepthM: 0.6, Layers: sand, Enclosure: &Enclosure{SizeXM: 3, SizeYM: 2}}, Pair{Centre: Point{0, 0, 0}, AzimuthDeg: 90, SeparationM: 0.01}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := Solve(c.m, c.pair.Electrodes(1e-5), Options{})
			if err != nil {
				t.Fatal(err)
			}
			e := c.m.Enclosure
			f, err := s.Fast(Region{RhoMaxM: math.Hypot(e.SizeXM, e.SizeYM), ZMinM: 0, ZMaxM: c.m.DepthM}, 1e-6)
			if err != nil {
				t.Fatal(err)
			}
			if (f.tank != nil) != c.quick {
				t.Errorf("quick = %v, want %v", f.tank != nil, c.quick)
			}
			rng := rand.New(rand.NewPCG(1, 2))
			worst := 0.0
			for range 150 {
				p := Point{e.CentreXM + (rng.Float64()-0.5)*e.SizeXM, e.CentreYM + (rng.Float64()-0.5)*e.SizeYM, rng.Float64() * c.m.DepthM}
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
			if testing.Verbose() && f.tank != nil {
				fmt.Printf("%s: %d images, %d×%d×%d, worst %.2g, measured %.2g\n", c.name, len(f.tank.images), f.tank.nx, f.tank.ny, f.tank.nz, worst, f.RelativeError())
			}
		})
	}
}

func BenchmarkTankFast(b *testing.B) {
	s, err := Solve(Medium{WaterSPerM: 4.3, DepthM: 0.9, Enclosure: &Enclosure{SizeXM: 4, SizeYM: 3}}, Pair{Centre: Point{0.4, 0.4, 0}, SeparationM: 0.01}.Electrodes(1e-5), Options{})
	if err != nil {
		b.Fatal(err)
	}
	r := Region{RhoMaxM: 5, ZMinM: 0, ZMaxM: 0.3}
	b.Run("prepare", func(b *testing.B) {
		for range b.N {
			if _, err := s.Fast(r, 1e-6); err != nil {
				b.Fatal(err)
			}
		}
	})
	f, err := s.Fast(r, 1e-6)
	if err != nil {
		b.Fatal(err)
	}
	for _, way := range []struct {
		name string
		at   func(Point) (Vector, error)
	}{{"quick", f.FieldAt}, {"full", s.FieldAt}} {
		b.Run(way.name, func(b *testing.B) {
			for i := range b.N {
				if _, err := way.at(Point{0.3 + float64(i%100)*0.01, 0.2, 0.05}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
