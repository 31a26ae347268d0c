// Package authority is what lets a tablet trust the laptop on a boat without
// internet: a certificate authority that is good for one name of one laptop
// and for nothing else, the short-lived certificates that it makes, and the
// files that a tablet installs. Call [Open] first, then [Leaves] for a server.
//
// The authority's key lies in a folder of its own, readable by one user, and
// no function gives it out. What it signed elsewhere, with a stolen copy,
// convinces nobody who honours the constraints in its certificate: the one
// name, addresses of private nets, servers only.
package authority

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/binary"
	"errors"
	"fmt"
	"math/big"
	"net"
	"net/netip"
	"slices"
	"time"
)

const (
	// CALife is for how long tablets need not install anything again: five
	// years, a project's length.
	CALife = 5 * 365 * 24 * time.Hour
	// caGrace is by how much the authority's certificate begins before it is
	// made: a tablet's clock that is two days slow still takes it.
	caGrace = 48 * time.Hour
)

var (
	// ErrDamaged: the authority's files do not hold what they should.
	ErrDamaged = errors.New("the boat's certificate authority is damaged")
	// ErrReadable: others on this machine can read the authority's key.
	ErrReadable = errors.New("others can read the key of the boat's certificate authority")
	// ErrClock: the clock of this laptop is before the authority was made.
	ErrClock = errors.New("the clock of this laptop is wrong")
	// ErrEnded: the authority's certificate is past its end.
	ErrEnded = errors.New("the boat's certificate authority has ended")
	// ErrNoAuthority: there is none in this folder yet.
	ErrNoAuthority = errors.New("there is no certificate authority here yet")
)

// permitted are the nets for whose addresses the authority may speak: private
// (RFC 1918, RFC 4193), link-local (RFC 3927, RFC 4291) and loopback.
var permitted = []netip.Prefix{
	netip.MustParsePrefix("10.0.0.0/8"),
	netip.MustParsePrefix("172.16.0.0/12"),
	netip.MustParsePrefix("192.168.0.0/16"),
	netip.MustParsePrefix("169.254.0.0/16"),
	netip.MustParsePrefix("127.0.0.0/8"),
	netip.MustParsePrefix("fc00::/7"),
	netip.MustParsePrefix("fe80::/10"),
	netip.MustParsePrefix("::1/128"),
}

// Permitted reports whether an address may stand in a certificate of an
// authority: one of a private, link-local or loopback net.
func Permitted(a netip.Addr) bool {
	a = a.Unmap().WithZone("")
	return slices.ContainsFunc(permitted, func(p netip.Prefix) bool { return p.Contains(a) })
}

// Authority is the certificate authority of one laptop. It is safe for use by
// several goroutines.
type Authority struct {
	key  *ecdsa.PrivateKey
	cert *x509.Certificate
	name string
}

// Open reads the authority in the folder dir, or makes it where there is none:
// once, whole or not at all. now is the time on this laptop's clock.
//
// Errors: [ErrDamaged], [ErrReadable], [ErrClock], [ErrEnded], or what the
// disc says; each says what to do.
func Open(dir string, now time.Time) (*Authority, error) {
	a, err := Load(dir, now)
	if !errors.Is(err, ErrNoAuthority) {
		return a, err
	}
	key, cert, err := create(now)
	if err != nil {
		return nil, err
	}
	if err := store(dir, key, cert); err != nil {
		return nil, err
	}
	return Load(dir, now) // what is on the disc counts, also where another window was quicker
}

// Load is [Open] for an authority that is there: without one it is
// [ErrNoAuthority].
func Load(dir string, now time.Time) (*Authority, error) {
	keyText, certText, err := read(dir)
	if err != nil {
		return nil, err
	}
	a, err := parse(keyText, certText)
	if err != nil {
		return nil, fmt.Errorf("%w (%s): %w. Put the folder back from a backup of this laptop; without one, move it away, let a new authority be made, and install that on every tablet", ErrDamaged, dir, err)
	}
	if err := a.CheckClock(now); err != nil {
		return nil, err
	}
	return a, nil
}

// CheckClock compares this laptop's clock with the authority's certificate:
// [ErrClock] before its start, [ErrEnded] after its end. A clock that is wrong
// by less cannot be told.
func (a *Authority) CheckClock(now time.Time) error {
	switch {
	case now.Before(a.cert.NotBefore):
		return fmt.Errorf("%w: it says %s, and the boat's certificate authority was made after %s. Set date and time of the laptop; a tablet would refuse every certificate that is made now",
			ErrClock, now.UTC().Format(time.DateTime+" UTC"), a.cert.NotBefore.UTC().Format(time.DateTime+" UTC"))
	case !now.Before(a.cert.NotAfter):
		return fmt.Errorf("%w: it was good until %s, and the clock of this laptop says %s. Where the clock is right, move the authority's folder away, let a new one be made, and install that on every tablet",
			ErrEnded, a.cert.NotAfter.UTC().Format(time.DateTime+" UTC"), now.UTC().Format(time.DateTime+" UTC"))
	}
	return nil
}

// Name is the one name that the authority speaks for, in lower case without a
// final dot: brinefield-XXXX.local, XXXX made of the authority's key, so that
// two laptops on one boat have two names and each keeps its own for ever.
func (a *Authority) Name() string { return a.name }

// Certificate is the authority's certificate in DER: the file that Android
// installs (.crt) and that iPadOS takes too (.cer). It holds no secret.
func (a *Authority) Certificate() []byte { return bytes.Clone(a.cert.Raw) }

// Ends is when tablets must install a new authority.
func (a *Authority) Ends() time.Time { return a.cert.NotAfter }

// nameOf derives the name from the public key: four characters of 21, no two
// of which look alike, from its SHA-256. Two laptops share a name in one of
// 194 481 cases.
func nameOf(key *ecdsa.PublicKey) (string, error) {
	der, err := x509.MarshalPKIXPublicKey(key)
	if err != nil {
		return "", err
	}
	const letters = "acdefhjkmnprtvwxy3479"
	sum := sha256.Sum256(der)
	n := binary.BigEndian.Uint64(sum[:8])
	mark := make([]byte, 4)
	for i := range mark {
		mark[i] = letters[n%uint64(len(letters))]
		n /= uint64(len(letters))
	}
	return "brinefield-" + string(mark) + ".local", nil
}

func create(now time.Time) (*ecdsa.PrivateKey, []byte, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, nil, fmt.Errorf("making a key: %w", err)
	}
	name, err := nameOf(&key.PublicKey)
	if err != nil {
		return nil, nil, fmt.Errorf("making a key: %w", err)
	}
	start := now.UTC().Truncate(time.Second).Add(-caGrace)
	cert, err := x509.CreateCertificate(rand.Reader, caTemplate(name, start), caTemplate(name, start), &key.PublicKey, key)
	if err != nil {
		return nil, nil, fmt.Errorf("making the certificate authority: %w", err)
	}
	return key, cert, nil
}

// caTemplate: RFC 5280, 4.2.1.9 (no authority below this one), 4.2.1.10 (what
// it may speak for, critical) and 4.2.1.12 (servers only: no mail, no programs,
// no people).
func caTemplate(name string, start time.Time) *x509.Certificate {
	ranges := make([]*net.IPNet, len(permitted))
	for i, p := range permitted {
		ranges[i] = &net.IPNet{IP: p.Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())}
	}
	return &x509.Certificate{
		SerialNumber:                serial(),
		Subject:                     pkix.Name{CommonName: "Brinefield boat " + name, Organization: []string{"Brinefield"}},
		NotBefore:                   start,
		NotAfter:                    start.Add(caGrace + CALife),
		IsCA:                        true,
		BasicConstraintsValid:       true,
		MaxPathLen:                  0,
		MaxPathLenZero:              true,
		KeyUsage:                    x509.KeyUsageCertSign,
		ExtKeyUsage:                 []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		PermittedDNSDomainsCritical: true,
		PermittedDNSDomains:         []string{name},
		PermittedIPRanges:           ranges,
	}
}

// serial is 127 bits of chance: never negative, never the same twice.
func serial() *big.Int {
	var b [16]byte
	_, _ = rand.Read(b[:]) // never fails: the standard library ends the program instead
	b[0] = b[0]&0x7f | 0x40
	return new(big.Int).SetBytes(b[:])
}
