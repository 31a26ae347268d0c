package conduction

import "math"

// grade lays cells over −1 … 1 that get denser towards both ends, where the
// density of a plate has its singular edge, and, where the electrodes need it,
// round a place within. It is a smooth map of equal cells in an angle,
//
//	x = g(−cos θ),  g(c) = x0 + δ·sinh(A·c + B),  g(±1) = ±1
//
// so that sums over the cells converge as fast as the trapezoidal rule on a
// circle does. The sinh map is that of Tee and Trefethen (SIAM Journal on
// Scientific Computing 28:1798, 2006, from memory).
type grade struct {
	cells      int
	open       bool // a sheet: see edges
	x0, spread float64
	a, b       float64
}

// newGrade: spread is the half-width of the dense place round x0, as a share of
// the half-length; 0 (or 1 and more) is none.
func newGrade(cells int, open bool, x0, spread float64) grade {
	g := grade{cells: cells, open: open}
	if spread > 0 && spread < 1 {
		g.x0, g.spread = x0, spread
		lo, hi := math.Asinh((1+x0)/spread), math.Asinh((1-x0)/spread)
		g.a, g.b = (lo+hi)/2, (hi-lo)/2
	}
	return g
}

// even reports whether the cells lie symmetrically about the middle.
func (g grade) even() bool { return g.spread == 0 || g.x0 == 0 }

// at returns x and dx/dθ at an angle.
func (g grade) at(theta float64) (x, slope float64) {
	sin, cos := math.Sincos(theta)
	if g.spread == 0 {
		return -cos, sin
	}
	u := g.b - g.a*cos
	return g.x0 + g.spread*math.Sinh(u), g.spread * math.Cosh(u) * g.a * sin
}

// edges are the cells' borders. Those of a sheet stop short of ±1: they are the
// places of the line currents in the Gauss–Chebyshev rule, with which the
// equation of a sheet, asked at [grade.probes], is met exactly in two
// dimensions.
func (g grade) edges() []float64 {
	x := make([]float64, g.cells+1)
	for j := range x {
		u := float64(j) / float64(g.cells)
		if g.open {
			u = (float64(j) + 0.5) / float64(g.cells+1)
		}
		x[j], _ = g.at(math.Pi * u)
	}
	if !g.open {
		x[0], x[g.cells] = -1, 1
	}
	return x
}

// step is the width of a cell in θ.
func (g grade) step() float64 {
	if g.open {
		return math.Pi / float64(g.cells+1)
	}
	return math.Pi / float64(g.cells)
}

// angles are the places of the cells in θ, and the step between them.
func (g grade) angles() (theta []float64, step float64) {
	theta = make([]float64, g.cells)
	step = g.step()
	for j := range theta {
		theta[j] = (float64(j) + 0.5) * step
		if g.open {
			theta[j] = float64(j+1) * step
		}
	}
	return theta, step
}

// probes are where a cell's equation is asked; weights are those of a rule
// that integrates over −1 … 1 by values there.
func (g grade) probes() (x, weight []float64) {
	theta, step := g.angles()
	x, weight = make([]float64, g.cells), make([]float64, g.cells)
	for j, t := range theta {
		var slope float64
		x[j], slope = g.at(t)
		weight[j] = slope * step
		if !g.open {
			weight[j] = slope / math.Sin(t) * fejer(t, g.cells)
		}
	}
	return x, weight
}

// fejer is the weight of the place cos θ in Fejér's rule of n places, which is
// exact for polynomials below degree n.
func fejer(theta float64, n int) float64 {
	sum := 0.5
	for k := 1; 2*k < n; k++ {
		sum -= math.Cos(2*float64(k)*theta) / float64(4*k*k-1)
	}
	return 4 * sum / float64(n)
}

// finer is the same map with times as many cells.
func (g grade) finer(times int) grade {
	if g.open {
		g.cells = times*(g.cells+1) - 1
	} else {
		g.cells *= times
	}
	return g
}

// interpolation returns the matrix that carries values at the probes to those
// of a finer grade of the same map: row by finer probe. Densities are smooth in
// θ: even at both ends for a body, odd (they vanish there) for a sheet. Eight
// neighbours give a value, so that the high peak under an electrode does not show
// in the small values far from it.
//
// A sheet's values are sums of line currents, each for a whole cell; the density
// is the mean of their interpolant over a cell.
func (g grade) interpolation(to grade) [][]float64 {
	finer, _ := to.angles()
	out := make([][]float64, len(finer))
	for i, t := range finer {
		out[i] = g.weightsOf(t)
	}
	return out
}

// weightsAt is a row of [grade.interpolation] for a place of −1 … 1.
func (g grade) weightsAt(x float64) []float64 { return g.weightsOf(g.angle(x)) }

func (g grade) weightsOf(theta float64) []float64 {
	row, step := make([]float64, g.cells), g.step()
	if !g.open {
		g.neighbours(row, theta/step-0.5, 1)
		return row
	}
	for n, u := range gaussNodes { // the mean over a cell
		g.neighbours(row, theta/step-1+u/2, gaussWeights[n]/2)
	}
	return row
}

// neighbours adds the weights of Lagrange's interpolation at a place given as
// an index, times f.
func (g grade) neighbours(row []float64, at, f float64) {
	const most = 8
	n := g.cells
	count := min(most, 2*(n/2))
	first := int(math.Floor(at)) - count/2 + 1
	for j := first; j < first+count; j++ {
		w := f
		for k := first; k < first+count; k++ {
			if k != j {
				w *= (at - float64(k)) / float64(j-k)
			}
		}
		if index, sign := g.mirrored(j); sign != 0 {
			row[index] += sign * w
		}
	}
}

// mirrored is the cell whose value, times the sign, stands at an index beyond
// the ends; the sign is 0 at the very end of a sheet.
func (g grade) mirrored(j int) (index int, sign float64) {
	n := g.cells
	if !g.open {
		switch {
		case j < 0:
			return -1 - j, 1
		case j >= n:
			return 2*n - 1 - j, 1
		}
		return j, 1
	}
	switch {
	case j == -1 || j == n:
		return 0, 0
	case j < 0:
		return -2 - j, -1
	case j > n:
		return 2*n - j, -1
	}
	return j, 1
}
