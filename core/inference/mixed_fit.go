package inference

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// LogitFit is a logistic model with a normal deviation per cluster on the
// logit scale.
type LogitFit struct {
	Coefficients []float64
	SE           []float64
	Covariance   [][]float64 // of the coefficients, and last of SD where it is interior
	SD           float64     // standard deviation of the clusters' deviations
	SDSE         float64     // 0 where SD is on its boundary
	// LogLikelihood has every Bernoulli constant and no binomial coefficient.
	LogLikelihood float64
	// LogLikelihoodPlain is that of the same model without individuals.
	LogLikelihoodPlain float64
	// ScoreAtZero is ∂ℓ/∂SD² at SD = 0: positive where some spread fits better
	// than none.
	ScoreAtZero float64
	Clusters    int
	Nodes       int     // of the quadrature, 0 where SD is on its boundary
	Gradient    float64 // largest |∂ℓ| left at the estimate
	Boundary    []string
	Warnings    []string
}

const individualSD = "individual_sd"

// startSDs are where the search for the clusters' spread begins: the
// likelihood need not have one maximum only.
var startSDs = []float64{0.3, 1, 3}

// largestSD is a spread on the logit scale beyond which every cluster always
// does the same and the likelihood has no end.
const largestSD = 60

// smallestSD is a spread that no data can tell from none.
const smallestSD = 1e-4

// MixedLogit fits
//
//	logit P(turn) = x·coefficients + u(cluster),  u ~ N(0, SD²)
//
// by maximum likelihood, u integrated out by adaptive Gauss–Hermite quadrature
// of 25 nodes or as many more as it takes for the estimate to stand still.
// Newton's method on the analytic gradient and Hessian; standard errors from
// the observed information of all parameters together. Where no spread fits
// better than none, SD is 0, Boundary names it, and the standard errors are
// those of the model without individuals.
//
// Cells may come in any order and may repeat: the result has the same bits.
//
// Errors: a plain error for a malformed cell, naming it; [*NotEstimable] for
// separation, a singular design, or a likelihood without a maximum.
//
// Sources: Pinheiro and Bates, J. Comput. Graph. Stat. 4, 12–35, 1995
// (adaptive quadrature); Louis, J. R. Stat. Soc. B 44, 226–233, 1982 (the
// derivatives); both from memory. Tests: open data sets against an independent
// fit, gradient and Hessian against finite differences.
func MixedLogit(cells []Cell) (LogitFit, error) {
	d, err := newDesign(cells)
	if err != nil {
		return LogitFit{}, err
	}
	return fitMixed(d)
}

func fitMixed(d design) (LogitFit, error) {
	plain, err := fitPlainLogit(d.pooled(), d.columns)
	if err != nil {
		return LogitFit{}, err
	}
	score := scoreAtZero(d, plain.beta)
	start, err := searchSpread(d, plain.beta, score)
	if err != nil {
		return LogitFit{}, err
	}
	top, order, err := raiseOrder(d, start)
	if err != nil {
		return LogitFit{}, err
	}
	// A maximum inside must beat the boundary by more than rounding: where
	// every animal was seen once, the spread cannot be told and the
	// likelihood is level along it.
	if top.theta[d.columns] < smallestSD || top.value <= plain.logLikelihood+1e-9*(1+math.Abs(plain.logLikelihood)) {
		fit := plainFit(d, plain)
		fit.ScoreAtZero = score
		return fit, nil
	}
	fit, err := interiorFit(d, top, order)
	fit.ScoreAtZero = score
	fit.LogLikelihoodPlain = plain.logLikelihood
	return fit, err
}

// searchSpread climbs from several starting spreads with the fewest nodes and
// returns where the likelihood came out highest, near enough for raiseOrder to
// finish. A likelihood that rises from zero spread has a maximum near by, which
// a small start finds. Where the climbs end in different places, a much finer
// rule judges between them.
func searchSpread(d design, beta []float64, score float64) ([]float64, error) {
	coarse := newMarginal(d, 0)
	starts := startSDs
	if score > 0 {
		starts = append([]float64{0.05}, startSDs...)
	}
	var places []summit
	for _, start := range starts {
		top := climb(coarse, append(append([]float64(nil), beta...), start), 1e-4)
		switch {
		case top.ranAway && d.pure():
			return nil, errSpreadRuns
		case top.ranAway:
			// An error of the coarse rule: the likelihood falls without end out there.
		case len(places) > 0 && samePlace(places[len(places)-1], top):
		default:
			places = append(places, top)
		}
	}
	if len(places) == 0 {
		return append(append([]float64(nil), beta...), startSDs[0]), nil
	}
	best := places[0].theta
	if len(places) > 1 {
		fine := newMarginal(d, fineRule)
		bestValue := math.Inf(-1)
		for _, place := range places {
			if value, _, _ := fine.value(place.theta); value > bestValue {
				best, bestValue = place.theta, value
			}
		}
	}
	return best, nil
}

// samePlace reports whether two climbs ended on the same maximum, as far as
// their early stop lets tell.
func samePlace(a, b summit) bool {
	sdA, sdB := a.theta[len(a.theta)-1], b.theta[len(b.theta)-1]
	return math.Abs(a.value-b.value) < 1e-3 && math.Abs(sdA-sdB) < 0.05*(1+sdA)
}

// fineRule judges between the starts.
const fineRule = 5

// widestSE is a standard error on the logit scale beyond which a summit is not
// one: its curvature, below 1e-6, is what rounding and the quadrature leave of
// a likelihood that levels off without a maximum.
const widestSE = 1e3

var errLevelTop = &NotEstimable{Why: "the likelihood levels off without a maximum: these passes fit any large difference between individuals, and between active and control pairs, equally well"}

var errSpreadRuns = &NotEstimable{Why: "each individual did always the same at each kind of pair, so the spread between individuals has no upper end"}

// pure reports whether every cell of every cluster is all turns or none. Only
// then can the likelihood keep rising with the spread: a cell with both loses
// likelihood without end as the spread grows.
func (d design) pure() bool {
	for _, c := range d.clusters {
		for _, cell := range c.cells {
			if cell.y > 0 && cell.y < cell.n {
				return false
			}
		}
	}
	return true
}

// raiseOrder climbs with more and more nodes until one more refinement leaves
// the likelihood and the estimates where they are, and returns the summit and
// its number of nodes, 0 if it did not settle. With too few nodes the
// derivatives are not quite those of the sum, and a climb may stall: it then
// goes on with more.
func raiseOrder(d design, start []float64) (summit, int, error) {
	var top summit
	from := start
	m := newMarginal(d, 0)
	for rule := range ruleCount {
		top = climb(m, from, 1e-15)
		nodes := len(m.nodes)
		if rule+1 < ruleCount {
			m = newMarginal(d, rule+1)
		}
		from = top.theta
		switch {
		case top.ranAway && d.pure():
			return top, 0, errSpreadRuns
		case top.ranAway:
			from = start
		case top.theta[d.columns] < smallestSD:
			return top, nodes, nil
		case top.converged && rule+1 < ruleCount && settled(m, top):
			return top, nodes, nil
		}
	}
	if !top.converged {
		return top, 0, notEstimable("the likelihood of the mixed model has no maximum that Newton's method could reach")
	}
	return top, 0, nil
}

func interiorFit(d design, top summit, order int) (LogitFit, error) {
	covariance, ok := invertSPD(negated(top.hessian))
	if !ok {
		return LogitFit{}, errSingular
	}
	fit := LogitFit{
		Coefficients: top.theta[:d.columns], SD: top.theta[d.columns],
		LogLikelihood: top.value, Gradient: largest(top.gradient),
		Clusters: len(d.clusters), Nodes: order,
	}
	fit.setCovariance(covariance, d.columns)
	if math.Max(slices.Max(fit.SE), fit.SDSE) > widestSE {
		return LogitFit{}, errLevelTop
	}
	if order == 0 {
		fit.Nodes = trapezoidSteps<<(ruleCount-1-len(hermiteOrders)) + 1
		fit.Warnings = append(fit.Warnings, "the quadrature over individuals had not settled at its largest number of nodes: the individuals differ extremely, and the last digits are not certain")
	}
	return fit, nil
}

// settled reports whether a finer rule agrees: the likelihood to 1e-8 and,
// by the length of its Newton step, the estimates to 1e-5 standard errors.
func settled(finer *marginal, top summit) bool {
	value, gradient, hessian := finer.value(top.theta)
	if math.Abs(value-top.value) > 1e-8*(1+math.Abs(value)) {
		return false
	}
	step, ok := solveSPD(negated(hessian), gradient)
	return ok && dot(step, gradient) < 1e-10
}

func (fit *LogitFit) setCovariance(covariance *mat.SymDense, columns int) {
	size := covariance.SymmetricDim()
	fit.Covariance = make([][]float64, size)
	for i := range size {
		fit.Covariance[i] = make([]float64, size)
		for j := range size {
			fit.Covariance[i][j] = covariance.At(i, j)
		}
	}
	fit.SE = make([]float64, columns)
	for i := range columns {
		fit.SE[i] = math.Sqrt(covariance.At(i, i))
	}
	if size > columns {
		fit.SDSE = math.Sqrt(covariance.At(columns, columns))
	}
}

// plainFit is the result where the spread is on its boundary.
func plainFit(d design, plain plainLogit) LogitFit {
	fit := LogitFit{
		Coefficients:       plain.beta,
		LogLikelihood:      plain.logLikelihood,
		LogLikelihoodPlain: plain.logLikelihood,
		Clusters:           len(d.clusters),
		Boundary:           []string{individualSD},
	}
	_, gradient, _ := plainLikelihood(d.pooled(), plain.beta)
	fit.Gradient = largest(gradient)
	if covariance, ok := invertSPD(plain.information); ok {
		fit.setCovariance(covariance, d.columns)
	}
	return fit
}

func largest(values []float64) float64 {
	var most float64
	for _, v := range values {
		most = math.Max(most, math.Abs(v))
	}
	return most
}

func negated(m *mat.SymDense) *mat.SymDense {
	n := m.SymmetricDim()
	negative := mat.NewSymDense(n, nil)
	negative.ScaleSym(-1, m)
	return negative
}
