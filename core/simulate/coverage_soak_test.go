//go:build soak

package simulate

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"testing"

	"brinefield/core/exposure"
	"brinefield/core/inference"
)

// covered is how often the interval of one species held the truth.
type covered struct {
	seasons, estimated, inside, below, above int
	sumError, sumSquares, sumSE              float64 // of mu
}

// TestCoverageOfTheDetectionMedian invents 200 seasons (seeds 1–200), works out
// what every animal met and estimates the detection median of each species: of
// the 95 % intervals, 91–98 % must hold the truth that the seasons were made
// from. With 200 seasons the share itself is good to 1.5 % (one standard
// error).
func TestCoverageOfTheDetectionMedian(t *testing.T) {
	const seasons = 200
	plan := Coverage()
	fits := make([][]fitted, seasons)
	errs := make([]error, seasons)
	var group sync.WaitGroup
	slots := make(chan struct{}, runtime.NumCPU())
	for i := range seasons {
		group.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			fits[i], errs[i] = fitSeason(plan, uint64(i+1))
		})
	}
	group.Wait()
	result := make([]covered, len(plan.Species))
	for i := range seasons {
		if errs[i] != nil {
			t.Fatal(errs[i])
		}
		for k, f := range fits[i] {
			result[k].count(f, math.Log(plan.Species[k].Truth.MedianNVPerCm))
		}
	}
	for k, c := range result {
		share := float64(c.inside) / float64(c.estimated)
		n := float64(c.estimated)
		t.Logf("%s: %d of %d intervals hold the true median %g nV/cm (%.1f %%); %d lie below it, %d above; ln median off by %+.4f on average, sd %.4f, mean robust standard error %.4f",
			plan.Species[k].Truth.Name, c.inside, c.estimated, plan.Species[k].Truth.MedianNVPerCm, 100*share, c.below, c.above,
			c.sumError/n, math.Sqrt(c.sumSquares/n-c.sumError/n*c.sumError/n), c.sumSE/n)
		if c.estimated < seasons*98/100 {
			t.Errorf("only %d of %d seasons were estimable", c.estimated, seasons)
		}
		if share < 0.91 || share > 0.98 {
			t.Errorf("%s: coverage %.1f %%, want 91–98 %%", plan.Species[k].Truth.Name, 100*share)
		}
	}
}

type fitted struct {
	ok         bool
	mu, se     float64
	low, high  float64 // ln
	notBecause string
}

func (c *covered) count(f fitted, truth float64) {
	c.seasons++
	if !f.ok {
		return
	}
	c.estimated++
	c.sumError += f.mu - truth
	c.sumSquares += (f.mu - truth) * (f.mu - truth)
	c.sumSE += f.se
	switch {
	case f.high < truth:
		c.below++
	case f.low > truth:
		c.above++
	default:
		c.inside++
	}
}

// fitSeason is one season from its seed to one estimate a species.
func fitSeason(plan Plan, seed uint64) ([]fitted, error) {
	s, _, err := Season(plan, seed)
	if err != nil {
		return nil, err
	}
	fields, err := exposure.NewFields(s, Water(s), exposure.FieldOptions{})
	if err != nil {
		return nil, err
	}
	all, _, err := exposure.Compute(s, fields, exposure.Options{})
	if err != nil {
		return nil, err
	}
	var out []fitted
	for k := range s.Species {
		fit, err := inference.Detection(detectionRows(s, all, k))
		switch {
		case err != nil:
			out = append(out, fitted{notBecause: err.Error()})
		case fit.CIErr != nil:
			out = append(out, fitted{notBecause: fmt.Sprint(fit.CIErr)})
		default:
			out = append(out, fitted{ok: true, mu: fit.Mu, se: fit.SEMu, low: math.Log(fit.CI.Low), high: math.Log(fit.CI.High)})
		}
	}
	return out, nil
}
