package dossier

import (
	"bytes"
	"encoding/xml"
	"strings"
)

// xmlWriter writes elements in order, one a line.
type xmlWriter struct {
	b     bytes.Buffer
	depth int
}

func (x *xmlWriter) head() { x.b.WriteString(xml.Header) }

func (x *xmlWriter) bytes() []byte { return x.b.Bytes() }

func (x *xmlWriter) indent() { x.b.WriteString(strings.Repeat("  ", x.depth)) }

func (x *xmlWriter) start(name string, attributes []string) {
	x.indent()
	x.b.WriteString("<" + name)
	for i := 0; i+1 < len(attributes); i += 2 {
		x.b.WriteString(" " + attributes[i] + `="` + xmlText(attributes[i+1]) + `"`)
	}
}

// open begins an element; attributes are names and values by turns.
func (x *xmlWriter) open(name string, attributes ...string) {
	x.start(name, attributes)
	x.b.WriteString(">\n")
	x.depth++
}

func (x *xmlWriter) close(name string) {
	x.depth--
	x.indent()
	x.b.WriteString("</" + name + ">\n")
}

func (x *xmlWriter) empty(name string, attributes ...string) {
	x.start(name, attributes)
	x.b.WriteString("/>\n")
}

// text writes an element that holds a text alone.
func (x *xmlWriter) text(name, text string, attributes ...string) {
	x.start(name, attributes)
	x.b.WriteString(">" + xmlText(text) + "</" + name + ">\n")
}

// some is text where there is one.
func (x *xmlWriter) some(name, text string, attributes ...string) {
	if strings.TrimSpace(text) != "" {
		x.text(name, text, attributes...)
	}
}

// xmlText escapes what XML takes for itself and replaces what it cannot hold.
func xmlText(s string) string {
	var b bytes.Buffer
	if err := xml.EscapeText(&b, []byte(plainText(s))); err != nil {
		return ""
	}
	return b.String()
}
