package ffmpeg

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// BenchmarkProxyBesideFfmpeg makes a copy of a clip, and has ffmpeg alone make one
// with the same settings, by turns in the same run: share is how quick we are beside
// it, with everything that we do besides (limits, a lower priority, reading the times
// of the copy, flushing it to the disc). 1080p, 20 s, long groups of pictures, noise.
func BenchmarkProxyBesideFfmpeg(b *testing.B) {
	dir := b.TempDir()
	if err := ffmpeg(dir, strings.Fields("-f lavfi -i testsrc2=size=1920x1080:rate=30:duration=20 -vf noise=alls=12:allf=t,"+variableRate+
		" -fps_mode passthrough -enc_time_base 1/90000 -c:v libx264 -preset veryfast -g 250 -bf 2 -pix_fmt yuv420p -video_track_timescale 90000 long.mp4")...); err != nil {
		b.Fatal(err)
	}
	path := filepath.Join(dir, "long.mp4")
	p := probed(b, path)
	var ours, bare time.Duration
	for b.Loop() {
		began := time.Now()
		if err := media.Proxy(b.Context(), path, filepath.Join(dir, "ours.mp4"), p, nil); err != nil {
			b.Fatal(err)
		}
		ours += time.Since(began)
		began = time.Now()
		if err := ffmpeg(dir, strings.Fields("-i long.mp4 -map 0:v:0 -an -vf scale='min(1280,iw)':-2 -fps_mode passthrough -enc_time_base -1 -c:v libx264 -preset veryfast -crf 20"+
			" -g 12 -keyint_min 12 -sc_threshold 0 -bf 0 -pix_fmt yuv420p -video_track_timescale 90000 -movflags +faststart bare.mp4")...); err != nil {
			b.Fatal(err)
		}
		bare += time.Since(began)
		for _, name := range []string{"ours.mp4", "bare.mp4"} {
			if err := os.Remove(filepath.Join(dir, name)); err != nil {
				b.Fatal(err)
			}
		}
	}
	b.ReportMetric(float64(b.N*len(p.PTS))/ours.Seconds(), "frames/s")
	b.ReportMetric(float64(b.N*len(p.PTS))/bare.Seconds(), "bare/s")
	b.ReportMetric(bare.Seconds()/ours.Seconds(), "share")
}
