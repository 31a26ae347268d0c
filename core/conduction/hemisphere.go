package conduction

import (
	"fmt"
	"math"
)

// A hemisphere stands out of a face into the water, its flat side on it. Outside
// it the field is that of a point at its centre. That is
//
//   - exact over an endless insulating face in endless water: the field
//     I/(2πσr²) is radial, so that every half ball round the point is
//     equipotential;
//   - exact where two half-spaces meet, for a ball sunk to its middle: with
//     I/(2π(σw + σs)r²) on both sides the field is radial too. A half ball that
//     only lies upon the sediment gives off its current from places up to a
//     radius higher;
//   - elsewhere an approximation: the field that another electrode, the water's
//     surface or a plate's edge at a distance h sends back lets the ball's
//     surface deviate from one voltage. Beside the ball about (a/h)² of its field is left
//     out, at a distance r about (a/h)²·(a/r); of a pair's field, far off,
//     2(a/d)³ with d their separation, as with discs.
//
// Points within its radius are refused, under the face too, where nothing is said
// of its flat side.

// discM is the radius of the source that stands for the electrode: 0 for
// points and for hemispheres.
func (e *Electrode) discM() float64 {
	if e.Hemisphere {
		return 0
	}
	return e.DiameterM / 2
}

// ballM is the radius of a hemisphere, 0 for all others.
func (e *Electrode) ballM() float64 {
	if e.Hemisphere {
		return e.DiameterM / 2
	}
	return 0
}

// checkHemispheres says which hemisphere does not stand on a face with its ball
// free in the water, or nil. The electrodes are valid and located.
func checkHemispheres(m Medium, plates []Plate, electrodes []Electrode) error {
	for i := range electrodes {
		e := &electrodes[i]
		if !e.Hemisphere {
			continue
		}
		wrong := func(format string, args ...any) error {
			return fmt.Errorf("%w %d, a hemisphere at (%g, %g, %g) m, %s", ErrElectrode, i+1, e.At.X, e.At.Y, e.At.Z, fmt.Sprintf(format, args...))
		}
		on := -1
		for k := range plates {
			if math.Abs(e.At.Z-plates[k].TopM) <= onFace && plates[k].room(e.At.X, e.At.Y) > 0 {
				on = k
			}
		}
		switch bottom := !m.WaterBelow && math.Abs(e.At.Z) <= onFace; {
		case e.At.Z < -onFace && !m.WaterBelow:
			return wrong("is buried; it stands out of the bottom (height 0) or of a plate's top into the water. A disc or a point may be buried")
		case on < 0 && !bottom && m.WaterBelow:
			return wrong("hangs free: the water has no bottom; it stands on a plate's top. A disc or a point may hang")
		case on < 0 && !bottom:
			return wrong("hangs free; it stands on the bottom (height 0) or on a plate's top. A disc or a point may hang")
		case e.At.Z+e.ballM() >= m.DepthM:
			return wrong("with a radius of %g m reaches the water's surface at %g m", e.ballM(), m.DepthM)
		}
		for k := range plates {
			if k != on && plates[k].gap(e.At) <= e.ballM()+apart {
				return wrong("with a radius of %g m touches plate %d", e.ballM(), k+1)
			}
		}
	}
	return nil
}

// gap is the distance from a place to the plate, 0 inside it.
func (pl *Plate) gap(p Point) float64 {
	u, v := pl.local(p.X, p.Y)
	over := math.Max(math.Max(p.Z-pl.TopM, pl.TopM-pl.ThicknessM-p.Z), 0)
	if pl.DiameterM > 0 {
		return math.Hypot(math.Max(math.Hypot(u, v)-pl.DiameterM/2, 0), over)
	}
	u, v = math.Max(math.Abs(u)-pl.SizeXM/2, 0), math.Max(math.Abs(v)-pl.SizeYM/2, 0)
	return math.Hypot(math.Hypot(u, v), over)
}

// overlap reports whether two electrodes share a place: discs and points only
// at one height, a ball with all that comes within its radius.
func overlap(e, f Electrode) bool {
	if f.Hemisphere && !e.Hemisphere {
		e, f = f, e
	}
	rho, dz := math.Hypot(e.At.X-f.At.X, e.At.Y-f.At.Y), math.Abs(e.At.Z-f.At.Z)
	if !e.Hemisphere {
		return dz < touchM && rho < math.Max(touchM, (e.DiameterM+f.DiameterM)/2)
	}
	beyond := math.Max(rho-f.discM(), 0) // from the ball's axis to the disc
	return math.Hypot(beyond, dz) < e.ballM()+f.ballM()+touchM
}

// inElectrode holds for points on a disc, which has no thickness, or within a
// nanometre of it or of a point electrode, and within a hemisphere's radius.
func inElectrode(p Point, e Electrode) bool {
	dx, dy, dz := p.X-e.At.X, p.Y-e.At.Y, p.Z-e.At.Z
	reach := e.DiameterM/2 + touchM
	if e.Hemisphere {
		return dx*dx+dy*dy+dz*dz <= reach*reach
	}
	return math.Abs(dz) < touchM && dx*dx+dy*dy <= reach*reach
}
