package conduction

import (
	"math"
	"runtime"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
)

// drawMedium invents water over up to three layers, any of which may be thin,
// resistive or conducting; the last may insulate.
func drawMedium(t *rapid.T) Medium {
	logUniform := func(lo, hi float64, name string) float64 {
		return math.Exp(rapid.Float64Range(math.Log(lo), math.Log(hi)).Draw(t, name))
	}
	m := Medium{WaterSPerM: logUniform(0.02, 6, "water"), DepthM: math.Inf(1)}
	if rapid.Bool().Draw(t, "air") {
		m.DepthM = logUniform(0.3, 20, "depth")
	}
	for range rapid.IntRange(0, 3).Draw(t, "layers") {
		m.Layers = append(m.Layers, Layer{logUniform(0.1, 5, "thickness"), logUniform(0.01, 6, "layer")})
	}
	if n := len(m.Layers); n > 0 {
		m.Layers[n-1].ThicknessM = math.Inf(1)
		if rapid.Bool().Draw(t, "rock") {
			m.Layers[n-1].SPerM = 0
		}
	}
	return m
}

// drawPlace is a place anywhere in the conducting part, within a few metres.
func drawPlace(t *rapid.T, st *stack, name string) Point {
	lo := math.Max(st.slabs[len(st.slabs)-1].bottomM, -3)
	hi := math.Min(st.slabs[0].topM, 3)
	return Point{
		rapid.Float64Range(-2, 2).Draw(t, name+" x"), rapid.Float64Range(-2, 2).Draw(t, name+" y"),
		math.Min(hi, lo+(hi-lo)*rapid.Float64Range(0, 1).Draw(t, name+" z")),
	}
}

func solved(t *rapid.T, m Medium, electrodes ...Electrode) *Solution {
	s, err := Solve(m, electrodes, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func distance(p, q Point) float64 {
	return math.Hypot(math.Hypot(p.X-q.X, p.Y-q.Y), p.Z-q.Z)
}

// What a current between A and B does between C and D, the same current
// between C and D does between A and B. Source: reciprocity of ohmic media.
func TestReciprocity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMedium(t)
		st := newStack(m)
		a, b := drawPlace(t, st, "a"), drawPlace(t, st, "b")
		c, d := drawPlace(t, st, "c"), drawPlace(t, st, "d")
		for _, pair := range [][2]Point{{a, b}, {c, d}, {a, c}, {a, d}, {b, c}, {b, d}} {
			if distance(pair[0], pair[1]) < 0.01 {
				t.Skip("places coincide")
			}
		}
		between := func(p, q, r, s Point) float64 {
			sol := solved(t, m, Electrode{At: p, CurrentA: 1}, Electrode{At: q, CurrentA: -1})
			v, err := sol.PotentialAt(r)
			w, err2 := sol.PotentialAt(s)
			if err != nil || err2 != nil {
				t.Fatal(err, err2)
			}
			return v - w
		}
		there, back := between(a, b, c, d), between(c, d, a, b)
		scale := 1 / (4 * math.Pi * m.WaterSPerM) // potentials here are of this size
		if math.Abs(there-back) > 1e-11*math.Max(scale, math.Abs(there))*100 {
			t.Fatalf("%g there, %g back", there, back)
		}
	})
}

// The current through a closed sphere is what its inside gives off. Source:
// conservation of charge; Gauss points in height, equal steps round.
func TestCurrentIsConserved(t *testing.T) {
	us, ws := legendre01(24).x, legendre01(24).w
	rapid.Check(t, func(t *rapid.T) {
		m := drawMedium(t)
		st := newStack(m)
		at := drawPlace(t, st, "electrode")
		slab, _ := st.slabAt(at.Z)
		s := st.slabs[slab]
		room := math.Min(1, math.Min(s.topM-at.Z, at.Z-s.bottomM))
		if room < 0.02 {
			t.Skip("too near an interface for a sphere in one layer")
		}
		radius := 0.9 * room
		far := Point{at.X + 3, at.Y, at.Z}
		diameter := rapid.SampledFrom([]float64{0, radius / 4}).Draw(t, "diameter")
		sol := solved(t, m, Electrode{At: at, CurrentA: 1, DiameterM: diameter}, Electrode{At: far, CurrentA: -1})
		centre := Point{at.X + 0.1*radius, at.Y, at.Z - 0.1*radius*0.5}
		total := 0.0
		const around = 32
		for i, u := range us {
			c := 2*u - 1
			sn := math.Sqrt(1 - c*c)
			for k := range around {
				sin, cos := math.Sincos(2 * math.Pi * (float64(k) + 0.5) / around)
				n := Vector{sn * cos, sn * sin, c}
				e, err := sol.FieldAt(Point{centre.X + radius*n.X*0.8, centre.Y + radius*n.Y*0.8, centre.Z + radius*n.Z*0.8})
				if err != nil {
					t.Fatal(err)
				}
				total += ws[i] * 2 * 2 * math.Pi / around * (e.X*n.X + e.Y*n.Y + e.Z*n.Z)
			}
		}
		total *= s.sigma * 0.64 * radius * radius
		numtest.Check(t, "current out of the sphere", total, 1, numtest.Tolerance{Rel: 1e-8})
	})
}

// Potential and tangential field do not jump at an interface, nor does the
// normal current; none of it enters air. Source: the interface conditions.
func TestInterfaceConditions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMedium(t)
		st := newStack(m)
		a, b := drawPlace(t, st, "a"), drawPlace(t, st, "b")
		p := drawPlace(t, st, "p")
		if distance(a, b) < 0.01 {
			t.Skip("places coincide")
		}
		sol := solved(t, m, Electrode{At: a, CurrentA: 1}, Electrode{At: b, CurrentA: -1})
		// Where layers or walls shield the place, the terms are larger than their sum.
		rounding := func(sigma float64) float64 {
			near := math.Min(distance(a, p), distance(b, p))
			return 1e-12 / (4 * math.Pi * sigma * near * near)
		}
		for i, s := range st.slabs[:len(st.slabs)-1] {
			p.Z = s.bottomM
			if math.Min(distance(a, p), distance(b, p)) < 0.05 {
				continue
			}
			phiUp, up := sol.eval(i, p)
			phiDown, down := sol.eval(i+1, p)
			below := st.slabs[i+1].sigma
			tol := numtest.Tolerance{Rel: 1e-9, Abs: 1e-9*up.Norm() + rounding(math.Min(s.sigma, below))}
			numtest.Check(t, "E_x", up.X, down.X, tol)
			numtest.Check(t, "E_y", up.Y, down.Y, tol)
			tol.Abs *= math.Max(s.sigma, below)
			numtest.Check(t, "J_z", up.Z*s.sigma, down.Z*below, tol)
			numtest.Check(t, "φ", phiUp, phiDown, numtest.Tolerance{Abs: 1e-11 * (math.Abs(phiUp) + 1/(4*math.Pi*math.Min(s.sigma, below)))})
		}
		if st.air {
			p.Z = st.slabs[0].topM
			if math.Min(distance(a, p), distance(b, p)) > 0.05 {
				_, e := sol.eval(0, p)
				numtest.Check(t, "E_z under air", e.Z, 0, numtest.Tolerance{Abs: 1e-9*e.Norm() + rounding(m.WaterSPerM)})
			}
		}
		if last := st.slabs[len(st.slabs)-1]; st.floor {
			p.Z = last.bottomM
			if math.Min(distance(a, p), distance(b, p)) > 0.05 {
				_, e := sol.eval(len(st.slabs)-1, p)
				numtest.Check(t, "E_z on the floor", e.Z, 0, numtest.Tolerance{Abs: 1e-9*e.Norm() + rounding(last.sigma)})
			}
		}
	})
}

// E is −∇φ, and φ obeys Laplace's equation. Source: the problem itself, by
// central differences.
func TestFieldIsMinusGradient(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMedium(t)
		st := newStack(m)
		a, b, p := drawPlace(t, st, "a"), drawPlace(t, st, "b"), drawPlace(t, st, "p")
		slab, _ := st.slabAt(p.Z)
		near := math.Min(distance(a, p), distance(b, p))
		if distance(a, b) < 0.03 || near < 0.1 {
			t.Skip("too close")
		}
		diameter := rapid.SampledFrom([]float64{0, 0.02}).Draw(t, "diameter")
		sol := solved(t, m, Electrode{At: a, CurrentA: 1, DiameterM: diameter}, Electrode{At: b, CurrentA: -1, DiameterM: diameter})
		h := 2e-3 * near
		_, e := sol.eval(slab, p)
		slope := func(d Point) float64 { // fourth order
			f := func(n float64) float64 {
				phi, _ := sol.eval(slab, Point{p.X + n*d.X, p.Y + n*d.Y, p.Z + n*d.Z})
				return phi
			}
			return (8*(f(1)-f(-1)) - (f(2) - f(-2))) / (12 * h)
		}
		if s := st.slabs[slab]; p.Z-2*h < s.bottomM || p.Z+2*h > s.topM {
			t.Skip("the stencil leaves the layer")
		}
		phi, _ := sol.eval(slab, p)
		tol := numtest.Tolerance{Abs: 1e-7*e.Norm() + 1e-13*(math.Abs(phi)+1/m.WaterSPerM)/h}
		numtest.Check(t, "E_x", e.X, -slope(Point{X: h}), tol)
		numtest.Check(t, "E_y", e.Y, -slope(Point{Y: h}), tol)
		numtest.Check(t, "E_z", e.Z, -slope(Point{Z: h}), tol)
	})
}

// Images with a summed remainder and oscillating quadrature are two ways to
// one number.
func TestExpansionAgreesWithQuadrature(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMedium(t)
		st := newStack(m)
		a, p := drawPlace(t, st, "a"), drawPlace(t, st, "p")
		if n, _ := st.finiteSlabs(); n == 0 {
			t.Skip("closed form")
		}
		rho := math.Exp(rapid.Float64Range(math.Log(1e-3), math.Log(30)).Draw(t, "rho"))
		sr := newSource(st, a.Z, rapid.SampledFrom([]float64{0, 0.005}).Draw(t, "radius"))
		slab, _ := st.slabAt(p.Z)
		if math.Hypot(rho, p.Z-a.Z) < 0.02 {
			t.Skip("too close")
		}
		u := sr.unitAt(slab, rho*rho, p.Z)
		v := sr.hankelWith(sr.level(slab, 0), slab, rho, p.Z)
		if im, ok := sr.direct(slab, p.Z); ok {
			v = sr.imageUnit(v, []image{im}, rho*rho, p.Z)
		}
		// Near the axis under air the field vanishes; rounding does not.
		r2 := rho*rho + (p.Z-a.Z)*(p.Z-a.Z)
		size := math.Hypot(u.rho*rho, u.z) + 1e-2/r2
		if d := math.Hypot((u.rho-v.rho)*rho, u.z-v.z); d > 2e-11*size {
			t.Fatalf("field %v by images, %v by quadrature: %g apart", u, v, d/size)
		}
	})
}

// A table keeps what it promises, here at places it was not measured at.
func TestFastKeepsItsTolerance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMedium(t)
		m.Layers = m.Layers[:min(len(m.Layers), 2)]
		if n := len(m.Layers); n > 0 {
			m.Layers[n-1].ThicknessM = math.Inf(1)
		}
		st := newStack(m)
		height := rapid.SampledFrom([]float64{0, 0, 0.05, 0.2}).Draw(t, "height")
		diameter := rapid.SampledFrom([]float64{0, 0.004}).Draw(t, "diameter")
		pair := Pair{Centre: Point{0.3, -0.2, height}, AzimuthDeg: 25, SeparationM: 0.01, DiameterM: diameter}
		sol := solved(t, m, pair.Electrodes(1e-5)...)
		top := math.Min(st.slabs[0].topM, 2)
		fast, err := sol.Fast(Region{RhoMaxM: 3, ZMinM: 0, ZMaxM: top}, 1e-6)
		if err != nil {
			t.Fatal(err)
		}
		for range 30 {
			p := Point{
				rapid.Float64Range(-1.6, 2.2).Draw(t, "x"), rapid.Float64Range(-2.1, 1.7).Draw(t, "y"),
				top * rapid.Float64Range(0, 1).Draw(t, "z"),
			}
			if distance(p, pair.Centre) < 0.02 {
				continue
			}
			want, err := sol.FieldAt(p)
			got, err2 := fast.FieldAt(p)
			if err != nil || err2 != nil {
				t.Fatal(err, err2)
			}
			// Under air the pair's field has zeros, where a relative error means nothing.
			usual := 1e-5 * 0.01 / (4 * math.Pi * m.WaterSPerM * math.Pow(distance(p, pair.Centre), 3))
			if d := got.Add(want.Scale(-1)).Norm() / math.Max(want.Norm(), 0.1*usual); d > 1.5e-6 {
				t.Fatalf("at %v off by %g of the field (measured %g)", p, d, fast.RelativeError())
			}
		}
	})
}

// The same call gives the same bits on any number of cores.
func TestFieldsAreTheSameOnAnyNumberOfCores(t *testing.T) {
	pts := millionPoints(6000, 2)
	for _, tolerance := range []float64{0, 1e-6} {
		var runs [2][]Vector
		for k, cores := range []int{1, 8} {
			old := runtime.GOMAXPROCS(cores)
			s, err := Solve(threeLayers(), Pair{SeparationM: 0.01}.Electrodes(1e-5), Options{RelativeTolerance: tolerance})
			if err != nil {
				t.Fatal(err)
			}
			runs[k] = make([]Vector, len(pts))
			if err := s.Fields(runs[k], pts); err != nil {
				t.Fatal(err)
			}
			runtime.GOMAXPROCS(old)
		}
		for k := range pts {
			if runs[0][k] != runs[1][k] {
				t.Fatalf("point %d: %v on one core, %v on eight", k, runs[0][k], runs[1][k])
			}
		}
	}
}
