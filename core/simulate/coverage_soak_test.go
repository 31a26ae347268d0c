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
// from. The share of 200 seasons is itself good to 1.5 % (one standard error);
// the harder seasons below it are allowed three of them.
func TestCoverageOfTheDetectionMedian(t *testing.T) {
	for _, c := range []struct {
		name        string
		change      func(*Plan)
		least, most float64
	}{
		{"exact positions", func(*Plan) {}, 0.91, 0.98},
		{"eight animals a species", func(p *Plan) {
			for i := range p.Species {
				p.Species[i].Animals = 8
			}
		}, 0.905, 0.995},
		{"fixes good to 0.5 cm, smoothed", func(p *Plan) { p.FixSDM = 0.005 }, 0.905, 0.995},
	} {
		t.Run(c.name, func(t *testing.T) {
			plan := Coverage()
			c.change(&plan)
			for k, got := range coverageOf(t, plan, 200) {
				sp := &plan.Species[k].Truth
				n := float64(got.estimated)
				share, bias := float64(got.inside)/n, got.sumError/n
				t.Logf("%s: %d of %d intervals hold the true median %g nV/cm (%.1f %%); %d lie below it, %d above; ln median off by %+.4f on average, sd %.4f, mean robust standard error %.4f",
					sp.Name, got.inside, got.estimated, sp.MedianNVPerCm, 100*share, got.below, got.above, bias, math.Sqrt(got.sumSquares/n-bias*bias), got.sumSE/n)
				if got.estimated < got.seasons*98/100 {
					t.Errorf("only %d of %d seasons were estimable", got.estimated, got.seasons)
				}
				if share < c.least || share > c.most {
					t.Errorf("%s: coverage %.1f %%, want %.1f–%.1f %%", sp.Name, 100*share, 100*c.least, 100*c.most)
				}
			}
		})
	}
}

// coverageOf fits seasons of a plan, seeds from 1, and counts by species.
func coverageOf(t *testing.T, plan Plan, seasons int) []covered {
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
	return result
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
