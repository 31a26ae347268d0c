package numeric

import "math"

const (
	lnSqrt2Pi  = 0.9189385332046727417803297364056176398 // ln √(2π)
	invSqrt2Pi = 0.3989422804014326779399460599343818685 // 1/√(2π)

	// From here outwards the asymptotic series of Mills' ratio gives every
	// digit, while φ and erfc each lose about z²/2 rounding errors.
	farTail = 12
)

// LogPhi returns ln Φ(z), Φ the standard normal distribution function. It
// keeps full relative accuracy in both tails: where Φ underflows the value is
// still finite. LogPhi(−∞) is −∞; NaN gives NaN.
//
// Source: erfc, and beyond z = −12 the asymptotic series of Mills' ratio
// (Abramowitz and Stegun, chapter 26, from memory). Tests: tabled values,
// agreement of both branches where they meet.
func LogPhi(z float64) float64 {
	logU, _ := UpperTail(-z)
	return logU
}

// UpperTail returns ln(1 − Φ(z)) and the hazard φ(z)/(1 − Φ(z)), which is the
// derivative of the former with the sign turned. At +∞ they are −∞ and +∞, at
// −∞ both are 0.
func UpperTail(z float64) (logU, hazard float64) {
	if z >= farTail {
		if math.IsInf(z, 1) {
			return math.Inf(-1), math.Inf(1)
		}
		series := millsSeries(z)
		return -z*z/2 - lnSqrt2Pi - math.Log(z/series), z / series
	}
	// One erfc of |z|: the smaller tail, so that nothing cancels.
	tail := 0.5 * math.Erfc(math.Abs(z)/math.Sqrt2)
	density := invSqrt2Pi * math.Exp(-z*z/2)
	if z > 0 {
		return math.Log(tail), density / tail
	}
	return math.Log1p(-tail), density / (1 - tail)
}

// millsSeries returns z(1 − Φ(z))/φ(z) for z ≥ 12, by the asymptotic series
// 1 − 1/z² + 3/z⁴ − 15/z⁶ + …, cut where its terms no longer count.
func millsSeries(z float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1; k < 40; k++ {
		term *= -float64(2*k-1) / (z * z)
		sum += term
		if math.Abs(term) < 1e-18 {
			break
		}
	}
	return sum
}

// LogPhiDiff returns ln(Φ(b) − Φ(a)), −∞ unless a < b. Either end may be
// infinite. No digits are lost for narrow intervals or in the tails.
func LogPhiDiff(a, b float64) float64 { return NormalBetween(a, b).LogP }

// Slice describes a standard normal variable Z known to lie in (a, b].
type Slice struct {
	LogP           float64 // ln of the probability of the interval
	M1, M2, M3, M4 float64 // E[Zᵏ | a < Z ≤ b]
}

// NormalBetween returns the probability of (a, b] under the standard normal
// and the first four moments within it; a may be −∞ and b +∞. Unless a < b the
// probability is 0 (LogP −∞) and the moments are those of the point a.
//
// The moments are what a maximum-likelihood fit to interval-censored data
// needs: the score of a censored row is the expectation of the complete
// score, its information the expected complete information less the variance
// of that score (Fisher's and Louis's identities).
//
// Wide intervals use m_k = (k−1)m_{k−2} + (a^{k−1}φ(a) − b^{k−1}φ(b))/P, narrow
// ones, where that difference would cancel, Gauss–Legendre quadrature of φ.
// Tests: against quadrature over the whole plane of ends.
func NormalBetween(a, b float64) Slice {
	if !(a < b) {
		return Slice{math.Inf(-1), a, a * a, a * a * a, a * a * a * a}
	}
	if a > 0 || (a+b > 0 && !math.IsInf(a, -1) && !math.IsInf(b, 1)) {
		s := between(-b, -a)
		s.M1, s.M3 = -s.M1, -s.M3
		return s
	}
	return between(a, b)
}

// between is NormalBetween for an interval whose middle is not positive.
func between(a, b float64) Slice {
	half, middle := (b-a)/2, (a+b)/2
	if half <= 0.25 && math.Abs(middle)*half <= 0.5 {
		return betweenNarrow(middle, half)
	}
	var logP float64
	switch {
	case math.IsInf(a, -1):
		logP = LogPhi(b)
	case b <= 0:
		upper := LogPhi(b)
		logP = upper + math.Log1p(-math.Exp(LogPhi(a)-upper))
	default:
		logP = math.Log1p(-0.5*math.Erfc(-a/math.Sqrt2) - 0.5*math.Erfc(b/math.Sqrt2))
	}
	s := Slice{LogP: logP, M2: 1}
	if !math.IsInf(a, -1) {
		p := math.Exp(-a*a/2 - lnSqrt2Pi - logP)
		s.M1, s.M2, s.M3, s.M4 = p, 1+a*p, a*a*p, a*a*a*p
	}
	if !math.IsInf(b, 1) {
		p := math.Exp(-b*b/2 - lnSqrt2Pi - logP)
		s.M1, s.M2, s.M3, s.M4 = s.M1-p, s.M2-b*p, s.M3-b*b*p, s.M4-b*b*b*p
	}
	s.M3 += 2 * s.M1
	s.M4 += 3 * s.M2
	return s
}

// Six-point Gauss–Legendre rule on [−1, 1], positive half.
var (
	legendreNode   = [3]float64{0.23861918608319690863, 0.66120938646626451366, 0.93246951420315202781}
	legendreWeight = [3]float64{0.46791393457269104739, 0.36076157304813860757, 0.17132449237917034504}
)

// betweenNarrow integrates φ over middle ± half. There φ(c+t)/φ(c) =
// exp(−ct − t²/2) is so smooth that six points leave 1e-15 of the probability
// and 1e-12 of the mean square within the interval.
func betweenNarrow(c, half float64) Slice {
	var sum, t1, t2, t3, t4 float64
	for i, x := range legendreNode {
		for _, t := range [2]float64{-x * half, x * half} {
			w := legendreWeight[i] * math.Exp(-t*(c+t/2))
			sum += w
			t1 += w * t
			t2 += w * t * t
			t3 += w * t * t * t
			t4 += w * t * t * t * t
		}
	}
	t1, t2, t3, t4 = t1/sum, t2/sum, t3/sum, t4/sum
	c2 := c * c
	return Slice{
		LogP: math.Log(half*sum) - c2/2 - lnSqrt2Pi,
		M1:   c + t1,
		M2:   c2 + 2*c*t1 + t2,
		M3:   c2*c + 3*c2*t1 + 3*c*t2 + t3,
		M4:   c2*c2 + 4*c2*c*t1 + 6*c2*t2 + 4*c*t3 + t4,
	}
}
