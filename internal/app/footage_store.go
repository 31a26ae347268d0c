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
	// NeedsProxy reports whether a browser cannot step through the file itself,
	// and why.
	NeedsProxy(p *Probed) (needed bool, why string)
	// Proxy writes a small, upright copy with the very same frame times into out, whole or
	// not at all; a file that is there is an error. progress gets the share that is done, 0 to 1. Where the first time is
	// below 0, which no MP4 can hold, all times are shifted so that it is 0.
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
	WidthPx     int      `json:"width_px"`              // as it is stored
	HeightPx    int      `json:"height_px"`             // as it is stored
	RotationDeg int      `json:"rotation_deg"`          // to be turned by, clockwise, to be upright: 0, 90, 180, 270
	Mirrored    bool     `json:"mirrored,omitzero"`     // the file asks to be shown mirrored as well
	PixelAspect [2]int64 `json:"pixel_aspect,omitzero"` // width to height of a pixel; 0, 0: square
	TimeBase    [2]int64 `json:"time_base"`
	PTS         []int64  `json:"pts"` // increasing
	Keyframes   []int    `json:"keyframes"`
	Made        string   `json:"made"`  // when, by the file itself, RFC 3339; "" where it does not say
	Notes       []string `json:"notes"` // such as: the file ends in the middle of a frame
}

// Places in which a file of footage can be.
const (
	PlaceCopy      = "copy"      // in the study
	PlaceReference = "reference" // where it was when it was imported
	PlaceMissing   = "missing"   // nowhere that is known
	PlaceChanged   = "changed"   // another file lies there
	PlaceUnsure    = "unsure"    // as large as it was, and written since: FootageFiles.Recheck tells
)

// FootageFiles are the files of footage of one study on this machine. Files are
// known by the SHA-256 of their bytes. Safe for concurrent use. What it writes is
// there whole or not at all; where the study is read-only, it answers
// [ErrReadOnly] and writes nothing.
type FootageFiles interface {
	// Look lists a folder of this machine; "" is where footage usually is. Clip
	// of its files is left to the caller (see Known).
	Look(ctx context.Context, folder string) (FootageLook, error)
	// Known is the hash under which a file of this machine was remembered; "" for
	// none.
	Known(path string) (sha256 string)
	// Candidates are the files in a folder, and in those below it, that have one of
	// some sizes.
	Candidates(ctx context.Context, folder string, bytes []int64) (paths []string, err error)
	// Stat is the size of a file, and when it was written: an error in words where
	// it is none that can be read.
	Stat(path string) (bytes int64, written time.Time, err error)
	// Hash reads a file; Copy keeps it in the study too, and says whether it was
	// not there before. A file that was uploaded is
	// given a second name, not copied, where the disc can do that.
	Hash(ctx context.Context, path string, progress func(done float64)) (sha256 string, bytes int64, err error)
	Copy(ctx context.Context, path string, progress func(done float64)) (sha256 string, bytes int64, fresh bool, err error)
	// Room is an error that wraps [ErrNoSpace] where there is none for so many
	// bytes more.
	Room(bytes int64) error
	// Forget removes a copy that nothing names.
	Forget(sha256 string) error
	// Refer remembers where a file is on this machine.
	Refer(sha256, path string) error
	// Place says where a file is: its path, and one of the places above.
	Place(sha256 string) (path, state string)
	// Recheck reads a file whose place is unsure, and remembers what it found.
	Recheck(ctx context.Context, sha256 string, progress func(done float64)) (same bool, err error)
	// Upload keeps what a browser sends under a name that an import takes; bytes is
	// how much it will be, -1 where that is not known.
	Upload(ctx context.Context, name string, bytes int64, from io.Reader) (token string, err error)
	// Uploaded is the path of an upload; DropUpload removes it.
	Uploaded(token string) (path string, err error)
	DropUpload(token string) error
	// PutProbed and Probed keep what a probe found. Without one, Probed answers an
	// error that wraps fs.ErrNotExist.
	PutProbed(sha256 string, p *Probed) error
	Probed(sha256 string) (*Probed, error)
	// Proxy is the path of a proxy, and whether it is there. DropProxy removes it.
	Proxy(sha256 string) (path string, ready bool)
	DropProxy(sha256 string) error
	// PutJobs and Jobs keep the list of what is waiting, so that closing loses none;
	// nil where nothing was kept.
	PutJobs(data []byte) error
	Jobs() ([]byte, error)
	// Copies are the hashes of the copies that are there, in order. Check reads all
	// and says in words which are damaged.
	Copies() []string
	Check(ctx context.Context, progress func(done, total int)) (wrong []string, err error)
	Open(path string) (FootageReader, error)
}

// FootageReader is an open file of footage.
type FootageReader interface {
	io.ReadSeekCloser
	Modified() time.Time
	Bytes() int64
}

// FootageMediaFile is a file as it is sent to a browser.
type FootageMediaFile struct {
	FootageReader
	Type string // media type
	ETag string // without quotation marks
}
