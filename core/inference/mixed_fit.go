package inference

import (
	"math"

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

// orders of the quadrature, in turn until the estimate no longer moves. The
// contract asks for at least 25 nodes.
var orders = []int{25, 41, 65, 101, 151, 225, 325}

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
	fit, theta, err := raiseOrder(d, start)
	if err != nil {
		return LogitFit{}, err
	}
	// A maximum inside must beat the boundary by more than rounding: where
	// every animal was seen once, the spread cannot be told and the
	// likelihood is level along it.
	if theta[d.columns] < smallestSD || fit.LogLikelihood <= plain.logLikelihood+1e-9*(1+math.Abs(plain.logLikelihood)) {
		fit = plainFit(d, plain)
		fit.ScoreAtZero = score
		return fit, nil
	}
	fit.ScoreAtZero = score
	fit.LogLikelihoodPlain = plain.logLikelihood
	fit.Coefficients, fit.SD = theta[:d.columns], theta[d.columns]
	fit.Clusters = len(d.clusters)
	return fit, nil
}

// searchSpread climbs from several starting spreads with the fewest nodes and
// returns where the likelihood came out highest, near enough to a maximum for
// raiseOrder to finish. A likelihood that rises from zero spread has a maximum
// near by, which a small start finds.
func searchSpread(d design, beta []float64, score float64) ([]float64, error) {
	m := newMarginal(d, orders[0])
	var best []float64
	bestValue := math.Inf(-1)
	starts := startSDs
	if score > 0 {
		starts = append([]float64{0.05}, startSDs...)
	}
	for _, start := range starts {
		top := climb(m, append(append([]float64(nil), beta...), start), 1e-4)
		if top.ranAway {
			return nil, errSpreadRuns
		}
		if top.value > bestValue {
			best, bestValue = top.theta, top.value
		}
	}
	return best, nil
}

var errSpreadRuns = &NotEstimable{Why: "each individual did nearly always the same at each kind of pair, so the spread between individuals has no upper end"}

// raiseOrder refits with more and more nodes until one more refinement leaves
// the likelihood and the estimates where they are. With too few nodes the
// derivatives are not quite those of the sum, and a climb may stall: it then
// goes on with more.
func raiseOrder(d design, theta []float64) (LogitFit, []float64, error) {
	var top summit
	for k, order := range orders {
		top = climb(newMarginal(d, order), theta, 1e-15)
		theta = top.theta
		switch {
		case top.ranAway:
			return LogitFit{}, nil, errSpreadRuns
		case theta[d.columns] < smallestSD:
			return LogitFit{LogLikelihood: top.value}, theta, nil
		case top.converged && k+1 < len(orders) && settled(newMarginal(d, orders[k+1]), top):
			return interiorFit(d, top, order)
		}
	}
	if !top.converged {
		return LogitFit{}, nil, notEstimable("the likelihood of the mixed model has no maximum that Newton's method could reach")
	}
	fit, theta, err := interiorFit(d, top, orders[len(orders)-1])
	fit.Warnings = append(fit.Warnings, "the quadrature over individuals had not settled at its largest number of nodes; the individuals differ extremely")
	return fit, theta, err
}

func interiorFit(d design, top summit, order int) (LogitFit, []float64, error) {
	covariance, ok := invertSPD(negated(top.hessian))
	if !ok {
		return LogitFit{}, nil, errSingular
	}
	fit := LogitFit{LogLikelihood: top.value, Nodes: order, Gradient: largest(top.gradient)}
	fit.setCovariance(covariance, d.columns)
	return fit, top.theta, nil
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
