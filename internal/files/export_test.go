package files_test

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"brinefield/internal/files"

	"github.com/google/go-cmp/cmp"
)

var noon = time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC)

func namesIn(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	names := []string{}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

func TestExportReplacesTheOneBefore(t *testing.T) {
	dir := t.TempDir()
	if at, err := files.ExportedAt(dir); err != nil || !at.IsZero() {
		t.Errorf("no export yet: %v, %v", at, err)
	}
	for i, contents := range []map[string][]byte{
		{"study.toml": []byte("format = 1\n"), "tracks.csv": []byte("pass\n")},
		{"study.toml": []byte("format = 1\n# second\n"), "README.txt": []byte("What this is\n")},
	} {
		at := noon.Add(time.Duration(i) * 24 * time.Hour)
		if kept, err := files.WriteExport(ctx, dir, contents, at); err != nil || kept != "" {
			t.Fatalf("%q, %v", kept, err)
		}
		if got, err := files.ExportedAt(dir); err != nil || !got.Equal(at) {
			t.Errorf("exported at %v, %v; want %v", got, err, at)
		}
		want := []string{"exported"}
		for name, text := range contents {
			want = append(want, name)
			if got, err := os.ReadFile(filepath.Join(dir, "export", name)); err != nil || string(got) != string(text) {
				t.Errorf("%s: %q, %v", name, got, err)
			}
		}
		if got := namesIn(t, filepath.Join(dir, "export")); len(got) != len(want) {
			t.Errorf("the export holds %v, want %v", got, want)
		}
		if d := cmp.Diff([]string{"export"}, namesIn(t, dir)); d != "" {
			t.Error(d)
		}
	}
	if runtime.GOOS != "windows" {
		for path, want := range map[string]os.FileMode{"export": 0o700, "export/study.toml": 0o600} {
			if info, err := os.Stat(filepath.Join(dir, path)); err != nil || info.Mode().Perm() != want {
				t.Errorf("%s: %v, %v", path, info.Mode(), err)
			}
		}
	}
}

// Whoever has the export can check it without us: the stamp is a list for
// sha256sum (GNU coreutils) after its first line.
func TestTheStampIsAListForSha256sum(t *testing.T) {
	if _, err := exec.LookPath("sha256sum"); err != nil {
		t.Skip("sha256sum of coreutils is not installed")
	}
	dir := t.TempDir()
	if _, err := files.WriteExport(ctx, dir, map[string][]byte{"a b.csv": []byte("x"), "study.toml": nil}, noon); err != nil {
		t.Fatal(err)
	}
	c := exec.Command("sh", "-c", "tail -n +2 exported | sha256sum --check --strict")
	c.Dir = filepath.Join(dir, "export")
	if out, err := c.CombinedOutput(); err != nil || strings.Count(string(out), "OK") != 2 {
		t.Errorf("%s, %v", out, err)
	}
}

// An export that somebody works in is theirs too.
func TestAnExportThatWasChangedIsKept(t *testing.T) {
	for name, c := range map[string]struct {
		change func(export string) error
		kept   bool
	}{
		"untouched":        {func(string) error { return nil }, false},
		"one file removed": {func(d string) error { return os.Remove(filepath.Join(d, "a.csv")) }, false},
		"left by desktop":  {func(d string) error { return os.WriteFile(filepath.Join(d, ".DS_Store"), nil, 0o600) }, false},
		"left by office":   {func(d string) error { return os.WriteFile(filepath.Join(d, ".~lock.a.csv#"), nil, 0o600) }, false},
		"a note added":     {func(d string) error { return os.WriteFile(filepath.Join(d, "my notes.txt"), []byte("x"), 0o600) }, true},
		"a folder added":   {func(d string) error { return os.Mkdir(filepath.Join(d, "figures"), 0o700) }, true},
		"a link added":     {func(d string) error { return os.Symlink("a.csv", filepath.Join(d, "b.csv")) }, true},
		"a table edited":   {func(d string) error { return os.WriteFile(filepath.Join(d, "a.csv"), []byte("y"), 0o600) }, true},
		"no stamp":         {func(d string) error { return os.Remove(filepath.Join(d, "exported")) }, true},
		"not ours": {func(d string) error {
			return errors.Join(os.RemoveAll(d), os.WriteFile(d, []byte("a file of this name"), 0o600))
		}, true},
	} {
		dir := t.TempDir()
		if _, err := files.WriteExport(ctx, dir, map[string][]byte{"a.csv": []byte("x")}, noon); err != nil {
			t.Fatal(err)
		}
		if err := c.change(filepath.Join(dir, "export")); err != nil {
			t.Fatal(err)
		}
		later := noon.Add(time.Hour)
		kept, err := files.WriteExport(ctx, dir, map[string][]byte{"a.csv": []byte("new")}, later)
		if err != nil || (kept != "") != c.kept {
			t.Errorf("%s: kept %q, %v", name, kept, err)
			continue
		}
		want := []string{"export"}
		if c.kept {
			want = append(want, "export kept 2026-11-26 130000")
		}
		if d := cmp.Diff(want, namesIn(t, dir)); d != "" {
			t.Errorf("%s: %s", name, d)
		}
		if b, err := os.ReadFile(filepath.Join(dir, "export", "a.csv")); string(b) != "new" {
			t.Errorf("%s: the new export holds %q, %v", name, b, err)
		}
		// Again at the same second: the name for it is taken.
		if c.kept {
			if err := os.WriteFile(filepath.Join(dir, "export", "mine"), nil, 0o600); err != nil {
				t.Fatal(err)
			}
			if kept, err := files.WriteExport(ctx, dir, nil, later); err != nil || kept != "export kept 2026-11-26 130000 2" {
				t.Errorf("%s: %q, %v", name, kept, err)
			}
		}
	}
}

func TestExportRefusesNamesThatAreNoFiles(t *testing.T) {
	dir := t.TempDir()
	for _, bad := range []map[string][]byte{
		{"a/b.csv": nil}, {"../a.csv": nil}, {"": nil}, {"nul": nil}, {"exported": nil}, {"Exported": nil}, {"a.csv": nil, "A.CSV": nil}, {"a:b": nil},
	} {
		if _, err := files.WriteExport(ctx, dir, bad, noon); err == nil {
			t.Errorf("%v was written", bad)
		}
	}
	stopped, stop := context.WithCancel(ctx)
	stop()
	if _, err := files.WriteExport(stopped, dir, map[string][]byte{"a.csv": nil}, noon); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	if names := namesIn(t, dir); len(names) > 0 {
		t.Errorf("%v were left", names)
	}
	write(t, filepath.Join(dir, "export", "exported"), "yesterday")
	if _, err := files.ExportedAt(dir); err == nil || !strings.Contains(err.Error(), `"yesterday"`) {
		t.Errorf("a stamp without a time: %v", err)
	}
}
