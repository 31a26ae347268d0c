package ffmpeg

import (
	"fmt"

	"brinefield/internal/app"
)

// What a browser can step through without a small copy. The distance of keyframes
// decides how long a step backwards takes: all frames since the last are decoded.
const (
	longestGroup = 30   // frames from a keyframe to the next
	widestPx     = 2560 // a wider picture is slow to decode and to draw
)

// NeedsProxy is whether a browser cannot show a file frame by frame as it is, and why.
func (m *Media) NeedsProxy(p *app.Probed) (needed bool, why string) { return NeedsProxy(p) }

// NeedsProxy is whether a browser cannot show a file frame by frame as it is, and why.
func NeedsProxy(p *app.Probed) (needed bool, why string) {
	switch p.Container {
	case kindMP4.name, kindMOV.name, kindMatroska.name, kindWebM.name:
	default:
		return true, "a browser does not read files of the kind " + p.Container
	}
	switch {
	case p.Codec != "h264" && p.Codec != "vp9" && p.Codec != "av1":
		return true, "browsers do not decode " + p.Codec + " everywhere"
	case p.PixelFormat != "yuv420p" && p.PixelFormat != "yuvj420p":
		return true, fmt.Sprintf("browsers do not decode %s in the form %s everywhere", p.Codec, p.PixelFormat)
	case p.RotationDeg != 0:
		return true, fmt.Sprintf("it is stored turned by %d°", p.RotationDeg)
	case p.Mirrored:
		return true, "it is stored mirrored"
	case p.PixelAspect[0] != p.PixelAspect[1]:
		return true, "its pixels are not square"
	case p.WidthPx > widestPx:
		return true, fmt.Sprintf("it is %d pixels wide, which is slow to step through", p.WidthPx)
	case len(p.Keyframes) == 0 || p.Keyframes[0] != 0:
		return true, "its first frame needs others that are never shown"
	}
	if n := longestDistance(p); n > longestGroup {
		return true, fmt.Sprintf("up to %d frames follow a keyframe, so that a step backwards is slow", n)
	}
	return false, ""
}

// longestDistance is the most frames from a keyframe to the next, or to the end.
func longestDistance(p *app.Probed) int {
	longest := 0
	for i, k := range p.Keyframes {
		next := len(p.PTS)
		if i+1 < len(p.Keyframes) {
			next = p.Keyframes[i+1]
		}
		longest = max(longest, next-k)
	}
	return longest
}
