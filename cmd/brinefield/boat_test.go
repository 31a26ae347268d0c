//go:build unix

package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"brinefield/internal/app"
)

// boat is a laptop on a boat: brinefield serve as a process of its own, on real
// TLS, which a test can kill and start again. Its study is "bay".
type boat struct {
	dir, keys, address string // address: host and port that tablets ask

	mu      sync.Mutex
	cmd     *exec.Cmd
	ended   chan error
	said    bytes.Buffer
	session *http.Client // the window on the laptop itself
	window  string
}

// newBoat makes the study. The process is started by start.
func newBoat(t testing.TB, studies string) *boat {
	t.Helper()
	b := &boat{dir: studies, keys: filepath.Join(t.TempDir(), "keys"), address: freeAddress(t)}
	first := app.NewStudies(app.StudiesOptions{Shelf: newShelf(studies), ShelfName: studies, Program: program(), Clock: time.Now, Random: rand.Reader})
	in, err := corrected(0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := imported(first, in, "bay"); err != nil {
		t.Fatal(err)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.kill() })
	return b
}

func freeAddress(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// brinefieldBinary is the program under test: that of make build where it is named, else this
// very test binary, which is the program under that name (see TestMain).
func brinefieldBinary() string {
	if path := os.Getenv("BRINEFIELD_BINARY"); path != "" {
		return path
	}
	return "brinefield"
}

var entryAddress = regexp.MustCompile(`http://127\.0\.0\.1:\d+/enter\?token=\S+`)

// launch begins the process; wrapper, where there is one, runs it (strace).
func (b *boat) launch(wrapper ...string) error {
	args := append(wrapper, brinefieldBinary(), "serve", "bay", "--no-browser", "--keys", b.keys, "--listen", b.address)
	cmd := exec.Command(args[0], args[1:]...)
	cmd.Env = append(os.Environ(), studiesVariable+"="+b.dir)
	out, err := cmd.StdoutPipe()
	if err != nil {
		return err
	}
	cmd.Stderr = cmd.Stdout
	if err := cmd.Start(); err != nil {
		return err
	}
	ended := make(chan error, 1)
	b.mu.Lock()
	b.cmd, b.ended, b.session, b.window = cmd, ended, nil, ""
	b.said.Reset()
	b.mu.Unlock()
	read := make(chan struct{})
	go func() {
		defer close(read)
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			b.mu.Lock()
			fmt.Fprintln(&b.said, lines.Text())
			if found := entryAddress.FindString(lines.Text()); found != "" {
				b.window = found
			}
			b.mu.Unlock()
		}
	}()
	go func() {
		<-read
		ended <- cmd.Wait()
	}()
	return nil
}

// ready waits until the window on the laptop could be opened.
func (b *boat) ready() error {
	for began := time.Now(); ; time.Sleep(2 * time.Millisecond) {
		b.mu.Lock()
		window, said := b.window, b.said.String()
		b.mu.Unlock()
		if window != "" {
			return nil
		}
		if time.Since(began) > 60*time.Second {
			return fmt.Errorf("brinefield serve does not begin: %s", said)
		}
	}
}

func (b *boat) start(t testing.TB, wrapper ...string) {
	t.Helper()
	if err := b.launch(wrapper...); err != nil {
		t.Fatal(err)
	}
	if err := b.ready(); err != nil {
		t.Fatal(err)
	}
}

// kill ends the process as a power cut of the program does (SIGKILL).
func (b *boat) kill() {
	b.mu.Lock()
	cmd, ended := b.cmd, b.ended
	b.cmd = nil
	b.mu.Unlock()
	if cmd == nil {
		return
	}
	_ = cmd.Process.Kill()
	<-ended
}

// stop ends the process as its user does.
func (b *boat) stop(t testing.TB) {
	t.Helper()
	b.mu.Lock()
	cmd, ended := b.cmd, b.ended
	b.cmd = nil
	b.mu.Unlock()
	if cmd == nil {
		return
	}
	_ = cmd.Process.Signal(os.Interrupt)
	select {
	case err := <-ended:
		if err != nil {
			t.Errorf("brinefield serve ended with %v: %s", err, b.said.String())
		}
	case <-time.After(5 * time.Minute): // it writes the plain export of the study
		_ = cmd.Process.Kill()
		t.Errorf("brinefield serve does not end: %s", b.said.String())
	}
}

// ask is a question of the laptop's own window.
func (b *boat) ask(t testing.TB, path string, in, out any) {
	t.Helper()
	if b.session == nil {
		jar, err := cookiejar.New(nil)
		if err != nil {
			t.Fatal(err)
		}
		b.session = &http.Client{Jar: jar, Timeout: 60 * time.Second}
		res, err := b.session.Get(b.window)
		if err != nil {
			t.Fatal(err)
		}
		_ = res.Body.Close()
	}
	host := strings.SplitN(b.window, "/enter", 2)[0]
	body, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	res, err := b.session.Post(host+path, "application/json", bytes.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		t.Fatalf("%s: %d %s, %v", path, res.StatusCode, text, err)
	}
	if err := json.Unmarshal(text, out); err != nil {
		t.Fatal(err)
	}
}

// trusting is a client that trusts this laptop alone, as a tablet does on which
// its authority was installed. It dials to, where that is not "".
func (b *boat) trusting(t testing.TB, to string) *http.Client {
	t.Helper()
	cert, err := os.ReadFile(filepath.Join(b.keys, "authority", "authority.crt"))
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	if !roots.AppendCertsFromPEM(cert) {
		t.Fatal("the authority's certificate cannot be read")
	}
	dialer := net.Dialer{Timeout: 5 * time.Second}
	return &http.Client{Timeout: 60 * time.Second, Transport: &http.Transport{
		TLSClientConfig: &tls.Config{RootCAs: roots, MinVersion: tls.VersionTLS13},
		DialContext: func(ctx context.Context, network, address string) (net.Conn, error) {
			if to != "" {
				address = to
			}
			return dialer.DialContext(ctx, network, address)
		},
		// One answer is then one write of the server, which strace sees.
		Protocols: http1(),
	}}
}

func http1() *http.Protocols {
	var p http.Protocols
	p.SetHTTP1(true)
	return &p
}
