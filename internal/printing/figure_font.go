package printing

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansitalic"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font/sfnt"
)

// typeface is one of the two faces of a figure: Liberation Sans, as wide as Arial
// and Helvetica to the letter, so that a program that ignores embedded fonts still
// keeps every word in its place.
type typeface struct {
	face    *sfnt.Font
	ttf     []byte
	advance map[rune]float64 // in em; also says which signs there are
	glyphs  sync.Map         // rune → [][]segment
}

// segment is one piece of a letter's outline, in em, y downwards: to is reached by
// a line (0 controls), a parabola (1) or a cubic (2).
type segment struct {
	move     bool
	controls int
	c1, c2   point
	to       point
}

const emUnits = 2048 // of Liberation Sans

var (
	uprightFace, slantedFace *typeface
	fontsOnce                sync.Once
	errFonts                 error
)

// loadFonts reads the two faces once for the whole program.
func loadFonts() error {
	fontsOnce.Do(func() {
		if uprightFace, errFonts = readFace(liberationsansregular.TTF); errFonts == nil {
			slantedFace, errFonts = readFace(liberationsansitalic.TTF)
		}
	})
	return errFonts
}

func readFace(ttf []byte) (*typeface, error) {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		return nil, fmt.Errorf("the built-in font cannot be read: %w", err)
	}
	t := &typeface{face: f, ttf: ttf, advance: map[rune]float64{}}
	for r := rune(0x20); r < 0x2700; r++ {
		g, err := f.GlyphIndex(nil, r)
		if err != nil || g == 0 {
			continue
		}
		w, err := f.GlyphAdvance(nil, g, emUnits<<6, 0)
		if err == nil {
			t.advance[r] = float64(w) / 64 / emUnits
		}
	}
	return t, nil
}

func figureFace(italic bool) *typeface {
	if italic {
		return slantedFace
	}
	return uprightFace
}

// outline gives the outline of a letter in em.
func (t *typeface) outline(r rune) []segment {
	if got, ok := t.glyphs.Load(r); ok {
		return got.([]segment)
	}
	var out []segment
	if g, err := t.face.GlyphIndex(nil, r); err == nil {
		if segs, err := t.face.LoadGlyph(nil, g, emUnits<<6, nil); err == nil {
			at := func(i, j int) point {
				a := segs[i].Args[j]
				return point{float64(a.X) / 64 / emUnits, float64(a.Y) / 64 / emUnits}
			}
			for i, s := range segs {
				switch s.Op {
				case 0:
					out = append(out, segment{move: true, to: at(i, 0)})
				case 1:
					out = append(out, segment{to: at(i, 0)})
				case 2:
					out = append(out, segment{controls: 1, c1: at(i, 0), to: at(i, 1)})
				case 3:
					out = append(out, segment{controls: 2, c1: at(i, 0), c2: at(i, 1), to: at(i, 2)})
				}
			}
		}
	}
	t.glyphs.Store(r, out)
	return out
}

// textWidth is the width of a text in points.
func textWidth(text string, size float64, italic bool) float64 {
	t := figureFace(italic)
	w := 0.0
	for _, r := range text {
		if low, ok := raised[r]; ok {
			w += t.advance[low] * raisedSize
			continue
		}
		w += t.advance[r]
	}
	return w * size
}

// raised are superior signs and what is set small and high in their place: the
// font has some of them only, and those in another size.
var raised = map[rune]rune{
	'⁰': '0', '¹': '1', '²': '2', '³': '3', '⁴': '4', '⁵': '5', '⁶': '6', '⁷': '7', '⁸': '8', '⁹': '9', '⁻': '−', '⁺': '+', 'ⁿ': 'n',
}

const (
	raisedSize = 0.66 // of the text's size
	raisedBy   = 0.36 // em of the text
)

// wordPiece is a stretch of text in one face and size, as it is put on the paper; x
// and y are from where the text begins, y downwards.
type wordPiece struct {
	text   string
	italic bool
	size   float64
	x, y   float64
}

// wordPieces splits text where face or size change.
func wordPieces(runs []textRun, size float64) []wordPiece {
	var out []wordPiece
	x := 0.0
	for _, run := range runs {
		for _, r := range run.text {
			p := wordPiece{italic: run.italic, size: size, x: x}
			if low, ok := raised[r]; ok {
				r, p.size, p.y = low, size*raisedSize, -size*raisedBy
			}
			x += figureFace(run.italic).advance[r] * p.size
			if n := len(out) - 1; n >= 0 && out[n].italic == p.italic && out[n].size == p.size {
				out[n].text += string(r)
				continue
			}
			p.text = string(r)
			out = append(out, p)
		}
	}
	return out
}

func runsWidth(runs []textRun, size float64) float64 {
	w := 0.0
	for _, r := range runs {
		w += textWidth(r.text, size, r.italic)
	}
	return w
}

// instead holds signs that the font lacks, and what says the same.
var instead = map[rune]string{
	'\u202f': "\u00a0", '\u2007': "\u00a0", '\u2008': "\u00a0", '\u2009': "\u00a0", '\u200a': "", '\u200b': "",
	'\u2010': "-", '\u2011': "-", '\u03bc': "µ", '\t': " ", '\n': " ", '\r': " ", '\ufeff': "",
}

const longestText = 240 // runes of one text in a figure

// printable makes a text of signs that the fonts have: what is not there is a
// question mark, and what is longer than any label ends in "…".
func printable(text string) string {
	var b strings.Builder
	n := 0
	for _, r := range strings.ToValidUTF8(text, "?") {
		if n >= longestText {
			b.WriteString("…")
			break
		}
		n++
		_, plain := uprightFace.advance[r]
		_, italic := slantedFace.advance[r]
		_, high := raised[r]
		switch other, ok := instead[r]; {
		case plain && italic || high:
			b.WriteRune(r)
		case ok:
			b.WriteString(other)
		default:
			b.WriteByte('?')
		}
	}
	return b.String()
}

// wrap breaks a text at its spaces into lines that are at most wide. A word that
// is wider stands alone, cut to fit with "…".
func wrap(text string, size, wide float64, most int) []string {
	var lines []string
	line := ""
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' }) {
		switch {
		case line == "":
			line = word
		case textWidth(line+" "+word, size, false) <= wide:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	if len(lines) > most {
		lines[most-1] = strings.Join(lines[most-1:], " ")
		lines = lines[:most]
	}
	for i := range lines {
		lines[i] = shorten(lines[i], size, wide)
	}
	return lines
}

// shorten cuts a text that is too wide, and says so by "…".
func shorten(text string, size, wide float64) string {
	if textWidth(text, size, false) <= wide {
		return text
	}
	runes := []rune(text)
	for n := len(runes) - 1; n > 0; n-- {
		if cut := strings.TrimRight(string(runes[:n]), " ") + "…"; textWidth(cut, size, false) <= wide {
			return cut
		}
	}
	return "…"
}

// italicRuns sets one part of a text in italics.
func italicRuns(text, italic string) []textRun {
	before, after, found := strings.Cut(text, italic)
	if italic == "" || !found {
		return plainRun(text)
	}
	runs := []textRun{{text: before}, {text: italic, italic: true}, {text: after}}
	return slices.DeleteFunc(runs, func(r textRun) bool { return r.text == "" })
}
