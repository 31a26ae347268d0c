package conduction

import (
	"fmt"
	"math"
)

// RelativeError is the solution's own estimate of the largest |δE|/|E|, from
// probes all round the electrodes: what changes when the images are carried
// twice as far (or the sums of a tank are taken otherwise), and the
// rounding of terms that cancel. Far from a short pair the latter rules: the
// fields of its two electrodes cancel to a share of about separation/distance.
//
// It does not cover points at which the field itself vanishes. Where
// Options.RelativeTolerance is above 1e-8, so that [Solution.Fields] may use a
// table, the estimate is at least that tolerance.
func (s *Solution) RelativeError() float64 {
	s.errOnce.Do(func() {
		s.relError = s.probe()
		if s.tolerance >= 1e-8 {
			s.relError = math.Max(s.relError, s.tolerance)
		}
	})
	return s.relError
}

// RelativeErrorAt is the estimate at the points asked for, which says more
// than [Solution.RelativeError] where they lie far off. Errors as
// [Solution.FieldAt].
func (s *Solution) RelativeErrorAt(points []Point) (float64, error) {
	worst := 0.0
	for k, p := range points {
		slab, err := s.checkPoint(p)
		if err != nil {
			return 0, fmt.Errorf("point %d: %w", k, err)
		}
		worst = math.Max(worst, s.errorAt(slab, p))
	}
	if s.tolerance >= 1e-8 {
		worst = math.Max(worst, s.tolerance)
	}
	return worst, nil
}

// probe visits points round the electrodes at distances from 1 to 100 times
// their spread, as far as the medium goes.
func (s *Solution) probe() float64 {
	var centre Point
	n := float64(len(s.electrodes))
	for _, e := range s.electrodes {
		centre.X += e.At.X / n
		centre.Y += e.At.Y / n
		centre.Z += e.At.Z / n
	}
	spread := 0.005
	for _, e := range s.electrodes {
		d := math.Hypot(math.Hypot(e.At.X-centre.X, e.At.Y-centre.Y), e.At.Z-centre.Z)
		spread = math.Max(spread, d+e.DiameterM)
	}
	worst := 0.0
	for _, times := range []float64{2, 5, 10, 20, 50, 100} {
		for n, dir := range probeDirections {
			r := times * spread * (1 + 0.01*float64(n))
			p := Point{centre.X + r*dir[0], centre.Y + r*dir[1], centre.Z + r*dir[2]}
			if slab, err := s.checkPoint(p); err == nil {
				worst = math.Max(worst, s.errorAt(slab, p))
			}
		}
	}
	return worst
}

var probeDirections = [][3]float64{
	{0.8, 0.1, 0.59},
	{-0.3, 0.7, 0.65},
	{0.1, -0.2, 0.97},
	{0.9, 0.42, 0.11},
	{-0.5, -0.86, 0.05},
	{0.6, 0.3, -0.74},
	{-0.2, 0.1, -0.97},
	{-0.7, -0.71, -0.08},
}

// errorAt estimates |δE|/|E| at a valid point.
func (s *Solution) errorAt(slab int, p Point) float64 {
	var total, other Vector
	var unsure float64
	if s.tank != nil {
		_, total = s.tank.eval(slab, p)
		_, other = s.tank.other().eval(slab, p)
		unsure = s.tank.unsure(p)
	} else {
		for j, el := range s.electrodes {
			dx, dy := p.X-el.At.X, p.Y-el.At.Y
			rho2, sr := dx*dx+dy*dy, s.sources[j]
			f := el.CurrentA / (4 * math.Pi * s.stack.slabs[sr.slab].sigma)
			u, v := sr.unitAt(slab, rho2, p.Z), sr.unitOtherwise(slab, rho2, p.Z)
			total = total.Add(Vector{u.rho * dx, u.rho * dy, u.z}.Scale(f))
			other = other.Add(Vector{v.rho * dx, v.rho * dy, v.z}.Scale(f))
			unsure += rounding * math.Abs(f) * math.Hypot(u.rho*math.Sqrt(rho2), u.z)
		}
	}
	size := total.Norm()
	if size == 0 {
		return 0
	}
	return (other.Add(total.Scale(-1)).Norm() + unsure) / size
}

// rounding is a few units in the last place of each term of a sum.
const rounding = 1e-15

// unitOtherwise is [source.unitAt] by another expansion, or by quadrature.
func (sr *source) unitOtherwise(i int, rho2, z float64) unit {
	u := unit{}
	if im, ok := sr.direct(i, z); ok {
		u = sr.imageUnit(u, []image{im}, rho2, z)
	}
	var v unit
	e, far := sr.expansionAt(i, rho2, z)
	switch {
	case math.IsInf(sr.base, 1):
		v = e.at(sr, rho2, z)
	case far:
		fewer := sr.level(i, 0)
		if fewer == e {
			fewer = sr.level(i, 1)
		}
		v = sr.hankelWith(fewer, i, math.Sqrt(rho2), z)
	default:
		if wider := sr.wider(i, e); wider != nil {
			v = wider.at(sr, rho2, z)
		} else {
			v = sr.hankel(i, math.Sqrt(rho2), z)
		}
	}
	return unit{u.pot + v.pot, u.rho + v.rho, u.z + v.z}
}

// wider is the next expansion after e, or nil.
func (sr *source) wider(i int, e *expansion) *expansion {
	for m := range maxLevels - 1 {
		if sr.level(i, m) == e {
			return sr.level(i, m+1)
		}
	}
	return nil
}
