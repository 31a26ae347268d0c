package optics

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

const (
	roughSteps = 25 // of orthogonal iteration from each start
	mostKept   = 6  // starts that are refined
	nearRad    = 0.02
	slowRad    = 1e-3 // turns so small are left to the refinement
)

// principal is the root mean square of points from their middle along three
// axes, largest first, and the axes as columns, right-handed.
func principal(centred []vec) (spread vec, axes rot) {
	m := mat.NewDense(len(centred), 3, nil)
	for i, p := range centred {
		m.SetRow(i, p[:])
	}
	var svd mat.SVD
	if !svd.Factorize(m, mat.SVDThinV) {
		return spread, axes
	}
	values := svd.Values(nil)
	var v mat.Dense
	svd.VTo(&v)
	for i := range min(3, len(values)) {
		spread[i] = values[i] / math.Sqrt(float64(len(centred)))
	}
	a, b := vec{v.At(0, 0), v.At(1, 0), v.At(2, 0)}, vec{v.At(0, 1), v.At(1, 1), v.At(2, 1)}
	return spread, ofColumns(a, b, cross(a, b))
}

// minima are the poses at which the residuals are smallest all round, found from
// many starts; each once.
func (b *bundle) minima() []candidate {
	var found []candidate
	visit := func(start candidate) {
		f, ok := b.refine(start)
		if !ok || slices.ContainsFunc(found, func(o candidate) bool { return angleBetween(&o.r, &f.r) <= togetherRad }) {
			return
		}
		found = append(found, f)
	}
	for _, start := range b.rough() {
		visit(start)
	}
	for i := 0; i < len(found) && i < mostKept; i++ {
		visit(b.tipped(&found[i]))
	}
	return found
}

// rough are poses near minima: from the 24 turns that take a cube to itself,
// orthogonal iteration to where the rays pass near the marks; the best few.
func (b *bundle) rough() []candidate {
	solver, ok := newIteration(b)
	if !ok {
		return nil
	}
	type start struct {
		candidate
		apart float64
	}
	var ends []start
	for _, r := range cubeTurns() {
		r = product(&r, ptr(transposed(&b.axes)))
		f, apart, ok := solver.run(r)
		if !ok {
			continue
		}
		if f, ok = b.inFront(f); !ok {
			continue
		}
		ends = append(ends, start{f, apart})
	}
	slices.SortStableFunc(ends, func(a, b start) int {
		switch {
		case a.apart < b.apart:
			return -1
		case a.apart > b.apart:
			return 1
		}
		return 0
	})
	var out []candidate
	for _, e := range ends {
		if len(out) < mostKept && !slices.ContainsFunc(out, func(o candidate) bool { return angleBetween(&o.r, &e.r) <= nearRad }) {
			out = append(out, e.candidate)
		}
	}
	return out
}

func ptr(r rot) *rot { return &r }

// inFront accepts a pose that sees every mark. One that has them all behind the
// camera is turned to the front, which for flat marks is as good.
func (b *bundle) inFront(f candidate) (candidate, bool) {
	sees := func(f *candidate) bool {
		for _, at := range b.at {
			if _, _, err := b.lens.project(add(turned(&f.r, at), f.t)); err != nil {
				return false
			}
		}
		return true
	}
	if sees(&f) {
		return f, true
	}
	// −1 on the two axes of the plane and on t: a flat p goes to −p.
	own := product(&f.r, &b.axes)
	own = ofColumns(scaled(-1, column(&own, 0)), scaled(-1, column(&own, 1)), column(&own, 2))
	f.r, f.t = product(&own, ptr(transposed(&b.axes))), scaled(-1, f.t)
	return f, sees(&f)
}

// tipped is the other pose that shows flat marks nearly alike: their plane tipped
// the other way about the line of sight to their middle (what is farther comes
// nearer), which seen from far away changes nothing.
func (b *bundle) tipped(f *candidate) candidate {
	sight := toAxis(f.t)
	own := product(&f.r, &b.axes)
	own = product(&sight, &own)
	e1, e2 := column(&own, 0), column(&own, 1)
	e1[2], e2[2] = -e1[2], -e2[2]
	own = ofColumns(e1, e2, cross(e1, e2))
	own = product(ptr(transposed(&sight)), &own)
	r := product(&own, ptr(transposed(&b.axes)))
	return candidate{r: squared(&r), t: f.t}
}

// toAxis is a turn that takes a direction to z.
func toAxis(v vec) rot {
	n := size(v)
	if n == 0 {
		return rot{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	}
	z := scaled(1/n, v)
	side := vec{1, 0, 0}
	if math.Abs(z[0]) > 0.8 {
		side = vec{0, 1, 0}
	}
	x := cross(side, z)
	x = scaled(1/size(x), x)
	return rot{x, cross(z, x), z}
}

// cubeTurns are the 24 rotations of a cube.
func cubeTurns() []rot {
	var out []rot
	axes := []vec{{1, 0, 0}, {-1, 0, 0}, {0, 1, 0}, {0, -1, 0}, {0, 0, 1}, {0, 0, -1}}
	for _, a := range axes {
		for _, b := range axes {
			if dot(a, b) == 0 {
				out = append(out, ofColumns(a, b, cross(a, b)))
			}
		}
	}
	return out
}

// iteration is orthogonal iteration for rays that need not meet in one point: it
// makes the distances of the marks from their rays small, the place in closed
// form for a given turn, then the turn for the marks' nearest places on the rays.
type iteration struct {
	b       *bundle
	away    []rot // I − along·alongᵀ
	inverse rot   // of the sum of those
}

func newIteration(b *bundle) (*iteration, bool) {
	it := &iteration{b: b}
	sum := mat.NewDense(3, 3, nil)
	for _, v := range b.along {
		var k rot
		for i := range 3 {
			for j := range 3 {
				k[i][j] = -v[i] * v[j]
			}
			k[i][i]++
		}
		it.away = append(it.away, k)
		for i := range 3 {
			for j := range 3 {
				sum.Set(i, j, sum.At(i, j)+k[i][j])
			}
		}
	}
	var inverse mat.Dense
	if err := inverse.Inverse(sum); err != nil {
		return nil, false // all rays are one
	}
	for i := range 3 {
		for j := range 3 {
			it.inverse[i][j] = inverse.At(i, j)
		}
	}
	return it, true
}

func (it *iteration) run(r rot) (f candidate, apart float64, ok bool) {
	b := it.b
	t := it.place(&r)
	near := make([]vec, len(b.at))
	for range roughSteps {
		var middle vec
		for i, at := range b.at {
			p := sub(add(turned(&r, at), t), b.from[i])
			near[i] = add(b.from[i], scaled(dot(b.along[i], p), b.along[i]))
			middle = add(middle, scaled(1/float64(len(b.at)), near[i]))
		}
		var m rot
		for k, at := range b.at {
			q := sub(near[k], middle)
			for i := range 3 {
				for j := range 3 {
					m[i][j] += q[i] * at[j]
				}
			}
		}
		before := r
		if r, ok = nearestTurn(&m); !ok {
			return f, 0, false
		}
		t = it.place(&r)
		if angleBetween(&before, &r) < slowRad {
			break
		}
	}
	for i, at := range b.at {
		e := turned(&it.away[i], sub(add(turned(&r, at), t), b.from[i]))
		apart += dot(e, e)
	}
	return candidate{r: r, t: t}, apart, finiteVec(t) && isFinite(apart)
}

// place is the t that brings the marks nearest to their rays.
func (it *iteration) place(r *rot) vec {
	var sum vec
	for i, at := range it.b.at {
		sum = add(sum, turned(&it.away[i], sub(it.b.from[i], turned(r, at))))
	}
	return turned(&it.inverse, sum)
}

// nearestTurn is the rotation R for which the trace of Rᵀ·m is largest: that of the
// quaternion that belongs to the largest eigenvalue of a symmetric matrix (J. Opt.
// Soc. Am. A 4:629–642, 1987), found by Jacobi's turns.
func nearestTurn(m *rot) (r rot, ok bool) {
	a := [4][4]float64{
		{m[0][0] + m[1][1] + m[2][2], m[2][1] - m[1][2], m[0][2] - m[2][0], m[1][0] - m[0][1]},
		{0, m[0][0] - m[1][1] - m[2][2], m[0][1] + m[1][0], m[0][2] + m[2][0]},
		{0, 0, m[1][1] - m[0][0] - m[2][2], m[1][2] + m[2][1]},
		{0, 0, 0, m[2][2] - m[0][0] - m[1][1]},
	}
	for i := range 4 {
		for j := range i {
			a[i][j] = a[j][i]
		}
	}
	v := [4][4]float64{{1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}, {0, 0, 0, 1}}
	for range 30 {
		var off, all float64
		for i := range 4 {
			all += a[i][i] * a[i][i]
			for j := range i {
				off += a[i][j] * a[i][j]
			}
		}
		if !isFinite(off) || !isFinite(all) {
			return r, false
		}
		if off <= 1e-30*all {
			break
		}
		for i := range 3 {
			for j := i + 1; j < 4; j++ {
				jacobi(&a, &v, i, j)
			}
		}
	}
	best := 0
	for i := range 4 {
		if a[i][i] > a[best][best] {
			best = i
		}
	}
	w, x, y, z := v[0][best], v[1][best], v[2][best], v[3][best]
	return rot{
		{w*w + x*x - y*y - z*z, 2 * (x*y - w*z), 2 * (x*z + w*y)},
		{2 * (x*y + w*z), w*w - x*x + y*y - z*z, 2 * (y*z - w*x)},
		{2 * (x*z - w*y), 2 * (y*z + w*x), w*w - x*x - y*y + z*z},
	}, true
}

// jacobi turns rows and columns i and j so that a[i][j] is 0.
func jacobi(a, v *[4][4]float64, i, j int) {
	if a[i][j] == 0 {
		return
	}
	theta := (a[j][j] - a[i][i]) / (2 * a[i][j])
	t := math.Copysign(1, theta) / (math.Abs(theta) + math.Sqrt(1+theta*theta))
	c := 1 / math.Sqrt(1+t*t)
	s := t * c
	for k := range 4 {
		a[k][i], a[k][j] = c*a[k][i]-s*a[k][j], s*a[k][i]+c*a[k][j]
	}
	for k := range 4 {
		a[i][k], a[j][k] = c*a[i][k]-s*a[j][k], s*a[i][k]+c*a[j][k]
		v[k][i], v[k][j] = c*v[k][i]-s*v[k][j], s*v[k][i]+c*v[k][j]
	}
}
