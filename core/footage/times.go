// Package footage is what a frame of a clip is in time and what was measured in
// it: the times of its frames, the clip's clock against the trial's, the fixes
// that people place, and the track that they make.
package footage

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"slices"
	"sort"
)

// Times are the presentation times of every frame of one file, in its own units.
// Their methods ask for times that [Times.Check] found right.
type Times struct {
	TimeBase [2]int64 // seconds per unit, as a fraction
	PTS      []int64  // increasing
}

// GapFactor is how many median intervals make a gap (format 1 of `footage probe`).
const GapFactor = 1.5

// longestS is some 300 years, seconds: cameras may count from 1970.
const longestS = 1e10

// Check says what is wrong with the times of a file: no frame, a time base that
// is no fraction of seconds, or times that do not increase.
func (t Times) Check() error {
	num, den := t.TimeBase[0], t.TimeBase[1]
	if num <= 0 || den <= 0 || num > math.MaxInt32 || den > math.MaxInt32 {
		return fmt.Errorf("the unit of time is %d/%d s; both numbers must lie between 1 and %d", num, den, math.MaxInt32)
	}
	if len(t.PTS) == 0 {
		return errors.New("there is no frame")
	}
	for i := 1; i < len(t.PTS); i++ {
		if t.PTS[i] <= t.PTS[i-1] {
			return fmt.Errorf("frame %d is at %d units and frame %d at %d; times must increase", i-1, t.PTS[i-1], i, t.PTS[i])
		}
	}
	for _, at := range []int64{t.PTS[0], t.PTS[len(t.PTS)-1]} {
		if s := float64(at) * float64(num) / float64(den); math.Abs(s) > longestS {
			return fmt.Errorf("a time of %d units is %.0f s, which no clock of a camera shows", at, s)
		}
	}
	return nil
}

// Count is the number of frames.
func (t Times) Count() int { return len(t.PTS) }

// SecondsOf is how long after the first frame of the file a frame is shown,
// seconds, rounded once. frame must be one of the file.
func (t Times) SecondsOf(frame int) float64 {
	return t.seconds(t.PTS[frame] - t.PTS[0])
}

func (t Times) seconds(units int64) float64 {
	num, den := t.TimeBase[0], t.TimeBase[1]
	hi, lo := bits.Mul64(uint64(max(units, -units)), uint64(num))
	var s float64
	if hi == 0 && lo < 1<<53 { // the product is exact, so that the division is the one rounding
		s = float64(lo) / float64(den)
	} else {
		s = float64(max(units, -units)) * (float64(num) / float64(den))
	}
	return math.Copysign(s, float64(units))
}

// FrameAt is the frame that is shown at a moment, seconds after the first: the
// last that is not later. Before the first it is the first, after the last the last.
func (t Times) FrameAt(seconds float64) int {
	after := sort.Search(len(t.PTS), func(i int) bool { return t.SecondsOf(i) > seconds })
	return max(after-1, 0)
}

// median2 is twice the median interval between frames, in units of the file; 0
// where there are fewer than two frames.
func (t Times) median2() int64 {
	n := len(t.PTS) - 1
	if n < 1 {
		return 0
	}
	d := make([]int64, n)
	for i := range d {
		d[i] = t.PTS[i+1] - t.PTS[i]
	}
	slices.Sort(d)
	return addUpTo(d[(n-1)/2], d[n/2])
}

// addUpTo is a sum that stays at the largest number rather than turn over.
func addUpTo(a, b int64) int64 {
	if a > math.MaxInt64-b {
		return math.MaxInt64
	}
	return a + b
}

// MedianS is the median interval between frames, seconds (of an even number of
// intervals the mean of the middle two); 0 where there are fewer than two frames.
func (t Times) MedianS() float64 { return t.seconds(t.median2()) / 2 }

// gap is whether an interval is above [GapFactor] times half of twice the median.
func gap(interval, median2 int64) bool {
	hi, lo := bits.Mul64(uint64(interval), 4) // interval > 1.5·median2/2 in whole numbers
	hi2, lo2 := bits.Mul64(uint64(median2), 3)
	return hi > hi2 || hi == hi2 && lo > lo2
}

// Gaps are the intervals above [GapFactor] times the median, each from the frame
// before to the frame after it, seconds after the first frame. It is never nil.
func (t Times) Gaps() [][2]float64 {
	gaps := [][2]float64{}
	median2 := t.median2()
	for i := 1; i < len(t.PTS); i++ {
		if gap(t.PTS[i]-t.PTS[i-1], median2) {
			gaps = append(gaps, [2]float64{t.SecondsOf(i - 1), t.SecondsOf(i)})
		}
	}
	return gaps
}

// Variable is whether the intervals differ by more than what rounding to the
// file's units makes of a constant rate: whether one that is no gap lies more than
// one unit from the median.
func (t Times) Variable() bool {
	median2 := t.median2()
	for i := 1; i < len(t.PTS); i++ {
		d := t.PTS[i] - t.PTS[i-1]
		if !gap(d, median2) && d < math.MaxInt64/2 && (2*d-median2 > 2 || median2-2*d > 2) {
			return true
		}
	}
	return false
}

// Runs are the intervals between frames, in units of the file, each with how often
// it follows itself: short where the rate is constant, and exact always.
func (t Times) Runs() [][2]int64 {
	runs := [][2]int64{}
	for i := 1; i < len(t.PTS); i++ {
		d := t.PTS[i] - t.PTS[i-1]
		if n := len(runs); n > 0 && runs[n-1][0] == d {
			runs[n-1][1]++
			continue
		}
		runs = append(runs, [2]int64{d, 1})
	}
	return runs
}

// MaxFrames is how many frames a file may have: ten hours at 60 a second are
// 2.16 million.
const MaxFrames = 3_000_000

// FromRuns is the opposite of [Times.Runs].
func FromRuns(timeBase [2]int64, first int64, runs [][2]int64) (Times, error) {
	t := Times{TimeBase: timeBase, PTS: []int64{first}}
	for i, r := range runs {
		if r[0] <= 0 || r[1] <= 0 {
			return Times{}, fmt.Errorf("run %d: interval %d, %d times; both must be above 0", i, r[0], r[1])
		}
		if r[1] > int64(MaxFrames-len(t.PTS)) {
			return Times{}, fmt.Errorf("run %d makes more than %d frames", i, MaxFrames)
		}
		for range r[1] {
			last := t.PTS[len(t.PTS)-1]
			if last > math.MaxInt64-r[0] {
				return Times{}, fmt.Errorf("run %d: the times grow beyond what can be counted", i)
			}
			t.PTS = append(t.PTS, last+r[0])
		}
	}
	return t, t.Check()
}

// Clip is the time line of chapters that follow each other.
type Clip struct {
	chapters  []Times
	fromFrame []int     // of each chapter, counted through the clip
	fromS     []float64 // seconds of the clip at its first frame
	frames    int
	durationS float64
}

// Join puts the chapters of a clip on one time line: a chapter begins where the
// last frame of the one before ends, and that frame lasts as long as its chapter's
// median interval. A chapter of a single frame lasts as long as the median
// interval of the nearest chapter that has one.
func Join(chapters []Times) (*Clip, error) {
	if len(chapters) == 0 {
		return nil, errors.New("a clip has at least one chapter")
	}
	c := &Clip{chapters: chapters}
	for i, t := range chapters {
		if err := t.Check(); err != nil {
			return nil, fmt.Errorf("chapter %d: %w", i+1, err)
		}
		c.fromFrame = append(c.fromFrame, c.frames)
		c.fromS = append(c.fromS, c.durationS)
		c.frames += len(t.PTS)
		c.durationS += t.SecondsOf(len(t.PTS)-1) + lasts(chapters, i)
	}
	return c, nil
}

// lasts is how long the last frame of a chapter is shown, seconds; 0 where no
// chapter has two frames.
func lasts(chapters []Times, i int) float64 {
	for away := range len(chapters) {
		for _, j := range []int{i - away, i + away} {
			if j >= 0 && j < len(chapters) && len(chapters[j].PTS) > 1 {
				return chapters[j].MedianS()
			}
		}
	}
	return 0
}

// Count is the number of frames of all chapters.
func (c *Clip) Count() int { return c.frames }

// DurationS is from the first frame to the end of the last, seconds.
func (c *Clip) DurationS() float64 { return c.durationS }

// FromFrame is the first frame of a chapter, counted through the clip.
func (c *Clip) FromFrame(chapter int) int { return c.fromFrame[chapter] }

// FromS is when a chapter begins, seconds of the clip.
func (c *Clip) FromS(chapter int) float64 { return c.fromS[chapter] }

// ChapterOf is the chapter that holds a frame of the clip, and the frame counted
// in it. A frame before the first or after the last is taken for that one.
func (c *Clip) ChapterOf(frame int) (chapter, within int) {
	frame = min(max(frame, 0), c.frames-1)
	at, found := slices.BinarySearchFunc(c.fromFrame, frame, cmp.Compare)
	if !found {
		at--
	}
	return at, frame - c.fromFrame[at]
}

// SecondsOf is when a frame of the clip is shown: seconds from the first frame of
// the first chapter. A frame before the first or after the last is taken for that one.
func (c *Clip) SecondsOf(frame int) float64 {
	chapter, within := c.ChapterOf(frame)
	return c.fromS[chapter] + c.chapters[chapter].SecondsOf(within)
}

// FrameAt is the frame that is shown at a moment of the clip: the last that is not
// later, or the first or the last.
func (c *Clip) FrameAt(seconds float64) int {
	after := sort.Search(c.frames, func(i int) bool { return c.SecondsOf(i) > seconds })
	return max(after-1, 0)
}

// MedianS is the median interval of the chapter with the most frames, seconds; 0
// where no chapter has two frames.
func (c *Clip) MedianS() float64 {
	most := slices.MaxFunc(c.chapters, func(a, b Times) int { return cmp.Compare(len(a.PTS), len(b.PTS)) })
	return most.MedianS()
}

// Gaps are those of all chapters, seconds of the clip. Between chapters there is
// none that can be known.
func (c *Clip) Gaps() [][2]float64 {
	gaps := [][2]float64{}
	for i, t := range c.chapters {
		for _, g := range t.Gaps() {
			gaps = append(gaps, [2]float64{c.fromS[i] + g[0], c.fromS[i] + g[1]})
		}
	}
	return gaps
}

// Variable is whether the rate of a chapter varies, see [Times.Variable].
func (c *Clip) Variable() bool { return slices.ContainsFunc(c.chapters, Times.Variable) }
