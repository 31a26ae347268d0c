package names

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"slices"
	"strconv"
	"sync"
	"time"

	"golang.org/x/net/dns/dnsmessage"
	"golang.org/x/net/ipv4"
	"golang.org/x/net/ipv6"
)

var (
	group4 = netip.MustParseAddr("224.0.0.251")
	group6 = netip.MustParseAddr("ff02::fb")
)

// link is the responder on one interface.
type link struct {
	Responder
	i   Interface
	own *addressBook

	mu       sync.Mutex
	answered map[dnsmessage.Type]time.Time // when everybody was told last, by what was asked
	sure     bool                          // the name is ours here: probing is over
	clash    chan netip.Addr
}

// wire is one socket of a link, for IPv4 or IPv6.
type wire struct {
	conn  net.PacketConn
	group net.Addr
	read  func([]byte) (n, index int, from net.Addr, err error)
	write func([]byte, net.Addr) error
}

func (l *link) portOf() int {
	if l.port != 0 {
		return l.port
	}
	return port
}

// serve probes, announces, answers, and says good-bye.
func (l *link) serve(ctx context.Context) error {
	wires, err := l.open()
	if err != nil {
		return err
	}
	l.clash = make(chan netip.Addr, 1)
	var readers sync.WaitGroup
	stop := sync.OnceFunc(func() {
		for _, w := range wires {
			_ = w.conn.Close() // ends its reader
		}
	})
	defer readers.Wait()
	defer stop()
	for _, w := range wires {
		readers.Go(func() { l.listen(w) })
	}
	if err := l.claim(ctx, wires); err != nil || ctx.Err() != nil {
		return err
	}
	for range 2 {
		l.everybody(wires, announcement(l.Name, l.i.addresses(), hostTTL))
		if !pause(ctx, announceGap) {
			break
		}
	}
	for ctx.Err() == nil {
		select {
		case <-ctx.Done():
		case <-l.clash:
			// Somebody says another address: once more from the start (9).
			l.setSure(false)
			if err := l.claim(ctx, wires); err != nil {
				return err
			}
			l.everybody(wires, announcement(l.Name, l.i.addresses(), hostTTL))
		}
	}
	l.everybody(wires, announcement(l.Name, l.i.addresses(), 0))
	return nil
}

// claim asks three times whether somebody has the name.
func (l *link) claim(ctx context.Context, wires []wire) error {
	wait := jitter(probeGap)
	for range probes {
		if err := l.quiet(ctx, wait); err != nil || ctx.Err() != nil {
			return err
		}
		l.everybody(wires, probe(l.Name, l.i.addresses()))
		wait = probeGap
	}
	if err := l.quiet(ctx, probeGap); err != nil {
		return err
	}
	if ctx.Err() != nil {
		return nil
	}
	l.setSure(true)
	if l.Found != nil {
		l.Found()
	}
	return nil
}

// quiet waits for a time in which nobody claims the name.
func (l *link) quiet(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return nil
	case who := <-l.clash:
		return fmt.Errorf("%w: %s is %s on %s. If that is a copy of this laptop, or of its folder of keys, only one of the two can serve on one net", ErrTaken, l.Name, who, l.i.Name)
	case <-t.C:
		return nil
	}
}

func (l *link) setSure(sure bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.sure = sure
}

func (l *link) everybody(wires []wire, packet []byte) {
	for _, w := range wires {
		_ = w.write(packet, w.group) // a net that is down for a moment is asked again by whoever needs it
	}
}

// listen reads one socket until it is closed.
func (l *link) listen(w wire) {
	buffer := make([]byte, largestPacket)
	for {
		n, index, from, err := w.read(buffer)
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			time.Sleep(10 * time.Millisecond) // an interface that goes down says so again and again until the link is closed
			continue
		}
		source, ok := from.(*net.UDPAddr)
		if !ok || index != 0 && index != l.i.Index || !l.i.holds(source.AddrPort().Addr()) {
			continue
		}
		if packet, to := l.hear(buffer[:n], source, w.group, time.Now()); packet != nil {
			_ = w.write(packet, to)
		}
	}
}

// hear is what to send, and to whom, when a packet came in.
func (l *link) hear(packet []byte, from *net.UDPAddr, group net.Addr, now time.Time) ([]byte, net.Addr) {
	m := parse(packet, l.Name)
	fromPort := from.Port == l.portOf()
	if fromPort && len(m.claims) > 0 {
		// Somebody who says one of our addresses too is us, heard by another way.
		if others := l.own.strangers(m.claims); len(others) == len(m.claims) {
			l.report(others[0])
		}
	}
	q := m.question
	if q == nil {
		return nil, nil
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	addresses := l.i.addresses()
	if !l.sure {
		// Two that probe at once: the one with the later addresses keeps the name (8.2).
		if others := l.own.strangers(q.claimed); len(others) > 0 && len(others) == len(q.claimed) && later(q.claimed, addresses) {
			l.report(others[0])
		}
		return nil, nil
	}
	if !fromPort {
		return answer(q, l.Name, addresses, true), from
	}
	if q.alone && !q.probe {
		return answer(q, l.Name, addresses, false), from
	}
	if !q.probe {
		q.asked = slices.DeleteFunc(q.asked, func(one dnsmessage.Question) bool { // everybody heard that a moment ago
			last, ok := l.answered[one.Type]
			return ok && now.Sub(last) >= 0 && now.Sub(last) < rest
		})
	}
	out := answer(q, l.Name, addresses, false)
	for _, one := range q.asked {
		if out != nil {
			l.answered[one.Type] = now
		}
	}
	return out, group
}

func (l *link) report(who netip.Addr) {
	select {
	case l.clash <- who:
	default:
	}
}

// later compares two sets of records as RFC 6762, 8.2.1 does: sorted by type
// and data, the first difference counts, and the longer set is later.
func later(theirs, ours []netip.Addr) bool {
	byData := func(list []netip.Addr) []netip.Addr {
		out := slices.Clone(list)
		slices.SortFunc(out, netip.Addr.Compare) // A (1) before AAAA (28), then by bytes
		return out
	}
	return slices.CompareFunc(byData(theirs), byData(ours), netip.Addr.Compare) > 0
}

// open makes the sockets of a link: one for each family of its addresses. A
// wildcard address that others on this machine (the system's own responder) may
// share is what net.ListenPacket gives for a group's address.
func (l *link) open() (wires []wire, err error) {
	ifi := &net.Interface{Index: l.i.Index, Name: l.i.Name}
	p := strconv.Itoa(l.portOf())
	has := func(is func(netip.Addr) bool) bool { return slices.ContainsFunc(l.i.addresses(), is) }
	var faults []error
	if has(netip.Addr.Is4) {
		w, err := open4(ifi, p)
		faults = append(faults, err)
		if err == nil {
			wires = append(wires, w)
		}
	}
	if has(netip.Addr.Is6) {
		w, err := open6(ifi, p)
		faults = append(faults, err)
		if err == nil {
			wires = append(wires, w)
		}
	}
	if len(wires) == 0 {
		return nil, errors.Join(faults...)
	}
	return wires, nil
}

func open4(ifi *net.Interface, port string) (wire, error) {
	conn, err := net.ListenPacket("udp4", net.JoinHostPort(group4.String(), port))
	if err != nil {
		return wire{}, err
	}
	p := ipv4.NewPacketConn(conn)
	group := &net.UDPAddr{IP: group4.AsSlice(), Port: portNumber(port)}
	if err := errors.Join(p.JoinGroup(ifi, group), p.SetMulticastInterface(ifi), p.SetMulticastTTL(255), p.SetMulticastLoopback(true)); err != nil {
		return wire{}, errors.Join(err, conn.Close())
	}
	_ = p.SetTTL(255)                                 // recommended for unicast answers (11)
	_ = p.SetControlMessage(ipv4.FlagInterface, true) // not on Windows: there the source's net tells
	return wire{
		conn: conn, group: group,
		read: func(b []byte) (int, int, net.Addr, error) {
			n, cm, from, err := p.ReadFrom(b)
			if cm == nil {
				return n, 0, from, err
			}
			return n, cm.IfIndex, from, err
		},
		write: func(b []byte, to net.Addr) error { _, err := p.WriteTo(b, nil, to); return err },
	}, nil
}

func open6(ifi *net.Interface, port string) (wire, error) {
	conn, err := net.ListenPacket("udp6", net.JoinHostPort(group6.String(), port))
	if err != nil {
		return wire{}, err
	}
	p := ipv6.NewPacketConn(conn)
	group := &net.UDPAddr{IP: group6.AsSlice(), Port: portNumber(port), Zone: ifi.Name}
	if err := errors.Join(p.JoinGroup(ifi, group), p.SetMulticastInterface(ifi), p.SetMulticastHopLimit(255), p.SetMulticastLoopback(true)); err != nil {
		return wire{}, errors.Join(err, conn.Close())
	}
	_ = p.SetHopLimit(255)
	_ = p.SetControlMessage(ipv6.FlagInterface, true)
	return wire{
		conn: conn, group: group,
		read: func(b []byte) (int, int, net.Addr, error) {
			n, cm, from, err := p.ReadFrom(b)
			if cm == nil {
				return n, 0, from, err
			}
			return n, cm.IfIndex, from, err
		},
		write: func(b []byte, to net.Addr) error { _, err := p.WriteTo(b, nil, to); return err },
	}, nil
}

func portNumber(s string) int {
	n, _ := strconv.Atoi(s) // made by portOf
	return n
}
