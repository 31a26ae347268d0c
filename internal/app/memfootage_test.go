package app_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"brinefield/internal/app"
	"brinefield/internal/storetest"
)

// memFootage is a machine's files of footage in memory: those that lie on it, and
// those that a study keeps.
type memFootage struct {
	mu       sync.Mutex
	disc     map[string]memFile // by path
	copies   map[string][]byte  // by hash, like all below
	places   map[string]memPlace
	probed   map[string]*app.Probed
	proxies  map[string]bool
	incoming map[string][]byte
	jobs     []byte
	full     bool                   // the disc
	asked    atomic.Pointer[func()] // called once, when a place is asked for
}

type memFile struct {
	data    []byte
	written time.Time
}

type memPlace struct {
	path    string
	bytes   int64
	written time.Time
	other   time.Time
}

func newMemFootage() *memFootage {
	return &memFootage{
		disc: map[string]memFile{}, copies: map[string][]byte{}, places: map[string]memPlace{}, probed: map[string]*app.Probed{},
		proxies: map[string]bool{}, incoming: map[string][]byte{},
	}
}

// lay puts a file on the machine.
func (m *memFootage) lay(where, data string, written time.Time) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.disc[where] = memFile{[]byte(data), written}
}

func (m *memFootage) take(where string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.disc, where)
}

func hashHex(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func (m *memFootage) Look(_ context.Context, folder string) (app.FootageLook, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	v := app.FootageLook{Folder: folder, Folders: []string{}, Files: []app.FootageFile{}, Places: []string{}, Notes: []string{}}
	for _, where := range slices.Sorted(maps.Keys(m.disc)) {
		if path.Dir(where) == folder {
			v.Files = append(v.Files, app.FootageFile{Name: path.Base(where), Path: where, Bytes: int64(len(m.disc[where].data))})
		}
	}
	return v, nil
}

func (m *memFootage) Known(where string) string {
	m.mu.Lock()
	defer m.mu.Unlock()
	for sum, p := range m.places {
		if p.path == where {
			return sum
		}
	}
	return ""
}

func (m *memFootage) Candidates(_ context.Context, folder string, sizes []int64) ([]string, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var found []string
	for _, where := range slices.Sorted(maps.Keys(m.disc)) {
		if strings.HasPrefix(where, folder+"/") && slices.Contains(sizes, int64(len(m.disc[where].data))) {
			found = append(found, where)
		}
	}
	if found == nil && !slices.ContainsFunc(slices.Collect(maps.Keys(m.disc)), func(w string) bool { return strings.HasPrefix(w, folder+"/") }) {
		return nil, fmt.Errorf("there is no folder %s", folder)
	}
	return found, nil
}

func (m *memFootage) at(where string) (memFile, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if f, ok := m.disc[where]; ok {
		return f, nil
	}
	if token, ok := strings.CutPrefix(where, "incoming/"); ok && m.incoming[token] != nil {
		return memFile{data: m.incoming[token]}, nil
	}
	if sum, ok := strings.CutPrefix(where, "copy/"); ok && m.copies[sum] != nil {
		return memFile{data: m.copies[sum]}, nil
	}
	if sum, ok := strings.CutPrefix(where, "proxy/"); ok && m.proxies[sum] {
		return memFile{data: []byte("small")}, nil
	}
	return memFile{}, fmt.Errorf("there is no file %s", where)
}

func (m *memFootage) Stat(where string) (int64, time.Time, error) {
	f, err := m.at(where)
	return int64(len(f.data)), f.written, err
}

func (m *memFootage) Hash(ctx context.Context, where string, progress func(float64)) (string, int64, error) {
	if err := ctx.Err(); err != nil {
		return "", 0, err
	}
	f, err := m.at(where)
	if err != nil {
		return "", 0, err
	}
	progress(1)
	return hashHex(f.data), int64(len(f.data)), nil
}

func (m *memFootage) Copy(ctx context.Context, where string, progress func(float64)) (string, int64, bool, error) {
	sum, n, err := m.Hash(ctx, where, progress)
	if err != nil {
		return "", 0, false, err
	}
	f, err := m.at(where)
	m.mu.Lock()
	defer m.mu.Unlock()
	fresh := m.copies[sum] == nil
	m.copies[sum] = f.data
	return sum, n, fresh, err
}

func (m *memFootage) Room(int64) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.full {
		return app.ErrNoSpace
	}
	return nil
}

func (m *memFootage) Forget(sum string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.copies, sum)
	return nil
}

func (m *memFootage) Refer(sum, where string) error {
	f, err := m.at(where)
	if err != nil {
		return err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.places[sum] = memPlace{path: where, bytes: int64(len(f.data)), written: f.written}
	return nil
}

func (m *memFootage) Place(sum string) (string, string) {
	if asked := m.asked.Swap(nil); asked != nil {
		(*asked)()
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.copies[sum] != nil {
		return "copy/" + sum, app.PlaceCopy
	}
	p, ok := m.places[sum]
	f, there := m.disc[p.path]
	switch {
	case !ok || !there:
		return p.path, app.PlaceMissing
	case int64(len(f.data)) != p.bytes, !p.other.IsZero() && p.other.Equal(f.written):
		return p.path, app.PlaceChanged
	case !f.written.Equal(p.written):
		return p.path, app.PlaceUnsure
	}
	return p.path, app.PlaceReference
}

func (m *memFootage) Recheck(_ context.Context, sum string, _ func(float64)) (bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	p := m.places[sum]
	f := m.disc[p.path]
	same := hashHex(f.data) == sum
	if same {
		p.written = f.written
	} else {
		p.other = f.written
	}
	m.places[sum] = p
	return same, nil
}

func (m *memFootage) Upload(_ context.Context, name string, _ int64, from io.Reader) (string, error) {
	data, err := io.ReadAll(from)
	m.mu.Lock()
	defer m.mu.Unlock()
	token := fmt.Sprintf("upload%d%s%s", len(m.incoming), app.UploadMark, name)
	m.incoming[token] = data
	return token, err
}

func (m *memFootage) Uploaded(token string) (string, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.incoming[token] == nil {
		return "", errors.New("no upload")
	}
	return "incoming/" + token, nil
}

func (m *memFootage) DropUpload(token string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.incoming, token)
	return nil
}

func (m *memFootage) PutProbed(sum string, p *app.Probed) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	own := *p
	m.probed[sum] = &own
	return nil
}

func (m *memFootage) Probed(sum string) (*app.Probed, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.probed[sum] == nil {
		return nil, fs.ErrNotExist
	}
	return m.probed[sum], nil
}

func (m *memFootage) Proxy(sum string) (string, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return "proxy/" + sum, m.proxies[sum]
}

func (m *memFootage) DropProxy(sum string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.proxies, sum)
	return nil
}

func (m *memFootage) PutJobs(data []byte) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.jobs = bytes.Clone(data)
	return nil
}

func (m *memFootage) Jobs() ([]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return bytes.Clone(m.jobs), nil
}

func (m *memFootage) Copies() []string {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Sorted(maps.Keys(m.copies))
}

func (m *memFootage) Check(context.Context, func(done, total int)) (wrong []string, err error) {
	for _, sum := range m.Copies() {
		if f, _ := m.at("copy/" + sum); hashHex(f.data) != sum {
			wrong = append(wrong, "a copy is damaged")
		}
	}
	return wrong, nil
}

type memReader struct {
	*bytes.Reader
	memFile
}

func (r memReader) Close() error        { return nil }
func (r memReader) Bytes() int64        { return int64(len(r.data)) }
func (r memReader) Modified() time.Time { return r.written }

func (m *memFootage) Open(where string) (app.FootageReader, error) {
	f, err := m.at(where)
	return memReader{bytes.NewReader(f.data), f}, err
}

// memMedia takes a file for footage where its content is the JSON of what a probe
// finds. It makes proxies in a memFootage.
type memMedia struct {
	files *memFootage
	tools app.MediaTools

	mu      sync.Mutex
	proxied int
	wait    chan struct{} // a proxy waits for it, or for its end
	hold    chan struct{} // so does a probe
}

func newMemMedia(files *memFootage) *memMedia {
	return &memMedia{files: files, tools: app.MediaTools{Found: true, Version: "memory"}}
}

func (m *memMedia) Tools(context.Context) app.MediaTools { return m.tools }

func (m *memMedia) Probe(_ context.Context, where string) (*app.Probed, error) {
	f, err := m.files.at(where)
	if err != nil {
		return nil, err
	}
	m.mu.Lock()
	hold := m.hold
	m.mu.Unlock()
	if hold != nil {
		<-hold
	}
	var p app.Probed
	if err := json.Unmarshal(bytes.TrimRight(f.data, " "), &p); err != nil {
		return nil, &app.MediaError{File: path.Base(where), Wrong: "is no footage", Right: "choose a clip"}
	}
	return &p, nil
}

func (m *memMedia) Proxy(ctx context.Context, _, out string, _ *app.Probed, progress func(float64)) error {
	progress(0.5)
	m.mu.Lock()
	wait := m.wait
	m.mu.Unlock()
	if wait != nil {
		select {
		case <-wait:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	m.mu.Lock()
	m.proxied++
	m.mu.Unlock()
	m.files.mu.Lock()
	defer m.files.mu.Unlock()
	m.files.proxies[strings.TrimPrefix(out, "proxy/")] = true
	return nil
}

func (m *memMedia) NeedsProxy(p *app.Probed) (bool, string) {
	return p.Codec == "hevc", "browsers do not decode hevc everywhere"
}

// clipText is a file that memMedia takes for footage: so many frames, one each
// 1001/30000 s.
func clipText(t testing.TB, frames int, change func(*app.Probed)) string {
	t.Helper()
	p := app.Probed{
		Container: "mp4", Codec: "h264", PixelFormat: "yuv420p", WidthPx: 640, HeightPx: 360, TimeBase: [2]int64{1, 30000}, Keyframes: []int{0},
		Made: "2026-06-08T09:00:00Z", Notes: []string{},
	}
	for i := range frames {
		p.PTS = append(p.PTS, int64(i)*1001)
	}
	if change != nil {
		change(&p)
	}
	text, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func TestMemoryFootage(t *testing.T) {
	storetest.RunFootage(t, func(*testing.T) storetest.FootageMachine {
		m := newMemFootage()
		return storetest.FootageMachine{Files: m, Folder: "/card", Take: m.take, Lay: func(name, data string, written time.Time) string {
			m.lay("/card/"+name, data, written)
			return "/card/" + name
		}}
	})
}
