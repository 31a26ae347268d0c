package conduction

import (
	"fmt"
	"math"

	"brinefield/core/numeric"
)

// bodyGap is the distance that bodies must keep from plates, electrodes, walls and each
// other, in metres: a millimetre.
const bodyGap = 1e-3

func (b *Body) validate() error {
	if !finite(b.Centre.X, b.Centre.Y, b.Centre.Z, b.SizeM[0], b.SizeM[1], b.SizeM[2], b.YawDeg, b.PitchDeg) {
		return ErrNotFinite
	}
	switch {
	case b.Shape < BodyBox || b.Shape > BodySpheroid:
		return fmt.Errorf("shape %d; expected a box, a cylinder or a spheroid", b.Shape)
	case math.IsNaN(b.SPerM) || b.SPerM < 0:
		return fmt.Errorf("conductivity %g S/m; expected at least 0 (0 insulates, +Inf conducts perfectly)", b.SPerM)
	case b.Shape != BodyBox && b.SizeM[1] != b.SizeM[2]:
		return fmt.Errorf("a %s of %g m by %g m across; expected both equal: it is round about its length", b.Shape, b.SizeM[1], b.SizeM[2])
	}
	for _, v := range b.SizeM {
		if v <= 0 {
			return fmt.Errorf("size %g m by %g m by %g m; expected all above 0", b.SizeM[0], b.SizeM[1], b.SizeM[2])
		}
	}
	least, most := math.Min(b.SizeM[0], math.Min(b.SizeM[1], b.SizeM[2])), math.Max(b.SizeM[0], math.Max(b.SizeM[1], b.SizeM[2]))
	if most > flattest*least {
		return fmt.Errorf("size %g m by %g m by %g m; expected no length above %g times another (a thin insulating board is a plate)", b.SizeM[0], b.SizeM[1], b.SizeM[2], flattest)
	}
	return nil
}

// flattest is the largest ratio of a body's lengths.
const flattest = 50.0

// checkBodies says what is wrong with the bodies, or nil.
func checkBodies(m Medium, st *stack, plates []Plate, bodies []solid, electrodes []Electrode) error {
	for i := range bodies {
		b := &bodies[i]
		lo, hi := b.heights()
		if hi >= m.DepthM-bodyGap {
			return fmt.Errorf("%w %d: its top at %.6g m reaches the surface at %g m; expected it under water", ErrBody, i+1, hi, m.DepthM)
		}
		if math.Abs(b.Centre.Z) > 1e6 || b.most() > 1e5 {
			return fmt.Errorf("%w %d: height %g m, largest half-length %g m; expected no more than a thousand kilometres", ErrBody, i+1, b.Centre.Z, b.most())
		}
		if e := m.Enclosure; e != nil && !b.fits(e) {
			return fmt.Errorf("%w %d does not fit between the walls of the tank; expected a gap of %g m at least", ErrBody, i+1, bodyGap)
		}
		if crossed := st.crossedBy(lo, hi); b.SPerM > 0 && !math.IsInf(b.SPerM, 1) && crossed > 1 {
			return fmt.Errorf("%w %d: it lies in %d layers, from %g m to %g m; expected a body of finite conductivity in two at most", ErrBody, i+1, crossed+1, lo, hi)
		}
		for j := range bodies[:i] {
			if c := &bodies[j]; gapBetween(b, c) < bodyGap {
				return fmt.Errorf("%w %d and %d overlap or touch; expected a gap of %g m at least", ErrBody, j+1, i+1, bodyGap)
			}
		}
		for j := range plates {
			if board := plates[j].solid(); gapBetween(b, &board) < bodyGap {
				return fmt.Errorf("%w %d overlaps or touches plate %d; expected a gap of %g m at least", ErrBody, i+1, j+1, bodyGap)
			}
		}
		for j, e := range electrodes {
			if gap := b.gapTo(e); gap < bodyGap {
				return fmt.Errorf("%w %d at (%g, %g, %g) m lies in or on body %d; expected a gap of %g m at least", ErrElectrode, j+1, e.At.X, e.At.Y, e.At.Z, i+1, bodyGap)
			}
		}
	}
	return nil
}

// crossedBy counts the interfaces between two heights.
func (st *stack) crossedBy(lo, hi float64) (n int) {
	for i := range len(st.slabs) - 1 {
		if z := st.slabs[i].bottomM; lo < z-onFace && hi > z+onFace {
			n++
		}
	}
	return n
}

// fits reports whether the body lies between the walls.
func (s *solid) fits(e *Enclosure) bool {
	dx, dy := s.Centre.X-e.CentreXM, s.Centre.Y-e.CentreYM
	if e.DiameterM == 0 {
		return math.Abs(dx)+s.reach(Vector{X: 1}) <= e.SizeXM/2-bodyGap && math.Abs(dy)+s.reach(Vector{Y: 1}) <= e.SizeYM/2-bodyGap
	}
	for n := range 720 { // the tangents of a polygon within a millionth of the circle
		sin, cos := numeric.SinCosDeg(float64(n) / 2)
		if dx*cos+dy*sin+s.reach(Vector{X: cos, Y: sin}) > e.DiameterM/2-bodyGap {
			return false
		}
	}
	return true
}

// solid is the plate as a body, for distances.
func (pl *Plate) solid() solid {
	b := Body{Centre: Point{pl.CentreXM, pl.CentreYM, pl.TopM - pl.ThicknessM/2}, SizeM: [3]float64{pl.SizeXM, pl.SizeYM, pl.ThicknessM}, YawDeg: pl.YawDeg}
	if pl.DiameterM > 0 {
		b.Shape, b.PitchDeg, b.SizeM = BodyCylinder, 90, [3]float64{pl.ThicknessM, pl.DiameterM, pl.DiameterM}
	}
	return newSolid(b)
}

// gapBetween is the distance of two convex solids: from each to the other's nearest
// place in turns, which comes down to it.
func gapBetween(a, b *solid) float64 {
	p := Vector(b.Centre)
	last := math.Inf(1)
	for range 4000 {
		q := a.nearest(p)
		p = b.nearest(q)
		gap := p.Sub(q).Norm()
		if gap < 1e-3*bodyGap || last-gap < 1e-9*gap {
			return gap
		}
		last = gap
	}
	return last
}

// gapTo is the distance to an electrode.
func (s *solid) gapTo(e Electrode) float64 {
	if e.discM() == 0 {
		return Vector(e.At).Sub(s.nearest(Vector(e.At))).Norm() - e.ballM()
	}
	d := (&Plate{DiameterM: e.DiameterM, CentreXM: e.At.X, CentreYM: e.At.Y, TopM: e.At.Z}).solid()
	return gapBetween(s, &d)
}
