package printing

import (
	"image"
	"image/color"
	"math"

	"brinefield/core/dossier"
)

// drawing is a figure laid out: what is put on the paper, in order. Lengths are
// points (1/72 inch) from the top left, y downwards. All three formats are
// written from the same sheet, so they cannot disagree.
type drawing struct {
	width, height float64
	title, alt    string
	items         []item
}

// item is one thing on a sheet: [stroked], [filled], [marks], [words] or [raster].
type item interface{ item() }

type point struct{ x, y float64 }

// stroked are lines of one look.
type stroked struct {
	lines  [][]point
	closed bool
	colour color.NRGBA
	width  float64
	dash   []float64
}

// filled are areas; where they overlap, by the even-odd rule.
type filled struct {
	areas  [][]point
	colour color.NRGBA
}

// marks are points of one look; all are filled first and outlined then, so that
// outlines of crowded marks stay visible.
type marks struct {
	shape  dossier.Mark
	size   float64
	at     []point
	fill   *color.NRGBA
	line   *color.NRGBA
	stroke float64
}

// words are one line of text that begins at a place on its base line.
type words struct {
	at     point
	runs   []textRun
	size   float64
	turn   float64 // degrees, counter-clockwise
	colour color.NRGBA
	halo   float64 // width of paper around the letters; 0 = none
}

type textRun struct {
	text   string
	italic bool
}

// raster is a picture in shades of grey, drawn smooth.
type raster struct {
	at            point
	width, height float64
	grey          *image.Gray
}

func (stroked) item() {}
func (filled) item()  {}
func (marks) item()   {}
func (words) item()   {}
func (raster) item()  {}

func (s *drawing) put(it item) { s.items = append(s.items, it) }

// say puts runs of text; align is how they lie at the place: "left", "middle" or
// "right".
func (s *drawing) say(at point, runs []textRun, size, turn float64, align string, halo float64) {
	w := runsWidth(runs, size)
	if w == 0 {
		return
	}
	back := 0.0
	switch align {
	case "middle":
		back = w / 2
	case "right":
		back = w
	}
	rad := turn * math.Pi / 180
	at.x -= back * math.Cos(rad)
	at.y += back * math.Sin(rad)
	s.put(words{at: at, runs: runs, size: size, turn: turn, colour: colours[dossier.Ink], halo: halo})
}

func plainRun(text string) []textRun { return []textRun{{text: text}} }

// markOutline gives the corners of a mark around the origin: closed shapes, or open
// strokes. A circle has none.
func markOutline(m dossier.Mark, size float64) (lines [][]point, closed bool) {
	r := size / 2
	switch m {
	case dossier.Square:
		a := r * 0.89 // as much ink as the circle of the same size
		return [][]point{{{-a, -a}, {a, -a}, {a, a}, {-a, a}}}, true
	case dossier.Triangle:
		a := r * 1.25
		return [][]point{{{0, -a}, {a * 0.866, a / 2}, {-a * 0.866, a / 2}}}, true
	case dossier.Diamond:
		a := r * 1.25
		return [][]point{{{0, -a}, {a, 0}, {0, a}, {-a, 0}}}, true
	case dossier.Cross:
		a := r * 0.9
		return [][]point{{{-a, -a}, {a, a}}, {{-a, a}, {a, -a}}}, false
	case dossier.Plus:
		a := r * 1.1
		return [][]point{{{-a, 0}, {a, 0}}, {{0, -a}, {0, a}}}, false
	case dossier.Bar:
		return [][]point{{{0, -r * 1.2}, {0, r * 1.2}}}, false
	}
	return nil, true
}
