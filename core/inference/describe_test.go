package inference

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/numeric/numtest"
)

// Source: e_padjust_quantile.json, R's quantile(type = 7).
func TestQuantile7Published(t *testing.T) {
	results := readReference(t, "stats/e_padjust_quantile.json")
	probs := results.numbers(t, "probs")
	for _, c := range []struct{ values, want string }{{"x", "quantiles_x"}, {"x_all_equal", "quantiles_x_all_equal"}} {
		sorted := slices.Sorted(slices.Values(results.numbers(t, c.values)))
		want := results.numbers(t, c.want, "type7")
		for k, p := range probs {
			numtest.Check(t, c.want, Quantile7(sorted, p), want[k], numtest.Tolerance{Rel: 1e-14})
		}
	}
}

func TestDescribe(t *testing.T) {
	got, err := Describe([]float64{20, 4.9, 5, 31, 12, 90, 0.5, 19.9})
	if err != nil {
		t.Fatal(err)
	}
	// Sorted 0.5 4.9 5 12 19.9 20 31 90; by hand.
	want := Description{N: 8, Median: 15.95, Q1: 4.975, Q3: 22.75, Smallest: 0.5, ShareBelow5: 0.25, ShareBelow20: 0.625}
	tol := numtest.Tolerance{Rel: 1e-15}
	numtest.Check(t, "median", got.Median, want.Median, tol)
	numtest.Check(t, "first quartile", got.Q1, want.Q1, tol)
	numtest.Check(t, "third quartile", got.Q3, want.Q3, tol)
	numtest.Check(t, "smallest", got.Smallest, want.Smallest, tol)
	numtest.Check(t, "share below 5", got.ShareBelow5, want.ShareBelow5, tol)
	numtest.Check(t, "share below 20", got.ShareBelow20, want.ShareBelow20, tol)
	one, err := Describe([]float64{7})
	if err != nil || one != (Description{N: 1, Median: 7, Q1: 7, Q3: 7, Smallest: 7, ShareBelow20: 1}) {
		t.Errorf("one value: %+v, %v", one, err)
	}
}

func TestDescribeRefusals(t *testing.T) {
	var not *NotEstimable
	if _, err := Describe(nil); !errors.As(err, &not) {
		t.Errorf("no values: %v, want not estimable", err)
	}
	for _, bad := range []float64{-1, math.NaN(), math.Inf(1)} {
		if _, err := Describe([]float64{3, bad}); err == nil || errors.As(err, &not) {
			t.Errorf("%g: %v, want an error", bad, err)
		}
	}
	for _, p := range []float64{-0.1, 1.1, math.NaN()} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("p = %g: no panic", p)
				}
			}()
			Quantile7([]float64{1, 2}, p)
		}()
	}
}

func TestDescribeProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(0, math.MaxFloat64), 1, 30).Draw(t, "values")
		before := slices.Clone(values)
		got, err := Describe(values)
		if err != nil || !slices.Equal(before, values) {
			t.Fatalf("%v, or the values were changed", err)
		}
		if !(got.Smallest <= got.Q1 && got.Q1 <= got.Median && got.Median <= got.Q3 && got.Q3 <= slices.Max(values)) {
			t.Fatalf("%+v", got)
		}
		shuffled := rapid.Permutation(values).Draw(t, "shuffled")
		if again, _ := Describe(shuffled); again != got {
			t.Fatalf("another order: %+v, want %+v", again, got)
		}
	})
}
