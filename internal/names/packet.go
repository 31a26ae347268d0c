package names

import (
	"errors"
	"net/netip"
	"slices"
	"strings"
	"time"

	"golang.org/x/net/dns/dnsmessage"
)

const (
	// hostTTL is for how long others may remember an address (RFC 6762, 10).
	hostTTL = 120 * time.Second
	// legacyTTL is the most that a resolver that knows no multicast DNS is told (6.7).
	legacyTTL = 10 * time.Second
	// topBit is "answer me alone" in a question's class (5.4) and "this is all
	// that there is of it" in an answer's (10.2).
	topBit   = 1 << 15
	typeNSEC = dnsmessage.Type(47)
	// largestPacket is the most that a message of multicast DNS may hold (17).
	largestPacket = 9000
)

// question is what this package answers of a query.
type question struct {
	id      uint16
	asked   []dnsmessage.Question // for our name: A, AAAA or any
	known   []netip.Addr          // addresses that the asker has already (7.1)
	alone   bool                  // every question asks for an answer to the asker only
	claimed []netip.Addr          // what a prober says it will have (8.2)
	probe   bool
}

// message is what is read of any packet: a question for our name, or addresses
// that somebody says our name has.
type message struct {
	question *question
	claims   []netip.Addr // of a response, with a TTL that is not 0
}

// parse reads a packet and keeps what concerns name. Anything that is no
// message, or breaks off, is nothing.
func parse(packet []byte, name string) (m message) {
	if len(packet) > largestPacket {
		return message{}
	}
	var p dnsmessage.Parser
	h, err := p.Start(packet)
	if err != nil || h.OpCode != 0 || h.RCode != dnsmessage.RCodeSuccess {
		return message{} // RFC 6762, 18.3 and 18.11
	}
	asked, err := p.AllQuestions()
	if err != nil {
		return message{}
	}
	if h.Response {
		m.claims, _ = addressesOf(&p, p.AnswerHeader, p.SkipAnswer, name, 1)
		return m
	}
	q := &question{id: h.ID, alone: true}
	for _, one := range asked {
		class := one.Class &^ topBit
		address := one.Type == dnsmessage.TypeA || one.Type == dnsmessage.TypeAAAA || one.Type == dnsmessage.TypeALL
		if !sameName(one.Name.String(), name) || !address || class != dnsmessage.ClassINET && class != dnsmessage.ClassANY {
			continue
		}
		q.alone = q.alone && one.Class&topBit != 0
		q.asked = append(q.asked, one)
	}
	if len(q.asked) == 0 {
		return message{}
	}
	var whole bool
	if q.known, whole = addressesOf(&p, p.AnswerHeader, p.SkipAnswer, name, uint32(hostTTL.Seconds())/2); whole {
		q.claimed, _ = addressesOf(&p, p.AuthorityHeader, p.SkipAuthority, name, 0)
		q.probe = len(q.claimed) > 0
	}
	m.question = q
	return m
}

// addressesOf are the addresses of name in one section, with at least that
// TTL; whole is false where the packet breaks off.
func addressesOf(p *dnsmessage.Parser, next func() (dnsmessage.ResourceHeader, error), skip func() error, name string, leastTTL uint32) (out []netip.Addr, whole bool) {
	for {
		h, err := next()
		if errors.Is(err, dnsmessage.ErrSectionDone) {
			return out, true
		}
		if err != nil {
			return out, false
		}
		ours := sameName(h.Name.String(), name) && h.Class&^topBit == dnsmessage.ClassINET && h.TTL >= leastTTL
		switch {
		case ours && h.Type == dnsmessage.TypeA:
			r, err := p.AResource()
			if err != nil {
				return out, false
			}
			out = append(out, netip.AddrFrom4(r.A))
		case ours && h.Type == dnsmessage.TypeAAAA:
			r, err := p.AAAAResource()
			if err != nil {
				return out, false
			}
			out = append(out, netip.AddrFrom16(r.AAAA))
		default:
			if err := skip(); err != nil {
				return out, false
			}
		}
	}
}

// sameName compares names as DNS does: letters of either case are the same
// (RFC 6762, 16, for ASCII, which our names are).
func sameName(a, b string) bool {
	return strings.EqualFold(strings.TrimSuffix(a, "."), strings.TrimSuffix(b, "."))
}

// answer is the response to a question, or nil where the asker knows all or
// there is nothing to say. legacy is a resolver that did not ask from port 5353:
// it gets its question and ID back, a short life, and no top bit (6.7).
func answer(q *question, name string, addresses []netip.Addr, legacy bool) []byte {
	var v4, v6, all bool
	for _, one := range q.asked {
		v4, v6, all = v4 || one.Type == dnsmessage.TypeA, v6 || one.Type == dnsmessage.TypeAAAA, all || one.Type == dnsmessage.TypeALL
	}
	var tell []netip.Addr
	has4, has6 := false, false
	for _, a := range addresses {
		has4, has6 = has4 || a.Is4(), has6 || a.Is6()
		wanted := all || a.Is4() && v4 || a.Is6() && v6
		if wanted && (legacy || !slices.Contains(q.known, a)) {
			tell = append(tell, a)
		}
	}
	// What there is none of is said too, so that nobody waits for it (6.1).
	none := !legacy && (v4 && !has4 || v6 && !has6) && len(addresses) > 0
	if len(tell) == 0 && !none {
		return nil
	}
	r := response{name: name, ttl: hostTTL, unique: true}
	if legacy {
		r = response{id: q.id, echo: q.asked, name: name, ttl: legacyTTL}
	}
	return r.pack(tell, none, has4, has6)
}

// announcement tells everybody the addresses (8.3); with a TTL of 0 that they
// are no more (10.1).
func announcement(name string, addresses []netip.Addr, ttl time.Duration) []byte {
	return response{name: name, ttl: ttl, unique: true}.pack(addresses, false, false, false)
}

type response struct {
	id     uint16
	echo   []dnsmessage.Question
	name   string
	ttl    time.Duration
	unique bool
}

func (r response) pack(addresses []netip.Addr, none, has4, has6 bool) []byte {
	b := dnsmessage.NewBuilder(nil, dnsmessage.Header{ID: r.id, Response: true, Authoritative: true})
	b.EnableCompression()
	n, err := dnsmessage.NewName(r.name + ".")
	if err != nil {
		return nil
	}
	if len(r.echo) > 0 {
		_ = b.StartQuestions()
		for _, one := range r.echo {
			one.Class &^= topBit
			_ = b.Question(one)
		}
	}
	_ = b.StartAnswers()
	class := dnsmessage.ClassINET
	if r.unique {
		class |= topBit
	}
	records(&b, n, class, r.ttl, addresses)
	if none {
		_ = b.UnknownResource(dnsmessage.ResourceHeader{Name: n, Class: class, TTL: uint32(r.ttl.Seconds())},
			dnsmessage.UnknownResource{Type: typeNSEC, Data: nsec(r.name, has4, has6)})
	}
	out, err := b.Finish()
	if err != nil {
		return nil
	}
	return out
}

func records(b *dnsmessage.Builder, n dnsmessage.Name, class dnsmessage.Class, ttl time.Duration, addresses []netip.Addr) {
	for _, a := range addresses {
		h := dnsmessage.ResourceHeader{Name: n, Class: class, TTL: uint32(ttl.Seconds())}
		if a.Is4() {
			_ = b.AResource(h, dnsmessage.AResource{A: a.As4()})
		} else {
			_ = b.AAAAResource(h, dnsmessage.AAAAResource{AAAA: a.As16()})
		}
	}
}

// nsec is the data of an NSEC record (RFC 4034, 4.1, as RFC 6762, 6.1 limits
// it): the name itself, and in window 0 which of A (1) and AAAA (28) there are.
func nsec(name string, has4, has6 bool) []byte {
	var out []byte
	for label := range strings.SplitSeq(name, ".") {
		out = append(append(out, byte(len(label))), label...)
	}
	bits := []byte{0, 0, 0, 0}
	if has4 {
		bits[0] |= 0x40
	}
	if has6 {
		bits[3] |= 0x08
	}
	for len(bits) > 1 && bits[len(bits)-1] == 0 {
		bits = bits[:len(bits)-1]
	}
	return append(append(out, 0, 0, byte(len(bits))), bits...)
}

// probe asks whether somebody has the name already, and says which addresses
// it is to have (8.1, 8.2).
func probe(name string, addresses []netip.Addr) []byte {
	b := dnsmessage.NewBuilder(nil, dnsmessage.Header{})
	b.EnableCompression()
	n, err := dnsmessage.NewName(name + ".")
	if err != nil {
		return nil
	}
	_ = b.StartQuestions()
	_ = b.Question(dnsmessage.Question{Name: n, Type: dnsmessage.TypeALL, Class: dnsmessage.ClassINET | topBit})
	_ = b.StartAuthorities()
	records(&b, n, dnsmessage.ClassINET, hostTTL, addresses)
	out, err := b.Finish()
	if err != nil {
		return nil
	}
	return out
}
