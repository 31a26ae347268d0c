package inference

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// DetectionFit is the detection model that makes all passes most likely.
type DetectionFit struct {
	Mu, Sigma       float64 // of the natural logarithm of nV/cm
	Lapse           float64 // share of passes in which no field is answered
	SpontaneousPerS float64 // turns per second that no field caused
	LogLikelihood   float64
	// WithoutField is the largest log-likelihood if no field is ever answered.
	WithoutField float64
	Median       float64 // exp(Mu), nV/cm
	// Boundary names the parameters at the edge of their range: "lapse" and
	// "spontaneous_per_s" at 0, "sigma" at 0. With sigma at 0 the data agree on
	// one threshold; it lies anywhere in MedianSpan, Median is its middle.
	Boundary   []string
	MedianSpan Span
	// Parameters names the rows of both covariances: those of logit_lapse,
	// ln_spontaneous_per_s, mu, ln_sigma that are not on a boundary. CovModel and
	// SEModel (of Mu) hold if all passes were independent.
	Parameters                  []string
	CovModel                    *mat.SymDense
	SEModel                     float64
	Sandwich                    // from the clusters: covariance, standard error of Mu, interval
	Clusters, IdentifiedAnimals int
	Passes                      int // that the fit used
	Warnings                    []string
}

// Detection fits the detection model to all passes of a species, in silent
// trials too, by maximum likelihood. The chance that a field of up to x is not
// answered is S(x) = lapse + (1 − lapse)(1 − F(x)), F lognormal(mu, sigma), and
// h turns a second happen spontaneously. A pass adds the logarithm of
//
//	e^(−h·W)·S(low)                                    no turn while watched for W
//	e^(−h·t0)·S(low) − e^(−h·t1)·S(max(low, high))     onset in (t0, t1]
//	1 − e^(−h·W)·S(high)                               turned, onset unknown
//	e^(−h·t1)·(1 − lapse)·f(high)                      threshold known exactly (f: density of the field)
//
// The likelihood can have several maxima: it is climbed from several starts,
// which the data choose, and the highest is taken. lapse and h may be 0; they
// are then fixed there and named in Boundary.
//
// Errors: [*NotEstimable], with the reason in words; or an error that names an
// impossible row.
//
// Source: worked out for this project (docs/inference). Tests: derivatives
// against differences, estimates against an independent fit in R, the formulas
// above written out again, and simulated tables with a known truth.
func Detection(rows []DetectionRow) (DetectionFit, error) {
	if err := checkDetection(rows); err != nil {
		return DetectionFit{}, err
	}
	p := newDetectionProblem(rows)
	if err := p.existence(); err != nil {
		return DetectionFit{}, err
	}
	peak, err := p.search()
	if err != nil {
		return DetectionFit{}, err
	}
	fit := DetectionFit{
		Mu: peak.x[atMu], Sigma: math.Exp(peak.x[atSigma]), SpontaneousPerS: math.Exp(peak.x[atSpontaneous]),
		Lapse: newDetectionPoint(peak.x).lapse, LogLikelihood: peak.value, WithoutField: p.withoutField(),
		Median: math.Exp(peak.x[atMu]), Clusters: len(p.clusters), IdentifiedAnimals: p.animals, Passes: len(p.rows),
	}
	bounds := func(i int) (float64, float64) { return rows[i].Low, rows[i].High }
	if err := withinReach(len(rows), bounds, fit.Median); err != nil {
		return DetectionFit{}, err
	}
	fit.MedianSpan = Span{fit.Median, fit.Median}
	fit.Boundary = boundaryNames(peak)
	p.uncertainty(&fit, peak)
	fit.Warnings = append(fit.Warnings, p.warnings(&fit)...)
	return fit, nil
}

func boundaryNames(peak detectionPeak) []string {
	var names []string
	if math.IsInf(peak.x[atLapse], -1) {
		names = append(names, "lapse")
	}
	if math.IsInf(peak.x[atSpontaneous], -1) {
		names = append(names, "spontaneous_per_s")
	}
	if peak.step {
		names = append(names, "sigma")
	}
	return names
}

// uncertainty fills covariances and interval from the free parameters.
func (p *detectionProblem) uncertainty(fit *DetectionFit, peak detectionPeak) {
	if peak.step {
		fit.Sigma, fit.MedianSpan = 0, peak.cell
		fit.CIErr = notEstimable("the spread is 0: the passes only say that the threshold lies between %s and %s nV/cm",
			numberText(peak.cell.Low), numberText(peak.cell.High))
		return
	}
	muIndex := len(peak.free) - 2
	for _, i := range peak.free {
		fit.Parameters = append(fit.Parameters, detectionNames[i])
	}
	model, err := inverseInformation(peak.top.Hessian)
	if err != nil {
		fit.CIErr = err
		return
	}
	fit.CovModel, fit.SEModel = model, math.Sqrt(model.At(muIndex, muIndex))
	scores := make([][]float64, len(p.clusters))
	informations := make([]*mat.SymDense, len(p.clusters))
	sum := make([]float64, packedSize(detectionSize))
	for c, r := range p.clusters {
		clear(sum)
		addDetection(p.rows[r.from:r.to], peak.x, sum)
		scores[c], informations[c] = scoreAndInformation(sum, detectionSize, peak.free)
	}
	fit.Sandwich = medianInterval(fit.Mu, muIndex, p.animals, scores, informations)
}

func (p *detectionProblem) warnings(fit *DetectionFit) []string {
	var w []string
	if p.left > 0 {
		w = append(w, fmt.Sprintf("turns left out because they began at the first moment in no rising field, where the model allows none: %d", p.left))
	}
	if fit.Sigma == 0 {
		w = append(w, fmt.Sprintf("the passes agree on one threshold between %s and %s nV/cm; the median given is the middle of that",
			numberText(fit.MedianSpan.Low), numberText(fit.MedianSpan.High)))
	}
	// Twice the difference would be about χ² with three degrees of freedom.
	if gain := fit.LogLikelihood - fit.WithoutField; gain < 3.9 {
		w = append(w, fmt.Sprintf("the field explains the turns hardly better than spontaneous turns alone do (log-likelihood better by %.2g)", gain))
	}
	if math.Log(fit.Median) > p.highest {
		w = append(w, fmt.Sprintf("the median lies above the largest field that any pass met (%s nV/cm): it rests on the shape of the model", numberText(math.Exp(p.highest))))
	}
	if fit.Warning != "" {
		w = append(w, fit.Warning)
	}
	return w
}
