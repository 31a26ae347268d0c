package inference

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"brinefield/core/numeric"
)

// individualModel is the marginal log-likelihood of rows in clusters whose
// levels mu + tau·v, v standard normal, are integrated out.
type individualModel struct {
	rows     []logRow
	clusters []clusterRange
	modes    []float64 // of v, from the last evaluation: where the next begins
	nodes    []float64
	weights  []float64 // times exp(node²)
}

const clustersPerBlock = 4

func newIndividualModel(rows []logRow, clusters []clusterRange) *individualModel {
	return &individualModel{rows: rows, clusters: clusters, modes: make([]float64, len(clusters))}
}

func (m *individualModel) setNodes(n int) {
	m.nodes, m.weights = numeric.GaussHermiteScaled(n)
	clear(m.modes)
}

// at evaluates in (mu, ln sigma within, tau).
func (m *individualModel) at(x, gradient []float64, hessian *mat.SymDense) float64 {
	var sum [10]float64
	sumBlocks(sum[:], len(m.clusters), clustersPerBlock, func(from, to int, part []float64) {
		for c := from; c < to; c++ {
			m.addCluster(c, x[0], x[1], x[2], part)
		}
	})
	return unpack(sum[:], 3, []int{0, 1, 2}, gradient, hessian)
}

// addCluster adds the marginal log-likelihood of one cluster. Its derivatives
// are the means, over v given the passes, of the derivatives with v known, and
// the variance of the score (Louis's identity), by the same quadrature.
func (m *individualModel) addCluster(c int, mu, lnSigma, tau float64, sum []float64) {
	rows := m.rows[m.clusters[c].from:m.clusters[c].to]
	inverse := math.Exp(-lnSigma)
	mode, spread, peak := findMode(rows, mu, lnSigma, inverse, tau, m.modes[c])
	m.modes[c] = mode
	var total float64
	var score [3]float64
	var second [6]float64 // Σ weight·(H + g gᵀ): mu mu, mu s, mu tau, s s, s tau, tau tau
	for k, node := range m.nodes {
		v := mode + math.Sqrt2*spread*node
		d := rowsAt(rows, mu+tau*v, lnSigma, inverse)
		// Relative to the mode, so that nothing under- or overflows.
		w := m.weights[k] * math.Exp(d.value-v*v/2-peak)
		total += w
		g := [3]float64{d.byMu, d.byScale, v * d.byMu}
		h := [6]float64{d.byMuMu, d.byMuScale, v * d.byMuMu, d.byScaleScale, v * d.byMuScale, v * v * d.byMuMu}
		for i, at := 0, 0; i < 3; i++ {
			score[i] += w * g[i]
			for j := i; j < 3; j++ {
				second[at] += w * (h[at] + g[i]*g[j])
				at++
			}
		}
	}
	// ∫ φ(v) L(v) dv = √2·spread/√(2π) · Σ
	sum[0] += peak + math.Log(total*spread) - 0.5*math.Log(math.Pi)
	for i, at := 0, 0; i < 3; i++ {
		sum[1+i] += score[i] / total
		for j := i; j < 3; j++ {
			sum[4+at] += second[at]/total - score[i]/total*(score[j]/total)
			at++
		}
	}
}

// rowsAt adds up the rows of a cluster at level mu.
func rowsAt(rows []logRow, mu, lnSigma, inverse float64) derivatives {
	var d derivatives
	for _, r := range rows {
		p := pointLikelihood(r, mu, lnSigma, inverse)
		d.value += p.value
		d.byMu += p.byMu
		d.byScale += p.byScale
		d.byMuMu += p.byMuMu
		d.byMuScale += p.byMuScale
		d.byScaleScale += p.byScaleScale
	}
	return d
}

// findMode finds the largest value of ln L(v) − v²/2 by Newton's method, and
// the spread 1/√(−second derivative) there. The function is concave, with a
// second derivative below −1, so halving the step where it does not rise is
// all the care that is needed.
func findMode(rows []logRow, mu, lnSigma, inverse, tau, start float64) (mode, spread, peak float64) {
	evaluate := func(v float64) (value, slope, curvature float64) {
		d := rowsAt(rows, mu+tau*v, lnSigma, inverse)
		return d.value - v*v/2, tau*d.byMu - v, math.Min(tau*tau*d.byMuMu, 0) - 1
	}
	v := start
	value, slope, curvature := evaluate(v)
	for range 60 {
		step := -slope / curvature
		if math.Abs(step)*math.Sqrt(-curvature) < 1e-7 {
			break
		}
		next, nextSlope, nextCurvature := evaluate(v + step)
		for range 40 {
			if next >= value-1e-12*(1+math.Abs(value)) {
				break
			}
			step /= 2
			next, nextSlope, nextCurvature = evaluate(v + step)
		}
		v, value, slope, curvature = v+step, next, nextSlope, nextCurvature
	}
	return v, 1 / math.Sqrt(-curvature), value
}
