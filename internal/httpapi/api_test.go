package httpapi_test

import (
	"encoding/json"
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"testing/fstest"

	"brinefield/internal/app"
	"brinefield/internal/httpapi"
)

// fakeSeason answers with marked values; its error, where set, replaces them.
type fakeSeason struct{ err error }

func (f fakeSeason) Season() app.SeasonView     { return app.SeasonView{Title: "secret season"} }
func (f fakeSeason) Progress() app.ProgressView { return app.ProgressView{State: "running"} }
func (f fakeSeason) Exposures() (app.ExposuresView, error) {
	return app.ExposuresView{}, f.err
}

func (f fakeSeason) Pass(id string) (app.PassView, error) {
	return app.PassView{Note: "pass " + id}, f.err
}
func (f fakeSeason) Findings() (app.Findings, error) { return app.Findings{}, f.err }
func (f fakeSeason) Curves() (app.CurvesView, error) { return app.CurvesView{}, f.err }

const host = "127.0.0.1:4321"

func start(season httpapi.Season, web fs.FS) (http.Handler, *httpapi.Sessions) {
	sessions := httpapi.NewSessions()
	return httpapi.New(httpapi.Config{Season: season, Web: web, Hosts: []string{host}, Session: sessions, Version: "1"}), sessions
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
	h, sessions := start(fakeSeason{}, builtWeb)
	sessions.Token()
	for _, path := range []string{"/", "/findings", "/assets/app-1.js", "/api/season", "/api/progress", "/api/exposures", "/api/passes/P1", "/api/findings", "/api/curves", "/openapi.yaml", "/openapi.json"} {
		res := ask(h, "GET", path, nil)
		text, _ := io.ReadAll(res.Body)
		if res.StatusCode != http.StatusUnauthorized || strings.Contains(string(text), "secret") {
			t.Errorf("%s without a cookie: status %d, body %q; want 401 and nothing of the season", path, res.StatusCode, text)
		}
	}
}

func TestTokenWorksOnce(t *testing.T) {
	h, sessions := start(fakeSeason{}, builtWeb)
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
	h, sessions := start(fakeSeason{}, builtWeb)
	c := signIn(t, h, sessions)
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" {
		t.Errorf("cookie %+v: want HttpOnly, SameSite=Strict, path /", c)
	}
	other, otherSessions := start(fakeSeason{}, builtWeb)
	if d := signIn(t, other, otherSessions); d.Name == c.Name {
		t.Errorf("two servers share the cookie name %q", c.Name)
	}
	if res := ask(other, "GET", "/api/season", func(r *http.Request) { r.AddCookie(c) }); res.StatusCode != http.StatusUnauthorized {
		t.Errorf("another server's cookie is let in: status %d", res.StatusCode)
	}
}

func TestWhoIsRefusedInSpiteOfTheCookie(t *testing.T) {
	h, sessions := start(fakeSeason{}, builtWeb)
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
		res := ask(h, k.method, "/api/season", func(r *http.Request) { r.AddCookie(c); k.change(r) })
		if res.StatusCode != k.status {
			t.Errorf("%s: status %d, want %d", k.name, res.StatusCode, k.status)
		}
	}
}

func TestHeadersOfEveryAnswer(t *testing.T) {
	h, sessions := start(fakeSeason{}, builtWeb)
	c := signIn(t, h, sessions)
	for _, path := range []string{"/", "/api/season", "/nothing.css", "/enter"} {
		res := ask(h, "GET", path, func(r *http.Request) { r.AddCookie(c) })
		csp := res.Header.Get("Content-Security-Policy")
		if !strings.Contains(csp, "default-src 'self'") || !strings.Contains(csp, "frame-ancestors 'none'") || res.Header.Get("X-Content-Type-Options") != "nosniff" || res.Header.Get("X-Frame-Options") != "DENY" {
			t.Errorf("%s lacks a protecting header: %v", path, res.Header)
		}
	}
}

func TestFrontEnd(t *testing.T) {
	h, sessions := start(fakeSeason{}, builtWeb)
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
	bare, bareSessions := start(fakeSeason{}, fstest.MapFS{})
	bareCookie := signIn(t, bare, bareSessions)
	if res := ask(bare, "GET", "/", func(r *http.Request) { r.AddCookie(bareCookie) }); res.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("a build without the web app: status %d, want 503", res.StatusCode)
	}
}

func TestErrorsBecomeStatuses(t *testing.T) {
	for _, k := range []struct {
		err    error
		status int
	}{{app.ErrNotReady, 503}, {app.ErrUnknownPass, 404}, {app.ErrFaults, 409}, {io.ErrUnexpectedEOF, 500}} {
		h, sessions := start(fakeSeason{err: k.err}, builtWeb)
		c := signIn(t, h, sessions)
		res := ask(h, "GET", "/api/passes/P00001", func(r *http.Request) { r.AddCookie(c) })
		var problem struct{ Detail string }
		if err := json.NewDecoder(res.Body).Decode(&problem); err != nil || res.StatusCode != k.status || problem.Detail != k.err.Error() {
			t.Errorf("%v: status %d, detail %q, %v; want %d and the same sentence", k.err, res.StatusCode, problem.Detail, err, k.status)
		}
	}
}

func TestListsAreNeverNullInTheDescription(t *testing.T) {
	text, err := httpapi.Description("1")
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{"/api/findings:", "not_estimable:", "openapi: 3.1.0"} {
		if !strings.Contains(string(text), line) {
			t.Errorf("the description lacks %q", line)
		}
	}
	if strings.Contains(string(text), "- array\n") {
		t.Error("the description has a list that may be null")
	}
}
