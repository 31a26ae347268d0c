package journal

import (
	"maps"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"

	"brinefield/core/study"
)

// The canonical form is written here key by key, in its order: an import seals
// entries by the hundred thousand, and to let a general writer make the JSON
// and another sort it takes several times as long. Tests compare it with both.

func (e *Entry) appendTo(b []byte) []byte {
	b = appendText(append(b, `{"act":`...), string(e.Act))
	if e.Author != "" {
		b = appendText(append(b, `,"author":`...), e.Author)
	}
	b = e.Body.appendTo(append(b, `,"body":`...))
	b = appendText(append(b, `,"device":`...), e.Device)
	b = appendText(append(b, `,"id":`...), e.ID)
	b = appendText(append(b, `,"kind":`...), string(e.Kind))
	b = strconv.AppendInt(append(b, `,"monotonic_us":`...), e.MonotonicUS, 10)
	b = appendText(append(b, `,"previous":`...), e.Previous.String())
	if e.Reason != "" {
		b = appendText(append(b, `,"reason":`...), e.Reason)
	}
	b = appendText(append(b, `,"run":`...), e.Run)
	b = strconv.AppendInt(append(b, `,"seq":`...), e.Seq, 10)
	b = appendText(append(b, `,"subject":`...), e.Subject)
	if e.Undoes != "" {
		b = appendText(append(b, `,"undoes":`...), e.Undoes)
	}
	b = strconv.AppendInt(append(b, `,"version":`...), int64(e.Version), 10)
	b = appendText(append(b, `,"wall":`...), e.Wall.UTC().Format(wallLayout))
	return append(b, '}')
}

func (b *Body) appendTo(out []byte) []byte {
	out = append(out, '{')
	begin := len(out)
	key := func(name string) {
		if len(out) > begin {
			out = append(out, ',')
		}
		out = append(out, name...)
	}
	if len(b.Fields) > 0 {
		key(`"fields":`)
		out = appendFields(out, b.Fields)
	}
	if b.Table != nil {
		key(`"table":`)
		out = appendTable(out, b.Table)
	}
	if len(b.Was) > 0 {
		key(`"was":`)
		out = appendFields(out, b.Was)
	}
	return append(out, '}')
}

// CanonicalFields are fields as one JSON object in the form of RFC 8785, as a body
// holds them.
func CanonicalFields(fields map[string]string) []byte { return appendFields(nil, fields) }

func appendFields(b []byte, fields map[string]string) []byte {
	b = append(b, '{')
	for i, name := range slices.SortedFunc(maps.Keys(fields), byUTF16) {
		if i > 0 {
			b = append(b, ',')
		}
		b = append(appendText(b, name), ':')
		b = appendText(b, fields[name])
	}
	return append(b, '}')
}

func appendTable(b []byte, t *study.Table) []byte {
	b = appendTexts(append(b, `{"columns":`...), t.Columns)
	b = append(b, `,"rows":[`...)
	for i, row := range t.Rows {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendTexts(b, row)
	}
	return append(b, "]}"...)
}

func appendTexts(b []byte, texts []string) []byte {
	b = append(b, '[')
	for i, text := range texts {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendText(b, text)
	}
	return append(b, ']')
}

// appendText writes a text with the escapes that RFC 8785 wants, and no other.
func appendText(b []byte, text string) []byte {
	const hex = "0123456789abcdef"
	b = append(b, '"')
	from := 0
	for i := range len(text) {
		c := text[i]
		if c >= ' ' && c != '"' && c != '\\' {
			continue
		}
		b = append(append(b, text[from:i]...), '\\')
		from = i + 1
		switch c {
		case '"', '\\':
			b = append(b, c)
		case '\b':
			b = append(b, 'b')
		case '\t':
			b = append(b, 't')
		case '\n':
			b = append(b, 'n')
		case '\f':
			b = append(b, 'f')
		case '\r':
			b = append(b, 'r')
		default:
			b = append(b, 'u', '0', '0', hex[c>>4], hex[c&15])
		}
	}
	return append(append(b, text[from:]...), '"')
}

// byUTF16 is the order of keys in RFC 8785: by UTF-16 code units, in which what
// lies beyond U+FFFF comes before U+E000.
func byUTF16(a, b string) int {
	for i := range min(len(a), len(b)) {
		switch {
		case a[i] == b[i]:
		case a[i] < 0x80 && b[i] < 0x80:
			return int(a[i]) - int(b[i])
		default:
			return slices.Compare(utf16.Encode([]rune(a)), utf16.Encode([]rune(b)))
		}
	}
	return strings.Compare(a, b)
}
