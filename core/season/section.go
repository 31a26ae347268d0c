package season

import (
	"errors"
	"strconv"
	"strings"

	"brinefield/core/quantity"
	"brinefield/core/study"
)

func itoa(n int) string { return strconv.Itoa(n) }

// section reads one table of study.toml. It remembers which keys were asked
// for; done tells the keys that nobody asked for.
type section struct {
	r      *reader
	name   string // as it stands in the file: "[site]"; "the top of study.toml"
	node   *node
	asked  []string
	lacks  []lack
	absent bool // the table is not there, which was told
}

func (s *section) fault(line int, key, found, wrong, expected string) {
	s.r.faults.add(0, Fault{File: StudyFile, Row: line, Column: key, Found: found, Wrong: wrong, Expected: expected})
}

// get finds the value of a key, nil where it is not there.
func (s *section) get(key string) *node {
	s.asked = append(s.asked, key)
	return s.node.values[key]
}

// has reports whether the key is there, without asking for it.
func (s *section) has(key string) bool { return s.node.values[key] != nil }

func (s *section) line(key string) int {
	if line, ok := s.node.keyLines[key]; ok {
		return line
	}
	return s.node.line
}

// missing notes that a key is not there; done tells it, unless a misspelt key
// is probably the one.
func (s *section) missing(key, expected string) {
	if !s.absent {
		s.lacks = append(s.lacks, lack{key, expected})
	}
}

// lack is a key that is not there, and what is expected of it.
type lack struct{ key, expected string }

// wrongKind tells that a value is not of the kind that it must be.
func (s *section) wrongKind(key string, n *node, expected string) {
	s.fault(n.line, key, n.show(), key+" is "+n.show(), "expected "+expected)
}

// show is a value in a message.
func (n *node) show() string {
	switch n.kind {
	case stringNode:
		return quoted(n.text)
	case arrayNode:
		return "a list"
	case tableNode:
		return "a table"
	}
	if len(n.raw) > longestQuote {
		return strings.ToValidUTF8(n.raw[:longestQuote], "") + "…"
	}
	return n.raw
}

// text reads a string, without the spaces round it.
func (s *section) text(key string, required bool) string {
	n := s.get(key)
	if n == nil {
		if required {
			s.missing(key, key+` = "…"`)
		}
		return ""
	}
	if n.kind != stringNode {
		s.wrongKind(key, n, textExpected(key, n))
		return ""
	}
	v := strings.TrimFunc(n.text, blankRune)
	if required && v == "" {
		s.fault(n.line, key, "", key+" is blank", "expected a text")
	}
	return v
}

func textExpected(key string, n *node) string {
	if n.kind == scalarNode {
		return "text in quotation marks: " + key + ` = "` + n.show() + `"`
	}
	return "text in quotation marks"
}

// label reads a name that cells of other files repeat: one line of text.
func (s *section) label(key string, required bool) string {
	v := tidyName(s.text(key, required))
	switch {
	case holdsControl(v):
		s.fault(s.line(key), key, v, key+" holds a line break or another invisible character", "expected one line of text")
	case v != "" && isErrorMark(v): // a cell that repeats it could not be told from a failed formula
		s.fault(s.line(key), key, v, quoted(v)+" is a spreadsheet's error mark", "expected another name")
	}
	return v
}

// choice reads a string that must be one of a few.
func (s *section) choice(key string, required bool, allowed ...string) string {
	v := s.text(key, required)
	for _, a := range allowed {
		if v == a {
			return v
		}
	}
	if v != "" {
		s.fault(s.line(key), key, v, key+" is "+quoted(v), didYouMean(`expected "`+strings.Join(allowed, `" or "`)+`"`, nearest(v, allowed)))
	}
	return ""
}

// number reads a number in the unit and returns it in SI.
func (s *section) number(key string, unit quantity.Unit, b bound) study.Opt[float64] {
	n := s.get(key)
	if n == nil {
		return study.Opt[float64]{}
	}
	v, ok := s.numberIn(key, n, unit, b)
	return study.Opt[float64]{Value: v, Known: ok}
}

// mustNumber reads a number that must be there.
func (s *section) mustNumber(key string, unit quantity.Unit, b bound) float64 {
	v := s.number(key, unit, b)
	if !s.has(key) {
		s.missing(key, key+" = a number")
	}
	return v.Value
}

func (s *section) numberIn(key string, n *node, unit quantity.Unit, b bound) (float64, bool) {
	if n.kind == stringNode {
		s.wrongKind(key, n, "a number without quotation marks")
		return 0, false
	}
	if n.kind != scalarNode {
		s.wrongKind(key, n, "a number")
		return 0, false
	}
	v, err := unit.Parse(strings.ReplaceAll(n.raw, "_", ""))
	if err != nil {
		expected := "expected a plain decimal number such as 12.5"
		if errors.Is(err, quantity.ErrNotFinite) || isNotFiniteWord(n.raw) {
			expected = "expected a finite number"
		}
		s.fault(n.line, key, n.raw, key+" is "+n.show()+", which "+numberTrouble(n.raw, err), expected)
		return 0, false
	}
	if wrong, expected := b.violates(v); wrong != "" {
		s.fault(n.line, key, n.raw, key+" is "+n.show()+", which "+wrong, expected)
		return 0, false
	}
	return v, true
}

// pair reads a list of two numbers, such as [x, y].
func (s *section) pair(key string, unit quantity.Unit, b bound) (first, second float64, ok bool) {
	n := s.get(key)
	if n == nil {
		return 0, 0, false
	}
	if n.kind != arrayNode || n.repeated || len(n.items) != 2 {
		what := n.show()
		if n.kind == arrayNode {
			what = "a list of " + plural(len(n.items), "value")
		}
		s.fault(n.line, key, what, key+" is "+what, "expected two numbers: "+key+" = [0.4, 0.4]")
		return 0, 0, false
	}
	first, okFirst := s.numberIn(key, n.items[0], unit, b)
	second, okSecond := s.numberIn(key, n.items[1], unit, b)
	return first, second, okFirst && okSecond
}

// mustPair reads a list of two numbers that must be there.
func (s *section) mustPair(key string, unit quantity.Unit, b bound) (first, second float64) {
	first, second, _ = s.pair(key, unit, b)
	if !s.has(key) {
		s.missing(key, key+" = [x, y]")
	}
	return first, second
}

// texts reads a list of strings, with the line of each.
func (s *section) texts(key string) (values []string, lines []int) {
	n := s.get(key)
	if n == nil {
		return nil, nil
	}
	if n.kind != arrayNode || n.repeated {
		s.wrongKind(key, n, `a list of texts: `+key+` = ["…", "…"]`)
		return nil, nil
	}
	for _, item := range n.items {
		if item.kind != stringNode {
			s.wrongKind(key, item, "texts in quotation marks")
			continue
		}
		v := tidyName(item.text)
		switch {
		case v == "":
			s.fault(item.line, key, "", "a text in "+key+" is blank", "expected a name")
			continue
		case holdsControl(v):
			s.fault(item.line, key, v, "a text in "+key+" holds a line break or another invisible character", "expected one line of text")
		case isErrorMark(v):
			s.fault(item.line, key, v, quoted(v)+" in "+key+" is a spreadsheet's error mark", "expected another name")
		}
		values, lines = append(values, v), append(lines, item.line)
	}
	return values, lines
}

// unwanted tells keys that do not go with what the section says otherwise.
func (s *section) unwanted(why string, keys ...string) {
	for _, key := range keys {
		if n := s.get(key); n != nil {
			s.fault(s.line(key), key, n.show(), key+" does not belong here: "+why, "expected no "+key)
		}
	}
}

// done tells the keys that are missing and those that are not known.
func (s *section) done() {
	known := map[string]bool{}
	for _, k := range s.asked {
		known[k] = true
	}
	meant := map[string]bool{}
	for _, key := range s.node.keys {
		if !known[key] {
			suggestion := s.r.suggest.nearest("key "+s.name, key, s.free())
			meant[suggestion] = true
			s.fault(s.line(key), key, key, "unknown key "+quoted(key)+" in "+s.name, didYouMean("expected a key of format 1", suggestion))
		}
	}
	for _, l := range s.lacks {
		if !meant[l.key] {
			s.fault(s.node.line, l.key, "", s.name+" has no "+l.key, "expected "+l.expected)
		}
	}
}

// free is the keys that could stand in the section and do not; all where all
// do.
func (s *section) free() []string {
	var out []string
	for _, k := range s.asked {
		if !s.has(k) {
			out = append(out, k)
		}
	}
	if out == nil {
		return s.asked
	}
	return out
}

// table finds a [name] of the document; where there is none the section is
// empty, and told as missing if it is required.
func (s *section) table(name string, required bool) *section {
	n := s.get(name)
	child := &section{r: s.r, name: "[" + name + "]", node: n}
	switch {
	case n == nil && required:
		s.missing(name, "a section ["+name+"]")
	case n == nil:
	case n.kind == tableNode:
		return child
	case n.kind == arrayNode && len(n.items) > 0 && n.items[0].kind == tableNode:
		s.fault(n.line, name, "[["+name+"]]", "[["+name+"]] stands in double brackets", "expected ["+name+"], once")
		child.node = n.items[0]
		return child
	default:
		s.wrongKind(name, n, "a section ["+name+"]")
	}
	child.node = newTable(s.node.line)
	child.absent = true
	return child
}

// tables finds the [[name]] of the document.
func (s *section) tables(name string) []*section {
	n := s.get(name)
	if n == nil {
		return nil
	}
	items := n.items
	if n.kind == tableNode {
		s.fault(n.line, name, "["+name+"]", "["+name+"] stands in single brackets", "expected [["+name+"]], once for each")
		items = []*node{n}
	} else if n.kind != arrayNode {
		s.wrongKind(name, n, "sections [["+name+"]]")
	}
	var out []*section
	for _, item := range items {
		if item.kind != tableNode {
			s.wrongKind(name, item, "sections [["+name+"]]")
			continue
		}
		out = append(out, &section{r: s.r, name: "[[" + name + "]]", node: item})
	}
	return out
}
