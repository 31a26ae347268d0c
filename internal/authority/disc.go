package authority

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
)

const (
	keyFile  = "authority.key" // PKCS #8 in PEM, 0600
	certFile = "authority.crt" // the certificate in PEM
	// largestFile is far more than either file holds.
	largestFile = 1 << 16
)

// store writes a new authority: in a folder beside, on the disc, then under
// its name in one step. An authority that is there already stays; the caller
// reads what is there.
func store(dir string, key *ecdsa.PrivateKey, cert []byte) error {
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return fmt.Errorf("writing the certificate authority: %w", err)
	}
	dir = filepath.Clean(dir)
	if err := os.MkdirAll(filepath.Dir(dir), 0o700); err != nil {
		return fmt.Errorf("writing the certificate authority: %w", err)
	}
	staged, err := os.MkdirTemp(filepath.Dir(dir), "."+filepath.Base(dir)+".new-") // 0700
	if err != nil {
		return fmt.Errorf("writing the certificate authority: %w", err)
	}
	defer os.RemoveAll(staged)
	err = errors.Join(
		writeNew(filepath.Join(staged, keyFile), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der})),
		writeNew(filepath.Join(staged, certFile), pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert})),
		syncFolder(staged),
	)
	if err != nil {
		return fmt.Errorf("writing the certificate authority: %w", err)
	}
	_ = os.Remove(dir) // an empty folder makes room; one with something in it stays
	if err := os.Rename(staged, dir); err != nil {
		if _, there := os.Stat(filepath.Join(dir, keyFile)); there == nil {
			return nil
		}
		return fmt.Errorf("writing the certificate authority: %s is there and is no authority's folder; choose another place: %w", dir, err)
	}
	return syncFolder(filepath.Dir(dir))
}

func writeNew(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	return errors.Join(err, f.Sync(), f.Close())
}

// syncFolder makes names last. Windows keeps names in its own journal, and some
// drives refuse: the files themselves are on the disc then all the same.
func syncFolder(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	_ = f.Sync()
	return f.Close()
}

// read returns both files, or says what is wrong with how they lie there.
func read(dir string) (key, cert []byte, err error) {
	if _, err := os.Lstat(filepath.Join(dir, keyFile)); errors.Is(err, fs.ErrNotExist) {
		if _, err := os.Lstat(filepath.Join(dir, certFile)); errors.Is(err, fs.ErrNotExist) {
			return nil, nil, fmt.Errorf("%w (%s)", ErrNoAuthority, dir)
		}
	}
	if err := private(dir, "700"); err != nil {
		return nil, nil, err
	}
	if err := private(filepath.Join(dir, keyFile), "600"); err != nil {
		return nil, nil, err
	}
	if key, err = readRegular(filepath.Join(dir, keyFile)); err != nil {
		return nil, nil, err
	}
	cert, err = readRegular(filepath.Join(dir, certFile))
	return key, cert, err
}

// private refuses what others may read. Windows has no such bits: there the
// user's own folder is what keeps others out.
func private(path, mode string) error {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil // told when it is read
	}
	if err != nil {
		return fmt.Errorf("the certificate authority cannot be read: %w", err)
	}
	if open := info.Mode().Perm() & 0o077; open != 0 && runtime.GOOS != "windows" {
		return fmt.Errorf("%w: %s has mode %04o. If only you use this laptop: chmod %s '%s'. If somebody may have copied the key, move the folder away, let a new authority be made, install that on every tablet and remove the old one there",
			ErrReadable, path, info.Mode().Perm(), mode, path)
	}
	return nil
}

func readRegular(path string) ([]byte, error) {
	info, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%w: %s is missing, and what belongs to it is there. Put it back from a backup of this laptop; without one, move the folder away, let a new authority be made, and install that on every tablet", ErrDamaged, path)
	case err != nil:
		return nil, fmt.Errorf("the certificate authority cannot be read: %w", err)
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("%w: %s is not an ordinary file; expected one that this program made", ErrDamaged, path)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("the certificate authority cannot be read: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, largestFile+1))
	if err == nil && len(data) > largestFile {
		err = fmt.Errorf("%w: %s is longer than any key or certificate", ErrDamaged, path)
	}
	return data, err
}

// parse reads and checks the two files: they belong together, and the
// certificate says what this program writes, no more.
func parse(keyText, certText []byte) (*Authority, error) {
	block, _ := pem.Decode(keyText)
	if block == nil || block.Type != "PRIVATE KEY" {
		return nil, fmt.Errorf("%s holds no private key", keyFile)
	}
	parsed, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	if err != nil {
		return nil, fmt.Errorf("%s holds no private key that can be read", keyFile)
	}
	key, ok := parsed.(*ecdsa.PrivateKey)
	if !ok || key.Curve != elliptic.P256() {
		return nil, fmt.Errorf("%s holds a key of another kind; expected ECDSA P-256", keyFile)
	}
	block, _ = pem.Decode(certText)
	if block == nil || block.Type != "CERTIFICATE" {
		return nil, fmt.Errorf("%s holds no certificate", certFile)
	}
	cert, err := x509.ParseCertificate(block.Bytes)
	if err != nil {
		return nil, fmt.Errorf("%s holds no certificate that can be read", certFile)
	}
	if !key.PublicKey.Equal(cert.PublicKey) {
		return nil, fmt.Errorf("%s and %s do not belong together", keyFile, certFile)
	}
	if err := cert.CheckSignatureFrom(cert); err != nil {
		return nil, fmt.Errorf("the signature of %s is wrong", certFile)
	}
	name, err := nameOf(&key.PublicKey)
	if err != nil {
		return nil, err
	}
	if !cert.IsCA || cert.MaxPathLen != 0 || !cert.MaxPathLenZero || !cert.PermittedDNSDomainsCritical ||
		!slices.Equal(cert.PermittedDNSDomains, []string{name}) || !onlyPermitted(cert) ||
		!slices.Equal(cert.ExtKeyUsage, []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}) {
		return nil, fmt.Errorf("%s is not limited to %s and private nets as this program limits it", certFile, name)
	}
	return &Authority{key: key, cert: cert, name: name}, nil
}

// onlyPermitted reports whether a certificate is limited to exactly the nets
// in permitted.
func onlyPermitted(cert *x509.Certificate) bool {
	if len(cert.PermittedIPRanges) != len(permitted) {
		return false
	}
	for i, p := range permitted {
		if cert.PermittedIPRanges[i].String() != p.String() {
			return false
		}
	}
	return true
}
