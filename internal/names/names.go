// Package names answers for one name on the nets of a boat: multicast DNS (RFC
// 6762), so that a tablet finds the laptop as brinefield-XXXX.local whatever
// address it has today. It answers while [Responder.Serve] runs, on interfaces
// with private addresses only, to whoever is on the same link, and for nothing
// but addresses of the one name.
package names

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"net/netip"
	"slices"
	"sync"
	"time"

	"golang.org/x/net/dns/dnsmessage"
)

const (
	port = 5353
	// lookEvery is how often the machine's interfaces are looked at.
	lookEvery = 5 * time.Second
	// probes and probeGap: RFC 6762, 8.1.
	probes   = 3
	probeGap = 250 * time.Millisecond
	// announceGap is between the two announcements (8.3).
	announceGap = time.Second
	// rest is between two answers of the same to everybody (6).
	rest = time.Second
)

// ErrTaken: another machine on the net has the name.
var ErrTaken = errors.New("another machine on this net has this laptop's name")

// Interface is one of the machine's, with its private nets.
type Interface struct {
	Index int
	Name  string
	Nets  []netip.Prefix // address and length: 192.168.1.20/24
}

// Responder answers for Name.
type Responder struct {
	Name       string                      // without a final dot
	Interfaces func() ([]Interface, error) // those to answer on now: [Private]
	// Problem is told what keeps the name from being found on an interface, in
	// a sentence, each once, from several goroutines; it may be nil.
	Problem func(error)
	// Found is told that nobody else has the name on an interface, so that it is
	// answered for there from now on; it may be nil.
	Found func()

	port int // 0: 5353
}

// Private are the interfaces that are up and have an address of a private or
// link-local net, with those addresses only. Loopback is not one of them: the
// laptop itself needs no name.
func Private() ([]Interface, error) {
	all, err := net.Interfaces()
	if err != nil {
		return nil, fmt.Errorf("asking for this machine's interfaces: %w", err)
	}
	var out []Interface
	for _, one := range all {
		if one.Flags&net.FlagUp == 0 || one.Flags&net.FlagLoopback != 0 || one.Flags&net.FlagMulticast == 0 || one.Flags&net.FlagPointToPoint != 0 {
			continue
		}
		addresses, err := one.Addrs()
		if err != nil {
			continue // it went away meanwhile
		}
		if nets := privateOf(addresses); len(nets) > 0 {
			out = append(out, Interface{Index: one.Index, Name: one.Name, Nets: nets})
		}
	}
	return out, nil
}

func privateOf(addresses []net.Addr) (out []netip.Prefix) {
	for _, a := range addresses {
		n, ok := a.(*net.IPNet)
		if !ok {
			continue
		}
		addr, ok := netip.AddrFromSlice(n.IP)
		addr = addr.Unmap()
		length, _ := n.Mask.Size()
		if ok && (addr.IsPrivate() || addr.IsLinkLocalUnicast()) {
			out = append(out, netip.PrefixFrom(addr, length))
		}
	}
	return out
}

// addresses are those of an interface, IPv4 first: it is what a tablet on a
// phone's hotspot can use.
func (i Interface) addresses() []netip.Addr {
	out := make([]netip.Addr, len(i.Nets))
	for j, n := range i.Nets {
		out[j] = n.Addr()
	}
	slices.SortFunc(out, netip.Addr.Compare)
	return slices.Compact(out)
}

// holds reports whether an address is on the link of this interface (RFC
// 6762, 11): nobody beyond it is answered.
func (i Interface) holds(a netip.Addr) bool {
	a = a.Unmap().WithZone("")
	return a.Is6() && a.IsLinkLocalUnicast() || slices.ContainsFunc(i.Nets, func(n netip.Prefix) bool { return n.Contains(a) })
}

func (i Interface) same(j Interface) bool {
	return i.Index == j.Index && slices.Equal(i.addresses(), j.addresses())
}

// Serve answers until the context ends, and follows the machine's addresses:
// a new one is announced, one that went is not answered for any more. Where
// another machine has the name it is [ErrTaken], and nothing was answered for
// it; an interface that cannot be used is told to Problem, and the others serve.
func (r Responder) Serve(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	var all sync.WaitGroup
	defer all.Wait()
	defer cancel()
	taken := make(chan error, 1)
	own := &addressBook{}
	r.Problem = once(r.Problem)
	type running struct {
		Interface
		stop context.CancelFunc
		done chan struct{}
	}
	links := map[int]running{}
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	for {
		found, err := r.Interfaces()
		if err != nil {
			r.tell(err)
		} else {
			own.set(found)
			for index, l := range links {
				ended := false
				select {
				case <-l.done:
					ended = true
				default:
				}
				if ended || !slices.ContainsFunc(found, l.same) {
					l.stop()
					<-l.done
					delete(links, index)
				}
			}
			for _, i := range found {
				if _, there := links[i.Index]; there {
					continue
				}
				inner, stop := context.WithCancel(ctx)
				l := running{Interface: i, stop: stop, done: make(chan struct{})}
				links[i.Index] = l
				all.Go(func() {
					defer close(l.done)
					defer stop()
					err := (&link{Responder: r, i: i, own: own, answered: map[dnsmessage.Type]time.Time{}}).serve(inner)
					switch {
					case errors.Is(err, ErrTaken):
						select {
						case taken <- err:
						default:
						}
					case err != nil:
						r.tell(fmt.Errorf("the name %s is not answered for on %s: %w. Tablets there can use an address of the laptop instead", r.Name, i.Name, err))
					}
				})
			}
		}
		select {
		case <-ctx.Done():
			return nil
		case err := <-taken:
			return err
		case <-look.C:
		}
	}
}

func (r Responder) tell(err error) { r.Problem(err) }

// once tells each sentence once: an interface that cannot be used is tried
// again every few seconds.
func once(problem func(error)) func(error) {
	var mu sync.Mutex
	told := map[string]bool{}
	return func(err error) {
		mu.Lock()
		defer mu.Unlock()
		if problem != nil && !told[err.Error()] {
			told[err.Error()] = true
			problem(err)
		}
	}
}

// addressBook is every address of this machine, on all interfaces: two
// interfaces on one net hear each other, and that is no clash.
type addressBook struct {
	mu   sync.Mutex
	have []netip.Addr
}

func (b *addressBook) set(found []Interface) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, i := range found {
		for _, a := range i.addresses() {
			if !slices.Contains(b.have, a) {
				b.have = append(b.have, a) // what was ours a moment ago may still be on its way
			}
		}
	}
}

// strangers are the addresses that are not this machine's.
func (b *addressBook) strangers(list []netip.Addr) []netip.Addr {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.DeleteFunc(slices.Clone(list), func(a netip.Addr) bool { return slices.Contains(b.have, a) })
}

// pause waits, or reports false when the context ended first.
func pause(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-t.C:
		return true
	}
}

// jitter is a random time below d: machines that were switched on together do
// not speak at once (8.1).
func jitter(d time.Duration) time.Duration { return rand.N(d) }
