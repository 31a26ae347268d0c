package printing

import (
	"fmt"
	"math"

	"brinefield/core/dossier"
)

// The figures of these tests are invented: one of every layer, in the shapes that a
// dossier has.

func runsOf(text string) []dossier.Run { return []dossier.Run{{Text: text}} }

// fieldMap is the potential gradient of a point dipole, 1/r³ with its own shape, on
// a plan of 121 × 81 places.
func fieldMap(name string) dossier.Figure {
	var x, y []float64
	for i := range 121 {
		x = append(x, -60+float64(i))
	}
	for i := range 81 {
		y = append(y, -40+float64(i))
	}
	v := make([][]float64, len(y))
	for r := range y {
		v[r] = make([]float64, len(x))
		for c := range x {
			d := math.Hypot(x[c], y[r])
			cos := x[c] / max(d, 1)
			v[r][c] = 3e6 / math.Pow(d*d+16, 1.5) * math.Sqrt(1+3*cos*cos)
			if math.Abs(x[c]) < 3 && math.Abs(y[r]) < 2 {
				v[r][c] = math.NaN()
			}
		}
	}
	levels := []float64{5, 10, 20, 50, 100, 200, 500, 1000, 2000}
	var labels []string
	for _, l := range levels {
		labels = append(labels, fmt.Sprint(l))
	}
	panel := func(title string) dossier.Panel {
		return dossier.Panel{
			Title: title, EqualScale: true,
			X: dossier.Axis{Label: "Along the plate (cm)", Min: -60, Max: 60},
			Y: dossier.Axis{Label: "Across (cm)", Min: -40, Max: 40},
			Layers: []dossier.Layer{
				dossier.Tones{X: x, Y: y, Value: v, Min: 5, Max: 5000, Log: true, Lightest: 0, Darkest: 0.45},
				dossier.Contours{X: x, Y: y, Value: v, Levels: levels, Labels: labels, Look: dossier.Look{Line: dossier.Strong, WidthPt: 0.5}},
				dossier.Area{At: []dossier.XY{{X: -35, Y: -30}, {X: 35, Y: -30}, {X: 35, Y: 30}, {X: -35, Y: 30}}, Look: dossier.Look{Line: dossier.Ink, Dash: 1, WidthPt: 0.7}},
				dossier.Arrow{From: dossier.XY{X: -4}, To: dossier.XY{X: 4}, Look: dossier.Look{Line: dossier.Ink, WidthPt: 1}},
				dossier.Points{At: []dossier.XY{{X: 12, Y: 8}, {X: -9, Y: 14}, {X: 20, Y: -11}, {X: -22, Y: -6}, {X: 3, Y: 19}}, Look: dossier.Look{Mark: dossier.Circle, Fill: dossier.Accent, Line: dossier.Paper}},
				dossier.Points{At: []dossier.XY{{X: 30, Y: 21}, {X: -41, Y: 24}, {X: 8, Y: -31}}, Look: dossier.Look{Mark: dossier.Triangle, Fill: dossier.Paper, Line: dossier.Ink}},
				dossier.Label{At: dossier.XY{X: 34, Y: -29}, Text: "plate", Align: "right", Above: true},
			},
			LegendAt: "below",
			Legend: []dossier.LegendEntry{
				{Text: "turned", Look: dossier.Look{Mark: dossier.Circle, Fill: dossier.Accent, Line: dossier.Paper}, Sample: "mark"},
				{Text: "passed by", Look: dossier.Look{Mark: dossier.Triangle, Fill: dossier.Paper, Line: dossier.Ink}, Sample: "mark"},
				{Text: "field (nV/cm)", Look: dossier.Look{Line: dossier.Strong, WidthPt: 0.5}, Sample: "line"},
			},
		}
	}
	return dossier.Figure{
		Name: name, Title: "Field on the plan", Alt: "Invented field of one pair, 5 to 2000 nV/cm, with 8 passes.", Columns: 2,
		Panels:  []dossier.Panel{panel("(a) Pair A, 10 µA, 4.5 S/m"), panel("(b) Pair B, 5 µA, 4.5 S/m")},
		Caption: runsOf("Invented."),
	}
}

// curves are four panels with bands, hatch, bars, steps and logarithmic axes.
func curves() dossier.Figure {
	var x, mid, low, high []float64
	for i := range 201 {
		v := math.Pow(10, -0.5+4*float64(i)/200)
		p := 1 / (1 + math.Pow(40/v, 1.4))
		x, mid = append(x, v), append(mid, p)
		low, high = append(low, p*0.8), append(high, min(1, p*1.15+0.03))
	}
	var line, other []dossier.XY
	for i := range x {
		line = append(line, dossier.XY{X: x[i], Y: mid[i]})
		other = append(other, dossier.XY{X: x[i], Y: mid[i] * mid[i]})
	}
	field := dossier.Axis{Label: "Field at the animal (nV cm⁻¹)", Min: 0.5, Max: 2000, Log: true}
	share := dossier.Axis{Label: "Share that turned", Min: 0, Max: 1}
	threshold := dossier.Panel{
		Title: "(a) Scyliorhinus canicula", Italic: "Scyliorhinus canicula", X: field, Y: share,
		Layers: []dossier.Layer{
			dossier.Rules{Y: []float64{0.25, 0.5, 0.75}, Look: dossier.Look{Line: dossier.Faint, WidthPt: 0.25}},
			dossier.Band{X: x, Low: low, High: high, Look: dossier.Look{Fill: dossier.Light}},
			dossier.Band{X: x, Low: scaled(low, 0.5), High: scaled(low, 0.8), Look: dossier.Look{Fill: dossier.Middle, Hatch: true}},
			dossier.Line{At: line, Look: dossier.Look{Line: dossier.Ink, WidthPt: 1}},
			dossier.Line{At: other, Look: dossier.Look{Line: dossier.Accent, Dash: 1, WidthPt: 1}},
			dossier.Points{At: []dossier.XY{{X: 5, Y: 0.05}, {X: 20, Y: 0.3}, {X: 80, Y: 0.7}}, Low: []float64{2, 8, math.Inf(-1)}, High: []float64{9, 60, 300}, Look: dossier.Look{Mark: dossier.Square, Fill: dossier.Ink}},
		},
		LegendAt: "top left",
		Legend: []dossier.LegendEntry{
			{Text: "model", Look: dossier.Look{Line: dossier.Ink, WidthPt: 1}, Sample: "line"},
			{Text: "95 % interval", Look: dossier.Look{Fill: dossier.Light}, Sample: "area"},
			{Text: "old data", Look: dossier.Look{Line: dossier.Accent, Dash: 1, WidthPt: 1}, Sample: "line"},
			{Text: "without lamps", Look: dossier.Look{Fill: dossier.Middle, Hatch: true}, Sample: "area"},
		},
	}
	var animals []dossier.Tick
	var places []dossier.XY
	var from, to []float64
	for i := range 9 {
		animals = append(animals, dossier.Tick{At: float64(i), Label: fmt.Sprintf("Animal %d", i+1)})
		places = append(places, dossier.XY{X: 10 * math.Exp(float64(i)/4), Y: float64(i)})
		from, to = append(from, 6*math.Exp(float64(i)/4)), append(to, 17*math.Exp(float64(i)/4))
	}
	from[8], to[7] = math.NaN(), math.Inf(1)
	individuals := dossier.Panel{
		Title: "(b) Individuals of Raja clavata", Italic: "Raja clavata", X: field, Y: dossier.Axis{Label: "", Min: -0.7, Max: 8.7, Ticks: animals},
		Layers: []dossier.Layer{
			dossier.Rules{X: []float64{30}, Look: dossier.Look{Line: dossier.Middle, Dash: 2}},
			dossier.Points{At: places, Low: from, High: to, Look: dossier.Look{Mark: dossier.Diamond, Fill: dossier.Ink, Line: dossier.Ink, SizePt: 3.5}},
		},
	}
	days := []dossier.Tick{}
	for d := range 14 {
		days = append(days, dossier.Tick{At: float64(d), Label: fmt.Sprintf("%d July", d+1)})
	}
	timeline := dossier.Panel{
		Title: "(c) Season", X: dossier.Axis{Label: "Date, local time", Min: -0.6, Max: 13.6, Ticks: days}, Y: dossier.Axis{Label: "Passes of a day", Min: 0, Max: 12000}, Height: 0.5,
		Layers: []dossier.Layer{
			dossier.Bars{X: []float64{0, 1, 2, 4, 5, 8, 9, 10, 13}, High: []float64{1200, 4000, 2200, 9000, 11000, 300, 5000, 8000, 2000}, Width: 0.8, Look: dossier.Look{Fill: dossier.Light, Line: dossier.Ink, WidthPt: 0.4}},
			dossier.Bars{X: []float64{0, 1, 2, 4, 5, 8, 9, 10, 13}, High: []float64{200, 1000, 700, 3000, 2000, 100, 900, 3000, 1500}, Width: 0.8, Look: dossier.Look{Fill: dossier.Ink, Hatch: true, Line: dossier.Ink, WidthPt: 0.4}},
			dossier.Label{At: dossier.XY{X: 6.6, Y: 9000}, Text: "storm", Align: "middle"},
		},
	}
	marks := dossier.Panel{
		Title: "(d) Marks and dashes, with a title that is long enough to be broken into two lines", X: dossier.Axis{Label: "Time of the whole long name (s)", Min: -5, Max: 5}, Y: dossier.Axis{Label: "Potential (µV)", Min: -1e-3, Max: 1e-3},
		LegendAt: "below",
	}
	for m := dossier.Circle; m <= dossier.Bar; m++ {
		look := dossier.Look{Mark: m, Fill: dossier.Middle, Line: dossier.Ink, SizePt: 5}
		marks.Layers = append(marks.Layers, dossier.Points{At: []dossier.XY{{X: -4 + float64(m), Y: 5e-4}}, Look: look})
		marks.Legend = append(marks.Legend, dossier.LegendEntry{Text: fmt.Sprintf("mark %d", m), Look: look, Sample: "mark"})
	}
	for d := range 4 {
		marks.Layers = append(marks.Layers, dossier.Line{At: []dossier.XY{{X: -4, Y: -2e-4 * float64(d)}, {X: 9, Y: -2e-4 * float64(d)}}, Look: dossier.Look{Line: dossier.Tone(3 + d), Dash: d}})
	}
	return dossier.Figure{Name: "curves", Title: "Every layer", Alt: "Invented curves.", Columns: 2, Panels: []dossier.Panel{threshold, individuals, timeline, marks}}
}

func scaled(v []float64, by float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		out[i] = v[i] * by
	}
	return out
}
