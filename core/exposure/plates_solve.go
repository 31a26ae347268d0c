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
	table     *boxTree // nil: ask directly
}

// fillBox is the field of a table.
func (p *platedPair) fillBox(node int, points, values []vec) bool {
	for i, at := range points {
		v, err := p.responses[node].at(at)
		if err != nil {
			return false
		}
		values[i] = v
	}
	return true
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
	var sum vec
	tabled := u.pair.table.find(p)
	for _, s := range u.shares {
		r := u.pair.responses[s.node]
		if tabled != nil {
			if v, ok := u.pair.table.at(tabled, s.node, p); ok {
				sum = sum.plus(v.times(s.weight))
				continue
			}
		}
		if u.own {
			e, err := r.plated.FieldAt(conduction.Point{X: p.x, Y: p.y, Z: p.z})
			return vec{e.X, e.Y, e.Z}.times(r.sigma / u.sigma), err
		}
		v, err := r.at(p)
		if err != nil {
			return vec{}, err
		}
		sum = sum.plus(v.times(s.weight))
	}
	e, err := u.bare.FieldAt(conduction.Point{X: p.x, Y: p.y, Z: p.z})
	return sum.plus(vec{e.X, e.Y, e.Z}.times(u.bareSigma)).times(1 / u.sigma), err
}
