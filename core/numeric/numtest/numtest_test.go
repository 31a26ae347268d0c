package numtest_test

import (
	"math"
	"testing"

	"brinefield/core/numeric/numtest"
)

// counter stands in for *testing.T, so that the helper is seen to fail.
type counter struct{ errors int }

func (c *counter) Helper()               {}
func (c *counter) Errorf(string, ...any) { c.errors++ }

func TestCheckFailsWhenItMust(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want float64
		tol       numtest.Tolerance
		agree     bool
	}{
		{"equal", 1, 1, numtest.Tolerance{}, true},
		{"just inside relative", 1.0009, 1, numtest.Tolerance{Rel: 1e-3}, true},
		{"just outside relative", 1.0011, 1, numtest.Tolerance{Rel: 1e-3}, false},
		{"relative is of the reference, not of the value", 2, 1, numtest.Tolerance{Rel: 0.6}, false},
		{"absolute saves a zero", 1e-9, 0, numtest.Tolerance{Abs: 1e-8}, true},
		{"relative cannot save a zero", 1e-9, 0, numtest.Tolerance{Rel: 1}, false},
		{"NaN got", math.NaN(), 1, numtest.Tolerance{Abs: 1e9}, false},
		{"NaN both", math.NaN(), math.NaN(), numtest.Tolerance{Abs: 1e9}, false},
		{"infinity is itself", math.Inf(1), math.Inf(1), numtest.Tolerance{}, true},
		{"infinity is not large", math.Inf(1), 1e308, numtest.Tolerance{Rel: 1e9}, false},
		{"signs of infinity", math.Inf(1), math.Inf(-1), numtest.Tolerance{Rel: 1}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			var seen counter
			ok := numtest.Check(&seen, c.name, c.got, c.want, c.tol)
			if ok != c.agree || (seen.errors == 0) != c.agree {
				t.Errorf("agree = %v with %d errors, want agree = %v", ok, seen.errors, c.agree)
			}
		})
	}
}
