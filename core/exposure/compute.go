package exposure

import (
	"fmt"
	"math"

	"brinefield/core/study"
)

// computation is what all passes of one run share; read only once it is made.
type computation struct {
	s            *study.Study
	f            *Fields
	opt          Options
	reactionTime float64
	tracks       []*study.Track // by pass; nil where there is none
	drives       []*Drive       // by trial; nil where sealed or faulty
	driveFault   []string       // by trial
	after        []bool         // by pass
	warnings     []string
}

func newComputation(s *study.Study, f *Fields, opt Options) (*computation, error) {
	c := &computation{s: s, f: f, opt: opt}
	if len(f.water) != len(s.Trials) {
		return nil, fmt.Errorf("exposure: fields of %d trials for a study of %d", len(f.water), len(s.Trials))
	}
	switch {
	case opt.ReactionTimeS.Known:
		c.reactionTime = opt.ReactionTimeS.Value
	case s.Analysis.ReactionTimeS.Known:
		c.reactionTime = s.Analysis.ReactionTimeS.Value
	default:
		c.warnings = append(c.warnings, "No reaction time is stated ([analysis] reaction_time_s): 0 s is taken, so that every turn is put down to the field at the very moment it began.")
	}
	if !isFinite(c.reactionTime) || c.reactionTime < 0 {
		return nil, fmt.Errorf("exposure: a reaction time of %g s; it must be 0 or more", c.reactionTime)
	}
	c.tracks = make([]*study.Track, len(s.Passes))
	for i := range s.Tracks {
		c.tracks[s.Tracks[i].Pass] = &s.Tracks[i]
	}
	c.drives = make([]*Drive, len(s.Trials))
	c.driveFault = make([]string, len(s.Trials))
	for i := range s.Trials {
		if s.Trials[i].Sealed {
			continue
		}
		d, err := f.Driven(s, i)
		if err != nil {
			c.driveFault[i] = "its trial states no current"
			continue
		}
		c.drives[i] = d
	}
	after, warnings := afterFirstResponse(s)
	c.after = after
	c.warnings = append(c.warnings, warnings...)
	c.warnings = append(c.warnings, f.warnings...)
	return c, nil
}

// Compute joins every pass with the field of its trial: one Exposure a pass,
// in the order of Study.Passes, and what is to be said of the whole season.
// A pass whose field cannot be worked out is kept and says why; the error is
// for a study and fields that do not belong together, or options out of range.
func Compute(s *study.Study, f *Fields, opt Options) ([]Exposure, []string, error) {
	c, err := newComputation(s, f, opt)
	if err != nil {
		return nil, nil, err
	}
	out := make([]Exposure, len(s.Passes))
	err = opt.crew().inParallel(len(out), passesAtOnce, func() func(int) {
		w := &walker{}
		return func(i int) { out[i] = c.pass(i, w) }
	})
	if err != nil {
		return nil, nil, err
	}
	return out, append(c.warnings, seasonWarnings(s, out)...), nil
}

func outcomeOf(p *study.Pass) outcome {
	switch {
	case p.Turned == study.Yes && p.OnsetS.Known:
		return turnedAt
	case p.Responded():
		return turnedSomehow
	}
	return stayed
}

// pass works out one pass.
func (c *computation) pass(i int, w *walker) Exposure {
	p := &c.s.Passes[i]
	t := &c.s.Trials[p.Trial]
	e := Exposure{Pass: i, Role: t.RoleOf(p.Pair), AfterFirstResponse: c.after[i]}
	e.Cluster, e.Identified = clusterOf(c.s, p)
	e.WatchedS = watched(p, c.tracks[i])

	q := outcomeOf(p)
	h, err := c.head(i)
	if err == nil && h != nil {
		pair, when, found := firstCrossing(c.s, h)
		if found && (q != turnedAt || p.OnsetS.Value >= when-timeTolS) {
			e.ComputedPair = study.Some(pair)
		}
	}
	if q == turnedAt {
		e.OnsetS, e.OnsetBeforeS = p.OnsetS, study.Some(0.0)
		if h != nil {
			before, _ := h.before(p.OnsetS.Value)
			e.OnsetBeforeS = study.Some(before)
		}
	}
	switch {
	case t.Sealed:
		e.WhyNotUsed = "its trial is sealed"
		return e
	case err != nil:
	case c.driveFault[p.Trial] != "":
		err = faultf("%s", c.driveFault[p.Trial])
	case h != nil:
		err = c.fromTrack(&e, p, h, w)
	default:
		err = c.fromColumns(&e, p)
	}
	switch {
	case err != nil:
		e.WhyNotUsed = err.Error()
	case !p.Scored():
		e.WhyNotUsed = "whether it turned was not scored"
	case e.AfterFirstResponse:
		e.WhyNotUsed = "it came after the first response of its visit"
	default:
		e.Used = true
	}
	return e
}

// head is the smoothed path of a pass; nil where it has no track.
func (c *computation) head(i int) (*head, error) {
	track := c.tracks[i]
	if track == nil || len(track.Points) == 0 {
		return nil, nil
	}
	h, err := headOf(c.s, track)
	if err != nil {
		return nil, err
	}
	if sd := c.s.Analysis.FixSDM; sd.Known && sd.Value > 0 {
		for _, rows := range h.points {
			smooth(rows, sd.Value)
		}
	}
	return h, nil
}

// watched is how long a pass was watched: what was recorded, else the last
// time of its track.
func watched(p *study.Pass, track *study.Track) study.Opt[float64] {
	if p.WatchedS.Known || track == nil {
		return p.WatchedS
	}
	var w study.Opt[float64]
	for i := range track.Points {
		if n := len(track.Points[i].Fixes); n > 0 {
			last := track.Points[i].Fixes[n-1].TimeS
			w = study.Some(math.Max(last, w.Or(last)))
		}
	}
	return w
}

// fromTrack works out the field of a pass with a track.
func (c *computation) fromTrack(e *Exposure, p *study.Pass, h *head, w *walker) error {
	if err := inWater(c.s, h, surfaceOf(c.s, c.f.water[p.Trial])); err != nil {
		return err
	}
	q := ask(h, outcomeOf(p), p.OnsetS.Value, c.reactionTime)
	real := c.drives[p.Trial]
	w.set(real, h)
	met := w.interval(q)
	phantom := met
	where, known := met.where, false
	if !real.none() {
		known = w.heightKnownAt(where.point, where.t)
	}
	if alone := e.Role == study.RoleActive && len(c.s.Trials[p.Trial].ActivePairs) == 1; !alone {
		d, err := c.f.Phantom(c.s, p.Trial, p.Pair)
		if err != nil {
			return faultf("its trial states no current")
		}
		w.set(d, h)
		phantom = w.interval(q)
		if real.none() && !d.none() {
			where = phantom.where
			known = w.heightKnownAt(where.point, where.t)
		}
	}
	if !met.bounded() || !phantom.bounded() {
		return faultf("its track runs over a driven electrode, where the field has no bound")
	}
	c.fill(e, p, met, phantom)
	if where.f > 0 {
		c.locate(e, p, where.at, known)
		return c.here(e, p)
	}
	return nil
}

func (c *computation) fill(e *Exposure, p *study.Pass, met, phantom answer) {
	e.Known, e.HighKnown = true, p.Responded()
	e.Low, e.High, e.FallingField = met.low, met.high, met.falling
	e.PhantomLow, e.PhantomHigh = phantom.low, phantom.high
}

// locate says where the head was as seen from the pass's pair.
func (c *computation) locate(e *Exposure, p *study.Pass, at vec, heightKnown bool) {
	b := seenFrom(&c.s.Pairs[p.Pair], at)
	e.HorizontalM, e.HeadXM, e.HeadYM = study.Some(b.horizontalM), study.Some(at.x), study.Some(at.y)
	if !heightKnown {
		return
	}
	e.HeightM, e.DistanceM, e.AngleDeg = study.Some(at.z), study.Some(b.distanceM), study.Some(b.angleDeg)
	c.setTextbook(e, p)
}

// here works out the field of the trial's current at the pass's own pair, at
// the place that the table prints.
func (c *computation) here(e *Exposure, p *study.Pass) error {
	if !e.HeightM.Known {
		return nil
	}
	d, err := c.f.Phantom(c.s, p.Trial, p.Pair)
	if err != nil {
		return faultf("its trial states no current")
	}
	at := vec{e.HeadXM.Value, e.HeadYM.Value, e.HeightM.Value}
	if d.nearest(at) <= touchM {
		return nil
	}
	f, a := d.vector(at), axis(&c.s.Pairs[p.Pair])
	h := FieldHere{AlongVPerM: f.dot(a), AcrossVPerM: f.dot(vec{-a.y, a.x, 0}), UpVPerM: f.z, MagnitudeVPerM: f.length()}
	if isFinite(h.MagnitudeVPerM) {
		e.Here = study.Some(h)
	}
	return nil
}

func (c *computation) setTextbook(e *Exposure, p *study.Pass) {
	current, ok := c.s.Trials[p.Trial].DrivenCurrentA()
	if !ok || !e.DistanceM.Known || !e.AngleDeg.Known {
		return
	}
	v, ok := textbook(c.f.water[p.Trial].WaterSPerM, current, c.s.Pairs[p.Pair].SeparationM, e.DistanceM.Value, e.AngleDeg.Value)
	if ok {
		e.Textbook = study.Some(v)
	}
}

// fromColumns works out the field of a pass without a track from its distance
// columns.
func (c *computation) fromColumns(e *Exposure, p *study.Pass) error {
	fix, q := &p.Closest, outcomeOf(p)
	if q != stayed {
		fix = &p.Onset
	}
	if !fix.DistanceM.Known {
		if q != stayed {
			return faultf("it has neither a track nor a distance at the onset")
		}
		return faultf("it has neither a track nor a closest distance")
	}
	place, err := newOldPlace(c.s, p.Pair, surfaceOf(c.s, c.f.water[p.Trial]), fix)
	if err != nil {
		return err
	}
	exact := c.opt.TreatOldAsExact && q != stayed
	met, err := place.interval(c.drives[p.Trial], q, exact)
	if err != nil {
		return err
	}
	d, err := c.f.Phantom(c.s, p.Trial, p.Pair)
	if err != nil {
		return faultf("its trial states no current")
	}
	phantom, err := place.interval(d, q, exact)
	if err != nil {
		return err
	}
	c.fill(e, p, met, phantom)
	e.Exact = exact
	e.DistanceM, e.AngleDeg, e.HeightM = fix.DistanceM, fix.AngleDeg, fix.HeightM
	if fix.HeightM.Known {
		dz := math.Min(math.Abs(fix.HeightM.Value-c.s.Pairs[p.Pair].HeightM), place.distance)
		e.HorizontalM = study.Some(math.Sqrt(place.distance*place.distance - dz*dz))
	}
	c.setTextbook(e, p)
	e.Warnings = append(e.Warnings, place.warnings(fix)...)
	return nil
}
