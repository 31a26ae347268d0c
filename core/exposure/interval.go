package exposure

import "math"

// outcome is what a pass did, as far as its interval is concerned.
type outcome int

const (
	stayed        outcome = iota // no turn
	turnedAt                     // a turn whose onset was recorded
	turnedSomehow                // a turn or bite without an onset
)

// question is what is asked of a path: the outcome and the times of a turn.
type question struct {
	outcome      outcome
	t0, t1       float64
	hasEarlier   bool // a row earlier than the onset
	reactionTime float64
}

// ask works out the times of a turn. t0 is the last row earlier than the
// onset, of any point of the head that counts.
func ask(h *head, o outcome, onset, reactionTime float64) question {
	q := question{outcome: o, reactionTime: reactionTime}
	if o == turnedAt {
		q.t1 = onset
		q.t0, q.hasEarlier = h.before(onset)
	}
	return q
}

// answer is the interval of a pass in one field and where its largest field
// (or its onset) was.
type answer struct {
	low, high float64
	falling   bool
	where     place
}

// interval applies the rules of the interval to the path and field that w was
// set to.
//
//   - onset at t1, last earlier row t0, reaction time δ: low is the largest
//     field up to t0 − δ (0 where that is before the first row, or where there
//     is no earlier row), high the largest in [t0 − δ, t1 − δ];
//   - no turn: low is the largest field on the track;
//   - a turn without an onset: low is 0, high the largest on the track;
//   - over unknown heights a turn gets the smallest low and the largest high,
//     no turn the smallest of the largest fields.
func (w *walker) interval(q question) answer {
	if !w.head.heightUnknown && !w.drive.none() {
		w.build(0)
	}
	return w.intervalBuilt(q)
}

// intervalBuilt is interval after build, which a path of known heights needs
// only once for several questions.
func (w *walker) intervalBuilt(q question) answer {
	var a answer
	first, last := w.first, w.head.last()
	if w.drive.none() {
		a.falling = q.outcome == turnedAt
		return a
	}
	switch q.outcome {
	case stayed:
		a.where = w.smallestLargest(first, last)
		a.low = a.where.f
	case turnedSomehow:
		a.where = w.largestLargest(first, last)
		a.high = a.where.f
	case turnedAt:
		from, to := q.t0-q.reactionTime, q.t1-q.reactionTime
		if q.hasEarlier && from >= first-timeTolS {
			a.low = w.smallestLargest(first, from).f
		}
		a.high = w.largestLargest(from, to).f
		a.falling = a.high <= a.low
		a.where = w.largest(to, to)
	}
	return a
}

// bounded reports whether the answer can be told to anybody.
func (a *answer) bounded() bool {
	return isFinite(a.low) && isFinite(a.high) && !math.Signbit(a.low) && !math.Signbit(a.high)
}
