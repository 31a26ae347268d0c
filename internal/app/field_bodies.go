package app

import (
	"fmt"
	"math"

	"brinefield/core/conduction"
)

// BodySpec is a solid near the electrodes, as CONTRACTS.md states it. Without
// S_per_m, or with 0, it insulates; null conducts perfectly.
type BodySpec struct {
	Shape    string    `json:"shape" doc:"box, cylinder or spheroid."`
	CentreM  []float64 `json:"centre_m"`
	SizeM    []float64 `json:"size_m" doc:"Full lengths along the body's own axes before it is turned: along, across, up; a cylinder and a spheroid: length, diameter, diameter."`
	YawDeg   *float64  `json:"yaw_deg" required:"false" doc:"Anticlockwise from +x."`
	PitchDeg *float64  `json:"pitch_deg" required:"false" doc:"After the yaw, nose up; a cylinder with 90 stands upright."`
	SPerM    *float64  `json:"S_per_m" required:"false" nullable:"true" doc:"0 or absent insulates, null conducts perfectly."`
	Label    string    `json:"label" required:"false"`

	perfect bool // S_per_m is there, and null
}

// bodyShapes are the words of the shapes.
var bodyShapes = map[string]conduction.BodyShape{
	conduction.BodyBox.String():      conduction.BodyBox,
	conduction.BodyCylinder.String(): conduction.BodyCylinder,
	conduction.BodySpheroid.String(): conduction.BodySpheroid,
}

// checkBodies sees what is wrong with each body by itself; what takes the whole
// scene to see (overlaps, walls, electrodes) the engine says.
func (s *FieldSpec) checkBodies(c *specCheck) {
	for i := range s.Bodies {
		b, path := &s.Bodies[i], fmt.Sprintf("bodies[%d]", i)
		shape, known := bodyShapes[b.Shape]
		switch {
		case b.Shape == "":
			c.fault(path+".shape", "missing", `"box", "cylinder" or "spheroid"`)
		case !known:
			c.fault(path+".shape", fmt.Sprintf("found %q", b.Shape), `"box", "cylinder" or "spheroid"`)
		}
		c.vector(path+".centre_m", b.CentreM, 3, "[x, y, z] in metres")
		c.vector(path+".size_m", b.SizeM, 3, "[along, across, up] in metres; of what is round [length, diameter, diameter]")
		for _, v := range b.SizeM {
			if !aboveZero(v) {
				c.fault(path+".size_m", fmt.Sprintf("found %g", v), "lengths above 0 in metres")
			}
		}
		if known && shape != conduction.BodyBox && len(b.SizeM) == 3 && b.SizeM[1] != b.SizeM[2] {
			c.fault(path+".size_m", fmt.Sprintf("found the diameters %g and %g", b.SizeM[1], b.SizeM[2]), "[length, diameter, diameter], both diameters alike")
		}
		c.optional(path+".yaw_deg", b.YawDeg, anyNumber, "an angle in degrees")
		c.optional(path+".pitch_deg", b.PitchDeg, anyNumber, "an angle in degrees")
		c.optional(path+".S_per_m", b.SPerM, notNegative, "a conductivity of 0 (insulating) or more in S/m, or null for a perfect conductor")
		_, given := c.lines[path+".S_per_m"]
		b.perfect = given && b.SPerM == nil
	}
}

// bodies are those of a specification that was checked.
func (s *FieldSpec) bodies() []conduction.Body {
	out := make([]conduction.Body, len(s.Bodies))
	for i := range s.Bodies {
		b := &s.Bodies[i]
		out[i] = conduction.Body{
			Shape: bodyShapes[b.Shape], Centre: conduction.Point{X: b.CentreM[0], Y: b.CentreM[1], Z: b.CentreM[2]},
			SizeM: [3]float64(b.SizeM), YawDeg: statedOr(b.YawDeg, 0), PitchDeg: statedOr(b.PitchDeg, 0), SPerM: statedOr(b.SPerM, 0), Label: b.Label,
		}
		if b.perfect {
			out[i].SPerM = math.Inf(1)
		}
	}
	return out
}

// statedOr is a number that may be left out, or what stands for it then.
func statedOr(v *float64, other float64) float64 {
	if v == nil {
		return other
	}
	return *v
}

// skinPlaces are asked on each body for the largest field at its skin.
const skinPlaces = 400

// atSkin is the largest field at the skin of each body, with nulls where none
// can be told.
func (s *FieldSpec) atSkin(ask func(body int) (conduction.Point, conduction.Vector, error)) []SkinField {
	out := make([]SkinField, len(s.Bodies))
	for i := range s.Bodies {
		out[i] = SkinField{Body: i, Label: s.Bodies[i].Label}
		at, e, err := ask(i)
		if err != nil || finite(e.Norm()) == nil {
			continue
		}
		out[i].AtM, out[i].EVPerM = &[3]float64{at.X, at.Y, at.Z}, &[3]float64{e.X, e.Y, e.Z}
		out[i].Magnitude = finite(e.Norm() * nVPerCmPerVPerM)
	}
	return out
}
