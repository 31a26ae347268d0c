package deck

import "math"

// Count is what was counted against a permit at one time.
type Count struct {
	Animals int
	Hours   float64
}

// Limit is what a permit allows; nil where it states nothing.
type Limit struct {
	Animals *int
	Hours   *float64
}

// Tally is what was counted in all, and what is left of a limit.
type Tally struct {
	Animals     int
	Hours       float64
	AnimalsLeft *int     // nil: no limit is stated. Below 0 where more was used
	HoursLeft   *float64 // the same
	Over        bool     // more was used than one of the limits allows
}

// mostCounted keeps a slip of a key from spoiling a sum for good: no count of
// more says anything.
const mostCounted = 1_000_000

// Usable reports whether a count can be one. What is below zero or no number
// counts nothing.
func (c Count) Usable() bool {
	return c.Animals >= 0 && c.Animals <= mostCounted && c.Hours >= 0 && c.Hours <= mostCounted
}

// Add sums up counts against a limit, and leaves out those that are not usable.
// The order of the counts does not matter: hours are summed in seconds, to which
// no permit is written.
func Add(counts []Count, limit Limit) Tally {
	var t Tally
	seconds := int64(0)
	for _, c := range counts {
		if !c.Usable() {
			continue
		}
		t.Animals += c.Animals
		seconds += int64(math.Round(c.Hours * 3600))
	}
	t.Hours = float64(seconds) / 3600
	if limit.Animals != nil {
		left := *limit.Animals - t.Animals
		t.AnimalsLeft = &left
		t.Over = left < 0
	}
	if limit.Hours != nil {
		left := float64(int64(math.Round(*limit.Hours*3600))-seconds) / 3600
		t.HoursLeft = &left
		t.Over = t.Over || left < 0
	}
	return t
}
