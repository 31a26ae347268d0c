package dossier

import "time"

// Figure is one picture, described and not yet drawn. Lengths on its axes are
// in the units that the axes name.
type Figure struct {
	Name    string  `json:"name"`    // stem of its files: small letters, digits and hyphens
	Title   string  `json:"title"`   // a few words
	Caption []Run   `json:"caption"` // what is seen, with n of passes, individuals and trials, the model and the interval
	Alt     string  `json:"alt"`     // for who cannot see it: what it shows and its main numbers
	Columns int     `json:"columns"` // panels side by side in the wide form; the narrow form stacks them
	Panels  []Panel `json:"-"`
	Data    []Table `json:"-"`             // the numbers that are drawn, one table a kind of row
	Why     string  `json:"why,omitempty"` // why there is nothing to draw; then Panels is empty
}

// Panel is one pair of axes with what is drawn on them, in order.
type Panel struct {
	Title      string // "(a) Scyliorhinus canicula"; a species is set in italics by Italic
	Italic     string // the part of Title that is a scientific name; "" = none
	X, Y       Axis
	EqualScale bool // one unit is as long on x as on y: maps
	Layers     []Layer
	Legend     []LegendEntry // nil: none
	LegendAt   string        // "top left", "top right", "bottom left", "bottom right", "below"
	Height     float64       // of the plotting area, as a share of its width; 0 = 0.75. Not where EqualScale
}

// Axis says what is on an axis and how far it goes.
type Axis struct {
	Label    string // with its unit, as it is printed
	Min, Max float64
	Log      bool
	Ticks    []Tick // nil: the printer chooses
	Hidden   bool   // no ticks and no line
}

// Tick is one mark of an axis.
type Tick struct {
	At    float64
	Label string // "" = a minor tick
}

// LegendEntry explains one look.
type LegendEntry struct {
	Text   string
	Look   Look
	Sample string // "line", "mark", "area"
	Italic string // the part of Text that is a scientific name; "" = none
}

// Tone is how dark a thing is printed. Tones keep apart in greyscale; hues come
// second.
type Tone int

// The tones, from none to darkest.
const (
	NoTone Tone = iota // not drawn
	Paper              // white
	Faint              // hairlines and grids
	Light              // bands
	Middle             // what is beside the matter
	Strong             // a second matter
	Ink                // the matter, and all text
	Accent             // the matter where colour helps: a hue that prints as dark as Strong
)

// Look is how something is drawn. Whatever has to be told apart differs in Dash,
// Mark or Fill too, never in Tone alone.
type Look struct {
	Line    Tone
	WidthPt float64 // 0 = 0.8
	Dash    int     // 0 full, 1 dashed, 2 dotted, 3 dash-dot
	Mark    Mark
	Fill    Tone    // of marks and areas
	SizePt  float64 // of marks: 0 = 3
	Hatch   bool    // areas: lines at 45° in the place of a tone
}

// Mark is the shape of a point.
type Mark int

// The marks.
const (
	NoMark Mark = iota
	Circle
	Square
	Triangle
	Diamond
	Cross // ×
	Plus
	Bar // a short upright line
)

// Layer is one thing drawn on a panel: [Line], [Band], [Points], [Contours],
// [Tones], [Area], [Bars], [Label], [Arrow] or [Rules].
type Layer interface{ layer() }

// XY is one place, in the units of the axes.
type XY struct{ X, Y float64 }

// Line joins places in order.
type Line struct {
	At     []XY
	Closed bool
	Look   Look
}

// Band is the area between two lines over the same x.
type Band struct {
	X         []float64
	Low, High []float64
	Look      Look
}

// Points are marks, with bars where Low and High are given (along x, or along y
// where Upright).
type Points struct {
	At        []XY
	Low, High []float64 // nil: none; an end that is not finite is drawn as an arrow to the edge
	Upright   bool
	Look      Look
}

// Contours are lines of equal value of a grid, labelled where there is room.
type Contours struct {
	X, Y   []float64   // of the columns and rows, rising
	Value  [][]float64 // Value[row][column]; NaN = not known
	Levels []float64
	Labels []string // of the levels; nil = none
	Look   Look
}

// Tones is a grid as shades between Paper and Ink, by the logarithm of Value
// where Log; drawn as one raster beneath everything.
type Tones struct {
	X, Y     []float64
	Value    [][]float64
	Min, Max float64
	Log      bool
	Lightest float64 // 0 white … 1 black: shades of Min and Max
	Darkest  float64
}

// Area is a filled outline: a plate, a tank, a disc.
type Area struct {
	At   []XY
	Look Look
}

// Bars are upright bars that begin at y = Base.
type Bars struct {
	X           []float64 // middles
	High        []float64
	Base, Width float64
	Look        Look
}

// Label is a few words at a place.
type Label struct {
	At     XY
	Text   string
	Italic bool
	Align  string // "left", "middle", "right"; from the place
	Above  bool   // else centred on the place
	SizePt float64
}

// Arrow goes from one place to another: the axis of a pair.
type Arrow struct {
	From, To XY
	Look     Look
}

// Rules are straight lines across the whole panel.
type Rules struct {
	X, Y []float64 // upright at each X, level at each Y
	Look Look
}

func (Line) layer()     {}
func (Band) layer()     {}
func (Points) layer()   {}
func (Contours) layer() {}
func (Tones) layer()    {}
func (Area) layer()     {}
func (Bars) layer()     {}
func (Label) layer()    {}
func (Arrow) layer()    {}
func (Rules) layer()    {}

// TimeOf is a time on an axis: seconds since the Unix epoch. An axis of times
// has its own Ticks.
func TimeOf(t time.Time) float64 { return float64(t.Unix()) + float64(t.Nanosecond())*1e-9 }
