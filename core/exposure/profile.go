package exposure

import "math"

const (
	// sampleStep is the spacing of samples along a line as a share of the
	// distance to the nearest driven electrode. The field of a pair changes by
	// its own size over about a third of that distance, so a step of a quarter
	// cannot hide a rise and a fall; the tests compare with a search a hundred
	// times finer.
	sampleStep = 0.25
	// shortLine: a line this much shorter than the distance cannot rise above
	// its higher end by 1e-4 of the field (½·12·(L/2d)² < 4e-5).
	shortLine = 0.005
	// placeTol is how well a maximum is placed, as a share of its bracket. The
	// field needs less (it is flat there); the place is printed.
	placeTol = 1e-6
	// endProbe is where the field is compared with that at the end of a segment
	// to see whether it rises from there, as a share of the interval: a top
	// nearer to the end than that is higher by less than 1e-5.
	endProbe = 0.005
	// mayExceed bounds how far a maximum inside a bracket can lie above the
	// largest sample of it, with room to spare.
	mayExceed = 1.3
)

// profile is the magnitude of a field along one line: samples at rows and
// between them, and the places where a maximum may lie, each looked at closely
// only when a question depends on it.
type profile struct {
	field    *Drive
	line     polyline
	rowField []float64 // at the rows
	inner    []sample  // between the rows, in time order
	humps    []hump    // in time order
}

type sample struct{ t, f float64 }

// hump is a stretch of one segment in which the field may rise and fall.
type hump struct {
	segment    int
	a, b       float64 // ends, as shares of the segment
	x          float64 // where the largest sample lies
	fa, fx, fb float64 // NaN where not known
	done       bool
	tTop, fTop float64
}

// build samples the field along a line. The buffers of p are used again.
func (p *profile) build(field *Drive, rows []row, u float64) {
	p.field = field
	p.line.set(rows, u)
	p.rowField, p.inner, p.humps = p.rowField[:0], p.inner[:0], p.humps[:0]
	for _, at := range p.line.p {
		p.rowField = append(p.rowField, field.bounded(at))
	}
	for i := range len(p.line.p) - 1 {
		p.sampleSegment(i)
	}
}

// sampleSegment puts samples between rows i and i+1 and notes the humps. On a
// line through an electrode the samples close in on it until one is within
// touchM, and the largest field there is +Inf.
func (p *profile) sampleSegment(i int) {
	a, b := p.line.p[i], p.line.p[i+1]
	length := b.minus(a).length()
	d := p.field.nearest(a)
	if length <= shortLine*d {
		return
	}
	duration := p.line.t[i+1] - p.line.t[i]
	var s [2]float64 // shares of the two samples before the newest
	var f [2]float64
	s[1], f[1] = 0, p.rowField[i]
	count := 1
	for at := 0.0; at < 1; count++ {
		here := between(a, b, at)
		step := sampleStep * math.Max(p.field.nearest(here), touchM) / length
		next := at + math.Min(step, 0.5)
		value := p.rowField[i+1]
		if next > 1-0.5*math.Min(step, 0.5) {
			next = 1
		} else {
			value = p.field.bounded(between(a, b, next))
			p.inner = append(p.inner, sample{p.line.t[i] + next*duration, value})
		}
		if count >= 2 {
			p.noteHump(i, count == 2, next == 1, [3]float64{s[0], s[1], next}, [3]float64{f[0], f[1], value})
		}
		s, f = [2]float64{s[1], next}, [2]float64{f[1], value}
		at = next
	}
}

// noteHump looks at three samples in a row. The middle one being the largest
// makes a hump of both intervals. At the ends of a segment, where the path
// bends, the largest may be the end itself or lie inside the interval beside
// it: climb looks which.
func (p *profile) noteHump(segment int, first, last bool, s, f [3]float64) {
	if f[1] >= f[0] && f[1] >= f[2] && (f[1] > f[0] || f[1] > f[2]) {
		p.humps = append(p.humps, hump{segment: segment, a: s[0], b: s[2], x: s[1], fa: f[0], fx: f[1], fb: f[2]})
		return
	}
	if first && f[0] > f[1] {
		p.humps = append(p.humps, hump{segment: segment, a: s[0], b: s[1], x: s[0], fx: f[0]})
	}
	if last && f[2] > f[1] {
		p.humps = append(p.humps, hump{segment: segment, a: s[1], b: s[2], x: s[2], fx: f[2]})
	}
}

// climb finds the top of a hump.
func (p *profile) climb(h *hump) {
	if h.done {
		return
	}
	i := h.segment
	a, b := p.line.p[i], p.line.p[i+1]
	f := func(s float64) float64 { return p.field.bounded(between(a, b, s)) }
	width := h.b - h.a
	x, fx, fa, fb := h.x, h.fx, h.fa, h.fb
	at, value := x, fx
	if x == h.a || x == h.b {
		inward := math.Copysign(width, h.a+h.b-2*x)
		if f(x+endProbe*inward) > fx {
			x += golden * inward
			at, value = brentMax(f, h.a, h.b, x, f(x), math.NaN(), math.NaN(), placeTol*width)
		}
	} else {
		at, value = brentMax(f, h.a, h.b, x, fx, fa, fb, placeTol*width)
	}
	if h.fx > value {
		at, value = h.x, h.fx
	}
	h.tTop = p.line.t[i] + at*(p.line.t[i+1]-p.line.t[i])
	h.fTop = value
	h.done = true
}

// peak is a place on a line and the field there.
type peak struct {
	t, f float64
	at   vec
}

// value is the field at time t, from the row where there is one.
func (p *profile) value(t float64) peak {
	n := len(p.line.t)
	switch {
	case n == 1 || t <= p.line.t[0]+timeTolS:
		return peak{p.line.t[0], p.rowField[0], p.line.p[0]}
	case t >= p.line.t[n-1]-timeTolS:
		return peak{p.line.t[n-1], p.rowField[n-1], p.line.p[n-1]}
	}
	i := p.line.segment(t)
	switch {
	case t-p.line.t[i] <= timeTolS:
		return peak{p.line.t[i], p.rowField[i], p.line.p[i]}
	case p.line.t[i+1]-t <= timeTolS:
		return peak{p.line.t[i+1], p.rowField[i+1], p.line.p[i+1]}
	}
	at := p.line.at(t)
	return peak{t, p.field.bounded(at), at}
}

// largest is the largest field between times a and b, both ends included and
// both within the line.
func (p *profile) largest(a, b float64) peak {
	best := p.value(a)
	if end := p.value(b); end.f > best.f {
		best = end
	}
	within := func(t float64) bool { return t >= a-timeTolS && t <= b+timeTolS }
	for i, t := range p.line.t {
		if p.rowField[i] > best.f && within(t) {
			best = peak{t, p.rowField[i], p.line.p[i]}
		}
	}
	for _, s := range p.inner {
		if s.f > best.f && within(s.t) {
			best = peak{s.t, s.f, p.line.at(s.t)}
		}
	}
	for i := range p.humps {
		h := &p.humps[i]
		t0, t1 := p.line.t[h.segment], p.line.t[h.segment+1]
		from, to := t0+h.a*(t1-t0), t0+h.b*(t1-t0)
		if to < a-timeTolS || from > b+timeTolS || h.fx*mayExceed < best.f {
			continue
		}
		p.climb(h)
		if h.fTop > best.f && within(h.tTop) {
			best = peak{h.tTop, h.fTop, p.line.at(h.tTop)}
		}
	}
	return best
}
