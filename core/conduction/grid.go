package conduction

import "math"

// grid cuts an interval into cells that widen away from its ends, and finds
// the cell of a place through a table of equal bins.
type grid struct {
	breaks  []float64
	invHalf []float64 // 2/(width) of each cell
	bins    []int32
	binsPer float64
}

// newGrid covers [lo, hi] with cells no wider than width(x) at their lower and
// upper ends.
func newGrid(lo, hi float64, width func(float64) float64) *grid {
	const most = 4000
	g := &grid{breaks: []float64{lo}}
	for x := lo; x < hi && len(g.breaks) < most; {
		w := width(x)
		w = math.Min(w, width(math.Min(x+w, hi)))
		x += w
		if hi-x < w/4 {
			x = hi
		}
		g.breaks = append(g.breaks, x)
	}
	if !(hi > lo) { // a flat interval is one cell without width
		return &grid{breaks: []float64{lo, lo}, invHalf: []float64{0}, bins: []int32{0}}
	}
	narrowest := hi - lo
	for c := 0; c+1 < len(g.breaks); c++ {
		w := g.breaks[c+1] - g.breaks[c]
		narrowest = math.Min(narrowest, w)
		g.invHalf = append(g.invHalf, 2/w)
	}
	n := int(math.Min(1024, math.Max(1, math.Ceil((hi-lo)/narrowest))))
	g.binsPer = float64(n) / (hi - lo)
	g.bins = make([]int32, n+1)
	c := 0
	for b := range g.bins {
		at := lo + float64(b)/g.binsPer
		for c+2 < len(g.breaks) && g.breaks[c+1] <= at {
			c++
		}
		g.bins[b] = int32(c)
	}
	return g
}

func (g *grid) cells() int { return len(g.invHalf) }

// find returns the cell of x and the place in it, −1 to 1. x lies within the
// grid.
func (g *grid) find(x float64) (cell int, t float64) {
	c := int(g.bins[int((x-g.breaks[0])*g.binsPer)])
	for c+2 < len(g.breaks) && x > g.breaks[c+1] {
		c++
	}
	return c, (x-g.breaks[c])*g.invHalf[c] - 1
}

// at is the place t of a cell.
func (g *grid) at(cell int, t float64) float64 {
	switch {
	case t == -1 || g.invHalf[cell] == 0:
		return g.breaks[cell]
	case t == 1:
		return g.breaks[cell+1]
	}
	return g.breaks[cell] + (t+1)/g.invHalf[cell]
}

// points lists the interpolation points of all cells, shared along edges.
func (g *grid) points() []float64 {
	out := make([]float64, 0, g.cells()*degree+1)
	for c := range g.cells() {
		for i := range degree {
			out = append(out, g.at(c, lobatto[i]))
		}
	}
	return append(out, g.at(g.cells()-1, 1))
}
