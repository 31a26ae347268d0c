package files

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"brinefield/internal/app"
)

func init() {
	// Takes the lock, says so, and keeps it until its input ends.
	parts["hold"] = func(args []string) error {
		lock, err := Acquire(args[0], ThisWindow("the other window 1.0", time.Now()))
		if err != nil {
			return err
		}
		fmt.Println("held")
		_, _ = bufio.NewReader(os.Stdin).ReadByte()
		return lock.Release()
	}
}

func holdElsewhere(t *testing.T, dir string) (c *exec.Cmd, letGo func()) {
	t.Helper()
	c = child(t, "hold", dir)
	in, err := c.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	c.Stderr = os.Stderr
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Process.Kill(); _ = c.Wait() }) // most have ended by then
	if line, err := bufio.NewReader(out).ReadString('\n'); err != nil || line != "held\n" {
		t.Fatalf("the second process says %q, %v", line, err)
	}
	return c, func() { in.Close(); _ = c.Wait() }
}

func TestASecondProcessIsToldWhoHoldsTheStudy(t *testing.T) {
	dir := t.TempDir()
	other, letGo := holdElsewhere(t, dir)
	_, err := Acquire(dir, ThisWindow("this window", time.Now()))
	var locked *LockedError
	if !errors.As(err, &locked) || !errors.Is(err, app.ErrReadOnly) {
		t.Fatalf("a second lock: %v", err)
	}
	host, _ := os.Hostname()
	if h := locked.Holder; h.Process != other.Process.Pid || h.Machine != host || h.Program != "the other window 1.0" || time.Since(h.Since) > time.Minute || time.Since(h.Since) < 0 {
		t.Errorf("the holder is told as %+v", h)
	}
	for _, part := range []string{host, fmt.Sprintf("process %d", other.Process.Pid), "since " + locked.Holder.Since.Local().Format("15:04")} {
		if !strings.Contains(err.Error(), part) {
			t.Errorf("%q lacks %q", err, part)
		}
	}
	letGo()
	lock, err := Acquire(dir, ThisWindow("this window", time.Now()))
	if err != nil {
		t.Fatalf("after the other let go: %v", err)
	}
	if err := errors.Join(lock.Release(), lock.Release()); err != nil {
		t.Error(err)
	}
}

func TestTheLockOfAKilledProcessIsFree(t *testing.T) {
	dir := t.TempDir()
	other, _ := holdElsewhere(t, dir)
	if err := other.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = other.Wait()
	text, err := os.ReadFile(filepath.Join(dir, lockFile))
	if err != nil || !strings.Contains(string(text), fmt.Sprintf("process: %d\n", other.Process.Pid)) {
		t.Errorf("the file of the killed process: %q, %v", text, err)
	}
	lock, err := Acquire(dir, ThisWindow("this window", time.Now()))
	if err != nil {
		t.Fatal(err)
	}
	text, err = os.ReadFile(filepath.Join(dir, lockFile))
	if err != nil || !strings.Contains(string(text), fmt.Sprintf("process: %d\n", os.Getpid())) || strings.Contains(string(text), "other window") && !strings.Contains(string(text), "this window") {
		t.Errorf("the file now: %q, %v", text, err)
	}
	if err := lock.Release(); err != nil {
		t.Error(err)
	}
	if text, err := os.ReadFile(filepath.Join(dir, lockFile)); err != nil || len(text) != 0 {
		t.Errorf("when nobody has the study open the file says %q, %v", text, err)
	}
}

// Of many windows that open at once, one writes at a time.
func TestOneOfManyWindowsWrites(t *testing.T) {
	dir := t.TempDir()
	var holders, taken atomic.Int32
	var windows sync.WaitGroup
	for range 8 {
		windows.Go(func() {
			for range 50 {
				lock, err := Acquire(dir, Holder{Program: "window", Since: fivePastTwo})
				if err != nil {
					if !errors.Is(err, app.ErrReadOnly) {
						t.Error(err)
					}
					continue
				}
				taken.Add(1)
				if n := holders.Add(1); n != 1 {
					t.Errorf("%d hold the lock at once", n)
				}
				holders.Add(-1)
				if err := lock.Release(); err != nil {
					t.Error(err)
				}
			}
		})
	}
	windows.Wait()
	if taken.Load() == 0 {
		t.Error("nobody ever got the lock")
	}
}

var fivePastTwo = time.Date(2026, 11, 26, 14, 5, 0, 0, time.UTC)

func TestWhatTheSecondWindowSays(t *testing.T) {
	h := Holder{Program: "brinefield 0.3.0", Process: 4711, Machine: "boat", Since: fivePastTwo}
	for _, c := range []struct {
		holder Holder
		asked  time.Time
		want   string
	}{
		{h, fivePastTwo.Add(time.Hour), "this study is open in another window on boat since 14:05 (process 4711, brinefield 0.3.0): "},
		{h, fivePastTwo.Add(24 * time.Hour), "on boat since 14:05 on 26 November 2026 (process"},
		{h, fivePastTwo.In(time.FixedZone("", 3600)), "since 15:05 ("},
		{Holder{}, fivePastTwo, "this study is open in another window: "},
		{Holder{Machine: "boat"}, fivePastTwo, "this study is open in another window on boat: "},
	} {
		if got := (&LockedError{Holder: c.holder, Asked: c.asked}).Error(); !strings.Contains(got, c.want) {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

func FuzzParseHolder(f *testing.F) {
	f.Add("program: a\nprocess: 1\nmachine: b\nsince: 2026-11-26T14:05:00Z\n")
	f.Add("process: -99999999999999999999\nsince: yesterday\n: \n")
	f.Fuzz(func(t *testing.T, text string) {
		h := parseHolder(text)
		_ = (&LockedError{Holder: h, Asked: fivePastTwo}).Error()
		h.Program, h.Machine = oneLine(h.Program), oneLine(h.Machine)
		file, err := os.Create(filepath.Join(t.TempDir(), "lock"))
		if err != nil {
			t.Fatal(err)
		}
		defer file.Close()
		if err := writeHolder(file, h); err != nil {
			t.Fatal(err)
		}
		written, err := os.ReadFile(file.Name())
		if err != nil {
			t.Fatal(err)
		}
		if again := parseHolder(string(written)); again.Program != h.Program || again.Machine != h.Machine || again.Process != h.Process || !again.Since.Equal(h.Since) {
			t.Errorf("%+v came back as %+v", h, again)
		}
	})
}

func TestALockThatIsNoFile(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, lockFile), 0o700); err != nil {
		t.Fatal(err)
	}
	if _, err := Acquire(dir, Holder{}); err == nil || !strings.Contains(err.Error(), "not an ordinary file") {
		t.Errorf("a folder named lock: %v", err)
	}
	outside := filepath.Join(t.TempDir(), "outside")
	if err := os.WriteFile(outside, []byte("outside"), 0o600); err != nil {
		t.Fatal(err)
	}
	dir = t.TempDir()
	if err := os.Symlink(outside, filepath.Join(dir, lockFile)); err != nil {
		t.Fatal(err)
	}
	if _, err := Acquire(dir, Holder{}); err == nil {
		t.Error("a link named lock was followed")
	}
	if text, err := os.ReadFile(outside); err != nil || string(text) != "outside" {
		t.Errorf("the file outside: %q, %v", text, err)
	}
	if _, err := Acquire(filepath.Join(dir, "nowhere"), Holder{}); err == nil || !strings.Contains(err.Error(), "there is no folder") {
		t.Errorf("no folder: %v", err)
	}
}
