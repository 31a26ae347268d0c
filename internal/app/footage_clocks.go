package app

import (
	"math"
	"strconv"
	"time"

	"brinefield/core/footage"
	"brinefield/core/study"
)

// clipClock is a clip's time line against the trial's clock, as far as its record
// tells: frames are taken for evenly spread over each file. Lists of all passes
// are made with it, for which no list of frame times is read.
type clipClock struct {
	id    string
	start time.Time
	footage.Clock
	parts     []clipPart
	durationS float64
}

type clipPart struct {
	fromFrame, frames int
	fromS, spanS      float64 // to its last frame
}

type clipClocks struct {
	list []clipClock
	at   map[string]int
	zone *time.Location
}

// clipClocks are those of all clips that say when they began.
func (s *Study) clipClocks(a *Assembled) *clipClocks {
	c := &clipClocks{at: map[string]int{}}
	for i := range a.Study.Clips {
		clip := &a.Study.Clips[i]
		if clip.Start.IsZero() {
			continue
		}
		one := clipClock{id: clip.ID, start: clip.Start, Clock: footage.Clock{OffsetS: clip.ClockOffsetS.Or(0), DriftPPM: clip.DriftPPM.Or(0)}}
		if chapters, err := chaptersOf(a.current.state(footageName(clip.ID))); err == nil {
			one.layOut(chapters)
		}
		c.at[clip.ID] = len(c.list)
		c.list = append(c.list, one)
	}
	if c.zone = a.Study.Site.Zone; c.zone == nil {
		c.zone = time.UTC
	}
	return c
}

func (c *clipClock) layOut(chapters []chapterRecord) {
	frame := 0
	for _, r := range chapters {
		sum := summaryOfRecord(r)
		if r.Frames < 1 || finite(sum.spanS) == nil || sum.spanS < 0 {
			return
		}
		c.parts = append(c.parts, clipPart{fromFrame: frame, frames: r.Frames, fromS: c.durationS, spanS: sum.spanS})
		frame += r.Frames
		c.durationS += sum.spanS + sum.medianS
	}
}

// holds reports whether a moment of the clip is within its files.
func (c *clipClock) holds(clipS float64) bool {
	return len(c.parts) > 0 && clipS >= 0 && clipS <= c.durationS
}

// frameAt is about which frame is shown at a moment.
func (c *clipClock) frameAt(clipS float64) int {
	i := len(c.parts) - 1
	for i > 0 && c.parts[i].fromS > clipS {
		i--
	}
	p := c.parts[i]
	within := 0.0
	if p.spanS > 0 {
		within = math.Floor((clipS-p.fromS)/p.spanS*float64(p.frames-1) + 1e-6)
	}
	return p.fromFrame + int(math.Max(0, math.Min(within, float64(p.frames-1))))
}

// passPlace is where a pass lies in a clip: its name, and seconds of the clip where
// they are known.
type passPlace struct {
	clip       string
	clock      *clipClock // nil: the pass's time does not fall into the clip
	start, end study.Opt[float64]
}

// of is the clip that a pass names, or into whose time it falls.
func (c *clipClocks) of(current *standingRecords, pass string) passPlace {
	fields := recordFields(current, recordName{study.KindPass, pass})
	out := passPlace{clip: fields["clip"]}
	at, ok := passTime(fields["time"], c.zone)
	if !ok {
		return out
	}
	if i, there := c.at[out.clip]; there {
		out.clock = &c.list[i]
	}
	for i := range c.list {
		if one := &c.list[i]; out.clip == "" && one.holds(one.ClipS(one.start, at)) {
			out.clip, out.clock = one.id, one
		}
	}
	if out.clock == nil {
		return out
	}
	clipS := out.clock.ClipS(out.clock.start, at)
	if !out.clock.holds(clipS) {
		out.clock = nil
		return out
	}
	out.start = study.Some(clipS)
	if watched, err := strconv.ParseFloat(fields["watched_s"], 64); err == nil && watched > 0 && watched < 1e6 {
		out.end = study.Some(clipS + watched)
	}
	return out
}

// frames are those at which it begins and ends: exact with the clip's times, about
// right without.
func (p *passPlace) frames(times *footage.Clip) (start, end *int) {
	frame := func(at study.Opt[float64]) *int {
		if !at.Known || p.clock == nil {
			return nil
		}
		n := p.clock.frameAt(at.Value)
		if times != nil {
			n = times.FrameAt(at.Value)
		}
		return &n
	}
	return frame(p.start), frame(p.end)
}
