package conduction

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
)

func tankMedia() map[string]Medium {
	walls := &Enclosure{SizeXM: 3, SizeYM: 2, CentreXM: 0.2, CentreYM: -0.1}
	inf := math.Inf(1)
	return map[string]Medium{
		"water on a floor": {WaterSPerM: 4.31, DepthM: 0.9, Enclosure: walls},
		"sediment":         {WaterSPerM: 5, DepthM: 1.2, Layers: []Layer{{0.3, 1.2}, {inf, 0}}, Enclosure: walls},
		"open below":       {WaterSPerM: 5, DepthM: 1.2, Layers: []Layer{{inf, 1}}, Enclosure: walls},
		"open above":       {WaterSPerM: 5, DepthM: inf, Enclosure: walls},
		"open both ways":   {WaterSPerM: 5, DepthM: inf, WaterBelow: true, Enclosure: walls},
		"flat and long":    {WaterSPerM: 5, DepthM: 0.25, Enclosure: &Enclosure{SizeXM: 6, SizeYM: 0.8}},
	}
}

var tankNames = []string{"water on a floor", "sediment", "open below", "open above", "open both ways", "flat and long"}

func tankElectrodePair(raised bool, diameter float64) []Electrode {
	z := 0.0
	if raised {
		z = 0.1
	}
	return []Electrode{
		{At: Point{0.4, 0.2, z}, CurrentA: 6e-6, DiameterM: diameter},
		{At: Point{0.45, 0.2, 0.12}, CurrentA: -6e-6},
	}
}

// wallImages adds up the layered field of the electrodes and of their mirror
// images in the walls, out to reach whole tanks: the plain way, which knows
// nothing of lattice sums.
func wallImages(t *testing.T, m Medium, electrodes []Electrode, p Point, reach int) Vector {
	t.Helper()
	w := *m.Enclosure
	m.Enclosure = nil
	s := mustSolve(t, m, electrodes...)
	slab, _ := s.stack.slabAt(p.Z)
	x0, y0 := w.CentreXM-w.SizeXM/2, w.CentreYM-w.SizeYM/2
	var sum Vector
	for i := -reach; i <= reach; i++ {
		for j := -reach; j <= reach; j++ {
			for _, mirror := range [][2]float64{{1, 1}, {1, -1}, {-1, 1}, {-1, -1}} {
				for k, el := range electrodes {
					dx := p.X - (x0 + mirror[0]*(el.At.X-x0) + 2*float64(i)*w.SizeXM)
					dy := p.Y - (y0 + mirror[1]*(el.At.Y-y0) + 2*float64(j)*w.SizeYM)
					u := s.sources[k].unitAt(slab, dx*dx+dy*dy, p.Z)
					f := el.CurrentA / (4 * math.Pi * s.stack.slabs[s.sources[k].slab].sigma)
					sum = sum.Add(Vector{u.rho * dx, u.rho * dy, u.z}.Scale(f))
				}
			}
		}
	}
	return sum
}

// Lattice sums against the plain sum over images, whose cut-off error goes as
// even powers of 1/(2·reach + 1) and is extrapolated away. Source: images.
func TestTankAgreesWithPlainImages(t *testing.T) {
	m := tankMedia()["water on a floor"]
	electrodes := tankElectrodePair(false, 0)
	electrodes[1].At.Z = 0
	s := mustSolve(t, m, electrodes...)
	for _, p := range []Point{{0.5, 0.25, 0.05}, {0.42, 0.2, 0}, {0.1, -0.2, 0.3}} {
		var ladder []Vector
		var n2 []float64
		for _, reach := range []int{2, 3, 4, 6, 8, 11, 15} {
			ladder = append(ladder, wallImages(t, m, electrodes, p, reach))
			n2 = append(n2, 1/float64((2*reach+1)*(2*reach+1)))
		}
		for step := 1; step < len(ladder); step++ { // Neville to 1/n² = 0
			for i := len(ladder) - 1; i >= step; i-- {
				a, b := n2[i-step], n2[i]
				ladder[i] = ladder[i].Scale(a).Add(ladder[i-1].Scale(-b)).Scale(1 / (a - b))
			}
		}
		want := ladder[len(ladder)-1]
		e := mustField(t, s, p)
		numtest.Check(t, "|δE|/|E|", e.Add(want.Scale(-1)).Norm()/want.Norm(), 0, numtest.Tolerance{Abs: 1e-9})
	}
}

// Where the sum splits must not matter. Source: the split is an identity.
func TestTankDoesNotDependOnTheSplit(t *testing.T) {
	for _, name := range tankNames {
		for _, diameter := range []float64{0, 0.01} {
			s := mustSolve(t, tankMedia()[name], tankElectrodePair(true, diameter)...)
			for _, p := range []Point{{0.5, 0.25, 0.05}, {0.42, 0.2, 0}, {-0.9, -0.35, 0.2}, {1.4, 0.3, 0.24}} {
				slab, err := s.checkPoint(p)
				if err != nil {
					t.Fatal(name, err)
				}
				phi, e := s.tank.eval(slab, p)
				phi2, e2 := s.tank.other().eval(slab, p)
				numtest.Check(t, name+" |δE|/|E|", e.Add(e2.Scale(-1)).Norm()/e.Norm(), 0, numtest.Tolerance{Abs: 1e-11})
				numtest.Check(t, name+" φ", phi, phi2, numtest.Tolerance{Rel: 1e-11, Abs: 1e-12 * e.Norm()})
			}
			numtest.Check(t, name+" own estimate", s.RelativeError(), 0, numtest.Tolerance{Abs: 1e-9})
		}
	}
}

// No current through the walls, the air or the floor. Source: the problem.
func TestTankWallsInsulate(t *testing.T) {
	for _, name := range tankNames {
		m := tankMedia()[name]
		s := mustSolve(t, m, tankElectrodePair(true, 0)...)
		w := m.Enclosure
		inside := Point{0.3, 0.1, 0.2}
		size := mustField(t, s, inside).Norm()
		for _, p := range []Point{{w.CentreXM + w.SizeXM/2, 0.1, 0.2}, {w.CentreXM - w.SizeXM/2, 0.2, 0.05}} {
			numtest.Check(t, name+" E_x at a wall", mustField(t, s, p).X, 0, numtest.Tolerance{Abs: 1e-12 * size})
		}
		for _, p := range []Point{{0.3, w.CentreYM + w.SizeYM/2, 0.2}, {0.7, w.CentreYM - w.SizeYM/2, 0.05}} {
			numtest.Check(t, name+" E_y at a wall", mustField(t, s, p).Y, 0, numtest.Tolerance{Abs: 1e-12 * size})
		}
		if s.stack.air {
			numtest.Check(t, name+" E_z under air", mustField(t, s, Point{0.6, 0.1, m.DepthM}).Z, 0, numtest.Tolerance{Abs: 1e-12 * size})
		}
	}
}

// The mean of the potential over a closed tank is 0. The mean over a level is
// flat below the lower electrode and above the upper one and a straight line
// between, so that three levels tell it; equal steps along the walls average
// cosines exactly. Source: the definition of the potential's zero.
func TestTankPotentialHasZeroMean(t *testing.T) {
	for _, c := range []struct {
		name                    string
		bottom, lower, upper, h float64
	}{{"water on a floor", 0, 0.3, 0.6, 0.9}, {"sediment", -0.3, 0.4, 0.8, 1.2}} {
		m := tankMedia()[c.name]
		s := mustSolve(t, m, Electrode{At: Point{0.4, 0.2, c.lower}, CurrentA: 1}, Electrode{At: Point{0.3, -0.1, c.upper}, CurrentA: -1})
		level := func(z float64) float64 {
			const nx, ny = 30, 20
			sum := 0.0
			for i := range nx {
				for j := range ny {
					x := m.Enclosure.CentreXM + m.Enclosure.SizeXM*((float64(i)+0.5)/nx-0.5)
					y := m.Enclosure.CentreYM + m.Enclosure.SizeYM*((float64(j)+0.5)/ny-0.5)
					phi, err := s.PotentialAt(Point{x, y, z})
					if err != nil {
						t.Fatal(err)
					}
					sum += phi
				}
			}
			return sum / (nx * ny)
		}
		low, middle, high := level(c.lower-0.15), level((c.lower+c.upper)/2), level(c.upper+0.15)
		mean := low*(c.lower-c.bottom) + middle*(c.upper-c.lower) + high*(c.h-c.upper)
		numtest.Check(t, c.name+" mean φ", mean/(c.h-c.bottom)/math.Abs(high-low), 0, numtest.Tolerance{Abs: 1e-3})
		drop := (c.upper - c.lower) / (m.WaterSPerM * m.Enclosure.SizeXM * m.Enclosure.SizeYM)
		numtest.Check(t, c.name+" drop from level to level", low-high, drop, numtest.Tolerance{Rel: 1e-4}) // what 600 points resolve
	}
}

// Layers do not jump inside a tank either; E is −∇φ there.
func TestTankInterfaceAndGradient(t *testing.T) {
	for _, name := range []string{"sediment", "open below"} {
		m := tankMedia()[name]
		s := mustSolve(t, m, tankElectrodePair(true, 0)...)
		p := Point{0.9, -0.3, 0}
		phi, up := s.tank.eval(0, p)
		phi2, down := s.tank.eval(1, p)
		tol := numtest.Tolerance{Rel: 1e-10, Abs: 1e-12 * up.Norm()}
		numtest.Check(t, "φ", phi, phi2, tol)
		numtest.Check(t, "E_x", up.X, down.X, tol)
		numtest.Check(t, "E_y", up.Y, down.Y, tol)
		numtest.Check(t, "J_z", up.Z*5, down.Z*s.stack.slabs[1].sigma, tol)
	}
	rapid.Check(t, func(t *rapid.T) {
		m := tankMedia()[rapid.SampledFrom(tankNames[:5]).Draw(t, "tank")]
		s := solved(t, m, tankElectrodePair(true, rapid.SampledFrom([]float64{0, 0.02}).Draw(t, "diameter"))...)
		p := Point{rapid.Float64Range(-1.2, 1.6).Draw(t, "x"), rapid.Float64Range(-1, 0.8).Draw(t, "y"), rapid.Float64Range(0.02, 0.8).Draw(t, "z")}
		if distance(p, s.electrodes[0].At) < 0.1 {
			t.Skip("too close")
		}
		const h = 1e-3
		_, e := s.tank.eval(0, p)
		slope := func(d Point) float64 {
			f := func(n float64) float64 {
				phi, _ := s.tank.eval(0, Point{p.X + n*d.X, p.Y + n*d.Y, p.Z + n*d.Z})
				return phi
			}
			return (8*(f(1)-f(-1)) - (f(2) - f(-2))) / (12 * h)
		}
		tol := numtest.Tolerance{Abs: 1e-7*e.Norm() + 1e-15}
		numtest.Check(t, "E_x", e.X, -slope(Point{X: h}), tol)
		numtest.Check(t, "E_y", e.Y, -slope(Point{Y: h}), tol)
		numtest.Check(t, "E_z", e.Z, -slope(Point{Z: h}), tol)
	})
}

// A tank much larger than the distances asked for is open water.
func TestLargeTankIsOpenWater(t *testing.T) {
	electrodes := Pair{Centre: Point{0, 0, 0}, SeparationM: 0.01, AzimuthDeg: 20}.Electrodes(1e-5)
	open := mustSolve(t, Medium{WaterSPerM: 5, DepthM: 0.5}, electrodes...)
	tank := mustSolve(t, Medium{WaterSPerM: 5, DepthM: 0.5, Enclosure: &Enclosure{SizeXM: 40, SizeYM: 40}}, electrodes...)
	for _, p := range []Point{{0.1, 0, 0.05}, {0.05, 0.2, 0.3}} {
		want, e := mustField(t, open, p), mustField(t, tank, p)
		numtest.Check(t, "|δE|/|E|", e.Add(want.Scale(-1)).Norm()/want.Norm(), 0, numtest.Tolerance{Abs: 1e-3})
	}
}
