package app

import (
	"bytes"
	"context"
	_ "embed" // of the demo's clip
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"brinefield/core/footage"
	"brinefield/core/optics"
	"brinefield/core/study"
)

// The demo's clip and what is recorded of it are invented; tools/democlip makes
// both, and says how.
var (
	//go:embed demo/north-pair.mp4
	demoClip []byte
	//go:embed demo/footage.json
	demoFootage []byte
)

// DemoFootage is what is recorded of the demo's clip.
type DemoFootage struct {
	Clip         string              `json:"clip"`
	File         string              `json:"file"`
	SHA256       string              `json:"sha256"`
	Bytes        int64               `json:"bytes"`
	Start        string              `json:"start"`
	ClockOffsetS float64             `json:"clock_offset_s"`
	FrameRateHz  float64             `json:"frame_rate_Hz"`
	Passes       []string            `json:"passes"`
	Note         string              `json:"note"`
	Scorer       string              `json:"scorer"`
	CameraName   string              `json:"camera_name"`
	Camera       optics.Camera       `json:"camera"`
	CameraNote   string              `json:"camera_note"`
	Poses        []FootagePoseSpec   `json:"poses"`
	Sync         []FootageEvent      `json:"sync"`
	Probed       Probed              `json:"probed"`
	Fixes        FootageFixesRequest `json:"fixes"`
}

func readDemoFootage() (f DemoFootage, err error) {
	if err = json.Unmarshal(demoFootage, &f); err != nil {
		err = fmt.Errorf("the records of the demo's clip: %w", err)
	}
	return f, err
}

// addDemoClip names the clip in the demo season, and in the passes that it shows.
func addDemoClip(s *study.Study) error {
	f, err := readDemoFootage()
	if err != nil {
		return err
	}
	start, err := time.Parse(time.RFC3339Nano, f.Start)
	if err != nil {
		return err
	}
	s.Clips = append(s.Clips, study.Clip{ID: f.Clip, File: f.File, Start: start, ClockOffsetS: study.Some(f.ClockOffsetS), FrameRateHz: study.Some(f.FrameRateHz)})
	for i := range s.Passes {
		for _, id := range f.Passes {
			if s.Passes[i].ID == id {
				s.Passes[i].Clip = f.Clip
			}
		}
	}
	return nil
}

// AddDemoFootage keeps the demo's clip in the demo study, and writes down its
// camera, clock and pose, and one pass as it was measured in it. The pass keeps the
// track of its season, so that the findings are those of the season; the other pass
// of the clip is left to be measured.
//
// Errors: those of the study's files and of writing.
func (s *Study) AddDemoFootage(ctx context.Context) error {
	f, err := readDemoFootage()
	if err != nil {
		return err
	}
	chapter, err := s.keepDemoClip(ctx, &f)
	if err != nil {
		return err
	}
	chapters, err := chaptersText([]chapterRecord{chapter})
	if err != nil {
		return err
	}
	times, err := footage.Join([]footage.Times{{TimeBase: f.Probed.TimeBase, PTS: f.Probed.PTS}})
	if err != nil {
		return err
	}
	s.write.Lock()
	defer s.write.Unlock()
	e, err := s.footageEdit(ctx, true, demoReason)
	if err != nil {
		return err
	}
	camera := cameraName(f.CameraName)
	if err := e.setFields(ctx, camera, map[string]string{"spec": jsonText(f.Camera), "note": f.CameraNote}); err != nil {
		return err
	}
	if err := e.setFields(ctx, footageName(f.Clip), map[string]string{
		"chapters": chapters, "sync": jsonText(f.Sync), "poses": jsonText(f.Poses), "note": f.Note,
	}); err != nil {
		return err
	}
	was, err := readMeasured(f.Fixes.Pass, nil)
	if err != nil {
		return err
	}
	f.Fixes.Author = f.Scorer
	m := requested(&f.Fixes, was, times)
	l := m.locate(e.from.current, times, s.posesOf(e.from.current, f.Clip, f.Poses, e.after[camera]))
	m.keepFilled(&l)
	if _, err := e.take(ctx, fixesName(m.pass)); err != nil {
		return err
	}
	e.after[fixesName(m.pass)] = m.record()
	return s.writeFootage(ctx, e, f.Scorer)
}

// demoReason stands at the entries that come with the demo's clip.
const demoReason = "invented with the demo study"

// keepDemoClip copies the clip into the study. Its frame times come with it: the
// demo needs no other program.
func (s *Study) keepDemoClip(ctx context.Context, f *DemoFootage) (chapterRecord, error) {
	files, err := s.footageFiles()
	if err != nil {
		return chapterRecord{}, err
	}
	token, err := files.Upload(ctx, f.File, int64(len(demoClip)), bytes.NewReader(demoClip))
	if err != nil {
		return chapterRecord{}, err
	}
	where, err := files.Uploaded(token)
	if err != nil {
		return chapterRecord{}, err
	}
	sha, size, _, err := files.Copy(ctx, where, func(float64) {})
	if err = errors.Join(err, files.DropUpload(token)); err != nil {
		return chapterRecord{}, err
	}
	if sha != f.SHA256 {
		return chapterRecord{}, fmt.Errorf("the demo's clip is not the one that its records were made with: its hash is %s, expected %s", sha, f.SHA256)
	}
	return recordOf(f.File, sha, size, &f.Probed), files.PutProbed(sha, &f.Probed)
}
