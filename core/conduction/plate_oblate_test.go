package conduction

import (
	"fmt"
	"math"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
)

// oblateRows is room for one place: pot, er, ez, et.
func oblateRows(o *oblate) (out [4][][]float64) {
	for i := range out {
		for range o.mMax + 1 {
			out[i] = append(out[i], make([]float64, o.n))
		}
	}
	return out
}

func (o *oblate) rowsAt(rho, z float64) [4][][]float64 {
	rows := oblateRows(o)
	o.at(rho, z, rows[0], rows[1], rows[2], rows[3])
	return rows
}

// largest is the largest magnitude among rows of all functions.
func largest(rows ...[][]float64) float64 {
	worst := 0.0
	for _, r := range rows {
		for _, row := range r {
			for _, v := range row {
				worst = math.Max(worst, math.Abs(v))
			}
		}
	}
	return worst
}

// oblatePlaces are on, above, below, beside, near the rim, near the axis and
// far, in radii.
var oblatePlaces = [][2]float64{
	{0.3, 0.2},
	{0.3, -0.2},
	{0.9, 0.05},
	{0.97, -0.04},
	{1.05, 0.03},
	{1.4, 0.2},
	{1.4, -0.7},
	{0.05, 0.4},
	{0.02, 1.7},
	{0.6, 1.1},
	{2.5, 0.1},
	{3, -2},
	{0.4, 1e-3},
	{1.2, 1e-3},
}

// Sources: Q_1(iξ) ∝ 1 − ξ·arccot ξ and Q_2¹(iξ) ∝ [(3ξ²+2) − 3ξ(1+ξ²)·arccot ξ]/√(1+ξ²)
// by hand, with P_1 = η and P_2¹ = 3η√(1−η²); the field of the first on the axis by
// hand. Tolerance: 1e-14 of cancellation in the closed forms, times ξ⁴.
func TestOblateLowestByHand(t *testing.T) {
	const radius = 0.7
	o := newOblate(radius, 1, 3)
	for _, xi := range []float64{0, 1e-9, 0.01, 0.2, 1, 3, 8} {
		for _, eta := range []float64{1, 0.999, 0.6, 0.1, 0.01, -0.6} {
			rho := radius * math.Sqrt((1+xi*xi)*(1-eta*eta))
			z := radius * xi * eta
			if eta < 0 && xi == 0 {
				z = math.Copysign(0, -1)
			}
			got := o.rowsAt(rho, z)
			acot := math.Pi/2 - math.Atan(xi)
			tol := numtest.Tolerance{Rel: 1e-13, Abs: 1e-14 * (1 + math.Pow(xi, 4))}
			at := fmt.Sprintf(" at ξ %g η %g", xi, eta)
			// Rounding ρ changes η by 1e-16/η.
			numtest.Check(t, "l 1"+at, got[0][0][0], math.Sqrt(1.5)*eta*(1-xi*acot), oblateAtLeast(tol, 1e-13))
			q := ((3*xi*xi + 2) - 3*xi*(1+xi*xi)*acot) / math.Sqrt(1+xi*xi) / 2
			numtest.Check(t, "l 2 m 1"+at, got[0][1][0], math.Sqrt(15./4)*eta*math.Sqrt(1-eta*eta)*q, oblateAtLeast(tol, 1e-13))
			if eta == 1 {
				numtest.Check(t, "axial field"+at, got[2][0][0], math.Sqrt(1.5)*(acot-xi/(1+xi*xi))/radius, tol)
				if er, et := got[1][0][0], got[3][0][0]; er != 0 || et != 0 {
					t.Errorf("field across the axis of a wave 0%s: %g, %g", at, er, et)
				}
			}
		}
	}
}

// oblateAtLeast is the tolerance with an absolute part of at least abs.
func oblateAtLeast(tol numtest.Tolerance, abs float64) numtest.Tolerance {
	tol.Abs = math.Max(tol.Abs, abs)
	return tol
}

// heine is ∫₀^∞ (ξ + √(1+ξ²)·cosh τ)^(−l−1)·cosh mτ dτ, to which |Q_l^m(iξ)| is
// proportional, over (1+ξ²)^(−(l+1)/2). The integrand is positive, and nowhere narrower than a bell of
// standard deviation 1/√(l+1), for which the trapezoidal rule with this h is exact
// to 1e-30 at l = 100.
func heine(l, m int, xi float64) float64 {
	const h = 0.05
	tanh := xi / math.Hypot(1, xi)
	fm := float64(m)
	sum := 0.5 * math.Pow(1+tanh, -float64(l+1))
	for j := 1; j < 1000; j++ {
		// In logarithms: each factor alone overflows.
		tau := h * float64(j)
		term := math.Exp(fm*tau - math.Ln2 + math.Log1p(math.Exp(-2*fm*tau)) - float64(l+1)*math.Log(tanh+math.Cosh(tau)))
		sum += term
		if term < 1e-18*sum {
			break
		}
	}
	return h * sum
}

// Source: Heine's integral for Q_l^m (Abramowitz and Stegun ch. 8, from memory),
// evaluated here. Tolerance 1e-12, relative: powers of 100 lose two digits in
// the integral's logarithms.
func TestOblateSecondKind(t *testing.T) {
	o := newOblate(1, 40, 30)
	f, g := oblateRows(o)[0], oblateRows(o)[0]
	worst := 0.0
	for _, xi := range []float64{0, 1e-12, 1e-5, 1e-3, 0.02, 0.1, 0.3, 0.8, 2, 10, 100} {
		o.radial(xi, f, g)
		w := math.Hypot(1, xi) - xi
		if xi > 1 {
			w = 1 / (math.Hypot(1, xi) + xi)
		}
		for _, m := range []int{0, 1, 2, 3, 8, 19, 40} {
			for k := range f[m] {
				l := m + 2*k + 1
				got := math.Sqrt(2*w*w/(1+w*w)) * math.Pow(w, float64(l)) * f[m][k] * o.faceF[m][k]
				want := heine(l, m, xi) / heine(l, m, 0) * math.Exp(-0.5*float64(l+1)*math.Log1p(xi*xi))
				if want == 0 && got == 0 {
					continue
				}
				numtest.Check(t, fmt.Sprintf("Q_%d^%d(i·%g)", l, m, xi), got, want, numtest.Tolerance{Rel: 1e-12, Abs: 1e-290})
				if want > 1e-290 {
					worst = math.Max(worst, math.Abs(got/want-1))
				}
			}
		}
	}
	t.Logf("largest relative difference %.2g", worst)
}

// Source: Unsöld's sum, Σ P̄_l^m² over m = −l … l is l + ½, for l to 40. Tolerance
// 1e-12: every P̄ takes a hundred steps of its recurrence.
func TestOblateLegendreSum(t *testing.T) {
	o := newOblate(1, 40, 21)
	odd, even := make([]float64, o.n), make([]float64, o.n)
	for _, eta := range []float64{0, 1e-9, 0.1, 0.5, 0.9, 0.999999, 1} {
		sum := make([]float64, 41)
		for m := range 41 {
			o.legendre(m, eta*eta, odd, even)
			s := math.Pow((1-eta)*(1+eta), float64(m)/2)
			twice := 2.0
			if m == 0 {
				twice = 1
			}
			for l := m; l <= 40; l++ {
				p := s * even[(l-m)/2]
				if (l-m)%2 == 1 {
					p = s * eta * odd[(l-m)/2]
				}
				sum[l] += twice * p * p
			}
		}
		for l, got := range sum {
			numtest.Check(t, fmt.Sprintf("sum of squares, l %d, η %g", l, eta), got, float64(l)+0.5, numtest.Tolerance{Rel: 1e-12})
		}
	}
}

// central is the derivative of f at 0 from eight places, of order h⁸.
func central(f func(x float64) [][]float64, h float64) [][]float64 {
	var out [][]float64
	for i, w := range []float64{4. / 5, -1. / 5, 4. / 105, -1. / 280} {
		hi, lo := f(float64(i+1)*h), f(-float64(i+1)*h)
		for m := range hi {
			if i == 0 {
				out = append(out, make([]float64, len(hi[m])))
			}
			for k := range hi[m] {
				out[m][k] += w * (hi[m][k] - lo[m][k]) / h
			}
		}
	}
	return out
}

// Source: E = −∇φ, by differences of the potential of order 8, and Laplace's
// equation, by differences of the field. Steps are 1/60 of the distance to the rim, to the
// plane and to the axis, whichever is least: functions of l ≤ 13 leave
// 1e-9 of the largest.
func TestOblateFieldAndLaplace(t *testing.T) {
	const radius = 0.3
	o := newOblate(radius, 5, 4)
	for _, p := range oblatePlaces {
		rho, z := radius*p[0], radius*p[1]
		h := math.Min(math.Min(rho, math.Abs(z)), math.Hypot(rho-radius, z)) / 60
		here := o.rowsAt(rho, z)
		part := func(i int, dr, dz float64) func(x float64) [][]float64 {
			return func(x float64) [][]float64 { return o.rowsAt(rho+dr*x, z+dz*x)[i] }
		}
		dPotR, dPotZ := central(part(0, 1, 0), h), central(part(0, 0, 1), h)
		dEr, dEz := central(part(1, 1, 0), h), central(part(2, 0, 1), h)
		// Potentials are differences over h: rounding leaves 1e-16 of them over h.
		field := numtest.Tolerance{Abs: 1e-9*largest(here[1], here[2], here[3]) + 1e-15*largest(here[0])/h}
		bend := numtest.Tolerance{Abs: 1e-8*largest(dEr, dEz) + 1e-14*largest(here[1], here[2], here[3])/h}
		for m := range here[0] {
			for k := range here[0][m] {
				what := fmt.Sprintf("m %d l %d at (%g, %g)", m, m+2*k+1, p[0], p[1])
				pot, er, ez, et := here[0][m][k], here[1][m][k], here[2][m][k], here[3][m][k]
				numtest.Check(t, "er, "+what, er, -dPotR[m][k], field)
				numtest.Check(t, "ez, "+what, ez, -dPotZ[m][k], field)
				numtest.Check(t, "et, "+what, et, float64(m)*pot/rho, field)
				numtest.Check(t, "div E, "+what, dEr[m][k]+er/rho+float64(m)*et/rho+dEz[m][k], 0, bend)
			}
		}
	}
}

// Sources: the definition of the density (twice the potential on top, 0 beside the
// disc); continuity of the normal field; differences of the potential into the
// water from above; the axis as a limit.
func TestOblateOnTheDisc(t *testing.T) {
	const radius = 2.5
	o := newOblate(radius, 6, 12)
	jump, flux := oblateRows(o)[0], oblateRows(o)[0]
	for _, a := range []float64{0, 1e-9, 0.2, 0.5, 0.9, 0.999, 1 - 1e-9} {
		rho := a * radius
		o.jump(rho, jump)
		o.flux(rho, flux)
		up, down := o.rowsAt(rho, 0), o.rowsAt(rho, math.Copysign(0, -1))
		// Five places from the face up, of order h⁴: enough to see κ.
		h := radius * 2e-4 * (1 - a)
		step := func(i int) [][]float64 { return o.rowsAt(rho, float64(i)*h)[0] }
		one, two, three, four := step(1), step(2), step(3), step(4)
		for m := range jump {
			for k := range jump[m] {
				what := fmt.Sprintf("m %d l %d at ρ %g", m, m+2*k+1, a)
				tol := numtest.Tolerance{Rel: 1e-11, Abs: 1e-13 * largest(jump)}
				numtest.Check(t, "potential on top, "+what, up[0][m][k], jump[m][k]/2, tol)
				numtest.Check(t, "potential below, "+what, down[0][m][k], -jump[m][k]/2, tol)
				tol.Abs = 1e-13 * largest(flux)
				numtest.Check(t, "flux above, "+what, up[2][m][k], flux[m][k], tol)
				numtest.Check(t, "flux below, "+what, down[2][m][k], flux[m][k], tol)
				if a < 0.95 {
					slope := (-25*jump[m][k]/2 + 48*one[m][k] - 36*two[m][k] + 16*three[m][k] - 3*four[m][k]) / (12 * h)
					numtest.Check(t, "flux by differences, "+what, flux[m][k], -slope, numtest.Tolerance{Abs: 1e-7 * largest(flux)})
				}
			}
		}
	}
	o.jump(radius, jump)
	if largest(jump) != 0 {
		t.Errorf("the jump at the rim is %g, not 0", largest(jump))
	}
	for _, a := range []float64{1 + 1e-15, 1.001, 3, 1e5} {
		if beside := o.rowsAt(a*radius, 0); largest(beside[0], beside[1], beside[3]) != 0 {
			t.Errorf("beside the disc, at ρ %g, the potential is %g, not 0", a, largest(beside[0]))
		}
	}
	near, on := o.rowsAt(1e-9*radius, 0.4*radius), o.rowsAt(0, 0.4*radius)
	for i := range on {
		for m := range on[i] {
			for k := range on[i][m] {
				numtest.Check(t, fmt.Sprintf("axis, part %d, m %d l %d", i, m, m+2*k+1), on[i][m][k], near[i][m][k],
					numtest.Tolerance{Abs: 1e-7 * largest(on[i])})
			}
		}
	}
}

// Source: the closed form of κ by Gamma functions (from P_l^m and Q_l^m at 0; from
// memory), by math.Lgamma. Tolerance 1e-12: logarithms of 1e80.
func TestOblateFluxConstant(t *testing.T) {
	o := newOblate(1, 40, 30)
	lg := func(twice int) float64 { v, _ := math.Lgamma(float64(twice) / 2); return v }
	for m := range o.kappa {
		for k, got := range o.kappa[m] {
			l := m + 2*k + 1
			want := 2 * math.Exp(lg(l+m+2)+lg(l-m+2)-lg(l+m+1)-lg(l-m+1))
			numtest.Check(t, fmt.Sprintf("κ, l %d m %d", l, m), got, want, numtest.Tolerance{Rel: 1e-12})
		}
	}
}

// Source: at the edge of any screen the potential is K·√δ·sin(α/2), δ from the edge
// and α from the plane outside (Jackson, Classical Electrodynamics, on edges and
// corners); K follows from the jump. The next term is √δ smaller.
func TestOblateRim(t *testing.T) {
	const radius, delta = 1.0, 1e-9
	o := newOblate(radius, 2, 2)
	jump := oblateRows(o)[0]
	o.jump(radius-1e-8, jump)
	for _, alpha := range []float64{0, 0.4, 1.5, 2.5, math.Pi, -0.4, -2.5} {
		got := o.rowsAt(radius+delta*math.Cos(alpha), delta*math.Sin(alpha))
		if alpha == math.Pi {
			got = o.rowsAt(radius-delta, 0)
		}
		s, c := math.Sincos(alpha / 2)
		for m := range jump {
			for k := range jump[m] {
				K := jump[m][k] / 2 / math.Sqrt(1e-8)
				what := fmt.Sprintf("m %d k %d α %g", m, k, alpha)
				tol := numtest.Tolerance{Abs: 1e-3 * math.Abs(K) * math.Sqrt(delta)}
				numtest.Check(t, "potential, "+what, got[0][m][k], K*math.Sqrt(delta)*s, tol)
				tol.Abs = 1e-3 * math.Abs(K) / math.Sqrt(delta)
				numtest.Check(t, "er, "+what, got[1][m][k], K/2/math.Sqrt(delta)*s, tol)
				numtest.Check(t, "ez, "+what, got[2][m][k], -K/2/math.Sqrt(delta)*c, tol)
			}
		}
	}
	if e := o.rowsAt(radius, 0); !(largest(e[1], e[2]) > 1e20) || math.IsInf(largest(e[1], e[2]), 0) {
		t.Errorf("at the rim the field is %g; expected large and finite", largest(e[1], e[2]))
	}
}

// Source: a harmonic of degree l falls as r^−(l+1). From 10³ to 10⁴ radii the
// next term is (l/10³)² of it.
func TestOblateFarAway(t *testing.T) {
	o := newOblate(0.4, 4, 12)
	near, far := o.rowsAt(0.4*600, 0.4*800), o.rowsAt(0.4*6000, 0.4*8000)
	for m := range near[0] {
		for k := range near[0][m] {
			l := float64(m + 2*k + 1)
			size := math.Hypot(math.Hypot(near[1][m][k], near[2][m][k]), near[3][m][k])
			for i, power := range []float64{l + 1, l + 2, l + 2, l + 2} {
				tol := numtest.Tolerance{Abs: 2e-3 * size}
				if i == 0 { // near a node of the potential, what its field makes of it
					tol.Abs *= 0.4 * 1000 / (l + 1)
				}
				numtest.Check(t, fmt.Sprintf("part %d, m %d l %g", i, m, l), far[i][m][k]*math.Pow(10, power), near[i][m][k], tol)
			}
		}
	}
	if v := o.rowsAt(1e200, -3); largest(v[0], v[1], v[2], v[3]) != 0 {
		t.Error("beyond all distance the functions are not 0")
	}
}

// Sources: the largest value of a harmonic function lies on its boundary, here
// |P̄| ≤ √(l + ½) on the disc (Unsöld's sum); Φ is odd in z; nothing is infinite.
func TestOblatePropertyFinite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		radius := math.Pow(10, rapid.Float64Range(-6, 4).Draw(t, "radius"))
		o := newOblate(radius, rapid.IntRange(0, 40).Draw(t, "waves"), rapid.IntRange(1, 14).Draw(t, "functions"))
		small := func(name string) float64 {
			return radius * math.Pow(10, rapid.Float64Range(-320, 2).Draw(t, name))
		}
		rho := rapid.OneOf(
			rapid.Float64Range(0, 4*radius), rapid.Just(0.0), rapid.Just(radius), rapid.Just(math.SmallestNonzeroFloat64),
			rapid.Just(math.Nextafter(radius, 0)), rapid.Just(math.Nextafter(radius, math.Inf(1))), rapid.Just(math.MaxFloat64),
			rapid.Custom(func(*rapid.T) float64 { return small("ρ") }), rapid.Custom(func(*rapid.T) float64 { return radius + small("beyond") }),
			rapid.Float64Range(0, math.MaxFloat64),
		).Draw(t, "rho")
		z := rapid.OneOf(
			rapid.Float64Range(-4*radius, 4*radius), rapid.Just(0.0), rapid.Just(math.Copysign(0, -1)), rapid.Just(math.SmallestNonzeroFloat64),
			rapid.Just(radius), rapid.Custom(func(*rapid.T) float64 { return small("z") }), rapid.Float64Range(-math.MaxFloat64, math.MaxFloat64),
		).Draw(t, "z")
		here, other := o.rowsAt(rho, z), o.rowsAt(rho, -z)
		jump, flux := oblateRows(o)[0], oblateRows(o)[0]
		o.jump(rho, jump)
		o.flux(rho, flux)
		for m := range jump {
			for k := range jump[m] {
				if !finite(jump[m][k], flux[m][k]) {
					t.Fatalf("m %d k %d: jump %g, flux %g", m, k, jump[m][k], flux[m][k])
				}
				if most := math.Sqrt(float64(m+2*k+1)+0.5) * (1 + 1e-12); math.Abs(here[0][m][k]) > most {
					t.Fatalf("m %d k %d: potential %g, above %g", m, k, here[0][m][k], most)
				}
				for i, mirror := range []float64{-1, -1, 1, -1} {
					v := here[i][m][k]
					if !finite(v) || v != mirror*other[i][m][k] {
						t.Fatalf("m %d k %d, part %d: %g, and %g on the other side", m, k, i, v, other[i][m][k])
					}
				}
			}
		}
	})
}

// Many at once give the bits that one gives, and take no memory.
func TestOblateWorkers(t *testing.T) {
	o := newOblate(0.3, 4, 12)
	var alone [][4][][]float64
	for _, p := range oblatePlaces {
		alone = append(alone, o.rowsAt(0.3*p[0], 0.3*p[1]))
	}
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			rows := oblateRows(o)
			for j, p := range oblatePlaces {
				o.at(0.3*p[0], 0.3*p[1], rows[0], rows[1], rows[2], rows[3])
				for i := range rows {
					for m := range rows[i] {
						for k, v := range rows[i][m] {
							if v != alone[j][i][m][k] {
								t.Errorf("place %d, part %d, m %d k %d: %g and %g", j, i, m, k, v, alone[j][i][m][k])
							}
						}
					}
				}
			}
		})
	}
	all.Wait()
}

func TestOblateTakesNoMemory(t *testing.T) {
	o := newOblate(0.3, 4, 12)
	rows := oblateRows(o)
	if n := testing.AllocsPerRun(20, func() { o.at(0.2, 0.1, rows[0], rows[1], rows[2], rows[3]) }); n != 0 {
		t.Errorf("a place takes %g pieces of memory, not 0", n)
	}
}

// BenchmarkOblate is one place, all functions.
func BenchmarkOblate(b *testing.B) {
	for _, size := range [][2]int{{4, 12}, {40, 12}} {
		b.Run(fmt.Sprintf("m%d_n%d", size[0], size[1]), func(b *testing.B) {
			o := newOblate(0.3, size[0], size[1])
			rows := oblateRows(o)
			for b.Loop() {
				o.at(0.2, 0.1, rows[0], rows[1], rows[2], rows[3])
			}
		})
	}
}
