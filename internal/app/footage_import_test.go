package app_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"brinefield/core/study"
	"brinefield/internal/app"
)

var filmed = time.Date(2026, 6, 8, 9, 30, 0, 0, time.UTC)

// filming is a study with a machine on which footage lies.
type filming struct {
	t     *testing.T
	shelf *memShelf
	media *memMedia
	files *memFootage
	all   *app.Studies
	*app.Study
}

func newFilming(t *testing.T) *filming {
	t.Helper()
	shelf := newMemShelf()
	importInto(t, newStudies(t, shelf), shelf, "bay", smallSeason(), app.ImportRequest{Author: "Aoife Byrne (invented)"})
	f := &filming{t: t, shelf: shelf, files: shelf.studies["bay"].footage}
	f.media = newMemMedia(f.files)
	f.open()
	return f
}

// open opens the study in a new window.
func (f *filming) open() {
	f.all = app.NewStudies(app.StudiesOptions{
		Shelf: f.shelf, ShelfName: "memory", Clock: func() time.Time { return f.shelf.clock.Now }, Random: rand.NewChaCha8([32]byte{9}), Sealer: f.shelf.sealer,
		Media: f.media, Background: context.Background(),
	})
	f.t.Cleanup(func() {
		if err := f.all.Close(); err != nil {
			f.t.Error(err)
		}
	})
	f.Study = openStudy(f.t, f.all, "bay")
}

// settled waits until nothing is at work or waiting.
func (f *filming) settled() app.FootageView {
	f.t.Helper()
	for began := time.Now(); ; {
		v := must1(f.Footage(f.t.Context()))(f.t)
		busy := false
		for _, j := range v.Jobs {
			busy = busy || j.State != "failed"
		}
		if !busy {
			return v
		}
		if time.Since(began) > time.Minute {
			f.t.Fatalf("still at work: %+v", v.Jobs)
		}
		time.Sleep(time.Millisecond)
	}
}

func must1[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func clipNamed(t testing.TB, v app.FootageView, name string) app.FootageClip {
	t.Helper()
	for _, c := range v.Clips {
		if c.Clip == name {
			return c
		}
	}
	t.Fatalf("there is no clip %s: jobs %+v, clips %+v", name, v.Jobs, v.Clips)
	return app.FootageClip{}
}

// TestImportOfChapters: two chapters by reference become a clip of the season, a
// record, frame times, and no path of this machine in the journal.
func TestImportOfChapters(t *testing.T) {
	f := newFilming(t)
	f.files.lay("/card/GX020001.MP4", clipText(t, 4, func(p *app.Probed) { p.Made = "2026-06-08T09:10:00Z" }), filmed)
	f.files.lay("/card/GX010001.MP4", clipText(t, 6, func(p *app.Probed) { p.PTS[5] += 3003 }), filmed)
	must1(f.FootageImport(t.Context(), app.FootageImportRequest{Author: "Tom Kett (invented)", Clip: "C1", Files: []string{"/card/GX010001.MP4", "/card/GX020001.MP4"}}))(t)
	v := f.settled()
	c := clipNamed(t, v, "C1")
	if c.Frames != 10 || len(c.Chapters) != 2 || c.Chapters[1].FromFrame != 6 || c.Chapters[0].Place != "reference" || c.WidthPx != 640 || c.Codec != "h264" {
		t.Errorf("%+v", c)
	}
	// Closed form: the gap of 3003 units is the last interval of chapter 1, which
	// lasts one median longer; four frames follow.
	const tick = 1001. / 30000
	if from := 5*tick + 3003./30000 + tick; math.Abs(c.Chapters[1].FromS-from) > 1e-12 || math.Abs(c.DurationS-(from+4*tick)) > 1e-12 {
		t.Errorf("chapter 2 begins at %v s of %v s; want %v", c.Chapters[1].FromS, c.DurationS, from)
	}
	if len(c.Gaps) != 1 || c.FrameRateHz == nil || math.Abs(*c.FrameRateHz-30000./1001) > 1e-9 || !strings.Contains(strings.Join(c.Notes, " "), "camera's word") {
		t.Errorf("gaps %v, rate %v, notes %q", c.Gaps, c.FrameRateHz, c.Notes)
	}
	for _, row := range f.shelf.studies["bay"].plain(t) {
		if strings.Contains(row, "/card") {
			t.Errorf("a path of this machine is in the study: %s", row)
		}
	}
	if clips := string(exported(t, f.Study)["clips.csv"]); !strings.Contains(clips, "C1,GX010001.MP4,2026-06-08T10:00:00,29.97") {
		t.Errorf("the season has %q", clips)
	}
	frames := must1(f.FootageFrames(t.Context(), "C1"))(t)
	if len(frames.Chapters) != 2 || frames.Chapters[1].FromFrame != 6 {
		t.Errorf("%+v", frames)
	}
	looked := must1(f.FootageLook(t.Context(), app.FootageLookRequest{Folder: "/card"}))(t)
	if len(looked.Files) != 2 || looked.Files[0].Clip != "C1" {
		t.Errorf("%+v", looked)
	}
	// The same file in another clip is refused by its name; so is a name that is taken.
	f.files.lay("/copy/again.mp4", clipText(t, 4, func(p *app.Probed) { p.Made = "2026-06-08T09:10:00Z" }), filmed)
	must1(f.FootageImport(t.Context(), app.FootageImportRequest{Clip: "C2", Files: []string{"/copy/again.mp4"}, Copy: true}))(t)
	v = f.settled()
	if len(v.Jobs) != 1 || v.Jobs[0].State != "failed" || !strings.Contains(v.Jobs[0].Why, "part of the clip C1") || len(f.files.copies) != 0 {
		t.Errorf("%+v, %d copies", v.Jobs, len(f.files.copies))
	}
	if v, err := f.FootageStop(t.Context(), app.FootageStopRequest{Job: v.Jobs[0].ID}); err != nil || len(v.Jobs) != 0 || len(f.files.jobs) != 0 {
		t.Errorf("dismissed: %+v, %v, %q", v.Jobs, err, f.files.jobs)
	}
	if _, err := f.FootageImport(t.Context(), app.FootageImportRequest{Clip: "C1", Files: []string{"/copy/again.mp4"}}); !errors.Is(err, app.ErrFootage) {
		t.Errorf("a name that is taken: %v", err)
	}
	if doc := must1(f.Verify(t.Context(), nil))(t); !doc.Same {
		t.Errorf("%q", doc.Differences)
	}
}

// An import that ends while the page is put together is in its clips or in its
// jobs: a page that saw it in neither would not ask again.
func TestAnImportIsAlwaysSeen(t *testing.T) {
	f := newFilming(t)
	f.files.lay("/card/a.mp4", clipText(t, 4, nil), filmed)
	f.files.lay("/card/b.mp4", clipText(t, 5, nil), filmed)
	in := app.FootageImportRequest{Author: "Tom Kett (invented)", Clip: "A", Files: []string{"/card/a.mp4"}, Start: "2026-06-08T09:10:00Z"}
	must1(f.FootageImport(t.Context(), in))(t)
	f.settled()

	hold := make(chan struct{})
	f.media.mu.Lock()
	f.media.hold = hold
	f.media.mu.Unlock()
	in.Clip, in.Files, in.Start = "B", []string{"/card/b.mp4"}, "2026-06-08T10:10:00Z"
	must1(f.FootageImport(t.Context(), in))(t)
	ended := false
	meanwhile := func() { // where the clip A is: the clips were read from the journal before
		close(hold)
		for began := time.Now(); time.Since(began) < 10*time.Second && !ended; time.Sleep(time.Millisecond) {
			left, err := f.files.Jobs()
			ended = err == nil && len(left) == 0
		}
	}
	f.files.asked.Store(&meanwhile)
	v := must1(f.Footage(t.Context()))(t)
	if !ended {
		t.Fatal("the import did not end while the page was put together: the test shows nothing")
	}
	if c := clipNamed(t, v, "B"); c.Frames != 5 || len(v.Jobs) != 0 {
		t.Errorf("clip B has %d frames, and there are %d jobs", c.Frames, len(v.Jobs))
	}
}

func TestImportsThatAreRefused(t *testing.T) {
	f := newFilming(t)
	lay := func(name string, change func(*app.Probed)) string {
		f.files.lay("/card/"+name, clipText(t, 5, change), filmed)
		return "/card/" + name
	}
	good := lay("a1.mp4", nil)
	f.files.lay("/card/text.mp4", "a text", filmed)
	for what, k := range map[string]struct {
		in   app.FootageImportRequest
		says string
	}{
		"no file":                {app.FootageImportRequest{}, "0 files"},
		"twice":                  {app.FootageImportRequest{Files: []string{good, good}}, "named twice"},
		"not there":              {app.FootageImportRequest{Files: []string{"/card/none.mp4"}}, "no file"},
		"no footage":             {app.FootageImportRequest{Files: []string{"/card/text.mp4"}}, "text.mp4: is no footage"},
		"another size":           {app.FootageImportRequest{Files: []string{good, lay("a2.mp4", func(p *app.Probed) { p.WidthPx = 1280 })}}, "1280 × 360"},
		"another rate":           {app.FootageImportRequest{Files: []string{good, lay("a3.mp4", func(p *app.Probed) { p.TimeBase[1] = 60000 })}}, "frames a second"},
		"no start":               {app.FootageImportRequest{Files: []string{lay("a4.mp4", func(p *app.Probed) { p.Made = "" })}}, "state when its first frame was filmed"},
		"a start that is none":   {app.FootageImportRequest{Files: []string{good}, Start: "soon"}, "soon"},
		"times that go back":     {app.FootageImportRequest{Files: []string{lay("a5.mp4", func(p *app.Probed) { p.PTS[3] = 0 })}}, "must increase"},
		"the same twice by hash": {app.FootageImportRequest{Files: []string{good, lay("a6.mp4", nil)}}, "the same file"},
	} {
		_, err := f.FootageImport(t.Context(), k.in)
		v := f.settled()
		text := fmt.Sprint(err)
		for _, j := range v.Jobs {
			text += j.Why
			must1(f.FootageStop(t.Context(), app.FootageStopRequest{Job: j.ID}))(t)
		}
		if !strings.Contains(text, k.says) || len(v.Clips) > 0 {
			t.Errorf("%s: %q, %d clips; want %q", what, text, len(v.Clips), k.says)
		}
	}
	f.media.tools = app.MediaTools{Why: "ffprobe is missing", Remedy: "apt install ffmpeg"}
	if _, err := f.FootageImport(t.Context(), app.FootageImportRequest{Files: []string{good}}); err == nil || !strings.Contains(err.Error(), "apt install") {
		t.Errorf("without ffmpeg: %v", err)
	}
	f.media.tools.Found = true
	f.files.full = true
	if v := f.imported(app.FootageImportRequest{Files: []string{good}, Copy: true}); len(v.Jobs) != 1 || !strings.Contains(v.Jobs[0].Why, "full") {
		t.Errorf("a full disc: %+v", v.Jobs)
	}
	f.shelf.studies["bay"].readOnly = true
	f.open()
	if _, err := f.FootageImport(t.Context(), app.FootageImportRequest{Files: []string{good}}); !errors.Is(err, app.ErrReadOnly) {
		t.Errorf("read-only: %v", err)
	}
	if _, err := f.FootageUpload(t.Context(), "a.mp4", 1, strings.NewReader("x")); !errors.Is(err, app.ErrReadOnly) {
		t.Errorf("read-only: %v", err)
	}
}

func (f *filming) imported(in app.FootageImportRequest) app.FootageView {
	f.t.Helper()
	must1(f.FootageImport(f.t.Context(), in))(f.t)
	return f.settled()
}

// TestProxiesAndClosing: a file that a browser cannot step through gets a small
// copy; what is at work when the window closes begins again in the next.
func TestProxiesAndClosing(t *testing.T) {
	f := newFilming(t)
	f.media.wait = make(chan struct{})
	f.files.lay("/card/h.mp4", clipText(t, 5, func(p *app.Probed) { p.Codec = "hevc" }), filmed)
	must1(f.FootageImport(t.Context(), app.FootageImportRequest{Files: []string{"/card/h.mp4"}, Author: "Tom Kett (invented)"}))(t)
	var v app.FootageView
	for began := time.Now(); time.Since(began) < time.Minute; time.Sleep(time.Millisecond) {
		if v = must1(f.Footage(t.Context()))(t); len(v.Jobs) == 1 && v.Jobs[0].What == "proxy" && v.Jobs[0].State == "running" && v.Jobs[0].Done > 0 {
			break
		}
	}
	c := clipNamed(t, v, "h")
	if p := c.Chapters[0].Proxy; p.State != "running" || p.Done != 0.5 {
		t.Errorf("%+v, %+v", p, v.Jobs)
	}
	if _, err := f.FootageMedia(t.Context(), "h", 0, true); !errors.Is(err, app.ErrNoClip) {
		t.Errorf("a proxy that is not made: %v", err)
	}
	if err := f.all.Close(); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(f.files.jobs), "proxy") || strings.Contains(string(f.files.jobs), "Kett") {
		t.Errorf("kept: %s", f.files.jobs)
	}
	close(f.media.wait)
	f.open()
	if v = f.settled(); clipNamed(t, v, "h").Chapters[0].Proxy.State != "ready" || f.media.proxied != 1 || len(f.files.jobs) != 0 {
		t.Errorf("%+v, %d made, kept %q", v.Clips, f.media.proxied, f.files.jobs)
	}
	r := must1(f.FootageMedia(t.Context(), "h", 0, true))(t)
	if text, err := io.ReadAll(r); err != nil || string(text) != "small" || r.Type != "video/mp4" || !strings.HasPrefix(r.ETag, "proxy-") {
		t.Errorf("%q, %v, %+v", text, err, r)
	}
	// Stopped by hand it is gone, and asked for again it is made.
	if err := f.files.DropProxy(c.Chapters[0].SHA256); err != nil {
		t.Fatal(err)
	}
	f.media.mu.Lock()
	f.media.wait = make(chan struct{})
	f.media.mu.Unlock()
	v = must1(f.FootageProxy(t.Context(), app.FootageProxyRequest{Clip: "h"}))(t)
	if v = must1(f.FootageStop(t.Context(), app.FootageStopRequest{Job: v.Jobs[0].ID}))(t); len(v.Jobs) != 0 {
		t.Errorf("%+v", v.Jobs)
	}
	if p := v.Clips[0].Chapters[0].Proxy; p.State != "none" || !strings.Contains(p.Why, "hevc") {
		t.Errorf("%+v", p)
	}
	if _, err := f.FootageProxy(t.Context(), app.FootageProxyRequest{Clip: "none"}); !errors.Is(err, app.ErrNoClip) {
		t.Errorf("no such clip: %v", err)
	}
}

// TestImportIsFinishedInTheNextWindow: an import that was waiting when the program
// was killed is carried out, and one that was written already is not done twice.
func TestImportIsFinishedInTheNextWindow(t *testing.T) {
	f := newFilming(t)
	f.files.lay("/card/a.mp4", clipText(t, 5, nil), filmed)
	job := `[{"id":"7","what":"import","clip":"A","file":"a.mp4","files":["/card/a.mp4"]},{"id":"8","what":"dance"},null]`
	f.files.jobs = []byte(job)
	c := clipNamed(t, f.settled(), "A")
	if err := f.all.Close(); err != nil {
		t.Fatal(err)
	}
	before := len(f.shelf.studies["bay"].entries)
	f.files.jobs = []byte(job)
	f.open()
	v := f.settled()
	if again := clipNamed(t, v, "A"); again.ETag != c.ETag || len(v.Jobs) != 0 || len(f.shelf.studies["bay"].entries) != before {
		t.Errorf("%+v; %d entries, then %d", v.Jobs, before, len(f.shelf.studies["bay"].entries))
	}
	f.all.Close()
	f.files.jobs = []byte("{torn")
	f.open()
	if v := f.settled(); len(v.Jobs) != 0 {
		t.Errorf("%+v", v.Jobs)
	}
}

// TestFilesThatMove: missing, changed, written since and found again by hash.
func TestFilesThatMove(t *testing.T) {
	f := newFilming(t)
	one, other := clipText(t, 5, nil), clipText(t, 5, func(p *app.Probed) { p.Codec = "h265" })
	if len(one) != len(other) {
		t.Fatal("the two files must be equally large")
	}
	f.files.lay("/card/a.mp4", one, filmed)
	place := func() string { return clipNamed(t, f.settled(), "a").Chapters[0].Place }
	clipNamed(t, f.imported(app.FootageImportRequest{Files: []string{"/card/a.mp4"}}), "a")
	f.files.lay("/card/a.mp4", one, filmed.Add(time.Hour)) // a card in another time zone
	if got := place(); got != "reference" {
		t.Errorf("the same file, written since: %s", got)
	}
	if _, state := f.files.Place(hashHex([]byte(one))); state != app.PlaceReference {
		t.Errorf("it is looked at again each time: %s", state)
	}
	f.files.lay("/card/a.mp4", other, filmed.Add(2*time.Hour))
	v := f.settled()
	if got := place(); got != "changed" || len(v.Jobs) != 1 || !strings.Contains(v.Jobs[0].Why, "was changed") {
		t.Errorf("another file of this size: %s, %+v", got, v.Jobs)
	}
	if _, err := f.FootageMedia(t.Context(), "a", 0, false); !errors.Is(err, app.ErrFootageMissing) {
		t.Errorf("changed: %v", err)
	}
	f.files.take("/card/a.mp4")
	if got := place(); got != "missing" {
		t.Errorf("taken away: %s", got)
	}
	if _, err := f.FootageMedia(t.Context(), "a", 0, false); !errors.Is(err, app.ErrFootageMissing) {
		t.Errorf("missing: %v", err)
	}
	f.files.lay("/drive/x/other.mp4", other, filmed)
	f.files.lay("/drive/x/moved.mp4", one, filmed)
	f.files.lay("/drive/x/small.mp4", "x", filmed)
	if _, err := f.FootageFind(t.Context(), app.FootageFindRequest{Clip: "a", Path: "/drive/x/small.mp4"}); !errors.Is(err, app.ErrFootage) {
		t.Errorf("of another size: %v", err)
	}
	must1(f.FootageFind(t.Context(), app.FootageFindRequest{Clip: "a", Path: "/drive/x/other.mp4"}))(t)
	if v := f.settled(); !strings.Contains(v.Jobs[len(v.Jobs)-1].Why, "still missing") {
		t.Errorf("%+v", v.Jobs)
	}
	f.all.Close()
	f.files.probed = map[string]*app.Probed{} // as on a laptop that never had the file
	f.open()
	must1(f.FootageFind(t.Context(), app.FootageFindRequest{Clip: "a", Path: "/drive"}))(t)
	if got := place(); got != "reference" || len(f.files.probed) != 1 {
		t.Errorf("found by hash: %s, %d lists of frame times", got, len(f.files.probed))
	}
	if r := must1(f.FootageMedia(t.Context(), "a", 0, false))(t); r.Bytes() != int64(len(one)) || r.ETag != hashHex([]byte(one)) {
		t.Errorf("%+v", r)
	}
	for _, chapter := range []int{-1, 1, 99} {
		if _, err := f.FootageMedia(t.Context(), "a", chapter, false); !errors.Is(err, app.ErrNoClip) {
			t.Errorf("chapter %d: %v", chapter, err)
		}
	}
	if _, err := f.FootageMedia(t.Context(), "/drive/x/moved.mp4", 0, false); !errors.Is(err, app.ErrNoClip) {
		t.Errorf("a path for a clip: %v", err)
	}
}

// TestUploadIsTakenIn: an upload becomes a copy under its own name, and the season
// keeps what it says of the clip already.
func TestUploadIsTakenIn(t *testing.T) {
	f := newFilming(t)
	must1(f.Edit(t.Context(), app.EditRequest{Add: []app.NewRow{{Kind: "clip", ID: "C7", Fields: map[string]string{"file": "GX7.MP4", "start": "2026-06-08T10:00:00+01:00", "clock_offset_s": "2.5"}}}}))(t)
	token := must1(f.FootageUpload(t.Context(), "mine.mp4", -1, strings.NewReader(clipText(t, 3, func(p *app.Probed) { p.Made = ""; p.RotationDeg = 90 }))))(t)
	c := clipNamed(t, f.imported(app.FootageImportRequest{Clip: "C7", Files: []string{token}}), "C7")
	if c.Chapters[0].Place != "copy" || c.Chapters[0].Name != "mine.mp4" || c.WidthPx != 360 || len(f.files.incoming) != 0 {
		t.Errorf("%+v, %d uploads left", c, len(f.files.incoming))
	}
	if !strings.Contains(strings.Join(c.Notes, " "), "The season calls the file GX7.MP4") {
		t.Errorf("%q", c.Notes)
	}
	row := f.shelf.studies["bay"].states[memName{study.KindClip, "C7"}].Fields
	if row["file"] != "GX7.MP4" || row["clock_offset_s"] != "2.5" || row["frame_rate"] == "" {
		t.Errorf("%v", row)
	}
	var chapters []struct {
		SHA256 string `json:"sha256"`
		Frames int
	}
	text := f.shelf.studies["bay"].states[memName{study.KindFootage, "C7"}].Fields["chapters"]
	if err := json.Unmarshal([]byte(text), &chapters); err != nil || len(chapters) != 1 || chapters[0].Frames != 3 || len(chapters[0].SHA256) != 64 {
		t.Errorf("%s: %v", text, err)
	}
}

func TestNumbersOfCameras(t *testing.T) {
	f := newFilming(t)
	for i, name := range []string{"DSC_10.mp4", "DSC_9.mp4", "DSC_11.mp4"} {
		f.files.lay("/card/"+name, clipText(t, 3+i, nil), filmed)
	}
	c := clipNamed(t, f.imported(app.FootageImportRequest{Clip: "N", Start: "2026-06-08T10:00:00+01:00", Files: []string{"/card/DSC_10.mp4", "/card/DSC_9.mp4", "/card/DSC_11.mp4"}}), "N")
	if notes := strings.Join(c.Notes, " "); !strings.Contains(notes, "DSC_9.mp4, DSC_10.mp4 and DSC_11.mp4") || c.Chapters[0].Name != "DSC_10.mp4" {
		t.Errorf("%q", notes)
	}
}
