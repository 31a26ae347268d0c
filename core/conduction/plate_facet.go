package conduction

import "math"

// facet is a flat quadrilateral of a plate's surface that carries a constant
// jump of the potential (a double layer). Corners run counterclockwise when
// seen from the side to which the normal points.
type facet struct {
	corner [4]Vector
	slab   int
}

// flat is the facet as one dipole in its middle, per volt.
func (p *facet) flat() dipole {
	c := p.corner
	d, e := c[2].Sub(c[0]), c[3].Sub(c[1])
	normal := Vector{d.Y*e.Z - d.Z*e.Y, d.Z*e.X - d.X*e.Z, d.X*e.Y - d.Y*e.X}
	return dipole{c[0].Add(c[1]).Add(c[2]).Add(c[3]).Scale(0.25), normal.Scale(0.5)}
}

// solidAngle is the potential of the facet for a jump of 1 V, without images:
// Ω/4π, positive on the side of the normal, with Ω the solid angle that it
// fills seen from x. Two triangles (Van Oosterom and Strackee, IEEE
// Transactions on Biomedical Engineering 30:125, 1983, from memory) share one
// arctangent.
func (p *facet) solidAngle(x Vector) float64 {
	a, b, c, d := p.corner[0].Sub(x), p.corner[1].Sub(x), p.corner[2].Sub(x), p.corner[3].Sub(x)
	ra, rb, rc, rd := a.Norm(), b.Norm(), c.Norm(), d.Norm()
	ac := dotOf(a, c)
	n1, d1 := triple(a, b, c), ra*rb*rc+dotOf(a, b)*rc+ac*rb+dotOf(b, c)*ra
	n2, d2 := triple(a, c, d), ra*rc*rd+ac*rd+dotOf(a, d)*rc+dotOf(c, d)*ra
	return -math.Atan2(n1*d2+n2*d1, d1*d2-n1*n2) / (2 * math.Pi)
}

// field is the electric field of the facet for a jump of 1 V, without images:
// that of a closed line current round its edge (Biot and Savart).
func (p *facet) field(x Vector) Vector {
	var e Vector
	a := p.corner[3].Sub(x)
	ra := a.Norm()
	for _, corner := range p.corner {
		b := corner.Sub(x)
		rb := b.Norm()
		f := (ra + rb) / (ra * rb * (ra*rb + dotOf(a, b)))
		e.X += f * (a.Y*b.Z - a.Z*b.Y)
		e.Y += f * (a.Z*b.X - a.X*b.Z)
		e.Z += f * (a.X*b.Y - a.Y*b.X)
		a, ra = b, rb
	}
	return e.Scale(1 / (4 * math.Pi))
}

func dotOf(v, w Vector) float64 { return v.X*w.X + v.Y*w.Y + v.Z*w.Z }

func triple(a, b, c Vector) float64 {
	return a.X*(b.Y*c.Z-b.Z*c.Y) + a.Y*(b.Z*c.X-b.X*c.Z) + a.Z*(b.X*c.Y-b.Y*c.X)
}

// unit is potential and field of the dipole, without images.
func (d *dipole) unit(p Vector) (float64, Vector) {
	r := p.Sub(d.at)
	inv2 := 1 / dotOf(r, r)
	inv3 := inv2 * math.Sqrt(inv2) / (4 * math.Pi)
	m := dotOf(r, d.moment)
	return m * inv3, r.Scale(3 * m * inv3 * inv2).Sub(d.moment.Scale(inv3))
}
