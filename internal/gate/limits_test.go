package gate

import (
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"brinefield/internal/app"
)

func tight() Limits {
	l := Usual()
	l.Strangers, l.Codes, l.Device, l.Asks = Rate{1, 3}, Rate{0.1, 2}, Rate{2, 5}, Rate{10, 50}
	l.AtOnce, l.Uploads, l.KeepFree = 2, 1000, 500
	return l
}

func (b *boat) pairs(t *testing.T, study, role string) (app.TabletSelf, string) {
	t.Helper()
	code, err := b.Code(t.Context(), app.PairingRequest{Study: study, Role: role, Author: "Ada"})
	if err != nil {
		t.Fatal(err)
	}
	self, token, err := b.Pair(app.WithCaller(t.Context(), app.Caller{Device: app.Stranger}), app.PairRequest{Code: code.Code, Name: "tablet of the stern"})
	if err != nil {
		t.Fatal(err)
	}
	return self, token
}

func tooMuch(err error) time.Duration {
	var much *app.TooMuchError
	if errors.As(err, &much) {
		return much.After
	}
	return 0
}

func TestStrangersAreBounded(t *testing.T) {
	b := newBoat(t, func(o *Options) { o.Limits = tight() })
	b.serve(t)
	ask := func(token, from string) error {
		return third(b.Admit(t.Context(), app.Visit{Token: token, Operation: "season", Study: "bay", From: from}))
	}
	for i := range 3 {
		if err := ask([]string{"", "made up", "made up too"}[i], "192.168.1.2"); !errors.Is(err, app.ErrNotPaired) {
			t.Error(err)
		}
	}
	if after := tooMuch(ask("made up", "192.168.1.2")); after <= 0 || after > time.Second {
		t.Errorf("the fourth within an instant waits %v", after)
	}
	if err := ask("made up", "192.168.1.3"); !errors.Is(err, app.ErrNotPaired) {
		t.Errorf("somebody else pays for it: %v", err)
	}
	b.pass(time.Second)
	if err := ask("made up", "192.168.1.2"); !errors.Is(err, app.ErrNotPaired) {
		t.Errorf("a second later: %v", err)
	}
	_, token := b.pairs(t, "bay", "scorer")
	if err := ask(token, "192.168.1.2"); err != nil {
		t.Errorf("a paired tablet behind the same address is shut out: %v", err)
	}
}

func TestPairingIsBounded(t *testing.T) {
	b := newBoat(t, func(o *Options) { o.Limits = tight() })
	b.serve(t)
	ask := func(from string) error { return third(b.Admit(t.Context(), app.Visit{Operation: pairing, From: from})) }
	for range 2 {
		if err := ask("fd00:0:0:1::5"); err != nil {
			t.Error(err)
		}
	}
	if after := tooMuch(ask("fd00:0:0:1::99")); after < 9*time.Second {
		t.Errorf("another address of the same net waits %v", after)
	}
	if err := ask("fd00:0:0:2::5"); err != nil {
		t.Error(err)
	}
	if netOf("fe80::1") == netOf("fe80::2") || netOf("::ffff:10.0.0.1") != "10.0.0.1" || netOf("no address") != "no address" {
		t.Error("addresses of one link are one, or an IPv4 address has two names")
	}
}

func TestADeviceIsBounded(t *testing.T) {
	b := newBoat(t, func(o *Options) { o.Limits = tight() })
	b.serve(t)
	_, token := b.pairs(t, "bay", "scorer")
	_, other := b.pairs(t, "bay", "scorer")
	ask := func(token string) (func(), error) {
		_, done, err := b.Admit(t.Context(), app.Visit{Token: token, Operation: "deck", Study: "bay", From: "192.168.1.2"})
		return done, err
	}
	var running []func()
	for range 2 {
		done, err := ask(token)
		if err != nil {
			t.Fatal(err)
		}
		running = append(running, done)
	}
	if _, err := ask(token); tooMuch(err) == 0 {
		t.Errorf("a third at once: %v", err)
	}
	running[0]()
	running[0]() // twice counts once
	if done, err := ask(token); err != nil {
		t.Error(err)
	} else {
		done()
	}
	if done, err := ask(token); err != nil {
		t.Error(err)
	} else {
		done()
	}
	if _, err := ask(token); tooMuch(err) == 0 {
		t.Errorf("the sixth within an instant: %v", err)
	}
	if done, err := ask(other); err != nil {
		t.Errorf("another tablet behind the same address: %v", err)
	} else {
		done()
	}
	b.pass(time.Second)
	if done, err := ask(token); err != nil {
		t.Errorf("a second later: %v", err)
	} else {
		done()
	}
}

func TestPhotosLeaveRoomForEntries(t *testing.T) {
	b := newBoat(t, func(o *Options) { o.Limits = tight() })
	b.serve(t)
	caller := app.Caller{Device: "one"}
	b.free = 1500
	if err := b.TakeIn(t.Context(), caller, 999); err != nil {
		t.Error(err)
	}
	b.free = 600
	if err := b.TakeIn(t.Context(), caller, 101); !errors.Is(err, app.ErrNoSpace) {
		t.Errorf("%v", err)
	}
	if err := b.TakeIn(t.Context(), caller, 0); err != nil {
		t.Errorf("entries alone: %v", err)
	}
	b.free = 1 << 30
	if err := b.TakeIn(t.Context(), caller, 2); tooMuch(err) == 0 {
		t.Errorf("more than its share of the day: %v", err)
	}
	if err := b.TakeIn(t.Context(), app.Caller{Device: "two"}, 2); err != nil {
		t.Errorf("another tablet: %v", err)
	}
	b.pass(24 * time.Hour)
	if err := b.TakeIn(t.Context(), caller, 2); err != nil {
		t.Errorf("the next day: %v", err)
	}
}

func TestManyAddressesAreForgotten(t *testing.T) {
	now := time.Now()
	r := newRates(Rate{1, 1}, func() time.Time { return now })
	for i := range 3 * mostKept {
		now = now.Add(time.Millisecond)
		_ = r.take(fmt.Sprint(i), "")
	}
	if len(r.each) > mostKept {
		t.Errorf("%d addresses are kept", len(r.each))
	}
	if err := r.take(fmt.Sprint(3*mostKept-1), ""); tooMuch(err) == 0 {
		t.Error("the newest was forgotten")
	}
}

// connection is one that comes from where a test says.
type connection struct {
	net.Conn
	from, to string
	closed   chan struct{}
}

func (c connection) RemoteAddr() net.Addr {
	a, _ := net.ResolveTCPAddr("tcp", c.from)
	return a
}

func (c connection) LocalAddr() net.Addr {
	a, _ := net.ResolveTCPAddr("tcp", c.to)
	return a
}

func (c connection) Close() error { close(c.closed); return nil }

type queue struct {
	net.Listener
	next chan net.Conn
}

func (q queue) Accept() (net.Conn, error) {
	c, ok := <-q.next
	if !ok {
		return nil, net.ErrClosed
	}
	return c, nil
}

func TestTheDoorIsForPrivateNets(t *testing.T) {
	limits := Usual()
	limits.Connections, limits.PerAddress = 5, 2
	next := make(chan net.Conn, 100)
	d := newDoor(queue{next: next}, limits)
	var came []connection
	offer := func(from, to string) {
		c := connection{from: from, to: to, closed: make(chan struct{})}
		came = append(came, c)
		next <- c
	}
	refused := []string{
		"8.8.8.8:1", "100.64.0.1:1", "192.0.2.1:1", "[2001:db8::1]:1", "[::ffff:8.8.8.8]:1", "172.32.0.1:1", "192.169.0.1:1",
	}
	for _, from := range refused {
		offer(from, "192.168.1.1:8443")
	}
	offer("192.168.1.7:1", "203.0.113.5:8443") // came in by a public address of this machine
	offer("10.1.1.1:1", "10.0.0.1:8443")
	offer("[fd12::1]:1", "[fd12::2]:8443")
	offer("[fe80::1]:1", "[fe80::2]:8443")
	offer("[::ffff:10.1.1.1]:2", "10.0.0.1:8443") // the same address as above
	offer("10.1.1.1:3", "10.0.0.1:8443")          // a third of one address
	offer("127.0.0.1:1", "127.0.0.1:8443")
	offer("169.254.1.1:1", "169.254.1.2:8443") // the sixth
	close(next)
	var in []net.Conn
	for {
		c, err := d.Accept()
		if err != nil {
			break
		}
		in = append(in, c)
	}
	var got []string
	for _, c := range in {
		got = append(got, c.RemoteAddr().String())
	}
	want := "10.1.1.1:1 [fd12::1]:1 [fe80::1]:1 10.1.1.1:2 127.0.0.1:1"
	if strings.Join(got, " ") != want {
		t.Errorf("let in: %q; want %s", got, want)
	}
	for i := range len(refused) + 1 {
		select {
		case <-came[i].closed:
		default:
			t.Errorf("%s to %s was left open", came[i].from, came[i].to)
		}
	}
	for _, c := range in {
		_ = c.Close()
	}
	if d.all != 0 || len(d.by) != 0 {
		t.Errorf("%d are counted after all left", d.all)
	}
}

// A batch that comes slowly is taken; one that stops coming is ended.
func TestSlowAndStalled(t *testing.T) {
	for _, protocol := range []int{1, 2} {
		t.Run(fmt.Sprint("HTTP/", protocol), func(t *testing.T) { t.Parallel(); slowAndStalled(t, protocol) })
	}
}

func slowAndStalled(t *testing.T, protocol int) {
	limits := Usual()
	limits.Stall, limits.Longest = 1500*time.Millisecond, time.Minute
	b := newBoat(t, func(o *Options) { o.Limits = limits })
	read := make(chan string, 4)
	b.handler = func(w http.ResponseWriter, r *http.Request) {
		text, err := io.ReadAll(r.Body)
		read <- fmt.Sprintf("%d bytes, whole: %v", len(text), err == nil)
		if err != nil {
			http.Error(w, "cut", http.StatusRequestTimeout)
			return
		}
		time.Sleep(limits.Stall + 300*time.Millisecond) // the work may take longer than a piece
		if err := r.Context().Err(); err != nil {
			t.Errorf("the work was cut after the body had come: %v", err)
		}
		fmt.Fprint(w, "all of it")
	}
	v := b.serve(t)
	c := b.client(t)
	if protocol == 1 {
		c.Transport.(*http.Transport).ForceAttemptHTTP2 = false
		c.Transport.(*http.Transport).TLSClientConfig.NextProtos = []string{"http/1.1"}
	}
	send := func(pieces int, pause time.Duration) (int, error) {
		r, w := io.Pipe()
		defer w.Close()
		go func() {
			for range pieces {
				_, _ = io.WriteString(w, "0123456789")
				time.Sleep(pause)
			}
			if pieces == 5 {
				_ = w.Close()
			}
		}()
		req, _ := http.NewRequestWithContext(t.Context(), http.MethodPost, fmt.Sprintf("https://127.0.0.1:%d/", v.Port), r)
		req.ContentLength = 50
		res, err := c.Do(req)
		if err != nil {
			return 0, err
		}
		defer res.Body.Close()
		if res.ProtoMajor != protocol {
			t.Errorf("HTTP/%d", res.ProtoMajor)
		}
		return res.StatusCode, nil
	}
	if status, err := send(5, 500*time.Millisecond); status != http.StatusOK {
		t.Errorf("slowly: %d, %v", status, err)
	}
	if got := <-read; got != "50 bytes, whole: true" {
		t.Error(got)
	}
	began := time.Now()
	if status, _ := send(2, 0); status == http.StatusOK {
		t.Error("a batch that stopped was taken")
	}
	if got := <-read; got != "20 bytes, whole: false" || time.Since(began) > 15*time.Second {
		t.Errorf("%s after %v", got, time.Since(began))
	}
}

// A slow body has a time in all, however it trickles.
func TestATrickleEnds(t *testing.T) {
	limits := Usual()
	limits.Stall, limits.Longest = time.Second, 700*time.Millisecond
	b := newBoat(t, func(o *Options) { o.Limits = limits })
	cut := make(chan error, 1)
	b.handler = func(_ http.ResponseWriter, r *http.Request) {
		_, err := io.Copy(io.Discard, r.Body)
		cut <- err
	}
	v := b.serve(t)
	r, w := io.Pipe()
	go func() {
		for {
			if _, err := io.WriteString(w, "x"); err != nil {
				return
			}
			time.Sleep(100 * time.Millisecond)
		}
	}()
	req, _ := http.NewRequestWithContext(t.Context(), http.MethodPost, fmt.Sprintf("https://127.0.0.1:%d/", v.Port), r)
	req.ContentLength = 1 << 20
	go func() {
		if res, err := b.client(t).Do(req); err == nil {
			_ = res.Body.Close()
		}
	}()
	select {
	case err := <-cut:
		if err == nil {
			t.Error("a trickle was taken for a whole body")
		}
	case <-time.After(10 * time.Second):
		t.Error("a trickle does not end")
	}
	_ = r.Close()
}

func TestATabletKnowsItself(t *testing.T) {
	b := newBoat(t, nil)
	b.serve(t)
	one, _ := b.pairs(t, "bay", "lead")
	two, _ := b.pairs(t, "reef", "guest")
	if one.Device == two.Device || len(one.Studies) != 1 || one.Studies[0].Study != "bay" || two.Studies[0].Role != "guest" || two.Studies[0].Identity != "identity of reef" {
		t.Errorf("%+v\n%+v", one, two)
	}
}
