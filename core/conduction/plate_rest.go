package conduction

import (
	"math"
	"sync"

	"brinefield/core/numeric"
)

// charge is a source of current at a place: f = I/(4πσ) of its slab.
type charge struct {
	at     Vector
	radius float64
	slab   int
	f      float64
}

// own is what the charge makes without its images.
func (c *charge) own(p Vector) (float64, Vector) {
	dx, dy, z := p.X-c.at.X, p.Y-c.at.Y, p.Z-c.at.Z
	sign := 1.0
	if z < 0 {
		z, sign = -z, -1
	}
	u := pointUnit(dx*dx+dy*dy, z)
	if c.radius > 0 {
		u = discUnit(dx*dx+dy*dy, z, c.radius)
	}
	return c.f * u.pot, Vector{c.f * u.rho * dx, c.f * u.rho * dy, sign * c.f * u.z}
}

// lone is a charge as a layer of its own: an electrode that lies on no plate.
type lone struct{ charge }

func (l lone) at(p Vector) (float64, Vector) { return l.own(p) }
func (l lone) dipoles(out []dipole) []dipole { return out }

// rest is all that charges make beyond themselves and the images that are
// listed: what distant layers, the surface and the walls of a tank send back.
type rest struct {
	near    echoes
	charges []charge
	sources []*source
	kept    *sync.Map // by expansion
	tank    *Solution
}

// restMaker keeps what charges of one medium share.
type restMaker struct {
	m       Medium
	st      *stack
	near    echoes
	none    bool // every image is listed
	sources map[[2]float64]*source
	kept    *sync.Map
}

func newRestMaker(m Medium, st *stack, near echoes) *restMaker {
	n, _ := st.finiteSlabs()
	none := m.Enclosure == nil && (n == 0 || len(st.slabs) == 1 && st.open())
	return &restMaker{m: m, st: st, near: near, none: none, sources: make(map[[2]float64]*source), kept: &sync.Map{}}
}

func (k *restMaker) source(z, radius float64) *source {
	key := [2]float64{z, radius}
	sr := k.sources[key]
	if sr == nil {
		sr = newSource(k.st, z, radius)
		sr.backed = false // the plate is its back
		k.sources[key] = sr
	}
	return sr
}

// of makes the rest of charges; in a tank they sum to zero.
func (k *restMaker) of(charges []charge) (*rest, error) {
	r := &rest{near: k.near, kept: k.kept}
	if k.none || len(charges) == 0 {
		return r, nil
	}
	r.charges = charges
	for _, c := range charges {
		r.sources = append(r.sources, k.source(c.at.Z, c.radius))
	}
	if k.m.Enclosure == nil {
		return r, nil
	}
	s := &Solution{medium: k.m, stack: k.st, sources: r.sources, tolerance: 1e-9}
	for _, c := range charges {
		s.electrodes = append(s.electrodes, Electrode{
			At: Point(c.at), CurrentA: c.f * 4 * math.Pi * k.st.slabs[c.slab].sigma, DiameterM: 2 * c.radius,
		})
	}
	t, err := newWalls(s, plateFrame, k.kept)
	if err != nil {
		return nil, err
	}
	s.tank, r.tank = t, s
	return r, nil
}

// level is [rest.at] for points of one height, which in a rectangular tank share most of
// the work.
func (r *rest) level(slab int, z float64) func(Vector) (float64, Vector) {
	if r.tank != nil {
		if t, ok := r.tank.tank.(*tank); ok {
			l := t.storey(slab, z)
			return func(p Vector) (float64, Vector) { return r.less(slab, p, l.eval) }
		}
	}
	return func(p Vector) (float64, Vector) { return r.at(slab, p) }
}

// less takes the listed images out of what a tank does.
func (r *rest) less(slab int, p Vector, eval func(Point) (float64, Vector)) (pot float64, e Vector) {
	pot, e = eval(Point(p))
	for k := range r.charges {
		c := &r.charges[k]
		for _, o := range r.near[c.slab][slab] {
			v, g := c.own(o.seen(p))
			pot -= o.w * v
			e = e.Sub(o.turned(g))
		}
	}
	return pot, e
}

func (r *rest) at(slab int, p Vector) (pot float64, e Vector) {
	if r.tank != nil {
		return r.less(slab, p, func(at Point) (float64, Vector) { return r.tank.tank.eval(slab, at) })
	}
	for k := range r.charges {
		c := &r.charges[k]
		dx, dy := p.X-c.at.X, p.Y-c.at.Y
		u := r.sources[k].restAt(r.kept, r.near[c.slab][slab], slab, dx*dx+dy*dy, p.Z)
		pot += c.f * u.pot
		e.X += c.f * u.rho * dx
		e.Y += c.f * u.rho * dy
		e.Z += c.f * u.z
	}
	return pot, e
}

// nodes stand for all dipoles of a plate in one slab where the kernel is
// smooth: charges on a grid of Chebyshev points, with which the kernel's
// interpolant over the plate acts as the dipoles do.
type nodes struct {
	slab     int
	sin, cos float64
	cx, cy   float64
	half     [2]float64 // of the rectangle round the plate
	x, y, z  []float64
	// The heights between which z lies.
	lowest, highest float64
}

// newNodes covers the part of a plate in a slab by side × side points at two heights,
// or, where it has a thickness, at three or more: its dipoles lie on the faces, where the slope of
// a straight line would be off by the thickness over the distance of what sends
// back, and the two faces' do not make up for each other.
func newNodes(pl Plate, slab int, s slab, side int) nodes {
	n := nodes{slab: slab, cx: pl.CentreXM, cy: pl.CentreYM}
	n.sin, n.cos = numeric.SinCosDeg(pl.YawDeg)
	n.half = [2]float64{pl.SizeXM / 2, pl.SizeYM / 2}
	if pl.DiameterM > 0 {
		n.half = [2]float64{pl.DiameterM / 2, pl.DiameterM / 2}
	}
	n.x, n.y = chebyshevPoints(side, -n.half[0], n.half[0]), chebyshevPoints(side, -n.half[1], n.half[1])
	lo, hi := math.Max(pl.TopM-pl.ThicknessM, s.bottomM), math.Min(pl.TopM, s.topM)
	if least := 0.02 * math.Max(n.half[0], n.half[1]); hi-lo < least { // a slope needs some height
		lo, hi = math.Max((lo+hi-least)/2, s.bottomM), math.Min((lo+hi+least)/2, s.topM)
	}
	if hi == s.topM && slab > 0 { // a face belongs to the slab above
		hi -= 1e-9
	}
	n.z, n.lowest, n.highest = []float64{lo, hi}, lo, hi
	if pl.ThicknessM > 0 {
		n.z = uprightPoints(lo, hi, math.Max(n.half[0], n.half[1]))
	}
	return n
}

// uprightPoints are 3, 4 or 6 heights from lo to hi, as the room is high beside its
// half-width, closer to its ends (the extremes of a Chebyshev polynomial).
func uprightPoints(lo, hi, half float64) []float64 {
	out := make([]float64, 3)
	switch share := (hi - lo) / half; {
	case share > 0.3:
		out = make([]float64, 6)
	case share > 0.1:
		out = make([]float64, 4)
	}
	last := len(out) - 1
	for i := range out {
		out[i] = (lo+hi)/2 - (hi-lo)/2*math.Cos(math.Pi*float64(i)/float64(last))
	}
	out[0], out[last] = lo, hi
	return out
}

// within draws the grid of a large disc in, so that its corners lie within a round
// wall; beyond it, towards the disc's rim, its polynomials go on.
func (n nodes) within(e *Enclosure) nodes {
	if e == nil || e.DiameterM == 0 {
		return n
	}
	room := 0.98*e.DiameterM/2 - math.Hypot(n.cx-e.CentreXM, n.cy-e.CentreYM)
	if corner := math.Hypot(n.half[0], n.half[1]); corner > room {
		for k := range n.half {
			n.half[k] *= room / corner
		}
		n.x, n.y = chebyshevPoints(len(n.x), -n.half[0], n.half[0]), chebyshevPoints(len(n.y), -n.half[1], n.half[1])
	}
	return n
}

// charges are the nodes' sources for dipoles: Σ moment·∇L over the Lagrange
// polynomials L of the grid. sigma cancels: f = σ·moment/(4πσ).
func (n *nodes) charges(dipoles []dipole) []charge {
	side, tall := len(n.x), len(n.z)
	weights := make([]float64, side*side*tall)
	lx, dx := make([]float64, side), make([]float64, side)
	ly, dy := make([]float64, side), make([]float64, side)
	lz, dz := make([]float64, tall), make([]float64, tall)
	for _, d := range dipoles {
		wx, wy := d.at.X-n.cx, d.at.Y-n.cy
		lagrange(n.x, n.cos*wx+n.sin*wy, lx, dx)
		lagrange(n.y, n.cos*wy-n.sin*wx, ly, dy)
		lagrange(n.z, d.at.Z, lz, dz)
		mx, my := n.cos*d.moment.X+n.sin*d.moment.Y, n.cos*d.moment.Y-n.sin*d.moment.X
		for i := range side {
			for j := range side {
				for k := range tall {
					weights[(i*side+j)*tall+k] += mx*dx[i]*ly[j]*lz[k] + my*lx[i]*dy[j]*lz[k] + d.moment.Z*lx[i]*ly[j]*dz[k]
				}
			}
		}
	}
	out := make([]charge, 0, len(weights))
	for m, w := range weights {
		x, y := n.x[m/tall/side], n.y[m/tall%side]
		at := Vector{n.cx + n.cos*x - n.sin*y, n.cy + n.sin*x + n.cos*y, n.z[m%tall]}
		out = append(out, charge{at: at, slab: n.slab, f: w / (4 * math.Pi)})
	}
	return out
}

// lagrange sets l and d to the values and slopes at t of the polynomials that
// are 1 at one of the points and 0 at all others.
func lagrange(x []float64, t float64, l, d []float64) {
	for i := range x {
		l[i], d[i] = 1, 0
		for j := range x {
			if j == i {
				continue
			}
			inv := 1 / (x[i] - x[j])
			d[i] = d[i]*(t-x[j])*inv + l[i]*inv
			l[i] *= (t - x[j]) * inv
		}
	}
}

// ask adds what the rest does at the probes in the nodes' slab. It is smooth over
// a plate: its potential on a grid a little finer than the nodes' gives it
// everywhere, and the normal field of the (horizontal) faces by its slope.
func (n *nodes) ask(r *rest, probes []probe, out []float64, sign float64) {
	side := len(n.x) + 2
	x, y := chebyshevPoints(side, -n.half[0], n.half[0]), chebyshevPoints(side, -n.half[1], n.half[1])
	var z []float64 // heights of no node and no face, where a tank's sums would be of what has no bound
	if len(n.z) == 2 {
		for _, share := range [3]float64{0.15, 0.55, 0.85} {
			z = append(z, n.z[0]+share*(n.z[1]-n.z[0]))
		}
	} else {
		z = chebyshevPoints(len(n.z)+1, n.lowest, n.highest)
	}
	values := make([]float64, side*side*len(z))
	levels := make([]func(Vector) (float64, Vector), len(z))
	_ = parallelEach(len(z), func(k int) error {
		levels[k] = r.level(n.slab, z[k])
		return nil
	})
	_ = parallelEach(side*side, func(c int) error {
		u, v := x[c/side], y[c%side]
		for k, h := range z {
			values[c*len(z)+k], _ = levels[k](Vector{n.cx + n.cos*u - n.sin*v, n.cy + n.sin*u + n.cos*v, h})
		}
		return nil
	})
	lx, ly, lz := make([]float64, side), make([]float64, side), make([]float64, len(z))
	dxy, dz := make([]float64, side), make([]float64, len(z))
	for k := range probes {
		p := &probes[k]
		if p.slab != n.slab {
			continue
		}
		wx, wy := p.at.X-n.cx, p.at.Y-n.cy
		lagrange(x, n.cos*wx+n.sin*wy, lx, dxy)
		lagrange(y, n.cos*wy-n.sin*wx, ly, dxy)
		lagrange(z, p.at.Z, lz, dz)
		along := lz
		if p.flux {
			along = dz
		}
		sum := 0.0
		for i, a := range lx {
			for j, b := range ly {
				sum += a * b * dot(along, values[(i*side+j)*len(z):(i*side+j+1)*len(z)])
			}
		}
		if p.flux {
			sum *= -p.normal.Z
		}
		out[k] += sign * sum
	}
}
