package conduction

import (
	"math"
	"testing"
)

// The estimate is what one mesh changes against the one before: two that are
// the same would make it say that all is known.
func TestEveryMeshKnowsMore(t *testing.T) {
	medium := Medium{WaterSPerM: 5, DepthM: 3, Layers: []Layer{{math.Inf(1), 0.02}}}
	st := newStack(medium)
	for _, plate := range []Plate{
		{SizeXM: 0.6, SizeYM: 0.4, ThicknessM: 0.01},
		{SizeXM: 0.6, SizeYM: 0.4},
		{DiameterM: 0.6, ThicknessM: 0.003},
		{DiameterM: 0.6},
	} {
		for _, top := range []float64{0, -0.02} {
			for _, x := range []float64{0, 0.07, 0.15, 0.19} {
				plate.TopM = top
				pair := Pair{Centre: Point{X: x, Z: top}, SeparationM: 0.01}.Electrodes(1)
				where, err := locate([]Plate{plate}, pair)
				if err != nil {
					t.Fatal(err)
				}
				last := 0
				for level := range sizes {
					body := newStage(medium, st, []Plate{plate}, []bool{false}, nil, where, level).bodies[0]
					if n := body.unknowns(); n <= last {
						t.Errorf("%+v, pair at %g m: mesh %d has %d unknowns, the one before %d", plate, x, level, n, last)
					} else {
						last = n
					}
				}
			}
		}
	}
}
