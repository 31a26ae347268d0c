package main

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"brinefield/internal/access"
	"brinefield/internal/app"
	"brinefield/internal/cli"
	"brinefield/internal/gate"
	"brinefield/internal/httpapi"
)

// harbour is a laptop that lets tablets in: true stores, true TLS on a true
// port, and a clock that a test sets.
type harbour struct {
	*gate.Gate
	desk *desk
	keys string
	view app.TabletsView
	free uint64
}

// wide limits are for tests that ask a thousand times within a second.
func wide() gate.Limits {
	l := gate.Usual()
	l.Asks, l.Strangers, l.Codes, l.Device = gate.Rate{PerSecond: 1e5, Burst: 1e5}, gate.Rate{PerSecond: 1e5, Burst: 1e5}, gate.Rate{PerSecond: 1e5, Burst: 1e5}, gate.Rate{PerSecond: 1e5, Burst: 1e5}
	return l
}

func openHarbour(t *testing.T, limits gate.Limits) *harbour {
	t.Helper()
	dir := t.TempDir()
	h := &harbour{desk: openDesk(t, filepath.Join(dir, "studies"), newClock()), keys: filepath.Join(dir, "keys"), free: 1 << 40}
	for _, study := range []string{"bay", "reef"} {
		if _, err := h.desk.Create(t.Context(), app.NewStudyRequest{Study: study, Title: "The " + study + " (invented)"}); err != nil {
			t.Fatal(err)
		}
	}
	h.Gate = h.gate(limits)
	t.Cleanup(func() {
		if err := h.Close(); err != nil {
			t.Error(err)
		}
	})
	yes := true
	var err error
	if h.view, err = h.Change(t.Context(), app.TabletsRequest{Serve: &yes}); err != nil {
		t.Fatal(err)
	}
	return h
}

var tabletWeb = fstest.MapFS{
	"index.html": {Data: []byte("<!doctype html>app")}, "assets/app-1.js": {Data: []byte("app()")},
	"manifest.webmanifest": {Data: []byte("{}")}, "sw.js": {Data: []byte("worker()")},
}

// gate is one more window on the same studies and keys.
func (h *harbour) gate(limits gate.Limits) *gate.Gate {
	config := httpapi.Config{Studies: pages{h.desk.Studies}, Web: tabletWeb, Version: "1"}
	opt := gateOptions(h.desk.Studies, config, h.desk.shelf, h.keys, cli.TabletOptions{})
	opt.Listen, opt.Limits = "127.0.0.1:0", limits
	opt.Free = func() (uint64, error) { return h.free, nil }
	opt.Addresses = func() ([]netip.Addr, error) { return []netip.Addr{netip.MustParseAddr("127.0.0.1")}, nil }
	return gate.New(opt)
}

// visitor is a browser on some tablet.
type visitor struct {
	h      *harbour
	client *http.Client
	token  string // of its cookie; "" has none
	self   app.TabletSelf
}

// visitor trusts the laptop's authority as it lies on the disc, and no other.
func (h *harbour) visitor(t *testing.T) *visitor {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(h.keys, "authority", "authority.crt"))
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(data) {
		t.Fatal("the authority's certificate cannot be read")
	}
	transport := &http.Transport{
		TLSClientConfig: &tls.Config{RootCAs: pool, Time: h.desk.clock.Now}, ForceAttemptHTTP2: true,
		DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, network, fmt.Sprintf("127.0.0.1:%d", h.view.Port))
		},
	}
	t.Cleanup(transport.CloseIdleConnections)
	stay := func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &visitor{h: h, client: &http.Client{Transport: transport, Timeout: time.Minute, CheckRedirect: stay}}
}

// ask sends one request as a page of the app does.
func (v *visitor) ask(t *testing.T, method, path, body string, change ...func(*http.Request)) (*http.Response, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), method, v.h.view.Addresses[0]+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if body != "" {
		req.Header.Set("Content-Type", "application/json")
	}
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	if v.token != "" {
		req.AddCookie(&http.Cookie{Name: "__Host-brinefield-device", Value: v.token})
	}
	for _, c := range change {
		c(req)
	}
	res, err := v.client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res, string(text)
}

func (h *harbour) code(t *testing.T, study, role string) string {
	t.Helper()
	code, err := h.Code(t.Context(), app.PairingRequest{Study: study, Role: role, Author: "Aoife Byrne (invented)"})
	if err != nil {
		t.Fatal(err)
	}
	return code.Code
}

// pair brings a code over TLS; the status is that of the answer.
func (v *visitor) pair(t *testing.T, code, name string, was ...string) (int, string) {
	t.Helper()
	res, text := v.ask(t, "POST", "/api/deck/pair", asJSON(t, app.PairRequest{Code: code, Name: name, Was: was}))
	if res.StatusCode == http.StatusOK {
		if err := json.Unmarshal([]byte(text), &v.self); err != nil {
			t.Fatal(err)
		}
		v.token = res.Cookies()[0].Value
	}
	return res.StatusCode, text
}

func (h *harbour) paired(t *testing.T, study, role string) *visitor {
	t.Helper()
	v := h.visitor(t)
	if status, text := v.pair(t, h.code(t, study, role), role+" of "+study); status != http.StatusOK {
		t.Fatalf("%d %s", status, text)
	}
	return v
}

// device is its identity in the list.
func (v *visitor) device(t *testing.T) string {
	t.Helper()
	list, err := v.h.View(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range list.Devices {
		if slices.Contains(d.Writes, v.self.Device) {
			return d.Device
		}
	}
	t.Fatalf("no device writes as %s", v.self.Device)
	return ""
}

// route is one that is answered over the network.
type route struct{ operation, method, address string }

// tabletRoutes are all routes that there are: those of the program's own
// description, and those beside it.
func tabletRoutes() (out []route) {
	fill := strings.NewReplacer("{study}", "bay", "{id}", "P1", "{kind}", "pass", "{ref}", strings.Repeat("a", 64))
	for path, item := range describedRoutes().Paths {
		for method, op := range map[string]*huma.Operation{"GET": item.Get, "POST": item.Post, "PUT": item.Put, "DELETE": item.Delete, "PATCH": item.Patch} {
			if op == nil {
				continue
			}
			address := fill.Replace(path)
			if op.OperationID == "history" {
				address += "?kind=pass"
			}
			out = append(out, route{op.OperationID, method, address})
		}
	}
	for operation, pattern := range httpapi.Downloads() {
		method, path, _ := strings.Cut(pattern, " ")
		out = append(out, route{operation, method, fill.Replace(path)})
	}
	slices.SortFunc(out, func(a, b route) int { return strings.Compare(a.operation, b.operation) })
	return out
}

// TestRoutesByRoles asks every route there is as everybody there is, over TLS,
// and compares who is let in with the table in internal/access.
func TestRoutesByRoles(t *testing.T) {
	h := openHarbour(t, wide())
	expired := h.paired(t, "bay", "lead")
	h.desk.clock.pass(access.TokenLife)
	who := map[string]*visitor{"expired": expired, "stranger": h.visitor(t), "made-up token": h.visitor(t), "revoked": h.paired(t, "bay", "lead"), "lead of another study": h.paired(t, "reef", "lead"), "without any role": h.paired(t, "bay", "lead")}
	for _, role := range access.Roles() {
		who[string(role)] = h.paired(t, "bay", string(role))
	}
	who["made-up token"].token = strings.Repeat("A", 43)
	for _, in := range []app.TabletRoleRequest{{Device: who["revoked"].device(t), Revoke: true}, {Device: who["without any role"].device(t), Study: "bay"}} {
		if _, err := h.Role(t.Context(), in); err != nil {
			t.Fatal(err)
		}
	}
	asked, let := 0, map[string]int{}
	for _, r := range tabletRoutes() {
		need, _ := access.NeedOf(r.operation)
		for name, v := range who {
			body := ""
			if r.method != "GET" {
				body = "{}"
			}
			res, text := v.ask(t, r.method, r.address, body)
			want := "in"
			switch {
			case need == access.Anyone:
			case slices.Contains([]string{"expired", "stranger", "made-up token", "revoked"}, name):
				want = "401"
			case name == "without any role", name == "lead of another study" && need != access.Reckon, need == access.AtHome:
				want = "403"
			case name != "lead of another study" && !access.May(access.Role(name), r.operation):
				want = "403"
			}
			got := "in"
			switch {
			case res.StatusCode == http.StatusUnauthorized:
				got = "401"
			case res.StatusCode == http.StatusForbidden && strings.Contains(text, app.ErrNotAllowed.Error()):
				got = "403"
			}
			if got != want {
				t.Errorf("%s (%s %s) as %s: %s, want %s: %d %s", r.operation, r.method, r.address, name, got, want, res.StatusCode, text)
			}
			if got != "in" && (strings.Contains(text, "invented") || strings.Contains(text, "reef")) {
				t.Errorf("%s as %s: the refusal tells of the study: %s", r.operation, name, text)
			}
			if res.StatusCode == http.StatusTooManyRequests || res.StatusCode == http.StatusInternalServerError {
				t.Errorf("%s as %s: %d %s", r.operation, name, res.StatusCode, text)
			}
			if cache := res.Header.Get("Cache-Control"); res.StatusCode != http.StatusOK || cache == "no-store" || got == "in" && strings.HasPrefix(cache, "no-store") {
				asked++
			} else {
				t.Errorf("%s may be kept by a browser: %q", r.operation, cache)
			}
			if got == "in" {
				let[name]++
			}
		}
	}
	if asked < 600 || let["lead"] <= let["operator"] || let["operator"] <= let["scorer"] || let["scorer"] <= let["guest"] || let["guest"] <= let["lead of another study"] || let["stranger"] != 2 || let["without any role"] != 2 {
		t.Errorf("%d questions, let in: %v", asked, let)
	}
	t.Logf("%d questions over TLS; let in: %v", asked, let)
}

// What is no route has no answer, whoever asks.
func TestWhatIsNoRoute(t *testing.T) {
	h := openHarbour(t, wide())
	lead := h.paired(t, "bay", "lead")
	for path, want := range map[string]struct {
		status int
		text   string
	}{
		"/":                          {303, ""},
		"/deck":                      {200, "app"},
		"/deck/bay":                  {200, "app"},
		"/deck/Bay 1.2":              {200, "app"},
		"/assets/app-1.js":           {200, "app()"},
		"/sw.js":                     {200, "worker()"},
		"/manifest.webmanifest":      {200, "{}"},
		"/assets/":                   {404, ""},
		"/assets/none.js":            {404, ""},
		"/bay":                       {404, "its page is /deck"},
		"/bay/findings":              {404, "its page is /deck"},
		"/enter?token=x":             {404, "its page is /deck"},
		"/api":                       {307, ""}, // to /api/, which has none either
		"/api/":                      {404, ""},
		"/api/none":                  {404, ""},
		"/api/studies/bay/none":      {404, ""},
		"/openapi.json":              {404, ""},
		"/openapi.yaml":              {404, ""},
		"/download/bay/none":         {404, ""},
		"/download/none/season":      {403, "no role"},
		"/api/studies/none/deck":     {403, "no role"},
		"/api/studies/%2e%2e/deck":   {403, "no role"},
		"/api/studies/..%2fbay/deck": {403, "no role"},
	} {
		res, text := lead.ask(t, "GET", strings.ReplaceAll(path, " ", "%20"), "")
		if res.StatusCode != want.status || !strings.Contains(text, want.text) {
			t.Errorf("%s: %d %.200q; want %d %q", path, res.StatusCode, text, want.status, want.text)
		}
		for name := range res.Header {
			if name == "Strict-Transport-Security" || strings.HasPrefix(name, "Access-Control-") || name == "Set-Cookie" {
				t.Errorf("%s sends %s", path, name)
			}
		}
		if res.Header.Get("Content-Security-Policy") == "" || res.Header.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: %v", path, res.Header)
		}
	}
	if res, _ := lead.ask(t, "GET", "/manifest.webmanifest", ""); res.Header.Get("Content-Type") != "application/manifest+json" {
		t.Errorf("the manifest is %q", res.Header.Get("Content-Type"))
	}
	if res, text := lead.ask(t, "POST", "/deck", "{}"); res.StatusCode != http.StatusMethodNotAllowed {
		t.Errorf("%d %s", res.StatusCode, text)
	}
}

func TestOtherSitesAndNames(t *testing.T) {
	h := openHarbour(t, wide())
	lead := h.paired(t, "bay", "lead")
	header := func(name, value string) func(*http.Request) {
		return func(r *http.Request) { r.Header.Set(name, value) }
	}
	host := func(name string) func(*http.Request) { return func(r *http.Request) { r.Host = name } }
	for _, c := range []struct {
		what, method, path string
		change             func(*http.Request)
		status             int
	}{
		{"the app itself", "GET", "/api/studies/bay/deck", header("Sec-Fetch-Site", "same-origin"), 200},
		{"an address that was typed", "GET", "/api/studies/bay/deck", header("Sec-Fetch-Site", "none"), 200},
		{"another site reads", "GET", "/api/studies/bay/deck", header("Sec-Fetch-Site", "cross-site"), 403},
		{"another site downloads", "GET", "/download/bay/season", header("Sec-Fetch-Site", "cross-site"), 403},
		{"another site writes", "POST", "/api/studies/bay/undo", header("Sec-Fetch-Site", "cross-site"), 403},
		{"a neighbour writes", "POST", "/api/studies/bay/undo", header("Sec-Fetch-Site", "same-site"), 403},
		{"another origin writes", "POST", "/api/studies/bay/undo", func(r *http.Request) { r.Header.Del("Sec-Fetch-Site"); r.Header.Set("Origin", "https://evil.example") }, 403},
		{"the page that installs leads here", "GET", "/deck", header("Sec-Fetch-Site", "cross-site"), 200},
		{"a name that was bent", "GET", "/api/studies/bay/deck", host(fmt.Sprintf("evil.example:%d", h.view.Port)), 421},
		{"another port", "GET", "/deck", host(fmt.Sprintf("%s:%d", h.view.Name, h.view.Port+1)), 421},
		{"an address of the laptop", "GET", "/api/studies/bay/deck", host(fmt.Sprintf("127.0.0.1:%d", h.view.Port)), 200},
	} {
		body := ""
		if c.method == "POST" {
			body = `{"entry":"none"}`
		}
		if res, text := lead.ask(t, c.method, c.path, body, c.change); res.StatusCode != c.status {
			t.Errorf("%s: %d %s", c.what, res.StatusCode, text)
		}
	}
}

func TestPairingOverTLS(t *testing.T) {
	h := openHarbour(t, wide())
	v := h.visitor(t)
	if res, text := v.ask(t, "GET", "/api/deck/me", ""); res.StatusCode != http.StatusOK || strings.Contains(text, `"paired":true`) || strings.Contains(text, "bay") || !strings.Contains(text, h.view.Words[0]) {
		t.Errorf("a stranger: %d %s", res.StatusCode, text)
	}
	code := h.code(t, "bay", "scorer")
	res, text := v.ask(t, "POST", "/api/deck/pair", asJSON(t, app.PairRequest{Code: code, Name: "tablet of the stern"}))
	if res.StatusCode != http.StatusOK || len(res.Cookies()) != 1 {
		t.Fatalf("%d %s", res.StatusCode, text)
	}
	c := res.Cookies()[0]
	if c.Name != "__Host-brinefield-device" || !c.HttpOnly || !c.Secure || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || c.Domain != "" || len(c.Value) != 43 {
		t.Errorf("%+v", c)
	}
	if strings.Contains(text, c.Value) {
		t.Error("the token stands where a script can read it")
	}
	v.token = c.Value
	if res, text = v.ask(t, "GET", "/api/deck/me", ""); !strings.Contains(text, `"paired":true`) || !strings.Contains(text, `"role":"scorer"`) || strings.Contains(text, "reef") {
		t.Errorf("%d %s", res.StatusCode, text)
	}
	var view app.DeckView
	if res, text = v.ask(t, "GET", "/api/studies/bay/deck", ""); res.StatusCode != http.StatusOK {
		t.Fatalf("%d %s", res.StatusCode, text)
	}
	if err := json.Unmarshal([]byte(text), &view); err != nil || view.Role != "scorer" || !strings.HasPrefix(view.Device, "deck-") {
		t.Errorf("as %q, %q: %v", view.Role, view.Device, err)
	}

	// Single use, two minutes, five tries.
	if status, text := h.visitor(t).pair(t, code, "a second one"); status != http.StatusForbidden || !strings.Contains(text, "code is not good") {
		t.Errorf("a used code: %d %s", status, text)
	}
	code = h.code(t, "bay", "lead")
	h.desk.clock.pass(access.CodeLife)
	if status, _ := h.visitor(t).pair(t, code, "late"); status != http.StatusForbidden {
		t.Errorf("after two minutes: %d", status)
	}
	code = h.code(t, "bay", "lead")
	for range access.CodeTries {
		if status, _ := h.visitor(t).pair(t, "AAAA-AAAA", "guesser"); status != http.StatusForbidden {
			t.Errorf("a guess: %d", status)
		}
	}
	if status, _ := h.visitor(t).pair(t, code, "the right one"); status != http.StatusForbidden {
		t.Errorf("after five wrong tries: %d", status)
	}
	for name, in := range map[string]app.PairRequest{"no name": {Code: code}, "no names of ours": {Code: code, Name: "x", Was: []string{"laptop"}}, "a million letters": {Code: strings.Repeat("A", 1<<19), Name: "x"}} {
		if res, text := v.ask(t, "POST", "/api/deck/pair", asJSON(t, in)); res.StatusCode != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d %.200s", name, res.StatusCode, text)
		}
	}
	list, err := h.View(t.Context())
	if err != nil || len(list.Devices) != 1 {
		t.Fatalf("%d devices, %v", len(list.Devices), err)
	}
}

func TestATokenIsNowhereOnTheDisc(t *testing.T) {
	h := openHarbour(t, wide())
	v := h.paired(t, "bay", "lead")
	code := h.code(t, "bay", "scorer")
	v.ask(t, "GET", "/api/studies/bay/deck", "")
	if err := h.Close(); err != nil {
		t.Fatal(err)
	}
	read := 0
	err := filepath.WalkDir(filepath.Dir(h.keys), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		for _, secret := range []string{v.token, code, strings.ReplaceAll(code, "-", "")} {
			if bytes.Contains(data, []byte(secret)) {
				t.Errorf("%s holds a token or a code", path)
			}
		}
		if info, err := d.Info(); err != nil || strings.HasPrefix(path, h.keys) && info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v, %v", path, info.Mode(), err)
		}
		read++
		return err
	})
	if err != nil || read < 5 {
		t.Errorf("%d files, %v", read, err)
	}
}

// Roles and revocation count from the next request on, also on a connection
// that is open.
func TestARevokedTabletIsOutAtOnce(t *testing.T) {
	h := openHarbour(t, wide())
	v := h.paired(t, "bay", "scorer")
	device := v.device(t)
	status := func() int { res, _ := v.ask(t, "GET", "/api/studies/bay/deck", ""); return res.StatusCode }
	for _, step := range []struct {
		in   app.TabletRoleRequest
		want int
	}{
		{app.TabletRoleRequest{Device: device, Study: "bay", Role: "guest"}, 403},
		{app.TabletRoleRequest{Device: device, Study: "bay", Role: "operator"}, 200},
		{app.TabletRoleRequest{Device: device, Study: "bay"}, 403},
		{app.TabletRoleRequest{Device: device, Study: "bay", Role: "lead"}, 200},
		{app.TabletRoleRequest{Device: device, Revoke: true}, 401},
	} {
		if _, err := h.Role(t.Context(), step.in); err != nil {
			t.Fatal(err)
		}
		if got := status(); got != step.want {
			t.Errorf("%+v: %d", step.in, got)
		}
	}
	if _, err := h.Role(t.Context(), app.TabletRoleRequest{Device: "nobody", Revoke: true}); err == nil {
		t.Error("a device that is none was revoked")
	}
	again := h.visitor(t)
	if status, text := again.pair(t, h.code(t, "bay", "scorer"), "the same tablet", v.self.Device, v.self.Device+"-2"); status != http.StatusOK || again.self.Device != v.self.Device {
		t.Errorf("%d %s: a tablet does not go on as itself", status, text)
	}
}

func TestAnEndedTokenSaysWhatToDo(t *testing.T) {
	h := openHarbour(t, wide())
	v := h.paired(t, "bay", "scorer")
	h.desk.clock.pass(access.TokenLife)
	res, text := v.ask(t, "POST", "/api/studies/bay/deck/sync", `{"identity":"","entries":[],"blobs":[],"now_ms":0}`)
	for _, part := range []string{"90 days", "nothing of that is lost", "Pair it again"} {
		if res.StatusCode != http.StatusUnauthorized || !strings.Contains(text, part) {
			t.Errorf("%d %s: does not say %q", res.StatusCode, text, part)
		}
	}
}

// A second writer is told: If-Match and 412.
func TestASecondWriterIsTold(t *testing.T) {
	h := openHarbour(t, wide())
	one, other := h.paired(t, "bay", "lead"), h.paired(t, "bay", "lead")
	var view app.DeckView
	_, text := one.ask(t, "GET", "/api/studies/bay/deck", "")
	if err := json.Unmarshal([]byte(text), &view); err != nil {
		t.Fatal(err)
	}
	change := func(v *visitor, trial float64, tag string) (int, string) {
		view.Spec.TrialMin = trial
		res, text := v.ask(t, "POST", "/api/studies/bay/deck/setup", asJSON(t, app.DeckSetupRequest{Spec: view.Spec, Author: "Aoife Byrne (invented)"}), func(r *http.Request) {
			if tag != "" {
				r.Header.Set("If-Match", tag)
			}
		})
		return res.StatusCode, text
	}
	if status, text := change(one, 21, view.ETag); status != http.StatusOK {
		t.Errorf("%d %s", status, text)
	}
	if status, text := change(other, 22, view.ETag); status != http.StatusPreconditionFailed || !strings.Contains(text, "Aoife") {
		t.Errorf("a second writer: %d %s", status, text)
	}
	if status, text := change(other, 22, ""); status != http.StatusUnprocessableEntity {
		t.Errorf("without If-Match: %d %s", status, text)
	}
}

func TestLimitsOverTLS(t *testing.T) {
	limits := gate.Usual()
	limits.Device, limits.Strangers = gate.Rate{PerSecond: 0.5, Burst: 12}, gate.Rate{PerSecond: 0.1, Burst: 6}
	limits.Uploads, limits.KeepFree = 1000, 1<<20
	h := openHarbour(t, limits)
	v := h.paired(t, "bay", "scorer")
	sync := "/api/studies/bay/deck/sync"
	batch := func(kind string, bytes int) string {
		return asJSON(t, app.DeckBatch{Identity: "x", Entries: []string{}, Blobs: []app.DeckBlob{{Ref: strings.Repeat("a", 64), Kind: kind, Salt: make([]byte, 32), Data: make([]byte, bytes)}}})
	}
	for _, c := range []struct {
		what, path, body string
		free             uint64
		status           int
		say              string
	}{
		{"a whole folder over the network", "/api/studies/bay/edits", `{"author":"` + strings.Repeat("x", 1<<20) + `"}`, 1 << 40, 413, "1 MiB"},
		{"more than a batch", sync, strings.Repeat(" ", 32<<20), 1 << 40, 413, "32 MiB"},
		{"a disc that is full but for what entries need", sync, batch("photo", 500), 1 << 20, 507, "wait on the tablet"},
		{"names and readings on such a disc", sync, batch("person", 500), 1 << 20, 0, ""},
		{"more photos than in a day", sync, batch("voice", 1001), 1 << 40, 429, "entries still come in"},
	} {
		h.free = c.free
		res, text := v.ask(t, "POST", c.path, c.body)
		if c.status == 0 && (res.StatusCode == 507 || res.StatusCode == 413 || res.StatusCode == 429) || c.status != 0 && res.StatusCode != c.status || !strings.Contains(text, c.say) {
			t.Errorf("%s: %d %.300s", c.what, res.StatusCode, text)
		}
		if after := res.Header.Get("Retry-After"); (res.StatusCode == 429) != (after != "") {
			t.Errorf("%s: Retry-After %q", c.what, after)
		}
	}
	if res, text := v.ask(t, "POST", sync, "", func(r *http.Request) {
		r.Body, r.ContentLength = io.NopCloser(strings.NewReader("{}")), -1
	}); res.StatusCode != http.StatusLengthRequired {
		t.Errorf("a body without an end: %d %s", res.StatusCode, text)
	}
	last := 0
	for range 14 {
		res, _ := v.ask(t, "GET", "/api/studies/bay/deck", "")
		if last = res.StatusCode; last == http.StatusTooManyRequests {
			if after := res.Header.Get("Retry-After"); after != "2" && after != "1" {
				t.Errorf("Retry-After %q", after)
			}
			break
		}
	}
	if last != http.StatusTooManyRequests {
		t.Error("a tablet may ask without end")
	}
	h.desk.clock.pass(3 * time.Second)
	if res, _ := v.ask(t, "GET", "/api/studies/bay/deck", ""); res.StatusCode != http.StatusOK {
		t.Errorf("a moment later: %d", res.StatusCode)
	}
	stranger := h.visitor(t)
	for range 8 {
		res, _ := stranger.ask(t, "GET", "/api/studies/bay/season", "")
		last = res.StatusCode
	}
	if last != http.StatusTooManyRequests {
		t.Errorf("a stranger may ask without end: %d", last)
	}
	if res, _ := stranger.ask(t, "GET", "/deck", ""); res.StatusCode != http.StatusOK {
		t.Errorf("the app itself: %d", res.StatusCode)
	}
}

// The list of what happened names who saw and changed what, after a restart too.
func TestTheListOfATablet(t *testing.T) {
	h := openHarbour(t, wide())
	v := h.paired(t, "bay", "scorer")
	v.ask(t, "GET", "/api/studies/bay/deck", "")
	v.ask(t, "GET", "/api/studies/bay/deck", "")
	v.ask(t, "GET", "/api/home", "")
	h.visitor(t).ask(t, "GET", "/api/studies/bay/season", "", func(r *http.Request) { r.Header.Set("Cookie", "__Host-brinefield-device=made-up") })
	if err := h.Close(); err != nil {
		t.Fatal(err)
	}
	list, err := h.View(t.Context()) // as it lies on the disc
	if err != nil || list.Serving {
		t.Fatalf("%+v, %v", list, err)
	}
	var all []string
	for _, e := range list.Audit {
		all = append(all, e.Text)
	}
	text := strings.Join(all, "\n")
	for _, want := range []string{
		"scorer of bay: What a tablet needs to log without the laptop (bay), 2 times",
		"scorer of bay was refused (home): it is for the browser on the laptop itself.",
		"A stranger was refused (season): an unknown token.",
		"scorer of bay was let in as scorer of bay, by the code of Aoife Byrne (invented).",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no line says %q:\n%s", want, text)
		}
	}
}

// Another window of the program says so and serves nothing; when the first has
// ended it serves the same laptop to the same tablets.
func TestASecondWindowServesNothing(t *testing.T) {
	h := openHarbour(t, wide())
	v := h.paired(t, "bay", "scorer")
	second := h.gate(wide())
	yes := true
	_, err := second.Change(t.Context(), app.TabletsRequest{Serve: &yes})
	if err == nil || !strings.Contains(err.Error(), "another window") || !strings.Contains(err.Error(), fmt.Sprint("process ", os.Getpid())) {
		t.Errorf("%v", err)
	}
	if _, err := second.Role(t.Context(), app.TabletRoleRequest{Device: v.device(t), Revoke: true}); err == nil {
		t.Error("a second window revoked a tablet behind the first one's back")
	}
	if seen, err := second.View(t.Context()); err != nil || seen.Serving || len(seen.Devices) != 1 {
		t.Errorf("%+v, %v", seen, err)
	}
	if err := h.Close(); err != nil {
		t.Fatal(err)
	}
	if h.view, err = second.Change(t.Context(), app.TabletsRequest{Serve: &yes}); err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := second.Close(); err != nil {
			t.Error(err)
		}
	}()
	v.client.CloseIdleConnections()
	if res, text := v.ask(t, "GET", "/api/studies/bay/deck", ""); res.StatusCode != http.StatusOK {
		t.Errorf("%d %s", res.StatusCode, text)
	}
}

// No route of the program is answered over plain HTTP: neither on the port for
// tablets nor by the page that installs.
func TestNoRouteOverPlainHTTP(t *testing.T) {
	h := openHarbour(t, wide())
	v := h.paired(t, "bay", "lead")
	yes := true
	open, err := h.Change(t.Context(), app.TabletsRequest{Install: &yes})
	if err != nil {
		t.Fatal(err)
	}
	before := len(must(h.View(t.Context())).Audit)
	client := &http.Client{Timeout: 20 * time.Second}
	asked := map[int]int{}
	for _, base := range []string{fmt.Sprintf("http://127.0.0.1:%d", h.view.Port), strings.TrimSuffix(open.Installing, "/")} {
		for _, r := range tabletRoutes() {
			body := ""
			if r.method != "GET" {
				body = "{}"
			}
			req, err := http.NewRequestWithContext(t.Context(), r.method, base+r.address, strings.NewReader(body))
			if err != nil {
				t.Fatal(err)
			}
			req.AddCookie(&http.Cookie{Name: "__Host-brinefield-device", Value: v.token})
			res, err := client.Do(req)
			if err != nil {
				t.Fatal(err)
			}
			text, _ := io.ReadAll(res.Body)
			_ = res.Body.Close()
			asked[res.StatusCode]++
			if !slices.Contains([]int{400, 404, 405}, res.StatusCode) || strings.Contains(string(text), "{") || len(res.Cookies()) > 0 {
				t.Errorf("%s %s%s: %d %.200s", r.method, base, r.address, res.StatusCode, text)
			}
		}
	}
	if after := len(must(h.View(t.Context())).Audit); after != before {
		t.Errorf("%d lines were %d: something asked the gate", after, before)
	}
	t.Logf("by status: %v", slices.Sorted(maps.Keys(asked)))
}
