package conduction

import (
	"fmt"
	"math"
	"testing"

	"brinefield/core/numeric/numtest"
)

// halfGauss are places and weights of Gauss's rule over 0 … 1.
func halfGauss(n int) (x, w []float64) {
	x, w = make([]float64, n), make([]float64, n)
	for i := range n {
		v := math.Cos(math.Pi * (float64(i) + 0.75) / (float64(n) + 0.5))
		var slope float64
		for range 8 { // Newton's method on P_n
			p, q := 1.0, 0.0
			for j := 1; j <= n; j++ {
				p, q = (float64(2*j-1)*v*p-float64(j-1)*q)/float64(j), p
			}
			slope = float64(n) * (v*p - q) / (v*v - 1)
			v -= p / slope
		}
		x[i], w[i] = (1+v)/2, 1/((1-v*v)*slope*slope)
	}
	return x, w
}

// Source: the integral of dipoles (1/4π)∫ J·z/r³ dS itself, on Gauss's rule in η and
// equal angles, for J = √(R²−ρ²)·p(x, y) with p = 1 + 2x − y²x³ + 3x²y − y⁶, which the basis holds
// exactly: m ≤ 6, l ≤ 7. Tolerance 1e-11: the rule has converged at these heights.
func TestOblateAgainstDipoleIntegral(t *testing.T) {
	const radius = 0.8
	o := newOblate(radius, 6, 4)
	density := func(x, y float64) float64 {
		return math.Sqrt(math.Max(0, radius*radius-x*x-y*y)) * (1 + 2*x - y*y*x*x*x + 3*x*x*y - math.Pow(y, 6))
	}
	const around = 160
	nodes, weights := halfGauss(60)
	// Coefficients: the odd P̄ are orthogonal over 0 ≤ η ≤ 1, with ∫P̄² = ½.
	cosine, sine := oblateRows(o)[0], oblateRows(o)[0]
	jump := oblateRows(o)[0]
	type cell struct{ x, y, moment float64 }
	var cells []cell
	for i, eta := range nodes {
		rho := radius * math.Sqrt((1-eta)*(1+eta))
		o.jump(rho, jump)
		for g := range around {
			s, c := math.Sincos(2 * math.Pi * float64(g) / around)
			j := density(rho*c, rho*s)
			cells = append(cells, cell{rho * c, rho * s, j * radius * radius * eta * weights[i] * 2 * math.Pi / around})
			for m := range jump {
				ms, mc := math.Sincos(2 * math.Pi * float64(m*g%around) / around)
				norm := 2.0 / around
				if m == 0 {
					norm = 1.0 / around
				}
				for k, v := range jump[m] {
					cosine[m][k] += norm * weights[i] * j * mc * v / 2
					sine[m][k] += norm * weights[i] * j * ms * v / 2
				}
			}
		}
	}
	for _, p := range []Vector{{0.1, 0.2, 0.5}, {-0.3, 0.4, 0.9}, {0.7, -0.5, -0.6}, {1.5, 0.2, 0.4}, {0, 0, 0.7}, {-3, 1, -2}} {
		var want float64
		var field Vector
		for _, c := range cells {
			d := p.Sub(Vector{c.x, c.y, 0})
			r := d.Norm()
			k := c.moment / (4 * math.Pi * r * r * r)
			want += k * d.Z
			field = field.Add(d.Scale(3 * k * d.Z / (r * r))).Sub(Vector{Z: k})
		}
		pot, e := o.summed(p, cosine, sine)
		numtest.Check(t, fmt.Sprintf("potential at %v", p), pot, want, numtest.Tolerance{Abs: 1e-11})
		numtest.Check(t, fmt.Sprintf("|δE| at %v", p), e.Sub(field).Norm(), 0, numtest.Tolerance{Abs: 1e-11})
	}
}

// summed is the potential and field of the basis with these coefficients.
func (o *oblate) summed(p Vector, cosine, sine [][]float64) (pot float64, e Vector) {
	v := o.rowsAt(math.Hypot(p.X, p.Y), p.Z)
	theta := math.Atan2(p.Y, p.X)
	s, c := math.Sincos(theta)
	for m := range cosine {
		ms, mc := math.Sincos(float64(m) * theta)
		for k := range cosine[m] {
			along, across := cosine[m][k]*mc+sine[m][k]*ms, cosine[m][k]*ms-sine[m][k]*mc
			pot += along * v[0][m][k]
			er, et := along*v[1][m][k], across*v[3][m][k]
			e = e.Add(Vector{er*c - et*s, er*s + et*c, along * v[2][m][k]})
		}
	}
	return pot, e
}

// Source: testdata/plate_thin_disc.json (case A8: electrodes on a thin disc between
// water and sediment; its two methods agree to 1e-13).
//
// There the potential in the water is φ∞(1 − κ) + κV, κ = σs/(σw + σs), and V is odd
// in z, 0 beside the disc, and passes the electrode's current I/σw through its point of the disc and
// none elsewhere: its coefficients are that point's P̄ over the flux's. The sum converges
// off the disc as (√(1+ξ²) − ξ)^l, so places are those where that is below 1e-13.
func TestOblateAgainstElectrodesOnThinDisc(t *testing.T) {
	for _, c := range plateCases(t, "plate_thin_disc.json") {
		radius, sw, ss, current := c.Diameter/2, c.Water, c.Sediment, c.Current
		o := newOblate(radius, 25, 110)
		cosine, none, jump := oblateRows(o)[0], oblateRows(o)[0], oblateRows(o)[0]
		o.jump(c.Separation/2, jump)
		for m := 1; m <= o.mMax; m += 2 { // a source and a sink: even waves cancel
			for k, v := range jump[m] {
				cosine[m][k] = 2 * current / sw * v / 2 * 2 / (math.Pi * radius * o.kappa[m][k])
			}
		}
		kappa := ss / (sw + ss)
		tested, worst := 0, 0.0
		for _, row := range c.Points { // x, y, z, φ, E
			p := Vector{row[0], row[1], row[2]}
			xi, _, _, _ := o.coordinates(math.Hypot(p.X, p.Y), p.Z)
			if math.Asinh(xi)*float64(2*o.n) < 30 {
				continue
			}
			tested++
			pot, e := o.summed(p, cosine, none)
			pot, e = pot*kappa, e.Scale(kappa)
			for _, sign := range []float64{1, -1} {
				d := Vector{p.X - sign*c.Separation/2, p.Y, p.Z}
				k := sign * current * (1 - kappa) / (2 * math.Pi * sw * d.Norm())
				pot += k
				e = e.Add(d.Scale(k / (d.Norm() * d.Norm())))
			}
			want := Vector{row[4], row[5], row[6]}
			diff := e.Sub(want).Norm() / want.Norm()
			worst = math.Max(worst, diff)
			numtest.Check(t, fmt.Sprintf("|δE|/|E| at (%g, %g, %g)", p.X, p.Y, p.Z), diff, 0, numtest.Tolerance{Abs: 1e-10})
			numtest.Check(t, "potential", pot, row[3], numtest.Tolerance{Rel: 1e-10, Abs: 1e-12 * want.Norm()})
		}
		if tested < 15 {
			t.Errorf("%s: only %d places were compared", c.Name, tested)
		}
		t.Logf("%s: %d of %d places, largest |δE|/|E| %.2g", c.Name, tested, len(c.Points), worst)
	}
}

// Source: the same two-sheeted solution (Sommerfeld; Smythe, from memory; proved by
// the case above) for one electrode anywhere on the disc, which has every wave:
// V = I/(2πσr)·(2/π)·arctan(S/r), S = √(R² − e²)·η, for an electrode at distance e from
// the centre. Waves fall as (e/R)^m.
func TestOblateAgainstOneElectrodeOnThinDisc(t *testing.T) {
	const radius, current, sigma = 0.5, 2e-6, 4.0
	o := newOblate(radius, 40, 60)
	jump := oblateRows(o)[0]
	for _, e := range []Vector{{}, {X: 0.1, Y: 0.05}, {X: -0.06, Y: 0.17}} {
		away, theta := math.Hypot(e.X, e.Y), math.Atan2(e.Y, e.X)
		o.jump(away, jump)
		cosine, sine := oblateRows(o)[0], oblateRows(o)[0]
		for m := range jump {
			s, c := math.Sincos(float64(m) * theta)
			for k, v := range jump[m] {
				a := current / sigma * v / 2 * 2 / (math.Pi * radius * o.kappa[m][k])
				if m == 0 {
					a /= 2
				}
				cosine[m][k], sine[m][k] = a*c, a*s
			}
		}
		for _, p := range []Vector{{0.1, -0.2, 0.4}, {0, 0, -0.3}, {0.7, 0.3, 0.2}, {-0.9, 1.4, -0.6}, {0.02, 0.03, 5}} {
			_, eta, _, _ := o.coordinates(math.Hypot(p.X, p.Y), p.Z)
			r := p.Sub(e).Norm()
			want := current / (2 * math.Pi * sigma * r) * 2 / math.Pi * math.Atan(math.Sqrt(radius*radius-away*away)*math.Copysign(eta, p.Z)/r)
			got, _ := o.summed(p, cosine, sine)
			numtest.Check(t, fmt.Sprintf("electrode at (%g, %g), potential at %v", e.X, e.Y, p), got, want, numtest.Tolerance{Rel: 1e-11})
		}
	}
}
