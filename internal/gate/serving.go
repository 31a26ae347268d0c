package gate

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"brinefield/internal/access"
	"brinefield/internal/app"
	"brinefield/internal/authority"
	"brinefield/internal/names"
)

// serving is a gate while it is open.
type serving struct {
	authority *authority.Authority
	leaves    *authority.Leaves
	keeper    *access.Keeper
	port      int
	listener  net.Listener
	server    *http.Server
	stop      context.CancelFunc // of the name
	named     sync.WaitGroup
	release   func() error

	asks, strangers, codes *rates
	devices                *busy
	uploads                *uploads

	mu      sync.Mutex // of what follows
	code    *app.PairingCode
	name    string // state of the name
	problem string
	install *installing
}

const (
	nameOff     = "off"
	nameLooking = "looking"
	nameFound   = "found"
	nameTakenBy = "taken"
	// nameAgain is when a name that another machine had is tried again.
	nameAgain = 30 * time.Second
	// grace is for answers under way when serving ends.
	grace = 2 * time.Second
)

// begin opens the gate; it is no error where it is open.
func (g *Gate) begin() (err error) {
	if g.serving.Load() != nil {
		return nil
	}
	release, keeper, err := g.hold()
	if err != nil {
		return err
	}
	s := &serving{
		keeper: keeper, release: release, name: nameOff,
		asks: newRates(g.limits.Asks, g.opt.Clock), strangers: newRates(g.limits.Strangers, g.opt.Clock), codes: newRates(g.limits.Codes, g.opt.Clock),
		devices: newBusy(g.limits, g.opt.Clock), uploads: &uploads{most: g.limits.Uploads},
	}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("%w: %w", app.ErrNotServing, err), release())
		}
	}()
	if s.authority, err = authority.Open(filepath.Join(g.opt.Keys, authorityFolder), g.opt.Clock()); err != nil {
		return err
	}
	s.leaves = authority.NewLeaves(s.authority, g.opt.Addresses, g.opt.Clock)
	if _, err = s.leaves.Current(); err != nil {
		return err
	}
	if s.listener, err = g.listen(); err != nil {
		return err
	}
	s.port = s.listener.Addr().(*net.TCPAddr).Port
	s.server = g.server(patient{g.opt.Handler(g), g.limits})
	s.server.TLSConfig = s.leaves.TLS()
	g.serving.Store(s)
	go func() { _ = s.server.ServeTLS(newDoor(s.listener, g.limits), "", "") }() // ends when it is shut
	ctx, stop := context.WithCancel(context.Background())
	s.stop = stop
	if !addressOf(s.listener.Addr()).IsLoopback() {
		s.named.Go(func() { s.answerName(ctx) })
	}
	return nil
}

// server is one with times that fit a slow net, and that writes nothing of
// strangers into a log.
func (g *Gate) server(handler http.Handler) *http.Server {
	return &http.Server{
		Handler: handler, ReadHeaderTimeout: 20 * time.Second, IdleTimeout: 90 * time.Second, MaxHeaderBytes: 32 << 10,
		ErrorLog: log.New(io.Discard, "", 0),
		HTTP2:    &http.HTTP2Config{MaxConcurrentStreams: 64, SendPingTimeout: 30 * time.Second, PingTimeout: 15 * time.Second, WriteByteTimeout: g.limits.Stall},
	}
}

// listen opens the port: the one that was asked for, else that of the last
// time. It is kept, and never another one is taken instead: an app on a
// tablet's home screen leads to the port that it was installed from.
func (g *Gate) listen() (net.Listener, error) {
	if g.opt.Listen != "" {
		return listen(g.opt.Listen, "tablets")
	}
	kept := g.keptPort()
	port := g.opt.Port
	if port == 0 {
		port = kept
	}
	l, err := listen(":"+strconv.Itoa(port), "tablets")
	if err != nil || port == kept {
		return l, err
	}
	if err := os.WriteFile(filepath.Join(g.opt.Keys, portFile), []byte(strconv.Itoa(port)+"\n"), 0o600); err != nil {
		return nil, errors.Join(fmt.Errorf("the port could not be written down for the next time: %w", err), l.Close())
	}
	return l, nil
}

// keptPort is the port of the last time; one that cannot be read is the usual.
func (g *Gate) keptPort() int {
	text, err := os.ReadFile(filepath.Join(g.opt.Keys, portFile))
	if err != nil {
		return Port
	}
	n, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil || n < 1 || n > 65535 {
		return Port
	}
	return n
}

// answerName answers for the laptop's name until serving ends. Where another
// machine has it, it is tried again.
func (s *serving) answerName(ctx context.Context) {
	for ctx.Err() == nil {
		s.setName(nameLooking, "")
		err := names.Responder{
			Name: s.authority.Name(), Interfaces: names.Private,
			Problem: func(err error) { s.setName("", err.Error()) },
			Found:   func() { s.setName(nameFound, "") },
		}.Serve(ctx)
		state := nameLooking
		if nameTaken(err) {
			state = nameTakenBy
		}
		if err != nil {
			s.setName(state, err.Error())
		}
		select {
		case <-ctx.Done():
		case <-time.After(nameAgain):
		}
	}
}

func (s *serving) setName(state, problem string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if state != "" {
		s.name = state
	}
	s.problem = problem
}

// end shuts the gate; it is no error where it is shut. Who is being answered
// has a moment.
func (g *Gate) end() error {
	s := g.serving.Swap(nil)
	if s == nil {
		return nil
	}
	s.stop()
	s.closeInstall()
	ctx, cancel := context.WithTimeout(context.Background(), grace)
	defer cancel()
	err := s.server.Shutdown(ctx)
	if errors.Is(err, context.DeadlineExceeded) {
		err = s.server.Close()
	}
	s.named.Wait()
	return errors.Join(err, s.keeper.Flush(), s.release())
}
