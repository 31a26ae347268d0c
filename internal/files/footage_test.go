package files_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"brinefield/internal/app"
	"brinefield/internal/files"
	"brinefield/internal/storetest"

	"github.com/google/go-cmp/cmp"
)

var _ app.FootageFiles = (*files.Footage)(nil)

// clipBytes begin as an MP4 file does (ISO/IEC 14496-12: a box ftyp).
func clipBytes(n int) string { return "\x00\x00\x00\x18ftypmp42" + strings.Repeat("picture ", n) }

func footage(t *testing.T, dir string, readOnly bool) *files.Footage {
	t.Helper()
	f, err := files.OpenFootage(dir, readOnly)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

func nothing(float64) {}

// TestFootageIsCopiedUnderItsHash: SHA-256 is FIPS 180-4, the standard library's.
func TestFootageIsCopiedUnderItsHash(t *testing.T) {
	dir, card := t.TempDir(), t.TempDir()
	f := footage(t, dir, false)
	clip := filepath.Join(card, "GX01 day 1.MP4")
	write(t, clip, clipBytes(300_000))
	last := 0.0
	sum, n, fresh, err := f.Copy(ctx, clip, func(done float64) {
		if done < last || done > 1 {
			t.Errorf("progress goes from %v to %v", last, done)
		}
		last = done
	})
	if err != nil || !fresh || last != 1 {
		t.Fatalf("%v, fresh %v, progress ends at %v", err, fresh, last)
	}
	if hashed, m, err := f.Hash(ctx, clip, nil); err != nil || hashed != sum || m != n {
		t.Errorf("hashed %s (%d), copied %s (%d): %v", hashed, m, sum, n, err)
	}
	want := map[string]string{"footage/files/" + sum + ".mp4": clipBytes(300_000)}
	if d := cmp.Diff(want, tree(t, dir)); d != "" {
		t.Error(d)
	}
	where, state := f.Place(sum)
	info, err := os.Stat(where)
	if err != nil || state != app.PlaceCopy || runtime.GOOS != "windows" && info.Mode() != 0o600 {
		t.Errorf("%s, %v, %v", state, info, err)
	}
	if _, _, fresh, err := f.Copy(ctx, clip, nothing); err != nil || fresh || len(tree(t, dir)) != 1 {
		t.Errorf("a second time: fresh %v, %v, %d files", fresh, err, len(tree(t, dir)))
	}
	if err := f.Refer(sum, clip); err != nil {
		t.Fatal(err)
	}
	again := footage(t, dir, true) // as the next window finds it, read-only
	if _, state := again.Place(sum); state != app.PlaceCopy {
		t.Errorf("opened again: %s", state)
	}
	if again.Known(clip) != sum || again.Known(card) != "" {
		t.Errorf("known as %q", again.Known(clip))
	}
	before := tree(t, dir)
	_, _, _, copyErr := again.Copy(ctx, clip, nothing)
	_, uploadErr := again.Upload(ctx, "a.mp4", 1, strings.NewReader("x"))
	for i, err := range []error{copyErr, uploadErr, again.Refer(sum, clip), again.PutJobs([]byte("x")), again.PutProbed(sum, &app.Probed{}), again.Forget(sum), again.Tidy(ctx), again.DropProxy(sum)} {
		if !errors.Is(err, app.ErrReadOnly) {
			t.Errorf("%d: a study that is read-only was written: %v", i, err)
		}
	}
	again.Proxy(sum)
	if d := cmp.Diff(before, tree(t, dir)); d != "" {
		t.Error(d)
	}
	if err := f.Forget(sum); err != nil {
		t.Fatal(err)
	}
	if _, state := f.Place(sum); state != app.PlaceReference {
		t.Errorf("without its copy: %s", state)
	}
}

func TestFootageThatCannotBeRead(t *testing.T) {
	dir, card := t.TempDir(), t.TempDir()
	f := footage(t, dir, false)
	write(t, filepath.Join(card, "clip.mp4"), clipBytes(10))
	for what, where := range map[string]string{"a folder": card, "nothing": filepath.Join(card, "none.mp4"), "a path that is not whole": "clip.mp4", "a device": "/dev/zero"} {
		if _, _, err := f.Hash(ctx, where, nothing); err == nil {
			t.Errorf("%s was read", what)
		}
		if _, _, _, err := f.Copy(ctx, where, nothing); err == nil {
			t.Errorf("%s was copied", what)
		}
	}
	stopped, stop := context.WithCancel(ctx)
	stop()
	if _, _, _, err := f.Copy(stopped, filepath.Join(card, "clip.mp4"), nothing); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	if got := tree(t, dir); len(got) != 0 {
		t.Errorf("left behind: %v", got)
	}
}

// TestFootageIsTidied: what a killed run left goes, what is whole stays.
func TestFootageIsTidied(t *testing.T) {
	dir := t.TempDir()
	sum := strings.Repeat("a", 64)
	keep := map[string]string{
		"footage/files/" + sum + ".mp4": "c", "footage/proxies/" + sum + ".mp4": "p", "footage/probed/" + sum + ".json": "{}",
		"footage/incoming/abcdefghabcdefgh--a.mp4": "u", "footage/jobs.json": `[{"files":["abcdefghabcdefgh--a.mp4"]}]`, "footage/places.json": "{}",
	}
	for name, text := range keep {
		write(t, filepath.Join(dir, name), text)
	}
	for _, name := range []string{"files/x.part", "proxies/." + sum + ".mp4.tmp", "proxies/" + sum + ".mp4.part", "probed/x.json.part", "incoming/bcdefghabcdefgha--b.mp4", "incoming/bcdefghabcdefgha--b.mp4.part", "places.json.part"} {
		write(t, filepath.Join(dir, "footage", name), "half")
	}
	if err := footage(t, dir, false).Tidy(ctx); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(keep, tree(t, dir)); d != "" {
		t.Error(d)
	}
}

func TestPlacesOfFootage(t *testing.T) {
	dir, card := t.TempDir(), t.TempDir()
	f := footage(t, dir, false)
	clip := filepath.Join(card, "clip.mp4")
	write(t, clip, clipBytes(10))
	sum, _, err := f.Hash(ctx, clip, nothing)
	if err != nil {
		t.Fatal(err)
	}
	state := func() string {
		_, state := f.Place(sum)
		return state
	}
	if state() != app.PlaceMissing {
		t.Errorf("never seen: %s", state())
	}
	if err := f.Refer(sum, clip); err != nil || state() != app.PlaceReference {
		t.Fatalf("%v, %s", err, state())
	}
	touch := func(hours int) {
		at := time.Date(2026, 6, 8, hours, 0, 0, 0, time.UTC)
		if err := os.Chtimes(clip, at, at); err != nil {
			t.Fatal(err)
		}
	}
	recheck := func(want bool) {
		t.Helper()
		if same, err := f.Recheck(ctx, sum, nothing); err != nil || same != want {
			t.Errorf("same %v, %v; want %v", same, err, want)
		}
	}
	touch(10)
	if state() != app.PlaceUnsure {
		t.Errorf("written since: %s", state())
	}
	recheck(true)
	if state() != app.PlaceReference {
		t.Errorf("looked at again: %s", state())
	}
	other := strings.Replace(clipBytes(10), "picture", "another", 1)
	if err := os.WriteFile(clip, []byte(other), 0o600); err != nil {
		t.Fatal(err)
	}
	touch(11)
	recheck(false)
	if state() != app.PlaceChanged || f.Known(clip) != "" {
		t.Errorf("another file: %s, known as %q", state(), f.Known(clip))
	}
	write(t, filepath.Join(card, "deep", "down", "moved.mp4"), clipBytes(10))
	write(t, filepath.Join(card, "deep", ".hidden", "moved.mp4"), clipBytes(10))
	found, err := f.Candidates(ctx, card, []int64{int64(len(clipBytes(10)))})
	if err != nil || len(found) != 2 { // the other file, and the one that moved
		t.Errorf("%q, %v", found, err)
	}
	os.Remove(clip)
	if state() != app.PlaceMissing {
		t.Errorf("gone: %s", state())
	}
	if _, err := f.Candidates(ctx, filepath.Join(card, "none"), nil); err == nil {
		t.Error("a folder that is not there was searched")
	}
}

func TestUploads(t *testing.T) {
	dir := t.TempDir()
	f := footage(t, dir, false)
	text := clipBytes(200_000)
	token, err := f.Upload(ctx, `C:\Users\x\con:.mp4`, int64(len(text)), iotest.HalfReader(strings.NewReader(text)))
	if err != nil {
		t.Fatal(err)
	}
	where, err := f.Uploaded(token)
	if err != nil || !strings.HasSuffix(token, app.UploadMark+"con_.mp4") {
		t.Errorf("%s: %v", token, err)
	}
	sum, _, fresh, err := f.Copy(ctx, where, nothing)
	if err != nil || !fresh {
		t.Fatal(err)
	}
	if _, err := f.Uploaded(token); err != nil { // until it is dropped: the import may be broken off
		t.Errorf("the upload went with the first try: %v", err)
	}
	if err := f.DropUpload(token); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(map[string]string{"footage/files/" + sum + ".mp4": text}, tree(t, dir)); d != "" {
		t.Error(d)
	}
	gone, cancel := context.WithCancel(ctx)
	cancel()
	for what, upload := range map[string]func() error{
		"cut short": func() error {
			_, err := f.Upload(ctx, "a.mp4", 100, strings.NewReader("short"))
			return err
		},
		"broken off": func() error {
			_, err := f.Upload(ctx, "a.mp4", -1, io.MultiReader(strings.NewReader("some"), iotest.ErrReader(io.ErrUnexpectedEOF)))
			return err
		},
		"stopped": func() error { _, err := f.Upload(gone, "a.mp4", -1, strings.NewReader("x")); return err },
		"too large for any disc": func() error {
			_, err := f.Upload(ctx, "a.mp4", 1<<60, strings.NewReader("x"))
			if err != nil && !errors.Is(err, app.ErrNoSpace) {
				return nil
			}
			return err
		},
	} {
		if upload() == nil {
			t.Errorf("%s: it was taken in, or the error is another", what)
		}
	}
	if got := tree(t, dir); len(got) != 1 {
		t.Errorf("left behind: %d files", len(got))
	}
	for _, token := range []string{"", "..", "../files/x", "abcdefghabcdefgh--../../a", "abcdefghabcdefgh--none.mp4", "/etc/passwd"} {
		if where, err := f.Uploaded(token); err == nil {
			t.Errorf("%q is an upload at %s", token, where)
		}
	}
	for _, name := range []string{"", "...", "a\x00b/../c.mp4", strings.Repeat("é", 400) + ".MP4", "CON.mp4", "\u202etxt.mp4", "\xff.mov"} {
		token, err := f.Upload(ctx, name, -1, strings.NewReader("x"))
		if err != nil {
			t.Errorf("%q: %v", name, err)
		} else if _, err := f.Uploaded(token); err != nil {
			t.Errorf("%q became %q, which is no upload: %v", name, token, err)
		}
	}
}

func TestLookingForFootage(t *testing.T) {
	dir, card := t.TempDir(), t.TempDir()
	f := footage(t, dir, false)
	write(t, filepath.Join(card, "old.mp4"), clipBytes(1))
	old := time.Now().Add(-time.Hour)
	if err := os.Chtimes(filepath.Join(card, "old.mp4"), old, old); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(card, "new.MOV"), clipBytes(2))
	write(t, filepath.Join(card, "text.mp4"), "a text")
	write(t, filepath.Join(card, "empty.avi"), "")
	write(t, filepath.Join(card, "notes.txt"), clipBytes(3))
	write(t, filepath.Join(card, ".hidden.mp4"), clipBytes(4))
	write(t, filepath.Join(card, "DCIM", "x"), "")
	if runtime.GOOS == "linux" {
		for name, to := range map[string]string{"zero.mp4": "/dev/zero", "proc": "/proc", "link.mp4": filepath.Join(card, "old.mp4")} {
			if err := os.Symlink(to, filepath.Join(card, name)); err != nil {
				t.Fatal(err)
			}
		}
	}
	v, err := f.Look(ctx, card)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, file := range v.Files {
		names = append(names, file.Name)
		if file.Path != filepath.Join(card, file.Name) || file.Bytes == 0 || file.Modified == "" {
			t.Errorf("%+v", file)
		}
	}
	want := []string{"new.MOV", "link.mp4", "old.mp4"}
	if runtime.GOOS != "linux" {
		want = []string{"new.MOV", "old.mp4"}
	}
	if d := cmp.Diff(want, names); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"DCIM"}, v.Folders); d != "" || v.Up != filepath.Dir(card) {
		t.Errorf("%s, up %s", d, v.Up)
	}
	if notes := strings.Join(v.Notes, "\n"); len(v.Notes) != 2 || !strings.Contains(notes, "text.mp4") || !strings.Contains(notes, "empty.avi") {
		t.Errorf("%q", v.Notes)
	}
	for _, folder := range []string{filepath.Join(card, "none"), filepath.Join(card, "old.mp4"), "/proc", "/dev", "/proc/self/root/tmp"} {
		if runtime.GOOS != "linux" && strings.HasPrefix(folder, "/") && !strings.HasPrefix(folder, card) {
			continue
		}
		if v, err := f.Look(ctx, folder); err == nil {
			t.Errorf("%s was looked into: %+v", folder, v)
		}
	}
	if v, err := f.Look(ctx, ""); err != nil || v.Folder == "" {
		t.Errorf("where to begin: %+v, %v", v, err)
	}
}

// TestFootageInABackup: copies and frame times go in, packed but not copied twice;
// proxies, uploads and places of this machine do not.
func TestFootageInABackup(t *testing.T) {
	study, card := snapshot(t), t.TempDir()
	f := footage(t, study, false)
	clip := filepath.Join(card, "clip.mp4")
	write(t, clip, clipBytes(1000))
	sum, _, _, err := f.Copy(ctx, clip, nothing)
	if err != nil {
		t.Fatal(err)
	}
	p := &app.Probed{Codec: "h264", PTS: []int64{0, 3}, TimeBase: [2]int64{1, 90}}
	for _, err := range []error{f.PutProbed(sum, p), f.Refer(sum, clip), f.PutJobs([]byte("[]"))} {
		if err != nil {
			t.Fatal(err)
		}
	}
	proxy, _ := f.Proxy(sum)
	write(t, proxy, "small")
	held, err := f.Held()
	if err != nil || len(held) != 2 {
		t.Fatalf("%+v, %v", held, err)
	}
	from := snapshot(t)
	with, file := info, filepath.Join(t.TempDir(), "backup.zip")
	with.Held = held
	m, err := files.WriteBackup(ctx, file, from, with)
	if err != nil || len(m.Files) != 6 {
		t.Fatalf("%+v, %v", m.Files, err)
	}
	into := t.TempDir()
	if _, err := files.ExtractBackup(ctx, file, into); err != nil {
		t.Fatal(err)
	}
	back := footage(t, into, false)
	if _, state := back.Place(sum); state != app.PlaceCopy {
		t.Errorf("restored: %s", state)
	}
	if got, err := back.Probed(sum); err != nil || cmp.Diff(p, got) != "" {
		t.Errorf("%+v, %v", got, err)
	}
	if got := tree(t, filepath.Join(into, "footage")); len(got) != 2 {
		t.Errorf("restored: %d files", len(got))
	}
	if wrong, err := back.Check(ctx, nil); err != nil || len(wrong) > 0 || len(back.Copies()) != 1 {
		t.Errorf("%q, %q, %v", back.Copies(), wrong, err)
	}
	where, _ := back.Place(sum)
	if err := os.WriteFile(where, []byte("torn"), 0o600); err != nil {
		t.Fatal(err)
	}
	if wrong, err := back.Check(ctx, func(done, total int) {}); err != nil || len(wrong) != 1 || !strings.Contains(wrong[0], "damaged") {
		t.Errorf("%q, %v", wrong, err)
	}
}

func TestProbedThatIsNotThere(t *testing.T) {
	f := footage(t, t.TempDir(), false)
	if _, err := f.Probed(strings.Repeat("b", 64)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("%v", err)
	}
	for _, bad := range []string{"", "../x", strings.Repeat("B", 64)} {
		if _, err := f.Probed(bad); err == nil {
			t.Errorf("%q has frame times", bad)
		}
		if err := f.PutProbed(bad, &app.Probed{}); err == nil {
			t.Errorf("%q got frame times", bad)
		}
		if where, ready := f.Proxy(bad); where != "" || ready {
			t.Errorf("%q has a proxy at %q", bad, where)
		}
	}
}

// TestMemoryOfCopying: what is held does not grow with the file. A file of holes
// stands for a large one.
func TestMemoryOfCopying(t *testing.T) {
	dir := t.TempDir()
	f := footage(t, dir, false)
	large := filepath.Join(t.TempDir(), "large.mp4")
	w, err := os.Create(large)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(w.Truncate(64<<20), w.Close()); err != nil {
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	if _, _, err := f.Hash(ctx, large, nothing); err != nil {
		t.Fatal(err)
	}
	runtime.ReadMemStats(&after)
	if grown := after.TotalAlloc - before.TotalAlloc; grown > 4<<20 {
		t.Errorf("%d bytes were asked for to read 64 MB", grown)
	}
}

func ExampleFootage_Room() {
	dir, _ := os.MkdirTemp("", "brinefield-")
	defer os.RemoveAll(dir)
	f, _ := files.OpenFootage(dir, true)
	defer f.Close()
	fmt.Println(errors.Is(f.Room(1<<60), app.ErrNoSpace))
	// Output: true
}

func TestFootageListsThatAreTorn(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "footage", "places.json"), "{torn")
	f := footage(t, dir, false)
	if _, state := f.Place(strings.Repeat("c", 64)); state != app.PlaceMissing {
		t.Errorf("%s", state)
	}
	if err := f.PutJobs(bytes.Repeat([]byte("x"), 10)); err != nil {
		t.Fatal(err)
	}
	if got, err := f.Jobs(); err != nil || len(got) != 10 {
		t.Errorf("%q, %v", got, err)
	}
	if err := errors.Join(f.PutJobs(nil), f.PutJobs(nil)); err != nil {
		t.Fatal(err)
	}
	if got, err := f.Jobs(); err != nil || got != nil {
		t.Errorf("%q, %v", got, err)
	}
}

func TestFootagePromises(t *testing.T) {
	storetest.RunFootage(t, func(t *testing.T) storetest.FootageMachine {
		card := t.TempDir()
		return storetest.FootageMachine{
			Files: footage(t, t.TempDir(), false), Folder: card,
			Take: func(where string) {
				if err := os.Remove(where); err != nil {
					t.Fatal(err)
				}
			},
			Lay: func(name, data string, written time.Time) string {
				where := filepath.Join(card, name)
				if err := errors.Join(os.WriteFile(where, []byte(data), 0o600), os.Chtimes(where, written, written)); err != nil {
					t.Fatal(err)
				}
				return where
			},
		}
	})
}
