// Package pictures takes out of a photo what tells where, when and by whom it
// was taken, and tells what kind of file some bytes are. Bytes in, bytes out: it
// reads no file and knows nothing of a study. Call [WithoutPlace] before a photo
// leaves the laptop, and [Kind] before anything is called a photo or a voice.
//
// A file is taken apart by its format's own marks and only what is needed to show
// the image is put together again, byte for byte: what is not known to be needed
// is left out. The image data are never decoded, so that nothing of the image is lost.
//
// The formats: JPEG (ITU-T T.81, JFIF in T.871, Exif in CIPA DC-008), PNG (W3C
// Recommendation, third edition), WebP (RFC 9649), colour profiles (ICC.1).
package pictures

import (
	"errors"
	"fmt"
	"net/http"
)

// ErrCannotClean answers for a file of which nobody can promise that it tells no
// place: one of another format, or a damaged one.
var ErrCannotClean = errors.New("this picture cannot be cleaned of the place where it was taken")

// The media types that are known.
const (
	JPEG = "image/jpeg"
	PNG  = "image/png"
	WebP = "image/webp"

	webmAudio = "audio/webm"
	oggAudio  = "audio/ogg"
	mp4Audio  = "audio/mp4"
	wavAudio  = "audio/wav"
)

// cleaners are the formats that can be cleaned.
var cleaners = map[string]func([]byte) ([]byte, error){JPEG: cleanJPEG, PNG: cleanPNG, WebP: cleanWebP}

// Kind is the media type of a file by its first bytes, whatever it is called: one
// of the formats of photos that can be cleaned, or of the recordings that browsers
// make (WebM, Ogg, MPEG-4, wave); "" for anything else.
func Kind(data []byte) string {
	// The standard library follows the WHATWG's "MIME Sniffing"; it takes every
	// file of EBML for WebM, and knows few brands of MPEG-4.
	switch sniffed := http.DetectContentType(data); {
	case cleaners[sniffed] != nil:
		return sniffed
	case sniffed == "video/webm" && isWebM(data):
		return webmAudio
	case sniffed == "application/ogg":
		return oggAudio
	case sniffed == "audio/wave":
		return wavAudio
	}
	if isMP4(data) {
		return mp4Audio
	}
	return ""
}

// IsPhoto and IsVoice say what a media type that [Kind] gave is of.
func IsPhoto(kind string) bool { return cleaners[kind] != nil }

// IsVoice reports whether it is a recording.
func IsVoice(kind string) bool { return kind != "" && !IsPhoto(kind) }

// Extension is how the name of a file of a known media type ends, with its dot.
func Extension(kind string) string {
	return map[string]string{
		JPEG: ".jpg", PNG: ".png", WebP: ".webp", webmAudio: ".weba", oggAudio: ".ogg", mp4Audio: ".m4a", wavAudio: ".wav",
	}[kind]
}

// WithoutPlace gives a photo without all that tells where, when, with what or by
// whom it was taken: positions, times, names, makes and serial numbers, captions,
// small copies of the picture, further pictures behind it and whatever programs
// put beside. Kept are the image data, bit for bit, the colour profile, the
// resolution, and the orientation. mediaType is what the file should be; "" where
// only the file itself says.
//
// The result is about as large as data, and nothing larger is held on the way.
// Errors: [ErrCannotClean], with what is in the way.
func WithoutPlace(data []byte, mediaType string) ([]byte, error) {
	kind := Kind(data)
	clean := cleaners[kind]
	switch {
	case clean == nil:
		return nil, fmt.Errorf("%w: it is none of the formats JPEG, PNG and WebP", ErrCannotClean)
	case mediaType != "" && mediaType != kind:
		return nil, fmt.Errorf("%w: it should be %s and is %s", ErrCannotClean, mediaType, kind)
	}
	out, err := clean(data)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrCannotClean, err)
	}
	return out, nil
}

// isWebM looks for the document type in the header of an EBML file (RFC 8794):
// the element 0x4282, which browsers write within the first bytes.
func isWebM(data []byte) bool {
	head := data[:min(len(data), 64)]
	for i := 4; i+7 <= len(head); i++ {
		if head[i] == 0x42 && head[i+1] == 0x82 && head[i+2]&0x80 != 0 {
			return string(head[i+3:i+7]) == "webm"
		}
	}
	return false
}

// mp4Brands are those of plain MPEG-4 (ISO/IEC 14496-12 and -14) and of Apple's
// recordings. Pictures in the same boxes, such as HEIC, have others.
var mp4Brands = map[string]bool{
	"M4A ": true, "mp41": true, "mp42": true, "isom": true, "iso2": true, "iso3": true, "iso4": true, "iso5": true, "iso6": true, "dash": true,
}

func isMP4(data []byte) bool {
	return len(data) >= 12 && string(data[4:8]) == "ftyp" && mp4Brands[string(data[8:12])]
}
