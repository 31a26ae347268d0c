package exposure

import (
	"math"

	"brinefield/core/study"
)

// vec is a point or a difference of points, in metres.
type vec struct{ x, y, z float64 }

func (a vec) plus(b vec) vec      { return vec{a.x + b.x, a.y + b.y, a.z + b.z} }
func (a vec) minus(b vec) vec     { return vec{a.x - b.x, a.y - b.y, a.z - b.z} }
func (a vec) times(k float64) vec { return vec{a.x * k, a.y * k, a.z * k} }
func (a vec) dot(b vec) float64   { return a.x*b.x + a.y*b.y + a.z*b.z }
func (a vec) length() float64     { return math.Sqrt(a.dot(a)) }
func between(a, b vec, s float64) vec {
	return vec{a.x + s*(b.x-a.x), a.y + s*(b.y-a.y), a.z + s*(b.z-a.z)}
}

// axis is the unit vector from a pair's negative to its positive electrode.
func axis(p *study.Pair) vec { return direction(p.AzimuthDeg) }

// direction is the horizontal unit vector at an azimuth in degrees. Right
// angles come out exact, so that a rig on a grid stays on it.
func direction(azimuthDeg float64) vec {
	switch math.Mod(math.Mod(azimuthDeg, 360)+360, 360) {
	case 0:
		return vec{1, 0, 0}
	case 90:
		return vec{0, 1, 0}
	case 180:
		return vec{-1, 0, 0}
	case 270:
		return vec{0, -1, 0}
	}
	sin, cos := math.Sincos(azimuthDeg * math.Pi / 180)
	return vec{cos, sin, 0}
}

func centre(p *study.Pair) vec { return vec{p.CentreXM, p.CentreYM, p.HeightM} }

// electrode is one end of a pair: a point where radius is 0, else a flat disc.
type electrode struct {
	at     vec
	radius float64
}

func electrodesOf(p *study.Pair) [2]electrode {
	c, half := centre(p), axis(p).times(p.SeparationM/2)
	r := p.ElectrodeDiameterM / 2
	return [2]electrode{{c.plus(half), r}, {c.minus(half), r}}
}

// distance from a point to the electrode's surface.
func (e electrode) distance(p vec) float64 {
	d := p.minus(e.at)
	if e.radius == 0 {
		return d.length()
	}
	out := math.Max(math.Hypot(d.x, d.y)-e.radius, 0)
	return math.Hypot(out, d.z)
}

// bearing is where a point lies as seen from a pair.
type bearing struct{ distanceM, horizontalM, angleDeg float64 }

// seenFrom gives distance in three dimensions, horizontal distance, and the
// angle between the pair's axis and the line from its centre to the point.
func seenFrom(pair *study.Pair, p vec) bearing {
	d := p.minus(centre(pair))
	a := axis(pair)
	along := d.dot(a)
	across := d.minus(a.times(along)).length()
	return bearing{
		distanceM:   d.length(),
		horizontalM: math.Hypot(d.x, d.y),
		angleDeg:    math.Atan2(across, along) * 180 / math.Pi,
	}
}

// textbook is ρId·|cos θ|/(πr³), the radial component of the field of an ideal
// dipole on an infinite insulating plane, in V/m: the form in which the field
// at a distance is usually published (docs/physics/exposure.md says what it
// leaves out).
func textbook(waterSPerM, currentA, separationM, distanceM, angleDeg float64) (float64, bool) {
	if distanceM <= 0 || waterSPerM <= 0 {
		return 0, false
	}
	e := math.Abs(currentA) * separationM * math.Abs(cosDeg(angleDeg)) / (waterSPerM * math.Pi * distanceM * distanceM * distanceM)
	return e, !math.IsInf(e, 0) && !math.IsNaN(e)
}

// cosDeg is exact at right angles.
func cosDeg(deg float64) float64 {
	if deg == 90 {
		return 0
	}
	return math.Cos(deg * math.Pi / 180)
}

func sinDeg(deg float64) float64 {
	if deg == 0 || deg == 180 {
		return 0
	}
	return math.Sin(deg * math.Pi / 180)
}
