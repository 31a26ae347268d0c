package conduction

import "math"

// pieceKind says how a piece of a surface is laid out.
type pieceKind int

const (
	pieceFlat  pieceKind = iota // p0 + s·a + t·b
	pieceDisc                   // p0 + s·(a·cos t + b·sin t), s from 0 to 1
	pieceSide                   // s along the axis, t the angle
	pieceRound                  // a spheroid: s the parametric angle from its nose, t the angle round the axis
)

// piece is a smooth piece of a body's surface, in the body's frame.
type piece struct {
	kind     pieceKind
	p0, a, b [3]float64
	normal   [3]float64 // of what is flat: ∂A/∂s∂t, of a disc over s
	bend     *bend      // nil where the parameters are s and t themselves
}

func (pc *piece) flat() bool { return pc.kind == pieceFlat || pc.kind == pieceDisc }

// point returns the place and the outward area by the parameters.
func (s *solid) point(pc *piece, u, v float64) (at, area [3]float64) {
	if pc.bend != nil {
		return s.bentPoint(pc, u, v)
	}
	switch pc.kind {
	case pieceFlat:
		for k := range at {
			at[k] = pc.p0[k] + u*pc.a[k] + v*pc.b[k]
		}
		return at, pc.normal
	case pieceDisc:
		sin, cos := math.Sincos(v)
		for k := range at {
			at[k] = pc.p0[k] + u*(cos*pc.a[k]+sin*pc.b[k])
			area[k] = u * pc.normal[k]
		}
		return at, area
	case pieceSide:
		sin, cos := math.Sincos(v)
		r := s.half[1]
		return [3]float64{u, r * sin, r * cos}, [3]float64{0, r * sin, r * cos}
	}
	sin, cos := math.Sincos(v)
	sinU, cosU := math.Sincos(u)
	a, b := s.half[0], s.half[1]
	f := b * sinU
	return [3]float64{a * cosU, f * sin, f * cos}, [3]float64{f * b * cosU, f * a * sinU * sin, f * a * sinU * cos}
}

// tile, a panel, is a rectangle of a piece's parameters with a polynomial density, of
// which it holds the values at order × order Gauss places.
type tile struct {
	piece  *piece
	lo, hi [2]float64
	order  int
	slab   int
	first  int     // its first unknown
	share  float64 // τ of the equation: see [skin]
	cut    bool    // it lies inside the body, where two layers meet
}

// bodyMesh is how finely a body's surface is laid out.
type bodyMesh struct {
	order int
	first float64 // the panel at an edge, in shares of the least half-length
	base  float64 // the largest panel, in shares of the longest half-length
	round int     // panels round half a circle: even, so that one ends at the height of the axis
	far   float64 // panels may be so many times larger than the distance to what makes the field
	grain float64 // what is left out of a bent panel round a place on it, in shares of the least half-length
}

// bodyMeshes are those of the meshes, in the order of [sizes].
var bodyMeshes = [...]bodyMesh{
	{3, 1.0 / 3, 1, 2, 1.6, 3e-4},
	{4, 1.0 / 6, 1, 2, 1.3, 3e-4},
	{4, 1.0 / 12, 0.7, 4, 1.1, 1e-4},
	{5, 1.0 / 20, 0.7, 4, 1, 3e-5},
	{5, 1.0 / 40, 0.5, 6, 0.8, 3e-5},
	{6, 1.0 / 60, 0.5, 6, 0.7, 1e-5},
}

// gradedTo lays panels over 0 … length that grow fourfold from the end.
func gradedTo(length, first, base float64) []float64 {
	var widths []float64
	x := 0.0
	for x < length {
		w := math.Min(base, math.Max(first, 3*x))
		if left := length - x; left < 1.5*w {
			w = left
		}
		widths = append(widths, w)
		x += w
		if len(widths) > 200 {
			break
		}
	}
	out := []float64{0}
	for _, w := range widths {
		out = append(out, out[len(out)-1]+w*length/x)
	}
	out[len(out)-1] = length
	return out
}

// ends are the places of panels from lo to hi that are graded to hi, and to lo
// where both is set, with cuts in between.
func ends(lo, hi, first, base float64, both bool, cuts []float64) []float64 {
	var out []float64
	if both {
		mid := (lo + hi) / 2
		half := gradedTo(hi-mid, first, base)
		for _, x := range half {
			out = append(out, lo+x)
		}
		for i := len(half) - 2; i >= 0; i-- {
			out = append(out, hi-half[i])
		}
	} else {
		half := gradedTo(hi-lo, first, base)
		for i := len(half) - 1; i >= 0; i-- {
			out = append(out, hi-half[i])
		}
		out[0] = lo
	}
	return withCuts(out, cuts)
}

// evenly are n panels from lo to hi, with cuts in between.
func evenly(lo, hi float64, n int, cuts []float64) []float64 {
	out := make([]float64, n+1)
	for i := range out {
		out[i] = lo + (hi-lo)*float64(i)/float64(n)
	}
	return withCuts(out, cuts)
}

// withCuts puts further ends between those that are there.
func withCuts(x, cuts []float64) []float64 {
	for _, c := range cuts {
		for i := range len(x) - 1 {
			if tiny := 1e-9 * (x[len(x)-1] - x[0]); c > x[i]+tiny && c < x[i+1]-tiny {
				x = append(x[:i+1], append([]float64{c}, x[i+1:]...)...)
				break
			}
		}
	}
	return x
}

// mirrors are the changes of sign of the body's own coordinates that leave a
// layered medium as it is.
func (s *solid) mirrors() [][3]float64 {
	out := [][3]float64{{1, 1, 1}, {1, -1, 1}}
	switch {
	case s.upright[0]:
		out = append(out, [3]float64{-1, 1, 1}, [3]float64{-1, -1, 1})
	case s.upright[1]:
		out = append(out, [3]float64{1, 1, -1}, [3]float64{1, -1, -1})
	}
	return out
}

// halved tells for each axis whether half of the body stands for the whole.
func (s *solid) halved() [3]bool { return [3]bool{s.upright[0], true, s.upright[1] && !s.upright[0]} }

// levels are the heights of the stack's interfaces, as seen from the middle.
func (s *solid) levels(st *stack) (out []float64) {
	for i := range st.slabs {
		if z := st.slabs[i].bottomM; !math.IsInf(z, 0) {
			out = append(out, z-s.Centre.Z)
		}
	}
	return out
}

// lay lays panels over those parts of the surface of which the others are mirror
// images.
func (s *solid) lay(st *stack, f bodyMesh) (out []tile) {
	cuts := s.levels(st)
	tensor := func(pc piece, x, y []float64) { out = append(out, panelsOf(pc, x, y, f.order)...) }
	half := s.halved()
	along := func(k int) []float64 { // of a box or a cylinder
		var c []float64
		if up := s.axes[k].Z; math.Abs(up) == 1 {
			for _, z := range cuts {
				c = append(c, z*up)
			}
		}
		return s.along(k, s.half[k], f, c)
	}
	if s.Shape == BodyBox {
		for k := range 3 {
			i, j := (k+1)%3, (k+2)%3
			for _, side := range [2]float64{1, -1} {
				if side < 0 && half[k] {
					continue
				}
				var pc piece
				pc.p0[k], pc.normal[k] = side*s.half[k], side
				pc.a[i], pc.b[j] = 1, 1
				tensor(pc, along(i), along(j))
			}
		}
		return out
	}
	angles := s.angles(f, cuts)
	if s.Shape == BodySpheroid {
		tensor(piece{kind: pieceRound}, s.latitudes(f, cuts), angles)
		return out
	}
	tensor(piece{kind: pieceSide}, along(0), angles)
	for _, side := range [2]float64{1, -1} {
		if side < 0 && half[0] {
			continue
		}
		r := s.half[1]
		pc := piece{kind: pieceDisc, p0: [3]float64{side * s.half[0]}, a: [3]float64{2: r}, b: [3]float64{1: r}, normal: [3]float64{side * r * r}}
		tensor(pc, s.fromMiddle(f, r), angles)
	}
	return out
}

// panelsOf covers a piece by a grid of panels.
func panelsOf(pc piece, x, y []float64, order int) (out []tile) {
	for i := range len(x) - 1 {
		for j := range len(y) - 1 {
			out = append(out, tile{piece: &pc, lo: [2]float64{x[i], y[j]}, hi: [2]float64{x[i+1], y[j+1]}, order: order})
		}
	}
	return out
}

// along are panels along an axis, to a sharp edge at the end half.
func (s *solid) along(k int, half float64, f bodyMesh, cuts []float64) []float64 {
	first, base := f.first*s.least(), f.base*s.most()
	if s.halved()[k] {
		return ends(0, half, first, base, false, cuts)
	}
	return ends(-half, half, first, base, true, cuts)
}

// fromMiddle are panels from a disc's middle to its rim, in shares of its radius.
func (s *solid) fromMiddle(f bodyMesh, radius float64) []float64 {
	return ends(0, 1, math.Min(f.first*s.least()/radius, 1), f.base*s.most()/radius, false, nil)
}

// angles are panels round the axis, from straight up (or along the third axis).
func (s *solid) angles(f bodyMesh, cuts []float64) []float64 {
	n, hi := f.round, math.Pi
	if s.halved()[2] {
		n, hi = f.round/2, math.Pi/2
	}
	var c []float64
	if s.upright[0] && s.Shape == BodyCylinder {
		for _, z := range cuts {
			if math.Abs(z) < s.half[1] {
				c = append(c, math.Acos(z/s.half[1]))
			}
		}
	}
	return evenly(0, hi, n, c)
}

// latitudes are panels from a spheroid's nose to its tail, denser where it is
// most bent.
func (s *solid) latitudes(f bodyMesh, cuts []float64) []float64 {
	a, b := s.half[0], s.half[1]
	base := math.Pi / float64(max(f.round, 2))
	bend := math.Min(base, 2.5/float64(f.round)*math.Min(a/b, b/a)*2)
	var c []float64
	if s.upright[1] {
		for _, z := range cuts {
			if z *= s.axes[0].Z; math.Abs(z) < a {
				c = append(c, math.Acos(z/a))
			}
		}
	}
	var quarter []float64 // from 0 to π/2
	if g := gradedTo(math.Pi/2, bend, base); a >= b {
		quarter = g
	} else {
		for i := len(g) - 1; i >= 0; i-- {
			quarter = append(quarter, math.Pi/2-g[i])
		}
	}
	if !s.halved()[0] {
		for i := len(quarter) - 2; i >= 0; i-- {
			quarter = append(quarter, math.Pi-quarter[i])
		}
	}
	return withCuts(quarter, c)
}
