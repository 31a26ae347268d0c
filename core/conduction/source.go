package conduction

import (
	"math"
	"sync"
)

// source is one electrode's shape and height in a stack, without its place in
// the plane and its current: everything that electrodes can share. Safe for
// concurrent use; its expansions are made when first asked for.
type source struct {
	stack  *stack
	slab   int
	z0, a  float64
	backed bool // a disc on bare sediment, whose back insulates
	base   float64
	limit  int       // images at most
	levels [][]level // [slab][level]
}

type level struct {
	once sync.Once
	exp  *expansion // nil: too many images
}

const (
	maxLevels    = 60
	imagesAtMost = 1200 // beyond, oscillating quadrature is the cheaper way
)

func newSource(st *stack, z0, a float64) *source {
	slab, _ := st.slabAt(z0)
	sr := &source{stack: st, slab: slab, z0: z0, a: a, limit: imagesAtMost}
	sr.backed = a > 0 && slab == 0 && z0 == 0 && st.slabs[0].bottomM == 0 && len(st.slabs) > 1
	n, thinnest := st.finiteSlabs()
	sr.base = math.Inf(1)
	if n > 0 {
		sr.base = 4 * thinnest
	}
	sr.levels = make([][]level, len(st.slabs))
	for i := range sr.levels {
		sr.levels[i] = make([]level, maxLevels)
	}
	return sr
}

// centre is the height round which the remainder in slab i is expanded.
func (sr *source) centre(i int) float64 {
	switch s := sr.stack.slabs[i]; {
	case i < sr.slab:
		return s.bottomM
	case i > sr.slab:
		return s.topM
	}
	return sr.z0
}

// level returns the m-th expansion in slab i, or nil where it would need too
// many images; then so would all later ones, which are not tried.
func (sr *source) level(i, m int) *expansion {
	l := &sr.levels[i][m]
	l.once.Do(func() {
		if m == 0 || sr.level(i, m-1) != nil {
			l.exp = sr.expand(i, math.Ldexp(sr.base, m))
		}
	})
	return l.exp
}

// unitAt returns potential and field per I/(4πσ_source) at a horizontal
// distance and a height of slab i.
func (sr *source) unitAt(i int, rho2, z float64) unit {
	if far := sr.stack.farM(); rho2 > far*far {
		return sr.flat(rho2)
	}
	var u unit
	if im, ok := sr.direct(i, z); ok {
		u = sr.imageUnit(u, []image{im}, rho2, z)
	}
	v := sr.echoes(i, rho2, z)
	return unit{u.pot + v.pot, u.rho + v.rho, u.z + v.z}
}

// flat is unitAt where a closed column's current flows level: that of a line through
// all of it, with the zero of [source.pool].
func (sr *source) flat(rho2 float64) unit {
	const euler = 0.57721566490153286061
	a, depth := sr.pool()
	return unit{pot: a * (math.Log(2*depth/math.Sqrt(rho2)) - euler), rho: a / rho2}
}

// echoes is unitAt without the source itself.
func (sr *source) echoes(i int, rho2, z float64) unit {
	e, far := sr.expansionAt(i, rho2, z)
	if !far {
		return e.at(sr, rho2, z)
	}
	return sr.hankel(i, math.Sqrt(rho2), z)
}

// expansionAt picks the expansion that holds at a place, or, far off, one for
// [source.hankel] to finish.
func (sr *source) expansionAt(i int, rho2, z float64) (e *expansion, far bool) {
	if math.IsInf(sr.base, 1) {
		return sr.level(i, 0), false
	}
	dz := z - sr.centre(i)
	m := 0
	if ratio := math.Sqrt(rho2+dz*dz) * reachRatio / sr.base; ratio > 1 {
		m = int(math.Ceil(math.Log2(ratio)))
	}
	if m < maxLevels {
		if e := sr.level(i, m); e != nil {
			return e, false
		}
	}
	return sr.modest(i), true
}

// imageUnit is the sum of the images, each a mirrored electrode.
func (sr *source) imageUnit(u unit, images []image, rho2, z float64) unit {
	for _, im := range images {
		zeta := im.dir * (z - im.z)
		var v unit
		if sr.a == 0 {
			v = pointUnit(rho2, zeta)
		} else {
			v = discUnit(rho2, math.Max(zeta, 0), sr.a)
		}
		u.pot += im.w * v.pot
		u.rho += im.w * v.rho
		u.z += im.dir * im.w * v.z
		if sr.backed && im.d != 0 {
			v = backUnit(rho2, math.Max(zeta, 0), sr.a)
			u.pot += im.d * v.pot
			u.rho += im.d * v.rho
			u.z += im.dir * im.d * v.z
		}
	}
	return u
}

// direct appends the source itself where it lies in the slab asked for.
func (sr *source) direct(i int, z float64) (image, bool) {
	if i != sr.slab {
		return image{}, false
	}
	if z >= sr.z0 {
		return image{z: sr.z0, w: 1, d: 1, dir: 1}, true
	}
	return image{z: sr.z0, w: 1, d: -1, dir: -1}, true
}
