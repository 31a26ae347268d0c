package conduction

import (
	"fmt"
	"math"
	"sort"
)

// FieldAtSkin is the largest field on the outer surface of a body, numbered from 0, and
// where: for an animal given as a body, the field at its skin, with its own
// distortion, as against the undisturbed field that everything else reports.
//
// n places, evenly round the body's middle, are asked, and the largest is followed along the
// surface. At the sharp edges of boxes and cylinders the field has no bound: a tenth of
// the least half-length from them is left out. So is what of the surface lies in an
// insulator or on a face.
//
// Its error is a few times [PlateSolution.RelativeError]. Errors: [ErrBody] for no such body or
// no place that can be asked.
func (s *BodySolution) FieldAtSkin(body, n int) (Point, Vector, error) {
	if body < 0 || body >= len(s.bodies) {
		return Point{}, Vector{}, fmt.Errorf("%w %d: there are %d", ErrBody, body+1, len(s.bodies))
	}
	if n < 1 || n > 1e6 {
		return Point{}, Vector{}, fmt.Errorf("%w %d: %d places on its skin; expected 1 to a million", ErrBody, body+1, n)
	}
	b := &s.bodies[body]
	dirs := make([]Vector, n)
	for k := range dirs {
		// Heights equal in area, turned by the golden angle.
		up := 1 - 2*(float64(k)+0.5)/float64(n)
		sin, cos := math.Sincos(2.399963229728653 * float64(k))
		flat := math.Sqrt(1 - up*up)
		dirs[k] = b.turned([3]float64{up, flat * cos, flat * sin})
	}
	found := make([]touched, n)
	_ = parallelEach(n, func(k int) error {
		found[k] = s.touch(b, dirs[k])
		return nil
	})
	order := make([]int, n)
	for k := range order {
		order[k] = k
	}
	sort.SliceStable(order, func(i, j int) bool { return found[order[i]].e.Norm() > found[order[j]].e.Norm() })
	best := touched{}
	step := math.Sqrt(4*math.Pi/float64(n)) / 2
	for _, k := range order[:min(n, 3)] {
		if f := s.follow(b, dirs[k], found[k], step); f.ok && f.e.Norm() > best.e.Norm() {
			best = f
		}
	}
	if !best.ok {
		return Point{}, Vector{}, fmt.Errorf("%w %d: no place of its skin can be asked: it lies in what insulates, or carries no field", ErrBody, body+1)
	}
	return Point(best.at), best.e, nil
}

// touched is the field at a place of a skin.
type touched struct {
	at, e Vector
	ok    bool
}

// follow climbs along the surface by smaller and smaller steps.
func (s *BodySolution) follow(b *solid, dir Vector, f touched, step float64) touched {
	for ; step > 1e-3; step /= 2 {
		for moved := true; moved; {
			moved = false
			side := Vector{-dir.Y, dir.X, 0}
			if side.Norm() < 0.1 {
				side = Vector{0, -dir.Z, dir.Y}
			}
			side = side.Scale(1 / side.Norm())
			other := Vector{dir.Y*side.Z - dir.Z*side.Y, dir.Z*side.X - dir.X*side.Z, dir.X*side.Y - dir.Y*side.X}
			for _, d := range [4]Vector{side, side.Scale(-1), other, other.Scale(-1)} {
				next := dir.Add(d.Scale(step))
				next = next.Scale(1 / next.Norm())
				if g := s.touch(b, next); g.ok && g.e.Norm() > f.e.Norm()*(1+1e-9) {
					dir, f, moved = next, g, true
					break
				}
			}
		}
	}
	return f
}

// touch asks at the surface in a direction from the middle.
func (s *BodySolution) touch(b *solid, dir Vector) touched {
	on := b.surface(dir)
	if b.toEdge(on) < 0.1*b.least() {
		return touched{}
	}
	e, err := s.FieldAt(Point(on))
	return touched{on, e, err == nil}
}

// surface is where a line from the middle leaves the body.
func (s *solid) surface(dir Vector) Vector {
	d := [3]float64{dotOf(dir, s.axes[0]), dotOf(dir, s.axes[1]), dotOf(dir, s.axes[2])}
	t := 0.0
	switch s.Shape {
	case BodyBox:
		for k, h := range s.half {
			t = math.Max(t, math.Abs(d[k])/h)
		}
	case BodyCylinder:
		t = math.Max(math.Abs(d[0])/s.half[0], math.Hypot(d[1], d[2])/s.half[1])
	default:
		t = math.Hypot(d[0]/s.half[0], math.Hypot(d[1], d[2])/s.half[1])
	}
	return Vector(s.Centre).Add(dir.Scale(1 / t))
}

// toEdge is the distance of a place of the surface from the nearest sharp edge.
func (s *solid) toEdge(p Vector) float64 {
	v := s.local(p)
	switch s.Shape {
	case BodyBox:
		gaps := []float64{s.half[0] - math.Abs(v[0]), s.half[1] - math.Abs(v[1]), s.half[2] - math.Abs(v[2])}
		sort.Float64s(gaps)
		return gaps[1]
	case BodyCylinder:
		return math.Max(s.half[0]-math.Abs(v[0]), s.half[1]-math.Hypot(v[1], v[2]))
	}
	return math.Inf(1)
}
