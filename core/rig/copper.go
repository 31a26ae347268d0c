package rig

import (
	"fmt"
	"math"
)

// Copper: resistivity at 20 °C in Ω m (annealed copper, IEC 60028), and the
// coefficient of temperature that the correction factors of IEC 60228 use.
const (
	copperOhmM = 1.7241e-8
	copperPerC = 0.004
	copperAtC  = 20
)

// AWGOhmPerM is the resistance of a solid copper wire of an American wire gauge
// at 20 °C; the diameter is 0.127 mm · 92^((36 − n)/39).
func AWGOhmPerM(gauge int) float64 {
	d := 0.127e-3 * math.Pow(92, float64(36-gauge)/39)
	return copperOhmM / (math.Pi / 4 * d * d)
}

// iec60228 holds the maximum resistance of a core at 20 °C in Ω/km: plain
// copper of class 1 and 2, of class 5 and 6, tinned of class 5 and 6.
var iec60228 = []struct{ mm2, solid, flexible, tinned float64 }{
	{0.5, 36.0, 39.0, 40.1},
	{0.75, 24.5, 26.0, 26.7},
	{1, 18.1, 19.5, 20.0},
	{1.5, 12.1, 13.3, 13.7},
	{2.5, 7.41, 7.98, 8.21},
	{4, 4.61, 4.95, 5.09},
}

// CoreOhmPerM is the most that a core of a nominal cross-section may have at
// 20 °C (IEC 60228). Tinned cores are known for classes 5 and 6 only.
func CoreOhmPerM(mm2 float64, class int, tinned bool) (float64, error) {
	for _, row := range iec60228 {
		if row.mm2 != mm2 {
			continue
		}
		switch {
		case (class == 1 || class == 2) && !tinned:
			return row.solid / 1000, nil
		case (class == 5 || class == 6) && tinned:
			return row.tinned / 1000, nil
		case class == 5 || class == 6:
			return row.flexible / 1000, nil
		}
		return 0, fmt.Errorf("no resistance is known for class %d, tinned: %t", class, tinned)
	}
	return 0, fmt.Errorf("no resistance is known for %g mm²", mm2)
}

// CopperAt is a resistance of 20 °C at another temperature.
func CopperAt(ohm, temperatureC float64) float64 {
	return ohm * (1 + copperPerC*(temperatureC-copperAtC))
}
