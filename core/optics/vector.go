package optics

import "math"

type (
	vec = [3]float64
	rot = [3][3]float64
)

func add(a, b vec) vec            { return vec{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func sub(a, b vec) vec            { return vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func scaled(k float64, a vec) vec { return vec{k * a[0], k * a[1], k * a[2]} }
func dot(a, b vec) float64        { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func size(a vec) float64          { return math.Sqrt(dot(a, a)) }
func cross(a, b vec) vec {
	return vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}
func isFinite(v float64) bool  { return !math.IsNaN(v) && !math.IsInf(v, 0) }
func finiteVec(a vec) bool     { return isFinite(a[0]) && isFinite(a[1]) && isFinite(a[2]) }
func turned(r *rot, a vec) vec { return vec{dot(r[0], a), dot(r[1], a), dot(r[2], a)} }
func column(r *rot, j int) vec { return vec{r[0][j], r[1][j], r[2][j]} }
func ofColumns(a, b, c vec) rot {
	return rot{{a[0], b[0], c[0]}, {a[1], b[1], c[1]}, {a[2], b[2], c[2]}}
}
func transposed(r *rot) rot { return ofColumns(r[0], r[1], r[2]) }

// turnedBack is Rᵀ·a.
func turnedBack(r *rot, a vec) vec {
	return vec{
		r[0][0]*a[0] + r[1][0]*a[1] + r[2][0]*a[2],
		r[0][1]*a[0] + r[1][1]*a[1] + r[2][1]*a[2],
		r[0][2]*a[0] + r[1][2]*a[1] + r[2][2]*a[2],
	}
}

func product(a, b *rot) rot {
	var out rot
	for i := range 3 {
		for j := range 3 {
			out[i][j] = a[i][0]*b[0][j] + a[i][1]*b[1][j] + a[i][2]*b[2][j]
		}
	}
	return out
}

// rotation is exp of the vector w: a turn by |w| radians about it (Rodrigues).
func rotation(w vec) rot {
	angle2 := dot(w, w)
	a, b := 1-angle2/6, 0.5-angle2/24 // sin/angle and (1 − cos)/angle²
	if angle2 > 1e-6 {
		angle := math.Sqrt(angle2)
		half := math.Sin(angle/2) / angle
		a, b = math.Sin(angle)/angle, 2*half*half
	}
	x, y, z := w[0], w[1], w[2]
	return rot{
		{1 - b*(y*y+z*z), b*x*y - a*z, b*x*z + a*y},
		{b*x*y + a*z, 1 - b*(x*x+z*z), b*y*z - a*x},
		{b*x*z - a*y, b*y*z + a*x, 1 - b*(x*x+y*y)},
	}
}

// squared makes the rows of a rotation orthogonal again, which many small turns
// wear off.
func squared(r *rot) rot {
	a := scaled(1/size(r[0]), r[0])
	b := sub(r[1], scaled(dot(a, r[1]), a))
	b = scaled(1/size(b), b)
	return rot{a, b, cross(a, b)}
}

// angleBetween is the angle in radians of the turn from one rotation to another.
func angleBetween(a, b *rot) float64 {
	var sum float64 // |A − B|² = 8 sin²(angle/2)
	for i := range 3 {
		for j := range 3 {
			d := a[i][j] - b[i][j]
			sum += d * d
		}
	}
	return 2 * math.Asin(math.Min(1, math.Sqrt(sum/8)))
}
