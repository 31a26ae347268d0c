package conduction

import "math"

// roundFast is the field in a round tank, made for being asked often: the layers by
// kernels, and of what the wall adds only the terms that count.
type roundFast struct {
	tank     *roundTank
	kernels  []*Kernel // by electrode
	relError float64
}

// newRoundFast drops terms until the error, measured against the full
// calculation, is just within relTol; it returns nil where none can go.
func newRoundFast(s *Solution, r Region, relTol float64) (*roundFast, error) {
	full := s.tank.(*roundTank)
	choice := usualFrame
	f := &roundFast{}
	r.RhoMaxM = math.Min(r.RhoMaxM, 2*full.frame.radius)
	top := full.frame.base.slabs[0].topM
	r.ZMinM, r.ZMaxM = math.Max(r.ZMinM, full.frame.base.slabs[len(full.frame.base.slabs)-1].bottomM), math.Min(r.ZMaxM, top)
	if !(r.ZMaxM > r.ZMinM) {
		return nil, nil
	}
	kernels := make(map[*source]*Kernel)
	for _, sr := range full.sources {
		k := kernels[sr]
		if k == nil {
			var err error
			if k, err = newKernel(s.medium, sr, r, relTol/10); err != nil {
				return nil, err
			}
			kernels[sr] = k
		}
		f.kernels = append(f.kernels, k)
	}
	for choice.digits = 5 - math.Log(relTol); choice.digits < usualFrame.digits; choice.digits += 4 {
		f.tank = newRoundTank(s, choice, nil)
		if f.relError = f.measure(s, r); f.relError <= relTol/3 { // other places may be worse
			return f, nil
		}
	}
	return nil, nil
}

// at is the field at a valid point.
func (f *roundFast) at(slab int, p Point) Vector {
	t := f.tank
	if t.nearest(p.Z) >= t.frame.band {
		_, e := t.across(slab, p)
		return e
	}
	_, e := t.waves(slab, p)
	base := slab - t.frame.above
	for j := range t.s.electrodes {
		el := &t.s.electrodes[j]
		dx, dy := p.X-el.At.X, p.Y-el.At.Y
		fr, fz := f.kernels[j].perUnit(base, dx*dx+dy*dy, p.Z)
		c := el.CurrentA * f.kernels[j].perAmpere
		e.X += fr * c * dx
		e.Y += fr * c * dy
		e.Z += fz * c
	}
	return e
}

// measure compares with the full calculation at fixed, spread places: all over the tank,
// along its wall, and round the electrodes.
func (f *roundFast) measure(s *Solution, r Region) float64 {
	const places = 72
	errs := make([]float64, places)
	wall := s.medium.Enclosure
	_ = parallelEach(places, func(n int) error {
		sin, cos := math.Sincos(2 * math.Pi * spread(n, 0))
		rho := wall.DiameterM / 2 * math.Sqrt(spread(n, 1))
		at := Point{wall.CentreXM, wall.CentreYM, r.ZMinM + (r.ZMaxM-r.ZMinM)*spread(n, 2)}
		switch n % 3 {
		case 1:
			rho = wall.DiameterM / 2 * (1 - 1e-9)
		case 2:
			el := &s.electrodes[n/3%len(s.electrodes)]
			rho = 0.2 * wall.DiameterM * spread(n, 1)
			at = Point{el.At.X, el.At.Y, math.Min(math.Max(el.At.Z+rho*spread(n, 2), r.ZMinM), r.ZMaxM)}
		}
		p := Point{at.X + rho*cos, at.Y + rho*sin, at.Z}
		slab, err := s.checkPoint(p)
		if err != nil {
			return nil
		}
		_, want := s.eval(slab, p)
		if size := want.Norm(); size > 0 {
			errs[n] = f.at(slab, p).Sub(want).Norm() / size
		}
		return nil
	})
	worst := 0.0
	for _, e := range errs {
		worst = math.Max(worst, e)
	}
	return worst
}
