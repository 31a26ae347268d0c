package app

import (
	_ "embed" // of the demo's clip
	"encoding/json"
	"fmt"
	"time"

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
