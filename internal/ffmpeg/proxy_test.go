package ffmpeg

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"brinefield/internal/app"
)

func TestACopyHasTheSameTimes(t *testing.T) {
	if testing.Short() {
		t.Skip("most of it is ffmpeg's work")
	}
	for _, name := range []string{"opengop.ts", "hevc.mp4", "pulled.avi", "turned.mov"} {
		p := probed(t, clip(t, name))
		out := filepath.Join(t.TempDir(), "copy.mp4")
		var told []float64
		if err := media.Proxy(t.Context(), clip(t, name), out, p, func(done float64) { told = append(told, done) }); err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		// By another way than the check inside: decoded frames, in seconds.
		got := decoded(t, out)
		copied := probed(t, out)
		if len(got) != len(p.PTS) {
			t.Errorf("%s: %d frames of %d", name, len(got), len(p.PTS))
			continue
		}
		for i := range got {
			if got[i]*copied.TimeBase[0]*p.TimeBase[1] != p.PTS[i]*p.TimeBase[0]*copied.TimeBase[1] {
				t.Errorf("%s: frame %d at %d/%d s, want %d·%v", name, i, got[i], copied.TimeBase[1], p.PTS[i], p.TimeBase)
				break
			}
		}
		if needed, why := NeedsProxy(copied); needed || longestDistance(copied) > proxyGroup {
			t.Errorf("%s: the copy needs a copy: %s; keyframes %v", name, why, copied.Keyframes)
		}
		if !slices.IsSorted(told) || len(told) == 0 || told[len(told)-1] != 1 {
			t.Errorf("%s: progress %v", name, told)
		}
		if wide := copied.WidthPx; p.RotationDeg%180 == 0 && wide != 160 || p.RotationDeg%180 != 0 && wide != 120 {
			t.Errorf("%s: %d × %d", name, copied.WidthPx, copied.HeightPx)
		}
		holds(t, filepath.Dir(out), "copy.mp4")
	}
}

// holds checks that a folder holds nothing but the files named.
func holds(t *testing.T, dir string, names ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	if !slices.Equal(got, names) {
		t.Errorf("the folder holds %q, want %q", got, names)
	}
}

// The white corner of the stored picture is the upper left. Turned by 90° clockwise
// it is the upper right: by the meaning of the word, not by ffmpeg's sign of it.
func TestACopyStandsUpright(t *testing.T) {
	path := clip(t, "corner90.mov")
	p := probed(t, path)
	if p.RotationDeg != 90 || p.WidthPx != 64 || p.HeightPx != 32 {
		t.Fatalf("%+v", p)
	}
	out := filepath.Join(t.TempDir(), "copy.mp4")
	if err := media.Proxy(t.Context(), path, out, p, nil); err != nil {
		t.Fatal(err)
	}
	if c := probed(t, out); c.WidthPx != 32 || c.HeightPx != 64 || c.RotationDeg != 0 {
		t.Fatalf("%+v", c)
	}
	luma, err := exec.Command("ffmpeg", "-v", "error", "-nostdin", "-i", out, "-frames:v", "1", "-pix_fmt", "gray", "-f", "rawvideo", "pipe:1").Output()
	if err != nil || len(luma) != 32*64 {
		t.Fatalf("%d bytes, %v", len(luma), err)
	}
	at := func(x, y int) byte { return luma[y*32+x] }
	if at(24, 8) < 200 || at(8, 8) > 60 || at(24, 56) > 60 || at(8, 56) > 60 {
		t.Errorf("white is not in the upper right: %d %d / %d %d", at(8, 8), at(24, 8), at(8, 56), at(24, 56))
	}
}

func TestWhatABrowserShowsAsItIs(t *testing.T) {
	fine := app.Probed{
		Container: "mp4", Codec: "h264", PixelFormat: "yuv420p", WidthPx: 1920, HeightPx: 1080, TimeBase: [2]int64{1, 30},
		PTS: make([]int64, 90), Keyframes: []int{0, 30, 60},
	}
	if needed, why := NeedsProxy(&fine); needed {
		t.Errorf("needs a copy: %s", why)
	}
	for words, change := range map[string]func(*app.Probed){
		"kind avi":                func(p *app.Probed) { p.Container = "avi" },
		"do not decode hevc":      func(p *app.Probed) { p.Codec = "hevc" },
		"form yuv420p10le":        func(p *app.Probed) { p.PixelFormat = "yuv420p10le" },
		"turned by 180°":          func(p *app.Probed) { p.RotationDeg = 180 },
		"mirrored":                func(p *app.Probed) { p.Mirrored = true },
		"not square":              func(p *app.Probed) { p.PixelAspect = [2]int64{4, 3} },
		"3840 pixels wide":        func(p *app.Probed) { p.WidthPx = 3840 },
		"first frame needs":       func(p *app.Probed) { p.Keyframes = []int{3, 30, 60} },
		"up to 31 frames":         func(p *app.Probed) { p.Keyframes = []int{0, 29, 60} },
		"up to 60 frames follow ": func(p *app.Probed) { p.Keyframes = []int{0, 30} },
	} {
		p := fine
		change(&p)
		if needed, why := NeedsProxy(&p); !needed || !strings.Contains(why, words) {
			t.Errorf("%v %q, want %q", needed, why, words)
		}
	}
}

func TestACopyIsWholeOrNotThere(t *testing.T) {
	path := clip(t, "variable.mp4")
	p := probed(t, path)
	dir := t.TempDir()
	out := filepath.Join(dir, "copy.mp4")

	// Times that are not the file's: made, compared, refused and removed.
	wrong := *p
	wrong.PTS = slices.Clone(p.PTS)
	wrong.PTS[7]++
	err := media.Proxy(t.Context(), path, out, &wrong, nil)
	var known *app.MediaError
	if !errors.As(err, &known) || !strings.Contains(known.Wrong, "1 of 31 frames would be shown at another time") {
		t.Errorf("%v", err)
	}
	holds(t, dir)

	// Ended at moments of its way.
	for _, after := range []time.Duration{0, 30 * time.Millisecond, 120 * time.Millisecond} {
		ctx, stop := context.WithTimeout(t.Context(), after)
		err := media.Proxy(ctx, path, out, p, nil)
		stop()
		if err == nil {
			t.Logf("whole within %v", after)
			break
		}
		if !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("after %v: %v", after, err)
		}
		holds(t, dir)
	}

	// A file that is there is nobody's to replace.
	if err := os.WriteFile(out, []byte("somebody's"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := media.Proxy(t.Context(), path, out, p, nil); !errors.As(err, &known) || !strings.Contains(known.Wrong, "is there already") {
		t.Errorf("%v", err)
	}
	if string(read(t, out)) != "somebody's" {
		t.Error("the file that was there is another now")
	}
}
