package exposure

import (
	"fmt"
	"math"

	"brinefield/core/conduction"
	"brinefield/core/study"
)

// FieldOptions tunes [NewFields]; the zero value is good.
type FieldOptions struct {
	// RelativeTolerance is the error |δE|/|E| that the tables of the field may
	// have; 0 is 1e-6.
	RelativeTolerance float64
	// ReachM and HighestM extend the region that the tables cover beyond the
	// study's tracks: horizontally from every pair, and upward. Outside the
	// region the field is right, but slow.
	ReachM, HighestM float64
	// Workers is how many tables are made at once; 0 means one.
	Workers int
	// Progress, where not nil, is told how many tables are made; Stop, where
	// not nil, is asked now and then whether to give up with [ErrStopped].
	Progress func(done, total int)
	Stop     func() bool
}

// NewFields solves the field of every pair in every trial's water: layers,
// tank walls and plates by [conduction]. Trials with the same water and depth
// share their tables.
//
// With plates, a trial that names one is solved with that plate alone, and one
// that names none with all of them there; see [layout]. The field on plates is
// solved to 0.001 of itself; where that was not reached, [Compute] says so among
// its warnings. Errors: a pair that lies on no plate, or is asked for in a trial
// on another plate than its own; those of [conduction.SolveOnPlates].
func NewFields(s *study.Study, water []TrialWater, opt FieldOptions) (*Fields, error) {
	if len(s.Plates) > 0 {
		return newFieldsOnPlates(s, water, opt)
	}
	if err := checkWater(s, water); err != nil {
		return nil, err
	}
	region := regionOf(s, opt)
	var waters []*oneWater // distinct, in order of first appearance
	byKey := make(map[string]*oneWater)
	ofTrial := make([]*oneWater, len(water))
	scale := make([]float64, len(water)) // water of equal shape differs by 1/σ alone
	for i, w := range water {
		m := mediumOf(s, w)
		key := m.Key()
		one := byKey[key]
		if one == nil {
			one = &oneWater{medium: m, trial: s.Trials[i].ID, depth: w.DepthM}
			byKey[key] = one
			waters = append(waters, one)
		}
		ofTrial[i], scale[i] = one, one.medium.WaterSPerM/w.WaterSPerM
	}
	errs := make([]error, len(waters))
	err := crew{opt.Workers, opt.Progress, opt.Stop}.inParallel(len(waters), 1, func() func(int) {
		return func(i int) { errs[i] = waters[i].solve(s, region, opt.RelativeTolerance) }
	})
	if err != nil {
		return nil, err
	}
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return &Fields{water: water, warnings: sandWarnings(s), unit: func(trial, pair int) UnitField {
		return fastUnit{ofTrial[trial].pairs[pair], scale[trial]}
	}}, nil
}

// mediumOf is what lies under, over and round the pairs in one trial.
func mediumOf(s *study.Study, w TrialWater) conduction.Medium {
	m := conduction.Medium{WaterSPerM: w.WaterSPerM, DepthM: w.DepthM}
	if s.Bottom.Kind == study.BottomSediment {
		if s.Bottom.ThicknessM.Known {
			m.Layers = []conduction.Layer{
				{ThicknessM: s.Bottom.ThicknessM.Value, SPerM: w.BottomSPerM},
				{ThicknessM: math.Inf(1), SPerM: s.Bottom.BasementSPerM.Or(0)},
			}
		} else {
			m.Layers = []conduction.Layer{{ThicknessM: math.Inf(1), SPerM: w.BottomSPerM}}
		}
	}
	if e := s.Enclosure; e != nil {
		m.Enclosure = &conduction.Enclosure{
			SizeXM: e.SizeXM, SizeYM: e.SizeYM, DiameterM: e.DiameterM.Or(0), CentreXM: e.CentreXM, CentreYM: e.CentreYM,
		}
	}
	return m
}

// oneWater is the field of every pair in one medium.
type oneWater struct {
	medium conduction.Medium
	trial  string // the first trial that has it, for messages
	depth  float64
	pairs  []*conduction.FastField
}

func (o *oneWater) solve(s *study.Study, r conduction.Region, tolerance float64) error {
	r.ZMaxM = math.Min(r.ZMaxM, o.depth)
	var kernels []*conduction.Kernel
	for i := range s.Pairs {
		p := &s.Pairs[i]
		ends := conduction.Pair{
			Centre:     conduction.Point{X: p.CentreXM, Y: p.CentreYM, Z: p.HeightM},
			AzimuthDeg: p.AzimuthDeg, SeparationM: p.SeparationM, DiameterM: p.ElectrodeDiameterM,
		}.Electrodes(1)
		f, err := o.pair(ends, &kernels, r, tolerance)
		if err != nil {
			return fmt.Errorf("exposure: the field of pair %s in trial %s: %w", p.Label, o.trial, err)
		}
		o.pairs = append(o.pairs, f)
	}
	return nil
}

// pair makes the field of one pair, from a kernel that pairs of the same
// height and diameter share; a tank has no kernels.
func (o *oneWater) pair(ends []conduction.Electrode, kernels *[]*conduction.Kernel, r conduction.Region, tolerance float64) (*conduction.FastField, error) {
	if o.medium.Enclosure != nil {
		solved, err := conduction.Solve(o.medium, ends, conduction.Options{})
		if err != nil {
			return nil, err
		}
		return solved.Fast(r, tolerance)
	}
	z, d := ends[0].At.Z, ends[0].DiameterM
	for _, k := range *kernels {
		if k.HeightM() == z && k.DiameterM() == d {
			return conduction.NewFastField(ends, k)
		}
	}
	k, err := conduction.NewKernel(o.medium, z, d, r, tolerance)
	if err != nil {
		return nil, err
	}
	*kernels = append(*kernels, k)
	return conduction.NewFastField(ends, k)
}

// fastUnit is a FastField as a UnitField, for water whose conductivity is
// 1/scale times that of the FastField. Without plates the season frame is the
// field frame.
type fastUnit struct {
	field *conduction.FastField
	scale float64
}

// At is NaN where the engine refuses the point; the search then finds no
// bound, and the pass says so.
func (u fastUnit) At(x, y, z float64) (ex, ey, ez float64) {
	e, err := u.field.FieldAt(conduction.Point{X: x, Y: y, Z: z})
	if err != nil {
		return math.NaN(), math.NaN(), math.NaN()
	}
	return u.scale * e.X, u.scale * e.Y, u.scale * e.Z
}

// regionOf is where the tables will be asked: everything that the tracks and
// the distance columns reach.
func regionOf(s *study.Study, opt FieldOptions) conduction.Region {
	r := conduction.Region{RhoMaxM: math.Max(opt.ReachM, 0.5), ZMaxM: math.Max(opt.HighestM, 0.05)}
	lo, hi := vec{math.Inf(1), math.Inf(1), 0}, vec{math.Inf(-1), math.Inf(-1), 0}
	highest := func(z study.Opt[float64]) {
		if z.Known && z.Value > r.ZMaxM {
			r.ZMaxM = z.Value
		}
	}
	reach := func(x, y float64) {
		lo.x, lo.y = math.Min(lo.x, x), math.Min(lo.y, y)
		hi.x, hi.y = math.Max(hi.x, x), math.Max(hi.y, y)
	}
	for i := range s.Tracks {
		for _, point := range s.Tracks[i].Points {
			for k := range point.Fixes {
				f := &point.Fixes[k]
				reach(f.XM, f.YM)
				highest(f.HeightM)
				highest(f.HeightHighM)
			}
		}
	}
	highest(s.Analysis.HeightHighM)
	for i := range s.Passes {
		for _, f := range [...]*study.OldFix{&s.Passes[i].Onset, &s.Passes[i].Closest} {
			if d := f.DistanceM; d.Known && d.Value > 0 {
				p := &s.Pairs[s.Passes[i].Pair]
				reach(p.CentreXM-d.Value, p.CentreYM-d.Value)
				reach(p.CentreXM+d.Value, p.CentreYM+d.Value)
				highest(study.Some(p.HeightM + d.Value))
			}
		}
	}
	for i := range s.Pairs {
		p := &s.Pairs[i]
		if math.IsInf(lo.x, 1) {
			break
		}
		dx := math.Max(p.CentreXM-lo.x, hi.x-p.CentreXM)
		dy := math.Max(p.CentreYM-lo.y, hi.y-p.CentreYM)
		r.RhoMaxM = math.Max(r.RhoMaxM, math.Hypot(dx, dy)+p.SeparationM)
	}
	// A few fixes far off, or a slip of the keyboard, must not spread the table
	// thin: beyond this the field is asked for directly.
	r.RhoMaxM = math.Min(r.RhoMaxM, 50)
	return r
}
