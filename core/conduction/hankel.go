package conduction

import "math"

// hankel evaluates the echoes of a source in slab i by quadrature of
//
//	∫ [rise·e^{−k(z−bottom)} + fall·e^{−k(top−z)}] J0(kρ) dk
//
// and its gradient, after the nearest images have been taken out. It is the way
// where the distance is so many times the thinnest layer that images would not
// end, and an independent check of the expansions elsewhere. Up to the first
// turns of J the panels are geometric; beyond, stretches of half a turn are
// summed and extrapolated.
func (sr *source) hankel(i int, rho, z float64) unit {
	return sr.hankelWith(sr.modest(i), i, rho, z)
}

// hankelWith takes out the images of e.
func (sr *source) hankelWith(e *expansion, i int, rho, z float64) unit {
	u := sr.imageUnit(unit{}, e.images, rho*rho, z)
	v := sr.hankelRemainder(i, e, rho, z)
	return unit{u.pot + v.pot, u.rho + v.rho, u.z + v.z}
}

// modest is the largest expansion with few images.
func (sr *source) modest(i int) *expansion {
	best := sr.level(i, 0)
	for m := 1; m < maxLevels; m++ {
		e := sr.level(i, m)
		if e == nil || len(e.images) > 48 {
			break
		}
		best = e
	}
	return best
}

func (sr *source) hankelRemainder(i int, e *expansion, rho, z float64) unit {
	st := sr.stack
	s := st.slabs[i]
	m := newMirrors(len(st.slabs))
	// p, q: sum and difference of the rising and falling waves at height z.
	wave := func(k float64) (p, q float64) {
		rise, fall := sr.remainder(m, i, e, k)
		if rise != 0 {
			rise *= math.Exp(-k * (z - s.bottomM))
		}
		if fall != 0 {
			fall *= math.Exp(-k * (s.topM - z))
		}
		return rise + fall, rise - fall
	}
	add := func(u *unit, k, w float64) {
		p, q := wave(k)
		j0, j1OverX := math.J0(k*rho), besselRatio(k*rho)
		u.pot += w * p * j0
		u.rho += w * p * k * k * j1OverX
		u.z += w * q * k * j0
	}
	kEnd := e.decayed(z)
	turn := math.Inf(1)
	if rho > 0 {
		turn = math.Pi / rho
	}
	first := math.Min(kEnd, 2*turn)
	var u unit
	ks, ws := panels(0.05*math.Min(first, st.smallestScale()), first)
	pool, depth := sr.pool()
	for n, k := range ks {
		add(&u, k, ws[n])
		u.pot -= ws[n] * pool / k
	}
	u.pot += pool * math.Log(first*depth)
	if first == kEnd {
		return u
	}
	return sr.hankelTail(u, add, first, turn, kEnd)
}

// decayed is the wavenumber beyond which the remainder is nothing. An image
// that was left out lies at least span from the centre, so the current's way
// from the source to any height of the slab is at least half of that.
func (e *expansion) decayed(z float64) float64 {
	return decades / math.Max(e.span-math.Abs(z-e.zc), e.span/2)
}

// hankelTail sums stretches of one half-turn of J beyond the first.
func (sr *source) hankelTail(u unit, add func(*unit, float64, float64), first, turn, kEnd float64) unit {
	const most = 120 // stretches; extrapolation is at its best far earlier
	sums := [3]tailSum{newTailSum(u.pot), newTailSum(u.rho), newTailSum(u.z)}
	ks, ws := make([]float64, 0, 16), make([]float64, 0, 16)
	for n, lo := 0, first; n < most; n++ {
		hi := lo + turn
		var v unit
		ks, ws = panel(ks[:0], ws[:0], lo, hi)
		for j, k := range ks {
			add(&v, k, ws[j])
		}
		sums[0].add(hi, v.pot)
		sums[1].add(hi, v.rho)
		sums[2].add(hi, v.z)
		lo = hi
		if lo > kEnd { // nothing is left: the plain sum is the integral
			return unit{sums[0].partial, sums[1].partial, sums[2].partial}
		}
		if sums[0].done() && sums[1].done() && sums[2].done() {
			break
		}
	}
	return unit{sums[0].best, sums[1].best, sums[2].best}
}

// besselRatio is J1(x)/x.
func besselRatio(x float64) float64 {
	if x < 1e-4 {
		return 0.5 - x*x/16
	}
	return math.J1(x) / x
}
