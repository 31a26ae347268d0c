package inference

import (
	"fmt"
	"math"
	"slices"
)

// Description holds the numbers that the trade publishes about the fields at
// which animals turned. Fields in nV/cm.
type Description struct {
	N                         int
	Median, Q1, Q3            float64 // type 7
	Smallest                  float64
	ShareBelow5, ShareBelow20 float64 // shares below, not at, 5 and 20 nV/cm
}

// Describe sums up fields in nV/cm. They are the fields of those turns that
// were seen, so neither the animals that did not turn nor the fields they met
// count: no threshold follows from them.
//
// Errors: [*NotEstimable] without values; a plain error for one that is
// negative or not finite.
func Describe(values []float64) (Description, error) {
	if len(values) == 0 {
		return Description{}, notEstimable("there are no turns to describe")
	}
	for k, v := range values {
		if !(v >= 0) || math.IsInf(v, 0) {
			return Description{}, fmt.Errorf("value %d is %g nV/cm; a finite field, not negative, is expected", k, v)
		}
	}
	sorted := slices.Sorted(slices.Values(values))
	d := Description{
		N:        len(sorted),
		Median:   Quantile7(sorted, 0.5),
		Q1:       Quantile7(sorted, 0.25),
		Q3:       Quantile7(sorted, 0.75),
		Smallest: sorted[0],
	}
	below := func(limit float64) float64 {
		n, _ := slices.BinarySearch(sorted, limit)
		return float64(n) / float64(len(sorted))
	}
	d.ShareBelow5, d.ShareBelow20 = below(5), below(20)
	return d, nil
}

// Quantile7 returns the p-quantile of values in ascending order by linear
// interpolation between order statistics, the first at p = 0 and the last at
// p = 1 (type 7).
//
// It panics for no values or a p outside 0 to 1: the calling code is wrong.
//
// Source: type 7 of Hyndman and Fan, Am. Stat. 50, 361–365, 1996 (from memory).
// Tests: e_padjust_quantile.json.
func Quantile7(sorted []float64, p float64) float64 {
	if len(sorted) == 0 || !(p >= 0 && p <= 1) {
		panic(fmt.Sprintf("inference: quantile %g of %d values", p, len(sorted)))
	}
	place := p * float64(len(sorted)-1)
	below := int(place)
	if below == len(sorted)-1 {
		return sorted[below]
	}
	// Halved so that the difference of huge values cannot overflow; between
	// equal values the result is that value.
	share := place - float64(below)
	return sorted[below] + 2*share*(sorted[below+1]/2-sorted[below]/2)
}
