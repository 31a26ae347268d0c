package inference

import "math"

// solveNetwork solves the network of [stepQuadratic] by conjugate gradients,
// preconditioned with its tridiagonal part (the edges between neighbours and
// to earth), which is all of it for exact and right-censored rows.
func solveNetwork(edges []stepRow, right []float64) []float64 {
	size := len(right)
	diagonal, beside := make([]float64, size), make([]float64, size)
	largest := 0.0
	for _, e := range edges {
		b := e.to - 1
		diagonal[b] += e.count
		if e.from > 0 {
			diagonal[e.from-1] += e.count
			if e.from == b {
				beside[b] -= e.count // between b−1 and b
			}
		}
	}
	for _, d := range diagonal {
		largest = math.Max(largest, d)
	}
	for k := range diagonal {
		diagonal[k] += leak * largest
	}
	pre := factorTridiagonal(diagonal, beside)
	x, r := make([]float64, size), append([]float64(nil), right...)
	z, direction, product := make([]float64, size), make([]float64, size), make([]float64, size)
	pre.solve(z, r)
	copy(direction, z)
	rho := innerProduct(r, z)
	enough := 1e-26 * rho
	for range 3000 {
		if !(rho > enough) {
			break
		}
		multiplyNetwork(product, direction, edges, leak*largest)
		step := rho / innerProduct(direction, product)
		for k := range x {
			x[k] += step * direction[k]
			r[k] -= step * product[k]
		}
		pre.solve(z, r)
		next := innerProduct(r, z)
		ratio := next / rho
		rho = next
		for k := range direction {
			direction[k] = z[k] + ratio*direction[k]
		}
	}
	return x
}

func multiplyNetwork(product, f []float64, edges []stepRow, tie float64) {
	for k, v := range f {
		product[k] = tie * v
	}
	for _, e := range edges {
		b := e.to - 1
		if e.from == 0 {
			product[b] += e.count * f[b]
			continue
		}
		a := e.from - 1
		current := e.count * (f[b] - f[a])
		product[b] += current
		product[a] -= current
	}
}

func innerProduct(a, b []float64) float64 {
	sum := 0.0
	for k, v := range a {
		sum += v * b[k]
	}
	return sum
}

// tridiagonal is the LDLᵀ factor of a symmetric tridiagonal matrix.
type tridiagonal struct{ pivot, ratio []float64 }

func factorTridiagonal(diagonal, beside []float64) tridiagonal {
	n := len(diagonal)
	t := tridiagonal{make([]float64, n), make([]float64, n)}
	t.pivot[0] = diagonal[0]
	for k := 1; k < n; k++ {
		t.ratio[k] = beside[k] / t.pivot[k-1]
		t.pivot[k] = diagonal[k] - t.ratio[k]*beside[k]
		if !(t.pivot[k] > 0) {
			t.pivot[k] = diagonal[k]
		}
	}
	return t
}

func (t tridiagonal) solve(x, b []float64) {
	n := len(b)
	copy(x, b)
	for k := 1; k < n; k++ {
		x[k] -= t.ratio[k] * x[k-1]
	}
	for k := range x {
		x[k] /= t.pivot[k]
	}
	for k := n - 2; k >= 0; k-- {
		x[k] -= t.ratio[k+1] * x[k+1]
	}
}
