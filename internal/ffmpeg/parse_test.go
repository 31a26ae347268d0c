package ffmpeg

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"brinefield/core/footage"
	"brinefield/internal/app"
)

func TestReadingOfLines(t *testing.T) {
	a, err := parseAnswer(strings.NewReader("packet|stream_index=2|pts=5|size=9|flags=K_|side_data|\n\npacket|stream_index=2|pts=N/A|size=1|flags=_D\n"+
		"packet|stream_index=2|pts=7|size=0|flags=__\npacket|stream_index=3|pts=-4|size=3|flags=__C\nprogram|stream|index=9\n"+
		`stream|index=2|codec_name=h264|width=64|height=32|time_base=1/90000|tag:creation_time=2026-06-01T09:30:00.000000Z|odd=a\|b=c\\|nb_frames=7`+"\n"+
		"format|tag:creation_time=1904-01-01T00:00:00Z\n"), 10)
	if err != nil {
		t.Fatal(err)
	}
	want := map[int][]frame{2: {{pts: 5, key: true}, {unknown: true, never: true}}, 3: {{pts: -4}}}
	if !reflect.DeepEqual(a.frames, want) {
		t.Errorf("%+v", a.frames)
	}
	s := a.picture()
	if s == nil || s.index != 2 || s.width != 64 || s.frames != "7" || len(a.pictures) != 1 || a.madeAt(s) != "2026-06-01T09:30:00Z" {
		t.Errorf("%+v", a)
	}
	if _, err := parseAnswer(strings.NewReader(strings.Repeat("packet|pts=1\n", 11)), 10); !errors.Is(err, errTooMany) {
		t.Errorf("%v", err)
	}
	if _, err := parseAnswer(strings.NewReader("packet|pts="+strings.Repeat("1", longestLine)), 10); err == nil {
		t.Error("a line without an end was taken")
	}
}

// ISO/IEC 14496-12, 8.3.2.3: p·[a b; c d], y downwards. The right end of the stored
// picture, (1, 0), goes to (a, b): down for a turn of 90° clockwise.
func TestTurns(t *testing.T) {
	for _, c := range []struct {
		a, b, c, d int
		turn       int
		mirrored   bool
	}{
		{1, 0, 0, 1, 0, false},
		{0, 1, -1, 0, 90, false},
		{-1, 0, 0, -1, 180, false},
		{0, -1, 1, 0, 270, false},
		{1, 0, 0, -1, 0, true},
		{-1, 0, 0, 1, 180, true},
		{0, 1, 1, 0, 90, true},
	} {
		s := stream{matrix: fmt.Sprintf("\n00000000: %d %d 0\n00000001: %d %d 0\n00000002: 0 0 1073741824\n", c.a<<16, c.b<<16, c.c<<16, c.d<<16)}
		turn, mirrored, rest := s.turn()
		if turn != c.turn || mirrored != c.mirrored || math.Abs(rest) > 1e-9 {
			t.Errorf("%+v: %d %v %v", c, turn, mirrored, rest)
		}
	}
	for _, none := range []string{"", "00000000: 0 0 0\n00000001: 0 0 0\n00000002: 0 0 0\n", "00000000: x 0 0", "00000000: 1 0"} {
		if turn, mirrored, rest := (&stream{matrix: none}).turn(); turn != 0 || mirrored || rest != 0 {
			t.Errorf("%q: %d %v %v", none, turn, mirrored, rest)
		}
	}
}

// FuzzAnswer reads anything as what ffprobe printed: it ends, and what comes out of
// it keeps the rules of times.
func FuzzAnswer(f *testing.F) {
	f.Add("packet|stream_index=0|pts=5|size=9|flags=K_\nstream|index=0|codec_name=h264|width=64|height=32|time_base=1/90000|displaymatrix=\\n00000000: 65536 0 0\\n")
	f.Add("frame|key_frame=1|best_effort_timestamp=N/A\nformat|tag:creation_time=2026\n")
	f.Add("packet|pts=1|flags=_D\npacket|pts=-9223372036854775808|flags=K\\")
	f.Fuzz(func(t *testing.T, text string) {
		a, err := parseAnswer(strings.NewReader(text), 1000)
		if err != nil {
			return
		}
		for i := range a.pictures {
			turn, _, rest := a.pictures[i].turn()
			if turn%90 != 0 || turn < 0 || turn > 270 || math.IsNaN(rest) {
				t.Fatalf("turn %d, %v", turn, rest)
			}
			a.madeAt(&a.pictures[i])
			fraction(a.pictures[i].timeBase, "/")
		}
		for _, frames := range a.frames {
			fillIn(frames)
			leading(frames)
			p := &probe{file: "clip.mp4", said: a}
			found := &app.Probed{TimeBase: [2]int64{1, 90000}}
			if p.order(frames, found) != nil {
				continue
			}
			if err := (footage.Times{TimeBase: found.TimeBase, PTS: found.PTS}).Check(); err != nil {
				t.Fatal(err)
			}
			for i, k := range found.Keyframes {
				if k < 0 || k >= len(found.PTS) || i > 0 && k <= found.Keyframes[i-1] {
					t.Fatalf("keyframes %v of %d", found.Keyframes, len(found.PTS))
				}
			}
			NeedsProxy(found)
			planTimes(found)
		}
	})
}

// FuzzKind tells the kind of anything, and either takes it or says why not.
func FuzzKind(f *testing.F) {
	for _, s := range []string{"", "\x00\x00\x00\x18ftypmp42", "\x1a\x45\xdf\xa3\x42\x82\x84webm", "RIFF\x00\x00\x00\x00AVI ", "#EXTM3U", "G"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, head []byte) {
		kind, wrong := kindOf(head)
		if (kind == container{}) == (wrong == "") {
			t.Fatalf("%+v %q", kind, wrong)
		}
	})
}
