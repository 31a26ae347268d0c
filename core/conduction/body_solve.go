package conduction

import (
	"errors"
	"fmt"
	"math"
)

// BodySolution is the field of electrodes with plates and bodies round them. It is
// immutable and safe for concurrent use.
type BodySolution struct {
	*PlateSolution
	bodies []solid
}

// SolveWithBodies solves the field of electrodes in a layered medium (with or without
// tank walls) with insulating plates and with bodies in it. Bodies may lie on the bottom or
// reach into it; from plates, electrodes, walls and each other they keep a millimetre. No
// net current enters a body. A body with the conductivity of what surrounds it changes nothing.
//
// The unknown is a layer of dipoles on the bodies' surfaces (docs/physics/bodies.md),
// coupled with the plates of [SolveOnPlates], whose options, tolerance and estimate apply.
//
// Errors: those of [SolveOnPlates]; [ErrBody] names a body that cannot be; [ErrElectrode] an
// electrode in or on a body. Points in a body are refused with [ErrInBody], whatever it
// conducts.
func SolveWithBodies(m Medium, plates []Plate, bodies []Body, electrodes []Electrode, opt PlateOptions) (*BodySolution, error) {
	solids := make([]solid, len(bodies))
	for i := range bodies {
		if err := bodies[i].validate(); err != nil {
			return nil, fmt.Errorf("%w %d: %w", ErrBody, i+1, err)
		}
		solids[i] = newSolid(bodies[i])
	}
	plain, err := newPlateSolution(m, plates, electrodes, opt.RelativeTolerance)
	if err != nil {
		return nil, err
	}
	if err := checkBodies(m, plain.check.stack, plates, solids, electrodes); err != nil {
		return nil, err
	}
	s := &BodySolution{PlateSolution: plain, bodies: solids}
	if err := s.solveBodies(opt); err != nil {
		return nil, err
	}
	return s, nil
}

// effectiveBodies are the bodies that change the field.
func (s *BodySolution) effectiveBodies() (out []*solid) {
	st := s.check.stack
	for i := range s.bodies {
		b := &s.bodies[i]
		lo, hi := b.heights()
		counts := false
		for _, sl := range st.slabs {
			counts = counts || sl.topM > lo && sl.bottomM < hi && sl.sigma != b.SPerM
		}
		if st.floor && hi <= st.slabs[len(st.slabs)-1].bottomM+onFace {
			counts = false // it lies in what insulates
		}
		if counts {
			out = append(out, b)
		}
	}
	return out
}

// solveBodies refines until the estimate is within the tolerance. The estimate is the
// largest change of the field from the last mesh, as with plates; where bodies are
// laid out, each mesh is two to five times better than the one before.
func (s *BodySolution) solveBodies(opt PlateOptions) error {
	bodies := s.effectiveBodies()
	if len(bodies) == 0 {
		return s.solve(s.asked, opt)
	}
	medium := s.check.medium
	plates, floor := effective(s.check.stack, s.plates)
	where, err := locate(plates, s.check.electrodes)
	if err != nil {
		return err
	}
	err = s.refine(meshes{
		first: firstMesh(s.asked), count: len(bodyMeshes), tolerance: s.asked, where: where, judged: s.judgedWithBodies(opt.Points), stop: opt.Stop,
		lay: func(level int) *stage {
			return newStage(medium, s.check.stack, plates, floor, bodies, where, level)
		},
		estimate: func(st *stage, change float64, level int) float64 {
			if len(plates) > 0 {
				change += hidden(plates)
			}
			return change + (st.wallLeft(medium, roomsOf(plates, bodies), level) + st.gapLeft(medium, bodies, level))
		},
	})
	switch {
	case errors.Is(err, ErrNotFinite):
		return fmt.Errorf("%w: the equations of %d bodies and %d plates could not be solved together; are some too close to each other? (%w)", ErrBody, len(bodies), len(plates), err)
	case err == nil && math.IsInf(s.relError, 1):
		return fmt.Errorf("%w: the equations of %d bodies and %d plates could not be solved: too many of them, or too close to each other or to an electrode", ErrBody, len(bodies), len(plates))
	}
	return err
}

// roomsOf are the plates, and the bodies as plates.
func roomsOf(plates []Plate, bodies []*solid) []Plate {
	rooms := append([]Plate(nil), plates...)
	for _, b := range bodies {
		rooms = append(rooms, b.room())
	}
	return rooms
}

// nodesIn makes the nodes of a plate, or of the room round a body, in each layer that it reaches.
func (s *stage) nodesIn(m Medium, pl *Plate, make func(i int, slab slab) nodes) (list []nodes) {
	for i, slab := range s.st.slabs {
		top, bottom := math.Min(pl.TopM, slab.topM), math.Max(pl.TopM-pl.ThicknessM, slab.bottomM)
		if top-bottom > 1e-12 || pl.ThicknessM == 0 && i == slabUnder(s.st, pl.TopM) {
			list = append(list, make(i, slab).within(m.Enclosure))
		}
	}
	return list
}

// room is the upright box round the body, as a plate: for the grids that stand for it far off.
func (s *solid) room() Plate {
	lo, hi := s.heights()
	return Plate{SizeXM: 2 * s.reach(Vector{X: 1}), SizeYM: 2 * s.reach(Vector{Y: 1}), CentreXM: s.Centre.X, CentreYM: s.Centre.Y, TopM: hi, ThicknessM: hi - lo}
}

// newBodyNodes covers the part of a body's room in a layer: as finely upright as
// sideways.
func newBodyNodes(room Plate, i int, s slab, side int) nodes {
	n := newNodes(room, i, s, side)
	n.lowest, n.highest = math.Max(room.TopM-room.ThicknessM, s.bottomM), math.Min(room.TopM, s.topM)
	share := (n.highest - n.lowest) / math.Max(room.SizeXM, room.SizeYM)
	if tall := int(math.Ceil(float64(side) * math.Min(math.Max(share, 0.5), 1))); share > 0.05 {
		n.z = chebyshevPoints(max(tall, 3), n.lowest, n.highest)
	}
	return n
}

// makersRound are places from which the field round a body comes: electrodes, their
// nearest images, and the plates and bodies beside it.
func makersRound(st *stack, b *solid, bodies []*solid, plates []Plate, where *located) (out []Vector) {
	for i := range where.electrodes {
		at := Vector(where.electrodes[i].At)
		out = append(out, at)
		for j := range st.slabs {
			if z := st.slabs[j].bottomM; !math.IsInf(z, 0) && (at.Z-z)*(b.Centre.Z-z) >= 0 {
				out = append(out, Vector{at.X, at.Y, 2*z - at.Z})
			}
		}
	}
	// The places of the others nearest to it, and those about them.
	touch := func(o *solid) {
		p := Vector(b.Centre)
		for range 30 {
			p = o.nearest(b.nearest(p))
		}
		out = append(out, p)
	}
	for _, o := range bodies {
		if o != b {
			touch(o)
		}
	}
	for i := range plates {
		o := plates[i].solid()
		touch(&o)
	}
	return out
}

// judgedWithBodies are the places of [PlateSolution.judged] and others round every body, but for
// those under a plate: animals swim above it.
func (s *BodySolution) judgedWithBodies(points []Point) (out []judge) {
	const most = 150
	step := max(1, (len(points)+most-1)/most)
	add := func(p Point) {
		if slab, at, err := s.checkPoint(p); err == nil {
			out = append(out, judge{slab, at})
		}
	}
	for k := 0; k < len(points); k += step {
		add(points[k])
	}
	for _, j := range s.judged(nil) {
		add(Point(j.at))
	}
	for i := range s.bodies {
		b := &s.bodies[i]
		for n := range 24 {
			up := 2*math.Mod(0.5+float64(n)*0.7548776662466927, 1) - 1
			sin, cos := math.Sincos(2 * math.Pi * math.Mod(float64(n)*0.5698402909980532, 1))
			flat := math.Sqrt(1 - up*up)
			dir := Vector{flat * cos, flat * sin, up}
			skin := b.nearest(Vector(b.Centre).Add(dir.Scale(2 * b.around())))
			if p := Point(skin.Add(dir.Scale(b.around() * [4]float64{0.1, 0.3, 1, 3}[n%4]))); !underPlate(s.plates, p) {
				add(p)
			}
		}
	}
	return out
}

// underPlate reports whether a place lies in the shade of a plate, where next to no field
// is left to compare an error with.
func underPlate(plates []Plate, p Point) bool {
	for i := range plates {
		if pl := &plates[i]; p.Z < pl.TopM && pl.room(p.X, p.Y) > 0 {
			return true
		}
	}
	return false
}

// checkPoint returns the layer of a point that may be asked for, and the point itself, put
// above a plate's face that it lies on.
func (s *BodySolution) checkPoint(p Point) (int, Vector, error) {
	if finite(p.X, p.Y, p.Z) {
		for i := range s.bodies {
			if s.bodies[i].holds(Vector(p)) {
				return 0, Vector{}, fmt.Errorf("point (%g, %g, %g) m: %w (body %d)", p.X, p.Y, p.Z, ErrInBody, i+1)
			}
		}
	}
	return s.PlateSolution.checkPoint(p)
}

func (s *BodySolution) at(p Point) (float64, Vector, error) {
	slab, q, err := s.checkPoint(p)
	if err != nil {
		return 0, Vector{}, err
	}
	if s.plain == nil {
		for i := range s.bodies {
			if pot, e, ok := s.carried(&s.bodies[i], slab, q); ok {
				return pot, e, nil
			}
		}
	}
	return s.PlateSolution.at(p)
}

// carried is the field at a place closer to a body's surface than a fiftieth of its least
// half-length, by a parabola through those at one, two and three fiftieths: closer by, a layer of
// dipoles shows the joints of its panels. Not beside sharp edges, electrodes and the faces of layers.
func (s *BodySolution) carried(b *solid, slab int, p Vector) (pot float64, e Vector, ok bool) {
	h := 0.02 * b.least()
	if p.Sub(Vector(b.Centre)).Norm() > b.around()+h {
		return 0, Vector{}, false
	}
	on := b.nearest(p)
	d := p.Sub(on).Norm()
	if d >= h || b.toEdge(on) < 5*h {
		return 0, Vector{}, false
	}
	for i := range s.check.electrodes {
		if el := &s.check.electrodes[i]; Vector(el.At).Sub(on).Norm() < el.DiameterM/2+10*h {
			return 0, Vector{}, false
		}
	}
	out, x := b.outward(on), d/h
	for k, w := range [3]float64{(x - 2) * (x - 3) / 2, -(x - 1) * (x - 3), (x - 1) * (x - 2) / 2} {
		other, q, err := s.checkPoint(Point(on.Add(out.Scale(h * float64(k+1)))))
		if err != nil || other != slab {
			return 0, Vector{}, false
		}
		v, g := s.scene.at(slab, q)
		pot += w * v
		e = e.Add(g.Scale(w))
	}
	return pot, e, finite(pot, e.X, e.Y, e.Z)
}

// FieldAt returns the field at a point. Errors: as [PlateSolution.FieldAt], and [ErrInBody].
func (s *BodySolution) FieldAt(p Point) (Vector, error) {
	_, e, err := s.at(p)
	return e, err
}

// PotentialAt returns the potential at a point, in volts; errors as [BodySolution.FieldAt].
func (s *BodySolution) PotentialAt(p Point) (float64, error) {
	v, _, err := s.at(p)
	return v, err
}

// Fields sets dst[k] to the field at points[k], on all cores; see [PlateSolution.Fields].
func (s *BodySolution) Fields(dst []Vector, points []Point) error { return s.Both(nil, dst, points) }

// Potentials sets dst[k] to the potential at points[k], in volts; see [PlateSolution.Fields].
func (s *BodySolution) Potentials(dst []float64, points []Point) error {
	return s.Both(dst, nil, points)
}

// Both sets potentials and fields at once; either may be nil.
func (s *BodySolution) Both(potentials []float64, fields []Vector, points []Point) error {
	return both(potentials, fields, points, s.at)
}

// Method names what the field is computed with.
func (s *BodySolution) Method() string {
	switch {
	case len(s.effectiveBodies()) == 0:
		return s.PlateSolution.Method()
	case len(s.plates) == 0:
		return "boundary integral over the bodies, layers by images"
	}
	return "boundary integral over plates and bodies, layers by images"
}
