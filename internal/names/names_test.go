package names

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"net"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/net/dns/dnsmessage"
	"golang.org/x/net/ipv4"
)

const testName = "brinefield-ab12.local"

// wireName is the name as RFC 1035, 3.1 writes it: each label after its length.
const wireName = "0f 6272696e656669656c642d61623132 05 6c6f63616c 00"

func bytesOf(t *testing.T, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.Join(strings.Fields(text), ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func at(list ...string) []netip.Addr {
	out := make([]netip.Addr, len(list))
	for i, s := range list {
		out[i] = netip.MustParseAddr(s)
	}
	return out
}

// Packets put together by hand from RFC 1035, 4.1 (header, question, record)
// and RFC 6762: 18 (ID 0, QR and AA in a response), 10.2 (top bit of the class:
// cache flush), 5.4 (top bit: unicast wanted), 10 (TTL 120 = 0x78).
func TestPackets(t *testing.T) {
	const (
		header1 = "0000 8400 0000 0001 0000 0000"
		header2 = "0000 8400 0000 0002 0000 0000"
		pointer = "c00c"
		a4      = "0001 8001 00000078 0004 c0a80114"                         // A 192.168.1.20
		aaaa    = "001c 8001 00000078 0010 fd000000000000000000000000000002" // AAAA fd00::2
	)
	queryFor := func(kind, class string) []byte {
		return bytesOf(t, "0000 0000 0001 0000 0000 0000"+wireName+kind+class)
	}
	for name, c := range map[string]struct {
		query []byte
		have  []netip.Addr
		old   bool // not from port 5353
		want  string
	}{
		"A":                      {queryFor("0001", "0001"), at("192.168.1.20", "fd00::2"), false, header1 + wireName + a4},
		"A, answer me alone":     {queryFor("0001", "8001"), at("192.168.1.20"), false, header1 + wireName + a4},
		"AAAA":                   {queryFor("001c", "0001"), at("192.168.1.20", "fd00::2"), false, header1 + wireName + aaaa},
		"any":                    {queryFor("00ff", "0001"), at("192.168.1.20", "fd00::2"), false, header2 + wireName + a4 + pointer + aaaa},
		"any class":              {queryFor("0001", "00ff"), at("192.168.1.20"), false, header1 + wireName + a4},
		"in capitals":            {bytes.ReplaceAll(queryFor("0001", "0001"), []byte("brinefield"), []byte("BRINEFIELD")), at("192.168.1.20"), false, header1 + wireName + a4},
		"AAAA, of which is none": {queryFor("001c", "0001"), at("192.168.1.20"), false, header1 + wireName + "002f 8001 00000078 001a" + wireName + "00 01 40"},  // NSEC: A only
		"A, of which is none":    {queryFor("0001", "0001"), at("fd00::2"), false, header1 + wireName + "002f 8001 00000078 001d" + wireName + "00 04 00000008"}, // NSEC: AAAA only
		// RFC 6762, 6.7: ID and question come back, no top bit, a TTL of 10 at most.
		"an old resolver": {
			bytesOf(t, "abcd 0100 0001 0000 0000 0000"+wireName+"0001 0001"), at("192.168.1.20"), true,
			"abcd 8400 0001 0001 0000 0000" + wireName + "0001 0001" + pointer + "0001 0001 0000000a 0004 c0a80114",
		},
		// 7.1: what the asker knows, with half its time left, is not told again.
		"known":               {bytesOf(t, "0000 0000 0001 0001 0000 0000"+wireName+"0001 0001"+pointer+"0001 0001 0000003c 0004 c0a80114"), at("192.168.1.20"), false, ""},
		"known, but old":      {bytesOf(t, "0000 0000 0001 0001 0000 0000"+wireName+"0001 0001"+pointer+"0001 0001 0000003b 0004 c0a80114"), at("192.168.1.20"), false, header1 + wireName + a4},
		"known, but else":     {bytesOf(t, "0000 0000 0001 0001 0000 0000"+wireName+"0001 0001"+pointer+"0001 0001 00000078 0004 c0a80115"), at("192.168.1.20"), false, header1 + wireName + a4},
		"another name":        {bytes.ReplaceAll(queryFor("0001", "0001"), []byte("ab12"), []byte("cd34")), at("192.168.1.20"), false, ""},
		"its services":        {queryFor("000c", "0001"), at("192.168.1.20"), false, ""},
		"another class":       {queryFor("0001", "0003"), at("192.168.1.20"), false, ""},
		"no address":          {queryFor("0001", "0001"), nil, false, ""},
		"an error code":       {bytesOf(t, "0000 0003 0001 0000 0000 0000"+wireName+"0001 0001"), at("192.168.1.20"), false, ""},
		"another opcode":      {bytesOf(t, "0000 0800 0001 0000 0000 0000"+wireName+"0001 0001"), at("192.168.1.20"), false, ""},
		"a broken packet":     {queryFor("0001", "0001")[:30], at("192.168.1.20"), false, ""},
		"a pointer at itself": {bytesOf(t, "0000 0000 0001 0000 0000 0000 c00c 0001 0001"), at("192.168.1.20"), false, ""},
		"nothing":             {nil, at("192.168.1.20"), false, ""},
	} {
		var got []byte
		if m := parse(c.query, testName); m.question != nil {
			got = answer(m.question, testName, c.have, c.old)
		}
		if want := bytesOf(t, c.want); !bytes.Equal(got, want) {
			t.Errorf("%s:\n got %x\nwant %x", name, got, want)
		}
	}
	if got, want := probe(testName, at("192.168.1.20")), bytesOf(t, "0000 0000 0001 0000 0001 0000"+wireName+"00ff 8001"+pointer+"0001 0001 00000078 0004 c0a80114"); !bytes.Equal(got, want) {
		t.Errorf("a probe (8.1):\n got %x\nwant %x", got, want)
	}
	if got, want := announcement(testName, at("192.168.1.20"), 0), bytesOf(t, header1+wireName+"0001 8001 00000000 0004 c0a80114"); !bytes.Equal(got, want) {
		t.Errorf("a good-bye (10.1):\n got %x\nwant %x", got, want)
	}
}

func TestClaimsAndProbesAreRead(t *testing.T) {
	if got := parse(announcement(testName, at("10.0.0.1", "fe80::1"), hostTTL), testName).claims; !slices.Equal(got, at("10.0.0.1", "fe80::1")) {
		t.Errorf("an announcement claims %v", got)
	}
	if got := parse(announcement(testName, at("10.0.0.1"), 0), testName).claims; len(got) != 0 {
		t.Errorf("a good-bye claims %v", got)
	}
	if got := parse(announcement("printer.local", at("10.0.0.1"), hostTTL), testName).claims; len(got) != 0 {
		t.Errorf("another name claims %v", got)
	}
	q := parse(probe(testName, at("10.0.0.1")), testName).question
	if q == nil || !q.probe || !slices.Equal(q.claimed, at("10.0.0.1")) {
		t.Errorf("a probe is read as %+v", q)
	}
}

// TestTheLaterKeepsTheName: RFC 6762, 8.2, whose example is 169.254.99.200
// against 169.254.200.50: the second is later.
func TestTheLaterKeepsTheName(t *testing.T) {
	if !later(at("169.254.200.50"), at("169.254.99.200")) || later(at("169.254.99.200"), at("169.254.200.50")) {
		t.Error("the RFC's own example comes out the other way")
	}
	if later(at("10.0.0.1"), at("10.0.0.1")) || !later(at("10.0.0.1", "10.0.0.2"), at("10.0.0.1")) || !later(at("fe80::1"), at("192.168.1.1")) {
		t.Error("sets are compared in the wrong order")
	}
}

func linkFor(nets ...string) *link {
	i := Interface{Index: 1, Name: "lo"}
	for _, n := range nets {
		i.Nets = append(i.Nets, netip.MustParsePrefix(n))
	}
	own := &addressBook{}
	own.set([]Interface{i})
	return &link{Responder: Responder{Name: testName}, i: i, own: own, sure: true, answered: map[dnsmessage.Type]time.Time{}, clash: make(chan netip.Addr, 1)}
}

func TestWhoIsAnsweredAndHow(t *testing.T) {
	l := linkFor("192.168.1.20/24")
	group := &net.UDPAddr{IP: group4.AsSlice(), Port: port}
	tablet := &net.UDPAddr{IP: net.IPv4(192, 168, 1, 30), Port: port}
	all := parseQuery(t, "0001")
	now := time.Now()
	if out, to := l.hear(all, tablet, group, now); out == nil || to != group {
		t.Errorf("a question to everybody is answered %x to %v", out, to)
	}
	if out, _ := l.hear(all, tablet, group, now.Add(rest/2)); out != nil {
		t.Error("everybody is told twice within a second (RFC 6762, 6)")
	}
	if out, to := l.hear(bytesOf(t, "0000 0000 0001 0000 0000 0000"+wireName+"001c 0001"), tablet, group, now.Add(rest/2)); out == nil || to != group {
		t.Error("who asks for IPv6 right after somebody asked for IPv4 waits in vain")
	}
	if out, to := l.hear(parseQuery(t, "8001"), tablet, group, now.Add(rest/2)); out == nil || to != tablet {
		t.Errorf("who asks for an answer alone gets %x to %v", out, to)
	}
	old := &net.UDPAddr{IP: net.IPv4(192, 168, 1, 30), Port: 40000}
	if out, to := l.hear(all, old, group, now.Add(rest/2)); out == nil || to != old {
		t.Errorf("an old resolver gets %x to %v", out, to)
	}
	if out, to := l.hear(probe(testName, at("192.168.1.99")), tablet, group, now.Add(rest/2)); out == nil || to != group {
		t.Errorf("the name is defended with %x to %v", out, to)
	}
	l.setSure(false)
	if out, _ := l.hear(all, tablet, group, now.Add(10*rest)); out != nil {
		t.Error("answered before the name was sure")
	}
	for a, want := range map[string]bool{"192.168.1.30": true, "192.168.2.30": false, "8.8.8.8": false, "fe80::5": true, "2001:db8::1": false} {
		if l.i.holds(netip.MustParseAddr(a)) != want {
			t.Errorf("%s on the link: %v", a, !want)
		}
	}
}

func parseQuery(t *testing.T, class string) []byte {
	t.Helper()
	return bytesOf(t, "0000 0000 0001 0000 0000 0000"+wireName+"0001"+class)
}

func TestAClashIsSomebodyElse(t *testing.T) {
	group, tablet := &net.UDPAddr{IP: group4.AsSlice(), Port: port}, &net.UDPAddr{IP: net.IPv4(192, 168, 1, 30), Port: port}
	for name, c := range map[string]struct {
		packet []byte
		from   *net.UDPAddr
		sure   bool
		clash  bool
	}{
		"our own announcement heard again":     {announcement(testName, at("192.168.1.20"), hostTTL), tablet, true, false},
		"another machine's":                    {announcement(testName, at("192.168.1.30"), hostTTL), tablet, true, true},
		"another machine's, not from its port": {announcement(testName, at("192.168.1.30"), hostTTL), &net.UDPAddr{IP: net.IPv4(192, 168, 1, 30), Port: 9999}, true, false},
		"another machine's good-bye":           {announcement(testName, at("192.168.1.30"), 0), tablet, true, false},
		"our own probe heard again":            {probe(testName, at("192.168.1.20")), tablet, false, false},
		"a later prober":                       {probe(testName, at("192.168.1.30")), tablet, false, true},
		"an earlier prober":                    {probe(testName, at("192.168.1.3")), tablet, false, false},
		"a prober of what is ours":             {probe(testName, at("192.168.1.30")), tablet, true, false},
	} {
		l := linkFor("192.168.1.20/24")
		l.sure = c.sure
		l.hear(c.packet, c.from, group, time.Now())
		if got := len(l.clash) == 1; got != c.clash {
			t.Errorf("%s: a clash: %v", name, got)
		}
	}
}

func TestPrivateInterfacesOnly(t *testing.T) {
	parse := func(s string) net.Addr {
		ip, n, err := net.ParseCIDR(s)
		if err != nil {
			t.Fatal(err)
		}
		n.IP = ip
		return n
	}
	got := privateOf([]net.Addr{parse("192.168.1.20/24"), parse("8.8.8.8/24"), parse("fe80::1/64"), parse("fd00::2/64"), parse("2001:db8::1/64"), parse("127.0.0.1/8"), parse("100.64.0.1/10"), &net.UnixAddr{}})
	want := []netip.Prefix{netip.MustParsePrefix("192.168.1.20/24"), netip.MustParsePrefix("fe80::1/64"), netip.MustParsePrefix("fd00::2/64")}
	if !slices.Equal(got, want) {
		t.Errorf("answers for %v, expected %v", got, want)
	}
	list, err := Private()
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range list {
		for _, n := range i.Nets {
			if !n.Addr().IsPrivate() && !n.Addr().IsLinkLocalUnicast() {
				t.Errorf("%s would answer for %v", i.Name, n)
			}
		}
	}
}

// loopback is a Responder on this machine's loopback, at a port where no other
// responder is; without multicast there the test is skipped.
func loopback(t *testing.T) (Responder, *ipv4.PacketConn, *net.UDPAddr) {
	t.Helper()
	lo, err := net.InterfaceByName("lo")
	if err != nil {
		t.Skip("no interface lo, over which this test sends to itself: ", err)
	}
	free, err := net.ListenPacket("udp4", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	where := free.LocalAddr().(*net.UDPAddr).Port
	_ = free.Close()
	i := Interface{Index: lo.Index, Name: lo.Name, Nets: []netip.Prefix{netip.MustParsePrefix("127.0.0.1/8")}}
	group := &net.UDPAddr{IP: group4.AsSlice(), Port: where}
	conn, err := net.ListenPacket("udp4", group.String())
	if err != nil {
		t.Skip("this machine shares no multicast port: ", err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	p := ipv4.NewPacketConn(conn)
	if err := errors.Join(p.JoinGroup(lo, group), p.SetMulticastInterface(lo), p.SetMulticastLoopback(true)); err != nil {
		t.Skip("this machine has no multicast on its loopback: ", err)
	}
	return Responder{
		Name: testName, port: where,
		Interfaces: func() ([]Interface, error) { return []Interface{i}, nil },
		Problem:    func(err error) { t.Error(err) },
	}, p, group
}

// fromLoopback names the sender: without it the system takes an address of
// another interface, which is not on the link.
var fromLoopback = &ipv4.ControlMessage{Src: net.IPv4(127, 0, 0, 1)}

// claimsWithin reads what is sent until a response for the name with this TTL
// (0 or more) comes.
func claimsWithin(t *testing.T, p *ipv4.PacketConn, d time.Duration, goodbye bool) []netip.Addr {
	t.Helper()
	_ = p.SetReadDeadline(time.Now().Add(d))
	buffer := make([]byte, largestPacket)
	for {
		n, _, _, err := p.ReadFrom(buffer)
		if err != nil {
			return nil
		}
		var m dnsmessage.Message
		if err := m.Unpack(buffer[:n]); err != nil {
			t.Fatalf("a packet that is none: %v", err)
		}
		if !m.Response {
			continue
		}
		var out []netip.Addr
		for _, r := range m.Answers {
			if a, ok := r.Body.(*dnsmessage.AResource); ok && sameName(r.Header.Name.String(), testName) && (r.Header.TTL == 0) == goodbye {
				out = append(out, netip.AddrFrom4(a.A))
			}
		}
		if len(out) > 0 {
			return out
		}
	}
}

func TestServesOverMulticast(t *testing.T) {
	r, p, group := loopback(t)
	ctx, cancel := context.WithCancel(t.Context())
	done, found := make(chan error, 1), make(chan struct{}, 10)
	r.Found = func() { found <- struct{}{} }
	go func() { done <- r.Serve(ctx) }()
	if got := claimsWithin(t, p, 10*time.Second, false); !slices.Equal(got, at("127.0.0.1")) {
		cancel()
		t.Fatalf("announced: %v, %v", got, <-done)
	}
	if len(found) != 1 {
		t.Errorf("told %d times that the name is ours", len(found))
	}
	claimsWithin(t, p, 3*time.Second, false) // the second announcement
	if _, err := p.WriteTo(parseQuery(t, "0001"), fromLoopback, group); err != nil {
		t.Fatal(err)
	}
	if got := claimsWithin(t, p, 10*time.Second, false); !slices.Equal(got, at("127.0.0.1")) {
		t.Errorf("answered: %v", got)
	}
	cancel()
	if got := claimsWithin(t, p, 10*time.Second, true); !slices.Equal(got, at("127.0.0.1")) {
		t.Errorf("said good-bye: %v", got)
	}
	if err := <-done; err != nil {
		t.Error(err)
	}
	if _, err := p.WriteTo(parseQuery(t, "0001"), fromLoopback, group); err != nil {
		t.Fatal(err)
	}
	if got := claimsWithin(t, p, 500*time.Millisecond, false); got != nil {
		t.Errorf("answered after the end: %v", got)
	}
}

// TestAnInterfaceThatCannotBeUsedIsTold: once, and the end comes all the same.
func TestAnInterfaceThatCannotBeUsedIsTold(t *testing.T) {
	told := make(chan error, 10)
	r := Responder{Name: testName, Problem: func(err error) { told <- err }, Interfaces: func() ([]Interface, error) {
		return []Interface{{Index: 1 << 20, Name: "gone0", Nets: []netip.Prefix{netip.MustParsePrefix("192.168.1.20/24")}}}, nil
	}}
	ctx, cancel := context.WithTimeout(t.Context(), lookEvery+2*time.Second)
	defer cancel()
	if err := r.Serve(ctx); err != nil {
		t.Error(err)
	}
	if len(told) != 1 || !strings.Contains((<-told).Error(), "gone0") {
		t.Errorf("told %d times", len(told))
	}
}

// TestATakenNameIsTold: somebody on the net answers the probes.
func TestATakenNameIsTold(t *testing.T) {
	r, p, group := loopback(t)
	var other sync.WaitGroup
	ctx, cancel := context.WithTimeout(t.Context(), 15*time.Second)
	defer cancel()
	other.Go(func() {
		buffer := make([]byte, largestPacket)
		for ctx.Err() == nil {
			_ = p.SetReadDeadline(time.Now().Add(100 * time.Millisecond))
			n, _, _, err := p.ReadFrom(buffer)
			if err == nil && parse(buffer[:n], testName).question != nil {
				_, _ = p.WriteTo(announcement(testName, at("127.7.7.7"), hostTTL), fromLoopback, group)
			}
		}
	})
	r.Found = func() { t.Error("a name that another machine has was called ours") }
	err := r.Serve(ctx)
	cancel()
	other.Wait()
	if !errors.Is(err, ErrTaken) || !strings.Contains(err.Error(), "127.7.7.7") {
		t.Errorf("a taken name is told as %v", err)
	}
}

func TestAnAddressThatChangesIsFollowed(t *testing.T) {
	r, p, _ := loopback(t)
	look := r.Interfaces
	var mu sync.Mutex
	now := netip.MustParsePrefix("127.0.0.1/8")
	r.Interfaces = func() ([]Interface, error) {
		list, err := look()
		mu.Lock()
		defer mu.Unlock()
		list[0].Nets = []netip.Prefix{now}
		return list, err
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- r.Serve(ctx) }()
	if got := claimsWithin(t, p, 10*time.Second, false); !slices.Equal(got, at("127.0.0.1")) {
		t.Errorf("announced: %v", got)
	}
	mu.Lock()
	now = netip.MustParsePrefix("127.0.0.9/8")
	mu.Unlock()
	if got := claimsWithin(t, p, 10*time.Second, true); !slices.Equal(got, at("127.0.0.1")) {
		t.Errorf("the old address was taken back: %v", got)
	}
	if got := claimsWithin(t, p, 10*time.Second, false); !slices.Equal(got, at("127.0.0.9")) {
		t.Errorf("the new address was announced: %v", got)
	}
	cancel()
	if err := <-done; err != nil {
		t.Error(err)
	}
}

// FuzzParse: whatever comes from the net, nothing panics, and an answer is a
// packet that another reader takes.
func FuzzParse(f *testing.F) {
	f.Add(probe(testName, at("192.168.1.20", "fe80::1")))
	f.Add(announcement(testName, at("192.168.1.20"), hostTTL))
	f.Add([]byte{0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0xc0, 0x0c, 0, 1, 0, 1})
	f.Fuzz(func(t *testing.T, packet []byte) {
		m := parse(packet, testName)
		if m.question == nil {
			return
		}
		for _, legacy := range []bool{false, true} {
			if out := answer(m.question, testName, at("192.168.1.20", "fd00::2"), legacy); out != nil {
				var back dnsmessage.Message
				if err := back.Unpack(out); err != nil {
					t.Errorf("the answer to %x is no packet: %v", packet, err)
				}
			}
		}
	})
}
