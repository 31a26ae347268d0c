package calibration

import "math"

// Shape is what readings would be, by the conductivity of the water: each
// reading's potential difference times the water's conductivity over the
// current, in 1/m. Where all that conducts goes with the water it does not
// depend on the water at all, which is why potentials alone then tell only
// current over conductivity.
type Shape struct {
	middle, half float64     // of ln conductivity
	nodes        []float64   // where the shape is known, in −1 … 1
	values       [][]float64 // by node, then by reading
	weights      []float64   // of the barycentric formula
}

// OneShape is a shape that is the same in every water.
func OneShape(perMetre []float64, lowSPerM, highSPerM float64) *Shape {
	low, high := math.Log(lowSPerM), math.Log(highSPerM)
	return &Shape{middle: (low + high) / 2, half: (high - low) / 2, nodes: []float64{0}, values: [][]float64{perMetre}, weights: []float64{1}}
}

// Conductivities are the n of the water at which a shape has to be known, for
// all between the middle over the ratio and the middle times it: the Chebyshev
// points in the logarithm. n is odd, so that the middle is one of them.
//
// The field of layers and plates depends on conductivities only by their
// ratios, and on the logarithm of one of them smoothly: its nearest
// singularities are where a bottom conducts as much as the water, but with the
// other sign, at π beside the real axis. So the error falls by at least
// ρ = π/w + √(π²/w² + 1) with every point, w the logarithm of the ratio: for a
// ratio of 4 and 7 points about 3e-5, for 5 points 5e-4.
func Conductivities(middleSPerM, ratio float64, n int) []float64 {
	out := make([]float64, n)
	for i, t := range chebyshev(n) {
		out[i] = middleSPerM * math.Exp(t*math.Log(ratio))
	}
	out[n/2] = middleSPerM
	return out
}

// Middle is which of n conductivities is the middle one.
func Middle(n int) int { return n / 2 }

func chebyshev(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = -math.Cos(math.Pi * (2*float64(i) + 1) / (2 * float64(n)))
	}
	out[n/2] = 0
	return out
}

// Between is the shape between the conductivities of [Conductivities], with
// the values at each of them.
func Between(middleSPerM, ratio float64, values [][]float64) *Shape {
	n := len(values)
	s := &Shape{middle: math.Log(middleSPerM), half: math.Log(ratio), nodes: chebyshev(n), values: values, weights: make([]float64, n)}
	for i := range s.weights {
		s.weights[i] = math.Sin(math.Pi * (2*float64(i) + 1) / (2 * float64(n)))
		if i%2 == 1 {
			s.weights[i] = -s.weights[i]
		}
	}
	return s
}

// At sets dst to the shape at a logarithm of the water's conductivity, by the
// barycentric formula. Beyond its ends a shape is that of the end.
func (s *Shape) At(dst []float64, logWater float64) {
	t := 0.0
	if s.half > 0 {
		t = math.Max(-1, math.Min(1, (logWater-s.middle)/s.half))
	}
	sum := 0.0
	for i := range dst {
		dst[i] = 0
	}
	for k, node := range s.nodes {
		if t == node {
			copy(dst, s.values[k])
			return
		}
		w := s.weights[k] / (t - node)
		sum += w
		for i, v := range s.values[k] {
			dst[i] += w * v
		}
	}
	for i := range dst {
		dst[i] /= sum
	}
}

// low and high are the ends, as logarithms.
func (s *Shape) low() float64  { return s.middle - s.half }
func (s *Shape) high() float64 { return s.middle + s.half }

// constant reports whether the shape is the same at all points, to what
// rounding leaves.
func (s *Shape) constant() bool {
	if len(s.nodes) == 1 {
		return true
	}
	largest, apart := 0.0, 0.0
	for _, v := range s.values {
		for i := range v {
			largest = math.Max(largest, math.Abs(v[i]))
			apart = math.Max(apart, math.Abs(v[i]-s.values[0][i]))
		}
	}
	return apart <= 1e-9*largest
}
