package conduction

import (
	"math"
	"testing"
)

// A camera housing in a round tank: what a current through one pair drives at
// another is what it drives the other way round, to what both solutions say of
// themselves; and the housing changes it by more than that.
func TestBodyInARoundTankIsReciprocal(t *testing.T) {
	tank := Medium{WaterSPerM: 4.8, DepthM: 0.5, Enclosure: &Enclosure{DiameterM: 1.4}}
	housing := []Body{{Shape: BodyCylinder, SizeM: [3]float64{0.3, 0.2, 0.2}, Centre: Point{0.09, 0.06, 0.16}, YawDeg: 40}}
	a := Pair{Centre: Point{0.3, -0.05, 0.1}, SeparationM: 0.04, AzimuthDeg: 20}
	b := Pair{Centre: Point{-0.15, 0.2, 0.2}, SeparationM: 0.04, AzimuthDeg: 100}
	there, bar1 := voltageBeside(t, tank, housing, a, b)
	back, bar2 := voltageBeside(t, tank, housing, b, a)
	if math.Abs(there-back) > bar1+bar2 {
		t.Errorf("%g V there, %g V back, bars %.2g and %.2g", there, back, bar1, bar2)
	}
	if without, _ := voltageBeside(t, tank, nil, a, b); math.Abs(there-without) < 3*(bar1+bar2) {
		t.Errorf("with the housing %g V, without it %g V: too near to each other for this to be a test of it", there, without)
	}
}
