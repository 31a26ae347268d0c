package footage_test

import (
	"math"
	"math/big"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/footage"
)

func TestGapsOfAClosedForm(t *testing.T) {
	// 25 a second in units of 1/90000; frames 4 and 5 missing, and one late by just
	// half an interval, which is no gap: "above 1.5 times the median".
	pts := []int64{900, 4500, 8100, 11700, 22500, 26100, 31500}
	got := footage.Times{TimeBase: [2]int64{1, 90000}, PTS: pts}
	if m := got.MedianS(); m != 0.04 {
		t.Errorf("median %v s, want 0.04", m)
	}
	if g := got.Gaps(); !reflect.DeepEqual(g, [][2]float64{{0.12, 0.24}}) {
		t.Errorf("gaps %v", g)
	}
	if !got.Variable() {
		t.Error("an interval of 1.5 medians is no constant rate")
	}
	// Of an even number of intervals the median is the mean of the middle two
	// (3, 3, 4, 6 units: 3.5), so that 6 > 5.25 is a gap and, with 5, none would be.
	even := footage.Times{TimeBase: [2]int64{1, 1}, PTS: []int64{0, 3, 6, 10, 16}}
	if g := even.Gaps(); !reflect.DeepEqual(g, [][2]float64{{10, 16}}) || even.MedianS() != 3.5 {
		t.Errorf("gaps %v, median %v", g, even.MedianS())
	}
}

func TestARateThatRoundingMakesUnevenIsConstant(t *testing.T) {
	var pts []int64
	for i := range int64(600) { // 30000/1001 a second in milliseconds: 33 and 34
		pts = append(pts, int64(math.Round(float64(i)*1001/30)))
	}
	ms := footage.Times{TimeBase: [2]int64{1, 1000}, PTS: pts}
	if ms.Variable() || len(ms.Gaps()) != 0 {
		t.Error("rounding to milliseconds was taken for a variable rate")
	}
	pts[300] += 2
	if !ms.Variable() {
		t.Error("a frame 2 ms late was not seen")
	}
}

func TestChaptersFollowEachOther(t *testing.T) {
	a := footage.Times{TimeBase: [2]int64{1, 10}, PTS: []int64{5, 6, 7, 9}}    // 0, 0.1, 0.2, 0.4; lasts until 0.5
	one := footage.Times{TimeBase: [2]int64{1, 90000}, PTS: []int64{77}}       // as long as a's median
	b := footage.Times{TimeBase: [2]int64{1, 4}, PTS: []int64{-1, 0, 1, 2, 6}} // from 0.6; a gap from 1.35 to 2.35
	c, err := footage.Join([]footage.Times{a, one, b})
	if err != nil {
		t.Fatal(err)
	}
	want := []float64{0, 0.1, 0.2, 0.4, 0.5, 0.6, 0.85, 1.1, 1.35, 2.35}
	for i, s := range want {
		if got := c.SecondsOf(i); math.Abs(got-s) > 1e-12 {
			t.Errorf("frame %d at %v s, want %v", i, got, s)
		}
	}
	if c.Count() != 10 || c.FromFrame(2) != 5 || math.Abs(c.FromS(2)-0.6) > 1e-12 || math.Abs(c.DurationS()-2.6) > 1e-12 {
		t.Errorf("%d frames, chapter 3 from frame %d at %v s, ends %v", c.Count(), c.FromFrame(2), c.FromS(2), c.DurationS())
	}
	if g := c.Gaps(); len(g) != 2 || math.Abs(g[0][0]-0.2) > 1e-12 || math.Abs(g[1][0]-1.35) > 1e-12 || math.Abs(g[1][1]-2.35) > 1e-12 {
		t.Errorf("gaps %v", g)
	}
	for _, far := range []int{-5, 99} {
		if ch, in := c.ChapterOf(far); far < 0 && (ch != 0 || in != 0) || far > 0 && (ch != 2 || in != 4) {
			t.Errorf("frame %d: chapter %d, frame %d", far, ch, in)
		}
	}
}

func TestTimesThatAreNone(t *testing.T) {
	for name, bad := range map[string]footage.Times{
		"no frame":      {TimeBase: [2]int64{1, 25}},
		"no time base":  {PTS: []int64{1}},
		"negative unit": {TimeBase: [2]int64{-1, 25}, PTS: []int64{1}},
		"two at once":   {TimeBase: [2]int64{1, 25}, PTS: []int64{1, 1}},
		"backwards":     {TimeBase: [2]int64{1, 25}, PTS: []int64{3, 1}},
		"too far":       {TimeBase: [2]int64{1, 25}, PTS: []int64{math.MinInt64, math.MaxInt64}},
	} {
		if bad.Check() == nil {
			t.Errorf("%s: not refused", name)
		}
		if _, err := footage.Join([]footage.Times{bad}); err == nil {
			t.Errorf("%s: joined", name)
		}
	}
	for name, runs := range map[string][][2]int64{
		"zero": {{0, 1}}, "never": {{1, 0}}, "too many": {{1, 1 << 40}}, "over the end": {{math.MaxInt64, 2}},
	} {
		if _, err := footage.FromRuns([2]int64{1, 25}, 0, runs); err == nil {
			t.Errorf("runs %s: not refused", name)
		}
	}
	if _, err := footage.Join(nil); err == nil {
		t.Error("no chapters: joined")
	}
}

func drawTimes(t *rapid.T, label string) footage.Times {
	deltas := rapid.SliceOfN(rapid.Int64Range(1, 200000), 0, 60).Draw(t, label)
	v := footage.Times{
		TimeBase: [2]int64{rapid.Int64Range(1, 2000).Draw(t, label+" num"), rapid.Int64Range(1, 1_000_000_000).Draw(t, label+" den")},
		PTS:      []int64{rapid.Int64Range(-1<<20, 1<<20).Draw(t, label+" first")},
	}
	for _, d := range deltas {
		v.PTS = append(v.PTS, v.PTS[len(v.PTS)-1]+d)
	}
	return v
}

// Exact rational arithmetic (math/big) is the outside reference.
func TestSecondsAreTheFractionRoundedOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := drawTimes(t, "times")
		for i := range v.PTS {
			exact := new(big.Rat).SetFrac(
				new(big.Int).Mul(big.NewInt(v.PTS[i]-v.PTS[0]), big.NewInt(v.TimeBase[0])), big.NewInt(v.TimeBase[1]))
			if want, _ := exact.Float64(); v.SecondsOf(i) != want {
				t.Fatalf("frame %d: %v, want %v", i, v.SecondsOf(i), want)
			}
		}
	})
}

func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		chapters := []footage.Times{drawTimes(t, "a"), drawTimes(t, "b"), drawTimes(t, "c")}
		for _, v := range chapters {
			back, err := footage.FromRuns(v.TimeBase, v.PTS[0], v.Runs())
			if err != nil || !reflect.DeepEqual(back, v) {
				t.Fatalf("runs: %v %v", back, err)
			}
			for i := range v.PTS {
				if got := v.FrameAt(v.SecondsOf(i)); got != i {
					t.Fatalf("frame %d of a file came back as %d", i, got)
				}
			}
		}
		c, err := footage.Join(chapters)
		if err != nil {
			t.Fatal(err)
		}
		for i := range c.Count() {
			ch, in := c.ChapterOf(i)
			if c.FromFrame(ch)+in != i {
				t.Fatalf("frame %d: chapter %d, frame %d", i, ch, in)
			}
			// A chapter of one frame beside chapters of none lasts for no time: then the
			// last of those frames is the one that is shown.
			if got := c.FrameAt(c.SecondsOf(i)); got != i && c.SecondsOf(got) != c.SecondsOf(i) {
				t.Fatalf("frame %d of the clip came back as %d", i, got)
			}
			if i > 0 && c.SecondsOf(i) < c.SecondsOf(i-1) {
				t.Fatalf("frame %d is before the one before", i)
			}
		}
	})
}

// The median by ranks, without sorting, is the outside reference.
func TestGapsByTheirDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := drawTimes(t, "times")
		var d []int64
		for i := 1; i < len(v.PTS); i++ {
			d = append(d, v.PTS[i]-v.PTS[i-1])
		}
		ranked := func(rank int) int64 {
			for _, e := range d {
				below, same := 0, 0
				for _, f := range d {
					if f < e {
						below++
					} else if f == e {
						same++
					}
				}
				if below <= rank && rank < below+same {
					return e
				}
			}
			return 0
		}
		want := 0
		for _, e := range d {
			if float64(e) > 1.5*float64(ranked((len(d)-1)/2)+ranked(len(d)/2))/2 {
				want++
			}
		}
		if got := len(v.Gaps()); got != want {
			t.Fatalf("%d gaps, want %d", got, want)
		}
	})
}
