package exposure

import "math"

// touchM is how near a path may come to an electrode before the field on it is
// taken to have no bound: no fix is good to a micrometre.
const touchM = 1e-6

// Drive is what carries current in one field: pairs with their currents.
type Drive struct {
	parts []drivenPart
	ends  []electrode
}

type drivenPart struct {
	field    UnitField
	currentA float64
}

// none reports whether the field is zero everywhere.
func (d *Drive) none() bool { return len(d.parts) == 0 }

// MagnitudeAt is the magnitude of the field at a point of the season frame, in
// V/m. The point is in the water and not on an electrode.
func (d *Drive) MagnitudeAt(xM, yM, zM float64) float64 { return d.magnitude(vec{xM, yM, zM}) }

func (d *Drive) magnitude(p vec) float64 { return d.vector(p).length() }

// vector is the field at a point, in V/m.
func (d *Drive) vector(p vec) vec {
	var ex, ey, ez float64
	for i := range d.parts {
		part := &d.parts[i]
		x, y, z := part.field.At(p.x, p.y, p.z)
		ex += part.currentA * x
		ey += part.currentA * y
		ez += part.currentA * z
	}
	return vec{ex, ey, ez}
}

// bounded is magnitude, and +Inf within touchM of a driven electrode.
func (d *Drive) bounded(p vec) float64 {
	if d.nearest(p) <= touchM {
		return math.Inf(1)
	}
	return d.magnitude(p)
}

// nearest is the distance from a point to the nearest driven electrode.
func (d *Drive) nearest(p vec) float64 {
	least := math.Inf(1)
	for i := range d.ends {
		e := &d.ends[i]
		if e.radius == 0 {
			v := p.minus(e.at)
			least = math.Min(least, v.dot(v))
			continue
		}
		r := e.distance(p)
		least = math.Min(least, r*r)
	}
	return math.Sqrt(least)
}

// nearestOn is the point of the line from a to b that is nearest to c.
func nearestOn(a, b, c vec) vec {
	ab := b.minus(a)
	l2 := ab.dot(ab)
	if l2 == 0 {
		return a
	}
	s := c.minus(a).dot(ab) / l2
	return between(a, b, math.Min(math.Max(s, 0), 1))
}

// nearestOnLine is the distance from the line between two points to the
// nearest driven electrode, a disc taken as its centre less its radius.
func (d *Drive) nearestOnLine(a, b vec) float64 {
	least := math.Inf(1)
	for i := range d.ends {
		e := &d.ends[i]
		r := nearestOn(a, b, e.at).minus(e.at).length() - e.radius
		least = math.Min(least, math.Max(r, 0))
	}
	return least
}
