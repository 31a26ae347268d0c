package inference

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"brinefield/core/numeric"
)

// marginal is the likelihood of a logistic model whose intercept varies over
// clusters, the clusters' deviations integrated out:
//
//	ℓ(β, s) = Σ_c ln ∫ Π p^y (1 − p)^(n−y) φ(z) dz,  logit p = xβ + s·z.
//
// Adaptive quadrature: the nodes of each cluster are centred on the mode of its
// integrand and, for Gauss–Hermite, scaled by the curvature there. Binomial coefficients are
// left out: the rows are Bernoulli.
type marginal struct {
	design     design
	nodes      []float64
	logWeights []float64
	fixed      bool // the nodes' scale is 1 whatever the curvature
}

// Rules of quadrature, from the cheapest. The first are adaptive Gauss–Hermite
// of 25 nodes (the contract's least) up to 101. Where individuals differ by
// many logits an integrand is a Gaussian cut off by a step 1/s wide, and
// Gauss–Hermite needs s² nodes; the trapezoidal rule round the mode, whose
// error falls as exp(−2π²/(h·s)), needs some 24·s. The integrand falls at
// least as fast as a standard normal density from its mode, so ±8.6 holds all
// of it.
var hermiteOrders = []int{25, 41, 65, 101}

const (
	ruleCount      = 9
	trapezoidReach = 8.6
	trapezoidSteps = 140 // of the first trapezoidal rule; each next one has twice as many
)

// newMarginal returns the likelihood by the k-th rule, 0 ≤ k < ruleCount.
func newMarginal(d design, rule int) *marginal {
	m := &marginal{design: d}
	if rule < len(hermiteOrders) {
		m.nodes, m.logWeights = numeric.GaussHermiteScaled(hermiteOrders[rule])
		for k, w := range m.logWeights {
			m.logWeights[k] = math.Log(w)
		}
		return m
	}
	m.fixed = true
	steps := trapezoidSteps << (rule - len(hermiteOrders))
	h := 2 * trapezoidReach / float64(steps)
	for k := range steps + 1 {
		// In units of √2 times the scale, as the Gauss–Hermite nodes are.
		m.nodes = append(m.nodes, float64(2*k-steps)/2*h/math.Sqrt2)
		m.logWeights = append(m.logWeights, math.Log(h/math.Sqrt2))
	}
	return m
}

// value returns ℓ, its gradient and its Hessian in (β, s).
//
// The derivatives are those of the integrals (Louis' identities), taken with
// the same nodes: ∂ℓ = E[∂ ln joint], ∂²ℓ = E[∂² ln joint] + Cov[∂ ln joint]
// under the cluster's posterior. They are the derivatives of the quadrature
// sum as far as the sum equals the integral, which the fit makes sure of by
// raising the order until nothing moves.
func (m *marginal) value(theta []float64) (float64, []float64, *mat.SymDense) {
	size := len(theta)
	beta, sd := theta[:size-1], theta[size-1]
	var total float64
	gradient := make([]float64, size)
	hessian := mat.NewSymDense(size, nil)
	work := newClusterWork(len(m.nodes), size)
	for _, c := range m.design.clusters {
		total += m.cluster(c.cells, beta, sd, work)
		for i := range size {
			gradient[i] += work.mean[i]
			for j := i; j < size; j++ {
				hessian.SetSym(i, j, hessian.At(i, j)+work.hessian[i*size+j])
			}
		}
	}
	return total, gradient, hessian
}

// clusterWork is scratch space for one cluster's sums.
type clusterWork struct {
	eta     []float64 // fixed part of each cell's logit
	z, logF []float64 // nodes and ln of weight times integrand
	post    []float64 // posterior weight of each node
	score   []float64 // per node, gradient of ln joint
	spread  []float64 // per node and cell, n·p(1 − p)
	mean    []float64 // gradient of the cluster's log-likelihood
	hessian []float64 // its Hessian, upper triangle
}

func newClusterWork(order, size int) *clusterWork {
	return &clusterWork{
		z: make([]float64, order), logF: make([]float64, order), post: make([]float64, order),
		score: make([]float64, order*size), mean: make([]float64, size), hessian: make([]float64, size*size),
	}
}

// cluster returns one cluster's log-likelihood and leaves its gradient and
// Hessian in work.
func (m *marginal) cluster(cells []designCell, beta []float64, sd float64, work *clusterWork) float64 {
	size := len(beta) + 1
	work.eta = work.eta[:0]
	for _, c := range cells {
		work.eta = append(work.eta, dot(c.x, beta))
	}
	mode, scale := clusterMode(cells, work.eta, sd)
	if m.fixed {
		scale = 1
	}
	largest := math.Inf(-1)
	clear(work.score)
	work.spread = work.spread[:0]
	for k, x := range m.nodes {
		z := mode + math.Sqrt2*scale*x
		logJoint := -z * z / 2
		score := work.score[k*size : (k+1)*size]
		for r, c := range cells {
			p, q, logP, logQ := logistic(work.eta[r] + sd*z)
			logJoint += c.y*logP + (c.n-c.y)*logQ
			residual := c.y*q - (c.n-c.y)*p
			work.spread = append(work.spread, c.n*p*q)
			for i, xi := range c.x {
				score[i] += residual * xi
			}
			score[size-1] += residual * z
		}
		work.z[k] = z
		work.logF[k] = logJoint + m.logWeights[k]
		largest = math.Max(largest, work.logF[k])
	}
	var sum float64
	for k, f := range work.logF {
		work.post[k] = math.Exp(f - largest)
		sum += work.post[k]
	}
	for k := range work.post {
		work.post[k] /= sum
	}
	work.moments(cells, size)
	return largest + math.Log(sum) + math.Log(scale) - 0.5*math.Log(math.Pi)
}

// moments turns the nodes' scores and weights into the mean score and the
// Hessian of the cluster.
func (work *clusterWork) moments(cells []designCell, size int) {
	clear(work.mean)
	clear(work.hessian)
	for k, w := range work.post {
		for i, s := range work.score[k*size : (k+1)*size] {
			work.mean[i] += w * s
		}
	}
	for k, w := range work.post {
		score := work.score[k*size : (k+1)*size]
		for i := range size {
			for j := i; j < size; j++ {
				work.hessian[i*size+j] += w * (score[i] - work.mean[i]) * (score[j] - work.mean[j])
			}
		}
	}
	last := size - 1
	for r, c := range cells {
		var flat, linear, square float64 // E[n·p·q], E[n·p·q·z], E[n·p·q·z²]
		for k, w := range work.post {
			v := w * work.spread[k*len(cells)+r]
			flat += v
			linear += v * work.z[k]
			square += v * work.z[k] * work.z[k]
		}
		for i, xi := range c.x {
			for j := i; j < last; j++ {
				work.hessian[i*size+j] -= flat * xi * c.x[j]
			}
			work.hessian[i*size+last] -= linear * xi
		}
		work.hessian[last*size+last] -= square
	}
}

// clusterMode finds the mode of a cluster's integrand in z and the scale
// 1/√(−curvature) there. The integrand's logarithm is concave with curvature
// of at most −1, so its slope has one zero, within a bracket known beforehand.
func clusterMode(cells []designCell, eta []float64, sd float64) (mode, scale float64) {
	var turned, stayed float64
	for _, c := range cells {
		turned += c.y
		stayed += c.n - c.y
	}
	lo, hi := -math.Abs(sd)*stayed, math.Abs(sd)*turned
	if sd < 0 {
		lo, hi = sd*turned, -sd*stayed
	}
	z := math.Min(math.Max(0, lo), hi)
	for range 200 {
		slope, curvature := -z, 1.0
		for r, c := range cells {
			p, q, _, _ := logistic(eta[r] + sd*z)
			slope += sd * (c.y*q - (c.n-c.y)*p)
			curvature += sd * sd * c.n * p * q
		}
		scale = 1 / math.Sqrt(curvature)
		if slope >= 0 {
			lo = z
		}
		if slope <= 0 {
			hi = z
		}
		next := z + slope/curvature
		if next <= lo || next >= hi {
			next = lo + (hi-lo)/2
		}
		if math.Abs(next-z) <= 1e-10*scale {
			return next, scale
		}
		z = next
	}
	return z, scale
}

// scoreAtZero is the derivative of ℓ in s² at s = 0, where the likelihood is
// that of the model without individuals: half the excess of the clusters'
// squared residual sums over what chance gives.
func scoreAtZero(d design, beta []float64) float64 {
	var sum float64
	for _, c := range d.clusters {
		var residual, information float64
		for _, cell := range c.cells {
			p, q, _, _ := logistic(dot(cell.x, beta))
			residual += cell.y*q - (cell.n-cell.y)*p
			information += cell.n * p * q
		}
		sum += residual*residual - information
	}
	return sum / 2
}
