package app

import (
	"errors"
	"fmt"
	"math"

	"brinefield/core/optics"
)

// Locate is the command `footage locate`: from pixels of a fixed camera to places
// in the season frame. Faults of the file come back all at once as a
// [*FaultsError].
func Locate(name string, data []byte, program Program) (LocateDocument, error) {
	var spec LocateSpec
	if err := readStrict(name, data, &spec, "locate-spec.schema.json"); err != nil {
		return LocateDocument{}, err
	}
	c := &specCheck{name: name, lines: jsonLines(data)}
	spec.check(c)
	if len(c.faults) > 0 {
		return LocateDocument{}, &FaultsError{Faults: c.faults}
	}
	posed, err := optics.Fit(spec.Camera, spec.Marks, spec.ClickSDPx)
	if err != nil {
		var marks *optics.MarksError
		if !errors.As(err, &marks) {
			return LocateDocument{}, err // cameras were checked
		}
		path := "marks"
		if marks.Mark >= 0 {
			path = fmt.Sprintf("marks[%d]", marks.Mark)
		}
		c.fault(path, marks.Wrong, marks.Expected)
		return LocateDocument{}, &FaultsError{Faults: c.faults}
	}
	document := LocateDocument{
		Heading:       Heading{Format: Format, Program: program, InputsSHA256: Input{name: data}.Fingerprints(), Warnings: poseWarnings(posed)},
		CameraCentreM: posed.Centre(), CameraCentreCovariance: posed.CentreCovarianceM2(), ReprojectionRMSPx: posed.RMSPx,
		ResidualPx: posed.ResidualPx, Fixes: make([]LocatedFix, len(spec.Fixes)),
	}
	if posed.SecondRMSPx > 0 {
		document.SecondReprojectionRMSPx = &posed.SecondRMSPx
	}
	for i, f := range spec.Fixes {
		at, err := posed.Locate(f.Pixel, f.HeightM, f.HeightSDM)
		if err != nil {
			c.fault(fmt.Sprintf("fixes[%d].pixel", i), err.Error(), "a pixel that sees this height in front of the camera")
			continue
		}
		document.Fixes[i] = LocatedFix{AtM: at.AtM, CovarianceM2: at.CovarianceM2}
	}
	if len(c.faults) > 0 {
		return LocateDocument{}, &FaultsError{Faults: c.faults}
	}
	return document, nil
}

func (s *LocateSpec) check(c *specCheck) {
	if s.Format != nil && *s.Format != Format {
		c.fault("format", fmt.Sprintf("found %d", *s.Format), fmt.Sprint(Format))
	}
	sized := true
	for _, f := range s.Camera.Faults() {
		c.fault("camera."+f.Key, f.Wrong, f.Expected)
		sized = sized && f.Key != "width_px" && f.Key != "height_px"
	}
	pixel := func(path string, at [2]float64) {
		if sized && !s.Camera.InPicture(at) {
			c.fault(path, fmt.Sprintf("found (%g, %g), outside the picture", at[0], at[1]),
				fmt.Sprintf("-0.5 to %g across and -0.5 to %g down, as (0, 0) is the centre of the top left pixel", float64(s.Camera.WidthPx)-0.5, float64(s.Camera.HeightPx)-0.5))
		}
	}
	if len(s.Marks) < 4 {
		c.fault("marks", fmt.Sprintf("found %d marks", len(s.Marks)), "at least four, at different places")
	}
	for i, m := range s.Marks {
		path := fmt.Sprintf("marks[%d]", i)
		for k, v := range m.AtM {
			c.number(fmt.Sprintf("%s.at_m[%d]", path, k), &v, withinReach, "metres in the season frame, at most a million")
		}
		pixel(path+".pixel", m.Pixel)
	}
	for i, f := range s.Fixes {
		path := fmt.Sprintf("fixes[%d]", i)
		pixel(path+".pixel", f.Pixel)
		c.number(path+".height_m", &f.HeightM, func(v float64) bool { return v >= 0 && withinReach(v) }, "a height of 0 or more above the plate, in metres")
		c.number(path+".height_sd_m", &f.HeightSDM, func(v float64) bool { return v >= 0 && withinReach(v) }, "a standard deviation of 0 (exact) or more, in metres")
	}
	c.number("click_sd_px", &s.ClickSDPx, func(v float64) bool { return v >= 0 && withinReach(v) }, "a standard deviation of 0 (exact) or more, in pixels")
}

func withinReach(v float64) bool { return math.Abs(v) <= 1e6 }

// poseWarnings says in words what should be looked at in a pose.
func poseWarnings(p *optics.Posed) []string {
	out := []string{}
	n := float64(len(p.ResidualPx))
	if sd := p.ClickSDPx; sd > 0 {
		// The sum of squares over sd² is χ² with 2n − 6 degrees of freedom where
		// the numbers are right: three of its standard deviations above its mean.
		free := 2*n - 6
		if p.RMSPx*p.RMSPx*n/(sd*sd) > free+3*math.Sqrt(2*free) {
			worst, far := 0, 0.0
			for i, r := range p.ResidualPx {
				if d := math.Hypot(r[0], r[1]); d > far {
					worst, far = i, d
				}
			}
			out = append(out, fmt.Sprintf("The marks lie %.3g px (root mean square) from where the pose shows them, more than clicks with %g px explain; most mark %d with %.3g px. Look at its place and its pixel, and at the numbers of the camera.", p.RMSPx, sd, worst+1, far))
		}
	}
	if p.SecondRMSPx > 0 {
		out = append(out, fmt.Sprintf("A second pose of the camera explains the marks nearly as well (%.3g px against %.3g px): the places may be wrong, and their covariance does not know. A mark well above or below the plate would tell the two apart.", p.SecondRMSPx, p.RMSPx))
	}
	if p.Bend > optics.LooseBend {
		out = append(out, "The marks are seen so small, or clicked so roughly, that they hardly tell how the camera is tilted: the stated deviations are too small, by a fifth or more. Marks farther apart, one well above or below the plate, or better clicks would tell it.")
	}
	if p.Centre()[2] < 0 {
		out = append(out, "The camera stands below the plate: if it does not, marks are exchanged or mirrored.")
	}
	return out
}
