package printing

import (
	"fmt"
	"math"

	"brinefield/core/dossier"
)

// Widths of a figure, in points: one and two columns of a journal.
const (
	pointsPerMm = 72 / 25.4
	singleWide  = 88 * pointsPerMm
	doubleWide  = 180 * pointsPerMm
	tallest     = 232 * pointsPerMm // of a figure that can be made lower
	columnGap   = 13.0
	rowGap      = 10.0
	margin      = 1.5               // of paper around all
	tallMap     = 125 * pointsPerMm // of a plotting area at one scale
	tallPlot    = 92 * pointsPerMm  // of any other
	mostPanels  = 64
)

// placed is a panel on the sheet.
type placed struct {
	dossier.Panel
	x, y   scale
	plot   box // the plotting area
	xTicks level
	yTicks []mark
	title  [][]textRun
	xLabel []string
	yLabel []string
	keys   legend

	top, left, right, bottom float64 // what stands around the plotting area
	edge                     float64 // left end of the panel's room
}

// layPanels places the panels of a figure and gives the height of the sheet.
func layPanels(f dossier.Figure, wide bool) ([]*placed, float64, float64, error) {
	width := singleWide
	columns := 1
	if wide {
		width = doubleWide
		columns = min(max(f.Columns, 1), len(f.Panels), 6)
	}
	panels := make([]*placed, len(f.Panels))
	for i, p := range f.Panels {
		pl := &placed{Panel: p}
		var err error
		if pl.x, err = scaleOf(p.X); err != nil {
			return nil, 0, 0, fmt.Errorf("panel %d: the x axis %q %w", i+1, p.X.Label, err)
		}
		if pl.y, err = scaleOf(p.Y); err != nil {
			return nil, 0, 0, fmt.Errorf("panel %d: the y axis %q %w", i+1, p.Y.Label, err)
		}
		panels[i] = pl
	}
	height := 0.0
	for shrink := 1.0; ; shrink *= 0.86 {
		height = arrange(panels, columns, width, shrink)
		if height <= tallest || shrink < 0.4 {
			return panels, width, height, nil
		}
	}
}

// arrange sets all panels in rows of columns. Plotting areas stand in line, across
// and down.
func arrange(panels []*placed, columns int, width, shrink float64) float64 {
	cell := (width - 2*margin - columnGap*float64(columns-1)) / float64(columns)
	lefts, rights := make([]float64, columns), make([]float64, columns)
	for range 3 { // what stands around depends on the area, and the area on it
		for c := range columns {
			plotWide := cell - lefts[c] - rights[c]
			lefts[c], rights[c] = 0, 0
			for i := c; i < len(panels); i += columns {
				panels[i].measure(plotWide, cell, shrink)
				lefts[c], rights[c] = max(lefts[c], panels[i].left), max(rights[c], panels[i].right)
			}
		}
	}
	y := margin
	for row := 0; row < len(panels); row += columns {
		inRow := panels[row:min(row+columns, len(panels))]
		top, below, least := 0.0, 0.0, math.Inf(1)
		for c, p := range inRow {
			top = max(top, p.top)
			least = min(least, cell-lefts[c]-rights[c])
		}
		for c, p := range inRow {
			room := cell - lefts[c] - rights[c]
			w, h := p.area(room, least, shrink)
			p.edge = margin + float64(c)*(cell+columnGap)
			p.edge += (room - w) / 2 // a narrow map stands in the middle with its title
			x0 := p.edge + lefts[c]
			p.plot = box{x0, y + top, x0 + w, y + top + h}
			p.xTicks = xAxis(p.X, p.x, w)
			p.keys = legendOf(p.Panel, w, h, cell-4)
			p.bottom = p.belowHeight()
			below = max(below, h+p.bottom)
		}
		y += top + below + rowGap
	}
	return y - rowGap + margin
}

// area is the size of the plotting area within so much width. Its height goes by
// the narrowest of the row, so that equal panels are equally high.
func (p *placed) area(room, least, shrink float64) (w, h float64) {
	room, least = max(room, 20), max(least, 20)
	if p.EqualScale && !p.x.log && !p.y.log {
		ratio := (p.y.max - p.y.min) / (p.x.max - p.x.min)
		if least > 0.9*room {
			room = least // maps beside each other are equally large
		}
		w, h = room, room*ratio
		if most := min(1.15*room, tallMap) * shrink; h > most {
			w, h = most/ratio, most
		}
		return max(w, 1), max(h, 1)
	}
	share := p.Height
	if !(share > 0) {
		share = 0.75
	}
	return room, max(min(min(share, 4)*least, tallPlot)*shrink, 24)
}

// measure works out what stands around the plotting area.
func (p *placed) measure(plotWide, cell, shrink float64) {
	w, h := p.area(plotWide, plotWide, shrink)
	p.title = nil
	if title := printable(p.Title); title != "" {
		for _, l := range wrap(title, titlePt, cell-2, 3) {
			p.title = append(p.title, italicRuns(l, printable(p.Italic)))
		}
	}
	p.top = float64(len(p.title))*titlePt*leading + 5
	p.yTicks = yAxis(p.Y, p.y, h, cell*0.42)
	p.left = 0
	for _, t := range p.yTicks {
		p.left = max(p.left, widest(t.lines, tickPt))
	}
	p.yLabel = nil
	if !p.Y.Hidden {
		p.left += majorTick + 2
		if label := printable(p.Y.Label); label != "" {
			p.yLabel = wrap(label, labelPt, max(h+p.top, 40), 2)
			p.left += float64(len(p.yLabel))*labelPt*leading + 2
		}
	}
	p.left = max(p.left, 1.5)
	p.xTicks = xAxis(p.X, p.x, w)
	p.right = 2
	for _, t := range p.xTicks.marks {
		half := widest(t.lines, tickPt) / 2
		if p.xTicks.turned {
			half = tickPt / 2
		}
		p.right = max(p.right, half-(1-t.share)*w+1)
		p.left = max(p.left, half-t.share*w+1)
	}
	p.xLabel = nil
	if label := printable(p.X.Label); label != "" && !p.X.Hidden {
		p.xLabel = wrap(label, labelPt, max(w+p.left*0.8, 40), 2)
	}
}

func (p *placed) belowHeight() float64 {
	h := 1.5
	if !p.X.Hidden {
		h = majorTick + 1.5 + p.xTicks.height + float64(len(p.xLabel))*labelPt*leading + 1
	}
	if p.keys.below {
		h += p.keys.height + 4
	}
	return h
}

// to takes values to a place on the sheet; a value without a place gives NaN.
func (p *placed) to(x, y float64) point {
	return point{p.plot.x0 + p.x.share(x)*p.plot.width(), p.plot.y1 - p.y.share(y)*p.plot.height()}
}

// furniture draws frame, ticks, labels and title.
func (p *placed) furniture(s *drawing) {
	ink := colours[dossier.Ink]
	b := p.plot
	if !p.X.Hidden && !p.Y.Hidden && p.EqualScale {
		s.put(stroked{lines: [][]point{{{b.x0, b.y0}, {b.x1, b.y0}, {b.x1, b.y1}, {b.x0, b.y1}}}, closed: true, colour: ink, width: axisLine})
	} else {
		var frame []point
		if !p.Y.Hidden {
			frame = append(frame, point{b.x0, b.y0})
		}
		frame = append(frame, point{b.x0, b.y1})
		if !p.X.Hidden {
			frame = append(frame, point{b.x1, b.y1})
		}
		if len(frame) > 1 {
			s.put(stroked{lines: [][]point{frame}, colour: ink, width: axisLine})
		}
	}
	var ticks [][]point
	for _, t := range p.xTicks.marks {
		x, long := b.x0+t.share*b.width(), minorTick
		if t.lines != nil {
			long = majorTick
		}
		ticks = append(ticks, []point{{x, b.y1}, {x, b.y1 + long}})
		y := b.y1 + majorTick + 1.5
		if p.xTicks.turned && t.lines != nil {
			s.say(point{x + tickPt*0.35, y}, plainRun(t.lines[0]), tickPt, 90, "right", 0)
			continue
		}
		for i, l := range t.lines {
			s.say(point{x, y + tickPt*(0.8+leading*float64(i))}, plainRun(l), tickPt, 0, "middle", 0)
		}
	}
	for _, t := range p.yTicks {
		y, long := b.y1-t.share*b.height(), minorTick
		if t.lines != nil {
			long = majorTick
			s.say(point{b.x0 - majorTick - 2, y + tickPt*0.36}, plainRun(t.lines[0]), tickPt, 0, "right", 0)
		}
		ticks = append(ticks, []point{{b.x0, y}, {b.x0 - long, y}})
	}
	if len(ticks) > 0 {
		s.put(stroked{lines: ticks, colour: ink, width: axisLine})
	}
	p.labels(s)
}

func (p *placed) labels(s *drawing) {
	b := p.plot
	y := b.y1
	if !p.X.Hidden {
		y += majorTick + 1.5 + p.xTicks.height
		for i, l := range p.xLabel {
			mid := (b.x0 + b.x1) / 2
			half := textWidth(l, labelPt, false) / 2
			mid = max(mid, half+1)
			mid = min(mid, s.width-half-1)
			s.say(point{mid, y + labelPt*(0.85+leading*float64(i))}, plainRun(l), labelPt, 0, "middle", 0)
		}
		y += float64(len(p.xLabel))*labelPt*leading + 1
	}
	x := b.x0 - majorTick - 2
	for _, t := range p.yTicks {
		x = min(x, b.x0-majorTick-2-widest(t.lines, tickPt))
	}
	for i, l := range p.yLabel {
		at := point{x - 3 - labelPt*leading*float64(len(p.yLabel)-1-i), (b.y0 + b.y1) / 2}
		if half := textWidth(l, labelPt, false) / 2; at.y-half < b.y0-p.top && half*2 > b.height() {
			at.y = b.y1 - half // grows into the title's room rather than over the panel below
		}
		s.say(at, plainRun(l), labelPt, 90, "middle", 0)
	}
	for i, l := range p.title {
		at := point{p.edge, b.y0 - 6.5 - titlePt*leading*float64(len(p.title)-1-i)}
		at.x = max(min(at.x, s.width-runsWidth(l, titlePt)-1), margin)
		s.say(at, l, titlePt, 0, "left", 0)
	}
	p.keys.draw(s, b, y+4)
}

// readable gives the degrees of the way from p to q, counter-clockwise on the paper, so that text on
// it is never upside down.
func readable(p, q point) float64 {
	a := math.Atan2(p.y-q.y, q.x-p.x) * 180 / math.Pi
	switch {
	case a > 90:
		a -= 180
	case a <= -90:
		a += 180
	}
	return a
}
