package inference

import (
	"cmp"
	"math"
	"slices"
)

// stepProblem is an NPMLE reduced to what the likelihood can see: places where
// mass can lie, and distinct rows as ranges of places with their counts.
type stepProblem struct {
	places []Mass // Low and High only, ascending
	rows   []stepRow
	n      float64 // number of passes
}

// stepRow says that count thresholds lie in places[from:to].
type stepRow struct {
	from, to int
	count    float64
}

// An end of an interval in the order in which ends follow each other at equal
// values: a closed lower end (of an exact row), an upper end, an open lower end.
type end struct {
	at    float64
	order int8
}

const (
	closedLow int8 = iota
	closedHigh
	openLow
)

func compareEnds(a, b end) int {
	return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.order, b.order))
}

// innermost finds the places and the ranges. A place is a lower end that is
// followed at once by an upper end.
func innermost(rows []Interval) stepProblem {
	lows, highs := make([]end, len(rows)), make([]end, len(rows))
	all := make([]end, 0, 2*len(rows))
	for i, r := range rows {
		lows[i], highs[i] = end{r.Low, openLow}, end{r.High, closedHigh}
		if r.Exact {
			lows[i].order = closedLow
		}
		all = append(all, lows[i], highs[i])
	}
	slices.SortFunc(all, compareEnds)
	var p stepProblem
	var placeLows, placeHighs []end
	for k := 1; k < len(all); k++ {
		low, high := all[k-1], all[k]
		if low.order != closedHigh && high.order == closedHigh {
			placeLows, placeHighs = append(placeLows, low), append(placeHighs, high)
			p.places = append(p.places, Mass{Low: low.at, High: high.at})
		}
	}
	p.n = float64(len(rows))
	ranges := make([]stepRow, len(rows))
	for i := range rows {
		// Places that begin at or after the row's lower end and end at or before its upper end.
		from, _ := slices.BinarySearchFunc(placeLows, lows[i], compareEnds)
		to, found := slices.BinarySearchFunc(placeHighs, highs[i], compareEnds)
		if found {
			to++
		}
		ranges[i] = stepRow{from, to, 1}
	}
	slices.SortFunc(ranges, func(a, b stepRow) int {
		return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to))
	})
	for _, r := range ranges {
		if last := len(p.rows) - 1; last >= 0 && p.rows[last].from == r.from && p.rows[last].to == r.to {
			p.rows[last].count++
			continue
		}
		p.rows = append(p.rows, r)
	}
	return p
}

// cumulate writes the distribution function before each place:
// cumulative[j] = masses[0] + … + masses[j−1], one longer than masses.
func cumulate(cumulative, masses []float64) {
	sum := 0.0
	cumulative[0] = 0
	for j, m := range masses {
		sum += m
		cumulative[j+1] = sum
	}
}

// probability of a row, from the cumulative masses. Rows that hold a single
// place take its mass as it is: nothing cancels.
func (r stepRow) probability(cumulative, masses []float64) float64 {
	if r.to == r.from+1 {
		return masses[r.from]
	}
	return cumulative[r.to] - cumulative[r.from]
}

func (p stepProblem) logLikelihood(masses []float64) float64 {
	cumulative := make([]float64, len(masses)+1)
	cumulate(cumulative, masses)
	sum := 0.0
	for _, r := range p.rows {
		sum += r.count * math.Log(r.probability(cumulative, masses))
	}
	return sum
}

// slopes writes d_j = Σ count/P over the rows that hold place j.
func (p stepProblem) slopes(d, cumulative, masses []float64) {
	clear(d)
	for _, r := range p.rows {
		pull := r.count / r.probability(cumulative, masses)
		d[r.from] += pull
		if r.to < len(d) {
			d[r.to] -= pull
		}
	}
	for j := 1; j < len(d); j++ {
		d[j] += d[j-1]
	}
}
