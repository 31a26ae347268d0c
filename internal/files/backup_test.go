package files_test

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"brinefield/internal/app"
	"brinefield/internal/files"

	"github.com/google/go-cmp/cmp"
)

var info = files.BackupInfo{Program: app.Program{Version: "0.3.0", Commit: "abc", OSArch: "linux/amd64"}, MadeAt: noon, Study: "Killary 2026"}

// snapshot is a study's folder as a store writes it.
func snapshot(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	write(t, filepath.Join(dir, "study.db"), strings.Repeat("journal ", 50_000))
	write(t, filepath.Join(dir, "guarded.db"), "which pairs were active")
	write(t, filepath.Join(dir, "files", "ab", "abcd"), "\x00\xff a voice")
	write(t, filepath.Join(dir, "files", "ab", "cd.erased"), "")
	return dir
}

func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	got := map[string]string{}
	err := fs.WalkDir(os.DirFS(dir), ".", func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		b, err := os.ReadFile(filepath.Join(dir, path))
		got[path] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func backup(t *testing.T) (file, from string) {
	t.Helper()
	from = snapshot(t)
	file = filepath.Join(t.TempDir(), "backup.zip")
	if _, err := files.WriteBackup(ctx, file, from, info); err != nil {
		t.Fatal(err)
	}
	return file, from
}

func TestABackupComesBack(t *testing.T) {
	file, from := backup(t)
	m, err := files.ReadBackup(ctx, file)
	if err != nil {
		t.Fatal(err)
	}
	if m.Format != 1 || m.Study != "Killary 2026" || !m.MadeAt.Equal(noon) || m.Program != info.Program || len(m.Files) != 4 {
		t.Errorf("the list says %+v", m)
	}
	into := t.TempDir()
	if _, err := files.ExtractBackup(ctx, file, into); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(tree(t, from), tree(t, into)); d != "" {
		t.Error(d)
	}
	if runtime.GOOS != "windows" {
		for _, path := range []string{file, filepath.Join(into, "study.db"), filepath.Join(into, "files", "ab", "abcd")} {
			if stat, err := os.Stat(path); err != nil || stat.Mode().Perm() != 0o600 {
				t.Errorf("%s: %v, %v", path, stat.Mode(), err)
			}
		}
	}
	if _, err := files.ExtractBackup(ctx, file, into); err == nil || !strings.Contains(err.Error(), "not empty") {
		t.Errorf("into a folder that is in use: %v", err)
	}
	if names := namesIn(t, filepath.Dir(file)); len(names) != 1 {
		t.Errorf("beside the backup lie %v", names)
	}
}

// Whoever has a backup can open it without us.
func TestABackupIsAZipForOthers(t *testing.T) {
	if _, err := exec.LookPath("python3"); err != nil {
		t.Skip("python3, whose zipfile is the second reader, is not installed")
	}
	file, _ := backup(t)
	const script = `
import hashlib, json, sys, zipfile
z = zipfile.ZipFile(sys.argv[1])
assert z.testzip() is None
m = json.loads(z.read("MANIFEST.json"))
assert sorted(z.namelist()) == sorted([f["path"] for f in m["files"]] + ["MANIFEST.json"])
for f in m["files"]:
    b = z.read(f["path"])
    assert len(b) == f["size_bytes"] and hashlib.sha256(b).hexdigest() == f["sha256"]
print(m["format"], m["program"]["version"], m["made_at"], m["study"], len(m["files"]))
`
	out, err := exec.Command("python3", "-c", script, file).CombinedOutput()
	if want := "1 0.3.0 2026-11-26T12:00:00Z Killary 2026 4\n"; err != nil || string(out) != want {
		t.Errorf("%s, %v; want %s", out, err, want)
	}
}

func TestABackupReplacesNothing(t *testing.T) {
	file, from := backup(t)
	before, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := files.WriteBackup(ctx, file, from, info); err == nil || !strings.Contains(err.Error(), "already a file") {
		t.Errorf("over another backup: %v", err)
	}
	if after, err := os.ReadFile(file); err != nil || !bytes.Equal(before, after) {
		t.Errorf("the backup was changed, %v", err)
	}
	if _, err := files.WriteBackup(ctx, filepath.Join(from, "files", "b.zip"), from, info); err == nil || !strings.Contains(err.Error(), "made of") {
		t.Errorf("into itself: %v", err)
	}
	if _, err := files.WriteBackup(ctx, filepath.Join(from, "nowhere", "b.zip"), from, info); err == nil || !strings.Contains(err.Error(), "there is no folder") {
		t.Errorf("into a folder that is not there: %v", err)
	}
	stopped, stop := context.WithCancel(ctx)
	stop()
	if _, err := files.WriteBackup(stopped, filepath.Join(filepath.Dir(file), "b.zip"), from, info); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	for name, spoil := range map[string]func(string) error{
		"ordinary files": func(d string) error { return os.Symlink("study.db", filepath.Join(d, "link")) },
		"MANIFEST":       func(d string) error { return os.WriteFile(filepath.Join(d, "MANIFEST.json"), nil, 0o600) },
		"capitals": func(d string) error {
			return errors.Join(os.WriteFile(filepath.Join(d, "x"), nil, 0o600), os.WriteFile(filepath.Join(d, "X"), nil, 0o600))
		},
		"device": func(d string) error { return os.WriteFile(filepath.Join(d, "nul"), nil, 0o600) },
	} {
		if runtime.GOOS != "linux" && (name == "capitals" || name == "device") {
			continue // the file system itself refuses
		}
		from := snapshot(t)
		if err := spoil(from); err != nil {
			t.Fatal(err)
		}
		if _, err := files.WriteBackup(ctx, filepath.Join(filepath.Dir(file), "b.zip"), from, info); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if d := cmp.Diff([]string{"backup.zip"}, namesIn(t, filepath.Dir(file))); d != "" {
		t.Error(d)
	}
}

// entry is one file of a hand-made archive.
type entry struct {
	name, text string
	mode       fs.FileMode
}

// forge writes an archive whose list is what list makes of the true one.
func forge(t *testing.T, entries []entry, list func(m map[string]any)) string {
	t.Helper()
	listed := []any{}
	for _, e := range entries {
		sum := sha256.Sum256([]byte(e.text))
		listed = append(listed, map[string]any{"path": e.name, "size_bytes": len(e.text), "sha256": hex.EncodeToString(sum[:]), "mode": "0600"})
	}
	m := map[string]any{"format": 1, "study": "forged", "made_at": noon, "files": listed}
	if list != nil {
		list(m)
	}
	text, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	if m["as text"] != nil {
		text = []byte(m["as text"].(string))
	}
	file := filepath.Join(t.TempDir(), "forged.zip")
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w := zip.NewWriter(f)
	all := entries
	if m["no list"] == nil {
		all = append(all[:len(all):len(all)], entry{"MANIFEST.json", string(text), 0o600})
	}
	for _, e := range all {
		h := &zip.FileHeader{Name: e.name, Method: zip.Deflate}
		h.SetMode(e.mode)
		out, err := w.CreateHeader(h)
		if err == nil && !strings.HasSuffix(e.name, "/") {
			_, err = out.Write([]byte(e.text))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return file
}

func first(m map[string]any) map[string]any { return m["files"].([]any)[0].(map[string]any) }

func TestBackupsThatCannotBeTrusted(t *testing.T) {
	good := entry{"study.db", "journal", 0o600}
	just := func(name string) []entry { return []entry{{name, "x", 0o600}} }
	set := func(key string, value any) func(map[string]any) {
		return func(m map[string]any) { first(m)[key] = value }
	}
	for name, c := range map[string]struct {
		entries []entry
		list    func(map[string]any)
		want    string
	}{
		"good, as the control": {[]entry{good}, nil, ""},
		"climbs out":           {just("../study.db"), nil, "leads out"},
		"climbs out inside":    {just("a/../../study.db"), nil, "leads out"},
		"absolute":             {just("/study.db"), nil, "leads out"},
		"a drive":              {just("C:/study.db"), nil, "without"},
		"a stream":             {just("study.db:x"), nil, "without"},
		"backslashes":          {just(`..\study.db`), nil, "without"},
		"a device":             {just("files/nul"), nil, "device"},
		"an empty path":        {[]entry{good}, set("path", ""), "leads out"},
		"a folder":             {[]entry{good, {"files/", "", fs.ModeDir | 0o700}}, func(m map[string]any) { m["files"] = m["files"].([]any)[:1] }, "does not name"},
		"a link":               {[]entry{{"study.db", "../secret", fs.ModeSymlink | 0o777}}, nil, "a link or a device"},
		"a device file":        {[]entry{{"study.db", "", fs.ModeDevice | 0o600}}, nil, "a link or a device"},
		"twice in the archive": {[]entry{good, good}, func(m map[string]any) { m["files"] = m["files"].([]any)[:1] }, "twice"},
		"twice in the list":    {[]entry{good}, func(m map[string]any) { m["files"] = append(m["files"].([]any), first(m)) }, "twice"},
		"twice but capitals":   {[]entry{{"a", "", 0o600}, {"A", "", 0o600}}, nil, "twice"},
		"file and folder":      {[]entry{{"a", "", 0o600}, {"a/b", "", 0o600}}, nil, "as a file and as a folder"},
		"the list lists itself": {[]entry{good}, func(m map[string]any) {
			first(m)["path"] = "manifest.json"
		}, "twice"},
		"not in the list": {[]entry{good, {"extra", "", 0o600}}, func(m map[string]any) { m["files"] = m["files"].([]any)[:1] }, `"extra", which its list does not name`},
		"not there":       {[]entry{good}, set("path", "other.db"), "does not hold"},
		"larger":          {[]entry{good}, set("size_bytes", 3), "has 7 bytes, and its list says 3"},
		"negative":        {[]entry{good}, set("size_bytes", -1), "impossible size"},
		"a sum too large": {[]entry{good, {"b", "", 0o600}, {"c", "", 0o600}}, func(m map[string]any) {
			for _, f := range m["files"].([]any) {
				f.(map[string]any)["size_bytes"] = int64(1<<63 - 1)
			}
		}, "impossible size"},
		"more than it holds": {[]entry{good}, set("size_bytes", 1<<50), "more than a file of"},
		"another hash":       {[]entry{good}, set("sha256", strings.Repeat("0", 64)), "is not what was put in"},
		"no hash":            {[]entry{good}, set("sha256", ""), "without a hash"},
		"no mode":            {[]entry{good}, set("mode", "rw"), "the mode"},
		"a later format":     {[]entry{good}, func(m map[string]any) { m["format"] = 2 }, "format is 2"},
		"no format":          {[]entry{good}, func(m map[string]any) { delete(m, "format") }, "format is 0"},
		"no JSON":            {[]entry{good}, func(m map[string]any) { m["as text"] = "{" }, "not written as it should be"},
		"no list":            {[]entry{good}, func(m map[string]any) { m["no list"] = true }, "holds no MANIFEST.json"},
	} {
		file := forge(t, c.entries, c.list)
		into := t.TempDir()
		_, read := files.ReadBackup(ctx, file)
		_, extracted := files.ExtractBackup(ctx, file, into)
		if c.want == "" {
			if read != nil || extracted != nil {
				t.Errorf("%s: %v, %v", name, read, extracted)
			}
			continue
		}
		for _, err := range []error{read, extracted} {
			if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), file) || !strings.Contains(err.Error(), "use another backup") {
				t.Errorf("%s: %v; want one with %q", name, err, c.want)
			}
		}
		if left := namesIn(t, into); len(left) > 0 {
			t.Errorf("%s: %v were left", name, left)
		}
	}
}

// Cut short at any length, or with any byte changed, a backup either reads as
// before or is refused; it never gives back other content.
func TestADamagedBackupIsRefused(t *testing.T) {
	from := t.TempDir()
	write(t, filepath.Join(from, "study.db"), strings.Repeat("journal ", 20))
	write(t, filepath.Join(from, "guarded.db"), "guarded")
	file := filepath.Join(t.TempDir(), "whole.zip")
	if _, err := files.WriteBackup(ctx, file, from, info); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	spoilt := filepath.Join(t.TempDir(), "spoilt.zip")
	for n := range whole {
		if err := os.WriteFile(spoilt, whole[:n], 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := files.ReadBackup(ctx, spoilt); err == nil || !strings.Contains(err.Error(), "use another backup") {
			t.Fatalf("cut short after %d of %d bytes: %v", n, len(whole), err)
		}
	}
	accepted, refused := 0, 0
	for n := range whole {
		changed := bytes.Clone(whole)
		changed[n] ^= 0x41
		if err := os.WriteFile(spoilt, changed, 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := files.ReadBackup(ctx, spoilt)
		if err != nil {
			refused++
		} else {
			accepted++ // dates and the like in the archive's own tables
		}
		if n%16 != 0 { // extracting syncs, which is slow
			continue
		}
		into := t.TempDir()
		_, extracted := files.ExtractBackup(ctx, spoilt, into)
		if (extracted == nil) != (err == nil) {
			t.Fatalf("byte %d: read %v, extracted %v", n, err, extracted)
		}
		if err != nil {
			if left := namesIn(t, into); len(left) > 0 {
				t.Fatalf("byte %d: %v were left", n, left)
			}
			continue
		}
		if d := cmp.Diff(tree(t, from), tree(t, into)); d != "" {
			t.Fatalf("byte %d: %s", n, d)
		}
	}
	t.Logf("%d bytes: every cut refused; %d changed bytes refused, %d of no consequence", len(whole), refused, accepted)
}

func TestWhatIsNoBackup(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "text.zip"), "not an archive")
	for path, want := range map[string]string{"nowhere.zip": "there is no backup", "text.zip": "no whole backup", "": "is one file"} {
		if _, err := files.ReadBackup(ctx, filepath.Join(dir, path)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", path, err, want)
		}
	}
	if path, _, err := files.NewestBackup(ctx, filepath.Join(dir, "nowhere")); err != nil || path != "" {
		t.Errorf("no folder of backups: %q, %v", path, err)
	}
}

func TestTheNewestWholeBackupIsFound(t *testing.T) {
	study, from := t.TempDir(), snapshot(t)
	dir, err := files.BackupsFolder(study, noon)
	if err != nil {
		t.Fatal(err)
	}
	paths := []string{}
	for i := range 3 {
		made := info
		made.MadeAt = noon.Add(time.Duration(i) * time.Hour)
		path := filepath.Join(dir, files.BackupName(fmt.Sprintf("%c", 'z'-i), made.MadeAt)) // names in the other order
		if _, err := files.WriteBackup(ctx, path, from, made); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, path)
	}
	// The newest is spoilt in a place that only reading all of it shows.
	b, err := os.ReadFile(paths[2])
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(b, []byte("guarded.db")) + len("guarded.db") + 9 + 2 // behind its time stamp, in the data
	b[at] ^= 0x10
	if err := os.WriteFile(paths[2], b, 0o600); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "notes.zip"), "no backup")
	got, m, err := files.NewestBackup(ctx, dir)
	if err != nil || got != paths[1] || !m.MadeAt.Equal(noon.Add(time.Hour)) {
		t.Errorf("%s of %v, %v; want %s", got, m.MadeAt, err, paths[1])
	}
	if filepath.Base(paths[0]) != "z 2026-11-26 120000Z.zip" {
		t.Errorf("a backup is named %s", filepath.Base(paths[0]))
	}
	// A killed run's left-over goes after a day, a backup never.
	leftOver := filepath.Join(dir, ".x.zip.new-abcdefghij23")
	write(t, leftOver, "")
	if _, err := files.BackupsFolder(study, time.Now().Add(23*time.Hour)); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(leftOver); err != nil {
		t.Error("a backup that may still be written was removed")
	}
	if _, err := files.BackupsFolder(study, time.Now().Add(25*time.Hour)); err != nil {
		t.Fatal(err)
	}
	if left := namesIn(t, dir); len(left) != 4 {
		t.Errorf("%v are left", left)
	}
}

func FuzzReadBackup(f *testing.F) {
	dir := f.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "study.db"), []byte("journal"), 0o600); err != nil {
		f.Fatal(err)
	}
	file := filepath.Join(f.TempDir(), "b.zip")
	if _, err := files.WriteBackup(ctx, file, dir, info); err != nil {
		f.Fatal(err)
	}
	whole, err := os.ReadFile(file)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole)
	f.Add([]byte("PK\x05\x06" + strings.Repeat("\x00", 18)))
	f.Fuzz(func(t *testing.T, data []byte) {
		file, into := filepath.Join(t.TempDir(), "b.zip"), t.TempDir()
		if err := os.WriteFile(file, data, 0o600); err != nil {
			t.Fatal(err)
		}
		m, err := files.ExtractBackup(ctx, file, into)
		if got := tree(t, into); err != nil && len(got) > 0 || err == nil && len(got) != len(m.Files) {
			t.Errorf("%v, and the folder holds %d files", err, len(got))
		}
	})
}
