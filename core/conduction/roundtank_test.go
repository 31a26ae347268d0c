package conduction

import (
	"errors"
	"math"
	"runtime"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
)

func roundMedia() map[string]Medium {
	wall := &Enclosure{DiameterM: 3, CentreXM: 0.2, CentreYM: -0.1}
	inf := math.Inf(1)
	return map[string]Medium{
		"water on a floor": {WaterSPerM: 4.31, DepthM: 0.9, Enclosure: wall},
		"sediment":         {WaterSPerM: 5, DepthM: 1.2, Layers: []Layer{{0.3, 1.2}, {inf, 0}}, Enclosure: wall},
		"open below":       {WaterSPerM: 5, DepthM: 1.2, Layers: []Layer{{inf, 1}}, Enclosure: wall},
		"two layers below": {WaterSPerM: 5, DepthM: 0.7, Layers: []Layer{{0.2, 0.05}, {0.4, 2}, {inf, 0.3}}, Enclosure: wall},
		"open above":       {WaterSPerM: 5, DepthM: inf, Enclosure: wall},
		"open both ways":   {WaterSPerM: 5, DepthM: inf, WaterBelow: true, Enclosure: wall},
		"tall":             {WaterSPerM: 5, DepthM: 12, Enclosure: wall},
		"a pan":            {WaterSPerM: 5, DepthM: 0.05, Enclosure: wall},
	}
}

var roundNames = []string{"water on a floor", "sediment", "open below", "two layers below", "open above", "open both ways", "tall", "a pan"}

func roundPair(m Medium, diameter float64) []Electrode {
	z := math.Min(0.1, 0.4*m.DepthM)
	return []Electrode{{At: Point{0.4, 0.2, z}, CurrentA: 6e-6, DiameterM: diameter}, {At: Point{0.45, 0.2, 1.1 * z}, CurrentA: -6e-6}}
}

// A point in a cylinder closed above and below, as the classical series over the zeros of
// J_1, for electrodes on the axis:
//
//	φ = column + Σ_s I/(σπR²) J_0(k_sρ)/J_0(k_sR)² · cosh k_s z_< cosh k_s(H − z_>)/(k_s sinh k_sH)
//
// Source: separation of variables (Carslaw and Jaeger, Conduction of Heat in Solids,
// chapter 14, give its like). Closeness: what is left of the series.
func TestRoundTankAgainstTheSeriesOfACylinder(t *testing.T) {
	const radius, height, sigma, current = 0.5, 1.4, 3.0, 2e-5
	m := Medium{WaterSPerM: sigma, DepthM: height, Enclosure: &Enclosure{DiameterM: 2 * radius}}
	a, b := 0.2, 0.35
	s := mustSolve(t, m, Electrode{At: Point{Z: a}, CurrentA: current}, Electrode{At: Point{Z: b}, CurrentA: -current})
	var zeros []float64 // of J_1
	for x := 3.0; len(zeros) < 60; x += 0.5 {
		if math.J1(x)*math.J1(x+0.5) < 0 {
			lo, hi := x, x+0.5
			for range 60 {
				if mid := (lo + hi) / 2; math.J1(lo)*math.J1(mid) <= 0 {
					hi = mid
				} else {
					lo = mid
				}
			}
			zeros = append(zeros, (lo+hi)/2)
		}
	}
	series := func(p Point) (phi float64, e Vector) {
		area := math.Pi * radius * radius
		rho := math.Hypot(p.X, p.Y)
		for _, el := range s.electrodes {
			f := el.CurrentA / (sigma * area)
			below, above := math.Min(p.Z, el.At.Z), math.Max(p.Z, el.At.Z)
			// The column: −|z − z_j|/2 and what keeps the ends tight and the mean 0.
			phi += f * (-above + (p.Z*p.Z+el.At.Z*el.At.Z)/(2*height) + height/3)
			e.Z += f * (heaviside(p.Z-el.At.Z) - p.Z/height)
			for _, x := range zeros {
				k := x / radius
				g := math.Exp(-k*(above-below)) * (1 + math.Exp(-2*k*below)) * (1 + math.Exp(-2*k*(height-above))) / (2 * k * -math.Expm1(-2*k*height))
				slope := k * g * math.Tanh(k*p.Z)
				if p.Z > el.At.Z {
					slope = -k * g * math.Tanh(k*(height-p.Z))
				}
				w := f / (math.J0(x) * math.J0(x))
				phi += w * math.J0(k*rho) * g
				e.Z -= w * math.J0(k*rho) * slope
				e.X += w * k * math.J1(k*rho) * g * p.X / rho
				e.Y += w * k * math.J1(k*rho) * g * p.Y / rho
			}
		}
		return phi, e
	}
	for _, p := range []Point{{0.1, 0, 0.55}, {0.3, 0.2, 0.56}, {0.5, 0, 0.6}, {0.2, -0.4, 0.6}, {0.01, 0, 0.7}, {0.2, 0.1, 1.4}, {0.4, 0, 1}} {
		wantPhi, want := series(p)
		phi, err := s.PotentialAt(p)
		if err != nil {
			t.Fatal(err)
		}
		e := mustField(t, s, p)
		numtest.Check(t, "|δE|/|E|", e.Sub(want).Norm()/want.Norm(), 0, numtest.Tolerance{Abs: 1e-10})
		numtest.Check(t, "φ", phi, wantPhi, numtest.Tolerance{Abs: 3e-12 * math.Abs(current/(sigma*radius))})
	}
}

func heaviside(x float64) float64 {
	if x > 0 {
		return 1
	}
	return 0
}

// Far along a tall tube the current is even: E = I/(σπR²) between the electrodes. Source:
// Ohm's law; what is left falls as e^(−3.83·z/R).
func TestRoundTankAlongATube(t *testing.T) {
	m := Medium{WaterSPerM: 2, DepthM: 4, Enclosure: &Enclosure{DiameterM: 0.2}}
	s := mustSolve(t, m, Electrode{At: Point{Z: 0.5}, CurrentA: 1e-3}, Electrode{At: Point{Z: 3.5}, CurrentA: -1e-3})
	for _, p := range []Point{{0, 0, 2}, {0.05, 0.02, 1.7}, {0.1, 0, 2.4}} {
		e := mustField(t, s, p)
		numtest.Check(t, "E_z", e.Z, 1e-3/(2*math.Pi*0.01), numtest.Tolerance{Rel: 1e-12})
		numtest.Check(t, "E across", math.Hypot(e.X, e.Y)/e.Z, 0, numtest.Tolerance{Abs: 1e-12})
	}
}

// A wall 2 km off leaves open water. Source: the solution without walls; the wall's part falls
// as (r/R)².
func TestVeryLargeRoundTankIsOpenWater(t *testing.T) {
	for _, m := range []Medium{{WaterSPerM: 5, DepthM: 0.5}, {WaterSPerM: 5, DepthM: 0.5, Layers: []Layer{{0.4, 1}, {math.Inf(1), 0.1}}}} {
		electrodes := Pair{Centre: Point{0.3, 0.1, 0.2}, SeparationM: 0.01, AzimuthDeg: 20}.Electrodes(1e-5)
		open := mustSolve(t, m, electrodes...)
		m.Enclosure = &Enclosure{DiameterM: 4000}
		tank := mustSolve(t, m, electrodes...)
		for _, p := range []Point{{0.4, 0.1, 0.05}, {0.35, 0.3, 0.3}, {2, -1, 0.2}} {
			want, e := mustField(t, open, p), mustField(t, tank, p)
			numtest.Check(t, "|δE|/|E|", e.Sub(want).Norm()/want.Norm(), 0, numtest.Tolerance{Abs: 1e-5})
		}
	}
}

// No current through the wall, the air and the floor, from points and discs, from the middle
// and from 2 cm beside the wall. Source: the problem.
func TestRoundTankInsulates(t *testing.T) {
	for _, name := range roundNames {
		m := roundMedia()[name]
		w := m.Enclosure
		z := math.Min(0.1, 0.4*m.DepthM)
		for _, electrodes := range [][]Electrode{
			roundPair(m, 0), roundPair(m, 0.01),
			{{At: Point{w.CentreXM + 1.48, w.CentreYM, z}, CurrentA: 1e-5}, {At: Point{w.CentreXM, w.CentreYM + 1.47, z}, CurrentA: -1e-5, DiameterM: 0.004}},
		} {
			s := mustSolve(t, m, electrodes...)
			for n := range 5 {
				sin, cos := math.Sincos(float64(n))
				p := Point{w.CentreXM + 1.5*cos, w.CentreYM + 1.5*sin, z * (0.3 + 0.5*float64(n))}
				p.Z = math.Min(p.Z, 0.9*m.DepthM)
				e := mustField(t, s, p)
				numtest.Check(t, name+": E through the wall", (e.X*cos+e.Y*sin)/e.Norm(), 0, numtest.Tolerance{Abs: 1e-10})
			}
			inside := Point{w.CentreXM + 0.3, w.CentreYM + 0.4, 0}
			size := mustField(t, s, inside).Norm()
			if s.stack.air {
				inside.Z = m.DepthM
				numtest.Check(t, name+": E into air", mustField(t, s, inside).Z, 0, numtest.Tolerance{Abs: 1e-12 * size})
			}
			if s.stack.floor {
				inside.Z = s.stack.slabs[len(s.stack.slabs)-1].bottomM
				numtest.Check(t, name+": E into the floor", mustField(t, s, inside).Z, 0, numtest.Tolerance{Abs: 1e-12 * size})
			}
		}
	}
}

// The two sums, over standing waves and over modes of the circle, share no
// term; where both are good they agree, in every layer. Source: each of the other.
func TestRoundTankSumsAgree(t *testing.T) {
	for _, name := range roundNames[:7] {
		m := roundMedia()[name]
		for _, diameter := range []float64{0, 0.02} {
			s := mustSolve(t, m, roundPair(m, diameter)...)
			rt := s.tank.(*roundTank)
			for _, p := range []Point{{0.5, 0.3, 1.19}, {-0.6, -1, 1.15}, {1.7, -0.1, 1.17}, {0.3, 0.1, -0.85}, {0.9, 0.4, -0.95}} {
				slab, err := s.checkPoint(p)
				if err != nil {
					continue
				}
				phi, e := rt.eval(slab, p)
				phi2, e2 := rt.across(slab, p)
				numtest.Check(t, name+": |δE|/|E|", e.Sub(e2).Norm()/e.Norm(), 0, numtest.Tolerance{Abs: 3e-10})
				numtest.Check(t, name+": φ", phi, phi2, numtest.Tolerance{Abs: 1e-10 * e.Norm()})
			}
		}
	}
}

// None of the free choices shows, and the solution's own estimate says so, down to
// electrodes 2 cm and points 0 to 3 cm from the wall.
func TestRoundTankDoesNotDependOnItsChoices(t *testing.T) {
	long(t)
	for _, name := range []string{"water on a floor", "open below", "two layers below", "tall"} {
		m := roundMedia()[name]
		for _, c := range []struct {
			electrodes []Electrode
			points     []Point
		}{
			{roundPair(m, 0), []Point{{0.5, 0.25, 0.05}, {0.42, 0.2, 0}, {-0.9, -0.35, 0.2}, {1.4, 0.3, 0.24}, {1.7, -0.1, 0.1}}},
			{roundPair(m, 0.02), []Point{{0.5, 0.25, 0.05}, {-0.9, -0.35, 0.2}, {1.7, -0.1, 0.1}}},
			{
				[]Electrode{{At: Point{1.68, -0.1, 0.1}, CurrentA: 1e-5, DiameterM: 0.004}, {At: Point{1.68, -0.08, 0.1}, CurrentA: -1e-5, DiameterM: 0.004}},
				[]Point{{1.6, 0, 0.1}, {1.7, -0.1, 0.12}, {1.698, -0.09, 0.1}, {-1.3, -0.1, 0.1}, {0.2, 1.37, 0.3}},
			},
		} {
			s := mustSolve(t, m, c.electrodes...)
			for _, p := range c.points {
				slab, err := s.checkPoint(p)
				if err != nil {
					t.Fatal(name, p, err)
				}
				_, e := s.tank.eval(slab, p)
				_, e2 := s.tank.other().eval(slab, p)
				numtest.Check(t, name+": |δE|/|E|", e.Sub(e2).Norm()/e.Norm(), 0, numtest.Tolerance{Abs: 5e-11})
			}
			own, err := s.RelativeErrorAt(c.points)
			if err != nil {
				t.Fatal(err)
			}
			numtest.Check(t, name+": own estimate", own, 0, numtest.Tolerance{Abs: 1e-10})
		}
	}
}

// Currents out of spheres round an electrode: I/σ of what they enclose, near the wall too.
// Source: Gauss; a product rule that integrates what is harmonic.
func TestRoundTankGauss(t *testing.T) {
	long(t)
	for _, name := range []string{"water on a floor", "open below"} {
		m := roundMedia()[name]
		electrodes := []Electrode{{At: Point{1.5, -0.1, 0.4}, CurrentA: 3e-6}, {At: Point{0.2, 0.4, 0.3}, CurrentA: -3e-6, DiameterM: 0.01}}
		s := mustSolve(t, m, electrodes...)
		for _, c := range []struct {
			centre Point
			radius float64
			inside float64
		}{{Point{1.5, -0.1, 0.4}, 0.15, 3e-6}, {Point{1.45, -0.05, 0.42}, 0.18, 3e-6}, {Point{0.2, 0.4, 0.3}, 0.1, -3e-6}, {Point{0.8, -0.5, 0.4}, 0.25, 0}} {
			us, ws := panel(nil, nil, -1, 0)
			us, ws = panel(us, ws, 0, 1)
			flux := 0.0
			for i, u := range us {
				for k := range 48 {
					sin, cos := math.Sincos(2 * math.Pi * (float64(k) + 0.5) / 48)
					n := Vector{math.Sqrt(1-u*u) * cos, math.Sqrt(1-u*u) * sin, u}
					e := mustField(t, s, Point{c.centre.X + c.radius*n.X, c.centre.Y + c.radius*n.Y, c.centre.Z + c.radius*n.Z})
					flux += ws[i] * 2 * math.Pi / 48 * c.radius * c.radius * dotOf(e, n)
				}
			}
			numtest.Check(t, name+": current", flux*m.WaterSPerM, c.inside, numtest.Tolerance{Abs: 3e-6 * 1e-8})
		}
	}
}

// Reciprocity: the voltage that pair A's current makes between B's electrodes is that of
// B's between A's, over random tanks. Source: Helmholtz's theorem.
func TestRoundTankReciprocity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		radius := rapid.Float64Range(0.2, 3).Draw(t, "R")
		m := Medium{WaterSPerM: rapid.Float64Range(0.1, 6).Draw(t, "σ"), DepthM: rapid.Float64Range(0.1, 2).Draw(t, "depth"), Enclosure: &Enclosure{DiameterM: 2 * radius, CentreXM: 0.3, CentreYM: -2}}
		switch rapid.IntRange(0, 3).Draw(t, "bottom") {
		case 1:
			m.Layers = []Layer{{math.Inf(1), 0.7}}
		case 2:
			m.Layers = []Layer{{0.3, 0.2}, {math.Inf(1), 0}}
		case 3:
			m.DepthM = math.Inf(1)
		}
		top := math.Min(m.DepthM, 1.5)
		place := func(name string) Point {
			a := rapid.Float64Range(0, 2*math.Pi).Draw(t, name+" angle")
			r := radius * rapid.Float64Range(0, 0.97).Draw(t, name+" distance")
			sin, cos := math.Sincos(a)
			return Point{0.3 + r*cos, -2 + r*sin, top * rapid.Float64Range(0.01, 0.99).Draw(t, name+" height")}
		}
		var at [4]Point
		for i, name := range []string{"a", "b", "c", "d"} {
			at[i] = place(name)
			for _, q := range at[:i] {
				if distance(q, at[i]) < 0.05*radius {
					t.Skip("too close")
				}
			}
		}
		voltage := func(a, b, c, d Point) float64 {
			s := solved(t, m, Electrode{At: a, CurrentA: 1}, Electrode{At: b, CurrentA: -1})
			v, err := s.PotentialAt(c)
			w, err2 := s.PotentialAt(d)
			if err != nil || err2 != nil {
				t.Fatal(err, err2)
			}
			return v - w
		}
		size := 1 / (m.WaterSPerM * 0.05 * radius)
		numtest.Check(t, "voltage", voltage(at[0], at[1], at[2], at[3]), voltage(at[2], at[3], at[0], at[1]), numtest.Tolerance{Abs: 1e-10 * size})
	})
}

// A disc is what its points are: the same current from points on rings ρ = a√(1 − u²), u
// even, which is the flux of an equipotential disc. Source: that flux; Gauss's rule.
func TestRoundTankDiscIsItsPoints(t *testing.T) {
	long(t)
	for _, name := range []string{"water on a floor", "open below", "tall"} {
		m := roundMedia()[name]
		const a = 0.03
		sink := Electrode{At: Point{-0.3, 0.2, 0.3}, CurrentA: -1e-5}
		disc := Electrode{At: Point{1.62, -0.1, 0.2}, CurrentA: 1e-5, DiameterM: 2 * a}
		s := mustSolve(t, m, disc, sink)
		points := []Electrode{sink}
		us, ws := discRule(8)
		for i, u := range us {
			r := a * math.Sqrt(1-u*u)
			for k := range 32 {
				sin, cos := math.Sincos(2 * math.Pi * (float64(k) + 0.5) / 32)
				points = append(points, Electrode{At: Point{disc.At.X + r*cos, disc.At.Y + r*sin, disc.At.Z}, CurrentA: 1e-5 * ws[i] / 32})
			}
		}
		many := mustSolve(t, m, points...)
		for _, p := range []Point{{1.5, 0, 0.25}, {1.7, -0.1, 0.3}, {0.2, 0.3, 0.1}, {1.6, -0.1, 1.5}} {
			if _, err := s.checkPoint(p); err != nil {
				continue
			}
			want, e := mustField(t, many, p), mustField(t, s, p)
			numtest.Check(t, name+": |δE|/|E|", e.Sub(want).Norm()/want.Norm(), 0, numtest.Tolerance{Abs: 1e-6})
		}
	}
}

// A disc on bare sediment passes no current through its back, in a round tank too. Source: the
// problem; what the wall and the layers send back disturbs it by (a/distance)².
func TestRoundTankDiscOnSediment(t *testing.T) {
	m := roundMedia()["open below"]
	const a = 0.01
	s := mustSolve(t, m, Electrode{At: Point{0.4, 0.2, 0}, CurrentA: 1e-5, DiameterM: 2 * a}, Electrode{At: Point{-0.4, 0.3, 0}, CurrentA: -1e-5, DiameterM: 2 * a})
	usual := 1e-5 / (2 * math.Pi * a * a) // the mean current density of its face
	for _, r := range []float64{0, 0.3, 0.6} {
		e := mustField(t, s, Point{0.4 + r*a, 0.2, -1e-7})
		numtest.Check(t, "E_z under it", e.Z*1/usual, 0, numtest.Tolerance{Abs: 1e-4})
	}
}

// The mean of the potential over a closed tank is 0, sediment and all, whatever discs there
// are. Equal steps in the angle, Gauss in ρ² and z. Source: the definition of its zero.
func TestRoundTankPotentialHasZeroMean(t *testing.T) {
	for _, name := range []string{"water on a floor", "sediment"} {
		m := roundMedia()[name]
		s := mustSolve(t, m, Electrode{At: Point{0.4, 0.2, 0.45}, CurrentA: 1, DiameterM: 0.2}, Electrode{At: Point{0.2, -0.1, 0.45}, CurrentA: -1})
		sum, volume, largest := 0.0, 0.0, 0.0
		edges := []float64{0.45, m.DepthM, 0, 0.45}
		for _, sl := range s.stack.slabs[1:] {
			edges = append(edges, sl.bottomM, sl.topM)
		}
		for i := 0; i < len(edges); i += 2 {
			zs, ws := panel(nil, nil, edges[i], edges[i+1])
			for k, z := range zs {
				qs, vs := panel(nil, nil, 0, 2.25)
				for j, q := range qs {
					for n := range 36 {
						sin, cos := math.Sincos(2 * math.Pi * (float64(n) + 0.5) / 36)
						phi, err := s.PotentialAt(Point{0.2 + math.Sqrt(q)*cos, -0.1 + math.Sqrt(q)*sin, z})
						if err != nil {
							t.Fatal(err)
						}
						sum += ws[k] * vs[j] * phi
						volume += ws[k] * vs[j]
						largest = math.Max(largest, math.Abs(phi))
					}
				}
			}
		}
		numtest.Check(t, name+": mean", sum/volume, 0, numtest.Tolerance{Abs: 1e-3 * 1 / (m.WaterSPerM * 1.5)})
	}
}

// E is −∇φ, layers do not jump. Source: the problem; five-point differences.
func TestRoundTankGradientAndInterfaces(t *testing.T) {
	for _, name := range []string{"sediment", "two layers below"} {
		m := roundMedia()[name]
		s := mustSolve(t, m, roundPair(m, 0.02)...)
		for i := range len(s.stack.slabs) - 1 {
			p := Point{0.9, -0.3, s.stack.slabs[i].bottomM}
			phi, up := s.tank.eval(i, p)
			phi2, down := s.tank.eval(i+1, p)
			tol := numtest.Tolerance{Rel: 1e-10, Abs: 1e-11 * up.Norm()}
			numtest.Check(t, name+": φ", phi, phi2, tol)
			numtest.Check(t, name+": E_x", up.X, down.X, tol)
			numtest.Check(t, name+": E_y", up.Y, down.Y, tol)
			numtest.Check(t, name+": J_z", up.Z*s.stack.slabs[i].sigma/s.stack.slabs[i+1].sigma, down.Z, tol)
		}
	}
	for _, name := range roundNames[:6] {
		m := roundMedia()[name]
		s := mustSolve(t, m, roundPair(m, 0)...)
		for _, p := range []Point{{0.2, -0.1, 0.25}, {0.7, 0.5, 0.3}, {-0.9, 0.2, 0.1}, {1.6, -0.1, 0.2}, {0.3, 0.3, 2.5}} {
			slab, err := s.checkPoint(p)
			if err != nil {
				continue
			}
			const h = 1e-3
			_, e := s.tank.eval(slab, p)
			slope := func(d Point) float64 {
				f := func(n float64) float64 {
					phi, _ := s.tank.eval(slab, Point{p.X + n*d.X, p.Y + n*d.Y, p.Z + n*d.Z})
					return phi
				}
				return (8*(f(1)-f(-1)) - (f(2) - f(-2))) / (12 * h)
			}
			tol := numtest.Tolerance{Abs: 1e-7*e.Norm() + 1e-16}
			numtest.Check(t, name+": E_x", e.X, -slope(Point{X: h}), tol)
			numtest.Check(t, name+": E_y", e.Y, -slope(Point{Y: h}), tol)
			numtest.Check(t, name+": E_z", e.Z, -slope(Point{Z: h}), tol)
		}
	}
}

func TestRoundTankRefuses(t *testing.T) {
	m := Medium{WaterSPerM: 5, DepthM: 1, Enclosure: &Enclosure{DiameterM: 3, CentreXM: 1}}
	s := mustSolve(t, m, Pair{Centre: Point{1, 0, 0.1}, SeparationM: 0.1}.Electrodes(1)...)
	for _, p := range []Point{{-0.5001, 0, 0.1}, {2.2, 1.2, 0.1}} {
		_, err := s.FieldAt(p)
		if !errors.Is(err, ErrOutside) || !strings.Contains(err.Error(), "beyond a wall of the tank") {
			t.Errorf("%v: %v", p, err)
		}
	}
	for n := range 64 { // on the wall is inside, whatever the rounding
		sin, cos := math.Sincos(0.1 * float64(n))
		if _, err := s.FieldAt(Point{1 + 1.5*cos, 1.5 * sin, 0.1}); err != nil {
			t.Error(err)
		}
	}
}

// Odd sizes neither hang nor lie: what cannot be summed is said, or owned to.
func TestRoundTankOfOddSizes(t *testing.T) {
	long(t)
	for _, c := range []struct{ depth, diameter, gap float64 }{
		{0.5, 2e9, 1}, {1e-4, 3, 0.5}, {1e4, 0.1, 0.02}, {math.Inf(1), 1e-3, 1e-4}, {1e-9, 1e9, 1e8}, {0.5, 3, 0},
	} {
		m := Medium{WaterSPerM: 5, DepthM: c.depth, Enclosure: &Enclosure{DiameterM: c.diameter}}
		r := c.diameter / 2
		z := math.Min(c.depth, r) / 4
		s, err := Solve(m, []Electrode{{At: Point{X: r - c.gap, Z: z}, CurrentA: 1}, {At: Point{Z: z}, CurrentA: -1}}, Options{})
		if err != nil {
			t.Fatal(c, err)
		}
		for _, p := range []Point{{X: r / 2, Z: z}, {X: r, Y: 0, Z: z / 2}, {X: r - c.gap, Z: z * 1.1}, {Y: r / 3, Z: 2 * z}} {
			e, err := s.FieldAt(p)
			if errors.Is(err, ErrInElectrode) || errors.Is(err, ErrNotFinite) || errors.Is(err, ErrOutside) {
				continue
			}
			own, err2 := s.RelativeErrorAt([]Point{p})
			if err != nil || err2 != nil || !finite(e.X, e.Y, e.Z, own) {
				t.Errorf("%+v at %v: %v, %v, %v, %g", c, p, e, err, err2, own)
			}
		}
	}
	far := Medium{WaterSPerM: 5, DepthM: 0.5, Enclosure: &Enclosure{DiameterM: 2e9}}
	s := mustSolve(t, far, Electrode{At: Point{X: 1e9 - 1, Z: 0.1}, CurrentA: 1}, Electrode{At: Point{X: 1e9 - 1, Y: 1, Z: 0.1}, CurrentA: -1})
	if own, err := s.RelativeErrorAt([]Point{{X: 1e9 - 0.5, Z: 0.1}}); err != nil || own < 0.01 {
		t.Errorf("a wall that is not summed: own estimate %g, %v", own, err)
	}
	tube := Medium{WaterSPerM: 5, DepthM: 100, Enclosure: &Enclosure{DiameterM: 0.1}}
	_, err := Solve(tube, []Electrode{{At: Point{Z: 1}, CurrentA: 1}, {At: Point{Z: 99}, CurrentA: -1}}, Options{})
	if !errors.Is(err, ErrElectrode) || !strings.Contains(err.Error(), "98 m apart in height in a round tank 0.1 m across; expected at most 1000 times its radius") {
		t.Error(err)
	}
}

// The same bits for any number of workers. Source: docs/adr/0003-determinism.md.
func TestRoundTankIsDeterministic(t *testing.T) {
	ask := func(workers int) []Vector {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(workers))
		m := roundMedia()["open below"]
		s := mustSolve(t, m, roundPair(m, 0.01)...)
		points := make([]Point, 200)
		for i := range points {
			sin, cos := math.Sincos(float64(i))
			points[i] = Point{0.2 + 0.0074*float64(i)*cos, -0.1 + 0.0074*float64(i)*sin, 0.005 * float64(i)}
		}
		out := make([]Vector, len(points))
		if err := s.Fields(out, points); err != nil {
			t.Fatal(err)
		}
		return out
	}
	one, four := ask(1), ask(4)
	for i := range one {
		if one[i] != four[i] {
			t.Fatalf("point %d: %v with one worker, %v with four", i, one[i], four[i])
		}
	}
}
