package app

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"brinefield/core/season"
)

// readFieldSpec decodes a specification and gathers every fault in it.
func readFieldSpec(name string, data []byte) (*FieldSpec, error) {
	spec := &FieldSpec{}
	if err := decodeStrict(name, data, spec); err != nil {
		return nil, err
	}
	c := &specCheck{name: name, lines: jsonLines(data)}
	spec.check(c)
	if len(c.faults) > 0 {
		return nil, &FaultsError{Faults: c.faults}
	}
	return spec, nil
}

// decodeStrict reads one JSON value; unknown keys are faults.
func decodeStrict(name string, data []byte, into any) error {
	decoder := json.NewDecoder(bytes.NewReader(data))
	decoder.DisallowUnknownFields()
	err := decoder.Decode(into)
	if err == nil {
		if _, err = decoder.Token(); errors.Is(err, io.EOF) {
			return nil
		}
		err = errors.New("something follows the end of the specification")
	}
	fault := season.Fault{File: name, Row: lineAt(data, decoder.InputOffset()), Wrong: "the specification cannot be read: " + strings.TrimPrefix(err.Error(), "json: "), Expected: "one JSON object with the keys of the field command"}
	var syntax *json.SyntaxError
	var mismatch *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		fault.Row = lineAt(data, syntax.Offset)
	case errors.As(err, &mismatch):
		fault.Row, fault.Column = lineAt(data, mismatch.Offset), mismatch.Field
		fault.Wrong, fault.Expected = "found a "+mismatch.Value, "a "+plainType(mismatch.Type.String())
	case errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF):
		fault.Wrong = "the file ends too early"
	case strings.Contains(err.Error(), "unknown field"):
		_, key, _ := strings.Cut(err.Error(), "unknown field ")
		key = strings.Trim(key, `"`)
		fault.Column, fault.Wrong = key, fmt.Sprintf("unknown key %q", key)
		fault.Row = lineOfKey(data, key)
	}
	return &FaultsError{Faults: []season.Fault{fault}}
}

func plainType(goType string) string {
	switch {
	case strings.Contains(goType, "[]"):
		return "list"
	case strings.Contains(goType, "float64"), strings.Contains(goType, "int"):
		return "number"
	case strings.Contains(goType, "string"):
		return "text"
	}
	return "JSON object"
}

type specCheck struct {
	name   string
	lines  map[string]int
	faults []season.Fault
}

func (c *specCheck) fault(path, wrong, expected string) {
	row := 0
	for p := path; row == 0 && p != ""; p = parentPath(p) {
		row = c.lines[p]
	}
	c.faults = append(c.faults, season.Fault{File: c.name, Row: row, Column: path, Wrong: wrong, Expected: expected})
}

func (c *specCheck) number(path string, v *float64, ok func(float64) bool, expected string) {
	if v == nil {
		c.fault(path, "missing", expected)
	} else if !ok(*v) {
		c.fault(path, fmt.Sprintf("found %g", *v), expected)
	}
}

func (c *specCheck) optional(path string, v *float64, ok func(float64) bool, expected string) {
	if v != nil {
		c.number(path, v, ok, expected)
	}
}

func (c *specCheck) vector(path string, v []float64, n int, what string) {
	if len(v) != n {
		c.fault(path, fmt.Sprintf("found %d numbers", len(v)), what)
	}
}

func aboveZero(v float64) bool   { return v > 0 }
func notNegative(v float64) bool { return v >= 0 }
func anyNumber(v float64) bool   { return !math.IsNaN(v) }
func isTolerance(v float64) bool { return v > 0 && v < 1 }

func (s *FieldSpec) check(c *specCheck) {
	if s.Format != nil && *s.Format != Format {
		c.fault("format", fmt.Sprintf("found %d", *s.Format), fmt.Sprintf("%d", Format))
	}
	c.number("water_S_per_m", s.WaterSPerM, aboveZero, "a conductivity above 0, in S/m")
	c.optional("water_depth_m", s.WaterDepthM, aboveZero, "a depth above 0 in metres, or null for unbounded water")
	c.optional("tolerance", s.Tolerance, isTolerance, "a relative error between 0 and 1")
	s.checkLayers(c)
	s.checkEnclosure(c)
	s.checkPlates(c)
	s.checkBodies(c)
	if len(s.Electrodes) == 0 {
		c.fault("electrodes", "no electrode", "at least one electrode with at_m and current_A")
	}
	for i := range s.Electrodes {
		s.Electrodes[i].check(c, fmt.Sprintf("electrodes[%d]", i))
	}
	if len(s.PointsM) == 0 {
		c.fault("points_m", "no point", "at least one point [x, y, z] in metres")
	}
	for i, p := range s.PointsM {
		c.vector(fmt.Sprintf("points_m[%d]", i), p, 3, "[x, y, z] in metres")
	}
}

func (e *ElectrodeSpec) check(c *specCheck, path string) {
	c.vector(path+".at_m", e.AtM, 3, "[x, y, z] in metres")
	c.number(path+".current_A", e.CurrentA, anyNumber, "a current in amperes")
	shape := shapeDisc
	if e.Shape != nil {
		shape = *e.Shape
	}
	switch shape {
	case shapeDisc:
		c.optional(path+".diameter_m", e.DiameterM, notNegative, "a diameter of 0 (a point) or more, in metres")
	case shapeHemisphere:
		c.number(path+".diameter_m", e.DiameterM, aboveZero, "a hemisphere's diameter above 0 in metres")
	default:
		c.fault(path+".shape", fmt.Sprintf("found %q", shape), `"disc" or "hemisphere"`)
	}
}

func (s *FieldSpec) checkLayers(c *specCheck) {
	if s.Layers == nil {
		return
	}
	last := len(*s.Layers) - 1
	for i, l := range *s.Layers {
		path := fmt.Sprintf("layers[%d]", i)
		c.number(path+".S_per_m", l.SPerM, notNegative, "a conductivity of 0 (insulating) or more, in S/m")
		if i < last {
			c.number(path+".thickness_m", l.ThicknessM, aboveZero, "a thickness above 0 in metres (only the last layer has none)")
		} else if l.ThicknessM != nil {
			c.fault(path+".thickness_m", "the last layer has a thickness", "no thickness: the last layer reaches down for ever; add one more layer for what lies below")
		}
	}
}

func (s *FieldSpec) checkEnclosure(c *specCheck) {
	e := s.Enclosure
	if e == nil {
		return
	}
	switch {
	case e.DiameterM != nil && e.SizeM != nil:
		c.fault("enclosure", "both size_m and diameter_m", "one of them")
	case e.DiameterM != nil:
		c.number("enclosure.diameter_m", e.DiameterM, aboveZero, "a diameter above 0 in metres")
	default:
		c.vector("enclosure.size_m", e.SizeM, 2, "[x, y] in metres")
		for _, v := range e.SizeM {
			if v <= 0 {
				c.fault("enclosure.size_m", fmt.Sprintf("found %g", v), "sizes above 0 in metres")
			}
		}
	}
	if e.CentreM != nil {
		c.vector("enclosure.centre_m", e.CentreM, 2, "[x, y] in metres")
	}
}

// checkPlates sees what is wrong with each plate by itself; what takes the
// whole scene to see (overlaps, walls, electrodes) the engine says.
func (s *FieldSpec) checkPlates(c *specCheck) {
	for i := range s.Plates {
		p, path := &s.Plates[i], fmt.Sprintf("plates[%d]", i)
		switch p.Shape {
		case plateRectangle:
			if p.DiameterM != nil {
				c.fault(path+".diameter_m", "a rectangle with a diameter", "size_m = [x, y] alone, or the shape \"disc\"")
			}
			c.vector(path+".size_m", p.SizeM, 2, "[x, y] in metres")
			for _, v := range p.SizeM {
				if !aboveZero(v) {
					c.fault(path+".size_m", fmt.Sprintf("found %g", v), "sizes above 0 in metres")
				}
			}
		case plateDisc:
			if p.SizeM != nil {
				c.fault(path+".size_m", "a disc with a size", "diameter_m alone, or the shape \"rectangle\"")
			}
			c.number(path+".diameter_m", p.DiameterM, aboveZero, "a diameter above 0 in metres")
		case "":
			c.fault(path+".shape", "missing", `"rectangle" or "disc"`)
		default:
			c.fault(path+".shape", fmt.Sprintf("found %q", p.Shape), `"rectangle" or "disc"`)
		}
		c.optional(path+".thickness_m", p.ThicknessM, notNegative, "a thickness of 0 (a thin sheet) or more, in metres")
		if p.CentreM != nil {
			c.vector(path+".centre_m", p.CentreM, 2, "[x, y] in metres")
		}
		c.optional(path+".top_m", p.TopM, anyNumber, "the height of the top face above the bottom in metres, below 0 where it is buried")
		c.optional(path+".yaw_deg", p.YawDeg, anyNumber, "an angle in degrees")
	}
}
