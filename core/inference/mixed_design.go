package inference

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Cell is a number of passes of one cluster that share their row of the
// design, and how many of them turned.
type Cell struct {
	Cluster string
	X       []float64 // row of the design, an intercept included where one is wanted
	Passes  int
	Turns   int
}

// design is a table of cells in canonical order: clusters by name, cells of a
// cluster by their row, equal rows merged.
type design struct {
	columns  int
	passes   int
	clusters []clusterCells
}

type clusterCells struct {
	name  string
	cells []designCell
}

type designCell struct {
	x    []float64
	n, y float64 // passes and turns
}

// newDesign checks the cells and puts them in canonical order, so that every
// sum over them has the same bits however the rows came.
func newDesign(cells []Cell) (design, error) {
	sorted := make([]Cell, 0, len(cells))
	for i, c := range cells {
		if err := checkCell(c, len(cells[0].X)); err != nil {
			return design{}, fmt.Errorf("cell %d (cluster %q): %w", i, c.Cluster, err)
		}
		if c.Passes > 0 {
			sorted = append(sorted, c)
		}
	}
	if len(sorted) == 0 {
		return design{}, notEstimable("there are no passes")
	}
	slices.SortStableFunc(sorted, func(a, b Cell) int {
		return cmp.Or(cmp.Compare(a.Cluster, b.Cluster), slices.Compare(a.X, b.X))
	})
	d := design{columns: len(sorted[0].X)}
	for i, c := range sorted {
		d.passes += c.Passes
		if i == 0 || sorted[i-1].Cluster != c.Cluster {
			d.clusters = append(d.clusters, clusterCells{name: c.Cluster})
		}
		last := &d.clusters[len(d.clusters)-1]
		if n := len(last.cells); n > 0 && slices.Equal(last.cells[n-1].x, c.X) {
			last.cells[n-1].n += float64(c.Passes)
			last.cells[n-1].y += float64(c.Turns)
			continue
		}
		last.cells = append(last.cells, designCell{x: slices.Clone(c.X), n: float64(c.Passes), y: float64(c.Turns)})
	}
	return d, nil
}

func checkCell(c Cell, columns int) error {
	switch {
	case len(c.X) != columns || columns == 0:
		return fmt.Errorf("a row of %d columns; every row needs the same number, at least 1", len(c.X))
	case c.Passes < 0 || c.Turns < 0 || c.Turns > c.Passes:
		return fmt.Errorf("%d turns in %d passes; want 0 ≤ turns ≤ passes", c.Turns, c.Passes)
	}
	for k, v := range c.X {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("column %d is %g; it must be finite", k, v)
		}
	}
	return nil
}

// pooled returns the design with all clusters made one: what a model without
// individuals sees.
func (d design) pooled() []designCell {
	var all []designCell
	for _, c := range d.clusters {
		all = append(all, c.cells...)
	}
	slices.SortStableFunc(all, func(a, b designCell) int { return slices.Compare(a.x, b.x) })
	merged := all[:0]
	for _, c := range all {
		if n := len(merged); n > 0 && slices.Equal(merged[n-1].x, c.x) {
			merged[n-1].n += c.n
			merged[n-1].y += c.y
			continue
		}
		merged = append(merged, c)
	}
	return merged
}

// logistic returns p = 1/(1 + e^(−η)), q = 1 − p and their logarithms, each to
// full precision in both tails.
func logistic(eta float64) (p, q, logP, logQ float64) {
	e := math.Exp(-math.Abs(eta))
	l := math.Log1p(e)
	if eta >= 0 {
		return 1 / (1 + e), e / (1 + e), -l, -eta - l
	}
	return e / (1 + e), 1 / (1 + e), eta - l, -l
}

func dot(a, b []float64) float64 {
	var sum float64
	for k, v := range a {
		sum += v * b[k]
	}
	return sum
}
