package background

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Couple is two metals that touch, or are wired together, in sea water.
type Couple struct {
	VoltageV float64
	// RadiusM is each metal's bare surface as a ball.
	RadiusM    [2]float64
	ApartM     float64 // between their middles
	WaterSPerM float64
}

// BareRadius is the radius of the ball whose surface is that part of areaM2
// which is not painted.
func BareRadius(areaM2, paintedPercent float64) float64 {
	return math.Sqrt(areaM2 * (1 - paintedPercent/100) / (4 * math.Pi))
}

// Ohm is the resistance of the water between the metals: that of two balls,
//
//	R = 1/(4πσa₁) + 1/(4πσa₂) − 2/(4πσd),
//
// whose last part counts that each lies in the other's field. It is infinite
// where nothing is bare.
func (c Couple) Ohm() float64 {
	return (1/c.RadiusM[0] + 1/c.RadiusM[1] - 2/c.ApartM) / (4 * math.Pi * c.WaterSPerM)
}

// CurrentA is what flows if nothing but the water holds it back: an upper bound.
// Metals polarise, and a real couple gives a tenth to a thousandth of it.
func (c Couple) CurrentA() float64 { return c.VoltageV / c.Ohm() }

// MomentAM is current times distance. It does grow with the conductivity, so the
// field, which is moment over conductivity, does not depend on it.
func (c Couple) MomentAM() float64 { return c.CurrentA() * c.ApartM }

// Metal is one metal of the galvanic table: the range of its potential in
// flowing sea water against a saturated calomel electrode.
type Metal struct {
	Name        string
	LowV, HighV float64
	From        string
}

// Metals is the galvanic table; the caller may keep it.
func Metals() []Metal {
	const handbooks = "galvanic series of handbooks, from memory"
	return []Metal{
		{"magnesium", -1.6, -1.6, handbooks},
		{"zinc", -1.03, -1.03, handbooks},
		{"aluminium", -1.0, -0.75, handbooks},
		{"steel", -0.7, -0.6, handbooks},
		{"stainless steel, active", -0.5, -0.4, handbooks},
		{"brass", -0.4, -0.3, handbooks},
		{"copper", -0.36, -0.36, handbooks},
		{"lead", -0.25, -0.19, handbooks + " (less sure)"},
		{"stainless steel, passive", -0.1, -0.05, handbooks},
		{"titanium", 0, 0, handbooks},
		{"graphite", 0.25, 0.25, handbooks},
	}
}

// CoupleVoltage returns the largest difference between two metals, in volts.
//
// Errors: a metal that is not in the table, with those that are.
func CoupleVoltage(a, b string) (float64, error) {
	table := Metals()
	var pair [2]Metal
	for i, name := range []string{a, b} {
		at := slices.IndexFunc(table, func(m Metal) bool { return m.Name == name })
		if at < 0 {
			names := make([]string, len(table))
			for j := range table {
				names[j] = table[j].Name
			}
			return 0, fmt.Errorf("there is no metal %q in the galvanic table; it has %s", name, strings.Join(names, "; "))
		}
		pair[i] = table[at]
	}
	return math.Max(math.Abs(pair[0].HighV-pair[1].LowV), math.Abs(pair[1].HighV-pair[0].LowV)), nil
}

// Kind is gear as it is usually brought along.
type Kind struct {
	Kind, Name string
	MomentAM   float64
	From       string
	Advice     string
}

// Kinds are the ready-made sources; the caller may keep the list. Their moments
// are orders of magnitude from memory: no published measurement of such gear is
// known here. A field measured at a distance is worth more than any of them.
func Kinds() []Kind {
	const memory = "an order of magnitude from memory, no published measurement: "
	return []Kind{
		{
			"diver", "diver with cylinder and regulator", 2e-4,
			memory + "half a milliampere between the brass of valve and regulator and an aluminium or galvanised cylinder, 0.4 m",
			"Painted or bagged cylinder, no bare metal on the harness, plastic clips; stay behind the standoff.",
		},
		{
			"camera", "camera in a metal housing", 2e-5,
			memory + "0.2 mA between an aluminium housing (or its anode) and stainless steel screws, 0.1 m",
			"A plastic housing, or an anodised one without anode and with varnished screws, on a plastic stand.",
		},
		{
			"boat", "boat with propeller and anodes", 0.1,
			memory + "50 mA between anodes and propeller or hull, 2 m",
			"Moor well off, outboard tilted out of the water, anodes on a plastic boat unwired; no impressed current.",
		},
		{
			"chain", "anchor chain, galvanised, with steel shackles", 5e-3,
			memory + "5 mA between zinc and worn steel, 1 m",
			"Rope in the place of chain near the plate; a stone or concrete weight.",
		},
		{
			"weight", "lead weight with a clip", 5e-6,
			memory + "0.1 mA between lead and a brass or steel clip, 0.05 m",
			"Bagged or coated lead on cord or cable ties, without clips.",
		},
	}
}

// Leak is current that leaves a cable into the water at one place and comes back
// LengthM away, in a direction that is not known; AtM is the end next to whoever
// asks.
type Leak struct {
	CurrentA, LengthM float64
	AtM               [3]float64
	Sea               Sea
}

// pole is the field of one pole at 1 m, V/m.
func (l Leak) pole() float64 {
	k := 4.0
	if l.Sea.BottomInsulates || l.Sea.DepthM > 0 {
		k = 2
	}
	return math.Abs(l.CurrentA) / (k * math.Pi * l.Sea.WaterSPerM)
}

// dipole is the leak from afar.
func (l Leak) dipole() Dipole {
	return Dipole{MomentAM: math.Abs(l.CurrentA) * l.LengthM, AtM: l.AtM, Sea: l.Sea}
}

// FieldVPerM returns an upper bound of the leak's field at a place that is
// nearer to AtM than to the other end:
//
//	E ≤ (I/(kσ)) min(2/r², 2L/r³), k = 2π over an insulating bottom, 4π without:
//
// two poles of which neither is nearer than r make no more than twice one of
// them, and no more than their distance times twice the cube law. From r = L on
// it is the bound of a [Dipole] of the moment I·L. ok is false at the leak.
func (l Leak) FieldVPerM(at [3]float64) (v float64, ok bool) {
	r := distance(at, l.AtM)
	if r == 0 {
		return 0, false
	}
	v = 2 * l.pole() / (r * r) * math.Min(1, l.LengthM/r)
	if r >= l.LengthM {
		if far, ok := l.dipole().FieldVPerM(at); ok {
			v = math.Max(v, far) // in shallow water the surface holds it in
		}
	}
	return v, true
}

// GradientVPerM2 returns how fast that field changes at most, V/m per m:
// (I/(kσ)) min(4/r³, 6L/r⁴). ok is false at the leak.
func (l Leak) GradientVPerM2(at [3]float64) (v float64, ok bool) {
	r := distance(at, l.AtM)
	if r == 0 {
		return 0, false
	}
	v = l.pole() / (r * r * r) * math.Min(4, 6*l.LengthM/r)
	if r >= l.LengthM {
		if far, ok := l.dipole().GradientVPerM2(at); ok {
			v = math.Max(v, far)
		}
	}
	return v, true
}

// Standoff returns the distance from the nearest end from which on the field is
// below limitVPerM. free is the same without the sea surface.
func (l Leak) Standoff(limitVPerM, heightM float64) (r, free float64) {
	free = math.Sqrt(2 * l.pole() / limitVPerM)
	if free > l.LengthM {
		d := l.dipole()
		free = d.HalfSpaceStandoff(limitVPerM)
		return d.Standoff(limitVPerM, heightM), free
	}
	return free, free
}

// Measured is a field that was measured at a distance from its source, V/m and
// m. It is taken to fall with the cube of the distance, as any source does from
// a few of its lengths on.
type Measured struct {
	FieldVPerM, DistanceM float64
}

// At is the field at a distance, and how fast it changes there, V/m per m.
func (m Measured) At(r float64) (v, gradient float64) {
	ratio := m.DistanceM / r
	v = m.FieldVPerM * ratio * ratio * ratio
	return v, 3 * v / r
}

// Standoff is the distance from which on it is below limitVPerM.
func (m Measured) Standoff(limitVPerM float64) float64 {
	return m.DistanceM * math.Cbrt(m.FieldVPerM/limitVPerM)
}

// MomentAM is the dipole moment that makes this field on its axis.
func (m Measured) MomentAM(sea Sea) float64 {
	d := Dipole{MomentAM: 1, Sea: sea}
	one := d.HalfSpaceStandoff(m.FieldVPerM)
	ratio := m.DistanceM / one
	return ratio * ratio * ratio
}

func distance(a, b [3]float64) float64 {
	return math.Hypot(math.Hypot(a[0]-b[0], a[1]-b[1]), a[2]-b[2])
}
