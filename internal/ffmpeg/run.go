package ffmpeg

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// limits are what a program may take. The memory is held by the system on Linux
// alone; elsewhere the programs' own limit on one block of memory is all there is.
type limits struct {
	total  time.Duration // from start to end
	stall  time.Duration // without a byte of output
	memory uint64        // bytes of address space
	out    int64         // bytes of output that are read
	file   uint64        // bytes of a file that may be written
}

var (
	errTooLong = errors.New("took longer than it may")
	errStalled = errors.New("stopped answering")
	errTooMuch = errors.New("answered with more than it may")
)

// failure is what a program said when it failed.
type failure struct {
	program string
	said    string // the end of its errors
	err     error
}

func (f *failure) Error() string {
	said := strings.TrimSpace(f.said)
	if i := strings.LastIndexByte(said, '\n'); i >= 0 {
		said = said[i+1:]
	}
	if said == "" {
		return fmt.Sprintf("%s: %v", f.program, f.err)
	}
	return fmt.Sprintf("%s: %s", f.program, said)
}

func (f *failure) Unwrap() error { return f.err }

// run runs a program without input and with an empty environment, in a process
// group of its own that dies with ctx and, on Linux, with this program. read gets
// what it prints; an error of it ends the program.
//
// Errors: that of ctx when it ended; else a [failure] or what read said.
func run(ctx context.Context, program string, args []string, lim limits, read func(io.Reader) error) error {
	_, err := runAndHear(ctx, program, args, lim, read)
	return err
}

// runAndHear is run that also gives the end of what the program complained about,
// which it may do though it succeeds.
func runAndHear(ctx context.Context, program string, args []string, lim limits, read func(io.Reader) error) (said string, err error) {
	within, end := context.WithCancelCause(ctx)
	defer end(nil)
	total := time.AfterFunc(lim.total, func() { end(errTooLong) })
	defer total.Stop()
	stall := time.AfterFunc(lim.stall, func() { end(errStalled) })
	defer stall.Stop()

	cmd := exec.CommandContext(within, program, args...)
	cmd.Env = []string{} // neither reports nor presets of somebody, and no place to write them
	if !filepath.IsAbs(program) {
		return "", &failure{program: program, err: errors.New("is not named by its whole path")}
	}
	cmd.Dir = filepath.Dir(program) // not the folder of the moment
	heard := &ending{most: 8 << 10}
	cmd.Stderr = heard
	cmd.WaitDelay = 2 * time.Second
	apart(cmd)
	out, err := cmd.StdoutPipe()
	if err != nil {
		return "", err
	}
	if err := cmd.Start(); err != nil {
		return "", &failure{program: filepath.Base(program), err: err}
	}
	restrain(cmd.Process.Pid, lim)
	readErr := read(&watched{from: out, left: lim.out, stall: stall, after: lim.stall})
	if readErr != nil {
		end(readErr)
	} else {
		_, readErr = io.Copy(io.Discard, out)
	}
	waitErr := cmd.Wait()
	said = heard.String()
	switch cause := context.Cause(within); {
	case ctx.Err() != nil:
		return said, ctx.Err()
	case cause != nil && (errors.Is(cause, errTooLong) || errors.Is(cause, errStalled) || errors.Is(cause, errTooMuch)):
		return said, &failure{program: filepath.Base(program), said: said, err: cause}
	case cause != nil:
		return said, cause
	case waitErr != nil:
		return said, &failure{program: filepath.Base(program), said: said, err: waitErr}
	}
	return said, readErr
}

// watched is the output of a program: each byte puts off its end by stalling, and
// there is an end to how many there may be.
type watched struct {
	from  io.Reader
	left  int64
	stall *time.Timer
	after time.Duration
}

func (w *watched) Read(b []byte) (int, error) {
	n, err := w.from.Read(b)
	if n > 0 {
		w.stall.Reset(w.after)
	}
	if w.left -= int64(n); w.left < 0 {
		return n, errTooMuch
	}
	return n, err
}

// ending keeps the last bytes that are written to it.
type ending struct {
	most int
	kept []byte
}

func (e *ending) Write(b []byte) (int, error) {
	e.kept = append(e.kept, b[max(0, len(b)-e.most):]...)
	if over := len(e.kept) - e.most; over > 0 {
		e.kept = append(e.kept[:0], e.kept[over:]...)
	}
	return len(b), nil
}

func (e *ending) String() string { return string(bytes.ToValidUTF8(e.kept, []byte("?"))) }

// keep reads everything; the limit of the run bounds it.
func keep(into io.Writer) func(io.Reader) error {
	return func(r io.Reader) error {
		_, err := io.Copy(into, r)
		return err
	}
}
