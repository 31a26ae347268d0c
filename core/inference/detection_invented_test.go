package inference

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// inventedTruth is what invented passes are drawn from.
type inventedTruth struct {
	mu, sigma, lapse, perS float64
	// Share of passes at an active pair, the others meet next to no field.
	active float64
	// Share of the turns whose onset is not known.
	noOnset float64
	step    float64 // s between fixes
}

var plainTruth = inventedTruth{mu: 3, sigma: 0.5, lapse: 0.12, perS: 0.03, active: 0.4, noOnset: 0.05, step: 0.1}

// inventPasses draws n passes by animals animals: a field that rises and falls
// like a passing dipole's, a threshold, a time of a spontaneous turn; the turn
// is at the first of both, seen between two fixes.
func inventPasses(truth inventedTruth, n, animals int, seed uint64) []DetectionRow {
	random := rand.New(rand.NewPCG(seed, 77))
	rows := make([]DetectionRow, n)
	for i := range rows {
		r := DetectionRow{Cluster: fmt.Sprintf("animal %03d", random.IntN(animals)), Identified: true}
		peak := math.Exp(random.NormFloat64()*1.2 + 3.2)
		if random.Float64() > truth.active {
			peak /= 300
		}
		duration := 1.5 + 2*random.Float64()
		field := func(t float64) float64 {
			u := (t - duration/2) / 0.5
			return peak / math.Pow(1+u*u, 1.5)
		}
		threshold := math.Exp(truth.mu + truth.sigma*random.NormFloat64())
		if random.Float64() < truth.lapse {
			threshold = math.Inf(1)
		}
		spontaneous := random.ExpFloat64() / truth.perS
		r.WatchedS = duration
		r.Low, r.High = 0, math.Inf(1)
		largest := field(0)
		r.Low = largest
		fixes := int(duration / truth.step)
		for k := 1; k <= fixes; k++ {
			t0, t1 := float64(k-1)*truth.step, float64(k)*truth.step
			met := math.Max(field(t0), field(t1))
			if t0 < duration/2 && duration/2 < t1 {
				met = peak
			}
			if spontaneous <= t1 || met >= threshold {
				r.Turned, r.Onset, r.OnsetBeforeS, r.OnsetS = true, true, t0, t1
				r.Low, r.High, r.WatchedS = largest, met, t1
				break
			}
			largest = math.Max(largest, met)
			r.Low = largest
		}
		if !r.Turned {
			r.WatchedS = float64(fixes) * truth.step
		} else if random.Float64() < truth.noOnset {
			r.Onset, r.High, r.Low = false, math.Max(r.Low, r.High), 0
		}
		rows[i] = r
	}
	return rows
}

// inventIntervals are the threshold rows of the same passes.
func inventIntervals(rows []DetectionRow) []Interval {
	var out []Interval
	for _, r := range rows {
		i := Interval{Cluster: r.Cluster, Identified: r.Identified, Low: r.Low, High: math.Inf(1)}
		if r.Turned && r.High > r.Low {
			i.High = r.High
		}
		out = append(out, i)
	}
	return out
}
