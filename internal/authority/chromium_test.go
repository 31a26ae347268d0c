package authority

import (
	"bufio"
	"crypto/tls"
	"crypto/x509"
	"io"
	"log"
	"net"
	"net/http"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Chromium's numbers (net/base/net_error_list.h).
const (
	authorityInvalid    = "-202" // ERR_CERT_AUTHORITY_INVALID
	certInvalid         = "-207" // ERR_CERT_INVALID
	constraintViolation = "-212" // ERR_CERT_NAME_CONSTRAINT_VIOLATION
)

// page asks the browser what it thinks of where it is, and tells the server.
const page = `<!doctype html><title>deck</title><script>
(async () => {
	let worker = "none";
	try { await navigator.serviceWorker.register("/worker.js"); await navigator.serviceWorker.ready; worker = "active"; } catch (e) { worker = String(e); }
	await fetch("/said", { method: "POST", body: "secure " + isSecureContext + ", worker " + worker + ", subtle " + Boolean(crypto.subtle) });
})();
</script>`

// boat is an HTTPS server on loopback with a certificate, and what a browser
// that got through told it.
func boat(t *testing.T, config *tls.Config) (port string, said <-chan string) {
	t.Helper()
	listener, err := tls.Listen("tcp", "127.0.0.1:0", config)
	if err != nil {
		t.Fatal(err)
	}
	told := make(chan string, 8)
	mux := http.NewServeMux()
	mux.HandleFunc("GET /", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		_, _ = io.WriteString(w, page)
	})
	mux.HandleFunc("GET /worker.js", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/javascript")
		_, _ = io.WriteString(w, `self.addEventListener("fetch", () => {});`)
	})
	mux.HandleFunc("POST /said", func(_ http.ResponseWriter, r *http.Request) {
		text, _ := io.ReadAll(io.LimitReader(r.Body, 1000))
		told <- string(text)
	})
	server := &http.Server{Handler: mux, ReadHeaderTimeout: 10 * time.Second, ErrorLog: log.New(io.Discard, "", 0)}
	go func() { _ = server.Serve(listener) }()
	t.Cleanup(func() { _ = server.Close() })
	_, port, _ = net.SplitHostPort(listener.Addr().String())
	return port, told
}

// browse opens an address in a browser with a home of its own, until the page
// told the server something or the browser says why it refuses: "net_error "
// with one of Chromium's numbers.
func browse(t *testing.T, chromium, home, host, port string, said <-chan string) (told, refused string) {
	t.Helper()
	browser := exec.CommandContext(t.Context(), chromium, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
		"--disable-component-update", "--disable-sync", "--user-data-dir="+filepath.Join(home, "profile"), "--host-resolver-rules=MAP "+host+" 127.0.0.1",
		"--remote-debugging-port=0", "--enable-logging=stderr", "https://"+net.JoinHostPort(host, port)+"/")
	browser.Env = append(os.Environ(), "HOME="+home, "XDG_CONFIG_HOME="+home, "XDG_CACHE_HOME="+home, "XDG_DATA_HOME="+filepath.Join(home, ".local", "share"))
	browser.WaitDelay = 5 * time.Second
	read, write, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	browser.Stderr = write
	if err := browser.Start(); err != nil {
		t.Fatal(err)
	}
	_ = write.Close()
	why := make(chan string, 1)
	go func() {
		lines := bufio.NewScanner(read)
		for lines.Scan() {
			if _, number, found := strings.Cut(lines.Text(), "net_error "); found {
				select {
				case why <- number:
				default:
				}
			}
		}
	}()
	defer func() {
		_ = browser.Process.Kill()
		_ = browser.Wait()
		_ = read.Close()
	}()
	select {
	case told = <-said:
	case refused = <-why:
	case <-time.After(90 * time.Second):
	}
	return told, refused
}

func TestChromiumTrustsTheBoat(t *testing.T) {
	if testing.Short() {
		t.Skip("starts browsers: not in short runs")
	}
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("chromium, which this test asks, is not installed (scripts/need.sh chromium)")
	}
	certutil, err := exec.LookPath("certutil")
	if err != nil {
		t.Skip("certutil, which installs an authority for chromium, is not there (scripts/need.sh certutil)")
	}
	dir := filepath.Join(t.TempDir(), "authority")
	a, err := Open(dir, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	homeWith := func(install bool) string {
		home := t.TempDir()
		for _, store := range []string{filepath.Join(home, ".pki", "nssdb"), filepath.Join(home, ".local", "share", "pki", "nssdb")} { // older and newer Chromium
			if err := os.MkdirAll(store, 0o700); err != nil {
				t.Fatal(err)
			}
			run(t, certutil, "-d", "sql:"+store, "-N", "--empty-password")
			if install {
				file := filepath.Join(home, "authority.cer")
				if err := os.WriteFile(file, a.Certificate(), 0o600); err != nil {
					t.Fatal(err)
				}
				run(t, certutil, "-d", "sql:"+store, "-A", "-t", "C,,", "-n", "boat", "-i", file)
			}
		}
		return home
	}
	trusting, plain := homeWith(true), homeWith(false)
	here := func() ([]netip.Addr, error) { return addresses("127.0.0.1"), nil }
	port, said := boat(t, NewLeaves(a, here, time.Now).TLS())

	for _, host := range []string{a.Name(), "127.0.0.1"} {
		if told, refused := browse(t, chromium, trusting, host, port, said); told != "secure true, worker active, subtle true" {
			t.Errorf("%s, with the authority installed: told %q, refused for %q", host, told, refused)
		}
	}
	if told, refused := browse(t, chromium, plain, a.Name(), port, said); refused != authorityInvalid {
		t.Errorf("without the authority: told %q, refused for %q", told, refused)
	}

	// A thief of the key, in a browser that has the authority installed. For the
	// laptop's own name the forged certificate is good, so that nothing else is
	// wrong with the other.
	for host, want := range map[string]string{a.Name(): "secure true, worker active, subtle true", "example.com": ""} {
		stolen, err := sign(a.cert, a.key, &x509.Certificate{
			SerialNumber: serial(), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), DNSNames: []string{host},
			KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		})
		if err != nil {
			t.Fatal(err)
		}
		port, said := boat(t, &tls.Config{Certificates: []tls.Certificate{*stolen}, MinVersion: tls.VersionTLS12})
		told, refused := browse(t, chromium, trusting, host, port, said)
		if told != want || want == "" && refused != certInvalid && refused != constraintViolation {
			t.Errorf("%s, signed with the stolen key: told %q, refused for %q", host, told, refused)
		}
		t.Logf("%s, signed with the stolen key: told %q, refused for %q", host, told, refused)
	}
}

func run(t *testing.T, program string, args ...string) {
	t.Helper()
	if out, err := exec.Command(program, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", program, err, out)
	}
}
