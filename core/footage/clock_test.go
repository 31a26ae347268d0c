package footage_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinefield/core/footage"
)

var dusk = time.Date(2026, 6, 1, 20, 40, 0, 0, time.UTC)

// Closed form: 120 ppm over two hours are 7200 s · 120e-6 = 0.864 s.
func TestADriftOfTwoHours(t *testing.T) {
	c := footage.Clock{OffsetS: 3.25, DriftPPM: 120}
	moved := c.At(dusk, 7200).Sub(dusk.Add(7200*time.Second + 3250*time.Millisecond))
	if d := moved - 864*time.Millisecond; d.Abs() > time.Microsecond {
		t.Errorf("moved by %v, want 864 ms to 1 µs", moved)
	}
	if s := c.ClipS(dusk, c.At(dusk, 7200)); math.Abs(s-7200) > 1e-8 {
		t.Errorf("back to %v s, want 7200 to 1e-8 s", s)
	}
}

func TestOneEventGivesTheOffsetAlone(t *testing.T) {
	f, err := footage.FitClock(dusk, []footage.Event{{ClipS: 100, At: dusk.Add(58 * time.Second)}})
	if err != nil || f.OffsetS != -42 || f.DriftPPM != 0 || f.DriftKnown || len(f.ResidualS) != 1 || f.ResidualS[0] != 0 {
		t.Errorf("%+v, %v", f, err)
	}
	// Two events in one frame tell no drift: their mean is the offset.
	f, err = footage.FitClock(dusk, []footage.Event{{ClipS: 10, At: dusk.Add(12 * time.Second)}, {ClipS: 10, At: dusk.Add(13 * time.Second)}})
	if err != nil || f.OffsetS != 2.5 || f.DriftKnown || f.ResidualS[0] != -0.5 || f.ResidualS[1] != 0.5 {
		t.Errorf("%+v, %v", f, err)
	}
}

// Closed form of a straight line through three points at t = 0, 3600, 7200 s that
// are ahead by 1, 1.5 and 1.6 s: slope (1.6 − 1)/7200, residuals −1/15, 2/15, −1/15.
func TestThreeEventsByLeastSquares(t *testing.T) {
	ahead := []float64{1, 1.5, 1.6}
	var events []footage.Event
	for i, a := range ahead {
		s := float64(i) * 3600
		events = append(events, footage.Event{ClipS: s, At: dusk.Add(time.Duration((s + a) * 1e9))})
	}
	f, err := footage.FitClock(dusk, events)
	if err != nil || !f.DriftKnown {
		t.Fatal(f, err)
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"drift, ppm", f.DriftPPM, 0.6 / 7200 * 1e6},
		{"offset, s", f.OffsetS, 4.1/3 - 0.3},
		{"residual 1", f.ResidualS[0], -1.0 / 15},
		{"residual 2", f.ResidualS[1], 2.0 / 15},
		{"residual 3", f.ResidualS[2], -1.0 / 15},
	} {
		if math.Abs(c.got-c.want) > 1e-6 {
			t.Errorf("%s: %v, want %v to 1e-6", c.what, c.got, c.want)
		}
	}
}

func TestEventsThatCannotBe(t *testing.T) {
	for _, c := range []struct {
		events []footage.Event
		says   string
	}{
		{nil, "no event"},
		{[]footage.Event{{0, dusk}, {60, dusk.Add(61 * time.Second)}}, "slow by 1 s within 60 s"},
		{[]footage.Event{{0, dusk}, {60, dusk.Add(59 * time.Second)}}, "fast by 1 s within 60 s"},
		{[]footage.Event{{0, dusk.AddDate(250, 0, 0)}}, "200 years"},
	} {
		if _, err := footage.FitClock(dusk, c.events); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v: %v, want one that says %q", c.events, err, c.says)
		}
	}
}

// Any clock within bounds comes back from events that it made itself, wherever the
// camera's own clock stood.
func TestAClockComesBackFromItsEvents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := footage.Clock{OffsetS: rapid.Float64Range(-2e9, 2e9).Draw(t, "offset"), DriftPPM: rapid.Float64Range(-499, 499).Draw(t, "drift")}
		var events []footage.Event
		s := 0.0
		for range rapid.IntRange(2, 8).Draw(t, "events") {
			events = append(events, footage.Event{ClipS: s, At: c.At(dusk, s)})
			s += rapid.Float64Range(60, 4000).Draw(t, "later")
		}
		f, err := footage.FitClock(dusk, events)
		if err != nil {
			t.Fatal(err)
		}
		// A time of day is a whole number of nanoseconds, and 2e9 s in 53 bits are
		// known to 2.4e-7 s; over 60 s that is 0.008 ppm.
		if math.Abs(f.DriftPPM-c.DriftPPM) > 0.05 || math.Abs(f.OffsetS-c.OffsetS) > 1e-5 {
			t.Errorf("%+v, want %+v", f.Clock, c)
		}
		for _, r := range f.ResidualS {
			if math.Abs(r) > 2e-6 {
				t.Errorf("residual %v s", r)
			}
		}
	})
}
