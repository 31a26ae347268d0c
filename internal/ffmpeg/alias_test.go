package ffmpeg

import (
	"bytes"
	"encoding/binary"
	"os/exec"
	"strings"
	"testing"
)

// pointElsewhere makes a QuickTime file whose index (behind its data) says that the
// data lies in another file: the one data reference becomes an alias with an absolute
// path (QuickTime File Format, "Data reference atoms", type alis; tag 2).
func pointElsewhere(t *testing.T, file []byte, to string) []byte {
	t.Helper()
	at := bytes.LastIndex(file, []byte("dref"))
	if at < 0 {
		t.Fatal("no data reference")
	}
	at -= 4
	old := int(binary.BigEndian.Uint32(file[at:]))
	var alias bytes.Buffer
	alias.Write(make([]byte, 10+1+27+12)) // record, and the volume's name
	alias.Write(make([]byte, 1+63))       // the file's name
	alias.Write(make([]byte, 16))
	alias.Write([]byte{0xff, 0xff, 0xff, 0xff}) // levels: no relative path
	alias.Write(make([]byte, 16))
	if len(to)%2 != 0 {
		to = "/" + to
	}
	_ = binary.Write(&alias, binary.BigEndian, [2]uint16{2, uint16(len(to))})
	alias.WriteString(to)
	alias.Write([]byte{0xff, 0xff, 0, 0})
	var entry bytes.Buffer
	_ = binary.Write(&entry, binary.BigEndian, uint32(12+alias.Len()))
	entry.WriteString("alis\x00\x00\x00\x00")
	entry.Write(alias.Bytes())
	grown := 16 + entry.Len() - old
	out := append([]byte{}, file[:at]...)
	out = binary.BigEndian.AppendUint32(out, uint32(16+entry.Len()))
	out = append(out, "dref\x00\x00\x00\x00\x00\x00\x00\x01"...)
	out = append(out, entry.Bytes()...)
	out = append(out, file[at+old:]...)
	for _, box := range []string{"dinf", "minf", "mdia", "trak", "moov"} { // which hold each other
		i := bytes.LastIndex(file[:at], []byte(box)) - 4
		if i < 0 {
			t.Fatalf("no %s before the data reference", box)
		}
		binary.BigEndian.PutUint32(out[i:], binary.BigEndian.Uint32(file[i:])+uint32(grown))
	}
	return out
}

// ffprobe itself, allowed to follow, is the proof that the file would be followed.
func TestDataOfAnotherFileIsNotRead(t *testing.T) {
	whole := read(t, clip(t, "corner90.mov"))
	secret := put(t, "secret.bin", whole)
	path := put(t, "clip.mov", pointElsewhere(t, whole, secret))
	out, err := exec.Command("ffprobe", "-v", "error", "-enable_drefs", "1", "-use_absolute_path", "1", "-show_entries", "packet=pts", "-of", "csv=p=0", path).CombinedOutput()
	if n := strings.Count(string(out), "\n"); err != nil || n < 3 {
		t.Fatalf("this alias leads nowhere, so that nothing is tested: %v, %s", err, out)
	}
	wrongly(t, path)
}
