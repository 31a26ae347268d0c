package exposure

import "math"

// walker answers questions about the field along one pass. Each worker has
// one, so that its buffers are used again.
type walker struct {
	drive *Drive
	head  *head
	first float64

	profiles []profile // the ones being asked: one a point of the head

	// With unknown heights: profiles at even fractions u = k/samples, kept for
	// further questions, and one set for any other u.
	samples int // 0: not yet counted
	even    [][]profile
	built   []bool
	other   []profile
}

// set prepares for one pass in one field; unknown heights come with build.
func (w *walker) set(drive *Drive, h *head) {
	w.drive, w.head, w.first = drive, h, h.first()
	w.samples = 0
	for i := range w.built {
		w.built[i] = false
	}
}

// build samples the field with unknown heights at the fraction u.
func (w *walker) build(u float64) {
	w.other = w.fill(w.other, u)
	w.profiles = w.other
}

func (w *walker) fill(set []profile, u float64) []profile {
	for len(set) < len(w.head.points) {
		set = append(set, profile{})
	}
	for i, rows := range w.head.points {
		set[i].build(w.drive, rows, u)
	}
	return set
}

// buildEven is build at u = k/samples, kept.
func (w *walker) buildEven(k int) {
	for len(w.even) <= k {
		w.even, w.built = append(w.even, nil), append(w.built, false)
	}
	if !w.built[k] {
		w.even[k] = w.fill(w.even[k], float64(k)/float64(w.samples))
		w.built[k] = true
	}
	w.profiles = w.even[k]
}

// place is where on a pass something was met.
type place struct {
	peak
	point int // index into head.points
}

// largest is the largest field that any point of the head met between times a
// and b, both ends included. A point counts from its own first to its own last
// row; times before the first row of all count as that row. Where no point has
// rows round the interval, the rows nearest before it stand for it.
func (w *walker) largest(a, b float64) place {
	a, b = math.Max(a, w.first), math.Max(b, w.first)
	best := place{peak: peak{f: -1}}
	for i, rows := range w.head.points {
		from, to := math.Max(a, rows[0].t), math.Min(b, rows[len(rows)-1].t)
		if from > to+timeTolS {
			continue
		}
		if p := w.profiles[i].largest(from, math.Max(from, to)); p.f > best.f {
			best = place{p, i}
		}
	}
	if best.f >= 0 {
		return best
	}
	latest := math.Inf(-1)
	for i, rows := range w.head.points {
		if end := rows[len(rows)-1].t; end < a && end > latest {
			latest = end
			best = place{w.profiles[i].value(end), i}
		}
	}
	return best
}

// heightSamples is how many samples of the height fraction the search needs.
func (w *walker) heightSamples() int {
	if w.drive.none() {
		return fewestHeights
	}
	nearest, widest := math.Inf(1), 0.0
	for _, rows := range w.head.points {
		for i := range rows {
			if !rows[i].zKnown {
				widest = math.Max(widest, rows[i].zHigh-rows[i].zLow)
			}
			for _, u := range [...]float64{0, 0.5, 1} {
				nearest = math.Min(nearest, w.drive.nearest(rows[i].at(u)))
				if i > 0 {
					nearest = math.Min(nearest, w.drive.nearestOnLine(rows[i-1].at(u), rows[i].at(u)))
				}
			}
		}
	}
	if widest == 0 {
		return 1
	}
	n := heightsPerStep * widest / math.Max(nearest, touchM)
	return int(math.Ceil(math.Min(math.Max(n, fewestHeights), mostHeights)))
}

// smallestLargest is the smallest, over unknown heights, of the largest field
// between times a and b; largestLargest is the largest.
func (w *walker) smallestLargest(a, b float64) place {
	return w.overHeights(1, a, b)
}

func (w *walker) largestLargest(a, b float64) place {
	return w.overHeights(-1, a, b)
}

func (w *walker) overHeights(sign, a, b float64) place {
	if !w.head.heightUnknown {
		return w.largest(a, b) // built by set's caller
	}
	if w.samples == 0 {
		w.samples = w.heightSamples()
	}
	f := func(u float64) float64 {
		if k := math.Round(u * float64(w.samples)); k/float64(w.samples) == u {
			w.buildEven(int(k))
		} else {
			w.build(u)
		}
		return sign * w.largest(a, b).f
	}
	u, _ := overHeights(f, w.samples)
	f(u)
	return w.largest(a, b)
}

// heightKnownAt reports whether the height of a point was measured on both
// sides of time t.
func (w *walker) heightKnownAt(point int, t float64) bool {
	rows := w.head.points[point]
	n := len(rows)
	switch {
	case n == 1 || t <= rows[0].t+timeTolS:
		return rows[0].zKnown
	case t >= rows[n-1].t-timeTolS:
		return rows[n-1].zKnown
	}
	i := w.profiles[point].line.segment(t)
	switch {
	case t-rows[i].t <= timeTolS:
		return rows[i].zKnown
	case rows[i+1].t-t <= timeTolS:
		return rows[i+1].zKnown
	}
	return rows[i].zKnown && rows[i+1].zKnown
}
