//go:build soak

package optics

import "testing"

// The simulations of coverage_test.go with 20 000 draws each, of which a share of
// 0.95 is known to 0.0015 and a deviation to 0.5 %.
func TestStatedCovarianceOverManyDraws(t *testing.T) {
	const draws = 20_000
	simulatePlaces(t, draws)
	simulateHeights(t, draws)
	simulatePoses(t, draws)
}
