package httpapi_test

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"brinefield/internal/app"
)

// TestMediaInParts: a browser gets the parts that it asks for (RFC 9110, 14), as a
// film that nothing keeps and that runs nothing.
func TestMediaInParts(t *testing.T) {
	const data = "0123456789"
	closed := 0
	var asked []any
	h, sessions := start(fakeStudies{media: fakeMedia{data, &closed}, asked: &asked}, builtWeb)
	c := signIn(t, h, sessions)
	for _, k := range []struct {
		header [2]string
		status int
		body   string
	}{
		{[2]string{"", ""}, 200, data},
		{[2]string{"Range", "bytes=2-4"}, 206, "234"},
		{[2]string{"Range", "bytes=-3"}, 206, "789"},
		{[2]string{"Range", "bytes=8-99"}, 206, "89"},
		{[2]string{"Range", "bytes=99-"}, 416, ""},
		{[2]string{"If-None-Match", `"abc"`}, 304, ""},
	} {
		res := ask(h, "GET", "/media/bay/clip%201%2Fa/0?proxy=1", func(r *http.Request) {
			r.AddCookie(c)
			if k.header[0] != "" {
				r.Header.Set(k.header[0], k.header[1])
			}
		})
		body, _ := io.ReadAll(res.Body)
		if res.StatusCode != k.status || k.status < 300 && string(body) != k.body {
			t.Errorf("%v: status %d, %q; want %d, %q", k.header, res.StatusCode, body, k.status, k.body)
		}
		for name, want := range map[string]string{
			"X-Content-Type-Options": "nosniff", "Content-Security-Policy": "default-src 'none'; sandbox", "Cache-Control": "no-store", "Cross-Origin-Resource-Policy": "same-origin",
		} {
			if got := res.Header.Values(name); len(got) != 1 || got[0] != want {
				if k.status == 416 && name == "Cache-Control" {
					continue // the standard library takes it away from an error, which no cache keeps
				}
				t.Errorf("%v: %s is %q; want %q alone", k.header, name, got, want)
			}
		}
		if got := res.Header.Get("Content-Type"); k.status < 300 && got != "video/mp4" {
			t.Errorf("type %q", got)
		}
	}
	if closed != 6 || asked[0] != "clip 1/a" {
		t.Errorf("closed %d times; asked for %v", closed, asked)
	}
	if res := ask(h, "HEAD", "/media/bay/C1/0", with(c)); res.StatusCode != 200 || res.Header.Get("Content-Length") != "10" || res.Header.Get("Accept-Ranges") != "bytes" {
		t.Errorf("HEAD: %d, %v", res.StatusCode, res.Header)
	}
	for path, want := range map[string]int{"/media/bay/C1/x": 404, "/media/bay/C1/-": 404, "/media/nowhere/C1/0": 404, "/media/bay/C1": 404, "/media/bay/C1/0/../../../etc/passwd": 404} {
		res := ask(h, "GET", path, with(c))
		if body, _ := io.ReadAll(res.Body); res.StatusCode != want && !(res.StatusCode >= 301 && res.StatusCode <= 308) && !strings.Contains(string(body), "<!doctype html>app") {
			t.Errorf("%s: status %d, %q", path, res.StatusCode, body)
		}
	}
	if res := ask(h, "GET", "/media/bay/C1/0", nil); res.StatusCode != http.StatusUnauthorized {
		t.Errorf("without a cookie: %d", res.StatusCode)
	}
	for err, want := range map[error]int{app.ErrFootageMissing: 410, app.ErrNoClip: 404, app.ErrLooseSeason: 409} {
		h, sessions := start(fakeStudies{err: fmt.Errorf("x.mp4: %w", err)}, builtWeb)
		res := ask(h, "GET", "/media/bay/C1/0", with(signIn(t, h, sessions)))
		if body, _ := io.ReadAll(res.Body); res.StatusCode != want || !strings.Contains(string(body), "x.mp4") {
			t.Errorf("%v: status %d, %q", err, res.StatusCode, body)
		}
	}
}

func TestUploadOfFootage(t *testing.T) {
	var asked []any
	h, sessions := start(fakeStudies{asked: &asked}, builtWeb)
	c := signIn(t, h, sessions)
	send := func(change func(*http.Request)) *http.Response {
		r := httptest.NewRequest("POST", "http://"+host+"/upload/bay?name=a%20b.mp4", strings.NewReader(strings.Repeat("x", 3<<20)))
		r.AddCookie(c)
		if change != nil {
			change(r)
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w.Result()
	}
	res := send(nil)
	if body, _ := io.ReadAll(res.Body); res.StatusCode != 200 || string(body) != `{"token":"token"}`+"\n" || res.Header.Get("Content-Type") != "application/json" {
		t.Errorf("status %d, %q", res.StatusCode, body)
	}
	if len(asked) != 3 || asked[0] != "a b.mp4" || asked[1] != int64(3<<20) || asked[2] != int64(3<<20) {
		t.Errorf("%v", asked)
	}
	for what, change := range map[string]func(*http.Request){
		"another site": func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") },
		"same site, another origin": func(r *http.Request) {
			r.Header.Set("Sec-Fetch-Site", "same-site")
			r.Header.Set("Origin", "http://localhost:1")
		},
		"no cookie": func(r *http.Request) { r.Header.Del("Cookie") },
	} {
		if res := send(change); res.StatusCode != http.StatusForbidden && res.StatusCode != http.StatusUnauthorized {
			t.Errorf("%s: status %d", what, res.StatusCode)
		}
	}
	if len(asked) != 3 {
		t.Errorf("refused, and read all the same: %v", asked)
	}
	h, sessions = start(fakeStudies{err: app.ErrNoSpace}, builtWeb)
	c = signIn(t, h, sessions)
	res = send(nil)
	if body, _ := io.ReadAll(res.Body); res.StatusCode != http.StatusInsufficientStorage || !strings.Contains(string(body), `"detail":"the disc is full`) {
		t.Errorf("a full disc: %d, %q", res.StatusCode, body)
	}
}
