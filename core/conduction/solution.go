package conduction

import (
	"fmt"
	"math"
	"sync"
)

// Solution is a medium with its electrodes, ready to be asked. It is immutable
// and safe for concurrent use.
type Solution struct {
	medium     Medium
	stack      *stack
	electrodes []Electrode
	sources    []*source // by electrode; equal heights and diameters share one
	tank       walls     // nil without an enclosure
	tolerance  float64
	errOnce    sync.Once
	relError   float64
}

// Solve checks the medium and the electrodes and prepares their field.
//
// Errors: [ErrMedium], [ErrElectrode], [ErrOutside], [ErrNotFinite] and
// [ErrNotYet] (a disc on bare sediment in a rectangular tank) name the item and
// its value; [ErrCurrents] where
// the currents do not sum to zero although nothing conducting is open towards
// infinity. Open are unbounded water and a conducting basement; between the
// walls of a tank even those are only a column, in which a net current would
// raise the potential without end, so that there the sum must be zero always.
func Solve(m Medium, electrodes []Electrode, opt Options) (*Solution, error) {
	if err := m.Validate(); err != nil {
		return nil, err
	}
	if opt.RelativeTolerance < 0 || math.IsNaN(opt.RelativeTolerance) {
		return nil, fmt.Errorf("%w: relative tolerance %g; expected at least 0", ErrMedium, opt.RelativeTolerance)
	}
	st := newStack(m)
	if err := validateElectrodes(m, st, electrodes); err != nil {
		return nil, err
	}
	if err := checkHemispheres(m, nil, electrodes); err != nil {
		return nil, err
	}
	s := &Solution{
		medium: cloneMedium(m), stack: st,
		electrodes: append([]Electrode(nil), electrodes...),
		tolerance:  opt.RelativeTolerance,
	}
	if s.tolerance == 0 {
		s.tolerance = 1e-9
	}
	for i, e := range s.electrodes {
		sr := (*source)(nil)
		for j, f := range s.electrodes[:i] {
			if f.At.Z == e.At.Z && f.discM() == e.discM() {
				sr = s.sources[j]
				break
			}
		}
		if sr == nil {
			sr = newSource(st, e.At.Z, e.discM())
		}
		s.sources = append(s.sources, sr)
	}
	if m.Enclosure != nil {
		t, err := newWalls(s, usualFrame, nil)
		if err != nil {
			return nil, err
		}
		s.tank = t
	}
	return s, nil
}

func cloneMedium(m Medium) Medium {
	m.Layers = append([]Layer(nil), m.Layers...)
	if m.Enclosure != nil {
		e := *m.Enclosure
		m.Enclosure = &e
	}
	return m
}

// FieldAt returns the electric field at one point. Errors: [ErrNotFinite],
// [ErrOutside], [ErrInElectrode].
func (s *Solution) FieldAt(p Point) (Vector, error) {
	_, e, err := s.at(p)
	return e, err
}

// PotentialAt returns the potential at one point, in volts; errors as [Solution.FieldAt].
func (s *Solution) PotentialAt(p Point) (float64, error) {
	phi, _, err := s.at(p)
	return phi, err
}

func (s *Solution) at(p Point) (float64, Vector, error) {
	slab, err := s.checkPoint(p)
	if err != nil {
		return 0, Vector{}, err
	}
	phi, e := s.eval(slab, p)
	if !finite(phi, e.X, e.Y, e.Z) {
		return 0, Vector{}, fmt.Errorf("field at (%g, %g, %g) m: %w (too close to an electrode's rim?)", p.X, p.Y, p.Z, ErrNotFinite)
	}
	return phi, e, nil
}

// eval adds the electrodes up in their order; the point is valid.
func (s *Solution) eval(slab int, p Point) (phi float64, e Vector) {
	if s.tank != nil {
		return s.tank.eval(slab, p)
	}
	for j, el := range s.electrodes {
		dx, dy := p.X-el.At.X, p.Y-el.At.Y
		sr := s.sources[j]
		u := sr.unitAt(slab, dx*dx+dy*dy, p.Z)
		f := el.CurrentA / (4 * math.Pi * s.stack.slabs[sr.slab].sigma)
		phi += f * u.pot
		e.X += f * u.rho * dx
		e.Y += f * u.rho * dy
		e.Z += f * u.z
	}
	return phi, e
}

// Fields sets dst[k] to the field at points[k]. It uses all cores, and the
// result is the same bits for any number of them. On an error, which is that
// of the first bad point, dst is left as it was. If dst and points differ in
// length the calling code is wrong: it panics.
//
// With a RelativeTolerance of 1e-8 or more and 4096 points or more, a table
// is used (see [Solution.Fast]): the value at a point then depends, within the
// tolerance, on the region that the other points span.
func (s *Solution) Fields(dst []Vector, points []Point) error {
	mustMatch(len(dst), len(points))
	out := make([]Vector, len(points))
	field := s.FieldAt
	if s.tolerance >= 1e-8 && len(points) >= 4096 {
		if r, err := s.regionOf(points); err == nil {
			f, err := s.Fast(r, s.tolerance)
			if err != nil {
				return err
			}
			field = f.FieldAt
		}
	}
	err := parallel(len(points), func(k int) (err error) {
		out[k], err = field(points[k])
		return err
	})
	if err != nil {
		return err
	}
	copy(dst, out)
	return nil
}

// Potentials sets dst[k] to the potential at points[k], in volts; see [Solution.Fields].
func (s *Solution) Potentials(dst []float64, points []Point) error {
	mustMatch(len(dst), len(points))
	out := make([]float64, len(points))
	err := parallel(len(points), func(k int) (err error) {
		out[k], err = s.PotentialAt(points[k])
		return err
	})
	if err != nil {
		return err
	}
	copy(dst, out)
	return nil
}

func mustMatch(dst, points int) {
	if dst != points {
		panic(fmt.Sprintf("conduction: dst has length %d, points %d", dst, points))
	}
}

// Method names what the field is computed with.
func (s *Solution) Method() string {
	n, _ := s.stack.finiteSlabs()
	switch {
	case s.tank != nil:
		return s.tank.method()
	case n == 0 || len(s.stack.slabs) == 1 && s.stack.open():
		return "closed form"
	case n == 1:
		return "image series (accelerated)"
	}
	return "images and Hankel quadrature"
}

// Unknowns is the size of the linear system solved: none here.
func (s *Solution) Unknowns() int { return 0 }
