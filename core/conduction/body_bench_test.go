package conduction

import (
	"math"
	"testing"
)

// housing is a camera housing 25 cm from a pair on a plate of 60 cm, 8 m deep (invented).
func housing() (Medium, []Plate, []Body, []Electrode) {
	m := Medium{WaterSPerM: 4.3, DepthM: 8, Layers: []Layer{{math.Inf(1), 1.2}}}
	box := Body{SizeM: [3]float64{0.2, 0.12, 0.15}, Centre: Point{0.3, 0.15, 0.2}, YawDeg: 30, Label: "camera housing"}
	return m, []Plate{{SizeXM: 0.6, SizeYM: 0.6, ThicknessM: 0.01}}, []Body{box}, Pair{SeparationM: 0.01, DiameterM: 0.002}.Electrodes(6e-6)
}

// BenchmarkBodyBesidePlate solves a box beside a pair on a plate to 1 %.
func BenchmarkBodyBesidePlate(b *testing.B) {
	m, plates, bodies, electrodes := housing()
	for b.Loop() {
		s, err := SolveWithBodies(m, plates, bodies, electrodes, PlateOptions{RelativeTolerance: 0.01})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(s.RelativeError(), "estimate")
		b.ReportMetric(float64(s.Unknowns()), "unknowns")
	}
}

// BenchmarkSpheroidOverBottom solves an animal 40 cm long, 5 cm over bare sediment, to 1 %.
func BenchmarkSpheroidOverBottom(b *testing.B) {
	m, _, _, electrodes := housing()
	animal := []Body{{Shape: BodySpheroid, SizeM: [3]float64{0.4, 0.1, 0.1}, Centre: Point{0.15, 0.1, 0.1}, YawDeg: -120, SPerM: 0.4}}
	for b.Loop() {
		s, err := SolveWithBodies(m, nil, animal, electrodes, PlateOptions{RelativeTolerance: 0.01})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(s.RelativeError(), "estimate")
		b.ReportMetric(float64(s.Unknowns()), "unknowns")
	}
}

// BenchmarkSectionRoundBody asks for a section of 200 × 120 places through housing and pair.
func BenchmarkSectionRoundBody(b *testing.B) {
	m, plates, bodies, electrodes := housing()
	s, err := SolveWithBodies(m, plates, bodies, electrodes, PlateOptions{RelativeTolerance: 0.01})
	if err != nil {
		b.Fatal(err)
	}
	var points []Point
	for i := range 200 {
		for j := range 120 {
			p := Point{0.6 * (float64(i)/100 - 1), 0.3 * (float64(i)/100 - 1), 0.002 + 0.6*float64(j)/119}
			if _, _, err := s.checkPoint(p); err == nil {
				points = append(points, p)
			}
		}
	}
	dst := make([]Vector, len(points))
	for b.Loop() {
		if err := s.Fields(dst, points); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(points))*float64(b.N)/b.Elapsed().Seconds(), "points/s")
}
