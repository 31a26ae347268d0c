package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"brinefield/core/numeric"
	"brinefield/core/study"
)

// visit is an animal that comes by once or several times within a trial.
type visit struct {
	animal     int // index into Truth.Animals
	identified bool
	trial      int
	start      time.Time
	size       int
	passes     []swum
}

// swum is one pass with what really happened and what was written down.
type swum struct {
	truth PassTruth
	pass  study.Pass
	fixes []study.Fix
}

// drawVisits shares the passes out: who comes, when, and how often in a row.
func (b *builder) drawVisits(rng *rand.Rand) {
	p := b.plan
	for left := p.Passes; left > 0; {
		species := rng.IntN(len(p.Species))
		v := visit{trial: rng.IntN(p.Trials), size: 1}
		for v.size < 5 && rng.Float64() < 0.45 {
			v.size++
		}
		v.size = min(v.size, left)
		left -= v.size
		cumulative := b.weights[species]
		u := rng.Float64() * cumulative[len(cumulative)-1]
		k, _ := slices.BinarySearch(cumulative, u)
		v.animal = b.animals[species][min(k, len(cumulative)-1)]
		v.identified = rng.Float64() >= p.Species[species].UnidentifiedShare
		latest := p.TrialLength - 8*time.Minute
		v.start = b.s.Trials[v.trial].Start.Add(time.Duration(rng.Int64N(int64(latest/time.Second)+1)) * time.Second)
		b.visits = append(b.visits, v)
	}
}

// swimVisits lets every visit happen, each from a random stream of its own.
func (b *builder) swimVisits() {
	for i := range b.visits {
		v := &b.visits[i]
		rng := numeric.Stream(b.seed, fmt.Sprintf("simulate visit %d", i))
		at := v.start
		for range v.size {
			s := b.swim(rng, v)
			s.pass.Time = at
			v.passes = append(v.passes, s)
			at = at.Add(time.Duration(20+rng.IntN(60)) * time.Second)
		}
	}
}

// swim is one pass: the path, the answer, the frames, the notes.
func (b *builder) swim(rng *rand.Rand, v *visit) swum {
	p := b.plan
	animal := &b.truth.Animals[v.animal]
	sp := &p.Species[animal.Species]
	aimed := rng.IntN(len(b.s.Pairs))
	path := drawPath(rng, p, sp, &b.s.Pairs[aimed])
	frames := math.Floor(path.duration()/p.FrameS + 1e-9)
	watched := frames * p.FrameS

	out := swum{truth: PassTruth{
		Animal: v.animal, ThresholdNVPerCm: threshold(rng, &sp.Truth, animal.MedianNVPerCm), Lapse: rng.Float64() < sp.Truth.Lapse,
	}}
	b.answer(rng, &out.truth, &sp.Truth, &path, v.trial, watched)
	responded := out.truth.TurnedByField || out.truth.TurnedSpontaneously
	until := watched
	if responded {
		until = out.truth.OnsetS
	}
	pair := b.firstEntered(&path, until, aimed)
	goal := pair
	if active := b.s.Trials[v.trial].ActivePairs; out.truth.TurnedByField {
		goal = b.strongest(active, path.at(out.truth.OnsetS))
	}
	out.fixes = b.film(&path, &out.truth, &b.s.Pairs[goal], frames)
	out.pass = study.Pass{
		Trial: v.trial, Species: animal.Species, Pair: pair, Turned: study.No, Bit: study.No,
		WatchedS: study.Some(out.fixes[len(out.fixes)-1].TimeS),
	}
	b.describe(rng, &out, sp, goal)
	out.fixes = b.measure(rng, out.fixes, out.pass.OnsetS)
	return out
}

// answer decides whether and when the animal turns.
func (b *builder) answer(rng *rand.Rand, t *PassTruth, sp *SpeciesTruth, path *swimPath, trial int, watched float64) {
	own := exponential(rng, sp.SpontaneousPerS)
	caused := math.Inf(1)
	if !t.Lapse {
		drive := b.drives[trial]
		field := func(at place) float64 { return nVPerCm * drive.MagnitudeAt(at.x, at.y, at.z) }
		if when, ok := firstReached(field, b.driven[trial], path, t.ThresholdNVPerCm, watched-b.plan.ReactionTimeS); ok {
			caused = when + b.plan.ReactionTimeS
		}
	}
	if first := math.Min(own, caused); first <= watched {
		t.OnsetS = first
		t.TurnedByField = caused <= own
		t.TurnedSpontaneously = !t.TurnedByField
	}
}

// firstEntered is the pair whose circle the path enters first before a time;
// none: the pair ahead.
func (b *builder) firstEntered(path *swimPath, until float64, ahead int) int {
	const step = 0.005 // seconds
	for k := 0; ; k++ {
		t := math.Min(float64(k)*step, until)
		at := path.at(t)
		best, nearest := -1, b.plan.PassRadiusM
		for i := range b.s.Pairs {
			if d := math.Hypot(at.x-b.s.Pairs[i].CentreXM, at.y-b.s.Pairs[i].CentreYM); d <= nearest {
				best, nearest = i, d
			}
		}
		if best >= 0 {
			return best
		}
		if t >= until {
			return ahead
		}
	}
}

// strongest is the active pair that is nearest to a place: the one whose field
// the animal met.
func (b *builder) strongest(active []int, at place) int {
	best, nearest := active[0], math.Inf(1)
	for _, i := range active {
		if d := math.Hypot(at.x-b.s.Pairs[i].CentreXM, at.y-b.s.Pairs[i].CentreYM); d < nearest {
			best, nearest = i, d
		}
	}
	return best
}
