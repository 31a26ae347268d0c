package rig

import (
	"math"

	"brinefield/core/numeric"
)

// Shape is the shape of an electrode.
type Shape string

// The shapes. A hemisphere exists only on a plate.
const (
	Disc       Shape = "disc"
	Hemisphere Shape = "hemisphere"
	Sphere     Shape = "sphere"
)

// Electrodes is what all electrodes have in common.
type Electrodes struct {
	Shape   Shape
	OnPlate bool // flush in, or resting on, an insulating plate without end; else in open water
	// PolarisationV is the voltage that the electrodes of a driven pair use up
	// together, against the current, whatever its size; SD its standard deviation.
	PolarisationV, PolarisationSDV float64
	OffsetV                        float64 // largest open-circuit offset of a pair
	BridgeOhm                      float64 // of one salt bridge before each electrode
}

// BridgeOhm is the resistance of a tube of electrolyte, ρL/A.
func BridgeOhm(lengthM, boreM, sPerM float64) float64 {
	return lengthM / (sPerM * math.Pi / 4 * boreM * boreM)
}

// SpreadingOhm is the resistance between an electrode and the water far away.
// With radius a and resistivity ρ, on an insulating plate: disc flush with it
// ρ/(4a) (J. Electrochem. Soc. 113, 501, 1966), hemisphere ρ/(2πa), sphere that
// touches it ρ/(4πa·ln 2) (two touching spheres have the capacity 2a·ln 2); in
// open water: disc of two faces ρ/(8a), sphere ρ/(4πa).
func (e *Electrodes) SpreadingOhm(diameterM, sPerM float64) float64 {
	unit := 1 / (sPerM * diameterM / 2)
	switch {
	case e.Shape == Disc && e.OnPlate:
		return unit / 4
	case e.Shape == Disc:
		return unit / 8
	case e.Shape == Hemisphere:
		return unit / (2 * math.Pi)
	case e.OnPlate:
		return unit / (4 * math.Pi * math.Ln2)
	}
	return unit / (4 * math.Pi)
}

// FaceM2 is the wetted area of an electrode.
func (e *Electrodes) FaceM2(diameterM float64) float64 {
	a2 := diameterM * diameterM / 4 * math.Pi
	switch {
	case e.Shape == Disc && e.OnPlate:
		return a2
	case e.Shape == Sphere:
		return 4 * a2
	}
	return 2 * a2 // a hemisphere, or both faces of a disc
}

// sharing is the factor k of the potential ρI/(kπr) of a point source.
func (e *Electrodes) sharing() float64 {
	if e.OnPlate {
		return 2
	}
	return 4
}

// Pair is two electrodes. The axis points from the negative to the positive
// one, anticlockwise from +x.
type Pair struct {
	Label       string
	XM, YM      float64
	SeparationM float64
	AzimuthDeg  float64
	DiameterM   float64
}

// at is the place of an electrode of the pair: 0 the positive, 1 the negative.
func (p *Pair) at(which int) (x, y float64) {
	sin, cos := numeric.SinCosDeg(p.AzimuthDeg)
	half := p.SeparationM / 2
	if which == 1 {
		half = -half
	}
	return p.XM + half*cos, p.YM + half*sin
}

// Apart is the smallest distance between the middles of an electrode of one
// pair and one of another.
func (p *Pair) Apart(other *Pair) float64 {
	least := math.Inf(1)
	for a := range 2 {
		for b := range 2 {
			ax, ay := p.at(a)
			bx, by := other.at(b)
			least = math.Min(least, math.Hypot(ax-bx, ay-by))
		}
	}
	return least
}

// waterOhm is the matrix of resistances of electrodes in the water: what a
// current out of the one does to the potential of the other. A salt bridge is
// added to its own electrode.
func (r *Rig) waterOhm(contacts []contact, sPerM float64) [][]float64 {
	out := make([][]float64, len(contacts))
	for i, c := range contacts {
		out[i] = make([]float64, len(contacts))
		p := &r.Pairs[c.pair]
		xi, yi := p.at(c.which)
		for j, other := range contacts {
			if i == j {
				out[i][i] = r.Electrodes.SpreadingOhm(p.DiameterM, sPerM) + r.Electrodes.BridgeOhm
				continue
			}
			xj, yj := r.Pairs[other.pair].at(other.which)
			out[i][j] = 1 / (r.Electrodes.sharing() * math.Pi * sPerM * math.Hypot(xi-xj, yi-yj))
		}
	}
	return out
}

// PairOhm is the resistance between the two electrodes of a pair that lies
// alone: twice its spreading resistance and bridge less what they share.
func (r *Rig) PairOhm(pair int) float64 {
	w := r.waterOhm([]contact{{pair: pair}, {pair: pair, which: 1}}, r.WaterSPerM)
	return w[0][0] + w[1][1] - w[0][1] - w[1][0]
}

// AxisVPerM is the field on a pair's axis, beyond the positive electrode, at a
// distance from the pair's centre, of currents out of its two electrodes as
// points: ρ/(kπ)·(I₊/(r − d/2)² + I₋/(r + d/2)²).
func (r *Rig) AxisVPerM(pair int, distanceM, positiveA, negativeA float64) float64 {
	half := r.Pairs[pair].SeparationM / 2
	near, far := distanceM-half, distanceM+half
	return math.Abs(positiveA/(near*near)+negativeA/(far*far)) / (r.Electrodes.sharing() * math.Pi * r.WaterSPerM)
}

// CurrentForField is the current of a pair that makes a field at a distance
// from its centre on its axis; not a number where the place is not beyond the
// electrode.
func (r *Rig) CurrentForField(pair int, vPerM, distanceM float64) float64 {
	p := &r.Pairs[pair]
	if distanceM <= p.SeparationM/2+p.DiameterM/2 {
		return math.NaN()
	}
	return vPerM / r.AxisVPerM(pair, distanceM, 1, -1)
}
