package conduction

import "math"

// standing are the standing waves of a closed column of layers: the functions
// Z_n(z) with (σZ′)′ = −k_n²σZ, no slope at the column's ends, Z and σZ′ continuous,
// n = 1, 2, … In each layer Z is amp·cos(turn + k(top − z)): k is the same in all of
// them, so that nothing grows.
type standing struct {
	stack *stack
	k     []float64
	amp   [][]float64 // by slab, then n
	turn  [][]float64
	norm  []float64 // ∫σZ_n² over the column
}

// newStanding finds the waves with k up to kMax.
//
// The phase of Z at the bottom of the column rises with k, and the n-th wave is
// where it is nπ: none can be missed. An interface turns the phase by less than
// a quarter, which gives each root its bracket.
func newStanding(st *stack, kMax float64) *standing {
	n := len(st.slabs)
	u := &standing{stack: st, amp: make([][]float64, n), turn: make([][]float64, n)}
	height := st.slabs[0].topM - st.slabs[n-1].bottomM
	slack := float64(n-1) / 2
	last := 0.0
	for q := 1; ; q++ {
		want := math.Pi * float64(q)
		lo := math.Max(last, (float64(q)-slack)*math.Pi/height)
		hi := (float64(q) + slack) * math.Pi / height
		k := u.root(want, lo, hi)
		if k > kMax {
			break
		}
		last = k
		u.keep(k)
	}
	return u
}

// root is the k in [lo, hi] at which the phase at the bottom is want: Newton's
// steps, kept within a bracket that closes. Where layers differ much the phase
// goes in steps, round which Newton runs to and fro: the bracket is halved unless
// the step is less than half of the one before.
func (u *standing) root(want, lo, hi float64) float64 {
	k := (lo + hi) / 2
	before := hi - lo
	for range 200 {
		phase, slope := u.phase(k)
		if phase < want {
			lo = k
		} else {
			hi = k
		}
		next := k - (phase-want)/slope
		if !(next > lo && next < hi) || math.Abs(next-k) > before/2 {
			next = (lo + hi) / 2
		}
		before = math.Abs(next - k)
		if math.Abs(next-k) <= 2e-16*k || next == lo || next == hi {
			return next
		}
		k = next
	}
	return k
}

// phase is that of Z at the bottom of the column, and its slope by k.
func (u *standing) phase(k float64) (phase, slope float64) {
	slabs := u.stack.slabs
	for i, s := range slabs {
		if i > 0 {
			var stretch float64
			phase, stretch = crossing(phase, slabs[i-1].sigma/s.sigma)
			slope *= slabs[i-1].sigma / s.sigma / stretch
		}
		phase += k * s.thickness()
		slope += s.thickness()
	}
	return phase, slope
}

// crossing takes a phase through an interface, at which Z stays and σZ′ stays:
// tan φ′ = c·tan φ. stretch is the factor of amp².
func crossing(phase, c float64) (after, stretch float64) {
	turns := math.Round(phase/math.Pi) * math.Pi
	sin, cos := math.Sincos(phase - turns)
	return turns + math.Atan2(c*sin, cos), cos*cos + c*c*sin*sin
}

// keep appends the wave at k.
func (u *standing) keep(k float64) {
	slabs := u.stack.slabs
	phase, amp2, norm := 0.0, 1.0, 0.0
	for i, s := range slabs {
		if i > 0 {
			var stretch float64
			phase, stretch = crossing(phase, slabs[i-1].sigma/s.sigma)
			amp2 *= stretch
		}
		phase = math.Remainder(phase, 2*math.Pi)
		u.amp[i] = append(u.amp[i], math.Sqrt(amp2))
		u.turn[i] = append(u.turn[i], phase)
		end := phase + k*s.thickness()
		norm += s.sigma * amp2 * (s.thickness()/2 + (math.Sin(2*end)-math.Sin(2*phase))/(4*k))
		phase = end
	}
	u.k = append(u.k, k)
	u.norm = append(u.norm, norm)
}

// at is Z_n and its slope upward at a height of slab i; n = −1 is the constant.
func (u *standing) at(n, i int, z float64) (value, slope float64) {
	if n < 0 {
		return 1, 0
	}
	sin, cos := math.Sincos(u.turn[i][n] + u.k[n]*(u.stack.slabs[i].topM-z))
	return u.amp[i][n] * cos, u.amp[i][n] * u.k[n] * sin
}

// column cuts a stack to the heights between lo and hi and closes it there,
// and returns how many slabs were cut off its top.
func (st *stack) column(lo, hi float64) (cut *stack, above int) {
	cut = &stack{air: true, floor: true}
	for i, s := range st.slabs {
		top, bottom := math.Min(s.topM, hi), math.Max(s.bottomM, lo)
		if !(top > bottom) {
			if len(cut.slabs) == 0 {
				above++
			}
			continue
		}
		if n := len(cut.slabs); n > 0 {
			cut.contrast = append(cut.contrast, st.contrast[i-1])
			cut.gain = append(cut.gain, st.gain[i-1])
			cut.loss = append(cut.loss, st.loss[i-1])
		}
		cut.slabs = append(cut.slabs, slab{top, bottom, s.sigma})
	}
	return cut, above
}
