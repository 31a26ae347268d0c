package quantity_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/quantity"
)

func TestParseShiftsTheExponent(t *testing.T) {
	for _, c := range []struct {
		unit quantity.Unit
		text string
		si   float64
	}{
		{quantity.Centimetre, "12.3", 0.123},
		{quantity.Centimetre, "-79.84", -0.7984},
		{quantity.Microampere, "9.0", 9e-6},
		{quantity.NanovoltPerCm, "5", 5e-7},
		{quantity.Millimetre, "1e1", 0.01},
		{quantity.One, ".5", 0.5},
		{quantity.One, "+3.", 3},
	} {
		got, err := c.unit.Parse(c.text)
		if err != nil || got != c.si {
			t.Errorf("%s %s = %v, %v; want %v exactly", c.text, c.unit.Symbol, got, err, c.si)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, text := range []string{"", " 1", "1 ", "x", "1,5", "0x10", "1_000", "inf", "NaN", "1e", "1e999", "1e400", "--1", "1.2.3", ".", "+", "1e5.5", "９"} {
		if v, err := quantity.Centimetre.Parse(text); err == nil {
			t.Errorf("Parse(%q) = %v, want an error", text, v)
		}
	}
}

func TestFormatIsShortestAndPlain(t *testing.T) {
	for _, c := range []struct {
		unit quantity.Unit
		si   float64
		text string
	}{
		{quantity.Centimetre, 0.123, "12.3"},
		{quantity.Centimetre, 0.1, "10"},
		{quantity.Centimetre, -0.001, "-0.1"},
		{quantity.Centimetre, 0, "0"},
		{quantity.Microampere, 9e-6, "9"},
		{quantity.NanovoltPerCm, 3.1e-6, "31"},
		{quantity.One, 1e-9, "1e-9"},
		{quantity.One, 1.5e20, "1.5e20"},
	} {
		if got := c.unit.Format(c.si); got != c.text {
			t.Errorf("Format(%v) in %s = %q, want %q", c.si, c.unit.Symbol, got, c.text)
		}
	}
}

func TestFormatReadsBackExactly(t *testing.T) {
	units := []quantity.Unit{quantity.Centimetre, quantity.Microampere, quantity.NanovoltPerCm, quantity.One, quantity.Millimetre}
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64().Draw(t, "value")
		if math.IsInf(v, 0) || math.IsNaN(v) || (v != 0 && (math.Abs(v) < 1e-290 || math.Abs(v) > 1e290)) {
			t.Skip("outside what a season can hold")
		}
		u := rapid.SampledFrom(units).Draw(t, "unit")
		back, err := u.Parse(u.Format(v))
		if err != nil || back != v {
			t.Fatalf("%v printed as %q reads back as %v, %v", v, u.Format(v), back, err)
		}
	})
}

// The short way must give the bits of the long one, which leaves rounding to
// strconv: an exponent of 0 forces the long way and changes nothing else.
func TestParseShortAgreesWithTheLongWay(t *testing.T) {
	units := []quantity.Unit{quantity.Centimetre, quantity.Microampere, quantity.NanovoltPerCm, quantity.One, quantity.Millimetre}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[+-]?[0-9]{0,9}\.?[0-9]{0,9}`).Draw(t, "text")
		u := rapid.SampledFrom(units).Draw(t, "unit")
		short, errShort := u.Parse(text)
		long, errLong := u.Parse(text + "e0")
		if (errShort == nil) != (errLong == nil) || math.Float64bits(short) != math.Float64bits(long) {
			t.Fatalf("%q %s: %v, %v; the long way %v, %v", text, u.Symbol, short, errShort, long, errLong)
		}
	})
}

func BenchmarkParse(b *testing.B) {
	for b.Loop() {
		if _, err := quantity.Centimetre.Parse("-79.84"); err != nil {
			b.Fatal(err)
		}
	}
}
