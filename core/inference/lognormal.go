package inference

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"brinefield/core/numeric"
)

// LognormalFit is the lognormal distribution of thresholds that makes the
// intervals most likely.
type LognormalFit struct {
	Mu, Sigma     float64 // of the natural logarithm of nV/cm
	LogLikelihood float64 // exact rows add their density of the field (per nV/cm)
	Median        float64 // exp(Mu), nV/cm
	// SEModel is the standard error of Mu if all passes were independent,
	// CovModel the covariance of (Mu, ln Sigma) that goes with it: the inverse of
	// the observed information.
	SEModel  float64
	CovModel *mat.SymDense
	// What the clusters say: CR3 covariance of (Mu, ln Sigma), standard error
	// and interval.
	Sandwich
	Clusters, IdentifiedAnimals int
	Warnings                    []string
}

// Lognormal fits F = lognormal(mu, sigma) to intervals by maximum likelihood:
// Σ ln(F(high) − F(low)), and the density of the field where exact.
//
// The log-likelihood is concave in (1/sigma, mu/sigma), so it has one maximum
// or none; [existence] tells beforehand. Errors: [*NotEstimable]; or an error
// that names an impossible row.
//
// Source: maximum likelihood for censored location and scale; concavity after
// Burridge, J R Stat Soc B 43:41 (1981), from memory. Tests: published
// interval-censored data against an independent fit.
func Lognormal(rows []Interval) (LognormalFit, error) {
	if err := checkIntervals(rows); err != nil {
		return LognormalFit{}, err
	}
	sorted := canonical(rows)
	if err := existence(sorted); err != nil {
		return LognormalFit{}, err
	}
	logs := logRows(sorted)
	top, err := maximiseLognormal(logs)
	if err != nil {
		return LognormalFit{}, err
	}
	fit := LognormalFit{
		Mu: top.X[0], Sigma: math.Exp(top.X[1]), LogLikelihood: top.Value, Median: math.Exp(top.X[0]),
	}
	if err := withinReach(len(sorted), intervalBounds(sorted), fit.Median); err != nil {
		return LognormalFit{}, err
	}
	fit.CovModel, err = inverseInformation(top.Hessian)
	if err != nil {
		return LognormalFit{}, err
	}
	fit.SEModel = math.Sqrt(fit.CovModel.At(0, 0))
	ranges, animals := intervalClusters(sorted)
	scores := make([][]float64, len(ranges))
	informations := make([]*mat.SymDense, len(ranges))
	sum := make([]float64, packedSize(2))
	for c, r := range ranges {
		clear(sum)
		addLognormal(logs[r.from:r.to], top.X[0], top.X[1], sum)
		scores[c], informations[c] = scoreAndInformation(sum, 2, []int{0, 1})
	}
	fit.Clusters, fit.IdentifiedAnimals = len(ranges), animals
	fit.Sandwich = medianInterval(fit.Mu, 0, animals, scores, informations)
	fit.Warnings = append(fit.Warnings, reachWarning(sorted, fit.Median)...)
	if fit.Warning != "" {
		fit.Warnings = append(fit.Warnings, fit.Warning)
	}
	return fit, nil
}

// scoreAndInformation takes a cluster's packed sum apart.
func scoreAndInformation(sum []float64, k int, free []int) ([]float64, *mat.SymDense) {
	score, information := make([]float64, len(free)), mat.NewSymDense(len(free), nil)
	unpack(sum, k, free, score, information)
	information.ScaleSym(-1, information)
	return score, information
}

// farthestReach is how many times the largest field met a median may be before
// it is no estimate any more: there the passes say only that turns hardly rise
// with the field, and the number is the model's alone. The same below the
// smallest field.
const farthestReach = 100

// withinReach refuses a median that lies far outside all fields that were met.
// The bounds of row i are bounds(i).
func withinReach(n int, bounds func(i int) (low, high float64), median float64) error {
	smallest, largest := math.Inf(1), 0.0
	for i := range n {
		low, high := bounds(i)
		for _, x := range [2]float64{low, high} {
			if x > 0 && !math.IsInf(x, 1) {
				smallest, largest = math.Min(smallest, x), math.Max(largest, x)
			}
		}
	}
	switch {
	case median > farthestReach*largest:
		return notEstimable("turns hardly rise with the field: the fitted median lies more than %d times above the largest field that any pass met (%.3g nV/cm), where the passes say nothing", farthestReach, largest)
	case median < smallest/farthestReach:
		return notEstimable("turns hardly rise with the field: the fitted median lies more than %d times below the smallest field that any pass met (%.3g nV/cm), where the passes say nothing", farthestReach, smallest)
	}
	return nil
}

func intervalBounds(rows []Interval) func(int) (float64, float64) {
	return func(i int) (float64, float64) { return rows[i].Low, rows[i].High }
}

// reachWarning says when a median lies above every field that was met: it is
// then the shape of the model that speaks, not the passes.
func reachWarning(rows []Interval, median float64) []string {
	reach := 0.0
	for _, r := range rows {
		reach = math.Max(reach, r.Low)
		if !math.IsInf(r.High, 1) {
			reach = math.Max(reach, r.High)
		}
	}
	if median <= reach {
		return nil
	}
	return []string{fmt.Sprintf("the median lies above the largest field that any pass met (%.3g nV/cm): it rests on the shape of the model", reach)}
}

// logRow is a row on the natural logarithm of nV/cm.
type logRow struct {
	low, high float64 // −Inf and +Inf where open
	exact     bool
}

func logRows(rows []Interval) []logRow {
	logs := make([]logRow, len(rows))
	for i, r := range rows {
		logs[i] = logRow{math.Log(r.Low), math.Log(r.High), r.Exact}
	}
	return logs
}

// addLognormal adds value, score and second derivatives in (mu, ln sigma).
func addLognormal(rows []logRow, mu, lnSigma float64, sum []float64) {
	inverse := math.Exp(-lnSigma)
	for _, r := range rows {
		p := pointLikelihood(r, mu, lnSigma, inverse)
		sum[0] += p.value
		sum[1] += p.byMu
		sum[2] += p.byScale
		sum[3] += p.byMuMu
		sum[4] += p.byMuScale
		sum[5] += p.byScaleScale
	}
}

// derivatives of one row's log-likelihood in mu and ln sigma.
type derivatives struct {
	value, byMu, byScale, byMuMu, byMuScale, byScaleScale float64
}

// pointLikelihood is the log-likelihood of one row, with derivatives from the
// moments of the normal within the interval (see [numeric.NormalBetween]).
func pointLikelihood(r logRow, mu, lnSigma, inverse float64) derivatives {
	a, b := (r.low-mu)*inverse, (r.high-mu)*inverse
	switch {
	case r.exact:
		// The density of the field: that of its logarithm divided by the field.
		return derivatives{
			value: -a*a/2 - lnSqrt2Pi - lnSigma - r.low,
			byMu:  a * inverse, byScale: a*a - 1,
			byMuMu: -inverse * inverse, byMuScale: -2 * a * inverse, byScaleScale: -2 * a * a,
		}
	case math.IsInf(b, 1):
		return upperDerivatives(a, inverse)
	case math.IsInf(a, -1):
		// The lower tail is the upper tail of −Z: mu changes its sign.
		d := upperDerivatives(-b, inverse)
		d.byMu, d.byMuScale = -d.byMu, -d.byMuScale
		return d
	}
	s := numeric.NormalBetween(a, b)
	return derivatives{
		value: s.LogP, byMu: s.M1 * inverse, byScale: s.M2 - 1,
		byMuMu:       (s.M2 - s.M1*s.M1 - 1) * inverse * inverse,
		byMuScale:    (s.M3 - s.M1*s.M2 - 2*s.M1) * inverse,
		byScaleScale: s.M4 - s.M2*s.M2 - 2*s.M2,
	}
}

// upperDerivatives is ln(1 − Φ(z)), z = (x − mu)/sigma, with its derivatives.
func upperDerivatives(z, inverse float64) derivatives {
	// Below −10 the upper tail is 1 to the last digit, and so are all that follow.
	if z < -10 {
		return derivatives{}
	}
	logU, hazard := numeric.UpperTail(z)
	slope := hazard * (hazard - z) // of the hazard
	return derivatives{
		value: logU, byMu: hazard * inverse, byScale: z * hazard,
		byMuMu:       -slope * inverse * inverse,
		byMuScale:    -(hazard + z*slope) * inverse,
		byScaleScale: -z * (hazard + z*slope),
	}
}

const lnSqrt2Pi = 0.9189385332046727417803297364056176398

// maximiseLognormal climbs from a start at the middle of the intervals. The
// one maximum is known to exist, so failing to find it is our fault.
func maximiseLognormal(rows []logRow) (numeric.Maximum, error) {
	mu, lnSigma := lognormalStart(rows)
	sum := make([]float64, packedSize(2))
	objective := func(x, gradient []float64, hessian *mat.SymDense) float64 {
		sumBlocks(sum, len(rows), rowsPerBlock, func(from, to int, part []float64) {
			addLognormal(rows[from:to], x[0], x[1], part)
		})
		return unpack(sum, 2, []int{0, 1}, gradient, hessian)
	}
	top, err := numeric.Maximise(objective, []float64{mu, lnSigma}, numeric.Search{
		Low:  []float64{mu - 200, -30},
		High: []float64{mu + 200, 6},
		Step: []float64{5, 1},
	})
	var off *numeric.RanOff
	switch {
	case errors.As(err, &off) && off.Index == 1 && off.Low:
		return top, notEstimable("the thresholds agree on a single value: their spread runs to 0")
	case errors.As(err, &off):
		return top, notEstimable("the spread of the thresholds has no bound: the median could lie anywhere")
	case err != nil:
		return top, notEstimable("%v", err)
	}
	return top, nil
}

// lognormalStart places mu and ln sigma by the ends that are finite.
func lognormalStart(rows []logRow) (mu, lnSigma float64) {
	var n, sum, squares float64
	for _, r := range rows {
		middle := (r.low + r.high) / 2
		switch {
		case math.IsInf(r.low, -1) && math.IsInf(r.high, 1):
			continue
		case math.IsInf(r.low, -1):
			middle = r.high - 0.5
		case math.IsInf(r.high, 1):
			middle = r.low + 0.5
		}
		n++
		sum += middle
		squares += middle * middle
	}
	mu = sum / n
	return mu, math.Log(math.Sqrt(math.Max(squares/n-mu*mu, 0)) + 0.1)
}
