package app

import (
	"context"
	"fmt"
	"math"
	"time"

	"brinefield/core/conduction"
)

// Stimulus answers what the page Stimulus asks: pure calculations on knobs,
// with the last solutions kept. It is safe for concurrent use.
type Stimulus struct {
	clock func() time.Time
	kept  solutions
}

// NewStimulus makes one that has solved nothing yet. The clock says how long
// an answer took; nil: answers say 0.
func NewStimulus(clock func() time.Time) *Stimulus {
	if clock == nil {
		clock = func() time.Time { return time.Time{} }
	}
	return &Stimulus{clock: clock}
}

// view is a scene that can be asked: through a solution, or by the textbook's
// formula.
type view struct {
	*scene
	solved *solved // nil: the textbook
	err    float64 // the error of what was asked, |δE|/|E|
	ask    asker
}

// look solves a scene, to be asked at many places of a region, or, with nil, at
// few places anywhere.
func (t *Stimulus) look(ctx context.Context, s *scene, r *conduction.Region) (*view, error) {
	solved, err := t.solution(ctx, s)
	if err != nil {
		return nil, err
	}
	return s.viewOf(solved, r)
}

// solution is that of the scene, kept for the next question; nil for the
// textbook.
func (t *Stimulus) solution(ctx context.Context, s *scene) (*solved, error) {
	if s.form != formTextbook {
		return t.kept.of(ctx, s)
	}
	if s.lead.separationM == 0 {
		return nil, &KnobsError{[]KnobFault{{"form", "the textbook's formula is for a pair, and only single electrodes are driven", "another form"}}}
	}
	return nil, nil
}

// viewOf is a scene with its solution, for a region or, with nil, for few
// places.
func (s *scene) viewOf(solved *solved, r *conduction.Region) (*view, error) {
	v := &view{scene: s, solved: solved}
	if solved == nil {
		return v, nil
	}
	if r == nil {
		v.ask, v.err = solved.FieldAt, solved.RelativeError()
		return v, nil
	}
	var err error
	v.ask, v.err, err = solved.fieldIn(*r)
	return v, err
}

// magnitudes sets dst to |E| in V/m; not a number where there is no field.
func (v *view) magnitudes(ctx context.Context, dst []float64, points []conduction.Point) error {
	if v.solved == nil {
		for i, p := range points {
			dst[i] = math.NaN()
			if v.inside(p) == "" {
				dst[i] = v.textbook(p)
			}
		}
		return ctx.Err()
	}
	fields := make([]conduction.Vector, len(points))
	if err := v.fields(ctx, v.ask, fields, points); err != nil {
		return err
	}
	for i, e := range fields {
		dst[i] = e.Norm()
	}
	return nil
}

// vectors is a field as package reach takes it. The textbook has no direction:
// its field stands along x, so that its length is right.
func (v *view) vectors(ctx context.Context) func([]conduction.Vector, []conduction.Point) error {
	return func(dst []conduction.Vector, points []conduction.Point) error {
		if v.solved != nil {
			return v.fields(ctx, v.ask, dst, points)
		}
		size := make([]float64, len(points))
		err := v.magnitudes(ctx, size, points)
		for i, e := range size {
			dst[i] = conduction.Vector{X: e}
		}
		return err
	}
}

// quality says how an answer was worked out.
func (v *view) quality(began time.Time, now time.Time) StimulusQuality {
	q := StimulusQuality{Form: v.form, Method: "the textbook's formula", Reached: true, Warnings: []string{}, TookS: now.Sub(began).Seconds()}
	q.Warnings = append(q.Warnings, v.warnings...)
	if v.solved == nil {
		return q
	}
	q.RelativeError, q.Method, q.Reached = finite(v.err), v.solved.Method(), v.solved.reached
	if !q.Reached {
		q.Warnings = append(q.Warnings, fmt.Sprintf("the relative error asked for, %g, was not reached: the finest mesh leaves an estimated %.2g", v.tolerance, v.solved.RelativeError()))
	}
	return q
}

// inside says what a place of the field frame lies in where there is no field:
// "plate", "electrode", "outside" (above the surface, in an insulator, beyond a
// wall), or "".
func (s *scene) inside(p conduction.Point) string {
	m := s.medium
	floor := 0.0
	for _, l := range m.Layers {
		if l.SPerM == 0 {
			break
		}
		floor -= l.ThicknessM
	}
	if p.Z < floor || p.Z > m.DepthM {
		return "outside"
	}
	if e := m.Enclosure; e != nil {
		dx, dy := p.X-e.CentreXM, p.Y-e.CentreYM
		if e.DiameterM > 0 && math.Hypot(dx, dy) > e.DiameterM/2 || e.DiameterM == 0 && (math.Abs(dx) > e.SizeXM/2 || math.Abs(dy) > e.SizeYM/2) {
			return "outside"
		}
	}
	for i := range s.plates {
		if inPlate(&s.plates[i], p) {
			return "plate"
		}
	}
	return ""
}

// inPlate reports whether a place lies in a plate, its faces left out.
func inPlate(pl *conduction.Plate, p conduction.Point) bool {
	const face = 1e-9
	if p.Z >= pl.TopM-face || p.Z <= pl.TopM-pl.ThicknessM+face {
		return false
	}
	dx, dy := p.X-pl.CentreXM, p.Y-pl.CentreYM
	if pl.DiameterM > 0 {
		return math.Hypot(dx, dy) < pl.DiameterM/2
	}
	sin, cos := math.Sincos(pl.YawDeg * math.Pi / 180)
	return math.Abs(dx*cos+dy*sin) < pl.SizeXM/2 && math.Abs(dy*cos-dx*sin) < pl.SizeYM/2
}
