package conduction

import (
	"fmt"
	"math"
)

// stage is a medium with its plates, in one mesh: everything that electrodes
// share.
type stage struct {
	st     *stack
	near   echoes
	beside echoes  // images sideways, beyond near walls; nil where none is listed
	all    echoes  // near and beside
	clear  float64 // no image that is not listed stands nearer to what is in a tank
	rests  *restMaker
	bodies []body
	nodes  [][]nodes // by body, one for each slab that it reaches
}

// listed are all images that act exactly.
func (s *stage) listed() echoes {
	if s.all != nil {
		return s.all
	}
	return s.near
}

// scene is the field of some electrodes on a stage.
type scene struct {
	near  echoes
	parts []part
	rest  *rest
}

// at is potential and field at a place in what conducts.
func (s *scene) at(slab int, p Vector) (float64, Vector) {
	pot, e := s.near.of(s.parts, slab, p)
	if len(s.rest.charges) > 0 {
		v, g := s.rest.at(slab, p)
		return pot + v, e.Add(g)
	}
	return pot, e
}

// of is what parts make with their listed images.
func (near echoes) of(parts []part, slab int, p Vector) (pot float64, e Vector) {
	for k := range parts {
		for _, o := range near[parts[k].slab][slab] {
			v, g := parts[k].at(o.seen(p))
			pot += o.w * v
			e = e.Add(o.turned(g))
		}
	}
	return pot, e
}

// sources are the electrodes as parts (with their shields where they lie on a
// plate), as charges, and what stands for the shields at the nodes.
type sources struct {
	parts   []part
	charges []charge
}

func (s *stage) sources(m *located) sources {
	var out sources
	perBody := make([][]dipole, len(s.bodies))
	for i, e := range m.electrodes {
		slab, _ := s.st.slabAt(e.At.Z)
		c := charge{Vector(e.At), e.discM(), slab, e.CurrentA / (4 * math.Pi * s.st.slabs[slab].sigma)}
		out.charges = append(out.charges, c)
		on := m.on[i]
		if on < 0 {
			out.parts = append(out.parts, part{slab, lone{c}})
			continue
		}
		sh := newShield(e, s.st.slabs[slab].sigma, slab, m.room[i])
		out.parts = append(out.parts, part{slab, together{sh}})
		perBody[on] = sh.dipoles(perBody[on])
	}
	if s.rests.none {
		return out
	}
	for b, dipoles := range perBody {
		if len(dipoles) > 0 { // the face belongs to the slab in which the plate lies
			out.charges = append(out.charges, s.nodes[b][0].charges(dipoles)...)
		}
	}
	return out
}

// together is an electrode with its shield, as a layer.
type together struct{ *shield }

func (t together) at(p Vector) (float64, Vector) { return t.together(p) }

// solve finds the densities of all plates for some electrodes.
func (s *stage) solve(m *located, stop func() bool) (*scene, error) {
	src := s.sources(m)
	fromElectrodes, err := s.rests.of(src.charges)
	if err != nil {
		return nil, err
	}
	for _, b := range s.bodies {
		if board, ok := b.(*board); ok {
			board.stop = stop
		}
	}
	sizes := make([]int, len(s.bodies))
	var right []float64
	for b := range s.bodies {
		near := func(slab int, p Vector) (float64, Vector) { return s.listed().of(src.parts, slab, p) }
		own := s.bodies[b].solve(s.asked(b, near, fromElectrodes, -1))
		sizes[b] = len(own)
		right = append(right, own...)
	}
	split := func(v []float64) [][]float64 {
		out, at := make([][]float64, len(sizes)), 0
		for b, n := range sizes {
			out[b] = v[at : at+n]
			at += n
		}
		return out
	}
	if stop != nil && stop() {
		return nil, ErrStopped
	}
	if len(s.bodies) == 1 && s.rests.none {
		return s.finish(src, right, split)
	}
	var failed error
	density, err := gmres(right, func(u []float64) []float64 {
		out := append([]float64(nil), u...)
		others, rest, err := s.crossing(split(u))
		if err != nil {
			failed = err
			return out
		}
		parts := split(out)
		for b := range s.bodies {
			near := func(slab int, p Vector) (v float64, e Vector) {
				for o := range others {
					from := s.listed()
					if o == b { // which knows of its own images but for those sideways
						from = s.beside
					}
					if from != nil {
						dv, de := from.of(others[o], slab, p)
						v += dv
						e = e.Add(de)
					}
				}
				return v, e
			}
			for k, v := range s.bodies[b].solve(s.asked(b, near, rest, 1)) {
				parts[b][k] += v
			}
		}
		return out
	}, stop)
	if failed != nil {
		return nil, failed
	}
	if err != nil {
		return nil, err
	}
	return s.finish(src, density, split)
}

// asked is what a field does at the probes of a body, times sign: parts with
// their listed images, and the rest.
func (s *stage) asked(b int, near func(slab int, p Vector) (float64, Vector), rest *rest, sign float64) []float64 {
	probes := s.bodies[b].probes()
	out := make([]float64, len(probes))
	_ = parallelEach((len(probes)+63)/64, func(c int) error {
		for k := 64 * c; k < min(len(probes), 64*c+64); k++ {
			v, e := near(probes[k].slab, probes[k].at)
			if probes[k].flux {
				v = dotOf(e, probes[k].normal)
			}
			out[k] = sign * v
		}
		return nil
	})
	if len(rest.charges) > 0 {
		for i := range s.nodes[b] {
			s.nodes[b][i].ask(rest, probes, out, sign)
		}
	}
	return out
}

// crossing is what densities do beyond their own plate: as parts, by body, and
// as the rest.
func (s *stage) crossing(u [][]float64) ([][]part, *rest, error) {
	parts := make([][]part, len(s.bodies))
	var charges []charge
	for b := range s.bodies {
		parts[b] = s.bodies[b].parts(u[b])
		charges = append(charges, s.charges(b, parts[b])...)
	}
	r, err := s.rests.of(charges)
	return parts, r, err
}

// charges are the nodes of a body for its parts.
func (s *stage) charges(b int, parts []part) []charge {
	if s.rests.none {
		return nil
	}
	var out []charge
	for k := range s.nodes[b] {
		n := &s.nodes[b][k]
		var dipoles []dipole
		for _, p := range parts {
			if p.slab == n.slab {
				dipoles = p.dipoles(dipoles)
			}
		}
		out = append(out, n.charges(dipoles)...)
	}
	return out
}

func (s *stage) finish(src sources, density []float64, split func([]float64) [][]float64) (*scene, error) {
	parts := src.parts
	charges := src.charges
	for b, u := range split(density) {
		own := s.bodies[b].parts(u)
		parts = append(parts, own...)
		charges = append(charges, s.charges(b, own)...)
	}
	rest, err := s.rests.of(gathered(charges))
	if err != nil {
		return nil, err
	}
	return &scene{s.listed(), parts, rest}, nil
}

// gathered adds up charges at one place.
func gathered(charges []charge) []charge {
	index := make(map[charge]int)
	out := charges[:0:0]
	for _, c := range charges {
		key := c
		key.f = 0
		if k, ok := index[key]; ok {
			out[k].f += c.f
			continue
		}
		index[key] = len(out)
		out = append(out, c)
	}
	return out
}

// gmres solves u + C·u = right, of which apply returns the left side, by
// the method of generalised minimal residuals (Saad and Schultz, SIAM Journal on Scientific and
// Statistical Computing 7:856, 1986, from memory). It stops at 1e-9 of
// the right side; that more than 1e-6 is left after all steps is an error.
func gmres(right []float64, apply func([]float64) []float64, stop func() bool) ([]float64, error) {
	const most, enough = 60, 1e-9
	beta := norm(right)
	if beta == 0 {
		return right, nil
	}
	basis := [][]float64{scaledBy(right, 1/beta)}
	var h [][]float64 // columns, already turned
	var cs, sn []float64
	g := []float64{beta}
	for n := range most {
		if stop != nil && stop() {
			return nil, ErrStopped
		}
		w := apply(basis[n])
		col := make([]float64, n+2)
		for range 2 { // the second pass takes out what rounding left
			for i, v := range basis {
				d := dot(v, w)
				col[i] += d
				for k := range w {
					w[k] -= d * v[k]
				}
			}
		}
		col[n+1] = norm(w)
		last := col[n+1]
		for i := range cs {
			col[i], col[i+1] = cs[i]*col[i]+sn[i]*col[i+1], cs[i]*col[i+1]-sn[i]*col[i]
		}
		r := math.Hypot(col[n], col[n+1])
		if r == 0 || math.IsNaN(r) {
			return nil, fmt.Errorf("%w: the plates' equations have no solution", ErrNotFinite)
		}
		cs, sn = append(cs, col[n]/r), append(sn, col[n+1]/r)
		col[n], col[n+1] = r, 0
		g = append(g, -sn[n]*g[n])
		g[n] *= cs[n]
		h = append(h, col)
		if math.Abs(g[n+1]) <= enough*beta || last <= 1e-14 {
			break
		}
		basis = append(basis, scaledBy(w, 1/last))
	}
	if left := math.Abs(g[len(g)-1]); !(left <= 1e-6*beta) {
		return nil, fmt.Errorf("%w: the plates' equations were not solved in %d steps (%.1g is left)", ErrNotFinite, most, left/beta)
	}
	y := make([]float64, len(h))
	for i := len(h) - 1; i >= 0; i-- {
		y[i] = g[i]
		for j := i + 1; j < len(h); j++ {
			y[i] -= h[j][i] * y[j]
		}
		y[i] /= h[i][i]
	}
	out := make([]float64, len(right))
	for i, v := range basis[:len(h)] {
		for k := range out {
			out[k] += y[i] * v[k]
		}
	}
	return out, nil
}

func norm(v []float64) float64 { return math.Sqrt(dot(v, v)) }

func scaledBy(v []float64, f float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		out[i] = f * v[i]
	}
	return out
}
