package conduction

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// gaussRule is Gauss–Legendre's of n places on −1 … 1, with Lagrange's interpolation
// between them.
type gaussRule struct {
	n    int
	x, w []float64
	half [2][]float64 // from the places to those of the lower and the upper half, row by row
}

func newRule(n int) *gaussRule {
	r := &gaussRule{n: n, x: make([]float64, n), w: make([]float64, n)}
	quad.Legendre{}.FixedLocations(r.x, r.w, -1, 1)
	l, d := make([]float64, n), make([]float64, n)
	for h, shift := range [2]float64{-0.5, 0.5} {
		for _, t := range r.x {
			lagrange(r.x, shift+t/2, l, d)
			r.half[h] = append(r.half[h], l...)
		}
	}
	return r
}

// bodyRules are the rules of the orders in use.
var bodyRules = func() (r [8]*gaussRule) {
	for n := 2; n < len(r); n++ {
		r[n] = newRule(n)
	}
	return r
}()

func (p *tile) rule() *gaussRule { return bodyRules[p.order] }

// cell is a part of a panel, or of a mirror image of one.
type cell struct {
	of     *tile
	mirror *[3]float64
	lo, hi [2]float64
}

func (p *tile) whole(mirror *[3]float64) cell { return cell{p, mirror, p.lo, p.hi} }

// at returns a place of the cell and the outward area there, in the field frame.
func (s *solid) at(c *cell, u, v float64) (at, area Vector) {
	p, a := s.point(c.of.piece, u, v)
	for k, m := range c.mirror {
		p[k] *= m
		a[k] *= m
	}
	return s.place(p), s.turned(a)
}

// span is a cell's middle, the radius of the ball round it, and its longer side.
func (s *solid) span(c *cell) (middle Vector, radius float64, longer int) {
	middle, _ = s.at(c, (c.lo[0]+c.hi[0])/2, (c.lo[1]+c.hi[1])/2)
	var corner [4]Vector
	for k := range corner {
		ends := [2][2]float64{c.lo, c.hi}
		corner[k], _ = s.at(c, ends[k&1][0], ends[k>>1][1])
		radius = math.Max(radius, corner[k].Sub(middle).Norm())
	}
	if corner[2].Sub(corner[0]).Norm()+corner[3].Sub(corner[1]).Norm() > corner[1].Sub(corner[0]).Norm()+corner[3].Sub(corner[2]).Norm() {
		longer = 1
	}
	return middle, radius, longer
}

// halves are the cell's lower and upper halves along a side.
func (c *cell) halves(side int) [2]cell {
	out := [2]cell{*c, *c}
	mid := (c.lo[side] + c.hi[side]) / 2
	out[0].hi[side], out[1].lo[side] = mid, mid
	return out
}

// farAway is how many radii of a cell a place must be away for Gauss's rule.
const farAway = 2.2

// deepest is how often a cell is halved at most.
const deepest = 40

// halfOf carries values at a cell's places to those of one of its halves, or, turned
// round, weights of the half's places back to the cell's.
func (r *gaussRule) halfOf(values []float64, side, which int, back bool, out []float64) {
	n, m := r.n, r.half[which]
	for i := range n * n {
		out[i] = 0
	}
	for i := range n {
		for j := range n {
			for k := range n {
				w := m[j*n+k]
				from, to := i*n+k, i*n+j
				if side == 0 {
					from, to = k*n+i, j*n+i
				}
				if back {
					from, to = to, from
				}
				out[to] += w * values[from]
			}
		}
	}
}

const overFourPi = 1 / (4 * math.Pi)

// laid is a whole panel, or its mirror image, with what is asked of it often.
type laid struct {
	cell
	middle        Vector
	radius        float64
	places, areas []Vector // Gauss's
}

func (s *solid) laid(p *tile, mirror *[3]float64) laid {
	l := laid{cell: p.whole(mirror)}
	l.middle, l.radius, _ = s.span(&l.cell)
	s.gauss(&l.cell, func(_ int, at, area Vector) {
		l.places = append(l.places, at)
		l.areas = append(l.areas, area.Scale(overFourPi))
	})
	return l
}

// weightsOf adds to out what the density's values at the panel's places weigh in the
// potential at x. x may lie on the panel, if it is bent: a part of the size least is
// left out.
func (s *solid) weightsOf(l *laid, x Vector, least float64, out []float64) {
	if x.Sub(l.middle).Norm() <= farAway*l.radius {
		s.weights(&l.cell, x, least, 0, out)
		return
	}
	for i := range l.places {
		v := x.Sub(l.places[i])
		r2 := dotOf(v, v)
		out[i] += dotOf(l.areas[i], v) / (r2 * math.Sqrt(r2))
	}
}

// weights is weightsOf for a part of a panel.
func (s *solid) weights(c *cell, x Vector, least float64, depth int, out []float64) {
	r := c.of.rule()
	middle, radius, longer := s.span(c)
	d := x.Sub(middle).Norm()
	if d <= farAway*radius && depth < deepest && radius > least {
		var down, up [64]float64
		n2 := r.n * r.n
		for which, h := range c.halves(longer) {
			for i := range n2 {
				down[i] = 0
			}
			s.weights(&h, x, least, depth+1, down[:n2])
			r.halfOf(down[:n2], longer, which, true, up[:n2])
			for i := range n2 {
				out[i] += up[i]
			}
		}
		return
	}
	if d <= 2*radius {
		return
	}
	s.gauss(c, func(i int, at, area Vector) {
		v := x.Sub(at)
		r2 := dotOf(v, v)
		out[i] += overFourPi * dotOf(area, v) / (r2 * math.Sqrt(r2))
	})
}

// gauss visits the places of Gauss's rule on a cell, with their areas.
func (s *solid) gauss(c *cell, visit func(i int, at, area Vector)) {
	r := c.of.rule()
	mu, hu := (c.lo[0]+c.hi[0])/2, (c.hi[0]-c.lo[0])/2
	mv, hv := (c.lo[1]+c.hi[1])/2, (c.hi[1]-c.lo[1])/2
	for i, u := range r.x {
		for j, v := range r.x {
			at, area := s.at(c, mu+hu*u, mv+hv*v)
			visit(i*r.n+j, at, area.Scale(r.w[i]*r.w[j]*hu*hv))
		}
	}
}

// made is what dipoles at places make at x: potential and field.
func made(x Vector, places, moments []Vector) (pot float64, e Vector) {
	for k := range places {
		v := x.Sub(places[k])
		m := &moments[k]
		inv2 := 1 / (v.X*v.X + v.Y*v.Y + v.Z*v.Z)
		inv3 := inv2 * math.Sqrt(inv2)
		p := (m.X*v.X + m.Y*v.Y + m.Z*v.Z) * inv3
		pot += p
		p *= 3 * inv2
		e.X += p*v.X - inv3*m.X
		e.Y += p*v.Y - inv3*m.Y
		e.Z += p*v.Z - inv3*m.Z
	}
	return pot, e
}

// close is what a cell with a density makes at a place near by.
func (s *solid) close(c *cell, u []float64, x Vector, depth int) (pot float64, e Vector) {
	r := c.of.rule()
	middle, radius, longer := s.span(c)
	if x.Sub(middle).Norm() <= farAway*radius && depth < deepest {
		var half [64]float64
		for which, h := range c.halves(longer) {
			r.halfOf(u, longer, which, false, half[:r.n*r.n])
			v, g := s.close(&h, half[:r.n*r.n], x, depth+1)
			pot += v
			e = e.Add(g)
		}
		return pot, e
	}
	var places, moments [64]Vector
	s.gauss(c, func(i int, at, area Vector) {
		places[i], moments[i] = at, area.Scale(u[i]*overFourPi)
	})
	return made(x, places[:r.n*r.n], moments[:r.n*r.n])
}
