//go:build soak && unix

package files

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"brinefield/internal/app"
)

func init() {
	// Takes in uploads and copies, remembers places and frame times until it is
	// killed, and says after each what is on the disc.
	parts["film"] = func(args []string) error {
		f, err := OpenFootage(args[0], false)
		if err != nil {
			return err
		}
		if err := f.Tidy(ctx); err != nil {
			return err
		}
		for n := 0; ; n++ {
			name := fmt.Sprintf("%s %d", args[2], n)
			clip := filepath.Join(args[1], "clip.mp4")
			if err := os.WriteFile(clip, []byte(strings.Repeat(name, 100_000)), 0o600); err != nil {
				return err
			}
			from := clip
			if n%2 == 1 {
				token, err := f.Upload(ctx, "clip.mp4", -1, strings.NewReader(strings.Repeat(name, 100_000)))
				if err != nil {
					return err
				}
				if from, err = f.Uploaded(token); err != nil {
					return err
				}
			}
			sum, _, _, err := f.Copy(ctx, from, nil)
			if err != nil {
				return err
			}
			fmt.Println("copied", sum)
			if err := f.Refer(sum, clip); err != nil {
				return err
			}
			fmt.Println("referred", sum)
			if err := f.PutProbed(sum, &app.Probed{Codec: name}); err != nil {
				return err
			}
			fmt.Println("probed", sum)
			if err := f.PutJobs(fmt.Appendf(nil, "[%q]", name)); err != nil {
				return err
			}
			if n%5 == 4 {
				if err := f.Forget(sum); err != nil {
					return err
				}
			}
		}
	}
}

// TestFootageKilledAtRandomInstants: nothing that was acknowledged is lost, and
// nothing that is not whole has a name.
func TestFootageKilledAtRandomInstants(t *testing.T) {
	dir, card := t.TempDir(), t.TempDir()
	acknowledged := 0
	for run := range 100 {
		c := child(t, "film", dir, card, fmt.Sprintf("run %d", run))
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		c.Stderr = os.Stderr
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.AfterFunc(time.Duration(20+rand.IntN(300))*time.Millisecond, func() { _ = c.Process.Kill() })
		said := map[string][]string{}
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			acknowledged++
			what, which, _ := strings.Cut(lines.Text(), " ")
			said[what] = append(said[what], which)
		}
		_ = c.Wait()
		f, err := OpenFootage(dir, false)
		if err != nil {
			t.Fatal(err)
		}
		if err := f.Tidy(ctx); err != nil {
			t.Fatal(err)
		}
		if wrong, err := f.Check(ctx, nil); err != nil || len(wrong) > 0 {
			t.Fatalf("run %d: %q, %v", run, wrong, err)
		}
		held := map[string]bool{}
		for _, sum := range f.Copies() {
			held[sum] = true
		}
		lost := 0
		for _, sum := range said["copied"] {
			if !held[sum] {
				lost++ // each fifth was removed again, and one more removal may have begun
			}
		}
		if lost > len(said["copied"])/5+1 {
			t.Fatalf("run %d: %d of %d copies are gone", run, lost, len(said["copied"]))
		}
		for _, sum := range said["referred"] {
			if f.places[sum].Path == "" {
				t.Fatalf("run %d: the place of %s is forgotten", run, sum)
			}
		}
		for _, sum := range said["probed"] {
			if _, err := f.Probed(sum); err != nil {
				t.Fatalf("run %d: %v", run, err)
			}
		}
		if text, err := f.Jobs(); err != nil || len(text) > 0 && !strings.HasSuffix(string(text), "]") {
			t.Fatalf("run %d: jobs %q, %v", run, text, err)
		}
		left, err := filepath.Glob(filepath.Join(dir, "footage", "*", "*"+partMark))
		if err != nil || len(left) > 0 {
			t.Fatalf("run %d: left behind %q", run, left)
		}
		for _, sum := range f.Copies() {
			if err := f.Forget(sum); err != nil {
				t.Fatal(err)
			}
		}
		f.Close()
	}
	t.Logf("killed 100 times with %d acknowledged steps: nothing lost, nothing half", acknowledged)
}

// TestMemoryOfLargeFootage copies a file of holes as large as four gigabytes.
func TestMemoryOfLargeFootage(t *testing.T) {
	dir := os.Getenv("BRINEFIELD_LARGE")
	if dir == "" {
		t.Skip("BRINEFIELD_LARGE names no folder with 10 GB of room")
	}
	dir, err := os.MkdirTemp(dir, "footage-")
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	large := filepath.Join(dir, "large.mp4")
	w, err := os.Create(large)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Truncate(4 << 30); err != nil {
		t.Fatal(err)
	}
	w.Close()
	f, err := OpenFootage(dir, false)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	before := residentKB(t)
	began := time.Now()
	if _, n, _, err := f.Copy(ctx, large, nil); err != nil || n != 4<<30 {
		t.Fatalf("%d bytes, %v", n, err)
	}
	took := time.Since(began)
	grown := residentKB(t) - before
	t.Logf("4 GiB copied and hashed in %.1f s (%.0f MB/s); the largest memory grew by %d kB", took.Seconds(), (4<<30)/1e6/took.Seconds(), grown)
	if grown > 16<<10 {
		t.Errorf("memory grew by %d kB", grown)
	}
}

// residentKB is the most memory that this process had so far, kB (VmHWM of Linux).
func residentKB(t *testing.T) int {
	t.Helper()
	text, err := os.ReadFile("/proc/self/status")
	if err != nil {
		t.Skip("only Linux says how much memory a process had at most")
	}
	var kB int
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			if _, err := fmt.Sscanf(rest, "%d", &kB); err != nil {
				t.Fatal(err)
			}
		}
	}
	return kB
}
