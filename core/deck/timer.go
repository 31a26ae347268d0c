package deck

import (
	"math"
	"time"
)

// State is what a trial, or the washout behind it, is in at a moment.
type State string

// The states.
const (
	Free    State = "free"    // nothing runs: the next trial may begin
	Running State = "running" // the trial runs
	Over    State = "over"    // its time is up, and nobody has ended it
	Washout State = "washout" // it was ended, and the water is still to clear
)

// Clock is what a tablet shows at a moment.
type Clock struct {
	State State
	// Seconds are left of the state, rounded up, so that 0 is shown only when
	// they are gone; since the time was up where the trial is over, rounded down.
	Seconds int64
	// Timed: the state has an end that is known. A trial of which nobody states
	// how long it takes runs until it is ended, and leaves no seconds.
	Timed bool
}

// Clock tells what a trial is in that began and ended at these moments; a zero
// start is one that did not begin, a zero end one that was not ended. A trial
// that begins after now leaves everything free.
func (s Spec) Clock(start, end, now time.Time) Clock {
	if start.IsZero() || now.Before(start) {
		return Clock{State: Free}
	}
	if !end.IsZero() && end.Before(start) {
		end = start // an end before the start is a slip of a clock: the washout begins anew
	}
	if end.IsZero() || now.Before(end) {
		length, timed := minutes(s.TrialMin)
		switch until := start.Add(length); {
		case !timed:
			return Clock{State: Running}
		case now.Before(until):
			return Clock{Running, ceilSeconds(until.Sub(now)), true}
		default:
			return Clock{Over, int64(now.Sub(until) / time.Second), true}
		}
	}
	length, timed := minutes(s.WashoutMin)
	if until := end.Add(length); timed && now.Before(until) {
		return Clock{Washout, ceilSeconds(until.Sub(now)), true}
	}
	return Clock{State: Free}
}

// minutes is false for a time that nobody states, or that no trial takes.
func minutes(m float64) (time.Duration, bool) {
	if !(m > 0 && m <= mostMin) {
		return 0, false
	}
	return time.Duration(math.Round(m * float64(time.Minute))), true
}

func ceilSeconds(d time.Duration) int64 { return int64((d + time.Second - 1) / time.Second) }
