package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"brinefield/core/conduction"
	"brinefield/core/reach"
)

// The limits of a range.
const (
	mostThresholds    = 8
	mostHeights       = 40
	mostDirections    = 360
	defaultDirections = 72
	leastThreshold    = 1e-3 // nV/cm
	mostThreshold     = 1e9
)

// Range is how far the field reaches.
func (t *Stimulus) Range(ctx context.Context, in RangeRequest) (StimulusRange, error) {
	began := t.clock()
	c := &knobCheck{}
	directions := cmp.Or(in.Directions, defaultDirections)
	in.check(c, directions)
	s, err := newScene(&in.StimulusAsk, c)
	if err != nil {
		return StimulusRange{}, err
	}
	thresholds := make([]float64, len(in.ThresholdsNVPerCm))
	for i, x := range in.ThresholdsNVPerCm {
		thresholds[i] = x / nVPerCmPerVPerM
	}
	solved, err := t.solution(ctx, s)
	if err != nil {
		return StimulusRange{}, err
	}
	ranges, look, err := t.reach(ctx, s, solved, thresholds, in.HeightsM, directions)
	if err != nil {
		return StimulusRange{}, err
	}
	out := StimulusRange{Thresholds: make([]ThresholdRange, len(ranges))}
	for i := range ranges {
		out.Thresholds[i] = s.thresholdRange(in.ThresholdsNVPerCm[i], in.HeightsM, &ranges[i])
	}
	out.StimulusQuality = look.quality(began, t.clock())
	for i := range ranges {
		if ranges[i].Beyond {
			out.Warnings = append(out.Warnings, fmt.Sprintf("the field is still above %g nV/cm at the farthest distance that was looked at: the range is larger than what is given", in.ThresholdsNVPerCm[i]))
		}
	}
	return out, nil
}

func (in *RangeRequest) check(c *knobCheck, directions int) {
	if n := len(in.ThresholdsNVPerCm); n == 0 || n > mostThresholds {
		c.fault("thresholds_nV_per_cm", fmt.Sprintf("found %d thresholds", n), fmt.Sprintf("between 1 and %d, in nV/cm", mostThresholds))
	}
	for i, x := range in.ThresholdsNVPerCm {
		checkThreshold(c, fmt.Sprintf("thresholds_nV_per_cm/%d", i), x)
	}
	if n := len(in.HeightsM); n > mostHeights {
		c.fault("heights_m", fmt.Sprintf("found %d heights", n), fmt.Sprintf("up to %d, in metres", mostHeights))
	}
	for i, h := range in.HeightsM {
		c.within(fmt.Sprintf("heights_m/%d", i), h, -farthestLookM, farthestLookM, fmt.Sprintf("a height within %d m", farthestLookM))
	}
	c.within("directions", float64(directions), 4, mostDirections, fmt.Sprintf("between 4 and %d directions", mostDirections))
}

func checkThreshold(c *knobCheck, place string, x float64) {
	c.within(place, x, leastThreshold, mostThreshold, fmt.Sprintf("a field between %g and %g nV/cm", leastThreshold, mostThreshold))
}

// reach looks for the ranges, as far as they are found, and in any case to
// farthestReachM. Heights are of the season frame.
func (t *Stimulus) reach(ctx context.Context, s *scene, solved *solved, thresholds, heightsM []float64, directions int) ([]reach.Range, *view, error) {
	search := reach.Search{
		Centre: s.lead.centre, HeightsM: make([]float64, len(heightsM)), Directions: directions, Tolerance: 1e-4,
		Stop: func() bool { return ctx.Err() != nil },
	}
	if s.solid() {
		search.Tolerance = 1e-3 // the field itself is not as good as that
	}
	highest := s.lead.centre.Z
	for i, h := range heightsM {
		search.HeightsM[i] = h + s.topM
		highest = math.Max(highest, search.HeightsM[i])
	}
	for _, e := range s.electrodes {
		search.Sharp = append(search.Sharp, e.At)
	}
	search.MostM = s.firstLook(thresholds)
	for {
		search.HighestM = math.Min(s.medium.DepthM, math.Max(highest, s.lead.centre.Z+search.MostM))
		v, err := s.viewOf(solved, s.regionOf(search.MostM, -s.topM, search.HighestM-s.topM))
		if err != nil {
			return nil, nil, err
		}
		ranges, err := reach.Ranges(v.vectors(ctx), thresholds, search)
		switch {
		case ctx.Err() != nil:
			return nil, nil, ctx.Err()
		case err != nil:
			return nil, nil, err
		}
		beyond := false
		for i := range ranges {
			beyond = beyond || ranges[i].Beyond
		}
		if !beyond || search.MostM >= s.lastLook() {
			return ranges, v, nil
		}
		search.MostM = math.Min(2.5*search.MostM, s.lastLook())
	}
}

// farthestReachM is where the search for a range ends.
const farthestReachM = 500

// lastLook is the farthest distance at which there is anything to find.
func (s *scene) lastLook() float64 {
	e := s.medium.Enclosure
	if e == nil {
		return farthestReachM
	}
	c := s.lead.centre
	if e.DiameterM > 0 {
		return math.Min(farthestReachM, math.Hypot(c.X-e.CentreXM, c.Y-e.CentreYM)+e.DiameterM/2)
	}
	return math.Min(farthestReachM, math.Hypot(math.Abs(c.X-e.CentreXM)+e.SizeXM/2, math.Abs(c.Y-e.CentreYM)+e.SizeYM/2))
}

// firstLook is how far the search begins to look: twice as far as the smallest
// threshold is found round the electrodes on an insulating plane, p/(πσr³) for
// all that is driven, and I/(2πσr²) for what current is left over.
func (s *scene) firstLook(thresholds []float64) float64 {
	least := math.Inf(1)
	for _, x := range thresholds {
		least = math.Min(least, x)
	}
	moment, net, spread := 0.0, 0.0, 0.0
	for _, e := range s.electrodes {
		d := math.Hypot(math.Hypot(e.At.X-s.lead.centre.X, e.At.Y-s.lead.centre.Y), e.At.Z-s.lead.centre.Z)
		moment += math.Abs(e.CurrentA) * d
		net += e.CurrentA
		spread = math.Max(spread, d)
	}
	scale := math.Abs(s.currentA) / (math.Pi * s.medium.WaterSPerM * least)
	r := math.Max(math.Cbrt(moment*scale), math.Sqrt(math.Abs(net)*scale/2))
	return math.Min(math.Max(2*r+2*spread, 0.05), s.lastLook())
}

func (s *scene) thresholdRange(threshold float64, heightsM []float64, r *reach.Range) ThresholdRange {
	out := ThresholdRange{ThresholdNVPerCm: threshold, Beyond: r.Beyond, Heights: make([]HeightRange, len(r.Rings))}
	if r.Found() {
		out.Largest = &RangePlace{DistanceM: *figureOr0(r.LargestM), AtM: figures(s.season(r.At))}
		out.HighestM = figure(r.HighestM - s.topM)
	}
	for i := range r.Rings {
		ring := &r.Rings[i]
		out.Heights[i] = HeightRange{
			HeightM: heightsM[i], AreaM2: figure(ring.AreaM2), AreaUnsureM2: figure(ring.UnsureM2), FarthestM: figure(ring.FarthestM), NearestM: figure(ring.NearestM),
			ByDirectionM: ring.ByDirectionM,
		}
	}
	return out
}

func figureOr0(v float64) *float64 {
	if f := figure(v); f != nil {
		return f
	}
	return new(float64)
}

// figures are finite numbers of six digits.
func figures(list []float64) []float64 {
	out := make([]float64, len(list))
	for i, v := range list {
		out[i] = *figureOr0(v)
	}
	return out
}

// separationsM are those for which a target's current is worked out, beside
// the knob's own.
var separationsM = []float64{0.005, 0.01, 0.02, 0.05, 0.1}

// Target is the current that a field at a place needs.
func (t *Stimulus) Target(ctx context.Context, in TargetRequest) (TargetAnswer, error) {
	began := t.clock()
	c := &knobCheck{}
	wanted, place, prey := in.Target.resolve(c)
	s, err := newScene(&in.StimulusAsk, c)
	if err != nil {
		return TargetAnswer{}, err
	}
	if s.lead.separationM == 0 {
		return TargetAnswer{}, &KnobsError{[]KnobFault{{"knobs/pairs", "no pair is driven", "a pair with a share other than 0: the current is worked out for several separations of it"}}}
	}
	if prey != nil && in.Target.placeless() {
		place = StimulusPlace{BesideCm: prey.AtM * 100, AzimuthDeg: s.lead.azimuthDeg}
	}
	look, err := t.look(ctx, s, nil)
	if err != nil {
		return TargetAnswer{}, err
	}
	at := s.beside(place)
	now, err := reach.MagnitudeAt(look.vectors(ctx), at)
	if err != nil {
		return TargetAnswer{}, err
	}
	out := TargetAnswer{TargetNVPerCm: *figureOr0(wanted), AtM: figures(s.season(at)), Now: TargetNow{figure(now * nVPerCmPerVPerM)}}
	separations := separationsM
	if own := s.lead.separationM; !containsNear(separations, own) {
		separations = append(append([]float64{}, separations...), own)
	}
	out.Currents = make([]TargetCurrent, len(separations))
	errs := make([]error, len(separations))
	inParallel(len(separations), func(i int) {
		out.Currents[i], errs[i] = t.targetCurrent(ctx, &in.StimulusAsk, separations[i], wanted, place)
		out.Currents[i].Own = math.Abs(separations[i]-s.lead.separationM) <= 1e-9
	})
	if err := cmp.Or(ctx.Err(), errors.Join(errs...)); err != nil {
		return TargetAnswer{}, err
	}
	out.StimulusQuality = look.quality(began, t.clock())
	if prey != nil {
		out.Warnings = append(out.Warnings, fmt.Sprintf("%s: the published field is that straight in front of the animal, steady, and in its own water; here it is met %.4g cm beside and %.4g cm above the pair's middle", prey.Name, place.BesideCm, place.AboveCm))
	}
	return out, nil
}

func containsNear(list []float64, v float64) bool {
	for _, x := range list {
		if math.Abs(x-v) <= 1e-9 {
			return true
		}
	}
	return false
}

// targetCurrent is the current of one separation of the lead pair. What cannot
// be laid out (it does not fit on the plate) is said, and is no error.
func (t *Stimulus) targetCurrent(ctx context.Context, ask *StimulusAsk, separationM, wanted float64, place StimulusPlace) (TargetCurrent, error) {
	out := TargetCurrent{SeparationM: separationM}
	one := *ask
	one.Knobs = ask.Knobs.withLead(func(p *KnobPair) { p.SeparationM = separationM })
	one.Knobs.CurrentUA = 1e6
	perAmpere, err := t.fieldAt(ctx, &one, place)
	var fault *KnobsError
	if errors.As(err, &fault) {
		out.Says = fault.Faults[0].Wrong
		return out, nil
	}
	if err != nil {
		return out, err
	}
	current := reach.CurrentFor(perAmpere, wanted/nVPerCmPerVPerM)
	if math.IsNaN(current) {
		out.Says = "no current of this pair makes a field at that place"
		return out, nil
	}
	share := math.Abs(ask.Knobs.Pairs[ask.Knobs.lead()].Share)
	out.CurrentUA, out.DipoleMomentNAM = figure(current*1e6), figure(current*share*separationM*1e9)
	return out, nil
}

// fieldAt is |E| at one place of knobs that are solved once and not kept, V/m.
func (t *Stimulus) fieldAt(ctx context.Context, ask *StimulusAsk, place StimulusPlace) (float64, error) {
	s, err := newScene(ask, &knobCheck{})
	if err != nil {
		return 0, err
	}
	v := &view{scene: s}
	if s.form != formTextbook {
		if v.solved, err = s.solveOnce(ctx); err != nil {
			return 0, err
		}
		v.ask = v.solved.FieldAt
	}
	return reach.MagnitudeAt(v.vectors(ctx), s.beside(place))
}

// solveOnce solves a scene without keeping it.
func (s *scene) solveOnce(ctx context.Context) (*solved, error) {
	v, err := s.solve(func() bool { return ctx.Err() != nil })
	if errors.Is(err, conduction.ErrStopped) && ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return v, err
}

// lead is the index of the driven pair of the largest share, -1 without one.
func (k *StimulusKnobs) lead() int {
	lead := -1
	for i := range k.Pairs {
		if s := k.Pairs[i].Share; s != 0 && (lead < 0 || math.Abs(s) > math.Abs(k.Pairs[lead].Share)) {
			lead = i
		}
	}
	return lead
}

// withLead is a copy of the knobs with the lead pair changed.
func (k StimulusKnobs) withLead(change func(*KnobPair)) StimulusKnobs {
	k.Pairs = append([]KnobPair{}, k.Pairs...)
	if i := k.lead(); i >= 0 {
		change(&k.Pairs[i])
	}
	return k
}

// placeless reports whether no place is given.
func (g *StimulusTarget) placeless() bool { return g.AboveCm == nil && g.BesideCm == nil }

// resolve says what field is wanted, and where; a prey's own distance is known
// only beside the pair's axis.
func (g *StimulusTarget) resolve(c *knobCheck) (nVPerCm float64, place StimulusPlace, prey *reach.Prey) {
	value := func(v *float64) float64 {
		if v == nil {
			return 0
		}
		return *v
	}
	place = StimulusPlace{value(g.AboveCm), value(g.BesideCm), value(g.AzimuthDeg)}
	if g.Prey == "" || !g.placeless() {
		place.check(c, "target")
	}
	switch {
	case g.Prey != "" && g.NVPerCm != nil:
		c.fault("target/nV_per_cm", "a prey and a field", "one of them")
	case g.Prey != "":
		found, err := reach.FindPrey(g.Prey)
		switch {
		case err != nil:
			c.fault("target/prey", fmt.Sprintf("found %q", g.Prey), "one of: "+strings.Join(preyWithField(), ", "))
		case !(found.FieldVPerM > 0 && found.AtM > 0):
			c.fault("target/prey", fmt.Sprintf("no field at a distance is published of %q", g.Prey), "one of: "+strings.Join(preyWithField(), ", "))
		default:
			return found.FieldVPerM * nVPerCmPerVPerM, place, &found
		}
	case g.NVPerCm == nil:
		c.fault("target/nV_per_cm", "missing", "a field in nV/cm, or the name of a prey")
	default:
		nVPerCm = *g.NVPerCm
		checkThreshold(c, "target/nV_per_cm", nVPerCm)
	}
	return nVPerCm, place, nil
}

func (p *StimulusPlace) check(c *knobCheck, at string) {
	c.within(at+"/above_cm", p.AboveCm, -100*farthestLookM, 100*farthestLookM, "a height over the pair in cm")
	c.within(at+"/beside_cm", p.BesideCm, 0, 100*farthestLookM, "a horizontal distance of 0 or more, in cm")
	c.within(at+"/azimuth_deg", p.AzimuthDeg, -3600, 3600, "an angle in degrees")
	if p.AboveCm == 0 && p.BesideCm == 0 {
		c.fault(at+"/above_cm", "the place is the pair's own centre", "a place away from it")
	}
}
