package deck_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"brinefield/core/deck"
)

func TestClock(t *testing.T) {
	day := func(clock string) time.Time {
		if clock == "" {
			return time.Time{}
		}
		at, err := time.Parse("15:04:05.999", clock)
		if err != nil {
			t.Fatal(err)
		}
		return at.AddDate(2026, 5, 10)
	}
	both := deck.Spec{TrialMin: 30, WashoutMin: 20}
	for _, c := range []struct {
		name            string
		spec            deck.Spec
		start, end, now string
		want            deck.Clock
	}{
		{"nothing began", both, "", "", "10:00:00", deck.Clock{State: deck.Free}},
		{"begins later", both, "10:00:00", "", "09:59:59", deck.Clock{State: deck.Free}},
		{"just begun", both, "10:00:00", "", "10:00:00", deck.Clock{State: deck.Running, Seconds: 1800, Timed: true}},
		{"part of a second is one", both, "10:00:00", "", "10:29:59.5", deck.Clock{State: deck.Running, Seconds: 1, Timed: true}},
		{"time is up", both, "10:00:00", "", "10:30:00", deck.Clock{State: deck.Over, Timed: true}},
		{"and was for long", both, "10:00:00", "", "10:31:01.9", deck.Clock{State: deck.Over, Seconds: 61, Timed: true}},
		{"ended", both, "10:00:00", "10:25:00", "10:25:00", deck.Clock{State: deck.Washout, Seconds: 1200, Timed: true}},
		{"will be ended", both, "10:00:00", "10:25:00", "10:24:00", deck.Clock{State: deck.Running, Seconds: 360, Timed: true}},
		{"washed out", both, "10:00:00", "10:25:00", "10:45:00", deck.Clock{State: deck.Free}},
		{"ended before it began", both, "10:00:00", "09:00:00", "10:01:00", deck.Clock{State: deck.Washout, Seconds: 1140, Timed: true}},
		{"no length is stated", deck.Spec{}, "10:00:00", "", "18:00:00", deck.Clock{State: deck.Running}},
		{"no washout is stated", deck.Spec{TrialMin: 30}, "10:00:00", "10:20:00", "10:20:00", deck.Clock{State: deck.Free}},
		{"a length that is none", deck.Spec{TrialMin: math.NaN(), WashoutMin: math.Inf(1)}, "10:00:00", "", "11:00:00", deck.Clock{State: deck.Running}},
		{"a washout that is none", deck.Spec{WashoutMin: math.Inf(1)}, "10:00:00", "10:20:00", "10:21:00", deck.Clock{State: deck.Free}},
		{"half a minute", deck.Spec{TrialMin: 0.5}, "10:00:00", "", "10:00:10", deck.Clock{State: deck.Running, Seconds: 20, Timed: true}},
	} {
		if got := c.spec.Clock(day(c.start), day(c.end), day(c.now)); got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
}

// As time passes, a trial goes through its states in order, and what is left of
// one only shrinks.
func TestClockOfAnyTrial(t *testing.T) {
	order := map[deck.State]int{deck.Running: 1, deck.Over: 2, deck.Washout: 3, deck.Free: 4}
	rapid.Check(t, func(t *rapid.T) {
		s := deck.Spec{TrialMin: rapid.Float64Range(0, 1440).Draw(t, "trial"), WashoutMin: rapid.Float64Range(0, 1440).Draw(t, "washout")}
		start := time.Date(2026, 6, 11, 9, 0, 0, 0, time.UTC)
		end := start.Add(time.Duration(rapid.Int64Range(0, int64(30*time.Hour)).Draw(t, "length")))
		a := time.Duration(rapid.Int64Range(0, int64(60*time.Hour)).Draw(t, "a"))
		b := a + time.Duration(rapid.Int64Range(0, int64(60*time.Hour)).Draw(t, "b"))
		first, later := s.Clock(start, end, start.Add(a)), s.Clock(start, end, start.Add(b))
		if order[first.State] > order[later.State] {
			t.Fatalf("%v, then %v", first, later)
		}
		for _, c := range []deck.Clock{first, later} {
			if c.Seconds < 0 || c.State == deck.Free && (c.Timed || c.Seconds != 0) {
				t.Fatalf("%+v", c)
			}
		}
		if first.State == later.State && first.State != deck.Over && later.Seconds > first.Seconds {
			t.Fatalf("%v, then %v", first, later)
		}
	})
}

func TestTally(t *testing.T) {
	ten, none, hours := 10, 0, 1.5
	counts := []deck.Count{{Animals: 3, Hours: 0.1}, {Animals: 4, Hours: 0.2}, {Animals: -5}, {Hours: math.NaN()}, {Hours: -1, Animals: 2}, {Animals: 2_000_000}, {Hours: math.Inf(1)}}
	got := deck.Add(counts, deck.Limit{Animals: &ten, Hours: &hours})
	if got.Animals != 7 || got.Hours != 0.3 || *got.AnimalsLeft != 3 || *got.HoursLeft != 1.2 || got.Over {
		t.Errorf("%+v", got)
	}
	if got := deck.Add(counts, deck.Limit{Animals: &none}); !got.Over || *got.AnimalsLeft != -7 || got.HoursLeft != nil {
		t.Errorf("%+v", got)
	}
	if got := deck.Add(nil, deck.Limit{}); got != (deck.Tally{}) {
		t.Errorf("%+v", got)
	}
	if got := deck.Add([]deck.Count{{Animals: 10, Hours: 1.5}}, deck.Limit{Animals: &ten, Hours: &hours}); got.Over || *got.AnimalsLeft != 0 || *got.HoursLeft != 0 {
		t.Errorf("all of it is used, and no more: %+v", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOf(rapid.Custom(func(t *rapid.T) deck.Count {
			return deck.Count{Animals: rapid.IntRange(-5, 500).Draw(t, "animals"), Hours: rapid.Float64Range(-1, 30).Draw(t, "hours")}
		})).Draw(t, "counts")
		other := rapid.Permutation(list).Draw(t, "other order")
		if a, b := deck.Add(list, deck.Limit{}), deck.Add(other, deck.Limit{}); a != b {
			t.Fatalf("%+v in one order, %+v in another", a, b)
		}
	})
}
