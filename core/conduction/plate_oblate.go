package conduction

import "math"

// oblate is the basis for a thin horizontal disc: for m = 0 … mMax and
// k = 0 … n−1, with l = m + 2k + 1, the harmonic functions
//
//	φ(ρ, z, θ) = Φ(ρ, z)·cos mθ or sin mθ,  Φ = P̄(η)·Q(ξ)
//
// in the disc's own frame (metres, centre at the origin, z up) and in oblate
// spheroidal coordinates z = Rξη, ρ² = R²(1 + ξ²)(1 − η²), ξ ≥ 0, η with the
// sign of z. P̄ is the associated Legendre function P_l^m without the factor
// (−1)^m, so scaled that ∫P̄² dη over −1 … 1 is 1; Q is Q_l^m(iξ)/Q_l^m(i0).
// Hence |Φ| ≤ √(l + ½) everywhere, Φ is odd in z, vanishes in the disc's plane
// outside it, and falls as r^−(l+1).
//
// On the disc Q = 1: the jump of the potential, upper less lower, is exactly
// 2·P̄(η) with η = √(1 − ρ²/R²). It vanishes at the rim as a square root.
//
// Formulas: docs/physics/thin-disc.md, from memory of Smythe, Static and Dynamic
// Electricity, and Abramowitz and Stegun, ch. 8; proved by the tests. An oblate
// does not change once made and is safe for concurrent use.
type oblate struct {
	radius  float64
	mMax, n int
	top     int // the largest l

	// Q: series of F at l = top and top+1 for m = 0 and 1, in powers of t; steps
	// down in l for the same two m; 1/F at ξ = 0 by m and k.
	series [2][2][]float64
	down   [2][]float64
	faceF  [][]float64
	invert []float64 // 1/j

	// P̄ = (1 − η²)^(m/2)·p: p at l = m, steps up in l by m and l−m, and the factor
	// of dp/dη by m and k.
	first    []float64
	up, back [][]float64
	slope    [][]float64

	kappa [][]float64 // −dQ/dξ at ξ = 0, by m and k
}

const (
	// Beyond so many radii every function and field counts as 0; the largest is
	// 1e-300 there.
	oblateFar = 1e150
	// Nearer to the rim than this (ξ² + η², twice the distance in radii), the
	// field is that at this distance: at the rim itself it is infinite.
	oblateRim = 1e-60
)

// newOblate makes the basis of a disc of so many metres radius (above 0 and
// finite), for waves 0 … mMax and n ≥ 1 functions each.
func newOblate(radius float64, mMax, n int) *oblate {
	o := &oblate{radius: radius, mMax: mMax, n: n, top: mMax + 2*n - 1}
	for m := range 2 {
		for i := range 2 {
			o.series[m][i] = oblateSeries(m, o.top+i)
		}
		o.down[m] = make([]float64, o.top+1)
		for l := 1; l <= o.top; l++ {
			o.down[m][l] = float64((l+1)*(l+1)-m*m) / ((float64(l) + 0.5) * (float64(l) + 1.5))
		}
	}
	o.invert = make([]float64, o.top+mMax+3)
	for j := 1; j < len(o.invert); j++ {
		o.invert[j] = 1 / float64(j)
	}
	o.layLegendre()

	rows := func() [][]float64 {
		r := make([][]float64, mMax+1)
		for m := range r {
			r[m] = make([]float64, n)
		}
		return r
	}
	o.faceF, o.kappa = rows(), rows()
	next := rows()
	o.radial(0, o.faceF, next)
	for m := range o.faceF {
		for k, f := range o.faceF[m] {
			o.kappa[m][k] = float64(2*m+2*k+2) * next[m][k] / f
			o.faceF[m][k] = 1 / f
		}
	}
	return o
}

// layLegendre sets the recurrences of P̄ for m = 0 … mMax+1; the last serves
// the slopes of the one before.
func (o *oblate) layLegendre() {
	c := math.Sqrt(0.5)
	for m := range o.mMax + 2 {
		if m > 0 {
			c *= math.Sqrt(float64(2*m+1) / float64(2*m))
		}
		up, back, slope := make([]float64, 2*o.n), make([]float64, 2*o.n), make([]float64, o.n)
		for j := 1; j < 2*o.n; j++ {
			l := float64(m + j)
			mm := float64(m * m)
			up[j] = math.Sqrt((4*l*l - 1) / (l*l - mm))
			back[j] = math.Sqrt(((l-1)*(l-1) - mm) / (4*(l-1)*(l-1) - 1))
		}
		for k := range slope {
			slope[k] = math.Sqrt(float64((2*k + 1) * (2*m + 2*k + 2)))
		}
		o.first = append(o.first, c)
		o.up, o.back, o.slope = append(o.up, up), append(o.back, back), append(o.slope, slope)
	}
}

// oblateSeries is the hypergeometric series F(½+m, ½−m; l+3⁄2; t) by powers of
// t, long enough for 0 ≤ t ≤ ½; m is 0 or 1, where no terms cancel.
func oblateSeries(m, l int) []float64 {
	c := []float64{1}
	for k := 0; math.Abs(math.Ldexp(c[k], -k)) > 1e-18; k++ {
		h := float64(k) + 0.5
		c = append(c, c[k]*(h+float64(m))*(h-float64(m))/((float64(l+k)+1.5)*float64(k+1)))
	}
	return c
}

// radial sets f to F and g to the F of m+1 (same l) at ξ, for each function:
//
//	Q_l^m(iξ) = const·√(2t)·w^l·F,  w = √(1+ξ²) − ξ,  t = w²/(1+w²),
//	F = F(½+m, ½−m; l+3⁄2; t).
//
// For m = 0 and 1 it comes down in l from the series at the top, and from
// those two up in m; both recurrences have positive terms only.
func (o *oblate) radial(xi float64, f, g [][]float64) {
	w := 1 / (xi + math.Hypot(1, xi))
	ww := w * w
	t, tanh := ww/(1+ww), xi/math.Hypot(1, xi)
	var here, above [2]float64
	for m := range here {
		here[m], above[m] = powers(o.series[m][0], t), powers(o.series[m][1], t)
	}
	for l := o.top; ; l-- {
		a, b := here[0], here[1]
		for m := range min(l, o.mMax+1) {
			if j := l - m - 1; j&1 == 0 && j < 2*o.n {
				f[m][j/2], g[m][j/2] = a, b
			}
			a, b = b, (2*float64(m+1)*tanh*b+float64(l-m)*a)*o.invert[l+m+2]
		}
		if l == 1 {
			return
		}
		for m := range here {
			here[m], above[m] = 2*xi*w*here[m]+ww*o.down[m][l]*above[m], here[m]
		}
	}
}

// powers is the polynomial Σ c_k t^k.
func powers(c []float64, t float64) float64 {
	sum := 0.0
	for k := len(c) - 1; k >= 0; k-- {
		sum = sum*t + c[k]
	}
	return sum
}

// legendre sets odd[k] to p/η at l = m+2k+1 and even[k] to p at l = m+2k,
// where P̄ = (1 − η²)^(m/2)·p; either may be nil.
func (o *oblate) legendre(m int, eta2 float64, odd, even []float64) {
	up, back := o.up[m], o.back[m]
	p, q := o.first[m], 0.0
	for j := 0; ; j += 2 {
		if even != nil {
			even[j/2] = p
		}
		q = up[j+1] * (p - back[j+1]*q)
		if odd != nil {
			odd[j/2] = q
		}
		if j+2 == 2*o.n {
			return
		}
		p = up[j+2] * (eta2*q - back[j+2]*p)
	}
}

// coordinates are ξ, |η|, √(1 − η²) and ξ² + η² of a place within [oblateFar].
// z and ρ−R are used as they are: near the rim all depends on them.
func (o *oblate) coordinates(rho, z float64) (xi, eta, sine, both float64) {
	a, b := rho/o.radius, math.Abs(z)/o.radius
	q := (rho-o.radius)/o.radius*(a+1) + b*b
	both = math.Hypot(q, 2*b)
	switch {
	case both < oblateRim:
		both = oblateRim
		xi = math.Sqrt(both / 2)
		eta = xi
	case q > 0:
		xi = math.Sqrt((both + q) / 2)
		eta = b / xi
	default:
		eta = math.Sqrt((both - q) / 2)
		xi = b / eta
	}
	return xi, eta, math.Min(1, a/math.Hypot(1, xi)), both
}

// at fills, for every function at the distance rho ≥ 0 from the axis and the
// height z in metres, its meridional potential and field per unit of Φ:
//
//	pot = Φ, er = −∂Φ/∂ρ, ez = −∂Φ/∂z, et = m·Φ/ρ (its limit on the axis)
//
// by m and k; the slices are the caller's, mMax+1 by n. On the disc the sign of
// z, of a zero too, says which side. It allocates nothing. The error is some
// 1e-13 of the largest function there; at the rim, where the field is
// infinite, the field is that at a distance of R·5e-61.
func (o *oblate) at(rho, z float64, pot, er, ez, et [][]float64) {
	if rho/o.radius > oblateFar || math.Abs(z)/o.radius > oblateFar {
		for m := range o.mMax + 1 {
			clear(pot[m][:o.n])
			clear(er[m][:o.n])
			clear(ez[m][:o.n])
			clear(et[m][:o.n])
		}
		return
	}
	xi, eta, sine, both := o.coordinates(rho, z)
	cosh := math.Hypot(1, xi)
	w := 1 / (xi + cosh)
	tanh := xi / cosh
	// The caller's slices serve as scratch: F and its neighbour in er and ez, p/η
	// in pot, and the p that is the slope of the row before in et.
	o.radial(xi, er, ez)
	for m := range o.mMax + 2 {
		var odd, even []float64
		if m <= o.mMax {
			odd = pot[m]
		}
		if m > 0 {
			even = et[m-1]
		}
		o.legendre(m, eta*eta, odd, even)
	}
	side := 1.0
	if math.Signbit(z) {
		side = -1
	}
	// By the chain rule, with D = ξ² + η² and ξ = sinh u:
	// R·D·∂/∂ρ = ξ·sine·∂/∂u − cosh·η·sine·∂/∂η,
	// R·D·∂/∂z = cosh·η·∂/∂u + ξ·sine²·∂/∂η.
	perD := 1 / both / o.radius
	xiD, coshD := xi*perD, cosh*perD
	perCircle := 1 / (o.radius * cosh)
	amp := w * math.Sqrt(2/(1+1/(w*w)))
	sineM, sineLess := 1.0, 0.0 // sineᵐ, sineᵐ⁻¹
	for m := range o.mMax + 1 {
		fm := float64(m)
		p, fr, fz, ft := pot[m][:o.n], er[m][:o.n], ez[m][:o.n], et[m][:o.n]
		a := amp
		for k := range p {
			odd := p[k]
			slope := o.slope[m][k] * ft[k]
			scale := a * o.faceF[m][k]
			q := scale * fr[k]
			fall := scale * (float64(2*m+2*k+2)*fz[k] - fm*tanh*fr[k]) // −dQ/du
			turn := fm*eta*eta*odd - sine*sine*slope                   // −sine²·dP̄/dη over sineᵐ
			p[k] = side * sineM * eta * odd * q
			fz[k] = sineM * (coshD*eta*eta*odd*fall + xiD*q*turn)
			if m == 0 {
				fr[k] = side * sine * eta * (xiD*odd*fall + coshD*q*slope)
				ft[k] = 0
			} else {
				fr[k] = side * sineLess * eta * (xiD*sine*sine*odd*fall - coshD*q*turn)
				ft[k] = side * fm * sineLess * eta * odd * q * perCircle
			}
			a *= w * w
		}
		amp *= w
		sineM, sineLess = sineM*sine, sineM
	}
}

// jump sets out to the density of every function, by m and k: the potential
// above the disc less that below, 2·P̄(η), at the distance rho in metres; 0
// beyond the rim.
func (o *oblate) jump(rho float64, out [][]float64) {
	o.onDisc(rho, out)
	eta := o.etaOnDisc(rho)
	for m := range o.mMax + 1 {
		for k := range out[m][:o.n] {
			out[m][k] *= 2 * eta
		}
	}
}

// flux sets out to −∂Φ/∂z on the disc of every function, by m and k, which is
// the same on both sides: κ/(2Rη) times the jump, with
//
//	κ = −dQ/dξ at 0 = 2·Γ((l+m+2)/2)·Γ((l−m+2)/2) / [Γ((l+m+1)/2)·Γ((l−m+1)/2)]
//
// It is finite up to the rim, from within; beyond it, where there is no disc,
// it stays what it is at the rim.
func (o *oblate) flux(rho float64, out [][]float64) {
	o.onDisc(rho, out)
	for m := range o.mMax + 1 {
		for k := range out[m][:o.n] {
			out[m][k] *= o.kappa[m][k] / o.radius
		}
	}
}

func (o *oblate) etaOnDisc(rho float64) float64 {
	return math.Sqrt(math.Max(0, (o.radius-rho)/o.radius*(1+rho/o.radius)))
}

// onDisc sets out to P̄/η at a place on the disc.
func (o *oblate) onDisc(rho float64, out [][]float64) {
	eta := o.etaOnDisc(rho)
	sine, sineM := math.Min(1, rho/o.radius), 1.0
	for m := range o.mMax + 1 {
		o.legendre(m, eta*eta, out[m], nil)
		for k := range out[m][:o.n] {
			out[m][k] *= sineM
		}
		sineM *= sine
	}
}
