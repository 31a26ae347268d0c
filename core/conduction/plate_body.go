package conduction

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/mat"
)

// body is the surface of one plate: a jump of the potential that it carries, so
// that no current enters.
type body interface {
	// probes are where the body's equation is asked, just inside its surface.
	probes() []probe
	// solve returns the density with which, the body being alone, potential or
	// normal field at the probes become values.
	solve(values []float64) []float64
	// parts are what a density makes, by the slab in which it lies.
	parts(density []float64) []part
	// unknowns is how many densities the body has; largest is the size of the
	// largest system that it solves at once.
	unknowns() int
	largest() int
	// release drops what only solving needs; parts stay as they are.
	release()
}

// probe is one equation: of the potential, or of the field along the outward
// normal.
type probe struct {
	at, normal Vector
	slab       int
	flux       bool
}

// part is potential and field of a density in the frame of its own slab,
// without images.
type part struct {
	slab int
	layer
}

type layer interface {
	at(p Vector) (float64, Vector)
	dipoles(out []dipole) []dipole
}

// symmetry is a class of densities that a plate's equations do not mix with
// others. fold are the weights with which the columns of a cell's copies add up
// to one column; basis are orthonormal densities over the copies.
type symmetry struct {
	fold  []float64
	basis [][]float64
}

// folded solves the equations of a body class by class. Cell rep has order
// copies, of which copy g is at rep·order + g.
type folded struct {
	reps, order int
	classes     []symmetry
	// fill makes the matrices of the classes asked for.
	fill func(wanted []bool) []*mat.Dense
	// opposed: cells 2k and 2k + 1, of the first flat, lie opposite each other on
	// the two faces of a plate. Then large systems are solved step by step.
	opposed bool
	flat    int
	mu      sync.Mutex
	solvers []solver
}

// solver returns the solution for a right side.
type solver func(right *mat.VecDense) []float64

func (f *folded) solve(values []float64) []float64 {
	largest := 0.0
	for _, v := range values {
		largest = math.Max(largest, math.Abs(v))
	}
	wanted := make([]bool, len(f.classes))
	right := make([][]*mat.VecDense, len(f.classes))
	for c := range f.classes {
		for _, phi := range f.classes[c].basis {
			v := mat.NewVecDense(f.reps, nil)
			for i := range f.reps {
				sum := 0.0
				for g, w := range phi {
					sum += w * values[i*f.order+g]
				}
				v.SetVec(i, sum)
				// What is left of a class by rounding is not worth its matrix.
				wanted[c] = wanted[c] || math.Abs(sum) > 1e-11*largest
			}
			right[c] = append(right[c], v)
		}
	}
	f.factorise(wanted)
	out := make([]float64, f.reps*f.order)
	for c, solve := range f.solvers {
		if !wanted[c] {
			continue
		}
		for k, phi := range f.classes[c].basis {
			x := solve(right[c][k])
			for i := range f.reps {
				for g, w := range phi {
					out[i*f.order+g] += w * x[i]
				}
			}
		}
	}
	return out
}

func (f *folded) largest() int { return f.reps }

func (f *folded) factorise(wanted []bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.solvers == nil {
		f.solvers = make([]solver, len(f.classes))
	}
	missing := make([]bool, len(f.classes))
	any := false
	for c := range wanted {
		missing[c] = wanted[c] && f.solvers[c] == nil
		any = any || missing[c]
	}
	if !any {
		return
	}
	const large = 400
	for c, m := range f.fill(missing) {
		switch {
		case m == nil:
		case f.opposed && f.reps > large:
			f.solvers[c] = stepwise(m, f.flat)
		default:
			f.solvers[c] = direct(m)
		}
	}
}

// blank are square matrices of zeros for the classes asked for.
func blank(wanted []bool, n int) []*mat.Dense {
	out := make([]*mat.Dense, len(wanted))
	for c, w := range wanted {
		if w {
			out[c] = mat.NewDense(n, n, nil)
		}
	}
	return out
}

// direct solves by factors. A matrix that is singular to rounding gives values
// that are not finite or not small, and the error estimate says so.
func direct(m *mat.Dense) solver {
	var lu mat.LU
	lu.Factorize(m)
	return func(right *mat.VecDense) []float64 {
		x := mat.NewVecDense(right.Len(), nil)
		_ = lu.SolveVecTo(x, false, right)
		return x.RawVector().Data
	}
}

// stepwise solves by [gmres], each pair of opposite cells solved by itself
// first. What is left is an equation of the second kind, and takes about as many
// steps for any mesh. Where they do not suffice, factors do.
func stepwise(m *mat.Dense, flat int) solver {
	apart := func(v []float64) []float64 {
		out := make([]float64, len(v))
		for i := 0; i < len(v); i++ {
			if i+1 < flat && i%2 == 0 {
				a, b, c, d := m.At(i, i), m.At(i, i+1), m.At(i+1, i), m.At(i+1, i+1)
				det := a*d - b*c
				out[i], out[i+1] = (d*v[i]-b*v[i+1])/det, (a*v[i+1]-c*v[i])/det
				i++
				continue
			}
			out[i] = v[i] / m.At(i, i)
		}
		return out
	}
	return func(right *mat.VecDense) []float64 {
		y := mat.NewVecDense(right.Len(), nil)
		x, err := gmres(apart(right.RawVector().Data), func(u []float64) []float64 {
			y.MulVec(m, mat.NewVecDense(len(u), u))
			return apart(y.RawVector().Data)
		}, nil)
		if err != nil {
			return direct(m)(right)
		}
		return x
	}
}

// asked is what a facet's unit jump makes at a probe, images included. From
// within its own plane a facet fills no solid angle, unless it is the probe's
// own.
func (near echoes) asked(p *probe, f *facet, own bool) float64 {
	v := 0.0
	for _, o := range near[f.slab][p.slab] {
		q := o.seen(p.at)
		switch {
		case p.flux:
			v += dotOf(p.normal, o.turned(f.field(q)))
		case own || !f.level() || math.Abs(q.Z-f.corner[0].Z) > coplanar:
			v += o.w * f.solidAngle(q)
		}
	}
	return v
}

// own is what a level facet makes at its own probe through echoes that bring it
// into the probe's plane, where it fills half of all directions.
func (near echoes) own(p *probe, f *facet) float64 {
	v := 0.0
	for _, o := range near[f.slab][p.slab] {
		if q := o.seen(p.at); math.Abs(q.Z-f.corner[0].Z) <= coplanar {
			v += o.w * f.solidAngle(q)
		}
	}
	return v
}

// coplanar is the distance from a facet's plane, in metres, within which a
// place lies in it: more than the depth of any probe, less than any plate.
const coplanar = 1e-7

// level reports whether the facet is horizontal.
func (p *facet) level() bool { return p.corner[0].Z == p.corner[2].Z }
