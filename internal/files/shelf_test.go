package files_test

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"brinefield/internal/app"
	"brinefield/internal/files"

	"github.com/google/go-cmp/cmp"
)

// The reserved names and characters are those of Microsoft's documentation
// "Naming Files, Paths, and Namespaces" (from memory).
func TestNamesWorkOnEverySystem(t *testing.T) {
	for _, good := range []string{
		"Killary 2026", "catsharks, Inverin Bay (invented)", "Loch Éireann", "鮫の研究", "a.b", "com", "com10", "console", "nul2", "Study #1 & 2 – ½", strings.Repeat("x", 80), strings.Repeat("é", 80),
	} {
		if err := files.CheckName(good); err != nil {
			t.Errorf("%q: %v", good, err)
		}
	}
	for bad, want := range map[string]string{
		"": "needs a name", "  ": "needs a name", " a": "blank", "a ": "blank", "\ta": "blank", "a.": "ends with a dot", ".a": "begins with a dot", "..": "begins with a dot",
		"a/b": "without", `a\b`: "without", "a:b": "without", "a*": "without", "why?": "without", `"a"`: "without", "<a": "without", "a>": "without", "a|b": "without",
		"con": "device", "CON": "device", "Nul": "device", "nul.txt": "device", "com1": "device", "LPT9.csv": "device", "com0": "device", "aux": "device", "prn": "device", "COM¹": "device", "conin$": "device", "con .x": "device",
		"api": "address of the app", "Assets": "address of the app", "download": "address of the app", "media": "address of the app", "Upload": "address of the app", "enter": "address of the app", "deck": "address of the app",
		"a\nb": "U+000A", "a\x00b": "U+0000", "a\u202eb": "U+202E", "a\u200bb": "U+200B", "a\x7f": "U+007F", "a\xff": "UTF-8",
		strings.Repeat("x", 81): "at most 80", strings.Repeat("鮫", 70): "fewer in some scripts",
	} {
		if err := files.CheckName(bad); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want an error with %q", bad, err, want)
		}
	}
}

func fill(text string) func(string) error {
	return func(dir string) error {
		return os.WriteFile(filepath.Join(dir, "study.db"), []byte(text), 0o600)
	}
}

func TestAShelfListsStudiesOnly(t *testing.T) {
	dir := t.TempDir()
	shelf := files.Shelf{Dir: filepath.Join(dir, "studies")}
	if names, err := shelf.List(); err != nil || len(names) != 0 {
		t.Errorf("a shelf that is not there yet: %v, %v", names, err)
	}
	for _, name := range []string{"b", "C", "a"} {
		if err := shelf.NewFolder(name, fill(name)); err != nil {
			t.Fatal(err)
		}
	}
	write(t, filepath.Join(shelf.Dir, "season", "study.toml"), "format = 1")
	write(t, filepath.Join(shelf.Dir, ".hidden", "study.db"), "")
	write(t, filepath.Join(shelf.Dir, "file"), "")
	write(t, filepath.Join(dir, "outside", "study.db"), "")
	if err := os.Symlink(filepath.Join(dir, "outside"), filepath.Join(shelf.Dir, "link")); err != nil {
		t.Fatal(err)
	}
	names, err := shelf.List()
	if d := cmp.Diff([]string{"a", "b", "C"}, names); d != "" || err != nil {
		t.Errorf("%v\n%s", err, d)
	}
	if runtime.GOOS != "windows" {
		for _, p := range []string{shelf.Dir, filepath.Join(shelf.Dir, "a")} {
			if info, err := os.Stat(p); err != nil || info.Mode().Perm() != 0o700 {
				t.Errorf("%s: %v, %v", p, info.Mode(), err)
			}
		}
	}
	if path, err := shelf.Path("a"); err != nil || path != filepath.Join(shelf.Dir, "a") {
		t.Errorf("%s, %v", path, err)
	}
	for name, want := range map[string]error{
		"nowhere": app.ErrUnknownStudy, "": app.ErrUnknownStudy, "../outside": app.ErrUnknownStudy, "..": app.ErrUnknownStudy, ".hidden": app.ErrUnknownStudy, `a\b`: app.ErrUnknownStudy,
		"season": app.ErrNotAStudy, "file": app.ErrNotAStudy, "link": app.ErrNotAStudy,
	} {
		if _, err := shelf.Path(name); !errors.Is(err, want) {
			t.Errorf("%q: %v, want %v", name, err, want)
		}
	}
}

func TestANewStudyReplacesNothing(t *testing.T) {
	shelf := files.Shelf{Dir: t.TempDir()}
	if err := shelf.NewFolder("Killary", fill("first")); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"Killary", "KILLARY", "killary"} {
		err := shelf.NewFolder(name, func(string) error { t.Errorf("%s was filled", name); return nil })
		if err == nil || !strings.Contains(err.Error(), `already a folder "Killary"`) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := shelf.NewFolder("a/b", fill("")); err == nil {
		t.Error("a path was taken for a name")
	}
	// Another window makes the same study while this one fills it.
	err := shelf.NewFolder("Inverin", func(dir string) error {
		if err := shelf.NewFolder("inverin", fill("theirs")); err != nil {
			t.Fatal(err)
		}
		return fill("ours")(dir)
	})
	if err == nil {
		t.Error("two studies of one name")
	}
	if b, err := os.ReadFile(filepath.Join(shelf.Dir, "inverin", "study.db")); string(b) != "theirs" {
		t.Errorf("%q, %v", b, err)
	}
	fault := errors.New("a fault of the import")
	if err := shelf.NewFolder("Failed", func(dir string) error { return errors.Join(fill("")(dir), fault) }); !errors.Is(err, fault) {
		t.Errorf("%v", err)
	}
	func() {
		defer func() { _ = recover() }()
		_ = shelf.NewFolder("Panicked", func(dir string) error { _ = fill("")(dir); panic("a fault of ours") })
	}()
	entries, err := os.ReadDir(shelf.Dir)
	if err != nil || len(entries) != 2 {
		t.Errorf("%v, %v; want the two studies and nothing else", entries, err)
	}
	write(t, filepath.Join(t.TempDir(), "file"), "")
	if err := (files.Shelf{Dir: filepath.Join(shelf.Dir, "Killary", "study.db")}).NewFolder("a", fill("")); err == nil {
		t.Error("a file was taken for a shelf")
	}
}

func TestSweepTakesOnlyOldUnlockedLeftOvers(t *testing.T) {
	shelf := files.Shelf{Dir: t.TempDir()}
	now := time.Now()
	for name, age := range map[string]time.Duration{
		".old.new-abcdefghij23": 25 * time.Hour, ".young.new-abcdefghij23": 23 * time.Hour, ".inside.new-abcdefghij23": 25 * time.Hour,
		".locked.new-abcdefghij23": 25 * time.Hour, ".other": 25 * time.Hour, "study.new-abcdefghij23": 25 * time.Hour, ".git.new-1": 25 * time.Hour,
	} {
		dir := filepath.Join(shelf.Dir, name)
		write(t, filepath.Join(dir, "study.db"), "")
		if name == ".locked.new-abcdefghij23" {
			lock, err := files.Acquire(dir, files.ThisWindow("test", now))
			if err != nil {
				t.Fatal(err)
			}
			defer lock.Release()
			age1 := now.Add(-age)
			if err := os.Chtimes(filepath.Join(dir, "lock"), age1, age1); err != nil {
				t.Fatal(err)
			}
		}
		fileAge := age
		if name == ".inside.new-abcdefghij23" { // somebody still writes in it
			fileAge = time.Hour
		}
		if err := errors.Join(os.Chtimes(filepath.Join(dir, "study.db"), now.Add(-fileAge), now.Add(-fileAge)), os.Chtimes(dir, now.Add(-age), now.Add(-age))); err != nil {
			t.Fatal(err)
		}
	}
	swept, err := shelf.Sweep(ctx, now)
	if d := cmp.Diff([]string{".old.new-abcdefghij23"}, swept); d != "" || err != nil {
		t.Errorf("%v\n%s", err, d)
	}
	if entries, err := os.ReadDir(shelf.Dir); err != nil || len(entries) != 6 {
		t.Errorf("%v, %v are left", entries, err)
	}
	if swept, err := (files.Shelf{Dir: filepath.Join(shelf.Dir, "nowhere")}).Sweep(ctx, now); err != nil || len(swept) != 0 {
		t.Errorf("%v, %v", swept, err)
	}
}
