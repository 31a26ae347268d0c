package printing

import (
	"fmt"
	"math"
	"slices"

	"brinefield/core/dossier"
)

// gridOf checks a grid: coordinates finite and rising, a value for each.
func gridOf(x, y []float64, value [][]float64) error {
	if len(x) < 2 || len(y) < 2 {
		return fmt.Errorf("a grid has %d columns and %d rows: two of each are needed", len(x), len(y))
	}
	if len(x)*len(y) > mostCells {
		return fmt.Errorf("a grid has %d × %d values, more than can be printed", len(x), len(y))
	}
	if len(value) != len(y) {
		return fmt.Errorf("a grid has %d rows of values for %d heights", len(value), len(y))
	}
	for _, axis := range [2][]float64{x, y} {
		for i, v := range axis {
			if math.IsNaN(v) || math.IsInf(v, 0) || i > 0 && v <= axis[i-1] {
				return fmt.Errorf("a grid's coordinates must be finite and rising: number %d is %v", i+1, v)
			}
		}
	}
	for r, row := range value {
		if len(row) != len(x) {
			return fmt.Errorf("row %d of a grid has %d values for %d columns", r+1, len(row), len(x))
		}
	}
	return nil
}

// contours draws lines of equal value with their labels.
func (c *canvas) contours(l dossier.Contours) error {
	if err := gridOf(l.X, l.Y, l.Value); err != nil {
		return err
	}
	if len(l.Levels) > mostLevels {
		return fmt.Errorf("%d contour levels are more than can be told labelGap", len(l.Levels))
	}
	var lines [][]point
	ink := 0
	for i, level := range l.Levels {
		if math.IsNaN(level) || math.IsInf(level, 0) {
			continue
		}
		label := ""
		if i < len(l.Labels) {
			label = trueMinus(printable(l.Labels[i]))
		}
		for _, ring := range isolines(l.X, l.Y, l.Value, level) {
			at := make([]point, len(ring))
			for k, xy := range ring {
				at[k] = c.to(xy.X, xy.Y)
			}
			for _, piece := range clipLine(thinned(at, spot), c.plot) {
				if ink += len(piece); ink > 4*mostInk {
					return fmt.Errorf("the contours are more than can be printed: the values jump from cell to cell")
				}
				lines = append(lines, c.labelled(piece, label)...)
			}
		}
	}
	drawLine(c.s, lines, false, l.Look)
	return nil
}

// isolines gives the lines along which a grid has one value: marching squares,
// after Lorensen and Cline (1987) in two dimensions. Between two nodes the value
// runs as a power where both and the level are positive, as fields fall off, else
// evenly. At a saddle the middle of the four decides. Cells with a value that is
// not known are left out.
func isolines(x, y []float64, v [][]float64, level float64) [][]dossier.XY {
	cols, rows := len(x), len(y)
	// Every edge of the grid holds at most one crossing, which two cells share.
	level2 := [2][]int32{}
	edges := 2 * cols * rows
	for i := range level2 {
		level2[i] = slices.Repeat([]int32{-1}, edges)
	}
	across := func(r, c int) int32 { return int32(2 * (r*cols + c)) } // from (r, c) to (r, c+1)
	upward := func(r, c int) int32 { return int32(2*(r*cols+c) + 1) } // from (r, c) to (r+1, c)
	join := func(a, b int32) {
		for _, e := range [2][2]int32{{a, b}, {b, a}} {
			if level2[0][e[0]] < 0 {
				level2[0][e[0]] = e[1]
			} else {
				level2[1][e[0]] = e[1]
			}
		}
	}
	for r := range rows - 1 {
		for c := range cols - 1 {
			q := [4]float64{v[r][c], v[r][c+1], v[r+1][c+1], v[r+1][c]}
			kind, known := 0, true
			for i, z := range q {
				known = known && !math.IsNaN(z) && !math.IsInf(z, 0)
				if z >= level {
					kind |= 1 << i
				}
			}
			if !known || kind == 0 || kind == 15 {
				continue
			}
			side := [4]int32{across(r, c), upward(r, c+1), across(r+1, c), upward(r, c)}
			if kind == 5 || kind == 10 { // a saddle: two corners across from each other
				middle := (q[0]/4 + q[1]/4 + q[2]/4 + q[3]/4) >= level
				if (kind == 5) == middle {
					join(side[0], side[1])
					join(side[2], side[3])
				} else {
					join(side[3], side[0])
					join(side[1], side[2])
				}
				continue
			}
			var cut []int32
			for i := range 4 {
				if (q[i] >= level) != (q[(i+1)%4] >= level) {
					cut = append(cut, side[i])
				}
			}
			join(cut[0], cut[1])
		}
	}
	place := func(e int32) dossier.XY {
		n := int(e / 2)
		r, c := n/cols, n%cols
		if e%2 == 0 {
			return dossier.XY{X: x[c] + (x[c+1]-x[c])*crossing(v[r][c], v[r][c+1], level), Y: y[r]}
		}
		return dossier.XY{X: x[c], Y: y[r] + (y[r+1]-y[r])*crossing(v[r][c], v[r+1][c], level)}
	}
	return trace(level2, place)
}

// crossing is where between two values the level is met, 0 to 1.
func crossing(a, b, level float64) float64 {
	t := (level - a) / (b - a)
	if a > 0 && b > 0 && level > 0 {
		t = math.Log(level/a) / math.Log(b/a)
	}
	if !(t >= 0) {
		return 0
	}
	return min(t, 1)
}

// trace joins crossings to lines: open ones from their ends first, then rings.
func trace(next [2][]int32, place func(int32) dossier.XY) [][]dossier.XY {
	var out [][]dossier.XY
	done := make([]bool, len(next[0]))
	walk := func(from int32) {
		line := []dossier.XY{place(from)}
		done[from] = true
		at := from
		for {
			to := next[0][at]
			if to < 0 || done[to] {
				to = next[1][at]
			}
			if to < 0 || done[to] {
				break
			}
			line = append(line, place(to))
			done[to] = true
			at = to
		}
		if at != from && (next[0][at] == from || next[1][at] == from) && len(line) > 2 {
			line = append(line, line[0])
		}
		out = append(out, line)
	}
	for pass := range 2 {
		for e := range next[0] {
			if !done[e] && next[0][e] >= 0 && (pass == 1 || next[1][e] < 0) {
				walk(int32(e))
			}
		}
	}
	return out
}

// labelled puts the label on a line where it is straightest and free, and cuts the
// line there. A line without room keeps whole.
func (c *canvas) labelled(line []point, label string) [][]point {
	if label == "" || len(line) < 2 {
		return [][]point{line}
	}
	wide := textWidth(label, leastPt, false)
	along := make([]float64, len(line))
	for i := 1; i < len(line); i++ {
		along[i] = along[i-1] + math.Hypot(line[i].x-line[i-1].x, line[i].y-line[i-1].y)
	}
	total := along[len(line)-1]
	if total < 2.6*wide {
		return [][]point{line}
	}
	at := func(s float64) point {
		i, _ := slices.BinarySearch(along, s)
		i = min(max(i, 1), len(line)-1)
		if along[i] == along[i-1] {
			return line[i]
		}
		return between(line[i-1], line[i], (s-along[i-1])/(along[i]-along[i-1]))
	}
	half := wide/2 + 1.2
	best, found, worth := 0.0, false, math.Inf(-1)
	var room box
	for k := range 81 {
		s := half + (total-2*half)*float64(k)/80
		p, q, m := at(s-half), at(s+half), at(s)
		chord := math.Hypot(q.x-p.x, q.y-p.y)
		// Of a straight stretch the chord is as long as the way, and level ones read best.
		level := math.Abs(q.x-p.x) / max(chord, 1e-9)
		sag := math.Abs((q.x-p.x)*(p.y-m.y)-(p.x-m.x)*(q.y-p.y)) / max(chord, 1e-9)
		if chord < 1.85*half || sag > leastPt*0.3 {
			continue
		}
		b := box{m.x, m.y, m.x, m.y}.grown(leastPt * 0.45)
		b = box{min(p.x, q.x, b.x0), min(p.y, q.y, b.y0), max(p.x, q.x, b.x1), max(p.y, q.y, b.y1)}
		free := b.x0 > c.plot.x0+1 && b.x1 < c.plot.x1-1 && b.y0 > c.plot.y0+1 && b.y1 < c.plot.y1-1
		for _, t := range c.taken {
			free = free && !b.grown(1.5).meets(t)
		}
		if w := level - 3*sag/leastPt; free && w > worth {
			best, found, worth, room = s, true, w, b
		}
	}
	if !found {
		return [][]point{line}
	}
	c.taken = append(c.taken, room)
	p, q := at(best-half), at(best+half)
	m := at(best)
	turn := readable(p, q)
	rad := turn * math.Pi / 180
	// The base line lies below the middle of the letters, seen along the line.
	drop := leastPt * 0.36
	base := point{m.x - wide/2*math.Cos(rad) + drop*math.Sin(rad), m.y + wide/2*math.Sin(rad) + drop*math.Cos(rad)}
	c.over = append(c.over, words{at: base, runs: plainRun(label), size: leastPt, turn: turn, colour: colours[dossier.Ink], halo: halo})
	var before, after []point
	for i, v := range line {
		if along[i] < best-half {
			before = append(before, v)
		}
		if along[i] > best+half {
			after = append(after, v)
		}
	}
	before = append(before, p)
	after = append([]point{q}, after...)
	return [][]point{before, after}
}
