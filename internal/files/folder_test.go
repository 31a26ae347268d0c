package files_test

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"brinefield/internal/files"
)

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestReadSeasonTakesOnlyItsOwnFiles(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"season/study.toml": "format = 1", "season/passes.csv": "pass", "season/TRIALS.CSV": "trial",
		"season/notes.txt": "x", "season/.~lock.passes.csv": "x", "season/footage/a.csv": "x", "secret.csv": "secret",
	} {
		write(t, filepath.Join(dir, name), text)
	}
	got, err := files.ReadSeason(filepath.Join(dir, "season"))
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 3 || string(got["study.toml"]) != "format = 1" || string(got["passes.csv"]) != "pass" || string(got["TRIALS.CSV"]) != "trial" {
		t.Errorf("read %v", got)
	}
	if err := os.Symlink("../secret.csv", filepath.Join(dir, "season", "individuals.csv")); err != nil {
		t.Fatal(err)
	}
	if _, err := files.ReadSeason(filepath.Join(dir, "season")); err == nil {
		t.Error("a link that leads out of the folder was followed")
	}
}

func TestReadSeasonSaysWhatIsWrong(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "file"), "x")
	write(t, filepath.Join(dir, "empty", "a.txt"), "x")
	for path, want := range map[string]string{"nowhere": "there is no folder", "file": "", "empty": "holds no study.toml"} {
		_, err := files.ReadSeason(filepath.Join(dir, path))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want an error with %q", path, err, want)
		}
	}
}

func TestWriteSeasonIsWholeOrAbsent(t *testing.T) {
	dir := t.TempDir()
	season := map[string][]byte{"study.toml": []byte("format = 1\n"), "passes.csv": []byte("pass\n")}
	target := filepath.Join(dir, "new", "season")
	if err := files.WriteSeason(target, season, nil); err != nil {
		t.Fatal(err)
	}
	if got, err := files.ReadSeason(target); err != nil || len(got) != 2 {
		t.Errorf("read back %v, %v", got, err)
	}
	if err := files.WriteSeason(target, season, nil); err == nil || !strings.Contains(err.Error(), "not empty") {
		t.Errorf("writing over a season: %v", err)
	}
	bad := filepath.Join(dir, "bad")
	if err := files.WriteSeason(bad, map[string][]byte{"a/b.csv": nil}, nil); err == nil {
		t.Error("a name that is no file name was written")
	}
	if _, err := os.Stat(bad); !os.IsNotExist(err) {
		t.Error("a failed write left a folder behind")
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".season-*")); len(left) > 0 {
		t.Errorf("a failed write left %v", left)
	}
}

func TestWriteSeasonWithMore(t *testing.T) {
	dir := t.TempDir()
	season := map[string][]byte{"study.toml": []byte("format = 1\n")}
	target := filepath.Join(dir, "with")
	err := files.WriteSeason(target, season, func(write func(string, []byte) error) error {
		return errors.Join(write("pictures/a.jpg", []byte("one")), write("pictures/b.jpg", []byte("two")), write("attachments.csv", []byte("id\n")))
	})
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{"pictures/a.jpg": "one", "pictures/b.jpg": "two", "attachments.csv": "id\n", "study.toml": "format = 1\n"} {
		if got, err := os.ReadFile(filepath.Join(target, name)); err != nil || string(got) != want {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
	for _, name := range []string{"../a", "a/b/c", "/a", "a/", "", "study.toml", "pictures/../../a"} {
		bad := filepath.Join(dir, "bad")
		if err := files.WriteSeason(bad, season, func(write func(string, []byte) error) error { return write(name, nil) }); err == nil {
			t.Errorf("%q was written", name)
		}
		if _, err := os.Stat(bad); !os.IsNotExist(err) {
			t.Errorf("%q left a folder", name)
		}
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 {
		t.Errorf("beside the folder lies %v", left)
	}
}

func TestPrivatePageIsPrivate(t *testing.T) {
	path, remove, err := files.PrivatePage("<p>token")
	if err != nil {
		t.Fatal(err)
	}
	if runtime.GOOS != "windows" {
		for p, want := range map[string]os.FileMode{path: 0o600, filepath.Dir(path): 0o700} {
			if info, err := os.Stat(p); err != nil || info.Mode().Perm() != want {
				t.Errorf("%s: %v %v, want %o", p, info.Mode(), err, want)
			}
		}
	}
	remove()
	if _, err := os.Stat(path); !os.IsNotExist(err) {
		t.Error("the page is still there")
	}
}
