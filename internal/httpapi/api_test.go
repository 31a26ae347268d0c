package httpapi_test

import (
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"brinefield/internal/httpapi"
)

const host = "127.0.0.1:4321"

func start(studies httpapi.Studies, web fs.FS) (http.Handler, *httpapi.Sessions) {
	sessions := httpapi.NewSessions()
	return httpapi.New(httpapi.Config{Studies: studies, Web: web, Hosts: []string{host}, Session: sessions, Version: "1"}), sessions
}

func ask(h http.Handler, method, path string, change func(*http.Request)) *http.Response {
	r := httptest.NewRequest(method, "http://"+host+path, nil)
	if change != nil {
		change(r)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w.Result()
}

func signIn(t *testing.T, h http.Handler, sessions *httpapi.Sessions) *http.Cookie {
	t.Helper()
	res := ask(h, "GET", "/enter?token="+url.QueryEscape(sessions.Token()), func(r *http.Request) {
		r.Header.Set("Sec-Fetch-Site", "cross-site") // as a browser does that comes from a file
	})
	if len(res.Cookies()) != 1 {
		t.Fatalf("signing in set %d cookies, want 1 (status %d)", len(res.Cookies()), res.StatusCode)
	}
	return res.Cookies()[0]
}

var builtWeb = fstest.MapFS{
	"index.html":      {Data: []byte("<!doctype html>app")},
	"assets/app-1.js": {Data: []byte("app()")},
	"favicon.svg":     {Data: []byte("<svg/>")},
}

func TestNothingIsReadWithoutTheCookie(t *testing.T) {
	h, sessions := start(fakeStudies{}, builtWeb)
	sessions.Token()
	for _, path := range []string{"/", "/findings", "/assets/app-1.js", "/api/home", "/api/studies/bay/season", "/api/studies/bay/results", "/api/studies/bay/exposures", "/api/studies/bay/passes/P1", "/api/studies/bay/findings", "/api/studies/bay/question", "/api/studies/bay/tables/pass", "/api/studies/bay/journal", "/download/bay/season", "/openapi.yaml", "/openapi.json"} {
		res := ask(h, "GET", path, nil)
		text, _ := io.ReadAll(res.Body)
		if res.StatusCode != http.StatusUnauthorized || strings.Contains(string(text), "secret") {
			t.Errorf("%s without a cookie: status %d, body %q; want 401 and nothing of the season", path, res.StatusCode, text)
		}
	}
}

func TestTokenWorksOnce(t *testing.T) {
	h, sessions := start(fakeStudies{}, builtWeb)
	token := url.QueryEscape(sessions.Token())
	if res := ask(h, "GET", "/enter?token="+token, nil); res.StatusCode != http.StatusOK {
		t.Fatalf("first use: status %d", res.StatusCode)
	}
	for _, again := range []string{token, "", "x"} {
		if res := ask(h, "GET", "/enter?token="+again, nil); res.StatusCode != http.StatusUnauthorized || len(res.Cookies()) > 0 {
			t.Errorf("token %q a second time: status %d, %d cookies; want 401 and none", again, res.StatusCode, len(res.Cookies()))
		}
	}
}

func TestCookieIsStrictAndHidden(t *testing.T) {
	h, sessions := start(fakeStudies{}, builtWeb)
	c := signIn(t, h, sessions)
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" {
		t.Errorf("cookie %+v: want HttpOnly, SameSite=Strict, path /", c)
	}
	other, otherSessions := start(fakeStudies{}, builtWeb)
	if d := signIn(t, other, otherSessions); d.Name == c.Name {
		t.Errorf("two servers share the cookie name %q", c.Name)
	}
	if res := ask(other, "GET", "/api/studies/bay/season", func(r *http.Request) { r.AddCookie(c) }); res.StatusCode != http.StatusUnauthorized {
		t.Errorf("another server's cookie is let in: status %d", res.StatusCode)
	}
}

func TestWhoIsRefusedInSpiteOfTheCookie(t *testing.T) {
	h, sessions := start(fakeStudies{}, builtWeb)
	c := signIn(t, h, sessions)
	for _, k := range []struct {
		name, method string
		change       func(*http.Request)
		status       int
	}{
		{"a name rebound to loopback", "GET", func(r *http.Request) { r.Host = "evil.example:4321" }, http.StatusMisdirectedRequest},
		{"another port", "GET", func(r *http.Request) { r.Host = "127.0.0.1:4322" }, http.StatusMisdirectedRequest},
		{"no host", "GET", func(r *http.Request) { r.Host = "" }, http.StatusMisdirectedRequest},
		{"another site's page", "GET", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, http.StatusForbidden},
		{"another site's form", "POST", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, http.StatusForbidden},
		{"another origin's form", "POST", func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") }, http.StatusForbidden},
		{"this page", "GET", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-origin") }, http.StatusOK},
		{"an address typed in", "GET", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "none") }, http.StatusOK},
	} {
		res := ask(h, k.method, "/api/studies/bay/season", func(r *http.Request) { r.AddCookie(c); k.change(r) })
		if res.StatusCode != k.status {
			t.Errorf("%s: status %d, want %d", k.name, res.StatusCode, k.status)
		}
	}
}

func TestHeadersOfEveryAnswer(t *testing.T) {
	h, sessions := start(fakeStudies{}, builtWeb)
	c := signIn(t, h, sessions)
	for _, path := range []string{"/", "/api/studies/bay/season", "/nothing.css", "/enter"} {
		res := ask(h, "GET", path, func(r *http.Request) { r.AddCookie(c) })
		csp := res.Header.Get("Content-Security-Policy")
		if !strings.Contains(csp, "default-src 'self'") || !strings.Contains(csp, "frame-ancestors 'none'") || !strings.Contains(csp, "worker-src 'self';") || res.Header.Get("X-Content-Type-Options") != "nosniff" || res.Header.Get("X-Frame-Options") != "DENY" {
			t.Errorf("%s lacks a protecting header: %v", path, res.Header)
		}
	}
}

func TestFrontEnd(t *testing.T) {
	h, sessions := start(fakeStudies{}, builtWeb)
	c := signIn(t, h, sessions)
	for _, k := range []struct{ path, cache, contains string }{
		{"/", "no-cache", "app"},
		{"/findings", "no-cache", "app"},
		{"/assets/app-1.js", "public, max-age=31536000, immutable", "app()"},
		{"/favicon.svg", "no-cache", "<svg/>"},
	} {
		res := ask(h, "GET", k.path, func(r *http.Request) { r.AddCookie(c) })
		text, _ := io.ReadAll(res.Body)
		if res.StatusCode != http.StatusOK || res.Header.Get("Cache-Control") != k.cache || !strings.Contains(string(text), k.contains) {
			t.Errorf("%s: status %d, cache %q, body %q", k.path, res.StatusCode, res.Header.Get("Cache-Control"), text)
		}
	}
	if res := ask(h, "GET", "/api/nothing", func(r *http.Request) { r.AddCookie(c) }); res.StatusCode != http.StatusNotFound {
		t.Errorf("/api/nothing: status %d, want 404", res.StatusCode)
	}
	bare, bareSessions := start(fakeStudies{}, fstest.MapFS{})
	bareCookie := signIn(t, bare, bareSessions)
	if res := ask(bare, "GET", "/", func(r *http.Request) { r.AddCookie(bareCookie) }); res.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("a build without the web app: status %d, want 503", res.StatusCode)
	}
}

func TestListsAreNeverNullInTheDescription(t *testing.T) {
	text, err := httpapi.Description("1")
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{"/api/studies/{study}/findings:", "not_estimable:", "openapi: 3.1.0"} {
		if !strings.Contains(string(text), line) {
			t.Errorf("the description lacks %q", line)
		}
	}
	// A vector of three is no list: it is there or not, as a number is. Nor is the
	// size of a rectangle, which a circle has none of; nor the place of a tip that
	// may be far away, nor where a camera was, nor the covariance of a place.
	vectors := []string{"position_components_nV_per_cm", "E_season_nV_per_cm", "size_m", "minus_m", "camera_centre_m", "camera_centre_sd_m", "covariance_cm2"}
	key := ""
	for line := range strings.SplitSeq(string(text), "\n") {
		if name, _, ok := strings.Cut(strings.TrimSpace(line), ":"); ok && (strings.HasSuffix(name, "_per_cm") || slices.Contains(vectors, name)) {
			key = name
		}
		if strings.HasSuffix(line, "- array") && !slices.Contains(vectors, key) {
			t.Errorf("the description has a list that may be null, after %q", key)
		}
	}
}
