package exposure

import (
	"math"

	"brinefield/core/study"
)

// oldPlace is every position that a distance, an angle and a height leave
// open: old data say how far from the pair's centre the head was and at which
// angle to its axis, not on which side.
type oldPlace struct {
	pair           *study.Pair
	distance       float64
	angle          study.Opt[float64]
	zLow, zHigh    float64 // range of heights to look at
	inside         func(vec) bool
	heightAdjusted float64 // by how much a stated height did not fit, in m
}

// angleSamples covers 0–180° where no angle was recorded.
const angleSamples = 36

// oldHeights covers the range of heights of a position without a track.
const oldHeights = 16

func newOldPlace(s *study.Study, pairIndex int, surface float64, fix *study.OldFix) (*oldPlace, error) {
	pair := &s.Pairs[pairIndex]
	o := &oldPlace{pair: pair, distance: fix.DistanceM.Value, angle: fix.AngleDeg}
	if !isFinite(o.distance) || o.distance <= 0 {
		return nil, faultf("its distance of %g m is not above 0", o.distance)
	}
	if o.angle.Known && !(o.angle.Value >= 0 && o.angle.Value <= 180) {
		return nil, faultf("its angle of %g° is not between 0° and 180°", o.angle.Value)
	}
	switch a := &s.Analysis; {
	case fix.HeightM.Known:
		o.zLow, o.zHigh = fix.HeightM.Value, fix.HeightM.Value
	case a.HeightLowM.Known && a.HeightHighM.Known:
		o.zLow, o.zHigh = a.HeightLowM.Value, a.HeightHighM.Value
	default:
		o.zLow, o.zHigh = 0, surface
	}
	o.inside = func(p vec) bool { return outsideWhy(s, p, surface) == "" }
	if fix.HeightM.Known && o.angle.Known {
		_, off := o.clampHeight(fix.HeightM.Value, o.angle.Value)
		o.heightAdjusted = off
	}
	return o, nil
}

// clampHeight brings a height into the range that the distance and the angle
// allow, and says how far off it was.
func (o *oldPlace) clampHeight(z, angle float64) (fitted, off float64) {
	reach := o.distance * sinDeg(angle)
	dz := z - o.pair.HeightM
	fitted = math.Min(math.Max(dz, -reach), reach)
	return fitted + o.pair.HeightM, math.Abs(dz - fitted)
}

// at is the position at an angle, a height, and on one side of the axis.
func (o *oldPlace) at(angle, z, side float64) vec {
	along := o.distance * cosDeg(angle)
	across := o.distance * sinDeg(angle)
	z, _ = o.clampHeight(z, angle)
	dz := z - o.pair.HeightM
	sideways := side * math.Sqrt(math.Max(across*across-dz*dz, 0))
	a := axis(o.pair)
	return vec{
		o.pair.CentreXM + along*a.x - sideways*a.y,
		o.pair.CentreYM + along*a.y + sideways*a.x,
		z,
	}
}

// extreme is the smallest (sign 1) or largest (sign −1) field over every
// position left open: both sides of the axis, the range of heights, and the
// angle where it was not recorded. false where every such position is outside
// the water.
func (o *oldPlace) extreme(d *Drive, sign float64) (value float64, ok bool) {
	if d.none() {
		return 0, true
	}
	best, anyInside := math.Inf(1), false
	for _, side := range [...]float64{1, -1} {
		f := func(angle, z float64) float64 {
			p := o.at(angle, z, side)
			if !o.inside(p) {
				return math.Inf(1) // never the extreme
			}
			anyInside = true
			return sign * d.bounded(p)
		}
		overZ := func(angle float64) float64 {
			if o.zLow == o.zHigh {
				return f(angle, o.zLow)
			}
			_, v := overHeights(func(u float64) float64 { return f(angle, o.zLow+u*(o.zHigh-o.zLow)) }, oldHeights)
			return v
		}
		var v float64
		if o.angle.Known {
			v = overZ(o.angle.Value)
		} else {
			_, v = overHeights(func(u float64) float64 { return overZ(180 * u) }, angleSamples)
		}
		best = math.Min(best, v)
	}
	return sign * best, anyInside
}

// oldInterval applies the rules for a pass without a track.
func (o *oldPlace) interval(d *Drive, q outcome, exact bool) (answer, error) {
	sign := 1.0 // no turn: at least the smallest field possible there was met
	if q != stayed {
		sign = -1
	}
	v, ok := o.extreme(d, sign)
	if !ok {
		return answer{}, faultf("every position at its distance and angle is outside the water")
	}
	if math.IsInf(v, 0) {
		return answer{}, faultf("a position at its distance and angle is on a driven electrode, where the field has no bound")
	}
	switch {
	case q == stayed:
		return answer{low: v}, nil
	case exact:
		return answer{low: v, high: v}, nil
	}
	return answer{high: v}, nil
}

// warnings says what was assumed about the position.
func (o *oldPlace) warnings(fix *study.OldFix) []string {
	var out []string
	if !fix.AngleDeg.Known {
		out = append(out, "No angle was recorded: every angle was taken as possible.")
	}
	if !fix.HeightM.Known {
		out = append(out, "No height was recorded: every height that the distance and the stated range allow was taken as possible.")
	}
	if o.heightAdjusted > 0.0005 {
		out = append(out, "The recorded height is more than the distance and the angle allow; the nearest height that fits was taken.")
	}
	return out
}
