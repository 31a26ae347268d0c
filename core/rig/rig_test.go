package rig_test

import (
	"math"
	"testing"

	"brinefield/core/numeric/numtest"
	"brinefield/core/rig"
)

// published is a rig like those of the shark papers: 9 V, two limiting
// resistors, 6 µA, pairs of 1 cm on an acrylic plate.
func published() rig.Rig {
	return rig.Rig{
		WaterSPerM: 5,
		Supply:     rig.Supply{VoltageV: 9, FullV: 9.6, EmptyV: 7.2, InternalOhm: 1.7},
		Limiting:   [2]float64{500e3, 500e3}, LimitingBy: 0.01, StepsBy: 0.01,
		Steps:      []rig.Step{{Label: "1", Ohm: []float64{500e3}}, {Label: "2", Ohm: []float64{1e6, 500e3}}},
		Cable:      rig.Cable{LegOhm: 1.95},
		Electrodes: rig.Electrodes{Shape: rig.Disc, OnPlate: true, OffsetV: 1e-3},
		Pairs: []rig.Pair{
			{Label: "A", SeparationM: 0.01, DiameterM: 0.002},
			{Label: "B", XM: 0.4, SeparationM: 0.01, DiameterM: 0.002, AzimuthDeg: 90},
		},
		Silent: rig.OpenBoth, DiverOhm: 750,
	}
}

func at(t *testing.T, r rig.Rig, position, pair int) rig.Current {
	t.Helper()
	c, err := r.At(position, pair)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	numtest.Check(t, what, got, want, numtest.Tolerance{Rel: relative})
}

// One loop: the battery over all that lies in it. ρ = 0.2 Ω m and discs of 1 mm
// radius 1 cm apart: ρ/(2a) − ρ/(πd) = 93.634 Ω.
func TestOneLoop(t *testing.T) {
	r := published()
	near(t, "pair", r.PairOhm(0), 93.6338, 1e-5)
	loop := 1.7 + 1e6 + 500e3 + 2*1.95 + 0.2/(2*1e-3) - 0.2/(math.Pi*0.01)
	c := at(t, r, 0, 0)
	near(t, "current", c.Electrodes, 9/loop, 1e-12)
	near(t, "out of the battery", c.Supply, 9/loop, 1e-12)
	near(t, "between the electrodes", c.PairV, 9/loop*r.PairOhm(0), 1e-9)
	near(t, "second position", at(t, r, 1, 0).Electrodes, 9/(loop+1.5e6), 1e-12)
}

// 6 µA from 9 V is 1.5 MΩ, of which 100 Ω of water are 6.7e-5.
func TestSixMicroamperesFromNineVolts(t *testing.T) {
	r := published()
	r.Supply.InternalOhm, r.Cable.LegOhm = 0, 0
	r.WaterSPerM = 5e9
	near(t, "without water", at(t, r, 0, 0).Electrodes, 6e-6, 1e-9)
	r.WaterSPerM = 5 * 93.6338 / 100
	near(t, "100 Ω of water", 1-at(t, r, 0, 0).Electrodes/6e-6, 6.667e-5, 1e-3)
}

// 9.6 to 7.2 V is −25 %; 1 V of polarisation on 9 V is −1/9.
func TestBatteryAndPolarisation(t *testing.T) {
	r := published()
	full, err := r.AtVoltage(0, 0, 9.6)
	if err != nil {
		t.Fatal(err)
	}
	empty, err := r.AtVoltage(0, 0, 7.2)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "drift", empty.Electrodes/full.Electrodes, 0.75, 1e-12)
	free := at(t, r, 0, 0).Electrodes
	r.Electrodes.PolarisationV = 1
	held := at(t, r, 0, 0)
	near(t, "polarised", held.Electrodes/free, 8.0/9, 1e-12)
	near(t, "between the metals", held.PairV, 1+held.Electrodes*r.PairOhm(0), 1e-9)
	lost, err := r.Lost(0, 0, rig.PartPolarisation)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "lost", lost, 1.0/9, 1e-9)
	r.Electrodes.PolarisationV = 9.5
	if c := at(t, r, 0, 0); c.Electrodes != 0 || c.Supply != 0 {
		t.Errorf("polarisation above the battery's voltage drives %v", c)
	}
}

// A leak between the legs half way along the cable, by hand: the battery sees
// R + c + (L ∥ (c + W)) with c one core (two halves), and W the water.
func TestLeakBetweenLegs(t *testing.T) {
	r := published()
	r.Cable = rig.Cable{LegOhm: 10, LeakOhm: 1000}
	water := r.PairOhm(0) + 10
	both := 1000 * water / (1000 + water)
	supply := 9 / (1.7 + 1.5e6 + 10 + both)
	c := at(t, r, 0, 0)
	near(t, "supply", c.Supply, supply, 1e-12)
	near(t, "electrodes", c.Electrodes, supply*1000/(1000+water), 1e-12)
	lost, err := r.Lost(0, 0, rig.PartLeak)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "lost", lost, water/(1000+water), 1e-4) // the supply's own rise is 1e-5
}

// Leaks of both legs to the water: by symmetry the middle of the pair is at the
// potential of the water far away, and each half is c + (L ∥ (c + R₁₁ − R₁₂)).
func TestLeaksToTheWater(t *testing.T) {
	r := published()
	r.Cable = rig.Cable{LegOhm: 4, LeakToWaterOhm: 300}
	half := 2 + r.PairOhm(0)/2
	one := 2 + 300*half/(300+half)
	supply := 9 / (1.7 + 1.5e6 + 2*one)
	c := at(t, r, 0, 0)
	near(t, "supply", c.Supply, supply, 1e-12)
	near(t, "electrodes", c.Electrodes, supply*300/(300+half), 1e-12)
}

// 100 MΩ under 9 V pass 90 nA: nothing limits what leaks at the battery, before
// the resistors. With both legs alike the water lies half way between the poles.
func TestLeakAtTheBattery(t *testing.T) {
	r := published()
	r.Supply.FullV = 9
	r.Limiting, r.Steps = [2]float64{750e3, 750e3}, []rig.Step{{Label: "1"}}
	r.Cable.LeakOhm = 100e6 // from pole to pole
	f, err := r.Break(rig.LeakAtBattery, 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "leak", f.Elsewhere, 90e-9, 1e-5)
}

// Closed silent pairs: 1 mV over a pair of about 100 Ω drives some 10 µA, a
// second live pair, whatever the driven pair does; open on both legs nothing.
func TestSilentPairs(t *testing.T) {
	r := published()
	loop := r.PairOhm(1) + 2*1.95
	closed, err := r.SilentIn(rig.Closed, 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "offset through a closed pair", closed[0].Offset, 1e-3/loop, 1e-4) // far pairs share little water
	near(t, "the same by hand", r.OffsetThrough(1), 1e-3/loop, 1e-12)
	// driven pair along x at the origin, the silent one along y at x = 0.4: its
	// electrodes lie at the same distances from both driven ones
	if closed[0].Drive != 0 {
		t.Errorf("by symmetry nothing is driven through it: %g A", closed[0].Drive)
	}
	open, err := r.SilentIn(rig.OpenBoth, 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	if open[0].Largest() != 0 {
		t.Errorf("open on both legs: %g A", open[0].Largest())
	}
}

// In line with the driven pair, a closed pair carries ΔV over its loop, where
// ΔV is the difference of the driven pair's potential between its electrodes
// (ρI/(2π)·(1/r₁ − 1/r₂) each); what it does back is below 1e-4.
func TestWhatTheDrivenPairSendsThroughAClosedOne(t *testing.T) {
	r := published()
	r.Pairs[1].AzimuthDeg = 0
	got, err := r.SilentIn(rig.Closed, 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	potential := func(x float64) float64 {
		return 0.2 * got[0].Driven / (2 * math.Pi) * (1/(x-0.005) - 1/(x+0.005))
	}
	near(t, "drive", got[0].Drive, (potential(0.395)-potential(0.405))/(r.PairOhm(1)+2*1.95), 1e-3)
}

// Open on one leg only, half of the current comes back through the silent
// pair's negative electrode: far from each other both have the same resistance
// to the water far away, less what the positive one shares with the near one.
func TestOneLegOpenIsASecondPole(t *testing.T) {
	r := published()
	r.Pairs[1].XM = 1000
	got, err := r.SilentIn(rig.OpenOne, 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	// V₋ = −(R + c)·i₁ + m·I = −(R + c)·i₂, i₁ + i₂ = I
	self, shared := 0.2/(4*1e-3)+1.95, 0.2/(2*math.Pi*0.01)
	i := at(t, r, 0, 0).Supply
	near(t, "share", got[0].Drive, i*(self-shared)/(2*self), 1e-3)
	if !got[0].SinglePole {
		t.Error("it is not called a single pole")
	}
	near(t, "offset", got[0].Offset, 1e-3/(2*self), 1e-3)
}

// A supply of constant current does not care for the load until its compliance.
func TestConstantCurrent(t *testing.T) {
	r := published()
	r.Supply = rig.Supply{Constant: true, ComplianceV: 5, ConstantBy: 0.02}
	r.Steps = []rig.Step{{Label: "1", Ampere: 15e-6}, {Label: "2", Ampere: 6e-6}}
	r.Electrodes.PolarisationV = 1
	near(t, "current", at(t, r, 0, 0).Electrodes, 15e-6, 1e-12)
	r.Electrodes.BridgeOhm = rig.BridgeOhm(1, 3e-3, 5)
	near(t, "salt bridge", r.Electrodes.BridgeOhm, 28294.2, 1e-5) // REFERENCES: 28.3 kΩ
	near(t, "through salt bridges", at(t, r, 0, 0).Electrodes, 15e-6, 1e-12)
	r.Electrodes.BridgeOhm *= 10
	loop := r.PairOhm(0) + 2*1.95
	near(t, "at compliance", at(t, r, 0, 0).Electrodes, 4/loop, 1e-12)
	worst, err := r.Worst(0, 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "tolerance of the setting", worst[1].High, 6e-6*1.02, 1e-9)
}

// A meter in the leg is one more resistor of the loop, while it is there.
func TestMeterInTheLeg(t *testing.T) {
	r := published()
	loop := 1.7 + 1.5e6 + 3.9 + r.PairOhm(0)
	for _, stays := range []float64{0, 10e3} {
		r.AmmeterOhm = stays
		got, err := r.MeterShift(0, 0, 10e3)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "shift", got, 10e3/(loop+10e3), 1e-9)
	}
	near(t, "with the meter", at(t, r, 0, 0).Electrodes, 9/(loop+10e3), 1e-12)
}

// Spreading resistances of REFERENCES §5.3 at ρ = 0.2 Ω m.
func TestSpreading(t *testing.T) {
	for _, c := range []struct {
		shape   rig.Shape
		plate   bool
		radius  float64
		want    float64
		exactly string
	}{
		{rig.Disc, true, 0.5e-3, 100, "ρ/(4a)"},
		{rig.Disc, true, 2e-3, 25, "ρ/(4a)"},
		{rig.Hemisphere, true, 1e-3, 31.831, "ρ/(2πa)"},
		{rig.Sphere, false, 1.5e-3, 10.610, "ρ/(4πa)"},
		{rig.Disc, false, 1e-3, 25, "ρ/(8a)"},
		{rig.Sphere, true, 1e-3, 15.9155 / math.Ln2, "ρ/(4πa ln 2)"},
	} {
		e := rig.Electrodes{Shape: c.shape, OnPlate: c.plate}
		near(t, string(c.shape)+" "+c.exactly, e.SpreadingOhm(2*c.radius, 5), c.want, 5e-5)
	}
}

// The field on the axis: ρ 19 Ω cm, 6 µA, 1 cm at 10 cm is 36.2873 nV/cm of an
// ideal dipole (REFERENCES §1.5), times 1.005019 for two points; and 8 µA over
// 5 cm at 0.4 m, the classic 5 nV/cm (§1.4: 4.5757e-7 V/m of an ideal one).
func TestFieldOnTheAxis(t *testing.T) {
	r := published()
	r.WaterSPerM = 1 / 0.19
	near(t, "10 cm", r.AxisVPerM(0, 0.1, 6e-6, -6e-6)*1e7, 36.2873*1.005019, 1e-5)
	r.WaterSPerM = 1 / 0.23
	r.Pairs[0].SeparationM = 0.05
	ideal := 4.5757e-7
	ratio := 1 / math.Pow(1-math.Pow(0.05/0.8, 2), 2)
	near(t, "0.4 m", r.AxisVPerM(0, 0.4, 8e-6, -8e-6), ideal*ratio, 1e-4)
	near(t, "back", r.CurrentForField(0, ideal*ratio, 0.4), 8e-6, 1e-4)
	if !math.IsNaN(r.CurrentForField(0, 1, 0.025)) {
		t.Error("a field at the electrode itself")
	}
}
