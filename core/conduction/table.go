package conduction

import "math"

// table holds what the echoes in one slab, less the nearest images, do to the
// field, as piecewise polynomials of degree 5 in horizontal distance and
// height. They interpolate at Chebyshev–Lobatto points, edges included, so
// that the field has no steps between cells.
type table struct {
	slab     int
	near     []image
	rho, z   *grid
	rhoMax   float64
	lo, hi   float64 // heights covered
	coef     []patch // cell (ir, iz) at iz·rho.cells() + ir
	nearRise int     // how many of near lie below
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
	t.fill(sr)
	return t
}

// chooseNear picks the images that are kept exact and returns how far below
// and above the region the nearest of all others lies.
func (t *table) chooseNear(sr *source) (below, above float64) {
	const most = 3
	e := sr.nearImages(t.slab, t.lo, t.hi, t.rhoMax)
	enough := 0.1 * t.rhoMax
	pick := func(dir float64, gapOf func(image) float64) (gap float64) {
		gap = math.Max(t.rhoMax, t.hi-t.lo) + enough
		n := 0
		for _, im := range e.images {
			if im.dir != dir {
				continue
			}
			if g := gapOf(im); g < enough && n < most || g <= 0 {
				t.near = append(t.near, im)
				n++
			} else {
				return math.Min(gap, g)
			}
		}
		return gap
	}
	below = pick(1, func(im image) float64 { return t.lo - im.z })
	t.nearRise = len(t.near)
	above = pick(-1, func(im image) float64 { return im.z - t.hi })
	// Images that the expansion itself left out are at least this far.
	unseen := e.span - math.Max(math.Abs(t.lo-e.zc), math.Abs(t.hi-e.zc))
	if unseen <= 0 {
		unseen = e.span / 4
	}
	return math.Min(below, unseen), math.Min(above, unseen)
}

// nearImages is an expansion that reaches well beyond the region, or the
// largest there is.
func (sr *source) nearImages(i int, lo, hi, rhoMax float64) *expansion {
	if math.IsInf(sr.base, 1) {
		return sr.level(i, 0)
	}
	zc := sr.centre(i)
	want := 2 * (math.Max(math.Abs(lo-zc), math.Abs(hi-zc)) + rhoMax)
	best := sr.level(i, 0)
	for m := 1; m < maxLevels && best.span <= want; m++ {
		e := sr.level(i, m)
		if e == nil {
			break
		}
		best = e
	}
	return best
}

// fill interpolates: values on the points of all cells (shared along edges),
// then coefficients cell by cell.
func (t *table) fill(sr *source) {
	nr, nz := t.rho.cells()*degree+1, t.z.cells()*degree+1
	values := make([]unit, nr*nz)
	_ = parallel(nz, func(b int) error {
		z := t.z.at(min(b/degree, t.z.cells()-1), lobatto[b-min(b/degree, t.z.cells()-1)*degree])
		for a := range nr {
			cell := min(a/degree, t.rho.cells()-1)
			rho := t.rho.at(cell, lobatto[a-cell*degree])
			values[b*nr+a] = sr.echoesBut(t, rho*rho, z)
		}
		return nil
	})
	t.coef = make([]patch, t.rho.cells()*t.z.cells())
	for c := range t.coef {
		ir, iz := c%t.rho.cells(), c/t.rho.cells()
		var fr, fz [side][side]float64
		for j := range side {
			for i := range side {
				v := values[(iz*degree+j)*nr+ir*degree+i]
				fr[j][i], fz[j][i] = v.rho, v.z
			}
		}
		t.coef[c] = patch{monomials(fr), monomials(fz)}
	}
}

// echoesBut is [source.echoes] without the near images of the table: skipped
// where the expansion has them (so that nothing singular is taken from itself),
// subtracted where they are part of its remainder.
func (sr *source) echoesBut(t *table, rho2, z float64) unit {
	e, far := sr.expansionAt(t.slab, rho2, z)
	var u unit
	var rise, fall int
	for _, im := range e.images {
		switch {
		case im.dir > 0 && rise < t.nearRise:
			rise++
			continue
		case im.dir < 0 && fall < len(t.near)-t.nearRise:
			fall++
			continue
		}
		u = sr.imageUnit(u, []image{im}, rho2, z)
	}
	lack := sr.imageUnit(unit{}, t.near[rise:t.nearRise], rho2, z)
	lack = sr.imageUnit(lack, t.near[t.nearRise+fall:], rho2, z)
	u = unit{u.pot - lack.pot, u.rho - lack.rho, u.z - lack.z}
	if !far {
		return e.regular(u, rho2, z)
	}
	v := sr.hankelRemainder(t.slab, e, math.Sqrt(rho2), z)
	return unit{u.pot + v.pot, u.rho + v.rho, u.z + v.z}
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
