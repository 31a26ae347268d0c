package conduction

import "math"

// slices lay the cut of a body of finite conductivity where two layers meet: see [skin].
func (k *skin) slices(f bodyMesh) {
	if k.SPerM == 0 || math.IsInf(k.SPerM, 1) {
		return
	}
	lo, hi := k.heights()
	for i := range len(k.stack.slabs) - 1 {
		z := k.stack.slabs[i].bottomM
		if lo >= z-onFace || hi <= z+onFace {
			continue
		}
		// κ = σ_body/σ, so that its ratios are those of the layers, turned round.
		above, below := k.stack.slabs[i].sigma, k.stack.slabs[i+1].sigma
		top := math.Max(above, below)
		for _, p := range k.slice(z, f) {
			p.slab, p.share, p.cut = i, (below/top-above/top)/(below/top+above/top), true
			k.panels = append(k.panels, p)
		}
	}
}

// slice covers the body's cut at a height: a rectangle of a box and of a cylinder that
// lies, an ellipse of a spheroid and of a cylinder that stands or, with its ends cut off, of one
// aslant. Halves that others mirror are left out.
func (k *skin) slice(z float64, f bodyMesh) []tile {
	up := [3]float64{k.axes[0].Z, 0, k.axes[2].Z} // straight up, in the body's frame
	h := z - k.Centre.Z
	straight, upright := k.upright[0], k.upright[1]
	level := [3]float64{0: 1} // the level axis of the body that yaw turns
	other := 0
	if upright {
		level, other = [3]float64{2: 1}, 2
	}
	across := [3]float64{1: 1}
	at := func(x, w float64) [3]float64 { return [3]float64{x, 0, w} }
	scaled := func(v [3]float64, r float64) [3]float64 { return [3]float64{v[0] * r, v[1] * r, v[2] * r} }
	disc := func(p0, a [3]float64, ra, rb float64) []tile {
		turn := math.Pi
		if len(k.copies) == 4 {
			turn /= 2
		}
		pc := piece{kind: pieceDisc, p0: p0, a: scaled(a, ra), b: scaled(across, rb), normal: scaled(up, ra*rb)}
		return panelsOf(pc, k.fromMiddle(f, math.Min(ra, rb)), evenly(0, turn, max(1, f.round*len(k.copies)/4), nil), f.order)
	}
	switch {
	case k.Shape == BodySpheroid:
		a, b := k.half[0], k.half[1]
		n := a*a*up[0]*up[0] + b*b*up[2]*up[2]
		share := math.Sqrt(math.Max(0, 1-h*h/n))
		m := at(up[2], -up[0])
		return disc(at(a*a*up[0]*h/n, b*b*up[2]*h/n), m, share/math.Hypot(up[2]/a, up[0]/b), b*share)
	case k.Shape == BodyCylinder && upright:
		return disc(at(h*up[0], 0), level, k.half[1], k.half[1])
	case k.Shape == BodyCylinder && !straight:
		return k.aslant(h, up, f)
	}
	// A rectangle: the body's second axis is level.
	breadth, lo, hi := k.half[1], 0.0, k.half[other]
	if k.Shape == BodyCylinder {
		breadth = math.Sqrt(math.Max(0, breadth*breadth-h*h))
	}
	pc := piece{p0: at(h*up[0], h*up[2]), a: level, b: across, normal: up}
	if straight || upright {
		return panelsOf(pc, k.along(other, hi, f, nil), k.along(1, breadth, f, nil), f.order)
	}
	pc.a = at(up[2], -up[0])
	lo, hi = segment(pc.p0[0], up[2], k.half[0], pc.p0[2], -up[0], k.half[2])
	return panelsOf(pc, ends(lo, hi, f.first*k.least(), f.base*k.most(), true, nil), k.along(1, breadth, f, nil), f.order)
}

// segment is where x + m·dx and w + m·dw are both within ±a and ±b.
func segment(x, dx, a, w, dw, b float64) (lo, hi float64) {
	x0, x1 := (-a-x)/dx, (a-x)/dx
	w0, w1 := (-b-w)/dw, (b-w)/dw
	return math.Max(math.Min(x0, x1), math.Min(w0, w1)), math.Min(math.Max(x0, x1), math.Max(w0, w1))
}

// aslant is the level cut of a cylinder that neither lies nor stands: of an ellipse,
// what lies between the ends.
func (k *skin) aslant(h float64, up [3]float64, f bodyMesh) []tile {
	pc := piece{p0: [3]float64{h * up[0], 0, h * up[2]}, a: [3]float64{up[2], 0, -up[0]}, b: [3]float64{1: 1}, normal: up}
	r := k.half[1]
	lo, hi := segment(pc.p0[0], pc.a[0], k.half[0], pc.p0[2], pc.a[2], r)
	pc.bend = &bend{
		y: 1, xa: lo, xb: hi, slow: true,
		lo: func(float64) float64 { return 0 },
		hi: func(m float64) float64 {
			w := h*up[2] - m*up[0]
			return math.Sqrt(math.Max(0, r*r-w*w))
		},
	}
	return panelsOf(pc, evenly(0, 1, 2*max(1, f.round/2), nil), k.fromMiddle(f, r), f.order)
}

// bend makes a rectangle of parameters, 0 … 1 each, of a part of a piece that curves
// bound: x runs from xa to xb, and y from lo to hi.
type bend struct {
	y      int // which of the piece's own parameters y is
	lo, hi func(x float64) float64
	xa, xb float64
	slow   bool // x is slow at the ends, where a curve may go as the root of the distance
}

// bentPoint is [solid.point] by the parameters of a bend.
func (s *solid) bentPoint(pc *piece, u, v float64) (at, area [3]float64) {
	b := pc.bend
	x, dx := b.xa+(b.xb-b.xa)*u, b.xb-b.xa
	if b.slow {
		sin, cos := math.Sincos(math.Pi * u)
		x, dx = b.xa+(b.xb-b.xa)*(1-cos)/2, (b.xb-b.xa)*math.Pi/2*sin
	}
	y := b.lo(x)
	wide := b.hi(x) - y
	y += wide * v
	straight := *pc
	straight.bend = nil
	if b.y == 1 {
		at, area = s.point(&straight, x, y)
	} else {
		at, area = s.point(&straight, y, x)
	}
	for k := range area {
		area[k] *= dx * math.Abs(wide)
	}
	return at, area
}

// cutAt parts a panel at a height over the body's middle. Along one of its parameters, y, the
// surface rises or falls all the way, so that the cut is a curve y(x); the panel is divided where
// that curve leaves it.
func (s *solid) cutAt(p tile, h float64) (out []tile) {
	pc := *p.piece
	y, root := s.rising(&pc, h)
	x := 1 - y
	b := pc.bend
	if b == nil {
		always := func(v float64) func(float64) float64 { return func(float64) float64 { return v } }
		b = &bend{y: y, lo: always(p.lo[y]), hi: always(p.hi[y]), xa: p.lo[x], xb: p.hi[x], slow: pc.kind == pieceRound}
	}
	straight := pc
	straight.bend = nil
	over := func(v, w float64) float64 { // height over the cut
		q := [2]float64{}
		q[x], q[y] = v, w
		at, _ := s.point(&straight, q[0], q[1])
		if d := s.axes[0].Z*at[0] + s.axes[1].Z*at[1] + s.axes[2].Z*at[2] - h; math.Abs(d) > onFace {
			return d
		}
		return 0
	}
	columns := append(roots(func(v float64) float64 { return over(v, b.lo(v)) }, b.xa, b.xb),
		roots(func(v float64) float64 { return over(v, b.hi(v)) }, b.xa, b.xb)...)
	for i, ends := 0, withCuts([]float64{b.xa, b.xb}, columns); i < len(ends)-1; i++ {
		mid := (ends[i] + ends[i+1]) / 2
		q, part := p, *b
		part.xa, part.xb = ends[i], ends[i+1]
		switch crossed := over(mid, b.lo(mid))*over(mid, b.hi(mid)) < 0; {
		case crossed:
			under, upper := part, part
			under.hi, upper.lo = root, root
			out = append(out, q.bent(under), q.bent(upper))
		case p.piece.bend != nil:
			out = append(out, q.bent(part))
		default:
			q.lo[x], q.hi[x] = ends[i], ends[i+1]
			out = append(out, q)
		}
	}
	return out
}

// bent is the panel by a bend's parameters.
func (p tile) bent(b bend) tile {
	pc := *p.piece
	pc.bend = &b
	p.piece, p.lo, p.hi = &pc, [2]float64{}, [2]float64{1, 1}
	return p
}

// rising is the parameter along which a piece rises or falls all the way, and what it is at a
// height over the body's middle, by the other parameter.
func (s *solid) rising(pc *piece, h float64) (y int, root func(x float64) float64) {
	up := [3]float64{s.axes[0].Z, s.axes[1].Z, s.axes[2].Z}
	dot3 := func(v [3]float64) float64 { return up[0]*v[0] + up[1]*v[1] + up[2]*v[2] }
	switch pc.kind {
	case pieceFlat:
		a, b, c := dot3(pc.a), dot3(pc.b), h-dot3(pc.p0)
		if math.Abs(b) > math.Abs(a) {
			a, b, y = b, a, 1
		}
		return y, func(x float64) float64 { return (c - b*x) / a }
	case pieceDisc:
		a, b, c := dot3(pc.a), dot3(pc.b), h-dot3(pc.p0)
		return 0, func(t float64) float64 {
			sin, cos := math.Sincos(t)
			return c / (a*cos + b*sin)
		}
	case pieceSide:
		return 0, func(t float64) float64 { return (h - s.half[1]*up[2]*math.Cos(t)) / up[0] }
	}
	return 1, func(x float64) float64 {
		sin, cos := math.Sincos(x)
		c := (h - up[0]*s.half[0]*cos) / (s.half[1] * up[2] * sin)
		return math.Acos(math.Max(-1, math.Min(1, c)))
	}
}

// roots are where f changes its sign between lo and hi, as seen from 32 steps.
func roots(f func(float64) float64, lo, hi float64) (out []float64) {
	const steps = 32
	last := f(lo)
	for i := 1; i <= steps; i++ {
		a, b := lo+(hi-lo)*float64(i-1)/steps, lo+(hi-lo)*float64(i)/steps
		now := f(b)
		if last*now < 0 {
			for range 60 {
				if m := (a + b) / 2; f(m)*last > 0 {
					a = m
				} else {
					b = m
				}
			}
			out = append(out, (a+b)/2)
		}
		if now == 0 && i < steps {
			out = append(out, lo+(hi-lo)*float64(i)/steps)
		}
		if now != 0 {
			last = now
		}
	}
	return out
}
