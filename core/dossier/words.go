package dossier

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
)

const (
	thin      = "\u202f" // narrow space that does not break: between a number and its unit
	minusSign = "\u2212"
	enDash    = "\u2013"
)

// missing is what is printed where nothing was recorded.
var missing = Run{Text: "not recorded", Style: Missing}

// Rounded writes a number for reading: three significant digits, a minus sign,
// thin spaces between thousands from 10 000 on, powers of ten beyond nine
// places. It is the one rule for all estimates; ends of intervals follow it
// too. A number that is not finite gives "not known".
func Rounded(v float64) string { return rounded(v, 3) }

func rounded(v float64, digits int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "not known"
	}
	if v == 0 {
		return "0"
	}
	text := strconv.FormatFloat(v, 'e', digits-1, 64)
	mantissa, raised, _ := strings.Cut(text, "e")
	exponent, _ := strconv.Atoi(raised) // FormatFloat wrote it
	if exponent < -4 || exponent > 8 {
		return withMinus(mantissa) + thin + "×" + thin + "10" + superscript(exponent)
	}
	near, _ := strconv.ParseFloat(text, 64)
	return thousands(withMinus(strconv.FormatFloat(near, 'f', max(0, digits-1-exponent), 64)))
}

// setValue is [Rounded] without zeros at its end, for values that people set: 6, not
// 6.00.
func setValue(v float64) string {
	text := Rounded(v)
	if strings.Contains(text, ".") && !strings.Contains(text, "×") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

func withMinus(text string) string { return strings.Replace(text, "-", minusSign, 1) }

func superscript(n int) string {
	return strings.NewReplacer("-", "⁻", "0", "⁰", "1", "¹", "2", "²", "3", "³", "4", "⁴", "5", "⁵", "6", "⁶", "7", "⁷", "8", "⁸", "9", "⁹").Replace(strconv.Itoa(n))
}

// thousands parts digits by threes from 10 000 on.
func thousands(text string) string {
	whole, rest, point := strings.Cut(text, ".")
	bare := strings.TrimPrefix(whole, minusSign)
	if len(bare) >= 5 {
		sign := whole[:len(whole)-len(bare)]
		var parts []string
		for len(bare) > 3 {
			parts = append([]string{bare[len(bare)-3:]}, parts...)
			bare = bare[:len(bare)-3]
		}
		whole = sign + strings.Join(append([]string{bare}, parts...), thin)
	}
	if point {
		return whole + "." + rest
	}
	return whole
}

func count(n int) string { return thousands(withMinus(strconv.Itoa(n))) }

// plural joins a count and its noun.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return count(n) + " " + many
}

// pText writes a probability: two significant digits, never 0.
func pText(p float64) string {
	switch {
	case math.IsNaN(p) || math.IsInf(p, 0):
		return "p not known"
	case p < 0.001:
		return "p" + thin + "<" + thin + "0.001"
	case p > 0.99:
		return "p" + thin + ">" + thin + "0.99"
	}
	return "p" + thin + "=" + thin + rounded(p, 2)
}

// percentText writes a share of one.
func percentText(share float64) string {
	v := share * 100
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return "not known"
	case v != 0 && math.Abs(v) < 1:
		return rounded(v, 1) + thin + "%"
	}
	return thousands(withMinus(strconv.FormatFloat(v, 'f', 0, 64))) + thin + "%"
}

// known reports whether a number is there and can be printed.
func known(p *float64) bool { return p != nil && !math.IsNaN(*p) && !math.IsInf(*p, 0) }

// withUnit is a number and its unit.
func withUnit(v float64, unit string) string { return Rounded(v) + thin + unit }

// rangeText is "a–b unit", or "a unit" where both read alike.
func rangeText(low, high float64, unit string) string {
	a, b := setValue(low), setValue(high)
	if a != b {
		a, b = alike(a, b)
	}
	if unit != "" {
		unit = thin + unit
	}
	switch {
	case a == b:
		return a + unit
	case strings.HasPrefix(a, minusSign) || strings.HasPrefix(b, minusSign) || strings.Contains(a+b, "×"):
		return a + " to " + b + unit
	}
	return a + enDash + b + unit
}

// alike gives two values of like size as many decimals: 58.5 and 80.0.
func alike(a, b string) (string, string) {
	decimals := func(text string) int {
		_, rest, _ := strings.Cut(text, ".")
		return len(rest)
	}
	n := max(decimals(a), decimals(b))
	if strings.Contains(a+b, "×") || strings.Contains(a+b, thin) || n > 3 {
		return a, b
	}
	padded := func(text string) string {
		missing := n - decimals(text)
		switch {
		case text == "0" || missing <= 0 || len(strings.TrimPrefix(text, minusSign)) > 3:
			return text
		case !strings.Contains(text, "."):
			text += "."
		}
		return text + strings.Repeat("0", missing)
	}
	return padded(a), padded(b)
}

// intervalText is the ends of a 95 % interval, rounded alike.
func intervalText(low, high *float64, unit string) string {
	if unit != "" {
		unit = thin + unit
	}
	switch {
	case known(low) && known(high):
		a, b := Rounded(*low), Rounded(*high)
		if strings.HasPrefix(a, minusSign) || strings.HasPrefix(b, minusSign) || strings.Contains(a+b, "×") {
			return a + " to " + b + unit
		}
		return a + enDash + b + unit
	case known(low):
		return "from " + Rounded(*low) + unit + " on, without an upper end"
	case known(high):
		return "up to " + Rounded(*high) + unit + ", without a lower end"
	}
	return ""
}

// listText joins words: "a, b and c".
func listText(words []string) string {
	n := len(words)
	switch n {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
}

// tidy makes one line of what somebody wrote: no line breaks, no control
// characters, one space at a time.
func tidy(text string) string {
	text = strings.ToValidUTF8(text, "\ufffd")
	parts := strings.FieldsFunc(text, func(r rune) bool {
		return r == ' ' || r == '\u2028' || r == '\u2029' || unicode.IsControl(r)
	})
	return strings.Join(parts, " ")
}

// paragraphsOf parts what somebody wrote at its blank lines.
func paragraphsOf(text string) []string {
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	var out, lines []string
	end := func() {
		if p := tidy(strings.Join(lines, " ")); p != "" {
			out = append(out, p)
		}
		lines = nil
	}
	for line := range strings.SplitSeq(text, "\n") {
		if strings.TrimSpace(line) == "" {
			end()
			continue
		}
		lines = append(lines, line)
	}
	end()
	return out
}

// sentence makes a remark stand alone: a capital letter and a full stop.
func sentence(text string) string {
	text = tidy(text)
	if text == "" {
		return ""
	}
	r := []rune(text)
	r[0] = unicode.ToUpper(r[0])
	if !strings.ContainsRune(".?!…", r[len(r)-1]) {
		r = append(r, '.')
	}
	return string(r)
}

// clause makes a remark the end of a sentence: no full stop of its own.
func clause(text string) string { return strings.TrimRight(tidy(text), ".") }

// dayText is a day as it is printed.
func dayText(t time.Time) string { return t.Format("2 January 2006") }

// daysText is the days from one time to another.
func daysText(a, b time.Time) string {
	switch {
	case a.Year() == b.Year() && a.YearDay() == b.YearDay():
		return dayText(a)
	case a.Year() == b.Year() && a.Month() == b.Month():
		return fmt.Sprintf("%d%s%s", a.Day(), enDash, dayText(b))
	case a.Year() == b.Year():
		return a.Format("2 January") + " to " + dayText(b)
	}
	return dayText(a) + " to " + dayText(b)
}

// momentText prints an RFC 3339 time; what cannot be read stays as it is.
func momentText(text string) string {
	t, err := time.Parse(time.RFC3339, tidy(text))
	if err != nil {
		return tidy(text)
	}
	return t.Format("2 January 2006, 15:04")
}

// dateText prints a date or a time as a day; what cannot be read stays as it is.
func dateText(text string) string {
	text = tidy(text)
	if t, err := time.Parse(time.DateOnly, text); err == nil {
		return dayText(t)
	}
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return dayText(t)
	}
	return text
}

// extent is the smallest and the largest of some numbers, and how many there
// are.
type extent struct {
	n         int
	low, high float64
	all       []float64
}

func (e *extent) add(v float64) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return
	}
	if e.n == 0 || v < e.low {
		e.low = v
	}
	if e.n == 0 || v > e.high {
		e.high = v
	}
	e.n++
	e.all = append(e.all, v)
}

func (e *extent) addPointer(v *float64) {
	if v != nil {
		e.add(*v)
	}
}

func (e *extent) text(unit string) string { return rangeText(e.low, e.high, unit) }

// exactDigits is the shortest text that reads back as the same number.
func exactDigits(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

// exactWhole is a whole number without thin spaces, as a program is given it.
func exactWhole(n uint64) string { return strconv.FormatUint(n, 10) }
