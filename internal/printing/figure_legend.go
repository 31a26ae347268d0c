package printing

import (
	"slices"
	"strings"

	"brinefield/core/dossier"
)

// legend is how the entries of a panel lie.
type legend struct {
	entries []keyed
	below   bool
	at      string
	width   float64
	height  float64
	sample  float64 // width of the samples
}

type keyed struct {
	dossier.LegendEntry
	lines []string
	x, y  float64 // of its sample's left end and its middle, in the legend
}

const (
	sampleWide = 18.0
	sampleMark = 7.0 // where all samples are marks
	keyGap     = 3.5
	keyRow     = tickPt * 1.3
)

// legendOf lays a legend into a corner, or in rows below.
func legendOf(p dossier.Panel, w, h, cell float64) legend {
	l := legend{at: p.LegendAt, below: true}
	switch p.LegendAt {
	case "top left", "top right", "bottom left", "bottom right":
		l.below = false
	}
	if len(p.Legend) == 0 || len(p.Legend) > 200 {
		return legend{}
	}
	l.sample = sampleMark
	for _, e := range p.Legend {
		if e.Sample != "mark" {
			l.sample = sampleWide
		}
	}
	room := cell - l.sample - keyGap
	if !l.below {
		room = max(w*0.6-l.sample-keyGap, 30)
	}
	x, y := 0.0, 0.0
	for _, e := range p.Legend {
		k := keyed{LegendEntry: e, lines: wrap(trueMinus(printable(e.Text)), tickPt, room, 3)}
		wide := l.sample + keyGap + widest(k.lines, tickPt)
		tall := keyRow * float64(max(len(k.lines), 1))
		if l.below && x > 0 && x+wide > cell {
			x, y = 0, l.height
		}
		k.x, k.y = x, y+keyRow/2
		if l.below {
			x += wide + 12
			l.width = max(l.width, x-12)
		} else {
			y += tall
			l.width = max(l.width, wide)
		}
		l.height = max(l.height, k.y-keyRow/2+tall)
		l.entries = append(l.entries, k)
	}
	if !l.below && l.height > h*0.7 {
		// It would hide the data: below then.
		p.LegendAt = "below"
		return legendOf(p, w, h, cell)
	}
	return l
}

const legendPad = 3.0

// corner is the room of a legend in a corner of b.
func (l legend) corner(b box, at string) box {
	x, y := b.x0+legendPad, b.y0+legendPad
	w, h := l.width+2*legendPad, l.height+2*legendPad
	if strings.HasSuffix(at, "right") {
		x = b.x1 - w - legendPad
	}
	if strings.HasPrefix(at, "bottom") {
		y = b.y1 - h - legendPad
	}
	return box{x, y, x + w, y + h}
}

// chooseCorner keeps a legend off the data: where the corner asked for is not free
// it takes another one, or none.
func (c *canvas) chooseCorner() {
	if c.keys.below || len(c.keys.entries) == 0 {
		return
	}
	asked := c.keys.at
	c.keys.at = ""
	for _, at := range []string{asked, "top right", "top left", "bottom right", "bottom left"} {
		if c.free(c.keys.corner(c.plot, at)) {
			c.keys.at = at
			return
		}
	}
}

// free says whether nothing of the panel but hairlines crosses a box.
func (c *canvas) free(b box) bool {
	crossed := func(lines [][]point, closed bool) bool {
		for _, l := range lines {
			if closed && len(l) > 2 {
				l = append(l[:len(l):len(l)], l[0])
			}
			if boundsOf(l).meets(b) && len(clipLine(l, b)) > 0 {
				return true
			}
		}
		return false
	}
	for _, it := range c.s.items[c.first:] {
		switch it := it.(type) {
		case stroked:
			if it.colour != colours[dossier.Faint] && crossed(it.lines, it.closed) {
				return false
			}
		case filled:
			if it.colour != colours[dossier.Paper] && crossed(it.areas, true) {
				return false
			}
		case marks:
			for _, p := range it.at {
				if b.grown(it.size / 2).has(p) {
					return false
				}
			}
		}
	}
	for _, e := range c.edge {
		if slices.ContainsFunc(e.at, b.grown(sizeOf(e.look)/2).has) {
			return false
		}
	}
	for _, w := range c.over {
		if w.room().meets(b) {
			return false
		}
	}
	return true
}

// draw puts the legend into its corner of b, or below at that height.
func (l legend) draw(s *drawing, b box, below float64) {
	if len(l.entries) == 0 {
		return
	}
	at := point{max(min((b.x0+b.x1-l.width)/2, s.width-l.width-2), 2), below}
	if !l.below {
		back := l.corner(b, l.at)
		at = point{back.x0 + legendPad, back.y0 + legendPad}
		s.put(filled{areas: [][]point{back.corners()}, colour: colours[dossier.Paper]})
	}
	for _, k := range l.entries {
		keySample(s, k.LegendEntry, at.x+k.x, at.y+k.y, l.sample)
		for i, line := range k.lines {
			s.say(point{at.x + k.x + l.sample + keyGap, at.y + k.y + tickPt*(0.36+leading*float64(i))}, italicRuns(line, printable(k.Italic)), tickPt, 0, "left", 0)
		}
	}
}

func (b box) corners() []point {
	return []point{{b.x0, b.y0}, {b.x1, b.y0}, {b.x1, b.y1}, {b.x0, b.y1}}
}

// keySample draws what a legend entry explains; y is its middle.
func keySample(s *drawing, e dossier.LegendEntry, x, y, wide float64) {
	switch e.Sample {
	case "area":
		drawArea(s, box{x, y - 2.7, x + wide, y + 2.7}.corners(), e.Look, nil)
	case "mark":
		drawMarks(s, []point{{x + wide/2, y}}, e.Look)
	default:
		drawLine(s, [][]point{{{x, y}, {x + wide, y}}}, false, e.Look)
		if e.Look.Mark != dossier.NoMark {
			drawMarks(s, []point{{x + wide/2, y}}, e.Look)
		}
	}
}
