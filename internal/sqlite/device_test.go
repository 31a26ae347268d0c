package sqlite

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"

	"brinefield/core/journal"
)

func deviceAfterOpening(t *testing.T, dir string) (device string, seq int64) {
	t.Helper()
	opt, _ := options()
	opt.Random = freshRandom()
	s := mustOpen(t, dir, opt)
	defer mustClose(t, s)
	entries, err := s.Journal().Append(t.Context(), []journal.Draft{trial("T"+t.Name(), "calm")})
	if err != nil {
		t.Fatal(err)
	}
	if wrong, err := s.Check(t.Context(), true, nil); err != nil || len(wrong) > 0 {
		t.Fatal(wrong, err)
	}
	return entries[0].Device, entries[0].Seq
}

func TestOneDeviceForEachCopy(t *testing.T) {
	parent := t.TempDir()
	dir := filepath.Join(parent, "study")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	mustClose(t, mustCreate(t, dir))
	first, seq := deviceAfterOpening(t, dir)
	if again, next := deviceAfterOpening(t, dir); again != first || next != seq+1 {
		t.Errorf("opened again: device %s after %s, entry %d after %d", again, first, next, seq)
	}
	moved := filepath.Join(parent, "renamed")
	if err := os.Rename(dir, moved); err != nil {
		t.Fatal(err)
	}
	if again, next := deviceAfterOpening(t, moved); again != first || next != seq+2 {
		t.Errorf("renamed: device %s after %s, entry %d", again, first, next)
	}

	seen := map[string]string{first: "the original"}
	fresh := func(dir, what string) {
		t.Helper()
		device, seq := deviceAfterOpening(t, dir)
		if seen[device] != "" || seq != 1 {
			t.Errorf("%s goes on as the device of %s with entry %d", what, seen[device], seq)
		}
		seen[device] = what
	}

	copied := filepath.Join(parent, "copy")
	if err := os.CopyFS(copied, os.DirFS(moved)); err != nil {
		t.Fatal(err)
	}
	old, err := os.ReadFile(filepath.Join(moved, StudyFile))
	if err != nil {
		t.Fatal(err)
	}
	fresh(copied, "a copy")
	if runtime.GOOS != "windows" {
		kept := filepath.Join(parent, "kept")
		if out, err := exec.Command("cp", "-a", moved, kept).CombinedOutput(); err != nil {
			t.Fatal(string(out), err)
		}
		fresh(kept, "a copy that kept its times")
	}
	if again, _ := deviceAfterOpening(t, moved); again != first {
		t.Errorf("the original became device %s", again)
	}
	// An older database written over the newer one, into the same file.
	if err := os.WriteFile(filepath.Join(moved, StudyFile), old, 0o600); err != nil {
		t.Fatal(err)
	}
	fresh(moved, "an older database put back")

	opt, _ := options()
	s := mustOpen(t, moved, opt)
	snapshot := t.TempDir()
	if err := s.Snapshot(t.Context(), snapshot); err != nil {
		t.Fatal(err)
	}
	mustClose(t, s)
	fresh(snapshot, "a snapshot")
	if err := os.Remove(filepath.Join(moved, deviceFile)); err != nil {
		t.Fatal(err)
	}
	fresh(moved, "a study without its token")
}

func TestSnapshot(t *testing.T) {
	s := mustCreate(t, t.TempDir())
	appendTrials(t, s, 50)
	to := t.TempDir()
	if err := s.Snapshot(t.Context(), to); err != nil {
		t.Fatal(err)
	}
	if err := s.Snapshot(t.Context(), to); err == nil {
		t.Error("a snapshot was written over another")
	}
	files, err := os.ReadDir(to)
	if err != nil || len(files) != 2 {
		t.Errorf("%v, %v", files, err)
	}
	for _, f := range files {
		if info, err := f.Info(); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
			t.Errorf("%s has mode %v (%v)", f.Name(), info.Mode(), err)
		}
	}
	before := dump(t, s.read)
	appendTrials(t, s, 1) // not part of it
	opt, _ := options()
	copied := mustOpen(t, to, opt)
	after := dump(t, copied.read)
	if len(before) != len(after) {
		t.Fatalf("%d rows became %d", len(before), len(after))
	}
	for i := range before {
		if before[i] != after[i] {
			t.Errorf("%s became %s", before[i], after[i])
		}
	}
	if err := Copy(t.Context(), filepath.Join(to, "nowhere"), t.TempDir()); err == nil {
		t.Error("copied nothing")
	}
}
