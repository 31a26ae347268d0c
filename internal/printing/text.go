package printing

import (
	"net/url"
	"strconv"
	"strings"

	"brinefield/core/dossier"
)

// outline is a document with what all forms of it share: numbers of headings,
// tables and figures, and the places that links can lead to.
//
// Tables and figures are numbered in the order of the blocks, each kind for
// itself; a figure that cannot be drawn keeps its number, so that a text may name
// it. Links lead to "#figure-NAME", "#table-NAME" and to the anchors of headings.
type outline struct {
	dossier.Document
	parts   []part
	anchors map[string]string // as a link names it, to the id that is written
}

// part is one block with its number and its id.
type part struct {
	dossier.Block
	number string // of a heading "2.1", of a table or figure "3"
	id     string
}

const deepest = 3 // levels of headings

func layOut(d dossier.Document) *outline {
	o := &outline{Document: d, anchors: map[string]string{}}
	taken := map[string]bool{"content": true, "contents": true} // ids of the page itself
	var levels [deepest]int
	level, tables, figures := 0, 0, 0
	for _, b := range d.Blocks {
		p := part{Block: b}
		wanted, fallback := "", ""
		switch b.Kind {
		case dossier.HeadingBlock:
			level = min(max(b.Level, 1), level+1, deepest) // no level is left out: readers go from heading to heading by it
			p.Level = level
			levels[level-1]++
			for i := level; i < deepest; i++ {
				levels[i] = 0
			}
			p.number = joined(levels[:level])
			wanted, fallback = b.Anchor, "section-"+strings.ReplaceAll(p.number, ".", "-")
		case dossier.TableBlock:
			if b.Table == nil {
				continue
			}
			tables++
			p.number = strconv.Itoa(tables)
			wanted, fallback = "table-"+b.Table.Name, "table-"+p.number
		case dossier.FigureBlock:
			figures++
			p.number = strconv.Itoa(figures)
			wanted, fallback = "figure-"+b.Figure, "figure-"+p.number
		}
		if fallback != "" {
			p.id = freeID(wanted, fallback, taken)
			if _, known := o.anchors[wanted]; !known && wanted != "" {
				o.anchors[wanted] = p.id
			}
		}
		o.parts = append(o.parts, p)
	}
	return o
}

func joined(numbers []int) string {
	var s []string
	for _, n := range numbers {
		s = append(s, strconv.Itoa(n))
	}
	return strings.Join(s, ".")
}

// freeID makes an id of small ASCII letters, digits and hyphens that nothing else has.
func freeID(wanted, fallback string, taken map[string]bool) string {
	var b strings.Builder
	for _, r := range strings.ToLower(wanted) {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9', r == '-', r == '_':
			b.WriteRune(r)
		default:
			b.WriteByte('-')
		}
	}
	id := strings.Trim(b.String(), "-")
	if id == "" || id[0] >= '0' && id[0] <= '9' || len(id) > 100 {
		id = fallback
	}
	base := id
	for i := 2; taken[id]; i++ {
		id = base + "-" + strconv.Itoa(i)
	}
	taken[id] = true
	return id
}

// place is where a link leads: inside the document, to another place, or nowhere,
// in which case its text stands alone.
func (o *outline) place(link string) (id, address string) {
	if anchor, inside := strings.CutPrefix(link, "#"); inside {
		return o.anchors[anchor], ""
	}
	u, err := url.Parse(link)
	if err != nil || u.Scheme != "https" || u.Host == "" || u.User != nil {
		return "", ""
	}
	address = u.String()
	for _, r := range address { // in its query anything may stand
		if r <= ' ' || r >= 0x7f || strings.ContainsRune("\"<>\\^`{|}", r) {
			return "", ""
		}
	}
	return "", address
}

// heads are the headings, for a table of contents.
func (o *outline) heads() []part {
	var heads []part
	for _, p := range o.parts {
		if p.Kind == dossier.HeadingBlock {
			heads = append(heads, p)
		}
	}
	return heads
}

// clean makes text of one line that every format can hold: no control
// characters, no line breaks, none of the marks that turn the direction of what
// follows, and valid UTF-8.
func clean(s string) string {
	plain := true
	for i := 0; i < len(s) && plain; i++ {
		plain = s[i] >= 0x20 && s[i] < 0x7f
	}
	if plain {
		return s
	}
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n' || r == '\r' || r == '\u2028' || r == '\u2029' || r == '\u0085':
			return ' '
		case r < 0x20, r >= 0x7f && r < 0xa0, r == 0xfeff, r == 0xfffe, r == 0xffff,
			r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069:
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
}

// plainText is text without its styles.
func plainText(runs []dossier.Run) string {
	var b strings.Builder
	for _, r := range runs {
		b.WriteString(clean(r.Text))
	}
	return b.String()
}

// columnTitle is the head of a column with its unit.
func columnTitle(c dossier.Column) string {
	title, unit := clean(c.Title), clean(c.Unit)
	if title == "" {
		title = clean(c.Name)
	}
	if unit == "" || strings.Contains(title, "("+unit+")") {
		return title
	}
	return title + " (" + unit + ")"
}

// sentence ends a title with a full stop where it has no end of its own.
func sentence(s string) string {
	s = strings.TrimSpace(clean(s))
	if s == "" || strings.ContainsAny(s[len(s)-1:], ".?!") {
		return s
	}
	return s + "."
}

// cellAt is a cell of a row, which may be short.
func cellAt(row []dossier.Cell, i int) dossier.Cell {
	if i < len(row) {
		return row[i]
	}
	return dossier.Cell{}
}

// widths are how many characters each column wants: its longest cell, or its
// longest word where lines may break.
func widths(t *dossier.Table) (longest, word []int) {
	longest, word = make([]int, len(t.Columns)), make([]int, len(t.Columns))
	note := func(i int, s string) {
		n := 0
		for w := range strings.SplitSeq(s, " ") {
			l := len([]rune(w))
			word[i] = max(word[i], l)
			n += l + 1
		}
		longest[i] = max(longest[i], n-1)
	}
	for i, c := range t.Columns {
		note(i, columnTitle(c))
		longest[i] = word[i] // heads break
		for _, row := range t.Rows {
			text := cellAt(row, i).Text
			if cellAt(row, i).Style == dossier.Missing {
				text = missingPrefix + text + missingSuffix
			}
			note(i, clean(text))
		}
	}
	return longest, word
}

// Words of the page itself.
const (
	inventedText  = "Invented demo data: nothing in it was measured"
	contentsText  = "Contents"
	cautionText   = "Caution"
	noRowsText    = "No rows."
	notDrawnText  = "Not drawn: "
	notThereText  = "this dossier has no figure of that name"
	untitledText  = "Untitled report"
	missingPrefix = "[" // of what was not recorded, where a format has no look of its own for it
	missingSuffix = "]"
)

func titleOf(d dossier.Document) string {
	if t := strings.TrimSpace(clean(d.Title)); t != "" {
		return t
	}
	return untitledText
}

// byline is authors and date in one line.
func byline(d dossier.Document) string {
	var s []string
	for _, one := range []string{d.Authors, d.Date} {
		if one = strings.TrimSpace(clean(one)); one != "" {
			s = append(s, one)
		}
	}
	return strings.Join(s, " · ")
}

// raisedSigns are signs that stand high by themselves, and the same on the line.
var raisedSigns = strings.NewReplacer("⁰", "0", "¹", "1", "²", "2", "³", "3", "⁴", "4", "⁵", "5", "⁶", "6", "⁷", "7", "⁸", "8", "⁹", "9", "⁻", "−", "⁺", "+")

// exponents parts a text where signs stand high, in turns: text, exponent, text, …
// Fonts have some of these signs and lack others, so that an exponent is set of
// common ones, raised. A single ² or ³, as in units, stays what it is.
func exponents(s string) (parts []string) {
	if !strings.ContainsAny(s, "⁰⁴⁵⁶⁷⁸⁹⁻⁺") {
		return []string{s}
	}
	const signs = "⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺"
	rest := s
	for {
		from := strings.IndexAny(rest, signs)
		if from < 0 {
			return append(parts, rest)
		}
		end := from + len(rest[from:]) - len(strings.TrimLeft(rest[from:], signs))
		parts = append(parts, rest[:from], raisedSigns.Replace(rest[from:end]))
		rest = rest[end:]
	}
}
