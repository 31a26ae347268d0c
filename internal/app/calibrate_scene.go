package app

import (
	"context"
	"fmt"
	"math"

	"brinefield/core/calibration"
)

const (
	// calibrationTolerance is the relative error asked of plates and bodies: well
	// below what tips and voltmeters leave.
	calibrationTolerance = 0.003
	// widestRatio is how far from the design the water is sought without a
	// measured conductivity.
	widestRatio = 4
	// tightRatio is up to where three conductivities suffice.
	tightRatio = 1.25
)

// probing is a calibration laid out: the designed setting with its solution,
// and the potentials per ampere at the tips of every reading.
type probing struct {
	spec   *CalibrationSpec
	scene  *scene // as designed
	solved *solved
	bottom float64 // S/m
	goes   bool    // everything that conducts goes with the water
	volts  []float64
	places []float64 // standard deviation of σ·volts by the tips' places and the field's own error, in 1/m
	says   []string  // why a reading has no potential; empty where it has
	ratio  float64   // the water is sought between the design over it and times it
	solves int
}

// layOutProbing solves the designed setting and asks it at the tips.
func (t *Stimulus) layOutProbing(ctx context.Context, spec *CalibrationSpec) (*probing, error) {
	p := &probing{spec: spec, goes: spec.Knobs.goWithWater(), ratio: 1}
	var err error
	if p.scene, err = newScene(&StimulusAsk{Knobs: spec.Knobs, Form: formReal, Tolerance: calibrationTolerance}, &knobCheck{}); err != nil {
		return nil, err
	}
	if _, p.bottom, _, err = spec.Knobs.conductivities(); err != nil {
		return nil, err
	}
	if p.solved, err = t.kept.of(ctx, p.scene); err != nil {
		return nil, err
	}
	p.solves = 1
	p.volts, p.says, err = p.scene.probe(ctx, p.solved, spec.Readings, 1)
	if err != nil {
		return nil, err
	}
	return p, p.uncertainPlaces(ctx)
}

// goWithWater reports whether everything that conducts is stated relative to
// the water, or nothing else conducts: then the shape of the field is the same
// in every water.
func (k *StimulusKnobs) goWithWater() bool {
	for i := range k.Bodies {
		if s := k.Bodies[i].SPerM; s != nil && *s > 0 {
			return false
		}
	}
	b := k.Bottom
	if b.Kind == bottomInsulating {
		return true
	}
	if b.BasementSPerM != nil && *b.BasementSPerM > 0 {
		return false
	}
	return b.ConductivitySPerM == nil || *b.ConductivitySPerM == 0
}

// probe is the potential difference of every reading, in V for one ampere, with
// heights times a factor; where there is none, why.
func (s *scene) probe(ctx context.Context, solved *solved, readings []CalibrationReading, heights float64) (volts []float64, says []string, err error) {
	volts, says = make([]float64, len(readings)), make([]string, len(readings))
	at := func(tip []float64, name string) (float64, string) {
		p := s.field([]float64{tip[0], tip[1], tip[2] * heights})
		if where := s.inside(p); where != "" {
			return math.NaN(), fmt.Sprintf("The %s tip lies %s, where there is no potential.", name, insideWords[where])
		}
		v, err := solved.PotentialAt(p)
		if err != nil || finite(v) == nil {
			return math.NaN(), fmt.Sprintf("The %s tip lies where there is no potential, in a body or an electrode.", name)
		}
		return v, ""
	}
	inParallel(len(readings), func(i int) {
		if ctx.Err() != nil {
			return
		}
		r := &readings[i]
		if volts[i], says[i] = at(r.PlusM, "plus"); says[i] == "" && r.MinusM != nil {
			var minus float64
			minus, says[i] = at(r.MinusM, "minus")
			volts[i] -= minus
		}
	})
	return volts, says, ctx.Err()
}

var insideWords = map[string]string{"plate": "in a plate", "outside": "outside the water and the bottom"}

// uncertainPlaces works out what the tips' places leave open: the field at a tip
// times its standard deviation along the field, of both tips together. The
// computed field's own error joins it, so that no more is read out of readings
// than the field is good for.
func (p *probing) uncertainPlaces(ctx context.Context) error {
	p.places = make([]float64, len(p.volts))
	water := p.scene.medium.WaterSPerM
	for i, v := range p.volts {
		if p.says[i] == "" && p.scene.solid() {
			p.places[i] = math.Abs(v) * water * p.solved.RelativeError()
		}
	}
	sd := statedOr(p.spec.Priors.PositionSDM, 0)
	if sd == 0 {
		return nil
	}
	inParallel(len(p.places), func(i int) {
		if ctx.Err() != nil || p.says[i] != "" {
			return
		}
		r, sum := &p.spec.Readings[i], 0.0
		for _, tip := range [][]float64{r.PlusM, r.MinusM} {
			if tip == nil {
				continue
			}
			e, err := p.solved.FieldAt(p.scene.field(tip))
			if err != nil || finite(e.Norm()) == nil {
				p.says[i] = "A tip lies where there is no field, so that nothing says what its uncertain place does."
				return
			}
			sum = math.Hypot(sum, e.Norm())
		}
		p.places[i] = math.Hypot(p.places[i], sd*sum*water)
	})
	return ctx.Err()
}

// used are the readings that were measured and have a potential.
func (p *probing) used() []int {
	var out []int
	for i := range p.spec.Readings {
		if p.spec.Readings[i].UV != nil && p.says[i] == "" {
			out = append(out, i)
		}
	}
	return out
}

// perMetre are σ·U/I of some readings.
func perMetre(volts []float64, water float64, of []int) []float64 {
	out := make([]float64, len(of))
	for n, i := range of {
		out[n] = volts[i] * water
	}
	return out
}

// shape is σ·U/I of the used readings for every conductivity of the water that
// is sought. Where all goes with the water the designed setting says it for all.
// Else the setting is solved at the Chebyshev points of ln σ, the designed one
// in their middle, and interpolated: see [calibration.Conductivities].
func (t *Stimulus) shape(ctx context.Context, p *probing, used []int) (*calibration.Shape, error) {
	water := p.scene.medium.WaterSPerM
	if p.goes {
		p.ratio = 1000
		return calibration.OneShape(perMetre(p.volts, water, used), water/p.ratio, water*p.ratio), nil
	}
	p.ratio = widestRatio
	if sd := p.spec.Priors.WaterSPerM; sd != nil {
		p.ratio = math.Min(widestRatio, math.Max(1.05, 1+6**sd/water))
	}
	n := p.nodes()
	values := make([][]float64, n)
	for i, tried := range calibration.Conductivities(water, p.ratio, n) {
		if i == calibration.Middle(n) {
			values[i] = perMetre(p.volts, water, used)
			continue
		}
		volts, err := t.probeIn(ctx, p, tried)
		if err != nil {
			return nil, err
		}
		values[i] = perMetre(volts, tried, used)
	}
	return calibration.Between(water, p.ratio, values), nil
}

// nodes is at how many conductivities the setting is solved: layers cost
// little, plates and bodies seconds each.
func (p *probing) nodes() int {
	switch {
	case p.ratio <= tightRatio:
		return 3
	case p.scene.solid():
		return 5
	}
	return 7
}

// probeIn asks the setting in another water.
func (t *Stimulus) probeIn(ctx context.Context, p *probing, water float64) ([]float64, error) {
	k := p.spec.Knobs
	k.Water = KnobWater{ConductivitySPerM: &water}
	volts, err := t.probeForm(ctx, p, k, formReal)
	if err != nil {
		return nil, fmt.Errorf("in water of %.4g S/m: %w", water, err)
	}
	p.solves++
	return volts, nil
}

// probeForm asks knobs in a form; it is an error where a reading that has a
// potential in the designed setting has none.
func (t *Stimulus) probeForm(ctx context.Context, p *probing, k StimulusKnobs, form string) ([]float64, error) {
	s, err := newScene(&StimulusAsk{Knobs: k, Form: form, Tolerance: calibrationTolerance}, &knobCheck{})
	if err != nil {
		return nil, err
	}
	var v *solved
	if s.solid() {
		v, err = t.kept.of(ctx, s)
	} else {
		v, err = s.solveOnce(ctx)
	}
	if err != nil {
		return nil, err
	}
	volts, says, err := s.probe(ctx, v, p.spec.Readings, 1)
	if err != nil {
		return nil, err
	}
	for i, why := range says {
		if why != "" && p.says[i] == "" {
			return nil, &KnobsError{[]KnobFault{{fmt.Sprintf("readings/%d", i), why, "a place in water in every setting"}}}
		}
	}
	return volts, nil
}

// textbookUV is a reading by the trade's formula for a pair on an insulating
// plane: ρ·I·d·cos θ over 2π·r², with r from the pair's centre and θ from its
// axis. Not a number without a pair, and in its centre.
func (s *scene) textbookUV(r *CalibrationReading) float64 {
	at := func(tip []float64) float64 {
		if tip == nil {
			return 0
		}
		distance, cos := s.polar(s.field(tip))
		if distance == 0 || s.lead.separationM == 0 {
			return math.NaN()
		}
		return s.lead.currentA * s.lead.separationM * cos / (2 * math.Pi * s.medium.WaterSPerM * distance * distance)
	}
	return 1e6 * (at(r.PlusM) - at(r.MinusM))
}

// leadCurrentA is the current of the pair or electrode of the largest share.
func (s *scene) leadCurrentA() float64 {
	if s.lead.separationM > 0 {
		return s.lead.currentA
	}
	largest := 0.0
	for i := range s.electrodes {
		if c := s.electrodes[i].CurrentA; math.Abs(c) > math.Abs(largest) {
			largest = c
		}
	}
	return largest * s.currentA
}
