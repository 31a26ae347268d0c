package conduction

import "math/cmplx"

// farOrder is the highest order of an expansion.
const farOrder = 14

// farReach is how many radii away an expansion serves: it leaves 2.2⁻¹⁵ = 7e-6 of what
// the body makes there.
const farReach = 2.2

// expansionOf is what dipoles within a ball make outside it: a sum of solid harmonics,
//
//	1/|x − y| = Σ_lm conj(R_lm(y))·I_lm(x),  |y| < |x|
//	R_lm = r^l·P_lm·e^imφ/(l+m)!,  I_lm = (l−m)!·P_lm·e^imφ/r^(l+1)
//
// (without Condon and Shortley's sign), whose derivatives are again of their kind. Of
// negative m is conjugate (−1)^m times that of positive m. Source: Epton and
// Dembart, SIAM Journal on Scientific Computing 16:865 (1995), from memory; the test is the plain sum.
type expansionOf struct {
	centre Vector
	reach  float64
	m      []complex128 // Σ moment·∇R_lm, l ≤ farOrder, 0 ≤ m ≤ l
}

func lm(l, m int) int { return l*(l+1)/2 + m }

func newExpansionOf(centre Vector, places, moments []Vector) *expansionOf {
	x := &expansionOf{centre: centre, m: make([]complex128, lm(farOrder+1, 0))}
	var r [(farOrder + 1) * (farOrder + 2) / 2]complex128
	for k := range places {
		y := places[k].Sub(centre)
		x.reach = max(x.reach, farReach*y.Norm())
		regular(y, farOrder-1, r[:])
		mom := &moments[k]
		across := complex(mom.X, mom.Y)
		// moment·∇ = ½·conj(across)·(∂x + i∂y) + ½·across·(∂x − i∂y) + Z·∂z
		for l := 1; l <= farOrder; l++ {
			for m := range l + 1 {
				var sum complex128
				if m < l {
					sum += complex(mom.Z, 0) * r[lm(l-1, m)]
				}
				if m+1 < l {
					sum -= cmplx.Conj(across) / 2 * r[lm(l-1, m+1)]
				}
				switch {
				case m > 0:
					sum += across / 2 * r[lm(l-1, m-1)]
				case l > 1:
					sum -= across / 2 * cmplx.Conj(r[lm(l-1, 1)])
				}
				x.m[lm(l, m)] += sum
			}
		}
	}
	return x
}

// regular sets R_lm up to an order.
func regular(y Vector, order int, r []complex128) {
	w, z, r2 := complex(y.X, y.Y), complex(y.Z, 0), complex(dotOf(y, y), 0)
	r[0] = 1
	for m := 0; m <= order; m++ {
		if m > 0 {
			r[lm(m, m)] = w / complex(float64(2*m), 0) * r[lm(m-1, m-1)]
		}
		for l := m; l < order; l++ {
			v := complex(float64(2*l+1), 0) * z * r[lm(l, m)]
			if l > m {
				v -= r2 * r[lm(l-1, m)]
			}
			r[lm(l+1, m)] = v / complex(float64((l+1)*(l+1)-m*m), 0)
		}
	}
}

// at returns potential and field; p is at least reach from the centre.
func (x *expansionOf) at(p Vector) (pot float64, e Vector) {
	const order = farOrder + 1
	var irr [(order + 1) * (order + 2) / 2]complex128
	y := p.Sub(x.centre)
	inv2 := 1 / dotOf(y, y)
	w, z := complex(y.X*inv2, y.Y*inv2), y.Z*inv2
	irr[0] = cmplx.Sqrt(complex(inv2, 0))
	for m := 0; m <= order; m++ {
		if m > 0 {
			irr[lm(m, m)] = complex(float64(2*m-1), 0) * w * irr[lm(m-1, m-1)]
		}
		for l := m; l < order; l++ {
			v := complex(float64(2*l+1)*z, 0) * irr[lm(l, m)]
			if l > m {
				v -= complex(float64(l*l-m*m)*inv2, 0) * irr[lm(l-1, m)]
			}
			irr[lm(l+1, m)] = v
		}
	}
	for l := 1; l <= farOrder; l++ {
		c := real(x.m[lm(l, 0)])
		pot += c * real(irr[lm(l, 0)])
		e.X += c * real(irr[lm(l+1, 1)])
		e.Y += c * imag(irr[lm(l+1, 1)])
		e.Z += c * real(irr[lm(l+1, 0)])
		for m := 1; m <= l; m++ {
			c := cmplx.Conj(x.m[lm(l, m)])
			pot += 2 * real(c*irr[lm(l, m)])
			up, down := c*irr[lm(l+1, m+1)], c*irr[lm(l+1, m-1)]
			e.X += real(up - down)
			e.Y += imag(up + down)
			e.Z += 2 * real(c*irr[lm(l+1, m)])
		}
	}
	return pot, e
}
