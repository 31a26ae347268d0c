package app

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"brinefield/core/numeric"
	"brinefield/core/study"
)

const (
	// positionDraws is how many seasons are simulated. The standard deviation of
	// so many is itself good to 1/√(2·23), 15 %.
	positionDraws = 24
	// fewestDraws is how many of them must have an estimate.
	fewestDraws = 16
	// shiftTries is how often an error is drawn again that would put a track
	// through a wall; then the pass stays where it is.
	shiftTries = 50
)

// moved are the estimates of seasons in which every pass lies elsewhere by a
// normal error of a standard deviation in metres: the mean of their logarithm
// less and plus its standard deviation.
func (a *Analysis) moved(ctx context.Context, seed uint64, sd float64) ([]speciesSpans, error) {
	var draws [][]medianSet
	for n := range positionDraws {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		r := numeric.Stream(seed, fmt.Sprintf("uncertainty of positions, season %d", n))
		sets, err := a.medians(ctx, elsewhere(a.Study, r, sd), a.Fields)
		if err != nil {
			return nil, err
		}
		draws = append(draws, sets)
	}
	out := make([]speciesSpans, len(draws[0]))
	for i := range out {
		for k := range out[i] {
			out[i][k] = spread(draws, i, k)
		}
	}
	return out, nil
}

func spread(draws [][]medianSet, species, k int) Span {
	var values []float64
	why := ""
	for _, sets := range draws {
		if w := sets[species].why[k]; w != "" {
			why = w
			continue
		}
		values = append(values, sets[species].ln[k])
	}
	if len(values) < fewestDraws {
		return Span{NotEstimable: why}
	}
	mean, square := 0.0, 0.0
	for _, v := range values {
		mean += v / float64(len(values))
	}
	for _, v := range values {
		square += (v - mean) * (v - mean)
	}
	sd := math.Sqrt(square / float64(len(values)-1))
	return Span{Low: math.Exp(mean - sd), High: math.Exp(mean + sd)}
}

// elsewhere is the study with every pass moved, horizontally, by an error of its
// own; a pass without a track nearer to its pair or farther off. A track stays
// within the walls of a tank. Every pass takes its numbers from the stream in
// turn, so that the order of the tracks does not count.
func elsewhere(s *study.Study, r *rand.Rand, sd float64) *study.Study {
	out := *s
	out.Passes = slices.Clone(s.Passes)
	tracks := make([]*study.Track, len(s.Passes))
	for i := range s.Tracks {
		tracks[s.Tracks[i].Pass] = &s.Tracks[i]
	}
	dx, dy := make([]float64, len(s.Passes)), make([]float64, len(s.Passes))
	for i := range s.Passes {
		own := rand.New(rand.NewPCG(r.Uint64(), r.Uint64()))
		for range shiftTries {
			x, y := sd*own.NormFloat64(), sd*own.NormFloat64()
			if tracks[i] == nil || s.Enclosure == nil || staysInside(s.Enclosure, tracks[i], x, y) {
				dx[i], dy[i] = x, y
				break
			}
		}
		if tracks[i] == nil {
			p := &out.Passes[i]
			p.Onset.DistanceM, p.Closest.DistanceM = lengthened(p.Onset.DistanceM, dx[i]), lengthened(p.Closest.DistanceM, dx[i])
		}
	}
	out.Tracks = withFixes(s, func(pass int, f *study.Fix) { f.XM, f.YM = f.XM+dx[pass], f.YM+dy[pass] })
	return &out
}

// lengthened is a distance changed by an error, and not by one that would leave
// less than a fifth of it: so near, the distance would not have been written so.
func lengthened(d study.Opt[float64], by float64) study.Opt[float64] {
	if d.Known {
		d.Value = math.Max(d.Value+by, d.Value/5)
	}
	return d
}

// staysInside reports whether a moved track is within the walls where the
// recorded one was.
func staysInside(e *study.Enclosure, t *study.Track, dx, dy float64) bool {
	for i := range t.Points {
		for k := range t.Points[i].Fixes {
			f := &t.Points[i].Fixes[k]
			if insideWalls(e, f.XM, f.YM) && !insideWalls(e, f.XM+dx, f.YM+dy) {
				return false
			}
		}
	}
	return true
}

func insideWalls(e *study.Enclosure, x, y float64) bool {
	dx, dy := x-e.CentreXM, y-e.CentreYM
	if e.DiameterM.Known {
		return math.Hypot(dx, dy) <= e.DiameterM.Value/2
	}
	return math.Abs(dx) <= e.SizeXM/2 && math.Abs(dy) <= e.SizeYM/2
}
