package conduction

import (
	"errors"
	"fmt"
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

// ErrPlate is a plate that cannot be: see [SolveOnPlates].
var ErrPlate = errors.New("plate")

// ErrInPlate is a point inside a plate.
var ErrInPlate = errors.New("inside a plate")

// PlateOptions tunes [SolveOnPlates]; the zero value is good.
type PlateOptions struct {
	// RelativeTolerance is the error |δE|/|E| asked for; 0 = 0.005.
	RelativeTolerance float64
	// Points are where the error is to be judged, beside places round the
	// plates that the solver chooses; nil: those places alone.
	Points []Point
	// Stop, where not nil, is asked now and then whether to give up with [ErrStopped].
	Stop func() bool
}

// ErrStopped says that a solve was stopped.
var ErrStopped = errors.New("stopped")

// PlateSolution is the field of electrodes on and round plates. It is immutable
// and safe for concurrent use.
type PlateSolution struct{}

// SolveOnPlates solves the field of electrodes in a layered medium (with or
// without tank walls) with insulating plates in it. An electrode exactly on a
// plate's top face belongs to the medium above it.
func SolveOnPlates(m Medium, plates []Plate, electrodes []Electrode, opt PlateOptions) (*PlateSolution, error) {
	return nil, fmt.Errorf("%w: plates", ErrNotYet)
}

// FieldAt returns the field at a point; errors as [Solution.FieldAt], and [ErrInPlate].
func (s *PlateSolution) FieldAt(p Point) (Vector, error) { return Vector{}, ErrNotYet }

// PotentialAt returns the potential at a point, in volts.
func (s *PlateSolution) PotentialAt(p Point) (float64, error) { return 0, ErrNotYet }

// Fields sets dst[k] to the field at points[k], on all cores; see [Solution.Fields].
func (s *PlateSolution) Fields(dst []Vector, points []Point) error { return ErrNotYet }

// Potentials sets dst[k] to the potential at points[k]; see [Solution.Potentials].
func (s *PlateSolution) Potentials(dst []float64, points []Point) error { return ErrNotYet }

// RelativeError is the solver's own estimate of the largest |δE|/|E| at the
// places where it was judged.
func (s *PlateSolution) RelativeError() float64 { return 0 }

// Reached reports whether RelativeError is within the tolerance asked for.
func (s *PlateSolution) Reached() bool { return false }

// Unknowns is the size of the largest linear system solved.
func (s *PlateSolution) Unknowns() int { return 0 }

// Method names what the field is computed with.
func (s *PlateSolution) Method() string { return "" }
