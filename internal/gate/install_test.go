package gate

import (
	"bytes"
	"context"
	"crypto/x509"
	"encoding/base64"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"brinefield/internal/access"
	"brinefield/internal/app"
)

func (b *boat) install(t *testing.T, open bool) app.TabletsView {
	t.Helper()
	v, err := b.Change(t.Context(), app.TabletsRequest{Install: &open})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// fetch is one request over plain HTTP.
func fetch(t *testing.T, method, address, body string, change func(*http.Request)) (*http.Response, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), method, address, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(req)
	}
	transport := &http.Transport{DisableKeepAlives: true}
	res, err := (&http.Client{Transport: transport, Timeout: 10 * time.Second}).Do(req)
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

func TestThePageThatInstalls(t *testing.T) {
	b := newBoat(t, nil)
	served := b.serve(t)
	if served.Installing != "" {
		t.Error("the page that installs is open without being asked for")
	}
	v := b.install(t, true)
	ends, err := time.Parse(time.RFC3339, v.InstallEnds)
	if err != nil || ends.Sub(b.clock()).Round(time.Minute) != InstallLife || !strings.HasPrefix(v.Installing, "http://127.0.0.1:") {
		t.Errorf("%q until %q", v.Installing, v.InstallEnds)
	}
	if again := b.install(t, true); again.Installing != v.Installing {
		t.Error("asked for once more, it moved")
	}
	authority := b.serving.Load().authority
	base := strings.TrimSuffix(v.Name, ".local")
	order := map[string][]string{
		"":        {"/ipados", "/android"},
		"ipados":  {base + ".mobileconfig", "VPN &amp; Device Management", "Certificate Trust Settings", "https://" + v.Name, "Add to Home Screen", "Pair inside the app from the home screen"},
		"android": {"screen lock", base + ".crt", "Install a certificate", "Trusted credentials", "https://" + v.Name, "Add to Home screen", "Pair inside the app"},
	}
	for page, steps := range order {
		res, text := fetch(t, "GET", v.Installing+page, "", nil)
		if res.StatusCode != http.StatusOK || res.Header.Get("Content-Type") != "text/html; charset=utf-8" || len(res.Cookies()) > 0 {
			t.Errorf("/%s: %d %v", page, res.StatusCode, res.Header)
		}
		if bad := regexp.MustCompile(`(?i)<script|<form|<input|<img|<iframe|javascript:|\son[a-z]+=|url\(|no value`).FindString(text); bad != "" {
			t.Errorf("/%s holds %q", page, bad)
		}
		for _, word := range append(slices.Clone(v.Words), v.Fingerprint) {
			if !strings.Contains(text, word) {
				t.Errorf("/%s does not show %q", page, word)
			}
		}
		at := 0
		for _, step := range steps {
			next := strings.Index(text[at:], step)
			if next < 0 {
				t.Fatalf("/%s has no %q in its place", page, step)
			}
			at += next
		}
		for _, link := range regexp.MustCompile(`href="([^"]*)"`).FindAllStringSubmatch(text, -1) {
			target := link[1]
			if strings.HasPrefix(target, "https://") {
				if !slices.ContainsFunc(v.Addresses, func(a string) bool { return target == a+"/deck" }) {
					t.Errorf("/%s leads to %s", page, target)
				}
				continue
			}
			if res, _ := fetch(t, "GET", strings.TrimSuffix(v.Installing, "/")+target, "", nil); res.StatusCode != http.StatusOK {
				t.Errorf("/%s leads to %s: %d", page, target, res.StatusCode)
			}
		}
	}
	for name, media := range map[string]string{
		".crt": "application/x-x509-ca-cert", ".cer": "application/pkix-cert", ".mobileconfig": "application/x-apple-aspen-config",
	} {
		res, text := fetch(t, "GET", v.Installing+base+name, "", nil)
		if res.StatusCode != http.StatusOK || res.Header.Get("Content-Type") != media {
			t.Errorf("%s: %d, %q", name, res.StatusCode, res.Header.Get("Content-Type"))
		}
		der := []byte(text)
		if name == ".mobileconfig" {
			if !bytes.Contains(der, []byte(base64.StdEncoding.EncodeToString(authority.Certificate()))) {
				t.Error("the profile holds another certificate")
			}
			continue
		}
		if cert, err := x509.ParseCertificate(der); err != nil || !bytes.Equal(cert.Raw, authority.Certificate()) {
			t.Errorf("%s is not the authority: %v", name, err)
		}
	}
	b.install(t, false)
	if res, err := http.Get(v.Installing); err == nil {
		_ = res.Body.Close()
		t.Error("the page is open after it was closed")
	}
	if now, _ := b.View(t.Context()); now.Installing != "" || !now.Serving {
		t.Errorf("%+v", now)
	}
}

// It takes no token, cookie or body, and knows no other path: neither the key,
// nor any route of the API (cmd/brinefield asks them all).
func TestThePageThatInstallsTakesNothing(t *testing.T) {
	b := newBoat(t, nil)
	b.handler = func(http.ResponseWriter, *http.Request) { t.Error("a request over plain HTTP came through") }
	b.serve(t)
	v := b.install(t, true)
	_, token := b.pairs(t, "bay", "lead")
	for _, path := range []string{"api/deck/me", "api/home", "deck", "index.html", "download/bay/season", "authority.key", "../authority.key", "devices.json", "ipados/", "%2e%2e/devices.json", "pages/style.html", "style.html"} {
		res, text := fetch(t, "GET", v.Installing+path, "", func(r *http.Request) {
			r.AddCookie(&http.Cookie{Name: "__Host-brinefield-device", Value: token})
		})
		if res.StatusCode != http.StatusNotFound || !strings.Contains(text, "only installs") || len(res.Cookies()) > 0 {
			t.Errorf("%s: %d %q", path, res.StatusCode, text)
		}
	}
	for _, method := range []string{"POST", "PUT", "DELETE", "OPTIONS", "PATCH"} {
		if res, text := fetch(t, method, v.Installing, "", nil); res.StatusCode != http.StatusMethodNotAllowed || !strings.Contains(text, "takes nothing") {
			t.Errorf("%s: %d %q", method, res.StatusCode, text)
		}
	}
	if res, _ := fetch(t, "GET", v.Installing, "entries", nil); res.StatusCode != http.StatusMethodNotAllowed {
		t.Errorf("a body: %d", res.StatusCode)
	}
	if res, _ := fetch(t, "HEAD", v.Installing, "", nil); res.StatusCode != http.StatusOK {
		t.Errorf("HEAD: %d", res.StatusCode)
	}
}

func TestThePageThatInstallsEndsWithServing(t *testing.T) {
	b := newBoat(t, nil)
	b.serve(t)
	v := b.install(t, true)
	no := false
	if off, err := b.Change(t.Context(), app.TabletsRequest{Serve: &no}); err != nil || off.Installing != "" {
		t.Errorf("%+v, %v", off, err)
	}
	if res, err := http.Get(v.Installing); err == nil {
		_ = res.Body.Close()
		t.Error("the page is open after serving ended")
	}
}

func TestThePageThatInstallsClosesByItself(t *testing.T) {
	b := newBoat(t, nil)
	b.serve(t)
	v := b.install(t, true)
	s := b.serving.Load()
	s.mu.Lock()
	s.install.closing.Reset(time.Millisecond) // in place of 15 minutes
	s.mu.Unlock()
	for deadline := time.Now().Add(10 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		now, err := b.View(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if now.Installing == "" {
			break
		}
		if time.Now().After(deadline) {
			t.Fatal("it stays open")
		}
	}
	if again := b.install(t, true); again.Installing == "" || v.Installing == "" {
		t.Error("it cannot be opened again")
	}
}

func TestTheListInSentences(t *testing.T) {
	b := newBoat(t, func(o *Options) {
		o.Say = func(op string) string { return map[string]string{"deck": "What it needs to log"}[op] }
	})
	b.serve(t)
	self, token := b.pairs(t, "bay", "scorer")
	ask := func(token, operation, study string) {
		if _, done, err := b.Admit(t.Context(), app.Visit{Token: token, Operation: operation, Study: study, From: "192.168.1.2"}); err == nil {
			done()
		}
		b.pass(time.Second)
	}
	ask(token, "deck", "bay")
	ask(token, "deck", "bay")
	ask(token, "card", "bay")
	ask(token, "deck", "reef")
	ask("made up", "deck", "bay")
	device := b.serving.Load().keeper.Devices()[0].ID
	for _, in := range []app.TabletRoleRequest{
		{Device: device, Study: "reef", Role: "guest", Author: "Ada"},
		{Device: device, Study: "bay", Role: "lead", Author: "Ada"},
		{Device: device, Study: "bay", Author: "Ada"},
		{Device: device, Revoke: true, Author: "Grace"},
	} {
		if _, err := b.Role(t.Context(), in); err != nil {
			t.Fatal(err)
		}
		b.pass(time.Second)
	}
	b.pairsAgain(t, self.Device)
	v, err := b.View(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for i, e := range v.Audit {
		got = append(got, e.Text)
		if i > 0 && e.When > v.Audit[i-1].When {
			t.Errorf("%s stands behind %s", e.When, v.Audit[i-1].When)
		}
		if e.Refused != strings.Contains(e.Text, "refused") {
			t.Errorf("%+v", e)
		}
	}
	for _, want := range []string{
		"A code was made by Ada that lets one tablet in as scorer of bay.",
		"tablet of the stern was let in as scorer of bay, by the code of Ada.",
		"tablet of the stern: What it needs to log (bay), 2 times since " + b.clock().Add(-9*time.Second).Format("15:04 on 2 January") + ".",
		"tablet of the stern was refused (card) in bay: it needs the right to cards, which scorer has not.",
		"tablet of the stern was refused (deck) in reef: the device has no role in this study.",
		"A stranger was refused (deck): an unknown token.",
		"tablet of the stern is now guest of reef: by Ada.",
		"tablet of the stern is now lead of bay, and was scorer: by Ada.",
		"tablet of the stern is no longer lead of bay: taken away by Ada.",
		"tablet of the stern was shut out by Grace.",
		"tablet of the bow goes on as " + self.Device + ", which was tablet of the stern's.",
	} {
		if !slices.Contains(got, want) {
			t.Errorf("no line says %q", want)
		}
	}
	if t.Failed() {
		t.Log(strings.Join(got, "\n"))
	}
	if d := v.Devices[0]; d.Revoked == "" || len(d.Writes) != 0 || d.Roles["reef"] != "guest" || d.Ends <= d.Paired {
		t.Errorf("%+v", d)
	}
}

func (b *boat) pairsAgain(t *testing.T, was string) {
	t.Helper()
	code, err := b.Code(t.Context(), app.PairingRequest{Study: "bay", Role: "scorer", Author: "Ada"})
	if err != nil {
		t.Fatal(err)
	}
	if v, err := b.View(t.Context()); err != nil || v.Code == nil || *v.Code != code {
		t.Errorf("the code that is shown: %+v, %v", v.Code, err)
	}
	if _, _, err := b.Pair(app.WithCaller(t.Context(), app.Caller{Device: app.Stranger}), app.PairRequest{Code: code.Code, Name: "tablet of the bow", Was: []string{was}}); err != nil {
		t.Fatal(err)
	}
	if v, err := b.View(t.Context()); err != nil || v.Code != nil {
		t.Errorf("a used code is shown: %+v, %v", v.Code, err)
	}
}

// What is for the laptop alone refuses a tablet here too, not only by the table.
func TestATabletHandlesNoTablets(t *testing.T) {
	b := newBoat(t, nil)
	b.serve(t)
	for _, device := range []string{app.Stranger, "0123456789abcdef"} {
		ctx := app.WithCaller(context.Background(), app.Caller{Device: device, Role: string(access.Lead)})
		no := false
		for what, err := range map[string]error{
			"look":   second(b.View(ctx)),
			"end":    second(b.Change(ctx, app.TabletsRequest{Serve: &no})),
			"a code": second(b.Code(ctx, app.PairingRequest{Study: "bay", Role: "lead"})),
			"a role": second(b.Role(ctx, app.TabletRoleRequest{Device: device, Study: "bay", Role: "lead"})),
		} {
			if err == nil || !strings.Contains(err.Error(), "laptop itself") {
				t.Errorf("%s: %v", what, err)
			}
		}
	}
	if _, _, err := b.Pair(t.Context(), app.PairRequest{Code: "x", Name: "x"}); err == nil || !strings.Contains(err.Error(), "laptop itself") {
		t.Errorf("the laptop paired itself: %v", err)
	}
	self, err := b.Self(t.Context())
	if err != nil || self.Paired || self.Laptop == "" || len(self.Words) != 10 {
		t.Errorf("%+v, %v", self, err)
	}
}

func TestOnlyWhatIsServedIsReached(t *testing.T) {
	b := newBoat(t, func(o *Options) { o.Only = []string{"bay"} })
	b.serve(t)
	if _, err := b.Code(t.Context(), app.PairingRequest{Study: "reef", Role: "lead"}); err == nil {
		t.Error("a code for a study that is not served")
	}
	_, token := b.pairs(t, "bay", "lead")
	if _, err := b.Role(t.Context(), app.TabletRoleRequest{Device: b.serving.Load().keeper.Devices()[0].ID, Study: "reef", Role: "lead"}); err != nil {
		t.Fatal(err)
	}
	for study, ok := range map[string]bool{"bay": true, "reef": false, "none": false, "../bay": false, "BAY": false} {
		_, _, err := b.Admit(t.Context(), app.Visit{Token: token, Operation: "season", Study: study, From: "10.0.0.1"})
		if (err == nil) != ok {
			t.Errorf("%s: %v", study, err)
		}
	}
	if s := fmt.Sprint(must(b.self(t.Context(), b.serving.Load(), b.serving.Load().keeper.Devices()[0])).Studies); strings.Contains(s, "reef") {
		t.Error(s)
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
