package conduction

import "math"

// table holds what the echoes in one slab, less the nearest images, do to the
// field, as piecewise polynomials of degree 5 in horizontal distance and
// height. They interpolate at Chebyshev–Lobatto points, edges included, so
// that the field has no steps between cells.
type table struct {
	slab   int
	near   []image    // kept exact
	kept   waveSeries // the same as a kernel
	rho, z *grid
	rhoMax float64
	lo, hi float64 // heights covered
	coef   []patch // cell (ir, iz) at iz·rho.cells() + ir
}

const (
	degree = 5
	side   = degree + 1
)

// patch is the polynomial of one cell: coefficient of t_ρ^i·t_z^j at [j][i],
// for the radial component over ρ and for the vertical one.
type patch struct{ rho, z [side][side]float64 }

// at evaluates the table; rho and z lie within it.
func (t *table) at(rho, z float64) (fr, fz float64) {
	ir, x := t.rho.find(rho)
	iz, y := t.z.find(z)
	p := &t.coef[iz*t.rho.cells()+ir]
	for j := degree; j >= 0; j-- {
		a, b := &p.rho[j], &p.z[j]
		fr = fr*y + (a[0] + x*(a[1]+x*(a[2]+x*(a[3]+x*(a[4]+x*a[5])))))
		fz = fz*y + (b[0] + x*(b[1]+x*(b[2]+x*(b[3]+x*(b[4]+x*b[5])))))
	}
	return fr, fz
}

// newTable tabulates slab i within the region; fineness is the width of a cell
// as a share of its distance from the nearest singularity.
func newTable(sr *source, i int, r Region, fineness float64) *table {
	s := sr.stack.slabs[i]
	t := &table{slab: i, rhoMax: r.RhoMaxM, lo: math.Max(r.ZMinM, s.bottomM), hi: math.Min(r.ZMaxM, s.topM)}
	below, above := t.chooseNear(sr)
	closest := math.Min(below, above)
	t.rho = newGrid(0, t.rhoMax, func(x float64) float64 { return fineness * math.Hypot(x, closest) })
	t.z = newGrid(t.lo, t.hi, func(z float64) float64 {
		return fineness * math.Min(z-t.lo+below, t.hi-z+above)
	})
	t.fill(sr, below, above)
	return t
}

// chooseNear picks the images that are kept exact and returns how far below
// and above the region the nearest of all others lies.
func (t *table) chooseNear(sr *source) (below, above float64) {
	s := sr.stack.slabs[t.slab]
	enough := 0.4 * t.rhoMax
	w, reach := sr.firstImages(t.slab, 2*(t.hi-t.lo+t.rhoMax))
	pick := func(x series, face, dir, edge float64) (kept series, gap float64) {
		const most = 3
		for n, u := range x {
			im := image{face - dir*u.s, u.w, u.d, dir}
			gap := dir * (edge - im.z)
			if gap > 0 && (gap >= enough || n >= most) {
				return x[:n], gap
			}
			t.near = append(t.near, im)
		}
		return x, math.Max(reach-math.Abs(edge-face), reach/4)
	}
	t.kept.rise, below = pick(w.rise, s.bottomM, 1, t.lo)
	t.kept.fall, above = pick(w.fall, s.topM, -1, t.hi)
	return below, above
}

// firstImages lists the nearest images on both sides, a few at least unless
// none is nearer than far, and how far the list is complete.
func (sr *source) firstImages(i int, far float64) (waveSeries, float64) {
	const few = 5
	for reach := sr.base; ; reach *= 2 {
		w, _ := imagesOf(sr.stack, sr.slab, sr.z0, i, reach, 1<<24)
		if reach > far || len(w.rise) >= few && len(w.fall) >= few {
			return w, reach
		}
	}
}

// fill interpolates: values on the points of all cells (shared along edges),
// then coefficients cell by cell.
func (t *table) fill(sr *source, below, above float64) {
	rhos, zs := t.rho.points(), t.z.points()
	values := t.values(sr, rhos, zs, below, above)
	t.coef = make([]patch, t.rho.cells()*t.z.cells())
	for c := range t.coef {
		ir, iz := c%t.rho.cells(), c/t.rho.cells()
		var fr, fz [side][side]float64
		for j := range side {
			for i := range side {
				v := values[(iz*degree+j)*len(rhos)+ir*degree+i]
				fr[j][i], fz[j][i] = v.rho, v.z
			}
		}
		t.coef[c] = patch{monomials(fr), monomials(fz)}
	}
}

// values integrates the kernel less the near images at all points of the grid
// (potentials are left out). Nodes in k serve all points, so that Bessel
// functions are needed once for each k and distance, and the rest is sums of
// products, each as far in k as its height lets the kernel reach.
func (t *table) values(sr *source, rhos, zs []float64, below, above float64) []unit {
	const tail = 36 // e^{−36} = 2e-16
	s := sr.stack.slabs[t.slab]
	ks, ws := t.wavenumbers(sr, tail/math.Min(below, above))
	rise, fall := make([]float64, len(ks)), make([]float64, len(ks))
	m := newMirrors(len(sr.stack.slabs))
	e := &expansion{wave: t.kept}
	for n, k := range ks {
		rise[n], fall[n] = sr.remainder(m, t.slab, e, k)
	}
	forRho, forZ := make([][]float64, len(rhos)), make([][]float64, len(rhos))
	_ = parallelEach(len(rhos), func(a int) error {
		forRho[a], forZ[a] = make([]float64, len(ks)), make([]float64, len(ks))
		for n, k := range ks {
			forRho[a][n] = ws[n] * k * k * besselRatio(k*rhos[a])
			forZ[a][n] = ws[n] * k * math.J0(k*rhos[a])
		}
		return nil
	})
	out := make([]unit, len(rhos)*len(zs))
	_ = parallelEach(len(zs), func(b int) error {
		z := zs[b]
		kEnd := tail / math.Min(z-t.lo+below, t.hi-z+above)
		sum, diff := make([]float64, 0, len(ks)), make([]float64, 0, len(ks))
		for n, k := range ks {
			if k > kEnd {
				break
			}
			up, down := rise[n], fall[n]
			if up != 0 {
				up *= math.Exp(-k * (z - s.bottomM))
			}
			if down != 0 {
				down *= math.Exp(-k * (s.topM - z))
			}
			sum, diff = append(sum, up+down), append(diff, up-down)
		}
		for a := range rhos {
			out[b*len(rhos)+a] = unit{rho: dot(sum, forRho[a]), z: dot(diff, forZ[a])}
		}
		return nil
	})
	return out
}

// wavenumbers are Gauss nodes that rise from 0 to kMax, in panels that double
// and then stay short enough for J0 at the largest distance.
func (t *table) wavenumbers(sr *source, kMax float64) (ks, ws []float64) {
	longest := 14 / math.Hypot(t.rhoMax, t.hi-t.lo)
	lo, hi := 0.0, 0.05*math.Min(math.Min(kMax, longest), sr.stack.smallestScale())
	for lo < kMax {
		ks, ws = panel(ks, ws, lo, hi)
		lo, hi = hi, math.Min(hi+math.Min(hi, longest), kMax)
	}
	return ks, ws
}

// dot sums in four lanes, of a fixed order; x may be shorter than y.
func dot(x, y []float64) float64 {
	y = y[:len(x)]
	var a, b, c, d float64
	n := 0
	for ; n+4 <= len(x); n += 4 {
		a += x[n] * y[n]
		b += x[n+1] * y[n+1]
		c += x[n+2] * y[n+2]
		d += x[n+3] * y[n+3]
	}
	for ; n < len(x); n++ {
		a += x[n] * y[n]
	}
	return (a + b) + (c + d)
}

// lobatto are the interpolation points −cos(πi/5).
var lobatto = func() (x [side]float64) {
	for i := range x {
		x[i] = -math.Cos(math.Pi * float64(i) / degree)
	}
	x[0], x[degree] = -1, 1
	return x
}()

// toMonomial[i][p]: coefficient of t^i in the Lagrange polynomial of point p.
var toMonomial = func() (m [side][side]float64) {
	for p := range side {
		c := [side]float64{1}
		n := 0
		for q := range side {
			if q == p {
				continue
			}
			inv := 1 / (lobatto[p] - lobatto[q])
			for i := n + 1; i >= 0; i-- {
				below := 0.0
				if i > 0 {
					below = c[i-1]
				}
				c[i] = (below - lobatto[q]*c[i]) * inv
			}
			n++
		}
		for i := range side {
			m[i][p] = c[i]
		}
	}
	return m
}()

// monomials turns values at the points into coefficients, in both directions.
func monomials(f [side][side]float64) (c [side][side]float64) {
	var half [side][side]float64
	for j := range side {
		for i := range side {
			for p := range side {
				half[j][i] += toMonomial[i][p] * f[j][p]
			}
		}
	}
	for j := range side {
		for i := range side {
			for p := range side {
				c[j][i] += toMonomial[j][p] * half[p][i]
			}
		}
	}
	return c
}
