package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"brinefield/core/conduction"
	"brinefield/core/dossier"
	"brinefield/core/exposure"
	"brinefield/core/reach"
	"brinefield/core/study"
)

const (
	mapCells = 121 // of a map, along each side; a section has fewer upward

	sectionRows = 61

	// Where no turn has a height, the plan is drawn at this one.
	usualHeightM = 0.1

	mapMargin    = 1.2 // of the reach of the faintest threshold
	leastMapM    = 0.2
	farthestMapM = 3

	rangeDegrees = 5
)

// rangeHeightsCm are the heights of a range: close together where fields of these
// currents end.
func rangeHeightsCm() (out []float64) {
	for h := 0; h <= 100; {
		out = append(out, float64(h))
		switch {
		case h < 20:
			h++
		case h < 40:
			h += 2
		default:
			h += 5
		}
	}
	return out
}

// rangeThresholds are those whose ranges are always drawn, in nV/cm.
var rangeThresholds = []float64{5, 10, 20, 50}

// mapped is the pair whose field is drawn, in one trial's water, at one current.
type mapped struct {
	s           *study.Study
	trial, pair int
	unit        exposure.UnitField
	currentA    float64
	waterSPerM  float64
	topM        float64 // how high the water reaches over z = 0
	heightM     float64
	method      string
	relError    float64
}

// mapsAndRanges are the pictures of the field: plan and section of one pair, and
// how far it reaches. The pair is the one with most turns, the current the middle
// one of the trials that were opened, the water that of the trial in the middle of
// their conductivities. Where there is no such trial, each says why.
func (a *Analysis) mapsAndRanges(ctx context.Context, done func(step, of int)) ([]dossier.FieldMap, []dossier.RangeCurve, error) {
	m, why, err := a.mapped()
	if err != nil {
		return nil, nil, err
	}
	if why != "" {
		label := ""
		if m != nil {
			label = m.s.Pairs[m.pair].Label
		}
		return []dossier.FieldMap{{Pair: label, Plane: "plan", Why: why}, {Pair: label, Plane: "section", Why: why}},
			[]dossier.RangeCurve{{Pair: label, Why: why}}, nil
	}
	done(0, 3)
	ranges, farthestM, err := m.ranges(ctx, a.Findings.Detection)
	if err != nil {
		return nil, nil, err
	}
	half := math.Min(math.Max(mapMargin*farthestM, leastMapM), farthestMapM)
	done(1, 3)
	plan, err := m.plan(ctx, half)
	if err != nil {
		return nil, nil, err
	}
	done(2, 3)
	section, err := m.section(ctx, half)
	done(3, 3)
	return []dossier.FieldMap{plan, section}, ranges, err
}

// mapped chooses what is drawn; why says why nothing can be.
func (a *Analysis) mapped() (m *mapped, why string, err error) {
	s := a.Study
	if len(s.Pairs) == 0 {
		return nil, "the season has no pair", nil
	}
	turns := make([]int, len(s.Pairs))
	for i := range s.Passes {
		if s.Passes[i].Responded() {
			turns[s.Passes[i].Pair]++
		}
	}
	m = &mapped{s: s}
	for k := range turns {
		if turns[k] > turns[m.pair] {
			m.pair = k
		}
	}
	water, _, _, err := waterByTrial(s)
	if err != nil {
		return nil, "", err
	}
	var mine []int // trials of known current in which the pair lies there
	var currents []float64
	for i := range s.Trials {
		current, known := s.Trials[i].DrivenCurrentA()
		if s.Trials[i].Sealed || !known || current == 0 || finite(current) == nil {
			continue
		}
		if _, _, err := a.Fields.Solved(s, i, m.pair); err != nil {
			continue
		}
		mine, currents = append(mine, i), append(currents, math.Abs(current))
	}
	if len(mine) == 0 {
		return m, "no trial that was opened has a current, so that there is no field to draw", nil
	}
	slices.Sort(currents)
	m.currentA = currents[(len(currents)-1)/2]
	slices.SortStableFunc(mine, func(x, y int) int {
		switch dx, dy := water[x].WaterSPerM, water[y].WaterSPerM; {
		case dx < dy:
			return -1
		case dx > dy:
			return 1
		}
		return 0
	})
	m.trial = mine[(len(mine)-1)/2]
	m.unit, m.waterSPerM = a.Fields.Pair(m.trial, m.pair), water[m.trial].WaterSPerM
	m.topM = plateDepth(s, &s.Trials[m.trial])
	m.method, m.relError, err = a.Fields.Solved(s, m.trial, m.pair)
	m.heightM = m.heightOfTurns(a.Exposures)
	return m, "", err
}

// heightOfTurns is the middle height of heads at turns, within the water.
func (m *mapped) heightOfTurns(exposures []exposure.Exposure) float64 {
	var heights []float64
	for i := range exposures {
		e := &exposures[i]
		if e.HeightM.Known && m.s.Passes[e.Pass].Responded() && finite(e.HeightM.Value) != nil {
			heights = append(heights, e.HeightM.Value)
		}
	}
	h := usualHeightM
	if len(heights) > 0 {
		h = median(heights)
	}
	return math.Min(h, m.topM)
}

// field asks the pair's field at its current, on all cores; NaN where there is
// none.
func (m *mapped) field(ctx context.Context, dst []conduction.Vector, points []conduction.Point) error {
	chunks := (len(points) + fieldChunk - 1) / fieldChunk
	inParallel(chunks, func(i int) {
		if ctx.Err() != nil {
			return
		}
		for k := i * fieldChunk; k < min(len(points), (i+1)*fieldChunk); k++ {
			p := points[k]
			x, y, z := m.unit.At(p.X, p.Y, p.Z)
			dst[k] = conduction.Vector{X: x, Y: y, Z: z}.Scale(m.currentA)
		}
	})
	return ctx.Err()
}

// grid is the field's magnitude in nV/cm on a grid of places.
func (m *mapped) grid(ctx context.Context, u, v []float64, at func(u, v float64) conduction.Point) ([][]float64, error) {
	points := make([]conduction.Point, 0, len(u)*len(v))
	for _, b := range v {
		for _, a := range u {
			points = append(points, at(a, b))
		}
	}
	fields := make([]conduction.Vector, len(points))
	if err := m.field(ctx, fields, points); err != nil {
		return nil, err
	}
	out := make([][]float64, len(v))
	for r := range v {
		out[r] = make([]float64, len(u))
		for c := range u {
			out[r][c] = fields[r*len(u)+c].Norm() * nVPerCmPerVPerM
			if finite(out[r][c]) == nil {
				out[r][c] = math.NaN()
			}
		}
	}
	return out, nil
}

func (m *mapped) blank(plane string) dossier.FieldMap {
	method := "the field was worked out by " + m.method
	if m.s.Enclosure != nil {
		method += ", within the walls of the tank"
	}
	if len(m.s.Plates) > 0 {
		method += ", with the plates as they are"
	}
	out := dossier.FieldMap{Pair: m.s.Pairs[m.pair].Label, CurrentUA: m.currentA * 1e6, WaterSPM: m.waterSPerM, Plane: plane, Method: method}
	if finite(m.relError) != nil {
		out.Error = m.relError
		out.Method += "; by its own estimate it is off by at most " + dossier.Rounded(m.relError*100) + "\u202f%"
	}
	return out
}

func (m *mapped) plan(ctx context.Context, halfM float64) (dossier.FieldMap, error) {
	p := &m.s.Pairs[m.pair]
	x, y := evenly(p.CentreXM-halfM, p.CentreXM+halfM, mapCells), evenly(p.CentreYM-halfM, p.CentreYM+halfM, mapCells)
	out := m.blank("plan")
	var err error
	out.NVPerCm, err = m.grid(ctx, x, y, func(x, y float64) conduction.Point {
		return m.within(conduction.Point{X: x, Y: y, Z: m.heightM})
	})
	out.HeightCm, out.X, out.Y = m.heightM*100, inCm(x), inCm(y)
	return out, err
}

// section is the upright plane through the pair's axis.
func (m *mapped) section(ctx context.Context, halfM float64) (dossier.FieldMap, error) {
	p := &m.s.Pairs[m.pair]
	sin, cos := math.Sincos(p.AzimuthDeg * math.Pi / 180)
	x, z := evenly(-halfM, halfM, mapCells), evenly(0, math.Min(halfM, m.topM), sectionRows)
	out := m.blank("section")
	var err error
	out.NVPerCm, err = m.grid(ctx, x, z, func(x, z float64) conduction.Point {
		return m.within(conduction.Point{X: p.CentreXM + x*cos, Y: p.CentreYM + x*sin, Z: z})
	})
	out.X, out.Y = inCm(x), inCm(z)
	return out, err
}

// within gives no place outside the tank's walls.
func (m *mapped) within(p conduction.Point) conduction.Point {
	e := m.s.Enclosure
	if e == nil {
		return p
	}
	dx, dy := p.X-e.CentreXM, p.Y-e.CentreYM
	outside := math.Abs(dx) > e.SizeXM/2 || math.Abs(dy) > e.SizeYM/2
	if e.DiameterM.Known {
		outside = math.Hypot(dx, dy) > e.DiameterM.Value/2
	}
	if outside {
		p.X = math.NaN()
	}
	return p
}

func inCm(m []float64) []float64 {
	out := make([]float64, len(m))
	for i, v := range m {
		out[i] = v * 100
	}
	return out
}

// ranges are how far the field reaches at each height, for the fixed thresholds
// and the detection median of every species, and how far the faintest fixed one
// reaches at all.
func (m *mapped) ranges(ctx context.Context, detection []Detection) ([]dossier.RangeCurve, float64, error) {
	p := &m.s.Pairs[m.pair]
	type threshold struct {
		nVPerCm float64
		of      string
	}
	var list []threshold
	for _, x := range rangeThresholds {
		list = append(list, threshold{x, fmt.Sprintf("%g nV/cm", x)})
	}
	for i := range detection {
		if d := &detection[i]; d.Median != nil && *d.Median >= leastThreshold && *d.Median <= mostThreshold {
			list = append(list, threshold{*d.Median, "detection median of " + d.Species})
		}
	}
	thresholds, least := make([]float64, len(list)), math.Inf(1)
	for i, t := range list {
		thresholds[i] = t.nVPerCm / nVPerCmPerVPerM
		least = math.Min(least, thresholds[i])
	}
	search := reach.Search{
		Centre: conduction.Point{X: p.CentreXM, Y: p.CentreYM, Z: p.HeightM}, Directions: 360 / rangeDegrees, Tolerance: 1e-3,
		LowestM: 0, Stop: func() bool { return ctx.Err() != nil },
	}
	heightsCm := slices.DeleteFunc(rangeHeightsCm(), func(h float64) bool { return h/100 > m.topM })
	for _, h := range heightsCm {
		search.HeightsM = append(search.HeightsM, h/100)
	}
	sin, cos := math.Sincos(p.AzimuthDeg * math.Pi / 180)
	for _, half := range [...]float64{p.SeparationM / 2, -p.SeparationM / 2} {
		search.Sharp = append(search.Sharp, conduction.Point{X: p.CentreXM + half*cos, Y: p.CentreYM + half*sin, Z: p.HeightM})
	}
	// Twice as far as p/(πσr³) of a pair on an insulating plane.
	first := 2 * math.Cbrt(m.currentA*p.SeparationM/(math.Pi*m.waterSPerM*least))
	found, err := m.search(ctx, search, thresholds, math.Min(math.Max(first+2*p.SeparationM, 0.05), m.lastLookM()))
	if errors.Is(err, conduction.ErrStopped) || ctx.Err() != nil {
		return nil, 0, errors.Join(ctx.Err(), err)
	}
	if err != nil {
		return nil, 0, err
	}
	out, farthest := make([]dossier.RangeCurve, len(list)), 0.0
	for i, t := range list {
		c := dossier.RangeCurve{Pair: p.Label, CurrentUA: m.currentA * 1e6, ThresholdNVPerC: t.nVPerCm, Of: t.of, HeightCm: heightsCm}
		for k := range found[i].Rings {
			r := finite(found[i].Rings[k].FarthestM * 100)
			c.ReachCm = append(c.ReachCm, r)
			if r != nil && i == 0 {
				farthest = math.Max(farthest, *r/100)
			}
		}
		if found[i].Beyond {
			c.Why = "the field reaches farther than was looked"
		}
		out[i] = c
	}
	return out, farthest, nil
}

// search looks farther until every range ends.
func (m *mapped) search(ctx context.Context, s reach.Search, thresholds []float64, mostM float64) ([]reach.Range, error) {
	ask := func(dst []conduction.Vector, points []conduction.Point) error {
		return m.field(ctx, dst, m.allWithin(points))
	}
	for s.MostM = mostM; ; s.MostM = math.Min(2.5*s.MostM, m.lastLookM()) {
		s.HighestM = math.Min(m.topM, math.Max(1, s.Centre.Z+s.MostM))
		found, err := reach.Ranges(ask, thresholds, s)
		if err != nil {
			return nil, err
		}
		beyond := slices.ContainsFunc(found, func(r reach.Range) bool { return r.Beyond })
		if !beyond || s.MostM >= m.lastLookM() {
			return found, nil
		}
	}
}

func (m *mapped) allWithin(points []conduction.Point) []conduction.Point {
	if m.s.Enclosure == nil {
		return points
	}
	out := make([]conduction.Point, len(points))
	for i, p := range points {
		out[i] = m.within(p)
	}
	return out
}

// lastLookM is the farthest distance at which there is anything to find.
func (m *mapped) lastLookM() float64 {
	e := m.s.Enclosure
	if e == nil {
		return farthestReachM
	}
	p := &m.s.Pairs[m.pair]
	dx, dy := math.Abs(p.CentreXM-e.CentreXM), math.Abs(p.CentreYM-e.CentreYM)
	if e.DiameterM.Known {
		return math.Min(farthestReachM, math.Hypot(dx, dy)+e.DiameterM.Value/2)
	}
	return math.Min(farthestReachM, math.Hypot(dx+e.SizeXM/2, dy+e.SizeYM/2))
}
