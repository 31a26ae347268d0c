// Package sealing encrypts to public keys and decrypts with secret ones, in the
// age format (age-encryption.org/v1): what it makes can be opened by any
// program that knows the format.
package sealing

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"filippo.io/age"
	"filippo.io/age/armor"

	"brinefield/internal/app"
)

// Sealer is the package as internal/app wants it.
type Sealer struct {
	// WorkFactor is the base-2 logarithm of the work that each try of a passphrase
	// costs, in keys protected from now on; 0: 18, the format's own.
	WorkFactor int
	// MostWork is the most of it that a protected key may ask for when it is
	// unlocked; 0: 20, which no other value exceeds.
	MostWork int
}

var _ app.Sealer = Sealer{}

// NewKey makes a key: what to seal to, and what opens it.
func (Sealer) NewKey() (public, secret string, err error) {
	key, err := age.GenerateX25519Identity()
	if err != nil {
		return "", "", fmt.Errorf("making a key: %w", err)
	}
	return key.Recipient().String(), key.String(), nil
}

// CheckPublic says what is wrong with a public key. Errors: [app.ErrKey].
func (Sealer) CheckPublic(public string) error {
	_, err := recipient(public)
	return err
}

// Seal encrypts to every one of the public keys; the result is text. Errors:
// [app.ErrKey].
func (Sealer) Seal(publics []string, plain []byte) (string, error) {
	recipients := make([]age.Recipient, len(publics))
	for i, p := range publics {
		r, err := recipient(p)
		if err != nil {
			return "", err
		}
		recipients[i] = r
	}
	out, err := encrypt(plain, recipients...)
	if err != nil {
		return "", fmt.Errorf("sealing: %w", err)
	}
	return out, nil
}

// Open decrypts with a secret key, given as the text of its file: blank lines
// and those that begin with # are passed over. Errors: [app.ErrKey] for a text
// that is no key or one that is protected ([Sealer.Unlock] comes first), and for
// a key that does not open this.
func (Sealer) Open(secret, sealed string) ([]byte, error) {
	keys, err := identities(secret)
	if err != nil {
		return nil, err
	}
	body, err := age.Decrypt(armor.NewReader(strings.NewReader(sealed)), keys...)
	var wrong *age.NoIdentityMatchError
	if errors.As(err, &wrong) {
		return nil, fmt.Errorf("%w: the key does not open it; expected one of those that it was sealed to", app.ErrKey)
	}
	if err != nil {
		return nil, fmt.Errorf("%w: what is sealed is damaged: %w", app.ErrKey, err)
	}
	plain, err := io.ReadAll(body)
	if err != nil {
		return nil, fmt.Errorf("%w: what is sealed is damaged: %w", app.ErrKey, err)
	}
	return plain, nil
}

func recipient(public string) (age.Recipient, error) {
	if strings.HasPrefix(strings.ToUpper(strings.TrimSpace(public)), "AGE-SECRET-KEY") {
		return nil, fmt.Errorf("%w: this is a secret key, which nobody else may see; expected the public one that belongs to it and begins with age1", app.ErrKey)
	}
	r, err := age.ParseX25519Recipient(strings.TrimSpace(public))
	if err != nil {
		return nil, fmt.Errorf("%w: %q is no public key; expected one that begins with age1", app.ErrKey, public)
	}
	return r, nil
}
