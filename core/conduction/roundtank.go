package conduction

import (
	"math"
	"sync"
)

// roundTank is the field inside a vertical, insulating, circular wall of radius R. The layers
// without a wall are summed as everywhere; what the wall adds is smooth inside, and is
// written in the standing waves of the column of layers,
//
//	Σ_j I_j Σ_{n≥1} Z_n(z)Z_n(z_j)/∫σZ_n² · 1/2π Σ_m ε_m cos m(θ − θ_j)·(−K′_m/I′_m)(k_nR)·I_m(k_nρ)I_m(k_nρ_j)
//	+ Σ_j I_j/∫σ · 1/2π {Σ_{m≥1} cos m(θ − θ_j)/m·(ρρ_j/R²)^m + (ρ² + ρ_j²)/2R²}
//
// (ε_0 = 1, else 2): each wave is a screened potential in the plane, whose source is K_0(k|x − x_j|),
// and to each order of it the wall adds what makes the slope at ρ = R nothing. The second line is
// n = 0, Z = 1; its ρ² goes with balanced currents. A disc is a source of the same order
// m with the weight sinh(ka)/(ka).
//
// Over and under the sources by 0.75R and more, the sum over the modes of the circle is the
// quicker and the better one: see [roundTank.across].
//
// Source: separation of variables (Morse and Feshbach, Methods of Theoretical
// Physics, chapter 10, from memory). Tests: each of the two sums against the other and
// against closed forms.
type roundTank struct {
	s        *Solution
	frame    *wallFrame
	x0, y0   float64
	sources  []*source // by electrode, in the long column
	gap      float64   // of the nearest source from the wall
	column   *column
	shift    float64 // of the potential
	ground   float64 // ∫σ over the column
	shares   []wallShares
	once     []sync.Once
	modes    *roundModes
	modeOnce sync.Once

	otherOnce sync.Once
	otherTank *roundTank
}

// wallShares are the sources' sums by the terms of a level: over cosine and sine of mθ_j.
type wallShares struct{ cos, sin []float64 }

// newRoundTank prepares; frames keeps what several sets of sources share, and may be nil.
func newRoundTank(s *Solution, c frameChoice, frames *sync.Map) *roundTank {
	e := s.medium.Enclosure
	t := &roundTank{s: s, x0: e.CentreXM, y0: e.CentreYM, gap: math.Inf(1)}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, el := range s.electrodes {
		lo, hi = math.Min(lo, el.At.Z), math.Max(hi, el.At.Z)
	}
	t.frame = sharedFrame(s, e.DiameterM/2, lo, hi, c, frames)
	again := make(map[*source]*source)
	for j, sr := range s.sources {
		if again[sr] == nil {
			again[sr] = newSource(t.frame.base, sr.z0, sr.a)
			again[sr].backed = sr.backed
		}
		t.sources = append(t.sources, again[sr])
		rho, _, _ := t.polar(s.electrodes[j].At)
		t.gap = math.Min(t.gap, t.frame.radius-rho-sr.a)
	}
	t.ground = t.frame.base.conductance()
	t.column = newColumn(s, math.Pi*t.frame.radius*t.frame.radius)
	t.shift = t.column.weighted(t.frame.base)
	n := len(t.frame.levels)
	t.shares, t.once = make([]wallShares, n), make([]sync.Once, n)
	return t
}

type frameKey struct {
	lo, hi float64
	choice frameChoice
}

func sharedFrame(s *Solution, radius, lo, hi float64, c frameChoice, frames *sync.Map) *wallFrame {
	if frames == nil {
		return newWallFrame(s.stack, radius, lo, hi, c)
	}
	key := frameKey{lo, hi, c}
	f, ok := frames.Load(key)
	if !ok {
		f, _ = frames.LoadOrStore(key, newWallFrame(s.stack, radius, lo, hi, c))
	}
	return f.(*wallFrame)
}

// polar is a place round the axis: its distance, never quite 0, and its direction.
func (t *roundTank) polar(p Point) (rho, cos, sin float64) {
	dx, dy := p.X-t.x0, p.Y-t.y0
	rho = math.Hypot(dx, dy)
	if least := 1e-12 * t.frame.radius; rho < least {
		return least, 1, 0
	}
	return rho, dx / rho, dy / rho
}

func (t *roundTank) method() string { return "round tank (layers, and the wall in waves)" }

// other is the same tank with all free choices made otherwise.
func (t *roundTank) other() walls {
	t.otherOnce.Do(func() { t.otherTank = newRoundTank(t.s, otherFrame, nil) })
	return t.otherTank
}

// unsure is what rounding may do to the field at a point, and, closer to the wall than the
// deepest level's gap, the terms that are not there: e^−(d/1.2 gap)² of the field at a distance d
// along the wall (measured with electrodes on it).
func (t *roundTank) unsure(p Point) float64 {
	rho, _, _ := t.polar(p)
	sum, deepest := 0.0, t.frame.gapOf(t.frame.deepest)
	gap := math.Max(t.frame.radius-rho+t.gap, 0)
	for j, el := range t.s.electrodes {
		dx, dy, dz := p.X-el.At.X, p.Y-el.At.Y, p.Z-el.At.Z
		direct := dx*dx + dy*dy + dz*dz
		other, _, _ := t.polar(el.At)
		r := t.frame.radius
		mirrored := direct + (r-rho)*(r+rho)*(r-other)*(r+other)/(r*r) // (ρ_j/R)² of the image's distance, squared
		sigma := t.s.stack.slabs[t.s.sources[j].slab].sigma
		f := math.Abs(el.CurrentA) / (4 * math.Pi * sigma)
		sum += rounding * f * (1/direct + 1/math.Max(mirrored, direct))
		if gap < deepest {
			sum += f / math.Max(mirrored, direct) * math.Exp(-t.frame.digits/2*gap/deepest-mirrored/(1.44*deepest*deepest))
		}
	}
	return sum
}

// eval returns potential and field at a valid point.
func (t *roundTank) eval(slab int, p Point) (phi float64, e Vector) {
	if t.nearest(p.Z) >= t.frame.band {
		return t.across(slab, p)
	}
	phi, e = t.echo(slab, p)
	base := slab - t.frame.above
	for j, el := range t.s.electrodes {
		dx, dy := p.X-el.At.X, p.Y-el.At.Y
		sr := t.sources[j]
		u := sr.unitAt(base, dx*dx+dy*dy, p.Z)
		f := el.CurrentA / (4 * math.Pi * t.frame.base.slabs[sr.slab].sigma)
		phi += f * u.pot
		e.X += f * u.rho * dx
		e.Y += f * u.rho * dy
		e.Z += f * u.z
	}
	return phi, e
}

// nearest is the distance in height from a place to the nearest source.
func (t *roundTank) nearest(z float64) float64 {
	d := math.Inf(1)
	for j := range t.s.electrodes {
		d = math.Min(d, math.Abs(z-t.s.electrodes[j].At.Z))
	}
	return d
}

// echo is what the wall adds to the layers.
func (t *roundTank) echo(slab int, p Point) (phi float64, e Vector) {
	phi = t.shift
	r2 := t.frame.radius * t.frame.radius
	for j, el := range t.s.electrodes {
		f := el.CurrentA / (4 * math.Pi * t.ground)
		dx, dy := el.At.X-t.x0, el.At.Y-t.y0
		a := t.s.sources[j].a
		phi += f * (dx*dx + dy*dy + 2*a*a/3) / r2
	}
	v, g := t.waves(slab, p)
	return phi + v, e.Add(g)
}

// waves sums the standing waves n ≥ 1.
func (t *roundTank) waves(slab int, p Point) (phi float64, e Vector) {
	f := t.frame
	rho, c1, s1 := t.polar(p)
	depth := f.radius - rho // to the wall
	gap := depth + t.gap
	n := f.levelFor(gap)
	gap = math.Max(gap, f.gapOf(n))
	l, shares := f.level(n), t.sharesOf(n)
	most := f.orders(0, gap)
	buf := make([]float64, 3*most)
	cos, sin, step := buf[:most], buf[most:2*most], buf[2*most:]
	rounds(c1, s1, cos, sin)
	var radial, along float64
	kMax := f.digits / gap
	for i := range l.rows {
		row := &l.rows[i]
		if row.k > kMax || !f.heard(&f.columns[row.column], p.Z) {
			continue
		}
		z, dz := l.upright[row.column].at(row.wave, slab-f.columns[row.column].above, p.Z)
		all := f.orders(row.k, gap)
		orders := min(row.orders, all, most)
		at := step[:orders]
		row.steps(rho, rho/f.radius, at, spare(all-orders))
		h := bessel0(row.k*rho) / row.centre * math.Exp(-row.k*depth)
		ratio := l.ratio[row.from : row.from+orders]
		a, b := shares.cos[row.from:row.from+orders], shares.sin[row.from:row.from+orders]
		var pot, byOrder, rise, turn float64
		for m, r := range at {
			v := h * (a[m]*cos[m] + b[m]*sin[m])
			pot += v
			byOrder += float64(m) * v
			rise += r * v
			turn += float64(m) * h * (a[m]*sin[m] - b[m]*cos[m])
			if h *= r * ratio[m]; h < 1e-60 {
				break
			}
		}
		phi += z * pot
		radial -= z * (byOrder/rho + row.k*rise)
		along += z * turn / rho
		e.Z -= dz * pot
	}
	e.X = radial*c1 - along*s1
	e.Y = radial*s1 + along*c1
	return phi, e
}

// steps sets I_{m+1}/I_m at kρ, or, without k, that over the wall's.
func (r *wallRow) steps(rho, share float64, at []float64, beyond int) {
	if r.k > 0 {
		besselSteps(r.k*rho, at, beyond)
		return
	}
	for m := range at {
		at[m] = share
	}
}

// rounds fills cos mθ and sin mθ.
func rounds(c1, s1 float64, cos, sin []float64) {
	c, s := 1.0, 0.0
	for m := range cos {
		cos[m], sin[m] = c, s
		c, s = c*c1-s*s1, s*c1+c*s1
	}
}

func (t *roundTank) sharesOf(n int) *wallShares {
	t.once[n].Do(func() { t.shares[n] = t.newShares(t.frame.level(n)) })
	return &t.shares[n]
}

// newShares adds up the sources on one level.
func (t *roundTank) newShares(l *wallLevel) wallShares {
	out := wallShares{make([]float64, len(l.weight)), make([]float64, len(l.weight))}
	most := 0
	for i := range l.rows {
		most = max(most, l.rows[i].orders)
	}
	type spot struct{ rho, depth float64 }
	spots := make([]spot, len(t.sources))
	cos, sin := make([][]float64, len(t.sources)), make([][]float64, len(t.sources))
	for j := range t.sources {
		rho, c1, s1 := t.polar(t.s.electrodes[j].At)
		spots[j] = spot{rho, t.frame.radius - rho}
		cos[j], sin[j] = make([]float64, most), make([]float64, most)
		rounds(c1, s1, cos[j], sin[j])
	}
	_ = parallelEach(len(l.rows), func(i int) error {
		row := &l.rows[i]
		at := make([]float64, row.orders)
		ratio, weight := l.ratio[row.from:row.from+row.orders], l.weight[row.from:row.from+row.orders]
		a, b := out.cos[row.from:row.from+row.orders], out.sin[row.from:row.from+row.orders]
		for j, sr := range t.sources {
			slab := sr.slab + t.frame.above - t.frame.columns[row.column].above
			z, dz := l.upright[row.column].at(row.wave, slab, sr.z0)
			row.steps(spots[j].rho, spots[j].rho/t.frame.radius, at, row.beyond)
			h := t.s.electrodes[j].CurrentA * sr.strength(row.k, z, dz) *
				bessel0(row.k*spots[j].rho) / row.centre * math.Exp(-row.k*(spots[j].depth-sr.a))
			for m, r := range at {
				v := h * weight[m]
				a[m] += v * cos[j][m]
				b[m] += v * sin[j][m]
				if h *= r * ratio[m]; h == 0 {
					break
				}
			}
		}
		return nil
	})
	return out
}

// strength is a source's weight in a standing wave whose value and slope at it are
// z and dz, times e^{−ka}.
func (sr *source) strength(k, z, dz float64) float64 {
	if sr.a == 0 || k == 0 {
		return z
	}
	u := k * sr.a
	out := z * -math.Expm1(-2*u) / (2 * u)
	if sr.backed {
		out += dz / k * backWave(u)
	}
	return out
}

// backWave is [backKernel] where the wave stands upright and grows outward:
// e^{−u}·(2/π)∫₀¹ artanh(x) sinh(ux) dx.
func backWave(u float64) float64 {
	sum := 0.0
	if u < 1 {
		odd, f := 0.0, u
		for l := 1; l < 30; l += 2 {
			odd += 1 / float64(l)
			sum += f * odd / float64(l+1)
			f *= u * u / float64((l+1)*(l+2))
		}
		return 2 / math.Pi * sum * math.Exp(-u)
	}
	const h = 0.05 // x = tanh v, as in [backKernel]
	for n := 1; n <= 420; n++ {
		v := h * float64(n)
		sech, x := 1/math.Cosh(v), math.Tanh(v)
		sum += v * sech * sech * (math.Exp(-u*(1-x)) - math.Exp(-u*(1+x))) / 2
	}
	return 2 / math.Pi * h * sum
}

// weighted is the mean of the potential of a column over a stack of finite
// height, weighted with the conductivity.
func (c *column) weighted(st *stack) float64 {
	sum, weight := 0.0, 0.0
	for _, s := range st.slabs {
		at := []float64{s.bottomM}
		for _, z := range c.z {
			if z > s.bottomM && z < s.topM {
				at = append(at, z)
			}
		}
		at = append(at, s.topM)
		for i := range len(at) - 1 {
			lo, _ := c.at(at[i])
			hi, _ := c.at(at[i+1])
			sum += s.sigma * (lo + hi) / 2 * (at[i+1] - at[i])
		}
		weight += s.sigma * s.thickness()
	}
	return sum / weight
}
