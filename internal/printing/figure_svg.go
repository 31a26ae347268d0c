package printing

import (
	"bytes"
	"encoding/base64"
	"encoding/xml"
	"fmt"
	"hash/crc32"
	"image/color"
	"image/png"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/dossier"
)

// svg writes the sheet as SVG 1.1 with the words as text: they can be found, read
// aloud and mended. The letters that occur are embedded as a font. A
// program that ignores embedded fonts takes Arial or Helvetica, whose letters
// are exactly as wide.
func (s *drawing) svg() ([]byte, error) {
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="%smm" height="%smm" viewBox="0 0 %s %s" role="img">`,
		pts(s.width/pointsPerMm), pts(s.height/pointsPerMm), pts(s.width), pts(s.height))
	b.WriteString("\n<title>" + escaped(s.title) + "</title>\n<desc>" + escaped(s.alt) + "</desc>\n")
	style, err := s.fontStyle()
	if err != nil {
		return nil, err
	}
	b.WriteString(style)
	fmt.Fprintf(&b, `<rect width="%s" height="%s" fill="#fff"/>`+"\n", pts(s.width), pts(s.height))
	for _, it := range s.items {
		switch it := it.(type) {
		case stroked:
			fmt.Fprintf(&b, `<path fill="none" stroke="%s" stroke-width="%s" stroke-linejoin="round"`, hexOf(it.colour), pts(it.width))
			if it.dash != nil {
				d := make([]string, len(it.dash))
				for i, v := range it.dash {
					d[i] = pts(v)
				}
				b.WriteString(` stroke-dasharray="` + strings.Join(d, " ") + `"`)
			}
			b.WriteString(` d="`)
			for _, l := range it.lines {
				svgPath(&b, l, it.closed)
			}
			b.WriteString("\"/>\n")
		case filled:
			fmt.Fprintf(&b, `<path fill="%s" fill-rule="evenodd" d="`, hexOf(it.colour))
			for _, l := range it.areas {
				svgPath(&b, l, true)
			}
			b.WriteString("\"/>\n")
		case marks:
			svgMarks(&b, it)
		case words:
			svgWords(&b, it)
		case raster:
			var raw bytes.Buffer
			if err := png.Encode(&raw, it.grey); err != nil {
				return nil, err
			}
			data := base64.StdEncoding.EncodeToString(raw.Bytes())
			fmt.Fprintf(&b, `<image x="%s" y="%s" width="%s" height="%s" preserveAspectRatio="none" xlink:href="data:image/png;base64,%s"/>`+"\n",
				pts(it.at.x), pts(it.at.y), pts(it.width), pts(it.height), data)
		}
	}
	b.WriteString("</g>\n</svg>\n")
	return b.Bytes(), nil
}

// fontStyle embeds the letters that occur, one font for each face, and opens the
// group that uses them. The font is named after its letters: in a page that holds
// several figures none takes the letters of another.
func (s *drawing) fontStyle() (string, error) {
	sets := [2][]rune{s.letters(false), s.letters(true)}
	family := fmt.Sprintf("Figure Sans %08x", crc32.ChecksumIEEE([]byte(string(sets[0])+"/"+string(sets[1]))))
	var b strings.Builder
	b.WriteString("<style>\n")
	for i, letters := range sets {
		if len(letters) == 0 {
			continue
		}
		used := map[rune]bool{}
		for _, r := range letters {
			used[r] = true
		}
		font, err := subset(figureFace(i == 1).ttf, used, "Figure Sans")
		if err != nil {
			return "", err
		}
		style := [2]string{"normal", "italic"}[i]
		fmt.Fprintf(&b, "@font-face{font-family:'%s';font-style:%s;src:url(data:font/woff;base64,%s) format('woff')}\n",
			family, style, base64.StdEncoding.EncodeToString(font))
	}
	fmt.Fprintf(&b, `</style>`+"\n"+`<g font-family="'%s','Liberation Sans',Arial,Helvetica,sans-serif" style="font-kerning:none;white-space:pre">`+"\n", family)
	return b.String(), nil
}

// letters are the signs of one face that occur, in order.
func (s *drawing) letters(italic bool) []rune {
	seen := map[rune]bool{}
	for _, it := range s.items {
		w, ok := it.(words)
		if !ok {
			continue
		}
		for _, p := range wordPieces(w.runs, w.size) {
			if p.italic == italic {
				for _, c := range p.text {
					seen[c] = true
				}
			}
		}
	}
	return slices.Sorted(maps.Keys(seen))
}

func svgPath(b *bytes.Buffer, line []point, closed bool) {
	for i, p := range line {
		switch i {
		case 0:
			b.WriteByte('M')
		case 1:
			b.WriteByte('L')
		default:
			b.WriteByte(' ')
		}
		b.WriteString(pts(p.x))
		b.WriteByte(' ')
		b.WriteString(pts(p.y))
	}
	if closed {
		b.WriteByte('z')
	}
}

func svgMarks(b *bytes.Buffer, m marks) {
	fill, line := "none", "none"
	if m.fill != nil {
		fill = hexOf(*m.fill)
	}
	if m.line != nil {
		line = hexOf(*m.line)
	}
	if m.shape == dossier.Circle && m.fill != nil && (line == "none" || line == fill) {
		svgDots(b, m, fill)
		return
	}
	fmt.Fprintf(b, `<path fill="%s" stroke="%s" stroke-width="%s" d="`, fill, line, pts(m.stroke))
	shape, closed := markOutline(m.shape, m.size)
	for _, at := range m.at {
		if len(m.at) > 1000 { // a twentieth of a point is not seen, and halves the file
			at = point{math.Round(at.x*10) / 10, math.Round(at.y*10) / 10}
		}
		if m.shape == dossier.Circle {
			r := m.size / 2
			fmt.Fprintf(b, "M%s %sa%s %[3]s 0 1 0 %[4]s 0a%[3]s %[3]s 0 1 0-%[4]s 0z", pts(at.x-r), pts(at.y), pts(r), pts(2*r))
			continue
		}
		for _, l := range shape {
			moved := make([]point, len(l))
			for i, p := range l {
				moved[i] = point{at.x + p.x, at.y + p.y}
			}
			svgPath(b, moved, closed)
		}
	}
	b.WriteString("\"/>\n")
}

// svgDots writes full circles as round ends of lines without length.
func svgDots(b *bytes.Buffer, m marks, colour string) {
	size := m.size
	if m.line != nil {
		size += m.stroke
	}
	fmt.Fprintf(b, `<path fill="none" stroke="%s" stroke-width="%s" stroke-linecap="round" d="`, colour, pts(size))
	for _, at := range m.at {
		b.WriteString("M" + pts(at.x) + " " + pts(at.y) + "h0")
	}
	b.WriteString("\"/>\n")
}

// svgWords writes one line of text. Paper around the letters is a copy beneath
// them, hidden from who listens: older programs do not know paint-order.
func svgWords(b *bytes.Buffer, w words) {
	where := fmt.Sprintf(`x="%s" y="%s" font-size="%s"`, pts(w.at.x), pts(w.at.y), pts(w.size))
	if w.turn != 0 {
		where = fmt.Sprintf(`transform="translate(%s %s) rotate(%s)" font-size="%s"`, pts(w.at.x), pts(w.at.y), pts(-w.turn), pts(w.size))
	}
	var text strings.Builder
	y := 0.0
	for _, p := range wordPieces(w.runs, w.size) {
		attr := ""
		if p.italic {
			attr += ` font-style="italic"`
		}
		if p.y != y {
			attr += ` dy="` + pts(p.y-y) + `"`
			y = p.y
		}
		if p.size != w.size {
			attr += ` font-size="` + pts(p.size) + `"`
		}
		if attr == "" {
			text.WriteString(escaped(p.text))
		} else {
			text.WriteString(`<tspan` + attr + `>` + escaped(p.text) + `</tspan>`)
		}
	}
	if w.halo > 0 {
		fmt.Fprintf(b, `<text %s fill="#fff" stroke="#fff" stroke-width="%s" stroke-linejoin="round" aria-hidden="true">%s</text>`+"\n", where, pts(w.halo), text.String())
	}
	fmt.Fprintf(b, `<text %s fill="%s">%s</text>`+"\n", where, hexOf(w.colour), text.String())
}

// pts prints a length to a hundredth of a point.
func pts(v float64) string {
	v = math.Round(v*100) / 100
	if v == 0 {
		return "0"
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

func hexOf(c color.NRGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

func escaped(text string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(strings.ToValidUTF8(text, "?"))) // a Builder gives no error
	return b.String()
}
