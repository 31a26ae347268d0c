package sealing_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"filippo.io/age"
	"filippo.io/age/armor"

	"brinefield/internal/app"
	"brinefield/internal/sealing"
)

// quick makes passphrases cheap to try, which only a test may want.
var quick = sealing.Sealer{WorkFactor: 2, MostWork: 6}

const phrase = "six invented words, with an ö"

func protectedKey(t testing.TB) (public, secret, file string) {
	t.Helper()
	public, secret, err := quick.NewKey()
	if err != nil {
		t.Fatal(err)
	}
	if file, err = quick.Protect("# invented\n"+secret, phrase); err != nil {
		t.Fatal(err)
	}
	return public, secret, file
}

func TestAProtectedKeyIsUnlocked(t *testing.T) {
	public, secret, file := protectedKey(t)
	if strings.Contains(file, "AGE-SECRET-KEY") || strings.Contains(file, phrase) {
		t.Fatalf("the protected file tells the key or the passphrase:\n%s", file)
	}
	for name, text := range map[string]string{"as made": file, "by a mail program": "\n " + strings.ReplaceAll(file, "\n", "\r\n") + "\r\n"} {
		plain, err := quick.Unlock(text, phrase)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if plain != "# invented\n"+secret+"\n" {
			t.Errorf("%s: unlocked %q", name, plain)
		}
		if got, err := quick.PublicOf(plain); err != nil || got != public {
			t.Errorf("%s: the public key is %q (%v), made was %q", name, got, err, public)
		}
	}
	if plain, err := quick.Unlock(secret, ""); err != nil || plain != secret {
		t.Errorf("a key without a passphrase came back as %q, %v", plain, err)
	}
}

// The library's own reading opens what is made here, and what it makes is
// opened here, as text and as bytes (age-encryption.org/v1: an encrypted identity
// file is an age file with one scrypt stanza).
func TestProtectedKeysAreThoseOfTheFormat(t *testing.T) {
	public, secret, file := protectedKey(t)
	with, err := age.NewScryptIdentity(phrase)
	if err != nil {
		t.Fatal(err)
	}
	body, err := age.Decrypt(armor.NewReader(strings.NewReader(file)), with)
	if err != nil {
		t.Fatal(err)
	}
	keys, err := age.ParseIdentities(body)
	if err != nil || len(keys) != 1 || keys[0].(*age.X25519Identity).String() != secret {
		t.Fatalf("the library reads %v, %v", keys, err)
	}
	sealed, err := quick.Seal([]string{public}, []byte("an invented text"))
	if err != nil {
		t.Fatal(err)
	}
	body, err = age.Decrypt(armor.NewReader(strings.NewReader(sealed)), keys...)
	if err != nil {
		t.Fatal(err)
	}
	if plain, err := io.ReadAll(body); err != nil || string(plain) != "an invented text" {
		t.Errorf("the library opens %q, %v", plain, err)
	}

	for _, asText := range []bool{true, false} {
		theirs := theirFile(t, secret, phrase, 3, asText)
		if plain, err := quick.Unlock(theirs, phrase); err != nil || plain != secret {
			t.Errorf("the library's file, as text %v: %q, %v", asText, plain, err)
		}
	}
}

// theirFile is made by the library alone.
func theirFile(t testing.TB, plain, passphrase string, work int, asText bool) string {
	t.Helper()
	to, err := age.NewScryptRecipient(passphrase)
	if err != nil {
		t.Fatal(err)
	}
	to.SetWorkFactor(work)
	var out bytes.Buffer
	var text io.WriteCloser
	in := io.Writer(&out)
	if asText {
		text = armor.NewWriter(&out)
		in = text
	}
	body, err := age.Encrypt(in, to)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(body, plain); err != nil {
		t.Fatal(err)
	}
	if err := body.Close(); err != nil {
		t.Fatal(err)
	}
	if text != nil {
		if err := text.Close(); err != nil {
			t.Fatal(err)
		}
	}
	return out.String()
}

// Without a work factor a key costs what the format's own programs take, 2^18
// (NewScryptRecipient of filippo.io/age v1.3.2).
func TestTheUsualWork(t *testing.T) {
	if testing.Short() {
		t.Skip("takes a quarter of a gigabyte")
	}
	_, secret, _ := protectedKey(t)
	file, err := (sealing.Sealer{}).Protect(secret, phrase)
	if err != nil {
		t.Fatal(err)
	}
	head, err := io.ReadAll(io.LimitReader(armor.NewReader(strings.NewReader(file)), 100))
	if err != nil {
		t.Fatal(err)
	}
	var salt string
	var work int
	if _, err := fmt.Sscanf(string(head), "age-encryption.org/v1\n-> scrypt %s %d\n", &salt, &work); err != nil || work != 18 {
		t.Errorf("work factor %d (%v) in %q", work, err, head)
	}
}

// Each fault has its own sentence, and none of them tells the key or the
// passphrase.
func TestFaultsOfProtectedKeys(t *testing.T) {
	public, secret, file := protectedKey(t)
	_, other, err := quick.NewKey()
	if err != nil {
		t.Fatal(err)
	}
	toKeys, err := quick.Seal([]string{public}, []byte("text"))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(file), "\n")
	seen := map[string]string{}
	for _, c := range []struct{ name, file, passphrase, want string }{
		{"none given", file, "", "none is given"},
		{"a wrong one", file, phrase + " ", "not the one of this key"},
		{"one too many", secret, phrase, "not protected by one"},
		{"cut off", strings.Join(lines[:len(lines)-1], "\n"), phrase, "damaged"},
		{"sealed to keys", toKeys, phrase, "sealed to keys"},
		{"more work than this machine should do", theirFile(t, secret, phrase, 7, true), phrase, "more than 2^6 steps"},
		{"no key inside", theirFile(t, "hello", phrase, 2, true), phrase, "inside is no secret key"},
		{"protected twice", theirFile(t, file, phrase, 2, true), phrase, "inside is no secret key"},
		{"very long inside", theirFile(t, secret+strings.Repeat("\n", 70_000), phrase, 2, true), phrase, "longer than any key"},
		{"no key", "hello", "", "no secret key; expected"},
		{"a public key", public, "", "this is a public key"},
		{"a public key with a passphrase", public, phrase, "this is a public key"},
	} {
		plain, err := quick.Unlock(c.file, c.passphrase)
		if !errors.Is(err, app.ErrKey) || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "expected") || plain != "" {
			t.Errorf("%s: %q, %v", c.name, plain, err)
			continue
		}
		if strings.Contains(err.Error(), secret) || strings.Contains(err.Error(), phrase) {
			t.Errorf("%s: the error tells a secret: %v", c.name, err)
		}
		if before, twice := seen[err.Error()]; twice && c.name != "protected twice" && c.name != "a public key with a passphrase" {
			t.Errorf("%s and %s have the same sentence: %v", c.name, before, err)
		}
		seen[err.Error()] = c.name
	}
	// A changed letter anywhere: never the key, always a sentence.
	for at := len(armor.Header) + 1; at < len(file)-len(armor.Footer)-2; at += 7 {
		if file[at] == '\n' {
			continue
		}
		changed := []byte(file)
		changed[at] = 'A' + (changed[at]+1)%26
		if plain, err := quick.Unlock(string(changed), phrase); string(changed) != file && !errors.Is(err, app.ErrKey) {
			t.Errorf("letter %d changed: %q, %v", at, plain, err)
		}
	}
	if _, err := quick.Open(file, toKeys); !errors.Is(err, app.ErrKey) || !strings.Contains(err.Error(), "protected by a passphrase") {
		t.Errorf("opened with a key that is still locked: %v", err)
	}
	for name, c := range map[string][2]string{"no passphrase": {secret, ""}, "no key": {"hello", phrase}, "a public key": {public, phrase}, "protected already": {file, phrase}} {
		if out, err := quick.Protect(c[0], c[1]); !errors.Is(err, app.ErrKey) || out != "" {
			t.Errorf("%s was protected: %q, %v", name, out, err)
		}
	}
	for name, text := range map[string]string{"no key": "hello", "a public key": public, "two keys": secret + "\n" + other, "a locked key": file} {
		if got, err := quick.PublicOf(text); !errors.Is(err, app.ErrKey) || got != "" {
			t.Errorf("the public key of %s is %q, %v", name, got, err)
		}
	}
}

// The lead's key is protected. Whether its passphrase is forgotten or the laptop
// with it is on the sea floor: the recovery key alone opens the schedule, and the
// lead's key without its passphrase does not.
func TestTheRecoveryKeyAloneOpens(t *testing.T) {
	lead, _, leadFile := protectedKey(t)
	recovery, onPaper, err := quick.NewKey()
	if err != nil {
		t.Fatal(err)
	}
	d := sealed(t, []string{lead, recovery})
	unlocked, err := quick.Unlock(leadFile, phrase)
	if err != nil {
		t.Fatal(err)
	}
	byLead, err := app.UnsealSchedule(d, unlocked, quick, app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := quick.Unlock(leadFile, "forgotten"); !errors.Is(err, app.ErrKey) {
		t.Errorf("unlocked with a forgotten passphrase: %v", err)
	}
	if _, err := app.UnsealSchedule(d, leadFile, quick, app.Program{}); !errors.Is(err, app.ErrKey) {
		t.Errorf("opened with the lead's locked key: %v", err)
	}
	byRecovery, err := app.UnsealSchedule(d, onPaper, quick, app.Program{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range byLead.Trials {
		if byLead.Trials[i].ActivePair != byRecovery.Trials[i].ActivePair || byLead.Trials[i].Nonce != byRecovery.Trials[i].Nonce {
			t.Errorf("trial %s differs between the keys", byLead.Trials[i].Trial)
		}
	}
	if differences := app.CheckSchedule(byRecovery); len(differences) > 0 {
		t.Error(differences)
	}
}

// Whatever the text of a key's file is, it is unlocked or refused with a
// sentence, in time and memory of the work that is allowed.
func FuzzKey(f *testing.F) {
	public, secret, file := protectedKey(f)
	sealed, err := quick.Seal([]string{public}, []byte("text"))
	if err != nil {
		f.Fatal(err)
	}
	for _, text := range []string{"", "# only a comment\n", public, secret, secret + "\n" + secret, file, sealed, theirFile(f, secret, phrase, 3, false), theirFile(f, secret, phrase, 7, true)} {
		f.Add(text, phrase)
		f.Add(text, "")
	}
	f.Add("age-encryption.org/v1\n-> scrypt AAAAAAAAAAAAAAAAAAAAAA 99999999999999999999\nAAAA\n--- AAAA\n", phrase)
	f.Fuzz(func(t *testing.T, text, passphrase string) {
		plain, err := quick.Unlock(text, passphrase)
		if err != nil {
			if !errors.Is(err, app.ErrKey) || plain != "" {
				t.Fatalf("%q, %v", plain, err)
			}
			return
		}
		if again, err := quick.Unlock(plain, ""); err != nil || again != plain {
			t.Fatalf("what was unlocked is no key: %q, %v", again, err)
		}
		if _, err := quick.PublicOf(plain); err != nil && !errors.Is(err, app.ErrKey) {
			t.Fatal(err)
		}
		if _, err := quick.Open(plain, sealed); err != nil && !errors.Is(err, app.ErrKey) {
			t.Fatal(err)
		}
		if _, err := quick.Protect(plain, passphrase); err != nil && !errors.Is(err, app.ErrKey) {
			t.Fatal(err)
		}
	})
}
