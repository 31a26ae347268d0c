// Package quantity reads and prints numbers in the trade's units and hands
// them on in SI. Trade and SI differ by powers of ten only (cm, mm, µA, nV/cm),
// so reading shifts the decimal exponent of the text instead of multiplying:
// what was read can be printed again to the last digit.
package quantity

import (
	"errors"
	"math"
	"strconv"
	"strings"
)

// Unit is a unit of the trade that is 10^Exponent of its SI unit.
type Unit struct {
	Symbol   string // as printed: "cm", "µA"
	SI       string // the SI unit that values are held in: "m", "A"
	Exponent int
}

// The units of the trade that seasons and screens use.
var (
	Metre           = Unit{"m", "m", 0}
	Centimetre      = Unit{"cm", "m", -2}
	Millimetre      = Unit{"mm", "m", -3}
	Microampere     = Unit{"µA", "A", -6}
	NanovoltPerCm   = Unit{"nV/cm", "V/m", -7}
	SiemensPerMetre = Unit{"S/m", "S/m", 0}
	Second          = Unit{"s", "s", 0}
	One             = Unit{"", "", 0}
)

// What can be wrong with a number; the text continues "…what was found".
var (
	ErrNotANumber = errors.New("is not a number")
	ErrNotFinite  = errors.New("is not a finite number")
)

// Parse reads a decimal number in the unit and returns it in SI, correctly
// rounded. It takes plain decimal notation with an optional exponent and
// nothing else: no hexadecimal, no underscores, no "inf" or "nan".
//
// Errors: [ErrNotANumber]; [ErrNotFinite] for what is too large to hold.
func (u Unit) Parse(text string) (float64, error) {
	if v, ok := parseShort(text, u.Exponent); ok {
		return v, nil
	}
	mantissa, exponent, err := splitDecimal(text)
	if err != nil {
		return 0, err
	}
	v, err := strconv.ParseFloat(mantissa+"e"+strconv.Itoa(exponent+u.Exponent), 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, ErrNotFinite
	}
	return v, nil
}

// Format prints an SI value in the unit with the fewest digits that read back
// as the same value, without an exponent for magnitudes from 1e-6 up to 1e15.
func (u Unit) Format(si float64) string {
	if si == 0 {
		return "0"
	}
	text := strconv.FormatFloat(si, 'e', -1, 64)
	mantissa, exponent, _ := strings.Cut(text, "e")
	e, _ := strconv.Atoi(exponent)
	return placePoint(mantissa, e-u.Exponent)
}

// FromSI converts a number that was computed, not read, to the unit.
func (u Unit) FromSI(si float64) float64 { return si / math.Pow10(u.Exponent) }

// ToSI converts a number in the unit to SI.
func (u Unit) ToSI(v float64) float64 { return v * math.Pow10(u.Exponent) }

// exactPowers are the powers of ten that a float64 holds exactly.
var exactPowers = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// parseShort reads a number of at most 15 digits without an exponent, as
// nearly every cell of a table is, without an allocation. The digits and the
// power of ten are both exact in float64, so that the one multiplication or
// division rounds once and the result is the correctly rounded one (Clinger,
// How to read floating point numbers accurately, 1990, from memory). Whatever
// it does not know it leaves to the long way.
func parseShort(text string, exponent int) (float64, bool) {
	digits, point, negative := text, -1, false
	if digits != "" && (digits[0] == '-' || digits[0] == '+') {
		negative = digits[0] == '-'
		digits = digits[1:]
	}
	if len(digits) > 16 {
		return 0, false
	}
	var m uint64
	n := 0
	for i := 0; i < len(digits); i++ {
		switch c := digits[i]; {
		case c >= '0' && c <= '9':
			m = m*10 + uint64(c-'0')
			n++
		case c == '.' && point < 0:
			point = i
		default:
			return 0, false
		}
	}
	if n == 0 || n > 15 {
		return 0, false
	}
	if point >= 0 {
		exponent -= len(digits) - point - 1
	}
	v := float64(m)
	switch {
	case exponent < -22 || exponent > 22:
		return 0, false
	case exponent < 0:
		v /= exactPowers[-exponent]
	default:
		v *= exactPowers[exponent]
	}
	if negative {
		v = -v
	}
	return v, true
}

func splitDecimal(text string) (mantissa string, exponent int, err error) {
	mantissa, tail, hasExponent := cutExponent(text)
	digits := 0
	for i, r := range mantissa {
		switch {
		case r >= '0' && r <= '9':
			digits++
		case r == '.':
		case (r == '+' || r == '-') && i == 0:
		default:
			return "", 0, ErrNotANumber
		}
	}
	if digits == 0 || strings.Count(mantissa, ".") > 1 {
		return "", 0, ErrNotANumber
	}
	if hasExponent {
		exponent, err = strconv.Atoi(tail)
		if err != nil {
			return "", 0, ErrNotANumber
		}
		if exponent > 400 || exponent < -400 {
			return "", 0, ErrNotFinite
		}
	}
	return mantissa, exponent, nil
}

func cutExponent(text string) (before, after string, found bool) {
	if i := strings.IndexAny(text, "eE"); i >= 0 {
		return text[:i], text[i+1:], true
	}
	return text, "", false
}

// placePoint writes d.ddd·10^e without an exponent where that is readable.
func placePoint(mantissa string, e int) string {
	sign := ""
	if strings.HasPrefix(mantissa, "-") {
		sign, mantissa = "-", mantissa[1:]
	}
	digits := strings.Replace(mantissa, ".", "", 1)
	switch {
	case e < -6 || e > 15:
		if len(digits) > 1 {
			digits = digits[:1] + "." + digits[1:]
		}
		return sign + digits + "e" + strconv.Itoa(e)
	case e < 0:
		return sign + "0." + strings.Repeat("0", -e-1) + digits
	case e >= len(digits)-1:
		return sign + digits + strings.Repeat("0", e-len(digits)+1)
	default:
		return sign + digits[:e+1] + "." + digits[e+1:]
	}
}
