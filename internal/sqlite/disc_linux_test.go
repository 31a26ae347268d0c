package sqlite

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/google/go-cmp/cmp"

	"brinefield/core/journal"
	"brinefield/internal/app"
)

func mountReadOnly(t *testing.T, dir string) {
	t.Helper()
	if err := syscall.Mount(dir, dir, "", syscall.MS_BIND, ""); err != nil {
		t.Skip("cannot mount here:", err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(dir, syscall.MNT_DETACH) })
	if err := syscall.Mount("", dir, "", syscall.MS_BIND|syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Skip("cannot mount here:", err)
	}
}

// smallDisc is a disc of some kilobytes.
func smallDisc(t *testing.T, size string) string {
	t.Helper()
	if os.Getuid() != 0 {
		t.Skip("a small disc is made with a mount, which needs root")
	}
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size="+size); err != nil {
		t.Skip("cannot mount here:", err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(dir, syscall.MNT_DETACH) })
	return dir
}

func TestFullDisc(t *testing.T) {
	disc := smallDisc(t, "2m")
	dir := filepath.Join(disc, "study")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	s := mustCreate(t, dir)
	first := appendTrials(t, s, 50)
	ballast := filepath.Join(disc, "ballast")
	fill(t, ballast)
	before := dump(t, s.read)
	notes := strings.Repeat("a long note ", 200)
	var big []journal.Draft
	for range 500 {
		big = append(big, trial("T-big", notes))
	}
	for range 3 {
		if _, err := s.Journal().Append(t.Context(), big); !errors.Is(err, app.ErrNoSpace) {
			t.Fatalf("on a full disc: %v", err)
		}
	}
	if diff := cmp.Diff(before, dump(t, s.read)); diff != "" {
		t.Errorf("something was left of it:\n%s", diff)
	}
	if err := s.Guarded().PutOriginals(t.Context(), "import 1", app.Input{"a": randomBytes(t, 60_000), "b": randomBytes(t, 3_000_000)}); !errors.Is(err, app.ErrNoSpace) {
		t.Errorf("originals: %v", err)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	entries, err := s.Journal().Append(t.Context(), []journal.Draft{trial("T-next", "calm")})
	if err != nil || entries[0].Seq != first[len(first)-1].Seq+1 {
		t.Fatalf("with room again: %v, %v", entries, err)
	}
	if wrong, err := s.Check(t.Context(), true, nil); err != nil || len(wrong) > 0 {
		t.Errorf("%q, %v", wrong, err)
	}
	fill(t, ballast)
	if err := s.Snapshot(t.Context(), disc); !errors.Is(err, app.ErrNoSpace) {
		t.Errorf("snapshot: %v", err)
	}
	if _, err := os.Stat(filepath.Join(disc, StudyFile)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("half a snapshot was left: %v", err)
	}
	// What is in the log stays there when it cannot be folded in.
	before = dump(t, s.read)
	if err := s.Close(); err != nil && !errors.Is(err, app.ErrNoSpace) {
		t.Error(err)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	opt, _ := options()
	if diff := cmp.Diff(before, dump(t, mustOpen(t, dir, opt).read)); diff != "" {
		t.Errorf("closing on a full disc lost something:\n%s", diff)
	}
}

// A study that cannot be made leaves nothing.
func TestCreateOnFullDisc(t *testing.T) {
	for _, size := range []string{"4k", "16k", "40k", "100k"} {
		dir := smallDisc(t, size)
		opt, _ := options()
		s, err := Create(dir, opt)
		if err == nil {
			mustClose(t, s)
			t.Errorf("%s was enough: the test is too mild", size)
			continue
		}
		if !errors.Is(err, app.ErrNoSpace) {
			t.Errorf("%s: %v", size, err)
		}
		if files, _ := os.ReadDir(dir); len(files) > 0 {
			t.Errorf("%s: left %v", size, files)
		}
	}
}

func fill(t *testing.T, path string) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for size := 64 << 10; size >= 512; {
		if _, err := f.Write(make([]byte, size)); err != nil {
			if !errors.Is(err, syscall.ENOSPC) {
				t.Fatal(err)
			}
			size /= 2
		}
	}
}

func randomBytes(t *testing.T, n int) []byte {
	t.Helper()
	b := make([]byte, n)
	if _, err := freshRandom().Read(b); err != nil {
		t.Fatal(err)
	}
	return b
}
