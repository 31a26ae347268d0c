package rig_test

import (
	"math"
	"slices"
	"testing"

	"brinefield/core/rig"
)

// One loop of 1 % resistors: the corners by hand.
func TestWorstOfOneLoop(t *testing.T) {
	r := published()
	r.Electrodes.OffsetV = 2e-3
	got, err := r.Worst(0, 9, 9)
	if err != nil {
		t.Fatal(err)
	}
	rest := 1.7 + 3.9 + r.PairOhm(0)
	near(t, "low", got[0].Low, (9-2e-3)/(1.5e6*1.01+rest), 1e-9)
	near(t, "high", got[0].High, (9+2e-3)/(1.5e6*0.99+rest), 1e-9)
	battery, err := r.Worst(0, 7.2, 9.6)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "empty", battery[1].Low, (7.2-2e-3)/(3e6*1.01+rest), 1e-9)
	near(t, "full", battery[1].High, (9.6+2e-3)/(3e6*0.99+rest), 1e-9)
}

// Where water and polarisation are uncertain and the load is not small, the
// corners still hold every draw, and are met: 2 standard deviations each.
func TestWorstHoldsUncertainWaterAndPolarisation(t *testing.T) {
	r := published()
	r.Limiting, r.Steps = [2]float64{100, 100}, []rig.Step{{Label: "1", Ohm: []float64{200}}}
	r.WaterSPerMSD = 0.5
	r.Electrodes.PolarisationV, r.Electrodes.PolarisationSDV = 1, 0.2
	got, err := r.Worst(0, 9, 9)
	if err != nil {
		t.Fatal(err)
	}
	loop := func(tolerance, water float64) float64 { return 1.7 + 3.9 + 400*tolerance + r.PairOhm(0)*5/water }
	near(t, "low", got[0].Low, (9-1.4-1e-3)/loop(1.01, 4), 1e-9)
	near(t, "high", got[0].High, (9-0.6+1e-3)/loop(0.99, 6), 1e-9)
}

// Every corner of every tolerance lies within the worst case of a rig whose
// silent pairs are wrongly tied to the driven one.
func TestWorstAgainstAllCorners(t *testing.T) {
	r := published()
	r.Silent, r.WaterSPerMSD = rig.OpenOne, 1
	r.Limiting, r.Steps = [2]float64{50, 70}, []rig.Step{{Ohm: []float64{30}}, {Ohm: []float64{90, 20}}}
	r.LimitingBy, r.StepsBy, r.Electrodes.OffsetV = 0.05, 0.1, 0
	got, err := r.Worst(0, 9, 9)
	if err != nil {
		t.Fatal(err)
	}
	low, high := math.Inf(1), 0.0
	for bits := range 64 {
		c := r
		sign := func(bit int) float64 { return float64(bits>>bit&1)*2 - 1 }
		c.Limiting = [2]float64{50 * (1 + 0.05*sign(0)), 70 * (1 + 0.05*sign(1))}
		c.Steps = []rig.Step{{Ohm: []float64{30 * (1 + 0.1*sign(2))}}, {Ohm: []float64{90 * (1 + 0.1*sign(3)), 20 * (1 + 0.1*sign(4))}}}
		c.WaterSPerM = 5 + 2*sign(5)
		i := at(t, c, 1, 0).Electrodes
		low, high = math.Min(low, i), math.Max(high, i)
	}
	near(t, "low", got[1].Low, low, 1e-12)
	near(t, "high", got[1].High, high, 1e-12)
}

// Three equal resistors within ±1 % with equal chances, in one loop: the sum's
// relative error is the mean of three, whose 97.5 % point is where the volume of
// the corner of a cube is 0.025: with s = Σ(1 − uᵢ)/2 over [0, 1]³, s³/6 = 0.025, so
// the mean lies 1 − 2s/3 of the tolerance out: 0.6457.
func TestDrawsOfThreeResistors(t *testing.T) {
	r := published()
	r.Electrodes.OffsetV = 0
	r.Steps = r.Steps[:1]
	r.WaterSPerM = 5e6
	const n = 20000
	got, err := r.Drawn(0, n, 7)
	if err != nil {
		t.Fatal(err)
	}
	s := math.Cbrt(0.15)
	far := 0.01 * (1 - 2*s/3)
	nominal := at(t, r, 0, 0).Electrodes
	// the standard error of a quantile: √(p(1−p)/n) over the density s²/2·3/2 there
	tolerance := 4 * math.Sqrt(0.025*0.975/n) / (s * s / 2 * 1.5) * 0.01
	if d := math.Abs(nominal/got[0].Low - 1 - far); d > tolerance {
		t.Errorf("low: %g off, at most %g", d, tolerance)
	}
	if d := math.Abs(1 - nominal/got[0].High - far); d > tolerance {
		t.Errorf("high: %g off, at most %g", d, tolerance)
	}
	again, err := r.Drawn(0, n, 7)
	if err != nil || !slices.Equal(got, again) {
		t.Errorf("the same seed gives other numbers (%v)", err)
	}
	other, err := r.Drawn(0, n, 8)
	if err != nil || slices.Equal(got, other) {
		t.Errorf("another seed gives the same numbers (%v)", err)
	}
}

// Draws lie within the worst case where nothing is without a bound.
func TestDrawsLieWithinTheWorstCase(t *testing.T) {
	r := published()
	r.Cable.LeakOhm, r.Cable.LeakToWaterOhm = 1e5, 1e5
	for pair := range r.Pairs {
		worst, err := r.Worst(pair, 9, 9)
		if err != nil {
			t.Fatal(err)
		}
		drawn, err := r.Drawn(pair, 400, 1)
		if err != nil {
			t.Fatal(err)
		}
		for k := range worst {
			if !(worst[k].Low < drawn[k].Low && drawn[k].Low < drawn[k].High && drawn[k].High < worst[k].High) {
				t.Errorf("pair %d, position %d: %v within %v", pair, k, drawn[k], worst[k])
			}
		}
	}
}
