package inference

import "testing"

// A season of 100 000 passes, 40 000 of them at an active pair, 200 animals.
const benchPasses, benchAnimals = 100_000, 200

func BenchmarkDetection(b *testing.B) {
	rows := inventPasses(plainTruth, benchPasses, benchAnimals, 1)
	for b.Loop() {
		if _, err := Detection(rows); err != nil {
			b.Fatal(err)
		}
	}
}

func benchIntervals() []Interval {
	truth := plainTruth
	truth.active = 1
	return inventIntervals(inventPasses(truth, 40_000, benchAnimals, 2))
}

func BenchmarkNPMLE(b *testing.B) {
	rows := benchIntervals()
	for b.Loop() {
		if _, err := NPMLE(rows); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLognormal(b *testing.B) {
	rows := benchIntervals()
	for b.Loop() {
		if _, err := Lognormal(rows); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLognormalIndividual(b *testing.B) {
	rows := benchIntervals()
	for b.Loop() {
		if _, err := LognormalIndividual(rows); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkNPMLEExact has as many steps as passes: exact thresholds mixed with
// overlapping intervals.
func BenchmarkNPMLEExact(b *testing.B) {
	rows := benchIntervals()[:20_000]
	for i := range rows {
		if i%2 == 0 && rows[i].High < 1e9 {
			rows[i].Low, rows[i].Exact = rows[i].High, true
		}
	}
	for b.Loop() {
		if _, err := NPMLE(rows); err != nil {
			b.Fatal(err)
		}
	}
}
