package inference

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Parameters of the detection model, in the order of its sums.
const (
	atLapse       = iota // logit of the lapse; −Inf: no lapses
	atSpontaneous        // ln of spontaneous turns per second; −Inf: none
	atMu                 // of ln nV/cm
	atSigma              // ln sigma
	detectionSize
)

var detectionNames = [detectionSize]string{"logit_lapse", "ln_spontaneous_per_s", "mu", "ln_sigma"}

// detectionPoint is a place in the parameters, with what all rows need of it.
type detectionPoint struct {
	lapse, lnLapse, lnAttentive float64 // lapse, its logarithm and that of 1 − lapse
	h                           float64
	mu, lnSigma, inverse        float64
}

func newDetectionPoint(x [detectionSize]float64) detectionPoint {
	p := detectionPoint{
		lnLapse: -math.Log1p(math.Exp(-x[atLapse])), lnAttentive: -math.Log1p(math.Exp(x[atLapse])),
		h: math.Exp(x[atSpontaneous]), mu: x[atMu], lnSigma: x[atSigma], inverse: math.Exp(-x[atSigma]),
	}
	p.lapse = math.Exp(p.lnLapse)
	return p
}

// addDetection adds value, score and second derivatives of the rows.
//
// Every row is −h·until plus the logarithm of a sum of positive terms, each a
// product of one function a parameter:
//
//	stayed:  lapse + (1−lapse)·U(low)
//	turned:  (1−lapse)·D + q·lapse + q·(1−lapse)·U(high)
//
// U = 1 − F, D = F(high) − F(low), q = 1 − e^(−h·window). The second is
// S(low) − e^(−h·window)·S(high) with nothing left to cancel. Terms are added
// on the logarithmic scale; with weights w their shares of the sum,
// the score is Σ w g and the second derivative Σ w (H + g gᵀ) − (Σ w g)(…)ᵀ.
func addDetection(rows []passRow, x [detectionSize]float64, sum []float64) {
	p := newDetectionPoint(x)
	for i := range rows {
		r := &rows[i]
		if gone := p.h * r.until; gone > 0 {
			sum[0] -= gone
			sum[1+atSpontaneous] -= gone
			sum[hh] -= gone
		}
		switch r.kind {
		case stayed:
			p.addStayed(r, sum)
		case turnedNow:
			p.addTurned(r, sum)
		case exactTurn:
			p.addExact(r, sum)
		}
	}
}

// Places of the second derivatives in the packed sum: l lapse, h spontaneous,
// m mu, s ln sigma.
const (
	ll = 5 + iota
	lh
	lm
	ls
	hh
	hm
	hs
	mm
	ms
	ss
)

func (p *detectionPoint) addStayed(r *passRow, sum []float64) {
	z := (r.low - p.mu) * p.inverse
	if z < -10 { // no field worth the name: S(low) = 1
		return
	}
	u := upperDerivatives(z, p.inverse)
	value := addLogs(p.lnLapse, p.lnAttentive+u.value)
	sum[0] += value
	if math.IsInf(value, -1) {
		return
	}
	lapsed, attentive := math.Exp(p.lnLapse-value), math.Exp(p.lnAttentive+u.value-value)
	sum[1+atLapse] += lapsed - p.lapse
	sum[1+atMu] += attentive * u.byMu
	sum[1+atSigma] += attentive * u.byScale
	sum[ll] += lapsed*(1-lapsed) - p.lapse*(1-p.lapse)
	sum[lm] -= lapsed * attentive * u.byMu
	sum[ls] -= lapsed * attentive * u.byScale
	sum[mm] += attentive * (u.byMuMu + lapsed*u.byMu*u.byMu)
	sum[ms] += attentive * (u.byMuScale + lapsed*u.byMu*u.byScale)
	sum[ss] += attentive * (u.byScaleScale + lapsed*u.byScale*u.byScale)
}

func (p *detectionPoint) addTurned(r *passRow, sum []float64) {
	// d: the threshold lies between low and high; u: above high.
	d, u := derivatives{value: math.Inf(-1)}, derivatives{value: math.Inf(-1)}
	if r.high > r.low {
		d = pointLikelihood(logRow{low: r.low, high: r.high}, p.mu, p.lnSigma, p.inverse)
	}
	if !math.IsInf(r.high, 1) {
		u = upperDerivatives((r.high-p.mu)*p.inverse, p.inverse)
	}
	lnQ, r1, r2 := spontaneousTurn(p.h * r.window)
	caused, lapsed, missed := p.lnAttentive+d.value, lnQ+p.lnLapse, lnQ+p.lnAttentive+u.value
	value := addLogs(addLogs(caused, lapsed), missed)
	sum[0] += value
	if math.IsInf(value, -1) {
		return
	}
	a, b, c := math.Exp(caused-value), math.Exp(lapsed-value), math.Exp(missed-value)
	spontaneous := b + c
	byMu, byScale := a*d.byMu+c*u.byMu, a*d.byScale+c*u.byScale
	sum[1+atLapse] += b - p.lapse
	sum[1+atSpontaneous] += spontaneous * r1
	sum[1+atMu] += byMu
	sum[1+atSigma] += byScale
	sum[ll] += b*(1-b) - p.lapse*(1-p.lapse)
	sum[lh] += r1 * a * b
	sum[lm] -= b * byMu
	sum[ls] -= b * byScale
	sum[hh] += spontaneous*r2 + spontaneous*a*r1*r1
	sum[hm] += r1 * (c*u.byMu - spontaneous*byMu)
	sum[hs] += r1 * (c*u.byScale - spontaneous*byScale)
	sum[mm] += a*(d.byMuMu+d.byMu*d.byMu) + c*(u.byMuMu+u.byMu*u.byMu) - byMu*byMu
	sum[ms] += a*(d.byMuScale+d.byMu*d.byScale) + c*(u.byMuScale+u.byMu*u.byScale) - byMu*byScale
	sum[ss] += a*(d.byScaleScale+d.byScale*d.byScale) + c*(u.byScaleScale+u.byScale*u.byScale) - byScale*byScale
}

// addExact is a turn that the field caused, at a threshold known exactly.
func (p *detectionPoint) addExact(r *passRow, sum []float64) {
	f := pointLikelihood(logRow{r.low, r.high, true}, p.mu, p.lnSigma, p.inverse)
	sum[0] += p.lnAttentive + f.value
	sum[1+atLapse] -= p.lapse
	sum[1+atMu] += f.byMu
	sum[1+atSigma] += f.byScale
	sum[ll] -= p.lapse * (1 - p.lapse)
	sum[mm] += f.byMuMu
	sum[ms] += f.byMuScale
	sum[ss] += f.byScaleScale
}

// spontaneousTurn returns ln q, q = 1 − e^(−x), and its first and second
// derivatives with respect to ln x.
func spontaneousTurn(x float64) (lnQ, first, second float64) {
	if x == 0 {
		return math.Inf(-1), 1, 0
	}
	first = x / math.Expm1(x)
	if math.IsInf(x, 1) || first == 0 {
		return 0, 0, 0
	}
	return math.Log(-math.Expm1(-x)), first, first * (1 - x - first)
}

// addLogs returns ln(eᵃ + eᵇ).
func addLogs(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// at evaluates the log-likelihood at x with the derivatives by the free
// parameters.
func (p *detectionProblem) at(x [detectionSize]float64, free []int, gradient []float64, hessian *mat.SymDense) float64 {
	var sum [1 + detectionSize + detectionSize*(detectionSize+1)/2]float64
	sumBlocks(sum[:], len(p.rows), rowsPerBlock, func(from, to int, part []float64) {
		addDetection(p.rows[from:to], x, part)
	})
	return unpack(sum[:], detectionSize, free, gradient, hessian)
}
