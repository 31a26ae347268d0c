package dossier

import (
	"math"

	"brinefield/core/study"
)

// Looks of maps and sections.
var (
	contourLook   = Look{Line: Ink, WidthPt: 0.5}
	plateLook     = Look{Line: Ink, WidthPt: 0.9, Dash: 1}
	wallLook      = Look{Line: Ink, WidthPt: 1.4}
	plateSolid    = Look{Line: Ink, WidthPt: 0.5, Fill: Strong}
	sedimentLook  = Look{Line: Ink, WidthPt: 0.5, Hatch: true}
	floorLook     = Look{Line: Ink, WidthPt: 1.2}
	axisArrow     = Look{Line: Ink, WidthPt: 1.1}
	otherArrow    = Look{Line: Ink, WidthPt: 0.6}
	positiveLook  = Look{Line: Ink, WidthPt: 0.6, Mark: Circle, Fill: Ink, SizePt: 3}
	negativeLook  = Look{Line: Ink, WidthPt: 0.6, Mark: Circle, Fill: Paper, SizePt: 3}
	otherPairLook = Look{Line: Ink, WidthPt: 0.6, Mark: Square, Fill: Paper, SizePt: 2.6}
)

// mapSmallestShare leaves out contours that enclose less of the map: round an
// electrode they would run into one blot.
const mapSmallestShare = 0.0012

func planFigure(in *Input) Figure {
	s := newSketch(in, "field-map", "Field round a pair, from above", 1)
	m, why := mapOf(in, "plan")
	if m == nil {
		return s.cannot(why)
	}
	pair := pairOf(in, m.Pair)
	grid := soundGrid(m)
	levels := contourLevels(grid)
	x0, x1, y0, y1 := m.X[0], m.X[len(m.X)-1], m.Y[0], m.Y[len(m.Y)-1]
	p := Panel{
		X:          Axis{Label: "x (cm)", Min: x0, Max: x1},
		Y:          Axis{Label: "y (cm)", Min: y0, Max: y1},
		EqualScale: true, LegendAt: "below",
	}
	p.Layers = append(p.Layers, fieldLayers(m, grid, levels)...)
	p.Legend = append(p.Legend, LegendEntry{Text: "field, nV/cm", Look: contourLook, Sample: "line"})
	if st := in.Study; st != nil {
		if plates := plateLines(st); len(plates) > 0 {
			p.Layers = append(p.Layers, plates...)
			p.Legend = append(p.Legend, LegendEntry{Text: "edge of a plate", Look: plateLook, Sample: "line"})
		}
		if wall := wallOf(st.Enclosure); wall != nil {
			p.Layers = append(p.Layers, Line{At: wall, Closed: true, Look: wallLook})
			p.Legend = append(p.Legend, LegendEntry{Text: "wall", Look: wallLook, Sample: "line"})
			p.X.Min, p.X.Max = holding(x0, x1, wall, func(at XY) float64 { return at.X })
			p.Y.Min, p.Y.Max = holding(y0, y1, wall, func(at XY) float64 { return at.Y })
		}
		p.Layers = append(p.Layers, pairLayers(st, m.Pair, &p)...)
		p.Layers = append(p.Layers, northArrow(st, &p)...)
	}
	p.Legend = append(p.Legend,
		LegendEntry{Text: "positive electrode of the pair driven", Look: positiveLook, Sample: "mark"},
		LegendEntry{Text: "negative", Look: negativeLook, Sample: "mark"})
	if in.Study != nil && len(in.Study.Pairs) > 1 {
		p.Legend = append(p.Legend, LegendEntry{Text: "other pairs", Look: otherPairLook, Sample: "mark"})
	}
	s.say("Magnitude of the electric field in the water at ", s.number("height of the map", m.HeightCm, 3, "cm"),
		" above ", s.words("heights are above", aboveWhat(in)), ", ")
	sayDriven(s, m)
	s.say(" Lines of equal field at ")
	sayLevels(s, levels)
	s.say("; the darker, the stronger, by the logarithm. Arrows point from the negative to the positive electrode of each pair, longer than true where the pair is small.")
	if pair != nil {
		s.say(" Electrodes of pair ", s.words("pair", m.Pair), " are ", s.number("separation", pair.SeparationM*100, 3, "cm"), " apart.")
	}
	if in.Study != nil && in.Study.Site.XAxisBearingDeg.Known {
		s.say(" N: true north.")
	} else {
		s.say(" Where north lies was not recorded.")
	}
	sayMethod(s, m)
	alt := "Map of the field round pair " + m.Pair + " from above with lines of equal field, the electrodes and whatever plates and walls there are. " + levelRange(s, grid)
	return s.done(in, alt, []Panel{p}, gridData(m, grid, "x_cm", "y_cm", "Along x", "Along y"), outlineData(in))
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
			p.Layers = append(p.Layers, electrodeLayers(XY{0, pair.HeightM * 100}, 0, pair.SeparationM*100, 0.05*(x1-x0))...)
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
	sayMethod(s, m)
	alt := "Section along the axis of pair " + m.Pair + " with lines of equal field, height upwards. " + levelRange(s, grid)
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
		case !soundAxes(m):
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
			if v > 0 && !math.IsInf(v, 1) {
				known++
			}
		}
	}
	return known >= 4
}

func rising(v []float64) bool {
	for i, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) || i > 0 && !(x > v[i-1]) {
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
			if !(v > 0) || math.IsInf(v, 1) {
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
				if v >= level || math.IsNaN(v) {
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
		if in.Study.Pairs[i].Label == label {
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
	s.say("were pair ", s.words("pair", m.Pair), " driven with ", s.number("current", m.CurrentUA, 3, "µA"),
		" in water of ", s.number("conductivity", m.WaterSPM, 3, "S/m"), ".")
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

func sayMethod(s *sketch, m *FieldMap) {
	if m.Method != "" {
		s.say(" Worked out by: ", s.words("method", m.Method), ".")
	}
	if m.Error > 0 && !math.IsInf(m.Error, 0) {
		s.say(" Its own estimate of its relative error is ", s.number("relative error", m.Error*100, 2, "%"), ".")
	}
}

func levelRange(s *sketch, grid [][]float64) string {
	low, high := gridEnds(grid)
	return "The field is " + s.number("weakest field drawn", low, 2, "nV/cm") + " to " + s.number("strongest field drawn", high, 2, "nV/cm") + "."
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
