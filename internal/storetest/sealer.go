package storetest

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"

	"brinefield/internal/app"
)

// Sealer keeps what it sealed in memory and gives a name of chance for it, which
// is the same whatever was sealed: what still differs between two studies was
// told by something else. How the age format seals is tested in
// internal/sealing, in the scripts of cmd/brinefield and in the browser.
type Sealer struct {
	mu      sync.Mutex
	random  io.Reader
	secrets map[string]string // by public key
	sealed  map[string]memSealed
	locked  map[string][2]string // passphrase and secret, by what stands in its place
}

type memSealed struct {
	publics []string
	plain   []byte
}

// NewSealer draws its names from a source of chance.
func NewSealer(random io.Reader) *Sealer {
	return &Sealer{random: random, secrets: map[string]string{}, sealed: map[string]memSealed{}, locked: map[string][2]string{}}
}

func (m *Sealer) name(kind string) string {
	b := make([]byte, 16)
	if _, err := io.ReadFull(m.random, b); err != nil {
		panic(err)
	}
	return kind + hex.EncodeToString(b)
}

// NewKey makes a key.
func (m *Sealer) NewKey() (public, secret string, err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	public = m.name("public")
	secret = strings.Replace(public, "public", "secret", 1)
	m.secrets[public] = secret
	return public, secret, nil
}

// CheckPublic says whether a text is a public key.
func (m *Sealer) CheckPublic(public string) error {
	if !strings.HasPrefix(public, "public") {
		return fmt.Errorf("%w: %q is no public key", app.ErrKey, public)
	}
	return nil
}

// Seal keeps plain under a new name.
func (m *Sealer) Seal(publics []string, plain []byte) (string, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	name := m.name("sealed")
	m.sealed[name] = memSealed{slices.Clone(publics), bytes.Clone(plain)}
	return name, nil
}

// Open gives back what was sealed to the key.
func (m *Sealer) Open(secret, sealed string) ([]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	s, there := m.sealed[sealed]
	public, err := publicOf(secret)
	if err != nil || !there || !slices.Contains(s.publics, public) {
		return nil, fmt.Errorf("%w: it does not open this", app.ErrKey)
	}
	return bytes.Clone(s.plain), nil
}

// Protect keeps a secret behind a passphrase.
func (m *Sealer) Protect(secret, passphrase string) (string, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	name := m.name("locked")
	m.locked[name] = [2]string{passphrase, secret}
	return name, nil
}

// Unlock gives it back.
func (m *Sealer) Unlock(secret, passphrase string) (string, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if inside, locked := m.locked[secret]; locked {
		if inside[0] != passphrase {
			return "", fmt.Errorf("%w: a wrong passphrase, or none", app.ErrKey)
		}
		return inside[1], nil
	}
	_, err := publicOf(secret)
	return secret, err
}

// PublicOf is the public key of a secret one.
func (m *Sealer) PublicOf(secret string) (string, error) { return publicOf(secret) }

func publicOf(secret string) (string, error) {
	for _, word := range strings.Fields(secret) {
		if strings.HasPrefix(word, "secret") && len(word) == len("secret")+32 {
			return strings.Replace(word, "secret", "public", 1), nil
		}
	}
	return "", fmt.Errorf("%w: this is no secret key", app.ErrKey)
}
