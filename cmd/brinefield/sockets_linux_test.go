package main

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// window is a command of the program that shows studies, as a process.
type window struct {
	cmd  *exec.Cmd
	mu   sync.Mutex
	said bytes.Buffer
	end  chan error
}

var entryLine = regexp.MustCompile(`http://127\.0\.0\.1:\d+/enter\?token=\S+`)

// startWindow runs a command until it shows an address to enter by, and returns
// that.
func startWindow(t *testing.T, home string, args ...string) (*window, string) {
	t.Helper()
	w := &window{cmd: exec.Command("brinefield", args...), end: make(chan error, 1)}
	w.cmd.Env = append(os.Environ(), "HOME="+home, "XDG_CONFIG_HOME="+filepath.Join(home, "settings"), studiesVariable+"="+filepath.Join(home, "studies"))
	out, err := w.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	w.cmd.Stderr = w.cmd.Stdout
	if err := w.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	found := make(chan string, 1)
	go func() {
		for lines := bufio.NewScanner(out); lines.Scan(); {
			w.mu.Lock()
			fmt.Fprintln(&w.said, lines.Text())
			w.mu.Unlock()
			if entry := entryLine.FindString(lines.Text()); entry != "" {
				found <- entry
			}
		}
		w.end <- w.cmd.Wait()
	}()
	t.Cleanup(func() {
		_ = w.cmd.Process.Kill()
		<-w.end
	})
	select {
	case entry := <-found:
		return w, entry
	case err := <-w.end:
		w.end <- err
		t.Fatalf("%q ended: %v: %s", args, err, w.text())
	case <-time.After(60 * time.Second):
		t.Fatalf("%q shows no address: %s", args, w.text())
	}
	return nil, ""
}

func (w *window) text() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.said.String()
}

// sockets are the addresses on which a process listens or takes datagrams, as
// the kernel lists them (proc(5), /proc/net/tcp: address in the machine's own
// order of bytes, 0A is LISTEN).
func sockets(t *testing.T, pid int) (out []netip.AddrPort) {
	t.Helper()
	own := map[string]bool{}
	links, err := filepath.Glob(fmt.Sprintf("/proc/%d/fd/*", pid))
	if err != nil || len(links) == 0 {
		t.Fatalf("process %d cannot be looked into: %v", pid, err)
	}
	for _, link := range links {
		if target, err := os.Readlink(link); err == nil && strings.HasPrefix(target, "socket:[") {
			own[strings.Trim(target, "socket:[]")] = true
		}
	}
	for _, table := range []string{"tcp", "tcp6", "udp", "udp6"} {
		text, err := os.ReadFile(fmt.Sprintf("/proc/%d/net/%s", pid, table))
		if err != nil {
			continue // no IPv6 on this machine
		}
		for _, line := range strings.Split(string(text), "\n")[1:] {
			f := strings.Fields(line)
			if len(f) < 10 || !own[f[9]] || strings.HasPrefix(table, "tcp") && f[3] != "0A" {
				continue
			}
			address, port, _ := strings.Cut(f[1], ":")
			raw, err := hex.DecodeString(address)
			if err != nil {
				t.Fatal(err)
			}
			for i := 0; i+4 <= len(raw); i += 4 {
				slices.Reverse(raw[i : i+4]) // words of a little-endian machine
			}
			a, _ := netip.AddrFromSlice(raw)
			var n uint16
			if _, err := fmt.Sscanf(port, "%X", &n); err != nil {
				t.Fatal(err)
			}
			out = append(out, netip.AddrPortFrom(a.Unmap(), n))
		}
	}
	return out
}

// Serving on a network is off until somebody asks for it: open and demo listen
// on loopback alone, and make no keys. When the page asks for it, the sockets
// are there; when it ends, they are gone.
func TestOffByDefault(t *testing.T) {
	home := t.TempDir()
	onlyLoopback := func(what string, pid int, want int) {
		t.Helper()
		got := sockets(t, pid)
		for _, a := range got {
			if !a.Addr().IsLoopback() {
				t.Errorf("%s listens on %v", what, a)
			}
		}
		if len(got) != want {
			t.Errorf("%s listens on %v", what, got)
		}
	}
	demo, entry := startWindow(t, home, "demo", "--no-browser")
	onlyLoopback("demo", demo.cmd.Process.Pid, 1)
	if status, text := enter(t, entry).post(t, "/api/tablets", `{"serve":true}`); status != http.StatusConflict {
		t.Errorf("the demo lets tablets in: %d %s", status, text)
	}
	onlyLoopback("demo, when asked", demo.cmd.Process.Pid, 1)

	port := freePort(t)
	keys := filepath.Join(home, "settings", "brinefield", "deck")
	open, entry := startWindow(t, home, "open", "--no-browser")
	onlyLoopback("open", open.cmd.Process.Pid, 1)
	page := enter(t, entry)
	if v := page.tablets(t); !v.Possible || v.Serving {
		t.Errorf("%+v", v)
	}
	if _, err := os.Stat(keys); err == nil {
		t.Error("a window that serves nothing made keys")
	}
	if err := os.MkdirAll(keys, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(keys, "port"), fmt.Append(nil, port), 0o600); err != nil {
		t.Fatal(err)
	}
	if status, text := page.post(t, "/api/tablets", `{"serve":true}`); status != http.StatusOK {
		t.Fatalf("%d %s", status, text)
	}
	if got := sockets(t, open.cmd.Process.Pid); !slices.ContainsFunc(got, func(a netip.AddrPort) bool { return a.Port() == port && a.Addr().IsUnspecified() }) {
		t.Errorf("asked for, the port for tablets is not among %v", got)
	}
	if v := page.tablets(t); v.Port != int(port) || !v.Serving {
		t.Errorf("%+v", v)
	}
	for path, want := range map[string]os.FileMode{"": 0o700, "authority": 0o700, "authority/authority.key": 0o600} {
		if info, err := os.Stat(filepath.Join(keys, path)); err != nil || info.Mode().Perm() != want {
			t.Errorf("%q: %v; want mode %v", path, err, want)
		}
	}

	// What the laptop's own window answers of the tablets' routes.
	if status, text := page.get(t, "/api/deck/me"); status != http.StatusOK || !strings.Contains(text, `"laptop":"brinefield-`) || strings.Contains(text, `"paired":true`) {
		t.Errorf("%d %s", status, text)
	}
	if status, text := page.post(t, "/api/deck/pair", `{"code":"x","name":"x"}`); status != http.StatusForbidden || !strings.Contains(text, "laptop itself") {
		t.Errorf("the laptop paired itself: %d %s", status, text)
	}

	// A second program says so, and serves nothing.
	second := exec.Command("brinefield", "serve", "--no-browser", "--tablet-port", fmt.Sprint(freePort(t)))
	second.Env = open.cmd.Env
	text, err := second.CombinedOutput()
	if second.ProcessState.ExitCode() != 2 || !strings.Contains(string(text), "another window") || !strings.Contains(string(text), fmt.Sprint("process ", open.cmd.Process.Pid)) {
		t.Errorf("a second program: %v %s", err, text)
	}

	if status, text := page.post(t, "/api/tablets", `{"serve":false}`); status != http.StatusOK {
		t.Errorf("%d %s", status, text)
	}
	for deadline := time.Now().Add(20 * time.Second); len(sockets(t, open.cmd.Process.Pid)) > 1 && time.Now().Before(deadline); {
		time.Sleep(20 * time.Millisecond)
	}
	onlyLoopback("open, after it ended", open.cmd.Process.Pid, 1)
}

func freePort(t *testing.T) uint16 {
	t.Helper()
	l, err := net.Listen("tcp", ":0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).AddrPort().Port()
}

// ownPage is a browser on the laptop that came in by the printed address.
type ownPage struct {
	base   string
	client *http.Client
}

func enter(t *testing.T, entry string) ownPage {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	p := ownPage{entry[:strings.Index(entry, "/enter")], &http.Client{Jar: jar, Timeout: time.Minute}}
	if status, text := p.get(t, entry[len(p.base):]); status != http.StatusOK {
		t.Fatalf("%d %s", status, text)
	}
	return p
}

func (p ownPage) get(t *testing.T, path string) (int, string) {
	t.Helper()
	return p.answer(t)(p.client.Get(p.base + path))
}

func (p ownPage) post(t *testing.T, path, body string) (int, string) {
	t.Helper()
	return p.answer(t)(p.client.Post(p.base+path, "application/json", strings.NewReader(body)))
}

func (p ownPage) answer(t *testing.T) func(*http.Response, error) (int, string) {
	return func(res *http.Response, err error) (int, string) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		text, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return res.StatusCode, string(text)
	}
}

func (p ownPage) tablets(t *testing.T) (v struct {
	Possible, Serving bool
	Port              int
},
) {
	t.Helper()
	status, text := p.get(t, "/api/tablets")
	if err := json.Unmarshal([]byte(text), &v); err != nil || status != http.StatusOK {
		t.Fatalf("%d %s: %v", status, text, err)
	}
	return v
}
