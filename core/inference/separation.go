package inference

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// PenalisedFit is a preference that stays finite where turns and no turns are
// separated.
type PenalisedFit struct {
	LogOddsRatio, SE float64
	Intercept        float64
	CI               Span    // 95 %, of LogOddsRatio, from the penalised profile
	P                float64 // of no preference, penalised likelihood ratio, 1 degree of freedom
	LogLikelihood    float64 // penalised: ℓ + ½ ln det I
	// Bound is the one-sided exact 95 % bound of the log odds ratio on the side
	// that the data can tell, given the margins: BoundIsLower says which. It
	// is not known (Bounded false) only where neither side can be told.
	Bound        float64
	BoundIsLower bool
	Bounded      bool
	Warnings     []string
}

// Penalised estimates
//
//	logit P(turn) = intercept + log_odds_ratio·[pair active]
//
// without individuals, by Firth's penalised likelihood: the logistic
// likelihood times the square root of the determinant of its information. It
// removes the first-order bias of the estimate and has a maximum for every
// table with passes at both kinds of pair; for a 2×2 table it is the same as
// adding a half to each cell. Beside it stands the exact one-sided bound of
// the odds ratio, which needs no penalty.
//
// Errors: [*NotEstimable] without passes at one kind of pair, or with no turns
// or nothing but turns at both.
//
// Sources: Firth, Biometrika 80, 27–38, 1993; Heinze and Schemper, Stat. Med.
// 21, 2409–2419, 2002 (both from memory). Tests: j_separation.json, the closed
// form for 2×2 tables, e_fisher.json for the bounds.
func Penalised(rows []MixedRow) (PenalisedFit, error) {
	cells := mixedCells(rows)
	table := twoByTwo(cells)
	if table.empty() {
		return PenalisedFit{}, table.fault()
	}
	d, err := newDesign(cells)
	if err != nil {
		return PenalisedFit{}, err
	}
	f := firth{cells: d.pooled(), columns: d.columns}
	top, err := f.maximise(nil, -1)
	if err != nil {
		return PenalisedFit{}, err
	}
	covariance, ok := invertSPD(top.information)
	if !ok {
		return PenalisedFit{}, errSingular
	}
	fit := PenalisedFit{
		Intercept:     top.beta[0],
		LogOddsRatio:  top.beta[1],
		SE:            math.Sqrt(covariance.At(1, 1)),
		LogLikelihood: top.value,
		Warnings: []string{
			"individuals are ignored: passes count as if no two were by the same animal, so the interval is too narrow and p too small where animals came more than once",
			"penalised estimate (Firth): finite by construction, and drawn towards no preference",
		},
	}
	null, err := f.maximise([]float64{top.beta[0], 0}, 1)
	if err != nil {
		return PenalisedFit{}, err
	}
	fit.P = math.Erfc(math.Sqrt(math.Max(0, top.value-null.value)))
	if fit.CI, err = f.profile(top, 1, fit.SE); err != nil {
		return PenalisedFit{}, err
	}
	fit.Bound, fit.BoundIsLower, fit.Bounded = table.bound()
	return fit, nil
}

// empty reports a table that holds nothing about a preference, not even a
// penalised one.
func (t preferenceTable) empty() bool {
	return t.activeTurned+t.activeNot == 0 || t.controlTurned+t.controlNot == 0 ||
		t.activeTurned+t.controlTurned == 0 || t.activeNot+t.controlNot == 0
}

// firth is a logistic likelihood with the penalty ½ ln det I.
type firth struct {
	cells   []designCell
	columns int
}

type firthPoint struct {
	beta        []float64
	value       float64 // penalised log-likelihood
	score       []float64
	information *mat.SymDense
	// curvature is what the climb divides by: the information of the data with
	// h/2 turns in h passes added to each cell, which is what the modified
	// score is the score of as long as the leverages h stand still.
	curvature *mat.SymDense
}

// at evaluates the penalised likelihood and Firth's modified score
// Σ x·(y − n·p + h·(½ − p)), h the leverage of the cell.
func (f firth) at(beta []float64) (firthPoint, bool) {
	value, score, information := plainLikelihood(f.cells, beta)
	var factor mat.Cholesky
	if !factor.Factorize(information) {
		return firthPoint{}, false
	}
	solved := mat.NewVecDense(f.columns, nil)
	curvature := mat.NewSymDense(f.columns, nil)
	curvature.CopySym(information)
	for _, c := range f.cells {
		p, q, _, _ := logistic(dot(c.x, beta))
		if err := factor.SolveVecTo(solved, mat.NewVecDense(f.columns, c.x)); err != nil {
			return firthPoint{}, false
		}
		leverage := c.n * p * q * dot(c.x, solved.RawVector().Data)
		for i, xi := range c.x {
			score[i] += leverage * (q - p) / 2 * xi
			for j := i; j < f.columns; j++ {
				curvature.SetSym(i, j, curvature.At(i, j)+leverage*p*q*xi*c.x[j])
			}
		}
	}
	return firthPoint{
		beta: beta, value: value + factor.LogDet()/2,
		score: score, information: information, curvature: curvature,
	}, true
}

// maximise climbs by scoring steps, halved where they do not gain. With held ≥ 0 that
// coefficient keeps its value from start.
func (f firth) maximise(start []float64, held int) (firthPoint, error) {
	if start == nil {
		start = make([]float64, f.columns)
	}
	top, ok := f.at(start)
	if !ok {
		return firthPoint{}, errSingular
	}
	for range 500 {
		step, ok := solveSPD(withoutColumn(top.curvature, held), withoutEntry(top.score, held))
		if !ok {
			return firthPoint{}, errSingular
		}
		step = withEntry(step, held)
		moved := 0.0
		for _, c := range f.cells {
			moved = math.Max(moved, math.Abs(dot(c.x, step)))
		}
		if moved < 1e-11 {
			return top, nil
		}
		scale := math.Min(1, 5/moved)
		for {
			next, ok := f.at(addScaled(top.beta, step, scale))
			if ok && next.value >= top.value-1e-13*math.Abs(top.value) {
				top = next
				break
			}
			if scale /= 2; scale < 1e-10 {
				return top, nil // rounding only: this is the maximum
			}
		}
	}
	return firthPoint{}, fmt.Errorf("the penalised likelihood did not converge in 500 steps")
}

// profile returns the 95 % interval of one coefficient: where twice the fall
// of the penalised likelihood from its maximum, maximised over the others,
// reaches the 95 % point of χ² with one degree of freedom.
func (f firth) profile(top firthPoint, column int, se float64) (Span, error) {
	const drop = 3.841458820694124 / 2
	below := func(value float64) (bool, error) {
		start := append([]float64(nil), top.beta...)
		start[column] = value
		point, err := f.maximise(start, column)
		return err == nil && point.value < top.value-drop, err
	}
	end := func(direction float64) (float64, error) {
		near, far := top.beta[column], 0.0
		for reach := se; ; reach *= 1.5 {
			far = top.beta[column] + direction*reach
			out, err := below(far)
			if err != nil {
				return 0, err
			}
			if out {
				break
			}
			near = far
		}
		for math.Abs(far-near) > 1e-10*(1+math.Abs(near)) {
			middle := near + (far-near)/2
			out, err := below(middle)
			if err != nil {
				return 0, err
			}
			if out {
				far = middle
			} else {
				near = middle
			}
		}
		return near, nil
	}
	low, err := end(-1)
	if err != nil {
		return Span{}, err
	}
	high, err := end(1)
	return Span{Low: low, High: high}, err
}

func withoutColumn(m *mat.SymDense, column int) *mat.SymDense {
	n := m.SymmetricDim()
	if column < 0 {
		return m
	}
	smaller := mat.NewSymDense(n-1, nil)
	for i := range n - 1 {
		for j := i; j < n-1; j++ {
			smaller.SetSym(i, j, m.At(skip(i, column), skip(j, column)))
		}
	}
	return smaller
}

func skip(index, column int) int {
	if index >= column {
		return index + 1
	}
	return index
}

func withoutEntry(values []float64, column int) []float64 {
	if column < 0 {
		return values
	}
	return append(append([]float64(nil), values[:column]...), values[column+1:]...)
}

// withEntry puts a zero back where withoutEntry took an entry out.
func withEntry(values []float64, column int) []float64 {
	if column < 0 {
		return values
	}
	whole := append(append([]float64(nil), values[:column]...), 0)
	return append(whole, values[column:]...)
}
