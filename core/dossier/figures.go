package dossier

import (
	"math"
	"slices"
	"strings"
)

// Figures are the figures of the dossier, in the order of the report. A figure
// that cannot be drawn stands in its place with Why.
func Figures(in Input) []Figure {
	makers := []func(*Input) Figure{
		timelineFigure, planFigure, sectionFigure, rangeFigure, turnsFigure,
		preferenceFigure, individualsFigure, curvesFigure, sensitivityFigure,
	}
	out := make([]Figure, len(makers))
	for i, made := range makers {
		out[i] = made(&in)
	}
	return out
}

// inventedMark is printed on a figure of invented data, so that a picture which
// leaves its caption behind still says so.
const inventedMark = "invented data"

// sketch is a figure in the making: its caption, and a table of every number that
// the caption says.
type sketch struct {
	figure  Figure
	caption []Run
	said    Table
	seen    map[string]bool
}

func newSketch(in *Input, name, title string, columns int) *sketch {
	s := &sketch{
		figure: Figure{Name: name, Title: title, Columns: columns},
		said: Table{
			Title: title + ": numbers of the caption",
			Columns: []Column{
				{Name: "what", Title: "What", What: "What the number counts or measures."},
				{Name: "value", Title: "Value", Numbers: true, What: "The number, or words."},
				{Name: "unit", Title: "Unit", What: "Its unit; blank for a count."},
			},
		},
		seen: map[string]bool{},
	}
	if in.Invented {
		s.caption = append(s.caption, Run{Text: "Invented data.", Style: Bold}, Run{Text: " "})
	}
	return s
}

// say adds to the caption: texts as they are, runs in their style.
func (s *sketch) say(parts ...any) {
	for _, p := range parts {
		run, ok := p.(Run)
		if !ok {
			run = Run{Text: p.(string)}
		}
		if run.Text == "" {
			continue
		}
		if n := len(s.caption); n > 0 && s.caption[n-1].Style == run.Style && run.Link == "" {
			s.caption[n-1].Text += run.Text
			continue
		}
		s.caption = append(s.caption, run)
	}
}

// count is a number of things in words, and keeps it among the data.
func (s *sketch) count(what string, n int, one, many string) string {
	s.keep(what, whole(n), "")
	if n == 1 {
		return printedWhole(1) + " " + one
	}
	return printedWhole(n) + " " + many
}

// number is a measured number to so many significant digits, and keeps it among
// the data with all its digits.
func (s *sketch) number(what string, v float64, digits int, unit string) string {
	s.keep(what, measured(v, digits), unit)
	if unit == "" {
		return printed(v, digits)
	}
	return printed(v, digits) + "\u00a0" + unit
}

// stated is a number that was written down, without zeros at its end, and keeps it
// among the data.
func (s *sketch) stated(what string, v float64, unit string) string {
	s.keep(what, measured(v, 3), unit)
	return trimmed(v, 3) + "\u00a0" + unit
}

// words keeps a text among the data, and gives it back.
func (s *sketch) words(what, text string) string {
	s.keep(what, Cell{Text: text}, "")
	return text
}

func (s *sketch) keep(what string, value Cell, unit string) {
	key := what + "\x00" + value.Text + value.Exact
	if !s.seen[key] {
		s.seen[key] = true
		s.said.Rows = append(s.said.Rows, []Cell{{Text: what}, value, {Text: unit}})
	}
}

// done is the figure with its panels, its words and its data.
func (s *sketch) done(in *Input, alt string, panels []Panel, data ...Table) Figure {
	f := s.figure
	f.Panels, f.Caption, f.Alt = panels, s.caption, alt
	if in.Invented {
		f.Alt = "Invented data. " + f.Alt
		for i := range f.Panels {
			t := &f.Panels[i].Title
			if i == 0 {
				*t = strings.TrimPrefix(*t+" · "+inventedMark, " · ")
			}
		}
	}
	if len(s.said.Rows) > 0 {
		data = append(data, s.said)
	}
	for i := range data {
		data[i].Name = f.Name
		if i > 0 {
			data[i].Name += "-" + string(rune('1'+i))
		}
	}
	f.Data = data
	return f
}

// cannot is a figure that is not drawn, and why.
func (s *sketch) cannot(why string) Figure {
	f := s.figure
	f.Why = why
	f.Alt = "Not drawn: " + why + "."
	f.Caption = []Run{{Text: "Not drawn: " + why + "."}}
	return f
}

// panelLetter is "(a) " where there are several panels.
func panelLetter(i, of int) string {
	if of < 2 {
		return ""
	}
	return "(" + string(rune('a'+i%26)) + ") "
}

// speciesRun is a scientific name in italics, "all" as words.
func speciesRun(name string) Run {
	if name == "all" {
		return Run{Text: "all species"}
	}
	return Run{Text: name, Style: Italic}
}

func speciesTitle(name string) string {
	if name == "all" {
		return "All species"
	}
	return name
}

// sample is how many passes, animals and trials some passes are.
type sample struct {
	passes, individuals, unidentified, trials int
}

func sampleOf(passes []*Pass) sample {
	n := sample{passes: len(passes)}
	animals, trials := map[string]bool{}, map[string]bool{}
	for _, p := range passes {
		if p.Individual == "" {
			n.unidentified++
		} else {
			animals[p.Individual] = true
		}
		trials[p.Trial] = true
	}
	n.individuals, n.trials = len(animals), len(trials)
	return n
}

// saySample writes "646 passes of 38 recognised animals in 48 trials".
func (s *sketch) saySample(of string, n sample) string {
	text := s.count("passes, "+of, n.passes, "pass", "passes") + " of " +
		s.count("recognised animals, "+of, n.individuals, "recognised animal", "recognised animals")
	if n.unidentified > 0 {
		text += " (" + s.count("passes of animals not recognised, "+of, n.unidentified, "pass is of an animal", "passes are of animals") + " not recognised)"
	}
	return text + " in " + s.count("trials, "+of, n.trials, "trial", "trials")
}

// counted are the passes that the estimates use, in their order.
func counted(in *Input) []*Pass {
	var out []*Pass
	for i := range in.Passes {
		if p := &in.Passes[i]; p.Used != nil && *p.Used && p.Role != "" {
			out = append(out, p)
		}
	}
	return out
}

// noPasses says why no pass counts; "" where some do.
func noPasses(in *Input) string {
	switch {
	case len(in.Passes) == 0:
		return "no pass was recorded"
	case len(counted(in)) > 0:
		return ""
	}
	for i := range in.Passes {
		if in.Passes[i].Role != "" {
			return "no pass was scored for a turn and has a field"
		}
	}
	return "all trials with passes are sealed"
}

// mostDrawn is beyond anything that is measured in cm, s, S/m or nV/cm: what is
// larger is taken as not known, so that no scale overflows.
const mostDrawn = 1e12

// sane reports whether all numbers can be drawn.
func sane(values ...float64) bool {
	for _, v := range values {
		if !(math.Abs(v) <= mostDrawn) {
			return false
		}
	}
	return true
}

// finite is the number behind p where there is one.
func finite(p *float64) (float64, bool) {
	if p == nil || !sane(*p) {
		return 0, false
	}
	return *p, true
}

// positive is the number behind p where it can stand on a logarithmic axis.
func positive(p *float64) (float64, bool) {
	v, ok := finite(p)
	return v, ok && v > 1/mostDrawn
}

// thinned are at most most of n indices, spread evenly over their order.
func thinned(n, most int) []int {
	k := min(n, most)
	out := make([]int, k)
	for i := range out {
		out[i] = i * n / k
	}
	return out
}

// median is the middle of values, the mean of the two middle ones of an even
// number; not defined for none.
func median(values []float64) (float64, bool) {
	if len(values) == 0 {
		return 0, false
	}
	v := slices.Sorted(slices.Values(values))
	h := len(v) / 2
	if len(v)%2 == 1 {
		return v[h], true
	}
	return v[h-1] + (v[h]-v[h-1])/2, true
}
