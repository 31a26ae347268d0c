//go:build soak

package cliptest_test

import (
	"testing"

	"brinefield/internal/cliptest"
)

// TestPicturesToPlacesLarge is [TestPicturesToPlaces] for every kind of scene at
// 1280 × 720, six seconds each, and harder compression.
func TestPicturesToPlacesLarge(t *testing.T) {
	times := cliptest.Constant(150, 25)
	for name, s := range map[string]*cliptest.Scene{
		"one": cliptest.One(1280, 720, times), "two": cliptest.Two(1280, 720, times), "knocked": cliptest.Knocked(1280, 720, times),
		"night": cliptest.Night(1280, 720, times), "uneven": cliptest.One(1280, 720, cliptest.Uneven(150)),
	} {
		t.Run(name, func(t *testing.T) {
			f := look(t, s, cliptest.Encoding{CRF: 26, GOP: 250, BFrames: 2}, 14)
			report(t, s, f, 20)
		})
	}
}
