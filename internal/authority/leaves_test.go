package authority

import (
	"bytes"
	"encoding/base64"
	"encoding/xml"
	"errors"
	"io"
	"net/netip"
	"strconv"
	"strings"
	"testing"
	"time"
)

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

// machine is a laptop whose clock and addresses a test sets.
type machine struct {
	now       time.Time
	addresses []netip.Addr
	err       error
	asked     int
}

func (m *machine) ask() ([]netip.Addr, error) { m.asked++; return m.addresses, m.err }

func (m *machine) clock() time.Time { return m.now }

func TestANewAddressGetsACertificate(t *testing.T) {
	_, a := opened(t)
	m := &machine{now: noon, addresses: addresses("192.168.1.20")}
	leaves := NewLeaves(a, m.ask, m.clock)
	serialNow := func() string {
		t.Helper()
		leaf, err := leaves.Current()
		if err != nil {
			t.Fatal(err)
		}
		return leaf.Leaf.SerialNumber.String()
	}
	first := serialNow()
	for range 100 {
		if serialNow() != first {
			t.Fatal("a new certificate without need")
		}
	}
	if m.asked != 1 {
		t.Errorf("the machine was asked %d times within an instant", m.asked)
	}
	m.now = m.now.Add(3 * time.Second)
	if serialNow() != first {
		t.Error("a new certificate although nothing changed")
	}
	m.addresses = addresses("192.168.43.7") // a phone's hotspot
	m.now = m.now.Add(3 * time.Second)
	second := serialNow()
	if second == first {
		t.Fatal("a new address did not lead to a new certificate")
	}
	leaf, _ := leaves.Current()
	if err := verify(t, a, leaf.Leaf, "192.168.43.7", m.now); err != nil {
		t.Error(err)
	}
	m.addresses = append(m.addresses, addresses("203.0.113.9")...)
	m.now = m.now.Add(3 * time.Second)
	serialNow()
	if left := leaves.LeftOut(); len(left) != 1 || left[0] != netip.MustParseAddr("203.0.113.9") {
		t.Errorf("left out: %v", left)
	}
	m.addresses = addresses("192.168.43.7")
	m.now = m.now.Add(3 * time.Second)
	third := serialNow()
	m.now = m.now.Add(3 * time.Second)
	if serialNow() != third {
		t.Error("an address that went away led to a new certificate")
	}
}

func TestACertificateIsRenewedWithTime(t *testing.T) {
	_, a := opened(t)
	m := &machine{now: noon, addresses: addresses("192.168.1.20")}
	leaves := NewLeaves(a, m.ask, m.clock)
	first, err := leaves.Current()
	if err != nil {
		t.Fatal(err)
	}
	due := first.Leaf.NotBefore.Add(20 * 24 * time.Hour) // two thirds of 30 days
	m.now = due.Add(-time.Second)
	if now, _ := leaves.Current(); now != first {
		t.Error("renewed before two thirds were over")
	}
	m.err = errors.New("the interfaces do not answer")
	m.now = due
	if now, err := leaves.Current(); err != nil || now != first {
		t.Errorf("a good certificate was not served on when a new one could not be made: %v", err)
	}
	m.now = first.Leaf.NotAfter
	if now, err := leaves.Current(); err == nil {
		t.Errorf("an ended certificate is served: %v", now.Leaf.NotAfter)
	}
	m.err, m.now = nil, due
	second, err := leaves.Current()
	if err != nil || second == first {
		t.Errorf("not renewed when two thirds were over: %v", err)
	}
	m.now = noon.Add(-36 * time.Hour) // the clock is set back to before the leaf, after the authority
	third, err := leaves.Current()
	if err != nil || third == second || third.Leaf.NotBefore.After(m.now) {
		t.Errorf("a clock that was set back is served a certificate of the future: %v", err)
	}
	m.now = noon.Add(-49 * time.Hour)
	if _, err := leaves.Current(); !errors.Is(err, ErrClock) {
		t.Errorf("a clock before the authority: %v", err)
	}
	m.now = a.Ends().Add(-10 * 24 * time.Hour)
	last, err := leaves.Current()
	if err != nil || !last.Leaf.NotAfter.Equal(a.Ends()) {
		t.Errorf("the last certificate ends %v, the authority %v: %v", last.Leaf.NotAfter, a.Ends(), err)
	}
}

func TestMachineAddressesHoldLoopback(t *testing.T) {
	got, err := MachineAddresses()
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range got {
		if a == netip.MustParseAddr("127.0.0.1") {
			return
		}
	}
	t.Errorf("no 127.0.0.1 among %v", got)
}

func TestPermittedNets(t *testing.T) {
	for address, want := range map[string]bool{
		"10.0.0.0": true, "10.255.255.255": true, "11.0.0.0": false, "172.15.255.255": false, "172.16.0.0": true, "172.31.255.255": true, "172.32.0.0": false,
		"192.168.0.1": true, "192.169.0.1": false, "169.254.7.7": true, "127.0.0.1": true, "100.64.0.1": false, "192.0.2.2": false, "0.0.0.0": false,
		"::1": true, "::2": false, "fe80::1%wlan0": true, "fd12::1": true, "fc00::": true, "fe00::1": false, "2001:db8::1": false, "::ffff:10.0.0.1": true, "::ffff:8.8.8.8": false,
	} {
		if got := Permitted(netip.MustParseAddr(address)); got != want {
			t.Errorf("%s: %v", address, got)
		}
	}
}

// TestProfile reads the profile as any reader of XML would, and looks for the
// keys of Apple's reference (Device Management: TopLevel, CertificateRoot).
func TestProfile(t *testing.T) {
	_, a := opened(t)
	var path []string
	var key string
	found := map[string][]string{}
	d := xml.NewDecoder(bytes.NewReader(a.Profile()))
	d.Strict = true
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		switch v := token.(type) {
		case xml.StartElement:
			path = append(path, v.Name.Local)
		case xml.EndElement:
			path = path[:len(path)-1]
		case xml.CharData:
			text := strings.TrimSpace(string(v))
			switch last := path; {
			case text == "" || len(last) == 0:
			case last[len(last)-1] == "key":
				key = text
			default:
				found[strings.Join(last, "/")+":"+key] = append(found[strings.Join(last, "/")+":"+key], text)
			}
		}
	}
	for at, want := range map[string]string{
		"plist/dict/string:PayloadType":                           "Configuration",
		"plist/dict/integer:PayloadVersion":                       "1",
		"plist/dict/array/dict/string:PayloadType":                "com.apple.security.root",
		"plist/dict/array/dict/integer:PayloadVersion":            "1",
		"plist/dict/array/dict/string:PayloadCertificateFileName": a.Name() + ".cer",
		"plist/dict/array/dict/data:PayloadContent":               base64.StdEncoding.EncodeToString(a.Certificate()),
		"plist/dict/string:PayloadIdentifier":                     a.Name() + ".profile",
		"plist/dict/array/dict/string:PayloadIdentifier":          a.Name() + ".certificate",
	} {
		if got := found[at]; len(got) != 1 || got[0] != want {
			t.Errorf("%s is %q, expected %q", at, got, want)
		}
	}
	outer, inner := found["plist/dict/string:PayloadUUID"], found["plist/dict/array/dict/string:PayloadUUID"]
	if len(outer) != 1 || len(inner) != 1 || outer[0] == inner[0] || len(outer[0]) != 36 || outer[0][14] != '8' {
		t.Errorf("the identifiers are %q and %q", outer, inner)
	}
	if !bytes.Equal(a.Profile(), a.Profile()) {
		t.Error("the profile is another one every time")
	}
	if bytes.Contains(a.Profile(), []byte("PRIVATE")) {
		t.Error("the profile holds a key")
	}
}
