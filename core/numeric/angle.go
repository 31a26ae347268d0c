package numeric

import "math"

// SinCosDeg is exact at multiples of 90°, so that what lies along an axis has
// no stray component across it.
func SinCosDeg(deg float64) (sin, cos float64) {
	r := math.Mod(deg, 360)
	if r < 0 {
		r += 360
	}
	switch r {
	case 0:
		return 0, 1
	case 90:
		return 1, 0
	case 180:
		return 0, -1
	case 270:
		return -1, 0
	}
	return math.Sincos(r * math.Pi / 180)
}
