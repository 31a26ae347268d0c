package inference

import (
	"cmp"
	"math"
	"slices"
)

// MixedRow is one pass at an active or a control pair.
type MixedRow struct {
	Cluster string // the individual, or the trial and species of an unidentified animal
	Active  bool   // the pass's pair was driven
	Turned  bool
}

// MixedFit is the mixed logistic model of preference.
type MixedFit struct {
	LogOddsRatio, SE       float64
	Intercept, InterceptSE float64
	IndividualSD           float64 // on the logit scale
	IndividualSDSE         float64 // 0 on the boundary
	LogLikelihood          float64 // with all Bernoulli constants
	Wald95                 Span    // of LogOddsRatio, estimate ± 1.96 SE
	P                      float64 // Wald, two-sided, of no preference
	Clusters               int
	Nodes                  int // of the quadrature; 0 on the boundary
	Boundary               []string
	Warnings               []string
}

// Mixed fits
//
//	logit P(turn) = intercept + log_odds_ratio·[pair active] + u(cluster),
//	u ~ N(0, individual_sd²)
//
// as [MixedLogit] does. Rows may come in any order.
//
// Errors: [*NotEstimable] in plain words where the table has no passes at one
// kind of pair, or where a kind of pair saw no turn, or turns only: then the
// odds ratio has no end, and [Penalised] says what can be said.
func Mixed(rows []MixedRow) (MixedFit, error) {
	cells := mixedCells(rows)
	if err := twoByTwo(cells).fault(); err != nil {
		return MixedFit{}, err
	}
	fit, err := MixedLogit(cells)
	if err != nil {
		return MixedFit{}, err
	}
	result := MixedFit{
		Intercept: fit.Coefficients[0], InterceptSE: fit.SE[0],
		LogOddsRatio: fit.Coefficients[1], SE: fit.SE[1],
		IndividualSD: fit.SD, IndividualSDSE: fit.SDSE,
		LogLikelihood: fit.LogLikelihood,
		Clusters:      fit.Clusters, Nodes: fit.Nodes,
		Boundary: fit.Boundary, Warnings: fit.Warnings,
	}
	const z975 = 1.959963984540054
	result.Wald95 = Span{Low: result.LogOddsRatio - z975*result.SE, High: result.LogOddsRatio + z975*result.SE}
	result.P = math.Erfc(math.Abs(result.LogOddsRatio) / result.SE / math.Sqrt2)
	if fit.Clusters == 1 {
		result.Warnings = append(result.Warnings, "all passes are by one individual: how individuals differ cannot be seen")
	}
	return result, nil
}

// mixedCells counts the rows by cluster and kind of pair.
func mixedCells(rows []MixedRow) []Cell {
	type count struct{ passes, turns [2]int }
	counts := make(map[string]*count)
	for _, r := range rows {
		c := counts[r.Cluster]
		if c == nil {
			c = new(count)
			counts[r.Cluster] = c
		}
		kind := 0
		if r.Active {
			kind = 1
		}
		c.passes[kind]++
		if r.Turned {
			c.turns[kind]++
		}
	}
	var cells []Cell
	for cluster, c := range counts { // sorted below
		for kind := range 2 {
			if c.passes[kind] > 0 {
				cells = append(cells, Cell{Cluster: cluster, X: []float64{1, float64(kind)}, Passes: c.passes[kind], Turns: c.turns[kind]})
			}
		}
	}
	slices.SortFunc(cells, func(a, b Cell) int {
		return cmp.Or(cmp.Compare(a.Cluster, b.Cluster), cmp.Compare(a.X[1], b.X[1]))
	})
	return cells
}

// preferenceTable counts passes with and without a turn.
type preferenceTable struct {
	activeTurned, activeNot, controlTurned, controlNot int
}

func twoByTwo(cells []Cell) preferenceTable {
	var t preferenceTable
	for _, c := range cells {
		if c.X[1] == 1 {
			t.activeTurned += c.Turns
			t.activeNot += c.Passes - c.Turns
		} else {
			t.controlTurned += c.Turns
			t.controlNot += c.Passes - c.Turns
		}
	}
	return t
}

// fault says in plain words why the table has no finite odds ratio, or nil.
func (t preferenceTable) fault() error {
	switch {
	case t.activeTurned+t.activeNot == 0:
		return notEstimable("there are no passes at an active pair, so there is nothing to compare the control pairs with")
	case t.controlTurned+t.controlNot == 0:
		return notEstimable("there are no passes at a control pair, so there is nothing to compare the active pairs with")
	case t.activeTurned+t.controlTurned == 0:
		return notEstimable("nobody ever turned, at an active pair or at a control pair, so there is no odds ratio")
	case t.activeNot+t.controlNot == 0:
		return notEstimable("every pass had a turn, at active pairs and at control pairs alike, so there is no odds ratio")
	case t.controlTurned == 0:
		return notEstimable("nobody ever turned at a control pair, so the odds ratio has no upper end")
	case t.activeNot == 0:
		return notEstimable("every pass at an active pair had a turn, so the odds ratio has no upper end")
	case t.activeTurned == 0:
		return notEstimable("nobody ever turned at an active pair, so the odds ratio has no lower end above zero")
	case t.controlNot == 0:
		return notEstimable("every pass at a control pair had a turn, so the odds ratio has no lower end above zero")
	}
	return nil
}
