package app

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
)

// KnobsError carries every fault of a question about a stimulus, each with its
// place: "knobs/water/salinity".
type KnobsError struct {
	Faults []KnobFault
}

// KnobFault is one fault.
type KnobFault struct {
	Place, Wrong, Expected string
}

func (e *KnobsError) Error() string {
	lines := make([]string, len(e.Faults))
	for i, f := range e.Faults {
		lines[i] = f.Place + ": " + f.Wrong + "; " + f.Expected
	}
	return strings.Join(lines, "\n")
}

// knobCheck gathers faults.
type knobCheck struct {
	faults []KnobFault
}

func (c *knobCheck) fault(place, wrong, expected string) {
	c.faults = append(c.faults, KnobFault{place, wrong, expected})
}

func (c *knobCheck) err() error {
	if len(c.faults) == 0 {
		return nil
	}
	return &KnobsError{c.faults}
}

// within is a number between two limits, both allowed; NaN never is.
func (c *knobCheck) within(place string, v, low, high float64, expected string) {
	if !(v >= low && v <= high) {
		c.fault(place, fmt.Sprintf("found %g", v), expected)
	}
}

func (c *knobCheck) above0(place string, v, high float64, expected string) {
	if !(v > 0 && v <= high) {
		c.fault(place, fmt.Sprintf("found %g", v), expected)
	}
}

// vector is n coordinates.
func (c *knobCheck) vector(place string, v []float64, n int, expected string) {
	if len(v) != n {
		c.fault(place, fmt.Sprintf("found %d numbers", len(v)), expected)
		return
	}
	for i, x := range v {
		c.within(fmt.Sprintf("%s/%d", place, i), x, -farthestM, farthestM, fmt.Sprintf("a place within %d m of the origin", farthestM))
	}
}

func (c *knobCheck) oneOf(place, found string, allowed ...string) {
	if !slices.Contains(allowed, found) {
		quoted := make([]string, len(allowed))
		for i, a := range allowed {
			quoted[i] = fmt.Sprintf("%q", a)
		}
		c.fault(place, fmt.Sprintf("found %q", found), "one of "+strings.Join(quoted, ", "))
	}
}

// What a knob may be at most. They keep slips of the keyboard and endless
// calculations out, not experiments.
const (
	farthestM      = 1000
	deepestM       = 12000
	largestPlateM  = 50
	mostPlates     = 8
	mostPairs      = 64
	mostElectrodes = 64
	mostBodies     = 8
	mostCurrentUA  = 1e7
)

// The words of knobs.
const (
	bottomInsulating = "insulating"
	bottomSediment   = "sediment"
	electrodeDisc    = "disc"
	electrodeHemi    = "hemisphere"
	bodyBox          = "box"
	bodyCylinder     = "cylinder"
	bodySpheroid     = "spheroid"
	waveDirect       = "direct"
	waveSine         = "sine"
	waveSquare       = "square"
	wavePulses       = "pulses"
)

// fill puts in what a file of knobs may leave out.
func (k *StimulusKnobs) fill() {
	if k.ElectrodeShape == "" {
		k.ElectrodeShape = electrodeDisc
	}
	if k.Waveform.Kind == "" {
		k.Waveform.Kind = waveDirect
	}
	if e := k.Enclosure; e != nil && len(e.CentreM) == 0 {
		filled := *e
		filled.CentreM = []float64{0, 0}
		k.Enclosure = &filled
	}
	k.Plates = slices.Clone(k.Plates)
	for i := range k.Plates {
		if len(k.Plates[i].CentreM) == 0 {
			k.Plates[i].CentreM = []float64{0, 0}
		}
	}
}

// check says everything that is wrong with the knobs taken one by one; what
// takes the whole scene to see (overlaps, walls, what lies on what) the engine
// says.
func (k *StimulusKnobs) check(c *knobCheck) {
	k.checkWater(c)
	k.checkBottom(c)
	k.checkEnclosure(c)
	k.checkPlates(c)
	k.checkElectrodes(c)
	k.checkBodies(c)
	k.checkWaveform(c)
	c.within("knobs/current_uA", k.CurrentUA, -mostCurrentUA, mostCurrentUA, fmt.Sprintf("a current between -%g and %g µA", mostCurrentUA, mostCurrentUA))
}

func (k *StimulusKnobs) checkWater(c *knobCheck) {
	w := k.Water
	if w.ConductivitySPerM != nil {
		c.above0("knobs/water/conductivity_S_per_m", *w.ConductivitySPerM, 100, "a conductivity above 0 and up to 100 S/m, or null to take it from temperature and salinity")
	}
	// T and S that only stand beside a conductivity are checked all the same.
	if w.TemperatureC != nil {
		c.within("knobs/water/temperature_C", *w.TemperatureC, -5, 50, "a temperature between -5 and 50 °C")
	}
	if w.Salinity != nil {
		c.within("knobs/water/salinity", *w.Salinity, 0, 60, "a salinity between 0 and 60 (the formula holds to 42)")
	}
	if w.ConductivitySPerM == nil {
		if w.TemperatureC == nil {
			c.fault("knobs/water/temperature_C", "missing", "a temperature in °C with a salinity, or a conductivity")
		}
		if w.Salinity == nil {
			c.fault("knobs/water/salinity", "missing", "a salinity with a temperature, or a conductivity")
		}
	}
	if k.DepthM != nil {
		c.above0("knobs/depth_m", *k.DepthM, deepestM, fmt.Sprintf("a depth above 0 and up to %d m, or null for unbounded water", deepestM))
	}
	c.within("knobs/top_above_bottom_m", k.TopAboveBottomM, -farthestM, deepestM, "a height in metres, below 0 where the plate is buried")
	c.within("knobs/sand_over_plate_mm", k.SandOverPlateMM, 0, 1000, "between 0 and 1000 mm of sand")
}

func (k *StimulusKnobs) checkBottom(c *knobCheck) {
	b := k.Bottom
	c.oneOf("knobs/bottom/kind", b.Kind, bottomInsulating, bottomSediment)
	if b.Kind != bottomSediment {
		return
	}
	switch {
	case b.ConductivitySPerM != nil:
		c.within("knobs/bottom/conductivity_S_per_m", *b.ConductivitySPerM, 0, 100, "a conductivity between 0 and 100 S/m")
	case b.Porosity == nil:
		c.fault("knobs/bottom/conductivity_S_per_m", "missing", "a conductivity, or a porosity with a cementation_exponent")
	default:
		if !(*b.Porosity > 0 && *b.Porosity <= 1) {
			c.fault("knobs/bottom/porosity", fmt.Sprintf("found %g", *b.Porosity), "a porosity above 0 and up to 1")
		}
		if b.CementationExponent == nil {
			c.fault("knobs/bottom/cementation_exponent", "missing", "an exponent beside the porosity; clean sand has about 1.5")
		} else {
			c.within("knobs/bottom/cementation_exponent", *b.CementationExponent, 1, 5, "an exponent between 1 and 5")
		}
	}
	if b.ThicknessM != nil {
		c.above0("knobs/bottom/thickness_m", *b.ThicknessM, deepestM, "a thickness above 0 m, or null where the sediment has no end")
	}
	if b.BasementSPerM != nil {
		c.within("knobs/bottom/basement_S_per_m", *b.BasementSPerM, 0, 100, "a conductivity between 0 and 100 S/m")
		if b.ThicknessM == nil {
			c.fault("knobs/bottom/thickness_m", "missing", "the thickness of the sediment over the basement")
		}
	}
}

func (k *StimulusKnobs) checkEnclosure(c *knobCheck) {
	e := k.Enclosure
	if e == nil {
		return
	}
	switch {
	case e.DiameterM != nil && len(e.SizeM) > 0:
		c.fault("knobs/enclosure", "both size_m and diameter_m", "one of them")
	case e.DiameterM != nil:
		c.above0("knobs/enclosure/diameter_m", *e.DiameterM, farthestM, "a diameter above 0 m")
	default:
		c.sizes("knobs/enclosure/size_m", e.SizeM, 2, farthestM)
	}
	c.vector("knobs/enclosure/centre_m", e.CentreM, 2, "[x, y] in metres")
}

func (c *knobCheck) sizes(place string, v []float64, n int, most float64) {
	if len(v) != n {
		c.fault(place, fmt.Sprintf("found %d numbers", len(v)), fmt.Sprintf("%d lengths in metres", n))
		return
	}
	for i, x := range v {
		c.above0(fmt.Sprintf("%s/%d", place, i), x, most, fmt.Sprintf("a length above 0 and up to %g m", most))
	}
}

func (k *StimulusKnobs) checkPlates(c *knobCheck) {
	if len(k.Plates) > mostPlates {
		c.fault("knobs/plates", fmt.Sprintf("found %d", len(k.Plates)), fmt.Sprintf("up to %d plates", mostPlates))
	}
	for i := range k.Plates {
		p, place := &k.Plates[i], fmt.Sprintf("knobs/plates/%d", i)
		c.oneOf(place+"/shape", p.Shape, plateRectangle, plateDisc)
		switch p.Shape {
		case plateRectangle:
			c.sizes(place+"/size_m", p.SizeM, 2, largestPlateM)
		case plateDisc:
			if p.DiameterM == nil {
				c.fault(place+"/diameter_m", "missing", "the diameter of the disc in metres")
			} else {
				c.above0(place+"/diameter_m", *p.DiameterM, largestPlateM, fmt.Sprintf("a diameter above 0 and up to %d m", largestPlateM))
			}
		}
		c.within(place+"/thickness_m", p.ThicknessM, 0, largestPlateM, "a thickness of 0 (a thin sheet) or more, in metres")
		c.vector(place+"/centre_m", p.CentreM, 2, "[x, y] in metres")
		c.within(place+"/yaw_deg", p.YawDeg, -3600, 3600, "an angle in degrees")
	}
}

func (k *StimulusKnobs) checkElectrodes(c *knobCheck) {
	c.oneOf("knobs/electrode_shape", k.ElectrodeShape, electrodeDisc, electrodeHemi)
	if len(k.Pairs) > mostPairs {
		c.fault("knobs/pairs", fmt.Sprintf("found %d", len(k.Pairs)), fmt.Sprintf("up to %d pairs", mostPairs))
	}
	if len(k.Electrodes) > mostElectrodes {
		c.fault("knobs/electrodes", fmt.Sprintf("found %d", len(k.Electrodes)), fmt.Sprintf("up to %d electrodes", mostElectrodes))
	}
	driven := false
	for i := range k.Pairs {
		p, place := &k.Pairs[i], fmt.Sprintf("knobs/pairs/%d", i)
		driven = driven || p.Share != 0
		c.vector(place+"/centre_m", p.CentreM, 2, "[x, y] in metres")
		c.within(place+"/azimuth_deg", p.AzimuthDeg, -3600, 3600, "an angle in degrees")
		c.above0(place+"/separation_m", p.SeparationM, 100, "a distance above 0 and up to 100 m between the electrodes' middles")
		c.within(place+"/electrode_diameter_m", p.ElectrodeDiameterM, 0, 10, "a diameter of 0 (a point) or more, in metres")
		if p.SeparationM > 0 && p.ElectrodeDiameterM >= p.SeparationM {
			c.fault(place+"/electrode_diameter_m", fmt.Sprintf("found %g", p.ElectrodeDiameterM), fmt.Sprintf("less than the separation of %g m: the electrodes touch", p.SeparationM))
		}
		c.within(place+"/height_m", p.HeightM, -farthestM, deepestM, "a height above the plate's top, or the bottom, in metres")
		c.within(place+"/share", p.Share, -100, 100, "a share between -100 and 100")
	}
	for i := range k.Electrodes {
		e, place := &k.Electrodes[i], fmt.Sprintf("knobs/electrodes/%d", i)
		driven = driven || e.Share != 0
		c.vector(place+"/at_m", e.AtM, 3, "[x, y, z] in metres")
		c.within(place+"/diameter_m", e.DiameterM, 0, 10, "a diameter of 0 (a point) or more, in metres")
		c.within(place+"/share", e.Share, -100, 100, "a share between -100 and 100")
	}
	if !driven {
		c.fault("knobs/pairs", "nothing is driven", "at least one pair or electrode with a share other than 0")
	}
}

func (k *StimulusKnobs) checkBodies(c *knobCheck) {
	if len(k.Bodies) > mostBodies {
		c.fault("knobs/bodies", fmt.Sprintf("found %d", len(k.Bodies)), fmt.Sprintf("up to %d bodies", mostBodies))
	}
	for i := range k.Bodies {
		b, place := &k.Bodies[i], fmt.Sprintf("knobs/bodies/%d", i)
		c.oneOf(place+"/shape", b.Shape, bodyBox, bodyCylinder, bodySpheroid)
		c.vector(place+"/centre_m", b.CentreM, 3, "[x, y, z] in metres")
		c.sizes(place+"/size_m", b.SizeM, 3, 100)
		if len(b.SizeM) == 3 && b.Shape != bodyBox && b.SizeM[1] != b.SizeM[2] {
			c.fault(place+"/size_m", fmt.Sprintf("found the diameters %g and %g m", b.SizeM[1], b.SizeM[2]), "[length, diameter, diameter] with both diameters alike")
		}
		c.within(place+"/yaw_deg", b.YawDeg, -3600, 3600, "an angle in degrees")
		c.within(place+"/pitch_deg", b.PitchDeg, -3600, 3600, "an angle in degrees")
		if b.SPerM != nil {
			c.within(place+"/S_per_m", *b.SPerM, 0, 1e8, "a conductivity of 0 (insulating) or more, or null for a perfect conductor")
		}
	}
}

func (k *StimulusKnobs) checkWaveform(c *knobCheck) {
	w := k.Waveform
	c.oneOf("knobs/waveform/kind", w.Kind, waveDirect, waveSine, waveSquare, wavePulses)
	if w.Kind == waveDirect {
		return
	}
	if w.FrequencyHz == nil {
		c.fault("knobs/waveform/frequency_Hz", "missing", "a frequency above 0 Hz, or the kind \"direct\"")
	} else {
		c.above0("knobs/waveform/frequency_Hz", *w.FrequencyHz, 1e6, "a frequency above 0 and up to 1 000 000 Hz")
	}
	if w.Kind == waveSquare && w.Duty != nil && !(*w.Duty > 0 && *w.Duty < 1) {
		c.fault("knobs/waveform/duty", fmt.Sprintf("found %g", *w.Duty), "a share between 0 and 1, or null for one half")
	}
	if w.Kind == wavePulses {
		if w.Duty == nil {
			c.fault("knobs/waveform/duty", "missing", "the share of the time that a pulse lasts, between 0 and 1")
		} else if !(*w.Duty > 0 && *w.Duty < 1) {
			c.fault("knobs/waveform/duty", fmt.Sprintf("found %g", *w.Duty), "a share between 0 and 1")
		}
	}
}

// UnmarshalJSON tells an absent S_per_m, which insulates, from null, which
// conducts perfectly.
func (b *KnobBody) UnmarshalJSON(data []byte) error {
	type plain KnobBody
	insulating := 0.0
	read := plain{SPerM: &insulating}
	decoder := json.NewDecoder(strings.NewReader(string(data)))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&read); err != nil {
		return err
	}
	*b = KnobBody(read)
	return nil
}

// conductivity is the conductivity that the engine is told of a body.
func (b *KnobBody) conductivity() float64 {
	if b.SPerM == nil {
		return math.Inf(1)
	}
	return *b.SPerM
}
