package inference

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"brinefield/core/numeric"
)

// LognormalIndividualFit is a lognormal distribution of thresholds in which
// every cluster has a level of its own.
type LognormalIndividualFit struct {
	Mu              float64 // of the natural logarithm of nV/cm
	SigmaWithin     float64 // spread from pass to pass of one cluster
	SigmaIndividual float64 // spread of the clusters
	LogLikelihood   float64
	Median          float64 // exp(Mu): of an animal in the middle, nV/cm
	// Boundary names a spread that is 0: "sigma_individual" or "sigma_within".
	Boundary []string
	// Cov is the inverse of the observed information, in (Mu, ln SigmaWithin,
	// SigmaIndividual) without a parameter on its boundary; nil where CIErr is not.
	Cov      *mat.SymDense
	SEMu     float64
	CI       Span // of the median: Wald, on Mu
	CIErr    error
	Clusters int
	Nodes    int // quadrature nodes a cluster
	Warnings []string
}

// The number of nodes is raised along this list until the next one changes
// nothing; the first two are what the definition asks for at least.
var nodeCounts = []int{25, 51, 101, 201}

// roughNodes are enough to come near the maximum.
const roughNodes = 9

// normalQuantile975 is Φ⁻¹(0.975).
const normalQuantile975 = 1.959963984540054

// LognormalIndividual fits ln threshold = mu + u(cluster) + e, u normal with
// standard deviation SigmaIndividual, e with SigmaWithin, to intervals by
// maximum likelihood. The level of each cluster is integrated out by adaptive
// Gauss–Hermite quadrature with at least 25 nodes, more until twice as many
// change the log-likelihood by less than 1e-8.
//
// Where the likelihood is largest at SigmaIndividual = 0 the estimates are
// those of [Lognormal]; where it is at SigmaWithin = 0 those of [Lognormal] for
// what all passes of each cluster have in common.
//
// Errors: [*NotEstimable], also where no cluster has two passes that say
// anything, for then the two spreads cannot be told apart; or an error that
// names an impossible row.
//
// Source: quadrature after Liu and Pierce, Biometrika 81:624 (1994), from
// memory. Tests: published and invented sets against an independent fit and
// against R's integrate.
func LognormalIndividual(rows []Interval) (LognormalIndividualFit, error) {
	plain, err := Lognormal(rows)
	if err != nil {
		return LognormalIndividualFit{}, err
	}
	sorted := informative(canonical(rows))
	ranges, _ := intervalClusters(sorted)
	if len(ranges) == len(sorted) {
		return LognormalIndividualFit{}, notEstimable("no animal has two passes that say anything of its threshold: the spread between animals cannot be told from the spread within")
	}
	fit := fromPlain(plain)
	m := newIndividualModel(logRows(sorted), ranges)
	if best, ok := m.search(plain); ok && best.value > plain.LogLikelihood+1e-9 {
		fit = m.interior(best)
	}
	within, err := withoutWithin(sorted, ranges)
	if err != nil {
		return LognormalIndividualFit{}, err
	}
	if within != nil && within.LogLikelihood > fit.LogLikelihood+1e-9 {
		fit = fromPlain(*within)
		fit.SigmaWithin, fit.SigmaIndividual, fit.Boundary = 0, fit.SigmaWithin, []string{"sigma_within"}
	}
	fit.Clusters = plain.Clusters
	fit.Median = math.Exp(fit.Mu)
	if fit.CIErr == nil {
		half := normalQuantile975 * fit.SEMu
		fit.CI = Span{math.Exp(fit.Mu - half), math.Exp(fit.Mu + half)}
	}
	if len(ranges) < fewestAnimals {
		fit.Warnings = append(fit.Warnings, fmt.Sprintf("the spread between animals rests on %d of them", len(ranges)))
	}
	if err := withinReach(len(sorted), intervalBounds(sorted), fit.Median); err != nil {
		return LognormalIndividualFit{}, err
	}
	fit.Warnings = append(fit.Warnings, reachWarning(sorted, fit.Median)...)
	return fit, nil
}

// informative drops the rows that allow every threshold.
func informative(rows []Interval) []Interval {
	kept := rows[:0]
	for _, r := range rows {
		if r.Low > 0 || !math.IsInf(r.High, 1) {
			kept = append(kept, r)
		}
	}
	return kept
}

// fromPlain is the fit on the boundary of no spread between clusters.
func fromPlain(plain LognormalFit) LognormalIndividualFit {
	return LognormalIndividualFit{
		Mu: plain.Mu, SigmaWithin: plain.Sigma, LogLikelihood: plain.LogLikelihood,
		Boundary: []string{"sigma_individual"}, Cov: plain.CovModel, SEMu: plain.SEModel, Nodes: nodeCounts[0],
	}
}

// withoutWithin is the limit of no spread within clusters: the level of each
// cluster lies where all its passes agree. nil where some do not.
func withoutWithin(rows []Interval, ranges []clusterRange) (*LognormalFit, error) {
	common := make([]Interval, 0, len(ranges))
	twice := ""
	for _, c := range ranges {
		r := Interval{Cluster: rows[c.from].Cluster, Identified: rows[c.from].Identified, High: math.Inf(1)}
		exact := 0
		for _, row := range rows[c.from:c.to] {
			r.Low, r.High = math.Max(r.Low, row.Low), math.Min(r.High, row.High)
			if row.Exact {
				exact++
			}
		}
		r.Exact = exact > 0
		if r.Low > r.High || r.Low == r.High && !r.Exact || exact > 0 && openAt(rows[c.from:c.to], r.Low) {
			return nil, nil
		}
		if exact > 1 && twice == "" {
			twice = r.Cluster
		}
		common = append(common, r)
	}
	if twice != "" {
		return nil, notEstimable("%s has the same exact threshold twice and no animal disagrees with itself: the spread within animals runs to 0", twice)
	}
	if existence(common) != nil {
		return nil, nil
	}
	fit, err := Lognormal(common)
	if err != nil {
		return nil, nil
	}
	return &fit, nil
}

// openAt says that a row has x at its open lower end.
func openAt(rows []Interval, x float64) bool {
	for _, r := range rows {
		if !r.Exact && r.Low >= x {
			return true
		}
	}
	return false
}

type individualPeak struct {
	top   numeric.Maximum
	value float64
	nodes int
}

// Above this many rows the likelihood is so nearly quadratic that one climb,
// from the best of the starts, is enough.
const climbFromAllUpTo = 3000

// search climbs from several divisions of the spread between and within.
func (m *individualModel) search(plain LognormalFit) (individualPeak, bool) {
	var starts [][]float64
	var bestStart []float64
	bestValue := math.Inf(-1)
	m.setNodes(roughNodes)
	for _, ratio := range []float64{0.15, 0.5, 1, 3} {
		within := plain.Sigma / math.Hypot(1, ratio)
		start := []float64{plain.Mu, math.Log(within), ratio * within}
		starts = append(starts, start)
		if v := m.at(start, make([]float64, 3), mat.NewSymDense(3, nil)); v > bestValue {
			bestStart, bestValue = start, v
		}
	}
	if len(m.rows) > climbFromAllUpTo {
		starts = [][]float64{bestStart}
	}
	var best individualPeak
	found := false
	for _, start := range starts {
		if peak, ok := m.climb(start, plain.Sigma); ok && (!found || peak.value > best.value) {
			best, found = peak, true
		}
	}
	return best, found && math.Abs(best.top.X[2]) > 1e-5*plain.Sigma
}

// climb maximises over (mu, ln sigma within, sigma individual). The likelihood
// is even in the last, so 0 is no edge but a stationary point.
func (m *individualModel) climb(start []float64, sigma float64) (individualPeak, bool) {
	search := numeric.Search{
		Low:  []float64{start[0] - 100*sigma, math.Log(sigma) - 9, -1e3 * sigma},
		High: []float64{start[0] + 100*sigma, math.Log(sigma) + 4, 1e3 * sigma},
		Step: []float64{2 * sigma, 1, sigma},
	}
	x := start
	m.setNodes(roughNodes)
	if rough, err := numeric.Maximise(m.at, start, search); err == nil {
		x = rough.X
	}
	for k, nodes := range nodeCounts {
		m.setNodes(nodes)
		top, err := numeric.Maximise(m.at, x, search)
		if err != nil {
			return individualPeak{}, false
		}
		peak := individualPeak{top, top.Value, nodes}
		if k+1 == len(nodeCounts) {
			return peak, true
		}
		m.setNodes(nodeCounts[k+1])
		if math.Abs(m.at(top.X, make([]float64, 3), mat.NewSymDense(3, nil))-top.Value) <= 1e-8 {
			return peak, true
		}
		x = top.X
	}
	return individualPeak{}, false
}

func (m *individualModel) interior(peak individualPeak) LognormalIndividualFit {
	x := peak.top.X
	fit := LognormalIndividualFit{
		Mu: x[0], SigmaWithin: math.Exp(x[1]), SigmaIndividual: math.Abs(x[2]),
		LogLikelihood: peak.value, Nodes: peak.nodes,
	}
	hessian := peak.top.Hessian
	if x[2] < 0 {
		hessian.SetSym(0, 2, -hessian.At(0, 2))
		hessian.SetSym(1, 2, -hessian.At(1, 2))
	}
	fit.Cov, fit.CIErr = inverseInformation(hessian)
	if fit.CIErr == nil {
		fit.SEMu = math.Sqrt(fit.Cov.At(0, 0))
	}
	return fit
}
