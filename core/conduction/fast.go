package conduction

import (
	"fmt"
	"math"
)

// Region is where a table will be asked: up to RhoMaxM from each electrode,
// measured horizontally, and between two heights.
type Region struct{ RhoMaxM, ZMinM, ZMaxM float64 }

// defaultFastTolerance is the |δE|/|E| of a table where none is asked for.
const defaultFastTolerance = 1e-6

// Kernel is the field per ampere of one point or disc at one height of one
// medium, as a function of horizontal distance and height. The electrode
// itself and its nearest images are exact; the rest comes from a table. It is
// immutable, safe for concurrent use, and serves every pair and every trial of
// that medium; see [Medium.Key] for keeping kernels.
type Kernel struct {
	medium    Medium
	src       *source
	region    Region
	tables    []*table // by slab; nil: not in the region, or not needed
	perAmpere float64  // 1/(4πσ)
	relError  float64
	exact     bool // no table was good enough (or needed)
}

// NewKernel prepares a kernel for a region, to an error |δE|/|E| of at most
// relTol (0 = 1e-6) in the field of the electrode and of a pair 1 cm long. The
// error is measured against the full calculation; where even a fine table
// misses relTol, the kernel calls that calculation instead, correct but slow.
// Outside the region, too, a kernel is correct but slow. Tanks have none
// ([ErrNotYet]): their field is not round.
func NewKernel(m Medium, heightM, diameterM float64, r Region, relTol float64) (*Kernel, error) {
	if err := m.Validate(); err != nil {
		return nil, err
	}
	if m.Enclosure != nil {
		return nil, fmt.Errorf("%w: a kernel inside a tank; use Solution.FieldAt", ErrNotYet)
	}
	st := newStack(m)
	if !finite(heightM, diameterM) || diameterM < 0 {
		return nil, fmt.Errorf("%w: height %g m, diameter %g m; expected finite numbers, the diameter at least 0", ErrElectrode, heightM, diameterM)
	}
	if _, ok := st.slabAt(heightM); !ok {
		return nil, fmt.Errorf("%w at height %g m: %w (%s)", ErrElectrode, heightM, ErrOutside, st.extent())
	}
	return newKernel(cloneMedium(m), newSource(st, heightM, diameterM/2), r, relTol)
}

func newKernel(m Medium, sr *source, r Region, relTol float64) (*Kernel, error) {
	if !finite(r.RhoMaxM, r.ZMinM, r.ZMaxM, relTol) || r.RhoMaxM <= 0 || r.ZMaxM < r.ZMinM || relTol < 0 {
		return nil, fmt.Errorf("%w: region %+v with tolerance %g; expected a finite distance above 0, ZMinM ≤ ZMaxM and a tolerance of at least 0", ErrMedium, r, relTol)
	}
	if relTol == 0 {
		relTol = defaultFastTolerance
	}
	k := &Kernel{
		medium: m, src: sr, region: r,
		perAmpere: 1 / (4 * math.Pi * sr.stack.slabs[sr.slab].sigma),
	}
	if math.IsInf(sr.base, 1) { // a handful of images is quicker than any table
		k.exact, k.relError = true, 1e-14
		return k, nil
	}
	fineness := 0.18
	for range 4 {
		k.tabulate(fineness)
		if k.relError = k.measure(); k.relError <= relTol/3 { // other places may be worse
			return k, nil
		}
		// The error falls as the sixth power of the cells' width.
		fineness *= math.Max(0.3, math.Min(0.9, math.Pow(relTol/6/k.relError, 1.0/6)))
	}
	k.exact, k.tables, k.relError = true, nil, 1e-11
	return k, nil
}

func (k *Kernel) tabulate(fineness float64) {
	k.tables = make([]*table, len(k.src.stack.slabs))
	for i, s := range k.src.stack.slabs {
		// A slab's top face belongs to the slab above.
		reachesIn := k.region.ZMinM < s.topM || i == 0 && k.region.ZMinM == s.topM
		if k.region.ZMaxM >= s.bottomM && reachesIn {
			region := k.region
			region.RhoMaxM = math.Min(region.RhoMaxM, 1.01*k.src.stack.farM()) // beyond, the field is simple
			k.tables[i] = newTable(k.src, i, region, fineness)
		}
	}
}

// HeightM and DiameterM tell the electrode that the kernel stands for.
func (k *Kernel) HeightM() float64   { return k.src.z0 }
func (k *Kernel) DiameterM() float64 { return 2 * k.src.a }

// RelativeError is the largest |δE|/|E| that was measured when the kernel was
// made.
func (k *Kernel) RelativeError() float64 { return k.relError }

// Exact reports whether the kernel has no table.
func (k *Kernel) Exact() bool { return k.exact }

// perUnit returns the radial component over ρ and the vertical component, per
// I/(4πσ), at a place of slab i that is not in the electrode.
func (k *Kernel) perUnit(i int, rho2, z float64) (fr, fz float64) {
	if k.exact || k.tables[i] == nil {
		u := k.src.unitAt(i, rho2, z)
		return u.rho, u.z
	}
	t := k.tables[i]
	rho := math.Sqrt(rho2)
	if rho > t.rhoMax || z < t.lo || z > t.hi {
		u := k.src.unitAt(i, rho2, z)
		return u.rho, u.z
	}
	fr, fz = t.at(rho, z)
	if k.src.a == 0 {
		if i == k.src.slab {
			zeta := z - k.src.z0
			inv2 := 1 / (rho2 + zeta*zeta)
			inv3 := inv2 * math.Sqrt(inv2)
			fr += inv3
			fz += zeta * inv3
		}
		for n := range t.near {
			im := &t.near[n]
			zeta := z - im.z
			inv2 := 1 / (rho2 + zeta*zeta)
			f := im.w * inv2 * math.Sqrt(inv2)
			fr += f
			fz += zeta * f
		}
		return fr, fz
	}
	u := unit{0, fr, fz}
	if im, ok := k.src.direct(i, z); ok {
		u = k.src.imageUnit(u, []image{im}, rho2, z)
	}
	u = k.src.imageUnit(u, t.near, rho2, z)
	return u.rho, u.z
}

// measure compares table and full calculation at fixed, spread places: the
// electrode's own field and those of pairs 1 cm long along and across the line
// to the place, whose nearly cancelling halves are the harder test.
func (k *Kernel) measure() float64 {
	const places = 64
	worst := 0.0
	half := math.Min(0.005, k.region.RhoMaxM/200)
	for i, t := range k.tables {
		if t == nil {
			continue
		}
		for n := range places {
			rho, z := t.place(n, half)
			if i == k.src.slab && math.Hypot(rho, z-k.src.z0) < 4*(half+k.src.a) {
				continue
			}
			worst = math.Max(worst, k.errorAt(i, rho, z, half))
		}
	}
	return worst
}

// place is the n-th of a spread over the table: by golden ratios, denser
// inward, and every second beside the edge of a cell, where the slope of a
// polynomial is at its worst; a quarter each on the lower and the upper face.
func (t *table) place(n int, margin float64) (rho, z float64) {
	u := math.Mod(0.5+float64(n)*0.7548776662466927, 1)
	v := math.Mod(0.5+float64(n)*0.5698402909980532, 1)
	if n%4 < 2 {
		v = float64(n / 4 % 2)
	}
	rho = margin + (t.rhoMax-2*margin)*u*math.Sqrt(u)
	if n%2 == 1 {
		cell, _ := t.rho.find(rho)
		rho = math.Min(t.rho.breaks[cell]+1.1*margin, t.rhoMax-margin)
	}
	return rho, t.lo + (t.hi-t.lo)*v
}

func (k *Kernel) errorAt(i int, rho, z, half float64) float64 {
	var table, full [2]unit
	for n, r := range []float64{rho - half, rho + half} {
		table[n].rho, table[n].z = k.perUnit(i, r*r, z)
		full[n] = k.src.unitAt(i, r*r, z)
		table[n].rho *= r
		full[n].rho *= r
	}
	alone := math.Hypot(table[1].rho-full[1].rho, table[1].z-full[1].z) / math.Hypot(full[1].rho, full[1].z)
	pair := math.Hypot(full[1].rho-full[0].rho, full[1].z-full[0].z)
	diff := math.Hypot(table[1].rho-full[1].rho-table[0].rho+full[0].rho, table[1].z-full[1].z-table[0].z+full[0].z)
	worst := alone
	// A pair's field has zeros; near them its usual size is the measure.
	usual := 2 * half / math.Hypot(rho, z-k.src.z0) * math.Hypot(full[1].rho, full[1].z)
	if pair = math.Max(pair, 0.1*usual); pair > 0 {
		worst = math.Max(worst, diff/pair)
	}
	if full[1].rho != 0 { // a pair across it: the radial component, turned
		worst = math.Max(worst, math.Abs(table[1].rho-full[1].rho)/math.Abs(full[1].rho))
	}
	return worst
}

// FieldPerAmpere is the field at a place dx, dy beside the electrode and at
// height z, when one ampere leaves it. Errors as [Solution.FieldAt].
func (k *Kernel) FieldPerAmpere(dx, dy, z float64) (Vector, error) {
	f := FastField{stack: k.src.stack, electrodes: []Electrode{{At: Point{Z: k.src.z0}, CurrentA: 1, DiameterM: 2 * k.src.a}}, kernels: []*Kernel{k}}
	return f.FieldAt(Point{dx, dy, z})
}

// FastField is the field of electrodes from kernels. It is immutable and safe
// for concurrent use; one value costs well below a microsecond.
type FastField struct {
	stack      *stack
	electrodes []Electrode
	kernels    []*Kernel // by electrode
	full       *Solution // in a tank: the full calculation
	tank       *tankFast // in a tank: where and how it need not be asked; may be nil
	round      *roundFast
	relError   float64
}

// Fast prepares the field of a solution for a region, to an error |δE|/|E| of
// at most relTol (0 = 1e-6), measured as for [NewKernel] (in a tank, with these
// electrodes). At the zeros that the field of several electrodes may have, the
// error is that share of the usual field at such a distance. Where no table is
// good enough, it is the full calculation itself, correct but slow.
func (s *Solution) Fast(r Region, relTol float64) (*FastField, error) {
	if s.tank != nil {
		return s.fastInTank(r, relTol)
	}
	kernels := make(map[*source]*Kernel)
	list := make([]*Kernel, len(s.sources))
	for j, sr := range s.sources {
		k, ok := kernels[sr]
		if !ok {
			var err error
			if k, err = newKernel(s.medium, sr, r, relTol); err != nil {
				return nil, err
			}
			kernels[sr] = k
		}
		list[j] = k
	}
	return newFastField(s.stack, s.electrodes, list), nil
}

func (s *Solution) fastInTank(r Region, relTol float64) (*FastField, error) {
	if relTol == 0 {
		relTol = defaultFastTolerance
	}
	f := &FastField{stack: s.stack, electrodes: s.electrodes, full: s, relError: s.RelativeError()}
	var err error
	if s.medium.Enclosure.DiameterM > 0 {
		if f.round, err = newRoundFast(s, r, relTol); err != nil {
			return nil, err
		}
		if f.round != nil {
			f.relError = math.Max(f.relError, f.round.relError)
		}
		return f, nil
	}
	if f.tank, err = newTankFast(s, r, relTol); err != nil {
		return nil, err
	}
	if f.tank != nil {
		f.relError = math.Max(f.relError, f.tank.relError)
	}
	return f, nil
}

// NewFastField combines kernels of one medium with electrodes: each electrode
// takes the kernel of its height and diameter (a hemisphere that of diameter
// 0), of which there must be one.
// Errors as [Solve].
func NewFastField(electrodes []Electrode, kernels ...*Kernel) (*FastField, error) {
	if len(kernels) == 0 {
		return nil, fmt.Errorf("%w: no kernels given", ErrElectrode)
	}
	first := kernels[0]
	for _, k := range kernels[1:] {
		if k.medium.WaterSPerM != first.medium.WaterSPerM || k.medium.Key() != first.medium.Key() {
			return nil, fmt.Errorf("%w: kernels of different media", ErrMedium)
		}
	}
	if err := validateElectrodes(first.medium, first.src.stack, electrodes); err != nil {
		return nil, err
	}
	if err := checkHemispheres(first.medium, nil, electrodes); err != nil {
		return nil, err
	}
	list := make([]*Kernel, len(electrodes))
	for j, e := range electrodes {
		for _, k := range kernels {
			if k.src.z0 == e.At.Z && k.src.a == e.discM() {
				list[j] = k
				break
			}
		}
		if list[j] == nil {
			return nil, fmt.Errorf("%w %d: no kernel for height %g m and diameter %g m", ErrElectrode, j+1, e.At.Z, 2*e.discM())
		}
	}
	return newFastField(first.src.stack, append([]Electrode(nil), electrodes...), list), nil
}

func newFastField(st *stack, electrodes []Electrode, kernels []*Kernel) *FastField {
	f := &FastField{stack: st, electrodes: electrodes, kernels: kernels}
	for _, k := range kernels {
		f.relError = math.Max(f.relError, k.relError)
	}
	return f
}

// RelativeError is the largest measured |δE|/|E| of the kernels.
func (f *FastField) RelativeError() float64 { return f.relError }

// FieldAt returns the field at a point; errors as [Solution.FieldAt].
func (f *FastField) FieldAt(p Point) (Vector, error) {
	if f.full != nil {
		return f.inTank(p)
	}
	slab, ok := f.stack.slabAt(p.Z)
	if !ok || !finite(p.X, p.Y, p.Z) {
		return Vector{}, f.refuse(p)
	}
	var e Vector
	for j := range f.electrodes {
		el := &f.electrodes[j]
		dx, dy, dz := p.X-el.At.X, p.Y-el.At.Y, p.Z-el.At.Z
		rho2 := dx*dx + dy*dy
		if (math.Abs(dz) < touchM || el.Hemisphere) && inElectrode(p, *el) {
			return Vector{}, f.refuse(p)
		}
		k := f.kernels[j]
		fr, fz := k.perUnit(slab, rho2, p.Z)
		c := el.CurrentA * k.perAmpere
		fr *= c
		e.X += fr * dx
		e.Y += fr * dy
		e.Z += fz * c
	}
	if !finite(e.X + e.Y + e.Z) {
		return Vector{}, f.refuse(p)
	}
	return e, nil
}

func (f *FastField) inTank(p Point) (Vector, error) {
	if f.round == nil && (f.tank == nil || !f.tank.holds(p)) {
		return f.full.FieldAt(p)
	}
	slab, err := f.full.checkPoint(p)
	if err != nil {
		return Vector{}, err
	}
	if f.round != nil {
		return f.round.at(slab, p), nil
	}
	return f.tank.at(slab, p), nil
}

// refuse says why a point has no field.
func (f *FastField) refuse(p Point) error {
	s := Solution{stack: f.stack, electrodes: f.electrodes}
	if _, err := s.checkPoint(p); err != nil {
		return err
	}
	return fmt.Errorf("field at (%g, %g, %g) m: %w (too close to an electrode's rim?)", p.X, p.Y, p.Z, ErrNotFinite)
}

// regionOf is the region that points span round the electrodes.
func (s *Solution) regionOf(points []Point) (Region, error) {
	r := Region{ZMinM: math.Inf(1), ZMaxM: math.Inf(-1)}
	lo, hi := Point{math.Inf(1), math.Inf(1), 0}, Point{math.Inf(-1), math.Inf(-1), 0}
	for _, p := range points {
		lo.X, lo.Y = math.Min(lo.X, p.X), math.Min(lo.Y, p.Y)
		hi.X, hi.Y = math.Max(hi.X, p.X), math.Max(hi.Y, p.Y)
		r.ZMinM, r.ZMaxM = math.Min(r.ZMinM, p.Z), math.Max(r.ZMaxM, p.Z)
	}
	for _, e := range s.electrodes {
		dx := math.Max(e.At.X-lo.X, hi.X-e.At.X)
		dy := math.Max(e.At.Y-lo.Y, hi.Y-e.At.Y)
		r.RhoMaxM = math.Max(r.RhoMaxM, math.Hypot(dx, dy))
	}
	if !finite(r.RhoMaxM, r.ZMinM, r.ZMaxM) || r.RhoMaxM <= 0 {
		return r, fmt.Errorf("%w: points without a finite extent", ErrNotFinite)
	}
	r.RhoMaxM *= 1 + 1e-12
	return r, nil
}
