package conduction

import (
	"fmt"
	"math"
	"sync"
)

// walls are a tank's: what its field is computed with.
type walls interface {
	// eval returns potential and field at a valid point.
	eval(slab int, p Point) (phi float64, e Vector)
	// other is the same tank with its sums taken otherwise: the check of [Solution.RelativeError].
	other() walls
	// unsure is the error of the field at a point that such a check cannot show, in V/m.
	unsure(p Point) float64
	method() string
}

// newWalls prepares the tank of a solution. A round one takes its choices, and
// shares its frames; frames may be nil.
func newWalls(s *Solution, c frameChoice, frames *sync.Map) (walls, error) {
	if s.medium.Enclosure.DiameterM > 0 {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, el := range s.electrodes {
			lo, hi = math.Min(lo, el.At.Z), math.Max(hi, el.At.Z)
		}
		const most = 1000 // radii: the waves along a tube are as many as it is long
		if radius := s.medium.Enclosure.DiameterM / 2; hi-lo > most*radius {
			return nil, fmt.Errorf("%w: electrodes %g m apart in height in a round tank %g m across; expected at most %d times its radius", ErrElectrode, hi-lo, 2*radius, most)
		}
		return newRoundTank(s, c, frames), nil
	}
	t, err := newTank(s)
	if err != nil {
		return nil, err
	}
	return t, nil
}

// tank is the field between four vertical insulating walls. Each wall mirrors,
// so that every electrode and every image of it in the layers stands for a
// doubly infinite lattice. Its sum converges too slowly to be taken as it
// stands, and is split in Ewald's way: near images act through erfc(αR)/R,
// summed over the few lattice sites where that is not nothing; all the rest is
// smooth and is summed over the cosine modes of the rectangle,
//
//	φ = Σ_j (I_j/σ_j){ (1/4π)Σ_near w·erfc(αR)/R
//	    + Σ_mn ε_mε_n/(LxLy)·cos·cos·cos·cos·[g(κ,z) − Σ_near w·S(κ,ζ)]/(2κ) }
//	S(κ,ζ) = ½[e^{−κζ}erfc(αζ − κ/2α) − e^{κζ}erfc(αζ + κ/2α)],  ζ ≥ 0
//
// in which g is the layered kernel at k = κ_mn. Both sums end where their terms
// are below 1e-16. The mode m = n = 0 is the one-dimensional [column]. The
// result does not depend on α, which is the check of it.
//
// Source: Ewald's summation for two periodic directions (Parry, Surface
// Science 49:433, 1975, from memory); tests: no flux at the walls, the plain
// sum over images, independence of α.
type tank struct {
	s              *Solution
	alpha          float64
	x0, y0, lx, ly float64
	modes          []mode
	mMax, nMax     int
	groups         []tankGroup
	column         *column
	once           sync.Once
	otherTank      *tank
}

type mode struct {
	m, n      int
	kx, ky, k float64
}

// tankGroup is the electrodes of one height and diameter.
type tankGroup struct {
	sr      *source
	members []int
	weight  []float64 // by mode: Σ_j (I_j/σ)·ε_mε_n/(LxLy)·cos·cos/(2κ)
	slabs   []tankSlab
}

// tankSlab is what a group does in one slab: near images, and by mode the
// waves that are left without them, with the electrode's shape.
type tankSlab struct {
	near       []image
	rise, fall []float64
	shape      []float64
}

// cut is where erfc and the Gaussian are below 1e-16.
const cut = 6.2

func newTank(s *Solution) (*tank, error) {
	if err := tankElectrodes(s); err != nil {
		return nil, err
	}
	return makeTank(s, chooseAlpha(s, 1)), nil
}

func makeTank(s *Solution, alpha float64) *tank {
	e := s.medium.Enclosure
	t := &tank{
		s: s, alpha: alpha, lx: e.SizeXM, ly: e.SizeYM,
		x0: e.CentreXM - e.SizeXM/2, y0: e.CentreYM - e.SizeYM/2,
	}
	kMax := 2 * cut * alpha
	t.mMax, t.nMax = int(kMax*t.lx/math.Pi), int(kMax*t.ly/math.Pi)
	for m := range t.mMax + 1 {
		for n := range t.nMax + 1 {
			kx, ky := math.Pi*float64(m)/t.lx, math.Pi*float64(n)/t.ly
			if k := math.Hypot(kx, ky); k > 0 && k <= kMax {
				t.modes = append(t.modes, mode{m, n, kx, ky, k})
			}
		}
	}
	t.column = newColumn(s, t.lx*t.ly)
	for j, sr := range s.sources {
		if first := firstOf(s.sources, sr); first < j {
			continue
		}
		g := tankGroup{sr: sr}
		for i, other := range s.sources {
			if other == sr {
				g.members = append(g.members, i)
			}
		}
		t.prepare(&g)
		t.groups = append(t.groups, g)
	}
	return t
}

func firstOf(list []*source, sr *source) int {
	for i, x := range list {
		if x == sr {
			return i
		}
	}
	return len(list)
}

// chooseAlpha weighs the modes, the lattice sites and the near images of thin
// layers, which multiply with their reach, against each other, where so many points share
// a [storey].
func chooseAlpha(s *Solution, shared float64) float64 {
	const mostImages = 4000 // a side and slab
	e := s.medium.Enclosure
	size := math.Sqrt(e.SizeXM * e.SizeYM)
	long := math.Max(e.SizeXM, e.SizeYM)
	best, bestCost := 0.0, math.Inf(1)
	for _, c := range []float64{200, 140, 95, 65, 45, 30, 20, 14, 9, 6, 4, 3, 2, 1.5} {
		alpha := c / size
		images, ok := nearImages(s, nearReach/alpha, mostImages)
		if !ok && best > 0 {
			break
		}
		modes := e.SizeXM * e.SizeYM * math.Pow(2*cut*alpha, 2) / (4 * math.Pi)
		modes = math.Max(modes, 2*cut*alpha*long/math.Pi)
		sites := math.Pi*math.Pow(cut/c, 2)*float64(len(s.electrodes)) + 4
		const plain = 0.05 // a mode of a storey beside the transform of an image
		if cost := images*(modes/shared+sites) + plain*modes; cost < bestCost {
			best, bestCost = alpha, cost
		}
	}
	return best
}

// nearImages counts the images within reach of the first electrode in its own
// slab, the electrode with them.
func nearImages(s *Solution, reach float64, most int) (float64, bool) {
	sr := s.sources[0]
	w, ok := imagesOf(s.stack, sr.slab, sr.z0, sr.slab, reach, most)
	return float64(1 + len(w.rise) + len(w.fall)), ok
}

// nearReach/α is the distance within which images are near: beyond, the modes
// have decayed (e^{−2·6.2·3.1} = 2e-17) where they are cut.
const nearReach = 3.1

// prepare computes a group's modes.
func (t *tank) prepare(g *tankGroup) {
	st := t.s.stack
	sigma := st.slabs[g.sr.slab].sigma
	g.weight = make([]float64, len(t.modes))
	for q, md := range t.modes {
		f := 1 / (2 * md.k * t.lx * t.ly * sigma)
		if md.m > 0 {
			f *= 2
		}
		if md.n > 0 {
			f *= 2
		}
		sum := 0.0
		for _, j := range g.members {
			el := t.s.electrodes[j]
			sum += el.CurrentA * math.Cos(md.kx*(el.At.X-t.x0)) * math.Cos(md.ky*(el.At.Y-t.y0))
		}
		g.weight[q] = f * sum
	}
	g.slabs = make([]tankSlab, len(st.slabs))
	for i := range g.slabs {
		g.slabs[i] = t.prepareSlab(g.sr, i)
	}
}

func (t *tank) prepareSlab(sr *source, i int) tankSlab {
	st := t.s.stack
	w, _ := imagesOf(st, sr.slab, sr.z0, i, nearReach/t.alpha, 1<<24)
	e := &expansion{wave: w}
	ts := tankSlab{rise: make([]float64, len(t.modes)), fall: make([]float64, len(t.modes)), shape: make([]float64, len(t.modes))}
	for _, x := range w.rise {
		ts.near = append(ts.near, image{st.slabs[i].bottomM - x.s, x.w, x.d, 1})
	}
	for _, x := range w.fall {
		ts.near = append(ts.near, image{st.slabs[i].topM + x.s, x.w, x.d, -1})
	}
	m := newMirrors(len(st.slabs))
	for q, md := range t.modes {
		ts.rise[q], ts.fall[q] = sr.remainder(m, i, e, md.k)
		ts.shape[q] = sinc(md.k * sr.a)
	}
	return ts
}

// other is the same tank, split elsewhere.
func (t *tank) other() walls {
	t.once.Do(func() { t.otherTank = makeTank(t.s, 1.37*t.alpha) })
	return t.otherTank
}

func (t *tank) method() string { return "tank images (split lattice sums)" }

// unsure is the rounding of what is added up at a point.
func (t *tank) unsure(p Point) float64 {
	sum := 0.0
	for j, el := range t.s.electrodes {
		dx, dy, dz := p.X-el.At.X, p.Y-el.At.Y, p.Z-el.At.Z
		sigma := t.s.stack.slabs[t.s.sources[j].slab].sigma
		r2 := dx*dx + dy*dy + dz*dz
		sum += math.Abs(el.CurrentA) / (4 * math.Pi * sigma) * (1/r2 + t.alpha*t.alpha)
	}
	return rounding * sum
}

// eval returns potential and field at a valid point.
func (t *tank) eval(slab int, p Point) (phi float64, e Vector) {
	l := t.storey(slab, p.Z)
	return l.eval(p)
}

// storey is all of a tank at one height that does not depend on the place in the plane:
// where many points share a height, most of the work.
type storey struct {
	t         *tank
	near      [][]image // by group, with the electrodes themselves
	pot, rise []float64 // by mode: of the potential and of its slope along z
	phi, ez   float64   // the column's
}

func (t *tank) storey(slab int, z float64) *storey {
	l := &storey{t: t, near: make([][]image, len(t.groups)), pot: make([]float64, len(t.modes)), rise: make([]float64, len(t.modes))}
	l.phi, l.ez = t.column.at(z)
	for gi := range t.groups {
		g := &t.groups[gi]
		l.near[gi] = g.slabs[slab].near
		if im, ok := g.sr.direct(slab, z); ok {
			l.near[gi] = withDirect(im, l.near[gi])
		}
		t.spectrum(g, slab, l.near[gi], z, l.pot, l.rise)
	}
	return l
}

// eval sums the cosine modes and the sites near a point of the storey.
func (l *storey) eval(p Point) (phi float64, e Vector) {
	t := l.t
	tr := t.trig(p)
	phi, e.Z = l.phi, l.ez
	for gi := range t.groups {
		dPhi, dE := t.sites(&t.groups[gi], l.near[gi], p)
		phi += dPhi
		e = e.Add(dE)
	}
	for q := range t.modes {
		md := &t.modes[q]
		v := l.pot[q]
		cx, cy := tr.cx[md.m], tr.cy[md.n]
		phi += v * cx * cy
		e.X += v * md.kx * tr.sx[md.m] * cy
		e.Y += v * md.ky * cx * tr.sy[md.n]
		e.Z -= l.rise[q] * cx * cy
	}
	return phi, e
}

// withDirect puts the electrode itself in front of its images, as one with an
// image in the same place (an electrode on the bottom).
func withDirect(direct image, near []image) []image {
	out := append(make([]image, 0, len(near)+1), direct)
	for _, im := range near {
		if im.z == direct.z && im.dir == direct.dir {
			out[0].w += im.w
			continue
		}
		out = append(out, im)
	}
	return out
}

// trig holds cos and sin of all modes along both walls at a point.
type trig struct{ cx, sx, cy, sy []float64 }

func (t *tank) trig(p Point) trig {
	buf := make([]float64, 2*(t.mMax+t.nMax+2))
	a, b := t.mMax+1, t.nMax+1
	tr := trig{buf[:a], buf[a : 2*a], buf[2*a : 2*a+b], buf[2*a+b:]}
	for m := range a {
		tr.sx[m], tr.cx[m] = math.Sincos(math.Pi * float64(m) * (p.X - t.x0) / t.lx)
	}
	for n := range b {
		tr.sy[n], tr.cy[n] = math.Sincos(math.Pi * float64(n) * (p.Y - t.y0) / t.ly)
	}
	return tr
}

// spectrum adds the cosine modes of a group at a height.
func (t *tank) spectrum(g *tankGroup, slab int, near []image, z float64, pot, rise []float64) {
	s, ts := t.s.stack.slabs[slab], &g.slabs[slab]
	for q, md := range t.modes {
		var v, dv float64 // kernel and its slope along z
		if x := ts.rise[q]; x != 0 {
			x *= math.Exp(-md.k * (z - s.bottomM))
			v += x
			dv -= md.k * x
		}
		if x := ts.fall[q]; x != 0 {
			x *= math.Exp(-md.k * (s.topM - z))
			v += x
			dv += md.k * x
		}
		for _, im := range near {
			lv, ld := longRange(md.k, t.alpha, z-im.z)
			v += ts.shape[q] * im.w * lv
			dv += ts.shape[q] * im.w * ld
		}
		pot[q] += g.weight[q] * v
		rise[q] += g.weight[q] * dv
	}
}

// longRange is the transform of erf(αR)/R beside that of 1/R, e^{−κ|ζ|}, and
// its slope by ζ.
func longRange(k, alpha, zeta float64) (v, slope float64) {
	h := k / (2 * alpha)
	up, down := expErfc(k*zeta, h+alpha*zeta), expErfc(-k*zeta, h-alpha*zeta)
	return (up + down) / 2, k * (up - down) / 2
}

// expErfc is e^x·erfc(u) where the product is small for large u.
func expErfc(x, u float64) float64 {
	if u > 26 {
		return 0
	}
	return math.Exp(x) * math.Erfc(u)
}
