package seawater

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
)

// table is one block of testdata/check/seawater.json, which names its sources.
type table struct {
	Tolerance   map[string]float64
	Rows        [][]float64
	InverseRows [][]float64 `json:"inverse_rows"`
	KCl         [][]float64 `json:"kcl_rows"`
	Full        []float64   `json:"full_precision"`
}

var check struct {
	Unesco44     table
	Teos10       table
	Salinity     table `json:"teos10_salinity"`
	Ratio        table
	Salinometer  table
	Low          table `json:"low_salinity"`
	Compensation table
	Archie       table
	Scale        struct {
		Tolerance map[string]float64
		C         float64 `json:"C_at_35_and_t90_15"`
		SP        float64 `json:"SP_of_42.914_at_t90_15"`
	} `json:"temperature_scale"`
	Working struct {
		Tolerance   map[string]float64
		T           []float64 `json:"t90"`
		Rows        map[string][]float64
		Resistivity []float64 `json:"resistivity_ohm_cm_at_35"`
	} `json:"working_table"`
}

func TestMain(m *testing.M) {
	text, err := os.ReadFile("../../testdata/check/seawater.json")
	if err == nil {
		err = json.Unmarshal(text, &check)
	}
	if err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}

// conductivity in mS/cm, as the published tables have it.
func conductivity(t testing.TB, salinity, temperatureC, pressureDbar float64) float64 {
	t.Helper()
	sigma, err := ConductivityFromSalinity(salinity, temperatureC, pressureDbar)
	if err != nil {
		t.Fatal(err)
	}
	return 10 * sigma
}

func salinity(t testing.TB, millisiemens, temperatureC, pressureDbar float64) float64 {
	t.Helper()
	s, err := SalinityFromConductivity(millisiemens/10, temperatureC, pressureDbar)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func abs(tolerance float64) numtest.Tolerance { return numtest.Tolerance{Abs: tolerance} }

func TestUNESCO44(t *testing.T) {
	if len(check.Unesco44.Rows) != 4 {
		t.Fatal("the check values are missing")
	}
	for k, row := range check.Unesco44.Rows {
		r, t68, p := row[0], row[1], row[2]
		t90 := t68 / 1.00024
		w := newWater(t90, p)
		ratio := abs(check.Unesco44.Tolerance["ratio"])
		numtest.Check(t, "Rp", 1+w.a/(w.b+w.c*r), row[3], ratio)
		numtest.Check(t, "rt", w.rt, row[4], ratio)
		numtest.Check(t, "Rt", w.ratioAtSurface(r), row[5], ratio)
		got := salinity(t, 42.914*r, t90, p)
		tolerance := check.Unesco44.Tolerance["S"]
		if k == 3 {
			tolerance = check.Unesco44.Tolerance["S_last_row"]
			numtest.Check(t, "S of the last row as computed", got, 39.999996, abs(1e-6))
		}
		numtest.Check(t, "S", got, row[6], abs(tolerance))
		if k < len(check.Unesco44.Full) {
			numtest.Check(t, "S in full", got, check.Unesco44.Full[k], abs(1e-9))
		}
		if math.Abs(got-29.995347) < 1 {
			t.Errorf("S = %g is the misprint of a public code", got)
		}
	}
}

func TestTEOS10(t *testing.T) {
	for _, row := range check.Teos10.Rows {
		numtest.Check(t, "C", conductivity(t, row[0], row[1], row[2]), row[3], abs(check.Teos10.Tolerance["C"]))
		numtest.Check(t, "SP back", salinity(t, row[3], row[1], row[2]), row[0], abs(check.Teos10.Tolerance["SP"]))
	}
	for _, row := range check.Salinity.Rows {
		numtest.Check(t, "SP from C", salinity(t, row[0], row[1], row[2]), row[3], abs(check.Salinity.Tolerance["SP"]))
	}
	for _, row := range check.Ratio.Rows {
		numtest.Check(t, "SP from R", salinity(t, 42.914*row[0], row[1], row[2]), row[3], abs(check.Ratio.Tolerance["SP"]))
	}
	for _, row := range check.Salinometer.Rows {
		got, _ := newWater(row[1], 0).salinity(math.Sqrt(row[0]))
		numtest.Check(t, "SP from Rt", got, row[2], abs(check.Salinometer.Tolerance["SP"]))
	}
	if n := len(check.Teos10.Rows) + len(check.Salinity.Rows) + len(check.Ratio.Rows) + len(check.Salinometer.Rows); n != 29 {
		t.Errorf("%d check values, want 29", n)
	}
}

// The trap of the two temperature scales.
func TestTemperatureScale(t *testing.T) {
	numtest.Check(t, "C(35, t90 = 15)", conductivity(t, 35, 15, 0), check.Scale.C, abs(check.Scale.Tolerance["C"]))
	numtest.Check(t, "S(42.914, t90 = 15)", salinity(t, 42.914, 15, 0), check.Scale.SP, abs(check.Scale.Tolerance["SP"]))
	numtest.Check(t, "C(35, t68 = 15)", conductivity(t, 35, 15/1.00024, 0), 42.914, abs(1e-6))
}

func TestLowSalinity(t *testing.T) {
	for _, row := range check.Low.Rows {
		tolerance := abs(check.Low.Tolerance["SP"])
		numtest.Check(t, "SP at 25 °C", salinity(t, row[0], 25, 0), row[1], tolerance)
		numtest.Check(t, "SP at 15 °C", salinity(t, row[0], 15, 0), row[2], tolerance)
		w := newWater(25, 0)
		raw, _ := w.scale(math.Sqrt(w.ratioAtSurface(row[0] / 42.914)))
		numtest.Check(t, "scale of 1978 at 25 °C", raw, row[3], tolerance)
	}
	for _, row := range check.Low.InverseRows {
		tolerance := abs(check.Low.Tolerance["C"])
		numtest.Check(t, "C at 15 °C", conductivity(t, row[0], 15, 0), row[1], tolerance)
		numtest.Check(t, "C at 25 °C", conductivity(t, row[0], 25, 0), row[2], tolerance)
	}
	if len(check.Low.Rows) != 5 || len(check.Low.InverseRows) != 3 {
		t.Error("the check values are missing")
	}
}

func TestWorkingTable(t *testing.T) {
	salinities := map[string]float64{"5": 5, "15": 15, "25": 25, "30": 30, "35": 35, "38": 38}
	for name, s := range salinities {
		for k, temperature := range check.Working.T {
			c := conductivity(t, s, temperature, 0)
			numtest.Check(t, "C", c, check.Working.Rows[name][k], abs(check.Working.Tolerance["C"]))
			if s == 35 {
				numtest.Check(t, "resistivity in Ω cm", 1000/c, check.Working.Resistivity[k], abs(5.1e-5))
			}
		}
	}
	// Slopes at salinity 35, per cent per °C, and per unit of salinity at 20 °C.
	for temperature, want := range map[float64]float64{10: 2.486, 20: 2.120, 25: 1.968} {
		slope := (conductivity(t, 35, temperature+0.01, 0) - conductivity(t, 35, temperature-0.01, 0)) / 0.02
		numtest.Check(t, "per cent per °C", 100*slope/conductivity(t, 35, temperature, 0), want, abs(6e-4))
	}
	numtest.Check(t, "per unit of salinity", (conductivity(t, 35.01, 20, 0)-conductivity(t, 34.99, 20, 0))/0.02, 1.220, abs(6e-4))
}

func TestFromCompensated(t *testing.T) {
	for _, row := range check.Compensation.Rows {
		for k, percent := range []float64{1.91, 2} {
			sigma, err := FromCompensated(1, row[0], percent)
			if err != nil {
				t.Fatal(err)
			}
			numtest.Check(t, "factor to 25 °C", 1/sigma, row[1+k], abs(check.Compensation.Tolerance["factor"]))
		}
	}
	// The line through 25 °C meets the standard solutions to 1 per cent at
	// 20 °C and 2 per cent at 15 °C: their own curve is not a line.
	for _, row := range check.Compensation.KCl {
		for k, c := range []struct{ temperature, rel float64 }{{20, 0.01}, {15, 0.02}} {
			sigma, err := FromCompensated(row[0], c.temperature, 1.91)
			if err != nil {
				t.Fatal(err)
			}
			numtest.Check(t, "potassium chloride", sigma, row[1+k], numtest.Tolerance{Rel: c.rel})
		}
	}
	sigma, err := FromCompensated(5.3, 25, 1.91)
	if err != nil || sigma != 5.3 {
		t.Errorf("at 25 °C: %g, %v; want the reading itself", sigma, err)
	}
}

func TestArchieConductivity(t *testing.T) {
	for _, row := range check.Archie.Rows {
		sigma, err := ArchieConductivity(4.5, row[0], row[1])
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, "F", 4.5/sigma, row[2], abs(check.Archie.Tolerance["F"]))
	}
	for _, c := range []struct{ porosity, m, want float64 }{{1, 1.5, 4.5}, {1, 3, 4.5}, {0.4, 1, 1.8}} {
		sigma, err := ArchieConductivity(4.5, c.porosity, c.m)
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, "σ", sigma, c.want, numtest.Tolerance{Rel: 1e-15})
	}
}

// There and back is the identity over the whole range, refused corners apart.
func TestRoundTrip(t *testing.T) {
	worst := 0.0
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.Float64Range(0, highestSalinity).Draw(t, "salinity")
		temperature := rapid.Float64Range(lowestTemperatureC, highestTemperatureC).Draw(t, "temperature")
		pressure := rapid.Float64Range(0, highestPressureDbar).Draw(t, "pressure")
		sigma, err := ConductivityFromSalinity(s, temperature, pressure)
		if err != nil {
			t.Fatal(err)
		}
		back, err := SalinityFromConductivity(sigma, temperature, pressure)
		if err != nil {
			if s > highestSalinity-1e-9 {
				return
			}
			t.Fatal(err)
		}
		if !numtest.Check(t, "salinity there and back", back, s, numtest.Tolerance{Rel: 1e-13, Abs: 1e-13}) {
			t.Fatalf("σ = %g", sigma)
		}
		worst = math.Max(worst, math.Abs(back-s))
	})
	t.Logf("largest difference %.2g", worst)
}

// More salt and more warmth conduct more, everywhere in the accepted range.
func TestMonotony(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.Float64Range(0, highestSalinity-0.01).Draw(t, "salinity")
		temperature := rapid.Float64Range(lowestTemperatureC, highestTemperatureC-0.01).Draw(t, "temperature")
		pressure := rapid.Float64Range(0, highestPressureDbar).Draw(t, "pressure")
		at := func(s, temperature float64) float64 {
			sigma, err := ConductivityFromSalinity(s, temperature, pressure)
			if err != nil {
				t.Fatal(err)
			}
			return sigma
		}
		base := at(s, temperature)
		if !(base > 0 && at(s+0.01, temperature) > base && at(s, temperature+0.01) > base) {
			t.Fatalf("σ = %g, with more salt %g, warmer %g", base, at(s+0.01, temperature), at(s, temperature+0.01))
		}
	})
}

// The two parts of the salinity scale meet at 2 without a step.
func TestContinuousAtTwo(t *testing.T) {
	for temperature := -5.0; temperature <= 50; temperature += 2.5 {
		below := conductivity(t, math.Nextafter(2, 0), temperature, 0)
		above := conductivity(t, 2, temperature, 0)
		numtest.Check(t, "C on both sides of S = 2", below, above, numtest.Tolerance{Rel: 1e-12})
	}
}

func TestRefusals(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	from := func(s, temperature, pressure float64) error {
		_, err := ConductivityFromSalinity(s, temperature, pressure)
		return err
	}
	to := func(c, temperature, pressure float64) error {
		_, err := SalinityFromConductivity(c, temperature, pressure)
		return err
	}
	compensated := func(c, temperature, percent float64) error {
		_, err := FromCompensated(c, temperature, percent)
		return err
	}
	archie := func(c, porosity, m float64) error {
		_, err := ArchieConductivity(c, porosity, m)
		return err
	}
	for _, c := range []struct {
		err  error
		want string
	}{
		{from(-0.1, 10, 0), "salinity of -0.1"},
		{from(61, 10, 0), "salinity of 61"},
		{from(nan, 10, 0), "salinity of NaN"},
		{from(35, -6, 0), "temperature of -6"},
		{from(35, 51, 0), "temperature of 51"},
		{from(35, nan, 0), "temperature of NaN"},
		{from(35, 10, -1), "pressure of -1"},
		{from(35, 10, inf), "pressure of +Inf"},
		{from(35, 10, nan), "pressure of NaN"},
		{to(0, 10, 0), "conductivity of 0"},
		{to(-4, 10, 0), "conductivity of -4"},
		{to(nan, 10, 0), "conductivity of NaN"},
		{to(inf, 10, 0), "conductivity of +Inf"},
		{to(42.9, 15, 0), "is it in S/m"},
		{to(1e300, 15, 0), "is it in S/m"},
		{compensated(0, 10, 1.91), "conductivity at 25 °C of 0"},
		{compensated(nan, 10, 1.91), "conductivity at 25 °C of NaN"},
		{compensated(math.MaxFloat64, 50, 5), "beyond what can be calculated"},
		{compensated(math.SmallestNonzeroFloat64, 10, 5), "beyond what can be calculated"},
		{compensated(5, 60, 1.91), "temperature of 60"},
		{compensated(5, 10, -1), "coefficient of -1"},
		{compensated(5, 10, nan), "coefficient of NaN"},
		{compensated(5, 4, 5), "no conductivity above 0"},
		{archie(0, 0.4, 1.5), "conductivity of the water of 0"},
		{archie(4, 0, 1.5), "porosity of 0"},
		{archie(4, 40, 1.5), "porosity of 40"},
		{archie(4, nan, 1.5), "porosity of NaN"},
		{archie(4, 0.4, 0.9), "exponent of 0.9"},
		{archie(4, 0.4, inf), "exponent of +Inf"},
		{archie(4, 1e-200, 5), "no conductivity that can be"},
	} {
		if c.err == nil || !strings.Contains(c.err.Error(), c.want) {
			t.Errorf("got %v, want an error with %q", c.err, c.want)
		}
	}
}

func TestValidity(t *testing.T) {
	for _, c := range []struct {
		s, temperature, pressure float64
		want                     []string
	}{
		{35, 15, 0, nil},
		{2, -2, 0, nil},
		{42, 35, 10_000, nil},
		{42.1, 15, 0, []string{"above 42"}},
		{1.9, 15, 0, []string{"below 2"}},
		{0, 15, 0, []string{"fresh water"}},
		{35, -2.1, 0, []string{"outside −2 to 35"}},
		{50, 36, 11_000, []string{"above 42", "outside −2 to 35", "above 10 000 dbar"}},
	} {
		got := Validity(c.s, c.temperature, c.pressure)
		if len(got) != len(c.want) {
			t.Errorf("%v: %q, want %q", c, got, c.want)
			continue
		}
		for k := range got {
			if !strings.Contains(got[k], c.want[k]) {
				t.Errorf("%v: %q, want %q", c, got[k], c.want[k])
			}
		}
	}
}

// Whatever number comes in, a finite number above zero (a salinity from zero
// up) or an error goes out.
func TestNoNonsense(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		any64 := rapid.OneOf(rapid.Float64(), rapid.Float64Range(-70, 70),
			rapid.SampledFrom([]float64{0, math.NaN(), math.Inf(1), math.Inf(-1), math.SmallestNonzeroFloat64, math.MaxFloat64}))
		x, y, z := any64.Draw(t, "x"), any64.Draw(t, "y"), any64.Draw(t, "z")
		for name, f := range map[string]func(x, y, z float64) (float64, error){
			"ConductivityFromSalinity": ConductivityFromSalinity,
			"SalinityFromConductivity": SalinityFromConductivity,
			"FromCompensated":          FromCompensated,
			"ArchieConductivity":       ArchieConductivity,
		} {
			got, err := f(x, y, z)
			bad := math.IsNaN(got) || math.IsInf(got, 0) || got < 0
			if err == nil && (bad || got == 0 && name != "SalinityFromConductivity") || err != nil && got != 0 {
				t.Fatalf("%s(%g, %g, %g) = %g, %v", name, x, y, z, got, err)
			}
		}
	})
}

func BenchmarkConductivityFromSalinity(b *testing.B) {
	for b.Loop() {
		_, _ = ConductivityFromSalinity(35, 12, 8)
	}
}
