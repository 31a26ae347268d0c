package season

import (
	"bytes"
	"encoding/binary"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"
)

// decodeText turns the bytes of a file into UTF-8 text without a byte order
// mark. It reads UTF-16 where a mark, or zero bytes beside the first
// character, show that a spreadsheet saved it so.
func decodeText(data []byte) string {
	switch {
	case bytes.HasPrefix(data, []byte{0xEF, 0xBB, 0xBF}):
		return string(data[3:])
	case bytes.HasPrefix(data, []byte{0xFF, 0xFE}):
		return decodeUTF16(data[2:], binary.LittleEndian)
	case bytes.HasPrefix(data, []byte{0xFE, 0xFF}):
		return decodeUTF16(data[2:], binary.BigEndian)
	case len(data) >= 4 && data[0] != 0 && data[1] == 0 && data[2] != 0 && data[3] == 0:
		return decodeUTF16(data, binary.LittleEndian)
	case len(data) >= 4 && data[0] == 0 && data[1] != 0 && data[2] == 0 && data[3] != 0:
		return decodeUTF16(data, binary.BigEndian)
	}
	return string(data)
}

func decodeUTF16(data []byte, order binary.ByteOrder) string {
	units := make([]uint16, 0, len(data)/2)
	for ; len(data) >= 2; data = data[2:] {
		units = append(units, order.Uint16(data))
	}
	return string(utf16.Decode(units))
}

// fromLatin1 reads bytes that are no UTF-8 as a Western spreadsheet meant
// them, so that the rest of the file can still be checked.
func fromLatin1(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); {
		r, size := utf8.DecodeRuneInString(s[i:])
		if r == utf8.RuneError && size == 1 {
			r = rune(s[i])
		}
		b.WriteRune(r)
		i += size
	}
	return b.String()
}

// trim takes away the spaces round a cell, among them the non-breaking and
// the invisible ones that copying from a page or a spreadsheet brings along.
func trim(s string) string {
	if s == "" || plainByte(s[0]) && plainByte(s[len(s)-1]) {
		return s
	}
	return strings.TrimFunc(s, blankRune)
}

func plainByte(c byte) bool { return c > ' ' && c < utf8.RuneSelf }

func blankRune(r rune) bool {
	return unicode.IsSpace(r) || r == '\uFEFF' || r == '\u200B' || r == '\u2060'
}

// tidyName is a name as it is compared: trimmed, with plain spaces inside.
func tidyName(s string) string {
	s = trim(s)
	for i := 0; i < len(s); i++ {
		if s[i] >= utf8.RuneSelf {
			return strings.Map(func(r rune) rune {
				if unicode.Is(unicode.Zs, r) {
					return ' '
				}
				return r
			}, s)
		}
	}
	return s
}

// holdsControl reports a line break or another control character, which no
// name may hold.
func holdsControl(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < ' ' || s[i] == 0x7F {
			return true
		}
	}
	return false
}
