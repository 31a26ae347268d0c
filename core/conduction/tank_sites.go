package conduction

import (
	"fmt"
	"math"
)

// tankElectrodes refuses what the lattice sums do not know yet.
func tankElectrodes(s *Solution) error {
	for j, sr := range s.sources {
		if sr.backed {
			return fmt.Errorf("%w: electrode %d: a disc on bare sediment inside a rectangular tank; a point electrode (diameter 0), or a disc raised above it, would do", ErrNotYet, j+1)
		}
	}
	return nil
}

// sites sums the near images over the lattice sites within reach, and takes
// their share out of the mode m = n = 0, which [column] holds in full.
func (t *tank) sites(g *tankGroup, near []image, p Point) (phi float64, e Vector) {
	sigma := t.s.stack.slabs[g.sr.slab].sigma
	reach := cut/t.alpha + g.sr.a
	for _, j := range g.members {
		el := t.s.electrodes[j]
		c := el.CurrentA / (4 * math.Pi * sigma)
		for _, im := range near {
			zeta := p.Z - im.z
			room := reach*reach - zeta*zeta
			pool, slope := shortMean(t.alpha, zeta)
			f := 2 * math.Pi / (t.lx * t.ly) * c * im.w
			phi -= f * pool
			e.Z += f * slope
			if room <= 0 {
				continue
			}
			side := math.Sqrt(room)
			t.eachSite(el.At.X-t.x0, t.lx, p.X-t.x0, side, func(dx float64) {
				t.eachSite(el.At.Y-t.y0, t.ly, p.Y-t.y0, side, func(dy float64) {
					u := t.shortRange(g.sr.a, dx, dy, zeta, im.dir)
					phi += c * im.w * u.pot
					e.X += c * im.w * u.rho * dx
					e.Y += c * im.w * u.rho * dy
					e.Z += c * im.w * u.z
				})
			})
		}
	}
	return phi, e
}

// eachSite visits the mirror images of a coordinate within side of x, by
// their displacement, in a fixed order.
func (t *tank) eachSite(at, length, x, side float64, visit func(d float64)) {
	for _, from := range [2]float64{at, -at} {
		lo := int(math.Ceil((x - side - from) / (2 * length)))
		hi := int(math.Floor((x + side - from) / (2 * length)))
		for p := lo; p <= hi; p++ {
			visit(x - from - 2*float64(p)*length)
		}
	}
}

// shortMean is S(κ,ζ)/κ at κ = 0 and its slope by ζ: the mean over the tank's
// area of what the near images do through erfc(αR)/R, in units of 2π/(LxLy).
func shortMean(alpha, zeta float64) (v, slope float64) {
	a := math.Abs(zeta)
	ec := math.Erfc(alpha * a)
	v = math.Exp(-alpha*alpha*a*a)/(alpha*math.Sqrt(math.Pi)) - a*ec
	return v, -math.Copysign(ec, zeta)
}

// shortRange is erfc(αR)/R for a point, and its average over a disc.
func (t *tank) shortRange(a, dx, dy, zeta, dir float64) unit {
	rho2 := dx*dx + dy*dy
	if a == 0 {
		return shortPoint(t.alpha, rho2, zeta)
	}
	r := math.Sqrt(rho2 + zeta*zeta)
	if r > 30*a {
		return t.discAverage(a, dx, dy, zeta, 3, 8, shortPoint)
	}
	// The closed form of the disc less its smooth, long-range part.
	u := discUnit(rho2, math.Abs(zeta), a)
	u.z = math.Copysign(u.z, zeta)
	if zeta == 0 {
		u.z *= dir
	}
	v := t.discAverage(a, dx, dy, zeta, 8, 24, longPoint)
	return unit{u.pot - v.pot, u.rho - v.rho, u.z - v.z}
}

func shortPoint(alpha, rho2, zeta float64) unit {
	r2 := rho2 + zeta*zeta
	r := math.Sqrt(r2)
	x := alpha * r
	ec := math.Erfc(x)
	f := (ec/r + 2*alpha/math.Sqrt(math.Pi)*math.Exp(-x*x)) / r2
	return unit{ec / r, f, f * zeta}
}

func longPoint(alpha, rho2, zeta float64) unit {
	r2 := rho2 + zeta*zeta
	r := math.Sqrt(r2)
	x := alpha * r
	if x < 0.2 { // (2α/√π)·Σ(−x²)^n/(n!(2n+1)), where the closed form cancels
		x2, term, pot, f := x*x, 1.0, 0.0, 0.0
		for n := 0; n < 12; n++ {
			pot += term / float64(2*n+1)
			if n > 0 {
				f -= term * float64(2*n) / float64(2*n+1)
			}
			term *= -x2 / float64(n+1)
		}
		c := 2 * alpha / math.Sqrt(math.Pi)
		if x2 == 0 {
			return unit{c, c * alpha * alpha * 2 / 3, 0}
		}
		f *= c / r2
		return unit{c * pot, f, f * zeta}
	}
	ef := math.Erf(x)
	f := (ef/r - 2*alpha/math.Sqrt(math.Pi)*math.Exp(-x*x)) / r2
	return unit{ef / r, f, f * zeta}
}

// discAverage averages f over the flux of an isolated disc: ρ = a√(1−u²) with
// u uniform, which nu Gauss points and na directions integrate. The radial
// component comes back over the distance to the centre, along it.
func (t *tank) discAverage(a, dx, dy, zeta float64, nu, na int, f func(alpha, rho2, zeta float64) unit) unit {
	var pot, ez, along float64
	rho := math.Hypot(dx, dy)
	us, ws := discRule(nu)
	for i, x := range us {
		ring := a * math.Sqrt(1-x*x)
		for n := range na {
			sin, cos := math.Sincos(2 * math.Pi * (float64(n) + 0.5) / float64(na))
			ex, ey := rho-ring*cos, -ring*sin
			u := f(t.alpha, ex*ex+ey*ey, zeta)
			w := ws[i] / float64(na)
			pot += w * u.pot
			ez += w * u.z
			along += w * u.rho * ex
		}
	}
	if rho > 0 {
		along /= rho
	} else {
		along = 0
	}
	return unit{pot, along, ez}
}

// column is the mode m = n = 0: the current that goes straight up and down
// the tank, σφ″ = −ΣI_jδ(z − z_j)/A, without any through the ends.
type column struct {
	z     []float64 // rising: electrodes and interfaces
	phi   []float64 // potential there
	field []float64 // E_z above z[n], up to the next
}

func newColumn(s *Solution, area float64) *column {
	st := s.stack
	c := &column{}
	add := func(z float64) {
		if math.IsInf(z, 0) {
			return
		}
		i := 0
		for i < len(c.z) && c.z[i] < z {
			i++
		}
		if i < len(c.z) && c.z[i] == z {
			return
		}
		c.z = append(c.z, 0)
		copy(c.z[i+1:], c.z[i:])
		c.z[i] = z
	}
	for _, sl := range st.slabs {
		add(sl.topM)
		add(sl.bottomM)
	}
	for _, e := range s.electrodes {
		add(e.At.Z)
	}
	c.phi, c.field = make([]float64, len(c.z)), make([]float64, len(c.z))
	for n, z := range c.z {
		flux := 0.0
		for _, e := range s.electrodes {
			if e.At.Z <= z {
				flux += e.CurrentA
			}
		}
		if n+1 < len(c.z) { // above the last, balanced currents leave nothing
			slab, _ := st.slabAt(z)
			c.field[n] = flux / (st.slabs[slab].sigma * area)
			c.phi[n+1] = c.phi[n] - c.field[n]*(c.z[n+1]-z)
		}
	}
	c.level(st)
	return c
}

// level shifts the potential: 0 at an open end (the middle of both where both
// are open), a mean of 0 over a closed tank.
func (c *column) level(st *stack) {
	last := len(c.z) - 1
	var shift float64
	switch {
	case !st.air && !st.floor:
		shift = (c.phi[0] + c.phi[last]) / 2
	case !st.air:
		shift = c.phi[last]
	case !st.floor:
		shift = c.phi[0]
	default:
		for n := range last {
			shift += (c.phi[n] + c.phi[n+1]) / 2 * (c.z[n+1] - c.z[n])
		}
		shift /= c.z[last] - c.z[0]
	}
	for n := range c.phi {
		c.phi[n] -= shift
	}
}

// at returns the potential and E_z at a height.
func (c *column) at(z float64) (phi, ez float64) {
	if z < c.z[0] {
		return c.phi[0], 0
	}
	n := 0
	for n+1 < len(c.z) && c.z[n+1] <= z {
		n++
	}
	if n+1 == len(c.z) && n > 0 && z == c.z[n] {
		return c.phi[n], 0
	}
	return c.phi[n] - c.field[n]*(z-c.z[n]), c.field[n]
}
