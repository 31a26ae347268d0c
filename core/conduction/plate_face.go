package conduction

import (
	"math"
	"sort"
	"sync"
)

// face is a rectangle's face as the field sees it: dipoles on a grid that is as
// fine as the distance asks for. On the plate's own grade the sum over dipoles
// is a trapezoidal rule in θ and converges as e^(−2π·distance/spacing).
type face struct {
	b      *board
	z, up  float64 // height; +1 where the normal points up
	values []float64
	levels [faceLevels]faceLevel
}

type faceLevel struct {
	once   sync.Once
	x, y   []float64
	moment []float64 // by x·len(y) + y
}

const (
	faceLevels = 5   // each has twice as many dipoles a side
	spaced     = 1.6 // spacings from a dipole at which its grid will do
)

func (b *board) parts(density []float64) []part {
	var out []part
	for n := range b.faces() {
		f := &face{b: b, z: b.plate.TopM - float64(n)*b.plate.ThicknessM, up: 1 - 2*float64(n)}
		f.values = make([]float64, b.gx.cells*b.gy.cells)
		for i := range b.gx.cells {
			for j := range b.gy.cells {
				f.values[i*b.gy.cells+j] = density[b.index(i, j, n)]
			}
		}
		out = append(out, part{b.facets[n*b.order].slab, f})
	}
	flat := b.gx.cells * b.gy.cells * b.faces()
	sides := make(map[int]*rim)
	for k := flat; k < len(b.facets); k++ {
		f := &b.facets[k]
		r := sides[f.slab]
		if r == nil {
			r = &rim{}
			sides[f.slab] = r
			out = append(out, part{f.slab, r})
		}
		r.add(f, density[k])
	}
	return out
}

// level makes the dipoles of a level when they are first needed.
func (f *face) level(n int) *faceLevel {
	l := &f.levels[n]
	l.once.Do(func() {
		gx, gy := f.b.gx.finer(1<<n), f.b.gy.finer(1<<n)
		x, wx := gx.probes()
		y, wy := gy.probes()
		a, w := f.b.plate.SizeXM/2, f.b.plate.SizeYM/2
		across := spread2(f.b.gx.interpolation(gx), f.b.gy.interpolation(gy), f.values)
		for i := range across {
			across[i] *= f.up * a * w * wx[i/len(y)] * wy[i%len(y)]
		}
		for i := range x {
			x[i] *= a
		}
		for j := range y {
			y[j] *= w
		}
		l.x, l.y, l.moment = x, y, across
	})
	return l
}

// spread2 applies a matrix in each direction to values on a grid.
func spread2(mx, my [][]float64, v []float64) []float64 {
	n := len(my[0])
	half := make([]float64, len(mx)*n)
	for i, row := range mx {
		for k, w := range row {
			for j := range n {
				half[i*n+j] += w * v[k*n+j]
			}
		}
	}
	out := make([]float64, len(mx)*len(my))
	for i := range mx {
		for j, row := range my {
			out[i*len(my)+j] = dot(row, half[i*n:(i+1)*n])
		}
	}
	return out
}

// at is potential and field at a place outside the plate.
func (f *face) at(p Vector) (float64, Vector) {
	d := p.Sub(Vector{f.b.plate.CentreXM, f.b.plate.CentreYM, f.z})
	q := Vector{f.b.cos*d.X + f.b.sin*d.Y, f.b.cos*d.Y - f.b.sin*d.X, d.Z}
	pot, e := f.local(q)
	return pot, f.b.turn(e)
}

// local is at in the face's own frame. Nearer to the face than the finest grid
// allows, the values farther out on the same upright are carried inward by a
// cubic.
func (f *face) local(q Vector) (float64, Vector) {
	a, w := f.b.plate.SizeXM/2, f.b.plate.SizeYM/2
	out := Vector{math.Max(math.Abs(q.X)-a, 0), math.Max(math.Abs(q.Y)-w, 0), q.Z}
	away := out.Norm()
	hx, hy := a*f.b.gx.spacing(math.Abs(q.X)/a, away/a), w*f.b.gy.spacing(math.Abs(q.Y)/w, away/w)
	n, nearest := levelFor(away / math.Max(hx, hy))
	sum := func(q Vector) (pot float64, e Vector) {
		for k := 0; k <= n; k++ {
			var outer, inner *window
			if k > 0 {
				outer = &window{q.X, q.Y, math.Ldexp(hx, 1-k), math.Ldexp(hy, 1-k)}
			}
			if k < n {
				inner = &window{q.X, q.Y, math.Ldexp(hx, -k), math.Ldexp(hy, -k)}
			}
			v, g := f.level(k).sum(q, outer, inner)
			pot += v
			e = e.Add(g)
		}
		return pot, e
	}
	if nearest >= spaced || out.X > 0 || out.Y > 0 {
		return sum(q)
	}
	return carriedInward(q, spaced*math.Ldexp(math.Max(hx, hy), -n), f.up, f.jump, sum)
}

// levelFor is the first level that will do at a distance in spacings of the
// coarsest, or the finest, and the distance in its own.
func levelFor(nearest float64) (n int, own float64) {
	for ; n < faceLevels-1 && nearest < spaced; n++ {
		nearest *= 2
	}
	return n, nearest
}

// window is a smooth share of a face round a place, a product along its two
// axes: a finer level answers for it, a coarser one for what is beyond, and both
// sums stay trapezoidal rules over smooth densities. A level counts by its own
// window less the next one's, so that the shares of all add up to one. hx and hy
// are the spacing of the coarser.
type window struct{ x, y, hx, hy float64 }

// In spacings: all within windowFull, nothing beyond windowEnd.
const windowFull, windowEnd = 1.5, 5.5

// windowShare is how much of a place is the window's, by the square of its
// distance in spacings.
func windowShare(r2 float64) float64 {
	if r2 <= windowFull*windowFull {
		return 1
	}
	t := (windowEnd*windowEnd - r2) / (windowEnd*windowEnd - windowFull*windowFull)
	if t <= 0 {
		return 0
	}
	t4 := t * t * t * t
	return t4 * (35 - t*(84-t*(70-20*t)))
}

// shares are those of places in a row, from and to being the first and the one
// after the last that have one.
type shares struct {
	from, to int
	of       []float64
}

func newShares(x []float64, at, h float64) shares {
	var s shares
	s.from, s.to = between(x, at, windowEnd*h)
	s.of = make([]float64, s.to-s.from)
	for k, v := range x[s.from:s.to] {
		u := (v - at) / h
		s.of[k] = windowShare(u * u)
	}
	return s
}

// at is the share of place i.
func (s *shares) at(i int) float64 {
	if i < s.from || i >= s.to {
		return 0
	}
	return s.of[i-s.from]
}

// between are the indices of rising places within reach of one.
func between(x []float64, at, reach float64) (from, to int) {
	from = sort.SearchFloat64s(x, at-reach)
	return from, from + sort.SearchFloat64s(x[from:], at+reach)
}

// carriedInward is the field nearer to a face than reach, from its values farther out
// on the same upright. In the face itself half the jump is the potential on either
// side, and half its slope the field along the face, so that those are
// interpolated; the field across it is carried on by a parabola. up tells the side
// of a place that is in the face.
func carriedInward(q Vector, reach, up float64, jump func(x, y float64) (mu, dx, dy float64), sum func(Vector) (float64, Vector)) (pot float64, e Vector) {
	side := 1.0
	if q.Z < 0 || q.Z == 0 && up < 0 {
		side = -1
	}
	mu, dx, dy := jump(q.X, q.Y)
	half := side * up / 2
	nodes := [4]float64{0, 1, 1.75, 2.5}
	var along, across [4]float64
	var none [4]float64
	lagrange(nodes[:], math.Abs(q.Z)/reach, along[:], none[:])
	lagrange(nodes[1:], math.Abs(q.Z)/reach, across[1:], none[1:])
	pot, e = along[0]*half*mu, Vector{-along[0] * half * dx, -along[0] * half * dy, 0}
	for i := 1; i < len(nodes); i++ {
		v, g := sum(Vector{q.X, q.Y, side * nodes[i] * reach})
		pot += along[i] * v
		e = e.Add(Vector{along[i] * g.X, along[i] * g.Y, across[i] * g.Z})
	}
	return pot, e
}

// jump is the density and its slopes at a place of the face, in its own frame.
func (f *face) jump(x, y float64) (mu, dx, dy float64) {
	a, w := f.b.plate.SizeXM/2, f.b.plate.SizeYM/2
	at := func(x, y float64) float64 {
		wx, wy := f.b.gx.weightsAt(x/a), f.b.gy.weightsAt(y/w)
		sum, n := 0.0, len(wy)
		for i, u := range wx {
			if u != 0 {
				sum += u * dot(wy, f.values[i*n:(i+1)*n])
			}
		}
		return sum
	}
	hx, hy := 0.1*a*f.b.gx.spacing(math.Abs(x)/a, 0), 0.1*w*f.b.gy.spacing(math.Abs(y)/w, 0)
	x0, x1 := math.Max(x-hx, -a), math.Min(x+hx, a)
	y0, y1 := math.Max(y-hy, -w), math.Min(y+hy, w)
	return at(x, y), (at(x1, y) - at(x0, y)) / (x1 - x0), (at(x, y1) - at(x, y0)) / (y1 - y0)
}

// spacing is how far apart the cells lie at x, or reach inward of it, as
// shares of the half-length.
func (g grade) spacing(x, reach float64) float64 {
	step := g.step()
	widest := 0.0
	for _, at := range [2]float64{x, x - reach} {
		at = math.Min(math.Max(at, 0), 1)
		for _, s := range [2]float64{at, -at} {
			_, slope := g.at(g.angle(s))
			widest = math.Max(widest, slope*step)
		}
	}
	return math.Max(widest, step*step/4)
}

// angle is the place in θ of x.
func (g grade) angle(x float64) float64 {
	c := x
	if g.spread != 0 {
		c = (math.Asinh((x-g.x0)/g.spread) - g.b) / g.a
	}
	return math.Acos(-math.Min(math.Max(c, -1), 1))
}

// sum adds the dipoles up, all upright: those of the outer window (nil: all)
// less the share of the inner one (nil: none).
func (l *faceLevel) sum(q Vector, outer, inner *window) (pot float64, e Vector) {
	x := shares{to: len(l.x)}
	y := shares{to: len(l.y)}
	if outer != nil {
		x, y = newShares(l.x, outer.x, outer.hx), newShares(l.y, outer.y, outer.hy)
	}
	var lessX, lessY shares
	if inner != nil {
		lessX, lessY = newShares(l.x, inner.x, inner.hx), newShares(l.y, inner.y, inner.hy)
	}
	zz := q.Z * q.Z
	var along float64
	ys := l.y[y.from:y.to]
	weights := make([]float64, len(ys))
	for i := x.from; i < x.to; i++ {
		dx := q.X - l.x[i]
		base := dx*dx + zz
		row := l.moment[i*len(l.y)+y.from : i*len(l.y)+y.to]
		if less := lessX.at(i); outer != nil || less > 0 {
			copy(weights, row)
			row = weights
			if outer != nil {
				share := x.at(i)
				for j, w := range y.of {
					row[j] *= share * w
				}
			}
			if less > 0 {
				whole := l.moment[i*len(l.y)+lessY.from:]
				for j, w := range lessY.of { // the inner window lies within the outer
					row[lessY.from-y.from+j] -= less * w * whole[j]
				}
			}
		}
		var sx float64
		for j, v := range ys {
			dy := q.Y - v
			inv2 := 1 / (base + dy*dy)
			m := row[j] * inv2 * math.Sqrt(inv2)
			pot += m
			t := m * inv2
			sx += t
			e.Y += t * dy
		}
		along += sx
		e.X += sx * dx
	}
	const k = 1 / (4 * math.Pi)
	e.X *= 3 * k * q.Z
	e.Y *= 3 * k * q.Z
	e.Z = k * (3*zz*along - pot)
	return k * q.Z * pot, e
}

func (f *face) dipoles(out []dipole) []dipole {
	l := f.level(0)
	n := len(l.y)
	for i, x := range l.x {
		for j, y := range l.y {
			at := f.b.place(Vector{x, y, f.z})
			out = append(out, dipole{at, Vector{Z: l.moment[i*n+j]}})
		}
	}
	return out
}

// rim is facets with their densities: dipoles from afar, facets near by.
type rim struct {
	facets  []facet
	values  []float64
	flat    []dipole
	reaches []float64 // squares of the distance beyond which a dipole will do
}

func (r *rim) add(f *facet, value float64) {
	d := f.flat()
	d.moment = d.moment.Scale(value)
	size := f.corner[2].Sub(f.corner[0])
	r.facets, r.values, r.flat = append(r.facets, *f), append(r.values, value), append(r.flat, d)
	r.reaches = append(r.reaches, 20*dotOf(size, size))
}

func (r *rim) at(p Vector) (pot float64, e Vector) {
	for k := range r.flat {
		d := &r.flat[k]
		away := p.Sub(d.at)
		if dotOf(away, away) > r.reaches[k] {
			v, g := d.unit(p)
			pot += v
			e = e.Add(g)
			continue
		}
		pot += r.values[k] * r.facets[k].solidAngle(p)
		e = e.Add(r.facets[k].field(p).Scale(r.values[k]))
	}
	return pot, e
}

func (r *rim) dipoles(out []dipole) []dipole { return append(out, r.flat...) }
