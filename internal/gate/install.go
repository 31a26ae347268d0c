package gate

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"net"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// The page that installs the authority is the one thing that is ever answered
// over plain HTTP: a tablet that does not trust the laptop yet can open no other.
// It holds no secret and takes none.

//go:embed pages/*.html
var pageFiles embed.FS

var pages = template.Must(template.ParseFS(pageFiles, "pages/*.html"))

// installing is the page while it is open.
type installing struct {
	server  *http.Server
	port    int
	ends    time.Time
	closing *time.Timer
}

// openInstall opens the page, or lets it stay open for longer.
func (s *serving) openInstall(g *Gate) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	ends := g.opt.Clock().Add(InstallLife)
	if s.install != nil && s.install.closing.Reset(InstallLife) {
		s.install.ends = ends
		return nil
	}
	l, err := g.listenInstall()
	if err != nil {
		return err
	}
	i := &installing{port: l.Addr().(*net.TCPAddr).Port, ends: ends}
	limits := g.limits
	limits.Stall = min(limits.Stall, 20*time.Second)
	i.server = g.server(patient{s.installPages(g), limits})
	go func() { _ = i.server.Serve(newDoor(l, limits)) }() // ends when it is closed
	i.closing = time.AfterFunc(InstallLife, func() { s.closeThis(i) })
	s.install = i
	return nil
}

func (g *Gate) listenInstall() (net.Listener, error) {
	if g.opt.Listen != "" {
		host, _, err := net.SplitHostPort(g.opt.Listen)
		if err != nil {
			return nil, err
		}
		address := g.opt.InstallListen
		if address == "" {
			address = net.JoinHostPort(host, "0")
		}
		return listen(address, "the page that installs")
	}
	if l, err := listen(":"+strconv.Itoa(InstallPort), "the page that installs"); err == nil {
		return l, nil
	}
	return listen(":0", "the page that installs") // nobody keeps its address
}

func (s *serving) closeInstall() {
	s.mu.Lock()
	i := s.install
	s.mu.Unlock()
	if i != nil {
		s.closeThis(i)
	}
}

func (s *serving) closeThis(i *installing) {
	s.mu.Lock()
	if s.install == i {
		s.install = nil
	}
	s.mu.Unlock()
	i.closing.Stop()
	_ = i.server.Close()
}

// installPages answers what a tablet needs to trust this laptop, and for
// everything else says that there is nothing.
func (s *serving) installPages(g *Gate) http.Handler {
	name := s.authority.Name()
	base := strings.TrimSuffix(name, ".local")
	type file struct{ media, name string }
	certificate := map[string]file{
		"/" + base + ".mobileconfig": {"application/x-apple-aspen-config", base + ".mobileconfig"},
		"/" + base + ".cer":          {"application/pkix-cert", base + ".cer"},
		"/" + base + ".crt":          {"application/x-x509-ca-cert", base + ".crt"},
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-store")
		switch {
		case r.Method != http.MethodGet && r.Method != http.MethodHead, r.ContentLength != 0:
			h.Set("Connection", "close")
			http.Error(w, "This page takes nothing: it only shows how a tablet is made to trust the laptop.", http.StatusMethodNotAllowed)
			return
		case s.asks.take(netOf(hostOf(r.RemoteAddr)), "") != nil:
			http.Error(w, "Too many requests come from this address.", http.StatusTooManyRequests)
			return
		}
		if f, ok := certificate[r.URL.Path]; ok {
			body := s.authority.Certificate()
			if strings.HasSuffix(f.name, ".mobileconfig") {
				body = s.authority.Profile()
			}
			h.Set("Content-Type", f.media)
			h.Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", f.name))
			_, _ = w.Write(body)
			return
		}
		page, ok := map[string]string{"/": "choose.html", "/ipados": "ipados.html", "/android": "android.html"}[r.URL.Path]
		if !ok {
			http.Error(w, "Nothing is here. This page only installs what makes a tablet trust the laptop: its address is "+r.Host+"/", http.StatusNotFound)
			return
		}
		var text bytes.Buffer
		err := pages.ExecuteTemplate(&text, page, map[string]any{
			"Name": name, "File": base, "Words": s.authority.Words(), "Fingerprint": s.authority.Fingerprint(),
			"Deck": "https://" + net.JoinHostPort(name, strconv.Itoa(s.port)) + "/deck", "Addresses": g.addresses(s)[1:], // without the name, which stands first
			"Ends": s.authority.Ends().Format("2 January 2006"),
		})
		if err != nil {
			http.Error(w, "This page cannot be shown: "+err.Error(), http.StatusInternalServerError)
			return
		}
		h.Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write(text.Bytes())
	})
}

func hostOf(remote string) string {
	host, _, _ := net.SplitHostPort(remote) // "" is an address of its own
	return host
}
