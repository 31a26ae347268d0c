package printing

import (
	"bytes"
	"encoding/binary"
	"math"
	"slices"
	"strings"
	"testing"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

// every prints a figure in all formats and widths: each is a file without a number
// that is none, or an error that names the figure.
func every(t *testing.T, f dossier.Figure) (failed bool) {
	t.Helper()
	for _, wide := range []bool{false, true} {
		s, err := draw(f, wide)
		if err != nil {
			if _, err := New(Options{}).Figure(f, app.FigurePrint{Format: "svg", Wide: wide}); err == nil || !strings.Contains(err.Error(), "figure ") {
				t.Errorf("error %v does not name the figure", err)
			}
			failed = true
			continue
		}
		if math.IsNaN(s.height) || s.height > 20_000 {
			t.Fatalf("the sheet is %g pt high", s.height)
		}
		svg, err := s.svg()
		if err != nil {
			t.Fatal(err)
		}
		if _, style, ok := bytes.Cut(svg, []byte("</style>")); !ok || bytes.Contains(style, []byte(`"NaN`)) || bytes.Contains(style, []byte("Inf ")) || bytes.Contains(style, []byte(" NaN")) {
			t.Fatal("the SVG holds a number that is none")
		}
		if _, err := s.pdf(); err != nil { // its numbers are compressed: they are those of the sheet
			t.Fatal(err)
		}
		for _, it := range s.items {
			for _, p := range placesOf(it) {
				if !finite(p) || math.Abs(p.x) > 1e5 || math.Abs(p.y) > 1e5 {
					t.Fatalf("%T lies at %v", it, p)
				}
			}
		}
	}
	return failed
}

func placesOf(it item) []point {
	switch it := it.(type) {
	case stroked:
		return append(slices.Concat(it.lines...), point{it.width, 0})
	case filled:
		return slices.Concat(it.areas...)
	case marks:
		return append(it.at, point{it.size, it.stroke})
	case words:
		return []point{it.at, {it.size, it.turn}}
	case raster:
		return []point{it.at, {it.width, it.height}}
	}
	return nil
}

// What makes no sense is an error, or is left out; it is never a panic.
func TestHostileFigures(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	good := dossier.Axis{Label: "x", Max: 1}
	with := func(x, y dossier.Axis, l ...dossier.Layer) dossier.Figure {
		return dossier.Figure{Name: "f", Columns: 1, Panels: []dossier.Panel{{X: x, Y: y, Layers: l}}}
	}
	look := dossier.Look{Line: dossier.Ink, Fill: dossier.Light, Mark: dossier.Circle}
	grid := dossier.Contours{X: []float64{0, 1}, Y: []float64{0, 1}, Value: [][]float64{{0, 1}, {nan, inf}}, Levels: []float64{0.5, nan, inf}, Labels: []string{"a"}, Look: look}
	for name, c := range map[string]struct {
		f    dossier.Figure
		fail bool
	}{
		"why":             {dossier.Figure{Name: "f", Why: "no pass was recorded"}, true},
		"no panel":        {dossier.Figure{Name: "f"}, true},
		"NaN axis":        {with(dossier.Axis{Min: nan, Max: 1}, good), true},
		"infinite axis":   {with(good, dossier.Axis{Max: inf}), true},
		"falling axis":    {with(dossier.Axis{Min: 2, Max: 1}, good), true},
		"log of 0":        {with(dossier.Axis{Max: 1, Log: true}, good), true},
		"widest axis":     {with(dossier.Axis{Min: -math.MaxFloat64, Max: math.MaxFloat64}, good), true},
		"no length":       {with(dossier.Axis{Min: 3, Max: 3}, dossier.Axis{Min: 5, Max: 5, Log: true}, dossier.Line{At: []dossier.XY{{X: 3, Y: 5}, {X: 4, Y: 5}}, Look: look}), false},
		"nil layer":       {with(good, good, nil), true},
		"empty layers":    {with(good, good, dossier.Line{}, dossier.Band{}, dossier.Points{}, dossier.Area{}, dossier.Bars{}, dossier.Label{}, dossier.Arrow{}, dossier.Rules{}), false},
		"no grid":         {with(good, good, dossier.Contours{}), true},
		"ragged grid":     {with(good, good, dossier.Contours{X: []float64{0, 1}, Y: []float64{0, 1}, Value: [][]float64{{1}, {1, 2}}}), true},
		"falling grid":    {with(good, good, dossier.Tones{X: []float64{1, 0}, Y: []float64{0, 1}, Value: [][]float64{{1, 2}, {1, 2}}}), true},
		"grid with holes": {with(good, good, grid, dossier.Tones{X: grid.X, Y: grid.Y, Value: grid.Value, Max: nan}, dossier.Tones{X: grid.X, Y: grid.Y, Value: grid.Value, Max: 1, Log: true, Darkest: nan}), false},
		"not finite": {with(good, good,
			dossier.Line{At: []dossier.XY{{X: nan}, {X: inf, Y: -inf}, {X: 0.5, Y: 0.5}, {X: 1e300, Y: -1e300}}, Closed: true, Look: look},
			dossier.Band{X: []float64{0, nan, 1}, Low: []float64{0, 0, -inf}, High: []float64{1, inf}, Look: look},
			dossier.Points{At: []dossier.XY{{X: 0.5, Y: 0.5}, {X: nan, Y: inf}}, Low: []float64{nan}, High: []float64{-inf, 3, 4}, Upright: true, Look: dossier.Look{Mark: 99, Fill: 77, SizePt: inf, WidthPt: nan}},
			dossier.Area{At: []dossier.XY{{X: -inf}, {X: 2, Y: nan}, {X: 0.1, Y: 5}, {X: 9, Y: -3}}, Look: dossier.Look{Fill: dossier.Ink, Hatch: true, Line: dossier.Ink}},
			dossier.Bars{X: []float64{nan, 0.5}, High: []float64{1, inf}, Width: -inf, Look: look},
			dossier.Label{At: dossier.XY{X: nan}, Text: "x"}, dossier.Arrow{From: dossier.XY{X: nan}, Look: look}, dossier.Arrow{From: dossier.XY{X: 0.5, Y: 0.5}, To: dossier.XY{X: 0.5, Y: 0.5}, Look: look},
			dossier.Rules{X: []float64{nan, inf, 0.5}, Y: []float64{-inf}, Look: look}), false},
		"odd words": {dossier.Figure{Name: "f", Title: "\x00<&\xff", Alt: "\u202e\U0001F988", Panels: []dossier.Panel{{
			Title: strings.Repeat("𝔉 ", 3000), Italic: " ", X: dossier.Axis{Label: strings.Repeat("m", 5000), Max: 1, Ticks: []dossier.Tick{{At: nan, Label: "a"}, {At: 0.5, Label: "\xff\n鮫"}}},
			Y: dossier.Axis{Label: "\u0301\u200d", Max: 1, Ticks: []dossier.Tick{{At: 0.2, Label: strings.Repeat("W", 400)}}}, Height: inf, Legend: make([]dossier.LegendEntry, 50), LegendAt: "nowhere",
			Layers: []dossier.Layer{dossier.Label{At: dossier.XY{X: 1, Y: 1}, Text: strings.Repeat("Ω", 500), Align: "middle", SizePt: 1e9}},
		}}}, false},
		"too many panels": {dossier.Figure{Name: "f", Panels: make([]dossier.Panel, 1000)}, true},
	} {
		if failed := every(t, c.f); failed != c.fail {
			t.Errorf("%s: failed %v; want %v", name, failed, c.fail)
		}
	}
	if _, err := New(Options{}).Figure(curves(), app.FigurePrint{Format: "bmp"}); err == nil || !strings.Contains(err.Error(), "svg, pdf or png") {
		t.Errorf("%v", err)
	}
}

// A million places on one spot are one mark; a million all over are an error that
// says so.
func TestAMillionPlaces(t *testing.T) {
	if testing.Short() {
		t.Skip("long under the race detector and on an emulated processor")
	}
	at := make([]dossier.XY, 1_000_000)
	f := dossier.Figure{Name: "f", Panels: []dossier.Panel{{X: dossier.Axis{Max: 1}, Y: dossier.Axis{Max: 1}, Layers: []dossier.Layer{dossier.Points{At: at, Look: dossier.Look{Mark: dossier.Circle, Fill: dossier.Ink}}}}}}
	for i := range at {
		at[i] = dossier.XY{X: 0.5, Y: 0.5 + float64(i%100)*1e-4}
	}
	if svg := printed(t, f, "svg", false); len(svg) > 60_000 {
		t.Errorf("%d bytes", len(svg))
	}
	for i := range at {
		at[i] = dossier.XY{X: math.Mod(float64(i)*0.7548776662, 1), Y: math.Mod(float64(i)*0.5698402909, 1)}
	}
	if _, err := draw(f, false); err == nil || !strings.Contains(err.Error(), "more than can be printed") {
		t.Errorf("%v", err)
	}
}

// numbersOf makes a figure of any bytes: eight a number, odd ones on purpose.
type numbersOf struct{ left []byte }

func (n *numbersOf) float() float64 {
	if len(n.left) == 0 {
		return 0
	}
	kind := n.left[0]
	n.left = n.left[1:]
	switch {
	case kind < 8:
		return [8]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -1, 1e308, -1e308, 5e-324}[kind]
	case kind < 40 && len(n.left) >= 8:
		v := math.Float64frombits(binary.LittleEndian.Uint64(n.left))
		n.left = n.left[8:]
		return v
	}
	return float64(kind)/100 - 1
}

func (n *numbersOf) int(most int) int {
	v := math.Abs(math.Mod(n.float()*100, float64(most)))
	if !(v < float64(most)) {
		return 0
	}
	return int(v)
}

func (n *numbersOf) list() []float64 {
	out := make([]float64, n.int(7))
	for i := range out {
		out[i] = n.float()
	}
	return out
}

func (n *numbersOf) xys() []dossier.XY {
	out := make([]dossier.XY, n.int(7))
	for i := range out {
		out[i] = dossier.XY{X: n.float(), Y: n.float()}
	}
	return out
}

func (n *numbersOf) look() dossier.Look {
	return dossier.Look{Line: dossier.Tone(n.int(9)), WidthPt: n.float(), Dash: n.int(5), Mark: dossier.Mark(n.int(9)), Fill: dossier.Tone(n.int(9)), SizePt: n.float(), Hatch: n.int(2) == 1}
}

func (n *numbersOf) axis() dossier.Axis {
	a := dossier.Axis{Label: "Field (nV/cm)", Min: n.float(), Max: n.float(), Log: n.int(3) == 1, Hidden: n.int(9) == 1}
	for range n.int(5) {
		a.Ticks = append(a.Ticks, dossier.Tick{At: n.float(), Label: number(n.float(), n.int(9))})
	}
	return a
}

func (n *numbersOf) layer() dossier.Layer {
	grid := func() [][]float64 {
		v := make([][]float64, n.int(5))
		for i := range v {
			v[i] = n.list()
		}
		return v
	}
	switch n.int(11) {
	case 0:
		return dossier.Line{At: n.xys(), Closed: n.int(2) == 1, Look: n.look()}
	case 1:
		return dossier.Band{X: n.list(), Low: n.list(), High: n.list(), Look: n.look()}
	case 2:
		return dossier.Points{At: n.xys(), Low: n.list(), High: n.list(), Upright: n.int(2) == 1, Look: n.look()}
	case 3:
		return dossier.Contours{X: []float64{0, n.float(), 2}, Y: []float64{0, 1, n.float()}, Value: [][]float64{{n.float(), n.float(), 1}, {n.float(), 0, n.float()}, {1, n.float(), n.float()}}, Levels: n.list(), Labels: []string{"1", "2"}, Look: n.look()}
	case 4:
		return dossier.Tones{X: n.list(), Y: n.list(), Value: grid(), Min: n.float(), Max: n.float(), Log: n.int(2) == 1, Lightest: n.float(), Darkest: n.float()}
	case 5:
		return dossier.Area{At: n.xys(), Look: n.look()}
	case 6:
		return dossier.Bars{X: n.list(), High: n.list(), Base: n.float(), Width: n.float(), Look: n.look()}
	case 7:
		return dossier.Label{At: dossier.XY{X: n.float(), Y: n.float()}, Text: "plate", Align: []string{"left", "middle", "right"}[n.int(3)], SizePt: n.float()}
	case 8:
		return dossier.Arrow{From: dossier.XY{X: n.float(), Y: n.float()}, To: dossier.XY{X: n.float(), Y: n.float()}, Look: n.look()}
	case 9:
		return dossier.Tones{X: []float64{0, 1}, Y: []float64{0, n.float()}, Value: [][]float64{{n.float(), n.float()}, {n.float(), 1}}, Min: n.float(), Max: n.float(), Log: n.int(2) == 1, Darkest: n.float()}
	}
	return dossier.Rules{X: n.list(), Y: n.list(), Look: n.look()}
}

// FuzzFigure draws figures of any numbers: a file, or an error.
func FuzzFigure(f *testing.F) {
	f.Add([]byte("\xc8\xc8"))
	f.Add([]byte("dd\xc8\x64\x00\x64\x64\xc8\x64\x64\x02\x90\x80\x70\x01\x02\xa0\xb0\xc0"))
	f.Add(bytes.Repeat([]byte{101, 3, 200, 110, 150, 8, 1, 2, 3, 4, 5, 6, 7, 63, 120, 5}, 12))
	f.Add(bytes.Repeat([]byte{100, 200, 103, 180, 0, 130, 107, 99, 2, 250, 140}, 20))
	f.Fuzz(func(t *testing.T, data []byte) {
		n := &numbersOf{left: data}
		fig := dossier.Figure{Name: "f", Columns: n.int(4)}
		for range 1 + n.int(3) {
			p := dossier.Panel{Title: "(a) Raja clavata", Italic: "Raja clavata", X: n.axis(), Y: n.axis(), EqualScale: n.int(3) == 1, Height: n.float(), LegendAt: []string{"below", "top left", "bottom right"}[n.int(3)]}
			for range n.int(4) {
				p.Layers = append(p.Layers, n.layer())
				p.Legend = append(p.Legend, dossier.LegendEntry{Text: "turned", Look: n.look(), Sample: []string{"line", "mark", "area"}[n.int(3)]})
			}
			fig.Panels = append(fig.Panels, p)
		}
		every(t, fig)
	})
}
