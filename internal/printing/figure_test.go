package printing

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"brinefield/core/dossier"
	"brinefield/internal/app"
)

func printed(t testing.TB, f dossier.Figure, format string, wide bool) []byte {
	t.Helper()
	b, err := New(Options{}).Figure(f, app.FigurePrint{Format: format, Wide: wide})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// lightness is CIE L* (CIE 15:2004, 8.2.1) of an sRGB colour (IEC 61966-2-1).
func lightness(c color.NRGBA) float64 {
	linear := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	y := 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
	return 116*math.Cbrt(y) - 16 // all tones are lighter than the straight part
}

// A grey copy keeps tones apart by 15 % of the way from black to white at least.
func TestTonesInGrey(t *testing.T) {
	for tone := dossier.Paper; tone < dossier.Ink; tone++ {
		lighter, darker := lightness(colours[tone]), lightness(colours[tone+1])
		if lighter-darker < 15 {
			t.Errorf("tone %d has L* %.1f, the next %.1f: less than 15 apart", tone, lighter, darker)
		}
	}
	if a, s := lightness(colours[dossier.Accent]), lightness(colours[dossier.Strong]); math.Abs(a-s) > 3 {
		t.Errorf("Accent has L* %.1f, Strong %.1f: it is to print as dark", a, s)
	}
}

// An SVG is well-formed, tells its title and alternative text, holds its letters,
// and asks for nothing outside.
func TestSVG(t *testing.T) {
	for _, f := range []dossier.Figure{fieldMap("map"), curves()} {
		f.Alt = `Field < 5 nV/cm & "more"`
		for _, wide := range []bool{false, true} {
			svg := printed(t, f, "svg", wide)
			if len(svg) > 150_000 {
				t.Errorf("%s: %d bytes; at most 150 000", f.Name, len(svg))
			}
			dec := xml.NewDecoder(bytes.NewReader(svg))
			var path []string
			text := map[string]string{}
			for {
				tok, err := dec.Token()
				if errors.Is(err, io.EOF) {
					break
				}
				if err != nil {
					t.Fatal(err)
				}
				switch tok := tok.(type) {
				case xml.StartElement:
					path = append(path, tok.Name.Local)
					for _, a := range tok.Attr {
						if a.Name.Local == "href" && !strings.HasPrefix(a.Value, "data:image/png;base64,") {
							t.Errorf("%s points to %.60s", tok.Name.Local, a.Value)
						}
						if len(path) == 1 && a.Name.Local == "role" {
							text["role"] = a.Value
						}
						if len(path) == 1 && a.Name.Local == "width" {
							text["width"] = a.Value
						}
					}
				case xml.EndElement:
					path = path[:len(path)-1]
				case xml.CharData:
					text[strings.Join(path, "/")] += string(tok)
				}
			}
			width := map[bool]string{false: "88mm", true: "180mm"}[wide]
			if text["role"] != "img" || text["svg/title"] != f.Title || text["svg/desc"] != f.Alt || text["width"] != width {
				t.Errorf("role %q, title %q, desc %q, width %q", text["role"], text["svg/title"], text["svg/desc"], text["width"])
			}
			if !strings.Contains(text["svg/style"], "url(data:font/woff;base64,") || strings.Contains(text["svg/style"], "http") {
				t.Error("the letters are not in the file")
			}
			if f.Name == "curves" {
				if !strings.Contains(text["svg/g/text/tspan"], "Scyliorhinus canicula") || !bytes.Contains(svg, []byte(`font-style="italic">Raja clavata<`)) {
					t.Error("species are not in italics")
				}
				if n := bytes.Count(svg, []byte("stroke-dasharray")); n < 5 {
					t.Errorf("%d dashed lines; the figure has 5 and samples of them", n)
				}
			}
			if !bytes.Contains(svg, []byte(">−")) || regexp.MustCompile(`>-\d`).Match(svg) {
				t.Error("negative ticks need the minus sign U+2212")
			}
		}
	}
}

// pHYs of 300 dpi is 11 811 pixels a metre (PNG, third edition, 11.3.4.3).
func TestPNG(t *testing.T) {
	for _, wide := range []bool{false, true} {
		b := printed(t, curves(), "png", wide)
		img, err := png.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		want := math.Round(88 / 25.4 * 300)
		if wide {
			want = math.Round(180 / 25.4 * 300)
		}
		if float64(img.Bounds().Dx()) != want {
			t.Errorf("%d pixels wide; want %g", img.Bounds().Dx(), want)
		}
		at := bytes.Index(b, []byte("pHYs"))
		if at < 0 || binary.BigEndian.Uint32(b[at+4:]) != 11811 || binary.BigEndian.Uint32(b[at+8:]) != 11811 || b[at+12] != 1 {
			t.Error("the file does not say 300 dpi")
		}
		if !wide && !bytes.Equal(b, printed(t, curves(), "png", wide)) {
			t.Error("two prints of one figure differ")
		}
		if r, g, bl, _ := img.At(1, 1).RGBA(); r != 0xffff || g != 0xffff || bl != 0xffff {
			t.Error("the paper is not white")
		}
	}
}

// Fonts are embedded and cut, as poppler sees them; the page has the size of the
// column, and no time of making.
func TestPDF(t *testing.T) {
	a, b := printed(t, curves(), "pdf", false), printed(t, curves(), "pdf", false)
	if !bytes.Equal(a, b) {
		t.Error("two prints of one figure differ")
	}
	fonts := outside(t, "pdffonts")
	name := filepath.Join(t.TempDir(), "figure.pdf")
	if err := os.WriteFile(name, a, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(fonts, name).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")[2:]
	if len(lines) != 2 {
		t.Errorf("%d fonts; want upright and italic:\n%s", len(lines), out)
	}
	for _, l := range lines {
		if !strings.Contains(l, "LiberationSans") || strings.Count(l, " yes") != 3 {
			t.Errorf("not embedded, cut and readable: %s", l)
		}
	}
	out, err = exec.Command(filepath.Join(filepath.Dir(fonts), "pdfinfo"), "-isodates", name).CombinedOutput()
	if err != nil || !strings.Contains(string(out), "1980-01-01T") || !regexp.MustCompile(`Page size: +249\.45 x`).Match(out) {
		t.Errorf("%v: %s", err, out)
	}
	out, err = exec.Command(filepath.Join(filepath.Dir(fonts), "pdftotext"), name, "-").CombinedOutput()
	if err != nil || !strings.Contains(string(out), "Scyliorhinus canicula") || !strings.Contains(string(out), "10 000") && !strings.Contains(string(out), "10\u00a0000") {
		t.Errorf("%v: the words cannot be read: %s", err, out)
	}
}

// No words of a figure lie over others or leave the sheet; none is smaller than
// 6 pt, no line thinner than 0.25 pt.
func TestWordsKeepApart(t *testing.T) {
	if err := loadFonts(); err != nil {
		t.Fatal(err)
	}
	for _, f := range []dossier.Figure{fieldMap("map"), curves()} {
		for _, wide := range []bool{false, true} {
			s, err := draw(f, wide)
			if err != nil {
				t.Fatal(err)
			}
			checkSheet(t, f.Name, s)
		}
	}
}

func checkSheet(t *testing.T, name string, s *drawing) {
	t.Helper()
	var rooms []box
	var texts []string
	for _, it := range s.items {
		switch it := it.(type) {
		case words:
			r := it.room()
			if it.turn == 90 {
				r = box{it.at.x - it.size*0.74, it.at.y - runsWidth(it.runs, it.size), it.at.x + it.size*0.2, it.at.y}
			} else if it.turn != 0 {
				continue
			}
			if it.size < leastPt {
				t.Errorf("%s: %v is set at %g pt", name, it.runs, it.size)
			}
			if r.x0 < 0 || r.y0 < 0 || r.x1 > s.width || r.y1 > s.height {
				t.Errorf("%s: %v leaves the sheet: %+v of %g × %g", name, it.runs, r, s.width, s.height)
			}
			for i, o := range rooms {
				if r.meets(o) {
					t.Errorf("%s: %v lies over %s", name, it.runs, texts[i])
				}
			}
			rooms, texts = append(rooms, r), append(texts, fmt.Sprint(it.runs))
		case stroked:
			if it.width < hairline {
				t.Errorf("%s: a line of %g pt", name, it.width)
			}
		}
	}
}

// Labels of axes of any range and width never touch.
func TestTicksKeepApart(t *testing.T) {
	if err := loadFonts(); err != nil {
		t.Fatal(err)
	}
	ranges := [][2]float64{{0, 1}, {-1, 1}, {0.1, 0.1}, {1e-9, 3e-9}, {-4e8, 9e12}, {0, 12345}, {99.9, 100.1}, {1e-300, 1e300}, {0.5, 2000}, {3, 4}, {1e3, 1e9}}
	for _, r := range ranges {
		for _, log := range []bool{false, true} {
			if log && r[0] <= 0 {
				continue
			}
			a := dossier.Axis{Min: r[0], Max: r[1], Log: log}
			s, err := scaleOf(a)
			if err != nil {
				t.Fatal(err)
			}
			for width := 20.0; width < 500; width *= 1.3 {
				l := xAxis(a, s, width)
				if !fits(l.marks, width) {
					t.Errorf("%v log %v on %g pt: labels touch: %v", r, log, width, l.marks)
				}
				if n := named(l.marks); width > 100 && (n < 2 || n > 40) && r[1]/r[0] < 1e100 {
					t.Errorf("%v log %v on %g pt has %d labels", r, log, width, n)
				}
			}
		}
	}
	for label, want := range map[string]string{
		number(-0.5, 1): "−0.5", number(12345, 0): "12\u00a0345", number(-9999, 0): "−9999", number(0, 0): "0", number(3e9, 0): "3×10⁹",
		powerLabel(1, -5): "10⁻⁵", powerLabel(2, -1): "0.2", powerLabel(5, 3): "5000", trueMinus("-3.5"): "−3.5", trueMinus("-day"): "-day",
	} {
		if label != want {
			t.Errorf("%q; want %q", label, want)
		}
	}
}

// A field that falls as 1/r³ has circles for lines of equal value, with radii in
// closed form: (strength/level)^(1/3). Between nodes a power is followed exactly
// along an axis, so 0.2 % of a cell of the grid is left for what runs across.
func TestIsolines(t *testing.T) {
	var x []float64
	for i := range 81 {
		x = append(x, float64(i)-40+0.3)
	}
	v := make([][]float64, len(x))
	for r := range v {
		for c := range x {
			v[r] = append(v[r], 1e5/math.Pow(math.Hypot(x[c], x[r]), 3))
		}
	}
	for _, level := range []float64{3, 10, 40} {
		rings := isolines(x, x, v, level)
		if len(rings) != 1 || rings[0][0] != rings[0][len(rings[0])-1] {
			t.Fatalf("level %g: %d lines; want one ring", level, len(rings))
		}
		want := math.Cbrt(1e5 / level)
		for _, p := range rings[0] {
			if r := math.Hypot(p.X, p.Y); math.Abs(r-want) > 0.01 {
				t.Errorf("level %g: radius %.4f; want %.4f ± 0.01", level, r, want)
			}
		}
	}
	// Two hills that touch at a saddle: the lines neither cross nor get lost.
	saddle := [][]float64{{1, 0, 1}, {0, 0.4, 0}, {1, 0, 1}}
	if n := len(isolines([]float64{0, 1, 2}, []float64{0, 1, 2}, saddle, 0.5)); n != 4 {
		t.Errorf("%d lines around four hills", n)
	}
}

// Hatching is drawn: lines a gap apart are together as long as the area divided by
// the gap (within one line's length). Clipping keeps the area of a square cut by a
// box: closed forms.
func TestHatchAndClip(t *testing.T) {
	square := []point{{10, 10}, {110, 10}, {110, 60}, {10, 60}}
	sum := 0.0
	for _, l := range hatch(square, 2.5) {
		sum += math.Hypot(l[1].x-l[0].x, l[1].y-l[0].y)
		if math.Abs((l[1].x-l[0].x)+(l[1].y-l[0].y)) > 1e-9 {
			t.Fatal("a line is not at 45°")
		}
	}
	if want := 100 * 50 / 2.5; math.Abs(sum-want) > 71 {
		t.Errorf("%.0f pt of lines; want %.0f ± 71", sum, want)
	}
	cut := clipArea(square, box{50, 0, 90, 40})
	area := 0.0
	for i, p := range cut {
		q := cut[(i+1)%len(cut)]
		area += (p.x*q.y - q.x*p.y) / 2
	}
	if math.Abs(math.Abs(area)-40*30) > 1e-9 {
		t.Errorf("area %g; want 1200", area)
	}
	line := clipLine([]point{{0, 20}, {200, 20}, {200, 30}, {0, 30}}, box{50, 0, 90, 40})
	if len(line) != 2 || line[0][0] != (point{50, 20}) || line[0][1] != (point{90, 20}) || line[1][1] != (point{50, 30}) {
		t.Errorf("%v", line)
	}
}

// Shades lie where their values are: dark at the one high corner, white where
// nothing is known.
func TestTones(t *testing.T) {
	f := dossier.Figure{Name: "t", Panels: []dossier.Panel{{
		X: dossier.Axis{Max: 1, Hidden: true}, Y: dossier.Axis{Max: 1, Hidden: true}, EqualScale: true,
		Layers: []dossier.Layer{dossier.Tones{X: []float64{0, 0.5, 1}, Y: []float64{0, 0.5, 1}, Value: [][]float64{{0, 0, 1}, {0, 0, 0}, {math.NaN(), 0, 0}}, Max: 1, Darkest: 0.5}},
	}}}
	img, err := png.Decode(bytes.NewReader(printed(t, f, "png", false)))
	if err != nil {
		t.Fatal(err)
	}
	b := img.Bounds()
	grey := func(x, y float64) uint8 {
		return color.GrayModel.Convert(img.At(int(x*float64(b.Dx())), int(y*float64(b.Dy())))).(color.Gray).Y
	}
	if g := grey(0.97, 0.97); g > 145 || g < 120 {
		t.Errorf("lower right %d; the value 1 prints as half black", g)
	}
	if g := grey(0.5, 0.5); g < 250 {
		t.Errorf("middle %d; the value 0 prints as paper", g)
	}
	if _, ok := img.(*image.Paletted); !ok {
		t.Error("the picture is not kept in 256 colours")
	}
}

// A legend keeps off the data: it takes a free corner, or goes below.
func TestLegendKeepsOffTheData(t *testing.T) {
	if err := loadFonts(); err != nil {
		t.Fatal(err)
	}
	look := dossier.Look{Line: dossier.Ink}
	f := dossier.Figure{Name: "f", Panels: []dossier.Panel{{
		X: dossier.Axis{Max: 1}, Y: dossier.Axis{Max: 1}, LegendAt: "top left",
		Legend: []dossier.LegendEntry{{Text: "field met", Look: look, Sample: "line"}},
		Layers: []dossier.Layer{dossier.Line{At: []dossier.XY{{X: 0, Y: 1}, {X: 0.2, Y: 0.8}}, Look: look}},
	}}}
	place := func() point {
		s, err := draw(f, false)
		if err != nil {
			t.Fatal(err)
		}
		for _, it := range s.items {
			if w, ok := it.(words); ok && w.runs[0].text == "field met" {
				return point{w.at.x / s.width, w.at.y / s.height}
			}
		}
		t.Fatal("the legend is missing")
		return point{}
	}
	if p := place(); p.x < 0.5 || p.y > 0.3 {
		t.Errorf("at %v of the sheet; the top right corner is free", p)
	}
	f.Panels[0].Layers = append(f.Panels[0].Layers, dossier.Line{At: []dossier.XY{{X: 0, Y: 0}, {X: 0.1, Y: 0.1}, {X: 0.9, Y: 0.1}, {X: 0.95, Y: 0.95}}, Look: look})
	if p := place(); p.y < 0.9 {
		t.Errorf("at %v of the sheet; no corner is free, so it goes below", p)
	}
}

// Any number of goroutines draw at once, and get the same bytes.
func TestFiguresAtOnce(t *testing.T) {
	f := curves()
	want := printed(t, f, "svg", false)
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			got, err := New(Options{}).Figure(f, app.FigurePrint{Format: "svg"})
			if err != nil || !bytes.Equal(got, want) {
				t.Errorf("%d bytes, %v: not those of one alone", len(got), err)
			}
		})
	}
	all.Wait()
}
