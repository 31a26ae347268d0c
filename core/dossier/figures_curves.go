package dossier

import (
	"cmp"
	"math"
	"slices"
)

var (
	detectionLook  = Look{Line: Ink, WidthPt: 1.5}
	bandLook       = Look{Fill: Light}
	lognormalLook  = Look{Line: Strong, WidthPt: 0.9, Dash: 1}
	individualLook = Look{Line: Strong, WidthPt: 0.9, Dash: 2}
	stepsLook      = Look{Line: Strong, WidthPt: 0.7, Dash: 3}
	unknownLook    = Look{Line: Middle, WidthPt: 0.3, Hatch: true}
	medianMark     = Look{Line: Ink, WidthPt: 1, Mark: Diamond, Fill: Paper, SizePt: 5}
	turnSpanLook   = Look{Line: Ink, WidthPt: 0.35}
	noTurnLook     = Look{Line: Ink, WidthPt: 0.4, Mark: Bar, SizePt: 4}
	halfLook       = Look{Line: Faint, WidthPt: 0.4}
)

// Rows below the curves: intervals of turns between spansTop and spansLow, passes
// without a turn at noTurnsAt.
const (
	spansTop, spansLow, noTurnsAt, curvesLow = -0.04, -0.27, -0.33, -0.38
	curvesMostSpans                          = 40
	curvesMostNoTurns                        = 250
)

func curvesFigure(in *Input) Figure {
	s := newSketch(in, "threshold-curves", "Share of thresholds at or below each field", 2)
	var panels []Panel
	var drawn []*Curves
	for i := range in.Findings.Curves {
		c := &in.Findings.Curves[i]
		if soundCurves(c) {
			drawn = append(drawn, c)
		}
	}
	if len(drawn) == 0 {
		if why := noPasses(in); why != "" {
			return s.cannot(why)
		}
		return s.cannot("no model of the thresholds can be estimated from these passes")
	}
	drawn = drawn[:min(len(drawn), 12)]
	s.figure.Columns = min(len(drawn), 2)
	curveRows, dataRows := curveData(), spanData()
	alt := "Rising curves over the field, one panel a species. "
	bands, steps := false, false
	for _, c := range drawn {
		bands = bands || c.DetectionLow != nil
		steps = steps || len(c.Steps) > 0
	}
	s.say("Thick: detection model, all passes of the species, with lapses and spontaneous turns taken apart")
	if bands {
		s.say(", with its pointwise 95\u00a0% band")
	}
	s.say("; diamond: its median with its 95\u00a0% interval. Dashed: lognormal thresholds, and dotted: the same with a random animal, of passes at the active pair.")
	if steps {
		s.say(" Dash-dotted: step curve, which takes no form for granted; hatched: where it climbs and the data do not say how.")
	}
	s.say(" Below the axis: level lines reach over the fields between which a turn began (to the left edge where it had met none before); ticks in the lowest row: largest fields met without a turn. ")
	for i, c := range drawn {
		p := Panel{
			Title: panelLetter(i, len(drawn)) + c.Species, Italic: c.Species,
			X: Axis{Label: "Field (nV/cm)", Min: c.Field[0], Max: c.Field[len(c.Field)-1], Log: true},
			Y: Axis{Label: "Share of thresholds", Min: curvesLow, Max: 1.02, Ticks: []Tick{
				{0, "0"}, {0.25, "0.25"}, {0.5, "0.5"}, {0.75, "0.75"}, {1, "1"},
			}},
			LegendAt: "below", Height: 0.85,
		}
		addCurves(&p, c)
		d := detectionOf(in, c.Species)
		spans, noTurns := spansOf(in, c.Species)
		addSpans(&p, spans, noTurns)
		addMedian(&p, d)
		panels = append(panels, p)
		addCurveRows(&curveRows, c)
		addSpanRows(&dataRows, c.Species, spans, noTurns)
		sayCurves(s, in, c, d, i, len(drawn), spans, noTurns)
		alt += curvesAlt(s, c, d)
	}
	return s.done(in, alt, panels, curveRows, dataRows)
}

// soundCurves reports whether there is a grid and something to draw over it.
func soundCurves(c *Curves) bool {
	if len(c.Field) < 2 || !rising(c.Field) || !(c.Field[0] > 1/mostDrawn) {
		return false
	}
	for _, line := range [][]float64{c.Detection, c.Lognormal, c.LognormalIndividual} {
		if soundShares(line, len(c.Field)) {
			return true
		}
	}
	return len(soundSteps(c)) > 0
}

func soundShares(v []float64, n int) bool {
	if len(v) != n || n == 0 {
		return false
	}
	for _, x := range v {
		if !(x >= 0 && x <= 1) {
			return false
		}
	}
	return true
}

// step is one rise of the step curve that lies on the axis.
type step struct{ low, high, before, after float64 }

func soundSteps(c *Curves) []step {
	first, last := c.Field[0], c.Field[len(c.Field)-1]
	var out []step
	for _, r := range c.Steps {
		st := step{low: r.Low, high: last, before: r.Before, after: r.After}
		if v, ok := finite(r.High); ok {
			st.high = v
		}
		if !(st.low >= 0) || !(st.before >= 0 && st.after >= st.before && st.after <= 1) {
			return nil
		}
		st.low, st.high = math.Max(math.Min(st.low, last), first), math.Max(math.Min(st.high, last), first)
		if st.low >= last*(1-1e-9) {
			continue // it climbs beyond the axis
		}
		if st.high < st.low || len(out) > 0 && st.low < out[len(out)-1].high {
			return nil
		}
		out = append(out, st)
	}
	return out
}

func addCurves(p *Panel, c *Curves) {
	n := len(c.Field)
	first, last := p.X.Min, p.X.Max
	p.Layers = append(p.Layers, Rules{Y: []float64{0, 0.5, 1}, Look: halfLook})
	if soundShares(c.DetectionLow, n) && soundShares(c.DetectionHigh, n) && soundShares(c.Detection, n) {
		p.Layers = append(p.Layers, Band{X: c.Field, Low: c.DetectionLow, High: c.DetectionHigh, Look: bandLook})
	}
	if steps := soundSteps(c); len(steps) > 0 {
		from := first
		for _, r := range steps {
			if r.low > from {
				p.Layers = append(p.Layers, Line{At: []XY{{from, r.before}, {r.low, r.before}}, Look: stepsLook})
			}
			if r.high > r.low*1.004 {
				p.Layers = append(p.Layers, Area{At: box(r.low, r.before, r.high, r.after), Look: unknownLook})
			} else {
				p.Layers = append(p.Layers, Line{At: []XY{{r.low, r.before}, {r.high, r.after}}, Look: stepsLook})
			}
			from = r.high
		}
		if end := steps[len(steps)-1]; from < last {
			p.Layers = append(p.Layers, Line{At: []XY{{from, end.after}, {last, end.after}}, Look: stepsLook})
		}
	}
	line := func(v []float64, look Look, text string) {
		if !soundShares(v, n) {
			return
		}
		at := make([]XY, n)
		for i, x := range c.Field {
			at[i] = XY{x, v[i]}
		}
		p.Layers = append(p.Layers, Line{At: at, Look: look})
		p.Legend = append(p.Legend, LegendEntry{Text: text, Look: look, Sample: "line"})
	}
	line(c.Detection, detectionLook, "detection model")
	if soundShares(c.Detection, n) && soundShares(c.DetectionLow, n) && soundShares(c.DetectionHigh, n) {
		p.Legend = append(p.Legend, LegendEntry{Text: "its 95\u00a0% band", Look: bandLook, Sample: "area"})
	}
	line(c.Lognormal, lognormalLook, "lognormal")
	line(c.LognormalIndividual, individualLook, "with a random animal")
	if len(soundSteps(c)) > 0 {
		p.Legend = append(p.Legend,
			LegendEntry{Text: "step curve", Look: stepsLook, Sample: "line"},
			LegendEntry{Text: "climbs unseen", Look: unknownLook, Sample: "area"})
	}
}

func detectionOf(in *Input, species string) *Detection {
	for i := range in.Findings.Detection {
		if in.Findings.Detection[i].Species == species {
			return &in.Findings.Detection[i]
		}
	}
	return nil
}

// addMedian marks the median with its interval; an end that is not known is an
// arrow.
func addMedian(p *Panel, d *Detection) {
	if d == nil {
		return
	}
	m, ok := positive(d.Median)
	if !ok || m < p.X.Min || m > p.X.Max {
		return
	}
	mark := Points{At: []XY{{m, 0.5}}, Look: medianMark}
	if low, high, ok := spanOf(d.CI95, m); ok {
		mark.Low, mark.High = []float64{math.Max(low, p.X.Min)}, []float64{math.Min(high, p.X.Max)}
	}
	p.Layers = append(p.Layers, mark)
	p.Legend = append(p.Legend, LegendEntry{Text: "median", Look: medianMark, Sample: "mark"})
}

// spanOf are the ends of an interval round v; 0 and infinity where it is unbounded.
func spanOf(i Interval, v float64) (low, high float64, ok bool) {
	if i.Why != "" {
		return 0, 0, false
	}
	low, okLow := positive(i.Low)
	high, okHigh := positive(i.High)
	if !okLow {
		low = 0
	}
	if !okHigh {
		high = math.Inf(1)
	}
	return low, high, (okLow || okHigh) && low <= v && high >= v
}

// fieldSpan is what one pass says: a turn began between low and high, or there was
// none up to low.
type fieldSpan struct {
	pass      string
	low, high float64
}

// spansOf are the passes at the active pair of a species, turns by the middle of
// their interval.
func spansOf(in *Input, species string) (turns, noTurns []fieldSpan) {
	for _, p := range counted(in) {
		low, ok := finite(p.LowNVPerCm)
		if p.Species != species || p.Role != "active" || !ok || low < 0 {
			continue
		}
		high, okHigh := positive(p.HighNVPerCm)
		if p.Responded && okHigh && high > low && !p.FallingField {
			turns = append(turns, fieldSpan{p.ID, low, high})
		} else if low > 0 {
			noTurns = append(noTurns, fieldSpan{p.ID, low, 0})
		}
	}
	slices.SortStableFunc(turns, func(a, b fieldSpan) int {
		if c := cmp.Compare(a.high, b.high); c != 0 {
			return c
		}
		return cmp.Compare(a.low, b.low)
	})
	slices.SortStableFunc(noTurns, func(a, b fieldSpan) int { return cmp.Compare(a.low, b.low) })
	return turns, noTurns
}

func addSpans(p *Panel, turns, noTurns []fieldSpan) {
	clip := func(v float64) float64 { return math.Max(math.Min(v, p.X.Max), p.X.Min) }
	if shown := thinned(len(turns), curvesMostSpans); len(shown) > 0 {
		spans := Points{Look: turnSpanLook}
		for k, i := range shown {
			t := turns[i]
			low, high := clip(t.low), clip(t.high)
			y := spansTop + (spansLow-spansTop)*(float64(k)+0.5)/float64(len(shown))
			spans.At = append(spans.At, XY{high, y})
			spans.Low, spans.High = append(spans.Low, low), append(spans.High, high)
		}
		p.Layers = append(p.Layers, spans)
	}
	if shown := thinned(len(noTurns), curvesMostNoTurns); len(shown) > 0 {
		marks := Points{Look: noTurnLook}
		for _, i := range shown {
			if v := noTurns[i].low; v >= p.X.Min && v <= p.X.Max {
				marks.At = append(marks.At, XY{v, noTurnsAt})
			}
		}
		if len(marks.At) > 0 {
			p.Layers = append(p.Layers, marks)
		}
	}
}

func sayCurves(s *sketch, in *Input, c *Curves, d *Detection, i, of int, turns, noTurns []fieldSpan) {
	s.say(panelLetter(i, of), speciesRun(c.Species))
	if d != nil {
		var passes []*Pass
		for _, p := range counted(in) {
			if p.Species == c.Species {
				passes = append(passes, p)
			}
		}
		n := sampleOf(passes)
		s.say(": ", s.count("passes, "+c.Species, d.Passes, "pass", "passes"), " of ",
			s.count("recognised animals, "+c.Species, d.Individuals, "recognised animal", "recognised animals"))
		if d.PassesUnidentified > 0 {
			s.say(" (", s.count("passes of animals not recognised, "+c.Species, d.PassesUnidentified, "pass is of an animal", "passes are of animals"), " not recognised)")
		}
		s.say(" in ", s.count("trials, "+c.Species, n.trials, "trial", "trials"))
		switch m, ok := positive(d.Median); {
		case !ok && d.Why != "":
			s.say("; detection model not estimable: ", s.words("why there is no detection model, "+c.Species, d.Why))
		case ok:
			s.say("; median ", s.number("detection median, "+c.Species, m, 3, "nV/cm"))
			low, high, known := spanOf(d.CI95, m)
			switch {
			case known && low > 0 && !math.IsInf(high, 0):
				s.say(" (95\u00a0% interval ", s.number("lower end, "+c.Species, low, 3, ""), " to ", s.number("upper end, "+c.Species, high, 3, ""), ")")
			case d.CI95.Why != "":
				s.say(" (interval not estimable: ", s.words("why there is no interval, "+c.Species, d.CI95.Why), ")")
			}
		}
	}
	s.say(". At the active pair ", s.count("turns with an interval, "+c.Species, len(turns), "turn", "turns"), " and ",
		s.count("passes without a turn or with a falling field, "+c.Species, len(noTurns), "pass", "passes"), " without one that the field can have caused")
	if len(turns) > curvesMostSpans {
		s.say(" (", s.count("turns drawn, "+c.Species, curvesMostSpans, "turn", "turns"), " drawn, evenly chosen)")
	}
	if len(noTurns) > curvesMostNoTurns {
		s.say(" (", s.count("passes without a turn drawn, "+c.Species, curvesMostNoTurns, "pass", "passes"), " without drawn, evenly chosen)")
	}
	s.say(".")
	if i < of-1 {
		s.say(" ")
	}
}

func curvesAlt(s *sketch, c *Curves, d *Detection) string {
	if d != nil {
		if m, ok := positive(d.Median); ok {
			return c.Species + ": half of the thresholds lie at or below " + s.number("detection median, "+c.Species, m, 3, "nV/cm") + ". "
		}
	}
	return c.Species + ": no detection median. "
}

func curveData() Table {
	return Table{Title: "Curves", Columns: []Column{
		textColumn("species", "Species", "Accepted name."),
		textColumn("curve", "Curve", "detection, lognormal, lognormal_individual or steps."),
		numberColumn("field_nV_per_cm", "Field", "nV/cm", "Field; of a step, where its climb begins."),
		numberColumn("field_to_nV_per_cm", "Field to", "nV/cm", "Of a step: where its climb ends; blank: unbounded."),
		numberColumn("share", "Share", "", "Share of thresholds at or below the field; of a step, after it."),
		numberColumn("share_low", "Low", "", "Lower end of the 95 % band; of a step, the share before it."),
		numberColumn("share_high", "High", "", "Upper end of the 95 % band."),
	}}
}

func addCurveRows(t *Table, c *Curves) {
	n := len(c.Field)
	for _, line := range []struct {
		name      string
		v         []float64
		low, high []float64
	}{
		{"detection", c.Detection, c.DetectionLow, c.DetectionHigh},
		{"lognormal", c.Lognormal, nil, nil},
		{"lognormal_individual", c.LognormalIndividual, nil, nil},
	} {
		if !soundShares(line.v, n) {
			continue
		}
		band := soundShares(line.low, n) && soundShares(line.high, n)
		for i, x := range c.Field {
			row := []Cell{{Text: c.Species}, {Text: line.name}, measured(x, 4), {}, measured(line.v[i], 4), {}, {}}
			if band {
				row[5], row[6] = measured(line.low[i], 4), measured(line.high[i], 4)
			}
			t.Rows = append(t.Rows, row)
		}
	}
	if len(soundSteps(c)) == 0 {
		return
	}
	for _, r := range c.Steps {
		t.Rows = append(t.Rows, []Cell{{Text: c.Species}, {Text: "steps"}, measured(r.Low, 4), measuredIf(r.High, 4), measured(r.After, 4), measured(r.Before, 4), {}})
	}
}

func spanData() Table {
	return Table{Title: "What each pass at the active pair says", Columns: []Column{
		textColumn("species", "Species", "Accepted name."),
		textColumn("pass", "Pass", "The pass."),
		textColumn("turned", "Turned", "yes: a turn that the field can have caused."),
		numberColumn("field_low_nV_per_cm", "From", "nV/cm", "Largest field met before the turn could begin; without a turn, the largest met."),
		numberColumn("field_high_nV_per_cm", "To", "nV/cm", "Largest field met by the turn; blank without one."),
	}}
}

func addSpanRows(t *Table, species string, turns, noTurns []fieldSpan) {
	for _, r := range turns {
		t.Rows = append(t.Rows, []Cell{{Text: species}, {Text: r.pass}, yesNo(true), measured(r.low, 4), measured(r.high, 4)})
	}
	for _, r := range noTurns {
		t.Rows = append(t.Rows, []Cell{{Text: species}, {Text: r.pass}, yesNo(false), measured(r.low, 4), {}})
	}
}
