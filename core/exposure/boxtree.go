package exposure

import (
	"math"
	"sync"
)

// boxTree is a table in front of a vector field that is smooth but for some
// bodies (plates and electrodes), and costly to ask: boxes that grow with the
// distance from the bodies, each with a polynomial in x, y and z through
// Chebyshev points. There is one set of polynomials for each of several fields
// ("nodes") that share the boxes.
//
// Which boxes exist follows from the places that the study's tracks reach, and
// is fixed before anything is asked; a box's polynomial is worked out when it
// is first asked for, from the field alone. So the bits of an answer do not
// depend on who asks first.
type boxTree struct {
	root *box
	fill func(node int, points, values []vec) bool // false: some point has no value
}

const (
	// boxPoints is the number of Chebyshev points a side.
	boxPoints = 7
	boxSize   = boxPoints * boxPoints * boxPoints
	// boxRoom is how far from the bodies the middle of a box lies at least, in
	// units of its longest side. A field that is analytic up to a body 1.5 sides
	// from the middle has Chebyshev coefficients that fall as 5.8⁻ⁿ (Bernstein's
	// ellipse, of half-axes 3 and √8).
	boxRoom = 1.5
	// smallestBoxM: a box this small that is still too near is not made.
	smallestBoxM = 0.01
	// worthABox is how many fixes must lie in a box: seven cubed values of the
	// field are needed to make it, and a fix asks for six to eight, with those that
	// look for largest fields between rows.
	worthABox = 60
)

// box is one node of the tree: with kids, or a leaf with polynomials, or
// neither, where the field is to be asked directly.
type box struct {
	lo, hi vec
	kids   []*box // 2, 4 or 8, x fastest; nil in a leaf
	split  [3]bool
	leaves []leaf // by node
}

type leaf struct {
	once  sync.Once
	ok    bool
	terms [3][]float32 // by (i·n + j)·n + k, of T_i(x)·T_j(y)·T_k(z)
}

// newBoxTree lays out boxes for the places that will be asked for, within lo
// and hi. gap is the distance from a place to the nearest body. It returns nil
// where no box is worth it.
func newBoxTree(places []vec, lo, hi vec, nodes int, gap func(vec) float64, fill func(node int, points, values []vec) bool) *boxTree {
	a, b := vec{math.Inf(1), math.Inf(1), math.Inf(1)}, vec{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	var inside []vec
	for _, p := range places {
		if p.x < lo.x || p.y < lo.y || p.z < lo.z || p.x > hi.x || p.y > hi.y || p.z > hi.z {
			continue
		}
		inside = append(inside, p)
		a, b = vec{math.Min(a.x, p.x), math.Min(a.y, p.y), math.Min(a.z, p.z)}, vec{math.Max(b.x, p.x), math.Max(b.y, p.y), math.Max(b.z, p.z)}
	}
	if len(inside) < worthABox {
		return nil
	}
	// No side is empty, and what swims between the fixes is inside too.
	for _, c := range [...]struct{ a, b, lo, hi *float64 }{{&a.x, &b.x, &lo.x, &hi.x}, {&a.y, &b.y, &lo.y, &hi.y}, {&a.z, &b.z, &lo.z, &hi.z}} {
		*c.a, *c.b = math.Max(*c.a-smallestBoxM, *c.lo), math.Min(*c.b+smallestBoxM, *c.hi)
	}
	root := layBox(a, b, inside, nodes, gap)
	if root == nil {
		return nil
	}
	return &boxTree{root, fill}
}

// layBox is the box from lo to hi with those of its parts that are worth it;
// nil where none is.
func layBox(lo, hi vec, places []vec, nodes int, gap func(vec) float64) *box {
	if len(places) < worthABox {
		return nil
	}
	b := &box{lo: lo, hi: hi}
	size := hi.minus(lo)
	longest := math.Max(size.x, math.Max(size.y, size.z))
	if gap(between(lo, hi, 0.5)) >= boxRoom*longest {
		b.leaves = make([]leaf, nodes)
		return b
	}
	if longest <= smallestBoxM {
		return nil
	}
	count := 1
	for k, side := range [...]float64{size.x, size.y, size.z} {
		if b.split[k] = side > 0.7*longest; b.split[k] {
			count *= 2
		}
	}
	parts := make([][]vec, count)
	for _, p := range places {
		k := b.part(p)
		parts[k] = append(parts[k], p)
	}
	b.kids = make([]*box, count)
	empty := true
	for k := range b.kids {
		from, to := b.bounds(k)
		b.kids[k] = layBox(from, to, parts[k], nodes, gap)
		empty = empty && b.kids[k] == nil
	}
	if empty {
		return nil
	}
	return b
}

// part is the index of the kid that holds a place.
func (b *box) part(p vec) int {
	k, bit := 0, 1
	for _, c := range [...]struct {
		split     bool
		x, lo, hi float64
	}{{b.split[0], p.x, b.lo.x, b.hi.x}, {b.split[1], p.y, b.lo.y, b.hi.y}, {b.split[2], p.z, b.lo.z, b.hi.z}} {
		if !c.split {
			continue
		}
		if c.x >= (c.lo+c.hi)/2 {
			k |= bit
		}
		bit <<= 1
	}
	return k
}

// bounds of kid k.
func (b *box) bounds(k int) (lo, hi vec) {
	lo, hi = b.lo, b.hi
	bit := 1
	for i, c := range [...]struct{ lo, hi *float64 }{{&lo.x, &hi.x}, {&lo.y, &hi.y}, {&lo.z, &hi.z}} {
		if !b.split[i] {
			continue
		}
		middle := (*c.lo + *c.hi) / 2
		if k&bit != 0 {
			*c.lo = middle
		} else {
			*c.hi = middle
		}
		bit <<= 1
	}
	return lo, hi
}

// find is the leaf that holds a place; nil where the field is to be asked
// directly.
func (t *boxTree) find(p vec) *box {
	if t == nil {
		return nil
	}
	b := t.root
	if p.x < b.lo.x || p.y < b.lo.y || p.z < b.lo.z || p.x > b.hi.x || p.y > b.hi.y || p.z > b.hi.z {
		return nil
	}
	for b != nil && b.kids != nil {
		b = b.kids[b.part(p)]
	}
	return b
}

// at is the field of a node at a place of a leaf; false where the leaf could
// not be made.
func (t *boxTree) at(b *box, node int, p vec) (vec, bool) {
	l := &b.leaves[node]
	l.once.Do(func() { l.make(b, node, t.fill) })
	if !l.ok {
		return vec{}, false
	}
	var tx, ty, tz [boxPoints]float64
	chebyshev(&tx, (2*p.x-b.lo.x-b.hi.x)/(b.hi.x-b.lo.x))
	chebyshev(&ty, (2*p.y-b.lo.y-b.hi.y)/(b.hi.y-b.lo.y))
	chebyshev(&tz, (2*p.z-b.lo.z-b.hi.z)/(b.hi.z-b.lo.z))
	var out [3]float64
	for c := range out {
		terms := l.terms[c]
		sum := 0.0
		for i := range boxPoints {
			plane := 0.0
			for j := range boxPoints {
				row := terms[(i*boxPoints+j)*boxPoints:][:boxPoints]
				line := 0.0
				for k := range boxPoints {
					line += float64(row[k]) * tz[k]
				}
				plane += line * ty[j]
			}
			sum += plane * tx[i]
		}
		out[c] = sum
	}
	return vec{out[0], out[1], out[2]}, true
}

// chebyshev sets t to T_0(x), T_1(x), …
func chebyshev(t *[boxPoints]float64, x float64) {
	t[0], t[1] = 1, x
	for k := 2; k < boxPoints; k++ {
		t[k] = 2*x*t[k-1] - t[k-2]
	}
}

// make works out a leaf's polynomials.
func (l *leaf) make(b *box, node int, fill func(node int, points, values []vec) bool) {
	points, values := make([]vec, 0, boxSize), make([]vec, boxSize)
	var x [boxPoints]float64
	for k := range x {
		x[k] = math.Cos(math.Pi * (float64(k) + 0.5) / boxPoints)
	}
	middle, half := between(b.lo, b.hi, 0.5), b.hi.minus(b.lo).times(0.5)
	for i := range x {
		for j := range x {
			for k := range x {
				points = append(points, vec{middle.x + half.x*x[i], middle.y + half.y*x[j], middle.z + half.z*x[k]})
			}
		}
	}
	if !fill(node, points, values) {
		return
	}
	for c := range l.terms {
		v := make([]float64, boxSize)
		for i := range v {
			v[i] = [...]float64{values[i].x, values[i].y, values[i].z}[c]
			if !isFinite(v[i]) {
				return
			}
		}
		for _, stride := range [...]int{1, boxPoints, boxPoints * boxPoints} {
			toTerms(v, stride)
		}
		l.terms[c] = make([]float32, boxSize)
		for i := range v {
			l.terms[c][i] = float32(v[i])
			if math.IsInf(float64(l.terms[c][i]), 0) {
				return
			}
		}
	}
	l.ok = true
}

// toTerms turns values at Chebyshev points into coefficients, along one of the
// three directions.
func toTerms(v []float64, stride int) {
	var line [boxPoints]float64
	for start := range v {
		if start/stride%boxPoints != 0 {
			continue
		}
		for n := range line {
			sum := 0.0
			for k := range boxPoints {
				sum += v[start+k*stride] * math.Cos(math.Pi*float64(n)*(float64(k)+0.5)/boxPoints)
			}
			line[n] = 2 * sum / boxPoints
		}
		line[0] /= 2
		for n := range line {
			v[start+n*stride] = line[n]
		}
	}
}
