package conduction

import (
	"math"
	"testing"

	"brinefield/core/numeric/numtest"
)

func sandMedium() Medium {
	return Medium{WaterSPerM: 5, DepthM: math.Inf(1), Layers: []Layer{{math.Inf(1), 1.5}}}
}

// On bare sediment a disc sends the flux of an isolated disc into the water
// and none through its back. Source: the definition of the electrode; the
// flux of a charged disc, I/(2πa√(a² − ρ²)).
func TestBackOfADiscInsulates(t *testing.T) {
	const a, current = 0.01, 1e-5
	s := mustSolve(t, sandMedium(), Electrode{CurrentA: current, DiameterM: 2 * a})
	for _, rho := range []float64{0, 0.2 * a, 0.5 * a, 0.8 * a, 0.95 * a} {
		flux := current / (2 * math.Pi * a * math.Sqrt(a*a-rho*rho))
		above := mustField(t, s, Point{X: rho, Z: 2e-9}).Z * 5
		below := mustField(t, s, Point{X: rho, Z: -2e-9}).Z * 1.5
		numtest.Check(t, "current density into the water", above/flux, 1, numtest.Tolerance{Abs: 1e-6})
		numtest.Check(t, "current density through the back", below/flux, 0, numtest.Tolerance{Abs: 1e-5})
	}
}

// All of the current leaves, part of it into the sediment round the disc.
// Source: conservation of charge over a sphere round the disc, each half in
// its own medium.
func TestDiscOnSedimentGivesOffItsCurrent(t *testing.T) {
	const a, r = 0.01, 0.025
	s := mustSolve(t, sandMedium(), Electrode{CurrentA: 1, DiameterM: 2 * a})
	rule := legendre01(60)
	var up, down float64
	for i, u := range rule.x {
		sn := math.Sqrt(1 - u*u)
		e := mustField(t, s, Point{X: r * sn, Z: r * u})
		up += rule.w[i] * 2 * math.Pi * r * r * 5 * (e.X*sn + e.Z*u)
		e = mustField(t, s, Point{X: r * sn, Z: -r * u})
		down += rule.w[i] * 2 * math.Pi * r * r * 1.5 * (e.X*sn - e.Z*u)
	}
	numtest.Check(t, "current", up+down, 1, numtest.Tolerance{Rel: 1e-10})
	if down < 0.1 || down > 1.5/6.5 {
		t.Errorf("%g of the current goes down; expected a little less than the %g of a point", down, 1.5/6.5)
	}
}

// From afar such a disc is a point electrode raised by a/π. Source: first
// moment of its dipole sheet (docs/physics/conduction.md).
func TestDiscOnSedimentLooksRaisedFromAfar(t *testing.T) {
	const a = 0.001
	disc := mustSolve(t, sandMedium(), Electrode{CurrentA: 1, DiameterM: 2 * a})
	raised := mustSolve(t, sandMedium(), Electrode{At: Point{Z: a / math.Pi}, CurrentA: 1})
	flat := mustSolve(t, sandMedium(), Electrode{CurrentA: 1})
	for _, p := range []Point{{0.2, 0, 0.3}, {0, 0, 0.4}, {0.3, 0.3, 0.01}} {
		want, e, point := mustField(t, raised, p), mustField(t, disc, p), mustField(t, flat, p)
		off := e.Add(want.Scale(-1)).Norm() / want.Norm()
		numtest.Check(t, "against a raised point", off, 0, numtest.Tolerance{Abs: 2e-5})
		if plain := e.Add(point.Scale(-1)).Norm() / want.Norm(); plain < 10*off {
			t.Errorf("at %v a point on the bottom is off by %g, a raised one by %g: the back makes no difference", p, plain, off)
		}
	}
}

// The series far from a disc's back and the integral near it meet.
func TestBackNearAndFarAgree(t *testing.T) {
	for _, p := range [][2]float64{{0.9, 2.9}, {2.9, 0.9}, {3, 0.1}, {0, 3.05}, {3.05, 0}, {2.2, 2.2}} {
		near, far := backNear(p[0]*p[0], p[1], 1), backFar(p[0]*p[0], p[1], 1)
		tol := numtest.Tolerance{Rel: 1e-12, Abs: 1e-16}
		numtest.Check(t, "φ", near.pot, far.pot, tol)
		numtest.Check(t, "E_ρ/ρ", near.rho, far.rho, tol)
		numtest.Check(t, "E_z", near.z, far.z, tol)
	}
}

// Source: the defining integral (2/π)∫artanh(x)sin(ux)dx; its series and its
// quadrature meet at u = 1.
func TestBackKernelIsContinuous(t *testing.T) {
	below, above := backKernel(math.Nextafter(1, 0)), backKernel(1)
	numtest.Check(t, "kernel at ka = 1", below, above, numtest.Tolerance{Rel: 1e-13})
}

// A raised or buried disc in layers is the average of point electrodes over
// its flux. Source: superposition; ρ = a√(1 − u²) with u uniform.
func TestDiscInLayersIsTheAverageOfPoints(t *testing.T) {
	const a = 0.03
	for _, z0 := range []float64{0.1, -0.2, -1.5} {
		m := Medium{WaterSPerM: 5, DepthM: 0.7, Layers: []Layer{{1, 1.2}, {math.Inf(1), 0.05}}}
		disc := mustSolve(t, m, Electrode{At: Point{Z: z0}, CurrentA: 1, DiameterM: 2 * a})
		rule := legendre01(8)
		var points []Electrode
		const around = 24
		for i, u := range rule.x {
			for n := range around {
				sin, cos := math.Sincos(2 * math.Pi * float64(n) / around)
				r := a * math.Sqrt(1-u*u)
				points = append(points, Electrode{At: Point{r * cos, r * sin, z0}, CurrentA: rule.w[i] / around})
			}
		}
		sum := mustSolve(t, m, points...)
		for _, p := range []Point{{0.2, 0.1, 0}, {0, 0.15, 0.6}, {0.3, 0, -0.9}, {1, 1, -1.2}} {
			want, e := mustField(t, sum, p), mustField(t, disc, p)
			numtest.Check(t, "|δE|/|E|", e.Add(want.Scale(-1)).Norm()/want.Norm(), 0, numtest.Tolerance{Abs: 1e-9})
		}
	}
}
