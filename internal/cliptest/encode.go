package cliptest

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"strconv"
	"strings"
)

// Encoding says how a clip is compressed; the zero value is H.264 of good
// quality, with a key frame every 12 frames and none that look ahead.
type Encoding struct {
	Codec       string // of ffmpeg; "" is libx264
	CRF         int    // 0 is 18
	GOP         int    // 0 is 12
	BFrames     int
	Preset      string // "" is veryfast
	TickHz      int    // units of time per second; 0 is 90000
	RotationDeg int    // that a player turns by, clockwise: the pictures are stored the other way round
}

func or[T comparable](v, otherwise T) T {
	var zero T
	if v == zero {
		return otherwise
	}
	return v
}

// Write renders frames from and up to to (0: all) of a scene into a file. The
// first frame is at time 0 of the file; the kind of file is told by its ending.
func (s *Scene) Write(path string, e Encoding, from, to int) (err error) {
	if to == 0 {
		to = len(s.Times)
	}
	tick := or(e.TickHz, 90000)
	w, h := s.Lens.WidthPx, s.Lens.HeightPx
	if e.RotationDeg%180 != 0 {
		w, h = h, w
	}
	codec := or(e.Codec, "libx264")
	gop := strconv.Itoa(or(e.GOP, 12))
	args := []string{
		"-v", "error", "-nostdin", "-y", "-f", "rawvideo", "-pix_fmt", "yuv420p", "-s", fmt.Sprintf("%dx%d", w, h), "-framerate", "30", "-i", "pipe:0",
		"-vf", fmt.Sprintf("settb=1/%d,setpts='%s'", tick, stamps(s.Times[from:to], tick)), "-fps_mode", "passthrough", "-enc_time_base", fmt.Sprintf("1/%d", tick),
		"-c:v", codec, "-preset", or(e.Preset, "veryfast"), "-crf", strconv.Itoa(or(e.CRF, 18)), "-g", gop, "-keyint_min", gop, "-sc_threshold", "0", "-bf", strconv.Itoa(e.BFrames),
		"-threads", "1", "-pix_fmt", "yuv420p", "-video_track_timescale", strconv.Itoa(tick), "-movflags", "+faststart", "-fflags", "+bitexact", "-flags:v", "+bitexact",
		"-metadata", "comment=" + s.Note, path,
	}
	cmd := exec.Command("ffmpeg", args...)
	var said bytes.Buffer
	cmd.Stderr = &said
	pipe, err := cmd.StdinPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	err = s.renderSpan(from, to, func(_ int, p *Picture) error {
		for _, plane := range []struct {
			data []byte
			w, h int
		}{{p.Y, p.Width, p.Height}, {p.U, p.Width / 2, p.Height / 2}, {p.V, p.Width / 2, p.Height / 2}} {
			if _, err := pipe.Write(turned(plane.data, plane.w, plane.h, e.RotationDeg)); err != nil {
				return err
			}
		}
		return nil
	})
	err = errors.Join(err, pipe.Close())
	if wait := cmd.Wait(); wait != nil {
		return fmt.Errorf("ffmpeg: %w: %s", errors.Join(wait, err), strings.TrimSpace(said.String()))
	}
	if err == nil && e.RotationDeg != 0 {
		err = rotate(path, e.RotationDeg, w, h)
	}
	return err
}

// stamps is ffmpeg's expression for the times of frames, in ticks from the first.
func stamps(times []float64, tick int) string {
	at := func(i int) int64 { return int64(math.Round((times[i] - times[0]) * float64(tick))) }
	step := 0.0
	even := true
	if n := len(times); n > 1 {
		step = (times[n-1] - times[0]) * float64(tick) / float64(n-1)
		for i := range times {
			even = even && math.Abs(float64(at(i))-step*float64(i)) <= 0.501
		}
	}
	if even {
		return fmt.Sprintf("floor(N*%.9f+0.5)", step)
	}
	var b strings.Builder
	for i := range times {
		if i > 0 {
			b.WriteByte('+')
		}
		fmt.Fprintf(&b, "eq(N,%d)*%d", i, at(i))
	}
	return b.String()
}

// turned is a plane turned anticlockwise, so that turning it clockwise by deg
// brings it upright again.
func turned(in []byte, w, h, deg int) []byte {
	out := make([]byte, len(in))
	for j := range h {
		for i := range w {
			k := 0
			switch deg {
			case 90:
				k = (w-1-i)*h + j
			case 180:
				k = (h-1-j)*w + w - 1 - i
			case 270:
				k = i*h + h - 1 - j
			default:
				return in
			}
			out[k] = in[j*w+i]
		}
	}
	return out
}

// rotate writes into the header of an MP4 by how much a player turns its picture
// (ISO/IEC 14496-12, 8.3.2: the matrix of the track).
func rotate(path string, deg, w, h int) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	i := bytes.Index(data, []byte("tkhd"))
	if i < 0 || data[i+4] != 0 {
		return errors.New("cliptest: no track header of version 0")
	}
	one, minus := uint32(1<<16), uint32(0xffff0000)
	m := map[int][9]uint32{
		90: {0, one, 0, minus, 0, 0, uint32(h) << 16, 0, 1 << 30}, 180: {minus, 0, 0, 0, minus, 0, uint32(w) << 16, uint32(h) << 16, 1 << 30},
		270: {0, minus, 0, one, 0, 0, 0, uint32(w) << 16, 1 << 30},
	}[deg]
	for k, v := range m {
		binary.BigEndian.PutUint32(data[i+44+4*k:], v)
	}
	return os.WriteFile(path, data, 0o600)
}

// Luma decodes a file and hands over the light of each frame, upright, as ffmpeg
// gives it.
func Luma(path string, w, h int, each func(frame int, y []byte) error) error {
	cmd := exec.Command("ffmpeg", "-v", "error", "-nostdin", "-threads", "1", "-i", path, "-map", "0:v:0", "-fps_mode", "passthrough", "-vf", "extractplanes=y", "-f", "rawvideo", "pipe:1")
	var said bytes.Buffer
	cmd.Stderr = &said
	pipe, err := cmd.StdoutPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	picture := make([]byte, w*h)
	for k := 0; err == nil; k++ {
		if _, err = io.ReadFull(pipe, picture); err == nil {
			err = each(k, picture)
		}
	}
	if errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		err = nil
	}
	if err != nil {
		pipe.Close() // ends ffmpeg, which may have more to say
	}
	if wait := cmd.Wait(); wait != nil && err == nil {
		err = fmt.Errorf("ffmpeg: %w: %s", wait, strings.TrimSpace(said.String()))
	}
	return err
}
