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

	stream *stream
	notes  []string
}

func (p *probe) look(ctx context.Context) (*app.Probed, error) {
	var text strings.Builder
	question := append(reading(p.kind, p.path), "-show_entries", headerEntries, "-of", "json")
	lim := asking
	lim.total, lim.stall = 2*time.Minute, 2*time.Minute
	said, err := runAndHear(ctx, p.program, question, lim, keep(&text))
	if err != nil {
		return nil, p.wrong(err, said)
	}
	head, err := parseHeader([]byte(text.String()))
	if err != nil {
		return nil, p.wrong(err, said)
	}
	s, pictures := head.picture()
	if s == nil {
		return nil, p.noPicture(head)
	}
	p.stream = s
	timeBase, ok := fraction(s.TimeBase, "/")
	switch {
	case s.Width <= 0 || s.Height <= 0 || s.Codec == "" || !ok:
		return nil, &app.MediaError{File: p.file, Wrong: "does not say how its picture is coded, or how large it is" + because(said), Right: "copy it again from the camera's card"}
	case s.Width > MaxSidePx || s.Height > MaxSidePx:
		return nil, &app.MediaError{File: p.file, Wrong: fmt.Sprintf("has a picture of %d × %d pixels", s.Width, s.Height), Right: fmt.Sprintf("up to %d × %d are taken", MaxSidePx, MaxSidePx)}
	}
	found := &app.Probed{
		Container: p.kind.name, Codec: s.Codec, PixelFormat: s.PixelFormat, WidthPx: s.Width, HeightPx: s.Height,
		TimeBase: timeBase, Made: head.made(s),
	}
	if pictures > 1 {
		p.note("It holds %d pictures; the first is taken.", pictures)
	}
	if err := p.shape(found); err != nil {
		return nil, err
	}
	frames, err := p.frames(ctx)
	if err != nil {
		return nil, err
	}
	if err := p.order(frames, found); err != nil {
		return nil, err
	}
	found.Notes = p.notes
	if found.Notes == nil {
		found.Notes = []string{}
	}
	return found, nil
}

func (p *probe) note(format string, args ...any) {
	p.notes = append(p.notes, fmt.Sprintf(format, args...))
}

// shape says how the picture is turned, mirrored, stretched and woven.
func (p *probe) shape(found *app.Probed) error {
	turn, mirrored, rest := p.stream.turn()
	found.RotationDeg, found.Mirrored = turn, mirrored
	if rest > 1 || rest < -1 {
		return &app.MediaError{File: p.file, Wrong: fmt.Sprintf("asks to be turned by %.0f°, which is no quarter turn", float64(turn)+rest), Right: "write it anew with the turn taken out"}
	}
	if mirrored {
		p.note("The file asks to be shown mirrored.")
	}
	if a, ok := fraction(p.stream.Aspect, ":"); ok && a[0] != a[1] {
		found.PixelAspect = a
		p.note("Its pixels are not square (%d to %d): positions count the stored pixels.", a[0], a[1])
	}
	switch p.stream.FieldOrder {
	case "tt", "bb", "tb", "bt":
		p.note("It is interlaced: a frame holds two moments, half an interval apart.")
	}
	return nil
}

// frames reads all frames in the order of the file, those that are never shown too.
func (p *probe) frames(ctx context.Context) ([]frame, error) {
	ask := func(lim limits, more ...string) (frames []frame, said string, err error) {
		question := append(reading(p.kind, p.path), "-select_streams", strconv.Itoa(p.stream.Index))
		said, err = runAndHear(ctx, p.program, append(append(question, more...), "-of", "compact=p=0:nk=0"), lim, func(r io.Reader) error {
			var err error
			frames, err = parseFrames(r, footage.MaxFrames)
			return err
		})
		return frames, said, err
	}
	const decoded = "frame=best_effort_timestamp,key_frame"
	frames, said, err := ask(probing(p.bytes, slowestReading), "-show_entries", "packet=pts,size,flags")
	if err != nil {
		return nil, p.wrong(err, said)
	}
	p.tail(len(frames), said)
	timeless := slices.ContainsFunc(frames, func(f frame) bool { return f.unknown && !f.never })
	if timeless || len(frames) > 0 && !slices.ContainsFunc(frames, func(f frame) bool { return f.key }) {
		if frames, said, err = ask(probing(p.bytes, slowestDecoding), "-show_entries", decoded); err != nil {
			return nil, p.wrong(err, said)
		}
		p.note("The file does not say when each frame is shown: the times were found by decoding it.")
		if n := fillIn(frames); n > 0 {
			p.note("%s one usual interval after the one before, as even so no time was found.", some(n, "frame is put", "frames are put"))
		}
		return frames, nil
	}
	if n := leading(frames); n > 0 { // shown before the first frame that a decoder can start from
		shows, said, err := ask(probing(p.bytes, slowestDecoding), "-read_intervals", "%+#"+strconv.Itoa(n+64), "-show_entries", decoded)
		if err != nil {
			return nil, p.wrong(err, said)
		}
		times := map[int64]bool{}
		for _, f := range shows {
			times[f.pts] = true
		}
		lost := 0
		for i := range frames[:n] {
			if f := &frames[i]; !f.never && !times[f.pts] {
				f.never = true
				lost++
			}
		}
		if lost > 0 {
			p.note("%s others from before the file began, and cannot be shown: left out.", some(lost, "frame at the beginning needs", "frames at the beginning need"))
		}
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
	last := 0
	for i, f := range frames {
		if !f.never && (i < first || f.pts < frames[first].pts) {
			last = i + 1
		}
	}
	return last
}

// tail notes that a file ends too early.
func (p *probe) tail(whole int, said string) {
	of := ""
	if all, err := strconv.Atoi(p.stream.Frames); err == nil && all > whole {
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

func (p *probe) noPicture(h *header) error {
	for _, s := range h.Streams {
		if s.Type == "video" {
			return &app.MediaError{File: p.file, Wrong: "holds a still picture and no clip", Right: taken}
		}
	}
	if slices.ContainsFunc(h.Streams, func(s stream) bool { return s.Type == "audio" }) {
		return &app.MediaError{File: p.file, Wrong: "holds sound alone", Right: taken}
	}
	return &app.MediaError{File: p.file, Wrong: "holds no picture", Right: taken}
}
