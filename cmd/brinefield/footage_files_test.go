package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"brinefield/internal/app"
	"brinefield/internal/cli"
	"brinefield/internal/httpapi"
	"brinefield/web"
)

// smallClip has ffmpeg make 20 frames of its own test picture.
func smallClip(t *testing.T, path string, more ...string) string {
	t.Helper()
	args := append([]string{"-v", "error", "-nostdin", "-y", "-f", "lavfi", "-i", "testsrc2=size=160x120:rate=25:duration=0.8", "-threads", "1"}, more...)
	if out, err := exec.Command("ffmpeg", append(args, path)...).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return path
}

func settledFootage(t *testing.T, s *app.Study) app.FootageView {
	t.Helper()
	for began := time.Now(); ; time.Sleep(5 * time.Millisecond) {
		v := must(s.Footage(t.Context()))
		if !slices.ContainsFunc(v.Jobs, func(j app.FootageJob) bool { return j.State != "failed" }) {
			return v
		}
		if time.Since(began) > 2*time.Minute {
			t.Fatalf("still at work: %+v", v.Jobs)
		}
	}
}

// TestFootageFromCardToBackup goes the way of a file with the real programs: from
// a card into a clip, its small copy, parts of it over HTTP, an upload, a backup and
// a study made of that.
func TestFootageFromCardToBackup(t *testing.T) {
	t.Parallel()
	dir, card := t.TempDir(), t.TempDir()
	d := openDesk(t, dir, newClock())
	s := d.importNew(t, "bay", smallSeason(t), app.ImportRequest{})
	avi := smallClip(t, filepath.Join(card, "it's 1.avi"), "-c:v", "mpeg4")
	mp4 := smallClip(t, filepath.Join(card, "GX01.MP4"), "-c:v", "libx264", "-preset", "ultrafast", "-g", "12", "-pix_fmt", "yuv420p", "-metadata", "creation_time=2026-06-08T09:00:00Z")
	if err := os.WriteFile(filepath.Join(card, "text.mp4"), []byte("a text"), 0o600); err != nil {
		t.Fatal(err)
	}

	look := must(s.FootageLook(t.Context(), app.FootageLookRequest{Folder: card}))
	if len(look.Files) != 2 || len(look.Notes) != 1 {
		t.Fatalf("%+v", look)
	}
	must(s.FootageImport(t.Context(), app.FootageImportRequest{Clip: "C1", Files: []string{avi}, Start: "2026-06-08T10:00:00+01:00"}))
	token := must(s.FootageUpload(t.Context(), "GX01.MP4", -1, must(os.Open(mp4))))
	must(s.FootageImport(t.Context(), app.FootageImportRequest{Clip: "C2", Files: []string{token}}))
	must(s.FootageImport(t.Context(), app.FootageImportRequest{Clip: "C3", Files: []string{filepath.Join(card, "text.mp4")}}))
	v := settledFootage(t, s)
	if len(v.Clips) != 2 || len(v.Jobs) != 1 || !strings.Contains(v.Jobs[0].Why, "text.mp4") {
		t.Fatalf("%+v, %+v", v.Clips, v.Jobs)
	}
	one, two := v.Clips[0], v.Clips[1]
	if one.Frames != 20 || one.Chapters[0].Proxy.State != "ready" || one.Chapters[0].Place != "reference" || two.Frames != 20 || two.Chapters[0].Place != "copy" || two.Chapters[0].Proxy.State != "none" {
		t.Errorf("%+v\n%+v", one, two)
	}
	frames := must(s.FootageFrames(t.Context(), "C1"))
	if len(frames.Chapters) != 1 || len(frames.Chapters[0].Runs) != 1 || frames.Chapters[0].Runs[0][1] != 19 {
		t.Errorf("%+v", frames)
	}
	overHTTP(t, d, two)

	// A backup holds the copy and says what is not in it.
	file := filepath.Join(t.TempDir(), "bay.zip")
	out := commands(t, "backup", "--studies", dir, "bay", file)
	if !strings.Contains(out, "Footage in it: 1 file") || !strings.Contains(out, "Not in it: 1 file of footage") {
		t.Errorf("%s", out)
	}
	commands(t, "restore", "--studies", dir, file, "again")
	again := must(d.Study(t.Context(), "again"))
	doc := must(again.Verify(t.Context(), nil))
	if !doc.Same || !strings.Contains(strings.Join(doc.Notes, "\n"), "it's 1.avi of the clip C1") {
		t.Errorf("%q, %q", doc.Differences, doc.Notes)
	}
	restored := settledFootage(t, again)
	if a, b := restored.Clips[0], restored.Clips[1]; a.Chapters[0].Place != "missing" || a.Frames != 20 || b.Chapters[0].Place != "copy" {
		t.Errorf("%+v\n%+v", a, b)
	}
	must(again.FootageFind(t.Context(), app.FootageFindRequest{Clip: "C1", Path: card}))
	if c := settledFootage(t, again).Clips[0]; c.Chapters[0].Place != "reference" {
		t.Errorf("found again: %+v", c.Chapters)
	}
	if readme := string(must(again.ExportStudy(t.Context(), true))["README.txt"]); !strings.Contains(readme, "recordings themselves are not part") {
		t.Errorf("%.300s", readme)
	}
	// A torn copy is damage.
	copies := must(filepath.Glob(filepath.Join(dir, "again", "footage", "files", "*")))
	if len(copies) != 1 {
		t.Fatalf("%q", copies)
	}
	if err := os.Truncate(copies[0], 100); err != nil {
		t.Fatal(err)
	}
	if doc := must(again.Verify(t.Context(), nil)); doc.Same || !strings.Contains(strings.Join(doc.Differences, "\n"), "footage") {
		t.Errorf("a torn copy: %q", doc.Differences)
	}
}

// overHTTP asks for a part of a clip as a browser does.
func overHTTP(t *testing.T, d *desk, clip app.FootageClip) {
	t.Helper()
	sessions := httpapi.NewSessions()
	var handler http.Handler
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { handler.ServeHTTP(w, r) }))
	defer server.Close()
	host := strings.TrimPrefix(server.URL, "http://")
	handler = httpapi.New(httpapi.Config{Studies: pages{d.Studies}, Web: web.Dist(), Hosts: []string{host}, Session: sessions, Version: "1"})
	entered := must(http.Get(server.URL + "/enter?token=" + sessions.Token()))
	entered.Body.Close()
	get := func(address string) (*http.Response, []byte) {
		r := must(http.NewRequestWithContext(t.Context(), "GET", server.URL+address, nil))
		r.AddCookie(entered.Cookies()[0])
		r.Header.Set("Range", "bytes=4-7")
		res := must(http.DefaultClient.Do(r))
		defer res.Body.Close()
		return res, must(io.ReadAll(res.Body))
	}
	if res, body := get("/media/bay/" + clip.Clip + "/0"); res.StatusCode != http.StatusPartialContent || string(body) != "ftyp" || res.Header.Get("ETag") != `"`+clip.Chapters[0].SHA256+`"` {
		t.Errorf("status %d, %q, %v", res.StatusCode, body, res.Header)
	}
	if res, body := get("/media/bay/C1/0?proxy=1"); res.StatusCode != http.StatusPartialContent || string(body) != "ftyp" {
		t.Errorf("the small copy: status %d, %q", res.StatusCode, body)
	}
	for _, address := range []string{"/media/bay/C1/1", "/media/bay/C9/0", "/media/bay/" + clip.Clip + "/0?proxy=1", "/media/bay/..%2F..%2Fstudy.db/0"} {
		if res, body := get(address); res.StatusCode != http.StatusNotFound {
			t.Errorf("%s: status %d, %q", address, res.StatusCode, body)
		}
	}
}

// commands runs a command line in this process and expects that it succeeds.
func commands(t *testing.T, args ...string) string {
	t.Helper()
	var out, wrong bytes.Buffer
	o := outside()
	o.Out, o.Err, o.Bar = &out, &wrong, nil
	if code := cli.Run(context.Background(), args, o); code != 0 {
		t.Fatalf("%q: exit %d, %s", args, code, wrong.String())
	}
	return out.String()
}

func TestFootageByCommands(t *testing.T) {
	t.Parallel()
	dir, card := t.TempDir(), t.TempDir()
	d := openDesk(t, dir, newClock())
	d.importNew(t, "bay", smallSeason(t), app.ImportRequest{})
	d.close(t)
	clip := smallClip(t, filepath.Join(card, "a.avi"), "-c:v", "mpeg4")
	if out := commands(t, "footage", "list", "--studies", dir, "bay"); !strings.Contains(out, "no clips") {
		t.Error(out)
	}
	out := commands(t, "footage", "import", "--studies", dir, "bay", clip, "--clip", "C1", "--copy", "--start", "2026-06-08T10:00:00+01:00", "--author", "Aoife Byrne (invented)")
	if !regexp.MustCompile(`The clip C1 is in the study bay: 20 frames in 1 file, 0\.8 s, begun 2026-06-08T10:00:00`).MatchString(out) || !strings.Contains(out, "small copy is made") {
		t.Error(out)
	}
	var listed struct {
		Format int
		Clips  []app.FootageListing
	}
	if err := json.Unmarshal([]byte(commands(t, "footage", "list", "--studies", dir, "bay", "--json")), &listed); err != nil {
		t.Fatal(err)
	}
	if listed.Format != 1 || len(listed.Clips) != 1 || len(listed.Clips[0].Paths) != 1 || !strings.HasPrefix(listed.Clips[0].Paths[0], dir) {
		t.Errorf("%+v", listed)
	}
	if out := commands(t, "footage", "list", "--studies", dir, "bay"); !strings.Contains(out, "160 × 120 mpeg4") {
		t.Error(out)
	}
	o := outside()
	var wrong bytes.Buffer
	o.Out, o.Err = io.Discard, &wrong
	for _, args := range [][]string{
		{"footage", "import", "--studies", dir, "bay", clip, "--clip", "C2", "--start", "2026-06-08T10:00:00+01:00"},
		{"footage", "import", "--studies", dir, "bay", filepath.Join(card, "none.mp4")},
		{"footage", "import", "--studies", dir, "bay", card},
		{"footage", "list", "--studies", dir, "nowhere"},
	} {
		if code := cli.Run(t.Context(), args, o); code != cli.ExitBadInput {
			t.Errorf("%q: exit %d, %s", args, code, wrong.String())
		}
	}
	if !strings.Contains(wrong.String(), "part of the clip C1") {
		t.Error(wrong.String())
	}
}
