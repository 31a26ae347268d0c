package dossier

import (
	"math"
	"strings"
)

var speciesLines = []Look{
	{Line: Ink, WidthPt: 1, Mark: Circle, Fill: Ink, SizePt: 4},
	{Line: Ink, WidthPt: 1, Dash: 1, Mark: Square, Fill: Paper, SizePt: 4},
	{Line: Ink, WidthPt: 1, Dash: 2, Mark: Triangle, Fill: Ink, SizePt: 4.5},
	{Line: Ink, WidthPt: 1, Dash: 3, Mark: Diamond, Fill: Paper, SizePt: 4.5},
	{Line: Strong, WidthPt: 1, Mark: Square, Fill: Ink, SizePt: 4},
	{Line: Strong, WidthPt: 1, Dash: 1, Mark: Circle, Fill: Paper, SizePt: 4},
	{Line: Strong, WidthPt: 1, Dash: 2, Mark: Diamond, Fill: Ink, SizePt: 4.5},
	{Line: Strong, WidthPt: 1, Dash: 3, Mark: Triangle, Fill: Paper, SizePt: 4.5},
}

// uncertainRow is one stated uncertainty for one species.
type uncertainRow struct {
	what, species string
	look          Look
	median        float64
	low, high     float64
}

func sensitivityFigure(in *Input) Figure {
	s := newSketch(in, "sensitivity", "What the medians depend on", 2)
	var species []*Detection
	for i := range in.Findings.Detection {
		if d := &in.Findings.Detection[i]; len(reactions(d)) > 1 {
			species = append(species, d)
		}
	}
	if len(species) == 0 {
		if why := noPasses(in); why != "" {
			return s.cannot(why)
		}
		return s.cannot("no detection median can be estimated from these passes")
	}
	species = species[:min(len(species), len(speciesLines))]
	table := sensitivityData()
	var values, times []float64
	p := Panel{LegendAt: "below", Height: 0.5}
	alt := "Detection medians against the reaction time taken for granted. "
	rows := uncertainRows(in, species)
	if len(rows) > 0 {
		s.say("(a) ")
	}
	s.say("Detection median by the reaction time that is taken for granted")
	if st := in.Study; st != nil && st.Analysis.ReactionTimeS.Known && sane(st.Analysis.ReactionTimeS.Value) {
		s.say("; the season's own is ", s.stated("reaction time of the season", st.Analysis.ReactionTimeS.Value, "s"), " (dotted)")
		p.Layers = append(p.Layers, Rules{X: []float64{st.Analysis.ReactionTimeS.Value}, Look: zeroLook})
	} else {
		s.say("; the season states none, and none was taken")
	}
	for i, d := range species {
		look := speciesLines[i]
		line := reactions(d)
		p.Layers = append(p.Layers, Line{At: line, Look: withoutMark(look)}, Points{At: line, Look: look})
		p.Legend = append(p.Legend, LegendEntry{Text: d.Species, Italic: d.Species, Look: look, Sample: "line"})
		for _, at := range line {
			times, values = append(times, at.X), append(values, at.Y)
			table.Rows = append(table.Rows, []Cell{{Text: d.Species}, {Text: "reaction time"}, measured(at.X, 3), {Text: "s"}, measured(at.Y, 3), {}, {}, {}})
		}
		for _, x := range d.Sensitivity {
			if x.Why != "" {
				table.Rows = append(table.Rows, []Cell{{Text: d.Species}, {Text: "reaction time"}, measured(x.ReactionTimeS, 3), {Text: "s"}, {}, {}, {}, {Text: x.Why}})
			}
		}
		first, last := line[0], line[len(line)-1]
		alt += d.Species + ": " + s.number("median at the shortest time, "+d.Species, first.Y, 3, "nV/cm") + " at " + s.stated("shortest reaction time", first.X, "s") +
			", " + s.number("median at the longest time, "+d.Species, last.Y, 3, "nV/cm") + " at " + s.stated("longest reaction time", last.X, "s") + ". "
	}
	s.say(": ")
	for i, d := range species {
		if i > 0 {
			s.say(", ")
		}
		s.say(speciesRun(d.Species), " (", s.count("passes, "+d.Species, d.Passes, "pass", "passes"), ", ", s.count("recognised animals, "+d.Species, d.Individuals, "recognised animal", "recognised animals"), ")")
	}
	s.say(".")
	for _, r := range rows {
		values = append(values, r.low, r.high)
	}
	low, high := medianSpan(values)
	p.X = Axis{Label: "Reaction time (s)", Min: 0, Max: linearSpan(times...)}
	p.Y = Axis{Label: "Detection median (nV/cm)", Min: low, Max: high}
	panels := []Panel{p}
	if len(rows) > 0 {
		panels[0].Title, panels[0].Height = "(a) Reaction time", 0.75
		panels = append(panels, uncertainPanel(rows, low, high))
		s.say(" (b) From the lower to the higher median that each uncertainty stated by the season leads to, by itself; the mark is the median as estimated.")
		for _, u := range in.Findings.Uncertainty {
			if sd, ok := positive(u.SD); ok {
				s.say(" ", capital(u.What), ": standard deviation ", s.stated("standard deviation, "+u.What, sd, u.Unit), ".")
			}
		}
		for _, r := range rows {
			table.Rows = append(table.Rows, []Cell{{Text: r.species}, {Text: r.what}, {}, {}, measured(r.median, 3), measured(r.low, 3), measured(r.high, 3), {}})
		}
	} else {
		s.figure.Columns = 1
		s.say(" The season states no other uncertainty of its inputs, or it was not worked out.")
	}
	return s.done(in, alt, panels, table)
}

func capital(text string) string {
	if text == "" {
		return text
	}
	r := []rune(text)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

// reactions are the medians at the reaction times tried, by time.
func reactions(d *Detection) []XY {
	var out []XY
	for _, s := range d.Sensitivity {
		m, ok := positive(s.Median)
		if !ok || !(s.ReactionTimeS >= 0 && s.ReactionTimeS < mostDrawn) {
			continue
		}
		if len(out) > 0 && s.ReactionTimeS <= out[len(out)-1].X {
			continue
		}
		out = append(out, XY{s.ReactionTimeS, m})
	}
	return out
}

func uncertainRows(in *Input, species []*Detection) []uncertainRow {
	var out []uncertainRow
	for i, d := range species {
		m, ok := positive(d.Median)
		if !ok {
			continue
		}
		for _, u := range in.Findings.Uncertainty {
			for _, x := range u.Species {
				low, okLow := positive(x.Median.Low)
				high, okHigh := positive(x.Median.High)
				if x.Species != d.Species || x.Median.Why != "" || !okLow || !okHigh || high < low {
					continue
				}
				out = append(out, uncertainRow{what: u.What, species: d.Species, look: speciesLines[i], median: m, low: low, high: high})
			}
		}
	}
	return out[:min(len(out), 40)]
}

// medianSpan are the ends of the axis of medians: round steps, with room.
func medianSpan(values []float64) (low, high float64) {
	low, high = math.Inf(1), 0
	for _, v := range values {
		low, high = math.Min(low, v), math.Max(high, v)
	}
	if high == 0 {
		return 0, 1
	}
	step := niceStep(math.Max(high-low, high*0.05) / 5)
	return math.Max(0, step*math.Floor(low*0.97/step)), step * math.Ceil(high*1.03/step)
}

func uncertainPanel(rows []uncertainRow, low, high float64) Panel {
	p := Panel{
		Title: "(b) Stated uncertainties", X: Axis{Label: "Detection median (nV/cm)", Min: low, Max: high},
		Y: Axis{Min: 0, Max: float64(len(rows)), Hidden: true}, Height: math.Max(0.4, math.Min(0.1*float64(len(rows))+0.1, 2)), LegendAt: "below",
	}
	last := ""
	for i, r := range rows {
		y := float64(len(rows)-i) - 0.72
		p.Layers = append(p.Layers,
			Points{At: []XY{{r.median, y}}, Low: []float64{math.Min(r.low, r.median)}, High: []float64{math.Max(r.high, r.median)}, Look: r.look},
			Label{At: XY{low + 0.01*(high-low), y + 0.42}, Text: capital(r.what), Align: "left", SizePt: 6.5})
		if r.species != last {
			last = r.species
			p.Legend = append(p.Legend, LegendEntry{Text: r.species, Italic: r.species, Look: r.look, Sample: "mark"})
		}
	}
	return p
}

func sensitivityData() Table {
	return Table{Title: "Detection medians", Columns: []Column{
		textColumn("species", "Species", "Accepted name."),
		textColumn("what", "What was changed", "reaction time, or an input with a stated uncertainty."),
		numberColumn("value", "Value", "", "The reaction time tried; blank for uncertainties."),
		textColumn("unit", "Unit", "Of the value."),
		numberColumn("detection_median_nV_per_cm", "Median", "nV/cm", "Detection median at this reaction time; for uncertainties, as estimated."),
		numberColumn("low_nV_per_cm", "Low", "nV/cm", "Lower median that the uncertainty leads to."),
		numberColumn("high_nV_per_cm", "High", "nV/cm", "Higher median that the uncertainty leads to."),
		textColumn("not_estimable", "Why not", "Why there is no median."),
	}}
}
