package ffmpeg

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math/bits"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"brinefield/internal/app"
)

const (
	proxyWidthPx = 1280
	proxyGroup   = 12         // frames from keyframe to keyframe: a step backwards decodes at most as many
	proxyUnits   = 90000      // a second, where the file's own unit does not fit
	longestUnits = 1<<31 - 1  // from frame to frame, that an MP4 holds
	part         = ".part"    // after the name, until it is whole
	rawFrame     = 1280 << 11 // bytes of a frame before it is coded, at most about
)

// Proxy writes a copy at most 1280 pixels wide, upright, in H.264 with a keyframe
// every twelve frames and none that waits for a later one, into out. The time of
// every frame is that of the file, exactly: in the file's own units, which an MP4
// can hold; only where two frames lie further apart than 2³¹ of those, each time is
// rounded down to 1/90000 s. Where the first time is below 0, all are shifted so
// that it is 0. When all is written, the copy is looked into: with other times than
// it should have, it is removed and an error.
//
// The copy is written beside out, flushed to the disc and renamed, so that what
// bears the name is whole.
//
// Errors: *[app.MediaError]; that of ctx.
func (m *Media) Proxy(ctx context.Context, path, out string, p *app.Probed, progress func(done float64)) (err error) {
	path, err = filepath.Abs(path)
	if err != nil {
		return err
	}
	if out, err = filepath.Abs(out); err != nil {
		return err
	}
	file := shown(path)
	if len(p.PTS) == 0 || p.TimeBase[0] <= 0 || p.TimeBase[1] <= 0 {
		return &app.MediaError{File: file, Wrong: "has no frames that are known", Right: "look into it again"}
	}
	if _, err := os.Lstat(out); err == nil {
		return &app.MediaError{File: shown(out), Wrong: "is there already", Right: "name another file, or remove that one first"}
	}
	kind, size, err := sniff(path)
	if err != nil {
		return err
	}
	t, err := m.ready(ctx, file)
	if err != nil {
		return err
	}
	if t.noX264 {
		return &app.MediaError{File: file, Wrong: "cannot be copied small: this ffmpeg has no encoder libx264", Right: lower(t.Remedy)}
	}
	unfinished := out + part
	if err := os.Remove(unfinished); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, removed(unfinished))
		}
	}()
	plan := planTimes(p)
	args := append([]string{"-nostdin", "-hide_banner", "-dts_delta_threshold", "1000000000", "-copyts"}, reading(kind, path)...)
	args = append(args, "-map", "0:V:0", "-an", "-sn", "-dn", "-map_metadata", "-1", "-map_chapters", "-1",
		"-vf", plan.filter+"scale='trunc(min("+strconv.Itoa(proxyWidthPx)+",iw)/2)*2':-2,setsar=1")
	args = append(args, t.passthrough...)
	args = append(args, "-enc_time_base", "1/"+plan.units(), "-video_track_timescale", plan.units())
	if !t.old { // not known there; then a first time that is no whole millisecond is refused below
		args = append(args, "-movie_timescale", plan.units())
	}
	args = append(args, "-c:v", "libx264", "-preset", "veryfast", "-crf", "20", "-g", strconv.Itoa(proxyGroup), "-keyint_min", strconv.Itoa(proxyGroup), "-sc_threshold", "0", "-bf", "0",
		"-pix_fmt", "yuv420p", "-movflags", "+faststart", "-f", "mp4", "-progress", "pipe:1", "-nostats", "-n", "file:"+unfinished)
	frames := int64(len(p.PTS))
	lim := limits{
		total: 10*time.Minute + time.Duration(frames)*2*time.Second, stall: 5 * time.Minute, memory: 12 << 30,
		out: 64<<20 + frames*1000, file: uint64(64<<20 + frames*rawFrame),
	}
	said, err := runAndHear(ctx, t.ffmpeg, args, lim, follow(len(p.PTS), lim.stall, progress))
	if err != nil {
		if strings.Contains(said, "No space left on device") {
			return &app.MediaError{File: file, Wrong: "cannot be copied small: the disc is full", Right: "free some space and ask again"}
		}
		return (&probe{path: path, file: file, kind: kind, bytes: size}).wrong(err, said)
	}
	copied, err := m.Probe(ctx, unfinished)
	if err != nil {
		return err
	}
	if wrong := plan.differs(copied); wrong != "" {
		return &app.MediaError{File: file, Wrong: "cannot be copied small: " + wrong, Right: "some of its frames are broken; convert it first, keeping the frame times"}
	}
	if err := settle(unfinished, out); err != nil {
		return err
	}
	if progress != nil {
		progress(1)
	}
	return nil
}

func removed(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}

// settle makes a whole file bear its name, on the disc.
func settle(unfinished, out string) error {
	f, err := os.OpenFile(unfinished, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	err = errors.Join(f.Chmod(0o600), f.Sync(), f.Close())
	if err != nil {
		return err
	}
	return os.Rename(unfinished, out)
}

// follow reads what ffmpeg says of its progress, and ends it when frames no longer
// come though it goes on talking.
func follow(frames int, patience time.Duration, progress func(done float64)) func(io.Reader) error {
	return func(r io.Reader) error {
		scan := bufio.NewScanner(r)
		last, at := -1, time.Now()
		for scan.Scan() {
			text, is := strings.CutPrefix(scan.Text(), "frame=")
			if !is {
				continue
			}
			n, err := strconv.Atoi(strings.TrimSpace(text))
			if err != nil {
				continue
			}
			if n <= last {
				if time.Since(at) > patience {
					return errStalled
				}
				continue
			}
			last, at = n, time.Now()
			if progress != nil {
				progress(0.99 * min(1, float64(n)/float64(frames))) // the rest is looking into it
			}
		}
		return scan.Err()
	}
}

// timePlan is which times the copy is to have.
type timePlan struct {
	perSecond int64
	exact     bool // in the file's own units
	want      []int64
	filter    string
}

func (t *timePlan) units() string { return strconv.FormatInt(t.perSecond, 10) }

// onlyLater leaves out frames that bear the same time as one before, as Probe does.
const onlyLater = "select='isnan(prev_selected_pts)+gt(pts,prev_selected_pts)',"

func planTimes(p *app.Probed) *timePlan {
	num, den := p.TimeBase[0], p.TimeBase[1]
	t := &timePlan{perSecond: den, filter: onlyLater}
	shift := min(p.PTS[0], 0)
	if shift < 0 {
		t.filter += fmt.Sprintf("setpts='PTS-(%d)',", shift)
	}
	fits := true
	for i, at := range p.PTS {
		hi, lo := bits.Mul64(uint64(at-shift), uint64(num))
		fits = fits && hi == 0 && lo < 1<<62 && (i == 0 || at-p.PTS[i-1] <= longestUnits/num)
		t.want = append(t.want, int64(lo))
	}
	if fits {
		t.exact = true
		return t
	}
	t.perSecond = proxyUnits
	// Back to the file's units, so that settb rounds to the very unit meant.
	scale := strconv.FormatInt(num*proxyUnits, 10) + "/" + strconv.FormatInt(den, 10)
	t.filter += "setpts='ceil(floor(PTS*" + scale + ")/(" + scale + "))',settb=1/" + t.units() + ","
	for i, at := range p.PTS {
		hi, lo := bits.Mul64(uint64(at-shift), uint64(num)*proxyUnits)
		whole, _ := bits.Div64(hi%uint64(den), lo, uint64(den))
		t.want[i] = int64(whole)
	}
	return t
}

// differs says how a copy is not what it should be; "" where it is.
func (t *timePlan) differs(copied *app.Probed) string {
	got := copied.PTS
	if copied.TimeBase != [2]int64{1, t.perSecond} {
		return fmt.Sprintf("the copy counts in %d/%d s, not in 1/%d s", copied.TimeBase[0], copied.TimeBase[1], t.perSecond)
	}
	if len(got) != len(t.want) {
		return fmt.Sprintf("%d of %d frames can be decoded", len(got), len(t.want))
	}
	wrong := 0
	for i := range got {
		if got[i] != t.want[i] {
			wrong++
		}
	}
	if wrong > 0 {
		return fmt.Sprintf("%d of %d frames would be shown at another time", wrong, len(got))
	}
	return ""
}
