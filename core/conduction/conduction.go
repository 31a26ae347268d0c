// Package conduction turns electrodes in layered, conducting ground into the
// electric field of their steady currents. It knows nothing of animals, of
// salinity or of files: it takes conductivities, heights and currents.
//
// What to call first: describe the medium ([Medium]) and the electrodes
// ([Electrode], or [Pair] for two of them), call [Solve] once, then ask the
// [Solution] for the field at points ([Solution.FieldAt], [Solution.Fields],
// [Solution.Potentials]). Where the same water is asked many thousand times
// (animal tracks, maps, simulated seasons), call [Solution.Fast] once and ask
// the [FastField]; where many trials share one medium, build a [Kernel] and
// combine it with each trial's electrodes ([NewFastField]). Insulating plates go
// to [SolveOnPlates], other solids to [SolveWithBodies].
//
// # What is solved
//
//	∇·(σ(z)∇φ) = −Σ_j I_j δ(x − x_j),   E = −∇φ
//
// with σ constant in each horizontal layer, φ and the normal current
// continuous across each interface, no current into air, into an insulating
// layer or through the walls of a tank. Steady (or slow) currents only: the
// skin depth must be much larger than the distances asked for.
//
// # Frame, signs and units
//
// x and y lie in the bottom, z points up, z = 0 is the bottom (the surface of
// the sediment or of the tank floor). Metres, amperes, siemens per metre,
// volts, volts per metre. A positive current leaves the electrode into the
// medium. The potential is 0 far away; in a tank that is closed above and
// below its mean over the tank is 0.
//
// A point or an electrode exactly on an interface belongs to the medium above
// it: an electrode at z = 0 stands in the water, and the normal field there is
// the water's.
//
// # Electrodes
//
// DiameterM 0 is a point. Otherwise the electrode is a thin horizontal disc
// with the flux pattern of an isolated equipotential disc; discs are
// superposed, so that they are equipotential only as far as they are far from
// each other. Exactly on the bottom it faces the water and its back passes no
// current: over an insulating bottom that is the classical disc in a plane; on
// bare sediment the back is a small insulating screen, and its effect is
// included. A disc that hangs in the water or is buried in the sediment is
// bare on both faces and gives off half its current from each.
//
// With Hemisphere set the electrode is half a ball on the bottom or on a plate's
// top; outside it is the field of a point at its centre, which is exact over an
// endless face and else near (hemisphere.go says how near).
//
// docs/physics/conduction.md has the derivation.
package conduction

import (
	"math"

	"brinefield/core/numeric"
)

// Point is a place in the field frame, in metres; z = 0 is the bottom.
type Point struct{ X, Y, Z float64 }

// Vector is an electric field in V/m.
type Vector struct{ X, Y, Z float64 }

// Norm returns the magnitude |v|.
func (v Vector) Norm() float64 { return math.Sqrt(v.X*v.X + v.Y*v.Y + v.Z*v.Z) }

// Add returns v + w.
func (v Vector) Add(w Vector) Vector { return Vector{v.X + w.X, v.Y + w.Y, v.Z + w.Z} }

// Sub returns v − w.
func (v Vector) Sub(w Vector) Vector { return Vector{v.X - w.X, v.Y - w.Y, v.Z - w.Z} }

// Scale returns f·v.
func (v Vector) Scale(f float64) Vector { return Vector{f * v.X, f * v.Y, f * v.Z} }

// Layer is one horizontal layer under the bottom. The last layer reaches down
// without end: its ThicknessM is +Inf. SPerM 0 insulates.
type Layer struct{ ThicknessM, SPerM float64 }

// Enclosure is a tank with vertical insulating walls through all layers: a
// rectangle of SizeXM by SizeYM, or a circle where DiameterM is not 0.
type Enclosure struct{ SizeXM, SizeYM, DiameterM, CentreXM, CentreYM float64 }

// Medium is the layered ground.
type Medium struct {
	WaterSPerM float64
	DepthM     float64    // water depth; +Inf = unbounded above
	Layers     []Layer    // from the bottom down; empty and not WaterBelow = the bottom insulates
	WaterBelow bool       // water on both sides of z = 0; Layers must be empty
	Enclosure  *Enclosure // nil = none
}

// Electrode is a point (DiameterM 0), a thin horizontal disc with its centre At
// or, with Hemisphere, a half ball that stands out of a face into the water,
// with the centre of its flat side At.
type Electrode struct {
	At                  Point
	CurrentA, DiameterM float64
	Hemisphere          bool
}

// Options tunes [Solve]; the zero value is good.
type Options struct {
	// RelativeTolerance is the error |δE|/|E| that [Solution.Fields] may make
	// to be quick: with 1e-8 or more, many points (≥ 4096) are taken from a table
	// whose error is measured first. 0 = 1e-9, which never uses a table.
	RelativeTolerance float64
}

// Pair is two equal electrodes (with Hemispheres, half balls). Its axis points from the negative to the
// positive electrode, AzimuthDeg anticlockwise from +x.
type Pair struct {
	Centre                             Point
	AzimuthDeg, SeparationM, DiameterM float64
	Hemispheres                        bool
}

// Electrodes returns the positive and the negative electrode of the pair when
// currentA flows; a negative current exchanges their polarity.
func (p Pair) Electrodes(currentA float64) []Electrode {
	sin, cos := numeric.SinCosDeg(p.AzimuthDeg)
	dx, dy := p.SeparationM/2*cos, p.SeparationM/2*sin
	c := p.Centre
	return []Electrode{
		{At: Point{c.X + dx, c.Y + dy, c.Z}, CurrentA: currentA, DiameterM: p.DiameterM, Hemisphere: p.Hemispheres},
		{At: Point{c.X - dx, c.Y - dy, c.Z}, CurrentA: -currentA, DiameterM: p.DiameterM, Hemisphere: p.Hemispheres},
	}
}
