package conduction

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"brinefield/core/numeric"
)

// board is a rectangular plate in facets: a grid on the top, the same on the
// bottom, and rows round the edge. On the top and the sides the equation is of the
// potential (0 inside the plate), on the bottom of the normal field: of two equations
// of one kind, opposite each other on a thin plate, one would say the other over
// again. A sheet has its top alone, with the equation of the normal field.
type board struct {
	folded
	plate    Plate // the part of it that lies in what conducts
	sin, cos float64
	gx, gy   grade
	flips    [][2]float64
	flipX    bool
	flipY    bool
	floor    bool // the bottom lies on an insulator: it has no face there
	facets   []facet
	asks     []probe
	locals   []Vector // of the probes, in the plate's own frame
	panes    []*pane
	near     echoes
	window   float64
	stack    *stack
	stop     func() bool // nil, or asked while matrices are made: see [stage.solve]
}

// inside is how far below the surface a probe lies, as a share of its facet.
const inside = 1e-7

// faces is how many horizontal faces the board has.
func (b *board) faces() int {
	if b.plate.ThicknessM == 0 || b.floor {
		return 1
	}
	return 2
}

// newBoard makes the facets. window is how many of its diagonals away a facet
// is taken as a whole instead of in nine.
func newBoard(st *stack, plate Plate, floor bool, gx, gy grade, rows int, near echoes, window float64) *board {
	b := &board{plate: plate, gx: gx, gy: gy, floor: floor, near: near, window: window, stack: st}
	b.sin, b.cos = numeric.SinCosDeg(plate.YawDeg)
	b.flipX, b.flipY = gx.even(), gy.even()
	b.setFlips()
	b.layFaces()
	flat := len(b.facets)
	if plate.ThicknessM > 0 {
		b.laySides(rows)
	}
	b.reps, b.order = len(b.facets)/len(b.flips), len(b.flips)
	b.fill = b.matrices
	b.opposed, b.flat = b.faces() == 2, flat/b.order
	return b
}

func (b *board) setFlips() {
	xs, ys := []float64{1}, []float64{1}
	if b.flipX {
		xs = append(xs, -1)
	}
	if b.flipY {
		ys = append(ys, -1)
	}
	for _, y := range ys {
		for _, x := range xs {
			b.flips = append(b.flips, [2]float64{x, y})
		}
	}
	norm := 1 / math.Sqrt(float64(len(b.flips)))
	for _, cy := range ys {
		for _, cx := range xs {
			var s symmetry
			phi := make([]float64, len(b.flips))
			for g, f := range b.flips {
				sign := 1.0
				if f[0] < 0 {
					sign *= cx
				}
				if f[1] < 0 {
					sign *= cy
				}
				s.fold = append(s.fold, sign)
				phi[g] = sign * norm
			}
			s.basis = [][]float64{phi}
			b.classes = append(b.classes, s)
		}
	}
}

func (b *board) turn(v Vector) Vector {
	return Vector{b.cos*v.X - b.sin*v.Y, b.sin*v.X + b.cos*v.Y, v.Z}
}

func (b *board) place(v Vector) Vector {
	return b.turn(v).Add(Vector{b.plate.CentreXM, b.plate.CentreYM, 0})
}

// lay adds a facet, given in the plate's own frame, and its copies, and returns
// the number of the first.
func (b *board) lay(corner [4]Vector, at, normal Vector, flux bool) (first int) {
	first = len(b.facets)
	for _, s := range b.flips {
		flip := func(v Vector) Vector { return Vector{v.X * s[0], v.Y * s[1], v.Z} }
		var f facet
		for k := range corner {
			c := corner[k]
			if s[0]*s[1] < 0 { // a mirror image turns round the other way
				c = corner[3-k]
			}
			f.corner[k] = b.place(flip(c))
		}
		p := probe{at: b.place(flip(at)), normal: b.turn(flip(normal)), flux: flux}
		p.slab, _ = b.stack.slabAt(p.at.Z)
		f.slab = p.slab
		b.facets, b.asks, b.locals = append(b.facets, f), append(b.asks, p), append(b.locals, flip(at))
	}
	return first
}

func (b *board) cells() (nx, ny int) {
	nx, ny = b.gx.cells, b.gy.cells
	if b.flipX {
		nx /= 2
	}
	if b.flipY {
		ny /= 2
	}
	return nx, ny
}

// index is the facet of cell (i, j) of a face; beyond the ends the grid is
// mirrored, as the densities of a body are in θ.
func (b *board) index(i, j, face int) int {
	fold := func(i, n int, flip bool) (int, int) {
		if i < 0 {
			i = -1 - i
		} else if i >= n {
			i = 2*n - 1 - i
		}
		if flip && i >= n/2 {
			return n - 1 - i, 1
		}
		return i, 0
	}
	_, ny := b.cells()
	i, gx := fold(i, b.gx.cells, b.flipX)
	j, gy := fold(j, b.gy.cells, b.flipY)
	g := gx
	if gy == 1 {
		g += len(b.flips) / 2
	}
	return ((i*ny+j)*b.faces()+face)*len(b.flips) + g
}

func rectangle(x0, x1, y0, y1, z float64, up bool) [4]Vector {
	if up {
		return [4]Vector{{x0, y0, z}, {x1, y0, z}, {x1, y1, z}, {x0, y1, z}}
	}
	return [4]Vector{{x0, y1, z}, {x1, y1, z}, {x1, y0, z}, {x0, y0, z}}
}

func (b *board) layFaces() {
	x, y := scaledBy(b.gx.edges(), b.plate.SizeXM/2), scaledBy(b.gy.edges(), b.plate.SizeYM/2)
	px, _ := b.gx.probes()
	py, _ := b.gy.probes()
	a, w := b.plate.SizeXM/2, b.plate.SizeYM/2
	top, bottom := b.plate.TopM, b.plate.TopM-b.plate.ThicknessM
	nx, ny := b.cells()
	for i := range nx {
		for j := range ny {
			x0, x1, y0, y1 := x[i], x[i+1], y[j], y[j+1]
			d := inside * math.Min(x1-x0, y1-y0)
			at := Vector{a * px[i], w * py[j], top - d}
			b.lay(rectangle(x0, x1, y0, y1, top, true), at, Vector{Z: 1}, b.plate.ThicknessM == 0)
			if b.faces() == 2 {
				at.Z = bottom + d
				b.lay(rectangle(x0, x1, y0, y1, bottom, false), at, Vector{Z: -1}, true)
			}
		}
	}
	for n := range b.faces() {
		face := &pane{sign: 1 - 2*float64(n), at: top - float64(n)*b.plate.ThicknessM, slab: b.facets[n*len(b.flips)].slab, u: x, v: y}
		if b.plate.ThicknessM > 0 {
			// Facets wider than the plate is thick see those opposite as a smooth sheet
			// only in nine, with densities between the grid's by parabolas in θ.
			face.fineU = scaledBy(b.gx.finer(fineness).edges(), a)
			face.fineV = scaledBy(b.gy.finer(fineness).edges(), w)
		}
		for i := range b.gx.cells {
			for j := range b.gy.cells {
				face.cell = append(face.cell, b.index(i, j, n))
			}
		}
		b.panes = append(b.panes, face)
	}
}

// laySides lays rows of facets round the edge, in each slab for itself.
func (b *board) laySides(rows int) {
	bottom := b.plate.TopM - b.plate.ThicknessM
	for _, cut := range cuts(b.stack, bottom, b.plate.TopM) {
		b.laySide('y', b.gx, b.flipX, b.flipY, b.plate.SizeXM/2, b.plate.SizeYM/2, cut, rows)
		b.laySide('x', b.gy, b.flipY, b.flipX, b.plate.SizeYM/2, b.plate.SizeXM/2, cut, rows)
	}
}

// laySide lays the two sides across an axis ('x' or 'y'), far from the middle, over a cut of
// heights. Along them run the cells of a grade; flip tells whether those of one
// half stand for the other, opposite whether one side stands for both.
func (b *board) laySide(axis byte, along grade, flip, opposite bool, half, far float64, cut [2]float64, rows int) {
	probes, _ := along.probes()
	heights := newGrade(rows, false, 0, 0)
	heightProbes, _ := heights.probes()
	mid, tall := (cut[0]+cut[1])/2, (cut[1]-cut[0])/2
	u, z := scaledBy(along.edges(), half), scaledBy(heights.edges(), tall)
	for k := range z {
		z[k] += mid
	}
	var sides [2]*pane // at −far and far
	for s := range sides {
		sides[s] = &pane{upright: axis, sign: 2*float64(s) - 1, at: (2*float64(s) - 1) * far, u: u, v: z, cell: make([]int, along.cells*rows)}
		b.panes = append(b.panes, sides[s])
	}
	n := along.cells
	if flip {
		n /= 2
	}
	lay := func(s, i, k int) {
		out := 2*float64(s) - 1
		d := inside * math.Min(u[i+1]-u[i], z[k+1]-z[k])
		first := b.lay(upright(axis, u[i], u[i+1], z[k], z[k+1], out*far),
			across(axis, half*probes[i], out*(far-d), mid+tall*heightProbes[k]), across(axis, 0, out, 0), false)
		for g, f := range b.flips {
			over, along := f[0], f[1]
			if axis == 'y' {
				over, along = f[1], f[0]
			}
			side, at := s, i
			if over < 0 {
				side = 1 - s
			}
			if along < 0 {
				at = len(u) - 2 - i
			}
			sides[side].cell[at*rows+k] = first + g
			sides[side].slab = b.facets[first+g].slab
		}
	}
	for k := range rows {
		for i := range n {
			lay(0, i, k)
			if !opposite {
				lay(1, i, k)
			}
		}
	}
}

// across is a place on a side across an axis: along it, from the middle out, and up.
func across(axis byte, along, out, z float64) Vector {
	if axis == 'x' {
		return Vector{out, along, z}
	}
	return Vector{along, out, z}
}

// upright is a facet on a side, seen from outside the plate.
func upright(axis byte, u0, u1, z0, z1, at float64) [4]Vector {
	if (axis == 'x') == (at < 0) { // from outside, u runs to the left
		u0, u1 = u1, u0
	}
	return [4]Vector{across(axis, u0, at, z0), across(axis, u1, at, z0), across(axis, u1, at, z1), across(axis, u0, at, z1)}
}

// cuts divides a range of heights at the interfaces of the slabs.
func cuts(st *stack, lo, hi float64) (out [][2]float64) {
	for _, s := range st.slabs {
		from, to := math.Max(lo, s.bottomM), math.Min(hi, s.topM)
		if to-from > 1e-12 {
			out = append(out, [2]float64{from, to})
		}
	}
	return out
}

func (b *board) matrices(wanted []bool) []*mat.Dense {
	out := blank(wanted, b.reps)
	_ = parallelEach(b.reps, func(i int) error {
		if b.stop != nil && b.stop() {
			return ErrStopped // what is missing is not looked at any more
		}
		row := b.row(i * b.order)
		for c, m := range out {
			if m == nil {
				continue
			}
			for j := range b.reps {
				sum := 0.0
				for g, w := range b.classes[c].fold {
					sum += w * row[j*b.order+g]
				}
				m.Set(i, j, sum)
			}
		}
		return nil
	})
	return out
}

// row is what a unit jump on each facet makes at probe number n.
func (b *board) row(n int) []float64 {
	p := &b.asks[n]
	row := make([]float64, len(b.facets))
	for _, side := range b.panes {
		side.add(row, p, b.locals[n], b.near[side.slab][p.slab], b.window)
	}
	if f := &b.facets[n]; !p.flux && f.level() {
		row[n] += b.near.own(p, f)
	}
	return row
}

func (b *board) probes() []probe { return b.asks }

func (b *board) unknowns() int { return len(b.facets) }

func (b *board) release() { b.solvers, b.panes, b.facets, b.asks, b.locals = nil, nil, nil, nil, nil }
