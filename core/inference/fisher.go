package inference

import (
	"fmt"
	"math"
	"sort"
)

// fisherTie is the relative tolerance within which two tables count as equally
// probable; without it, rounding would decide which of two equal tables counts.
const fisherTie = 1e-7

// FisherExact returns Fisher's exact two-sided p of the 2×2 table
//
//	a  b     turns and no turns at active pairs
//	c  d     turns and no turns at control pairs
//
// the probability, given both margins and no preference, of all tables that
// are no more probable than the one seen (relative tolerance 1e-7). It counts
// passes as if no two were by the same animal: callers call it naive.
//
// A margin of zero leaves one possible table: p = 1. The relative error is
// about 1e-15 times the number of tables; p is 0 only where the true value is
// below the smallest float64.
//
// A negative count panics: the calling code counted wrongly.
//
// Source: Fisher, Statistical Methods for Research Workers, §21.02, and the
// usual two-sided convention (from memory). Tests: e_fisher.json, sums over
// explicit tables, symmetry under exchange of rows and columns.
func FisherExact(a, b, c, d int) float64 {
	t := newTables(a, b, c, d)
	seen := t.weight[a-t.low] * (1 + fisherTie)
	var tail, all []float64
	for _, w := range t.weight {
		all = append(all, w)
		if w <= seen {
			tail = append(tail, w)
		}
	}
	return math.Min(1, sumAscending(tail)/sumAscending(all))
}

// tables holds the hypergeometric law of the top left cell given the margins.
type tables struct {
	low       int       // smallest possible top left cell
	weight    []float64 // proportional to the probability; 1 at the most probable table
	logWeight []float64 // its logarithm, which does not underflow
}

func newTables(a, b, c, d int) tables {
	if min(a, b, c, d) < 0 {
		panic(fmt.Sprintf("inference: negative count in the table (%d, %d; %d, %d)", a, b, c, d))
	}
	row, column, other := a+b, a+c, c+d
	low, high := max(0, column-other), min(row, column)
	// Probabilities relative to the mode by the ratio of neighbours: no
	// factorials, so no digits are lost in large tables.
	ratio := func(k int) float64 { // weight(k+1)/weight(k)
		return float64(row-k) / float64(k+1) * (float64(column-k) / float64(other-column+k+1))
	}
	mode := int(float64(row+1) * (float64(column+1) / float64(row+other+2)))
	mode = min(max(mode, low), high)
	weight := make([]float64, high-low+1)
	logWeight := make([]float64, high-low+1)
	weight[mode-low] = 1
	for k := mode; k < high; k++ {
		weight[k+1-low] = weight[k-low] * ratio(k)
		logWeight[k+1-low] = logWeight[k-low] + math.Log(ratio(k))
	}
	for k := mode; k > low; k-- {
		weight[k-1-low] = weight[k-low] / ratio(k-1)
		logWeight[k-1-low] = logWeight[k-low] - math.Log(ratio(k-1))
	}
	return tables{low: low, weight: weight, logWeight: logWeight}
}

// sumAscending adds positive numbers from the smallest up.
func sumAscending(values []float64) float64 {
	sorted := append([]float64(nil), values...)
	sort.Float64s(sorted)
	var sum float64
	for _, v := range sorted {
		sum += v
	}
	return sum
}
