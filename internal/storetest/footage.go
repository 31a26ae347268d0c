package storetest

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"slices"
	"strings"
	"testing"
	"time"

	"brinefield/internal/app"
)

// FootageMachine is a machine with an empty study.
type FootageMachine struct {
	Files app.FootageFiles
	// Lay puts a file into a folder of the machine, or another in its place, and
	// says where it lies; Take takes it away. Folder is that folder.
	Lay    func(name, data string, written time.Time) (path string)
	Take   func(path string)
	Folder string
}

// RunFootage tests what every store of footage promises. Hashes are SHA-256 (FIPS
// 180-4), worked out here by the standard library.
func RunFootage(t *testing.T, open func(*testing.T) FootageMachine) {
	const film, other = "a film of a skate", "another of a skat"
	sum := func(data string) string {
		h := sha256.Sum256([]byte(data))
		return hex.EncodeToString(h[:])
	}
	noon := time.Date(2026, 6, 8, 12, 0, 0, 0, time.UTC)
	nothing := func(float64) {}
	stands := func(t *testing.T, m FootageMachine, want string) {
		t.Helper()
		if _, state := m.Files.Place(sum(film)); state != want {
			t.Errorf("it is %s; want %s", state, want)
		}
	}
	t.Run("a file is known by its hash", func(t *testing.T) {
		m := open(t)
		where := m.Lay("a.mp4", film, noon)
		if got, n, err := m.Files.Hash(t.Context(), where, nothing); err != nil || got != sum(film) || n != int64(len(film)) {
			t.Errorf("%s, %d, %v", got, n, err)
		}
		if n, written, err := m.Files.Stat(where); err != nil || n != int64(len(film)) || !written.Equal(noon) {
			t.Errorf("%d, %v, %v", n, written, err)
		}
		for i, want := range []bool{true, false} {
			if got, _, fresh, err := m.Files.Copy(t.Context(), where, nothing); err != nil || got != sum(film) || fresh != want {
				t.Errorf("copied %d times: %s, fresh %v, %v", i+1, got, fresh, err)
			}
		}
		m.Take(where)
		stands(t, m, app.PlaceCopy)
		place, _ := m.Files.Place(sum(film))
		r, err := m.Files.Open(place)
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(r)
		if err := errors.Join(err, r.Close()); err != nil || string(data) != film || r.Bytes() != int64(len(film)) {
			t.Errorf("%q, %v", data, err)
		}
		if wrong, err := m.Files.Check(t.Context(), nil); err != nil || len(wrong) > 0 || !slices.Equal(m.Files.Copies(), []string{sum(film)}) {
			t.Errorf("%q, %q, %v", wrong, m.Files.Copies(), err)
		}
		if err := errors.Join(m.Files.Forget(sum(film)), m.Files.Forget(sum(film))); err != nil {
			t.Error(err)
		}
		stands(t, m, app.PlaceMissing)
		if _, _, err := m.Files.Hash(t.Context(), where, nothing); err == nil {
			t.Error("a file that is gone was read")
		}
	})
	t.Run("where a file is", func(t *testing.T) {
		m := open(t)
		stands(t, m, app.PlaceMissing)
		where := m.Lay("a.mp4", film, noon)
		if err := m.Files.Refer(sum(film), where); err != nil {
			t.Fatal(err)
		}
		stands(t, m, app.PlaceReference)
		if got := m.Files.Known(where); got != sum(film) {
			t.Errorf("known as %q", got)
		}
		for _, k := range []struct {
			data            string
			hours           int
			state, rechecks string
			same            bool
		}{{film, 1, app.PlaceUnsure, app.PlaceReference, true}, {other, 2, app.PlaceUnsure, app.PlaceChanged, false}, {film, 3, app.PlaceUnsure, app.PlaceReference, true}} {
			m.Lay("a.mp4", k.data, noon.Add(time.Duration(k.hours)*time.Hour))
			stands(t, m, k.state)
			if same, err := m.Files.Recheck(t.Context(), sum(film), nothing); err != nil || same != k.same {
				t.Errorf("after %d hours: the same %v, %v", k.hours, same, err)
			}
			stands(t, m, k.rechecks)
		}
		m.Lay("a.mp4", film+"!", noon)
		stands(t, m, app.PlaceChanged)
		m.Take(where)
		stands(t, m, app.PlaceMissing)
		moved := m.Lay("moved.mp4", film, noon)
		m.Lay("other.mp4", film+"!", noon)
		if found, err := m.Files.Candidates(t.Context(), m.Folder, []int64{int64(len(film))}); err != nil || !slices.Equal(found, []string{moved}) {
			t.Errorf("%q, %v", found, err)
		}
		if _, err := m.Files.Candidates(t.Context(), m.Folder+"/none", []int64{1}); err == nil {
			t.Error("a folder that is not there was searched")
		}
	})
	t.Run("uploads", func(t *testing.T) {
		m := open(t)
		token, err := m.Files.Upload(t.Context(), "b.mp4", int64(len(film)), strings.NewReader(film))
		if err != nil || !strings.HasSuffix(token, app.UploadMark+"b.mp4") {
			t.Fatalf("%q, %v", token, err)
		}
		where, err := m.Files.Uploaded(token)
		if err != nil {
			t.Fatal(err)
		}
		if got, _, fresh, err := m.Files.Copy(t.Context(), where, nothing); err != nil || got != sum(film) || !fresh {
			t.Errorf("%s, fresh %v, %v", got, fresh, err)
		}
		if _, err := m.Files.Uploaded(token); err != nil {
			t.Errorf("it is gone before anybody dropped it: %v", err)
		}
		if err := errors.Join(m.Files.DropUpload(token), m.Files.DropUpload(token), m.Files.DropUpload("/etc/passwd")); err != nil {
			t.Error(err)
		}
		if _, err := m.Files.Uploaded(token); err == nil {
			t.Error("it is there after it was dropped")
		}
		stands(t, m, app.PlaceCopy)
	})
	t.Run("what is kept beside", func(t *testing.T) {
		m := open(t)
		if _, err := m.Files.Probed(sum(film)); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%v", err)
		}
		if err := m.Files.PutProbed(sum(film), &app.Probed{Codec: "h264", PTS: []int64{-1, 2}}); err != nil {
			t.Fatal(err)
		}
		if p, err := m.Files.Probed(sum(film)); err != nil || p.Codec != "h264" || !slices.Equal(p.PTS, []int64{-1, 2}) {
			t.Errorf("%+v, %v", p, err)
		}
		for _, text := range []string{"[1]", "[1, 2]", ""} {
			if err := m.Files.PutJobs([]byte(text)); err != nil {
				t.Fatal(err)
			}
			if got, err := m.Files.Jobs(); err != nil || string(got) != text {
				t.Errorf("%q, %v; want %q", got, err, text)
			}
		}
		if _, ready := m.Files.Proxy(sum(film)); ready {
			t.Error("there is a proxy that nobody made")
		}
		if err := m.Files.DropProxy(sum(film)); err != nil {
			t.Error(err)
		}
		if err := m.Files.Room(0); err != nil {
			t.Error(err)
		}
	})
}
