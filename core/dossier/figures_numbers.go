package dossier

import (
	"math"
	"strconv"
	"strings"
)

// printed is v to so many significant digits, without an exponent: 17.2, 0.00310,
// 5120. Its minus is the sign, not the hyphen.
func printed(v float64, digits int) string {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return "0"
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'e', digits-1, 64), 64)
	decimals := max(digits-1-int(math.Floor(math.Log10(math.Abs(rounded))+1e-9)), 0)
	return signed(strconv.FormatFloat(rounded, 'f', min(decimals, 300), 64))
}

// trimmed is printed without zeros at its end: 5, 15.9, 0.0001.
func trimmed(v float64, digits int) string {
	text := printed(v, digits)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

func signed(text string) string { return strings.Replace(text, "-", "\u2212", 1) }

// printedWhole is a count: from 10 000 on in groups of three.
func printedWhole(n int) string {
	text := strconv.Itoa(n)
	if n < 10000 {
		return text
	}
	for i := len(text) - 3; i > 0; i -= 3 {
		text = text[:i] + "\u00a0" + text[i:]
	}
	return text
}

// printedP is a p value as the texts write it.
func printedP(p float64) string { return strings.ReplaceAll(pText(p), thin, "\u00a0") }

func whole(n int) Cell { return Cell{Text: printedWhole(n), Exact: strconv.Itoa(n)} }

// measured is a cell of a number to so many significant digits, and all of them
// in a file. What is not finite is left blank.
func measured(v float64, digits int) Cell {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Cell{}
	}
	return Cell{Text: printed(v, digits), Exact: strconv.FormatFloat(v, 'g', -1, 64)}
}

// measuredIf is a cell that is blank where nothing is known.
func measuredIf(p *float64, digits int) Cell {
	if p == nil {
		return Cell{}
	}
	return measured(*p, digits)
}

func yesNo(v bool) Cell {
	if v {
		return Cell{Text: "yes"}
	}
	return Cell{Text: "no"}
}

// textColumn and numberColumn describe columns of the figures' data.
func textColumn(name, title, what string) Column {
	return Column{Name: name, Title: title, What: what}
}

func numberColumn(name, title, unit, what string) Column {
	return Column{Name: name, Title: title, Unit: unit, What: what, Numbers: true}
}

// niceStep is 1, 2 or 5 times a power of ten, at least v.
func niceStep(v float64) float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		return 1
	}
	ten := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5, 10} {
		if m*ten >= v*(1-1e-12) {
			return m * ten
		}
	}
	return 10 * ten
}

// niceBelow is the largest 1, 2 or 5 times a power of ten that is at most v > 0.
func niceBelow(v float64) float64 {
	ten := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{5, 2} {
		if m*ten <= v*(1+1e-12) {
			return m * ten
		}
	}
	return ten
}

// logSpan are the ends of a logarithmic axis that holds all values: 1, 2 or 5
// times powers of ten, and at least a factor of ten between them. Without a
// usable value it is 1 to 100.
func logSpan(values ...float64) (low, high float64) {
	low, high = math.Inf(1), 0
	for _, v := range values {
		if v > 1e-12 && v < 1e15 {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	if high == 0 {
		return 1, 100
	}
	low, high = niceBelow(low*0.9), niceStep(high*1.1)
	for high < 9.99*low {
		low, high = niceBelow(low*0.8), niceStep(high*1.2)
	}
	return low, high
}

// linearSpan are the ends of an axis from 0 that holds all values.
func linearSpan(values ...float64) (high float64) {
	for _, v := range values {
		if v > high && v < 1e15 {
			high = v
		}
	}
	if high == 0 {
		return 1
	}
	step := niceStep(high / 6)
	return step * math.Ceil(high*1.02/step)
}

// wilson is Wilson's score interval of a share of k in n, with z = 1.959964 for
// 95 %.
//
// Source: E. B. Wilson, J. Am. Stat. Assoc. 22, 209–212, 1927. Tests: the examples
// of R. G. Newcombe, Stat. Med. 17, 857–872, 1998, table I, method 3.
func wilson(k, n int) (low, high float64) {
	if n <= 0 || k < 0 || k > n {
		return 0, 1
	}
	const z = 1.959963984540054
	p, m := float64(k)/float64(n), float64(n)
	middle := p + z*z/(2*m)
	half := z * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	low, high = (middle-half)/(1+z*z/m), (middle+half)/(1+z*z/m)
	if k == 0 {
		low = 0
	}
	if k == n {
		high = 1
	}
	return low, high
}

// sixDigits is a cell of a number to six significant digits, in print and file.
func sixDigits(v float64) Cell {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Cell{}
	}
	return Cell{Text: signed(strconv.FormatFloat(v, 'g', 6, 64)), Exact: strconv.FormatFloat(v, 'g', 6, 64)}
}
