package cliptest

import "math"

// Path is where a snout is in time: knots joined by a smooth curve, and straight
// on before the first and after the last.
type Path struct {
	T []float64 // seconds of the clip, increasing
	P []V
}

// At is the place at a time (cubic Hermite, slopes by differences of the
// neighbouring knots).
func (p *Path) At(t float64) V {
	n := len(p.T)
	if n == 1 {
		return p.P[0]
	}
	if t <= p.T[0] {
		return p.P[0].add(p.slope(0).times(t - p.T[0]))
	}
	if t >= p.T[n-1] {
		return p.P[n-1].add(p.slope(n - 1).times(t - p.T[n-1]))
	}
	i := 1
	for p.T[i] < t {
		i++
	}
	h := p.T[i] - p.T[i-1]
	u := (t - p.T[i-1]) / h
	a := p.P[i-1].times((1 + 2*u) * (1 - u) * (1 - u))
	b := p.P[i].times(u * u * (3 - 2*u))
	c := p.slope(i - 1).times(h * u * (1 - u) * (1 - u))
	d := p.slope(i).times(-h * u * u * (1 - u))
	return a.add(b).add(c).add(d)
}

func (p *Path) slope(i int) V {
	a, b := max(i-1, 0), min(i+1, len(p.T)-1)
	return p.P[b].sub(p.P[a]).times(1 / (p.T[b] - p.T[a]))
}

// Animal swims with its snout on a path; all of it is drawn on the plane at the
// height of the snout.
type Animal struct {
	Name       string
	Ray        bool // else a shark
	LengthM    float64
	HeadWidthM float64
	DiscWidthM float64 // of a ray
	Path       Path
	DotM       float64 // radius of a white dot painted on the snout; 0: none
	Light      float64 // of its back
	FromS      float64 // it is in the clip from and to these times; both 0: always
	ToS        float64
}

const spine = 28 // points of a midline

// body is an animal at a time.
type body struct {
	a       *Animal
	height  float64
	t       float64
	line    [spine][2]float64 // from the snout, equally far apart
	reach   float64           // of its outline from the snout
	heading [2]float64        // of the head
	eyes    [2]V
}

func (a *Animal) present(t float64) bool {
	return a.FromS == 0 && a.ToS == 0 || t >= a.FromS && t <= a.ToS
}

// at lays the midline along the way that the snout came. A ray is stiff and
// points along the last tenth of its length; a shark's tail beats.
func (a *Animal) at(t float64) *body {
	snout := a.Path.At(t)
	b := &body{a: a, t: t, height: snout[2], reach: 1.05*a.LengthM + a.DotM}
	step := a.LengthM / (spine - 1)
	// The way back, finely.
	way := []V{snout}
	arc := []float64{0}
	const dt = 1.0 / 120
	for k := 1; arc[len(arc)-1] < a.LengthM && k < 6000; k++ {
		p := a.Path.At(t - float64(k)*dt)
		d := math.Hypot(p[0]-way[len(way)-1][0], p[1]-way[len(way)-1][1])
		if d < 1e-5 {
			continue
		}
		way, arc = append(way, p), append(arc, arc[len(arc)-1]+d)
	}
	back := func(s float64) [2]float64 {
		i := 1
		for i < len(arc)-1 && arc[i] < s {
			i++
		}
		if len(arc) == 1 {
			return [2]float64{snout[0] - s, snout[1]}
		}
		u := (s - arc[i-1]) / (arc[i] - arc[i-1])
		return [2]float64{way[i-1][0] + u*(way[i][0]-way[i-1][0]), way[i-1][1] + u*(way[i][1]-way[i-1][1])}
	}
	neck := back(0.1 * a.LengthM)
	if long := math.Hypot(snout[0]-neck[0], snout[1]-neck[1]); long > 0 {
		b.heading = [2]float64{(snout[0] - neck[0]) / long, (snout[1] - neck[1]) / long}
	} else {
		b.heading = [2]float64{1, 0}
	}
	for i := range b.line {
		s := float64(i) * step
		if a.Ray {
			bend := 0.0
			if tail := s/a.LengthM - 0.5; tail > 0 {
				bend = 0.12 * a.LengthM * tail * math.Sin(2*t-4*tail)
			}
			b.line[i] = [2]float64{snout[0] - s*b.heading[0] - bend*b.heading[1], snout[1] - s*b.heading[1] + bend*b.heading[0]}
			continue
		}
		// The spine is stiffer than the way was: each point is a mean of the way
		// round it, as wide as it lies behind the snout, up to a fifth of the length.
		var m [2]float64
		w := math.Min(s, 0.1*a.LengthM)
		for k := -4; k <= 4; k++ {
			q := back(clamp(s+w*float64(k)/4, 0, a.LengthM))
			m[0], m[1] = m[0]+q[0]/9, m[1]+q[1]/9
		}
		u := s / a.LengthM
		beat := 0.055 * a.LengthM * u * u * math.Sin(2*math.Pi*(1.1*t-0.9*u))
		b.line[i] = [2]float64{m[0] - beat*b.heading[1], m[1] + beat*b.heading[0]}
	}
	b.line[0] = [2]float64{snout[0], snout[1]}
	_, eye, out := b.head()
	b.eyes = [2]V{b.along(eye, out), b.along(eye, -out)}
	return b
}

// along is the place at a share of the length from the snout, and to the left
// of it.
func (b *body) along(u, left float64) V {
	f := clamp(u, 0, 1) * (spine - 1)
	i := min(int(f), spine-2)
	p, q := b.line[i], b.line[i+1]
	dx, dy := p[0]-q[0], p[1]-q[1] // towards the snout
	long := math.Hypot(dx, dy)
	g := f - float64(i)
	return V{p[0] + g*(q[0]-p[0]) - left*dy/long, p[1] + g*(q[1]-p[1]) + left*dx/long, b.height}
}

const headAt, eyeAt = 0.13, 0.075 // shares of the length

// Points are the places that people fix, by the project's words for them.
func (b *body) Points() map[string]V {
	half := b.a.HeadWidthM / 2
	head, _, _ := b.head()
	return map[string]V{
		"snout": b.along(0, 0), "head left edge": b.along(head, half), "head right edge": b.along(head, -half),
		"eye": b.eyes[0], "tail": b.along(1, 0),
	}
}

// head says at which shares of the length the head is widest and the eyes are,
// and how far the eyes are from the middle.
func (b *body) head() (widest, eye, out float64) {
	half := b.a.HeadWidthM / 2
	if b.a.Ray {
		return 0.16, 0.16, 0.85 * half
	}
	return headAt, eyeAt, 0.62 * half
}

// halfWidth of the outline at a share of the length.
func (b *body) halfWidth(u float64) float64 {
	a := b.a
	if a.Ray {
		half := a.DiscWidthM / 2 * (1 + 0.03*math.Sin(2*math.Pi*(0.8*b.t)-6*u))
		switch {
		case u < 0.26:
			return half * math.Pow(u/0.26, 1.15) * (1.04 - 0.04*u/0.26)
		case u < 0.52:
			v := (u - 0.26) / 0.26
			return half * math.Max(math.Sqrt(math.Max(1-v*v, 0)), 0.12)
		default:
			return half * 0.12 * (1.05 - (u-0.52)/0.48)
		}
	}
	half := a.HeadWidthM / 2
	switch {
	case u < headAt:
		v := 1 - u/headAt
		return half * math.Sqrt(math.Max(1-v*v*v, 0))
	case u < 0.34:
		return half * (1 - 0.1*(u-headAt))
	case u < 0.86:
		return half * (0.98 - 0.84*(u-0.34)/0.52)
	default:
		return half * 0.14 * (1.2 - (u-0.86)/0.14)
	}
}

// fins lie flat beside a shark's body: how far they stick out at a share of the
// length, beyond the body.
func (b *body) fin(u float64) float64 {
	if b.a.Ray {
		if u > 0.47 && u < 0.58 { // pelvic fins at the root of the tail
			return 0.1 * b.a.DiscWidthM * (1 - math.Abs(u-0.52)/0.06)
		}
		return 0
	}
	l := b.a.LengthM
	switch {
	case u > 0.19 && u < 0.32:
		return 0.075 * l * math.Min((u-0.19)/0.1, (0.32-u)/0.03)
	case u > 0.45 && u < 0.55:
		return 0.035 * l * math.Min((u-0.45)/0.08, (0.55-u)/0.02)
	}
	return 0
}

// nearest is the midline's nearest place: share of the length, and the distance
// with its side (left positive).
func (b *body) nearest(x, y float64) (u, side float64) {
	best, near := math.Inf(1), 0
	for i := 0; i < spine; i += 3 { // coarsely first: midlines bend little
		dx, dy := x-b.line[i][0], y-b.line[i][1]
		if d := dx*dx + dy*dy; d < best {
			best, near = d, i
		}
	}
	best = math.Inf(1)
	for i := max(near-2, 1); i < min(near+4, spine); i++ {
		p, q := b.line[i-1], b.line[i]
		d, g := toSegment(x, y, p, q)
		if d < best {
			best, u = d, (float64(i-1)+g)/(spine-1)
			side = d
			if (p[0]-q[0])*(y-p[1])-(p[1]-q[1])*(x-p[0]) < 0 {
				side = -d
			}
		}
	}
	return u, side
}

// outside is how far a place is from the outline, negative within; only near
// the outline is it exact.
func (b *body) outside(x, y float64) (distance, u, side float64) {
	u, side = b.nearest(x, y)
	across := math.Abs(side)
	if b.a.Ray { // the way to the disc's rim is not square to the spine
		return 0.7 * (across - math.Max(b.halfWidth(u), b.fin(u))), u, side
	}
	return across - b.halfWidth(u) - b.fin(u), u, side
}

// look is what the back of the animal looks like.
func (b *body) look(seed uint64, u, side float64) shade {
	half := math.Max(b.halfWidth(u), 1e-3)
	v := side / half
	l := b.a.LengthM
	back := shade{b.a.Light * (1.12 - 0.3*v*v), 0.45}
	if math.Abs(v) > 1 {
		back.light *= 1.05 // fins are thin
	}
	if b.a.Ray {
		if n := valueNoise(seed+11, u*l/0.024, side/0.024); n > 0.45 {
			back.light *= 1 + 0.35*smooth(0.45, 0.8, n)
		}
		if math.Abs(side) < 0.006 && u > 0.2 {
			back.light *= 0.72 // the row of thorns
		}
	} else {
		if n := valueNoise(seed+12, u*l/0.017, side/0.017); n > 0.25 {
			back.light *= 1 - 0.4*smooth(0.25, 0.7, n)
		}
		if saddle := math.Sin(2*math.Pi*u*7 + 1); saddle > 0.2 && u > 0.25 {
			back.light *= 1 - 0.18*smooth(0.2, 0.8, saddle)
		}
		if (u > 0.52 && u < 0.59 || u > 0.70 && u < 0.76) && math.Abs(side) < 0.005 {
			back.light *= 0.6 // dorsal fins from above
		}
	}
	at := b.along(u, side)
	d := math.Inf(1)
	for _, eye := range b.eyes {
		d = math.Min(d, math.Hypot(at[0]-eye[0], at[1]-eye[1]))
	}
	if d < 0.009 {
		back = back.mix(shade{0.06, 0}, 0.85*(1-smooth(0.004, 0.009, d)))
	}
	return back
}
