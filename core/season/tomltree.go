package season

import (
	"strings"

	"github.com/BurntSushi/toml"
)

// The TOML library decides what is valid TOML and reads strings. What it does
// not hand on is the line of each key and the digits of a number as they were
// written, which a value in centimetres needs to become metres without a
// rounding. So a valid document is walked once more into a tree of nodes.

type nodeKind int

const (
	scalarNode nodeKind = iota
	stringNode
	arrayNode
	tableNode
)

// node is a value of a TOML document.
type node struct {
	kind  nodeKind
	line  int
	raw   string // of a scalar: as written
	text  string // of a string: as meant
	items []*node
	// A table's keys in the order of the document, and its values.
	keys   []string
	values map[string]*node
	// keyLines are the lines of the keys, which can differ from the values'.
	keyLines map[string]int
	// repeated: an array made by [[…]] headers.
	repeated bool
}

func newTable(line int) *node {
	return &node{kind: tableNode, line: line, values: map[string]*node{}, keyLines: map[string]int{}}
}

func (n *node) put(key string, line int, v *node) {
	if _, ok := n.values[key]; !ok {
		n.keys = append(n.keys, key)
		n.keyLines[key] = line
	}
	n.values[key] = v
}

// walkError is what the library lets pass and TOML does not: a key set twice
// by way of dots, a mark too many after a text.
type walkError struct {
	line        int
	key         string // "" where none is at fault
	what, right string
}

func (e *walkError) Error() string { return e.what }

// parseTOML gives the tree of a document in valid UTF-8, or the library's error.
func parseTOML(text string) (*node, error) {
	text = strings.TrimPrefix(text, "\ufeff") // the library would skip it, too
	var plain map[string]any
	if _, err := toml.Decode(text, &plain); err != nil {
		return nil, err
	}
	w := &tomlWalker{text: text, line: 1, root: newTable(1)}
	w.current = w.root
	for w.err == nil && w.skipToContent() {
		w.statement()
	}
	return w.root, w.err
}

type tomlWalker struct {
	text    string
	at      int
	line    int
	root    *node
	current *node
	err     error
}

// outOfStep notes that the document does not go on as a valid one does.
func (w *tomlWalker) outOfStep() {
	if w.err == nil {
		w.err = &walkError{line: w.line, what: "the line is not valid TOML", right: "lines such as depth_m = 0.9"}
	}
}

func (w *tomlWalker) peek() byte {
	if w.at < len(w.text) {
		return w.text[w.at]
	}
	return 0
}

func (w *tomlWalker) skipBlanks() {
	for w.peek() == ' ' || w.peek() == '\t' {
		w.at++
	}
}

// skipToContent skips blanks, line breaks and comments; false at the end.
func (w *tomlWalker) skipToContent() bool {
	for w.at < len(w.text) {
		switch c := w.text[w.at]; c {
		case '\n':
			w.line++
			w.at++
		case ' ', '\t', '\r':
			w.at++
		case '#':
			for w.at < len(w.text) && w.text[w.at] != '\n' {
				w.at++
			}
		default:
			return true
		}
	}
	return false
}

// expect steps over a mark that a valid document has here.
func (w *tomlWalker) expect(mark string) {
	if w.err == nil && strings.HasPrefix(w.text[w.at:], mark) {
		w.at += len(mark)
		return
	}
	w.outOfStep()
}

func (w *tomlWalker) statement() {
	if w.peek() != '[' {
		w.keyValue(w.current)
		return
	}
	line := w.line
	w.at++
	repeated := w.peek() == '['
	if repeated {
		w.at++
	}
	path := w.keyPath()
	w.expect("]")
	if repeated {
		w.expect("]")
	}
	if w.err != nil {
		return
	}
	parent := w.descend(w.root, path[:len(path)-1], line)
	last := path[len(path)-1]
	if !repeated {
		w.current = w.descend(parent, path[len(path)-1:], line)
		w.current.line = line
		return
	}
	list := parent.values[last]
	if list == nil || list.kind != arrayNode {
		list = &node{kind: arrayNode, line: line, repeated: true}
		parent.put(last, line, list)
	}
	w.current = newTable(line)
	list.items = append(list.items, w.current)
}

// descend finds or makes the table at the end of a path; an array of tables
// stands for its last one.
func (w *tomlWalker) descend(from *node, path []string, line int) *node {
	for _, key := range path {
		next := from.values[key]
		if next != nil && next.kind == arrayNode && len(next.items) > 0 {
			next = next.items[len(next.items)-1]
		}
		if next == nil || next.kind != tableNode {
			next = newTable(line)
			from.put(key, line, next)
		}
		from = next
	}
	return from
}

func (w *tomlWalker) keyValue(in *node) {
	line := w.line
	path := w.keyPath()
	if w.line != line { // a key never runs over a line
		w.line, w.err = line, nil
		w.outOfStep()
	}
	w.expect("=")
	w.skipBlanks()
	if w.err != nil {
		return
	}
	v := w.value()
	if w.err != nil {
		return
	}
	last := path[len(path)-1]
	in = w.descend(in, path[:len(path)-1], line)
	if in.values[last] != nil {
		w.err = &walkError{line, last, "the key " + quoted(last) + " is set twice", "each key once"}
		return
	}
	in.put(last, line, v)
}

func (w *tomlWalker) keyPath() []string {
	var path []string
	for w.err == nil {
		w.skipBlanks()
		switch w.peek() {
		case '"', '\'':
			path = append(path, w.str())
		default:
			from := w.at
			for w.at < len(w.text) && !strings.ContainsRune(" \t\r\n.=]#\"'", rune(w.text[w.at])) {
				w.at++
			}
			if w.at == from {
				w.outOfStep()
			}
			path = append(path, w.text[from:w.at])
		}
		w.skipBlanks()
		if w.peek() != '.' {
			break
		}
		w.at++
	}
	return path
}

func (w *tomlWalker) value() *node {
	line := w.line
	switch w.peek() {
	case '"', '\'':
		return &node{kind: stringNode, line: line, text: w.str()}
	case '[':
		return w.array(line)
	case '{':
		return w.inlineTable(line)
	}
	from := w.at
	for w.at < len(w.text) && !strings.ContainsRune(",]}#\r\n", rune(w.text[w.at])) {
		w.at++
	}
	raw := strings.TrimRight(w.text[from:w.at], " \t")
	if raw == "" {
		w.outOfStep()
	}
	return &node{kind: scalarNode, line: line, raw: raw}
}

func (w *tomlWalker) array(line int) *node {
	list := &node{kind: arrayNode, line: line}
	w.at++
	for w.err == nil {
		if !w.skipToContent() {
			w.outOfStep()
			break
		}
		if w.peek() == ']' {
			w.at++
			break
		}
		list.items = append(list.items, w.value())
		w.listMark(']')
	}
	return list
}

func (w *tomlWalker) inlineTable(line int) *node {
	t := newTable(line)
	w.at++
	for w.err == nil {
		if !w.skipToContent() {
			w.outOfStep()
			break
		}
		if w.peek() == '}' {
			w.at++
			break
		}
		w.keyValue(t)
		w.listMark('}')
	}
	return t
}

// listMark steps over the comma between two members, or stands before the end.
func (w *tomlWalker) listMark(end byte) {
	if !w.skipToContent() {
		w.outOfStep()
	}
	if w.err == nil && w.peek() != end {
		w.expect(",")
	}
}

// str reads a string of any of the four kinds; what its escapes mean the
// library says.
func (w *tomlWalker) str() string {
	from, quote := w.at, w.text[w.at]
	end := string(quote)
	if strings.HasPrefix(w.text[w.at:], strings.Repeat(end, 3)) {
		end = strings.Repeat(end, 3)
	}
	w.at += len(end)
	for !strings.HasPrefix(w.text[w.at:], end) {
		if w.at >= len(w.text) {
			w.outOfStep()
			return ""
		}
		if w.text[w.at] == '\\' && quote == '"' {
			w.at++
		}
		if w.at < len(w.text) {
			if w.text[w.at] == '\n' {
				w.line++
			}
			w.at++
		}
	}
	w.at += len(end)
	if len(end) == 3 { // up to two more marks belong to the string
		for n := 0; n < 2 && w.peek() == quote; n++ {
			w.at++
		}
	}
	var alone struct{ V string }
	if _, err := toml.Decode("V = "+w.text[from:w.at], &alone); err != nil {
		w.outOfStep()
	}
	return alone.V
}
