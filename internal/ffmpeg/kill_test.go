//go:build unix

package ffmpeg

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"syscall"
	"testing"
	"time"
)

// A process of its own makes one copy after another, until it is killed.
const (
	killedClip = "BRINEFIELD_TEST_CLIP"
	killedOut  = "BRINEFIELD_TEST_OUT"
)

func init() {
	path, out := os.Getenv(killedClip), os.Getenv(killedOut)
	if path == "" {
		return
	}
	ctx := context.Background()
	p, err := media.Probe(ctx, path)
	for n := 0; err == nil; n++ {
		fmt.Println("copying")
		err = media.Proxy(ctx, path, filepath.Join(out, fmt.Sprintf("%d.mp4", n)), p, nil)
	}
	fmt.Println("failed", err)
	os.Exit(1)
}

// killWhileCopying kills the process some time after it began a copy, and looks at
// what is there: every file under a final name is whole, and nothing goes on.
func killWhileCopying(t *testing.T, path string, after time.Duration) (whole int) {
	t.Helper()
	want := decoded(t, path)
	dir := t.TempDir()
	cmd := exec.Command(os.Args[0], "-test.run=^$")
	cmd.Env = append(os.Environ(), killedClip+"="+path, killedOut+"="+dir)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	scan := bufio.NewScanner(out)
	if !scan.Scan() || scan.Text() != "copying" {
		t.Errorf("it said %q", scan.Text())
	}
	time.Sleep(after)
	_ = cmd.Process.Signal(syscall.SIGKILL)
	_ = cmd.Wait()
	names, err := filepath.Glob(filepath.Join(dir, "*.mp4"))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		if got := decoded(t, name); !slices.Equal(got, want) {
			t.Errorf("killed after %v: %s holds %d frames of %d", after, filepath.Base(name), len(got), len(want))
		}
	}
	if runtime.GOOS != "linux" { // elsewhere it ends when it next tells of its progress
		return len(names)
	}
	// ffmpeg has ended too: what it was writing no longer grows.
	size := func() (all int64) {
		parts, _ := filepath.Glob(filepath.Join(dir, "*"+part))
		for _, p := range parts {
			if info, err := os.Stat(p); err == nil {
				all += info.Size()
			}
		}
		return all
	}
	time.Sleep(50 * time.Millisecond)
	before := size()
	time.Sleep(150 * time.Millisecond)
	if now := size(); now != before {
		t.Errorf("killed after %v: the copy grew from %d to %d bytes without us", after, before, now)
	}
	return len(names)
}

// The moment differs from run to run; the soak test goes through 100 of a fixed seed.
func TestKilledWhileItCopies(t *testing.T) {
	if testing.Short() {
		t.Skip("most of it is ffmpeg's work")
	}
	killWhileCopying(t, clip(t, "variable.mp4"), time.Duration(rand.IntN(400))*time.Millisecond)
}
