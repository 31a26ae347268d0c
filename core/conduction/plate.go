package conduction

import (
	"errors"
	"fmt"
	"math"
)

// Plate is a rigid insulating board with horizontal faces: a rectangle of
// SizeXM by SizeYM, or a disc where DiameterM is not 0. Its top face lies at
// height TopM: 0 is flush with the bottom, above 0 it stands proud, below 0 it
// is buried. ThicknessM 0 is a thin sheet. YawDeg turns a rectangle
// anticlockwise about its centre.
type Plate struct {
	SizeXM, SizeYM, DiameterM float64
	ThicknessM                float64
	CentreXM, CentreYM        float64
	TopM                      float64
	YawDeg                    float64
}

// Errors of plates, beside those of [Solve].
var (
	ErrPlate   = errors.New("plate")
	ErrInPlate = errors.New("inside a plate")
	ErrStopped = errors.New("stopped")
)

// PlateOptions tunes [SolveOnPlates]; the zero value is good.
type PlateOptions struct {
	// RelativeTolerance is the error |δE|/|E| asked for; 0 = 0.005.
	RelativeTolerance float64
	// Points are where the error is to be judged, beside places round the
	// plates that the solver chooses. Of very many, some are taken, evenly.
	Points []Point
	// Stop, where not nil, is asked now and then whether to give up with [ErrStopped].
	Stop func() bool
}

// PlateSolution is the field of electrodes on and round plates. It is immutable
// and safe for concurrent use.
type PlateSolution struct {
	check    Solution // medium, stack and electrodes, for what may be asked
	plates   []Plate
	scene    *scene
	plain    *Solution // where no plate lies in what conducts
	relError float64
	asked    float64
	unknowns int
}

// SolveOnPlates solves the field of electrodes in a layered medium (with or
// without tank walls) with insulating plates in it. An electrode exactly on a
// plate's top face belongs to the medium above it.
//
// The unknown is the jump of the potential across each plate's surface; layers
// are in the kernel (docs/physics/plates.md). Meshes are made finer until the
// estimate of the error, from what the last step changed, is within the tolerance;
// where it is not on the finest, the solution says so ([PlateSolution.Reached]).
//
// Errors: those of [Solve]; [ErrPlate] names a plate that cannot be (sizes, overlap,
// walls); [ErrElectrode] an electrode inside a plate, over its edge, or level with a
// top face but on none; [ErrStopped].
func SolveOnPlates(m Medium, plates []Plate, electrodes []Electrode, opt PlateOptions) (*PlateSolution, error) {
	s, err := newPlateSolution(m, plates, electrodes, opt.RelativeTolerance)
	if err != nil {
		return nil, err
	}
	if err := s.solve(s.asked, opt); err != nil {
		return nil, err
	}
	return s, nil
}

// newPlateSolution checks all that [SolveOnPlates] is given; nothing is solved yet.
func newPlateSolution(m Medium, plates []Plate, electrodes []Electrode, tolerance float64) (*PlateSolution, error) {
	if tolerance == 0 {
		tolerance = 0.005
	}
	if !(tolerance > 0) || math.IsInf(tolerance, 1) {
		return nil, fmt.Errorf("%w: relative tolerance %g; expected at least 0", ErrMedium, tolerance)
	}
	if err := m.Validate(); err != nil {
		return nil, err
	}
	st := newStack(m)
	if err := checkPlates(m, st, plates); err != nil {
		return nil, err
	}
	if err := validateElectrodes(m, st, electrodes); err != nil {
		return nil, err
	}
	if _, err := locate(plates, electrodes); err != nil {
		return nil, err
	}
	if err := checkHemispheres(m, plates, electrodes); err != nil {
		return nil, err
	}
	return &PlateSolution{
		check:  Solution{medium: cloneMedium(m), stack: st, electrodes: append([]Electrode(nil), electrodes...)},
		plates: append([]Plate(nil), plates...), asked: tolerance,
	}, nil
}

// checkPoint returns the slab of a point that may be asked for, and the point
// itself, put above a face that it lies on.
func (s *PlateSolution) checkPoint(p Point) (int, Vector, error) {
	if _, err := s.check.checkPoint(p); err != nil { // an electrode on a plate is asked about before the lift
		if k := s.inPlate(p); k >= 0 && errors.Is(err, ErrInElectrode) { // under a hemisphere
			err = s.refuse(p, k)
		}
		return 0, Vector{}, err
	}
	for k := range s.plates {
		pl := &s.plates[k]
		if math.Abs(p.Z-pl.TopM) <= onFace && pl.room(p.X, p.Y) >= 0 {
			p.Z = pl.TopM + 2*onFace
		}
	}
	slab, err := s.check.checkPoint(p)
	if err != nil {
		return 0, Vector{}, err
	}
	if k := s.inPlate(p); k >= 0 {
		return 0, Vector{}, s.refuse(p, k)
	}
	return slab, Vector(p), nil
}

// inPlate is the plate that holds a point, or −1.
func (s *PlateSolution) inPlate(p Point) int {
	for k := range s.plates {
		if s.plates[k].holds(p) {
			return k
		}
	}
	return -1
}

func (s *PlateSolution) refuse(p Point, plate int) error {
	return fmt.Errorf("point (%g, %g, %g) m: %w (plate %d)", p.X, p.Y, p.Z, ErrInPlate, plate+1)
}

func (s *PlateSolution) at(p Point) (float64, Vector, error) {
	slab, q, err := s.checkPoint(p)
	if err != nil {
		return 0, Vector{}, err
	}
	if s.plain != nil {
		return s.plain.at(Point(q))
	}
	pot, e := s.scene.at(slab, q)
	if !finite(pot, e.X, e.Y, e.Z) {
		return 0, Vector{}, fmt.Errorf("field at (%g, %g, %g) m: %w (too close to an electrode's rim, or on a plate's edge?)", p.X, p.Y, p.Z, ErrNotFinite)
	}
	return pot, e, nil
}

// FieldAt returns the field at a point. Errors: as [Solution.FieldAt], and
// [ErrInPlate].
func (s *PlateSolution) FieldAt(p Point) (Vector, error) {
	_, e, err := s.at(p)
	return e, err
}

// PotentialAt returns the potential at a point, in volts; errors as [PlateSolution.FieldAt].
func (s *PlateSolution) PotentialAt(p Point) (float64, error) {
	v, _, err := s.at(p)
	return v, err
}

// Fields sets dst[k] to the field at points[k], on all cores; as
// [Solution.Fields], but for the table.
func (s *PlateSolution) Fields(dst []Vector, points []Point) error {
	return s.Both(nil, dst, points)
}

// Potentials sets dst[k] to the potential at points[k], in volts; see
// [PlateSolution.Fields].
func (s *PlateSolution) Potentials(dst []float64, points []Point) error {
	return s.Both(dst, nil, points)
}

// Both sets potentials and fields at once, which is half the work; either may
// be nil.
func (s *PlateSolution) Both(potentials []float64, fields []Vector, points []Point) error {
	return both(potentials, fields, points, s.at)
}

// both asks at every point, on all cores.
func both(potentials []float64, fields []Vector, points []Point, at func(Point) (float64, Vector, error)) error {
	v, e := make([]float64, len(points)), make([]Vector, len(points))
	err := parallel(len(points), func(k int) (err error) {
		v[k], e[k], err = at(points[k])
		return err
	})
	if err != nil {
		return err
	}
	if potentials != nil {
		mustMatch(len(potentials), len(points))
		copy(potentials, v)
	}
	if fields != nil {
		mustMatch(len(fields), len(points))
		copy(fields, e)
	}
	return nil
}

// RelativeError is the solver's own estimate of the largest |δE|/|E| at the
// places where it was judged.
func (s *PlateSolution) RelativeError() float64 { return s.relError }

// Reached reports whether RelativeError is within the tolerance asked for.
func (s *PlateSolution) Reached() bool { return s.relError <= s.asked }

// Unknowns is how many densities the last mesh had.
func (s *PlateSolution) Unknowns() int { return s.unknowns }

// Method names what the field is computed with.
func (s *PlateSolution) Method() string {
	if s.plain != nil {
		return s.plain.Method()
	}
	return "boundary integral over the plates, layers by images"
}
