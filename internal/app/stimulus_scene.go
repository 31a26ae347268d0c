package app

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"

	"brinefield/core/conduction"
	"brinefield/core/exposure"
	"brinefield/core/seawater"
)

// The forms of a question.
const (
	formReal     = "real"
	formEndless  = "endless_plate"
	formNoPlate  = "no_plate"
	formTextbook = "textbook"
)

// scene is knobs in one form, as the engine takes them: in the field frame,
// with a current of one ampere for the largest share. It is the one place in
// which the season frame becomes the field frame.
type scene struct {
	form       string
	medium     conduction.Medium
	plates     []conduction.Plate
	bodies     []KnobBody // in the season frame still
	electrodes []conduction.Electrode
	topM       float64 // z of the field frame is z of the season frame plus this
	currentA   float64 // the engine's fields times this are those of the knobs
	lead       leadPair
	tolerance  float64 // of plates and bodies
	warnings   []string
}

// leadPair is the driven pair of the largest share, the first of equals, in
// the field frame: distances, angles and the textbook's formula are about it.
type leadPair struct {
	centre      conduction.Point
	azimuthDeg  float64
	separationM float64 // 0: no pair is driven, only single electrodes
	currentA    float64
}

// newScene checks knobs and lays them out in a form.
func newScene(ask *StimulusAsk, c *knobCheck) (*scene, error) {
	c.oneOf("form", ask.Form, formReal, formEndless, formNoPlate, formTextbook)
	tolerance := cmp.Or(ask.Tolerance, defaultStimulusTolerance)
	c.within("tolerance", tolerance, leastStimulusTolerance, 0.5, fmt.Sprintf("a relative error between %g and 0.5", leastStimulusTolerance))
	k := ask.Knobs
	k.fill()
	k.check(c)
	if err := c.err(); err != nil {
		return nil, err
	}
	s := &scene{form: ask.Form, tolerance: tolerance}
	if err := s.layOut(&k); err != nil {
		return nil, err
	}
	return s, nil
}

const (
	defaultStimulusTolerance = 0.01
	// leastStimulusTolerance keeps a page from asking for minutes of work: no
	// mesh that a laptop holds gets below it.
	leastStimulusTolerance = 1e-4
)

// layOut turns checked knobs into what the engine takes.
func (s *scene) layOut(k *StimulusKnobs) error {
	water, bottom, warn, err := k.conductivities()
	if err != nil {
		return err
	}
	s.warnings = warn
	s.topM = k.topOverBottom(s)
	risen := 0.0
	if len(k.Plates) > 0 {
		risen = k.TopAboveBottomM - s.topM // sand puts the bottom higher
	}
	m := conduction.Medium{WaterSPerM: water, DepthM: math.Inf(1)}
	if k.DepthM != nil {
		m.DepthM = *k.DepthM - risen
		if !(m.DepthM > 0) {
			return &KnobsError{[]KnobFault{{"knobs/sand_over_plate_mm", fmt.Sprintf("found %g: the sand reaches the surface", k.SandOverPlateMM), fmt.Sprintf("less sand, or more than %g m of water", *k.DepthM)}}}
		}
	}
	if k.Bottom.Kind == bottomSediment {
		if m.Layers, err = k.layers(bottom, risen); err != nil {
			return err
		}
	}
	if e := k.Enclosure; e != nil {
		m.Enclosure = &conduction.Enclosure{CentreXM: e.CentreM[0], CentreYM: e.CentreM[1]}
		if e.DiameterM != nil {
			m.Enclosure.DiameterM = *e.DiameterM
		} else {
			m.Enclosure.SizeXM, m.Enclosure.SizeYM = e.SizeM[0], e.SizeM[1]
		}
	}
	s.medium = m
	onPlate := s.placeElectrodes(k)
	switch s.form {
	case formReal, formTextbook:
		s.bodies = k.Bodies
		if s.topM > 0 || conducts(m.Layers) {
			s.plates = k.platesAt(s.topM)
		} // else they are a part of the floor, which insulates as they do
	case formEndless:
		s.endless(bottom)
	case formNoPlate:
		// An electrode that lay on a plate becomes a point: a disc on bare
		// sediment would have an insulating back, which is the plate's part.
		for _, i := range onPlate {
			s.electrodes[i].DiameterM, s.electrodes[i].Hemisphere = 0, false
		}
	}
	return nil
}

// conducts reports whether the bottom does.
func conducts(layers []conduction.Layer) bool { return len(layers) > 0 && layers[0].SPerM > 0 }

// conductivities are those of the water and the bottom (0: it insulates), by
// the formulas that the analysis uses.
func (k *StimulusKnobs) conductivities() (water, bottom float64, warned []string, err error) {
	warn := warnings{}
	if w := k.Water; w.ConductivitySPerM != nil {
		water = *w.ConductivitySPerM
	} else if water, err = fromSalinity(*w.Salinity, *w.TemperatureC, 0, &warn); err != nil {
		return 0, 0, nil, &KnobsError{[]KnobFault{{"knobs/water", err.Error(), "values that the formula of sea water takes"}}}
	}
	b := k.Bottom
	switch {
	case b.Kind == bottomInsulating:
	case b.ConductivitySPerM != nil:
		bottom = *b.ConductivitySPerM
	default:
		if bottom, err = seawater.ArchieConductivity(water, *b.Porosity, *b.CementationExponent); err != nil {
			return 0, 0, nil, &KnobsError{[]KnobFault{{"knobs/bottom", err.Error(), "values that Archie's law takes"}}}
		}
	}
	return water, bottom, warn.list(), nil
}

// topOverBottom is the height of the season's z = 0 over the bottom: that of
// the plates' top, with the sand that lies over it.
func (k *StimulusKnobs) topOverBottom(s *scene) float64 {
	if len(k.Plates) == 0 {
		if k.SandOverPlateMM > 0 {
			s.warnings = append(s.warnings, "There is no plate, so that the sand over it is left out.")
		}
		return 0
	}
	if k.SandOverPlateMM > 0 && k.Bottom.Kind == bottomInsulating {
		s.warnings = append(s.warnings, "The bottom insulates, so that nothing says what the sand over the plate conducts: the sand is left out.")
		return k.TopAboveBottomM
	}
	return exposure.TopUnderSand(k.TopAboveBottomM, k.SandOverPlateMM/1000)
}

// layers are the sediment and what lies under it, with the bottom risen.
func (k *StimulusKnobs) layers(sediment, risen float64) ([]conduction.Layer, error) {
	if k.Bottom.ThicknessM == nil {
		return []conduction.Layer{{ThicknessM: math.Inf(1), SPerM: sediment}}, nil
	}
	thickness := *k.Bottom.ThicknessM + risen
	if !(thickness > 0) {
		return nil, &KnobsError{[]KnobFault{{"knobs/bottom/thickness_m", fmt.Sprintf("found %g: with less sand over the plate than it is buried by, nothing of the sediment is left", *k.Bottom.ThicknessM), "a thicker sediment"}}}
	}
	basement := 0.0
	if k.Bottom.BasementSPerM != nil {
		basement = *k.Bottom.BasementSPerM
	}
	return []conduction.Layer{{ThicknessM: thickness, SPerM: sediment}, {ThicknessM: math.Inf(1), SPerM: basement}}, nil
}

// placeElectrodes lays out what is driven, for a largest share of one ampere,
// and the lead pair. It returns which electrodes lie on plates. A silent pair
// gives off nothing; its electrodes are too small to be in the way.
func (s *scene) placeElectrodes(k *StimulusKnobs) (onPlate []int) {
	largest := 0.0
	for i := range k.Pairs {
		largest = math.Max(largest, math.Abs(k.Pairs[i].Share))
	}
	single := largest == 0
	for i := range k.Electrodes {
		largest = math.Max(largest, math.Abs(k.Electrodes[i].Share))
	}
	s.currentA = largest * k.CurrentUA * 1e-6
	hemisphere := k.ElectrodeShape == electrodeHemi
	add := func(e conduction.Electrode, height float64) {
		e.Hemisphere = hemisphere && e.DiameterM > 0
		if len(k.Plates) > 0 && height == 0 {
			onPlate = append(onPlate, len(s.electrodes))
		}
		s.electrodes = append(s.electrodes, e)
	}
	lead := -1
	for i := range k.Pairs {
		p := &k.Pairs[i]
		if p.Share == 0 {
			continue
		}
		if lead < 0 || math.Abs(p.Share) > math.Abs(k.Pairs[lead].Share) {
			lead = i
		}
		for _, e := range k.pairOf(i, s.topM).Electrodes(p.Share / largest) {
			add(e, p.HeightM)
		}
	}
	for i := range k.Electrodes {
		if e := &k.Electrodes[i]; e.Share != 0 {
			at := conduction.Point{X: e.AtM[0], Y: e.AtM[1], Z: e.AtM[2] + s.topM}
			add(conduction.Electrode{At: at, CurrentA: e.Share / largest, DiameterM: e.DiameterM}, e.AtM[2])
		}
	}
	if !single {
		p := k.pairOf(lead, s.topM)
		s.lead = leadPair{p.Centre, p.AzimuthDeg, p.SeparationM, k.Pairs[lead].Share * k.CurrentUA * 1e-6}
		return onPlate
	}
	for _, e := range s.electrodes { // the middle of the electrodes stands for the pair's centre
		n := float64(len(s.electrodes))
		s.lead.centre.X += e.At.X / n
		s.lead.centre.Y += e.At.Y / n
		s.lead.centre.Z += e.At.Z / n
	}
	return onPlate
}

// pairOf is one pair in the field frame.
func (k *StimulusKnobs) pairOf(i int, topM float64) conduction.Pair {
	p := &k.Pairs[i]
	return conduction.Pair{
		Centre:     conduction.Point{X: p.CentreM[0], Y: p.CentreM[1], Z: p.HeightM + topM},
		AzimuthDeg: p.AzimuthDeg, SeparationM: p.SeparationM, DiameterM: p.ElectrodeDiameterM,
	}
}

func (k *StimulusKnobs) platesAt(topM float64) []conduction.Plate {
	out := make([]conduction.Plate, len(k.Plates))
	for i := range k.Plates {
		p := &k.Plates[i]
		out[i] = conduction.Plate{ThicknessM: p.ThicknessM, CentreXM: p.CentreM[0], CentreYM: p.CentreM[1], TopM: topM, YawDeg: p.YawDeg}
		if p.Shape == plateDisc {
			out[i].DiameterM = *p.DiameterM
		} else {
			out[i].SizeXM, out[i].SizeYM = p.SizeM[0], p.SizeM[1]
		}
	}
	return out
}

// endless puts an insulating plate without edges at the season's z = 0. What
// lay over it stays: water, and sediment where the plate is buried.
func (s *scene) endless(sediment float64) {
	cover := math.Max(0, -s.topM)
	if sediment == 0 {
		cover = 0 // an insulating bottom over the plate: nothing conducts there
	}
	move := -cover - s.topM // the season's z = 0 now lies at −cover
	s.medium.DepthM -= math.Max(0, s.topM)
	s.medium.Layers = nil
	if cover > 0 {
		s.medium.Layers = []conduction.Layer{{ThicknessM: cover, SPerM: sediment}, {ThicknessM: math.Inf(1)}}
	}
	s.topM += move
	for i := range s.electrodes {
		s.electrodes[i].At.Z += move
	}
	s.lead.centre.Z += move
	for i := range s.electrodes {
		if e := &s.electrodes[i]; e.At.Z+cover < 1e-12 && e.At.Z+cover > -1e-12 {
			e.At.Z = -cover
		}
	}
}

// key names the engine's work: everything but the current and what all shares
// have in common.
func (s *scene) key() string {
	m := s.medium
	e := conduction.Enclosure{}
	if m.Enclosure != nil {
		e = *m.Enclosure
	}
	m.Enclosure = nil
	text := fmt.Sprintf("%+v|%+v|%+v", m, e, s.electrodes)
	if s.solid() {
		bodies, _ := json.Marshal(s.bodies) // numbers that were checked
		text += fmt.Sprintf("|%+v|%s|%g", s.plates, bodies, s.tolerance)
	}
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// solid reports whether there is something in the way of the current.
func (s *scene) solid() bool { return len(s.plates)+len(s.bodies) > 0 }

// field is a place of the season frame in the field frame.
func (s *scene) field(p []float64) conduction.Point {
	return conduction.Point{X: p[0], Y: p[1], Z: p[2] + s.topM}
}

// season is a place of the field frame in the season frame.
func (s *scene) season(p conduction.Point) []float64 { return []float64{p.X, p.Y, p.Z - s.topM} }

// beside is a place given from the lead pair's centre, in the field frame.
func (s *scene) beside(p StimulusPlace) conduction.Point {
	sin, cos := math.Sincos(p.AzimuthDeg * math.Pi / 180)
	c := s.lead.centre
	return conduction.Point{X: c.X + p.BesideCm/100*cos, Y: c.Y + p.BesideCm/100*sin, Z: c.Z + p.AboveCm/100}
}

// textbook is the formula of the trade for the lead pair, in V/m: ρ·I·d·|cos θ|
// over π·r³, with r from the pair's centre and θ from its axis (a pair on an
// insulating plane; the field across the line of sight is left out, as the
// trade does). Not a number without a pair, and in its centre.
func (s *scene) textbook(p conduction.Point) float64 {
	r, cos := s.polar(p)
	if s.lead.separationM == 0 || r == 0 {
		return math.NaN()
	}
	return math.Abs(s.lead.currentA) * s.lead.separationM * math.Abs(cos) / (math.Pi * s.medium.WaterSPerM * r * r * r)
}

// polar is the distance from the lead pair's centre and the cosine of the angle
// to its axis.
func (s *scene) polar(p conduction.Point) (r, cos float64) {
	d := conduction.Vector{X: p.X - s.lead.centre.X, Y: p.Y - s.lead.centre.Y, Z: p.Z - s.lead.centre.Z}
	if r = d.Norm(); r == 0 {
		return 0, 0
	}
	sa, ca := math.Sincos(s.lead.azimuthDeg * math.Pi / 180)
	return r, (d.X*ca + d.Y*sa) / r
}

// engineFault turns what the engine says of a scene into faults with places.
func engineFault(err error) error {
	place := "knobs"
	switch {
	case errors.Is(err, conduction.ErrBody):
		place = "knobs/bodies"
	case errors.Is(err, conduction.ErrPlate):
		place = "knobs/plates"
	case errors.Is(err, conduction.ErrElectrode), errors.Is(err, conduction.ErrCurrents):
		place = "knobs/pairs"
	case errors.Is(err, conduction.ErrMedium), errors.Is(err, conduction.ErrNotYet):
	default:
		return err
	}
	wrong, expected, told := strings.Cut(err.Error(), "; expected ")
	if !told {
		expected = "a setting in which everything has its place"
	}
	return &KnobsError{[]KnobFault{{place, wrong, expected}}}
}
