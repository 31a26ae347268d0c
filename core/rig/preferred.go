package rig

import (
	"fmt"
	"math"
	"slices"
	"strconv"
)

// Series names a series of preferred numbers of IEC 60063.
type Series string

// The series that are used.
const (
	E24 Series = "E24"
	E96 Series = "E96"
)

// e24 is the table of IEC 60063. Eight of its values are not 10^(i/24) rounded
// (2.7 to 4.7, and 8.2), so that it cannot be computed.
var e24 = []int{100, 110, 120, 130, 150, 160, 180, 200, 220, 240, 270, 300, 330, 360, 390, 430, 470, 510, 560, 620, 680, 750, 820, 910}

// decade holds the values of one decade, in hundredths. E96 is 10^(i/96)
// rounded to two decimals without exception.
func (s Series) decade() []int {
	if s == E24 {
		return e24
	}
	out := make([]int, 96)
	for i := range out {
		out[i] = int(math.Round(100 * math.Pow(10, float64(i)/96)))
	}
	return out
}

// Resistors are made from 1 Ω to 10 MΩ in every shop; beyond lie special parts.
const (
	smallestOhm = 1
	largestOhm  = 10e6
)

// Values are the resistances of the series from 1 Ω to 10 MΩ, rising.
func (s Series) Values() []float64 {
	decade := s.decade()
	out := make([]float64, 0, 7*len(decade)+1)
	for ten := range 7 {
		for _, v := range decade {
			out = append(out, float64(v)*math.Pow10(ten)/100)
		}
	}
	return append(out, largestOhm)
}

// Combine chooses at most n values in series whose sum comes nearest to ohm,
// the largest first. It takes fewer than n where they come within a relative
// distance of near. None is chosen where half of the smallest value is more
// than ohm.
func (s Series) Combine(ohm float64, n int, near float64) []float64 {
	values := s.Values()
	if !(ohm >= smallestOhm/2.0) {
		return nil
	}
	var best []float64
	for count := 1; count <= n; count++ {
		found := combine(values, ohm, count)
		if found == nil {
			continue
		}
		if best == nil || math.Abs(sum(found)-ohm) < math.Abs(sum(best)-ohm)*(1-1e-12) {
			best = found
		}
		if math.Abs(sum(best)-ohm) <= near*ohm {
			break
		}
	}
	return best
}

// combine chooses exactly n values. The largest of n takes at least its share
// of the sum, so that few need to be tried; each leaves a rest to the others.
func combine(values []float64, ohm float64, n int) []float64 {
	if n == 1 {
		return []float64{nearestOf(values, ohm)}
	}
	var best []float64
	from, _ := slices.BinarySearch(values, ohm/float64(n)*0.9)
	for _, first := range values[from:] {
		rest := ohm - first
		if rest < smallestOhm/2.0 {
			break
		}
		others := combine(values, rest, n-1)
		if others == nil || others[0] > first {
			continue
		}
		found := append([]float64{first}, others...)
		if best == nil || math.Abs(sum(found)-ohm) < math.Abs(sum(best)-ohm) {
			best = found
		}
	}
	return best
}

// nearestOf is the nearest of rising values, the lower of two that are as near.
func nearestOf(values []float64, want float64) float64 {
	i, _ := slices.BinarySearch(values, want)
	switch {
	case i == 0:
		return values[0]
	case i == len(values) || want-values[i-1] <= values[i]-want:
		return values[i-1]
	}
	return values[i]
}

func sum(values []float64) float64 {
	total := 0.0
	for _, v := range values {
		total += v
	}
	return total
}

// OhmText writes a resistance as it is printed on parts lists: 1.13 MΩ.
func OhmText(ohm float64) string {
	unit, scale := "Ω", 1.0
	switch a := math.Abs(ohm); {
	case a >= 0.9999995e6:
		unit, scale = "MΩ", 1e6
	case a >= 999.9995:
		unit, scale = "kΩ", 1e3
	}
	digits := strconv.FormatFloat(ohm/scale, 'g', 6, 64)
	return fmt.Sprintf("%s %s", digits, unit)
}
