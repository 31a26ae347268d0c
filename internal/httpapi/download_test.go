package httpapi_test

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"mime"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"brinefield/internal/app"
)

func photoAt(place string) []byte {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		panic(err)
	}
	plain := b.Bytes()
	comment := append([]byte{0xFF, 0xFE, 0, byte(len(place) + 2)}, place...) // ITU-T T.81: COM
	return append(append(bytes.Clone(plain[:2]), comment...), plain[2:]...)
}

// TestDownloadOfAnAttachment: a photo goes out without its place, and as a file
// that a browser neither shows as a page nor keeps.
func TestDownloadOfAnAttachment(t *testing.T) {
	var asked []any
	photo := app.AttachmentFile{ID: "7c1e-a0001", Name: "attachment-7c1e-a0001.jpg", Type: "image/jpeg", Data: photoAt("54.1N 8.6W")}
	h, sessions := start(fakeStudies{file: photo, asked: &asked}, builtWeb)
	c := signIn(t, h, sessions)
	const ref = "00000000000000000000000000000000000000000000000000000000000000aa"
	for _, original := range []bool{false, true} {
		address := "/download/bay/attachment/" + ref
		if original {
			address += "?original=1"
		}
		res := ask(h, "GET", address, with(c))
		data, err := io.ReadAll(res.Body)
		if err != nil || res.StatusCode != http.StatusOK || bytes.Contains(data, []byte("54.1N")) != original {
			t.Errorf("%s: status %d, %q, %v", address, res.StatusCode, data, err)
		}
		if _, err := jpeg.Decode(bytes.NewReader(data)); err != nil {
			t.Errorf("%s: %v", address, err)
		}
		kind, params, err := mime.ParseMediaType(res.Header.Get("Content-Disposition"))
		if err != nil || kind != "attachment" || params["filename"] != photo.Name {
			t.Errorf("%s: %q, %v, %v", address, kind, params, err)
		}
		for name, want := range map[string]string{
			"Content-Type": "image/jpeg", "X-Content-Type-Options": "nosniff", "Content-Security-Policy": "default-src 'none'; sandbox",
			"Cache-Control": "no-store", "Cross-Origin-Resource-Policy": "same-origin", "Content-Length": fmt.Sprint(len(data)),
		} {
			if got := res.Header.Values(name); len(got) != 1 || got[0] != want {
				t.Errorf("%s: %s is %q; want %q alone", address, name, got, want)
			}
		}
	}
	if len(asked) != 2 || asked[0] != ref {
		t.Errorf("asked for %v", asked)
	}
	if res := ask(h, "GET", "/download/bay/attachment/"+ref, nil); res.StatusCode != http.StatusUnauthorized {
		t.Errorf("without a cookie: status %d", res.StatusCode)
	}
	if res := ask(h, "GET", "/download/nowhere/attachment/"+ref, with(c)); res.StatusCode != http.StatusNotFound {
		t.Errorf("an unknown study: status %d", res.StatusCode)
	}
	// A tablet asks through the same handler with its name in the context.
	for address, want := range map[string]int{"?original=1": http.StatusForbidden, "": http.StatusOK} {
		r := httptest.NewRequest("GET", "http://"+host+"/download/bay/attachment/"+ref+address, nil)
		r.AddCookie(c)
		r = r.WithContext(app.WithCaller(r.Context(), app.Caller{Device: "a1", Role: "lead"}))
		res := httptest.NewRecorder()
		h.ServeHTTP(res, r)
		if res.Code != want || bytes.Contains(res.Body.Bytes(), []byte("54.1N")) {
			t.Errorf("a tablet, %q: status %d, %q; want %d", address, res.Code, res.Body, want)
		}
	}
}

func TestAttachmentsThatAreNotSent(t *testing.T) {
	page := []byte("<!doctype html><script>alert(1)</script>")
	for what, k := range map[string]struct {
		studies fakeStudies
		query   string
		status  int
		says    string
	}{
		"none":         {fakeStudies{err: app.ErrNoAttachment}, "", 404, "no such photo"},
		"not here yet": {fakeStudies{err: app.ErrNotHereYet}, "", 404, "not here yet"},
		"erased":       {fakeStudies{err: app.ErrErased}, "", 410, "erased"},
		"loose":        {fakeStudies{err: app.ErrLooseSeason}, "", 409, "season folder"},
		"a page":       {fakeStudies{file: app.AttachmentFile{Name: "attachment-x", Data: page}}, "", 422, "neither a photo"},
		"half a photo": {fakeStudies{file: app.AttachmentFile{Name: "attachment-x.jpg", Type: "image/jpeg", Data: photoAt("54.1N")[:40]}}, "", 422, "ends in the middle"},
	} {
		h, sessions := start(k.studies, builtWeb)
		res := ask(h, "GET", "/download/bay/attachment/aa"+k.query, with(signIn(t, h, sessions)))
		text, _ := io.ReadAll(res.Body)
		if res.StatusCode != k.status || !strings.Contains(string(text), k.says) || bytes.Contains(text, []byte("54.1N")) || res.Header.Get("Content-Disposition") != "" ||
			!strings.HasPrefix(res.Header.Get("Content-Type"), "text/plain") || res.Header.Get("Content-Security-Policy") != "default-src 'none'; sandbox" {
			t.Errorf("%s: status %d, %v, %q; want %d and %q", what, res.StatusCode, res.Header, text, k.status, k.says)
		}
	}
	// On the laptop even that can be had as it came: as bytes, not as a page.
	h, sessions := start(fakeStudies{file: app.AttachmentFile{Name: "attachment-x", Data: page}}, builtWeb)
	res := ask(h, "GET", "/download/bay/attachment/aa?original=1", with(signIn(t, h, sessions)))
	if got := res.Header.Get("Content-Type"); res.StatusCode != http.StatusOK || got != "application/octet-stream" {
		t.Errorf("as it came: status %d, %q", res.StatusCode, got)
	}
}
