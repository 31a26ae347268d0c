package authority

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"fmt"
	"net"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"
)

const (
	// LeafLife is from start to end of a server's certificate. Apple's systems
	// refuse more than 825 days also from an authority that the user installed
	// (support.apple.com/en-us/103769; 398 days is for those that come with the
	// system); 30 days are well inside, and a stolen one is soon worth nothing.
	LeafLife = 30 * 24 * time.Hour
	// leafGrace is by how much it begins before it is made, for a tablet whose
	// clock is slow.
	leafGrace = 24 * time.Hour
	// lookEvery is how often the machine's addresses are asked for at most.
	lookEvery = 2 * time.Second
)

// Leaf makes a server's certificate with a new key, for the authority's name
// and those of the addresses that it may speak for; left are the others, such
// as a public address of the laptop. Errors: those of [Authority.CheckClock].
func (a *Authority) Leaf(now time.Time, addresses []netip.Addr) (leaf *tls.Certificate, left []netip.Addr, err error) {
	if err := a.CheckClock(now); err != nil {
		return nil, nil, err
	}
	var inside []net.IP
	for _, addr := range tidy(addresses) {
		if Permitted(addr) {
			inside = append(inside, net.IP(addr.AsSlice()))
		} else {
			left = append(left, addr)
		}
	}
	start := now.UTC().Truncate(time.Second).Add(-leafGrace)
	if start.Before(a.cert.NotBefore) {
		start = a.cert.NotBefore
	}
	end := start.Add(LeafLife)
	if end.After(a.cert.NotAfter) {
		end = a.cert.NotAfter
	}
	leaf, err = sign(a.cert, a.key, &x509.Certificate{
		SerialNumber: serial(),
		Subject:      pkix.Name{CommonName: a.name},
		NotBefore:    start,
		NotAfter:     end,
		KeyUsage:     x509.KeyUsageDigitalSignature,
		ExtKeyUsage:  []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames:     []string{a.name},
		IPAddresses:  inside,
	})
	return leaf, left, err
}

func sign(ca *x509.Certificate, caKey *ecdsa.PrivateKey, template *x509.Certificate) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("making a key: %w", err)
	}
	der, err := x509.CreateCertificate(rand.Reader, template, ca, &key.PublicKey, caKey)
	if err != nil {
		return nil, fmt.Errorf("making a certificate: %w", err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, fmt.Errorf("making a certificate: %w", err)
	}
	return &tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key, Leaf: cert}, nil
}

// tidy is the addresses in order, each once, without zone.
func tidy(addresses []netip.Addr) []netip.Addr {
	out := make([]netip.Addr, 0, len(addresses))
	for _, a := range addresses {
		if a = a.Unmap().WithZone(""); a.IsValid() && !a.IsUnspecified() && !a.IsMulticast() {
			out = append(out, a)
		}
	}
	slices.SortFunc(out, netip.Addr.Compare)
	return slices.Compact(out)
}

// MachineAddresses is every address of this machine now.
func MachineAddresses() ([]netip.Addr, error) {
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil, fmt.Errorf("asking for this machine's addresses: %w", err)
	}
	var out []netip.Addr
	for _, a := range all {
		if n, ok := a.(*net.IPNet); ok {
			if addr, ok := netip.AddrFromSlice(n.IP); ok {
				out = append(out, addr)
			}
		}
	}
	return tidy(out), nil
}

// Leaves hands a server its certificate, and makes a new one when two thirds
// of the old one's time are over, when an address of the machine is new (so
// that a new lease of the router strands nobody), and when the clock was set
// to before the old one's start. The keys live in memory only.
type Leaves struct {
	authority *Authority
	addresses func() ([]netip.Addr, error)
	clock     func() time.Time

	mu     sync.Mutex
	leaf   *tls.Certificate
	made   []netip.Addr // for which the leaf was made
	left   []netip.Addr
	looked time.Time
}

// NewLeaves serves an authority's certificates; addresses are those of the
// machine when asked ([MachineAddresses]), clock is the time.
func NewLeaves(a *Authority, addresses func() ([]netip.Addr, error), clock func() time.Time) *Leaves {
	return &Leaves{authority: a, addresses: addresses, clock: clock}
}

// TLS is the configuration of a server: TLS 1.2 or newer, the certificate of
// the moment, and no answer to another name than the authority's. A client
// that names an address names nothing, and is answered.
func (l *Leaves) TLS() *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS12,
		NextProtos: []string{"h2", "http/1.1"},
		GetCertificate: func(hello *tls.ClientHelloInfo) (*tls.Certificate, error) {
			if name := strings.ToLower(strings.TrimSuffix(hello.ServerName, ".")); name != "" && name != l.authority.name {
				return nil, fmt.Errorf("asked for %q; this server answers to %s only", hello.ServerName, l.authority.name)
			}
			return l.Current()
		},
	}
}

// Current is the certificate to serve now. When none can be made, the one
// before is served as long as it is good; then the reason comes back.
func (l *Leaves) Current() (*tls.Certificate, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.clock()
	fresh := l.leaf != nil && !now.Before(l.leaf.Leaf.NotBefore) && now.Before(renewal(l.leaf.Leaf))
	if since := now.Sub(l.looked); fresh && since >= 0 && since < lookEvery {
		return l.leaf, nil
	}
	addresses, err := l.addresses()
	if err == nil {
		l.looked = now
		addresses = tidy(addresses)
		if fresh && !hasNew(l.made, addresses) {
			return l.leaf, nil
		}
		var leaf *tls.Certificate
		var left []netip.Addr
		if leaf, left, err = l.authority.Leaf(now, addresses); err == nil {
			l.leaf, l.left, l.made = leaf, left, addresses
			return leaf, nil
		}
	}
	if l.leaf != nil && !now.Before(l.leaf.Leaf.NotBefore) && now.Before(l.leaf.Leaf.NotAfter) {
		return l.leaf, nil
	}
	return nil, err
}

// LeftOut are the machine's addresses for which the certificate of the moment
// does not speak: those that are not private. A tablet cannot use them.
func (l *Leaves) LeftOut() []netip.Addr {
	l.mu.Lock()
	defer l.mu.Unlock()
	return slices.Clone(l.left)
}

// renewal is when two thirds of a certificate's time are over.
func renewal(c *x509.Certificate) time.Time {
	return c.NotBefore.Add(c.NotAfter.Sub(c.NotBefore) * 2 / 3)
}

// hasNew reports whether now holds an address that before does not. One that
// went away may stay in the certificate: nobody else gets the key.
func hasNew(before, now []netip.Addr) bool {
	return slices.ContainsFunc(now, func(a netip.Addr) bool { return !slices.Contains(before, a) })
}
