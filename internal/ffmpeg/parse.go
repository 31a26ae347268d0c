package ffmpeg

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
)

// answer is what ffprobe says of a file: its pictures, and their packets or frames
// in the order of the file.
type answer struct {
	pictures []stream
	made     string
	frames   map[int][]frame // by the index of the picture; -1 where it was not told
}

type stream struct {
	index         int
	codec         string
	pixelFormat   string
	width, height int
	aspect        string
	fieldOrder    string
	timeBase      string
	frames        string // how many the file says there are
	made          string
	matrix        string
}

// What ffprobe is asked for, and no more, so that a file with a novel in its tags
// does not make it print one.
const (
	packetEntries = "packet=stream_index,pts,size,flags" +
		":stream=index,codec_name,pix_fmt,width,height,sample_aspect_ratio,field_order,time_base,nb_frames" +
		":stream_tags=creation_time:stream_side_data=displaymatrix:format_tags=creation_time"
	frameEntries = "frame=best_effort_timestamp,key_frame"
	compactLines = "compact=p=1:nk=0"
)

// picture is the first, the one that ffmpeg calls V:0.
func (a *answer) picture() *stream {
	if len(a.pictures) == 0 {
		return nil
	}
	return &a.pictures[0]
}

// madeAt is when the file says that it was made, RFC 3339; "" where it does not say,
// or names the first day of a calendar that was never set.
func (a *answer) madeAt(s *stream) string {
	for _, text := range []string{a.made, s.made} {
		if at, err := time.Parse(time.RFC3339Nano, text); err == nil && at.Year() > 1980 && at.Year() < 9999 {
			return at.UTC().Format(time.RFC3339)
		}
	}
	return ""
}

// turn is by how much the picture is to be turned clockwise to be upright, to the
// nearest quarter; whether it is to be mirrored as well; and what remains of the
// turn, degrees.
//
// The matrix takes stored places to shown ones, (x, y)·[a b; c d], y downwards
// (ISO/IEC 14496-12, 8.3.2.3): a picture turned clockwise by φ has (a, b) = (cos φ, sin φ).
func (s *stream) turn() (clockwise int, mirrored bool, rest float64) {
	a, b, c, d, ok := matrix(s.matrix)
	if !ok {
		return 0, false, 0
	}
	angle := math.Atan2(b, a) * 180 / math.Pi
	quarter := math.Round(angle / 90)
	return (int(quarter) + 4) % 4 * 90, a*d-b*c < 0, angle - quarter*90
}

// matrix reads the upper left of a matrix as ffprobe writes it: three lines with
// an offset and three whole numbers each.
func matrix(text string) (a, b, c, d float64, ok bool) {
	var rows [][]float64
	for line := range strings.Lines(text) {
		fields := strings.Fields(line)
		if len(fields) != 4 || !strings.HasSuffix(fields[0], ":") {
			continue
		}
		var row []float64
		for _, f := range fields[1:] {
			n, err := strconv.ParseInt(f, 10, 64)
			if err != nil {
				return 0, 0, 0, 0, false
			}
			row = append(row, float64(n))
		}
		rows = append(rows, row)
	}
	if len(rows) != 3 || rows[0][0]*rows[1][1]-rows[0][1]*rows[1][0] == 0 {
		return 0, 0, 0, 0, false
	}
	return rows[0][0], rows[0][1], rows[1][0], rows[1][1], true
}

// fraction reads two whole numbers above 0, as 1/90000 or 4:3.
func fraction(text, between string) (f [2]int64, ok bool) {
	num, den, found := strings.Cut(text, between)
	if !found {
		return f, false
	}
	for i, s := range []string{num, den} {
		n, err := strconv.ParseInt(s, 10, 64)
		if err != nil || n <= 0 || n > math.MaxInt32 {
			return f, false
		}
		f[i] = n
	}
	return f, true
}

// frame is a packet of the picture, or a decoded frame: one of them is one of the
// other in every codec that is taken.
type frame struct {
	pts     int64
	key     bool
	unknown bool // when it is shown
	never   bool // shown: a player decodes it and throws it away
}

var errTooMany = errors.New("has more frames than are taken")

const (
	longestLine  = 64 << 10 // bytes of a line of ffprobe; what is asked for takes a hundred
	mostPictures = 64
)

// parseAnswer reads lines of a section's name and key=value pairs as they come. At
// most so many frames are taken. Lines of other sections are passed over.
func parseAnswer(r io.Reader, most int) (*answer, error) {
	a := &answer{frames: map[int][]frame{}}
	total := 0
	scan := bufio.NewScanner(r)
	scan.Buffer(make([]byte, 4<<10), longestLine)
	for scan.Scan() {
		section, line, _ := bytes.Cut(scan.Bytes(), []byte("|"))
		switch string(section) {
		case "packet", "frame":
			f, of, err := parseFrame(line)
			if err != nil {
				return nil, err
			}
			if of < -1 {
				continue
			}
			if total++; total > most {
				return nil, errTooMany
			}
			a.frames[of] = append(a.frames[of], f)
		case "stream":
			if len(a.pictures) < mostPictures {
				a.pictures = append(a.pictures, parseStream(line))
			}
		case "format":
			pairs(line, func(key, value []byte) {
				if string(key) == "tag:creation_time" {
					a.made = unescaped(value)
				}
			})
		}
	}
	return a, scan.Err()
}

// noFrame is the picture of a line that is no frame.
const noFrame = -2

// parseFrame reads one packet or frame, and of which picture it is. A packet without
// a byte is none.
func parseFrame(line []byte) (f frame, of int, err error) {
	of = -1
	timed, empty := false, false
	pairs(line, func(key, value []byte) {
		switch string(key) {
		case "stream_index":
			n, bad := strconv.Atoi(string(value))
			if bad != nil || n < 0 {
				err = fmt.Errorf("ffprobe's answer is no number of a stream: %q", value)
			}
			of = n
		case "pts", "best_effort_timestamp":
			timed = true
			if string(value) == "N/A" {
				f.unknown = true
				return
			}
			var bad error
			if f.pts, bad = strconv.ParseInt(string(value), 10, 64); bad != nil {
				err = fmt.Errorf("ffprobe's answer is no time: %q", value)
			}
		case "size":
			empty = string(value) == "0"
		case "flags":
			f.key = bytes.IndexByte(value, 'K') >= 0
			f.never = bytes.IndexByte(value, 'D') >= 0
		case "key_frame":
			f.key = string(value) == "1"
		}
	})
	if err != nil {
		return frame{}, noFrame, err
	}
	if !timed || empty {
		return frame{}, noFrame, nil
	}
	return f, of, nil
}

func parseStream(line []byte) stream {
	var s stream
	number := func(value []byte) int {
		n, err := strconv.Atoi(string(value))
		if err != nil || n < 0 {
			return 0 // as one that is not told
		}
		return n
	}
	pairs(line, func(key, value []byte) {
		switch string(key) {
		case "index":
			s.index = number(value)
		case "codec_name":
			s.codec = unescaped(value)
		case "pix_fmt":
			s.pixelFormat = unescaped(value)
		case "width":
			s.width = number(value)
		case "height":
			s.height = number(value)
		case "sample_aspect_ratio":
			s.aspect = unescaped(value)
		case "field_order":
			s.fieldOrder = unescaped(value)
		case "time_base":
			s.timeBase = unescaped(value)
		case "nb_frames":
			s.frames = unescaped(value)
		case "tag:creation_time":
			s.made = unescaped(value)
		case "displaymatrix":
			s.matrix = unescaped(value)
		}
	})
	return s
}

// pairs goes through the pairs of a line. What separates them is marked by a
// backslash where it is part of a value.
func pairs(line []byte, each func(key, value []byte)) {
	for len(line) > 0 {
		end := 0
		for end < len(line) && line[end] != '|' {
			if line[end] == '\\' {
				end++
			}
			end++
		}
		end = min(end, len(line))
		if key, value, found := bytes.Cut(line[:end], []byte("=")); found {
			each(key, value)
		}
		line = line[min(end+1, len(line)):]
	}
}

// unescaped takes the backslashes off as ffprobe puts them on.
func unescaped(value []byte) string {
	if bytes.IndexByte(value, '\\') < 0 {
		return string(value)
	}
	var out strings.Builder
	for i := 0; i < len(value); i++ {
		c := value[i]
		if c == '\\' && i+1 < len(value) {
			i++
			if c = value[i]; c == 'n' {
				c = '\n'
			} else if c == 'r' {
				c = '\r'
			} else if c == 't' {
				c = '\t'
			}
		}
		out.WriteByte(c)
	}
	return out.String()
}
