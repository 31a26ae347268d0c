package optics

import "math"

// LooseBend is where [Posed.Bend] begins to matter: from about here on stated
// deviations may be a fifth too small (by simulation: docs/physics/optics.md).
const LooseBend = 0.5

// bend says how far the pose is from what its covariance stands for: two standard
// deviations away χ² should have risen by 4; the largest relative departure from
// that, over the columns of the covariance's root and both ways. 0 for exact
// clicks.
func (b *bundle) bend(f *candidate, inverse *factor, clickSDPx float64) float64 {
	if clickSDPx == 0 {
		return 0
	}
	root, worst := lowerRoot(inverse.inverse()), 0.0
	for k := range 6 {
		for _, s := range [2]float64{-2 * clickSDPx, 2 * clickSDPx} {
			turn := rotation(vec{s * root[0][k], s * root[1][k], s * root[2][k]})
			next := candidate{r: product(&turn, &f.r), t: add(f.t, vec{s * root[3][k], s * root[4][k], s * root[5][k]})}
			var g [6]float64
			if !b.weigh(&next, &g) {
				return 1 // a mark would be out of sight
			}
			worst = math.Max(worst, math.Abs((next.ss-f.ss)/(s*s)-1))
		}
	}
	return worst
}

// lowerRoot is the lower triangle whose product with its transpose is a
// covariance; 0 where rounding leaves nothing.
func lowerRoot(c [6][6]float64) (l [6][6]float64) {
	for i := range 6 {
		for j := range i + 1 {
			v := c[i][j]
			for m := range j {
				v -= l[i][m] * l[j][m]
			}
			switch {
			case i == j:
				l[i][i] = math.Sqrt(math.Max(v, 0))
			case l[j][j] > 0:
				l[i][j] = v / l[j][j]
			}
		}
	}
	return l
}
