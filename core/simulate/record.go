package simulate

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"brinefield/core/study"
)

// film is the head's exact position in every frame: along the path, and after
// a turn towards the goal until it is there.
func (b *builder) film(path *swimPath, t *PassTruth, goal *study.Pair, frames float64) []study.Fix {
	dt := b.plan.FrameS
	var out []study.Fix
	add := func(k int, at place) {
		out = append(out, study.Fix{TimeS: float64(k) * dt, XM: at.x, YM: at.y, HeightM: study.Some(math.Max(at.z, lowestHeadM))})
	}
	turned := t.TurnedByField || t.TurnedSpontaneously
	k := 0
	for ; float64(k) <= frames && (!turned || float64(k)*dt < t.OnsetS); k++ {
		add(k, path.at(float64(k)*dt))
	}
	if !turned {
		return out
	}
	h := newHoming(path, t.OnsetS, goal)
	now := t.OnsetS
	for hunted := 0.0; hunted < longestHunt; k++ {
		for next := float64(k) * dt; now < next-1e-12; {
			step := math.Min(homingStepS, next-now)
			h.step(step)
			now += step
		}
		add(k, place{h.x, h.y, h.z})
		hunted = now - t.OnsetS
		if h.arrived() {
			break
		}
	}
	return out
}

// describe is what the observer writes down: the onset is the first frame in
// which the turn can be seen.
func (b *builder) describe(rng *rand.Rand, s *swum, sp *SpeciesPlan, goal int) {
	p := &s.pass
	bite, noOnset, electrode := rng.Float64(), rng.Float64(), rng.IntN(2)
	if s.truth.TurnedByField || s.truth.TurnedSpontaneously {
		p.Turned, p.TurnPair = study.Yes, study.Some(goal)
		i := slices.IndexFunc(s.fixes, func(f study.Fix) bool { return f.TimeS >= s.truth.OnsetS })
		p.OnsetS = study.Some(s.fixes[i].TimeS)
		if bite < sp.BiteShare {
			p.Bit = study.Yes
			p.BiteElectrode = []string{"positive", "negative"}[electrode]
		}
		if noOnset < sp.NoOnsetShare {
			p.OnsetS = study.Opt[float64]{}
			if p.Bit == study.Yes { // it was at the pair before anybody saw it turn
				p.Turned = study.No
			}
		}
	}
	if n := len(b.plan.Scorers); n > 0 {
		first := rng.IntN(n)
		p.Scorer = b.plan.Scorers[first]
		if n > 1 && rng.Float64() < 0.2 {
			p.SecondScorer = b.plan.Scorers[(first+1)%n]
		}
	}
}

// measure keeps the rows that are wanted, and adds the errors of fixes. Times
// and places are written to 0.1 ms and 0.1 mm.
func (b *builder) measure(rng *rand.Rand, fixes []study.Fix, onset study.Opt[float64]) []study.Fix {
	fixes = b.thin(rng, fixes, onset)
	sd := b.plan.FixSDM
	for i := range fixes {
		f := &fixes[i]
		if sd > 0 {
			f.XM += sd * rng.NormFloat64()
			f.YM += sd * rng.NormFloat64()
			f.HeightM.Value = math.Max(f.HeightM.Value+sd*rng.NormFloat64(), 0)
		}
		f.TimeS = round(f.TimeS, 1e4)
		f.XM, f.YM, f.HeightM.Value = round(f.XM, 1e4), round(f.YM, 1e4), round(f.HeightM.Value, 1e4)
	}
	return fixes
}

func (b *builder) thin(rng *rand.Rand, fixes []study.Fix, onset study.Opt[float64]) []study.Fix {
	n := len(fixes)
	if b.plan.SparseRows == 0 || n <= b.plan.SparseRows {
		return fixes
	}
	keep := []int{0, n - 1}
	if onset.Known {
		i := slices.IndexFunc(fixes, func(f study.Fix) bool { return f.TimeS >= onset.Value })
		keep = append(keep, max(i-1, 0), i)
	}
	for len(keep) < b.plan.SparseRows {
		keep = append(keep, 1+rng.IntN(n-2))
	}
	slices.Sort(keep)
	keep = slices.Compact(keep)
	out := make([]study.Fix, 0, len(keep))
	for _, i := range keep {
		out = append(out, fixes[i])
	}
	return out
}

// writeDown puts the passes of all visits in the order of trials and clocks
// and gives them their names.
func (b *builder) writeDown() {
	type line struct {
		visit int
		at    int
		swum  *swum
	}
	var lines []line
	for i := range b.visits {
		for k := range b.visits[i].passes {
			lines = append(lines, line{i, k, &b.visits[i].passes[k]})
		}
	}
	slices.SortStableFunc(lines, func(x, y line) int {
		if c := cmp.Compare(x.swum.pass.Trial, y.swum.pass.Trial); c != 0 {
			return c
		}
		return x.swum.pass.Time.Compare(y.swum.pass.Time)
	})
	names := make(map[int]string) // of visits, in order of first appearance
	digits := max(3, len(fmt.Sprint(len(lines))))
	for i, l := range lines {
		v := &b.visits[l.visit]
		if names[l.visit] == "" {
			names[l.visit] = fmt.Sprintf("V%0*d", digits, len(names)+1)
		}
		p := l.swum.pass
		p.ID, p.Visit = fmt.Sprintf("P%0*d", digits, i+1), names[l.visit]
		p.OnsetS.Value = round(p.OnsetS.Value, 1e4)
		p.WatchedS.Value = round(p.WatchedS.Value, 1e4)
		if v.identified {
			p.Individual = b.truth.Animals[v.animal].ID
		}
		b.s.Passes = append(b.s.Passes, p)
		b.s.Tracks = append(b.s.Tracks, study.Track{Pass: i, Points: []study.PointTrack{{Fixes: l.swum.fixes}}})
		b.truth.Passes = append(b.truth.Passes, l.swum.truth)
	}
}
