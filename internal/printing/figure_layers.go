package printing

import (
	"fmt"
	"math"
	"slices"

	"brinefield/core/dossier"
)

// Limits of one layer. What is larger is an error, which says so: nobody could see
// it on paper, and a picture of that size would be of no use.
const (
	mostPlaces = 1_000_000 // given
	mostInk    = 60_000    // left after what lies on one spot has been thinned
	mostCells  = 1_000_000 // of a grid
	mostLevels = 60
	spot       = 0.08 // points: places closer than that are one
)

// canvas draws the layers of one panel.
type canvas struct {
	*placed
	s     *drawing
	over  []words // words of layers, which lie above all else
	taken []box   // where no words of contours may lie
	first int     // of the panel's items on the sheet
	edge  []edged // marks that lie on the frame
}

type edged struct {
	at   []point
	look dossier.Look
}

// layer draws one layer.
func (c *canvas) layer(l dossier.Layer) error {
	switch l := l.(type) {
	case dossier.Tones:
		return nil // drawn before all others
	case dossier.Line:
		if len(l.At) > mostPlaces {
			return tooMany("line", len(l.At))
		}
		return c.line(l)
	case dossier.Band:
		return c.band(l)
	case dossier.Points:
		if len(l.At) > mostPlaces {
			return tooMany("layer of points", len(l.At))
		}
		return c.points(l)
	case dossier.Contours:
		return c.contours(l)
	case dossier.Area:
		if len(l.At) > mostInk {
			return tooMany("area", len(l.At))
		}
		c.area(c.places(l.At), l.Look)
	case dossier.Bars:
		return c.bars(l)
	case dossier.Label:
		c.label(l)
	case dossier.Arrow:
		c.arrow(l)
	case dossier.Rules:
		if len(l.X)+len(l.Y) > mostInk {
			return tooMany("layer of rules", len(l.X)+len(l.Y))
		}
		c.rules(l)
	case nil:
		return fmt.Errorf("a layer is missing")
	default:
		return fmt.Errorf("layer %T cannot be drawn", l)
	}
	return nil
}

func tooMany(what string, n int) error {
	return fmt.Errorf("a %s has %d places, more than can be printed", what, n)
}

func (c *canvas) places(at []dossier.XY) []point {
	out := make([]point, len(at))
	for i, a := range at {
		out[i] = c.to(a.X, a.Y)
	}
	return out
}

func (c *canvas) line(l dossier.Line) error {
	at := c.places(l.At)
	if l.Closed && len(at) > 2 {
		at = append(at, at[0])
	}
	pieces := clipLine(thinned(at, spot), c.plot)
	n := 0
	for _, p := range pieces {
		n += len(p)
	}
	if n > mostInk {
		return tooMany("line", n)
	}
	if l.Closed && len(pieces) == 1 && len(pieces[0]) > 3 && pieces[0][0] == pieces[0][len(pieces[0])-1] {
		drawLine(c.s, [][]point{pieces[0][:len(pieces[0])-1]}, true, l.Look)
	} else {
		drawLine(c.s, pieces, false, l.Look)
	}
	if l.Look.Mark != dossier.NoMark {
		return c.points(dossier.Points{At: l.At, Look: l.Look})
	}
	return nil
}

func drawLine(s *drawing, lines [][]point, closed bool, l dossier.Look) {
	if colour, ok := colourOf(l.Line); ok && len(lines) > 0 {
		s.put(stroked{lines: lines, closed: closed, colour: colour, width: widthOf(l), dash: dashOf(l)})
	}
}

// band draws the area between two lines. A place at which an end is not known
// breaks it.
func (c *canvas) band(l dossier.Band) error {
	n := min(len(l.X), len(l.Low), len(l.High))
	if n > mostPlaces {
		return tooMany("band", n)
	}
	for i := 0; i < n; {
		var low, high []point
		for ; i < n; i++ {
			a, b := c.to(l.X[i], l.Low[i]), c.to(l.X[i], l.High[i])
			if !finite(a) || !finite(b) {
				i++
				break
			}
			low, high = append(low, a), append(high, b)
		}
		if len(low) < 2 {
			continue
		}
		low, high = thinned(low, spot), thinned(high, spot)
		if len(low)+len(high) > mostInk {
			return tooMany("band", len(low)+len(high))
		}
		ring := make([]point, 0, len(low)+len(high))
		ring = append(ring, low...)
		for k := len(high) - 1; k >= 0; k-- {
			ring = append(ring, high[k])
		}
		look := l.Look
		look.Line = dossier.NoTone
		drawArea(c.s, clipArea(ring, c.plot), look, nil)
		drawLine(c.s, append(clipLine(low, c.plot), clipLine(high, c.plot)...), false, l.Look)
	}
	return nil
}

// drawArea fills or hatches an outline; edge are the pieces of it that are drawn,
// nil = all.
func drawArea(s *drawing, ring []point, l dossier.Look, edge [][]point) {
	if len(ring) > 2 {
		fill, ok := colourOf(l.Fill)
		switch {
		case l.Hatch:
			if !ok {
				if fill, ok = colourOf(l.Line); !ok {
					fill = colours[dossier.Ink]
				}
			}
			if lines := hatch(ring, hatchGap); len(lines) > 0 {
				s.put(stroked{lines: lines, colour: fill, width: hatchLine})
			}
		case ok:
			s.put(filled{areas: [][]point{ring}, colour: fill})
		}
	}
	if edge == nil && len(ring) > 2 {
		drawLine(s, [][]point{ring}, true, l)
		return
	}
	drawLine(s, edge, false, l)
}

const (
	hatchGap  = 2.6
	hatchLine = 0.45
)

func (c *canvas) area(at []point, l dossier.Look) {
	whole := len(at) > 2
	for _, p := range at {
		whole = whole && finite(p) && c.plot.has(p)
	}
	if whole {
		drawArea(c.s, at, l, nil)
		return
	}
	edge := [][]point{}
	if len(at) > 2 {
		edge = append(edge, clipLine(append(at[:len(at):len(at)], at[0]), c.plot)...)
	}
	drawArea(c.s, clipArea(at, c.plot), l, edge)
}

func (c *canvas) bars(l dossier.Bars) error {
	n := min(len(l.X), len(l.High))
	if n > mostInk {
		return tooMany("layer of bars", n)
	}
	for i := range n {
		base := l.Base
		if c.y.log && base <= 0 {
			base = c.y.value(0)
		}
		a, b := c.to(l.X[i]-l.Width/2, base), c.to(l.X[i]+l.Width/2, l.High[i])
		if !finite(a) || !finite(b) || b.y == a.y {
			continue
		}
		ring := []point{{a.x, a.y}, {b.x, a.y}, {b.x, b.y}, {a.x, b.y}}
		if ring = clipArea(ring, c.plot); ring != nil {
			drawArea(c.s, ring, l.Look, nil)
		}
	}
	return nil
}

// points draws marks with their bars. Marks of one look on one spot are one mark.
func (c *canvas) points(l dossier.Points) error {
	var at []point
	var bars [][]point
	var arrows []point // tips, with the way in turn
	var ways []point
	type cell struct{ x, y int }
	seen := map[cell]bool{}
	for i, xy := range l.At {
		p := c.to(xy.X, xy.Y)
		if !finite(p) {
			continue
		}
		if i < len(l.Low) && i < len(l.High) {
			for _, end := range [2]float64{l.Low[i], l.High[i]} {
				upper := end == l.High[i] && !(end == l.Low[i])
				e, open := c.end(p, xy, end, l.Upright, upper)
				for _, piece := range clipLine([]point{p, e}, c.plot) {
					bars = append(bars, piece)
					if open || !c.plot.has(e) {
						tip := piece[len(piece)-1]
						arrows = append(arrows, tip)
						ways = append(ways, point{tip.x - p.x, tip.y - p.y})
					}
				}
			}
		}
		if !c.plot.has(p) {
			continue
		}
		k := cell{int(p.x / spot), int(p.y / spot)}
		if !seen[k] {
			seen[k] = true
			at = append(at, p)
		}
		if len(at) > mostInk || len(bars) > mostInk {
			return tooMany("layer of points", len(l.At))
		}
	}
	bar := l.Look
	if bar.Line == dossier.NoTone {
		bar.Line = bar.Fill
	}
	if bar.WidthPt == 0 {
		bar.WidthPt = 0.6
	}
	bar.Dash = 0
	drawLine(c.s, bars, false, bar)
	for i, tip := range arrows {
		head(c.s, tip, ways[i], bar, 3)
	}
	// Marks on the frame are drawn after it.
	inner := c.plot.grown(-sizeOf(l.Look)/2 - 1)
	edge := slices.DeleteFunc(slices.Clone(at), inner.has)
	drawMarks(c.s, slices.DeleteFunc(at, func(p point) bool { return !inner.has(p) }), l.Look)
	if len(edge) > 0 {
		c.edge = append(c.edge, edged{edge, l.Look})
	}
	return nil
}

// end is where a bar ends; open where its end is not known: then it goes to the
// edge of the panel.
func (c *canvas) end(p point, xy dossier.XY, v float64, upright, upper bool) (point, bool) {
	e := c.to(v, xy.Y)
	if upright {
		e = c.to(xy.X, v)
	}
	if finite(e) && !math.IsInf(v, 0) {
		return e, false
	}
	if math.IsInf(v, 1) {
		upper = true
	}
	if math.IsInf(v, -1) || c.placedBelow(v, upright) {
		upper = false
	}
	switch {
	case upright && upper:
		return point{p.x, c.plot.y0}, true
	case upright:
		return point{p.x, c.plot.y1}, true
	case upper:
		return point{c.plot.x1, p.y}, true
	}
	return point{c.plot.x0, p.y}, true
}

// placedBelow says whether a finite value has no place because it lies at or below
// 0 of a logarithmic axis.
func (c *canvas) placedBelow(v float64, upright bool) bool {
	log := c.x.log
	if upright {
		log = c.y.log
	}
	return log && v <= 0
}

func drawMarks(s *drawing, at []point, l dossier.Look) {
	if len(at) == 0 || l.Mark == dossier.NoMark {
		return
	}
	m := marks{shape: l.Mark, size: sizeOf(l), at: at, stroke: 0.6}
	if l.WidthPt > 0 {
		m.stroke = widthOf(l)
	}
	if c, ok := colourOf(l.Fill); ok {
		m.fill = &c
	}
	if c, ok := colourOf(l.Line); ok {
		m.line = &c
	}
	if _, closed := markOutline(l.Mark, 1); !closed {
		if m.line == nil {
			m.line = m.fill
		}
		m.fill = nil
	}
	if m.fill != nil || m.line != nil {
		s.put(m)
	}
}

// head draws the head of an arrow.
func head(s *drawing, tip, way point, l dossier.Look, long float64) {
	n := math.Hypot(way.x, way.y)
	colour, ok := colourOf(l.Line)
	if !ok || !(n > 0) || math.IsInf(n, 0) {
		return
	}
	ux, uy := way.x/n, way.y/n
	back := point{tip.x - ux*long, tip.y - uy*long}
	side := long * 0.38
	s.put(filled{areas: [][]point{{tip, {back.x - uy*side, back.y + ux*side}, {back.x + uy*side, back.y - ux*side}}}, colour: colour})
}

func (c *canvas) arrow(l dossier.Arrow) {
	from, to := c.to(l.From.X, l.From.Y), c.to(l.To.X, l.To.Y)
	if !finite(from) || !finite(to) {
		return
	}
	for _, piece := range clipLine([]point{from, to}, c.plot) {
		end := piece[len(piece)-1]
		way := point{end.x - piece[0].x, end.y - piece[0].y}
		n := math.Hypot(way.x, way.y)
		if n == 0 {
			continue
		}
		long := min(2.5+2.5*widthOf(l.Look), n)
		stop := point{end.x - way.x/n*long*0.8, end.y - way.y/n*long*0.8}
		drawLine(c.s, [][]point{{piece[0], stop}}, false, l.Look)
		if c.plot.has(to) {
			head(c.s, end, way, l.Look, long)
		}
	}
}

func (c *canvas) rules(l dossier.Rules) {
	var lines [][]point
	for _, x := range l.X {
		if at := c.to(x, c.y.value(0.5)); finite(at) && at.x >= c.plot.x0-1e-6 && at.x <= c.plot.x1+1e-6 {
			lines = append(lines, []point{{at.x, c.plot.y1}, {at.x, c.plot.y0}})
		}
	}
	for _, y := range l.Y {
		if at := c.to(c.x.value(0.5), y); finite(at) && at.y >= c.plot.y0-1e-6 && at.y <= c.plot.y1+1e-6 {
			lines = append(lines, []point{{c.plot.x0, at.y}, {c.plot.x1, at.y}})
		}
	}
	drawLine(c.s, lines, false, l.Look)
}
