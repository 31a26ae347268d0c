package exposure

import (
	"math"

	"brinefield/core/conduction"
)

// platedTolerance is the error |δE|/|E| that the field on plates is solved to.
const platedTolerance = 0.001

// response is what plates do to the field of a pair in one medium: the field
// with the plates less that of the same electrodes in the layers alone.
type response struct {
	plated    *conduction.PlateSolution
	bare      *conduction.FastField
	sigma     float64 // of the water that plated was solved for; fields are per ampere
	bareSigma float64 // of that of bare, which may differ by a factor common to all layers
	depth     float64
	reflected float64 // what the bottom reflects of a point in the water: (1 − r)/(1 + r)
}

// at is the response times the water's conductivity, in the field frame, so
// that only ratios of conductivities count. Above the surface of this medium it
// goes on as the mirror image, which is what it is as a function of the depth:
// no current passes the surface, so that the field is even there.
func (r *response) at(p vec) (vec, error) {
	q, up := p, 1.0
	if p.z > r.depth {
		q.z, up = 2*r.depth-p.z, -1
	}
	at := conduction.Point{X: q.x, Y: q.y, Z: q.z}
	with, err := r.plated.FieldAt(at)
	if err != nil {
		return vec{}, err
	}
	without, err := r.bare.FieldAt(at)
	if err != nil {
		return vec{}, err
	}
	d := with.Scale(r.sigma).Sub(without.Scale(r.bareSigma))
	return vec{d.X, d.Y, up * d.Z}, nil
}

// platedPair is the responses of one pair on one layout, by node of the
// layout's waters, and the table before them.
type platedPair struct {
	responses []*response
	ends      []conduction.Electrode // in the field frame
	topM      float64                // of the plates, over the bottom
	table     *boxTree               // nil: ask directly
}

// fillBox is the field of a table: the response less what [platedPair.steep] knows.
func (p *platedPair) fillBox(node int, points, values []vec) bool {
	r := p.responses[node]
	for i, at := range points {
		v, err := r.at(at)
		if err != nil {
			return false
		}
		mirrored, reflected := p.steep(at)
		values[i] = v.minus(mirrored).plus(reflected.times(r.reflected))
	}
	return true
}

// steep is what is steep in the response near the pair, known beforehand, times
// the water's conductivity: the image of the electrodes in the plate, which an
// endless plate would show, and the image in the bottom, to be taken times
// what that reflects, which the layers alone have and the plate hides. Both lie
// within or below the plate. On a buried plate there is none: water only begins
// some way off. It need not be exact, since the table holds the rest.
func (p *platedPair) steep(at vec) (mirrored, reflected vec) {
	if p.topM < 0 {
		return vec{}, vec{}
	}
	for _, e := range p.ends {
		mirrored = mirrored.plus(pole(vec{e.At.X, e.At.Y, 2*p.topM - e.At.Z}, at).times(e.CurrentA))
		reflected = reflected.plus(pole(vec{e.At.X, e.At.Y, -e.At.Z}, at).times(e.CurrentA))
	}
	return mirrored, reflected
}

// pole is the field of a point that gives off one ampere into unbounded water,
// times the water's conductivity.
func pole(from, at vec) vec {
	d := at.minus(from)
	r2 := d.dot(d)
	return d.times(1 / (4 * math.Pi * r2 * math.Sqrt(r2)))
}

// platedUnit is the field of a pair in one trial: that of the layers alone and,
// by shares, what the plates do.
type platedUnit struct {
	pair      *platedPair
	shares    []share
	bare      *conduction.FastField
	bareSigma float64 // of the water of bare
	sigma     float64 // of the trial's water
	top       float64
	depth     float64
	own       bool // solved for this very water, but for a common factor of the conductivities
	place     alike
}

// At is NaN where the engine refuses the point; the search then finds no
// bound, and the pass says so.
func (u *platedUnit) At(x, y, z float64) (ex, ey, ez float64) {
	p := u.place.move.back(vec{x, y, z + u.top})
	if p.z > u.depth && p.z <= u.depth+edgeM {
		p.z = u.depth
	}
	e, err := u.field(p)
	if err != nil {
		return math.NaN(), math.NaN(), math.NaN()
	}
	e = u.place.move.turn(e).times(u.place.sign)
	return e.x, e.y, e.z
}

// field is the field of the pair that stands for this one.
func (u *platedUnit) field(p vec) (vec, error) {
	at := conduction.Point{X: p.x, Y: p.y, Z: p.z}
	tabled := u.pair.table.find(p)
	if tabled == nil && u.own {
		r := u.pair.responses[u.shares[0].node]
		e, err := r.plated.FieldAt(at)
		return vec{e.X, e.Y, e.Z}.times(r.sigma / u.sigma), err
	}
	e, err := u.bare.FieldAt(at)
	if err != nil {
		return vec{}, err
	}
	sum := vec{e.X, e.Y, e.Z}.times(u.bareSigma)
	for _, s := range u.shares {
		v, err := u.pair.ask(tabled, s.node, p)
		if err != nil {
			return vec{}, err
		}
		sum = sum.plus(v.times(s.weight))
	}
	return sum.times(1 / u.sigma), nil
}

// ask is the response of a node, from a box of the table where there is one.
func (p *platedPair) ask(tabled *box, node int, at vec) (vec, error) {
	if tabled != nil {
		if v, ok := p.table.at(tabled, node, at); ok {
			mirrored, reflected := p.steep(at)
			return v.plus(mirrored).minus(reflected.times(p.responses[node].reflected)), nil
		}
	}
	return p.responses[node].at(at)
}
