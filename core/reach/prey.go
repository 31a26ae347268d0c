package reach

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Prey is what one published source says of the electric field that an animal makes by
// being alive. What a source does not give is 0 or empty here: no figure is worked out from another.
type Prey struct {
	Name string
	// DipoleMomentAM is current times distance, A·m, of the steady field.
	DipoleMomentAM float64
	// FieldVPerM at a distance AtM straight in front of the animal, in water of
	// WaterSPerM.
	FieldVPerM, AtM, WaterSPerM float64
	// VoltageV is the lowest and the highest potential at the body's surface, within
	// about a centimetre, against far away. It tells neither moment nor field
	// without the size of the source.
	VoltageV [2]float64
	// ModulationHz is the lowest and the highest frequency of the part that
	// changes as the animal breathes; both alike where one is given.
	ModulationHz []float64
	// Source is the journal, volume, pages, year and DOI.
	Source string
	// Seen: the figures were read in a text of or on this source; else they come from memory.
	// How says which.
	Seen bool
	How  string
	Note string
}

// Cited is the source, and how its figures are known.
func (p Prey) Cited() string {
	if p.Seen {
		return p.Source + " [as seen: " + p.How + "]"
	}
	return p.Source + " [" + p.How + "]"
}

// Preys are the sources that are known here; the caller may keep the list.
func Preys() []Prey {
	const survey = "Physiological and Biochemical Zoology 86:298–311 (2013), doi:10.1086/669973"
	const surveyHow = "the source as seen, its figures from memory"
	const atSurface = "Potential at the body's surface, highest at mouth and gills; found without relation to mass or length. No dipole moment is given."
	const stealth = "Proceedings of the Royal Society B 282:20151886 (2015), doi:10.1098/rspb.2015.1886 (DOI from memory)"
	const stealthHow = "press reports on it"
	uV := func(low, high float64) [2]float64 { return [2]float64{low / 1e6, high / 1e6} }
	return []Prey{
		{
			Name: "flounder", DipoleMomentAM: 3e-7, FieldVPerM: 2e-5, AtM: 0.10, WaterSPerM: 1 / 0.23,
			Source: "Oceanus 20:45–52 (1977)", Seen: true, How: "a physics textbook's companion page on it",
			// 3e-7 A·m at 10 cm in 0.23 Ω·m makes 2.196e-5 V/m on the axis of a dipole that lies on an
			// insulating bottom, which is the 2e-5 of the source, rounded; without a bottom it makes
			// half of that, 1.098e-5, and the source cannot mean that.
			Note: "Field and moment agree for a dipole that lies on an insulating bottom (220 nV/cm, given as 200); in open water the same moment makes half of it.",
		},
		{Name: "bony fishes", VoltageV: uV(39, 319), Source: survey, How: surveyHow, Note: atSurface},
		{Name: "sharks and rays", VoltageV: uV(18, 30), Source: survey, How: surveyHow, Note: atSurface},
		{Name: "invertebrates", VoltageV: uV(14, 28), Source: survey, How: surveyHow, Note: atSurface},
		{Name: "penaeid shrimps", ModulationHz: []float64{10.3, 10.3}, Source: survey, How: surveyHow, Note: "Frequency of breathing, the highest found; all animals were below 16 Hz."},
		{Name: "mojarras (Gerreidae)", ModulationHz: []float64{4.6, 4.6}, Source: survey, How: surveyHow, Note: "Frequency of breathing, the highest of the bony fishes."},
		{Name: "cuttlefish at rest (Sepia officinalis)", VoltageV: uV(10, 30), Source: stealth, Seen: true, How: stealthHow, Note: "Potential at the animal; about four times as much while it jets."},
		{Name: "cuttlefish, frozen (Sepia officinalis)", VoltageV: uV(6, 6), Source: stealth, Seen: true, How: stealthHow, Note: "Potential at the animal while it freezes before a predator; arms over the siphons cut the field by up to 89 %."},
		{
			Name: "round stingray (Urobatis halleri)", ModulationHz: []float64{1, 2},
			Source: "Neuroscience Letters 202:129–132 (1995)", How: "the abstract as seen; journal and frequencies from memory",
			Note: "Field of mates, modulated as spiracles and gill slits move; the frequencies are those to which the animals' receptors answer best.",
		},
	}
}

// FindPrey is the prey of a name, in any case of letters. Error: [ErrSearch] lists the names.
func FindPrey(name string) (Prey, error) {
	all := Preys()
	wanted := strings.ToLower(strings.TrimSpace(name))
	for _, p := range all {
		if strings.ToLower(p.Name) == wanted {
			return p, nil
		}
	}
	names := make([]string, len(all))
	for k, p := range all {
		names[k] = p.Name
	}
	slices.Sort(names)
	return Prey{}, fmt.Errorf("%w: no prey %q; known are %s", ErrSearch, name, strings.Join(names, ", "))
}

// DipoleField is |E| in V/m of a short dipole that lies level in the plane
// between two half-spaces, at a distance r in that plane and an angle from
// its axis (0: straight in front, 90: abeam):
//
//	|E| = p/(2π(σw + σb)r³)·√(1 + 3cos²θ)
//
// belowSPerM is what lies under the plane: 0 an insulating bottom, where in front it is
// p/(πσr³), the form that the trade uses; the water's own conductivity for a
// dipole in open water, half of that; or the sediment's. The distance must be long beside the
// dipole. Source: the charge and its image (any text on electrostatics). Errors:
// [ErrSearch] names what is out of range.
func DipoleField(momentAM, waterSPerM, belowSPerM, atM, angleDeg float64) (float64, error) {
	per, err := dipolePer(waterSPerM, belowSPerM, atM, angleDeg)
	if err != nil {
		return 0, err
	}
	return sizeOf("a dipole moment", "A·m", momentAM, math.Abs(momentAM)*per)
}

// DipoleMoment is the moment in A·m whose [DipoleField] at a place is that given.
func DipoleMoment(fieldVPerM, waterSPerM, belowSPerM, atM, angleDeg float64) (float64, error) {
	per, err := dipolePer(waterSPerM, belowSPerM, atM, angleDeg)
	if err != nil {
		return 0, err
	}
	return sizeOf("a field", "V/m", fieldVPerM, math.Abs(fieldVPerM)/per)
}

// sizeOf refuses what is not a number, or comes to none.
func sizeOf(what, unit string, of, size float64) (float64, error) {
	if !finite(of, size) {
		return 0, fmt.Errorf("%w: %s of %g %s; expected a number that leaves a finite result", ErrSearch, what, of, unit)
	}
	return size, nil
}

// dipolePer is |E| for 1 A·m.
func dipolePer(waterSPerM, belowSPerM, atM, angleDeg float64) (float64, error) {
	switch {
	case !finite(waterSPerM) || waterSPerM <= 0:
		return 0, fmt.Errorf("%w: water of %g S/m; expected a finite number above 0", ErrSearch, waterSPerM)
	case !finite(belowSPerM) || belowSPerM < 0:
		return 0, fmt.Errorf("%w: %g S/m below the dipole; expected a finite number of at least 0", ErrSearch, belowSPerM)
	case !finite(atM) || atM <= 0:
		return 0, fmt.Errorf("%w: a distance of %g m; expected a finite number above 0", ErrSearch, atM)
	case !finite(angleDeg):
		return 0, fmt.Errorf("%w: an angle of %g degrees; expected a finite number", ErrSearch, angleDeg)
	}
	c := math.Cos(angleDeg * math.Pi / 180)
	per := math.Sqrt(1+3*c*c) / (2 * math.Pi * (waterSPerM + belowSPerM)) / atM / atM / atM
	if !finite(per) || per == 0 {
		return 0, fmt.Errorf("%w: a distance of %g m; the field there is too large or too small a number", ErrSearch, atM)
	}
	return per, nil
}
