package season

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/BurntSushi/toml"
)

// plain is a tree as the library gives it, with numbers as their text.
func (n *node) plain() any {
	switch n.kind {
	case stringNode:
		return n.text
	case arrayNode:
		list := []any{}
		for _, item := range n.items {
			list = append(list, item.plain())
		}
		return list
	case tableNode:
		m := map[string]any{}
		for k, v := range n.values {
			m[k] = v.plain()
		}
		return m
	}
	return scalarMark
}

// scalarMark stands for numbers, truth values and dates, whose values the
// comparison leaves out.
const scalarMark = "\x00scalar"

// fromLibrary is the library's value in the same form.
func fromLibrary(v any) any {
	switch v := v.(type) {
	case string:
		return v
	case []any:
		list := []any{}
		for _, item := range v {
			list = append(list, fromLibrary(item))
		}
		return list
	case []map[string]any:
		list := []any{}
		for _, item := range v {
			list = append(list, fromLibrary(item))
		}
		return list
	case map[string]any:
		m := map[string]any{}
		for k, item := range v {
			m[k] = fromLibrary(item)
		}
		return m
	}
	return scalarMark
}

// followsLibrary reports how the walk over a valid document differs from what
// the library read in it, "" where it does not.
func followsLibrary(text string) string {
	var want map[string]any
	if _, err := toml.Decode(text, &want); err != nil {
		return ""
	}
	root, err := parseTOML(text)
	if walk := (*walkError)(nil); errors.As(err, &walk) && walk.key != "" {
		return "" // a key set twice, which the library lets pass
	}
	if err != nil {
		return err.Error()
	}
	got, wanted := fmt.Sprintf("%q", root.plain()), fmt.Sprintf("%q", fromLibrary(want)) // maps print sorted
	if got != wanted {
		return "got " + got + "\nwant " + wanted
	}
	return ""
}

var tomlDocuments = []string{
	"a = 1\nb = -1.5e3 # c\n",
	"a.b.c = 1\na.b.d = [1, 2, [3]]\n",
	"[a]\nb = 'x'\n[a.c]\nd = \"y\"\n[e]\n",
	"[[a]]\nb = 1\n[[a]]\nb = 2\n[a.c]\nd = 3\n[[a.e]]\nf = 1\n[[a.e]]\nf = 2\n",
	"a = { b = 1, c = { d = 'x' }, \"e f\" = [ { g = 1 }, { g = 2 } ] }\n",
	"a = [ # c\n  1,\n  2, # d\n]\n",
	"a = \"\"\"\nfirst\nsecond \"quoted\" \\\n   third\"\"\"\"\nb = 1",
	"a = '''\nx ''y'' z'''\n\"quoted key\" = 1\n'literal key'.b = 2\n",
	"a = \"tab \\t quote \\\" back \\\\ \\u00e9 # no comment\"\n",
	"a = 1979-05-27 07:32:00Z\nb = 07:32:00\nc = true\nd = 0x1F\ne = 1_000\nf = +inf\n",
	"a = []\nb = {}\nc = [[], [{}]]\n[d]\n",
	"  [ a . b ]  \n  c  =  1  \n",
	"a = \"[not] # a table\"\n[b] # c\n",
	"a = {\n  b = 1,\n  c = 2,\n}\n",
	"[a.b]\nc = 1\n[a]\nd = 2\n",
}

func TestWalkFollowsTheLibrary(t *testing.T) {
	for _, text := range tomlDocuments {
		var library map[string]any
		if _, err := toml.Decode(text, &library); err != nil {
			t.Errorf("%q is no TOML: %v", text, err)
		}
		if diff := followsLibrary(text); diff != "" {
			t.Errorf("%q: %s", text, diff)
		}
	}
}

func TestWalkKnowsTheLines(t *testing.T) {
	root, err := parseTOML("a = \"\"\"\nx\ny\"\"\"\n\nb = [\n  1,\n  2,\n]\n[c]\nd = { e = 1 }\n[[f]]\n\n[[f]]\ng = 1\n")
	if err != nil {
		t.Fatal(err)
	}
	f := root.values["f"].items[1]
	for what, lines := range map[string][2]int{
		"a":         {root.keyLines["a"], 1},
		"b":         {root.keyLines["b"], 5},
		"b[1]":      {root.values["b"].items[1].line, 7},
		"[c]":       {root.values["c"].line, 9},
		"c.d":       {root.values["c"].keyLines["d"], 10},
		"c.d.e":     {root.values["c"].values["d"].keyLines["e"], 10},
		"[[f]] two": {f.line, 13},
		"f.g":       {f.keyLines["g"], 14},
	} {
		if lines[0] != lines[1] {
			t.Errorf("%s is in line %d, want %d", what, lines[0], lines[1])
		}
	}
}

func FuzzWalkFollowsTheLibrary(f *testing.F) {
	for _, text := range tomlDocuments {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if tooLarge(text) != "" || !utf8.ValidString(text) {
			return // never given to the walk
		}
		if strings.Contains(text, `""""""`) || strings.Contains(text, `''''''`) {
			return // of six marks and more the library lets pass what TOML does not
		}
		if diff := followsLibrary(text); diff != "" {
			t.Errorf("%q: %s", text, diff)
		}
	})
}
