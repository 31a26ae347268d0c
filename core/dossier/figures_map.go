package dossier

import (
	"math"
	"strings"

	"brinefield/core/study"
)

// Looks of maps and sections.
var (
	contourLook   = Look{Line: Ink, WidthPt: 0.5}
	plateLook     = Look{Line: Ink, WidthPt: 0.9, Dash: 1}
	mapFrameLook  = Look{Line: Ink, WidthPt: 0.6, Dash: 2}
	wallLook      = Look{Line: Ink, WidthPt: 1.4}
	plateSolid    = Look{Line: Ink, WidthPt: 0.5, Fill: Strong}
	sedimentLook  = Look{Line: Ink, WidthPt: 0.5, Hatch: true}
	axisArrow     = Look{Line: Ink, WidthPt: 1.1}
	otherArrow    = Look{Line: Ink, WidthPt: 0.6}
	positiveLook  = Look{Line: Ink, WidthPt: 0.6, Mark: Circle, Fill: Ink, SizePt: 3}
	negativeLook  = Look{Line: Ink, WidthPt: 0.6, Mark: Circle, Fill: Paper, SizePt: 3}
	otherPairLook = Look{Line: Ink, WidthPt: 0.6, Mark: Square, Fill: Paper, SizePt: 2.6}
)

// mapSmallestShare leaves out contours that enclose less of the map: round an
// electrode they would run into one blot.
const mapSmallestShare = 0.006

func planFigure(in *Input) Figure {
	s := newSketch(in, "field-map", "Field round a pair, from above", 1)
	m, why := mapOf(in, "plan")
	if m == nil {
		return s.cannot(why)
	}
	grid := soundGrid(m)
	levels := contourLevels(grid)
	x0, x1, y0, y1 := m.X[0], m.X[len(m.X)-1], m.Y[0], m.Y[len(m.Y)-1]
	p := Panel{
		Title:      "Pair " + m.Pair + ", " + trimmed(m.CurrentUA, 3) + "\u00a0µA, " + printed(m.HeightCm, 3) + "\u00a0cm above " + aboveWhat(in),
		X:          Axis{Label: "x (cm)", Min: x0, Max: x1},
		Y:          Axis{Label: "y (cm)", Min: y0, Max: y1},
		EqualScale: true, LegendAt: "below",
	}
	p.Layers = append(p.Layers, fieldLayers(m, grid, levels)...)
	p.Legend = append(p.Legend,
		LegendEntry{Text: "field, nV/cm", Look: contourLook, Sample: "line"},
		LegendEntry{Text: "positive electrode", Look: positiveLook, Sample: "mark"},
		LegendEntry{Text: "negative", Look: negativeLook, Sample: "mark"})
	panels := []Panel{p}
	pair := pairOf(in, m.Pair)
	layout, all := Panel{}, false
	if st := in.Study; st != nil {
		panels[0].Layers = append(panels[0].Layers, siteLayers(st, m.Pair, &panels[0])...)
		layout, all = layoutPanel(st, m)
	}
	if all {
		s.figure.Columns = 2
		panels[0].Title = "(a) " + panels[0].Title
		panels = append(panels, layout)
		s.say("(a) ")
	} else if in.Study != nil {
		panels[0].Layers = append(panels[0].Layers, northArrow(in.Study, &panels[0])...)
	}
	s.say("Magnitude of the electric field in the water at ", s.number("height of the map", m.HeightCm, 3, "cm"),
		" above ", s.words("heights are above", aboveWhat(in)), ", ")
	sayDriven(s, m)
	s.say(" Lines of equal field at ")
	sayLevels(s, levels)
	s.say("; the darker, the stronger, by the logarithm. Arrows point from the negative to the positive electrode of a pair, longer than true where the pair is small.")
	if pair != nil {
		s.say(" Electrodes of pair ", s.words("pair", m.Pair), " are ", s.stated("separation", pair.SeparationM*100, "cm"), " apart.")
	}
	sayMethod(s, m)
	if all {
		s.say(" (b) All ", s.count("pairs", len(in.Study.Pairs), "pair", "pairs"), " with what there is of plates and walls; the square is the map of (a).")
	}
	if in.Study != nil && in.Study.Site.XAxisBearingDeg.Known {
		s.say(" N: true north.")
	} else {
		s.say(" Where north lies was not recorded.")
	}
	alt := "Map of the field round pair " + m.Pair + " from above with lines of equal field. " + levelRange(levels)
	if all {
		alt += " Beside it a plan of all pairs."
	}
	return s.done(in, alt, panels, gridData(m, grid, "x_cm", "y_cm", "Along x", "Along y"), outlineData(in))
}

func sectionFigure(in *Input) Figure {
	s := newSketch(in, "field-section", "Field round a pair, from the side", 1)
	m, why := mapOf(in, "section")
	if m == nil {
		return s.cannot(why)
	}
	grid := soundGrid(m)
	levels := contourLevels(grid)
	x0, x1, y0, y1 := m.X[0]-m.XCentreCm, m.X[len(m.X)-1]-m.XCentreCm, m.Y[0], m.Y[len(m.Y)-1]
	moved := *m
	moved.X = make([]float64, len(m.X))
	for i, v := range m.X {
		moved.X[i] = v - m.XCentreCm
	}
	p := Panel{
		Title:      "Pair " + m.Pair + ", " + trimmed(m.CurrentUA, 3) + "\u00a0µA",
		X:          Axis{Label: "Along the axis of the pair, from its centre (cm)", Min: x0, Max: x1},
		Y:          Axis{Label: "Height above " + aboveWhat(in) + " (cm)", Min: y0, Max: y1},
		EqualScale: true, LegendAt: "below",
	}
	p.Layers = append(p.Layers, fieldLayers(&moved, grid, levels)...)
	p.Legend = append(p.Legend, LegendEntry{Text: "field, nV/cm", Look: contourLook, Sample: "line"})
	pair := pairOf(in, m.Pair)
	if st := in.Study; st != nil {
		addGround(st, pair, &p)
		if pair != nil {
			p.Layers = append(p.Layers, electrodeMarks(XY{0, pair.HeightM * 100}, 1, 0, pair.SeparationM*100)...)
			p.Legend = append(p.Legend,
				LegendEntry{Text: "positive electrode", Look: positiveLook, Sample: "mark"},
				LegendEntry{Text: "negative", Look: negativeLook, Sample: "mark"})
		}
	}
	s.say("Magnitude of the electric field in the upright plane through both electrodes, ")
	sayDriven(s, m)
	s.say(" Lines of equal field at ")
	sayLevels(s, levels)
	s.say("; the darker, the stronger, by the logarithm.")
	if in.Study != nil && bottomOf(in.Study) < y0 {
		s.say(" Beside the plate, below its top, the field is not drawn.")
	}
	sayMethod(s, m)
	alt := "Section along the axis of pair " + m.Pair + " with lines of equal field, height upwards. " + levelRange(levels)
	return s.done(in, alt, []Panel{p}, gridData(&moved, grid, "along_cm", "height_cm", "Along the axis", "Height"))
}

// mapOf is the map of a plane, or why there is none.
func mapOf(in *Input, plane string) (*FieldMap, string) {
	why := "no field of a pair was worked out"
	for i := range in.Maps {
		m := &in.Maps[i]
		switch {
		case m.Plane != plane:
		case m.Why != "":
			why = m.Why
		case !sane(m.CurrentUA, m.WaterSPM, m.HeightCm, m.XCentreCm) || !soundAxes(m):
			why = "the field has too few places"
		default:
			return m, ""
		}
	}
	return nil, why
}

func soundAxes(m *FieldMap) bool {
	if len(m.X) < 2 || len(m.Y) < 2 || len(m.NVPerCm) != len(m.Y) || !rising(m.X) || !rising(m.Y) {
		return false
	}
	known := 0
	for _, row := range m.NVPerCm {
		if len(row) != len(m.X) {
			return false
		}
		for _, v := range row {
			if v > 1/mostDrawn && v < mostDrawn {
				known++
			}
		}
	}
	return known >= 4
}

func rising(v []float64) bool {
	for i, x := range v {
		if !sane(x) || i > 0 && !(x > v[i-1]) {
			return false
		}
	}
	return true
}

// soundGrid is the field with NaN for what is not a positive number.
func soundGrid(m *FieldMap) [][]float64 {
	out := make([][]float64, len(m.NVPerCm))
	for i, row := range m.NVPerCm {
		out[i] = make([]float64, len(row))
		for j, v := range row {
			if !(v > 1/mostDrawn && v < mostDrawn) {
				v = math.NaN()
			}
			out[i][j] = v
		}
	}
	return out
}

func gridEnds(grid [][]float64) (low, high float64) {
	low, high = math.Inf(1), 0
	for _, row := range grid {
		for _, v := range row {
			if !math.IsNaN(v) {
				low, high = math.Min(low, v), math.Max(high, v)
			}
		}
	}
	return low, high
}

// contourLevels are 1, 2, 5, 10, … nV/cm (lower ones where the whole map is
// weaker), as far as they enclose enough of the map to be drawn.
func contourLevels(grid [][]float64) []float64 {
	low, high := gridEnds(grid)
	total := len(grid) * len(grid[0])
	share := func(level float64) float64 {
		n := 0
		for _, row := range grid {
			for _, v := range row {
				if v >= level {
					n++
				}
			}
		}
		return float64(n) / float64(total)
	}
	begin := 1.0
	if high < 20 {
		begin = niceBelow(math.Max(low, high*1e-3))
	}
	var out []float64
	for level := begin; level < high && len(out) < 14; level = niceStep(level * 1.5) {
		if level <= low {
			continue
		}
		if share(level) < mapSmallestShare {
			break
		}
		out = append(out, level)
	}
	return out
}

func fieldLayers(m *FieldMap, grid [][]float64, levels []float64) []Layer {
	low, high := gridEnds(grid)
	if len(levels) > 0 {
		low, high = math.Max(low, levels[0]/4), math.Min(high, levels[len(levels)-1]*3)
	}
	if !(high > low) {
		high = low * 2
	}
	out := []Layer{Tones{X: m.X, Y: m.Y, Value: grid, Min: low, Max: high, Log: true, Lightest: 0.02, Darkest: 0.5}}
	if len(levels) > 0 {
		labels := make([]string, len(levels))
		for i, l := range levels {
			labels[i] = printed(l, 1)
		}
		out = append(out, Contours{X: m.X, Y: m.Y, Value: grid, Levels: levels, Labels: labels, Look: contourLook})
	}
	return out
}

func pairOf(in *Input, label string) *study.Pair {
	if in.Study == nil {
		return nil
	}
	for i := range in.Study.Pairs {
		if in.Study.Pairs[i].Label == label && soundPair(&in.Study.Pairs[i]) {
			return &in.Study.Pairs[i]
		}
	}
	return nil
}

func aboveWhat(in *Input) string {
	if in.Study != nil && len(in.Study.Plates) > 0 {
		return "the plate"
	}
	return "the bottom"
}

func sayDriven(s *sketch, m *FieldMap) {
	s.say("were pair ", s.words("pair", m.Pair), " driven with ", s.stated("current", m.CurrentUA, "µA"),
		" in water of ", s.stated("conductivity", m.WaterSPM, "S/m"), ".")
}

func sayLevels(s *sketch, levels []float64) {
	if len(levels) == 0 {
		s.say("no round value: the whole map lies between two")
		return
	}
	for i, l := range levels {
		switch {
		case i == 0:
		case i == len(levels)-1:
			s.say(" and ")
		default:
			s.say(", ")
		}
		s.keep("line of equal field", measured(l, 1), "nV/cm")
		s.say(printed(l, 1))
	}
	s.say("\u00a0nV/cm")
}

// sayMethod writes how a map was solved, and its error in plain digits.
func sayMethod(s *sketch, m *FieldMap) {
	method, _, _ := strings.Cut(m.Method, "; by its own estimate")
	if method != "" {
		s.say(" ", capital(s.words("method", method)))
	}
	percent := m.Error * 100
	switch {
	case !(percent > 0 && percent < mostDrawn):
	case percent < 0.001:
		s.keep("relative error by its own estimate, less than", Cell{Text: "0.001", Exact: "0.001"}, "%")
		s.keep("relative error by its own estimate", measured(percent, 2), "%")
		s.say(", off by less than 0.001\u00a0% by its own estimate")
	default:
		s.say(", off by at most ", s.number("relative error by its own estimate", percent, 2, "%"), " by its own estimate")
	}
	if method != "" {
		s.say(".")
	}
}

func levelRange(levels []float64) string {
	if len(levels) == 0 {
		return ""
	}
	return "Lines from " + printed(levels[0], 1) + " to " + printed(levels[len(levels)-1], 1) + " nV/cm, the strongest round the electrodes."
}

// gridData is the grid, one row a place; the field to six digits, far beyond its
// error.
func gridData(m *FieldMap, grid [][]float64, x, y, xTitle, yTitle string) Table {
	t := Table{
		Title: "Field on the grid", Note: "Blank: inside a plate. Six significant digits.",
		Columns: []Column{
			numberColumn(x, xTitle, "cm", "Place of the column."),
			numberColumn(y, yTitle, "cm", "Place of the row."),
			numberColumn("field_nV_per_cm", "Field", "nV/cm", "Magnitude of the field."),
		},
		Rows: make([][]Cell, 0, len(m.X)*len(m.Y)),
	}
	xs := make([]Cell, len(m.X))
	for j, v := range m.X {
		xs[j] = sixDigits(v)
	}
	for i, row := range grid {
		h := sixDigits(m.Y[i])
		for j, v := range row {
			t.Rows = append(t.Rows, []Cell{xs[j], h, sixDigits(v)})
		}
	}
	return t
}
