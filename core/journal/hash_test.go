package journal

import (
	"strings"
	"testing"
)

// TestHash holds the SHA-256 examples of FIPS 180-4 (from memory).
func TestHash(t *testing.T) {
	for text, want := range map[string]string{
		"":    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
		"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
		"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq": "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
	} {
		h := HashOf([]byte(text))
		differ(t, text, want, h.String())
		again, err := ParseHash(want)
		if err != nil || again != h {
			t.Errorf("%s reads back as %s: %v", want, again, err)
		}
	}
	good := strings.Repeat("ab", 32)
	for _, bad := range []string{"", "abc", good[1:], good[2:], good + "00", strings.ToUpper(good), "0x" + good[2:], "g" + good[1:], " " + good[1:], good + "\n"} {
		if _, err := ParseHash(bad); err == nil || !strings.Contains(err.Error(), "expected 64 hexadecimal digits in lower case") {
			t.Errorf("%q: %v", bad, err)
		}
	}
}
