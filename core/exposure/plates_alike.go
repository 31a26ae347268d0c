package exposure

import (
	"math"

	"brinefield/core/conduction"
	"brinefield/core/study"
)

// isometry is a turn, or a turn with a mirror, about a vertical axis, and a
// horizontal shift: x ↦ m·x + shift.
type isometry struct {
	xx, xy, yx, yy float64
	shift          vec
}

var identity = isometry{xx: 1, yy: 1}

func (t *isometry) turn(v vec) vec {
	return vec{t.xx*v.x + t.xy*v.y, t.yx*v.x + t.yy*v.y, v.z}
}

func (t *isometry) to(p vec) vec { return t.turn(p).plus(t.shift) }

// back is the inverse of to.
func (t *isometry) back(p vec) vec {
	d := p.minus(t.shift)
	return vec{t.xx*d.x + t.yx*d.y, t.xy*d.x + t.yy*d.y, d.z}
}

// alike says whose solution a pair uses: that of the pair rep, moved by move,
// with the current turned round where sign is −1. Rigs are built with
// symmetry, and a pair that lies on its plate as another does needs no solution
// of its own.
type alike struct {
	rep  int
	move isometry
	sign float64
}

// sameM is how closely plates and walls must be carried onto each other: a
// nanometre.
const sameM = 1e-9

// findAlike sets l.reps: each pair that is there uses the first that lies alike.
func (l *layout) findAlike(s *study.Study) {
	l.reps = make([]alike, len(s.Pairs))
	for k := range s.Pairs {
		l.reps[k] = alike{rep: k, move: identity, sign: 1}
		if !l.there[k] {
			continue
		}
		for j := range k {
			if !l.there[j] || l.reps[j].rep != j {
				continue
			}
			if move, sign, ok := l.carries(s, j, k); ok {
				l.reps[k] = alike{j, move, sign}
				break
			}
		}
	}
}

// carries looks for a move that takes pair j to pair k, plates to plates and
// walls to walls.
func (l *layout) carries(s *study.Study, j, k int) (isometry, float64, bool) {
	p, q := &s.Pairs[j], &s.Pairs[k]
	if p.SeparationM != q.SeparationM || p.ElectrodeDiameterM != q.ElectrodeDiameterM || p.HeightM != q.HeightM {
		return identity, 0, false
	}
	a := axis(p)
	for _, sign := range [...]float64{1, -1} {
		b := axis(q).times(sign)
		for _, side := range [...]float64{1, -1} { // a mirror keeps the axis and swaps its sides
			// m takes a to b and a's left to side times b's left.
			m := isometry{
				xx: b.x*a.x + side*b.y*a.y, xy: b.x*a.y - side*b.y*a.x,
				yx: b.y*a.x - side*b.x*a.y, yy: b.y*a.y + side*b.x*a.x,
			}
			c := m.turn(vec{p.CentreXM, p.CentreYM, 0})
			m.shift = vec{q.CentreXM - c.x, q.CentreYM - c.y, 0}
			if carriesPlates(&m, l.plates) && carriesWalls(&m, s.Enclosure) {
				return m, sign, true
			}
		}
	}
	return identity, 0, false
}

func carriesPlates(m *isometry, plates []conduction.Plate) bool {
	for i := range plates {
		found := false
		for j := range plates {
			found = found || carriesPlate(m, &plates[i], &plates[j])
		}
		if !found {
			return false
		}
	}
	return true
}

// carriesPlate reports whether a move takes plate p exactly onto plate q.
func carriesPlate(m *isometry, p, q *conduction.Plate) bool {
	c := m.to(vec{p.CentreXM, p.CentreYM, 0})
	if p.ThicknessM != q.ThicknessM || p.DiameterM != q.DiameterM || math.Hypot(c.x-q.CentreXM, c.y-q.CentreYM) > sameM {
		return false
	}
	return p.DiameterM > 0 || carriesBox(m, direction(p.YawDeg), p.SizeXM, p.SizeYM, direction(q.YawDeg), q.SizeXM, q.SizeYM)
}

// carriesBox compares rectangles about one centre: a along which the first has
// its length, b that of the second.
func carriesBox(m *isometry, a vec, ax, ay float64, b vec, bx, by float64) bool {
	a = m.turn(a)
	along, across := math.Abs(a.dot(b)), math.Abs(a.x*b.y-a.y*b.x)
	longest := math.Max(ax, ay)
	switch {
	case across*longest <= sameM:
		return math.Abs(ax-bx) <= sameM && math.Abs(ay-by) <= sameM
	case along*longest <= sameM:
		return math.Abs(ax-by) <= sameM && math.Abs(ay-bx) <= sameM
	}
	return false
}

func carriesWalls(m *isometry, e *study.Enclosure) bool {
	if e == nil {
		return true
	}
	c := m.to(vec{e.CentreXM, e.CentreYM, 0})
	if math.Hypot(c.x-e.CentreXM, c.y-e.CentreYM) > sameM {
		return false
	}
	x := vec{1, 0, 0}
	return e.DiameterM.Known || carriesBox(m, x, e.SizeXM, e.SizeYM, x, e.SizeXM, e.SizeYM)
}
