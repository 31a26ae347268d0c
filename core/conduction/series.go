package conduction

import (
	"cmp"
	"math"
	"slices"
)

// term is w·e^{−ks}: an image of weight w that lies s farther off than the
// face from which it is counted. d is the weight of the derivative by the
// source's height, over k (used for discs with an insulating back).
type term struct{ s, w, d float64 }

// series is a sum of terms with rising s, complete for s < reach. Reflection
// coefficients of layers are such sums without end (in e^{−2kd} of each layer),
// and cutting them at a distance is the classical expansion into images.
type series []term

// algebra cuts every product at a distance and gives up at too many terms.
type algebra struct {
	reach  float64
	limit  int
	failed bool
}

const (
	sameImage   = 1e-13 // images whose distances agree to this share are one
	weightFloor = 1e-19 // lighter images are left to the remainder
)

func one() series { return series{{0, 1, 0}} }

// tidy sorts, merges equal distances and cuts.
func (al *algebra) tidy(x series) series {
	slices.SortStableFunc(x, func(a, b term) int { return cmp.Compare(a.s, b.s) })
	out := x[:0]
	for _, t := range x {
		if !(t.s < al.reach) {
			break
		}
		if n := len(out); n > 0 && t.s-out[n-1].s <= sameImage*t.s {
			out[n-1].w += t.w
			out[n-1].d += t.d
			continue
		}
		out = append(out, t)
	}
	kept := out[:0]
	for _, t := range out {
		if math.Abs(t.w) > weightFloor || math.Abs(t.d) > weightFloor {
			kept = append(kept, t)
		}
	}
	if len(kept) > al.limit {
		al.failed = true
		kept = kept[:al.limit]
	}
	return kept
}

func (al *algebra) add(x, y series) series {
	return al.tidy(append(append(make(series, 0, len(x)+len(y)), x...), y...))
}

// mul multiplies; at most one factor may carry derivatives.
func (al *algebra) mul(x, y series) series {
	var out series
	for _, a := range x {
		for _, b := range y {
			if !(a.s+b.s < al.reach) {
				break
			}
			out = append(out, term{a.s + b.s, a.w * b.w, a.w*b.d + a.d*b.w})
		}
		if len(out) > 64*al.limit {
			al.failed = true
			return nil
		}
	}
	return al.tidy(out)
}

func scaled(x series, f float64) series {
	out := make(series, len(x))
	for i, t := range x {
		out[i] = term{t.s, f * t.w, f * t.d}
	}
	return out
}

// shift delays by s; an infinite delay leaves nothing.
func (al *algebra) shift(x series, s float64) series {
	var out series
	for _, t := range x {
		if t.s+s < al.reach {
			out = append(out, term{t.s + s, t.w, t.d})
		}
	}
	return out
}

// inverse returns 1/(1 + x) for a series x whose first distance is above 0:
// terms are settled in the order of distance, each feeding later ones.
func (al *algebra) inverse(x series) series {
	queue := termHeap{{0, 1, 0}}
	var out series
	for len(queue) > 0 {
		t := queue.pop()
		for len(queue) > 0 && queue[0].s-t.s <= sameImage*t.s {
			t.w += queue.pop().w
		}
		if math.Abs(t.w) <= weightFloor {
			continue
		}
		if len(out) == al.limit || len(queue) > 64*al.limit {
			al.failed = true
			return out
		}
		out = append(out, t)
		for _, u := range x {
			if !(t.s+u.s < al.reach) {
				break
			}
			if w := -t.w * u.w; math.Abs(w) > weightFloor {
				queue.push(term{t.s + u.s, w, 0})
			}
		}
	}
	return out
}

// termHeap is a binary heap with the nearest term on top. (The heap of the
// standard library boxes every term, which is most of the time here.)
type termHeap []term

func (h *termHeap) push(t term) {
	*h = append(*h, t)
	q := *h
	for i := len(q) - 1; i > 0; {
		up := (i - 1) / 2
		if q[up].s <= q[i].s {
			break
		}
		q[up], q[i] = q[i], q[up]
		i = up
	}
}

func (h *termHeap) pop() term {
	q := *h
	top := q[0]
	last := len(q) - 1
	q[0] = q[last]
	q = q[:last]
	for i := 0; ; {
		down := 2*i + 1
		if down >= last {
			break
		}
		if down+1 < last && q[down+1].s < q[down].s {
			down++
		}
		if q[i].s <= q[down].s {
			break
		}
		q[i], q[down] = q[down], q[i]
		i = down
	}
	*h = q
	return top
}

// waveSeries is [wave] with every amplitude as a series of images.
type waveSeries struct{ rise, fall series }

// imagesOf expands the wave of a source at height z0 of slab j in slab i into
// images nearer than reach, or reports that there would be more than limit.
// The formulas are those of [mirrors], term by term.
func imagesOf(st *stack, j int, z0 float64, i int, reach float64, limit int) (waveSeries, bool) {
	al := &algebra{reach: reach, limit: limit}
	n := len(st.slabs)
	down, up := make([]series, n), make([]series, n)
	if st.floor {
		down[n-1] = one()
	}
	for l := n - 2; l >= min(i, j) && !al.failed; l-- {
		q := al.shift(down[l+1], 2*st.slabs[l+1].thickness())
		down[l] = al.mul(al.add(series{{0, st.contrast[l], 0}}, q), al.inverse(scaled(q, st.contrast[l])))
	}
	if st.air {
		up[0] = one()
	}
	for l := 1; l <= max(i, j) && !al.failed; l++ {
		q := al.shift(up[l-1], 2*st.slabs[l-1].thickness())
		up[l] = al.mul(al.add(series{{0, -st.contrast[l-1], 0}}, q), al.inverse(scaled(q, -st.contrast[l-1])))
	}
	s := st.slabs[j]
	a, c, d := z0-s.bottomM, s.topM-z0, s.thickness()
	// Leaving the source: falling through its slab, rising through it.
	leaveDown, leaveUp := al.shift(series{{0, 1, -1}}, a), al.shift(series{{0, 1, 1}}, c)
	ring := al.inverse(scaled(al.shift(al.mul(down[j], up[j]), 2*d), -1))
	if al.failed {
		return waveSeries{}, false
	}
	w := waveSeries{
		rise: al.mul(al.mul(down[j], ring), al.add(leaveDown, al.shift(al.mul(up[j], leaveUp), d))),
		fall: al.mul(al.mul(up[j], ring), al.add(leaveUp, al.shift(al.mul(down[j], leaveDown), d))),
	}
	switch {
	case i > j:
		w = al.sendDown(st, down, j, i, al.add(leaveDown, al.shift(w.fall, d)))
	case i < j:
		w = al.sendUp(st, up, j, i, al.add(leaveUp, al.shift(w.rise, d)))
	}
	return w, !al.failed
}

func (al *algebra) sendDown(st *stack, down []series, j, i int, a series) waveSeries {
	var w waveSeries
	for l := j + 1; l <= i; l++ {
		d := st.slabs[l].thickness()
		q := scaled(al.shift(down[l], 2*d), st.contrast[l-1])
		w.fall = scaled(al.mul(a, al.inverse(q)), st.gain[l-1])
		a = al.shift(w.fall, d)
		w.rise = al.mul(down[l], a)
	}
	return w
}

func (al *algebra) sendUp(st *stack, up []series, j, i int, a series) waveSeries {
	var w waveSeries
	for l := j - 1; l >= i; l-- {
		d := st.slabs[l].thickness()
		q := scaled(al.shift(up[l], 2*d), -st.contrast[l])
		w.rise = scaled(al.mul(a, al.inverse(q)), st.loss[l])
		a = al.shift(w.rise, d)
		w.fall = al.mul(up[l], a)
	}
	return w
}
