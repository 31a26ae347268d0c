package cliptest_test

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"brinefield/core/optics"
	"brinefield/internal/cliptest"
)

const (
	demoClip    = "../app/demo/north-pair.mp4"
	demoRecords = "../app/demo/footage.json"
)

// demoRecord is what of the demo's records is checked here.
type demoRecord struct {
	Camera optics.Camera `json:"camera"`
	Poses  []struct {
		ClickSDPx float64 `json:"click_sd_px"`
		Marks     []struct {
			Name  string     `json:"name"`
			AtM   [3]float64 `json:"at_m"`
			Pixel [2]float64 `json:"pixel"`
		} `json:"marks"`
	} `json:"poses"`
	Probed struct {
		PTS []int64 `json:"pts"`
	} `json:"probed"`
	Fixes struct {
		Fixes []struct {
			Frame int        `json:"frame"`
			How   string     `json:"how"`
			Pixel [2]float64 `json:"pixel"`
		} `json:"fixes"`
	} `json:"fixes"`
}

func readJSON(t *testing.T, path string, into any) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err == nil {
		err = json.Unmarshal(data, into)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// TestDemoClip looks at the pictures of the stored clip: its marks are where the
// truth has them (1 px; caps of pegs are 8 px across and noisy), and where the
// truth has a snout there is the tip of something that was not there before.
func TestDemoClip(t *testing.T) {
	var truth cliptest.Truth
	readJSON(t, "testdata/demo.truth.json", &truth)
	var rec demoRecord
	readJSON(t, demoRecords, &rec)
	w, h := truth.Camera.WidthPx, truth.Camera.HeightPx
	kept := make([][]byte, len(truth.Frames))
	frames := 0
	err := cliptest.Luma(demoClip, w, h, func(k int, y []byte) error {
		if frames++; k%25 == 0 && k/25 < len(kept) {
			kept[k/25] = slices.Clone(y)
		}
		return nil
	})
	if err != nil || frames != truth.Chapters[0] || frames != len(rec.Probed.PTS) {
		t.Fatalf("%d frames, %d in the truth, %d in the records; %v", frames, truth.Chapters[0], len(rec.Probed.PTS), err)
	}
	sand := make([]byte, w*h) // the median of the frames
	var column []byte
	for i := range sand {
		column = column[:0]
		for _, y := range kept {
			column = append(column, y[i])
		}
		slices.Sort(column)
		sand[i] = column[len(column)/2]
	}
	caps := 0
	for _, m := range truth.Marks {
		if p := m.Pixels[0]; p != nil && len(m.Name) > 3 && m.Name[:3] == "peg" {
			at, ok := centre(sand, w, h, *p, 5)
			if d := math.Hypot(at[0]-p[0], at[1]-p[1]); !ok || d > 1 {
				t.Errorf("%s should be at %.1f, and is found at %.1f (%v)", m.Name, *p, at, ok)
			}
			caps++
		}
	}
	if caps < 7 {
		t.Errorf("%d pegs in the picture", caps)
	}
	tips := 0
	for k, f := range truth.Frames {
		for _, a := range f.Animals {
			p := a.Points["snout"].Pixel
			if k == 0 || p[0] < 14 || p[1] < 14 || p[0] > float64(w)-14 || p[1] > float64(h)-14 {
				continue // the torch is on in the first, and the flank of a tip is needed
			}
			nearest, darker, round := math.Inf(1), 0, 0
			for j := -12; j <= 12; j++ {
				for i := -12; i <= 12; i++ {
					r := math.Hypot(float64(i), float64(j))
					if r > 12 {
						continue
					}
					round++
					at := (int(p[1]+0.5)+j)*w + int(p[0]+0.5) + i
					if d := int(sand[at]) - int(kept[k][at]); d > 24 {
						nearest = math.Min(nearest, r)
						darker++
					}
				}
			}
			if share := float64(darker) / float64(round); nearest > 3 || share < 0.08 || share > 0.85 {
				t.Errorf("frame %d, %s: the nearest of its body is %.1f px from where its snout should be, and it fills %.2f of what lies round it", 25*k, a.Name, nearest, share)
			}
			tips++
		}
	}
	if tips < 10 {
		t.Errorf("%d snouts were looked at", tips)
	}
}

// TestDemoRecords: the clicks that are recorded with the clip give its camera's
// place, and those on the snout what the track really was, within 4 of the stated
// standard deviations.
func TestDemoRecords(t *testing.T) {
	var truth cliptest.Truth
	readJSON(t, "testdata/demo.truth.json", &truth)
	var rec demoRecord
	readJSON(t, demoRecords, &rec)
	var marks []optics.Mark
	for _, m := range rec.Poses[0].Marks {
		marks = append(marks, optics.Mark{AtM: m.AtM, Pixel: m.Pixel})
	}
	posed, err := optics.Fit(rec.Camera, marks, rec.Poses[0].ClickSDPx)
	if err != nil {
		t.Fatal(err)
	}
	c, want := posed.Centre(), truth.Poses[0].Stand.Centre
	t.Logf("camera at %.3f, truth %.3f; %d marks, %.2f px", c, want, len(marks), posed.RMSPx)
	for k := range c {
		if math.Abs(c[k]-want[k]) > 0.06 {
			t.Errorf("the camera is found at %.3f, it is at %.3f", c, want)
		}
	}
	n := 0
	for _, f := range rec.Fixes.Fixes {
		if f.Frame%25 != 0 || f.How == "filled" {
			continue
		}
		at := truth.Frames[f.Frame/25].Animals[0].Points["snout"].AtM
		got, err := posed.Locate(f.Pixel, at[2], 0)
		if err != nil {
			t.Fatal(err)
		}
		n++
		for k := range 2 {
			if sd := math.Sqrt(got.CovarianceM2[k][k]); math.Abs(got.AtM[k]-at[k]) > 4*sd {
				t.Errorf("frame %d: at %.4f, truth %.4f, stated %.4f m", f.Frame, got.AtM, at, sd)
			}
		}
	}
	if n == 0 {
		t.Error("no fix was looked at: the truth keeps other frames")
	}
}
