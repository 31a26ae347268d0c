package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"brinefield/core/conduction"
	"brinefield/core/numeric"
)

// The limits of a picture.
const (
	sectionVertical   = "vertical"
	sectionHorizontal = "horizontal"
	mostAcross        = 600
	mostPoints        = 10000
	mostInVolume      = 64
	farthestLookM     = 200
)

// Section is the field in one plane.
func (t *Stimulus) Section(ctx context.Context, in SectionRequest) (StimulusSection, error) {
	began := t.clock()
	c := &knobCheck{}
	p := in.Section
	p.check(c)
	s, err := newScene(&in.StimulusAsk, c)
	if err != nil {
		return StimulusSection{}, err
	}
	u, v := evenly(p.MiddleM-p.HalfWidthM, p.MiddleM+p.HalfWidthM, p.Columns), evenly(p.LowestM, p.HighestM, p.Rows)
	points := make([]conduction.Point, 0, len(u)*len(v))
	sin, cos := numeric.SinCosDeg(p.AzimuthDeg)
	rho, low, high := 0.0, math.Inf(1), math.Inf(-1)
	for _, b := range v {
		for _, a := range u {
			at := []float64{a, b, p.HeightM}
			if p.Plane == sectionVertical {
				at = []float64{a*cos - p.OffsetM*sin, a*sin + p.OffsetM*cos, b}
			}
			rho = math.Max(rho, math.Hypot(at[0]-s.lead.centre.X, at[1]-s.lead.centre.Y))
			low, high = math.Min(low, at[2]), math.Max(high, at[2])
			points = append(points, s.field(at))
		}
	}
	look, err := t.look(ctx, s, s.regionOf(rho, low, high))
	if err != nil {
		return StimulusSection{}, err
	}
	out := StimulusSection{Columns: len(u), Rows: len(v), UM: u, VM: v, Magnitude: make(Figures, len(points))}
	if err := look.magnitudes(ctx, out.Magnitude, points); err != nil {
		return StimulusSection{}, err
	}
	toNVPerCm(out.Magnitude)
	out.StimulusQuality = look.quality(began, t.clock())
	return out, nil
}

func (p *SectionPlane) check(c *knobCheck) {
	c.oneOf("section/plane", p.Plane, sectionVertical, sectionHorizontal)
	c.within("section/azimuth_deg", p.AzimuthDeg, -3600, 3600, "an angle in degrees")
	c.within("section/offset_m", p.OffsetM, -farthestLookM, farthestLookM, fmt.Sprintf("a distance within %d m", farthestLookM))
	c.within("section/height_m", p.HeightM, -farthestLookM, farthestLookM, fmt.Sprintf("a height within %d m", farthestLookM))
	c.within("section/middle_m", p.MiddleM, -farthestLookM, farthestLookM, fmt.Sprintf("a distance within %d m", farthestLookM))
	c.above0("section/half_width_m", p.HalfWidthM, farthestLookM, fmt.Sprintf("half a width above 0 and up to %d m", farthestLookM))
	c.within("section/lowest_m", p.LowestM, -farthestLookM, farthestLookM, fmt.Sprintf("within %d m", farthestLookM))
	c.within("section/highest_m", p.HighestM, -farthestLookM, farthestLookM, fmt.Sprintf("within %d m", farthestLookM))
	if p.HighestM <= p.LowestM {
		c.fault("section/highest_m", fmt.Sprintf("found %g", p.HighestM), fmt.Sprintf("more than lowest_m, which is %g", p.LowestM))
	}
	c.within("section/columns", float64(p.Columns), 2, mostAcross, fmt.Sprintf("between 2 and %d columns", mostAcross))
	c.within("section/rows", float64(p.Rows), 2, mostAcross, fmt.Sprintf("between 2 and %d rows", mostAcross))
}

// evenly is n numbers from a to b, evenly, both ends among them. What is
// 0 but for rounding is 0: there lie faces.
func evenly(a, b float64, n int) Figures {
	out := make(Figures, n)
	if n == 1 {
		out[0] = a
		return out
	}
	for i := range out {
		w := float64(i) / float64(n-1)
		out[i] = (1-w)*a + w*b
		if math.Abs(out[i]) < 1e-12*(math.Abs(a)+math.Abs(b)) {
			out[i] = 0
		}
	}
	return out
}

func toNVPerCm(fields []float64) {
	for i := range fields {
		fields[i] *= nVPerCmPerVPerM
	}
}

// Points is the field at places.
func (t *Stimulus) Points(ctx context.Context, in PointsRequest) (StimulusPoints, error) {
	began := t.clock()
	c := &knobCheck{}
	if n := len(in.PointsM); n == 0 || n > mostPoints {
		c.fault("points_m", fmt.Sprintf("found %d points", n), fmt.Sprintf("between 1 and %d points [x, y, z] in metres", mostPoints))
	} else {
		for i, p := range in.PointsM {
			c.vector(fmt.Sprintf("points_m/%d", i), p, 3, "[x, y, z] in metres")
		}
	}
	s, err := newScene(&in.StimulusAsk, c)
	if err != nil {
		return StimulusPoints{}, err
	}
	look, err := t.look(ctx, s, nil)
	if err != nil {
		return StimulusPoints{}, err
	}
	out := StimulusPoints{Points: make([]StimulusPoint, len(in.PointsM))}
	inParallel((len(in.PointsM)+fieldChunk-1)/fieldChunk, func(i int) {
		for k := i * fieldChunk; k < min(len(in.PointsM), (i+1)*fieldChunk) && ctx.Err() == nil; k++ {
			out.Points[k] = look.pointAt(s.field(in.PointsM[k]))
		}
	})
	if err := ctx.Err(); err != nil {
		return StimulusPoints{}, err
	}
	out.StimulusQuality = look.quality(began, t.clock())
	return out, nil
}

func (v *view) pointAt(p conduction.Point) StimulusPoint {
	r, cos := v.polar(p)
	out := StimulusPoint{
		ENVPerCm: Figures{math.NaN(), math.NaN(), math.NaN()}, TextbookNVPerCm: figure(v.textbook(p) * nVPerCmPerVPerM),
		DistanceCm: figure(r * 100), Inside: v.inside(p),
	}
	if r > 0 && v.lead.separationM > 0 {
		out.AngleDeg = figure(math.Acos(math.Max(-1, math.Min(1, cos))) * 180 / math.Pi)
	}
	if v.solved == nil {
		if out.Inside == "" {
			out.MagnitudeNVPerCm = out.TextbookNVPerCm
		}
		return out
	}
	e, err := v.solved.FieldAt(p)
	if err != nil {
		out.Inside = insideWord(err, out.Inside)
		return out
	}
	if potential, err := v.solved.PotentialAt(p); err == nil {
		out.PotentialV = figure(potential * v.currentA)
	}
	e = e.Scale(v.currentA * nVPerCmPerVPerM)
	out.ENVPerCm, out.MagnitudeNVPerCm, out.Inside = Figures{e.X, e.Y, e.Z}, figure(e.Norm()), ""
	return out
}

// insideWord says why the engine has no field at a place.
func insideWord(err error, guess string) string {
	switch {
	case errors.Is(err, conduction.ErrInPlate):
		return "plate"
	case errors.Is(err, conduction.ErrInBody):
		return "body"
	case errors.Is(err, conduction.ErrInElectrode), errors.Is(err, conduction.ErrNotFinite):
		return "electrode"
	case errors.Is(err, conduction.ErrOutside):
		return "outside"
	}
	return guess
}

// figure is a number of six digits, or null.
func figure(v float64) *float64 {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	if err != nil {
		return finite(v)
	}
	return finite(rounded)
}

// Volume is the field in a box round the lead pair.
func (t *Stimulus) Volume(ctx context.Context, in VolumeRequest) (StimulusVolume, error) {
	began := t.clock()
	c := &knobCheck{}
	c.above0("half_width_m", in.HalfWidthM, farthestLookM, fmt.Sprintf("half a width above 0 and up to %d m", farthestLookM))
	c.above0("highest_m", in.HighestM, farthestLookM, fmt.Sprintf("a height above 0 and up to %d m", farthestLookM))
	if len(in.Points) != 3 || slices.Min(in.Points) < 2 || slices.Max(in.Points) > mostInVolume {
		c.fault("points", fmt.Sprintf("found %v", in.Points), fmt.Sprintf("[nx, ny, nz], each between 2 and %d", mostInVolume))
	}
	s, err := newScene(&in.StimulusAsk, c)
	if err != nil {
		return StimulusVolume{}, err
	}
	mid := s.lead.centre
	out := StimulusVolume{
		XM: evenly(mid.X-in.HalfWidthM, mid.X+in.HalfWidthM, in.Points[0]),
		YM: evenly(mid.Y-in.HalfWidthM, mid.Y+in.HalfWidthM, in.Points[1]), ZM: evenly(0, in.HighestM, in.Points[2]),
	}
	points := make([]conduction.Point, 0, len(out.XM)*len(out.YM)*len(out.ZM))
	for _, z := range out.ZM {
		for _, y := range out.YM {
			for _, x := range out.XM {
				points = append(points, s.field([]float64{x, y, z}))
			}
		}
	}
	look, err := t.look(ctx, s, s.regionOf(in.HalfWidthM*math.Sqrt2, 0, in.HighestM))
	if err != nil {
		return StimulusVolume{}, err
	}
	out.Magnitude = make(Figures, len(points))
	if err := look.magnitudes(ctx, out.Magnitude, points); err != nil {
		return StimulusVolume{}, err
	}
	toNVPerCm(out.Magnitude)
	out.StimulusQuality = look.quality(began, t.clock())
	return out, nil
}
