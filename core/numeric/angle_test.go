package numeric_test

import (
	"math"
	"testing"

	"brinefield/core/numeric"
	"brinefield/core/numeric/numtest"
)

// Exact at multiples of 90°, the library's sine and cosine elsewhere, and the same a
// whole turn on. Source: math.Sincos. 1e-13 for the angle's own rounding.
func TestSinCosDeg(t *testing.T) {
	for deg, want := range map[float64][2]float64{0: {0, 1}, 90: {1, 0}, 180: {0, -1}, 270: {-1, 0}, -90: {-1, 0}, 450: {1, 0}} {
		if sin, cos := numeric.SinCosDeg(deg); sin != want[0] || cos != want[1] {
			t.Errorf("%g°: %g, %g; expected exactly %v", deg, sin, cos, want)
		}
	}
	for _, deg := range []float64{-400, -17.3, 0.001, 33, 89.999, 123.4, 271, 1000} {
		sin, cos := numeric.SinCosDeg(deg)
		wantSin, wantCos := math.Sincos(deg * math.Pi / 180)
		numtest.Check(t, "sine", sin, wantSin, numtest.Tolerance{Abs: 1e-13})
		numtest.Check(t, "cosine", cos, wantCos, numtest.Tolerance{Abs: 1e-13})
	}
}
