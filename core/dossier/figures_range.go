package dossier

import (
	"math"
	"strings"
)

// rangeLooks tell thresholds apart: round values by dashes, estimates by marks.
var (
	roundLooks = []Look{
		{Line: Ink, WidthPt: 0.9},
		{Line: Ink, WidthPt: 0.9, Dash: 1},
		{Line: Ink, WidthPt: 0.9, Dash: 3},
		{Line: Ink, WidthPt: 0.9, Dash: 2},
	}
	estimateMarks = []Mark{Circle, Square, Triangle, Diamond, Cross, Plus}
	edgeLook      = Look{Line: Middle, WidthPt: 0.4}
	rugLook       = Look{Line: Ink, WidthPt: 0.5}
)

// rangeMostRug is how many heights of turns are drawn along the axis at most.
const rangeMostRug = 300

func rangeFigure(in *Input) Figure {
	s := newSketch(in, "range-at-height", "How far the field reaches at each height", 1)
	var curves []*RangeCurve
	why := "no range of a pair's field was worked out"
	for i := range in.Ranges {
		c := &in.Ranges[i]
		if c.Why != "" {
			why = c.Why
			continue
		}
		if len(c.HeightCm) > 1 && len(c.ReachCm) == len(c.HeightCm) && sane(c.ThresholdNVPerC, c.CurrentUA) && c.ThresholdNVPerC > 0 && rising(c.HeightCm) && len(reachLines(c)) > 0 {
			curves = append(curves, c)
		} else {
			why = "the fields asked for are reached at no height"
		}
	}
	if len(curves) == 0 {
		return s.cannot(why)
	}
	curves = curves[:min(len(curves), 10)]
	var layers []Layer
	var legend []LegendEntry
	var reaches []float64
	lowest, highest := math.Inf(1), 0.0
	rounds, estimates := 0, 0
	for _, c := range curves {
		look, text := Look{}, trimmed(c.ThresholdNVPerC, 3)+"\u00a0nV/cm"
		if strings.Contains(c.Of, "median") {
			look = Look{Line: Strong, WidthPt: 1.1, Dash: estimates / 6 % 4, Mark: estimateMarks[estimates%6], Fill: Paper, SizePt: 3.4}
			text = c.Of + ", " + text
			estimates++
		} else {
			look = roundLooks[rounds%4]
			if rounds >= 4 {
				look.Mark, look.Fill, look.SizePt = estimateMarks[rounds/4%6], Ink, 2.4
			}
			rounds++
		}
		for _, line := range reachLines(c) {
			layers = append(layers, Line{At: line, Look: withoutMark(look)})
			if look.Mark != NoMark {
				layers = append(layers, Points{At: everyOf(line, 7), Look: look})
			}
			for _, at := range line {
				reaches = append(reaches, at.X)
				lowest, highest = math.Min(lowest, at.Y), math.Max(highest, at.Y)
			}
		}
		_, species, _ := strings.Cut(c.Of, "median of ")
		legend = append(legend, LegendEntry{Text: text, Italic: species, Look: look, Sample: "line"})
	}
	right := linearSpan(reaches...)
	p := Panel{
		X:      Axis{Label: "Reach along the bottom, from the centre of the pair (cm)", Min: 0, Max: right},
		Y:      Axis{Label: "Height above " + aboveWhat(in) + " (cm)", Min: math.Min(0, lowest), Max: linearSpan(highest)},
		Legend: legend, LegendAt: "below", Height: 0.6,
	}
	s.say("The furthest place, in any direction, at which the field of pair ", s.words("pair", curves[0].Pair),
		" is at least so strong, by the height of the head above ", s.words("heights are above", aboveWhat(in)),
		", were the pair driven with ", s.stated("current", curves[0].CurrentUA, "µA"), ".")
	for _, c := range curves {
		s.keep("field whose reach is drawn", measured(c.ThresholdNVPerC, 3), "nV/cm")
	}
	s.say(" Where a line ends, the field is that strong nowhere higher up.")
	if estimates > 0 {
		s.say(" Marked lines: estimated medians; the others: round values.")
	}
	if pair := pairOf(in, curves[0].Pair); pair != nil {
		if near, far, ok := edgeDistances(in.Study, pair); ok {
			rule := Rules{X: []float64{near}, Look: edgeLook}
			if far > near*1.02 {
				rule.X = append(rule.X, far)
			}
			layers = append([]Layer{rule}, layers...)
			if near < 0.75*right {
				layers = append(layers, Label{At: XY{near + 0.01*right, 0.97 * p.Y.Max}, Text: "edge of the plate", Align: "left", SizePt: 6.5})
			}
			s.say(" Thin upright lines: the plate's edge, ", s.number("nearest edge of the plate", near, 3, "cm"))
			if far > near*1.02 {
				s.say(" from the centre where it is nearest and ", s.number("furthest corner of the plate", far, 3, "cm"), " where it is furthest")
			}
			s.say(".")
		}
	}
	heights := turnHeights(in)
	if len(heights) > 0 {
		shown := Points{Look: rugLook}
		top := p.Y.Max
		over := 0
		for _, i := range thinned(len(heights), rangeMostRug) {
			h := heights[i]
			if h < p.Y.Min || h > top {
				over++
				continue
			}
			shown.At = append(shown.At, XY{0.01 * right, h})
			shown.Low = append(shown.Low, 0)
			shown.High = append(shown.High, 0.02*right)
		}
		layers = append(layers, shown)
		s.say(" Ticks on the left: heights of the heads at ", s.count("turns at the active pair with a known height", len(heights), "turn", "turns"), " at the active pair")
		if over > 0 {
			s.say(" (", s.count("heights beyond the axis", over, "lies", "lie"), " beyond the axis)")
		}
		if len(heights) > rangeMostRug {
			s.say(", of which ", s.count("heights drawn", rangeMostRug, "is drawn", "are drawn"), ", evenly chosen")
		}
		s.say(".")
	}
	p.Layers = layers
	alt := "Lines of reach against height, one for each of " + s.count("fields", len(curves), "field", "fields") + ". " + reachAlt(s, curves)
	return s.done(in, alt, []Panel{p}, rangeData(curves), heightData(heights))
}

func withoutMark(l Look) Look {
	l.Mark, l.Fill = NoMark, NoTone
	return l
}

// everyOf are some places of a line, its ends among them.
func everyOf(line []XY, most int) []XY {
	if len(line) <= most {
		return line
	}
	out := make([]XY, most)
	for i := range out {
		out[i] = line[i*(len(line)-1)/(most-1)]
	}
	return out
}

// reachLines are the stretches over which a curve is known.
func reachLines(c *RangeCurve) [][]XY {
	var out [][]XY
	var line []XY
	end := func() {
		if len(line) > 1 {
			out = append(out, line)
		}
		line = nil
	}
	for i, h := range c.HeightCm {
		r, ok := finite(c.ReachCm[i])
		if !ok || r < 0 {
			end()
			continue
		}
		line = append(line, XY{r, h})
	}
	end()
	return out
}

func turnHeights(in *Input) []float64 {
	var out []float64
	for _, p := range counted(in) {
		if h, ok := finite(p.HeightCm); ok && p.Responded && p.Role == "active" {
			out = append(out, h)
		}
	}
	return out
}

func reachAlt(s *sketch, curves []*RangeCurve) string {
	var parts []string
	for _, c := range curves[:min(len(curves), 4)] {
		line := reachLines(c)[0]
		parts = append(parts, trimmed(c.ThresholdNVPerC, 3)+" nV/cm reaches "+s.number("reach at the lowest height drawn, "+trimmed(c.ThresholdNVPerC, 3)+" nV/cm", line[0].X, 3, "cm"))
	}
	return "At the lowest height drawn, " + strings.Join(parts, "; ") + "."
}

func rangeData(curves []*RangeCurve) Table {
	t := Table{Title: "Reach against height", Note: "Blank: so strong nowhere at this height.", Columns: []Column{
		textColumn("of", "Field", "What the field is."),
		numberColumn("field_nV_per_cm", "Field", "nV/cm", "The field whose reach is given."),
		numberColumn("height_cm", "Height", "cm", "Height of the head's reference point."),
		numberColumn("reach_cm", "Reach", "cm", "Distance along the bottom from the centre of the pair."),
	}}
	for _, c := range curves {
		for i, h := range c.HeightCm {
			t.Rows = append(t.Rows, []Cell{{Text: c.Of}, measured(c.ThresholdNVPerC, 3), measured(h, 4), measuredIf(c.ReachCm[i], 4)})
		}
	}
	return t
}

func heightData(heights []float64) Table {
	t := Table{Title: "Heights of heads at turns at the active pair", Columns: []Column{
		numberColumn("height_cm", "Height", "cm", "Height of the head's reference point."),
	}}
	for _, h := range heights {
		t.Rows = append(t.Rows, []Cell{measured(h, 4)})
	}
	return t
}
