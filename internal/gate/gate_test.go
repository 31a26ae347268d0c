package gate

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"brinefield/internal/app"
)

// shelf has two studies, "bay" and "reef".
type shelf struct{}

func (shelf) Name(_ context.Context, folder string) (app.StudyName, error) {
	if folder != "bay" && folder != "reef" {
		return app.StudyName{}, app.ErrUnknownStudy
	}
	return app.StudyName{Study: folder, Identity: "identity of " + folder, Title: "The " + folder}, nil
}

func (s shelf) Names(ctx context.Context) (out []app.StudyName, err error) {
	for _, folder := range []string{"bay", "reef"} {
		n, _ := s.Name(ctx, folder)
		out = append(out, n)
	}
	return out, nil
}

// boat is a gate with everything that a test turns.
type boat struct {
	*Gate
	mu        sync.Mutex
	now       time.Time
	addresses []netip.Addr
	free      uint64
	locked    error
	locks     int
	handler   http.HandlerFunc
}

func (b *boat) clock() time.Time {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.now
}

func (b *boat) pass(d time.Duration) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.now = b.now.Add(d)
}

func newBoat(t *testing.T, change func(*Options)) *boat {
	t.Helper()
	b := &boat{now: time.Now(), addresses: []netip.Addr{netip.MustParseAddr("127.0.0.1"), netip.MustParseAddr("192.0.2.7")}, free: 1 << 40}
	b.handler = func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, "hello ", r.Host) }
	opt := Options{
		Keys: filepath.Join(t.TempDir(), "settings", "deck"), Studies: shelf{}, Listen: "127.0.0.1:0",
		Handler: func(*Gate) http.Handler {
			return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { b.handler(w, r) })
		},
		Lock: func(string) (func() error, error) {
			b.mu.Lock()
			defer b.mu.Unlock()
			if b.locked != nil {
				return nil, b.locked
			}
			b.locks++
			return func() error { b.mu.Lock(); defer b.mu.Unlock(); b.locks--; return nil }, nil
		},
		Free:  func() (uint64, error) { b.mu.Lock(); defer b.mu.Unlock(); return b.free, nil },
		Clock: b.clock, Random: rand.Reader,
		Addresses: func() ([]netip.Addr, error) { b.mu.Lock(); defer b.mu.Unlock(); return slices.Clone(b.addresses), nil },
	}
	if change != nil {
		change(&opt)
	}
	b.Gate = New(opt)
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

func (b *boat) serve(t *testing.T) app.TabletsView {
	t.Helper()
	yes := true
	v, err := b.Change(t.Context(), app.TabletsRequest{Serve: &yes})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// client trusts the boat's authority and nothing else, and finds its name.
func (b *boat) client(t *testing.T) *http.Client {
	t.Helper()
	pool := x509.NewCertPool()
	cert, err := x509.ParseCertificate(b.serving.Load().authority.Certificate())
	if err != nil {
		t.Fatal(err)
	}
	pool.AddCert(cert)
	port := b.serving.Load().port
	transport := &http.Transport{
		TLSClientConfig: &tls.Config{RootCAs: pool}, ForceAttemptHTTP2: true,
		DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, network, fmt.Sprintf("127.0.0.1:%d", port))
		},
	}
	t.Cleanup(transport.CloseIdleConnections)
	return &http.Client{Transport: transport, Timeout: 20 * time.Second}
}

func TestNothingIsServedUntilItIsAskedFor(t *testing.T) {
	b := newBoat(t, nil)
	v, err := b.View(t.Context())
	if err != nil || v.Serving || !v.Possible || v.NameState != "off" || len(v.Addresses) > 0 || v.Name != "" || v.Port != Port {
		t.Errorf("%+v, %v", v, err)
	}
	if _, err := os.Stat(b.opt.Keys); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("looking at it made a folder of keys: %v", err)
	}
	for what, err := range map[string]error{
		"a code":        second(b.Code(t.Context(), app.PairingRequest{Study: "bay", Role: "lead"})),
		"a glance":      b.Glance("192.168.1.2"),
		"an ask":        third(b.Admit(t.Context(), app.Visit{Operation: "deck-me"})),
		"an upload":     b.TakeIn(t.Context(), app.Caller{Device: "x"}, 1),
		"an install":    second(b.Change(t.Context(), app.TabletsRequest{Install: new(true)})),
		"a tablet's go": third(b.Pair(app.WithCaller(t.Context(), app.Caller{Device: app.Stranger}), app.PairRequest{Code: "x", Name: "x"})),
	} {
		if !errors.Is(err, app.ErrNotServing) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if b.Serves("127.0.0.1:8443") {
		t.Error("a host is answered while nothing is served")
	}
}

func second[A any](_ A, err error) error        { return err }
func third[A, B any](_ A, _ B, err error) error { return err }

func TestServingBeginsAndEnds(t *testing.T) {
	b := newBoat(t, nil)
	v := b.serve(t)
	if !v.Serving || len(v.Words) != 10 || len(v.Fingerprint) != 95 || v.Port == 0 || !strings.HasPrefix(v.Addresses[0], "https://brinefield-") {
		t.Errorf("%+v", v)
	}
	if !slices.Equal(v.LeftOut, []string{"192.0.2.7"}) {
		t.Errorf("left out: %q", v.LeftOut)
	}
	if runtime.GOOS != "windows" {
		for path, want := range map[string]os.FileMode{"": 0o700, "authority": 0o700, "authority/authority.key": 0o600} {
			info, err := os.Stat(filepath.Join(b.opt.Keys, path))
			if err != nil || info.Mode().Perm() != want {
				t.Errorf("%q: %v, %v; want %v", path, info.Mode(), err, want)
			}
		}
	}
	c := b.client(t)
	res, err := c.Get("https://" + v.Name + fmt.Sprintf(":%d/", v.Port))
	if err != nil {
		t.Fatal(err)
	}
	body, _ := io.ReadAll(res.Body)
	_ = res.Body.Close()
	if string(body) != fmt.Sprintf("hello %s:%d", v.Name, v.Port) || res.ProtoMajor != 2 {
		t.Errorf("%q by HTTP/%d", body, res.ProtoMajor)
	}
	again := b.serve(t)
	if again.Port != v.Port || again.Name != v.Name {
		t.Error("serving twice began anew")
	}
	no := false
	off, err := b.Change(t.Context(), app.TabletsRequest{Serve: &no})
	if err != nil || off.Serving || off.Name != v.Name || !slices.Equal(off.Words, v.Words) {
		t.Errorf("%+v, %v", off, err)
	}
	if conn, err := net.DialTimeout("tcp", fmt.Sprintf("127.0.0.1:%d", v.Port), time.Second); err == nil {
		_ = conn.Close()
		t.Error("the port is open after serving ended")
	}
	if b.locks != 0 {
		t.Errorf("%d locks are held", b.locks)
	}
	if back := b.serve(t); back.Name != v.Name || back.Fingerprint != v.Fingerprint {
		t.Error("another laptop after a pause")
	}
}

func TestPlainHTTPIsNotAnswered(t *testing.T) {
	b := newBoat(t, nil)
	asked := 0
	b.handler = func(http.ResponseWriter, *http.Request) { asked++ }
	v := b.serve(t)
	conn, err := net.Dial("tcp", fmt.Sprintf("127.0.0.1:%d", v.Port))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	_, _ = io.WriteString(conn, "GET /api/deck/me HTTP/1.1\r\nHost: "+v.Name+"\r\nCookie: __Host-brinefield-device=x\r\n\r\n")
	answer, _ := io.ReadAll(conn)
	if asked != 0 || !strings.HasPrefix(string(answer), "HTTP/1.0 400") {
		t.Errorf("asked %d times: %q", asked, answer)
	}
}

func TestASecondProgramServesNothing(t *testing.T) {
	b := newBoat(t, nil)
	b.locked = errors.New("another window has it")
	yes := true
	_, err := b.Change(t.Context(), app.TabletsRequest{Serve: &yes})
	if !errors.Is(err, app.ErrNotServing) || !strings.Contains(err.Error(), "another window has it") {
		t.Error(err)
	}
	v, err := b.View(t.Context())
	if err != nil || v.Serving || !strings.Contains(v.Problem, "another window has it") {
		t.Errorf("%+v, %v", v, err)
	}
	if _, err := b.Role(t.Context(), app.TabletRoleRequest{Device: "x", Revoke: true}); !errors.Is(err, app.ErrNotServing) {
		t.Errorf("a role beside another program: %v", err)
	}
	b.locked = nil
	if v := b.serve(t); v.Problem != "" {
		t.Errorf("an old problem stays: %q", v.Problem)
	}
}

func TestAPortThatIsTaken(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	b := newBoat(t, func(o *Options) { o.Listen = l.Addr().String() })
	yes := true
	_, err = b.Change(t.Context(), app.TabletsRequest{Serve: &yes})
	if !errors.Is(err, app.ErrNotServing) || !strings.Contains(err.Error(), "--tablet-port") || b.locks != 0 {
		t.Errorf("%v, %d locks", err, b.locks)
	}
	_ = l.Close()
	if v := b.serve(t); !strings.HasSuffix(l.Addr().String(), fmt.Sprint(":", v.Port)) {
		t.Errorf("port %d", v.Port)
	}
}

// The port is the same at the next start, also where it was chosen once.
func TestThePortIsKept(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := l.Addr().(*net.TCPAddr).Port
	_ = l.Close()
	dir := filepath.Join(t.TempDir(), "deck")
	b := newBoat(t, func(o *Options) { o.Keys = dir; o.Listen = ""; o.Port = port })
	if err := privateFolder(dir); err != nil {
		t.Fatal(err)
	}
	one, err := b.listen()
	if err != nil {
		t.Fatal(err)
	}
	_ = one.Close()
	if got := newBoat(t, func(o *Options) { o.Keys = dir }).keptPort(); got != port {
		t.Errorf("the next start takes %d, and the tablets know %d", got, port)
	}
	for _, text := range []string{"", "x", "-1", "70000"} {
		if err := os.WriteFile(filepath.Join(dir, portFile), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if got := b.keptPort(); got != Port {
			t.Errorf("%q: %d", text, got)
		}
	}
}

func TestKeysThatOthersCanSee(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("Windows has no such bits")
	}
	b := newBoat(t, nil)
	if err := os.MkdirAll(b.opt.Keys, 0o755); err != nil {
		t.Fatal(err)
	}
	yes := true
	if _, err := b.Change(t.Context(), app.TabletsRequest{Serve: &yes}); !errors.Is(err, app.ErrNotServing) || !strings.Contains(err.Error(), "chmod 700") {
		t.Error(err)
	}
}

func TestOnlyItsOwnNamesAreAnswered(t *testing.T) {
	b := newBoat(t, nil)
	v := b.serve(t)
	for host, want := range map[string]bool{
		fmt.Sprintf("%s:%d", v.Name, v.Port):                  true,
		fmt.Sprintf("%s:%d", strings.ToUpper(v.Name), v.Port): true,
		fmt.Sprintf("%s.:%d", v.Name, v.Port):                 true,
		fmt.Sprintf("127.0.0.1:%d", v.Port):                   true,
		fmt.Sprintf("192.0.2.7:%d", v.Port):                   false, // public
		fmt.Sprintf("192.168.1.5:%d", v.Port):                 false, // not ours
		fmt.Sprintf("localhost:%d", v.Port):                   false,
		fmt.Sprintf("evil.example:%d", v.Port):                false,
		fmt.Sprintf("x.%s:%d", v.Name, v.Port):                false,
		v.Name:                                                false,
		"127.0.0.1":                                           false,
		fmt.Sprintf("127.0.0.1:%d", v.Port+1):                 false,
		"":                                                    false,
		"[":                                                   false,
	} {
		if b.Serves(host) != want {
			t.Errorf("%q: %v", host, !want)
		}
	}
}

// A new lease of the router strands nobody: the certificate follows while the
// server runs, and the name stays.
func TestANewAddress(t *testing.T) {
	b := newBoat(t, nil)
	v := b.serve(t)
	served := func() *x509.Certificate {
		c, err := tls.Dial("tcp", fmt.Sprintf("127.0.0.1:%d", v.Port), &tls.Config{InsecureSkipVerify: true, ServerName: v.Name})
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		return c.ConnectionState().PeerCertificates[0]
	}
	first := served()
	b.mu.Lock()
	b.addresses = append(b.addresses, netip.MustParseAddr("10.0.0.9"))
	b.mu.Unlock()
	host := fmt.Sprintf("10.0.0.9:%d", v.Port)
	if b.Serves(host) {
		t.Error("an address is answered before it was looked at")
	}
	b.pass(3 * time.Second)
	second := served()
	if first.SerialNumber.Cmp(second.SerialNumber) == 0 || second.VerifyHostname("10.0.0.9") != nil || second.VerifyHostname(v.Name) != nil || second.VerifyHostname("127.0.0.1") != nil {
		t.Errorf("after a new address the certificate is for %v", second.IPAddresses)
	}
	if !b.Serves(host) {
		t.Error("the new address is not answered")
	}
	now, err := b.View(t.Context())
	if err != nil || now.Name != v.Name || now.Fingerprint != v.Fingerprint {
		t.Errorf("the name moved: %+v, %v", now, err)
	}
}

// The gate opens and shuts while tablets ask and the page looks: nobody waits
// for ever, and whoever is let in was let in while it was open.
func TestOpeningAndShuttingUnderLoadWorkers(t *testing.T) {
	b := newBoat(t, func(o *Options) {
		o.Limits = Usual()
		o.Limits.Device, o.Limits.Strangers = Rate{1e6, 1e6}, Rate{1e6, 1e6}
	})
	b.serve(t)
	_, token := b.pairs(t, "bay", "scorer")
	stop := make(chan struct{})
	var all sync.WaitGroup
	var let, shut [4]int
	for i := range 4 {
		all.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
				}
				_, done, err := b.Admit(t.Context(), app.Visit{Token: token, Operation: "deck-sync", Study: "bay", From: "10.0.0.1"})
				switch {
				case err == nil:
					let[i]++
					_ = b.TakeIn(t.Context(), app.Caller{Device: "x"}, 1)
					done()
				case errors.Is(err, app.ErrNotServing):
					shut[i]++
				default:
					t.Error(err)
					return
				}
				if _, err := b.View(t.Context()); err != nil {
					t.Error(err)
					return
				}
				_ = b.Serves("127.0.0.1:1")
			}
		})
	}
	for i := range 20 {
		on := i%2 == 1
		if _, err := b.Change(t.Context(), app.TabletsRequest{Serve: &on, Install: &on}); err != nil {
			t.Error(err)
		}
		time.Sleep(5 * time.Millisecond)
	}
	close(stop)
	all.Wait()
	if let[0]+let[1]+let[2]+let[3] == 0 || shut[0]+shut[1]+shut[2]+shut[3] == 0 {
		t.Errorf("let in %v, found it shut %v", let, shut)
	}
	if b.locks != 1 {
		t.Errorf("%d locks are held", b.locks)
	}
}
