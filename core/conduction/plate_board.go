package conduction

import (
	"math"

	"gonum.org/v1/gonum/mat"
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
	fine     []fineFacet
	near     echoes
	window   float64
	stack    *stack
	stop     func() bool // nil, or asked while matrices are made: see [stage.solve]
}

// fineFacet is a ninth of a facet, with the weights of the grid's values in its
// own.
type fineFacet struct {
	facet
	home  int
	of    [9]int
	share [9]float64
}

const fineness = 3

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
	b.sin, b.cos = sinCosDeg(plate.YawDeg)
	b.flipX, b.flipY = gx.even(), gy.even()
	b.setFlips()
	b.layFaces()
	if plate.ThicknessM > 0 {
		b.divide()
		b.laySides(rows)
	}
	b.reps, b.order = len(b.facets)/len(b.flips), len(b.flips)
	b.fill = b.matrices
	b.opposed, b.flat = b.faces() == 2, len(b.fine)/(fineness*fineness)/b.order
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

// lay adds a facet, given in the plate's own frame, and its copies.
func (b *board) lay(corner [4]Vector, at, normal Vector, flux bool) {
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
		b.facets, b.asks = append(b.facets, f), append(b.asks, p)
	}
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
	ex, ey := b.gx.edges(), b.gy.edges()
	px, _ := b.gx.probes()
	py, _ := b.gy.probes()
	a, w := b.plate.SizeXM/2, b.plate.SizeYM/2
	top, bottom := b.plate.TopM, b.plate.TopM-b.plate.ThicknessM
	nx, ny := b.cells()
	for i := range nx {
		for j := range ny {
			x0, x1, y0, y1 := a*ex[i], a*ex[i+1], w*ey[j], w*ey[j+1]
			d := inside * math.Min(x1-x0, y1-y0)
			at := Vector{a * px[i], w * py[j], top - d}
			b.lay(rectangle(x0, x1, y0, y1, top, true), at, Vector{Z: 1}, b.plate.ThicknessM == 0)
			if b.faces() == 2 {
				at.Z = bottom + d
				b.lay(rectangle(x0, x1, y0, y1, bottom, false), at, Vector{Z: -1}, true)
			}
		}
	}
}

// laySides lays rows of facets round the edge, in each slab for itself.
func (b *board) laySides(rows int) {
	ex, ey := b.gx.edges(), b.gy.edges()
	px, _ := b.gx.probes()
	py, _ := b.gy.probes()
	a, w := b.plate.SizeXM/2, b.plate.SizeYM/2
	nx, ny := b.cells()
	for _, cut := range cuts(b.stack, b.plate.TopM-b.plate.ThicknessM, b.plate.TopM) {
		g := newGrade(rows, false, 0, 0)
		edges := g.edges()
		probes, _ := g.probes()
		mid, half := (cut[0]+cut[1])/2, (cut[1]-cut[0])/2
		for k := range rows {
			z0, z1, z := mid+half*edges[k], mid+half*edges[k+1], mid+half*probes[k]
			for i := range nx {
				x0, x1, x := a*ex[i], a*ex[i+1], a*px[i]
				d := inside * math.Min(x1-x0, z1-z0)
				b.lay([4]Vector{{x0, -w, z0}, {x1, -w, z0}, {x1, -w, z1}, {x0, -w, z1}}, Vector{x, d - w, z}, Vector{Y: -1}, false)
				if !b.flipY {
					b.lay([4]Vector{{x1, w, z0}, {x0, w, z0}, {x0, w, z1}, {x1, w, z1}}, Vector{x, w - d, z}, Vector{Y: 1}, false)
				}
			}
			for j := range ny {
				y0, y1, y := w*ey[j], w*ey[j+1], w*py[j]
				d := inside * math.Min(y1-y0, z1-z0)
				b.lay([4]Vector{{-a, y1, z0}, {-a, y0, z0}, {-a, y0, z1}, {-a, y1, z1}}, Vector{d - a, y, z}, Vector{X: -1}, false)
				if !b.flipX {
					b.lay([4]Vector{{a, y0, z0}, {a, y1, z0}, {a, y1, z1}, {a, y0, z1}}, Vector{a - d, y, z}, Vector{X: 1}, false)
				}
			}
		}
	}
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

// divide cuts the facets of the faces in nine, with densities between the
// grid's by parabolas in θ: facets wider than the plate is thick see those
// opposite as a smooth sheet only so.
func (b *board) divide() {
	gx, gy := b.gx.finer(fineness), b.gy.finer(fineness)
	ex, ey := gx.edges(), gy.edges()
	a, w := b.plate.SizeXM/2, b.plate.SizeYM/2
	for face := range b.faces() {
		z := b.plate.TopM - float64(face)*b.plate.ThicknessM
		for i := range gx.cells {
			for j := range gy.cells {
				f := fineFacet{home: b.index(i/fineness, j/fineness, face)}
				f.slab = b.facets[f.home].slab
				f.corner = rectangle(a*ex[i], a*ex[i+1], w*ey[j], w*ey[j+1], z, face == 0)
				for k := range f.corner {
					f.corner[k] = b.place(f.corner[k])
				}
				wx, wy := parabola(i%fineness), parabola(j%fineness)
				for p := range 3 {
					for q := range 3 {
						f.of[3*p+q] = b.index(i/fineness+p-1, j/fineness+q-1, face)
						f.share[3*p+q] = wx[p] * wy[q]
					}
				}
				b.fine = append(b.fine, f)
			}
		}
	}
}

// parabola is the weights of three neighbours in the k-th third of the middle
// one.
func parabola(k int) [3]float64 {
	s := float64(k-1) / fineness
	return [3]float64{s * (s - 1) / 2, 1 - s*s, s * (s + 1) / 2}
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

// row is what a unit jump on each facet makes at probe number n. Facets that
// lie opposite, and no more than the window away, count in nine.
func (b *board) row(n int) []float64 {
	p := &b.asks[n]
	row := make([]float64, len(b.facets))
	flat := len(b.fine) / (fineness * fineness)
	divided := make([]bool, flat)
	for k := range b.facets {
		f := &b.facets[k]
		if k < flat && math.Abs(f.corner[0].Z-p.at.Z) > coplanar {
			size, d := f.corner[2].Sub(f.corner[0]), f.corner[0].Add(f.corner[2]).Scale(0.5).Sub(p.at)
			if divided[k] = dotOf(d, d) <= b.window*b.window*dotOf(size, size); divided[k] {
				continue
			}
		}
		row[k] = b.near.asked(p, f, k == n)
	}
	for k := range b.fine {
		f := &b.fine[k]
		if !divided[f.home] {
			continue
		}
		v := b.near.asked(p, &f.facet, false)
		for n, index := range f.of {
			row[index] += f.share[n] * v
		}
	}
	return row
}

func (b *board) probes() []probe { return b.asks }

func (b *board) unknowns() int { return len(b.facets) }

func (b *board) release() { b.solvers, b.fine, b.facets, b.asks = nil, nil, nil, nil }
