package numeric

import (
	"fmt"
	"math"
)

// maxHermite bounds the order of a Gauss–Hermite rule: up to here neither the
// Hermite functions nor the weights underflow.
const maxHermite = 350

// GaussHermite returns the n nodes, in ascending order, and the weights of
// Gauss–Hermite quadrature for the weight exp(−x²) (the physicists'
// convention):
//
//	∫ exp(−x²) f(x) dx ≈ Σ weights[k]·f(nodes[k]),
//
// exact for polynomials up to degree 2n − 1; the weights sum to √π. The
// expectation over a standard normal Z is Σ weights[k]/√π · f(√2·nodes[k]).
// The rule is symmetric bit by bit: nodes[k] = −nodes[n−1−k]. Nodes and
// weights are good to a few units in the last place, the outermost weights,
// which are as small as exp(−2n), to about 1e-13 relative.
//
// It panics unless 1 ≤ n ≤ 350: an order is the calling code's choice.
//
// Method: the nodes are the eigenvalues of the symmetric tridiagonal matrix
// with off-diagonals √(k/2), found by bisection on its Sturm count and one or
// two Newton steps on the orthonormal Hermite function ψ_n. The weights are
// exp(−x²)/Σ ψ_k(x)², k < n: a sum of positive terms, so nothing cancels.
// Source: Golub and Welsch, Math. Comp. 23, 221–230, 1969 (from memory).
// Tests: exact moments, closed forms for n ≤ 4, the interlacing of the nodes.
func GaussHermite(n int) (nodes, weights []float64) {
	nodes, weights = GaussHermiteScaled(n)
	for k, x := range nodes {
		weights[k] *= math.Exp(-x * x)
	}
	return nodes, weights
}

// GaussHermiteScaled returns the rule of [GaussHermite] with every weight
// multiplied by exp(+x²), as adaptive quadrature needs it:
//
//	∫ g(x) dx ≈ Σ weights[k]·g(nodes[k])
//
// for a function g that is itself nearly exp(−x²) times a polynomial.
func GaussHermiteScaled(n int) (nodes, weights []float64) {
	if n < 1 || n > maxHermite {
		panic(fmt.Sprintf("numeric: Gauss–Hermite order %d, want 1 to %d", n, maxHermite))
	}
	nodes = make([]float64, n)
	weights = make([]float64, n)
	for k := range n / 2 { // positive nodes, from the largest inwards
		x := hermiteNode(n, k)
		_, _, sum := hermiteFunctions(n, x)
		nodes[n-1-k], nodes[k] = x, -x
		weights[n-1-k], weights[k] = 1/sum, 1/sum
	}
	if n%2 == 1 {
		_, _, sum := hermiteFunctions(n, 0)
		weights[n/2] = 1 / sum
	}
	return nodes, weights
}

// hermiteNode returns the zero of the n-th Hermite polynomial that has exactly
// k larger ones.
func hermiteNode(n, k int) float64 {
	lo, hi := 0.0, math.Sqrt(2*float64(n)+1)
	for hi-lo > 1e-9*hi {
		mid := lo + (hi-lo)/2
		if zerosAbove(n, mid) > k {
			lo = mid
		} else {
			hi = mid
		}
	}
	x := lo + (hi-lo)/2
	for range 2 {
		psi, before, _ := hermiteFunctions(n, x)
		x -= psi / (math.Sqrt(2*float64(n)) * before)
	}
	return x
}

// zerosAbove counts the zeros of the n-th Hermite polynomial above x: the
// positive pivots of J − x·1, J tridiagonal (Sylvester's law of inertia).
func zerosAbove(n int, x float64) int {
	count := 0
	pivot := -x
	for k := 1; ; k++ {
		if pivot > 0 {
			count++
		}
		if k == n {
			return count
		}
		if pivot == 0 {
			pivot = -1e-300
		}
		pivot = -x - float64(k)/2/pivot
	}
}

// hermiteFunctions returns the orthonormal Hermite functions ψ_n(x) and
// ψ_{n−1}(x), and Σ ψ_k(x)² over k < n.
func hermiteFunctions(n int, x float64) (psi, before, sum float64) {
	psi = math.Exp(-x*x/2) / math.Sqrt(math.Sqrt(math.Pi))
	for k := range n {
		sum += psi * psi
		psi, before = x*math.Sqrt(2/float64(k+1))*psi-math.Sqrt(float64(k)/float64(k+1))*before, psi
	}
	return psi, before, sum
}
