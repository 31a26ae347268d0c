package inference

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
)

// Source: e_fisher.json (R's fisher.test; the tea and convictions tables are
// Fisher's own). Tolerance 1e-8 absolute as the check file suggests, and here
// also 1e-11 relative.
func TestFisherExactPublished(t *testing.T) {
	results := readReference(t, "stats/e_fisher.json")
	checked := 0
	for name := range results.value.(map[string]any) {
		one := results.at(t, name)
		rows, ok := one.at(t, "table_rows").value.([]any)
		if !ok || len(rows) != 2 || len(rows[0].([]any)) != 2 {
			continue
		}
		top, bottom := rows[0].([]any), rows[1].([]any)
		p := FisherExact(int(top[0].(float64)), int(top[1].(float64)), int(bottom[0].(float64)), int(bottom[1].(float64)))
		numtest.Check(t, name, p, one.number(t, "two_sided", "p_value"), numtest.Tolerance{Rel: 1e-11})
		checked++
	}
	if checked < 5 {
		t.Errorf("only %d tables of the check file were found", checked)
	}
}

// Source: Agresti's tea table (3, 1; 1, 3), 0.4857142857 = 34/70.
func TestFisherExactByHand(t *testing.T) {
	numtest.Check(t, "tea", FisherExact(3, 1, 1, 3), 34.0/70, numtest.Tolerance{Rel: 1e-15})
	numtest.Check(t, "empty table", FisherExact(0, 0, 0, 0), 1, numtest.Tolerance{})
	numtest.Check(t, "no turns at all", FisherExact(0, 5, 0, 7), 1, numtest.Tolerance{})
	numtest.Check(t, "one each", FisherExact(1, 0, 0, 1), 1, numtest.Tolerance{})
	// C(40, 20) tables, two of them as extreme.
	choose := 137846528820.0
	numtest.Check(t, "20 against 20", FisherExact(20, 0, 0, 20), 2/choose, numtest.Tolerance{Rel: 1e-13})
}

// Against a sum over explicit binomial coefficients.
func TestFisherExactAgainstCoefficients(t *testing.T) {
	logChoose := func(n, k int) float64 {
		a, _ := math.Lgamma(float64(n + 1))
		b, _ := math.Lgamma(float64(k + 1))
		c, _ := math.Lgamma(float64(n - k + 1))
		return a - b - c
	}
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.IntRange(0, 60)
		a, b, c, d := count.Draw(t, "a"), count.Draw(t, "b"), count.Draw(t, "c"), count.Draw(t, "d")
		logP := func(k int) float64 {
			return logChoose(a+b, k) + logChoose(c+d, a+c-k) - logChoose(a+b+c+d, a+c)
		}
		var want float64
		for k := max(0, a+c-(c+d)); k <= min(a+b, a+c); k++ {
			if logP(k) <= logP(a)+1e-7 {
				want += math.Exp(logP(k))
			}
		}
		got := FisherExact(a, b, c, d)
		numtest.Check(t, "p", got, math.Min(1, want), numtest.Tolerance{Rel: 1e-10})
		if got <= 0 || got > 1 {
			t.Fatalf("p = %g", got)
		}
		// The same question asked in another order has the same answer.
		for _, again := range []float64{FisherExact(c, d, a, b), FisherExact(b, a, d, c), FisherExact(a, c, b, d)} {
			numtest.Check(t, "p of the exchanged table", again, got, numtest.Tolerance{Rel: 1e-12})
		}
	})
}

func TestFisherExactLargeTables(t *testing.T) {
	p := FisherExact(50_000, 50_000, 50_000, 50_000)
	numtest.Check(t, "balanced", p, 1, numtest.Tolerance{Rel: 1e-9})
	if p := FisherExact(60_000, 0, 0, 60_000); p != 0 {
		t.Errorf("p = %g, want 0: it is below the smallest number there is", p)
	}
}

func TestFisherExactRefusesNegativeCounts(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic for a negative count")
		}
	}()
	FisherExact(1, 2, -1, 3)
}
