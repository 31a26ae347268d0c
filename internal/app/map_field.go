package app

import (
	"context"
	"fmt"
	"math"

	"brinefield/core/conduction"
)

// FieldSpec is the input of the field command, as CONTRACTS.md states it.
type FieldSpec struct {
	WaterSPerM  *float64        `json:"water_S_per_m"`
	WaterDepthM *float64        `json:"water_depth_m" required:"false"`
	Layers      *[]LayerSpec    `json:"layers" required:"false"`
	Enclosure   *EnclosureSpec  `json:"enclosure" required:"false"`
	Plates      []PlateSpec     `json:"plates" required:"false"`
	Bodies      []BodySpec      `json:"bodies" required:"false"`
	Electrodes  []ElectrodeSpec `json:"electrodes"`
	PointsM     [][]float64     `json:"points_m"`
	Tolerance   *float64        `json:"tolerance" required:"false"`
	AtSkin      bool            `json:"field_at_skin" required:"false" doc:"Also tell the largest field at the skin of each body, in the field that the body itself distorts. Everything else stays the field with the bodies in it, at points_m."`
	Format      *int            `json:"format" required:"false"`
}

// LayerSpec is one layer from the bottom down; the last has no thickness.
type LayerSpec struct {
	ThicknessM *float64 `json:"thickness_m" required:"false"`
	SPerM      *float64 `json:"S_per_m"`
}

// EnclosureSpec is a tank: a rectangle or, with a diameter, a circle.
type EnclosureSpec struct {
	SizeM     []float64 `json:"size_m" required:"false"`
	DiameterM *float64  `json:"diameter_m" required:"false"`
	CentreM   []float64 `json:"centre_m" required:"false"`
}

// The shapes of a plate.
const (
	plateRectangle = "rectangle"
	plateDisc      = "disc"
)

// PlateSpec is an insulating plate: a rectangle with a size or a disc with a
// diameter. Absent are 0: a thin sheet, in the middle, flush with the bottom,
// with its sides along x and y.
type PlateSpec struct {
	Shape      string    `json:"shape"`
	SizeM      []float64 `json:"size_m" required:"false"`
	DiameterM  *float64  `json:"diameter_m" required:"false"`
	ThicknessM *float64  `json:"thickness_m" required:"false"`
	CentreM    []float64 `json:"centre_m" required:"false"`
	TopM       *float64  `json:"top_m" required:"false"`
	YawDeg     *float64  `json:"yaw_deg" required:"false"`
}

// The shapes of an electrode.
const (
	shapeDisc       = "disc"
	shapeHemisphere = "hemisphere"
)

// ElectrodeSpec is one electrode and the current that leaves it: a disc, where
// no shape is given, or half a ball on a face. Without a diameter it is a point.
type ElectrodeSpec struct {
	AtM       []float64 `json:"at_m"`
	CurrentA  *float64  `json:"current_A"`
	DiameterM *float64  `json:"diameter_m" required:"false"`
	Shape     *string   `json:"shape" required:"false" enum:"disc,hemisphere"`
}

// FieldMap is the document of the field command.
type FieldMap struct {
	Heading
	Points        []FieldPoint `json:"points"`
	RelativeError float64      `json:"relative_error"`
	Unknowns      int          `json:"unknowns"`
	Method        string       `json:"method"`
	AtSkin        []SkinField  `json:"field_at_skin,omitempty" doc:"Only where the specification asks for it: one for each body."`
}

// SkinField is the largest field on the outer surface of a body, of 400 places
// that were asked and followed uphill: what an animal given as a body has at
// its skin, as against the undisturbed field at its head. A tenth of the least
// half-length from the sharp edges of boxes and cylinders is left out, as the
// field has no bound there. Null where no place of the surface can be asked.
type SkinField struct {
	Body      int         `json:"body" doc:"Counted from 0, as in the specification."`
	Label     string      `json:"label,omitempty"`
	AtM       *[3]float64 `json:"at_m" nullable:"true"`
	EVPerM    *[3]float64 `json:"E_V_per_m" nullable:"true"`
	Magnitude *float64    `json:"magnitude_nV_per_cm" nullable:"true"`
}

// FieldPoint is potential and field at one point.
type FieldPoint struct {
	PotentialV float64    `json:"potential_V"`
	EVPerM     [3]float64 `json:"E_V_per_m"`
	Magnitude  float64    `json:"magnitude_nV_per_cm"`
}

// MapField computes the field that a specification asks for. Faults of the
// specification come back all at once as a *FaultsError; solving plates stops with ctx, and then
// its error comes back.
func MapField(ctx context.Context, name string, data []byte, program Program) (FieldMap, error) {
	spec, err := readFieldSpec(name, data)
	if err != nil {
		return FieldMap{}, err
	}
	points := make([]conduction.Point, len(spec.PointsM))
	for i, p := range spec.PointsM {
		points[i] = conduction.Point{X: p[0], Y: p[1], Z: p[2]}
	}
	solve := spec.solveOpen
	if len(spec.Plates) > 0 || len(spec.Bodies) > 0 {
		solve = spec.solveRound
	}
	solved, err := solve(ctx, points)
	if err != nil && ctx.Err() != nil {
		return FieldMap{}, ctx.Err()
	}
	if err != nil {
		return FieldMap{}, &SpecError{File: name, Err: err}
	}
	out := FieldMap{
		Heading:       Heading{Format: Format, Program: program, InputsSHA256: Input{name: data}.Fingerprints(), Warnings: solved.warnings},
		Points:        make([]FieldPoint, len(points)),
		RelativeError: solved.relError, Unknowns: solved.unknowns, Method: solved.method,
	}
	for i := range points {
		v, e := solved.potentials[i], solved.fields[i]
		out.Points[i] = FieldPoint{PotentialV: v, EVPerM: [3]float64{e.X, e.Y, e.Z}, Magnitude: e.Norm() * nVPerCmPerVPerM}
		if finite(v) == nil || finite(e.Norm()) == nil {
			return FieldMap{}, &SpecError{File: name, Err: fmt.Errorf("points_m[%d]: the field there is not a finite number: too close to an electrode, or currents too large", i)}
		}
	}
	if spec.AtSkin {
		out.AtSkin = spec.atSkin(solved.atSkin)
	}
	return out, nil
}

// solvedField is what the engine says of a specification: one potential and
// field a point, and how well they are known.
type solvedField struct {
	potentials []float64
	fields     []conduction.Vector
	relError   float64
	unknowns   int
	method     string
	warnings   []string
	// atSkin is the largest field on the surface of a body; nil without bodies.
	atSkin func(body int) (conduction.Point, conduction.Vector, error)
}

func newSolvedField(points int) solvedField {
	return solvedField{potentials: make([]float64, points), fields: make([]conduction.Vector, points), warnings: []string{}}
}

func (s *FieldSpec) solveOpen(_ context.Context, points []conduction.Point) (solvedField, error) {
	out := newSolvedField(len(points))
	solution, err := conduction.Solve(s.medium(), s.electrodes(), conduction.Options{RelativeTolerance: s.tolerance(len(points))})
	if err != nil {
		return out, err
	}
	if err := solution.Potentials(out.potentials, points); err != nil {
		return out, err
	}
	if err := solution.Fields(out.fields, points); err != nil {
		return out, err
	}
	out.unknowns, out.method = solution.Unknowns(), solution.Method()
	out.relError, err = solution.RelativeErrorAt(someOf(points, errorPoints))
	return out, err
}

// defaultPlateTolerance is the |δE|/|E| that plates and bodies are solved to where the
// specification asks for none.
const defaultPlateTolerance = 0.005

// meshed is a solution that meshes plates or bodies.
type meshed interface {
	Both(potentials []float64, fields []conduction.Vector, points []conduction.Point) error
	RelativeError() float64
	Reached() bool
	Unknowns() int
	Method() string
}

// solveRound solves plates and bodies to the tolerance that is asked for, however few the
// points; where the finest mesh misses it, a warning says by how much.
func (s *FieldSpec) solveRound(ctx context.Context, points []conduction.Point) (solvedField, error) {
	out := newSolvedField(len(points))
	opt := conduction.PlateOptions{RelativeTolerance: defaultPlateTolerance, Points: someOf(points, errorPoints), Stop: func() bool { return ctx.Err() != nil }}
	if s.Tolerance != nil {
		opt.RelativeTolerance = *s.Tolerance
	}
	var solution meshed
	var err error
	if len(s.Bodies) > 0 {
		var round *conduction.BodySolution
		if round, err = conduction.SolveWithBodies(s.medium(), s.plates(), s.bodies(), s.electrodes(), opt); err == nil {
			out.atSkin = func(body int) (conduction.Point, conduction.Vector, error) {
				return round.FieldAtSkin(body, skinPlaces)
			}
		}
		solution = round
	} else {
		solution, err = conduction.SolveOnPlates(s.medium(), s.plates(), s.electrodes(), opt)
	}
	if err != nil {
		return out, err
	}
	if err := solution.Both(out.potentials, out.fields, points); err != nil {
		return out, err
	}
	out.relError, out.unknowns, out.method = solution.RelativeError(), solution.Unknowns(), solution.Method()
	if finite(out.relError) == nil {
		return out, fmt.Errorf("the error of the field round plates and bodies cannot be judged: %w", conduction.ErrNotFinite)
	}
	if !solution.Reached() {
		out.warnings = append(out.warnings, fmt.Sprintf("the relative error asked for, %g, was not reached: the finest mesh leaves an estimated %.2g", opt.RelativeTolerance, out.relError))
	}
	return out, nil
}

// errorPoints is at how many of the points the error is estimated.
const errorPoints = 2000

// someOf is up to n of the points, evenly taken.
func someOf(points []conduction.Point, n int) []conduction.Point {
	if len(points) <= n {
		return points
	}
	out := make([]conduction.Point, n)
	for i := range out {
		out[i] = points[i*len(points)/n]
	}
	return out
}

// SpecError is a specification that reads well but cannot be computed.
type SpecError struct {
	File string
	Err  error
}

func (e *SpecError) Error() string { return e.File + ": " + e.Err.Error() }

// Unwrap gives the cause.
func (e *SpecError) Unwrap() error { return e.Err }

// tolerance matters only for many points, which a table may serve: few are
// computed as well as can be.
func (s *FieldSpec) tolerance(points int) float64 {
	if s.Tolerance == nil || points < manyPoints {
		return 0
	}
	return *s.Tolerance
}

const manyPoints = 4096

func (s *FieldSpec) medium() conduction.Medium {
	m := conduction.Medium{WaterSPerM: *s.WaterSPerM, DepthM: math.Inf(1), WaterBelow: s.Layers == nil}
	if s.WaterDepthM != nil {
		m.DepthM = *s.WaterDepthM
	}
	if s.Layers != nil {
		for _, l := range *s.Layers {
			layer := conduction.Layer{ThicknessM: math.Inf(1), SPerM: *l.SPerM}
			if l.ThicknessM != nil {
				layer.ThicknessM = *l.ThicknessM
			}
			m.Layers = append(m.Layers, layer)
		}
	}
	if e := s.Enclosure; e != nil {
		m.Enclosure = &conduction.Enclosure{}
		if e.DiameterM != nil {
			m.Enclosure.DiameterM = *e.DiameterM
		} else {
			m.Enclosure.SizeXM, m.Enclosure.SizeYM = e.SizeM[0], e.SizeM[1]
		}
		if len(e.CentreM) == 2 {
			m.Enclosure.CentreXM, m.Enclosure.CentreYM = e.CentreM[0], e.CentreM[1]
		}
	}
	return m
}

// plates are those of a specification that was checked.
func (s *FieldSpec) plates() []conduction.Plate {
	out := make([]conduction.Plate, len(s.Plates))
	for i := range s.Plates {
		p := &s.Plates[i]
		out[i] = conduction.Plate{ThicknessM: statedOr(p.ThicknessM, 0), TopM: statedOr(p.TopM, 0), YawDeg: statedOr(p.YawDeg, 0), DiameterM: statedOr(p.DiameterM, 0)}
		if p.SizeM != nil {
			out[i].SizeXM, out[i].SizeYM = p.SizeM[0], p.SizeM[1]
		}
		if p.CentreM != nil {
			out[i].CentreXM, out[i].CentreYM = p.CentreM[0], p.CentreM[1]
		}
	}
	return out
}

func (s *FieldSpec) electrodes() []conduction.Electrode {
	out := make([]conduction.Electrode, len(s.Electrodes))
	for i, e := range s.Electrodes {
		out[i] = conduction.Electrode{At: conduction.Point{X: e.AtM[0], Y: e.AtM[1], Z: e.AtM[2]}, CurrentA: *e.CurrentA}
		if e.DiameterM != nil {
			out[i].DiameterM = *e.DiameterM
		}
		out[i].Hemisphere = e.Shape != nil && *e.Shape == shapeHemisphere
	}
	return out
}
