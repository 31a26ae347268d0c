package files

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"brinefield/internal/app"
)

// smallDisc mounts a disc of its own, of some kilobytes, that only this test
// sees: it stands in a mount namespace of the test's thread, and goes with it.
func smallDisc(t *testing.T, kilobytes int) string {
	t.Helper()
	dir := t.TempDir()
	runtime.LockOSThread() // never unlocked: the thread ends with the test
	if err := syscall.Unshare(syscall.CLONE_NEWNS); err != nil {
		t.Skip("only root can mount a small disc, which this test fills (run it as root): ", err)
	}
	if err := syscall.Mount("", "/", "", syscall.MS_REC|syscall.MS_PRIVATE, ""); err != nil {
		t.Skip("no mounts of its own: ", err)
	}
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, fmt.Sprintf("size=%dk,mode=0700", kilobytes)); err != nil {
		t.Skip("a small disc cannot be mounted: ", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return dir
}

func noise(t *testing.T, n int) []byte {
	t.Helper()
	data := make([]byte, n)
	if _, err := rand.Read(data); err != nil {
		t.Fatal(err)
	}
	return data
}

// fillUp leaves no block free.
func fillUp(t *testing.T, dir string) (path string) {
	t.Helper()
	path = filepath.Join(dir, "ballast")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for size := 64 << 10; size > 0; size /= 2 {
		for err == nil {
			_, err = f.Write(make([]byte, size))
		}
		if !errors.Is(err, syscall.ENOSPC) {
			t.Fatal(err)
		}
		err = nil
	}
	return path
}

func TestAFullDisc(t *testing.T) {
	dir := smallDisc(t, 1024)
	study := filepath.Join(dir, "study")
	snapshot := filepath.Join(dir, "snapshot")
	for _, d := range []string{study, snapshot} {
		if err := os.Mkdir(d, 0o700); err != nil {
			t.Fatal(err)
		}
	}
	big := noise(t, 100<<10)
	e, err := OpenErasable(study, rand.Reader, false)
	if err != nil {
		t.Fatal(err)
	}
	defer e.Close()
	ref, err := e.Put(ctx, voice)
	if err != nil {
		t.Fatal(err)
	}
	if err := exportOf(study, "old", winter, nil); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(snapshot, studyFile), big, 0o600); err != nil {
		t.Fatal(err)
	}
	whole := filepath.Join(dir, "whole.zip")
	if _, err := WriteBackup(ctx, whole, snapshot, BackupInfo{MadeAt: winter}); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(dir, "restored"), 0o700); err != nil {
		t.Fatal(err)
	}
	ballast := fillUp(t, dir)
	before := listing(t, dir)

	work := map[string]func() error{
		"keep a file": func() error { _, err := e.Put(ctx, big); return err },
		"export": func() error {
			_, err := WriteExport(ctx, study, map[string][]byte{"a.csv": big}, winter.Add(time.Hour))
			return err
		},
		"back up": func() error {
			_, err := WriteBackup(ctx, filepath.Join(dir, "b.zip"), snapshot, BackupInfo{MadeAt: winter})
			return err
		},
		"restore": func() error { _, err := ExtractBackup(ctx, whole, filepath.Join(dir, "restored")); return err },
		"make a study": func() error {
			return Shelf{Dir: dir}.NewFolder("new", func(into string) error {
				_, err := ExtractBackup(ctx, whole, into)
				return err
			})
		},
	}
	for name, do := range work {
		if err := do(); !errors.Is(err, app.ErrNoSpace) || !strings.Contains(err.Error(), "the disc is full") {
			t.Errorf("%s: %v", name, err)
		}
		if after := listing(t, dir); after != before {
			t.Errorf("%s left\n%s\nwhere there was\n%s", name, after, before)
		}
	}
	if data, err := e.Get(ctx, ref); err != nil || !bytes.Equal(data, voice) {
		t.Errorf("what was kept: %q, %v", data, err)
	}
	if at, err := ExportedAt(study); err != nil || !at.Equal(winter) || !exportIs(study, "old") {
		t.Errorf("the export from before: %v, %v", at, err)
	}
	if free, err := FreeSpace(dir); err != nil || free > 4096 || SpaceNote(free) == "" {
		t.Errorf("%d bytes free, %v", free, err)
	}
	// Erasing needs no room.
	if err := e.Erase(ctx, ref); err != nil || holds(study, voice) {
		t.Errorf("erasing on a full disc: %v", err)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	for name, do := range work {
		if err := do(); err != nil {
			t.Errorf("%s, with room again: %v", name, err)
		}
	}
}

// listing is every name below dir with its size.
func listing(t *testing.T, dir string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.Walk(dir, func(path string, info os.FileInfo, err error) error {
		if err == nil && !info.IsDir() {
			fmt.Fprintf(&b, "%s %d\n", path, info.Size())
		} else if err == nil {
			fmt.Fprintf(&b, "%s/\n", path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestAReadOnlyDisc(t *testing.T) {
	dir := smallDisc(t, 1024)
	if err := keep(dir, 1, voice, nil); err != nil {
		t.Fatal(err)
	}
	if err := exportOf(dir, "old", winter, nil); err != nil {
		t.Fatal(err)
	}
	lock, err := Acquire(dir, ThisWindow("before", winter))
	if err != nil {
		t.Fatal(err)
	}
	if err := lock.Release(); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, "size=1024k"); err != nil {
		t.Fatal(err)
	}
	before := listing(t, dir)
	_, locked := Acquire(dir, ThisWindow("now", winter))
	_, exported := WriteExport(ctx, dir, nil, winter)
	_, backups := BackupsFolder(dir, winter)
	for name, err := range map[string]error{
		"lock": locked, "export": exported, "backups": backups, "settle": SettleExport(dir, winter), "probe": Writable(dir), "keep": keep(dir, 2, sound, nil),
	} {
		var readOnly *ReadOnlyError
		if !errors.Is(err, app.ErrReadOnly) || !errors.As(err, &readOnly) || !strings.Contains(err.Error(), "its disc is write-protected") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := WriteBackup(ctx, filepath.Join(dir, "b.zip"), t.TempDir(), BackupInfo{}); err == nil || errors.Is(err, app.ErrReadOnly) || !strings.Contains(err.Error(), "choose a folder that you may write to") {
		t.Errorf("a backup on a read-only disc: %v", err)
	}
	notes, readOnly, err := LookAtStudy(dir, true)
	if err != nil || !errors.Is(readOnly, app.ErrReadOnly) || !strings.Contains(strings.Join(notes, "\n"), "tmpfs") {
		t.Errorf("%q, %v, %v", notes, readOnly, err)
	}
	e, err := OpenErasable(dir, nil, true)
	if err != nil {
		t.Fatal(err)
	}
	defer e.Close()
	if data, err := e.Get(ctx, reference(1, voice)); err != nil || !bytes.Equal(data, voice) {
		t.Errorf("reading: %q, %v", data, err)
	}
	if at, err := ExportedAt(dir); err != nil || !at.Equal(winter) {
		t.Errorf("%v, %v", at, err)
	}
	if after := listing(t, dir); after != before {
		t.Errorf("before\n%s\nafter\n%s", before, after)
	}
}
