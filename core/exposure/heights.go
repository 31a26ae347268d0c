package exposure

import "math"

const (
	// heightTol, over the number of samples, is how well the height fraction is
	// placed. There are four samples or more to each distance from the nearest
	// electrode, so the field changes by less than 1e-4 over it.
	heightTol      = 1e-4
	fewestHeights  = 4
	mostHeights    = 64
	heightsPerStep = 4 // samples in a change of height equal to the distance
	probe          = 1e-3
)

// overHeights finds the smallest value of f over u in [0, 1], both ends
// included, to about 1e-4 of the value. f may have kinks and several minima:
// it is sampled at n+1 even places, and every sample that is lower than its
// neighbours, and could still be the lowest, is looked at closely.
func overHeights(f func(u float64) float64, n int) (at, smallest float64) {
	value := make([]float64, n+1)
	at, smallest = 0, math.Inf(1)
	keep := func(u, v float64) {
		if v < smallest {
			at, smallest = u, v
		}
	}
	for k := range value {
		u := float64(k) / float64(n)
		value[k] = f(u)
		keep(u, value[k])
	}
	if math.IsInf(smallest, 0) {
		return at, smallest
	}
	margin := smallest + 0.3*math.Abs(smallest)
	for k := range value {
		left, right := math.Max(float64(k-1), 0)/float64(n), math.Min(float64(k+1), float64(n))/float64(n)
		if value[k] > margin || k > 0 && value[k-1] < value[k] || k < n && value[k+1] < value[k] {
			continue
		}
		x := float64(k) / float64(n)
		fx, fa, fb := value[k], math.NaN(), math.NaN()
		switch inward := right - left; {
		case k > 0 && k < n:
			fa, fb = -value[k-1], -value[k+1]
		case k == 0:
			if f(x+probe*inward) >= value[k] {
				continue // rising from the end: nothing lower beside it
			}
			x = left + golden*inward
			fx = f(x)
		default:
			if f(x-probe*inward) >= value[k] {
				continue
			}
			x = right - golden*inward
			fx = f(x)
		}
		u, v := brentMax(func(u float64) float64 { return -f(u) }, left, right, x, -fx, fa, fb, heightTol/float64(n))
		keep(u, -v)
	}
	return at, smallest
}
