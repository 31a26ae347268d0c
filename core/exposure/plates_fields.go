package exposure

import (
	"errors"
	"fmt"
	"math"

	"brinefield/core/conduction"
	"brinefield/core/study"
)

// platedFields is the work of [NewFields] for a study with plates.
type platedFields struct {
	s      *study.Study
	water  []TrialWater
	opt    FieldOptions
	region conduction.Region // of the layers alone, in the season frame

	layouts []*layout
	mixes   []waterMix      // by layout
	pairs   [][]*platedPair // by layout and pair; nil but where a pair stands for itself
	bare    map[bareKey]*bareWater
}

// bareKey is a medium and the height in it at which the pairs of the season's
// z = 0 lie.
type bareKey struct {
	medium string
	topM   float64
}

// bareWater is the field of pairs in a medium without its plates.
type bareWater struct {
	medium conduction.Medium
	topM   float64                 // over the bottom
	of     string                  // whose medium, for messages
	wanted []bool                  // by pair
	pairs  []*conduction.FastField // by pair, where wanted
}

// newFieldsOnPlates solves the field of every pair that lies there, in every
// trial's water, with the plates that lie there. See [layout] for which plates
// those are, [mixWaters] for how many media are solved, [alike] for how many
// pairs, and [boxTree] for how the solutions are asked quickly.
func newFieldsOnPlates(s *study.Study, water []TrialWater, opt FieldOptions) (*Fields, error) {
	if err := checkWater(s, water); err != nil {
		return nil, err
	}
	f := &platedFields{s: s, water: water, opt: opt, region: regionOf(s, opt), bare: make(map[bareKey]*bareWater)}
	var err error
	if f.layouts, err = layoutsOf(s); err != nil {
		return nil, err
	}
	if err = checkSand(s, water); err != nil {
		return nil, err
	}
	jobs := f.plan()
	errs := make([]error, len(jobs))
	err = crew{opt.Workers, opt.Progress, opt.Stop}.inParallel(len(jobs), 1, func() func(int) {
		return func(i int) { errs[i] = jobs[i]() }
	})
	if err != nil {
		return nil, err
	}
	for _, err := range errs {
		if errors.Is(err, conduction.ErrStopped) {
			return nil, ErrStopped
		}
		if err != nil {
			return nil, err
		}
	}
	units := f.units()
	return &Fields{water: water, warnings: f.warnings(), unit: func(trial, pair int) UnitField { return units[trial][pair] }}, nil
}

// plan lists what is to be solved: the layers alone for every water and node,
// plates for every node.
func (f *platedFields) plan() []func() error {
	var layers, plates []func() error
	want := func(m conduction.Medium, of string, l *layout) {
		key := bareKey{m.Key(), l.topM}
		b := f.bare[key]
		if b == nil {
			b = &bareWater{medium: m, topM: l.topM, of: of, wanted: make([]bool, len(f.s.Pairs)), pairs: make([]*conduction.FastField, len(f.s.Pairs))}
			f.bare[key] = b
			layers = append(layers, func() error { return f.solveBare(b) })
		}
		for k := range l.reps {
			b.wanted[k] = b.wanted[k] || l.standsForItself(k)
		}
	}
	for _, l := range f.layouts {
		l.findAlike(f.s)
		media := make([]conduction.Medium, len(l.trials))
		for i, t := range l.trials {
			media[i] = l.mediumIn(f.s, f.water[t])
			want(media[i], "trial "+f.s.Trials[t].ID, l)
		}
		mix, fixes := mixWaters(media), someFixes(f.s, l.topM)
		row := make([]*platedPair, len(f.s.Pairs))
		for n, m := range mix.nodes {
			want(m, l.says(), l)
			for k := range row {
				if !l.standsForItself(k) {
					continue
				}
				if row[k] == nil {
					row[k] = &platedPair{responses: make([]*response, len(mix.nodes)), ends: platedEnds(f.s, k, l.topM), topM: l.topM}
				}
				plates = append(plates, func() error { return f.solvePlated(l, k, &row[k].responses[n], m, fixes) })
			}
		}
		f.mixes, f.pairs = append(f.mixes, mix), append(f.pairs, row)
	}
	return append(layers, plates...)
}

func (l *layout) standsForItself(pair int) bool { return l.there[pair] && l.reps[pair].rep == pair }

// says names the trials of a layout.
func (l *layout) says() string {
	of := "the trials on all plates"
	if l.name != "" {
		of = fmt.Sprintf("the trials on the plate %q", l.name)
	}
	if l.risenM != 0 {
		of += fmt.Sprintf(" under %.4g mm of sand", -l.topM*1000)
	}
	return of
}

func (f *platedFields) solveBare(b *bareWater) error {
	r := platedRegion(f.region, b.topM)
	r.ZMaxM = math.Min(r.ZMaxM, b.medium.DepthM)
	var kernels []*conduction.Kernel
	one := oneWater{medium: b.medium}
	for k := range b.wanted {
		if !b.wanted[k] {
			continue
		}
		field, err := one.pair(bareEnds(f.s, k, b.topM), &kernels, r, f.opt.RelativeTolerance)
		if err != nil {
			return fmt.Errorf("exposure: the field of pair %s in %s: %w", f.s.Pairs[k].Label, b.of, err)
		}
		b.pairs[k] = field
	}
	return nil
}

func (f *platedFields) solvePlated(l *layout, pair int, into **response, m conduction.Medium, fixes []conduction.Point) error {
	solved, err := conduction.SolveOnPlates(m, l.plates, platedEnds(f.s, pair, l.topM), conduction.PlateOptions{
		RelativeTolerance: platedTolerance, Points: fixes, Stop: f.opt.Stop,
	})
	if err != nil {
		return fmt.Errorf("exposure: the field of pair %s in %s: %w", f.s.Pairs[pair].Label, l.says(), err)
	}
	*into = &response{plated: solved, sigma: m.WaterSPerM, depth: m.DepthM, reflected: 1 - 2*contrast(ratios(m)[0])}
	return nil
}

// units joins what was solved, and lays out the tables: by trial and pair.
func (f *platedFields) units() [][]UnitField {
	out := make([][]UnitField, len(f.s.Trials))
	for n, l := range f.layouts {
		mix := &f.mixes[n]
		for k, p := range f.pairs[n] {
			if p == nil {
				continue
			}
			for i, m := range mix.nodes {
				b := f.bare[bareKey{m.Key(), l.topM}]
				p.responses[i].bare, p.responses[i].bareSigma = b.pairs[k], b.medium.WaterSPerM
			}
			p.table = f.tableOf(l, k, p)
		}
		for i, t := range l.trials {
			w := f.water[t]
			m := l.mediumIn(f.s, w)
			b := f.bare[bareKey{m.Key(), l.topM}]
			out[t] = make([]UnitField, len(f.s.Pairs))
			for k := range f.s.Pairs {
				if !l.there[k] {
					out[t][k] = notThere{}
					continue
				}
				place := l.reps[k]
				out[t][k] = &platedUnit{
					pair: f.pairs[n][place.rep], shares: mix.shares[i], own: mix.own[i], bare: b.pairs[place.rep],
					bareSigma: b.medium.WaterSPerM, sigma: w.WaterSPerM, top: l.topM, depth: m.DepthM, place: place,
				}
			}
		}
	}
	return out
}

// notThere is the field of a pair whose plate was not laid out in the trial.
// Nothing that was recorded asks for it: see [layout.checkAsked].
type notThere struct{}

func (notThere) At(_, _, _ float64) (ex, ey, ez float64) {
	return math.NaN(), math.NaN(), math.NaN()
}

// warnings says what was made of the sand, and where the finest mesh misses the
// tolerance.
func (f *platedFields) warnings() []string {
	out := sandWarnings(f.s)
	var labels []string
	worst := 0.0
	for n := range f.layouts {
		for k, p := range f.pairs[n] {
			if p == nil {
				continue
			}
			missed := false
			for _, r := range p.responses {
				if !r.plated.Reached() {
					missed, worst = true, math.Max(worst, r.plated.RelativeError())
				}
			}
			for j := range f.s.Pairs {
				if missed && f.layouts[n].there[j] && f.layouts[n].reps[j].rep == k {
					labels = append(labels, f.s.Pairs[j].Label)
				}
			}
		}
	}
	if len(labels) == 0 {
		return out
	}
	return append(out, fmt.Sprintf("The field on the plates was to be good to %g of itself; at %s the finest mesh leaves an estimated %.2g at the worst place: %s.",
		platedTolerance, plural(len(labels), "pair", "pairs"), worst, listed(labels)))
}

// platedRegion is a region of the season frame, where the layers alone are
// asked, in the field frame of a top over the bottom.
func platedRegion(r conduction.Region, top float64) conduction.Region {
	r.ZMinM, r.ZMaxM = math.Min(0, top), math.Max(r.ZMaxM+top, 0.05)
	return r
}

// tableOf lays out the table of one pair that stands for others, for the
// places at which any of them is asked.
func (f *platedFields) tableOf(l *layout, pair int, p *platedPair) *boxTree {
	top := l.topM
	lo := vec{math.Inf(-1), math.Inf(-1), math.Max(0, top)} // in the water alone
	hi := vec{math.Inf(1), math.Inf(1), 0}
	for _, t := range l.trials {
		hi.z = math.Max(hi.z, f.water[t].DepthM-l.risenM)
	}
	if e := f.s.Enclosure; e != nil {
		half := vec{e.SizeXM, e.SizeYM, 0}.times(0.5)
		if e.DiameterM.Known {
			half = vec{e.DiameterM.Value, e.DiameterM.Value, 0}.times(0.5)
		}
		lo.x, lo.y, hi.x, hi.y = e.CentreXM-half.x, e.CentreYM-half.y, e.CentreXM+half.x, e.CentreYM+half.y
	}
	gap := func(at vec) float64 {
		least := math.Inf(1)
		for i := range l.plates {
			least = math.Min(least, plateGap(&l.plates[i], at))
		}
		for _, e := range p.ends {
			least = math.Min(least, electrode{vec{e.At.X, e.At.Y, e.At.Z}, e.DiameterM / 2}.distance(at))
		}
		return least
	}
	return newBoxTree(f.asked(l, pair), lo, hi, len(p.responses), gap, p.fillBox)
}

// asked is the places, moved to the pair that stands for it, at which the field
// of any pair is asked: the fixes of its own passes, and of the trials that
// drive it. An unknown height counts at three places of its range.
func (f *platedFields) asked(l *layout, rep int) []vec {
	s, top := f.s, l.topM
	mine := make(map[int]bool, len(l.trials))
	for _, t := range l.trials {
		mine[t] = true
	}
	var out []vec
	for i := range s.Tracks {
		pass := &s.Passes[s.Tracks[i].Pass]
		if !mine[pass.Trial] || s.Trials[pass.Trial].Sealed {
			continue
		}
		var moves []*isometry
		for k := range s.Pairs {
			if !l.there[k] || l.reps[k].rep != rep {
				continue
			}
			if k == pass.Pair {
				moves = append(moves, &l.reps[k].move)
			}
			for _, active := range s.Trials[pass.Trial].ActivePairs {
				if active == k {
					moves = append(moves, &l.reps[k].move)
				}
			}
		}
		if len(moves) == 0 {
			continue
		}
		for _, point := range s.Tracks[i].Points {
			for n := range point.Fixes {
				r, err := rowOf(s, &point.Fixes[n])
				if err != nil {
					continue
				}
				heights := [...]float64{0, 0.5, 1}
				some := heights[:]
				if r.zKnown {
					some = heights[:1]
				}
				for _, u := range some {
					at := r.at(u)
					at.z += top
					for _, m := range moves {
						out = append(out, m.back(at))
					}
				}
			}
		}
	}
	return out
}

// judgedFixes is at how many fixes the solver is to judge its error.
const judgedFixes = 150

// someFixes are fixes of the tracks, evenly taken, in the field frame of a top
// over the bottom.
func someFixes(s *study.Study, top float64) []conduction.Point {
	total := 0
	for i := range s.Tracks {
		for _, p := range s.Tracks[i].Points {
			total += len(p.Fixes)
		}
	}
	step := max(1, (total+judgedFixes-1)/judgedFixes)
	var out []conduction.Point
	count := 0
	for i := range s.Tracks {
		for _, p := range s.Tracks[i].Points {
			for n := range p.Fixes {
				if count++; (count-1)%step != 0 {
					continue
				}
				if r, err := rowOf(s, &p.Fixes[n]); err == nil {
					at := r.at(0.5)
					out = append(out, conduction.Point{X: at.x, Y: at.y, Z: at.z + top})
				}
			}
		}
	}
	return out
}
