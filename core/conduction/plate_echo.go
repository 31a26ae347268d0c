package conduction

import (
	"math"
	"sync"
)

// echo is one image of everything that lies in one slab, as it acts in
// another: mirrored, so that it is seen from c − z, or moved, so that it is
// seen from z − c. w is its weight against the source's own 1/(4πσ). Beside a
// wall (see [stage.listWalls]) it is mirrored or moved sideways too.
type echo struct {
	w, c     float64
	mirrored bool
	beside   *sideways
}

// sideways: seen from by − x where the axis is turned, else from x − by; so with y.
type sideways struct {
	turned [2]bool
	by     [2]float64
}

// seen is where, for an echo, a point lies in the source's own frame.
func (o echo) seen(p Vector) Vector {
	if o.beside != nil {
		p.X, p.Y = o.beside.across(0, p.X), o.beside.across(1, p.Y)
	}
	if o.mirrored {
		return Vector{p.X, p.Y, o.c - p.Z}
	}
	return Vector{p.X, p.Y, p.Z - o.c}
}

func (b *sideways) across(axis int, x float64) float64 {
	if b.turned[axis] {
		return b.by[axis] - x
	}
	return x - b.by[axis]
}

// turned takes a field out of the source's own frame.
func (o echo) turned(e Vector) Vector {
	if o.beside != nil {
		if o.beside.turned[0] {
			e.X = -e.X
		}
		if o.beside.turned[1] {
			e.Y = -e.Y
		}
	}
	if o.mirrored {
		return Vector{o.w * e.X, o.w * e.Y, -o.w * e.Z}
	}
	return Vector{o.w * e.X, o.w * e.Y, o.w * e.Z}
}

// place is where the image of a source at height z0 stands.
func (o echo) place(z0 float64) float64 {
	if o.mirrored {
		return o.c - z0
	}
	return z0 + o.c
}

// echoes are the images near the plates, by the slab of the source and that in
// which it acts. Beyond them all is smooth over a plate: see [rest].
type echoes [][][]echo

// newEchoes lists the images of sources between two heights that stand within
// reach of the slab's faces; in thin layers, where there would be very many, as
// far as most of them go.
func newEchoes(st *stack, lo, hi, reach float64) echoes {
	const most = 24
	out := make(echoes, len(st.slabs))
	for j, s := range st.slabs {
		out[j] = make([][]echo, len(st.slabs))
		z0 := math.Min(math.Max((lo+hi)/2, s.bottomM), s.topM)
		for i := range st.slabs {
			for r := reach; ; r /= 1.5 {
				out[j][i] = echoesOf(st, j, z0, i, r)
				if len(out[j][i]) <= most || r < reach/50 {
					break
				}
			}
		}
	}
	return out
}

// echoesOf lists the images of sources near height z0 of slab j that act in
// slab i, with the sources themselves where i is j.
func echoesOf(st *stack, j int, z0 float64, i int, reach float64) []echo {
	var out []echo
	if i == j {
		out = append(out, echo{w: 1})
	}
	add := func(height, weight float64, mirrored bool) {
		const nothing = 1e-12
		switch {
		case math.Abs(weight) < nothing:
		case mirrored:
			out = append(out, echo{w: weight, c: height + z0, mirrored: true})
		default:
			out = append(out, echo{w: weight, c: height - z0})
		}
	}
	w, _ := imagesOf(st, j, z0, i, reach, 1<<20)
	s := st.slabs[i]
	// The weight of the derivative by the source's height tells which share of an
	// image moves with the source and which against it.
	for _, t := range w.rise {
		add(s.bottomM-t.s, (t.w-t.d)/2, true)
		add(s.bottomM-t.s, (t.w+t.d)/2, false)
	}
	for _, t := range w.fall {
		add(s.topM+t.s, (t.w+t.d)/2, true)
		add(s.topM+t.s, (t.w-t.d)/2, false)
	}
	return out
}

// beyond is what an expansion's images leave when those that are listed are
// taken out; those that the expansion holds in its remainder are taken out too.
func (sr *source) beyond(e *expansion, near []echo, i int) []image {
	listed := make([]image, 0, len(near))
	for _, o := range near {
		if i == sr.slab && !o.mirrored && o.c == 0 {
			continue // the source itself, which an expansion leaves out
		}
		listed = append(listed, image{z: o.place(sr.z0), w: o.w})
	}
	var out []image
	for _, im := range e.images {
		for k := range listed {
			if listed[k].w != 0 && math.Abs(im.z-listed[k].z) <= 1e-12*(math.Abs(im.z)+math.Abs(sr.z0)) {
				im.w -= listed[k].w
				listed[k].w = 0
			}
		}
		if im.d = 0; math.Abs(im.w) > 1e-11 {
			out = append(out, im)
		}
	}
	middle := (sr.stack.slabs[i].topM + sr.stack.slabs[i].bottomM) / 2
	for _, im := range listed {
		if im.w != 0 {
			im.dir, im.w = 1, -im.w
			if im.z > middle || im.z >= sr.stack.slabs[i].topM {
				im.dir = -1
			}
			out = append(out, im)
		}
	}
	return out
}

// restAt is what the source makes in slab i beyond itself and the images that
// are listed. kept remembers what is left of an expansion.
func (sr *source) restAt(kept *sync.Map, near []echo, i int, rho2, z float64) unit {
	e, far := sr.expansionAt(i, rho2, z)
	left, ok := kept.Load(e)
	if !ok {
		left, _ = kept.LoadOrStore(e, sr.beyond(e, near, i))
	}
	u := sr.imageUnit(unit{}, left.([]image), rho2, z)
	if far {
		v := sr.hankelRemainder(i, e, math.Sqrt(rho2), z)
		return unit{u.pot + v.pot, u.rho + v.rho, u.z + v.z}
	}
	return e.regularTo(restTerms, u, rho2, z)
}

// restTerms leave about 1e-8 of the rest.
const restTerms = 12
