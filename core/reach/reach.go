// Package reach turns a field into how far it reaches: the distance in every
// direction at which it falls below a threshold, the area above it at a
// height, the largest distance of all. It also goes the other way (the
// current that a wanted field needs, [CurrentsFor]) and asks how much a range
// changes with what is not known well ([Vary]).
//
// It knows nothing of plates, layers or electrodes: a field arrives as a
// function ([Field]) that is asked for many points at once.
//
// Frame and units: the field frame of package conduction (z = 0 is the
// bottom), metres, V/m, amperes, degrees anticlockwise from +x.
//
// docs/physics/reach.md has the definitions, the method and its limits.
package reach

import (
	"errors"
	"fmt"
	"math"

	"brinefield/core/conduction"
)

// Field sets dst[k] to the electric field at points[k], field frame, V/m, and
// to NaN where there is none (inside a plate, a body, an electrode, an
// insulating bottom). It may be asked for one point or for thousands at once;
// the answer at a point must not depend on the others.
type Field func(dst []conduction.Vector, points []conduction.Point) error

// ErrSearch says that a question cannot be asked. It is wrapped in a sentence
// that names the item and its value.
var ErrSearch = errors.New("range")

// Search says where to look.
type Search struct {
	// Centre of the pair, field frame: every distance is measured from here.
	Centre conduction.Point
	// HeightsM are the heights of the rings, field frame.
	HeightsM []float64
	// Directions is how many directions a ring has: direction k lies
	// k·360°/Directions anticlockwise from +x.
	Directions int
	// MostM is how far from the centre it looks.
	MostM float64
	// LowestM and HighestM bound the water in which it looks (the top of the
	// plate or the bottom, the surface): a ring outside is empty.
	LowestM, HighestM float64
	// Sharp are places round which the field may rise again: electrodes of
	// this pair and of others. Round them it looks more closely, so that no
	// island of a second pair is missed. At most 1000.
	Sharp []conduction.Point
	// Tolerance is the relative error of a distance that may be made to save
	// points; 0 = 1e-4. Where the field itself is good to 1 %, 1e-3 is plenty.
	Tolerance float64
	// MostPoints is after how many points of the field it stops refining and
	// asks the field at the distances themselves; 0 = 20 000.
	MostPoints int
	// Stop, where not nil, is asked now and then whether to give up with
	// [conduction.ErrStopped].
	Stop func() bool
}

// Ring is how far the field reaches at one height.
type Ring struct {
	HeightM float64
	// AreaM2 is the area at this height over which the field is at least the
	// threshold, islands included, holes (and what is inside a plate) not.
	AreaM2 float64
	// UnsureM2 is about the most by which AreaM2 may be off, beyond 1 in 1000,
	// where the plane could not be resolved to the tolerance: close to the
	// edges of plates and bodies. 0 elsewhere.
	UnsureM2 float64
	// FarthestM and NearestM are the largest and the smallest of ByDirectionM;
	// NaN where all of those are. Nearest counts only directions that have a
	// distance.
	FarthestM, NearestM float64
	// ByDirectionM is, for each direction, the largest horizontal distance
	// from the pair's centre at which the field is at least the threshold; NaN
	// where it is below the threshold on the whole line. Islands narrower than
	// 2 % of their distance do not count: on the ideal edge of a plate the
	// field has no bound, in a thread of millimetres.
	ByDirectionM []float64
}

// Range is how far a field reaches at one threshold.
type Range struct {
	ThresholdVPerM float64
	// LargestM is the largest distance from the centre, in three dimensions
	// and within the water asked for, at which the field is at least the
	// threshold, and At where that is. 0 and the centre where none is found.
	// It comes from a search that climbs from many starts: its distance is good
	// to about 1 in 1000, but a lobe narrower than some 15° between the rings
	// may be missed. HighestM likewise.
	LargestM float64
	At       conduction.Point
	// HighestM is the largest height (field frame) at which the field is at
	// least the threshold; NaN where none is found.
	HighestM float64
	Rings    []Ring // one for each height asked for, in that order
	// Beyond says that the field is still above the threshold at MostM, so
	// that the true reach is larger.
	Beyond bool
	// RelativeError is the largest relative error of a distance of a ring, as
	// measured by asking the field itself at a sample of them.
	RelativeError float64
}

// Found reports whether the field reaches the threshold anywhere.
func (r Range) Found() bool { return r.LargestM > 0 }

// Ranges says how far the field reaches at each threshold, V/m. One pass of
// evaluations serves all thresholds and heights.
//
// Errors: [ErrSearch] for a question that cannot be asked,
// [conduction.ErrStopped], and those of the field.
func Ranges(f Field, thresholds []float64, s Search) ([]Range, error) {
	if err := s.check(thresholds); err != nil {
		return nil, err
	}
	ranges := make([]Range, len(thresholds))
	if len(thresholds) == 0 {
		return ranges, nil
	}
	for n, x := range thresholds {
		ranges[n].ThresholdVPerM = x
	}
	tol, most := s.Tolerance, s.MostPoints
	if tol == 0 {
		tol = defaultTolerance
	}
	if most == 0 {
		most = defaultPoints
	}
	scale := s.scale()
	sheets := make([]*sheet, len(s.HeightsM))
	var there []*sheet
	for k, z := range s.HeightsM {
		if sheets[k] = newSheet(s, z, scale); sheets[k] != nil {
			there = append(there, sheets[k])
		}
	}
	ask := &asker{field: f, stop: s.Stop}
	if err := ask.survey(there, thresholds, fieldPerDistance*tol, most); err != nil {
		return nil, err
	}
	if err := ask.ringsOf(sheets, ranges, s, tol); err != nil {
		return nil, err
	}
	if err := ask.farthest(ranges, s, scale, tol); err != nil {
		return nil, err
	}
	return ranges, nil
}

// scale is a small distance, about the pair's own size, below which nothing is
// looked for.
func (s Search) scale() float64 {
	scale := math.Inf(1)
	for _, p := range s.Sharp {
		if d := between(p, s.Centre); d > 0 {
			scale = math.Min(scale, d/2)
		}
	}
	if math.IsInf(scale, 1) {
		return s.MostM / 300
	}
	return math.Min(math.Max(scale, s.MostM/1000), s.MostM/10)
}

// check says what is wrong with the question, or nil.
func (s Search) check(thresholds []float64) error {
	bad := func(format string, args ...any) error {
		return fmt.Errorf("%w: %s", ErrSearch, fmt.Sprintf(format, args...))
	}
	for k, x := range thresholds {
		if !(x > 0) || math.IsInf(x, 0) {
			return bad("threshold %d is %g V/m; a field above zero", k+1, x)
		}
	}
	if !finite(s.Centre.X, s.Centre.Y, s.Centre.Z) {
		return bad("the centre of the pair is not a finite place: %g, %g, %g", s.Centre.X, s.Centre.Y, s.Centre.Z)
	}
	for k, z := range s.HeightsM {
		if !finite(z) {
			return bad("height %d is %g m; a finite height", k+1, z)
		}
	}
	switch {
	case s.Directions < 1 || s.Directions > mostDirections:
		return bad("%d directions; 1 to %d", s.Directions, mostDirections)
	case !(s.MostM > 0) || math.IsInf(s.MostM, 0):
		return bad("looking as far as %g m; a distance above zero", s.MostM)
	case !(s.LowestM <= s.HighestM) || math.IsInf(s.LowestM, 1):
		return bad("the water lies between %g m and %g m; the lower height first", s.LowestM, s.HighestM)
	case !(s.Tolerance >= 0) || s.Tolerance > 0.1:
		return bad("tolerance %g; 0 (for 1e-4) to 0.1", s.Tolerance)
	case s.MostPoints < 0:
		return bad("%d points at most; 0 (for %d) or more", s.MostPoints, defaultPoints)
	case len(s.Sharp) > mostSharp:
		return bad("%d places to look closely at; at most %d", len(s.Sharp), mostSharp)
	}
	for k, p := range s.Sharp {
		if !finite(p.X, p.Y, p.Z) {
			return bad("place %d to look closely at is not finite: %g, %g, %g", k+1, p.X, p.Y, p.Z)
		}
	}
	return nil
}

const (
	mostDirections = 3600
	mostSharp      = 1000
	defaultPoints  = 20_000

	defaultTolerance = 1e-4

	// fieldPerDistance is the relative error of a field that makes a relative
	// error of 1 in a distance: a dipole's field falls with the third power of
	// the distance. Where it falls less, the samples show it.
	fieldPerDistance = 3
)

func finite(xs ...float64) bool {
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}
