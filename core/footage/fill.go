package footage

import (
	"math"
	"slices"
	"sort"
)

// Where is the pixel of a fix with its own standard deviation in each direction.
type Where struct {
	Pixel [2]float64
	SDPx  float64
	OK    bool // false: a filled one without a placed or carried one on both sides
}

// Fill gives every fix its pixel: placed and carried ones keep theirs, with the
// click's standard deviation; filled ones are worked out from the others of their
// point.
//
// Between two fixes the path is a cubic in time through both, with the slopes of
// the parabolas through them and one further fix on either side, which is at
// least half the gap away where there is one (a nearer one would turn the click's
// error into a slope). With a further fix on one side alone it is that parabola,
// and with none the straight line. A cubic bends as an animal does; a line would
// cut its curves.
//
// Its standard deviation: the animal's velocity is taken to wander as a random
// walk of intensity q in each direction (the model that exposures smooth with).
// For weights w that add up to 1 and give straight lines back,
//
//	sd² = click²·Σw² + q·(Σᵢⱼ wᵢwⱼ K(tᵢ−tⱼ) − 2 Σᵢ wᵢ K(t−tᵢ)),  K(h) = |h|³/12
//
// K being the generalised covariance of that model (Matheron, Adv. Appl. Prob. 5
// (1973) 439–468, from memory); for the straight line it is q·T³·u²(1−u)²/3, and so
// grows with the gap T. q comes from the second differences of the fixes of the
// point, less what clicks make of them; where there are fewer than three such
// differences it is at least that of a path which bulges, in the middle of the gap,
// by an eighth of the way between the two.
//
// cuts are frames at which the camera moved: nothing is filled across one.
func Fill(fixes []Fix, cuts []int, clickSDPx float64) []Where {
	out := make([]Where, len(fixes))
	type key struct {
		point string
		cut   int
	}
	anchors := map[key][]anchor{}
	keyOf := func(f *Fix) key {
		return key{f.Point, sort.SearchInts(cuts, f.Frame+1)}
	}
	for i := range fixes {
		f := &fixes[i]
		if f.How == Filled {
			continue
		}
		out[i] = Where{f.Pixel, clickSDPx, true}
		anchors[keyOf(f)] = append(anchors[keyOf(f)], anchor{f.ClipS, f.Pixel})
	}
	restless := map[key]restlessness{}
	for k, list := range anchors {
		slices.SortFunc(list, func(a, b anchor) int { return compare(a.t, b.t) })
		restless[k] = restlessnessOf(list, clickSDPx)
	}
	for i := range fixes {
		if f := &fixes[i]; f.How == Filled {
			out[i] = fillOne(anchors[keyOf(f)], f.ClipS, restless[keyOf(f)], clickSDPx)
		}
	}
	return out
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// anchor is a fix that was placed or carried.
type anchor struct {
	t  float64
	px [2]float64
}

// restlessness is how much the velocity wanders, px²/s³ in one direction, and from
// how many second differences that is known.
type restlessness struct {
	q float64
	n int
}

// restlessnessOf compares the second divided differences D of three fixes h0 and
// h1 apart with E[D²] = q(h0 + h1)/3 + click²·Σd², both directions together, long
// gaps weighing more because clicks hide less of them.
func restlessnessOf(a []anchor, clickSDPx float64) restlessness {
	var r restlessness
	var above, below float64
	for k := 0; k+2 < len(a); k++ {
		h0, h1 := a[k+1].t-a[k].t, a[k+2].t-a[k+1].t
		if !(h0 > 0 && h1 > 0) {
			continue
		}
		d := [3]float64{1 / h0, -1/h0 - 1/h1, 1 / h1}
		noise := clickSDPx * clickSDPx * (d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
		span := h0 + h1
		weight := span * span * span
		for c := range 2 {
			v := d[0]*a[k].px[c] + d[1]*a[k+1].px[c] + d[2]*a[k+2].px[c]
			above += weight * (v*v - noise)
			below += weight * span / 3
		}
		r.n++
	}
	if below > 0 {
		r.q = math.Max(above/below, 0)
	}
	return r
}

// fewestDifferences from which q is trusted by itself.
const fewestDifferences = 3

func fillOne(a []anchor, t float64, r restlessness, clickSDPx float64) Where {
	next := sort.Search(len(a), func(i int) bool { return a[i].t > t })
	if next == 0 || next == len(a) {
		return Where{}
	}
	at, w := weights(a, next, t)
	out := Where{OK: true}
	sum2, wander := 0.0, 0.0
	for i, j := range at {
		out.Pixel[0] += w[i] * a[j].px[0]
		out.Pixel[1] += w[i] * a[j].px[1]
		sum2 += w[i] * w[i]
		wander -= 2 * w[i] * spread(t-a[j].t)
		for k, l := range at {
			wander += w[i] * w[k] * spread(a[j].t-a[l].t)
		}
	}
	q := r.q
	if r.n < fewestDifferences {
		gap := a[next].t - a[next-1].t
		dx, dy := a[next].px[0]-a[next-1].px[0], a[next].px[1]-a[next-1].px[1]
		q = math.Max(q, 0.75*(dx*dx+dy*dy)/(gap*gap*gap)) // sd of the straight line in the middle: √(qT³/48)
	}
	out.SDPx = math.Sqrt(clickSDPx*clickSDPx*sum2 + q*math.Max(wander, 0))
	if !finite(out.Pixel[0]) || !finite(out.Pixel[1]) || !finite(out.SDPx) {
		return Where{}
	}
	return out
}

func spread(h float64) float64 {
	h = math.Abs(h)
	return h * h * h / 12
}

// weights of the fixes that a filled one between next−1 and next is made of.
func weights(a []anchor, next int, t float64) (at []int, w []float64) {
	i0, i1 := next-1, next
	h := a[i1].t - a[i0].t
	u := (t - a[i0].t) / h
	// Hermite's cubic: h00, h01 for the ends and h·h10, h·h11 for their slopes.
	h00, h10 := (1+2*u)*(1-u)*(1-u), u*(1-u)*(1-u)
	h01, h11 := u*u*(3-2*u), -u*u*(1-u)
	before := further(a, i0, -1, h)
	after := further(a, i1, +1, h)
	sum := map[int]float64{i0: h00, i1: h01}
	// A slope is c₀·x₀ + c₁·x₁ + cₖ·xₖ of the ends and one further fix k.
	slope := func(factor float64, k int, atEnd int) {
		if k < 0 { // straight
			sum[i0] -= factor / h
			sum[i1] += factor / h
			return
		}
		g := math.Abs(a[k].t - a[i0].t) // from the end beside it
		near, far := i0, i1
		if k > i1 {
			g, near, far = a[k].t-a[i1].t, i1, i0
		}
		// Slopes of the two chords, in the direction of time.
		sign := 1.0
		if near == i1 {
			sign = -1
		}
		inner := map[int]float64{far: sign / h, near: -sign / h}
		outer := map[int]float64{near: sign / g, k: -sign / g}
		fi, fo := g/(g+h), h/(g+h) // slope of the parabola at the near end
		if atEnd == far {          // 2·chord − slope at the near end
			fi, fo = 2-fi, -fo
		}
		for j, c := range inner {
			sum[j] += factor * fi * c
		}
		for j, c := range outer {
			sum[j] += factor * fo * c
		}
	}
	left, right := before, after
	if left < 0 {
		left = after
	}
	if right < 0 {
		right = before
	}
	slope(h*h10, left, i0)
	slope(h*h11, right, i1)
	for j := range sum {
		at = append(at, j)
	}
	slices.Sort(at)
	for _, j := range at {
		w = append(w, sum[j])
	}
	return at, w
}

// further is the nearest fix beyond end i that is half the gap away or more, else
// the farthest there is that is a quarter away or more; −1 where there is none.
func further(a []anchor, i, step int, gap float64) int {
	best := -1
	for k := i + step; k >= 0 && k < len(a); k += step {
		d := math.Abs(a[k].t - a[i].t)
		if d >= gap/4 {
			best = k
		}
		if d >= gap/2 {
			break
		}
	}
	return best
}
