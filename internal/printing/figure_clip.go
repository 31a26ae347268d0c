package printing

import (
	"math"
	"slices"
)

// box is a rectangle on the sheet.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) width() float64  { return b.x1 - b.x0 }
func (b box) height() float64 { return b.y1 - b.y0 }
func (b box) has(p point) bool {
	const edge = 1e-6
	return p.x >= b.x0-edge && p.x <= b.x1+edge && p.y >= b.y0-edge && p.y <= b.y1+edge
}

func (b box) meets(o box) bool { return b.x0 < o.x1 && o.x0 < b.x1 && b.y0 < o.y1 && o.y0 < b.y1 }

func (b box) grown(by float64) box { return box{b.x0 - by, b.y0 - by, b.x1 + by, b.y1 + by} }

// clipLine cuts a line to the box, piece by piece (Liang and Barsky 1984), and
// joins the pieces that go on. Places that are not finite break it.
func clipLine(line []point, b box) [][]point {
	var out [][]point
	var open []point
	end := func() {
		if len(open) > 1 {
			out = append(out, open)
		}
		open = nil
	}
	for i := 1; i < len(line); i++ {
		p, q := line[i-1], line[i]
		if !finite(p) || !finite(q) {
			end()
			continue
		}
		t0, t1, ok := inside(p, q, b)
		if !ok {
			end()
			continue
		}
		from, to := between(p, q, t0), between(p, q, t1)
		if len(open) == 0 || t0 > 0 {
			end()
			open = []point{from}
		}
		open = append(open, to)
		if t1 < 1 {
			end()
		}
	}
	end()
	return out
}

func inside(p, q point, b box) (t0, t1 float64, ok bool) {
	t0, t1 = 0, 1
	dx, dy := q.x-p.x, q.y-p.y
	for _, e := range [4][2]float64{{-dx, p.x - b.x0}, {dx, b.x1 - p.x}, {-dy, p.y - b.y0}, {dy, b.y1 - p.y}} {
		switch {
		case e[0] == 0:
			if e[1] < 0 {
				return 0, 0, false
			}
		case e[0] < 0:
			t0 = max(t0, e[1]/e[0])
		default:
			t1 = min(t1, e[1]/e[0])
		}
	}
	return t0, t1, t0 <= t1
}

func between(p, q point, t float64) point {
	switch t {
	case 0:
		return p
	case 1:
		return q
	}
	return point{p.x + (q.x-p.x)*t, p.y + (q.y-p.y)*t}
}

func finite(p point) bool {
	return !math.IsNaN(p.x+p.y) && !math.IsInf(p.x, 0) && !math.IsInf(p.y, 0)
}

// clipArea cuts a filled outline to the box (Sutherland and Hodgman 1974).
func clipArea(area []point, b box) []point {
	area = slices.DeleteFunc(slices.Clone(area), func(p point) bool { return !finite(p) })
	sides := []struct {
		in  func(point) bool
		cut func(p, q point) point
	}{
		{func(p point) bool { return p.x >= b.x0 }, func(p, q point) point { return atX(p, q, b.x0) }},
		{func(p point) bool { return p.x <= b.x1 }, func(p, q point) point { return atX(p, q, b.x1) }},
		{func(p point) bool { return p.y >= b.y0 }, func(p, q point) point { return atY(p, q, b.y0) }},
		{func(p point) bool { return p.y <= b.y1 }, func(p, q point) point { return atY(p, q, b.y1) }},
	}
	for _, s := range sides {
		var out []point
		for i, q := range area {
			p := area[(i+len(area)-1)%len(area)]
			if s.in(p) != s.in(q) {
				out = append(out, s.cut(p, q))
			}
			if s.in(q) {
				out = append(out, q)
			}
		}
		area = out
	}
	if len(area) < 3 {
		return nil
	}
	return area
}

func atX(p, q point, x float64) point { return point{x, p.y + (q.y-p.y)*(x-p.x)/(q.x-p.x)} }
func atY(p, q point, y float64) point { return point{p.x + (q.x-p.x)*(y-p.y)/(q.y-p.y), y} }

// hatch gives lines at 45° inside an outline, gap labelGap. All areas of a sheet
// share one grid of lines.
func hatch(area []point, gap float64) [][]point {
	if len(area) < 3 {
		return nil
	}
	// c = x + y is the same all along one line; s = x - y runs along it.
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range area {
		low, high = min(low, p.x+p.y), max(high, p.x+p.y)
	}
	step := gap * math.Sqrt2
	if !((high-low)/step < 5000) {
		return nil
	}
	var out [][]point
	for k := math.Ceil(low / step); k*step <= high; k++ {
		c := k * step
		var cross []float64
		for i, q := range area {
			p := area[(i+len(area)-1)%len(area)]
			cp, cq := p.x+p.y, q.x+q.y
			if (cp <= c) == (cq <= c) {
				continue
			}
			t := (c - cp) / (cq - cp)
			cross = append(cross, p.x-p.y+t*((q.x-q.y)-(p.x-p.y)))
		}
		slices.Sort(cross)
		for i := 0; i+1 < len(cross); i += 2 {
			out = append(out, []point{{(c + cross[i]) / 2, (c - cross[i]) / 2}, {(c + cross[i+1]) / 2, (c - cross[i+1]) / 2}})
		}
	}
	return out
}

// thinned leaves out places that lie closer than near to the last one kept: what no
// eye and no press can show.
func thinned(line []point, near float64) []point {
	if len(line) < 3 {
		return line
	}
	out := []point{line[0]}
	for i, p := range line[1:] {
		last := out[len(out)-1]
		if i == len(line)-2 || !finite(p) || !finite(last) || math.Abs(p.x-last.x)+math.Abs(p.y-last.y) >= near {
			out = append(out, p)
		}
	}
	return out
}
