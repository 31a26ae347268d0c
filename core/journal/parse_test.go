package journal

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"brinefield/core/study"
)

// sample is an entry with every part that an entry can have.
func sample(t testing.TB) sealed {
	return sealAll(t, "deck", passDrafts(1)[0], Draft{
		Author: "person-1", Kind: study.KindTrack, Subject: "P1", Act: Correct, Reason: "the cliché moved", Undoes: strings.ToLower(rfcID),
		Body: Body{
			Fields: map[string]string{"note": "a\nb", "point": "snout"}, Was: map[string]string{"note": "", "point": ""},
			Table: &study.Table{Columns: []string{"t_s", "x_cm"}, Rows: [][]string{{"0", "1"}, {"1", ""}}},
		},
	})[1]
}

// traps are changes of the sample that many readers of JSON let pass: old text
// and new text.
var traps = []struct{ name, old, new string }{
	{"byte that is no UTF-8", "cliché", "clich\xe9"},
	{"overlong UTF-8", "cliché", "\xc1\xa3liché"},
	{"surrogate in UTF-8", "cliché", "\xed\xa0\x80"},
	{"byte that is no UTF-8 in a key", `"point":""`, "\"\xff\":\"\""},
	{"lone high surrogate", "cliché", `\ud800`},
	{"lone low surrogate", "cliché", `\udc00`},
	{"surrogates the wrong way round", "cliché", `\udc00\ud800`},
	{"high surrogate before a letter", "cliché", `\ud83dx`},
	{"lone surrogate in a key", `"point":""`, `"\ud800":""`},
	{"escaped pair", "cliché", `\ud83d\ude00`},
	{"escaped letter", "cliché", `clich\u00e9`},
	{"escaped ASCII", "deck", `dec\u006b`},
	{"escaped slash", "cliché", `\/`},
	{"escaped key", `"seq"`, `"\u0073eq"`},
	{"long form of an escape", `a\nb`, `a\u000ab`},
	{"escape in capitals", `a\nb`, `a\u001Fb`},
	{"raw line end", `a\nb`, "a\nb"},
	{"raw zero byte", `a\nb`, "a\x00b"},
	{"unknown escape", `a\nb`, `a\xb`},
	{"line separator escaped", "cliché", `\u2028`},
	{"angle bracket escaped", "cliché", `\u003c`},

	{"doubled key", `"seq":2`, `"seq":2,"seq":2`},
	{"doubled key, another value first", `"seq":2`, `"seq":9,"seq":2`},
	{"doubled field", `"point":"snout"`, `"point":"snout","point":"snout"`},
	{"doubled key of the body", `"was":`, `"was":{},"was":`},
	{"key in capitals", `"seq"`, `"SEQ"`},
	{"key in capitals besides", `"seq":2`, `"SEQ":9,"seq":2`},
	{"key with a long s", `"seq"`, "\"\u017feq\""},
	{"key with a Kelvin sign", `"kind"`, "\"\u212aind\""},
	{"unknown key", `"seq":2`, `"seq":2,"sequel":3`},
	{"unknown key of the body", `"was":`, `"and":1,"was":`},
	{"unknown key of the table", `"rows":`, `"note":"","rows":`},
	{"keys in another order", `"seq":2,"subject":"P1"`, `"subject":"P1","seq":2`},
	{"fields in another order", `"note":"","point":""`, `"point":"","note":""`},
	{"missing key", `"seq":2,`, ""},
	{"missing run", `"run":"run-1",`, ""},
	{"missing device", `"device":"deck",`, ""},

	{"exponent", `"seq":2`, `"seq":2e0`},
	{"larger exponent", `"seq":2`, `"seq":1e3`},
	{"fraction", `"seq":2`, `"seq":2.0`},
	{"leading zero", `"seq":2`, `"seq":02`},
	{"plus", `"seq":2`, `"seq":+2`},
	{"hexadecimal", `"seq":2`, `"seq":0x2`},
	{"minus zero", `"monotonic_us":1000`, `"monotonic_us":-0`},
	{"negative", `"monotonic_us":1000`, `"monotonic_us":-1`},
	{"number as text", `"seq":2`, `"seq":"2"`},
	{"number zero", `"seq":2`, `"seq":0`},
	{"negative number", `"seq":2`, `"seq":-2`},
	{"number beyond 2^53", `"seq":2`, `"seq":9007199254740992`},
	{"number beyond 64 bits", `"seq":2`, `"seq":18446744073709551618`},
	{"endless number", `"seq":2`, `"seq":1e999`},
	{"not a number", `"seq":2`, `"seq":NaN`},
	{"version zero", `"version":1`, `"version":0`},
	{"version beyond 2^53", `"version":1`, `"version":9007199254740994`},
	{"true for one", `"version":1`, `"version":true`},

	{"null for a number", `"seq":2`, `"seq":null`},
	{"null for a text", `"reason":"the cliché moved"`, `"reason":null`},
	{"null for an act", `"act":"correct"`, `"act":null`},
	{"null for fields", `"was":{"note":"","point":""}`, `"was":null`},
	{"null for a field", `"point":"snout"`, `"point":null`},
	{"null for rows", `[["0","1"],["1",""]]`, "null"},
	{"null for a row", `["1",""]`, "null"},
	{"null for a cell", `["1",""]`, `["1",null]`},
	{"null for columns", `["t_s","x_cm"]`, "null"},
	{"null for the table", `{"columns":["t_s","x_cm"],"rows":[["0","1"],["1",""]]}`, "null"},
	{"blank author", `"author":"person-1"`, `"author":""`},
	{"blank undoes", `"undoes":"` + "017f22e2-79b0-7cc3-98c4-dc0c0c07398f" + `"`, `"undoes":""`},
	{"empty was", `"was":{"note":"","point":""}`, `"was":{}`},
	{"number for a cell", `["1",""]`, `[1,""]`},
	{"list for fields", `"was":{"note":"","point":""}`, `"was":[]`},

	{"space", `"seq":2`, `"seq": 2`},
	{"space in front", `{"act"`, ` {"act"`},
	{"byte order mark", `{"act"`, "\ufeff" + `{"act"`},
	{"comma at the end", `Z"}`, `Z",}`},
	{"line end after", `Z"}`, "Z\"}\n"},
	{"zero byte after", `Z"}`, "Z\"}\x00"},
	{"second entry after", `Z"}`, `Z"}{}`},
	{"brace after", `Z"}`, `Z"}}`},
	{"cut off", `Z"}`, `Z"`},

	{"time with an offset", `Z"}`, `+00:00"}`},
	{"time in lower case", `T12`, `t12`},
	{"time without milliseconds", `.000Z`, `Z`},
	{"time with a comma", `.000Z`, `,000Z`},
	{"time with microseconds", `.000Z`, `.000000Z`},
	{"hour 24", `T12:00:01`, `T24:00:00`},
	{"leap second", `T12:00:01`, `T12:00:60`},
	{"30 February", `06-14T`, `02-30T`},
	{"year before 1970", `"2031-`, `"1969-`},
	{"year zero", `"2031-`, `"0000-`},
	{"year of five digits", `"2031-`, `"12031-`},
	{"no time", "2031-06-14T12:00:01.000Z", ""},

	{"hash of 65 digits", `"previous":"`, `"previous":"0`},
	{"hash with a prefix", `"previous":"`, `"previous":"0x`},
	{"no hash", `"previous"`, `"previous":"","reason"`},
	{"ID of version 4", `-7000-`, `-4000-`},
	{"ID of another variant", `-7000-9`, `-7000-c`},
	{"ID without hyphens", `-7000-`, `7000`},

	{"unknown act", `"act":"correct"`, `"act":"erase"`},
	{"act in capitals", `"act":"correct"`, `"act":"Correct"`},
	{"record with was", `"act":"correct"`, `"act":"record"`},
	{"removal with values", `"act":"correct"`, `"act":"remove"`},
	{"no kind", `"kind":"track"`, `"kind":""`},
	{"no device", `"device":"deck"`, `"device":""`},
	{"no run", `"run":"run-1"`, `"run":""`},
	{"nameless field", `"point":""`, `"":""`},
	{"nameless column", `"x_cm"`, `""`},
	{"ragged table", `["1",""]`, `["1"]`},
	{"rows without columns", `["t_s","x_cm"]`, `[]`},
}

// TestParseTakesOneFormOnly: what means the same to some readers, or nothing,
// is refused.
func TestParseTakesOneFormOnly(t *testing.T) {
	good := string(sample(t).canonical)
	if _, err := Parse([]byte(good)); err != nil {
		t.Fatalf("the sample: %v", err)
	}
	for _, trap := range traps {
		bad := strings.Replace(good, trap.old, trap.new, 1)
		if bad == good {
			t.Errorf("%s: the sample holds no %s:\n%s", trap.name, trap.old, good)
		}
		if e, err := Parse([]byte(bad)); !errors.Is(err, ErrNotCanonical) {
			t.Errorf("%s: read as %+v (%v)", trap.name, e, err)
		}
	}
	hash := sample(t).entry.Previous.String()
	_, body, _ := strings.Cut(good, `"body":`)
	body, _, _ = strings.Cut(body, `,"device"`)
	for _, bad := range []string{
		strings.Replace(good, hash, strings.ToUpper(hash), 1), strings.Replace(good, hash, hash[:62], 1),
		strings.Replace(good, body, "null", 1), strings.Replace(good, body, "{}", 1), strings.Replace(good, `"body":`+body+",", "", 1),
		"", " ", "null", "{}", "[]", "2", `""`, "[" + good + "]", good + good, strings.Repeat("[", 100_000), strings.Repeat(`{"body":`, 100_000), good[:len(good)/2],
	} {
		if _, err := Parse([]byte(bad)); !errors.Is(err, ErrNotCanonical) {
			t.Errorf("%.40s: %v", bad, err)
		}
	}
	if _, err := Parse(nil); !errors.Is(err, ErrNotCanonical) {
		t.Errorf("no bytes: %v", err)
	}
}

// TestParseKeepsOlderVersions as they were written.
func TestParseKeepsOlderVersions(t *testing.T) {
	later := bytes.Replace(sample(t).canonical, []byte(`"version":1`), []byte(`"version":7`), 1)
	e, err := Parse(later)
	if err != nil || e.Version != 7 {
		t.Errorf("version %d, %v", e.Version, err)
	}
}

// FuzzParse: what is accepted has one form, is what a chain hashes, and folds.
func FuzzParse(f *testing.F) {
	good := sample(f).canonical
	f.Add(good)
	for _, e := range sealAll(f, "\u2028", append(passDrafts(2), Draft{Kind: "pass", Subject: "😀", Act: Remove})...) {
		f.Add(e.canonical)
	}
	for _, trap := range traps {
		f.Add(bytes.Replace(good, []byte(trap.old), []byte(trap.new), 1))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		e, err := Parse(data)
		if err != nil {
			if !errors.Is(err, ErrNotCanonical) {
				t.Fatalf("an error of another kind: %v", err)
			}
			return
		}
		again, err := e.Canonical()
		if err != nil || !bytes.Equal(again, data) {
			t.Fatalf("%q is written as %q (%v)", data, again, err)
		}
		if second := canonicalAgain(t, data); second != string(data) {
			t.Fatalf("%q is no canonical form: a method of our own gives %q", data, second)
		}
		if second := byModules(t, &e); second != string(data) {
			t.Fatalf("%q is no canonical form: the modules give %q", data, second)
		}
		c := Chain{Device: e.Device, Head: Head{Seq: e.Seq - 1, Hash: e.Previous}}
		if _, err := c.Next(data, HashOf(data)); err != nil {
			t.Fatalf("%q does not follow: %v", data, err)
		}
		state, err := Apply(nil, e)
		if newer := (*NewerError)(nil); errors.As(err, &newer) {
			return
		}
		if err != nil || state.ID != e.Subject || state.Kind != e.Kind {
			t.Fatalf("%q folds to %+v (%v)", data, state, err)
		}
	})
}
