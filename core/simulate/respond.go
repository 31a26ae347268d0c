package simulate

import (
	"math"
	"math/rand/v2"
)

// nVPerCm in one V/m.
const nVPerCm = 1e7

// threshold draws what a pass of an animal needs to be answered, in nV/cm.
func threshold(rng *rand.Rand, sp *SpeciesTruth, animalMedian float64) float64 {
	return animalMedian * math.Exp(sp.SDWithin*rng.NormFloat64())
}

// electrodePlace is a driven electrode, for choosing steps.
type electrodePlace struct{ x, y, z float64 }

// stepShare: a path is followed in steps of this share of the distance to the
// nearest driven electrode, so that a field between two steps exceeds both by
// less than ½·12·(0.04/2)² = 0.24 %.
const stepShare = 0.04

// firstReached is when the field along a path first reaches a level, in
// seconds, looking no further than until; false where it stays below.
func firstReached(field func(place) float64, driven []electrodePlace, p *swimPath, level, until float64) (t float64, reached bool) {
	if len(driven) == 0 {
		return 0, false
	}
	at := p.at(0)
	if field(at) >= level {
		return 0, true
	}
	for t < until {
		d := math.Inf(1)
		for _, e := range driven {
			d = math.Min(d, math.Sqrt((at.x-e.x)*(at.x-e.x)+(at.y-e.y)*(at.y-e.y)+(at.z-e.z)*(at.z-e.z)))
		}
		next := math.Min(t+stepShare*d/p.speed, until)
		at = p.at(next)
		if field(at) >= level {
			return bisect(field, p, level, t, next), true
		}
		t = next
	}
	return 0, false
}

// bisect places the moment at which the field reaches the level, to a
// microsecond.
func bisect(field func(place) float64, p *swimPath, level, below, above float64) float64 {
	for above-below > 1e-6 {
		mid := (below + above) / 2
		if field(p.at(mid)) >= level {
			above = mid
		} else {
			below = mid
		}
	}
	return above
}

// exponential draws a waiting time at a rate; +Inf at rate 0.
func exponential(rng *rand.Rand, perS float64) float64 {
	if perS <= 0 {
		return math.Inf(1)
	}
	return rng.ExpFloat64() / perS
}
