package app

import (
	"fmt"
	"math"
	"strconv"

	"brinefield/core/background"
)

// localField is what one local source makes, in SI.
type localField struct {
	at [3]float64
	// field and gradient at a place; ok is false at the source itself.
	field func(at [3]float64) (v, gradient float64, ok bool)
	// standoff from limitVPerM on, and the same without the sea surface.
	standoff func(limitVPerM float64) (r, free float64)
	// byWater: the field goes with one over the conductivity.
	byWater bool
	// extentM is the source's own length, within whose reach the formula is only
	// a guide; 0: not known.
	extentM float64
	// inWater is the same source in water that conducts otherwise; nil where it
	// makes no difference.
	inWater func(sPerM float64) localField
	silent  bool // it makes no field at all
}

func point(v []float64) [3]float64 { return [3]float64{v[0], v[1], v[2]} }

func (w *backgroundWork) sea(bottom string, sPerM float64) background.Sea {
	return background.Sea{WaterSPerM: sPerM, BottomInsulates: bottom != openBottom, DepthM: statedOr(w.spec.Site.DepthM, 0)}
}

// source answers one source.
func (w *backgroundWork) source(o *BackgroundSource) BackgroundSourceFound {
	out := BackgroundSourceFound{Label: o.Label, Kind: o.Kind, AtM: o.AtM}
	sea := w.sea(o.Bottom, w.spec.WaterSPerM)
	var l localField
	switch o.Kind {
	case sourceMeasured:
		l = w.measured(o, sea, &out)
	case sourceCable:
		amperes := *o.CurrentNA * 1e-9
		l = w.leak(background.Leak{CurrentA: amperes, LengthM: *o.LengthM, AtM: point(o.AtM), Sea: sea}, &out)
		out.MomentFrom = "as stated: the current that leaks times the length"
	case sourceCouple:
		l = w.couple(o, sea, &out)
	default:
		moment := statedOr(o.MomentAM, 0)
		out.MomentFrom = "as stated"
		if kind := readyKind(o.Kind); kind != nil && o.MomentAM == nil {
			moment, out.MomentFrom = kind.MomentAM, kind.From
		}
		l = w.dipole(background.Dipole{MomentAM: moment, AtM: point(o.AtM), AxisDeg: o.AxisDeg, Sea: sea}, &out)
	}
	w.fill(&out, &l)
	return out
}

func (w *backgroundWork) dipole(d background.Dipole, out *BackgroundSourceFound) localField {
	out.MomentAM = finite(d.MomentAM)
	out.Formula = formulaOf(d.Sea)
	out.Limits = append(out.Limits, "A dipole: from some three of its own lengths on.", limitOf(d.Sea))
	if d.AxisDeg == nil {
		out.Limits = append(out.Limits, "Its axis is not known: the field is that of the axis that makes the largest.")
	}
	return w.dipoleField(d)
}

func (w *backgroundWork) dipoleField(d background.Dipole) localField {
	return localField{
		at: d.AtM, byWater: true, silent: d.MomentAM == 0,
		field: func(at [3]float64) (float64, float64, bool) {
			v, ok := d.FieldVPerM(at)
			g, _ := d.GradientVPerM2(at)
			return v, g, ok
		},
		standoff: func(limit float64) (float64, float64) {
			return d.Standoff(limit, w.height), d.HalfSpaceStandoff(limit)
		},
		inWater: func(sPerM float64) localField {
			other := d
			other.Sea.WaterSPerM = sPerM
			return w.dipoleField(other)
		},
	}
}

// formulaOf is the formula of the standoff.
func formulaOf(sea background.Sea) string {
	switch {
	case sea.BottomInsulates && sea.DepthM > 0:
		return "r = (p/(πσE))^(1/3); in water of this depth the larger of that and where the sum of images between bottom and surface falls below E, far off r = √(p/(2πσHE))"
	case sea.BottomInsulates || sea.DepthM > 0:
		return "r = (p/(πσE))^(1/3)"
	}
	return "r = (p/(2πσE))^(1/3)"
}

func limitOf(sea background.Sea) string {
	switch {
	case sea.BottomInsulates && sea.DepthM > 0:
		return "Over an insulating bottom, under the surface of still water."
	case sea.BottomInsulates:
		return "Over an insulating bottom; the water's depth is not stated, and where the distance is more than the depth the surface makes the field larger than told."
	case sea.DepthM > 0:
		return "In open water under the surface, without a bottom: a bottom makes up to twice the field."
	}
	return "In open water, without bottom and surface: a bottom makes up to twice the field."
}

// couple is two metals: an upper bound, since nothing but the water holds the
// current back.
func (w *backgroundWork) couple(o *BackgroundSource, sea background.Sea, out *BackgroundSourceFound) localField {
	volts, err := background.CoupleVoltage(o.Metals[0], o.Metals[1])
	if err != nil { // checked before
		w.warn.add(err.Error())
	}
	c := background.Couple{VoltageV: volts, RadiusM: o.radii(), ApartM: *o.ApartM, WaterSPerM: sea.WaterSPerM}
	out.VoltageV, out.ResistanceOhm, out.CurrentUA = finite(volts), finite(c.Ohm()), finite(c.CurrentA()*1e6)
	out.MomentFrom = fmt.Sprintf("%s and %s differ by up to %.3g V (galvanic series of handbooks, from memory); the water between their bare surfaces, as balls, is all that holds the current back", o.Metals[0], o.Metals[1], volts)
	l := w.dipole(background.Dipole{MomentAM: c.MomentAM(), AtM: point(o.AtM), AxisDeg: o.AxisDeg, Sea: sea}, out)
	out.Formula = "I = ΔV/(1/(4πσa₁) + 1/(4πσa₂) − 2/(4πσd)), p = I·d; " + out.Formula
	out.Limits = append(out.Limits, "An upper bound: metals polarise, and a real couple gives a tenth to a thousandth of this current (from memory). Measure its field at a distance.",
		"The field does not depend on the water's conductivity: a better conductor carries more current.")
	l.extentM, l.byWater, l.inWater = *o.ApartM, false, nil
	return l
}

func (w *backgroundWork) leak(k background.Leak, out *BackgroundSourceFound) localField {
	out.CurrentUA, out.MomentAM = finite(k.CurrentA*1e6), finite(k.CurrentA*k.LengthM)
	out.Formula = "E ≤ (I/(2πσ))·min(2/r², 2L/r³), r from the end next to the pairs"
	if !k.Sea.BottomInsulates && k.Sea.DepthM == 0 {
		out.Formula = "E ≤ (I/(4πσ))·min(2/r², 2L/r³), r from the end next to the pairs"
	}
	out.Limits = []string{
		"The whole current leaves at the place stated and comes back a length away, in whatever direction makes the largest field, but no nearer to the pair.",
		limitOf(k.Sea),
	}
	if d := k.Sea.DepthM; d > 0 && k.LengthM > d/3 {
		out.Limits = append(out.Limits, "The leak is longer than a third of the depth: at distances between both the surface makes the field larger than told.")
	}
	return w.leakField(k)
}

func (w *backgroundWork) leakField(k background.Leak) localField {
	return localField{
		at: k.AtM, byWater: true, silent: k.CurrentA == 0,
		field: func(at [3]float64) (float64, float64, bool) {
			v, ok := k.FieldVPerM(at)
			g, _ := k.GradientVPerM2(at)
			return v, g, ok
		},
		standoff: func(limit float64) (float64, float64) { return k.Standoff(limit, w.height) },
		inWater: func(sPerM float64) localField {
			other := k
			other.Sea.WaterSPerM = sPerM
			return w.leakField(other)
		},
	}
}

func (w *backgroundWork) measured(o *BackgroundSource, sea background.Sea, out *BackgroundSourceFound) localField {
	m := background.Measured{FieldVPerM: *o.FieldNVPerCm / nVPerCmPerVPerM, DistanceM: *o.DistanceM}
	out.MomentAM = finite(m.MomentAM(sea))
	out.MomentFrom = fmt.Sprintf("the dipole that makes %g nV/cm on its axis at %g m", *o.FieldNVPerCm, *o.DistanceM)
	out.Formula = "E = E₁·(r₁/r)³"
	out.Limits = []string{
		"It falls with the cube of the distance, as any source does from some three of its own lengths on; nearer than where it was measured it is only a guide.",
		"Measured across the axis, the field along it is up to twice as large.",
		"Where the distance is more than the depth of the water it falls less than told.",
	}
	at := point(o.AtM)
	return localField{
		at: at, silent: m.FieldVPerM == 0,
		field: func(p [3]float64) (float64, float64, bool) {
			r := math.Hypot(math.Hypot(p[0]-at[0], p[1]-at[1]), p[2]-at[2])
			if r == 0 {
				return 0, 0, false
			}
			v, g := m.At(r)
			return v, g, true
		},
		standoff: func(limit float64) (float64, float64) { r := m.Standoff(limit); return r, r },
	}
}

// fill works out a source at every pair, its standoff and what to say of it.
func (w *backgroundWork) fill(out *BackgroundSourceFound, l *localField) {
	limit := w.limit / nVPerCmPerVPerM
	r, free := l.standoff(limit)
	out.StandoffM, out.HalfSpaceM = finite(r), finite(free)
	if less := w.spec.WaterSPerM * (1 - 2*w.seaSD); l.byWater && w.seaSD > 0 && less > 0 {
		high := l.inWater(less)
		r, _ := high.standoff(limit)
		out.StandoffHighM = finite(r)
	}
	out.Pairs = []BackgroundAtPair{}
	nearest := math.Inf(1)
	for i := range w.spec.Pairs {
		p := &w.spec.Pairs[i]
		at := [3]float64{p.CentreM[0], p.CentreM[1], w.height}
		distance := math.Hypot(math.Hypot(at[0]-l.at[0], at[1]-l.at[1]), at[2]-l.at[2])
		nearest = math.Min(nearest, distance)
		out.Pairs = append(out.Pairs, w.atPair(p.Label, at, distance, l))
	}
	out.NearestM = finite(nearest)
	if l.extentM > 0 && nearest < 3*l.extentM {
		w.warn.add(fmt.Sprintf("%s lies nearer to a pair than three of its own lengths: its field there is a rough guide.", quotedOr(out.Label, out.Kind)))
	}
	w.judge(out)
}

func (w *backgroundWork) atPair(label string, at [3]float64, distance float64, l *localField) BackgroundAtPair {
	found := BackgroundAtPair{Pair: label, DistanceM: finite(distance)}
	v, gradient, ok := l.field(at)
	if l.silent {
		v, gradient, ok = 0, 0, true
	}
	v, gradient = v*nVPerCmPerVPerM, gradient*nVPerCmPerVPerM/100
	if !ok || finite(v) == nil || finite(gradient) == nil {
		no := false
		found.OK = &no
		return found
	}
	below := w.below(v)
	found.FieldNV, found.GradientNV, found.SharePercent, found.OK = finite(v), finite(gradient), finite(100*v/w.threshold), &below
	if l.byWater && w.spec.WaterSD != nil {
		found.FieldSDNV = finite(v * w.seaSD)
	}
	return found
}

// below allows for the last digit: at its standoff a source adds the limit.
func (w *backgroundWork) below(v float64) bool { return v <= w.limit*(1+1e-9) }

// judge sums a source up in words.
func (w *backgroundWork) judge(out *BackgroundSourceFound) {
	away := "Keep it " + metres(out.StandoffM) + " away."
	if len(out.Pairs) == 0 {
		out.Verdict = away
		return
	}
	ok, worst := true, 0
	for i := range out.Pairs {
		p := &out.Pairs[i]
		ok = ok && *p.OK
		switch most := &out.Pairs[worst]; {
		case most.FieldNV == nil:
		case p.FieldNV == nil || *p.FieldNV > *most.FieldNV:
			worst = i
		}
	}
	out.OK = &ok
	p := &out.Pairs[worst]
	switch {
	case p.FieldNV == nil:
		out.Verdict = fmt.Sprintf("It lies at pair %s itself. %s", p.Pair, away)
	case ok:
		out.Verdict = fmt.Sprintf("Far enough: it adds at most %s nV/cm at pair %s, of %s that it may. It needs %s.", three(*p.FieldNV), p.Pair, three(w.limit), metres(out.StandoffM))
	default:
		out.Verdict = fmt.Sprintf("Too near: it may add %s nV/cm at pair %s, and %s is the most that it should. %s It lies at %s.", three(*p.FieldNV), p.Pair, three(w.limit), away, metres(out.NearestM))
		if out.Kind == sourceCouple {
			out.Verdict += " That is an upper bound, as if the metals did not polarise: measure its field at a distance."
		}
	}
}

func metres(v *float64) string {
	if v == nil {
		return "an unknown distance"
	}
	return three(*v) + " m"
}

// three writes three digits, and a power of ten only where there is no end of
// noughts.
func three(v float64) string {
	text := strconv.FormatFloat(v, 'g', 3, 64)
	if size := math.Abs(v); size >= 1e6 || size < 1e-4 {
		return text
	}
	rounded, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return text
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

func quotedOr(label, kind string) string {
	if label == "" {
		return "A source of the kind " + kind
	}
	return fmt.Sprintf("%q", label)
}

// together is all local sources at one pair: magnitudes are added, since nobody
// knows how they lie to each other.
func (w *backgroundWork) together(i int, sources []BackgroundSourceFound) BackgroundPairFound {
	out := BackgroundPairFound{Pair: w.spec.Pairs[i].Label}
	sum, gradient, most := 0.0, 0.0, 0.0
	for s := range sources {
		p := &sources[s].Pairs[i]
		if p.FieldNV == nil {
			no := false
			out.OK, out.Largest = &no, sources[s].Label
			out.Verdict = quotedOr(sources[s].Label, sources[s].Kind) + " lies at the pair itself."
			return out
		}
		sum, gradient = sum+*p.FieldNV, gradient+*p.GradientNV
		if *p.FieldNV > most {
			most, out.Largest = *p.FieldNV, sources[s].Label
		}
	}
	ok := w.below(sum)
	out.FieldNV, out.GradientNV, out.SharePercent, out.OK = finite(sum), finite(gradient), finite(100*sum/w.threshold), &ok
	switch {
	case len(sources) == 0:
		out.Verdict = "No local source is stated."
	case ok:
		out.Verdict = "All local sources together stay below what one of them may add."
	case sum < w.threshold:
		out.Verdict = fmt.Sprintf("Together they may make %s %% of the threshold.", three(100*sum/w.threshold))
	default:
		out.Verdict = fmt.Sprintf("Together they may make %s times the threshold: animals may answer to the gear.", three(sum/w.threshold))
	}
	return out
}

// silent answers whether the silent plate is silent: the supply's voltage over
// the cable's insulation, all of it at the plate.
func (w *backgroundWork) silent() *BackgroundSilent {
	c := w.spec.Cable
	if c == nil {
		return nil
	}
	amperes := c.VoltageV / (c.LeakMohm * 1e6)
	found := BackgroundSourceFound{Label: "cable", Kind: sourceCable, AtM: c.PlateEndAtM}
	l := w.leak(background.Leak{CurrentA: amperes, LengthM: c.LengthM, AtM: point(c.PlateEndAtM), Sea: w.sea(bottomInsulating, w.spec.WaterSPerM)}, &found)
	found.MomentFrom = fmt.Sprintf("%g V over %g MΩ leak %s nA, along %g m of cable", c.VoltageV, c.LeakMohm, three(amperes*1e9), c.LengthM)
	w.fill(&found, &l)
	out := &BackgroundSilent{LeakNA: finite(amperes * 1e9), Source: found, OK: found.OK}
	if found.OK == nil {
		out.Verdict = "No pairs are stated. " + found.Verdict
		return out
	}
	most, known := mostAt(found.Pairs)
	if known {
		out.Needed = finite(c.LeakMohm * most / w.limit)
	}
	out.Verdict = silentVerdict(out, most)
	return out
}

// mostAt is the largest field at the pairs; known is false where a source lies
// at one of them.
func mostAt(pairs []BackgroundAtPair) (most float64, known bool) {
	for i := range pairs {
		if pairs[i].FieldNV == nil {
			return 0, false
		}
		most = math.Max(most, *pairs[i].FieldNV)
	}
	return most, true
}

func silentVerdict(s *BackgroundSilent, most float64) string {
	leak := "a leak of " + three(*s.LeakNA) + " nA"
	switch {
	case *s.OK:
		return fmt.Sprintf("The silent plate is silent: %s makes at most %s nV/cm at the pairs.", leak, three(most))
	case s.Needed != nil:
		return fmt.Sprintf("The silent plate may not be silent: %s may make %s nV/cm at a pair. Insulation of %s MΩ would do, or a supply that is unplugged in silent trials.", leak, three(most), three(*s.Needed))
	}
	return fmt.Sprintf("The silent plate may not be silent: %s lies at a pair itself. Unplug the supply in silent trials, or move the cable's end.", leak)
}
