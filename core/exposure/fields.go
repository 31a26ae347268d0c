package exposure

import (
	"fmt"

	"brinefield/core/study"
)

// UnitField is the field of one pair in one trial's water, per ampere.
// It is safe for concurrent use.
type UnitField interface {
	// At is the field in V/m per ampere at a point of the season frame, in
	// metres; a positive current leaves the pair's positive electrode into the
	// water. The point is in the water and not on an electrode.
	At(xM, yM, zM float64) (ex, ey, ez float64)
}

// TrialWater is what the field needs to know of one trial's water.
type TrialWater struct {
	WaterSPerM  float64
	BottomSPerM float64 // of the sediment; not read over an insulating bottom
	DepthM      float64 // from the bottom to the surface, with the tide
}

// Fields gives the field per ampere of every pair in every trial's water. It
// is built once for a study and safe for concurrent use.
type Fields struct {
	water    []TrialWater
	unit     func(trial, pair int) UnitField
	warnings []string // what is to be said of the fields themselves
}

// FieldsFrom makes Fields from any source of unit fields, one TrialWater a
// trial. unit is called once for each trial and pair that a computation meets,
// from several workers at once.
func FieldsFrom(s *study.Study, water []TrialWater, unit func(trial, pair int) UnitField) (*Fields, error) {
	if err := checkWater(s, water); err != nil {
		return nil, err
	}
	return &Fields{water: water, unit: unit}, nil
}

func checkWater(s *study.Study, water []TrialWater) error {
	if len(water) != len(s.Trials) {
		return fmt.Errorf("exposure: %d trials but the water of %d", len(s.Trials), len(water))
	}
	for i, w := range water {
		if !(w.WaterSPerM > 0) || !(w.DepthM > 0) || !isFinite(w.WaterSPerM) || !isFinite(w.DepthM) {
			return fmt.Errorf("exposure: trial %s: water of %g S/m and %g m deep; both must be above 0", s.Trials[i].ID, w.WaterSPerM, w.DepthM)
		}
		if s.Bottom.Kind == study.BottomSediment && (!(w.BottomSPerM >= 0) || !isFinite(w.BottomSPerM)) {
			return fmt.Errorf("exposure: trial %s: a bottom of %g S/m; it must be 0 or more", s.Trials[i].ID, w.BottomSPerM)
		}
	}
	return nil
}

// Pair is the field per ampere of a pair in a trial's water.
func (f *Fields) Pair(trial, pair int) UnitField { return f.unit(trial, pair) }

// Driven is everything that carries current in a trial: zero in a silent
// trial. It is an error in a sealed one, whose currents nobody knows.
func (f *Fields) Driven(s *study.Study, trial int) (*Drive, error) {
	t := &s.Trials[trial]
	if t.Sealed {
		return nil, fmt.Errorf("exposure: trial %s is sealed", t.ID)
	}
	return f.drive(s, trial, t.ActivePairs)
}

// Phantom is a trial's current moved to one pair.
func (f *Fields) Phantom(s *study.Study, trial, pair int) (*Drive, error) {
	return f.drive(s, trial, []int{pair})
}

func (f *Fields) drive(s *study.Study, trial int, pairs []int) (*Drive, error) {
	d := &Drive{}
	if len(pairs) == 0 {
		return d, nil
	}
	current, ok := s.Trials[trial].DrivenCurrentA()
	if !ok || !isFinite(current) {
		return nil, fmt.Errorf("exposure: trial %s states no current", s.Trials[trial].ID)
	}
	if current == 0 {
		return d, nil
	}
	for _, pair := range pairs {
		d.parts = append(d.parts, drivenPart{f.unit(trial, pair), current})
		ends := electrodesOf(&s.Pairs[pair])
		d.ends = append(d.ends, ends[0], ends[1])
	}
	return d, nil
}
