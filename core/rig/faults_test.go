package rig_test

import (
	"math"
	"testing"

	"brinefield/core/rig"
)

func breakAt(t *testing.T, r rig.Rig, c rig.Case) rig.Fault {
	t.Helper()
	f, err := r.Break(c, 0, 0)
	if err != nil {
		t.Fatalf("%s: %v", c, err)
	}
	return f
}

// REFERENCES §11: 9 V through 1.5 MΩ is 6 µA, a 333rd of 2 mA, even through a
// diver; 9 V over 750 Ω without the resistors is 12 mA.
func TestDivers(t *testing.T) {
	r := published()
	r.Supply.FullV = 9
	intact := breakAt(t, r, rig.Intact)
	if intact.Diver > 6e-6 || rig.FeltA/intact.Diver < 333 {
		t.Errorf("%g A through a diver", intact.Diver)
	}
	pair := r.PairOhm(0)
	near(t, "diver beside the water", intact.Diver, intact.Electrode*pair/(pair+750), 1e-3)
	open := breakAt(t, r, rig.OpenPlus)
	near(t, "diver in the place of the water", open.Diver, 9/(1.7+1.5e6+3.9+750), 1e-9)
	if open.Electrode > 1e-15 || math.Abs(open.WaterV-9) > 1e-6 {
		t.Errorf("an open leg: %+v", open)
	}
	r.Cable.LegOhm, r.Supply.InternalOhm = 1e-3, 1e-3
	near(t, "full battery", breakAt(t, r, rig.FullVoltage).Diver, 12e-3, 1e-3)
}

func TestFaultsByHand(t *testing.T) {
	r := published()
	pair, pin := r.PairOhm(0), 0.2/(4*math.Pi*1e-3)
	rest := 1.7 + 3.9
	f := breakAt(t, r, rig.ShortAtPlate)
	near(t, "short: supply", f.Supply, 9.6/(1.5e6+rest), 1e-9)
	if f.Electrode != 0 {
		t.Errorf("short: %g A through the electrodes", f.Electrode)
	}
	for c, limiting := range map[rig.Case]float64{
		rig.LimitingPlus: 1e6, rig.LimitingMinus: 1e6, rig.LimitingBoth: 0.5e6, rig.LadderShorted: 1e6, rig.BetweenTaps: 1.5e6, rig.FullVoltage: 0,
	} {
		near(t, string(c), breakAt(t, r, c).Electrode, 9.6/(limiting+rest+pair), 1e-9)
	}
	// a pin of 1 mm beside the positive electrode takes current to the water far
	// away, so V₊ = pin·i₁ = self·i₂ − shared·I and I = i₁ + i₂
	self, shared := 0.2/(4*1e-3), 0.2/(2*math.Pi*0.01)
	f = breakAt(t, r, rig.FloodedPlus)
	i2 := f.Supply * (pin + shared) / (pin + self)
	near(t, "flooded: pin", f.Elsewhere, f.Supply-i2, 1e-9)
	near(t, "flooded: negative electrode", f.Electrode, f.Supply, 1e-9)
	// both flooded: half of the pair against one pin
	f = breakAt(t, r, rig.FloodedBoth)
	near(t, "both flooded", f.Elsewhere, f.Supply*(pair/2)/(pair/2+pin), 1e-9)
	f = breakAt(t, r, rig.BarePlus)
	near(t, "bare end", f.Elsewhere, 9.6/(1.5e6+rest+pin+self), 1e-9)
	near(t, "bare end: electrode left", f.Electrode, f.Elsewhere, 1e-9)
}

// REFERENCES §11: 6 µA over 1 cm makes about 6.5e-3 V/m at 1 cm on the axis, 640
// below the twitch field; at a disc of 1 mm radius 0.38 V/m, 10 below (ρ 0.2).
func TestMarginOfAversion(t *testing.T) {
	r := published()
	r.Supply.FullV, r.WaterSPerM = 9, 1/0.19
	f := breakAt(t, r, rig.Intact)
	near(t, "near", f.NearVPerM, 6.45e-3, 2e-3)
	near(t, "margin", rig.TwitchVPerM/f.NearVPerM, 640, 0.02)
	if f.NearM != 0.01 {
		t.Errorf("at %g m", f.NearM)
	}
	r.WaterSPerM = 5
	near(t, "face", breakAt(t, r, rig.Intact).FaceVPerM, 0.38, 0.01)
}

// A supply of constant current holds its setting through a diver, rises to its
// compliance on an open leg, and without its control gives all of it.
func TestFaultsOfConstantCurrent(t *testing.T) {
	r := published()
	r.Supply = rig.Supply{Constant: true, ComplianceV: 30}
	r.Steps = []rig.Step{{Label: "1", Ampere: 6e-6}}
	f := breakAt(t, r, rig.AtCompliance)
	near(t, "open", f.WaterV, 30, 1e-9)
	near(t, "diver on an open leg", f.Diver, 6e-6, 1e-9)
	near(t, "short", breakAt(t, r, rig.ShortAtPlate).Supply, 6e-6, 1e-9)
	near(t, "out of control", breakAt(t, r, rig.SupplyUnbound).Electrode, 30/(3.9+r.PairOhm(0)), 1e-9)
}

// Every case of every rig has finite numbers, and the worst pair is the worst.
func TestEveryCase(t *testing.T) {
	constant := published()
	constant.Supply = rig.Supply{Constant: true, ComplianceV: 30}
	constant.Steps = []rig.Step{{Label: "1", Ampere: 6e-6}}
	leaky := published()
	leaky.Cable.LeakOhm, leaky.Cable.LeakToWaterOhm, leaky.Electrodes.PolarisationV = 1e8, 1e8, 1
	leaky.Pairs[1].DiameterM = 0.004
	for _, r := range []rig.Rig{published(), constant, leaky} {
		for _, c := range r.Cases() {
			worst, err := r.BreakWorst(c, 0)
			if err != nil {
				t.Errorf("%s: %v", c, err)
				continue
			}
			for pair := range r.Pairs {
				f, err := r.Break(c, 0, pair)
				if err != nil || f.Diver > worst.Diver*(1+1e-6) {
					t.Errorf("%s: pair %d is worse (%v)", c, pair, err)
				}
			}
			for _, v := range []float64{worst.Electrode, worst.Elsewhere, worst.Supply, worst.WaterV, worst.Diver, worst.NearVPerM, worst.FaceVPerM} {
				if math.IsNaN(v) || math.IsInf(v, 0) || v < -1e-12 {
					t.Errorf("%s: %+v", c, worst)
				}
			}
		}
	}
}
