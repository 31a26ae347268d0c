package inference

import (
	"fmt"
	"testing"

	"brinefield/core/numeric"
)

// 100 000 passes by 2000 animals.
func BenchmarkMixed100000(b *testing.B) {
	rng := numeric.Stream(1, "bench")
	rows := make([]MixedRow, 100_000)
	for k := range rows {
		active := k%3 == 0
		p, _, _, _ := logistic(-2 + 2*indicator(active) + 0.8*float64(k%2000-1000)/577)
		rows[k] = MixedRow{Cluster: fmt.Sprint(k % 2000), Active: active, Turned: rng.Float64() < p}
	}
	for b.Loop() {
		if _, err := Mixed(rows); err != nil {
			b.Fatal(err)
		}
	}
}

// 3000 trials of four pairs, 9999 draws.
func BenchmarkRandomisation3000Trials(b *testing.B) {
	rng := numeric.Stream(1, "bench")
	trials := make([]TrialCounts, 3000)
	for k := range trials {
		trials[k] = TrialCounts{Trial: fmt.Sprint(k), Active: []int{rng.IntN(4)}, TurnsByPair: []int{rng.IntN(9), rng.IntN(9), rng.IntN(9), rng.IntN(9)}}
	}
	for b.Loop() {
		if _, err := RandomisationTest(trials, Uniform(), 9999, rng); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFisherExact100000(b *testing.B) {
	for b.Loop() {
		FisherExact(21_000, 29_000, 20_000, 30_000)
	}
}
