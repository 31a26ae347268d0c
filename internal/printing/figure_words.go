package printing

import (
	"image/color"
	"math"

	"brinefield/core/dossier"
)

// label puts words at a place of the panel.
func (c *canvas) label(l dossier.Label) {
	if w, ok := c.wordsOf(l); ok {
		c.over = append(c.over, w)
	}
}

// wordsOf lays a label out, moved so that none leaves the sheet.
func (c *canvas) wordsOf(l dossier.Label) (words, bool) {
	at := c.to(l.At.X, l.At.Y)
	text := trueMinus(printable(l.Text))
	if !finite(at) || !c.plot.grown(1).has(at) || text == "" {
		return words{}, false
	}
	size := tickPt
	if l.SizePt > 0 {
		size = min(max(l.SizePt, leastPt), 12)
	}
	w := textWidth(text, size, l.Italic)
	left := at.x
	switch l.Align {
	case "middle":
		left -= w / 2
	case "right":
		left -= w
	}
	left = max(min(left, c.s.width-w-1), 1)
	y := at.y + size*0.36
	if l.Above {
		y = at.y - size*0.4
	}
	return words{at: point{left, y}, runs: []textRun{{text, l.Italic}}, size: size, colour: colours[dossier.Ink], halo: halo}, true
}

// room is what level words cover.
func (w words) room() box {
	return box{w.at.x, w.at.y - w.size*0.74, w.at.x + runsWidth(w.runs, w.size), w.at.y + w.size*0.2}
}

// reserve keeps the places of labels, arrows and single marks free of the words of
// contours.
func (c *canvas) reserve() {
	const many = 400 // marks: more would leave no room at all
	for _, l := range c.Layers {
		switch l := l.(type) {
		case dossier.Label:
			if w, ok := c.wordsOf(l); ok {
				c.taken = append(c.taken, w.room())
			}
		case dossier.Arrow:
			a, b := c.to(l.From.X, l.From.Y), c.to(l.To.X, l.To.Y)
			if finite(a) && finite(b) {
				c.taken = append(c.taken, box{min(a.x, b.x), min(a.y, b.y), max(a.x, b.x), max(a.y, b.y)}.grown(1))
			}
		case dossier.Points:
			if len(l.At) > many {
				continue
			}
			for _, xy := range l.At {
				if p := c.to(xy.X, xy.Y); finite(p) && c.plot.has(p) {
					c.taken = append(c.taken, box{p.x, p.y, p.x, p.y}.grown(sizeOf(l.Look)/2))
				}
			}
		}
	}
}

// onGround sets words that lie whole on one plain area without a rim of paper, and
// white where the area is dark.
func (c *canvas) onGround(w words) words {
	if w.turn != 0 {
		return w
	}
	r := w.room()
	for i := len(c.s.items) - 1; i >= c.first; i-- {
		switch it := c.s.items[i].(type) {
		case filled:
			for _, a := range it.areas {
				if !boundsOf(a).meets(r) {
					continue
				}
				if len(a) != 4 || !holds(boundsOf(a), a, r) {
					return w
				}
				w.halo = 0
				if dark(it.colour) {
					w.colour = colours[dossier.Paper]
				}
				return w
			}
		case stroked:
			for _, l := range it.lines {
				if it.closed {
					l = append(l[:len(l):len(l)], l[0])
				}
				if boundsOf(l).meets(r) && len(clipLine(l, r)) > 0 {
					return w
				}
			}
		case marks:
			for _, p := range it.at {
				if r.grown(it.size / 2).has(p) {
					return w
				}
			}
		case raster:
			return w
		}
	}
	return w
}

func boundsOf(line []point) box {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range line {
		b = box{min(b.x0, p.x), min(b.y0, p.y), max(b.x1, p.x), max(b.y1, p.y)}
	}
	return b
}

// holds says whether an outline of four corners is a level rectangle with r in it.
func holds(b box, ring []point, r box) bool {
	for _, p := range ring {
		if (p.x != b.x0 && p.x != b.x1) || (p.y != b.y0 && p.y != b.y1) {
			return false
		}
	}
	return r.x0 >= b.x0 && r.x1 <= b.x1 && r.y0 >= b.y0 && r.y1 <= b.y1
}

func dark(c color.NRGBA) bool { return int(c.R)+int(c.G)+int(c.B) < 3*135 }

const halo = 1.6 // points of paper around words that lie on the drawing
