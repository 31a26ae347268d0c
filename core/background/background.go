// Package background works out the fields that a stimulus did not make, in two
// kinds that are never added to each other.
//
// Uniform: sea water that moves through the Earth's magnetic field, and an
// animal that swims in it ([Earth], [Motional]). It is an upper bound, and there
// is no distance from it.
//
// Local: gear that is a dipole, a couple of metals or a leak ([Dipole], [Couple],
// [Leak], [Measured]). Its field falls with the distance, and from a [Dipole.Standoff]
// on it adds less than a stated field.
//
// Units are SI where a name says nothing else; fields of the Earth are in nT, as
// in the trade. Directions of the Earth are north, east, down. Places are x, y, z
// with z up, and z = 0 the bottom or the plate that lies on it.
package background

import "math"

// Vector is a vector in north, east and down.
type Vector struct{ North, East, Down float64 }

// Length is the magnitude.
func (v Vector) Length() float64 { return math.Hypot(math.Hypot(v.North, v.East), v.Down) }

// nVPerCmPerVPerM turns V/m into nV/cm.
const nVPerCmPerVPerM = 1e7
