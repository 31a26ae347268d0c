package gate

import (
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"brinefield/internal/authority"
)

// door is a listener that lets in only connections between addresses of private
// nets, and not too many of them. All others are closed before a byte is read.
type door struct {
	net.Listener
	most, perAddress int

	mu  sync.Mutex
	all int
	by  map[string]int
}

func newDoor(l net.Listener, limits Limits) *door {
	return &door{Listener: l, most: limits.Connections, perAddress: limits.PerAddress, by: map[string]int{}}
}

// Accept implements [net.Listener].
func (d *door) Accept() (net.Conn, error) {
	for {
		c, err := d.Listener.Accept()
		if err != nil {
			return nil, err
		}
		if !private(c.RemoteAddr()) || !private(c.LocalAddr()) {
			_ = c.Close()
			continue
		}
		who := netOf(addressOf(c.RemoteAddr()).String())
		if !d.enter(who) {
			_ = c.Close()
			continue
		}
		return &guest{Conn: c, leave: sync.OnceFunc(func() { d.leave(who) })}, nil
	}
}

func (d *door) enter(who string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.all >= d.most || d.by[who] >= d.perAddress {
		return false
	}
	d.all++
	d.by[who]++
	return true
}

func (d *door) leave(who string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.all--
	if d.by[who]--; d.by[who] == 0 {
		delete(d.by, who)
	}
}

// guest is a connection that says when it is over.
type guest struct {
	net.Conn
	leave func()
}

// Close implements [net.Conn].
func (g *guest) Close() error {
	g.leave()
	return g.Conn.Close()
}

func addressOf(a net.Addr) netip.Addr {
	t, ok := a.(*net.TCPAddr)
	if !ok {
		return netip.Addr{}
	}
	return t.AddrPort().Addr().Unmap()
}

// private reports whether a connection's end is one that the authority may
// speak for.
func private(a net.Addr) bool {
	addr := addressOf(a)
	return addr.IsValid() && authority.Permitted(addr)
}

// patient gives slow nets time and ends what stalls: each piece of a body, and
// each piece of an answer, has a time of its own, and a body has one in all.
type patient struct {
	http.Handler
	limits Limits
}

// ServeHTTP implements [http.Handler].
func (p patient) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	control := http.NewResponseController(w)
	if r.Body != nil && r.ContentLength != 0 {
		b := &slowBody{ReadCloser: r.Body, control: control, stall: p.limits.Stall, ends: time.Now().Add(p.limits.Longest)}
		b.wait() // also for what the handler leaves unread
		r.Body = b
	}
	p.Handler.ServeHTTP(&slowAnswer{ResponseWriter: w, control: control, stall: p.limits.Stall}, r)
}

type slowBody struct {
	io.ReadCloser
	control *http.ResponseController
	stall   time.Duration
	ends    time.Time
}

func (b *slowBody) wait() {
	until := time.Now().Add(b.stall)
	if until.After(b.ends) {
		until = b.ends
	}
	_ = b.control.SetReadDeadline(until) // a connection that has none ends with the server
}

// Read implements [io.Reader].
func (b *slowBody) Read(p []byte) (int, error) {
	b.wait()
	n, err := b.ReadCloser.Read(p)
	if errors.Is(err, io.EOF) {
		_ = b.control.SetReadDeadline(time.Time{}) // what was asked for may take its time
	}
	return n, err
}

// slowAnswer hides how a file is sent whole, so that each piece has its time.
type slowAnswer struct {
	http.ResponseWriter
	control *http.ResponseController
	stall   time.Duration
}

// Write implements [io.Writer] in pieces.
func (a *slowAnswer) Write(p []byte) (n int, err error) {
	const piece = 64 << 10
	for {
		_ = a.control.SetWriteDeadline(time.Now().Add(a.stall))
		some, err := a.ResponseWriter.Write(p[:min(len(p), piece)])
		n += some
		if p = p[some:]; err != nil || len(p) == 0 {
			return n, err
		}
	}
}

// Unwrap is for [http.ResponseController].
func (a *slowAnswer) Unwrap() http.ResponseWriter { return a.ResponseWriter }

// listen opens an address, and says in words why it cannot.
func listen(address string, what string) (net.Listener, error) {
	l, err := net.Listen("tcp", address)
	if err != nil {
		_, port, _ := net.SplitHostPort(address)
		return nil, fmt.Errorf("port %s, for %s, cannot be opened: %w. Another program has it, or another window of this one; end that, or choose another port (--tablet-port), which tablets then need too", port, what, err)
	}
	return l, nil
}
