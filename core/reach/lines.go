package reach

import (
	"math"
	"sort"

	"brinefield/core/conduction"
)

// stretch is a cell along one direction of a ring: its polynomial in s.
type stretch struct {
	i, di int32
	v     [degree + 1]conduction.Vector // radial, tangential, up
	rough bool                          // the polynomial is not good to the tolerance
	none  bool                          // there is none: v holds nodes nearby
	// weights are the logarithms of the samples' weights
	weights *[steps + 1]float64
}

// steps is how many samples a stretch is looked at with, less one.
const steps = 2 * degree

// sampleWeights are the polynomial's weights at those samples.
var sampleWeights = func() (out [steps + 1][degree + 1]float64) {
	for k := range out {
		out[k] = lagrange(float64(k) * degree / steps)
	}
	return out
}()

// lattice returns the radial lattice place of a sample; t runs from 0 to degree.
func (st *stretch) lattice(t float64) float64 { return float64(st.i) + t/degree*float64(st.di) }

// log returns ln|E| at t, 0 … degree.
func (st *stretch) log(sh *sheet, t float64) float64 {
	if st.none {
		n := min(int32(t+0.5), degree)
		return logOf(st.v[n].Norm()) - sh.logWeight(float64(st.i+n*st.di/degree))
	}
	return st.combine(lagrange(t)) - sh.logWeight(st.lattice(t))
}

func (st *stretch) combine(f [degree + 1]float64) float64 {
	var v conduction.Vector
	for m := range st.v {
		v.X += f[m] * st.v[m].X
		v.Y += f[m] * st.v[m].Y
		v.Z += f[m] * st.v[m].Z
	}
	return logOf(v.Norm())
}

func (sh *sheet) logWeight(i float64) float64 { return 3 * math.Log(sh.a*math.Cosh(sh.s(i))) }

// block is a cell made ready for lines.
type block struct {
	cell
	nodes   [degree + 1][degree + 1]conduction.Vector // radial, then round
	weights [steps + 1]float64
	rough   bool
}

// blocks makes the settled cells ready, from the centre outwards.
func (sh *sheet) blocks(tol float64) []block {
	sort.Slice(sh.cells, func(a, b int) bool {
		c, d := sh.cells[a], sh.cells[b]
		return c.i < d.i || c.i == d.i && c.j < d.j
	})
	out := make([]block, len(sh.cells))
	for n, c := range sh.cells {
		b := &out[n]
		b.cell, b.rough = c, c.none || max(c.errI, c.errJ) > tol
		for m := range b.weights {
			b.weights[m] = sh.logWeight(float64(c.i) + float64(m)/steps*float64(c.di))
		}
		if c.dark || c.bright { // its nodes are not all known
			b.none, b.rough = true, true
			if c.bright {
				b.fill(conduction.Vector{X: 1e150})
			}
			continue
		}
		for m := range int32(degree + 1) {
			for k := range int32(degree + 1) {
				b.nodes[m][k] = sh.scaled(c.i+m*c.di/degree, c.j+k*c.dj/degree)
			}
		}
	}
	return out
}

// fill sets all nodes to a value.
func (b *block) fill(v conduction.Vector) {
	for m := range b.nodes {
		for k := range b.nodes[m] {
			b.nodes[m][k] = v
		}
	}
}

// lineAt appends the stretches along the direction j, in units of the lattice,
// 0 ≤ j < round, from the centre outwards.
func lineAt(blocks []block, j float64, line []stretch) []stretch {
	for n := range blocks {
		b := &blocks[n]
		if j < float64(b.j) || j >= float64(b.j+b.dj) {
			continue
		}
		t := (j - float64(b.j)) / float64(b.dj) * degree
		st := stretch{i: b.i, di: b.di, rough: b.rough, none: b.none, weights: &b.weights}
		f := lagrange(t)
		for m := range st.v {
			if b.none {
				st.v[m] = b.nodes[m][min(int(t+0.5), degree)]
				continue
			}
			for l, v := range b.nodes[m] {
				st.v[m].X += f[l] * v.X
				st.v[m].Y += f[l] * v.Y
				st.v[m].Z += f[l] * v.Z
			}
		}
		line = append(line, st)
	}
	return line
}

// crossing is where a direction leaves the area of a threshold for the last time.
type crossing struct {
	rho      float64 // NaN: it is below the threshold on the whole line
	slope    float64 // d ln|E| / d ln ρ there
	rough    bool    // taken from a polynomial that is not good to the tolerance
	beyond   bool    // it does not leave it
	from, to float64 // the stretch in which it lies, in s
}

// along goes out along one direction and returns, for each threshold, the
// last crossing and ∫ρ dρ over where the field is at least the threshold. Thin
// islands count for the latter only.
func (sh *sheet) along(line []stretch, logs []float64, last []crossing, swept []float64) {
	for n := range logs {
		last[n], swept[n] = crossing{rho: math.NaN()}, 0
	}
	if len(line) == 0 {
		return
	}
	inside, entered := make([]bool, len(logs)), make([]float64, len(logs))
	var before float64 // ln|E| at the sample before
	for k := range line {
		st := &line[k]
		for m := range steps + 1 {
			t := float64(m) * degree / steps
			var g float64
			if st.none {
				g = st.log(sh, t)
			} else {
				g = st.combine(sampleWeights[m]) - st.weights[m]
			}
			for n, logX := range logs {
				if (g >= logX) == inside[n] {
					continue
				}
				inside[n] = !inside[n]
				c := sh.crossing(st, t, m, before, g, logX)
				if inside[n] {
					entered[n] = c.rho
					continue
				}
				swept[n] += (sq(c.rho) - sq(entered[n])) / 2
				if !isThin(entered[n], c.rho) {
					last[n] = c
				}
			}
			before = g
		}
	}
	end := &line[len(line)-1]
	for n := range logs {
		if inside[n] {
			swept[n] += (sq(sh.most) - sq(entered[n])) / 2
			last[n] = crossing{rho: sh.most, slope: -3, rough: end.rough, beyond: true, from: sh.s(float64(end.i)), to: sh.sMax}
		}
	}
}

// thin is the share of its distance below which an island on a line is too
// narrow to count. On the ideal, sharp edge of a plate the field has no bound,
// so that at the height of its faces every threshold is met there, in a thread
// of millimetres that no animal can tell and no mesh resolves.
const thin = 0.02

func isThin(entered, left float64) bool { return left-entered < thin*left }

// crossing finds where ln|E| is logX between the sample before t and t; m is 0
// at the joint of two stretches, where they may differ by their errors.
func (sh *sheet) crossing(st *stretch, t float64, m int, before, g, logX float64) crossing {
	c := crossing{rough: st.rough, from: sh.s(float64(st.i)), to: sh.s(float64(st.i + st.di)), slope: -3}
	if m > 0 {
		const step = float64(degree) / steps
		if st.none {
			t -= step / 2
		} else {
			b, tol := newBrent(t-step, t, before-logX, g-logX), 2e-5
			for done := false; !done; {
				at := b.next(tol)
				done = b.take(st.log(sh, at)-logX, tol)
			}
			in, out := b.ends()
			t = (in + out) / 2
			s0, s1 := sh.s(st.lattice(t-0.01)), sh.s(st.lattice(t+0.01))
			c.slope = (st.log(sh, t+0.01) - st.log(sh, t-0.01)) / (s1 - s0) * math.Tanh((s0+s1)/2)
		}
	}
	c.rho = math.Min(sh.a*math.Sinh(sh.s(st.lattice(t))), sh.most)
	return c
}
