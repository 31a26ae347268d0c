package conduction

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// skin is the surface of a body as a layer of dipoles of density u, in volts:
// what stands inside the body for the body itself. With F = φ₀ + Σ∫u·σ∂G/∂n, F
// is the potential outside; inside it is κψ, with ψ the potential in the body and κ
// its conductivity over that of the layer. So u = (1 − κ)ψ, the mean of both sides
// of the surface is (1 + κ)ψ/2, and
//
//	τ·(φ₀ + D u) − u/2 = 0,  τ = (1 − κ)/(1 + κ)
//
// at every place of the surface, D being the mean of both sides. τ is 1 for
// what insulates and −1 for what conducts perfectly. Where a body of finite
// conductivity reaches into two layers, F jumps inside it where they meet, and the
// cut there is part of the surface: τ = (κ_above − κ_below)/(κ_above + κ_below).
//
// docs/physics/bodies.md derives it.
type skin struct {
	folded
	*solid
	stack  *stack
	near   echoes
	panels []tile
	copies [][3]float64
	asks   []probe
	level  bool      // it conducts better than all round it: a constant is taken out of u, which makes no field
	grain  float64   // what is left out round a probe
	areas  []float64 // by node of the panels that others mirror; of a cut 0
	whole  float64   // the area of the surface
}

// newSkin lays out a body's surface; nil where nothing of it carries current or bends it.
func newSkin(st *stack, s *solid, f bodyMesh, near echoes, makers []Vector) *skin {
	k := &skin{solid: s, stack: st, near: near, copies: s.mirrors(), grain: f.grain * s.least()}
	panels := s.lay(st, f)
	panels = s.split(panels, k.copies, f, makers)
	for _, p := range panels {
		k.settle(p, 0)
	}
	k.slices(f)
	if len(k.panels) == 0 {
		return nil
	}
	k.level = true
	for i := range k.panels {
		k.level = k.level && (k.panels[i].cut || k.panels[i].share < 0)
		k.nodes(&k.panels[i])
	}
	k.order, k.reps = len(k.copies), len(k.asks)/len(k.copies)
	for c := range k.copies {
		sym := symmetry{fold: make([]float64, k.order)}
		for g := range k.order {
			sym.fold[g] = 1
			for bit := c & g; bit > 0; bit >>= 1 {
				if bit&1 == 1 {
					sym.fold[g] = -sym.fold[g]
				}
			}
		}
		sym.basis = [][]float64{scaledBy(sym.fold, 1/math.Sqrt(float64(k.order)))}
		k.classes = append(k.classes, sym)
	}
	k.fill = k.matrices
	k.opposed = true // that is: large systems step by step
	return k
}

// tau is τ of a layer, for the skin.
func (k *skin) tau(slab int) float64 {
	sigma := k.stack.slabs[slab].sigma
	if math.IsInf(k.SPerM, 1) {
		return -1
	}
	top := math.Max(sigma, k.SPerM)
	return (sigma/top - k.SPerM/top) / (sigma/top + k.SPerM/top)
}

// split halves panels that are large beside their distance from what makes the
// field.
func (s *solid) split(panels []tile, copies [][3]float64, f bodyMesh, makers []Vector) []tile {
	const most = 3000
	for i := 0; i < len(panels) && len(panels) < most; i++ {
		for depth := 0; depth < 12 && len(panels) < most; depth++ {
			c := panels[i].whole(&copies[0])
			_, radius, longer := s.span(&c)
			nearest := math.Inf(1)
			for g := range copies {
				c.mirror = &copies[g]
				middle, _, _ := s.span(&c)
				for _, m := range makers {
					nearest = math.Min(nearest, m.Sub(middle).Norm())
				}
			}
			if 2*radius <= f.far*math.Max(nearest-0.7*radius, 0) || radius < 1e-3*s.least() {
				break
			}
			c.mirror = &copies[0]
			h := c.halves(longer)
			panels = append(panels, panels[i])
			panels[i].lo, panels[i].hi = h[0].lo, h[0].hi
			panels[len(panels)-1].lo, panels[len(panels)-1].hi = h[1].lo, h[1].hi
		}
	}
	return panels
}

// settle puts a panel into its layer, or its parts where it crosses the face between
// two, from that under layer first on.
func (k *skin) settle(p tile, first int) {
	lo, hi := k.extent(&p)
	for i := first; i < len(k.stack.slabs); i++ {
		z := k.stack.slabs[i].bottomM
		if !(lo < z-onFace && hi > z+onFace) {
			continue
		}
		for _, q := range k.cutAt(p, z-k.Centre.Z) {
			k.settle(q, i+1)
		}
		return
	}
	c := p.whole(&k.copies[0])
	mid, area := k.at(&c, (p.lo[0]+p.hi[0])/2, (p.lo[1]+p.hi[1])/2)
	if p.piece.flat() { // a face belongs to the layer in which the body lies
		mid.Z -= 2 * onFace * area.Z / area.Norm()
	}
	k.keep(p, mid.Z)
}

// extent is how far a panel reaches down and up.
func (k *skin) extent(p *tile) (lo, hi float64) {
	const n = 8
	lo, hi = math.Inf(1), math.Inf(-1)
	c := p.whole(&k.copies[0])
	for i := range n + 1 {
		for j := range n + 1 {
			at, _ := k.at(&c, p.lo[0]+(p.hi[0]-p.lo[0])*float64(i)/n, p.lo[1]+(p.hi[1]-p.lo[1])*float64(j)/n)
			lo, hi = math.Min(lo, at.Z), math.Max(hi, at.Z)
		}
	}
	return lo, hi
}

// keep takes a panel whose middle is at height z, unless that lies in what insulates.
// So a face that lies on an insulating floor is left out.
func (k *skin) keep(p tile, z float64) {
	slab, ok := k.stack.slabAt(z)
	lowest := k.stack.slabs[len(k.stack.slabs)-1].bottomM
	if !ok || k.stack.floor && p.piece.flat() && k.onFloor(&p, lowest) {
		return
	}
	p.slab, p.share = slab, k.tau(slab)
	k.panels = append(k.panels, p)
}

// onFloor reports whether a flat panel lies in a height.
func (k *skin) onFloor(p *tile, z float64) bool {
	lo, hi := k.extent(p)
	return math.Abs(lo-z) <= onFace && math.Abs(hi-z) <= onFace
}

// nodes adds the places at which a panel's equations are asked.
func (k *skin) nodes(p *tile) {
	p.first = len(k.asks) / len(k.copies)
	c := p.whole(&k.copies[0])
	r := p.rule()
	mu, hu, mv, hv := (c.lo[0]+c.hi[0])/2, (c.hi[0]-c.lo[0])/2, (c.lo[1]+c.hi[1])/2, (c.hi[1]-c.lo[1])/2
	for i, u := range r.x {
		for j, v := range r.x {
			for g := range k.copies {
				c.mirror = &k.copies[g]
				at, _ := k.at(&c, mu+hu*u, mv+hv*v)
				k.asks = append(k.asks, probe{at: at, slab: p.slab})
			}
			_, a := k.at(&c, mu+hu*u, mv+hv*v)
			area := a.Norm() * r.w[i] * r.w[j] * hu * hv
			if p.cut {
				area = 0
			}
			k.areas = append(k.areas, area)
			k.whole += area * float64(len(k.copies))
		}
	}
}

func (p *tile) count() int { return p.order * p.order }

// matrices are those of the classes asked for: τD − ½ and, for a body that
// conducts, τ times the mean of u, which u leaves open.
func (k *skin) matrices(wanted []bool) []*mat.Dense {
	out := blank(wanted, k.reps)
	owner := make([]int, k.reps)
	for i := range k.panels {
		for n := range k.panels[i].count() {
			owner[k.panels[i].first+n] = i
		}
	}
	all := make([]laid, len(k.panels)*k.order)
	for i := range all {
		all[i] = k.laid(&k.panels[i/k.order], &k.copies[i%k.order])
	}
	_ = parallelEach(k.reps, func(i int) error {
		ask, own := &k.asks[i*k.order], &k.panels[owner[i]]
		var row [64]float64
		for q := range k.panels {
			p := &k.panels[q]
			for g := range k.copies {
				n := p.count()
				w := row[:n]
				clear(w)
				k.row(&all[q*k.order+g], ask, q == owner[i] && g == 0, i-p.first, w)
				for c, m := range out {
					if m == nil {
						continue
					}
					f := own.share * k.classes[c].fold[g]
					line := m.RawRowView(i)
					for j := range n {
						line[p.first+j] += f * w[j]
					}
				}
			}
		}
		for c, m := range out {
			if m == nil {
				continue
			}
			line := m.RawRowView(i)
			line[i] -= 0.5
			if c == 0 && k.level {
				for j, a := range k.areas {
					line[j] += own.share * a * float64(k.order) / k.whole
				}
			}
		}
		return nil
	})
	return out
}

// row adds the weights of a panel's values, by the rule of [tile.rule], at a
// probe, images included. own: the probe is the panel's, its node at.
func (k *skin) row(l *laid, ask *probe, own bool, at int, out []float64) {
	p := l.of
	for _, o := range k.near[p.slab][ask.slab] {
		x := o.seen(ask.at)
		if p.piece.flat() {
			normal := l.areas[0].Scale(1 / l.areas[0].Norm())
			if math.Abs(dotOf(normal, x.Sub(l.places[0]))) < onFace {
				// What lies in a face's own plane sees nothing of it. Of its mirror image, just beyond
				// the face of a layer on which it lies, it sees the outer side; of a cut's, the lower.
				switch {
				case !own || !o.mirrored || math.Abs(normal.Z) < 0.5: // an upright face's image prolongs it
				case p.cut:
					out[at] -= o.w / 2
				default:
					out[at] += o.w / 2
				}
				continue
			}
		}
		if o.w == 1 {
			k.weightsOf(l, x, k.grain, out)
			continue
		}
		var w [64]float64
		k.weightsOf(l, x, k.grain, w[:len(out)])
		for i := range out {
			out[i] += o.w * w[i]
		}
	}
}

func (k *skin) probes() []probe { return k.asks }

func (k *skin) solve(values []float64) []float64 {
	right := make([]float64, len(values))
	for i := range k.panels {
		p := &k.panels[i]
		for n := p.first * k.order; n < (p.first+p.count())*k.order; n++ {
			right[n] = p.share * values[n]
		}
	}
	return k.folded.solve(right)
}

func (k *skin) unknowns() int { return len(k.asks) }

// largest counts a body's classes, which are solved one after the other but kept, as one matrix.
func (k *skin) largest() int { return int(float64(k.reps) * math.Sqrt(float64(k.order))) }

func (k *skin) release() { k.solvers = nil }

// parts are the panels with their density, by layer.
func (k *skin) parts(density []float64) []part {
	bySlab := make([]*loadedSkin, len(k.stack.slabs))
	for i := range k.panels {
		p := &k.panels[i]
		if bySlab[p.slab] == nil {
			bySlab[p.slab] = &loadedSkin{solid: k.solid}
		}
		for g := range k.copies {
			bySlab[p.slab].add(k, p, g, density)
		}
	}
	var out []part
	for slab, l := range bySlab {
		if l != nil {
			l.far = newExpansionOf(Vector(k.Centre), l.places, l.moments)
			out = append(out, part{slab, l})
		}
	}
	return out
}

// loadedSkin is a skin's panels in one layer, with a density.
type loadedSkin struct {
	*solid
	panels          []loadedPanel
	places, moments []Vector // of all panels, one after the other
	far             *expansionOf
}

type loadedPanel struct {
	cell
	middle      Vector
	reach       float64 // beyond it, Gauss's rule will do
	u           []float64
	first, last int
}

func (l *loadedSkin) add(k *skin, p *tile, g int, density []float64) {
	whole := k.laid(p, &k.copies[g])
	lp := loadedPanel{cell: whole.cell, middle: whole.middle, reach: farAway * whole.radius, first: len(l.places)}
	for i, area := range whole.areas {
		u := density[(p.first+i)*k.order+g]
		lp.u = append(lp.u, u)
		l.moments = append(l.moments, area.Scale(u))
	}
	l.places = append(l.places, whole.places...)
	lp.last = len(l.places)
	l.panels = append(l.panels, lp)
}

func (l *loadedSkin) at(p Vector) (pot float64, e Vector) {
	if v := p.Sub(l.far.centre); dotOf(v, v) > l.far.reach*l.far.reach {
		return l.far.at(p)
	}
	for k := range l.panels {
		lp := &l.panels[k]
		v := p.Sub(lp.middle)
		var dv float64
		var de Vector
		if dotOf(v, v) > lp.reach*lp.reach {
			dv, de = made(p, l.places[lp.first:lp.last], l.moments[lp.first:lp.last])
		} else {
			dv, de = l.close(&lp.cell, lp.u, p, 0)
		}
		pot += dv
		e = e.Add(de)
	}
	return pot, e
}

func (l *loadedSkin) dipoles(out []dipole) []dipole {
	for k := range l.places {
		out = append(out, dipole{l.places[k], l.moments[k].Scale(4 * math.Pi)})
	}
	return out
}
