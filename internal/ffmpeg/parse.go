package ffmpeg

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
)

// header is what ffprobe says of a whole file.
type header struct {
	Streams []stream `json:"streams"`
	Format  struct {
		Tags map[string]string `json:"tags"`
	} `json:"format"`
}

type stream struct {
	Index       int            `json:"index"`
	Type        string         `json:"codec_type"`
	Codec       string         `json:"codec_name"`
	PixelFormat string         `json:"pix_fmt"`
	Width       int            `json:"width"`
	Height      int            `json:"height"`
	Aspect      string         `json:"sample_aspect_ratio"`
	FieldOrder  string         `json:"field_order"`
	TimeBase    string         `json:"time_base"`
	Frames      string         `json:"nb_frames"`
	Disposition map[string]int `json:"disposition"`
	SideData    []struct {
		Type     string  `json:"side_data_type"`
		Matrix   string  `json:"displaymatrix"`
		Rotation float64 `json:"rotation"`
	} `json:"side_data_list"`
	Tags map[string]string `json:"tags"`
}

// headerEntries are what ffprobe is asked for, so that a file with a novel in its
// tags does not make it print one.
const headerEntries = "stream=index,codec_type,codec_name,pix_fmt,width,height,sample_aspect_ratio,field_order,time_base,nb_frames" +
	":stream_disposition=attached_pic,timed_thumbnails:stream_tags=creation_time" +
	":stream_side_data=side_data_type,displaymatrix,rotation:format=format_name:format_tags=creation_time"

func parseHeader(data []byte) (*header, error) {
	var h header
	if err := json.Unmarshal(data, &h); err != nil {
		return nil, fmt.Errorf("ffprobe's answer is no JSON: %w", err)
	}
	return &h, nil
}

// picture is the first stream that is a moving picture, and how many there are:
// those that ffmpeg calls V.
func (h *header) picture() (s *stream, all int) {
	for i := range h.Streams {
		c := &h.Streams[i]
		if c.Type != "video" || c.Disposition["attached_pic"] != 0 || c.Disposition["timed_thumbnails"] != 0 {
			continue
		}
		if s == nil {
			s = c
		}
		all++
	}
	return s, all
}

// made is when the file says that it was made, RFC 3339; "" where it does not say,
// or names the first day of a calendar that was never set.
func (h *header) made(s *stream) string {
	for _, text := range []string{h.Format.Tags["creation_time"], s.Tags["creation_time"]} {
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
	for _, side := range s.SideData {
		if side.Type != "Display Matrix" {
			continue
		}
		a, b, c, d, ok := matrix(side.Matrix)
		if !ok {
			continue
		}
		mirrored = a*d-b*c < 0
		angle := math.Atan2(b, a) * 180 / math.Pi
		quarter := math.Round(angle / 90)
		return (int(quarter) + 4) % 4 * 90, mirrored, angle - quarter*90
	}
	return 0, false, 0
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

// longestLine bounds a line of ffprobe; what is asked for takes a hundred bytes.
const longestLine = 64 << 10

// parseFrames reads lines of key=value pairs, packets or frames, as they come.
func parseFrames(r io.Reader, most int) ([]frame, error) {
	var frames []frame
	scan := bufio.NewScanner(r)
	scan.Buffer(make([]byte, 4<<10), longestLine)
	for scan.Scan() {
		f, is, err := parseFrame(scan.Bytes())
		if err != nil {
			return nil, err
		}
		if !is {
			continue
		}
		if len(frames) == most {
			return nil, errTooMany
		}
		frames = append(frames, f)
	}
	return frames, scan.Err()
}

// parseFrame reads one line. Lines without a time of their own are what ffprobe
// writes of side data, and no frame; so is a packet without a byte.
func parseFrame(line []byte) (f frame, is bool, err error) {
	for pair := range bytes.SplitSeq(line, []byte("|")) {
		key, value, found := bytes.Cut(pair, []byte("="))
		if !found {
			continue
		}
		switch string(key) {
		case "pts", "best_effort_timestamp":
			is = true
			if string(value) == "N/A" {
				f.unknown = true
				continue
			}
			if f.pts, err = strconv.ParseInt(string(value), 10, 64); err != nil {
				return frame{}, false, fmt.Errorf("ffprobe's answer is no time: %q", value)
			}
		case "size":
			if string(value) == "0" {
				return frame{}, false, nil
			}
		case "flags":
			f.key = bytes.IndexByte(value, 'K') >= 0
			f.never = bytes.IndexByte(value, 'D') >= 0
		case "key_frame":
			f.key = string(value) == "1"
		}
	}
	return f, is, nil
}
