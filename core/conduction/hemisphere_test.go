package conduction

import (
	"errors"
	"math"
	"testing"

	"brinefield/core/numeric/numtest"
)

// A hemisphere of radius a in a plane: the field I·ρ/(2πr²), radial, and a
// resistance to far away of ρ/(2πa). Source: the earthing hemisphere (Sunde, Earth
// Conduction Effects in Transmission Systems, from memory; Ohm's law through
// half shells gives it by hand). Over two half-spaces Ohm's law in parallel:
// ρ becomes 2/(σw + σs).
func TestHemisphereIsOhmsLawThroughHalfShells(t *testing.T) {
	inf := math.Inf(1)
	const a, current = 0.004, 6e-6
	tol := numtest.Tolerance{Rel: 1e-12}
	for _, c := range []struct {
		name        string
		m           Medium
		conductance float64 // of the half-spaces together
	}{
		{"insulating bottom", Medium{WaterSPerM: 5, DepthM: inf}, 5},
		{"bare sediment", Medium{WaterSPerM: 5, DepthM: inf, Layers: []Layer{{inf, 1.2}}}, 6.2},
		{"sediment of the water's conductivity", Medium{WaterSPerM: 5, DepthM: inf, Layers: []Layer{{inf, 5}}}, 10},
	} {
		s := mustSolve(t, c.m, Electrode{CurrentA: current, DiameterM: 2 * a, Hemisphere: true})
		for _, r := range []float64{a + 2e-9, 2 * a, 0.1, 3} {
			for _, up := range []float64{0, 0.3, 0.8, 1} {
				p := Point{r * math.Sqrt(1-up*up) * 0.6, r * math.Sqrt(1-up*up) * 0.8, r * up}
				e := mustField(t, s, p)
				want := current / (2 * math.Pi * c.conductance * r * r)
				numtest.Check(t, c.name+": |E|", e.Norm(), want, tol)
				numtest.Check(t, c.name+": radial part", (e.X*p.X+e.Y*p.Y+e.Z*p.Z)/r, want, tol)
			}
		}
		v, err := s.PotentialAt(Point{Z: a + 2e-9})
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, c.name+": resistance", v/current, 1/(2*math.Pi*c.conductance*a), numtest.Tolerance{Rel: 1e-6})
	}
}

// Not endless, the ball's surface has one voltage to about (a/h)², h the
// distance to what sends the field back, as the comment of the file says: an induced
// voltage E·a with E = f/h² beside the own f/a.
func TestHemisphereIsNearlyOfOneVoltage(t *testing.T) {
	for _, c := range []struct {
		name string
		h    float64
		at   func(a, h float64) *Solution
	}{
		{"another electrode", 0.05, func(a, h float64) *Solution {
			return mustSolve(t, insulatingBottom(5), Pair{SeparationM: h, DiameterM: 2 * a, Centre: Point{X: -h / 2}, Hemispheres: true}.Electrodes(1e-5)...)
		}},
		{"the surface over sediment", 0.05, func(a, h float64) *Solution {
			return mustSolve(t, Medium{WaterSPerM: 5, DepthM: h / 2, Layers: []Layer{{math.Inf(1), 0.5}}}, Electrode{CurrentA: 1e-5, DiameterM: 2 * a, Hemisphere: true})
		}},
	} {
		spread := func(a float64) float64 {
			s, lo, hi := c.at(a, c.h), math.Inf(1), math.Inf(-1)
			for _, up := range []float64{0, 0.5, 1} {
				for _, along := range []float64{-1, 1} {
					r := a * 1.001
					v, err := s.PotentialAt(Point{along * r * math.Sqrt(1-up*up), 0, r * up})
					if err != nil {
						t.Fatal(err)
					}
					lo, hi = math.Min(lo, v), math.Max(hi, v)
				}
			}
			return (hi - lo) / hi
		}
		for _, a := range []float64{0.002, 0.004, 0.008} {
			if got, most := spread(a), 4*math.Pow(a/c.h, 2); got > most || got == 0 {
				t.Errorf("%s: radius %g m: the voltage differs by %.3g over the ball; expected above 0 and at most %.3g", c.name, a, got, most)
			}
		}
		if fall := spread(0.002) / spread(0.001); fall < 3.5 {
			t.Errorf("%s: twice the radius makes the deviation %.2f times as large; expected about 4", c.name, fall)
		}
	}
}

// Off the ball a hemisphere on a plate is the point there, in a tank and by a table too.
func TestHemisphereOutsideIsThePoint(t *testing.T) {
	inf := math.Inf(1)
	square := Plate{SizeXM: 0.5, SizeYM: 0.5, ThicknessM: 0.01, TopM: 0.01}
	on := func(hemisphere bool) []Electrode {
		p := Pair{SeparationM: 0.02, Centre: Point{Z: 0.01}}
		if hemisphere {
			p.DiameterM, p.Hemispheres = 0.004, true
		}
		return p.Electrodes(1e-5)
	}
	points := []Point{{0.03, 0, 0.012}, {0, 0.05, 0.03}, {-0.1, 0.1, 0.2}, {0.3, 0, 0.005}}
	for name, m := range map[string]Medium{
		"sea":  {WaterSPerM: 5, DepthM: 3, Layers: []Layer{{inf, 1}}},
		"tank": {WaterSPerM: 5, DepthM: 0.5, Enclosure: &Enclosure{SizeXM: 2, SizeYM: 1.5}},
	} {
		var fields [2][]Vector
		for k := range fields {
			s, err := SolveOnPlates(m, []Plate{square}, on(k == 1), PlateOptions{RelativeTolerance: 0.02, Points: points})
			if err != nil {
				t.Fatal(err)
			}
			fields[k] = make([]Vector, len(points))
			if err := s.Fields(fields[k], points); err != nil {
				t.Fatal(err)
			}
		}
		for k := range points {
			if fields[0][k] != fields[1][k] {
				t.Errorf("%s, %v: %v on hemispheres, %v on points; expected the same bits", name, points[k], fields[1][k], fields[0][k])
			}
		}
	}

	m := Medium{WaterSPerM: 5, DepthM: 1, Layers: []Layer{{inf, 1}}}
	ball := Pair{SeparationM: 0.02, DiameterM: 0.004, Hemispheres: true}.Electrodes(1e-5)
	k, err := NewKernel(m, 0, 0, Region{1, 0, 0.5}, 1e-6)
	if err != nil {
		t.Fatal(err)
	}
	f, err := NewFastField(ball, k)
	if err != nil {
		t.Fatal(err)
	}
	s := mustSolve(t, m, Pair{SeparationM: 0.02}.Electrodes(1e-5)...)
	for _, p := range []Point{{0.2, 0.1, 0.1}, {0.013, 0, 0.001}} {
		got, err := f.FieldAt(p)
		if err != nil {
			t.Fatal(err)
		}
		if want := mustField(t, s, p); got.Sub(want).Norm() > 1e-6*want.Norm() {
			t.Errorf("table at %v: %v; expected %v", p, got, want)
		}
	}
	if _, err := f.FieldAt(Point{0.01, 0, 0.0019}); !errors.Is(err, ErrInElectrode) {
		t.Errorf("table inside the ball: %v; expected %v", err, ErrInElectrode)
	}
}

// In a tank a hemisphere is the point too, in full and by the fast way, on bare
// sediment over rock.
func TestHemispheresInATank(t *testing.T) {
	m := Medium{WaterSPerM: 5, DepthM: 0.5, Layers: []Layer{{0.3, 1.2}, {math.Inf(1), 0}}, Enclosure: &Enclosure{SizeXM: 2, SizeYM: 1.5}}
	pair := Pair{SeparationM: 0.02, Centre: Point{X: 0.3}}
	points := mustSolve(t, m, pair.Electrodes(1e-5)...)
	pair.DiameterM = 0.004
	pair.Hemispheres = true
	balls := mustSolve(t, m, pair.Electrodes(1e-5)...)
	fast, err := balls.Fast(Region{1, 0, 0.3}, 1e-5)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []Point{{0.3, 0.05, 0.03}, {-0.4, 0.5, 0.2}, {0.3125, 0, 0.001}} {
		got, want := mustField(t, balls, p), mustField(t, points, p)
		if got != want {
			t.Errorf("at %v: %v; expected the bits of points, %v", p, got, want)
		}
		quick, err := fast.FieldAt(p)
		if err != nil {
			t.Fatal(err)
		}
		if quick.Sub(want).Norm() > 1e-5*want.Norm() {
			t.Errorf("fast at %v: %v; expected %v", p, quick, want)
		}
	}
	for name, at := range map[string]func(Point) (Vector, error){"in full": balls.FieldAt, "fast": fast.FieldAt} {
		if _, err := at(Point{0.31, 0.001, 0.001}); !errors.Is(err, ErrInElectrode) {
			t.Errorf("%s, inside the ball: %v; expected %v", name, err, ErrInElectrode)
		}
	}
}

func TestHemispheresThatCannotStand(t *testing.T) {
	inf := math.Inf(1)
	sea := Medium{WaterSPerM: 5, DepthM: 2, Layers: []Layer{{inf, 1}}}
	endless := Medium{WaterSPerM: 5, DepthM: inf, WaterBelow: true}
	square := Plate{SizeXM: 0.6, SizeYM: 0.6, ThicknessM: 0.01, TopM: 0.02}
	buried := Plate{SizeXM: 0.6, SizeYM: 0.6, ThicknessM: 0.01, TopM: -0.02}
	roof := Plate{SizeXM: 0.6, SizeYM: 0.6, ThicknessM: 0.01, TopM: 0.02, CentreXM: 0.4}
	ball := func(x, y, z, diameter float64) Electrode {
		return Electrode{At: Point{x, y, z}, CurrentA: 1e-5, DiameterM: diameter, Hemisphere: true}
	}
	for _, c := range []struct {
		name       string
		m          Medium
		plates     []Plate
		electrodes []Electrode
		says       []string
	}{
		{"no diameter", sea, nil, []Electrode{ball(0, 0, 0, 0)}, []string{"electrode 1", "hemisphere of diameter 0"}},
		{"hangs", sea, nil, []Electrode{ball(0, 0, 0.1, 0.01)}, []string{"electrode 1", "0.1) m", "hangs free", "height 0"}},
		{"hangs over a plate", sea, []Plate{square}, []Electrode{ball(0, 0, 0.05, 0.01)}, []string{"electrode 1", "hangs free", "plate's top"}},
		{"no bottom", endless, nil, []Electrode{ball(0, 0, 0, 0.01)}, []string{"electrode 1", "no bottom"}},
		{"buried", sea, nil, []Electrode{ball(0, 0, -0.1, 0.01)}, []string{"electrode 1", "buried", "may be buried"}},
		{"on a buried plate", sea, []Plate{buried}, []Electrode{ball(0, 0, -0.02, 0.01)}, []string{"electrode 1", "buried"}},
		{"over the edge", sea, []Plate{square}, []Electrode{ball(0.298, 0, 0.02, 0.01)}, []string{"electrode 1", "over the edge of plate 1"}},
		{"out of the water", sea, nil, []Electrode{ball(0, 0, 0, 4)}, []string{"electrode 1", "radius of 2 m", "surface at 2 m"}},
		{"against a plate's side", sea, []Plate{square}, []Electrode{ball(0.304, 0, 0, 0.04)}, []string{"electrode 1", "touches plate 1"}},
		{"against a plate's corner", sea, []Plate{roof}, []Electrode{ball(0.08, 0.32, 0, 0.08)}, []string{"electrode 1", "touches plate 1"}},
		{"a disc above it", sea, nil, []Electrode{ball(0, 0, 0, 0.04), {At: Point{0.024, 0, 0.01}, DiameterM: 0.02}}, []string{"1 and 2 overlap"}},
		{"a point in it", sea, nil, []Electrode{{At: Point{0, 0.01, 0.01}}, ball(0, 0, 0, 0.04)}, []string{"1 and 2 overlap"}},
		{"two of them", sea, nil, []Electrode{ball(0, 0, 0, 0.04), ball(0.03, 0, 0, 0.04)}, []string{"1 and 2 overlap"}},
	} {
		_, err := SolveOnPlates(c.m, c.plates, c.electrodes, PlateOptions{RelativeTolerance: 0.05})
		checkRefusal(t, c.name, err, ErrElectrode, c.says...)
		if len(c.plates) == 0 {
			_, err := Solve(c.m, c.electrodes, Options{})
			checkRefusal(t, c.name+", without plates", err, ErrElectrode, c.says...)
		}
	}
	// What stands as near as can be is taken.
	if _, err := Solve(sea, []Electrode{ball(0, 0, 0, 0.04), {At: Point{0.05, 0, 0.01}, DiameterM: 0.02}, ball(-0.05, 0, 0, 0.04)}, Options{}); err != nil {
		t.Error(err)
	}
	if _, err := SolveOnPlates(sea, []Plate{roof}, []Electrode{ball(0.08, 0.36, 0, 0.08), ball(0.4, 0, 0.02, 0.04)}, PlateOptions{RelativeTolerance: 0.5}); err != nil {
		t.Error(err)
	}
	if _, err := SolveOnPlates(endless, []Plate{square}, []Electrode{ball(0, 0, 0.02, 0.04)}, PlateOptions{RelativeTolerance: 0.5}); err != nil {
		t.Error(err)
	}
}

func TestPointsInAHemisphere(t *testing.T) {
	sea := Medium{WaterSPerM: 5, DepthM: 2, Layers: []Layer{{math.Inf(1), 1}}}
	pair := Pair{SeparationM: 0.1, DiameterM: 0.04, Hemispheres: true}
	s := mustSolve(t, sea, pair.Electrodes(1e-5)...)
	pair.Centre.Z = 0.01
	plate := Plate{SizeXM: 0.6, SizeYM: 0.6, ThicknessM: 0.01, TopM: 0.01}
	p, err := SolveOnPlates(sea, []Plate{plate}, pair.Electrodes(1e-5), PlateOptions{RelativeTolerance: 0.5})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name     string
		at       Point
		want, on error // without and with the plate
	}{
		{"middle", Point{0.05, 0, 0}, ErrInElectrode, ErrInPlate},
		{"near its top", Point{0.05, 0, 0.0199}, ErrInElectrode, ErrInElectrode},
		{"over its top", Point{0.05, 0, 0.0301}, nil, nil},
		{"aslant", Point{0.05, 0.013, 0.013}, ErrInElectrode, ErrInElectrode},
		{"beside it", Point{0.05, 0.0201, 0.015}, nil, nil},
		{"under it", Point{0.05, 0, -0.01}, ErrInElectrode, ErrInElectrode},
		{"in the plate under it", Point{0.05, 0, 0.005}, ErrInElectrode, ErrInPlate},
		{"the other", Point{-0.055, 0, 0.012}, ErrInElectrode, ErrInElectrode},
	} {
		if _, err := s.FieldAt(c.at); !errors.Is(err, c.want) {
			t.Errorf("%s: %v; expected %v", c.name, err, c.want)
		}
		if _, err := p.FieldAt(c.at); !errors.Is(err, c.on) {
			t.Errorf("%s, on a plate: %v; expected %v", c.name, err, c.on)
		}
	}
}
