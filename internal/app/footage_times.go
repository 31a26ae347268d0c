package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"sync"

	"brinefield/core/footage"
)

// errNoTimes says that the frames of a clip cannot be counted on this machine.
var errNoTimes = errors.New("the times of its frames are not on this laptop: import its files here, or find them")

// footageWorked is what was worked out of footage while a study is open. It is
// made again from the records at any time.
type footageWorked struct {
	mu     sync.Mutex
	clips  map[string]*footage.Clip // by the hashes of the chapters
	poses  map[string]*fittedPose   // by what they are made of
	fields map[string]*onceFields   // by the water, the pairs and the region
	events map[string]float64       // seconds of the clip, by its record and the frame
}

// The most that is kept of each kind; beyond it everything of the kind is dropped.
const (
	mostJoined = 8
	mostFitted = 512
	mostFields = 8
	mostTimed  = 10_000
)

// clipTimes is the time line of a clip. The errors say in words why there is none:
// [ErrNoClip]; no files; files whose frame times are not on this machine.
func (s *Study) clipTimes(current *standingRecords, clip string) (*footage.Clip, error) {
	st := current.state(footageName(clip))
	if st == nil && current.state(clipName(clip)) == nil {
		return nil, fmt.Errorf("%w: %q", ErrNoClip, clip)
	}
	chapters, err := chaptersOf(st)
	if err != nil {
		return nil, err
	}
	if len(chapters) == 0 {
		return nil, fmt.Errorf("clip %s has no files in this study yet: import them on the page Footage", clip)
	}
	var key strings.Builder
	for _, c := range chapters {
		key.WriteString(c.SHA256 + "\n")
	}
	w := &s.worked
	w.mu.Lock()
	known := w.clips[key.String()]
	w.mu.Unlock()
	if known != nil {
		return known, nil
	}
	times := make([]footage.Times, len(chapters))
	for i, c := range chapters {
		p, err := s.probedOf(c.SHA256)
		if errors.Is(err, fs.ErrNotExist) || errors.Is(err, errNoFootageFiles) {
			return nil, fmt.Errorf("clip %s: %w", clip, errNoTimes)
		}
		if err != nil {
			return nil, fmt.Errorf("the frame times of %s: %w", c.Name, err)
		}
		times[i] = footage.Times{TimeBase: p.TimeBase, PTS: p.PTS}
	}
	joined, err := footage.Join(times)
	if err != nil {
		return nil, fmt.Errorf("clip %s: %w", clip, err)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.clips == nil || len(w.clips) >= mostJoined {
		w.clips = map[string]*footage.Clip{}
	}
	w.clips[key.String()] = joined
	return joined, nil
}

// eventS is when an event's frame is shown, seconds of the clip, for the list of
// clips, which is asked for every second while files are worked on.
func (s *Study) eventS(current *standingRecords, clip string, frame int) (float64, bool) {
	st := current.state(footageName(clip))
	if st == nil {
		return 0, false
	}
	key := fmt.Sprintf("%s %s %d", clip, st.Last, frame)
	w := &s.worked
	w.mu.Lock()
	at, known := w.events[key]
	w.mu.Unlock()
	if known {
		return at, true
	}
	times, err := s.clipTimes(current, clip)
	if err != nil || frame >= times.Count() {
		return 0, false
	}
	at = times.SecondsOf(frame)
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.events == nil || len(w.events) >= mostTimed {
		w.events = map[string]float64{}
	}
	w.events[key] = at
	return at, true
}

// FootageFrames gives the times of every frame of a clip.
//
// Errors: [ErrNoClip]; one that says why they are not known here.
func (s *Study) FootageFrames(ctx context.Context, clip string) (FootageFrames, error) {
	out := FootageFrames{Clip: clip, Chapters: []FootageChapterFrames{}}
	current, err := s.current(ctx)
	if err != nil {
		return out, err
	}
	joined, err := s.clipTimes(current, clip)
	if err != nil {
		return out, err
	}
	chapters, err := chaptersOf(current.state(footageName(clip)))
	if err != nil {
		return out, err
	}
	for i, c := range chapters {
		p, err := s.probedOf(c.SHA256)
		if err != nil {
			return out, fmt.Errorf("the frame times of %s: %w", c.Name, err)
		}
		t := footage.Times{TimeBase: p.TimeBase, PTS: p.PTS}
		keys := p.Keyframes
		if keys == nil {
			keys = []int{}
		}
		out.Chapters = append(out.Chapters, FootageChapterFrames{
			TimeBase: p.TimeBase, First: p.PTS[0], Runs: t.Runs(), Keyframes: keys, FromFrame: joined.FromFrame(i), FromS: joined.FromS(i),
		})
	}
	return out, nil
}
