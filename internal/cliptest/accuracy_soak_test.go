//go:build soak

package cliptest_test

import (
	"testing"

	"brinefield/internal/cliptest"
)

// TestPicturesToPlacesLarge is [TestPicturesToPlaces] for every kind of scene at
// 960 × 540, two seconds and a half each, and harder compression.
func TestPicturesToPlacesLarge(t *testing.T) {
	times := cliptest.Constant(60, 25)
	for name, s := range map[string]*cliptest.Scene{
		"one": cliptest.One(960, 540, times), "two": cliptest.Two(960, 540, times), "knocked": cliptest.Knocked(960, 540, times),
		"night": cliptest.Night(960, 540, times), "uneven": cliptest.One(960, 540, cliptest.Uneven(60)),
	} {
		t.Run(name, func(t *testing.T) {
			f := look(t, s, cliptest.Encoding{CRF: 26, GOP: 250, BFrames: 2}, 11)
			report(t, s, f, 20)
		})
	}
}
