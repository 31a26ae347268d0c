package reach

import (
	"math"
	"slices"
	"sort"

	"brinefield/core/conduction"
)

// sheet is the plane of one ring, on polar coordinates about the centre:
// ρ = a·sinh(s), so that cells are even near the centre and grow in proportion
// farther out. In each cell the field, times (ρ² + a²)^(3/2) and along the
// directions radial, tangential and up, is a polynomial of the sixth degree
// in s and in the angle: a dipole's field is then of the first order in the
// angle and flat in s far out.
type sheet struct {
	centre  conduction.Point
	z       float64
	a, most float64 // the radial scale, and the largest ρ
	mostM   float64
	sMax    float64
	across  int32 // base cells from the centre outwards
	place   map[lattice]int32
	w       []conduction.Vector // field times (ρ² + a²)^(3/2), in x, y, z
	cells   []cell              // those that are settled
	pending []cell
}

// lattice is a place of the sheet: radial and angular, in units of 1/unit of a
// base cell.
type lattice struct{ i, j int32 }

const (
	unit    = degree << 10 // of a base cell, so that it can be halved and halved again
	sectors = 4            // base cells once round
	round   = sectors * unit
	degree  = 6
	least   = 2 * degree // the smallest cell: its check points lie on the lattice
)

// cell is a rectangle of the lattice.
type cell struct {
	i, j   int32 // its inner corner, clockwise end
	di, dj int32 // its size
	low    float64
	high   float64 // |E| over its nodes
	errI   float64 // relative error of the polynomial, measured between nodes, radially
	errJ   float64 // and round
	none   bool    // somewhere in it there is no field: no polynomial
	sketch bool    // so far only its corners, middle and middles of its sides are wanted
	dark   bool    // the field is far below all thresholds: nothing to survey
	bright bool    // far above all
}

func newSheet(s Search, z, scale float64) *sheet {
	h := z - s.Centre.Z
	if most := math.Sqrt(s.MostM*s.MostM - h*h); z >= s.LowestM && z <= s.HighestM && most > 1e-6*s.MostM {
		a := math.Min(math.Max(math.Abs(h), scale), most)
		sh := &sheet{centre: s.Centre, z: z, a: a, most: most, mostM: s.MostM, sMax: math.Asinh(most / a), place: map[lattice]int32{}}
		sh.across = int32(math.Ceil(sh.sMax / baseWidth))
		for i := range sh.across {
			for j := range int32(sectors) {
				sh.lookClosely(cell{i: i * unit, j: j * unit, di: unit, dj: unit}, s)
			}
		}
		return sh
	}
	return nil
}

// baseWidth is the width in s of a base cell: e^1.6, a factor of 5 in ρ.
const baseWidth = 1.6

// lookClosely queues a cell, halved until its nodes lie as close as the sharp
// places are away: the field of an electrode changes over its distance.
func (sh *sheet) lookClosely(c cell, s Search) {
	for _, p := range s.Sharp {
		rho, away := sh.nearest(c, p)
		away = math.Max(away, s.MostM/300)
		var parts []cell
		switch {
		case math.Hypot(rho, sh.a)*sh.s(float64(c.di)) > degree*nodesApart*away && c.di >= 2*least:
			parts = c.halves(true, false)
		case rho*angle(float64(c.dj)) > degree*nodesApart*away && c.dj >= 2*least:
			parts = c.halves(false, true)
		default:
			continue
		}
		for _, part := range parts {
			sh.lookClosely(part, s)
		}
		return
	}
	c.sketch = true
	sh.pending = append(sh.pending, c)
}

// nodesApart is how far apart nodes may lie, as a share of the distance to a
// sharp place.
const nodesApart = 0.7

// halves returns the parts of a cell that is cut radially, round, or both.
func (c cell) halves(radially, round bool) []cell {
	parts := []cell{{i: c.i, j: c.j, di: c.di, dj: c.dj}}
	if radially {
		a, b := parts[0], parts[0]
		a.di, b.di = c.di/2, c.di/2
		b.i += c.di / 2
		parts = []cell{a, b}
	}
	if round {
		for k := range parts {
			b := parts[k]
			parts[k].dj, b.dj = c.dj/2, c.dj/2
			b.j += c.dj / 2
			parts = append(parts, b)
		}
	}
	return parts
}

func (sh *sheet) s(i float64) float64    { return i * sh.sMax / (float64(sh.across) * unit) }
func (sh *sheet) rho(i float64) float64  { return sh.a * math.Sinh(sh.s(i)) }
func angle(j float64) float64            { return j * (2 * math.Pi / round) }
func (sh *sheet) weight(i int32) float64 { return cube(sh.a * math.Cosh(sh.s(float64(i)))) }
func cube(x float64) float64             { return x * x * x }

// extent returns the radial length of a cell and its width round, metres.
func (sh *sheet) extent(c cell) (radial, round float64) {
	outer := sh.rho(float64(c.i + c.di))
	return outer - sh.rho(float64(c.i)), outer * angle(float64(c.dj))
}

// nearest returns ρ of the point of a cell that is nearest to a place (nearly),
// and the distance between them.
func (sh *sheet) nearest(c cell, p conduction.Point) (rho, away float64) {
	x, y := p.X-sh.centre.X, p.Y-sh.centre.Y
	rho = math.Min(math.Max(math.Hypot(x, y), sh.rho(float64(c.i))), sh.rho(float64(c.i+c.di)))
	mid, half := angle(float64(c.j)+float64(c.dj)/2), angle(float64(c.dj))/2
	off := math.Remainder(math.Atan2(y, x)-mid, 2*math.Pi)
	sin, cos := math.Sincos(mid + math.Min(math.Max(off, -half), half))
	return rho, math.Sqrt(sq(rho*cos-x) + sq(rho*sin-y) + sq(sh.z-p.Z))
}

func sq(x float64) float64 { return x * x }

// point is where a lattice place lies.
func (sh *sheet) point(l lattice) conduction.Point {
	sin, cos := math.Sincos(angle(float64(l.j)))
	rho := math.Min(sh.rho(float64(l.i)), sh.most)
	return conduction.Point{X: sh.centre.X + rho*cos, Y: sh.centre.Y + rho*sin, Z: sh.z}
}

// wanted appends the places of a cell's nodes and checks that are not known.
func (sh *sheet) wanted(c cell, points []conduction.Point, at []lattice) ([]conduction.Point, []lattice) {
	want := func(i, j int32) {
		l := key(i, j)
		if _, known := sh.place[l]; !known {
			sh.place[l] = int32(len(sh.w))
			sh.w = append(sh.w, conduction.Vector{})
			points, at = append(points, sh.point(l)), append(at, l)
		}
	}
	every := c.every()
	for m := int32(0); m <= degree; m += every {
		for n := int32(0); n <= degree; n += every {
			want(c.i+m*c.di/degree, c.j+n*c.dj/degree)
		}
	}
	if c.sketch {
		return points, at
	}
	for _, k := range c.checks() {
		want(k.i, k.j)
	}
	return points, at
}

// every is which of its nodes a cell is looked at with.
func (c cell) every() int32 {
	if c.sketch {
		return degree / 2
	}
	return 1
}

func key(i, j int32) lattice {
	if i == 0 {
		return lattice{} // the centre is one place
	}
	return lattice{i, j % round}
}

// check is a place at which a cell's polynomial is held against the field,
// radially or round, at t on the scale of its nodes.
type check struct {
	lattice
	round bool
	t     float64
}

// checks are halfway between two outermost nodes, where the error of a
// polynomial through even nodes is largest: on the sides and the middles of
// the cell. All are nodes of its halves.
func (c cell) checks() (out [12]check) {
	k := 0
	for _, half := range [3]int32{0, 1, 2} {
		i, j := c.i+half*c.di/2, c.j+half*c.dj/2
		out[k] = check{lattice{c.i + c.di/least, j}, false, 0.5}
		out[k+1] = check{lattice{c.i + c.di - c.di/least, j}, false, degree - 0.5}
		out[k+2] = check{lattice{i, c.j + c.dj/least}, true, 0.5}
		out[k+3] = check{lattice{i, c.j + c.dj - c.dj/least}, true, degree - 0.5}
		k += 4
	}
	return out
}

// scaled returns the field times (ρ² + a²)^(3/2) along radial, tangential, up.
func (sh *sheet) scaled(i, j int32) conduction.Vector {
	w := sh.w[sh.place[key(i, j)]]
	sin, cos := math.Sincos(angle(float64(j)))
	return conduction.Vector{X: w.X*cos + w.Y*sin, Y: w.Y*cos - w.X*sin, Z: w.Z}
}

// judge sets what a cell's nodes and checks say. The thresholds lie between
// lowest and highest; where the field is below those, errors are relative to
// the lowest.
func (sh *sheet) judge(c *cell, lowest, highest float64) {
	c.low, c.high, c.errI, c.errJ, c.none = math.Inf(1), 0, 0, 0, false
	note := func(i, j int32) conduction.Vector {
		v := sh.scaled(i, j)
		e := v.Norm() / sh.weight(i)
		if !finite(e) {
			c.none = true
			return v
		}
		c.low, c.high = math.Min(c.low, e), math.Max(c.high, e)
		return v
	}
	every := c.every()
	for m := int32(0); m <= degree; m += every {
		for n := int32(0); n <= degree; n += every {
			note(c.i+m*c.di/degree, c.j+n*c.dj/degree)
		}
	}
	if c.sketch {
		c.sketch, c.dark, c.bright = false, !c.none && c.high < darkness*lowest, !c.none && c.low*darkness > highest
		return
	}
	for _, l := range c.checks() {
		real := note(l.i, l.j)
		if c.none {
			continue
		}
		var guess conduction.Vector
		for m, f := range lagrange(l.t) {
			if l.round {
				guess = guess.Add(sh.scaled(l.i, c.j+int32(m)*c.dj/degree).Scale(f))
			} else {
				guess = guess.Add(sh.scaled(c.i+int32(m)*c.di/degree, l.j).Scale(f))
			}
		}
		err := guess.Sub(real).Norm() / math.Max(real.Norm(), lowest*sh.weight(l.i))
		if l.round {
			c.errJ = math.Max(c.errJ, err)
		} else {
			c.errI = math.Max(c.errI, err)
		}
	}
	if c.none {
		c.errI, c.errJ = math.Inf(1), math.Inf(1)
	}
}

// darkness is how far below the lowest threshold a cell's field must be at
// nine places to be taken as below it everywhere, and its inverse how far above
// the highest to be taken as above. Cells with an electrode in them are smaller
// than its distance, so that it would show.
const darkness = 0.25

// lagrange returns the weights of the nodes 0 … degree for the value at t.
func lagrange(t float64) [degree + 1]float64 {
	var out [degree + 1]float64
	before := 1.0
	for m := range out {
		out[m] = before * bottoms[m]
		before *= t - float64(m)
	}
	after := 1.0
	for m := degree; m >= 0; m-- {
		out[m] *= after
		after *= t - float64(m)
	}
	return out
}

// bottoms are 1/Π(m − n) over n ≠ m.
var bottoms = func() (out [degree + 1]float64) {
	for m := range out {
		out[m] = 1
		for n := range out {
			if n != m {
				out[m] /= float64(m - n)
			}
		}
	}
	return out
}()

// concerns reports whether a threshold may be crossed within a cell.
func (c cell) concerns(thresholds []float64) bool {
	margin := math.Max(0.05, 4*math.Max(c.errI, c.errJ))
	for _, x := range thresholds {
		if c.low*(1-margin) <= x && x <= c.high*(1+margin) || c.none && x <= c.high {
			return true
		}
	}
	return false
}

// cut returns in which ways a cell is to be halved to bring its error down to
// tol. A small cell is left: there the field itself is asked. The edge of a
// body is a line of cells without a polynomial, which are left sooner.
func (sh *sheet) cut(c cell, tol float64) (radially, round bool) {
	radial, width := sh.extent(c)
	small := math.Max(0.01*math.Hypot(sh.rho(float64(c.i+c.di)), sh.a), sh.mostM/1000)
	if c.none {
		small = math.Max(4*small, sh.mostM/100)
	}
	return c.errI > tol && radial > small && c.di >= 2*least, c.errJ > tol && width > small && c.dj >= 2*least
}

// survey refines all sheets together until every cell in which a threshold may
// be crossed is good to tol, or a sheet's share of the points is used up.
func (a *asker) survey(sheets []*sheet, thresholds []float64, tol float64, most int) error {
	for open := true; open; {
		var points []conduction.Point
		var at [][]lattice
		for _, sh := range sheets {
			var fresh []lattice
			for _, c := range sh.pending {
				points, fresh = sh.wanted(c, points, fresh)
			}
			at = append(at, fresh)
		}
		es, err := a.fields(points)
		if err != nil {
			return err
		}
		open = false
		for n, sh := range sheets {
			for k, l := range at[n] {
				sh.w[sh.place[l]] = es[k].Scale(sh.weight(l.i))
			}
			es = es[len(at[n]):]
			sh.refine(thresholds, tol, most/len(sheets))
			open = open || len(sh.pending) > 0
		}
	}
	return nil
}

// refine judges the pending cells, whose nodes are known, and settles or
// halves them, those with the largest error first as long as there are points.
func (sh *sheet) refine(thresholds []float64, tol float64, most int) {
	lowest, highest := slices.Min(thresholds), slices.Max(thresholds)
	var next, worst []cell
	for _, c := range sh.pending {
		sketch := c.sketch
		sh.judge(&c, lowest, highest)
		radially, round := sh.cut(c, tol)
		switch {
		case c.dark || c.bright:
			sh.cells = append(sh.cells, c)
		case sketch:
			next = append(next, c)
		case (radially || round) && c.concerns(thresholds):
			worst = append(worst, c)
		default:
			sh.cells = append(sh.cells, c)
		}
	}
	sort.SliceStable(worst, func(i, j int) bool { return max(worst[i].errI, worst[i].errJ) > max(worst[j].errI, worst[j].errJ) })
	left := most - len(sh.w)
	for _, c := range worst {
		parts := c.halves(sh.cut(c, tol))
		if left -= (len(parts) - 1) * degree * degree; left < 0 {
			sh.cells = append(sh.cells, c)
			continue
		}
		next = append(next, parts...)
	}
	sh.pending = next
}
