package httpapi

import (
	"cmp"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html"
	"net/http"
	"slices"
	"strings"
	"sync"
)

// Sessions holds who may read: whoever brought the one-time token that was
// handed over through a file that only this user can open. Docs: docs/adr.
type Sessions struct {
	// Start is the page to which a browser is sent; "" is Home.
	Start string
	// name of the cookie: a browser shares cookies between the ports of one
	// host, so that two open seasons need two names.
	name    string
	mu      sync.Mutex
	tokens  map[string]bool // not yet exchanged
	cookies map[string]bool
}

// NewSessions returns an empty set of sessions.
func NewSessions() *Sessions {
	return &Sessions{name: "brinefield_" + secret()[:8], tokens: map[string]bool{}, cookies: map[string]bool{}}
}

// Token makes a token that can be exchanged once for a cookie.
func (s *Sessions) Token() string {
	token := secret()
	s.mu.Lock()
	defer s.mu.Unlock()
	s.tokens[token] = true
	return token
}

// enter exchanges a token for the cookie and sends the browser to the start.
func (s *Sessions) enter(w http.ResponseWriter, r *http.Request) {
	cookie, ok := s.exchange(r.URL.Query().Get("token"))
	if !ok {
		http.Error(w, "This link was used already or belongs to an earlier start. Run the command again to get a new one.", http.StatusUnauthorized)
		return
	}
	http.SetCookie(w, &http.Cookie{Name: s.name, Value: cookie, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
	// A page of its own instead of a redirect: a strict cookie is not sent
	// along a redirect that began at a file or at another site.
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	start := cmp.Or(s.Start, "/")
	w.Header().Set("Refresh", "0; url="+start)
	_, _ = fmt.Fprintf(w, `<!doctype html><title>Brinefield</title><link rel="icon" href="/favicon.svg"><a href="%s">Open Brinefield</a>`, html.EscapeString(start))
}

func (s *Sessions) exchange(token string) (cookie string, ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if token == "" || !s.tokens[token] {
		return "", false
	}
	delete(s.tokens, token)
	cookie = secret()
	s.cookies[cookie] = true
	return cookie, true
}

func (s *Sessions) admits(r *http.Request) bool {
	c, err := r.Cookie(s.name)
	if err != nil {
		return false
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for known := range s.cookies {
		if subtle.ConstantTimeCompare([]byte(known), []byte(c.Value)) == 1 {
			return true
		}
	}
	return false
}

func secret() string {
	var b [32]byte
	_, _ = rand.Read(b[:]) // never fails: the standard library ends the program instead
	return base64.RawURLEncoding.EncodeToString(b[:])
}

// guard answers only the exact hosts (a page that rebinds its name to
// loopback brings another), only this origin, and only with the cookie.
func guard(hosts []string, sessions *Sessions, next http.Handler) http.Handler {
	sameOrigin := http.NewCrossOriginProtection()
	return sameOrigin.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		secureHeaders(w.Header())
		if !slices.Contains(hosts, r.Host) {
			http.Error(w, "This server answers only to the address that it printed.", http.StatusMisdirectedRequest)
			return
		}
		if r.Header.Get("Sec-Fetch-Site") == "cross-site" && r.URL.Path != "/enter" {
			http.Error(w, "Requests from other sites are refused.", http.StatusForbidden)
			return
		}
		if r.URL.Path != "/enter" && !sessions.admits(r) {
			refuse(w, r)
			return
		}
		next.ServeHTTP(w, r)
	}))
}

// notStored keeps answers out of every cache: what a card or a study says stays
// in the memory of the page.
func notStored(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

func refuse(w http.ResponseWriter, r *http.Request) {
	refuseWith(w, r, http.StatusUnauthorized, "Not signed in: open the page from the command that started it.")
}

// refuseWith answers in the form that the asker reads: a problem of the API, or
// a sentence.
func refuseWith(w http.ResponseWriter, r *http.Request, status int, why string) {
	if !strings.HasPrefix(r.URL.Path, "/api/") && !strings.HasPrefix(r.URL.Path, "/upload/") {
		http.Error(w, why, status)
		return
	}
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(map[string]any{"title": http.StatusText(status), "status": status, "detail": why})
}

func secureHeaders(h http.Header) {
	h.Set("Content-Security-Policy", "default-src 'self'; img-src 'self' data: blob:; style-src 'self' 'unsafe-inline'; media-src 'self' blob:; worker-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
}
