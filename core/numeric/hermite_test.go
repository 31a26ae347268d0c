package numeric_test

import (
	"math"
	"testing"

	"brinefield/core/numeric"
	"brinefield/core/numeric/numtest"
)

// The moments of exp(−x²): ∫ x^(2m) exp(−x²) dx = Γ(m + ½), odd ones 0.
// Source: closed form. A rule of n nodes is exact up to degree 2n − 1.
func TestGaussHermiteMoments(t *testing.T) {
	for _, n := range []int{1, 2, 3, 4, 5, 7, 10, 25, 51, 101, 151, 201, 350} {
		nodes, weights := numeric.GaussHermite(n)
		if len(nodes) != n || len(weights) != n {
			t.Fatalf("n = %d: %d nodes, %d weights", n, len(nodes), len(weights))
		}
		for degree := 0; degree <= min(2*n-1, 60); degree += 2 {
			var got float64
			for k, x := range nodes {
				got += weights[k] * math.Pow(x, float64(degree))
			}
			want := math.Gamma(float64(degree)/2 + 0.5)
			if !numtest.Check(t, "moment", got, want, numtest.Tolerance{Rel: 2e-13}) {
				t.Errorf("  n = %d, degree = %d", n, degree)
			}
		}
	}
}

// Source: the zeros of H2 = 4x² − 2, H3 = 8x³ − 12x and H4 = 16x⁴ − 48x² + 12
// in closed form.
func TestGaussHermiteClosedForms(t *testing.T) {
	rootPi := math.Sqrt(math.Pi)
	for _, c := range []struct{ nodes, weights []float64 }{
		{[]float64{0}, []float64{rootPi}},
		{[]float64{-math.Sqrt(0.5), math.Sqrt(0.5)}, []float64{rootPi / 2, rootPi / 2}},
		{[]float64{-math.Sqrt(1.5), 0, math.Sqrt(1.5)}, []float64{rootPi / 6, rootPi * 2 / 3, rootPi / 6}},
		{
			[]float64{
				-math.Sqrt((3 + math.Sqrt(6)) / 2), -math.Sqrt((3 - math.Sqrt(6)) / 2),
				math.Sqrt((3 - math.Sqrt(6)) / 2), math.Sqrt((3 + math.Sqrt(6)) / 2),
			},
			[]float64{
				rootPi / (4 * (3 + math.Sqrt(6))), rootPi / (4 * (3 - math.Sqrt(6))),
				rootPi / (4 * (3 - math.Sqrt(6))), rootPi / (4 * (3 + math.Sqrt(6))),
			},
		},
	} {
		nodes, weights := numeric.GaussHermite(len(c.nodes))
		for k := range c.nodes {
			numtest.Check(t, "node", nodes[k], c.nodes[k], numtest.Tolerance{Rel: 1e-15, Abs: 1e-300})
			numtest.Check(t, "weight", weights[k], c.weights[k], numtest.Tolerance{Rel: 1e-14})
		}
	}
}

// An entire function that is no polynomial: ∫ exp(−x²) cos(ax) dx =
// √π exp(−a²/4). Source: closed form. A high order must not lose digits.
func TestGaussHermiteCosine(t *testing.T) {
	for _, n := range []int{25, 51, 101, 201, 350} {
		nodes, weights := numeric.GaussHermite(n)
		var got float64
		for k, x := range nodes {
			got += weights[k] * math.Cos(3*x)
		}
		numtest.Check(t, "∫ exp(−x²) cos 3x", got, math.Sqrt(math.Pi)*math.Exp(-9.0/4), numtest.Tolerance{Rel: 1e-13})
	}
}

func TestGaussHermiteShape(t *testing.T) {
	inner, _ := numeric.GaussHermite(1)
	for n := 2; n <= 120; n++ {
		nodes, weights := numeric.GaussHermite(n)
		_, scaled := numeric.GaussHermiteScaled(n)
		for k := range n {
			if nodes[k] != -nodes[n-1-k] || weights[k] != weights[n-1-k] {
				t.Fatalf("n = %d: not symmetric at %d", n, k)
			}
			if weights[k] <= 0 || scaled[k] <= 0 {
				t.Fatalf("n = %d: weight %d is %g", n, k, weights[k])
			}
			// Zeros of neighbouring orders interlace.
			if k > 0 && (nodes[k-1] >= inner[k-1] || inner[k-1] >= nodes[k]) {
				t.Fatalf("n = %d: nodes %d and %d do not enclose the node of order %d", n, k-1, k, n-1)
			}
		}
		inner = nodes
	}
}

func TestGaussHermiteRefusesOrder(t *testing.T) {
	for _, n := range []int{-1, 0, 351} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("order %d: no panic", n)
				}
			}()
			numeric.GaussHermite(n)
		}()
	}
}
