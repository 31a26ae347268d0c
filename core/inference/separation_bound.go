package inference

import "math"

// bound returns the one-sided 95 % exact bound of the log odds ratio: the
// lower one where more turns fell to active pairs than chance gives, else the
// upper one, and the other where that side is open.
func (t preferenceTable) bound() (value float64, lower, ok bool) {
	law := newTables(t.activeTurned, t.activeNot, t.controlTurned, t.controlNot)
	// a·d against b·c in floating point: counts may be large.
	lower = float64(t.activeTurned)*float64(t.controlNot) >= float64(t.activeNot)*float64(t.controlTurned)
	value, ok = law.oddsBound(t.activeTurned, 0.05, lower)
	if !ok {
		lower = !lower
		value, ok = law.oddsBound(t.activeTurned, 0.05, lower)
	}
	return value, lower, ok
}

// oddsBound returns the log odds ratio at which the table seen, or one more
// extreme on its side, has probability alpha given the margins: the lower
// bound (tables with at least as many) or the upper (at most as many). ok is
// false where that side is open: the table seen is the last one there.
func (t tables) oddsBound(seen int, alpha float64, lower bool) (logOdds float64, ok bool) {
	last := t.low + len(t.logWeight) - 1
	if lower && seen == t.low || !lower && seen == last {
		return 0, false
	}
	tail := func(theta float64) float64 {
		largest := math.Inf(-1)
		for k, w := range t.logWeight {
			largest = math.Max(largest, w+theta*float64(k))
		}
		var in, all float64
		for k, w := range t.logWeight {
			p := math.Exp(w + theta*float64(k) - largest)
			all += p
			if x := t.low + k; lower && x >= seen || !lower && x <= seen {
				in += p
			}
		}
		return in / all
	}
	// The tail rises with theta for the lower bound and falls for the upper.
	lo, hi := -1.0, 1.0
	for (tail(lo) > alpha) == lower {
		lo *= 2
	}
	for (tail(hi) < alpha) == lower {
		hi *= 2
	}
	for hi-lo > 1e-13*(1+math.Abs(lo)) {
		middle := lo + (hi-lo)/2
		if middle == lo || middle == hi {
			break
		}
		if (tail(middle) < alpha) == lower {
			lo = middle
		} else {
			hi = middle
		}
	}
	return lo + (hi-lo)/2, true
}
