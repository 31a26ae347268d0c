package authority

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"io/fs"
	"net"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

var noon = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)

func opened(t *testing.T) (string, *Authority) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "authority")
	a, err := Open(dir, noon)
	if err != nil {
		t.Fatal(err)
	}
	return dir, a
}

func addresses(list ...string) []netip.Addr {
	out := make([]netip.Addr, len(list))
	for i, s := range list {
		out[i] = netip.MustParseAddr(s)
	}
	return out
}

func leafOf(t *testing.T, a *Authority, now time.Time, list ...string) *x509.Certificate {
	t.Helper()
	leaf, _, err := a.Leaf(now, addresses(list...))
	if err != nil {
		t.Fatal(err)
	}
	return leaf.Leaf
}

// verify asks Go's own verifier, which knows the authority only by the file
// that a tablet installs.
func verify(t *testing.T, a *Authority, leaf *x509.Certificate, host string, at time.Time) error {
	t.Helper()
	ca, err := x509.ParseCertificate(a.Certificate())
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(ca)
	_, err = leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: host, CurrentTime: at})
	return err
}

// forged is a certificate as a thief of the key would sign it.
func forged(t *testing.T, a *Authority, change func(*x509.Certificate)) *x509.Certificate {
	t.Helper()
	template := &x509.Certificate{
		SerialNumber: serial(), NotBefore: noon.Add(-time.Hour), NotAfter: noon.Add(time.Hour),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	change(template)
	leaf, err := sign(a.cert, a.key, template)
	if err != nil {
		t.Fatal(err)
	}
	return leaf.Leaf
}

func TestTheAuthorityIsMadeOnce(t *testing.T) {
	dir, a := opened(t)
	again, err := Open(dir, noon.Add(300*24*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Certificate(), again.Certificate()) || a.Name() != again.Name() || !a.key.Equal(again.key) {
		t.Error("opening an authority again made another one")
	}
	if !regexp.MustCompile(`^brinefield-[acdefhjkmnprtvwxy3479]{4}\.local$`).MatchString(a.Name()) {
		t.Errorf("the name is %q", a.Name())
	}
	_, other := opened(t)
	if other.Name() == a.Name() { // one in 194 481
		t.Errorf("two laptops have the name %s", a.Name())
	}
	beside, err := os.ReadDir(filepath.Dir(dir))
	if err != nil {
		t.Fatal(err)
	}
	if len(beside) != 1 {
		t.Errorf("beside the authority's folder lies something else: %v", beside)
	}
}

func TestOneAuthorityForManyWindows(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "authority")
	names := make([]string, 8)
	var all sync.WaitGroup
	for i := range names {
		all.Go(func() {
			a, err := Open(dir, noon)
			if err != nil {
				t.Error(err)
				return
			}
			names[i] = a.Name()
		})
	}
	all.Wait()
	if len(slices.Compact(slices.Clone(names))) != 1 {
		t.Errorf("windows that opened at once have several authorities: %v", names)
	}
}

func TestFilesAreForOneUser(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("Windows has no such modes: the user's own folder keeps others out")
	}
	dir, _ := opened(t)
	for path, want := range map[string]fs.FileMode{dir: 0o700, filepath.Join(dir, keyFile): 0o600, filepath.Join(dir, certFile): 0o600} {
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm() != want {
			t.Errorf("%s has mode %04o, expected %04o", path, info.Mode().Perm(), want)
		}
	}
	for path, mode := range map[string]fs.FileMode{filepath.Join(dir, keyFile): 0o640, dir: 0o755} {
		before, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
		_, err = Open(dir, noon)
		if !errors.Is(err, ErrReadable) || !strings.Contains(err.Error(), "chmod") || !strings.Contains(err.Error(), path) {
			t.Errorf("%s with mode %04o: %v", path, mode, err)
		}
		if err := os.Chmod(path, before.Mode().Perm()); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := Open(dir, noon); err != nil {
		t.Error(err)
	}
}

func TestADamagedAuthorityIsToldAndKept(t *testing.T) {
	otherDir, _ := opened(t)
	read := func(dir, name string) []byte {
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	otherKey, otherCert := read(otherDir, keyFile), read(otherDir, certFile)
	unlimited := func(dir string) []byte { // a certificate of the right key that may speak for everybody
		a, err := Load(dir, noon)
		if err != nil {
			t.Fatal(err)
		}
		wide := caTemplate(a.name, noon)
		wide.PermittedDNSDomains, wide.PermittedDNSDomainsCritical, wide.PermittedIPRanges = nil, false, nil
		der, err := x509.CreateCertificate(rand.Reader, wide, wide, &a.key.PublicKey, a.key)
		if err != nil {
			t.Fatal(err)
		}
		return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	}
	p384, err := ecdsa.GenerateKey(elliptic.P384(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	p384DER, err := x509.MarshalPKCS8PrivateKey(p384)
	if err != nil {
		t.Fatal(err)
	}
	for name, damage := range map[string]func(dir string) (file string, data []byte){
		"empty key":            func(string) (string, []byte) { return keyFile, nil },
		"half a key":           func(dir string) (string, []byte) { k := read(dir, keyFile); return keyFile, k[:len(k)/2] },
		"half a certificate":   func(dir string) (string, []byte) { c := read(dir, certFile); return certFile, c[:len(c)/2] },
		"zeros":                func(string) (string, []byte) { return certFile, make([]byte, 600) },
		"far too long":         func(string) (string, []byte) { return keyFile, make([]byte, largestFile+1) },
		"another laptop's key": func(string) (string, []byte) { return keyFile, otherKey },
		"another certificate":  func(string) (string, []byte) { return certFile, otherCert },
		"a key of another kind": func(string) (string, []byte) {
			return keyFile, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: p384DER})
		},
		"a certificate for the web": func(dir string) (string, []byte) { return certFile, unlimited(dir) },
		"a flipped signature": func(dir string) (string, []byte) {
			block, _ := pem.Decode(read(dir, certFile))
			block.Bytes[len(block.Bytes)-1] ^= 1
			return certFile, pem.EncodeToMemory(block)
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir, _ := opened(t)
			file, data := damage(dir)
			if err := os.WriteFile(filepath.Join(dir, file), data, 0o600); err != nil {
				t.Fatal(err)
			}
			_, err := Open(dir, noon)
			if !errors.Is(err, ErrDamaged) {
				t.Errorf("%v", err)
			}
			if !bytes.Equal(read(dir, file), data) {
				t.Error("what was there was replaced")
			}
		})
	}
	for _, missing := range []string{keyFile, certFile} {
		dir, _ := opened(t)
		if err := os.Remove(filepath.Join(dir, missing)); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(dir, noon); !errors.Is(err, ErrDamaged) || !strings.Contains(err.Error(), "backup") {
			t.Errorf("without %s: %v", missing, err)
		}
	}
}

func TestAFolderOfSomethingElseStays(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "notes.txt"), []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(dir, noon); err == nil {
		t.Error("an authority was made in a folder that held something else")
	}
	if data, err := os.ReadFile(filepath.Join(dir, "notes.txt")); err != nil || string(data) != "mine" {
		t.Errorf("the folder's file: %q, %v", data, err)
	}
}

func TestTheClock(t *testing.T) {
	dir, a := opened(t)
	start, end := noon.Add(-caGrace), noon.Add(CALife)
	for name, c := range map[string]struct {
		at   time.Time
		want error
	}{
		"a second before its start": {start.Add(-time.Second), ErrClock},
		"1970, an empty battery":    {time.Unix(0, 0), ErrClock},
		"at its start":              {start, nil},
		"in its last second":        {end.Add(-time.Second), nil},
		"at its end":                {end, ErrEnded},
	} {
		if _, err := Open(dir, c.at); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
		if _, _, err := a.Leaf(c.at, nil); !errors.Is(err, c.want) {
			t.Errorf("%s: a leaf: %v", name, err)
		}
	}
	if _, err := Open(dir, time.Unix(0, 0)); !strings.Contains(err.Error(), "1970-01-01") || !strings.Contains(err.Error(), "Set date and time") {
		t.Errorf("a wrong clock is told as %q", err)
	}
}

func TestLeavesAreForThisLaptopOnly(t *testing.T) {
	_, a := opened(t)
	leaf, left, err := a.Leaf(noon, addresses("192.168.1.20", "127.0.0.1", "::1", "fe80::1%eth0", "fd00::2", "10.0.0.7", "8.8.8.8", "2001:4860::1", "192.168.1.20"))
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(left, addresses("8.8.8.8", "2001:4860::1")) {
		t.Errorf("left out: %v", left)
	}
	if got := len(leaf.Leaf.IPAddresses); got != 6 {
		t.Errorf("%d addresses in the certificate, expected 6: %v", got, leaf.Leaf.IPAddresses)
	}
	if life := leaf.Leaf.NotAfter.Sub(leaf.Leaf.NotBefore); life > 30*24*time.Hour {
		t.Errorf("a leaf lives for %v", life)
	}
	end := leaf.Leaf.NotAfter
	for name, c := range map[string]struct {
		host string
		at   time.Time
		ok   bool
	}{
		"its name":                           {a.Name(), noon, true},
		"its name in capitals":               {strings.ToUpper(a.Name()), noon, true},
		"its address":                        {"192.168.1.20", noon, true},
		"its own IPv6 address":               {"fd00::2", noon, true},
		"the last second":                    {a.Name(), end, true},
		"ended":                              {a.Name(), end.Add(time.Second), false},
		"a tablet whose clock is a day slow": {a.Name(), noon.Add(-leafGrace), true},
		"before its start":                   {a.Name(), noon.Add(-leafGrace - time.Second), false},
		"another name":                       {"example.com", noon, false},
		"another laptop":                     {"brinefield-aaaa.local", noon, a.Name() == "brinefield-aaaa.local"},
		"a neighbour's address":              {"192.168.1.21", noon, false},
		"a public address of the laptop":     {"8.8.8.8", noon, false},
	} {
		if err := verify(t, a, leaf.Leaf, c.host, c.at); (err == nil) != c.ok {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, stranger := opened(t)
	if err := verify(t, stranger, leaf.Leaf, a.Name(), noon); err == nil {
		t.Error("another laptop's authority vouches for this one")
	}
}

// thefts are certificates that a thief of the key may sign, and whether a
// verifier that honours RFC 5280 takes them.
func thefts(a *Authority) map[string]struct {
	host   string
	change func(*x509.Certificate)
} {
	type theft = struct {
		host   string
		change func(*x509.Certificate)
	}
	named := func(names ...string) func(*x509.Certificate) {
		return func(c *x509.Certificate) { c.DNSNames = names }
	}
	return map[string]theft{
		"example.com":                     {"example.com", named("example.com")},
		"example.com beside its own name": {"example.com", named(a.Name(), "example.com")},
		"its own name beside example.com": {a.Name(), named(a.Name(), "example.com")},
		"all of .local":                   {"printer.local", named("*.local")},
		"another laptop on the boat":      {"printer.local", named("printer.local")},
		"a name that ends like it":        {"x" + a.Name(), named("x" + a.Name())},
		"a public address":                {"8.8.8.8", func(c *x509.Certificate) { c.IPAddresses = []net.IP{net.ParseIP("8.8.8.8")} }},
		"a public IPv6 address":           {"2001:4860::1", func(c *x509.Certificate) { c.IPAddresses = []net.IP{net.ParseIP("2001:4860::1")} }},
		"an authority below it": {a.Name(), func(c *x509.Certificate) {
			c.DNSNames, c.ExtKeyUsage = []string{a.Name()}, []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth}
		}},
	}
}

func TestAStolenKeyIsWorthNothingElsewhere(t *testing.T) {
	_, a := opened(t)
	if err := verify(t, a, forged(t, a, func(c *x509.Certificate) { c.DNSNames = []string{a.Name()} }), a.Name(), noon); err != nil {
		t.Fatalf("the forged certificate is wrong in another way too, so that this test says nothing: %v", err)
	}
	for name, theft := range thefts(a) {
		if err := verify(t, a, forged(t, a, theft.change), theft.host, noon); err == nil {
			t.Errorf("%s: Go's verifier takes it", name)
		}
	}
}

func TestNoAuthorityBelow(t *testing.T) {
	_, a := opened(t)
	template := caTemplate(a.name, noon.Add(-time.Hour))
	below, err := sign(a.cert, a.key, template)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := sign(below.Leaf, below.PrivateKey.(*ecdsa.PrivateKey), &x509.Certificate{
		SerialNumber: serial(), NotBefore: noon.Add(-time.Hour), NotAfter: noon.Add(time.Hour), DNSNames: []string{a.name},
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	})
	if err != nil {
		t.Fatal(err)
	}
	roots, middle := x509.NewCertPool(), x509.NewCertPool()
	roots.AddCert(a.cert)
	middle.AddCert(below.Leaf)
	if _, err := leaf.Leaf.Verify(x509.VerifyOptions{Roots: roots, Intermediates: middle, DNSName: a.name, CurrentTime: noon}); err == nil {
		t.Error("an authority below this one is trusted, against its path length of 0")
	}
}

// TestOpenSSLAgrees asks a second verifier that is not ours.
func TestOpenSSLAgrees(t *testing.T) {
	openssl, err := exec.LookPath("openssl")
	if err != nil {
		t.Skip("openssl, the second verifier, is not installed")
	}
	_, a := opened(t)
	dir := t.TempDir()
	file := func(name string, der []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	ca := file("ca.pem", a.Certificate())
	ask := func(leaf *x509.Certificate, host string, at time.Time) (string, error) {
		which := "-verify_hostname"
		if net.ParseIP(host) != nil {
			which = "-verify_ip"
		}
		out, err := exec.Command(openssl, "verify", "-x509_strict", "-purpose", "sslserver", "-attime", itoa(at.Unix()),
			"-no-CApath", "-CAfile", ca, which, host, file("leaf.pem", leaf.Raw)).CombinedOutput()
		return string(out), err
	}
	good := leafOf(t, a, noon, "192.168.1.20", "8.8.8.8", "fd00::2")
	for _, host := range []string{a.Name(), "192.168.1.20", "fd00::2"} {
		if out, err := ask(good, host, noon); err != nil {
			t.Errorf("%s: openssl refuses a good certificate: %s", host, out)
		}
	}
	for _, c := range []struct {
		host string
		at   time.Time
	}{{"example.com", noon}, {"8.8.8.8", noon}, {a.Name(), good.NotAfter.Add(time.Minute)}, {a.Name(), good.NotBefore.Add(-time.Minute)}} {
		if out, err := ask(good, c.host, c.at); err == nil {
			t.Errorf("%s at %v: openssl takes it: %s", c.host, c.at, out)
		}
	}
	for name, theft := range thefts(a) {
		if out, err := ask(forged(t, a, theft.change), theft.host, noon); err == nil {
			t.Errorf("%s: openssl takes it: %s", name, out)
		}
	}
}

func TestWordsAreFarApart(t *testing.T) {
	if len(words) != 256 {
		t.Fatalf("%d words, expected one for each value of a byte", len(words))
	}
	for i, w := range words {
		if !regexp.MustCompile(`^[a-z]{4,8}$`).MatchString(w) {
			t.Errorf("%q is no word of four to eight letters", w)
		}
		for _, v := range words[:i] {
			if w[:3] == v[:3] || distance(w, v) < 3 {
				t.Errorf("%q and %q are easily confused", w, v)
			}
		}
	}
}

func TestWordsAndDigitsAreTheFingerprint(t *testing.T) {
	_, a := opened(t)
	sum := sha256.Sum256(a.Certificate())
	got := a.Words()
	if len(got) != 10 {
		t.Fatalf("%d words", len(got))
	}
	for i, w := range got {
		if at := slices.Index(words, w); at != int(sum[i]) {
			t.Errorf("word %d is %q, which stands for %d, and the byte is %d", i, w, at, sum[i])
		}
	}
	openssl, err := exec.LookPath("openssl")
	if err != nil {
		t.Skip("openssl, which works the fingerprint out too, is not installed")
	}
	ask := exec.Command(openssl, "x509", "-inform", "DER", "-noout", "-fingerprint", "-sha256")
	ask.Stdin = bytes.NewReader(a.Certificate())
	out, err := ask.Output()
	if err != nil {
		t.Fatal(err)
	}
	_, want, _ := strings.Cut(strings.TrimSpace(string(out)), "=")
	if want := strings.ReplaceAll(want, ":", " "); a.Fingerprint() != want {
		t.Errorf("the fingerprint is %s, and openssl says %s", a.Fingerprint(), want)
	}
}

// distance is Levenshtein's: letters to add, drop or change.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

// TestHandshakes serves and asks over real connections on loopback.
func TestHandshakes(t *testing.T) {
	_, a := opened(t)
	leaves := NewLeaves(a, func() ([]netip.Addr, error) { return addresses("127.0.0.1", "::1"), nil }, func() time.Time { return noon })
	roots := x509.NewCertPool()
	roots.AddCert(a.cert)
	for name, c := range map[string]struct {
		client *tls.Config
		ok     bool
	}{
		"by name":                {&tls.Config{ServerName: a.Name(), RootCAs: roots}, true},
		"by address":             {&tls.Config{ServerName: "127.0.0.1", RootCAs: roots}, true},
		"by another name":        {&tls.Config{ServerName: "example.com", RootCAs: roots}, false},
		"without the authority":  {&tls.Config{ServerName: a.Name(), RootCAs: x509.NewCertPool()}, false},
		"with TLS 1.1 at most":   {&tls.Config{ServerName: a.Name(), RootCAs: roots, MinVersion: tls.VersionTLS10, MaxVersion: tls.VersionTLS11}, false},
		"an address that is not": {&tls.Config{ServerName: "10.1.2.3", RootCAs: roots}, false},
	} {
		c.client.Time = func() time.Time { return noon }
		listener, err := tls.Listen("tcp", "127.0.0.1:0", leaves.TLS())
		if err != nil {
			t.Fatal(err)
		}
		go func() {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			_ = conn.(*tls.Conn).Handshake() // the client's side says what came of it
			_ = conn.Close()
		}()
		conn, err := tls.DialWithDialer(&net.Dialer{Timeout: 10 * time.Second}, "tcp", listener.Addr().String(), c.client)
		if err == nil {
			_ = conn.Close()
		}
		_ = listener.Close()
		if (err == nil) != c.ok {
			t.Errorf("%s: %v", name, err)
		}
	}
}
