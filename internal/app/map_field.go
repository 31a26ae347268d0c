package app

import (
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
	Electrodes  []ElectrodeSpec `json:"electrodes"`
	PointsM     [][]float64     `json:"points_m"`
	Tolerance   *float64        `json:"tolerance" required:"false"`
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

// PlateSpec is an insulating plate.
type PlateSpec struct {
	Shape      string    `json:"shape"`
	SizeM      []float64 `json:"size_m" required:"false"`
	DiameterM  *float64  `json:"diameter_m" required:"false"`
	ThicknessM *float64  `json:"thickness_m" required:"false"`
	CentreM    []float64 `json:"centre_m" required:"false"`
	TopM       *float64  `json:"top_m" required:"false"`
	YawDeg     *float64  `json:"yaw_deg" required:"false"`
}

// ElectrodeSpec is one electrode and the current that leaves it.
type ElectrodeSpec struct {
	AtM       []float64 `json:"at_m"`
	CurrentA  *float64  `json:"current_A"`
	DiameterM *float64  `json:"diameter_m" required:"false"`
}

// FieldMap is the document of the field command.
type FieldMap struct {
	Heading
	Points        []FieldPoint `json:"points"`
	RelativeError float64      `json:"relative_error"`
	Unknowns      int          `json:"unknowns"`
	Method        string       `json:"method"`
}

// FieldPoint is potential and field at one point.
type FieldPoint struct {
	PotentialV float64    `json:"potential_V"`
	EVPerM     [3]float64 `json:"E_V_per_m"`
	Magnitude  float64    `json:"magnitude_nV_per_cm"`
}

// MapField computes the field that a specification asks for. Faults of the
// specification come back all at once as a *FaultsError.
func MapField(name string, data []byte, program Program) (FieldMap, error) {
	spec, err := readFieldSpec(name, data)
	if err != nil {
		return FieldMap{}, err
	}
	points := make([]conduction.Point, len(spec.PointsM))
	for i, p := range spec.PointsM {
		points[i] = conduction.Point{X: p[0], Y: p[1], Z: p[2]}
	}
	solution, err := conduction.Solve(spec.medium(), spec.electrodes(), conduction.Options{RelativeTolerance: spec.tolerance(len(points))})
	if err != nil {
		return FieldMap{}, &SpecError{File: name, Err: err}
	}
	potentials, fields := make([]float64, len(points)), make([]conduction.Vector, len(points))
	if err := solution.Potentials(potentials, points); err != nil {
		return FieldMap{}, &SpecError{File: name, Err: err}
	}
	if err := solution.Fields(fields, points); err != nil {
		return FieldMap{}, &SpecError{File: name, Err: err}
	}
	worst, err := solution.RelativeErrorAt(someOf(points, errorPoints))
	if err != nil {
		return FieldMap{}, &SpecError{File: name, Err: err}
	}
	out := FieldMap{
		Heading:       Heading{Format: Format, Program: program, InputsSHA256: Input{name: data}.Fingerprints(), Warnings: []string{}},
		Points:        make([]FieldPoint, len(points)),
		RelativeError: worst, Unknowns: solution.Unknowns(), Method: solution.Method(),
	}
	for i := range points {
		e := fields[i]
		out.Points[i] = FieldPoint{PotentialV: potentials[i], EVPerM: [3]float64{e.X, e.Y, e.Z}, Magnitude: e.Norm() * nVPerCmPerVPerM}
		if finite(potentials[i]) == nil || finite(e.Norm()) == nil {
			return FieldMap{}, &SpecError{File: name, Err: fmt.Errorf("points_m[%d]: the field there is not a finite number: too close to an electrode, or currents too large", i)}
		}
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

func (s *FieldSpec) electrodes() []conduction.Electrode {
	out := make([]conduction.Electrode, len(s.Electrodes))
	for i, e := range s.Electrodes {
		out[i] = conduction.Electrode{At: conduction.Point{X: e.AtM[0], Y: e.AtM[1], Z: e.AtM[2]}, CurrentA: *e.CurrentA}
		if e.DiameterM != nil {
			out[i].DiameterM = *e.DiameterM
		}
	}
	return out
}
