package cliptest_test

import (
	"math"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"brinefield/internal/cliptest"
)

// The renderer against closed forms: a camera that looks straight down, without a
// port and with one (Snell's law in one plane: the way across is the sum of those
// through air, glass and water).
func TestRaysAgainstClosedForm(t *testing.T) {
	lens := cliptest.Lens{WidthPx: 640, HeightPx: 480, FxPx: 500, FyPx: 510, CxPx: 311, CyPx: 247}
	s := &cliptest.Scene{Lens: lens, Poses: []cliptest.Posed{{Stand: cliptest.Stand{Centre: cliptest.V{0, 0, 1.5}, HeadingDeg: 90}}}}
	at := cliptest.V{0.3, -0.2, 0.1}
	s.Marks = []cliptest.Disc{{At: at}}
	got := *s.Truth().Marks[0].Pixels[0]
	want := [2]float64{311 + 500*0.3/1.4, 247 + 510*0.2/1.4}
	if math.Hypot(got[0]-want[0], got[1]-want[1]) > 1e-8 {
		t.Errorf("a pinhole sees %v at %v, closed form %v", at, got, want)
	}
	port := cliptest.Port{AirGapM: 0.03, GlassM: 0.01, GlassIndex: 1.5, WaterIndex: 1.34}
	s.Lens.Port = &port
	for _, deg := range []float64{5, 20, 30} {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		across := func(depth, n float64) float64 { return depth * (sin / n) / math.Sqrt(1-sin*sin/n/n) }
		x := across(port.AirGapM, 1) + across(port.GlassM, port.GlassIndex) + across(1.5-0.1-0.04, port.WaterIndex)
		s.Marks[0].At = cliptest.V{x, 0, 0.1}
		p := s.Truth().Marks[0].Pixels[0]
		if u := 311 + 500*sin/cos; p == nil || math.Abs(p[0]-u) > 1e-8 || math.Abs(p[1]-247) > 1e-8 {
			t.Errorf("%g° in air: seen at %v, closed form %.6f", deg, p, u)
		}
	}
}

// Every kind of clip is what it says, by ffprobe.
func TestKinds(t *testing.T) {
	for kind, want := range map[string]string{
		"rotated": "240x320 48 frames, turned -90", "chapters": "320x240 18 frames, turned ",
	} {
		files, truth, err := cliptest.Make(kind, filepath.Join(t.TempDir(), kind+".mp4"))
		if err != nil {
			t.Fatal(err)
		}
		last := files[len(files)-1]
		out, err := exec.Command("ffprobe", "-v", "error", "-count_packets", "-show_entries", "stream=nb_read_packets:stream_side_data=rotation", "-of", "default=nw=1:nk=1", last).Output()
		if err != nil {
			t.Fatal(err)
		}
		said := strings.Fields(string(out))
		turn := ""
		for _, s := range said {
			if s == "-90" {
				turn = s
			}
		}
		w, h := truth.Camera.WidthPx, truth.Camera.HeightPx
		if got := strings.Join([]string{size(w, h), said[0], "frames, turned", turn}, " "); got != want {
			t.Errorf("%s: %q, want %q", kind, got, want)
		}
		// Upright as ffmpeg turns it, the marks are where the truth says.
		found := 0
		err = cliptest.Luma(last, w, h, func(frame int, y []byte) error {
			if frame > 0 {
				return nil
			}
			for _, m := range truth.Marks {
				if p := m.Pixels[0]; p != nil && bright(y, w, h, *p) {
					found++
				}
			}
			return nil
		})
		if err != nil || found < 8 {
			t.Errorf("%s: %d marks of %d are bright where they should be; %v", kind, found, len(truth.Marks), err)
		}
	}
}

func size(w, h int) string { return strconv.Itoa(w) + "x" + strconv.Itoa(h) }

// bright says whether a pixel is much lighter than what lies 9 pixels to its sides.
func bright(y []byte, w, h int, p [2]float64) bool {
	i, j := int(math.Round(p[0])), int(math.Round(p[1]))
	if i < 9 || j < 9 || i >= w-9 || j >= h-9 {
		return false
	}
	round := (int(y[j*w+i-9]) + int(y[j*w+i+9]) + int(y[(j-9)*w+i]) + int(y[(j+9)*w+i])) / 4
	return int(y[j*w+i]) > round+40
}
