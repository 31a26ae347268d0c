package ffmpeg

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func put(t *testing.T, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestWhatIsNoFootageIsRefused(t *testing.T) {
	secret := put(t, "secret.ts", read(t, clip(t, "opengop.ts")))
	playlist := "#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\n" + secret + "\n#EXT-X-ENDLIST\n"
	for _, c := range []struct{ name, data, words string }{
		{"empty.mp4", "", "is empty: 0 bytes"},
		{"notes.mp4", "Dive 3, visibility 4 m\n", "is a text"},
		{"playlist.mp4", playlist, "is a playlist"},
		{"joined.mkv", "ffconcat version 1.0\nfile '" + secret + "'\n", "is a playlist"},
		{"dash.mp4", "<?xml version=\"1.0\"?>\n<MPD><BaseURL>x</BaseURL></MPD>", "is a playlist"},
		{"photo.mov", "\xff\xd8\xff\xe0\x00\x10JFIF", "is a picture"},
		{"photo.mp4", "\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic", "is a picture"},
		{"song.mp4", "ID3\x03\x00", "sound alone"},
		{"zeros.mp4", strings.Repeat("\x00", 5000), "nothing but zeros"},
		{"noise.mp4", "\x8e\x91\x02\x03\xfe", "no kind of footage"},
		{"short.mp4", "\x00\x00\x00\x08ftyp", "ends after a few bytes"},
		{"brand.mp4", "\x00\x00\x00\x18ftypisom\x00\x00\x02\x00isommp41", "has no index"},
		{"odd.mkv", "\x1a\x45\xdf\xa3\x84\x42\x82\x81x", "does not say that it is one"},
		{"half.webm", "\x1a\x45\xdf\xa3\x87\x42\x82\x84webm", "cannot be read as WEBM"},
		{"half.avi", "RIFF\x00\x00\x00\x00AVI LIST", "cannot be read as AVI"},
		{"new\nline.mp4", "x", `new\nline.mp4`},
	} {
		wrongly(t, put(t, c.name, []byte(c.data)), c.words)
	}
	wrongly(t, clip(t, "alone.mp4"), "holds sound alone")
	wrongly(t, t.TempDir(), "is a folder")
	wrongly(t, filepath.Join(t.TempDir(), "gone.mp4"), "is not there")
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// A playlist inside a file that begins like footage is read as that footage alone:
// the demuxer is named, and the others are not allowed.
func TestNothingElseIsEverOpened(t *testing.T) {
	secret := put(t, "secret.ts", read(t, clip(t, "opengop.ts")))
	head := "\x00\x00\x00\x10ftypisom\x00\x00\x00\x00" // 16 bytes, and then what another reader would take
	wrongly(t, put(t, "both.mp4", []byte(head+"#EXTM3U\n#EXTINF:9,\n"+secret+"\n")), "has no index")
	for _, need := range []string{"-protocol_whitelist file,pipe", "-enable_drefs 0", "-use_absolute_path 0", "-format_whitelist mov,", "-f mov"} {
		if got := strings.Join(reading(kindMP4, "/x"), " "); !strings.Contains(got, need) {
			t.Errorf("%q lacks %q", got, need)
		}
	}
}

func TestContentDecidesAndNamesAreOnlyNames(t *testing.T) {
	data := read(t, clip(t, "constant.mp4"))
	for _, name := range []string{"notes.txt", "-i", "concat:a b'%03d\"$(x)\n|;&*?.mp4"} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Logf("this system has no such name: %v", err)
			continue
		}
		t.Chdir(dir)
		p, err := media.Probe(t.Context(), name)
		if err != nil || len(p.PTS) != 36 {
			t.Errorf("%q: %v", name, err)
		}
	}
}

func TestLongAndLargeClips(t *testing.T) {
	dir := t.TempDir()
	if err := ffmpeg(dir, strings.Fields("-f lavfi -i color=gray:size=32x32:rate=1/600:duration=36000 -f lavfi -i color=gray:size=7680x4320:rate=1:duration=1 -f lavfi -i color=gray:size=16400x16:rate=1:duration=1"+
		" -map 0:v -c:v mpeg4 long.mp4 -map 1:v -c:v mjpeg 8k.mov -map 2:v -c:v mjpeg wide.mov")...); err != nil {
		t.Fatal(err)
	}
	long := probed(t, filepath.Join(dir, "long.mp4"))
	if s := float64(long.PTS[len(long.PTS)-1]*long.TimeBase[0]) / float64(long.TimeBase[1]); len(long.PTS) != 60 || s != 35400 {
		t.Errorf("%d frames, the last at %v s", len(long.PTS), s)
	}
	if p := probed(t, filepath.Join(dir, "8k.mov")); p.WidthPx != 7680 || p.HeightPx != 4320 || len(p.PTS) != 1 {
		t.Errorf("%+v", p)
	}
	wrongly(t, filepath.Join(dir, "wide.mov"), "16400 × 16 pixels", "16384 × 16384")
}
