package ffmpeg

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"brinefield/internal/app"
)

// The clips of these tests are made once, by ffmpeg itself, in as few runs as can
// be: 48 frames or fewer of 160 by 120.
var clips struct {
	once sync.Once
	dir  string
	err  error
}

func TestMain(m *testing.M) {
	code := m.Run()
	if clips.dir != "" {
		_ = os.RemoveAll(clips.dir)
	}
	os.Exit(code)
}

func clip(t testing.TB, name string) string {
	t.Helper()
	clips.once.Do(func() { clips.err = makeClips() })
	if clips.err != nil {
		t.Fatal(clips.err)
	}
	return filepath.Join(clips.dir, name)
}

const (
	constantRate = "testsrc=size=160x120:rate=30:duration=1.2"
	variableRate = "select='not(eq(mod(n,7),3))',settb=1/90000,setpts='(N/25+0.004*sin(N))/TB'"
	corner       = "color=black:size=64x32:rate=10:duration=0.3,drawbox=x=0:y=0:w=16:h=16:color=white:t=fill" // white in the upper left
)

func makeClips() error {
	dir, err := os.MkdirTemp("", "brinefield-clips-")
	if err != nil {
		return err
	}
	clips.dir = dir
	x264 := func(more string) string { return "-threads 1 -c:v libx264 -preset ultrafast -pix_fmt yuv420p " + more }
	for _, command := range []string{
		"-f lavfi -i " + constantRate + " -f lavfi -i sine=duration=1.2 -map 0:v " + x264("-bf 0 -g 12") + " constant.mp4" +
			" -map 0:v " + x264("-bf 2 -b_strategy 0 -g 12 -movflags +faststart -metadata creation_time=2026-06-01T09:30:00Z") + " bframes.mp4" +
			" -map 0:v " + x264("-bf 3 -b_strategy 0 -g 10 -x264-params open-gop=1:keyint=10:min-keyint=10:scenecut=0") + " opengop.ts" +
			" -map 0:v -threads 1 -c:v libx265 -preset ultrafast -x265-params log-level=error:pools=none:keyint=20 hevc.mp4" +
			" -map 0:v -threads 1 -c:v mpeg4 -bf 2 -g 12 pulled.avi -map 0:v -threads 1 -c:v mpeg4 -g 12 part2.avi" +
			" -map 0:v -map 1:a " + x264("-bf 2 -g 40") + " -c:a aac sound.mkv -map 1:a -c:a aac alone.mp4",
		"-f lavfi -i " + constantRate + " -vf " + variableRate + " -fps_mode passthrough -enc_time_base 1/90000 " + x264("-bf 2 -b_strategy 0 -g 20 -video_track_timescale 90000") + " variable.mp4",
		"-ss 0.15 -i bframes.mp4 -c copy edited.mp4 -metadata:s:v rotate=90 -c copy turned.mov",
		"-f lavfi -i " + corner + " " + x264("") + " corner.mp4",
		"-i corner.mp4 -c copy -metadata:s:v rotate=270 corner90.mov",
	} {
		if err := ffmpeg(dir, strings.Fields(command)...); err != nil {
			return err
		}
	}
	return nil
}

func ffmpeg(dir string, args ...string) error {
	cmd := exec.Command("ffmpeg", append([]string{"-v", "error", "-nostdin", "-y"}, args...)...)
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("ffmpeg %v: %w: %s", args, err, out)
	}
	return nil
}

// media is the one that the tests share, so that its programs are asked once.
var media = System()

// decoded is the outside reference: the times that ffprobe gives the frames that it
// decodes, which is another way to them than ours by packets.
func decoded(t testing.TB, path string) []int64 {
	t.Helper()
	out, err := exec.Command("ffprobe", "-v", "error", "-select_streams", "v:0", "-show_entries", "frame=best_effort_timestamp", "-of", "json", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var answer struct {
		Frames []struct {
			At *int64 `json:"best_effort_timestamp"`
		} `json:"frames"`
	}
	if err := json.Unmarshal(out, &answer); err != nil {
		t.Fatal(err)
	}
	var all []int64
	for _, f := range answer.Frames {
		if f.At != nil {
			all = append(all, *f.At)
		}
	}
	return all
}

// probed looks into a file, once.
func probed(t testing.TB, path string) *app.Probed {
	t.Helper()
	if p, known := looked.Load(path); known {
		return p.(*app.Probed)
	}
	p, err := media.Probe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	looked.Store(path, p)
	return p
}

var looked sync.Map

func TestEveryFrameIsWhenADecoderShowsIt(t *testing.T) {
	for _, c := range []struct {
		name, container, codec string
		timeBase               [2]int64
		frames, keyframes      int
		note                   string
	}{
		{"constant.mp4", "mp4", "h264", [2]int64{1, 15360}, 36, 3, ""},
		{"bframes.mp4", "mp4", "h264", [2]int64{1, 15360}, 36, 3, ""},
		{"opengop.ts", "mpegts", "h264", [2]int64{1, 90000}, 36, 4, ""},
		{"hevc.mp4", "mp4", "hevc", [2]int64{1, 15360}, 36, 2, ""},
		{"part2.avi", "avi", "mpeg4", [2]int64{1, 30}, 36, 3, ""},
		{"sound.mkv", "matroska", "h264", [2]int64{1, 1000}, 36, 1, ""},
		{"variable.mp4", "mp4", "h264", [2]int64{1, 90000}, 31, 2, ""},
		{"edited.mp4", "mp4", "h264", [2]int64{1, 15360}, 31, 2, "never shown"},
		{"turned.mov", "mov", "h264", [2]int64{1, 15360}, 31, 2, "never shown"},
	} {
		p := probed(t, clip(t, c.name))
		if want := decoded(t, clip(t, c.name)); !slices.Equal(p.PTS, want) {
			t.Errorf("%s: times differ from those of the decoded frames:\n%v\n%v", c.name, p.PTS, want)
		}
		if p.Container != c.container || p.Codec != c.codec || p.TimeBase != c.timeBase || p.WidthPx != 160 || p.HeightPx != 120 {
			t.Errorf("%s: %+v", c.name, p)
		}
		if len(p.PTS) != c.frames || len(p.Keyframes) != c.keyframes {
			t.Errorf("%s: %d frames, keyframes %v", c.name, len(p.PTS), p.Keyframes)
		}
		if said := strings.Join(p.Notes, " "); c.note == "" && said != "" || !strings.Contains(said, c.note) {
			t.Errorf("%s: notes %q", c.name, said)
		}
	}
	if p := probed(t, clip(t, "bframes.mp4")); p.Made != "2026-06-01T09:30:00Z" {
		t.Errorf("made %q", p.Made)
	}
}

// An AVI file does not say when frames that others lean on are shown. The decoder
// tells all but the last, which follows at the file's one rate (ffmpeg gives it the
// same place when it writes a copy, which TestACopyHasTheSameTimes checks).
func TestTimesThatOnlyADecoderKnows(t *testing.T) {
	p := probed(t, clip(t, "pulled.avi"))
	want := decoded(t, clip(t, "pulled.avi"))
	if len(p.PTS) != 36 || !slices.Equal(p.PTS[:len(want)], want) || len(p.PTS)-len(want) > 1 || p.PTS[35]-p.PTS[0] != 35 {
		t.Errorf("%v\n%v", p.PTS, want)
	}
	if len(p.Notes) == 0 || !strings.Contains(p.Notes[0], "decoding") {
		t.Errorf("notes %q", p.Notes)
	}
}

// A stream that was cut where it could not be decoded from: an open group of
// pictures leans on one that is gone. What a decoder shows is the reference.
func TestFramesThatLeanOnOnesThatAreGone(t *testing.T) {
	if testing.Short() {
		t.Skip("most of it is ffmpeg's work")
	}
	whole, err := os.ReadFile(clip(t, "opengop.ts"))
	if err != nil {
		t.Fatal(err)
	}
	for _, from := range []int{len(whole) / 188 / 3, len(whole) / 188 * 2 / 3} {
		path := filepath.Join(t.TempDir(), "later.ts")
		if err := os.WriteFile(path, whole[from*188:], 0o600); err != nil {
			t.Fatal(err)
		}
		p, err := media.Probe(t.Context(), path)
		if err != nil {
			t.Log(err) // no picture's description in what is left: refused in words
			continue
		}
		if want := decoded(t, path); !slices.Equal(p.PTS, want) {
			t.Errorf("from packet %d:\n%v\n%v\n%v", from, p.PTS, want, p.Notes)
		}
	}
}

func TestACutFileSaysHowManyFramesAreWhole(t *testing.T) {
	whole, err := os.ReadFile(clip(t, "bframes.mp4")) // the index stands in front
	if err != nil {
		t.Fatal(err)
	}
	cut := filepath.Join(t.TempDir(), "cut.mp4")
	if err := os.WriteFile(cut, whole[:len(whole)*6/10], 0o600); err != nil {
		t.Fatal(err)
	}
	p := probed(t, cut)
	said := strings.Join(p.Notes, " ")
	n := len(p.PTS)
	if n < 5 || n > 33 || !strings.Contains(said, "cut short: "+strconv.Itoa(n)+" of 36 frames are whole") {
		t.Errorf("%d frames, %q", n, said)
	}
	constant, err := os.ReadFile(clip(t, "constant.mp4")) // and here behind
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(cut, constant[:len(constant)/2], 0o600); err != nil {
		t.Fatal(err)
	}
	wrongly(t, cut, "has no index (moov)")
}

// wrongly probes what must be refused in one line that holds some words.
func wrongly(t *testing.T, path string, words ...string) {
	t.Helper()
	p, err := media.Probe(t.Context(), path)
	var known *app.MediaError
	if err == nil {
		t.Errorf("%q was taken: %+v", path, p)
		return
	}
	if !errors.As(err, &known) || known.Wrong == "" || known.Right == "" || strings.ContainsAny(err.Error(), "\n\r") || strings.Contains(err.Error(), filepath.Dir(path)) {
		t.Errorf("%q: no clear line: %#v", path, err)
		return
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("%q: %q does not say %q", path, err, w)
		}
	}
}
