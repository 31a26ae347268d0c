//go:build unix

package main

import (
	"errors"
	"io"
	"math"
	mathrand "math/rand/v2"
	"net"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"brinefield/internal/app"
)

const deckSeed = 20261129

// TestServerKilledUnderLoad kills the laptop's program a few times while three tablets
// log and sync; make soak does it 200 times.
func TestServerKilledUnderLoad(t *testing.T) { killedUnderLoad(t, 6, deckSeed) }

// killedUnderLoad kills brinefield serve at random instants, also while it begins.
// The tablets go on writing whether it is there or not, and take it at its word:
// what it called safe must be there after every kill, and all of it at the end.
func killedUnderLoad(t *testing.T, kills int, seed uint64) {
	b := newBoat(t, t.TempDir())
	b.start(t)
	chance := mathrand.New(mathrand.NewPCG(seed, 2))
	var tablets []*deckTablet
	for i := range 3 {
		tablets = append(tablets, b.pair(t, seed+uint64(i), ""))
	}
	l := beginLoad(t, tablets)
	busy := 0 // kills after which it had answered since it began
	for n := range kills {
		before, wait := l.answered.Load(), time.Duration(chance.IntN(100))*time.Millisecond
		if n > 0 {
			if err := b.launch(); err != nil {
				t.Fatal(err)
			}
			if n%4 != 3 { // else it is killed wherever it is on its way
				if err := b.ready(); err != nil {
					t.Fatal(err)
				}
			}
		}
		if n%4 != 3 {
			l.waitFor(before+chance.Int64N(12), 5*time.Second)
		}
		time.Sleep(wait)
		b.kill()
		if l.answered.Load() > before {
			busy++
		}
		if l.broken.Load() != nil {
			t.Fatalf("kill %d after %v (seed %d): %v", n, wait, seed, *l.broken.Load())
		}
	}
	b.start(t)
	l.end(t)
	for _, d := range tablets {
		if err := d.bringAll(t.Context(), 200); err != nil {
			t.Fatalf("%s: %v", d.name, err)
		}
	}
	b.stop(t)
	entries, things := wholeOn(t, b.dir, tablets)
	t.Logf("%d kills of the laptop's program, %d of them while it was answering batches, seed %d: %d entries and %d names, readings and photos of 3 tablets, each there once and as it was sent; %d batches acknowledged, %d broken off in the middle; nothing that was called safe was missing after any kill",
		kills, busy, seed, entries, things, l.answered.Load(), l.cut.Load())
	if int(l.answered.Load()) < kills || busy < kills/2 || l.cut.Load() == 0 {
		t.Errorf("the load was none: %d answers, %d kills in their midst, %d broken off", l.answered.Load(), busy, l.cut.Load())
	}
}

// load are tablets that log and sync by themselves.
type load struct {
	stop          chan struct{}
	working       sync.WaitGroup
	answered, cut atomic.Int64
	broken        atomic.Pointer[error]
}

func beginLoad(t *testing.T, tablets []*deckTablet) *load {
	l := &load{stop: make(chan struct{})}
	for _, d := range tablets {
		l.working.Go(func() {
			for {
				select {
				case <-l.stop:
					return
				default:
				}
				// Nobody logs as fast as this loop runs while the laptop is away.
				if int64(len(d.lines))-d.safe < 300 {
					d.log(1 + d.chance.IntN(8))
				}
				if !l.one(d.sync(t.Context(), 1+d.chance.IntN(60))) {
					time.Sleep(time.Duration(5+d.chance.IntN(20)) * time.Millisecond)
				}
			}
		})
	}
	return l
}

// one notes how a batch went.
func (l *load) one(err error) bool {
	var refused *refusedError
	var lost *lostError
	switch {
	case err == nil:
		l.answered.Add(1)
		return true
	case errors.As(err, &lost), errors.As(err, &refused) && refused.status != http.StatusTooManyRequests && refused.status != http.StatusServiceUnavailable:
		l.broken.CompareAndSwap(nil, &err)
	case !errors.As(err, &refused) && !errors.Is(err, syscall.ECONNREFUSED): // there was somebody
		l.cut.Add(1)
	}
	return false
}

// waitFor waits until so many batches were answered, at most so long.
func (l *load) waitFor(answered int64, most time.Duration) {
	for began := time.Now(); l.answered.Load() < answered && l.broken.Load() == nil && time.Since(began) < most; {
		time.Sleep(time.Millisecond)
	}
}

func (l *load) end(t *testing.T) {
	t.Helper()
	close(l.stop)
	l.working.Wait()
	if err := l.broken.Load(); err != nil {
		t.Fatal(*err)
	}
}

// TestConnectionCut lets a tablet sync through a net that breaks.
func TestConnectionCut(t *testing.T) { connectionCut(t, 25, deckSeed) }

// connectionCut brings batches through a proxy that lets so many bytes through in
// one direction, at random, and then closes the connection.
func connectionCut(t *testing.T, cuts int, seed uint64) {
	b := newBoat(t, t.TempDir())
	b.start(t)
	net := newBadNet(t, b.address, seed)
	d := b.pair(t, seed, net.address)
	net.breaks.Store(true)
	answered, broken, tries := 0, 0, 0
	for net.cut.Load() < int64(cuts) {
		d.log(20)
		for range 10 { // a tablet tries again and again
			tries++
			d.client.CloseIdleConnections() // each connection breaks at a place of its own
			err := d.sync(t.Context(), 30)
			var lost *lostError
			var refused *refusedError
			if errors.As(err, &lost) || errors.As(err, &refused) && refused.status != http.StatusTooManyRequests {
				t.Fatalf("after %d cuts (seed %d): %v", net.cut.Load(), seed, err)
			}
			if err == nil {
				answered++
				break
			}
			broken++
		}
		if tries > 100*cuts {
			t.Fatalf("only %d cuts in %d tries", net.cut.Load(), tries)
		}
	}
	net.breaks.Store(false)
	if err := d.bringAll(t.Context(), 200); err != nil {
		t.Fatal(err)
	}
	b.stop(t)
	entries, things := wholeOn(t, b.dir, []*deckTablet{d})
	t.Logf("%d connections cut in the middle, in both directions, seed %d: %d batches answered, %d broken off; %d entries and %d names, readings and photos, each there once and as it was sent",
		net.cut.Load(), seed, answered, broken, entries, things)
	if broken < cuts/2 || answered < 3 {
		t.Errorf("the net was too good or too bad: %d broken, %d answered", broken, answered)
	}
}

// badNet passes connections on and, while it breaks, closes them after so many
// bytes of one direction.
type badNet struct {
	address string
	to      string
	breaks  atomic.Bool
	cut     atomic.Int64

	mu     sync.Mutex
	chance *mathrand.Rand
}

func newBadNet(t *testing.T, to string, seed uint64) *badNet {
	t.Helper()
	l, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = l.Close() })
	n := &badNet{address: l.Addr().String(), to: to, chance: mathrand.New(mathrand.NewPCG(seed, 3))}
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go n.pass(c)
		}
	}()
	return n
}

func (n *badNet) pass(c net.Conn) {
	defer c.Close()
	far, err := net.Dial("tcp4", n.to)
	if err != nil {
		return
	}
	defer far.Close()
	up, down := int64(math.MaxInt64), int64(math.MaxInt64)
	if n.breaks.Load() {
		// Evenly on the scale of powers: the greeting, a batch, its photos.
		n.mu.Lock()
		after := int64(math.Exp(n.chance.Float64() * math.Log(400_000)))
		if n.chance.IntN(2) == 0 {
			up = after
		} else {
			down = int64(math.Exp(n.chance.Float64() * math.Log(8_000))) // an answer is short
		}
		n.mu.Unlock()
	}
	var both sync.WaitGroup
	flow := func(to, from net.Conn, most int64) {
		defer to.Close()
		defer from.Close()
		if _, err := io.CopyN(to, from, most); err == nil {
			n.cut.Add(1)
		}
	}
	both.Go(func() { flow(far, c, up) })
	both.Go(func() { flow(c, far, down) })
	both.Wait()
}

// TestRefusedIsSaid: what the laptop refuses it says in a sentence, and nothing of
// it is kept: entries of another device, a fork of one's own, a kind that no tablet
// writes.
func TestRefusedIsSaid(t *testing.T) {
	b := newBoat(t, t.TempDir())
	b.start(t)
	one, two := b.pair(t, 1, ""), b.pair(t, 2, "")
	one.log(30)
	two.log(30)
	for _, d := range []*deckTablet{one, two} {
		if err := d.bringAll(t.Context(), 10); err != nil {
			t.Fatal(err)
		}
	}
	thief := *two
	thief.name, thief.lines, thief.hashes, thief.safe, thief.waits = one.name, one.lines, one.hashes, 0, nil
	fork := *one
	fork.lines, fork.hashes, fork.safe = one.lines[:20:20], one.hashes[:20:20], 20
	fork.head.Seq, fork.head.Hash = 20, one.hashes[19]
	fork.log(3)
	for what, c := range map[string]struct {
		d      *deckTablet
		status int
		says   string
	}{
		"another device": {&thief, http.StatusForbidden, "nothing of what was sent was taken in"},
		"a fork":         {&fork, http.StatusConflict, "go on as a new device"},
	} {
		err := c.d.sync(t.Context(), 100)
		var refused *refusedError
		if !errors.As(err, &refused) || refused.status != c.status || !strings.Contains(refused.said, c.says) {
			t.Errorf("%s: %v; want %d and %q", what, err, c.status, c.says)
		}
	}
	b.stop(t)
	if entries, _ := wholeOn(t, b.dir, []*deckTablet{one, two}); entries != 60 {
		t.Errorf("%d entries; want 60", entries)
	}
}

// TestTabletsNoticeLoss: a laptop that breaks its word is found out.
func TestTabletsNoticeLoss(t *testing.T) {
	d := loggingTablet("deck-7c1e", 1)
	heads := func(seq int64, hash string) app.DeckAnswer {
		return app.DeckAnswer{Heads: map[string]app.DeckHead{d.name: {Seq: seq, Hash: hash}}}
	}
	person := strings.TrimPrefix(d.person, "person:")
	missing := heads(50, d.hashes[49].String())
	missing.Missing = []string{person}
	safe := heads(50, d.hashes[49].String())
	safe.Blobs = []string{person}
	for _, answer := range []app.DeckAnswer{heads(0, ""), heads(20, d.hashes[19].String()), safe} {
		if err := d.heed(answer); err != nil {
			t.Fatalf("%+v: %v", answer, err)
		}
	}
	for what, answer := range map[string]app.DeckAnswer{
		"an entry is gone": heads(49, d.hashes[48].String()), "all are gone": {}, "another entry": heads(50, d.hashes[48].String()),
		"too many": heads(121, d.hashes[119].String()), "a name is gone": missing,
	} {
		var lost *lostError
		if err := d.heed(answer); !errors.As(err, &lost) {
			t.Errorf("%s: %v", what, err)
		}
	}
}
