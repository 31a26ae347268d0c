package inference

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// fewestAnimals is the number of identified animals below which an interval
// from the spread between clusters means nothing.
const fewestAnimals = 5

// Below this reciprocal condition a matrix counts as singular.
const singular = 1e-11

// sandwich is the covariance of k maximum-likelihood estimates from the spread
// of the scores between m clusters, each score corrected for its own pull on
// the estimate (CR3, an approximation to leaving one cluster out at a time):
//
//	V = (m−1)/m · H⁻¹ [Σ s̃ s̃ᵀ] H⁻¹,  s̃_c = (I − H_c H⁻¹)⁻¹ s_c
//
// scores holds s_c and informations H_c (minus the second derivatives) of each
// cluster at the maximum; H = Σ H_c. Where a cluster holds everything that is
// known about some parameter its matrix cannot be inverted: not estimable.
// Clusters without which the remaining information is not positive definite
// are counted in fragile: the interval then leans on single animals.
//
// Source: Bell and McCaffrey, Survey Methodology 28:169 (2002), for the linear
// model, carried to scores; from memory. Test: refits without each cluster.
func sandwich(scores [][]float64, informations []*mat.SymDense) (v *mat.SymDense, fragile int, err error) {
	m, k := len(scores), len(scores[0])
	if m < 2 {
		return nil, 0, notEstimable("one cluster alone shows nothing of the spread between clusters")
	}
	h := mat.NewSymDense(k, nil)
	for _, hc := range informations {
		h.AddSym(h, hc)
	}
	// Parameters of very different size would look singular: each is taken in
	// units of its own standard error (the others known).
	unit, ok := unitErrors(h)
	if !ok {
		return nil, 0, errNotToldApart
	}
	h = rescale(h, unit)
	var chol mat.Cholesky
	var inverse mat.SymDense
	if !chol.Factorize(h) || chol.Cond() > 1/singular || chol.InverseTo(&inverse) != nil {
		return nil, 0, errNotToldApart
	}
	meat := mat.NewSymDense(k, nil)
	var without mat.SymDense
	var left mat.Dense
	var lu mat.LU
	score, adjusted := mat.NewVecDense(k, nil), mat.NewVecDense(k, nil)
	for c, s := range scores {
		for i := range k {
			score.SetVec(i, s[i]*unit[i])
		}
		without.ScaleSym(-1, rescale(informations[c], unit))
		without.AddSym(h, &without)
		left.Mul(&without, &inverse) // I − H_c H⁻¹
		lu.Factorize(&left)
		if !(lu.Cond() < 1/singular) || lu.SolveVecTo(adjusted, false, score) != nil {
			return nil, 0, notEstimable("one cluster (%d of %d) holds all that is known about a parameter", c+1, m)
		}
		if !chol.Factorize(&without) {
			fragile++
		}
		meat.SymRankOne(meat, 1, adjusted)
	}
	var half mat.Dense
	half.Mul(&inverse, meat)
	half.Mul(&half, &inverse)
	v = mat.NewSymDense(k, nil)
	for i := range k {
		for j := i; j < k; j++ {
			v.SetSym(i, j, float64(m-1)/float64(m)*(half.At(i, j)+half.At(j, i))/2)
		}
	}
	return rescale(v, unit), fragile, nil
}

var errNotToldApart = notEstimable("what the passes say about the parameters does not tell them apart")

// unitErrors returns 1/√ of the diagonal of an information matrix.
func unitErrors(information mat.Symmetric) (unit []float64, ok bool) {
	unit = make([]float64, information.SymmetricDim())
	for i := range unit {
		d := information.At(i, i)
		if !(d > 0) || math.IsInf(d, 1) {
			return nil, false
		}
		unit[i] = 1 / math.Sqrt(d)
	}
	return unit, true
}

// rescale returns the matrix with entries a_ij·unit_i·unit_j.
func rescale(a mat.Symmetric, unit []float64) *mat.SymDense {
	scaled := mat.NewSymDense(len(unit), nil)
	for i := range unit {
		for j := i; j < len(unit); j++ {
			scaled.SetSym(i, j, a.At(i, j)*unit[i]*unit[j])
		}
	}
	return scaled
}

// inverseInformation returns (−H)⁻¹, the covariance of independent passes.
func inverseInformation(hessian *mat.SymDense) (*mat.SymDense, error) {
	information := mat.NewSymDense(hessian.SymmetricDim(), nil)
	information.ScaleSym(-1, hessian)
	unit, ok := unitErrors(information)
	if !ok {
		return nil, errNotToldApart
	}
	var chol mat.Cholesky
	var inverse mat.SymDense
	if !chol.Factorize(rescale(information, unit)) || chol.Cond() > 1/singular || chol.InverseTo(&inverse) != nil {
		return nil, errNotToldApart
	}
	return rescale(&inverse, unit), nil
}

// Sandwich is the uncertainty of a fit from its clusters.
type Sandwich struct {
	Cov     *mat.SymDense // CR3; nil where CIErr is not
	SEMu    float64       // √ of its entry of mu; 0 where CIErr is not nil
	CI      Span          // of the median, nV/cm, 95 %
	CIErr   error         // a [*NotEstimable] where there is no interval
	Warning string        // what weakens the interval, or ""
}

// medianInterval turns scores and informations of the clusters into the
// interval of exp(mu), mu being parameter muIndex: t with m − 1 degrees of
// freedom on the log scale.
func medianInterval(mu float64, muIndex, animals int, scores [][]float64, informations []*mat.SymDense) Sandwich {
	if animals < fewestAnimals {
		return Sandwich{CIErr: notEstimable("%d identified animals; an interval needs at least %d", animals, fewestAnimals)}
	}
	v, fragile, err := sandwich(scores, informations)
	if err != nil {
		return Sandwich{CIErr: err}
	}
	s := Sandwich{Cov: v, SEMu: math.Sqrt(v.At(muIndex, muIndex))}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(len(scores) - 1)}.Quantile(0.975)
	s.CI = Span{math.Exp(mu - t*s.SEMu), math.Exp(mu + t*s.SEMu)}
	if !(s.CI.High < math.Inf(1)) || !(s.CI.Low > 0) {
		return Sandwich{CIErr: notEstimable("the interval of the median is wider than numbers can hold")}
	}
	if fragile > 0 {
		s.Warning = fmt.Sprintf("without %s the model could not be estimated: the interval leans on single animals", plural(fragile, "of the clusters"))
	}
	return s
}

func plural(n int, of string) string {
	if n == 1 {
		return "one " + of
	}
	return fmt.Sprintf("some %s (each of %d)", of, n)
}
