package printing

import (
	"strings"

	"brinefield/core/dossier"
)

// inventedShort stands in the head of every page of invented data.
const inventedShort = "Invented demo data"

// short cuts a text for the head of a page, between words where it can.
func short(s string, most int) string {
	all := []rune(s)
	if len(all) <= most {
		return s
	}
	cut := strings.TrimRight(string(all[:most]), " ,.;:")
	if i := strings.LastIndexByte(cut, ' '); i > most/2 {
		cut = cut[:i]
	}
	return cut + " …"
}

// piece is a stretch of a line in one face.
type piece struct {
	text   string
	face   int
	raised bool
	link   string
	wide   float64 // mm
}

// emboldened is text for a heading.
func emboldened(runs []dossier.Run) (out []dossier.Run) {
	for _, r := range runs {
		switch r.Style {
		case dossier.Italic:
			r.Style = styleBoldItalic
		case dossier.Plain, dossier.Missing:
			r.Style = dossier.Bold
		}
		out = append(out, r)
	}
	return out
}

// styleBoldItalic is a style of headings alone.
const styleBoldItalic dossier.Style = "bold italic"

func faceOf(style dossier.Style) int {
	switch style {
	case dossier.Italic:
		return italic
	case dossier.Bold:
		return bold
	case styleBoldItalic:
		return boldItalic
	case dossier.Code:
		return mono
	}
	return upright
}

// sizeOf is the size in points of a piece in text of a size: letters of the fixed
// width look larger, and raised ones are smaller.
func (p piece) sizeOf(size float64) float64 {
	switch {
	case p.raised:
		return size * 0.68
	case p.face == mono:
		return size * 0.84
	}
	return size
}

// metrics are which characters a face has, and how wide they are.
type metrics struct {
	glyph    func(rune) int
	advances []byte // of the table hmtx, four bytes a glyph
	count    int    // of those; glyphs behind are as wide as the last
	unit     float64
	known    map[rune]float64
}

func metricsOf(ttf []byte) (metrics, error) {
	in := tablesOf(ttf)
	glyph, err := characters(in["cmap"])
	return metrics{glyph: glyph, advances: in["hmtx"], count: int(be16(in["hhea"][34:])), unit: float64(be16(in["head"][18:])), known: map[rune]float64{}}, err
}

// width is how wide a text is, in its own size.
func (m *metrics) width(text string) (sum float64) {
	for _, r := range text {
		w, known := m.known[r]
		if !known {
			w = float64(be16(m.advances[4*min(m.glyph(r), m.count-1):])) / m.unit
			m.known[r] = w
		}
		sum += w
	}
	return sum
}

// measured is the width of text in the looks of a piece, in mm.
func (s *sheet) measured(p piece, text string, size float64) float64 {
	return s.faces[p.face].width(text) * p.sizeOf(size) * mmPerPoint
}

// lines breaks text into lines of at most so many mm: between words, and inside a
// word that is longer than a line.
func (s *sheet) lines(runs []dossier.Run, size, wide float64) [][]piece {
	var done [][]piece
	var line []piece
	at := 0.0       // width of the line so far
	glued := false  // the next word belongs to the one before
	brk := func() { // ends the line, without the space at its end
		if n := len(line); n > 0 && strings.HasSuffix(line[n-1].text, " ") {
			line[n-1].text = strings.TrimRight(line[n-1].text, " ")
			line[n-1].wide = s.measured(line[n-1], line[n-1].text, size)
		}
		done, line, at = append(done, line), nil, 0
	}
	add := func(p piece) {
		if n := len(line); n > 0 && line[n-1].face == p.face && line[n-1].raised == p.raised && line[n-1].link == p.link {
			line[n-1].text += p.text
			line[n-1].wide += p.wide
		} else {
			line = append(line, p)
		}
		at += p.wide
	}
	for _, r := range runs {
		text := r.Text
		if r.Style == dossier.Missing && strings.TrimSpace(text) != "" {
			text = missingPrefix + strings.TrimSpace(text) + missingSuffix + text[len(strings.TrimRight(text, " ")):]
		}
		for i, one := range exponents(text) {
			p := piece{face: faceOf(r.Style), raised: r.Style == dossier.Superior || i%2 == 1, link: r.Link}
			for word := range strings.SplitAfterSeq(s.printable(p.face, one), " ") {
				if word == "" {
					continue
				}
				p.text, p.wide = word, s.measured(p, word, size)
				bare := p.wide
				if strings.HasSuffix(word, " ") {
					bare = s.measured(p, strings.TrimRight(word, " "), size)
				}
				if at+bare > wide && len(line) > 0 && (!glued || bare > wide/2) {
					brk()
				}
				for at+bare > wide { // longer than a line
					n, part := 0, 0.0
					for _, c := range p.text {
						w := s.measured(p, string(c), size)
						if n > 0 && at+part+w > wide {
							break
						}
						n += len(string(c))
						part += w
					}
					if n >= len(strings.TrimRight(p.text, " ")) {
						break
					}
					add(piece{text: p.text[:n], face: p.face, raised: p.raised, link: p.link, wide: part})
					brk()
					p.text = p.text[n:]
					p.wide = s.measured(p, p.text, size)
					bare = p.wide
				}
				add(p)
				glued = !strings.HasSuffix(word, " ")
			}
		}
	}
	if len(line) > 0 {
		brk()
	}
	return done
}

// text sets runs as lines below each other, over as many pages as it takes.
func (s *sheet) text(runs []dossier.Run, size, indent, factor float64) {
	step := size * factor * mmPerPoint
	lines := s.lines(runs, size, s.right-s.left-indent)
	for i, line := range lines {
		left := len(lines) - i
		if i == 0 && left >= 2 || left == 2 && i > 1 { // neither the first line alone below, nor the last alone above
			s.room(2 * step)
		}
		s.room(step)
		s.line(line, size, s.left+indent, s.y+size*mmPerPoint*(0.5+factor/2)*0.92)
		s.y += step
	}
}

// line writes the pieces of a line on a base line.
func (s *sheet) line(line []piece, size, x, base float64) {
	for _, p := range line {
		s.f.SetFont(fontNames[p.face][0], fontNames[p.face][1], p.sizeOf(size))
		at := base
		if p.raised {
			at -= size * mmPerPoint * 0.35
		}
		s.f.Text(x, at, p.text)
		if id, address := s.place(p.link); id != "" {
			s.f.Link(x, base-size*mmPerPoint, p.wide, size*mmPerPoint*1.3, s.links[id])
		} else if address != "" {
			s.f.LinkString(x, base-size*mmPerPoint, p.wide, size*mmPerPoint*1.3, address)
		}
		x += p.wide
	}
}
