package ffmpeg

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"strings"

	"brinefield/internal/app"
)

// container is a kind of file that footage comes in.
type container struct {
	name    string // for people and for the record
	demuxer string // what ffprobe is told to read it by: it never guesses
	allowed string // the name by which its whitelist knows that
}

var (
	kindMP4      = container{"mp4", "mov", "mov,mp4,m4a,3gp,3g2,mj2"}
	kindMOV      = container{"mov", "mov", "mov,mp4,m4a,3gp,3g2,mj2"}
	kindMatroska = container{"matroska", "matroska", "matroska,webm"}
	kindWebM     = container{"webm", "matroska", "matroska,webm"}
	kindAVI      = container{"avi", "avi", "avi"}
	kindTS       = container{"mpegts", "mpegts", "mpegts"}
	kindPS       = container{"mpeg", "mpeg", "mpeg"}
)

const (
	sniffed = 4096 // bytes at the beginning that decide
	taken   = "MP4, MOV, MKV, WebM, AVI and MPEG files with a picture are taken"
)

// sniff opens a file and says what kind it is by its first bytes; its name says
// nothing. Folders, pipes and devices are refused without being read.
func sniff(path string) (container, int64, error) {
	file := shown(path)
	f, err := os.OpenFile(path, os.O_RDONLY|dontWait, 0)
	if err != nil {
		return container{}, 0, cannotOpen(file, err)
	}
	defer f.Close()
	info, err := f.Stat()
	switch {
	case err != nil:
		return container{}, 0, cannotOpen(file, err)
	case info.IsDir():
		return container{}, 0, &app.MediaError{File: file, Wrong: "is a folder", Right: "name the file of the clip in it"}
	case !info.Mode().IsRegular():
		return container{}, 0, &app.MediaError{File: file, Wrong: "is a pipe, a socket or a device, no file", Right: "copy the clip to a file first"}
	case info.Size() == 0:
		return container{}, 0, &app.MediaError{File: file, Wrong: "is empty: 0 bytes", Right: "copy it again from the camera's card"}
	}
	head := make([]byte, sniffed)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return container{}, 0, cannotOpen(file, err)
	}
	kind, wrong := kindOf(head[:n])
	if wrong != "" {
		return container{}, 0, &app.MediaError{File: file, Wrong: wrong, Right: taken}
	}
	return kind, info.Size(), nil
}

func cannotOpen(file string, err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return &app.MediaError{File: file, Wrong: "is not there", Right: "look whether it was moved or renamed, or the card or drive is out"}
	case errors.Is(err, fs.ErrPermission):
		return &app.MediaError{File: file, Wrong: "may not be read by you", Right: "change its permissions, or copy it to a folder of yours"}
	}
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	return &app.MediaError{File: file, Wrong: "cannot be read: " + err.Error(), Right: "look whether the card or drive is sound, and copy it again"}
}

// kindOf tells the kind of a file by its first bytes, or what it is instead.
//
// Source: ISO/IEC 14496-12 (boxes), RFC 8794 (EBML), RIFF, ISO/IEC 13818-1
// (transport and program stream).
func kindOf(head []byte) (container, string) {
	at := func(i int, s string) bool { return len(head) >= i+len(s) && string(head[i:i+len(s)]) == s }
	switch {
	case at(4, "ftyp"):
		return kindOfBrand(head)
	case at(4, "moov"), at(4, "mdat"), at(4, "wide"), at(4, "skip"), at(4, "free"), at(4, "pnot"): // QuickTime before brands, and cameras that write the pictures first
		return kindMOV, ""
	case at(0, "\x1a\x45\xdf\xa3"):
		if bytes.Contains(head, []byte("\x42\x82\x84webm")) { // DocType
			return kindWebM, ""
		}
		if bytes.Contains(head, []byte("\x42\x82\x88matroska")) {
			return kindMatroska, ""
		}
		return container{}, "begins like a Matroska file, and does not say that it is one"
	case at(0, "RIFF") && at(8, "AVI "), at(0, "RIFF") && at(8, "AVIX"):
		return kindAVI, ""
	case isTransport(head, 0, 188), isTransport(head, 4, 192):
		return kindTS, ""
	case at(0, "\x00\x00\x01\xba"):
		return kindPS, ""
	}
	return container{}, somethingElse(head)
}

func kindOfBrand(head []byte) (container, string) {
	if len(head) < 12 {
		return container{}, "ends after a few bytes"
	}
	switch brand := string(head[8:12]); brand {
	case "qt  ":
		return kindMOV, ""
	case "heic", "heix", "hevc", "mif1", "msf1", "avif", "avis", "crx ":
		return container{}, "is a picture, no clip"
	case "M4A ", "M4B ", "M4P ":
		return container{}, "holds sound alone"
	}
	return kindMP4, ""
}

// isTransport is whether packets of a transport stream follow each other: their
// first byte is always the same.
func isTransport(head []byte, from, step int) bool {
	packets := 0
	for at := from; at < len(head); at += step {
		if head[at] != 0x47 {
			return false
		}
		packets++
	}
	return packets >= 3
}

// somethingElse says what a file is that is no footage, as far as one can tell.
func somethingElse(head []byte) string {
	text := strings.TrimLeft(strings.TrimPrefix(string(head), "\xef\xbb\xbf"), " \t\r\n")
	begins := func(all ...string) bool {
		for _, s := range all {
			if strings.HasPrefix(text, s) {
				return true
			}
		}
		return false
	}
	switch {
	case begins("#EXTM3U", "ffconcat", "<MPD", "[playlist]"), begins("<?xml") && strings.Contains(text, "<MPD"):
		return "is a playlist, which points to other files and holds no picture of its own"
	case len(bytes.Trim(head, "\x00")) == 0:
		return "begins with nothing but zeros: the camera did not finish it, or the copy failed"
	case begins("\xff\xd8\xff", "\x89PNG", "GIF8", "II*\x00", "MM\x00*", "BM"):
		return "is a picture, no clip"
	case begins("ID3", "fLaC", "\xff\xfb", "\xff\xf3", "\xff\xf1") || len(head) > 12 && string(head[:4]) == "RIFF" && string(head[8:12]) == "WAVE":
		return "holds sound alone"
	case isText(head):
		return "is a text, whatever its name says"
	}
	return "is no kind of footage that is taken, whatever its name says"
}

func isText(head []byte) bool {
	for _, c := range head {
		if c < ' ' && c != '\n' && c != '\r' && c != '\t' || c == 0x7f {
			return false
		}
	}
	return true
}
