package footage

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// MostDriftPPM bounds the drift that events may say: cameras' quartz clocks stay
// within some 100 ppm (common practice), and beyond five times that a frame or a
// time was mistaken.
const MostDriftPPM = 500

// mostOffset bounds the offset: a camera whose clock was never set says 1970.
const mostOffset = 200 * 365.25 * 24 * time.Hour

// Event is something that was seen in a clip and on the trial's clock.
type Event struct {
	ClipS float64   // seconds of the clip at its frame
	At    time.Time // on the trial's clock
}

// Clock turns seconds of a clip into times of day:
//
//	time = start + clip_s·(1 + DriftPPM·1e-6) + OffsetS
//
// with start, the time of the first frame by the camera's own clock.
type Clock struct {
	OffsetS  float64
	DriftPPM float64
}

// FittedClock is a clock with what its events say of it.
type FittedClock struct {
	Clock
	DriftKnown bool      // there were events at two moments or more; else DriftPPM is 0
	ResidualS  []float64 // of each event: its time by the trial's clock less that of the fit
}

// At is the time of day at a moment of the clip.
func (c Clock) At(start time.Time, clipS float64) time.Time {
	return start.Add(seconds(clipS*(1+c.DriftPPM*1e-6) + c.OffsetS))
}

// ClipS is the moment of the clip at a time of day, seconds; negative before its
// first frame.
func (c Clock) ClipS(start, at time.Time) float64 {
	return (at.Sub(start).Seconds() - c.OffsetS) / (1 + c.DriftPPM*1e-6)
}

func seconds(s float64) time.Duration {
	const most = float64(math.MaxInt64) / 2
	return time.Duration(math.Max(-most, math.Min(most, math.Round(s*1e9))))
}

// FitClock finds offset and drift from events: one gives the offset; two or more
// at different moments give both, by least squares with equal weights.
//
// Errors, in words for people: no event; times that lie centuries apart; a drift
// beyond [MostDriftPPM].
func FitClock(start time.Time, events []Event) (FittedClock, error) {
	f := FittedClock{ResidualS: make([]float64, len(events))}
	if len(events) == 0 {
		return f, errors.New("no event is marked; expected one that was seen in the clip and on the trial's clock")
	}
	ahead := make([]float64, len(events)) // of the trial's clock, seconds
	var meanT, meanY float64
	n := float64(len(events))
	for i, e := range events {
		d := e.At.Sub(start)
		if d > mostOffset || d < -mostOffset {
			return f, fmt.Errorf("event %d is on %s by the trial's clock, and the clip begins on %s by the camera's; expected times less than 200 years apart", i+1, e.At.Format(time.DateOnly), start.Format(time.DateOnly))
		}
		ahead[i] = d.Seconds() - e.ClipS
		meanT += e.ClipS / n
		meanY += ahead[i] / n
	}
	var tt, ty float64
	for i, e := range events {
		tt += (e.ClipS - meanT) * (e.ClipS - meanT)
		ty += (e.ClipS - meanT) * (ahead[i] - meanY)
	}
	if tt > 0 {
		f.DriftPPM, f.DriftKnown = ty/tt*1e6, true
	}
	if math.Abs(f.DriftPPM) > MostDriftPPM {
		return f, driftError(events, f.DriftPPM)
	}
	f.OffsetS = meanY - f.DriftPPM*1e-6*meanT
	for i, e := range events {
		f.ResidualS[i] = ahead[i] - f.OffsetS - f.DriftPPM*1e-6*e.ClipS
	}
	return f, nil
}

// driftError says that events cannot all be right, or lie too close together.
func driftError(events []Event, ppm float64) error {
	first, last := math.Inf(1), math.Inf(-1)
	for _, e := range events {
		first, last = math.Min(first, e.ClipS), math.Max(last, e.ClipS)
	}
	way := "slow"
	if ppm < 0 {
		way = "fast"
	}
	return fmt.Errorf("by these events the camera's clock is %s by %.4g s within %.4g s, which is %.0f ppm; expected at most %d ppm. "+
		"A frame or a time is mistaken, or the events lie too close together for times read to a second: keep one of them, or mark one much later in the clip", way, math.Abs(ppm)*1e-6*(last-first), last-first, math.Abs(ppm), MostDriftPPM)
}
