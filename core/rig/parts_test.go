package rig_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"brinefield/core/rig"
)

// IEC 60063, as in REFERENCES §8. E24 differs from rounded powers in eight
// places; E96 does not.
func TestPreferredNumbers(t *testing.T) {
	e24 := []float64{1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1}
	e96 := []float64{
		1.00, 1.02, 1.05, 1.07, 1.10, 1.13, 1.15, 1.18, 1.21, 1.24, 1.27, 1.30, 1.33, 1.37, 1.40, 1.43, 1.47, 1.50, 1.54, 1.58, 1.62, 1.65, 1.69, 1.74,
		1.78, 1.82, 1.87, 1.91, 1.96, 2.00, 2.05, 2.10, 2.15, 2.21, 2.26, 2.32, 2.37, 2.43, 2.49, 2.55, 2.61, 2.67, 2.74, 2.80, 2.87, 2.94, 3.01, 3.09,
		3.16, 3.24, 3.32, 3.40, 3.48, 3.57, 3.65, 3.74, 3.83, 3.92, 4.02, 4.12, 4.22, 4.32, 4.42, 4.53, 4.64, 4.75, 4.87, 4.99, 5.11, 5.23, 5.36, 5.49,
		5.62, 5.76, 5.90, 6.04, 6.19, 6.34, 6.49, 6.65, 6.81, 6.98, 7.15, 7.32, 7.50, 7.68, 7.87, 8.06, 8.25, 8.45, 8.66, 8.87, 9.09, 9.31, 9.53, 9.76,
	}
	for series, table := range map[rig.Series][]float64{rig.E24: e24, rig.E96: e96} {
		values := series.Values()
		if len(values) != 7*len(table)+1 || values[len(values)-1] != 10e6 || !slices.IsSorted(values) {
			t.Fatalf("%s: %d values up to %g", series, len(values), values[len(values)-1])
		}
		for ten := range 7 {
			for i, want := range table {
				near(t, string(series), values[ten*len(table)+i], want*math.Pow10(ten), 1e-12)
			}
		}
	}
	// nearest values: REFERENCES §8
	for _, c := range []struct {
		series    rig.Series
		ohm, want float64
	}{{rig.E24, 319, 330}, {rig.E96, 16834.2, 16.9e3}, {rig.E96, 1.125e6, 1.13e6}, {rig.E24, 1.125e6, 1.1e6}} {
		if got := c.series.Combine(c.ohm, 1, 0); len(got) != 1 || got[0] != c.want {
			t.Errorf("%s %g Ω: %v", c.series, c.ohm, got)
		}
	}
	if got := rig.E24.Combine(0.3, 3, 0); got != nil {
		t.Errorf("0.3 Ω: %v", got)
	}
}

// A choice of two or three is as good as any that exists: every pair of values
// is tried here.
func TestCombineIsTheNearest(t *testing.T) {
	values := rig.E24.Values()
	for _, ohm := range []float64{7, 133.3, 98765, 454545.45, 1.234567e6} {
		best := math.Inf(1)
		for _, a := range values {
			for _, b := range values {
				best = math.Min(best, math.Abs(a+b-ohm))
			}
		}
		best = math.Min(best, math.Abs(rig.E24.Combine(ohm, 1, 0)[0]-ohm))
		got := 0.0
		for _, v := range rig.E24.Combine(ohm, 2, 0) {
			got += v
		}
		if math.Abs(got-ohm) > best*(1+1e-9)+1e-9 {
			t.Errorf("%g Ω: %g off, and %g is possible", ohm, math.Abs(got-ohm), best)
		}
	}
}

// REFERENCES §8 and trap 0.10: AWG 22 is 52.96 Ω/km, not 52.7.
func TestCopper(t *testing.T) {
	for gauge, want := range map[int]float64{18: 20.9478, 20: 33.3083, 22: 52.9622, 24: 84.2132, 26: 133.904, 28: 212.916, 30: 338.550} {
		near(t, "AWG", rig.AWGOhmPerM(gauge)*1000, want, 1e-5)
	}
	for _, c := range []struct {
		mm2    float64
		class  int
		tinned bool
		want   float64
	}{{0.5, 1, false, 36.0}, {0.5, 5, false, 39.0}, {0.5, 6, true, 40.1}, {1.5, 2, false, 12.1}, {4, 5, true, 5.09}} {
		got, err := rig.CoreOhmPerM(c.mm2, c.class, c.tinned)
		if err != nil {
			t.Error(err)
		}
		near(t, "IEC 60228", got*1000, c.want, 1e-12)
	}
	for _, c := range []struct {
		mm2    float64
		class  int
		tinned bool
	}{{0.6, 5, false}, {1, 3, false}, {1, 1, true}} {
		if _, err := rig.CoreOhmPerM(c.mm2, c.class, c.tinned); err == nil {
			t.Errorf("%v has a resistance", c)
		}
	}
	// correction to 20 °C: 1.064 at 5 °C, 0.962 at 30 °C
	near(t, "5 °C", 1/rig.CopperAt(1, 5), 1.064, 5e-4)
	near(t, "30 °C", 1/rig.CopperAt(1, 30), 0.962, 5e-4)
}

func TestOhmText(t *testing.T) {
	for ohm, want := range map[float64]string{1.13e6: "1.13 MΩ", 1e6: "1 MΩ", 5100: "5.1 kΩ", 999.9999: "1 kΩ", 1.5: "1.5 Ω", 0: "0 Ω", 10e6: "10 MΩ"} {
		if got := rig.OhmText(ohm); got != want {
			t.Errorf("%g: %q, want %q", ohm, got, want)
		}
	}
}

// 8 µA from 9 V, all of it in the ladder: 1.125 MΩ; E96 gives 7.965 µA with 1.13
// MΩ, E24 8.182 µA with 1.1 MΩ (REFERENCES §8).
func TestOneStepOfEightMicroamperes(t *testing.T) {
	for series, want := range map[rig.Series]float64{rig.E96: 7.965e-6, rig.E24: 8.182e-6} {
		r := published()
		r.Limiting = [2]float64{}
		steps, err := r.Ladder(rig.Wish{Ampere: []float64{8e-6}, Series: series, MostResistors: 1, LargestError: 0.03})
		if err != nil {
			t.Fatal(err)
		}
		r.Steps = steps
		near(t, string(series), at(t, r, 0, 0).Electrodes, want, 2e-4) // 100 Ω of water
	}
}

// The published range, 6 to 15 µA, with pairs of 1 to 5 cm: every position
// within what was asked, each against the chain before it.
func TestLadderOfThePublishedRange(t *testing.T) {
	r := published()
	r.Limiting = [2]float64{220e3, 220e3}
	r.Pairs[1].SeparationM = 0.05
	wanted := []float64{15e-6, 12e-6, 9.6e-6, 9e-6, 8e-6, 6e-6, 5.3e-6}
	for _, c := range []struct {
		series rig.Series
		most   int
		within float64
	}{{rig.E24, 1, 0.05}, {rig.E24, 2, 0.01}, {rig.E96, 2, 0.002}, {rig.E96, 3, 0.0005}} {
		steps, err := r.Ladder(rig.Wish{Ampere: wanted, Series: c.series, MostResistors: c.most, LargestError: c.within})
		if err != nil {
			t.Fatal(err)
		}
		with := r
		with.Steps = steps
		for k, want := range wanted {
			if len(steps[k].Ohm) > c.most {
				t.Errorf("step %d has %d resistors", k, len(steps[k].Ohm))
			}
			mean := (at(t, with, k, 0).Electrodes + at(t, with, k, 1).Electrodes) / 2
			near(t, string(c.series), mean, want, c.within)
		}
	}
}

func TestImpossibleLadderSaysTheNearest(t *testing.T) {
	r := published() // 1 MΩ in the limiting resistors: 9 µA at most
	_, err := r.Ladder(rig.Wish{Ampere: []float64{12e-6, 6e-6}, Series: rig.E24, MostResistors: 2, LargestError: 0.05})
	var unreachable *rig.UnreachableError
	if !errors.As(err, &unreachable) || unreachable.Position != 0 || unreachable.Ohm != nil {
		t.Fatalf("%v", err)
	}
	near(t, "nearest", unreachable.Nearest, 9/(1e6+1.7+3.9+r.PairOhm(0)), 1e-9)
	_, err = r.Ladder(rig.Wish{Ampere: []float64{8e-6, 6.1e-6}, Series: rig.E24, MostResistors: 1, LargestError: 0.001})
	if !errors.As(err, &unreachable) || len(unreachable.Ohm) != 1 || unreachable.Nearest == unreachable.Wanted {
		t.Fatalf("%v", err)
	}
}
