package dossier

import (
	"math"
	"strings"
	"testing"
	"time"
)

// TestRounding: three significant digits (half to even of the exact binary value,
// as strconv writes it), thin spaces, no number that is not finite.
func TestRounding(t *testing.T) {
	for v, want := range map[float64]string{
		0: "0", 32.38508: "32.4", 26.787: "26.8", 5.9551: "5.96", 0.037125: "0.0371", 1234.5: "1230", 123456: "123 000", 1e9: "1.00 × 10⁹", 2.9e-5: "2.90 × 10⁻⁵",
		-3.14159: "−3.14", 999.6: "1000", 9.996: "10.0", 0.00012345: "0.000123", 16: "16.0", math.Inf(1): "not known",
	} {
		if got := strings.ReplaceAll(Rounded(v), thin, " "); got != want {
			t.Errorf("%v: %q, want %q", v, got, want)
		}
	}
	if got := Rounded(math.NaN()); got != "not known" {
		t.Errorf("no number: %q", got)
	}
	for v, want := range map[float64]string{6: "6", 0.08: "0.08", 40: "40", 1910: "1910", 4.31: "4.31", 0: "0"} {
		if got := setValue(v); got != want {
			t.Errorf("set value %v: %q, want %q", v, got, want)
		}
	}
}

func TestProbabilities(t *testing.T) {
	for p, want := range map[float64]string{0.0123: "p = 0.012", 0.0496: "p = 0.050", 0.456: "p = 0.46", 0.0009999: "p < 0.001", 5e-38: "p < 0.001", 1: "p > 0.99", 0.001: "p = 0.0010"} {
		if got := strings.ReplaceAll(pText(p), thin, " "); got != want {
			t.Errorf("%v: %q, want %q", p, got, want)
		}
	}
}

func TestIntervalsAreRoundedAlike(t *testing.T) {
	for _, c := range []struct {
		low, high *float64
		want      string
	}{
		{ptr(26.787), ptr(39.153), "26.8–39.2 nV/cm"},
		{ptr(-0.5), ptr(1.25), "−0.500 to 1.25 nV/cm"},
		{nil, ptr(4.0), "up to 4.00 nV/cm, without a lower end"},
		{ptr(4.0), ptr(math.Inf(1)), "from 4.00 nV/cm on, without an upper end"},
		{nil, nil, ""},
	} {
		if got := strings.ReplaceAll(intervalText(c.low, c.high, "nV/cm"), thin, " "); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	for _, c := range []struct {
		low, high float64
		want      string
	}{{58.5, 80, "58.5–80.0 cm"}, {0, 0.7, "0–0.7 cm"}, {4.3, 4.37, "4.30–4.37 cm"}, {0.001, 1234, "0.001–1230 cm"}, {6, 12, "6–12 cm"}, {4.31, 4.31, "4.31 cm"}, {-1, 2, "−1 to 2 cm"}} {
		if got := strings.ReplaceAll(rangeText(c.low, c.high, "cm"), thin, " "); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

func TestWhatPeopleWriteStaysOneLine(t *testing.T) {
	if got := tidy(" a\n\tb\x00  c\u2028d \xff"); got != "a b c d \ufffd" {
		t.Errorf("%q", got)
	}
	if got := sentence("one pass,  no turn"); got != "One pass, no turn." {
		t.Errorf("%q", got)
	}
	if got := paragraphsOf("a\r\nb\n \n\nc"); len(got) != 2 || got[0] != "a b" || got[1] != "c" {
		t.Errorf("%q", got)
	}
	if got := textOf(say("{} and {}", "{}", italic("Raja"))); got != "{} and Raja" {
		t.Errorf("what is put in was taken for a pattern: %q", got)
	}
}

func TestDays(t *testing.T) {
	day := func(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 9, 0, 0, 0, time.UTC) }
	for _, c := range []struct {
		a, b time.Time
		want string
	}{
		{day(2025, 6, 1), day(2025, 6, 1), "1 June 2025"},
		{day(2025, 6, 1), day(2025, 6, 9), "1–9 June 2025"},
		{day(2025, 6, 1), day(2025, 7, 2), "1 June to 2 July 2025"},
		{day(2025, 12, 31), day(2026, 1, 2), "31 December 2025 to 2 January 2026"},
	} {
		if got := daysText(c.a, c.b); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	if got := momentText("2025-06-02T10:04:00+01:00"); got != "2 June 2025, 10:04" {
		t.Errorf("%q", got)
	}
	if got := dateText("in spring"); got != "in spring" {
		t.Errorf("%q", got)
	}
}
