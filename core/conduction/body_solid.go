package conduction

import (
	"errors"
	"math"

	"brinefield/core/numeric"
)

// BodyShape is the shape of a [Body].
type BodyShape int

// The shapes of a body.
const (
	BodyBox BodyShape = iota
	BodyCylinder
	BodySpheroid
)

// String is the word of the shape.
func (s BodyShape) String() string {
	switch s {
	case BodyBox:
		return "box"
	case BodyCylinder:
		return "cylinder"
	case BodySpheroid:
		return "spheroid"
	}
	return "unknown shape"
}

// Body is a solid near the electrodes: a housing, a weight, a boulder, an
// animal. Centre is its middle in the field frame. SizeM are its full lengths
// along its own axes before it is turned: along, across, up; a cylinder and a
// spheroid are round about the first, so that their second and third are
// equal. YawDeg turns it anticlockwise from +x; then PitchDeg lifts its nose:
// a cylinder with a pitch of 90° stands upright.
//
// SPerM is its conductivity in S/m: 0 insulates, +Inf conducts perfectly. No
// current is led into it from outside. Label is for the user and means nothing here.
type Body struct {
	Shape                   BodyShape
	Centre                  Point
	SizeM                   [3]float64
	YawDeg, PitchDeg, SPerM float64
	Label                   string
}

// Errors of bodies, beside those of [SolveOnPlates].
var (
	ErrBody   = errors.New("body")
	ErrInBody = errors.New("inside a body")
)

// solid is a body with its frame.
type solid struct {
	Body
	half    [3]float64
	axes    [3]Vector // along, across, up
	upright [2]bool   // along, up: whether the plane across this axis is upright
}

func newSolid(b Body) solid {
	s := solid{Body: b}
	for k, v := range b.SizeM {
		s.half[k] = v / 2
	}
	sinY, cosY := numeric.SinCosDeg(b.YawDeg)
	sinP, cosP := numeric.SinCosDeg(b.PitchDeg)
	s.axes = [3]Vector{
		{cosP * cosY, cosP * sinY, sinP},
		{-sinY, cosY, 0},
		{-sinP * cosY, -sinP * sinY, cosP},
	}
	s.upright = [2]bool{sinP == 0, cosP == 0}
	return s
}

// local takes a place into the body's frame.
func (s *solid) local(p Vector) [3]float64 {
	d := p.Sub(Vector(s.Centre))
	return [3]float64{dotOf(d, s.axes[0]), dotOf(d, s.axes[1]), dotOf(d, s.axes[2])}
}

// turned takes a direction out of the body's frame.
func (s *solid) turned(v [3]float64) Vector {
	return s.axes[0].Scale(v[0]).Add(s.axes[1].Scale(v[1])).Add(s.axes[2].Scale(v[2]))
}

// place takes a place out of the body's frame.
func (s *solid) place(v [3]float64) Vector { return Vector(s.Centre).Add(s.turned(v)) }

// reach is how far the body stands out from its middle along a direction.
func (s *solid) reach(dir Vector) float64 {
	d := [3]float64{dotOf(dir, s.axes[0]), dotOf(dir, s.axes[1]), dotOf(dir, s.axes[2])}
	switch s.Shape {
	case BodyBox:
		return s.half[0]*math.Abs(d[0]) + s.half[1]*math.Abs(d[1]) + s.half[2]*math.Abs(d[2])
	case BodyCylinder:
		return s.half[0]*math.Abs(d[0]) + s.half[1]*math.Hypot(d[1], d[2])
	}
	return math.Hypot(s.half[0]*d[0], math.Hypot(s.half[1]*d[1], s.half[2]*d[2]))
}

// heights are those of the body's lowest and highest points.
func (s *solid) heights() (lo, hi float64) {
	r := s.reach(Vector{Z: 1})
	return s.Centre.Z - r, s.Centre.Z + r
}

func (s *solid) least() float64 { return math.Min(s.half[0], math.Min(s.half[1], s.half[2])) }
func (s *solid) most() float64  { return math.Max(s.half[0], math.Max(s.half[1], s.half[2])) }

// around is the radius of the ball round the body.
func (s *solid) around() float64 {
	switch s.Shape {
	case BodyBox:
		return math.Hypot(s.half[0], math.Hypot(s.half[1], s.half[2]))
	case BodyCylinder:
		return math.Hypot(s.half[0], s.half[1])
	}
	return s.most()
}

// holds reports whether a place lies inside by more than onFace.
func (s *solid) holds(p Vector) bool {
	v := s.local(p)
	a := [3]float64{math.Abs(v[0]), math.Abs(v[1]), math.Abs(v[2])}
	switch s.Shape {
	case BodyBox:
		return a[0] < s.half[0]-onFace && a[1] < s.half[1]-onFace && a[2] < s.half[2]-onFace
	case BodyCylinder:
		return a[0] < s.half[0]-onFace && math.Hypot(a[1], a[2]) < s.half[1]-onFace
	}
	r := math.Hypot(v[0]/s.half[0], math.Hypot(v[1], v[2])/s.half[1])
	return r < 1-onFace/s.least()
}

// nearest is the place of the body nearest to p: p itself inside.
func (s *solid) nearest(p Vector) Vector {
	v := s.local(p)
	clamp := func(x, h float64) float64 { return math.Max(-h, math.Min(h, x)) }
	switch s.Shape {
	case BodyBox:
		for k := range v {
			v[k] = clamp(v[k], s.half[k])
		}
	case BodyCylinder:
		v[0] = clamp(v[0], s.half[0])
		if r := math.Hypot(v[1], v[2]); r > s.half[1] {
			v[1], v[2] = v[1]/r*s.half[1], v[2]/r*s.half[1]
		}
	default:
		return s.place(s.onSpheroid(v))
	}
	return s.place(v)
}

// onSpheroid is the nearest place of a spheroid: x_i = h_i²·v_i/(h_i² + λ) with
// the λ ≥ 0 that brings it onto the surface. The sum whose root that is falls and
// bends upward, so that Newton's steps from 0 come up to it without crossing it.
func (s *solid) onSpheroid(v [3]float64) [3]float64 {
	lambda := 0.0
	for range 100 {
		sum, slope := -1.0, 0.0
		for k, h := range s.half {
			q := h * v[k] / (h*h + lambda)
			sum += q * q
			slope -= 2 * q * q / (h*h + lambda)
		}
		if sum <= 1e-14 || slope == 0 {
			break
		}
		lambda -= sum / slope
	}
	for k, h := range s.half {
		v[k] *= h * h / (h*h + lambda)
	}
	return v
}

// outward is the direction away from the body at a place on or near its surface.
func (s *solid) outward(p Vector) Vector {
	v := s.local(p)
	var n [3]float64
	switch s.Shape {
	case BodyBox:
		best := 0
		for k := range v {
			if s.half[k]-math.Abs(v[k]) < s.half[best]-math.Abs(v[best]) {
				best = k
			}
		}
		n[best] = math.Copysign(1, v[best])
	case BodyCylinder:
		r := math.Hypot(v[1], v[2])
		if r == 0 || s.half[0]-math.Abs(v[0]) < s.half[1]-r {
			n[0] = math.Copysign(1, v[0])
		} else {
			n[1], n[2] = v[1]/r, v[2]/r
		}
	default:
		size := 0.0
		for k, h := range s.half {
			n[k] = v[k] / (h * h)
			size = math.Hypot(size, n[k])
		}
		if size == 0 {
			return Vector{Z: 1}
		}
		for k := range n {
			n[k] /= size
		}
	}
	return s.turned(n)
}
