package optics

import "math"

const (
	mostSteps  = 200
	settledPx2 = 1e-20 // square of the length in pixels of a step that counts as none
	// What a squared residual may be of rounding alone.
	roundingPx2 = 1e-22
)

// weigh sums the squared residuals of a pose, JᵀJ and Jᵀ·residual; false where
// it does not see every mark.
func (b *bundle) weigh(f *candidate, g *[6]float64) bool {
	f.ss, f.n, *g = 0, normal{}, [6]float64{}
	for i, at := range b.at {
		moved := turned(&f.r, at)
		pixel, d, err := b.lens.project(add(moved, f.t))
		if err != nil {
			return false
		}
		for k := range 2 {
			e := b.pixel[i][k] - pixel[k]
			f.ss += e * e
			w := cross(moved, d[k])
			j := [6]float64{w[0], w[1], w[2], d[k][0], d[k][1], d[k][2]}
			for r := range 6 {
				g[r] += j[r] * e
				for c := range r + 1 {
					f.n[r][c] += j[r] * j[c]
				}
			}
		}
	}
	for r := range 6 {
		for c := range r {
			f.n[c][r] = f.n[r][c]
		}
	}
	return isFinite(f.ss)
}

// refine goes from a pose to the nearest minimum (Levenberg–Marquardt, each
// unknown damped by its own size: J. SIAM 11:431–441, 1963). False where the
// start does not see every mark, or there is no minimum near.
func (b *bundle) refine(start candidate) (candidate, bool) {
	here := start
	var g [6]float64
	if !b.weigh(&here, &g) {
		return here, false
	}
	damping := 1e-3
	for range mostSteps {
		f, ok := here.n.factored(damping, 0)
		if !ok {
			return here, false
		}
		step := f.solve(&g)
		var length2 float64 // gᵀN⁻¹g: what the step moves the marks by, in pixels
		for i := range 6 {
			length2 += step[i] * g[i]
		}
		if !isFinite(length2) {
			return here, false
		}
		next := candidate{t: add(here.t, vec{step[3], step[4], step[5]})}
		turn := rotation(vec{step[0], step[1], step[2]})
		next.r = product(&turn, &here.r)
		next.r = squared(&next.r)
		var nextG [6]float64
		if b.weigh(&next, &nextG) && next.ss <= here.ss*(1+1e-13)+roundingPx2*float64(len(b.at)) {
			here, g = next, nextG
			damping = math.Max(damping/10, 1e-15)
			if length2 <= settledPx2*float64(len(b.at)) && damping <= 1e-6 {
				return here, true
			}
			continue
		}
		damping *= 10
		if damping > 1e14 {
			return here, here.settled(&g)
		}
	}
	return here, true // a flat valley: what the marks tell is judged by the covariance
}

// settled reports whether no step, damped or not, would move the marks by
// anything that matters.
func (f *candidate) settled(g *[6]float64) bool {
	k, ok := f.n.factored(1e-12, 0)
	if !ok {
		return false
	}
	var length2 float64
	for i, step := range k.solve(g) {
		length2 += step * g[i]
	}
	return length2 <= 1e-12*(1+f.ss)
}
