package conduction

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"
)

// BenchmarkPlateRace takes, from nothing to the field at 1 000 points, the
// plates that a finite-element solve with its singular part taken off was
// measured on (testdata/plate_fem.json; its figures stand in scripts/bench.sh).
// p95 and worst are |δE|/|E| at the reference's points 5 cm to 1 m from the middle, as the
// finite elements' were; each is beside the solver's own estimate.
func BenchmarkPlateRace(b *testing.B) {
	for _, c := range plateCases(b, "plate_fem.json") {
		for _, tolerance := range []float64{0.01, 0.005, 0.001} {
			b.Run(fmt.Sprint(c.Name, "/", tolerance), func(b *testing.B) {
				race(b, c, tolerance)
			})
		}
	}
	for _, c := range plateCases(b, "plate_thin_disc.json") {
		c.Depth = math.Inf(1)
		b.Run("thin_disc/0.0002", func(b *testing.B) { race(b, c, 0.0002) })
	}
}

func race(b *testing.B, c plateCase, tolerance float64) {
	points := c.around(1000)
	fields := make([]Vector, len(points))
	var s *PlateSolution
	var asking time.Duration
	for b.Loop() {
		s = solvePlates(b, c.medium(), c.plates(), c.electrodes(), tolerance)
		if err := s.Fields(fields, points); err != nil {
			b.Fatal(err)
		}
		b.StopTimer()
		began := time.Now() // once more, now that all levels that they need are made
		if err := s.Fields(fields, points); err != nil {
			b.Fatal(err)
		}
		asking += time.Since(began)
		b.StartTimer()
	}
	var errs []float64
	for k, p := range c.points() {
		if r := math.Hypot(math.Hypot(p.X, p.Y), p.Z-c.Top); r < 0.05 || r > 1 {
			continue
		}
		e, err := s.FieldAt(p)
		if err != nil {
			b.Fatal(err)
		}
		want, _ := c.want(k)
		errs = append(errs, relative(e, want))
	}
	slices.Sort(errs)
	b.ReportMetric(errs[len(errs)*95/100], "p95")
	b.ReportMetric(errs[len(errs)-1], "worst")
	b.ReportMetric(s.RelativeError(), "estimate")
	b.ReportMetric(float64(s.Unknowns()), "unknowns")
	b.ReportMetric(float64(b.N*len(points))/asking.Seconds(), "points/s")
}

// around are places over and beside the plate, 5 cm to 1 m from its middle.
func (c plateCase) around(n int) []Point {
	out := make([]Point, n)
	for k := range out {
		r := 0.05 * math.Pow(20, math.Mod(float64(k)*0.7548776662466927, 1))
		up := 0.05 + 0.95*math.Mod(float64(k)*0.5698402909980532, 1)
		sin, cos := math.Sincos(float64(k))
		flat := r * math.Sqrt(1-up*up)
		out[k] = Point{flat * cos, flat * sin, math.Max(c.Top, 0) + r*up}
	}
	return out
}
