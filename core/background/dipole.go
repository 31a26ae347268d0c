package background

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"brinefield/core/numeric"
)

// Dipole is a small source whose current times distance is known.
type Dipole struct {
	MomentAM float64
	AtM      [3]float64
	// AxisDeg is the azimuth of a level axis; nil: not known, and then the field
	// is that of the axis that makes the largest.
	AxisDeg *float64
	Sea     Sea
}

// Sea is the water round a source.
type Sea struct {
	WaterSPerM float64
	// BottomInsulates: the bottom throws the whole field back, which is the most
	// that any bottom can do. Else it conducts like the water.
	BottomInsulates bool
	// DepthM is the height of the surface above z = 0; 0: there is none.
	DepthM float64
}

// A field with bottom and surface is summed up to this many images of each
// sort; beyond these many depths of level distance the images run together and
// the field is that of a flat world.
const (
	mostImages = 60
	flatDepths = 6
)

// image is a mirror image of a source: where its height is, and whether its
// upright part is turned over.
type image struct{ z, upright float64 }

// images are those that the field at a place is summed of. The bottom lies at
// z = 0, or at the source's own height where that is lower.
func (s Sea) images(z float64) []image {
	floor := math.Min(0, z)
	out := []image{{z, 1}}
	mirrored := 2*floor - z
	switch {
	case s.BottomInsulates && s.DepthM > 0:
		out = out[:0]
		for m := -mostImages; m <= mostImages; m++ {
			up := 2 * float64(m) * (s.DepthM - floor)
			out = append(out, image{z + up, 1}, image{mirrored + up, -1})
		}
	case s.BottomInsulates:
		out = append(out, image{mirrored, -1})
	case s.DepthM > 0:
		out = append(out, image{2*s.DepthM - z, -1})
	}
	return out
}

// channel is the depth of the water where both bottom and surface hold a field
// in, else 0.
func (s Sea) channel(z float64) float64 {
	if !s.BottomInsulates {
		return 0
	}
	if s.DepthM == 0 {
		return 0
	}
	return s.DepthM - math.Min(0, z)
}

// matrix is the field of the three unit moments at a place, V/m per A·m; ok is
// false at the source itself.
//
// Each image makes (3(p·R)R/R² − p)/(4πσR³). With bottom and surface the
// images beyond the last are put in as an integral, and far off, where all of
// them together are a line of sources from bottom to surface, the field is that
// of two dimensions: (2(p·ρ)ρ/ρ² − p)/(2πσHρ²) of the level part, nothing of the
// upright one; what is left out there falls as exp(−πρ/H).
func (d Dipole) matrix(at [3]float64) (m [3][3]float64, ok bool) {
	x, y := at[0]-d.AtM[0], at[1]-d.AtM[1]
	level := math.Hypot(x, y)
	depth := d.Sea.channel(d.AtM[2])
	if depth > 0 && level > flatDepths*depth {
		k := 1 / (2 * math.Pi * d.Sea.WaterSPerM * depth * level * level)
		cos, sin := x/level, y/level
		m[0][0], m[1][1] = k*(2*cos*cos-1), k*(2*sin*sin-1)
		m[0][1] = k * 2 * cos * sin
		m[1][0] = m[0][1]
		return m, true
	}
	k := 1 / (4 * math.Pi * d.Sea.WaterSPerM)
	for _, im := range d.Sea.images(d.AtM[2]) {
		r := [3]float64{x, y, at[2] - im.z}
		square := r[0]*r[0] + r[1]*r[1] + r[2]*r[2]
		if square == 0 {
			return m, false
		}
		cube := square * math.Sqrt(square)
		for i := range r {
			for j := range r {
				v := 3 * r[i] * r[j] / square
				if i == j {
					v--
				}
				if j == 2 {
					v *= im.upright
				}
				m[i][j] += k * v / cube
			}
		}
	}
	if depth > 0 {
		// Sum over |m| > M of 1/(2|m|H)³, both sides and both sorts, by the middle
		// rule. The upright parts of both sorts cancel.
		beyond := k * 4 / (8 * depth * depth * depth) / (2 * (mostImages + 0.5) * (mostImages + 0.5))
		m[0][0] -= beyond
		m[1][1] -= beyond
	}
	return m, true
}

// FieldVPerM returns the magnitude of the dipole's field at a place, exactly for
// a known axis, else the largest over all axes; ok is false at the dipole.
//
// It holds beyond a few times the source's own length; nearer it is only a guide.
func (d Dipole) FieldVPerM(at [3]float64) (v float64, ok bool) {
	m, ok := d.matrix(at)
	if !ok {
		return 0, false
	}
	if d.AxisDeg != nil {
		sin, cos := numeric.SinCosDeg(*d.AxisDeg)
		var square float64
		for i := range m {
			e := m[i][0]*cos + m[i][1]*sin
			square += e * e
		}
		return d.MomentAM * math.Sqrt(square), true
	}
	return d.MomentAM * norm(m), true
}

// norm is the largest length that a matrix gives a unit vector, infinite where
// the matrix is not finite.
func norm(m [3][3]float64) float64 {
	size := 0.0
	for i := range m {
		for j := range m {
			v := math.Abs(m[i][j])
			if !(v <= math.MaxFloat64) {
				return math.Inf(1)
			}
			size = math.Max(size, v)
		}
	}
	if size == 0 {
		return 0
	}
	square := mat.NewSymDense(3, nil)
	for i := range 3 {
		for j := i; j < 3; j++ {
			sum := 0.0
			for k := range 3 { // scaled, so that no square runs over
				sum += m[k][i] / size * (m[k][j] / size)
			}
			square.SetSym(i, j, sum)
		}
	}
	var e mat.EigenSym
	if !e.Factorize(square, false) {
		return math.Inf(1)
	}
	return size * math.Sqrt(math.Max(0, e.Values(nil)[2]))
}

// GradientVPerM2 returns an upper bound of how fast the field changes with the
// place, V/m per m, in any direction and for any axis: the sum of 6p/(4πσR⁴)
// over the images. With one image it is reached on the axis, where the field is
// 2p/(4πσR³): the change over the field is 3/R. ok is false at the dipole.
func (d Dipole) GradientVPerM2(at [3]float64) (v float64, ok bool) {
	level := math.Hypot(at[0]-d.AtM[0], at[1]-d.AtM[1])
	k := 6 * d.MomentAM / (4 * math.Pi * d.Sea.WaterSPerM)
	if depth := d.Sea.channel(d.AtM[2]); depth > 0 && level > flatDepths*depth {
		return k * math.Pi / (2 * depth * level * level * level), true // the sum as an integral
	}
	for _, im := range d.Sea.images(d.AtM[2]) {
		up := at[2] - im.z
		square := level*level + up*up
		if square == 0 {
			return 0, false
		}
		v += k / (square * square)
	}
	return v, true
}

// HalfSpaceStandoff returns the distance in metres at which a dipole's field, on
// its axis, has fallen to limitVPerM:
//
//	r = (p/(πσE))^(1/3) over an insulating bottom or under the surface alone,
//	r = (p/(2πσE))^(1/3) in open water.
//
// Over an insulating bottom it is a bound for every axis, direction and height:
// no image is nearer than the source.
func (d Dipole) HalfSpaceStandoff(limitVPerM float64) float64 {
	k := 2.0
	if d.Sea.BottomInsulates || d.Sea.DepthM > 0 {
		k = 1
	}
	return math.Cbrt(math.Abs(d.MomentAM) / (k * math.Pi * d.Sea.WaterSPerM * limitVPerM))
}

// Standoff returns the distance in metres from which on the field is below
// limitVPerM whatever the axis and the direction. Without a surface over an
// insulating bottom it is [Dipole.HalfSpaceStandoff]. With one, the water is a
// channel in which the field falls only as the square of the distance once that
// is above the depth; then it is the larger of that and the distance, for the
// source at its height and the animal at heightM, beyond which the field of the
// worst axis stays below.
func (d Dipole) Standoff(limitVPerM, heightM float64) float64 {
	free := d.HalfSpaceStandoff(limitVPerM)
	depth := d.Sea.channel(d.AtM[2])
	if depth == 0 || free == 0 {
		return free
	}
	worst := d
	worst.AxisDeg = nil
	above := func(level float64) bool {
		v, ok := worst.FieldVPerM([3]float64{d.AtM[0] + level, d.AtM[1], heightM})
		return !ok || v >= limitVPerM
	}
	level := math.Sqrt(math.Abs(d.MomentAM) / (2 * math.Pi * d.Sea.WaterSPerM * depth * limitVPerM))
	if level <= flatDepths*depth {
		level = lastAbove(above, flatDepths*depth)
	}
	return math.Max(free, math.Hypot(level, heightM-d.AtM[2]))
}

// lastAbove is the largest level distance up to most at which above holds, 0
// where it holds nowhere.
func lastAbove(above func(float64) bool, most float64) float64 {
	const steps = 64
	for i := steps - 1; i >= 0; i-- {
		low, high := most*float64(i)/steps, most*float64(i+1)/steps
		if !above(low) {
			continue
		}
		for range 50 {
			if middle := low + (high-low)/2; above(middle) {
				low = middle
			} else {
				high = middle
			}
		}
		return high
	}
	return 0
}
