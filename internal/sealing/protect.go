package sealing

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"filippo.io/age"
	"filippo.io/age/armor"

	"brinefield/internal/app"
)

const (
	// mostWork is the most that a file may ask for before its passphrase is even
	// looked at: 1 GiB. A file that asks for more would hang this machine. The
	// format's own programs take 18: 256 MiB, and a second or so for every try.
	mostWork = 20
	// mostKeyBytes is far more than a file of keys can need.
	mostKeyBytes = 1 << 16
)

// Protect encrypts a secret key, given as the text of its file, to a passphrase,
// as the age format does: whoever finds the file needs the passphrase too. The
// result is text. Errors: [app.ErrKey] without a passphrase, and for a text that
// is no secret key or is protected already.
func (s Sealer) Protect(secret, passphrase string) (string, error) {
	if passphrase == "" {
		return "", fmt.Errorf("%w: the passphrase is empty; expected one that nobody guesses, such as six words drawn by lot", app.ErrKey)
	}
	if _, err := identities(secret); err != nil {
		return "", err
	}
	to, err := age.NewScryptRecipient(passphrase)
	if err != nil {
		return "", fmt.Errorf("protecting a key: %w", err)
	}
	if s.WorkFactor > 0 {
		to.SetWorkFactor(min(s.WorkFactor, mostWork))
	}
	out, err := encrypt([]byte(strings.TrimSuffix(secret, "\n")+"\n"), to)
	if err != nil {
		return "", fmt.Errorf("protecting a key: %w", err)
	}
	return out, nil
}

// Unlock takes the passphrase off a secret key, given as the text of its file; a
// key that has none comes back as it is. What comes back is a secret key that
// [Sealer.Open] takes. It costs a second of work on purpose: unlock once, open
// often.
//
// Errors: [app.ErrKey] for a passphrase that is missing, wrong, or given for a
// key that has none, for a damaged file, for one that asks for more work than
// this machine should do, and for a text that is no secret key.
func (s Sealer) Unlock(secret, passphrase string) (plain string, err error) {
	if !protected(secret) {
		if _, err := identities(secret); err != nil {
			return "", err
		}
		if passphrase != "" {
			return "", fmt.Errorf("%w: a passphrase is given, and this key is not protected by one; expected none, or the protected file", app.ErrKey)
		}
		return secret, nil
	}
	if passphrase == "" {
		return "", fmt.Errorf("%w: this key is protected by a passphrase, and none is given; expected the passphrase that was chosen when the key was made", app.ErrKey)
	}
	with, err := age.NewScryptIdentity(passphrase)
	if err != nil {
		return "", fmt.Errorf("%w: %w", app.ErrKey, err)
	}
	most := s.mostWork()
	with.SetMaxWorkFactor(most)
	body, err := age.Decrypt(unwrapped(secret), &byPassphrase{with, most})
	var wrong *age.NoIdentityMatchError
	switch {
	case errors.Is(err, errOtherKind):
		return "", fmt.Errorf("%w: this file is sealed to keys, not protected by a passphrase; expected the file of a secret key", app.ErrKey)
	case errors.Is(err, errTooMuchWork):
		return "", fmt.Errorf("%w: this file asks for more than 2^%d steps of work for its passphrase; expected at most that, as the programs of the age format make them", app.ErrKey, most)
	case errors.As(err, &wrong):
		return "", fmt.Errorf("%w: the passphrase is not the one of this key; expected the one that was chosen when the key was made, in the same letters", app.ErrKey)
	case err != nil:
		return "", errDamagedKey
	}
	text, err := io.ReadAll(io.LimitReader(body, mostKeyBytes+1))
	if err != nil {
		return "", errDamagedKey
	}
	if len(text) > mostKeyBytes {
		return "", fmt.Errorf("%w: the passphrase opens it, and it is longer than any key; expected the file of a secret key", app.ErrKey)
	}
	if _, err := identities(string(text)); err != nil {
		return "", fmt.Errorf("%w: the passphrase opens it, and inside is no secret key; expected a line that begins with AGE-SECRET-KEY-1", app.ErrKey)
	}
	return string(text), nil
}

// PublicOf is the public key that belongs to a secret one, given as the text of
// its file and without a passphrase ([Sealer.Unlock]). Errors: [app.ErrKey] for a
// text that is no secret key, or several.
func (Sealer) PublicOf(secret string) (string, error) {
	keys, err := identities(secret)
	if err != nil {
		return "", err
	}
	if len(keys) > 1 {
		return "", fmt.Errorf("%w: this file holds %d secret keys; expected one, so that it can be said whose it is", app.ErrKey, len(keys))
	}
	key, ok := keys[0].(*age.X25519Identity)
	if !ok {
		return "", fmt.Errorf("%w: this is a secret key of another kind than schedules are sealed to; expected a line that begins with AGE-SECRET-KEY-1", app.ErrKey)
	}
	return key.Recipient().String(), nil
}

var (
	errDamagedKey  = fmt.Errorf("%w: this file of a protected key is damaged: it was changed or is cut off; expected all of it, from BEGIN to END", app.ErrKey)
	errTooMuchWork = errors.New("too much work")
	errOtherKind   = errors.New("not by a passphrase")
)

func (s Sealer) mostWork() int {
	if s.MostWork > 0 {
		return min(s.MostWork, mostWork)
	}
	return mostWork
}

// byPassphrase tells apart what the library reports with one kind of error.
type byPassphrase struct {
	*age.ScryptIdentity
	most int
}

// Unwrap is as the library's; see there for what a stanza of a passphrase holds.
func (b *byPassphrase) Unwrap(stanzas []*age.Stanza) ([]byte, error) {
	for _, stanza := range stanzas {
		if stanza.Type != "scrypt" {
			return nil, errOtherKind
		}
		if len(stanza.Args) != 2 {
			continue // damaged; the library says so
		}
		if work, err := strconv.Atoi(stanza.Args[1]); errors.Is(err, strconv.ErrRange) || err == nil && work > b.most {
			return nil, errTooMuchWork
		}
	}
	return b.ScryptIdentity.Unwrap(stanzas)
}

// binaryIntro is what a file of the age format begins with that is not text.
const binaryIntro = "age-encryption.org/"

// protected reports whether the text of a key's file is an age file itself.
func protected(secret string) bool {
	return strings.HasPrefix(secret, binaryIntro) || strings.HasPrefix(strings.TrimSpace(secret), armor.Header)
}

func unwrapped(secret string) io.Reader {
	if strings.HasPrefix(secret, binaryIntro) {
		return strings.NewReader(secret)
	}
	return armor.NewReader(strings.NewReader(strings.TrimSpace(secret)))
}

// identities reads a secret key from the text of its file. Errors:
// [app.ErrKey]; none of them repeats the text.
func identities(secret string) ([]age.Identity, error) {
	if protected(secret) {
		return nil, fmt.Errorf("%w: this key is protected by a passphrase; expected the passphrase with it", app.ErrKey)
	}
	if scan := bufio.NewScanner(strings.NewReader(secret)); scan.Scan() && strings.HasPrefix(strings.TrimSpace(scan.Text()), "age1") {
		return nil, fmt.Errorf("%w: this is a public key; expected the secret one that belongs to it and begins with AGE-SECRET-KEY-1", app.ErrKey)
	}
	keys, err := age.ParseIdentities(strings.NewReader(secret))
	if err != nil {
		return nil, fmt.Errorf("%w: this is no secret key; expected a line that begins with AGE-SECRET-KEY-1", app.ErrKey)
	}
	return keys, nil
}

// encrypt is text that any of the recipients opens.
func encrypt(plain []byte, to ...age.Recipient) (string, error) {
	var out bytes.Buffer
	wrapped := armor.NewWriter(&out)
	body, err := age.Encrypt(wrapped, to...)
	if err != nil {
		return "", err
	}
	if _, err := body.Write(plain); err != nil {
		return "", err
	}
	if err := errors.Join(body.Close(), wrapped.Close()); err != nil {
		return "", err
	}
	return out.String(), nil
}
