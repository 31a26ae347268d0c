// Democlip makes the clip of the demo study, and what is recorded of it:
//
//	go run ./tools/democlip [-records]
//
// With -records the clip stays as it is, and only what is recorded of it is made.
// All of it is invented. Two passes of the demo season swim their own tracks, as
// they were before the errors of measuring were added, over the sand round their
// pair, at their heights. The clip and the records go into internal/app/demo, where
// they are embedded; the truth goes to internal/cliptest/testdata. It needs ffmpeg;
// another version of it may write other bytes, so that a test looks at what the
// clip shows, and not at its bytes.
package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"time"

	"brinefield/core/numeric"
	"brinefield/core/optics"
	"brinefield/internal/app"
	"brinefield/internal/cliptest"
)

const (
	folder    = "internal/app/demo"
	file      = "north-pair.mp4"
	clip      = "north-pair"
	clickPx   = 0.8 // standard deviation of a click, each direction
	behindS   = 2.4 // by which the camera's clock is behind
	thin      = 25  // of a truth that is kept, each so many frames
	trackStep = 3   // frames between rows of the season's tracks
	fillStep  = 6   // frames between fixes that are filled in
)

func main() {
	records := flag.Bool("records", false, "leave the clip as it is")
	flag.Parse()
	if err := run(*records); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(recordsOnly bool) error {
	first, second, pair, err := passes(app.DemoSeed)
	if err != nil {
		return err
	}
	s := scene(first, second, pair)
	where := filepath.Join(folder, file)
	if !recordsOnly {
		if err := s.Write(where, cliptest.Encoding{CRF: 27, GOP: 12, Preset: "slow"}, 0, 0); err != nil {
			return err
		}
	}
	truth := s.Truth()
	if err := writeJSON("internal/cliptest/testdata/demo.truth.json", thinned(truth)); err != nil {
		return err
	}
	data, err := os.ReadFile(where)
	if err != nil {
		return err
	}
	sum := sha256.Sum256(data)
	return writeJSON(filepath.Join(folder, "footage.json"), recordsOf(s, truth, first, hex.EncodeToString(sum[:]), int64(len(data))))
}

// thinned keeps of the truth what the test of the clip looks at: a frame of so many, and
// the snouts in it.
func thinned(t *cliptest.Truth) *cliptest.Truth {
	out := *t
	out.Frames = nil
	for k := 0; k < len(t.Frames); k += thin {
		f := cliptest.Frame{ClipS: t.Frames[k].ClipS, Animals: []cliptest.Seen{}}
		for _, a := range t.Frames[k].Animals {
			if p, there := a.Points["snout"]; there {
				f.Animals = append(f.Animals, cliptest.Seen{Name: a.Name, Points: map[string]cliptest.PointSeen{"snout": p}})
			}
		}
		out.Frames = append(out.Frames, f)
	}
	return &out
}

// recordsOf is what would have been written down of the clip: where its marks were
// clicked, an event on both clocks, and the first pass as somebody measured it.
func recordsOf(s *cliptest.Scene, truth *cliptest.Truth, first swum, sha string, bytes int64) app.DemoFootage {
	rng := numeric.Stream(2026, "clicks of the demo clip")
	l := s.Lens
	camera := optics.Camera{
		WidthPx: l.WidthPx, HeightPx: l.HeightPx, FxPx: l.FxPx, FyPx: l.FyPx, CxPx: l.CxPx, CyPx: l.CyPx, K1: l.K1, K2: l.K2, K3: l.K3, P1: l.P1, P2: l.P2,
		Port: &optics.Port{AirGapM: l.Port.AirGapM, GlassM: l.Port.GlassM, GlassIndex: l.Port.GlassIndex, WaterIndex: l.Port.WaterIndex},
	}
	begin := first.pass.Time.Add(-time.Duration(beforeS * float64(time.Second)))
	out := app.DemoFootage{
		Clip: clip, File: file, SHA256: sha, Bytes: bytes, Scorer: first.pass.Scorer,
		Start: begin.Add(-time.Duration(behindS * float64(time.Second))).Format(time.RFC3339Nano), ClockOffsetS: behindS, FrameRateHz: rateHz,
		Passes: []string{firstPass, secondPass}, Note: s.Note, CameraName: "frame camera", Camera: camera,
		CameraNote: "invented: the numbers that the demo clip was rendered with",
		Sync:       []app.FootageEvent{{Frame: flashFrame, Clock: begin.Add(flashFrame * time.Second / rateHz).Format(time.RFC3339Nano), What: "a torch is switched on"}},
	}
	pose := app.FootagePoseSpec{Camera: out.CameraName, ClickSDPx: clickPx, Note: "white caps of pegs, surveyed with a tape, and the electrodes"}
	for _, m := range truth.Marks {
		if m.Name != "" && m.Pixels[0] != nil {
			pose.Marks = append(pose.Marks, app.FootagePoseMark{Name: m.Name, AtM: m.AtM, Pixel: click(rng, *m.Pixels[0], clickPx)})
		}
	}
	out.Poses = []app.FootagePoseSpec{pose}
	out.Probed = app.Probed{
		Container: "mp4", Codec: "h264", PixelFormat: "yuv420p", WidthPx: l.WidthPx, HeightPx: l.HeightPx, TimeBase: [2]int64{1, 90000}, Notes: []string{},
	}
	for k := range s.Times {
		out.Probed.PTS = append(out.Probed.PTS, int64(k)*90000/rateHz)
		if k%12 == 0 {
			out.Probed.Keyframes = append(out.Probed.Keyframes, k)
		}
	}
	out.Fixes = fixesOf(rng, truth, first)
	return out
}

// fixesOf is the first pass as it was measured: a few fixes placed, the frames round
// the turn carried, and some between them filled in.
func fixesOf(rng *rand.Rand, truth *cliptest.Truth, first swum) app.FootageFixesRequest {
	start := int(beforeS * rateHz)
	onset := start + int(first.pass.OnsetS.Value*rateHz+0.5)
	end := start + int(first.pass.WatchedS.Value*rateHz+0.5)
	low, high := 1.0, 4.0
	in := app.FootageFixesRequest{
		Pass: firstPass, Clip: clip, StartFrame: &start, OnsetFrame: &onset, EndFrame: &end,
		Heights: app.FootageHeights{How: "limits", LowCm: &low, HighCm: &high},
	}
	placed := []int{start, start + 24, start + 48, start + 72, start + 96, onset - trackStep, onset, onset + 2*trackStep, onset + 5*trackStep, end - 2*trackStep, end}
	for k := start; k <= end; k++ {
		how, sd := "filled", 0.0
		switch {
		case slices.Contains(placed, k):
			how, sd = "placed", clickPx
		case k > onset-trackStep && k < onset+2*trackStep:
			how, sd = "carried", 0.5
		case (k-start)%fillStep != 0:
			continue
		}
		for _, a := range truth.Frames[k].Animals {
			if p, there := a.Points["snout"]; a.Name == firstPass && there {
				in.Fixes = append(in.Fixes, app.FootageFix{Point: "snout", Frame: k, Pixel: click(rng, p.Pixel, sd), How: how, By: first.pass.Scorer})
			}
		}
	}
	return in
}

// click is a pixel with an error, to a hundredth.
func click(rng *rand.Rand, p [2]float64, sd float64) [2]float64 {
	round := func(v float64) float64 { return float64(int(v*100+0.5)) / 100 }
	return [2]float64{round(p[0] + sd*rng.NormFloat64()), round(p[1] + sd*rng.NormFloat64())}
}

func writeJSON(path string, v any) error {
	data, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	return os.WriteFile(path, append(data, '\n'), 0o644)
}
