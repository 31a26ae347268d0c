package printing

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"brinefield/core/dossier"
)

// scale takes values of an axis to lengths along it.
type scale struct {
	min, max float64 // logarithms where log
	log      bool
}

// scaleOf checks an axis. An axis without length is widened around its value.
func scaleOf(a dossier.Axis) (scale, error) {
	s := scale{min: a.Min, max: a.Max, log: a.Log}
	if math.IsNaN(a.Min+a.Max) || math.IsInf(a.Min, 0) || math.IsInf(a.Max, 0) {
		return s, fmt.Errorf("goes from %v to %v: both ends must be finite numbers", a.Min, a.Max)
	}
	if a.Min > a.Max {
		return s, fmt.Errorf("goes from %v to %v: the lower end must come first", a.Min, a.Max)
	}
	if a.Log {
		if a.Min <= 0 {
			return s, fmt.Errorf("is logarithmic and begins at %v: it must begin above 0", a.Min)
		}
		s.min, s.max = math.Log10(a.Min), math.Log10(a.Max)
	}
	if wide := max(math.Abs(s.min), math.Abs(s.max)) * 1e-9; s.max-s.min <= wide {
		by := max(math.Abs(s.min)*0.05, 0.5)
		s.min, s.max = s.min-by, s.max+by
	}
	if math.IsInf(s.max-s.min, 0) {
		return s, fmt.Errorf("goes from %v to %v: too far to be drawn", a.Min, a.Max)
	}
	return s, nil
}

// share is where a value lies: 0 at the lower end, 1 at the upper. NaN where it has
// no place; far outside it is held, so that no length overflows.
func (s scale) share(v float64) float64 {
	if s.log {
		if !(v > 0) {
			return math.NaN()
		}
		v = math.Log10(v)
	}
	return min(max((v-s.min)/(s.max-s.min), -1e4), 1e4)
}

// value is the way back.
func (s scale) value(share float64) float64 {
	v := s.min + share*(s.max-s.min)
	if s.log {
		return math.Pow(10, v)
	}
	return v
}

// mark is one tick as it is drawn.
type mark struct {
	share float64
	lines []string // of its label; nil = a minor tick
}

// autoTicks chooses ticks: at most most with a label.
func (s scale) autoTicks(most int) []mark {
	most = max(most, 2)
	if s.log {
		return s.decades(most)
	}
	return s.even(most)
}

const within = 1e-9 // of an axis: a tick this far outside still counts

// even places ticks at 1, 2 or 5 times a power of ten.
func (s scale) even(most int) []mark {
	raw := (s.max - s.min) / float64(most)
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	if !(power > 0) || math.IsInf(power, 0) {
		return nil
	}
	step := 10 * power
	minor := 5
	for _, m := range []struct{ times, parts int }{{1, 5}, {2, 4}, {5, 5}} {
		if float64(m.times)*power >= raw*(1-1e-9) {
			step, minor = float64(m.times)*power, m.parts
			break
		}
	}
	decimals := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	var out []mark
	fine := step / float64(minor)
	first := math.Ceil(s.min/fine - within)
	for i := range 200 {
		k := first + float64(i)
		at := (k*fine - s.min) / (s.max - s.min)
		if at > 1+within {
			break
		}
		m := mark{share: at}
		if math.Mod(k, float64(minor)) == 0 {
			m.lines = []string{number(k/float64(minor)*step, decimals)}
		}
		out = append(out, m)
	}
	return out
}

// decades places ticks at powers of ten; also at 2 and 5 times these where there
// are few.
func (s scale) decades(most int) []mark {
	span := s.max - s.min
	every := int(math.Ceil(span / float64(most)))
	named := map[int]bool{1: true}
	switch {
	case span*3 <= float64(most):
		named[2], named[5] = true, true
	case span*2 <= float64(most) && span < 2:
		named[3] = true
	}
	var out []mark
	if span < 0.7 { // there may be no power of ten at all: round values, evenly apart
		for _, m := range (scale{min: s.value(0), max: s.value(1)}).even(most) {
			m.share = s.share(s.value(0) + m.share*(s.value(1)-s.value(0)))
			out = append(out, m)
		}
		return out
	}
	if span > 400 {
		return nil
	}
	for e := int(math.Floor(s.min)) - 1; float64(e) <= s.max+1; e++ {
		for d := 1; d < 10; d++ {
			at := (float64(e) + math.Log10(float64(d)) - s.min) / span
			if at < -within || at > 1+within || d > 1 && every > 1 {
				continue
			}
			m := mark{share: at}
			if named[d] && (d > 1 || every < 2 || e%every == 0) {
				m.lines = []string{powerLabel(d, e)}
			}
			out = append(out, m)
		}
	}
	return out
}

// powerLabel writes d × 10^e: in full from 0.001 to 10 000, as a power beyond.
func powerLabel(d, e int) string {
	switch {
	case e >= 0 && e <= 4:
		return number(float64(d)*math.Pow10(e), 0)
	case e < 0 && e >= -3:
		return number(float64(d)*math.Pow10(e), -e)
	case d == 1:
		return "10" + superscript(e)
	}
	return strconv.Itoa(d) + "×10" + superscript(e)
}

var superiors = strings.NewReplacer("-", "⁻", "0", "⁰", "1", "¹", "2", "²", "3", "³", "4", "⁴", "5", "⁵", "6", "⁶", "7", "⁷", "8", "⁸", "9", "⁹")

func superscript(n int) string { return superiors.Replace(strconv.Itoa(n)) }

// number prints a number of a tick: a true minus sign, thousands apart by a space
// from 10 000 on, a power of ten where it would be long.
func number(v float64, decimals int) string {
	if v == 0 {
		v = 0 // no negative zero
	}
	a := math.Abs(v)
	if a >= 1e7 || decimals > 5 {
		e := int(math.Floor(math.Log10(a)))
		if a == 0 {
			return "0"
		}
		m := strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(a/math.Pow(10, float64(e)), 'f', 3, 64), "0"), ".")
		return sign(v) + m + "×10" + superscript(e)
	}
	text := strconv.FormatFloat(a, 'f', decimals, 64)
	whole, rest, dot := strings.Cut(text, ".")
	if len(whole) > 4 {
		whole = whole[:len(whole)-3] + "\u00a0" + whole[len(whole)-3:]
	}
	if dot {
		whole += "." + rest
	}
	return sign(v) + whole
}

func sign(v float64) string {
	if v < 0 {
		return "−"
	}
	return ""
}

// ownTicks are the ticks that an axis brings.
func (s scale) ownTicks(given []dossier.Tick) []mark {
	var out []mark
	for _, t := range given {
		at := s.share(t.At)
		if !(at >= -within && at <= 1+within) {
			continue
		}
		m := mark{share: at}
		if text := printable(t.Label); text != "" {
			m.lines = []string{trueMinus(text)}
		}
		out = append(out, m)
	}
	slices.SortStableFunc(out, func(a, b mark) int {
		switch {
		case a.share < b.share:
			return -1
		case a.share > b.share:
			return 1
		}
		return 0
	})
	return out
}

// trueMinus gives a number that begins with a hyphen its minus sign.
func trueMinus(text string) string {
	if rest, ok := strings.CutPrefix(text, "-"); ok {
		if _, err := strconv.ParseFloat(strings.ReplaceAll(rest, " ", ""), 64); err == nil {
			return "−" + rest
		}
	}
	return text
}

// level is an x axis as it is drawn.
type level struct {
	marks  []mark
	turned bool    // labels stand upright
	height float64 // of the labels
}

const labelGap = 4.0 // least gap of two labels beside each other, in points

// xAxis lays the labels of a level axis of that width: never one over another. Own
// labels that are too wide are broken at their spaces, then turned upright; then
// some are left out.
func xAxis(a dossier.Axis, s scale, width float64) level {
	if a.Hidden {
		return level{}
	}
	if a.Ticks == nil {
		for most := int(width/34) + 1; most >= 2; most-- {
			if m := s.autoTicks(most); fits(m, width) || most == 2 {
				return level{marks: dropped(m, width), height: tickPt * leading}
			}
		}
		return level{marks: dropped(s.autoTicks(2), width), height: tickPt * leading}
	}
	m := s.ownTicks(a.Ticks)
	if fits(m, width) {
		return level{marks: m, height: heightOf(m)}
	}
	broken := make([]mark, len(m))
	for i, t := range m {
		broken[i] = t
		if t.lines != nil {
			broken[i].lines = wrap(t.lines[0], tickPt, max(width/float64(named(m)+1), 1), 3)
			if joined := strings.Join(broken[i].lines, " "); strings.Contains(joined, "…") {
				broken[i].lines = words1(t.lines[0])
			}
		}
	}
	if heightOf(broken) <= 3*tickPt*leading && fits(broken, width) {
		return level{marks: broken, height: heightOf(broken)}
	}
	if n := named(m); float64(n)*tickPt*1.05 <= width && n <= 40 {
		const longest = 90.0
		tall := 0.0
		for i := range m {
			if m[i].lines != nil {
				m[i].lines = []string{shorten(m[i].lines[0], tickPt, longest)}
				tall = max(tall, textWidth(m[i].lines[0], tickPt, false))
			}
		}
		return level{marks: m, turned: true, height: tall + 1}
	}
	m = dropped(m, width)
	return level{marks: m, height: heightOf(m)}
}

// words1 puts each word on a line of its own.
func words1(text string) []string { return strings.Fields(text) }

func named(m []mark) int {
	n := 0
	for _, t := range m {
		if t.lines != nil {
			n++
		}
	}
	return n
}

func heightOf(m []mark) float64 {
	most := 1
	for _, t := range m {
		most = max(most, len(t.lines))
	}
	return float64(most) * tickPt * leading
}

func widest(lines []string, size float64) float64 {
	w := 0.0
	for _, l := range lines {
		w = max(w, textWidth(l, size, false))
	}
	return w
}

// fits says whether no two labels come closer than a gap.
func fits(m []mark, width float64) bool {
	end := math.Inf(-1)
	for _, t := range m {
		if t.lines == nil {
			continue
		}
		half := widest(t.lines, tickPt) / 2
		if t.share*width-half < end+labelGap {
			return false
		}
		end = t.share*width + half
	}
	return true
}

// dropped takes the labels away that would touch the one before; their ticks stay.
func dropped(m []mark, width float64) []mark {
	out := slices.Clone(m)
	end := math.Inf(-1)
	for i, t := range out {
		if t.lines == nil {
			continue
		}
		half := widest(t.lines, tickPt) / 2
		if t.share*width-half < end+labelGap {
			out[i].lines = nil
			continue
		}
		end = t.share*width + half
	}
	return out
}

// yAxis lays the labels of an upright axis: those that would touch the one below
// are left out, and none is wider than wide.
func yAxis(a dossier.Axis, s scale, height, wide float64) []mark {
	if a.Hidden {
		return nil
	}
	var m []mark
	if a.Ticks == nil {
		m = s.autoTicks(max(int(height/20), 2))
	} else {
		m = s.ownTicks(a.Ticks)
	}
	end := math.Inf(-1)
	for i, t := range m {
		if t.lines == nil {
			continue
		}
		if at := t.share * height; at < end+tickPt*1.02 {
			m[i].lines = nil
		} else {
			end = at
			m[i].lines = []string{shorten(t.lines[0], tickPt, wide)}
		}
	}
	return m
}
