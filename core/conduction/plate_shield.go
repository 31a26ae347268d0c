package conduction

import "math"

// shield is what the face of a plate does to an electrode that lies on it, but
// for the plate's edge: the jump of the potential across the face,
//
//	2f·(D(ρ) − V(ρ, 0)),  V(ρ, z) = Σ a_i/√(ρ² + (|z| + c_i)²),  f = I/(4πσ)
//
// with D the electrode's own potential (1/ρ for a point, the disc's else). Together
// with the electrode it makes f·(2D − V) above the face and f·V below: all that
// is singular is the electrode over an endless plate, and what is left for the
// plate's own equation is smooth over the depths c_i. The weights make the jump fall
// as ρ^−(2n+1), so that nothing of it lies beyond the edge.
type shield struct {
	at      Vector
	radius  float64
	f       float64 // I/(4πσ) of the slab in which the electrode stands
	slab    int
	depths  [shieldTerms]float64
	weights [shieldTerms]float64
	room    float64 // from the electrode to the nearest edge
}

const shieldTerms = 6

// newShield: room is the distance to the plate's edge.
func newShield(e Electrode, sigma float64, slab int, room float64) *shield {
	s := &shield{
		at: Vector(e.At), radius: e.discM(), f: e.CurrentA / (4 * math.Pi * sigma), slab: slab, room: room,
	}
	for i := range s.depths {
		s.depths[i] = room * (0.4 + 0.3*float64(i)/(shieldTerms-1))
	}
	// Σ a_i c_i^2k = (−a²)^k/(2k + 1), the moments of a disc of radius a, which are
	// those of points at the imaginary depths i·a·s, 0 ≤ s ≤ 1: Lagrange's polynomials in
	// c² there, averaged over s. For a point they are taken at 0.
	for n, t := range gaussNodes {
		at := -s.radius * s.radius * (1 + t) * (1 + t) / 4
		for i, c := range s.depths {
			w := gaussWeights[n] / 2
			for j, d := range s.depths {
				if j != i {
					w *= (at - d*d) / (c*c - d*d)
				}
			}
			s.weights[i] += w
		}
	}
	return s
}

// tail returns V and −∇V.
func (s *shield) tail(p Vector) (v float64, e Vector) {
	dx, dy, z := p.X-s.at.X, p.Y-s.at.Y, p.Z-s.at.Z
	rho2, sign := dx*dx+dy*dy, 1.0
	if z < 0 {
		z, sign = -z, -1
	}
	var f, fz float64
	for i, c := range s.depths {
		h := z + c
		inv2 := 1 / (rho2 + h*h)
		w := s.weights[i] * math.Sqrt(inv2)
		v += w
		w *= inv2
		f += w
		fz += w * h
	}
	return v, Vector{f * dx, f * dy, sign * fz}
}

// own is D and its field.
func (s *shield) own(p Vector) (float64, Vector) {
	dx, dy, z := p.X-s.at.X, p.Y-s.at.Y, p.Z-s.at.Z
	var u unit
	sign := 1.0
	switch {
	case s.radius == 0:
		u = pointUnit(dx*dx+dy*dy, z)
	case z < 0:
		u, sign = discUnit(dx*dx+dy*dy, -z, s.radius), -1
	default:
		u = discUnit(dx*dx+dy*dy, z, s.radius)
	}
	return u.pot, Vector{u.rho * dx, u.rho * dy, sign * u.z}
}

// together is the electrode with its shield; below the face without the
// difference of what is equal.
func (s *shield) together(p Vector) (float64, Vector) {
	v, e := s.tail(p)
	if p.Z < s.at.Z {
		return s.f * v, e.Scale(s.f)
	}
	d, de := s.own(p)
	return s.f * (2*d - v), de.Scale(2).Sub(e).Scale(s.f)
}

// dipoles stand for the shield where it is seen from afar.
func (s *shield) dipoles(out []dipole) []dipole {
	const around = 12
	for n, t := range gaussNodes {
		rho := s.room * (1 + t) / 2
		d := 1 / rho
		if s.radius > 0 {
			d = discUnit(rho*rho, 0, s.radius).pot
		}
		v := 0.0
		for i, c := range s.depths {
			v += s.weights[i] / math.Hypot(rho, c)
		}
		m := 2 * s.f * (d - v) * rho * gaussWeights[n] * s.room / 2 * 2 * math.Pi / around
		for k := range around {
			sin, cos := math.Sincos(2 * math.Pi * (float64(k) + 0.5) / around)
			out = append(out, dipole{Vector{s.at.X + rho*cos, s.at.Y + rho*sin, s.at.Z}, Vector{Z: m}})
		}
	}
	return out
}

// dipole is a moment (jump × area × normal, in V·m²) at a place.
type dipole struct{ at, moment Vector }
