package ffmpeg

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"brinefield/core/footage"
	"brinefield/internal/app"
)

// MaxSidePx is the longest side of a picture that is taken: twice that of 8K.
const MaxSidePx = 16384

// decoders are those that a file may make the programs use, of pictures, sound and
// what else cameras write. A list, because ffmpeg has hundreds, and the rarest are
// the least looked after.
const decoders = "h264,hevc,mpeg4,mpeg2video,mpeg1video,mjpeg,vp8,vp9,libvpx,libvpx-vp9,libdav1d,av1,libaom-av1,prores,dnxhd,cfhd,h263,msmpeg4,msmpeg4v2,ffv1,huffyuv,rawvideo,dvvideo,svq1,svq3," +
	"aac,aac_latm,mp3,mp3float,mp2,mp2float,mp1,ac3,eac3,opus,libopus,vorbis,libvorbis,flac,alac,amrnb,amrwb,adpcm_ima_wav,adpcm_ima_qt,adpcm_ms,gsm," +
	"pcm_s16le,pcm_s16be,pcm_s24le,pcm_s24be,pcm_s32le,pcm_s32be,pcm_u8,pcm_s8,pcm_f32le,pcm_f32be,pcm_alaw,pcm_mulaw," +
	"mov_text,subrip,srt,ass,ssa,webvtt,text"

// reading are the options under which ffprobe and ffmpeg read a file: that file
// alone, as that kind and no other, by those decoders, whole packets only. The name
// follows an option and a protocol, so that it can be neither.
func reading(kind container, path string) []string {
	args := []string{
		"-v", "error", "-max_alloc", strconv.Itoa(1 << 30),
		"-protocol_whitelist", "file,pipe", "-format_whitelist", kind.allowed, "-codec_whitelist", decoders,
		"-max_streams", "64", "-max_pixels", strconv.Itoa(MaxSidePx * MaxSidePx), "-fflags", "+discardcorrupt",
	}
	if kind.demuxer == "mov" { // tracks whose data lies in other files
		args = append(args, "-enable_drefs", "0", "-use_absolute_path", "0")
	}
	return append(args, "-f", kind.demuxer, "-i", "file:"+path)
}

// speeds below which a program is taken to hang: a slow card, and a slow laptop
// that decodes.
const (
	slowestReading  = 2_000_000 // bytes a second
	slowestDecoding = 100_000
)

func probing(bytes, perSecond int64) limits {
	return limits{total: time.Minute + time.Duration(bytes/perSecond)*time.Second, stall: 2 * time.Minute, memory: 4 << 30, out: 1 << 30}
}

// Probe reads the times of all frames: from the packets where each has one, by
// decoding where the file leaves them to the decoder.
//
// Errors: *[app.MediaError]; that of ctx.
func (m *Media) Probe(ctx context.Context, path string) (*app.Probed, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	file := shown(path)
	kind, bytes, err := sniff(path)
	if err != nil {
		return nil, err
	}
	t, err := m.ready(ctx, file)
	if err != nil {
		return nil, err
	}
	p := &probe{program: t.ffprobe, path: path, file: file, kind: kind, bytes: bytes}
	return p.look(ctx)
}

// probe is one file that is looked into.
type probe struct {
	program, path, file string
	kind                container
	bytes               int64

	said  *answer
	notes []string
}

func (p *probe) look(ctx context.Context) (*app.Probed, error) {
	said, err := "", error(nil)
	p.said, said, err = p.ask(ctx, probing(p.bytes, slowestReading), "-select_streams", "V", "-show_entries", packetEntries)
	if err != nil {
		return nil, p.wrong(err, said)
	}
	s := p.said.picture()
	if s == nil {
		return nil, p.noPicture(ctx)
	}
	timeBase, ok := fraction(s.timeBase, "/")
	switch {
	case s.width <= 0 || s.height <= 0 || s.codec == "" || !ok:
		return nil, &app.MediaError{File: p.file, Wrong: "does not say how its picture is coded, or how large it is" + because(said), Right: "copy it again from the camera's card"}
	case s.width > MaxSidePx || s.height > MaxSidePx:
		return nil, &app.MediaError{File: p.file, Wrong: fmt.Sprintf("has a picture of %d × %d pixels", s.width, s.height), Right: fmt.Sprintf("up to %d × %d are taken", MaxSidePx, MaxSidePx)}
	}
	found := &app.Probed{
		Container: p.kind.name, Codec: s.codec, PixelFormat: s.pixelFormat, WidthPx: s.width, HeightPx: s.height,
		TimeBase: timeBase, Made: p.said.madeAt(s),
	}
	if n := len(p.said.pictures); n > 1 {
		p.note("It holds %d pictures; the first is taken.", n)
	}
	if err := p.shape(s, found); err != nil {
		return nil, err
	}
	p.tail(s, said)
	frames, err := p.frames(ctx, p.said.frames[s.index])
	if err != nil {
		return nil, err
	}
	if err := p.order(frames, found); err != nil {
		return nil, err
	}
	found.Notes = append([]string{}, p.notes...)
	return found, nil
}

// ask puts a question about the file to ffprobe.
func (p *probe) ask(ctx context.Context, lim limits, question ...string) (a *answer, said string, err error) {
	args := append(append(reading(p.kind, p.path), question...), "-of", compactLines)
	said, err = runAndHear(ctx, p.program, args, lim, func(r io.Reader) error {
		var err error
		a, err = parseAnswer(r, footage.MaxFrames)
		return err
	})
	return a, said, err
}

func (p *probe) note(format string, args ...any) {
	p.notes = append(p.notes, fmt.Sprintf(format, args...))
}

// shape says how the picture is turned, mirrored, stretched and woven.
func (p *probe) shape(s *stream, found *app.Probed) error {
	turn, mirrored, rest := s.turn()
	found.RotationDeg, found.Mirrored = turn, mirrored
	if rest > 1 || rest < -1 {
		return &app.MediaError{File: p.file, Wrong: fmt.Sprintf("asks to be turned by %.0f°, which is no quarter turn", float64(turn)+rest), Right: "write it anew with the turn taken out"}
	}
	if mirrored {
		p.note("The file asks to be shown mirrored.")
	}
	if a, ok := fraction(s.aspect, ":"); ok && a[0] != a[1] {
		found.PixelAspect = a
		p.note("Its pixels are not square (%d to %d): positions count the stored pixels.", a[0], a[1])
	}
	switch s.fieldOrder {
	case "tt", "bb", "tb", "bt":
		p.note("It is interlaced: a frame holds two moments, half an interval apart.")
	}
	return nil
}

// frames are all frames in the order of the file, those that are never shown too:
// the packets, or what a decoder makes of them where they do not say enough.
func (p *probe) frames(ctx context.Context, frames []frame) ([]frame, error) {
	decode := func(question ...string) ([]frame, error) {
		a, said, err := p.ask(ctx, probing(p.bytes, slowestDecoding), append(question, "-select_streams", "V:0", "-show_entries", frameEntries)...)
		if err != nil {
			return nil, p.wrong(err, said)
		}
		return a.frames[-1], nil
	}
	timeless := slices.ContainsFunc(frames, func(f frame) bool { return f.unknown && !f.never })
	if timeless || len(frames) > 0 && !slices.ContainsFunc(frames, func(f frame) bool { return f.key }) {
		frames, err := decode()
		if err != nil {
			return nil, err
		}
		p.note("The file does not say when each frame is shown: the times were found by decoding it.")
		if n := fillIn(frames); n > 0 {
			p.note("%s one usual interval after the one before, as even so no time was found.", some(n, "frame is put", "frames are put"))
		}
		return frames, nil
	}
	if n := leading(frames); n > 0 { // shown before the first frame that a decoder can start from
		return p.beginning(frames, n, decode)
	}
	return frames, nil
}

// beginning finds out which frames of a file that begins in the middle of a stream a
// decoder shows: by decoding some seconds of it, or, where later frames are lost
// too, all.
func (p *probe) beginning(frames []frame, leading int, decode func(...string) ([]frame, error)) ([]frame, error) {
	const beyond, sure = 64, 32 // frames that are decoded, and that must have come out by then
	shows, err := decode("-read_intervals", "%+#"+strconv.Itoa(leading+beyond))
	if err != nil {
		return nil, err
	}
	times := map[int64]bool{}
	for _, f := range shows {
		times[f.pts] = true
	}
	due := len(frames)
	if due > leading+beyond {
		due = leading + sure
	}
	lost := 0
	for i := range frames[:due] {
		f := &frames[i]
		switch {
		case f.never || times[f.pts]:
		case i >= leading:
			p.note("The file begins in the middle of a recording: its times were found by decoding it.")
			return decode()
		default:
			f.never = true
			lost++
		}
	}
	if lost > 0 {
		p.note("%s others from before the file began, and cannot be shown: left out.", some(lost, "frame at the beginning needs", "frames at the beginning need"))
	}
	return frames, nil
}

// fillIn gives decoded frames without a time the place that a player gives them: one
// usual interval after the frame before, where that is before the next. Such a
// frame is often the last, as its decoder learned nothing of it. It says how many.
func fillIn(frames []frame) int {
	var between []int64
	for i := 1; i < len(frames); i++ {
		if d := frames[i].pts - frames[i-1].pts; !frames[i].unknown && !frames[i-1].unknown && d > 0 {
			between = append(between, d)
		}
	}
	if len(between) == 0 {
		return 0
	}
	slices.Sort(between)
	usual, filled := between[len(between)/2], 0
	for i := 1; i < len(frames); i++ {
		at := frames[i-1].pts + usual
		if frames[i].unknown && !frames[i-1].unknown && at > frames[i-1].pts && (i+1 == len(frames) || frames[i+1].unknown || at < frames[i+1].pts) {
			frames[i].pts, frames[i].unknown = at, false
			filled++
		}
	}
	return filled
}

// some says how many, in one of two forms.
func some(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + more
}

// leading is how many frames of the file there are up to the last that would be
// shown before the first keyframe; 0: none would.
func leading(frames []frame) int {
	first := slices.IndexFunc(frames, func(f frame) bool { return f.key })
	if first < 0 {
		return 0
	}
	last := 0
	for i, f := range frames {
		if !f.never && (i < first || f.pts < frames[first].pts) {
			last = i + 1
		}
	}
	return last
}

// tail notes that a file ends too early.
func (p *probe) tail(s *stream, said string) {
	whole, of := len(p.said.frames[s.index]), ""
	if all, err := strconv.Atoi(s.frames); err == nil && all > whole {
		of = fmt.Sprintf(" of %d", all)
	}
	if cutShort.MatchString(said) {
		p.note("The file is cut short: %d%s frames are whole. Copy it again if the card still has it.", whole, of)
	}
}

var cutShort = regexp.MustCompile(`(?i)partial file|truncat|ended prematurely|packet corrupt|end of file|corrupt input packet`)

// order sorts the frames as they are shown and fills in times and keyframes.
func (p *probe) order(frames []frame, found *app.Probed) error {
	never, unknown := 0, 0
	kept := frames[:0]
	for _, f := range frames {
		switch {
		case f.never:
			never++
		case f.unknown:
			unknown++
		default:
			kept = append(kept, f)
		}
	}
	if len(kept) == 0 {
		wrong := "holds no whole frame"
		if unknown > 0 {
			wrong = "does not say when any of its frames is shown"
		}
		return &app.MediaError{File: p.file, Wrong: wrong, Right: "copy it again from the camera's card"}
	}
	if unknown > 0 {
		p.note("%s no time: left out.", some(unknown, "frame bears", "frames bear"))
	}
	if err := p.jumpsBack(kept, found.TimeBase); err != nil {
		return err
	}
	slices.SortStableFunc(kept, func(a, b frame) int { return cmp.Compare(a.pts, b.pts) })
	found.PTS = make([]int64, 0, len(kept))
	found.Keyframes = []int{}
	same := 0
	for i, f := range kept {
		if i > 0 && f.pts == kept[i-1].pts {
			same++
			continue
		}
		if f.key {
			found.Keyframes = append(found.Keyframes, len(found.PTS))
		}
		found.PTS = append(found.PTS, f.pts)
	}
	if same > 0 {
		p.note("%s the same time as the one before: left out.", some(same, "frame bears", "frames bear"))
	}
	if never > 0 && !slices.ContainsFunc(p.notes, func(n string) bool { return strings.Contains(n, "cannot be shown") }) {
		p.note("%s only for decoding others, and never shown (the file's edit list).", some(never, "frame is", "frames are"))
	}
	if err := (footage.Times{TimeBase: found.TimeBase, PTS: found.PTS}).Check(); err != nil {
		return &app.MediaError{File: p.file, Wrong: "has impossible times: " + err.Error(), Right: "copy it again from the camera's card"}
	}
	return nil
}

// deepest is how many frames later a frame can stand in a file than it is shown, in
// any codec that is taken (ITU-T H.264 and H.265: 16 pictures in the buffer).
const deepest = 16

// jumpsBack refuses recordings that were put together without their times: sorted,
// their frames would be mixed.
func (p *probe) jumpsBack(frames []frame, timeBase [2]int64) error {
	const enough = 1.0 // s
	unit := float64(timeBase[0]) / float64(timeBase[1])
	for i := deepest; i < len(frames); i++ {
		// The frame so far back in the file must be shown before this one.
		if back := float64(frames[i-deepest].pts) - float64(frames[i].pts); back*unit > enough {
			return &app.MediaError{
				File: p.file, Wrong: fmt.Sprintf("has times that jump back by %.1f s after frame %d, as where recordings were joined", back*unit, i),
				Right: "take in each recording by itself",
			}
		}
	}
	return nil
}

// noPicture says what a file holds instead.
func (p *probe) noPicture(ctx context.Context) error {
	var kinds strings.Builder
	question := append(reading(p.kind, p.path), "-show_entries", "stream=codec_type", "-of", "csv=p=0")
	if err := run(ctx, p.program, question, asking, keep(&kinds)); err != nil {
		return p.wrong(err, "")
	}
	wrong := "holds no picture"
	switch {
	case strings.Contains(kinds.String(), "video"):
		wrong = "holds a still picture and no clip"
	case strings.Contains(kinds.String(), "audio"):
		wrong = "holds sound alone"
	}
	return &app.MediaError{File: p.file, Wrong: wrong, Right: taken}
}
