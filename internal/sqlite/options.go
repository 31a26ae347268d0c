package sqlite

import (
	"io"
	"sync"
	"time"
)

// Options is what a study needs of the world. All but the last three fields
// must be set to write.
type Options struct {
	Clock     func() time.Time
	Monotonic func() time.Duration // since the run of the program began
	Random    io.Reader            // of a quality for secrets
	Run       string               // names the run of the program
	Program   string               // the program's version

	ReadOnly bool
	// BeforeMigration is called before an older study is changed, with the
	// databases closed; an error stops the opening. [Copy] makes a backup.
	BeforeMigration func(from, to int64) error

	migrations *migrations // nil: those of this program; tests bring others
}

// chance lets several stores draw from one source.
type chance struct {
	mu     sync.Mutex
	source io.Reader
}

func (c *chance) fill(b []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	_, err := io.ReadFull(c.source, b)
	return err
}
