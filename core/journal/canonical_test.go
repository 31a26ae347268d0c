package journal

import (
	"bytes"
	"cmp"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"github.com/gowebpki/jcs"
	"pgregory.net/rapid"

	"brinefield/core/study"
)

// The examples of RFC 8785 are from memory, compared with several open-source
// test suites that quote them.

// TestTheExampleOfRFC8785 is the example of section 3.2.2, with the bytes of
// section 3.2.4.
func TestTheExampleOfRFC8785(t *testing.T) {
	got, err := jcs.Transform([]byte(`{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}`))
	if err != nil {
		t.Fatal(err)
	}
	const want = "7b226c69746572616c73223a5b6e756c6c2c747275652c66616c73655d2c226e756d62657273223a5b3333333333333333332e333333333333332c" +
		"31652b33302c342e352c302e3030322c31652d32375d2c22737472696e67223a22e282ac245c75303030665c6e4127425c225c5c5c5c5c222f227d"
	differ(t, "bytes", want, hex.EncodeToString(got))
}

// rfcKeys are the keys and values of the example of section 3.2.3, and
// rfcSorted is their order: by UTF-16 code units, the emoji before U+FB33.
var rfcKeys = map[string]string{
	"\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One",
	"\U0001f600": "Emoji: Grinning Face", "\u0080": "Control", "\u00f6": "Latin Small Letter O With Diaeresis",
}

const rfcSorted = `{"\r":"Carriage Return","1":"One","` + "\u0080" + `":"Control","` + "\u00f6" + `":"Latin Small Letter O With Diaeresis","` +
	"\u20ac" + `":"Euro Sign","` + "\U0001f600" + `":"Emoji: Grinning Face","` + "\ufb33" + `":"Hebrew Letter Dalet With Dagesh"}`

func TestKeysAreSortedAsInRFC8785(t *testing.T) {
	unsorted, err := json.Marshal(rfcKeys)
	if err != nil {
		t.Fatal(err)
	}
	got, err := jcs.Transform(unsorted)
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "the module", rfcSorted, string(got))

	e := sealAll(t, "deck", Draft{Kind: "pass", Subject: "P1", Act: Record, Body: Body{Fields: rfcKeys}})[0]
	if !bytes.Contains(e.canonical, []byte(`"body":{"fields":`+rfcSorted+`}`)) {
		t.Errorf("the entry does not hold %s: %s", rfcSorted, e.canonical)
	}
}

// TestNumbersOfRFC8785 is appendix B. Entries hold whole numbers up to 2^53 − 1
// only; the last two rows are not numbers of JSON.
func TestNumbersOfRFC8785(t *testing.T) {
	for bits, want := range map[uint64]string{
		0x0000000000000000: "0", 0x8000000000000000: "0", 0x0000000000000001: "5e-324", 0x8000000000000001: "-5e-324",
		0x7fefffffffffffff: "1.7976931348623157e+308", 0xffefffffffffffff: "-1.7976931348623157e+308",
		0x4340000000000000: "9007199254740992", 0xc340000000000000: "-9007199254740992", 0x4430000000000000: "295147905179352830000",
		0x44b52d02c7e14af5: "9.999999999999997e+22", 0x44b52d02c7e14af6: "1e+23", 0x44b52d02c7e14af7: "1.0000000000000001e+23",
		0x444b1ae4d6e2ef4e: "999999999999999700000", 0x444b1ae4d6e2ef4f: "999999999999999900000", 0x444b1ae4d6e2ef50: "1e+21",
		0x3eb0c6f7a0b5ed8c: "9.999999999999997e-7", 0x3eb0c6f7a0b5ed8d: "0.000001",
		0x41b3de4355555553: "333333333.3333332", 0x41b3de4355555554: "333333333.33333325", 0x41b3de4355555555: "333333333.3333333",
		0x41b3de4355555556: "333333333.3333334", 0x41b3de4355555557: "333333333.33333343",
		0xbecbf647612f3696: "-0.0000033333333333333333", 0x43143ff3c1cb0959: "1424953923781206.2",
		0x7fffffffffffffff: "", 0x7ff0000000000000: "",
	} {
		got, err := jcs.NumberToJSON(math.Float64frombits(bits))
		if (err != nil) != (want == "") || err == nil && got != want {
			t.Errorf("%016x is %q (%v), not %q", bits, got, err, want)
		}
	}
}

// TestTextsAreEscapedAsInRFC8785 holds the rules of section 3.2.2.2: the two
// characters and the controls that must be escaped are, in the shortest form,
// and nothing else is. Go's own encoder escapes < > & U+2028 U+2029 besides.
func TestTextsAreEscapedAsInRFC8785(t *testing.T) {
	for text, want := range map[string]string{
		"\u20ac$\u000f\nA'B\"\\\\\"/":          `€$\u000f\nA'B\"\\\\\"/`, // of section 3.2.2
		"\b\t\n\f\r":                           `\b\t\n\f\r`,
		"\x00\x01\x0b\x0e\x1f":                 `\u0000\u0001\u000b\u000e\u001f`,
		"<a href='x'>&</a>":                    `<a href='x'>&</a>`,
		"\u2028\u2029":                         "\u2028\u2029",
		"\x7f\u0080\u009f":                     "\x7f\u0080\u009f",
		"\U0001f600\U00010000\U0010ffff":       "\U0001f600\U00010000\U0010ffff",
		"e\u0301 is not \u00e9":                "e\u0301 is not \u00e9", // no normalisation
		"\ufeff\ufffd\uffff":                   "\ufeff\ufffd\uffff",
		`\u0041 as six characters, and \ud800`: `\\u0041 as six characters, and \\ud800`,
	} {
		d := Draft{Author: text, Kind: study.Kind(text), Subject: text, Reason: text, Act: Record, Body: Body{
			Fields: map[string]string{text: text},
			Table:  &study.Table{Columns: []string{text}, Rows: [][]string{{text}}},
		}}
		e := sealAll(t, text, d)[0]
		for _, part := range []string{`"author":"%s"`, `"kind":"%s"`, `"subject":"%s"`, `"reason":"%s"`, `"device":"%s"`, `"fields":{"%s":"%[1]s"}`, `"columns":["%s"]`, `"rows":[["%s"]]`} {
			if part = fmt.Sprintf(part, want); !bytes.Contains(e.canonical, []byte(part)) {
				t.Errorf("%q is not written as %s in %s", text, part, e.canonical)
			}
		}
	}
}

// byModules is the entry written by encoding/json and put into canonical form
// by the module for RFC 8785.
func byModules(t rapid.TB, e *Entry) string {
	t.Helper()
	raw, err := json.Marshal(wire{
		Act: e.Act, Author: e.Author, Body: e.Body, Device: e.Device, ID: e.ID, Kind: e.Kind, MonotonicUS: e.MonotonicUS,
		Previous: e.Previous.String(), Reason: e.Reason, Run: e.Run, Seq: e.Seq, Subject: e.Subject, Undoes: e.Undoes,
		Version: e.Version, Wall: e.Wall.UTC().Format(wallLayout),
	})
	if err != nil {
		t.Fatalf("%v", err)
	}
	canonical, err := jcs.Transform(raw)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return string(canonical)
}

// TestTheOrderOfKeys against the definition.
func TestTheOrderOfKeys(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := anyText().Draw(t, "a"), anyText().Draw(t, "b")
		if rapid.Bool().Draw(t, "with the same beginning") {
			b = a + b
		}
		want := slices.Compare(utf16.Encode([]rune(a)), utf16.Encode([]rune(b)))
		if got := byUTF16(a, b); cmp.Compare(got, 0) != want {
			t.Errorf("%q, %q: %d, not %d", a, b, got, want)
		}
	})
}

// canonicalAgain is a method of our own for the canonical form of JSON without
// fractions, from the bytes back.
func canonicalAgain(t rapid.TB, data []byte) string {
	decoder := json.NewDecoder(bytes.NewReader(data))
	decoder.UseNumber()
	var v any
	if err := decoder.Decode(&v); err != nil {
		t.Fatalf("%v", err)
	}
	var b strings.Builder
	writeCanonical(&b, v)
	return b.String()
}

func writeCanonical(b *strings.Builder, v any) {
	switch v := v.(type) {
	case string:
		b.WriteByte('"')
		for _, r := range v {
			switch {
			case r == '"' || r == '\\':
				b.WriteString(`\` + string(r))
			case r < ' ' && strings.ContainsRune("\b\t\n\f\r", r):
				b.WriteString(`\` + string("btn_fr"[r-'\b']))
			case r < ' ':
				fmt.Fprintf(b, `\u%04x`, r)
			default:
				b.WriteRune(r)
			}
		}
		b.WriteByte('"')
	case []any:
		for i, element := range v {
			b.WriteString([]string{"[", ","}[min(i, 1)])
			writeCanonical(b, element)
		}
		b.WriteString([]string{"[]", "]"}[min(len(v), 1)])
	case map[string]any:
		names := slices.SortedFunc(maps.Keys(v), func(x, y string) int {
			return slices.Compare(utf16.Encode([]rune(x)), utf16.Encode([]rune(y)))
		})
		for i, name := range names {
			b.WriteString([]string{"{", ","}[min(i, 1)])
			writeCanonical(b, name)
			b.WriteByte(':')
			writeCanonical(b, v[name])
		}
		b.WriteString([]string{"{}", "}"}[min(len(v), 1)])
	default:
		fmt.Fprint(b, v)
	}
}

// TestSealAndParse: what is sealed reads back as it was, and is the canonical
// form by two other methods too.
func TestSealAndParse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draft := anyDraft().Draw(t, "draft")
		stamp := Stamp{
			Wall: time.UnixMilli(rapid.Int64Range(0, 253402300799999).Draw(t, "ms")).Add(time.Duration(rapid.IntRange(0, 999999).Draw(t, "ns"))), // to the end of 9999
			Run:  someText().Draw(t, "run"), MonotonicUS: rapid.Int64Range(0, largestInteger).Draw(t, "monotonic"),
		}
		copy(stamp.Random[:], rapid.SliceOfN(rapid.Byte(), 10, 10).Draw(t, "random"))
		head := Head{}
		if rapid.Bool().Draw(t, "later") {
			head = Head{Seq: rapid.Int64Range(1, largestInteger-1).Draw(t, "seq"), Hash: HashOf([]byte("before")), ID: "017f22e2-79b0-7cc3-98c4-dc0c0c07398f", Wall: noon}
		}
		device := someText().Draw(t, "device")
		e, canonical, next, err := Seal(head, device, draft, stamp)
		if err != nil {
			t.Fatal(err)
		}
		again, err := Parse(canonical)
		if err != nil {
			t.Fatalf("%v: %s", err, canonical)
		}
		differ(t, "entry read back", e, again)
		differ(t, "by the modules", byModules(t, &e), string(canonical))
		differ(t, "by a method of our own", canonicalAgain(t, canonical), string(canonical))
		differ(t, "end of the chain", Head{Seq: head.Seq + 1, Hash: HashOf(canonical), ID: e.ID, Wall: stamp.Wall.UTC().Truncate(time.Millisecond)}, next)
		differ(t, "what was stamped", []any{device, head.Seq + 1, head.Hash, stamp.Run, stamp.MonotonicUS, 1}, []any{e.Device, e.Seq, e.Previous, e.Run, e.MonotonicUS, e.Version})
		want := draft
		want.Body = draft.Body.clone() // no empty lists: JSON has one form for them
		differ(t, "draft in the entry", want, e.Draft)
	})
}

// TestSealKeepsItsOwnCopy: who keeps the draft cannot change the entry.
func TestSealKeepsItsOwnCopy(t *testing.T) {
	d := Draft{Kind: "track", Subject: "P1", Act: Correct, Body: Body{
		Fields: map[string]string{"note": "a"}, Was: map[string]string{"note": "b"},
		Table: &study.Table{Columns: []string{"t_s"}, Rows: [][]string{{"0"}}},
	}}
	e := sealAll(t, "deck", d)[0]
	scribble(d.Body)
	canonical, err := e.entry.Canonical()
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "canonical bytes", string(e.canonical), string(canonical))
}

// scribble writes over everything that a body refers to.
func scribble(b Body) {
	for _, fields := range []map[string]string{b.Fields, b.Was} {
		for name := range fields {
			fields[name] = "scribbled"
		}
		if fields != nil {
			fields["scribbled"] = "scribbled"
		}
	}
	if b.Table == nil {
		return
	}
	for i := range b.Table.Columns {
		b.Table.Columns[i] = "scribbled"
	}
	for _, row := range b.Table.Rows {
		for i := range row {
			row[i] = "scribbled"
		}
	}
}

// TestSealRefuses what no journal can hold, and leaves the end where it was.
func TestSealRefuses(t *testing.T) {
	bad := "\xff"
	full := Draft{Kind: "track", Subject: "P1", Act: Correct, Body: Body{Fields: map[string]string{"note": "a"}}}
	table := func(columns []string, rows ...[]string) func(*Draft) {
		return func(d *Draft) { d.Body.Table = &study.Table{Columns: columns, Rows: rows} }
	}
	for name, c := range map[string]struct {
		change func(*Draft)
		device string
		stamp  func(*Stamp)
		want   string
	}{
		"no kind":                {change: func(d *Draft) { d.Kind = "" }, want: "needs a kind"},
		"no act":                 {change: func(d *Draft) { d.Act = "" }, want: "expected record, correct or remove"},
		"unknown act":            {change: func(d *Draft) { d.Act = "erase" }, want: `"erase" is no act`},
		"corrects nothing":       {change: func(d *Draft) { d.Body = Body{} }, want: "changes nothing"},
		"was in a record":        {change: func(d *Draft) { d.Act, d.Body.Was = Record, map[string]string{"note": ""} }, want: "only a correction"},
		"removal with fields":    {change: func(d *Draft) { d.Act = Remove }, want: "holds no values"},
		"removal with a table":   {change: func(d *Draft) { d.Act, d.Body = Remove, Body{Table: &study.Table{}} }, want: "holds no values"},
		"blank in a record":      {change: func(d *Draft) { d.Act, d.Body.Fields = Record, map[string]string{"note": ""} }, want: `field "note" is blank`},
		"nameless field":         {change: func(d *Draft) { d.Body.Fields = map[string]string{"": "a"} }, want: "not empty"},
		"author not UTF-8":       {change: func(d *Draft) { d.Author = bad }, want: "not UTF-8"},
		"kind not UTF-8":         {change: func(d *Draft) { d.Kind = "a\xc3" }, want: "not UTF-8"},
		"subject a surrogate":    {change: func(d *Draft) { d.Subject = "\xed\xa0\x80" }, want: "not UTF-8"},
		"reason not UTF-8":       {change: func(d *Draft) { d.Reason = bad }, want: "not UTF-8"},
		"undoes not UTF-8":       {change: func(d *Draft) { d.Undoes = bad }, want: "not UTF-8"},
		"field name not UTF-8":   {change: func(d *Draft) { d.Body.Fields = map[string]string{bad: "a"} }, want: "must be UTF-8"},
		"field not UTF-8":        {change: func(d *Draft) { d.Body.Fields = map[string]string{"note": bad} }, want: "must be UTF-8"},
		"was not UTF-8":          {change: func(d *Draft) { d.Body.Was = map[string]string{"note": bad} }, want: "must be UTF-8"},
		"column not UTF-8":       {change: table([]string{bad}), want: "must be UTF-8"},
		"nameless column":        {change: table([]string{"t_s", ""}), want: "not empty"},
		"cell not UTF-8":         {change: table([]string{"t_s"}, []string{"0"}, []string{bad}), want: "row 2 of the table"},
		"ragged table":           {change: table([]string{"t_s", "x_cm"}, []string{"0", "1"}, []string{"0"}), want: "row 2 of the table has 1 cells for 2 columns"},
		"rows without columns":   {change: table(nil, []string{}), want: "needs columns"},
		"record, empty table":    {change: func(d *Draft) { d.Act, d.Body = Record, Body{Table: &study.Table{}} }, want: "needs columns"},
		"no device":              {device: "none", want: "needs a device"},
		"device not UTF-8":       {device: bad, want: "must be UTF-8"},
		"no run":                 {stamp: func(s *Stamp) { s.Run = "" }, want: "a run of the program"},
		"run not UTF-8":          {stamp: func(s *Stamp) { s.Run = bad }, want: "must be UTF-8"},
		"negative monotonic":     {stamp: func(s *Stamp) { s.MonotonicUS = -1 }, want: "expected 0 or more"},
		"monotonic beyond JSON":  {stamp: func(s *Stamp) { s.MonotonicUS = 1 << 53 }, want: "beyond what JSON keeps"},
		"clock before 1970":      {stamp: func(s *Stamp) { s.Wall = time.Unix(0, -1) }, want: "the clock says 1969-12-31"},
		"clock beyond 9999":      {stamp: func(s *Stamp) { s.Wall = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) }, want: "the year 10000"},
		"clock beyond all times": {stamp: func(s *Stamp) { s.Wall = time.Unix(math.MaxInt64, 0) }, want: "the"},
	} {
		t.Run(name, func(t *testing.T) {
			d, s, device := full, stampAt(noon, 1), cmp.Or(c.device, "deck")
			if c.change != nil {
				c.change(&d)
			}
			if c.stamp != nil {
				c.stamp(&s)
			}
			if device == "none" {
				device = ""
			}
			head := Head{Seq: 3, Hash: HashOf(nil), ID: "017f22e2-79b0-7cc3-98c4-dc0c0c07398f", Wall: noon}
			_, canonical, next, err := Seal(head, device, d, s)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v does not say %q", err, c.want)
			}
			if canonical != nil || next != head {
				t.Error("something was written")
			}
		})
	}
	if _, _, _, err := Seal(Head{}, "deck", full, stampAt(noon, 1)); err != nil {
		t.Errorf("the draft without a fault: %v", err)
	}
}
