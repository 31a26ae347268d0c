package conduction

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

// sphereBeside is the field of a point electrode at the height d over the middle of
// a sphere of radius a in endless water: potential and field at a place in the frame of the
// sphere, whose z goes through the electrode. With κ = σ_sphere/σ_water, by the series of
// Legendre's polynomials that meets both conditions at r = a,
//
//	φ = I/(4πσ)·[1/R + Σ_n B_n·P_n(cos θ)/r^(n+1)],  B_n = n(1−κ)/(n(1+κ)+1)·a^(2n+1)/d^(n+1)
//
// (Stratton, Electromagnetic Theory, 1941, section 3.21 for the dielectric sphere, whose equations these are; from memory).
func sphereBeside(current, sigma, kappa, a, d float64, p Vector) (float64, Vector) {
	f := current / (4 * math.Pi * sigma)
	at := p.Sub(Vector{Z: d})
	r1 := at.Norm()
	pot, e := f/r1, at.Scale(f/(r1*r1*r1))
	r := p.Norm()
	c := p.Z / r
	p0, p1 := 1.0, c
	q0, q1 := 0.0, 1.0 // P'_n
	var er, slope float64
	ratio := a * a / (r * d)
	power := a / (r * d)
	for n := 1; n < 4000; n++ {
		power *= ratio
		k := float64(n)
		b := k / (k*(1+kappa) + 1) * (1 - kappa)
		if math.IsInf(kappa, 1) {
			b = -1
		}
		b *= power
		pot += f * b * p1
		er += f * b * (k + 1) / r * p1
		slope += f * b / r * q1 // ∂φ/∂(cos θ)/r
		if math.Abs(power) < 1e-18*(1/r1) {
			break
		}
		p0, p1 = p1, ((2*k+1)*c*p1-k*p0)/(k+1)
		q0, q1 = q1, ((2*k+1)*c*q1-(k+1)*q0)/k
	}
	radial := p.Scale(1 / r)
	// ∂cos θ/∂x = (ẑ − c·r̂)/r
	e = e.Add(radial.Scale(er)).Sub((Vector{Z: 1}).Sub(radial.Scale(c)).Scale(slope))
	return pot, e
}

func freeWater() Medium { return Medium{WaterSPerM: 5, DepthM: math.Inf(1), WaterBelow: true} }

// worstOf is the largest |δE|/|E|.
func worstOf(t testing.TB, s *BodySolution, points []Point, want func(k int) Vector) float64 {
	t.Helper()
	worst := 0.0
	for k, p := range points {
		got, err := s.FieldAt(p)
		if err != nil {
			t.Fatal(err)
		}
		w := want(k)
		worst = math.Max(worst, got.Sub(w).Norm()/w.Norm())
	}
	return worst
}

func solvedWithBodies(t testing.TB, m Medium, plates []Plate, bodies []Body, electrodes []Electrode, tolerance float64, points ...Point) *BodySolution {
	t.Helper()
	s, err := SolveWithBodies(m, plates, bodies, electrodes, PlateOptions{RelativeTolerance: tolerance, Points: points})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// shell are places round a body, at a distance from it.
func shell(b Body, off float64, n int) (out []Point) {
	s := newSolid(b)
	for k := range n {
		up := 1 - 2*(float64(k)+0.5)/float64(n)
		sin, cos := math.Sincos(2.399963 * float64(k))
		flat := math.Sqrt(1 - up*up)
		dir := Vector{flat * cos, flat * sin, up}
		on := s.nearest(Vector(b.Centre).Add(dir.Scale(3 * s.around())))
		out = append(out, Point(on.Add(s.outward(on).Scale(off))))
	}
	return out
}

// checkEstimate: the true error is below the estimate, and the estimate is not more
// than much times the error (or than floor, where the solver is better than it needs to be).
func checkEstimate(t testing.TB, what string, s *BodySolution, truth, much, floor float64) {
	t.Helper()
	t.Logf("%s: estimate %.1e, true %.1e, %d unknowns", what, s.RelativeError(), truth, s.Unknowns())
	if truth > s.RelativeError() {
		t.Errorf("%s: true error %.2e above the estimate %.2e", what, truth, s.RelativeError())
	}
	if s.RelativeError() > math.Max(much*truth, floor) {
		t.Errorf("%s: estimate %.2e absurdly above the true error %.2e", what, s.RelativeError(), truth)
	}
}

// A sphere beside a point electrode, insulating, poorly and well conducting, and perfectly.
func TestSphereBesidePointElectrode(t *testing.T) {
	long(t)
	const radius, current = 0.1, 1e-5
	ball := Body{Shape: BodySpheroid, SizeM: [3]float64{2 * radius, 2 * radius, 2 * radius}, YawDeg: 25, PitchDeg: 40}
	for _, c := range []struct {
		name      string
		sigma, d  float64
		tolerance float64
	}{
		{"insulating, a radius away", 0, 0.2, 0.005},
		{"insulating, a fifth of the radius away", 0, 0.12, 0.005},
		{"insulating, well solved", 0, 0.15, 0.0005},
		{"poorly conducting", 0.5, 0.15, 0.002},
		{"well conducting", 50, 0.15, 0.005},
		{"perfectly conducting", math.Inf(1), 0.15, 0.002},
	} {
		ball.SPerM = c.sigma
		points := append(shell(ball, 0.01, 40), shell(ball, 0.1, 40)...)
		points = append(points, shell(ball, 1, 20)...)
		s := solvedWithBodies(t, freeWater(), nil, []Body{ball}, []Electrode{{At: Point{Z: c.d}, CurrentA: current}}, c.tolerance, points...)
		truth := worstOf(t, s, points, func(k int) Vector {
			_, e := sphereBeside(current, 5, c.sigma/5, radius, c.d, Vector(points[k]))
			return e
		})
		checkEstimate(t, c.name, s, truth, 50, 0.005)
		for _, k := range []int{0, 50, 90} {
			got, err := s.PotentialAt(points[k])
			want, _ := sphereBeside(current, 5, c.sigma/5, radius, c.d, Vector(points[k]))
			if err != nil || math.Abs(got-want) > c.tolerance*math.Abs(want) {
				t.Errorf("%s: potential %g, want %g (%v)", c.name, got, want, err)
			}
		}
	}
}

// At the skin itself, and closer to it than panels are fine; and the largest field there.
func TestFieldAtSkinBesidePointElectrode(t *testing.T) {
	long(t)
	const radius, d, current = 0.1, 0.15, 1e-5
	ball := Body{Shape: BodySpheroid, SizeM: [3]float64{2 * radius, 2 * radius, 2 * radius}}
	s := solvedWithBodies(t, freeWater(), nil, []Body{ball}, []Electrode{{At: Point{Z: d}, CurrentA: current}}, 0.005)
	exact := func(p Vector) Vector {
		_, e := sphereBeside(current, 5, 0, radius, d, p)
		return e
	}
	for _, off := range []float64{0, 1e-6, 1e-4, 0.001, 0.003} {
		points := shell(ball, off, 200)
		if worst := worstOf(t, s, points, func(k int) Vector { return exact(Vector(points[k])) }); worst > 0.012 { // where the field is least; a panel's joints show there
			t.Errorf("%g m off the skin: |δE|/|E| = %.1e", off, worst)
		}
	}
	want, where := 0.0, 0.0
	for k := range 20000 {
		sin, cos := math.Sincos(math.Pi * (float64(k) + 0.5) / 20000)
		if e := exact(Vector{X: radius * sin, Z: radius * cos}).Norm(); e > want {
			want, where = e, radius*cos
		}
	}
	at, e, err := s.FieldAtSkin(0, 300)
	if err != nil || math.Abs(e.Norm()/want-1) > 0.003 || math.Abs(at.Z-where) > 0.003 {
		t.Errorf("largest field %.4g V/m at the height %.4g m, want %.4g at %.4g (%v)", e.Norm(), at.Z, want, where, err)
	}
}

// farPair makes a uniform field e0 along an axis at the origin of endless water of 5 S/m: of electrodes
// 1000 m away, so that it changes by (1 m/1000 m)² over a metre.
func farPair(e0 float64, axis Vector) []Electrode {
	const far = 1000.0
	i := e0 * 4 * math.Pi * 5 * far * far / 2
	return []Electrode{{At: Point(axis.Scale(-far)), CurrentA: i}, {At: Point(axis.Scale(far)), CurrentA: -i}}
}

// spheroidInField is case A7 of the reference (testdata/body_spheroid.json names it): a spheroid with the half-lengths a along x and b
// across in the field E0 along one of its axes, from
//
//	φ = −E0·x_i·(1 − C·g_i(λ)),  g_i = ∫_λ^∞ ds/((s + a_i²)·Δ(s)),  C = (κ−1)/(1 + n_i(κ−1))·ab²/2
//
// with the integral by Gauss's rule after s + a_min² = u⁻², and the field by differences.
func spheroidInField(a, b, kappa float64, axis int, p Vector) Vector {
	half := [3]float64{a, b, b}
	g := func(lambda float64) float64 {
		// s = λ + (1/v − 1)·L, v from 0 to 1; the integrand goes as √v at v → 0, so v = w².
		const n = 24
		long := a * b
		if lambda > long {
			long = lambda
		}
		sum := 0.0
		for i := range n {
			for j, x := range gaussNodes {
				w := (float64(i) + (x+1)/2) / n
				v := w * w
				s := lambda + (1/v-1)*long
				ds := long / (v * v) * 2 * w * gaussWeights[j] / 2 / n
				delta := math.Sqrt(s+a*a) * (s + b*b)
				sum += ds / ((s + half[axis]*half[axis]) * delta)
			}
		}
		return sum
	}
	n := a * b * b / 2 * g(0)
	c := (kappa - 1) / (1 + n*(kappa-1)) * a * b * b / 2
	if math.IsInf(kappa, 1) {
		c = a * b * b / 2 / n
	}
	phi := func(q Vector) float64 {
		rho2 := q.Y*q.Y + q.Z*q.Z
		// λ: the larger root of x²/(a²+λ) + ρ²/(b²+λ) = 1.
		m := a*a + b*b - q.X*q.X - rho2
		k := a*a*b*b - q.X*q.X*b*b - rho2*a*a
		root := math.Sqrt(m*m/4 - k)
		lambda := -m/2 + root
		if m > 0 {
			lambda = -k / (m/2 + root)
		}
		x := [3]float64{q.X, q.Y, q.Z}[axis]
		return -x * (1 - c*g(math.Max(lambda, 0)))
	}
	const h = 1e-5
	return Vector{
		(phi(p.Sub(Vector{X: h})) - phi(p.Add(Vector{X: h}))) / (2 * h),
		(phi(p.Sub(Vector{Y: h})) - phi(p.Add(Vector{Y: h}))) / (2 * h),
		(phi(p.Sub(Vector{Z: h})) - phi(p.Add(Vector{Z: h}))) / (2 * h),
	}
}

// Case A7a of the reference: 30 points round a slender insulating spheroid.
func TestSpheroidAgainstReference(t *testing.T) {
	raw, err := os.ReadFile("testdata/body_spheroid.json")
	if err != nil {
		t.Fatal(err)
	}
	var c struct {
		E0     float64 `json:"E0_V_per_m"`
		SizeM  [3]float64
		Points [][]float64
	}
	if err := json.Unmarshal(raw, &c); err != nil || len(c.Points) < 30 {
		t.Fatalf("%v, %d points", err, len(c.Points))
	}
	body := Body{Shape: BodySpheroid, SizeM: c.SizeM}
	var points []Point
	for _, p := range c.Points {
		points = append(points, Point{p[0], p[1], p[2]})
	}
	s := solvedWithBodies(t, freeWater(), nil, []Body{body}, farPair(c.E0, Vector{X: 1}), 0.002, points...)
	truth := worstOf(t, s, points, func(k int) Vector { return Vector{c.Points[k][4], c.Points[k][5], c.Points[k][6]} })
	checkEstimate(t, "A7a", s, truth, 100, 0.002)
	_, largest, err := s.FieldAtSkin(0, 400)
	// The largest field at an insulating spheroid's skin is E0/(1 − n), n = 0.0407788656 (A7).
	if want := c.E0 / (1 - 0.04077886555856666); err != nil || math.Abs(largest.Norm()/want-1) > 0.003 {
		t.Errorf("largest field at the skin %g, want %g (%v)", largest.Norm(), want, err)
	}
}

// Spheroids of other forms and conductivities, against A7's closed form.
func TestSpheroidsInUniformField(t *testing.T) {
	for _, c := range []struct {
		name    string
		a, b    float64
		sigma   float64
		axis    int
		allowed float64
	}{
		{"slender, across", 0.4, 0.08, 0, 1, 0.005},
		{"slender, poorly conducting, along", 0.4, 0.08, 0.3, 0, 0.005},
		{"slender, perfectly conducting, along", 0.3, 0.1, math.Inf(1), 0, 0.01},
		{"flat, broadside", 0.06, 0.2, 0, 0, 0.01},
		{"flat, conducting, along its breadth", 0.06, 0.2, 20, 2, 0.01},
	} {
		body := Body{Shape: BodySpheroid, SizeM: [3]float64{2 * c.a, 2 * c.b, 2 * c.b}, SPerM: c.sigma}
		axis := [3]Vector{{X: 1}, {Y: 1}, {Z: 1}}[c.axis]
		points := append(shell(body, 0.01, 30), shell(body, 0.05, 30)...)
		points = append(points, shell(body, 0.4, 30)...)
		s := solvedWithBodies(t, freeWater(), nil, []Body{body}, farPair(1e-6, axis), c.allowed, points...)
		truth := worstOf(t, s, points, func(k int) Vector {
			return spheroidInField(c.a, c.b, c.sigma/5, c.axis, Vector(points[k])).Scale(1e-6)
		})
		checkEstimate(t, c.name, s, truth, 100, c.allowed)
	}
}

// A cube's induced moment is α·V·E₀ (per ε₀): α = −1.6383 where it insulates and 3.6442 where it conducts perfectly
// (Sihvola, Ylä-Oijala, Järvenpää and Avelin, IEEE Transactions on Antennas and Propagation 52:2226, 2004; from memory), in any direction.
// The edges make it a hard case. Forty half-sides away the next moment, of third order, is some 1e-4 of it.
func TestCubesInUniformField(t *testing.T) {
	const half = 0.1
	along := Vector{0.6, 0, 0.8}
	pair := farPair(1e-6, along)
	const away = 40 * half
	at := Point(along.Scale(away))
	plain, err := Solve(freeWater(), pair, Options{})
	if err != nil {
		t.Fatal(err)
	}
	e0, err := plain.FieldAt(at)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ sigma, alpha float64 }{{0, -1.6383}, {math.Inf(1), 3.6442}} {
		cube := Body{SizeM: [3]float64{2 * half, 2 * half, 2 * half}, SPerM: c.sigma}
		s := solvedWithBodies(t, freeWater(), nil, []Body{cube}, pair, 0.002, at)
		e, err := s.FieldAt(at)
		if err != nil {
			t.Fatal(err)
		}
		got := dotOf(e.Sub(e0), along) / 1e-6 * 2 * math.Pi * math.Pow(away, 3) / math.Pow(2*half, 3)
		t.Logf("σ %g: α = %.4f, published %.4f", c.sigma, got, c.alpha)
		if math.Abs(got/c.alpha-1) > 2e-3 {
			t.Errorf("a cube of %g S/m: α = %.4f, published %.4f", c.sigma, got, c.alpha)
		}
	}
}
