package conduction

import "math"

// unit is the potential and field of one image of unit weight, without the
// factor I/(4πσ): for a point, 1/r and its gradient. rho is the field's radial
// component divided by the horizontal distance, so that it needs no care on
// the axis; z is the vertical component along rising distance from the image.
type unit struct{ pot, rho, z float64 }

// pointUnit is the image of a point: ∫e^{−kζ}J0(kρ)dk = 1/r.
func pointUnit(rho2, zeta float64) unit {
	r2 := rho2 + zeta*zeta
	inv := 1 / math.Sqrt(r2)
	inv3 := inv / r2
	return unit{inv, inv3, zeta * inv3}
}

// discUnit is the image of an isolated equipotential disc of radius a:
//
//	∫ sin(ka)/(ka)·e^{−kζ}J0(kρ)dk = arccot(ξ)/a = (1/a)·arcsin(2a/(s₁ + s₂))
//
// in oblate spheroidal coordinates ζ = aξη, ρ² = a²(1 + ξ²)(1 − η²). It
// must not be asked on the disc itself, nor for a negative ζ.
//
// Source: the charged conducting disc; Smythe, Static and Dynamic Electricity,
// and Jackson, Classical Electrodynamics (both from memory). Test: case A6 and
// the Hankel integral.
func discUnit(rho2, zeta, a float64) unit {
	a2 := a * a
	q := rho2 + zeta*zeta - a2
	root := math.Hypot(q, 2*a*zeta)
	var xi2 float64 // ξ²·2a², by whichever form does not cancel
	if q >= 0 {
		xi2 = q + root
	} else {
		xi2 = 4 * a2 * zeta * zeta / (root - q)
	}
	xi := math.Sqrt(xi2 / (2 * a2))
	eta := 0.0
	if xi > 0 {
		eta = zeta / (a * xi)
	}
	sum := root / a2 // ξ² + η²
	return unit{
		pot: math.Atan2(1, xi) / a,
		rho: xi / (a2 * a * (1 + xi*xi) * sum),
		z:   eta / (a2 * sum),
	}
}

// backUnit is what the insulating back of a disc on bare sediment adds, per
// unit of derivative by the source's height:
//
//	Q(ρ,ζ) = ∫ k·M(k)·e^{−kζ}J0(kρ)dk,  M(k) = 2/(πk)·∫₀¹ artanh(x)·sin(kax)dx
//
// a sheet of vertical dipoles over the disc, just strong enough that no
// current passes its back; from afar it looks as if the electrode stood a/π
// higher. Derived in docs/physics/conduction.md; the test of record is that
// the vertical field under the disc vanishes.
func backUnit(rho2, zeta, a float64) unit {
	r2 := rho2 + zeta*zeta
	if r2 > 9*a*a {
		return backFar(rho2, zeta, a)
	}
	return backNear(rho2, zeta, a)
}

// backFar sums the multipoles Σ_{odd l} ± a^l m_l P_l(cosθ)/r^{l+1} with
// m_l = ∫₀¹ x^l artanh x dx = (1 + 1/3 + … + 1/l)/(l + 1), and their gradients.
func backFar(rho2, zeta, a float64) unit {
	r2 := rho2 + zeta*zeta
	inv := 1 / math.Sqrt(r2)
	c := zeta * inv
	var u unit
	// Legendre recursion in the combinations p = P_l(c) and dp = P_l′(c).
	pPrev, p, dpPrev, dp := 1.0, c, 0.0, 1.0
	scale := inv // a^l/r^{l+1}, with the sign of the term
	odd, sign := 0.0, 1.0
	for l := 1; l <= 79; l++ {
		scale *= a * inv
		if l%2 == 1 {
			odd += 1 / float64(l)
			f := sign * scale * odd / float64(l+1)
			sign = -sign
			// φ = f·P_l(c) with f ∝ r^{−l−1}; ∂c/∂ζ = (1 − c²)/r, ∂c/∂ρ = −cρ/r².
			n := float64(l + 1)
			u.pot += f * p
			u.z += f * inv * (n*c*p - (1-c*c)*dp)
			u.rho += f * inv * inv * (n*p + c*dp)
			if scale*odd < 1e-19*inv*(a*inv) {
				break
			}
		}
		pNext := (float64(2*l+1)*c*p - float64(l)*pPrev) / float64(l+1)
		dpNext := dpPrev + float64(2*l+1)*p
		pPrev, p, dpPrev, dp = p, pNext, dp, dpNext
	}
	return unit{2 / math.Pi * u.pot, 2 / math.Pi * u.rho, 2 / math.Pi * u.z}
}

// backNear integrates over x = tanh v, in panels that shrink towards the place
// where the integrand is nearly singular (x = ρ/a, at a distance of ζ/a).
func backNear(rho2, zeta, a float64) unit {
	const vEnd = 21 // artanh(x)(1 − x²) is below 1e-16 of its largest beyond
	rho := math.Sqrt(rho2)
	v0, gap := 0.0, 1.0
	if x := rho / a; x < 1 {
		v0 = math.Atanh(x)
		gap = zeta / a / (1 - x*x)
	} else {
		v0 = 0.5 * math.Log((x+1)/math.Max(x-1, 1e-14))
		gap = math.Max(math.Abs(x-1), zeta/a)
	}
	v0 = math.Min(v0, vEnd)
	gap = math.Min(math.Max(gap, 1e-12), 1)
	var u unit
	add := func(lo, hi float64) {
		half, mid := (hi-lo)/2, (hi+lo)/2
		for i, t := range gaussNodes {
			v := mid + half*t
			x := math.Tanh(v)
			sech := 1 / math.Cosh(v)
			w := half * gaussWeights[i] * v * sech * sech
			b := a * x
			if b == 0 {
				continue
			}
			z := complex(zeta, -b)
			inv2 := 1 / (complex(rho2, 0) + z*z)
			root := sqrtRight(inv2)
			u.pot += w * imag(root)
			u.rho += w * imag(root*inv2)
			u.z += w * imag(z*root*inv2)
		}
	}
	graded := func(from, to float64) { // from v0 outward
		dir := math.Copysign(1, to-from)
		step, at := gap/2, 0.0
		for length := math.Abs(to - from); at < length; {
			next := math.Min(at+math.Min(step, 0.7), length)
			lo, hi := from+dir*at, from+dir*next
			add(math.Min(lo, hi), math.Max(lo, hi))
			at = next
			step *= 2
		}
	}
	graded(v0, 0)
	graded(v0, vEnd)
	return unit{2 / math.Pi * u.pot, 2 / math.Pi * u.rho, 2 / math.Pi * u.z}
}
