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
	voltage := func(bodies []Body, driven, asked Pair) (v, bar float64) {
		s, err := SolveWithBodies(tank, nil, bodies, driven.Electrodes(1), PlateOptions{RelativeTolerance: 0.01, Points: []Point{asked.Centre}})
		if err != nil {
			t.Fatal(err)
		}
		ends := asked.Electrodes(1)
		two := make([]float64, 2)
		if err := s.Potentials(two, []Point{ends[0].At, ends[1].At}); err != nil {
			t.Fatal(err)
		}
		e, err := s.FieldAt(asked.Centre)
		if err != nil {
			t.Fatal(err)
		}
		return two[0] - two[1], s.RelativeError() * e.Norm() * asked.SeparationM
	}
	there, bar1 := voltage(housing, a, b)
	back, bar2 := voltage(housing, b, a)
	if math.Abs(there-back) > bar1+bar2 {
		t.Errorf("%g V there, %g V back, bars %.2g and %.2g", there, back, bar1, bar2)
	}
	if without, _ := voltage(nil, a, b); math.Abs(there-without) < 3*(bar1+bar2) {
		t.Errorf("with the housing %g V, without it %g V: too near to each other for this to be a test of it", there, without)
	}
}
