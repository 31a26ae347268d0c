package inference

import (
	"math/rand/v2"
	"runtime"
	"testing"
)

// Sums and fits have the same bits on one core and on many.
func TestAnyNumberOfCores(t *testing.T) {
	rows := inventPasses(plainTruth, 4300, 50, 4)
	intervals := inventIntervals(inventPasses(plainTruth, 500, 50, 6))
	type result struct {
		detection, lognormal, individual, sum float64
		ci                                    Span
	}
	fit := func(cores int) (r result) {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
		d, errD := Detection(rows)
		l, errL := Lognormal(intervals)
		i, errI := LognormalIndividual(intervals)
		if errD != nil || errL != nil || errI != nil {
			t.Fatal(errD, errL, errI)
		}
		random := rand.New(rand.NewPCG(1, 1))
		x := make([]float64, 10*rowsPerBlock+17)
		for k := range x {
			x[k] = random.NormFloat64()
		}
		var sum [1]float64
		sumBlocks(sum[:], len(x), rowsPerBlock, func(from, to int, part []float64) {
			for _, v := range x[from:to] {
				part[0] += v
			}
		})
		return result{d.LogLikelihood, l.Mu, i.SigmaIndividual, sum[0], d.CI}
	}
	one := fit(1)
	for _, cores := range []int{2, 7} {
		if many := fit(cores); many != one {
			t.Errorf("%d cores: %+v, one core: %+v", cores, many, one)
		}
	}
}
