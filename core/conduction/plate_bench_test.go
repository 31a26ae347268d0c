package conduction

import (
	"fmt"
	"math"
	"testing"
)

// BenchmarkPlateSolve is the solve alone, for one, two and four plates in a row,
// and for a pair that lies off the middle or near an edge: what asks for more
// cells. Estimate and unknowns are those of the last mesh. BenchmarkPlateRace has
// true errors.
func BenchmarkPlateSolve(b *testing.B) {
	m := Medium{WaterSPerM: 5, DepthM: 3, Layers: []Layer{{math.Inf(1), 1}}}
	for _, n := range []int{1, 2, 4} {
		var plates []Plate
		for k := range n {
			plates = append(plates, Plate{SizeXM: 0.6, SizeYM: 0.6, ThicknessM: 0.01, CentreXM: 0.7 * float64(k)})
		}
		b.Run(fmt.Sprint("plates=", n), func(b *testing.B) { benchSolve(b, m, plates, Point{}, 0.005) })
	}
	one := []Plate{{SizeXM: 0.6, SizeYM: 0.6, ThicknessM: 0.01}}
	for _, tolerance := range []float64{0.01, 0.005} {
		b.Run(fmt.Sprint("off_the_middle/", tolerance), func(b *testing.B) { benchSolve(b, m, one, Point{X: 0.15, Y: 0.1}, tolerance) })
		b.Run(fmt.Sprint("5_cm_from_the_edge/", tolerance), func(b *testing.B) { benchSolve(b, m, one, Point{X: 0.25, Y: 0.1}, tolerance) })
	}
}

func benchSolve(b *testing.B, m Medium, plates []Plate, at Point, tolerance float64) {
	e := Pair{Centre: at, SeparationM: 0.01}.Electrodes(1e-5)
	var s *PlateSolution
	for b.Loop() {
		s = solvePlates(b, m, plates, e, tolerance)
	}
	b.ReportMetric(s.RelativeError(), "estimate")
	b.ReportMetric(float64(s.Unknowns()), "unknowns")
}
