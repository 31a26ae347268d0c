package app

import (
	"fmt"
	"math"
	"slices"

	"brinefield/core/inference"
)

// detections are the headline estimates, one per species, from all its passes.
func detections(records []record) []Detection {
	names := speciesNames(records)
	out := make([]Detection, len(names))
	inParallel(len(names), func(i int) {
		out[i] = detection(names[i], pick(records, ofSpecies(names[i])))
	})
	return out
}

func detection(name string, rows []record) Detection {
	d := Detection{Species: name, Boundary: []string{}}
	timed := pick(rows, func(r *record) bool { return r.watched.Known })
	d.Passes = len(timed)
	d.Individuals, d.PassesUnidentified = countAnimals(timed)
	if len(timed) == 0 {
		d.NotEstimable = "no pass says how long it was watched (watched_s, or a track): without time the turns that no field caused cannot be told from the others"
		return d
	}
	fit, err := inference.Detection(detectionRows(timed))
	if err != nil {
		d.NotEstimable = reasonOf(err)
		return d
	}
	d.Mu, d.Sigma, d.Lapse = finite(fit.Mu), finite(fit.Sigma), finite(fit.Lapse)
	d.SpontaneousPerS, d.LogLikelihood = finite(fit.SpontaneousPerS), finite(fit.LogLikelihood)
	d.Median, d.SEMu, d.CI95 = finite(fit.Median), positive(fit.SEMu), interval(fit.CI, fit.CIErr)
	d.Boundary = append(d.Boundary, fit.Boundary...)
	d.Made = Made{Method: "detection", Assumptions: assumptionsDetection, Warnings: fit.Warnings}
	d.Covariance, d.bandFactor = bandOf(&fit)
	if left := len(rows) - len(timed); left > 0 {
		d.Warnings = append(d.Warnings, fmt.Sprintf("%s left out: it is not recorded how long they were watched", passes(left)))
	}
	return d
}

func detectionRows(rows []record) []inference.DetectionRow {
	out := make([]inference.DetectionRow, len(rows))
	for i := range rows {
		r := &rows[i]
		out[i] = inference.DetectionRow{
			Cluster: r.cluster, Identified: r.identified(), Low: r.low, High: r.high, Exact: r.exact,
			Turned: r.turned, Onset: r.onset, OnsetBeforeS: r.t0, OnsetS: r.t1, WatchedS: r.watched.Value,
		}
	}
	return out
}

// bandOf is the covariance of mu and ln sigma and the quantile of t that make
// the band of the curve; nil where the interval cannot be estimated.
func bandOf(fit *inference.DetectionFit) (*[2][2]float64, float64) {
	mu, sigma := slices.Index(fit.Parameters, "mu"), slices.Index(fit.Parameters, "ln_sigma")
	if fit.CIErr != nil || fit.Cov == nil || mu < 0 || sigma < 0 || !(fit.SEMu > 0) {
		return nil, 0
	}
	at := func(i, j int) float64 { return fit.Cov.At(i, j) }
	cov := [2][2]float64{{at(mu, mu), at(mu, sigma)}, {at(sigma, mu), at(sigma, sigma)}}
	return &cov, (math.Log(fit.CI.High) - fit.Mu) / fit.SEMu
}

func passes(n int) string {
	if n == 1 {
		return "1 pass was"
	}
	return fmt.Sprintf("%d passes were", n)
}
