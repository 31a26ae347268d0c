package rig

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"brinefield/core/numeric"
)

// standardDeviations is how many of them a value without a bound may lie off in
// a worst case.
const standardDeviations = 2

// Interval is a range, both ends included.
type Interval struct{ Low, High float64 }

// Worst is, for each position, the smallest and largest current through a pair
// with a battery between two voltages (with constant current they count for
// nothing). All resistors are in one loop with the supply, so the current
// falls with each of them, and with polarisation; it is linear in the offsets
// and rises or falls throughout with what the water conducts. So the corners
// are the ends, and no more need to be looked at: all resistors high and low,
// polarisation and conductivity 2 standard deviations off, offsets of the worst
// sign.
func (r *Rig) Worst(pair int, lowV, highV float64) ([]Interval, error) {
	out := make([]Interval, len(r.Steps))
	for i := range out {
		out[i] = Interval{math.Inf(1), math.Inf(-1)}
	}
	for _, water := range []float64{-1, 0, 1} {
		for _, toHigh := range []bool{false, true} {
			v := r.corner(toHigh, water)
			if !r.Supply.Constant {
				v.voltageV = lowV
				if toHigh {
					v.voltageV = highV
				}
			}
			if err := r.reach(out, &v, pair, toHigh); err != nil {
				return nil, err
			}
		}
	}
	return out, nil
}

// reach widens the intervals to what a corner gives.
func (r *Rig) reach(out []Interval, v *values, pair int, toHigh bool) error {
	l, err := r.loadOf(v, pair, r.Silent, r.Silent == OpenBoth)
	if err != nil {
		return err
	}
	if err := l.offsetUnits(); err != nil {
		return err
	}
	for k := range r.Steps {
		i, _ := r.supplied(l, v, k)
		most := 0.0
		for _, share := range r.offsetShares(l, v, k) {
			most += math.Abs(share[l.driven.contact[0]]-share[l.driven.contact[1]]) / 2 * r.Electrodes.OffsetV / 2
		}
		here := l.through(i)
		if here == 0 {
			most = 0
		}
		out[k].Low = math.Min(out[k].Low, math.Max(here-most, 0))
		out[k].High = math.Max(out[k].High, here)
		if toHigh {
			out[k].High = math.Max(out[k].High, here+most)
		}
	}
	return nil
}

// corner is the rig with everything off so that the current is high, or low.
func (r *Rig) corner(toHigh bool, water float64) values {
	v := r.nominal()
	sign := 1.0 // of resistances and polarisation
	if toHigh {
		sign = -1
	}
	v.sPerM += water * standardDeviations * r.WaterSPerMSD
	v.polarisationV = math.Max(0, v.polarisationV+sign*standardDeviations*r.Electrodes.PolarisationSDV)
	v.constant = 1 - sign*r.Supply.ConstantBy
	v.scale(func(by float64) float64 { return 1 + sign*by }, r)
	return v
}

// scale multiplies every resistor by a factor that is asked for with its
// tolerance.
func (v *values) scale(factor func(by float64) float64, r *Rig) {
	for i := range v.limiting {
		v.limiting[i] *= factor(r.LimitingBy)
	}
	for i, step := range v.steps {
		v.steps[i] = make([]float64, len(step))
		for j, ohm := range step {
			v.steps[i][j] = ohm * factor(r.StepsBy)
		}
	}
}

// drawBounds keep a drawn conductivity above this share of the stated one.
const leastWaterShare = 0.05

// Drawn is, for each position, the interval that holds the middle 95 % of n
// drawn currents through a pair: resistors and settings anywhere within their
// tolerance with equal chances, offsets likewise, water and polarisation
// normal. The same seed gives the same numbers.
func (r *Rig) Drawn(pair, n int, seed uint64) ([]Interval, error) {
	chance := numeric.Stream(seed, fmt.Sprintf("rig/draws/%d", pair))
	all := make([][]float64, len(r.Steps))
	for range n {
		v := r.draw(chance)
		l, err := r.loadOf(&v, pair, r.Silent, r.Silent == OpenBoth)
		if err != nil {
			return nil, err
		}
		for k := range r.Steps {
			i, _ := r.supplied(l, &v, k)
			all[k] = append(all[k], l.through(i))
		}
	}
	out := make([]Interval, len(all))
	for k, currents := range all {
		slices.Sort(currents)
		out[k] = Interval{quantile(currents, 0.025), quantile(currents, 0.975)}
	}
	return out, nil
}

func (r *Rig) draw(chance *rand.Rand) values {
	v := r.nominal()
	even := func(by float64) float64 { return by * (2*chance.Float64() - 1) }
	v.scale(func(by float64) float64 { return 1 + even(by) }, r)
	v.sPerM = math.Max(v.sPerM+r.WaterSPerMSD*chance.NormFloat64(), leastWaterShare*v.sPerM)
	v.polarisationV = math.Max(0, v.polarisationV+r.Electrodes.PolarisationSDV*chance.NormFloat64())
	v.constant = 1 + even(r.Supply.ConstantBy)
	v.emfV = make([][2]float64, len(r.Pairs))
	for i := range v.emfV {
		v.emfV[i] = [2]float64{even(r.Electrodes.OffsetV / 2), even(r.Electrodes.OffsetV / 2)}
	}
	return v
}

// quantile is that of sorted values, between two of them in proportion (type
// 7).
func quantile(sorted []float64, p float64) float64 {
	h := p * float64(len(sorted)-1)
	i := int(h)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}
