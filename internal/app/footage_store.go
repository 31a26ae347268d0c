package app

import (
	"context"
	"io"
	"time"
)

// Media looks into files of footage and makes small copies of them. It runs other
// programs, which may be missing.
type Media interface {
	Tools(ctx context.Context) MediaTools
	// Probe reads the times of all frames without decoding them. A file that is no
	// footage, or broken, is a *MediaError.
	Probe(ctx context.Context, path string) (*Probed, error)
	// Proxy writes a small copy with the very same frame times into out, whole or
	// not at all. progress gets the share that is done, 0 to 1.
	Proxy(ctx context.Context, path, out string, p *Probed, progress func(done float64)) error
}

// MediaError is what is wrong with a file, in one line for people.
type MediaError struct {
	File  string // its name
	Wrong string
	Right string // what would be right, or what can be done
}

func (e *MediaError) Error() string { return e.File + ": " + e.Wrong + "; " + e.Right }

// Probed is what a file of footage is.
type Probed struct {
	Container   string   `json:"container"`
	Codec       string   `json:"codec"`
	PixelFormat string   `json:"pixel_format"`
	WidthPx     int      `json:"width_px"`     // as it is stored
	HeightPx    int      `json:"height_px"`    // as it is stored
	RotationDeg int      `json:"rotation_deg"` // to be turned by, clockwise, to be upright: 0, 90, 180, 270
	TimeBase    [2]int64 `json:"time_base"`
	PTS         []int64  `json:"pts"` // increasing
	Keyframes   []int    `json:"keyframes"`
	Made        string   `json:"made"`  // when, by the file itself, RFC 3339; "" where it does not say
	Notes       []string `json:"notes"` // such as: the file ends in the middle of a frame
}

// FootageFiles are the files of footage of one study on this machine. Files are
// known by the SHA-256 of their bytes.
type FootageFiles interface {
	// Look lists a folder of this machine; "" is where footage usually is.
	Look(ctx context.Context, folder string) (FootageLook, error)
	// Hash reads a file; Copy keeps it in the study too.
	Hash(ctx context.Context, path string, progress func(done float64)) (sha256 string, bytes int64, err error)
	Copy(ctx context.Context, path string, progress func(done float64)) (sha256 string, bytes int64, err error)
	// Refer remembers where a file is on this machine.
	Refer(sha256, path string) error
	// Place says where a file is: its path, and copy, reference, missing or changed.
	Place(sha256 string) (path, state string)
	// Upload keeps what a browser sends under a name that an import takes.
	Upload(ctx context.Context, name string, from io.Reader) (token string, err error)
	// Uploaded is the path of an upload.
	Uploaded(token string) (path string, err error)
	// PutProbed and Probed keep what a probe found.
	PutProbed(sha256 string, p *Probed) error
	Probed(sha256 string) (*Probed, error)
	// Proxy is the path of a proxy, and whether it is there.
	Proxy(sha256 string) (path string, ready bool)
	Open(path string) (FootageReader, error)
}

// FootageReader is an open file of footage.
type FootageReader interface {
	io.ReadSeekCloser
	Modified() time.Time
	Bytes() int64
}
