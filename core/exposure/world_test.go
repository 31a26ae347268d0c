package exposure

import (
	"math"
	"strconv"
	"strings"
	"time"

	"brinefield/core/study"
)

// world is a small study over an insulating half-space: pair A at the origin
// along +x and pair B at x = 80 cm along +y, 1 cm apart, 6 µA, water of 4 S/m.
// Trial 0 drives A, trial 1 drives B, trial 2 is silent, trial 3 sealed,
// trial 4 drives both.
type world struct {
	tb tester
	s  *study.Study
}

const worldSigma = 4.0

func newWorld(tb tester) *world {
	trial := func(id string, pairs ...int) study.Trial {
		return study.Trial{ID: id, ActivePairs: pairs, CurrentA: study.Some(6e-6)}
	}
	s := &study.Study{
		Site:     study.Site{DepthM: 50},
		Analysis: study.Analysis{PassRadiusM: 0.16, ReactionTimeS: study.Some(0.1)},
		Pairs:    []study.Pair{{Label: "A", SeparationM: 0.01}, {Label: "B", CentreXM: 0.8, AzimuthDeg: 90, SeparationM: 0.01}},
		Species:  []study.Species{{Name: "Scyliorhinus canicula"}, {Name: "Raja clavata"}},
		Trials:   []study.Trial{trial("T1", 0), trial("T2", 1), trial("T3"), trial("T4"), trial("T5", 0, 1)},
	}
	s.Trials[3].Sealed = true
	return &world{tb, s}
}

// swim adds a pass of trial 0 at pair A that did not turn, with a track of one
// point written as "t x y height, t x y height", seconds and cm; a height may
// be ? or a range like 2~5. An empty text adds no track.
func (w *world) swim(track string, change ...func(*study.Pass)) int {
	w.tb.Helper()
	i := len(w.s.Passes)
	p := study.Pass{
		ID: "P" + strconv.Itoa(i+1), Turned: study.No, Bit: study.No, Individual: "SC01",
		Time: time.Date(2025, 7, 1, 12, i, 0, 0, time.UTC),
	}
	for _, f := range change {
		f(&p)
	}
	w.s.Passes = append(w.s.Passes, p)
	if track != "" {
		w.s.Tracks = append(w.s.Tracks, study.Track{Pass: i, Points: []study.PointTrack{{Fixes: w.fixes(track)}}})
	}
	return i
}

// point adds a named point of the head to the last track.
func (w *world) point(name, track string) {
	t := &w.s.Tracks[len(w.s.Tracks)-1]
	t.Points = append(t.Points, study.PointTrack{Name: name, Fixes: w.fixes(track)})
}

func (w *world) fixes(track string) []study.Fix {
	w.tb.Helper()
	cm := func(text string) float64 { return w.num(text) / 100 }
	var out []study.Fix
	for row := range strings.SplitSeq(track, ",") {
		cell := strings.Fields(row)
		if len(cell) != 4 {
			w.tb.Fatalf("row %q: want four cells", row)
		}
		f := study.Fix{TimeS: w.num(cell[0]), XM: cm(cell[1]), YM: cm(cell[2])}
		if lo, hi, ranged := strings.Cut(cell[3], "~"); ranged {
			f.HeightLowM, f.HeightHighM = study.Some(cm(lo)), study.Some(cm(hi))
		} else if cell[3] != "?" {
			f.HeightM = study.Some(cm(cell[3]))
		}
		out = append(out, f)
	}
	return out
}

func (w *world) num(text string) float64 {
	w.tb.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		w.tb.Fatal(err)
	}
	return v
}

func (w *world) fields() *Fields {
	return shallowFields(w.tb, w.s, worldSigma, math.Inf(1))
}

func (w *world) compute() []Exposure {
	w.tb.Helper()
	out, _, err := Compute(w.s, w.fields(), Options{})
	if err != nil {
		w.tb.Fatal(err)
	}
	return out
}

func (w *world) warnings() string {
	w.tb.Helper()
	_, warnings, err := Compute(w.s, w.fields(), Options{})
	if err != nil {
		w.tb.Fatal(err)
	}
	return strings.Join(warnings, "\n")
}

// only computes a world of one pass.
func (w *world) only() Exposure {
	w.tb.Helper()
	out := w.compute()
	if len(out) != 1 {
		w.tb.Fatalf("%d passes, want 1", len(out))
	}
	return out[0]
}

// fieldOf is the closed-form magnitude of pairs at 6 µA, at a place in cm.
func (w *world) fieldOf(x, y, z float64, pairs ...int) float64 {
	var sum vec
	for _, i := range pairs {
		e := electrodesOf(&w.s.Pairs[i])
		ex, ey, ez := shallow{worldSigma, math.Inf(1), e[0].at, e[1].at}.At(x/100, y/100, z/100)
		sum = sum.plus(vec{ex, ey, ez}.times(6e-6))
	}
	return sum.length()
}

// finely searches the largest field of pair A on a straight line in cm by
// looking everywhere, and then everywhere beside each place that could still
// be the largest: an answer that shares nothing with the search under test.
func (w *world) finely(ax, ay, az, bx, by, bz float64) float64 {
	const n = 40000
	at := func(s float64) float64 {
		return w.fieldOf(ax+s*(bx-ax), ay+s*(by-ay), az+s*(bz-az), 0)
	}
	values := make([]float64, n+1)
	best := 0.0
	for k := range values {
		values[k] = at(float64(k) / n)
		best = math.Max(best, values[k])
	}
	coarse := best
	for k, v := range values {
		if v < 0.999*coarse {
			continue
		}
		for j := -100; j <= 100; j++ {
			s := math.Min(math.Max((float64(k)+float64(j)/100)/n, 0), 1)
			best = math.Max(best, at(s))
		}
	}
	return best
}

// Changes to a pass.

func turned(onset float64) func(*study.Pass) {
	return func(p *study.Pass) { p.Turned, p.OnsetS = study.Yes, study.Some(onset) }
}

func turnedSometime(p *study.Pass) { p.Turned = study.Yes }

func inTrial(t int) func(*study.Pass) { return func(p *study.Pass) { p.Trial = t } }

func atPair(i int) func(*study.Pass) { return func(p *study.Pass) { p.Pair = i } }

func visit(v string) func(*study.Pass) { return func(p *study.Pass) { p.Visit = v } }

// tester is the part of testing.TB that rapid offers as well.
type tester interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
	Errorf(format string, args ...any)
}
