package conduction

import (
	"math"
	"testing"

	"brinefield/core/numeric"
	"brinefield/core/numeric/numtest"
)

const nVPerCm = 1e7 // nV/cm in one V/m

func insulatingBottom(sigma float64) Medium {
	return Medium{WaterSPerM: sigma, DepthM: math.Inf(1)}
}

func mustSolve(t testing.TB, m Medium, electrodes ...Electrode) *Solution {
	t.Helper()
	s, err := Solve(m, electrodes, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func mustField(t testing.TB, s *Solution, p Point) Vector {
	t.Helper()
	e, err := s.FieldAt(p)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// The ideal dipole in the half space, approached by a pair 10 µm long. Source:
// the closed forms ρp·√(1+3cos²θ)/(2πr³) and their worked table for
// ρ = 0.19 Ω·m, 6 µA × 1 cm (calculated, not quoted).
func TestShortPairIsTheIdealDipole(t *testing.T) {
	pair := Pair{SeparationM: 1e-5, AzimuthDeg: 0}
	s := mustSolve(t, insulatingBottom(1/0.19), pair.Electrodes(6e-6*0.01/1e-5)...)
	for _, c := range []struct{ r, theta, want float64 }{ // cm, degrees, nV/cm
		{5, 0, 290.299},
		{10, 0, 36.2873},
		{20, 0, 4.53592},
		{30, 0, 1.34398},
		{44, 0, 0.425988},
		{5, 45, 229.501},
		{10, 45, 28.6877},
		{30, 45, 1.06251},
		{10, 60, 24.0018},
		{44, 60, 0.281764},
		{5, 90, 145.149},
		{20, 90, 2.26796},
	} {
		sin, cos := numeric.SinCosDeg(c.theta)
		r := c.r / 100
		flat := mustField(t, s, Point{r * cos, r * sin, 0}).Norm() * nVPerCm
		above := mustField(t, s, Point{r * cos, 0, r * sin}).Norm() * nVPerCm
		tol := numtest.Tolerance{Rel: 5e-6} // half of the sixth printed digit of 1.06251
		numtest.Check(t, "along the bottom", flat, c.want, tol)
		numtest.Check(t, "above it", above, c.want, tol)
	}
}

// Source: worked examples of the field on the axis, ρp/(πr³), that are quoted
// as 5e-7 and 2e-5 V/m in the literature of the 1970s; and common practice
// straight above, ρp/(2πr³).
func TestPublishedExamples(t *testing.T) {
	m := insulatingBottom(1 / 0.23)
	for _, c := range []struct {
		name       string
		separation float64
		at         Point
		want, tol  float64
	}{
		{"8 µA × 5 cm, 0.4 m on the axis", 1e-5, Point{X: 0.4}, 4.5757e-7, 1e-11},
		{"flounder, 3e-7 A·m, 0.10 m", 1e-5, Point{X: 0.1}, 2.1963e-5, 1e-9},
		{"4e-7 A·m, half a metre straight above", 1e-5, Point{Z: 0.5}, 1.17e-7, 5e-10},
	} {
		p := 4e-7
		if c.at.X == 0.1 {
			p = 3e-7
		}
		s := mustSolve(t, m, Pair{SeparationM: c.separation}.Electrodes(p/c.separation)...)
		numtest.Check(t, c.name, mustField(t, s, c.at).Norm(), c.want, numtest.Tolerance{Abs: c.tol})
	}
}

// A finite pair against the ideal dipole. Source: 1/(1−(d/2r)²)² on the axis
// and (1+(d/2r)²)^(−3/2) beside it.
func TestFinitePair(t *testing.T) {
	const d, sigma, current = 0.01, 5.0, 1e-5
	s := mustSolve(t, insulatingBottom(sigma), Pair{SeparationM: d}.Electrodes(current)...)
	for _, r := range []float64{0.02, 0.05, 0.1, 0.3} {
		ideal := current * d / (sigma * math.Pi * r * r * r)
		q := d / (2 * r) * d / (2 * r)
		tol := numtest.Tolerance{Rel: 1e-12}
		numtest.Check(t, "axis", mustField(t, s, Point{X: r}).X, ideal/((1-q)*(1-q)), tol)
		numtest.Check(t, "beside", -mustField(t, s, Point{Y: r}).X, ideal/2*math.Pow(1+q, -1.5), tol)
	}
}

// Over bare sediment of σs the field of bottom electrodes is that over an
// insulating bottom divided by 1 + σs/σw, everywhere. Source: images.
func TestBareSedimentLowersTheFieldByOneFactor(t *testing.T) {
	const sw, ss = 5.0, 1.3
	pair := Pair{SeparationM: 0.01, AzimuthDeg: 30}.Electrodes(1e-5)
	plate := mustSolve(t, insulatingBottom(sw), pair...)
	sand := mustSolve(t, Medium{WaterSPerM: sw, DepthM: math.Inf(1), Layers: []Layer{{math.Inf(1), ss}}}, pair...)
	for _, p := range []Point{{0.02, 0.01, 0}, {0.1, -0.2, 0.05}, {0, 0, 1}, {-3, 2, 0.4}} {
		ratio := mustField(t, plate, p).Norm() / mustField(t, sand, p).Norm()
		numtest.Check(t, "ratio", ratio, 1+ss/sw, numtest.Tolerance{Rel: 1e-12})
	}
}

// On-axis dipole on bare sediment under air, as a share of ρp/(πr³). Source:
// image series checked against a Hankel integral (printed to five digits); F
// is the sediment's resistivity over the water's.
func TestDipoleUnderTheSurface(t *testing.T) {
	for _, c := range []struct{ depth, r, factor, want float64 }{
		{0.5, 0.1, 3, 0.74942},
		{0.5, 0.3, 4, 0.78710},
		{0.5, 1, 5, 0.92869},
		{1, 0.1, 5, 0.83324},
		{1, 0.3, 3, 0.74815},
		{1, 1, 4, 0.77127},
		{2, 0.3, 4, 0.79971},
		{2, 1, 3, 0.74278},
		{2, 1, math.Inf(1), 0.98525},
		{0.5, 1, math.Inf(1), 1.08519},
	} {
		m := Medium{WaterSPerM: 5, DepthM: c.depth, Layers: []Layer{{math.Inf(1), 5 / c.factor}}}
		s := mustSolve(t, m, Pair{SeparationM: 1e-4}.Electrodes(1e-2)...)
		ideal := 1e-6 / (5 * math.Pi * c.r * c.r * c.r)
		numtest.Check(t, "share", mustField(t, s, Point{X: c.r}).X/ideal, c.want, numtest.Tolerance{Abs: 6e-6})
	}
}

// The Wenner array over two layers: four electrodes a apart on the surface of
// the ground. Turned upside down it is our water under air: the electrodes lie
// at the surface of the water, which is the upper layer. Source: the series of
// the grounding standards, ρa/ρ1 = 1 + 4Σkⁿ[…], and its table.
func TestWennerTable(t *testing.T) {
	for _, c := range []struct{ aOverH, k, want float64 }{
		{0.5, -1, 0.932936},
		{0.5, -0.8, 0.945202},
		{0.5, 0.5, 1.041171},
		{0.5, 1, 1.093885},
		{1, -0.8, 0.739105},
		{1, -0.2, 0.927915},
		{1, 0.8, 1.369398},
		{1, 1, 1.504459},
		{2, -0.5, 0.558163},
		{2, 0.2, 1.224281},
		{2, 0.8, 2.210290},
		{2, 1, 2.779921},
		{4, -0.8, 0.141075},
		{4, 0.5, 2.190484},
		{4, 1, 5.545197},
		{10, -0.8, 0.113183},
		{10, -0.2, 0.673286},
		{10, 0.8, 5.945219},
		{10, 1, 13.862944},
	} {
		lower := 3.0 * (1 - c.k) / (1 + c.k) // k = (ρ2 − ρ1)/(ρ2 + ρ1)
		if c.k == -1 {
			lower = 3e12 // all but a perfect conductor
		}
		got := wenner(t, 3, lower, 2, 2*c.aOverH)
		numtest.Check(t, "ρa/ρ1", got*3, c.want, numtest.Tolerance{Abs: 6e-7})
	}
	for _, c := range []struct{ rho1, rho2, h, a, want float64 }{
		{100, 20, 2, 3, 58.297453}, {100, 20, 5, 5, 77.807640}, {300, 100, 1, 2, 167.448751}, {20, 100, 2, 4, 38.601585},
	} {
		numtest.Check(t, "ρa", wenner(t, 1/c.rho1, 1/c.rho2, c.h, c.a), c.want, numtest.Tolerance{Rel: 2e-8})
	}
}

func wenner(t *testing.T, upper, lower, h, a float64) float64 {
	t.Helper()
	m := Medium{WaterSPerM: upper, DepthM: h, Layers: []Layer{{math.Inf(1), lower}}}
	s := mustSolve(t, m, Electrode{At: Point{-1.5 * a, 0, h}, CurrentA: 1}, Electrode{At: Point{1.5 * a, 0, h}, CurrentA: -1})
	var phi [2]float64
	if err := s.Potentials(phi[:], []Point{{-a / 2, 0, h}, {a / 2, 0, h}}); err != nil {
		t.Fatal(err)
	}
	return 2 * math.Pi * a * (phi[0] - phi[1])
}

// Source: handbook resistance of a disc in an insulating plane, ρ/(4a), and
// the surface potential (2V0/π)·asin(a/r).
func TestDiscInAPlane(t *testing.T) {
	for _, c := range []struct{ mm, ohm float64 }{{0.5, 100}, {1, 50}, {1.5, 100.0 / 3}, {2, 25}} {
		a := c.mm / 1000
		s := mustSolve(t, insulatingBottom(5), Electrode{CurrentA: 1, DiameterM: 2 * a})
		v0, err := s.PotentialAt(Point{Z: 2e-9})
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, "resistance", v0, c.ohm, numtest.Tolerance{Rel: 1e-5}) // 2 nm above the disc
		for _, x := range []struct{ r, ratio float64 }{{2, 1.047198}, {3, 1.019511}, {5, 1.006790}, {10, 1.001674}} {
			v, err := s.PotentialAt(Point{X: x.r * a})
			if err != nil {
				t.Fatal(err)
			}
			numtest.Check(t, "over a point's potential", v*2*math.Pi*5*x.r*a, x.ratio, numtest.Tolerance{Abs: 6e-7})
		}
	}
}
