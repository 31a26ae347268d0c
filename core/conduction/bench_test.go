package conduction

import (
	"math"
	"testing"

	"brinefield/core/numeric"
)

// millionPoints are spread round a pair: x and y within 3 m, z in the water.
func millionPoints(n int, depth float64) []Point {
	rng := numeric.Stream(11, "conduction benchmark")
	pts := make([]Point, n)
	for i := range pts {
		pts[i] = Point{6*rng.Float64() - 3, 6*rng.Float64() - 3, depth * rng.Float64()}
	}
	return pts
}

func threeLayers() Medium {
	return Medium{WaterSPerM: 5, DepthM: 2, Layers: []Layer{{1, 1}, {math.Inf(1), 0.05}}}
}

// BenchmarkPairInThreeLayers is the field of one pair at a million random
// points of air/water/sediment/basement, set-up included; its error is that
// found against the full calculation at 2000 of those points.
func BenchmarkPairInThreeLayers(b *testing.B) {
	pts := millionPoints(1_000_000, 2)
	dst := make([]Vector, len(pts))
	electrodes := Pair{SeparationM: 0.01}.Electrodes(1e-5)
	var worst float64
	for b.Loop() {
		s, err := Solve(threeLayers(), electrodes, Options{RelativeTolerance: 1e-6})
		if err != nil {
			b.Fatal(err)
		}
		if err := s.Fields(dst, pts); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(pts))*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mpoints/s")
	s, err := Solve(threeLayers(), electrodes, Options{})
	if err != nil {
		b.Fatal(err)
	}
	for k := 0; k < len(pts); k += 500 {
		want, err := s.FieldAt(pts[k])
		if err != nil {
			b.Fatal(err)
		}
		worst = math.Max(worst, dst[k].Add(want.Scale(-1)).Norm()/want.Norm())
	}
	b.ReportMetric(worst, "rel-error")
	if worst > 1e-6 {
		b.Errorf("largest |δE|/|E| %g, allowed 1e-6", worst)
	}
}

// BenchmarkKernelSetUp is the table of one medium, 5 m round, all the water.
func BenchmarkKernelSetUp(b *testing.B) {
	for _, depth := range []float64{1, 3, 20} {
		m := threeLayers()
		m.DepthM = depth
		b.Run("depth="+itoa(depth), func(b *testing.B) {
			var k *Kernel
			var err error
			for b.Loop() {
				if k, err = NewKernel(m, 0, 0, Region{5, 0, depth}, 1e-6); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(k.RelativeError(), "rel-error")
		})
	}
}

// BenchmarkFastFieldAt is one value of a pair from a table.
func BenchmarkFastFieldAt(b *testing.B) {
	s, err := Solve(threeLayers(), Pair{SeparationM: 0.01}.Electrodes(1e-5), Options{})
	if err != nil {
		b.Fatal(err)
	}
	f, err := s.Fast(Region{5, 0, 2}, 1e-6)
	if err != nil {
		b.Fatal(err)
	}
	pts := millionPoints(4096, 2)
	n := 0
	for b.Loop() {
		if _, err := f.FieldAt(pts[n&4095]); err != nil {
			b.Fatal(err)
		}
		n++
	}
}

// BenchmarkFieldAt is one value of a pair by the full calculation.
func BenchmarkFieldAt(b *testing.B) {
	s, err := Solve(threeLayers(), Pair{SeparationM: 0.01}.Electrodes(1e-5), Options{})
	if err != nil {
		b.Fatal(err)
	}
	pts := millionPoints(4096, 2)
	n := 0
	for b.Loop() {
		if _, err := s.FieldAt(pts[n&4095]); err != nil {
			b.Fatal(err)
		}
		n++
	}
}

func itoa(x float64) string { return string(rune('0'+int(x)/10)) + string(rune('0'+int(x)%10)) }
