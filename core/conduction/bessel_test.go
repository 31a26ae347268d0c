package conduction

import (
	"math"
	"testing"

	"brinefield/core/numeric/numtest"
)

// Abramowitz and Stegun, Handbook of Mathematical Functions, tables 9.8 and 9.9 (ten
// digits, so 1e-9).
func TestBesselTables(t *testing.T) {
	tol := numtest.Tolerance{Rel: 1e-9}
	for _, c := range []struct{ x, i0, i1 float64 }{ // times e^−x
		{1, 0.4657596077, 0.2079104154}, {2, 0.3085083225, 0.2152692892}, {5, 0.1835408126, 0.1639722669}, {10, 0.1278333372, 0.1212626814},
	} {
		numtest.Check(t, "I0", bessel0(c.x), c.i0, tol)
		r := make([]float64, 40)
		besselSteps(c.x, r, 0)
		numtest.Check(t, "I1/I0", r[0], c.i1/c.i0, tol)
	}
	for _, c := range []struct{ x, k0, k1 float64 }{
		{0.1, 2.4270690247, 9.8538447809}, {1, 0.4210244382, 0.6019072302}, {2, 0.1138938728, 0.1398658818}, {5, 3.6910983340e-3, 4.0446134455e-3},
	} {
		numtest.Check(t, "K1/K0", besselFirst(c.x), c.k1/c.k0, tol)
	}
}

// The integrals 9.6.19 and 9.6.24 of Abramowitz and Stegun, I_m(x) = ∫₀^π e^{x cos θ} cos mθ dθ/π
// and K_m(x) = ∫₀^∞ e^{−x cosh t} cosh mt dt, by the trapezoidal rule, which converges
// exponentially for both. Closeness: rounding.
func TestBesselIntegrals(t *testing.T) {
	growing := func(m int, x float64) float64 { // times e^−x
		const n = 4000
		sum := 0.0
		for i := range n {
			c := math.Cos(2 * math.Pi * float64(i) / n)
			sum += math.Exp(x*(c-1)) * math.Cos(2*math.Pi*float64(i*m%n)/n)
		}
		return sum / n
	}
	decaying := func(m int, x float64) float64 { // times e^x
		const h = 1.0 / 256
		sum := 0.5
		for i := 1; float64(i)*h < 30; i++ {
			u := h * float64(i)
			sum += math.Exp(-2*x*math.Pow(math.Sinh(u/2), 2)) * math.Cosh(float64(m)*u)
		}
		return h * sum
	}
	for _, x := range []float64{0.03, 0.7, 3, 12, 24.9, 25.1, 80, 700} {
		numtest.Check(t, "I0", bessel0(x), growing(0, x), numtest.Tolerance{Rel: 3e-14})
		numtest.Check(t, "K1/K0", besselFirst(x), decaying(1, x)/decaying(0, x), numtest.Tolerance{Rel: 3e-14})
		for _, m := range []int{0, 1, 4, 9} {
			r := make([]float64, m+1)
			besselSteps(x, r, 300)
			i0, i1 := growing(m, x), growing(m+1, x)
			if i1 > 1e-3*growing(0, x) { // less is lost in the integral's rounding
				numtest.Check(t, "I step", r[m], i1/i0, numtest.Tolerance{Rel: 1e-11})
			}
		}
	}
}

// What a row that begins 16 orders beyond its last knows of the last, against one that
// begins far beyond; and Debye's expansion by itself.
func TestBesselStepsBeginClose(t *testing.T) {
	for _, x := range []float64{1e-9, 0.5, 10, 17, 40, 150, 600, 3000} {
		far := make([]float64, 2100)
		besselSteps(x, far, 4000)
		for _, n := range []int{16, 32, 128, 2048} {
			r := make([]float64, n)
			besselSteps(x, r, 16)
			numtest.Check(t, "last step", r[n-1], far[n-1], numtest.Tolerance{Rel: 1e-12})
			y := math.Hypot(float64(n), x)
			numtest.Check(t, "Debye", besselStep(float64(n), math.Max(x, float64(n))), exactStep(n, math.Max(x, float64(n))), numtest.Tolerance{Rel: 2/math.Pow(y, 3) + 1e-13})
		}
	}
}

func exactStep(n int, x float64) float64 {
	r := make([]float64, n+1)
	besselSteps(x, r, 8000)
	return r[n]
}

// The echo of a wall from its definition, −K′_m/I′_m·I_m², with the integrals' values at
// x = 2: I′_1 = I_0 − I_1/x, K′_1 = −K_0 − K_1/x. Source: Abramowitz and Stegun 9.6.26
// and table 9.8.
func TestWallEcho(t *testing.T) {
	const x, k0, k1 = 2.0, 0.1138938728, 0.1398658818
	e := math.Exp(x)
	i0, i1 := 0.3085083225*e, 0.2152692892*e
	r := make([]float64, 40)
	besselSteps(x, r, 0)
	s0 := besselFirst(x)
	numtest.Check(t, "m = 0", wallEcho(0, x, r[0], s0, 0), k1/i1*i0*i0, numtest.Tolerance{Rel: 1e-9})
	want := (k0 + k1/x) / (i0 - i1/x) * i1 * i1
	numtest.Check(t, "m = 1", wallEcho(1, x, r[1], 2/x+1/s0, s0), want, numtest.Tolerance{Rel: 1e-9})
	// Without screening it is 1/2m: the image in the plane.
	const small = 1e-6
	besselSteps(small, r, 0)
	s, before := besselFirst(small), 0.0
	for m := range 6 {
		if m > 0 {
			numtest.Check(t, "x → 0", wallEcho(float64(m), small, r[m], s, before), 1/float64(2*m), numtest.Tolerance{Rel: 1e-9})
		}
		before, s = s, 2*float64(m+1)/small+1/s
	}
}

// The zeros of J′_m. Source: Abramowitz and Stegun, table 9.5 (their j′_{0,2} is the first
// besides 0).
func TestModesOfCircle(t *testing.T) {
	list := modesOfCircle()
	first := map[int]float64{0: 3.8317059702, 1: 1.8411837813, 2: 3.0542369282, 3: 4.2011889412, 4: 5.3175531261, 5: 6.4156163757}
	seen := map[int]int{}
	for _, md := range list {
		if seen[md.m]++; seen[md.m] == 1 {
			if want, ok := first[md.m]; ok {
				numtest.Check(t, "j′", md.kR, want, numtest.Tolerance{Rel: 1e-10})
			}
		}
		if md.m == 1 && seen[1] == 2 {
			numtest.Check(t, "j′_{1,2}", md.kR, 5.3314427735, numtest.Tolerance{Rel: 1e-10})
		}
	}
	// None was missed: j′_{m,s} < j′_{m+1,s} < j′_{m,s+1}. Source: Abramowitz and Stegun 9.5.2,
	// with their count of the zeros of J′_0.
	byOrder := make([][]float64, 66)
	byOrder[0] = []float64{0}
	for _, md := range list {
		byOrder[md.m] = append(byOrder[md.m], md.kR)
	}
	for m := range 64 {
		a, b := byOrder[m], byOrder[m+1]
		if len(a) != len(b) && len(a) != len(b)+1 {
			t.Fatalf("m = %d has %d zeros, the next %d", m, len(a), len(b))
		}
		for s := range b {
			if m == 0 && b[s] < a[s] || m > 0 && b[s] <= a[s] || s+1 < len(a) && b[s] >= a[s+1] {
				t.Errorf("m = %d: zero %d at %g, the next order's at %g", m, s+1, a[s], b[s])
			}
		}
	}
	if n := len(byOrder[0]) - 1; n != 20 { // 64/π less a quarter
		t.Errorf("%d zeros of J′_0", n)
	}
}
