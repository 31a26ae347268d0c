package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"sync"

	"brinefield/core/footage"
	"brinefield/core/journal"
	"brinefield/core/study"
)

// chapterRecord is one file of a clip as the record of its footage keeps it.
type chapterRecord struct {
	Name        string   `json:"name"`
	SHA256      string   `json:"sha256"`
	Bytes       int64    `json:"bytes"`
	Frames      int      `json:"frames"`
	FirstPTS    int64    `json:"first_pts"`
	LastPTS     int64    `json:"last_pts"`
	TimeBase    [2]int64 `json:"time_base"`
	WidthPx     int      `json:"width_px"` // as it is stored
	HeightPx    int      `json:"height_px"`
	Codec       string   `json:"codec"`
	RotationDeg int      `json:"rotation_deg"`
	Made        string   `json:"made"`
}

// chaptersOf reads the chapters of a footage record; nil where there is no record.
func chaptersOf(st *journal.State) ([]chapterRecord, error) {
	if st == nil || st.Fields["chapters"] == "" {
		return nil, nil
	}
	var list []chapterRecord
	if err := json.Unmarshal([]byte(st.Fields["chapters"]), &list); err != nil {
		return nil, fmt.Errorf("the list of files of the clip %s cannot be read (%w): a newer program may have written it", st.ID, err)
	}
	return list, nil
}

// chaptersText is how a record keeps chapters.
func chaptersText(list []chapterRecord) (string, error) {
	text, err := json.Marshal(list)
	return string(text), err
}

// footageState are the parts of a study's footage that live in this window only.
type footageState struct {
	mu     sync.Mutex
	seen   map[string]*probedSummary // by hash
	recent []recentProbe             // newest first
	work   footageWork
}

type recentProbe struct {
	sha256 string
	*Probed
}

// mostProbes is how many lists of frame times are held in memory: those of a
// clip of several chapters.
const mostProbes = 6

// probedSummary is what the list of clips needs of a file's frame times.
type probedSummary struct {
	frames   int
	spanS    float64 // from the first frame to the last
	medianS  float64 // interval
	variable bool
	gaps     [][2]float64 // seconds since its first frame
	notes    []string

	needsProxy string // why a browser cannot step through the file; "" where it can
}

var errNoFootageFiles = errors.New("this study keeps no files of footage here")

func (s *Study) footageFiles() (FootageFiles, error) {
	if s.folder.Footage == nil {
		return nil, errNoFootageFiles
	}
	return s.folder.Footage, nil
}

// probedOf are the frame times of a file, as they were read when it was imported.
//
// Errors: one that wraps fs.ErrNotExist where they are not on this machine.
func (s *Study) probedOf(sha256 string) (*Probed, error) {
	files, err := s.footageFiles()
	if err != nil {
		return nil, err
	}
	f := &s.footage
	f.mu.Lock()
	defer f.mu.Unlock()
	for i, r := range f.recent {
		if r.sha256 == sha256 {
			f.recent = slices.Insert(slices.Delete(f.recent, i, i+1), 0, r)
			return r.Probed, nil
		}
	}
	p, err := files.Probed(sha256)
	if err == nil {
		err = checkProbed(p)
	}
	if err != nil {
		return nil, err
	}
	f.recent = slices.Insert(f.recent, 0, recentProbe{sha256, p})
	f.recent = f.recent[:min(len(f.recent), mostProbes)]
	return p, nil
}

// summaryOf is what the list shows of a chapter's times: as they were read, or, on
// a machine that never had the file, as far as the record tells.
func (s *Study) summaryOf(c chapterRecord) (*probedSummary, error) {
	s.footage.mu.Lock()
	known := s.footage.seen[c.SHA256]
	s.footage.mu.Unlock()
	if known != nil {
		return known, nil
	}
	p, err := s.probedOf(c.SHA256)
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, errNoFootageFiles) {
		return summaryOfRecord(c), nil
	}
	if err != nil {
		return nil, err
	}
	sum := s.summaryOfProbed(p)
	s.footage.mu.Lock()
	defer s.footage.mu.Unlock()
	if s.footage.seen == nil {
		s.footage.seen = map[string]*probedSummary{}
	}
	s.footage.seen[c.SHA256] = sum
	return sum, nil
}

// footageRecords are the clips of the season and of the footage, in the season's
// order; those that the season does not name at the end.
type footageRecord struct {
	id       string
	season   *journal.State // nil: the season names no such clip
	footage  *journal.State // nil: no files were imported
	chapters []chapterRecord
}

func (s *Study) footageRecords(ctx context.Context) ([]footageRecord, error) {
	states, err := s.folder.Journal.States(ctx, study.KindClip, study.KindFootage)
	if err != nil {
		return nil, err
	}
	var out []footageRecord
	at := map[string]int{}
	for i := range states {
		st := &states[i]
		n, ok := at[st.ID]
		if !ok {
			n = len(out)
			at[st.ID] = n
			out = append(out, footageRecord{id: st.ID})
		}
		if st.Kind == study.KindClip {
			out[n].season = st
			continue
		}
		out[n].footage = st
		if out[n].chapters, err = chaptersOf(st); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// footageClips are the clips as far as their files tell: chapters, places,
// proxies, frames and what the season says of their start. ETag, clock, events,
// poses and passes are left to the caller.
func (s *Study) footageClips(ctx context.Context) ([]FootageClip, error) {
	records, err := s.footageRecords(ctx)
	if err != nil {
		return nil, err
	}
	s.checkUnsure(records)
	out := make([]FootageClip, 0, len(records))
	for _, r := range records {
		c, err := s.footageClip(r)
		if err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	return out, nil
}

// checkUnsure has those files read again that were written since they were
// imported. What keeps it from being done now is told when the page asks again.
func (s *Study) checkUnsure(records []footageRecord) {
	files, err := s.footageFiles()
	if err != nil || s.folder.ReadOnly {
		return
	}
	var jobs []*footageJob
	for _, r := range records {
		for _, c := range r.chapters {
			if _, state := files.Place(c.SHA256); state == PlaceUnsure {
				jobs = append(jobs, &footageJob{What: jobCheck, Clip: r.id, File: c.Name, SHA256: c.SHA256})
			}
		}
	}
	if len(jobs) > 0 {
		_ = s.addJobs(jobs...)
	}
}

func (s *Study) footageClip(r footageRecord) (FootageClip, error) {
	v := FootageClip{
		Clip: r.id, Gaps: [][2]float64{}, Chapters: []FootageChapter{}, Notes: []string{}, Sync: []FootageSync{}, Poses: []FootagePose{}, Passes: []string{},
	}
	if r.season != nil {
		v.Start = r.season.Fields["start"]
	}
	if r.footage != nil {
		v.Notes = append(v.Notes, notesOf(r.footage.Fields["note"])...)
	}
	sums := make([]*probedSummary, len(r.chapters))
	for i, c := range r.chapters {
		var err error
		if sums[i], err = s.summaryOf(c); err != nil {
			return v, err
		}
	}
	for i, c := range r.chapters {
		sum := sums[i]
		_, state := s.placeOf(c.SHA256)
		v.Chapters = append(v.Chapters, FootageChapter{
			Name: c.Name, SHA256: c.SHA256, Bytes: c.Bytes, Frames: c.Frames, FromFrame: v.Frames, FromS: v.DurationS, Place: state, Proxy: s.proxyOf(c),
		})
		for _, gap := range sum.gaps {
			v.Gaps = append(v.Gaps, [2]float64{v.DurationS + gap[0], v.DurationS + gap[1]})
		}
		for _, note := range sum.notes {
			v.Notes = append(v.Notes, c.Name+": "+note)
		}
		v.Frames += c.Frames
		v.DurationS += sum.spanS + lastsS(sums, i)
		v.Variable = v.Variable || sum.variable
	}
	if len(r.chapters) > 0 {
		first := r.chapters[0]
		v.WidthPx, v.HeightPx, v.Codec, v.RotationDeg = first.WidthPx, first.HeightPx, first.Codec, first.RotationDeg
		if first.RotationDeg%180 != 0 {
			v.WidthPx, v.HeightPx = v.HeightPx, v.WidthPx
		}
		if median := lastsS(sums, 0); median > 0 {
			v.FrameRateHz = new(1 / median)
		}
	}
	return v, nil
}

// lastsS is how long the last frame of a chapter is shown, seconds: its median
// interval, as [footage.Join] counts it.
func lastsS(sums []*probedSummary, i int) float64 {
	for away := range sums {
		for _, j := range []int{i - away, i + away} {
			if j >= 0 && j < len(sums) && sums[j].frames > 1 {
				return sums[j].medianS
			}
		}
	}
	return 0
}

// notesOf are the lines of a note.
func notesOf(text string) []string {
	var out []string
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	return out
}

// placeOf is where a file is, as the page says it: what is being looked at counts
// as where it was.
func (s *Study) placeOf(sha256 string) (path, state string) {
	files, err := s.footageFiles()
	if err != nil {
		return "", PlaceMissing
	}
	path, state = files.Place(sha256)
	if state == PlaceUnsure {
		state = PlaceReference
	}
	return path, state
}

func (s *Study) summaryOfProbed(p *Probed) *probedSummary {
	t := footage.Times{TimeBase: p.TimeBase, PTS: p.PTS}
	sum := &probedSummary{
		frames: len(p.PTS), spanS: t.SecondsOf(len(p.PTS) - 1), medianS: t.MedianS(), variable: t.Variable(), gaps: t.Gaps(), notes: p.Notes,
	}
	if s.options.Media != nil {
		if needed, why := s.options.Media.NeedsProxy(p); needed {
			sum.needsProxy = why
		}
	}
	return sum
}

// checkProbed refuses frame times that nothing can be reckoned with.
func checkProbed(p *Probed) error {
	if p == nil || p.WidthPx <= 0 || p.HeightPx <= 0 {
		return errors.New("the frame times that were read say no size of the picture: read the file again")
	}
	if err := (footage.Times{TimeBase: p.TimeBase, PTS: p.PTS}).Check(); err != nil {
		return fmt.Errorf("the frame times that were read cannot be used: %w", err)
	}
	return nil
}

// summaryOfRecord is what a record alone tells: an even rate.
func summaryOfRecord(c chapterRecord) *probedSummary {
	sum := &probedSummary{frames: c.Frames}
	if c.TimeBase[1] > 0 && c.LastPTS > c.FirstPTS {
		sum.spanS = float64(c.LastPTS-c.FirstPTS) * float64(c.TimeBase[0]) / float64(c.TimeBase[1])
	}
	if c.Frames > 1 {
		sum.medianS = sum.spanS / float64(c.Frames-1)
	}
	sum.notes = []string{"the times of its frames are not on this machine: they are read again when its file is found here"}
	return sum
}

// footageOutside counts the files of clips that are not copied into the study.
func (s *Study) footageOutside(ctx context.Context) (int, error) {
	records, err := s.footageRecords(ctx)
	n := 0
	for _, r := range records {
		for _, c := range r.chapters {
			if _, state := s.placeOf(c.SHA256); state != PlaceCopy {
				n++
			}
		}
	}
	return n, err
}
