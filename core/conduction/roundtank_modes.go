package conduction

import (
	"math"
	"sync"
)

// roundMode is a mode of the circle, J_m(κρ)cos mθ or sin mθ, with κ = j′_ms/R.
type roundMode struct {
	m    int
	kR   float64 // κR
	norm float64 // of the mode's square over the circle of radius 1, over all θ
}

// modesOfCircle lists the modes with κR up to 64, besides the constant, by m
// and then κ: the zeros of J′_m by steps of 1, in which there is at most one, and Newton's
// steps on Bessel's equation.
//
// Source: Abramowitz and Stegun 9.1.1 and 11.4.5; test: their table 9.5.
var modesOfCircle = sync.OnceValue(func() (out []roundMode) {
	const last = 64
	for m := 0; m <= last; m++ {
		lo := math.Max(float64(m), 1)
		for lo < last {
			hi := lo + 1
			if besselSlope(m, lo)*besselSlope(m, hi) >= 0 {
				lo = hi
				continue
			}
			if x := slopeZero(m, lo, hi); x <= last {
				j, n := math.Jn(m, x), float64(m)
				around := 2 * math.Pi
				if m > 0 {
					around = math.Pi
				}
				out = append(out, roundMode{m, x, around / 2 * (1 - n*n/(x*x)) * j * j})
			}
			lo = hi
		}
	}
	return out
})

// besselSlope is J′_m(x).
func besselSlope(m int, x float64) float64 {
	if m == 0 {
		return -math.J1(x)
	}
	return (math.Jn(m-1, x) - math.Jn(m+1, x)) / 2
}

// slopeZero is the zero of J′_m between lo and hi.
func slopeZero(m int, lo, hi float64) float64 {
	x, below := (lo+hi)/2, besselSlope(m, lo) > 0
	for range 100 {
		v := besselSlope(m, x)
		if (v > 0) == below {
			lo = x
		} else {
			hi = x
		}
		n := float64(m)
		next := x + v/(v/x+(1-n*n/(x*x))*math.Jn(m, x)) // J″ = −J′/x − (1 − m²/x²)J
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if math.Abs(next-x) <= 1e-16*x {
			return next
		}
		x = next
	}
	return x
}

// roundModes are the sources' sums over the modes of the circle.
type roundModes struct {
	list   []roundMode
	groups []modeGroup
}

// modeGroup is the sources of one height and diameter.
type modeGroup struct {
	sr       *source
	cos, sin []float64 // by mode
	waves    []modeWaves
}

// modeWaves is what a group sends through a slab, by mode, with its shape.
type modeWaves struct{ rise, fall, direct, back []float64 }

func (t *roundTank) newModes() *roundModes {
	last := t.frame.digits / t.frame.band * t.frame.radius
	out := &roundModes{}
	for _, md := range modesOfCircle() {
		if md.kR <= last {
			out.list = append(out.list, md)
		}
	}
	st := t.s.stack
	for j, sr := range t.s.sources {
		if firstOf(t.s.sources, sr) < j {
			continue
		}
		g := modeGroup{sr: sr, cos: make([]float64, len(out.list)), sin: make([]float64, len(out.list)), waves: make([]modeWaves, len(st.slabs))}
		for i, other := range t.s.sources {
			if other == sr {
				t.addTo(&g, out.list, t.s.electrodes[i])
			}
		}
		m := newMirrors(len(st.slabs))
		for i := range g.waves {
			w := &g.waves[i]
			for _, md := range out.list {
				k := md.kR / t.frame.radius
				rise, fall := sr.remainder(m, i, &expansion{}, k)
				direct, back := 0.0, 0.0
				if i == sr.slab {
					direct = sinc(k * sr.a)
					if sr.backed {
						back = backKernel(k * sr.a)
					}
				}
				w.rise, w.fall = append(w.rise, rise), append(w.fall, fall)
				w.direct, w.back = append(w.direct, direct), append(w.back, back)
			}
		}
		out.groups = append(out.groups, g)
	}
	return out
}

// addTo adds an electrode to the sums of its group.
func (t *roundTank) addTo(g *modeGroup, list []roundMode, el Electrode) {
	radius := t.frame.radius
	rho, c1, s1 := t.polar(el.At)
	cos, sin := make([]float64, len(list)+1), make([]float64, len(list)+1)
	rounds(c1, s1, cos, sin)
	sigma := t.s.stack.slabs[g.sr.slab].sigma
	for q, md := range list {
		f := el.CurrentA / sigma * math.Jn(md.m, md.kR*rho/radius) / (md.norm * radius * radius * 2 * md.kR / radius)
		g.cos[q] += f * cos[md.m]
		g.sin[q] += f * sin[md.m]
	}
}

// across sums over the modes of the circle,
//
//	φ = column(z) + Σ_j I_j/σ_j Σ_q ψ_q(x)ψ_q(x_j)/∫ψ_q² · g(κ_q, z)/2κ_q
//
// with g the layered kernel, that of an open stack where the stack is open. A term
// falls as e^{−κ|z − z_j|}.
func (t *roundTank) across(slab int, p Point) (phi float64, e Vector) {
	t.modeOnce.Do(func() { t.modes = t.newModes() })
	phi, e.Z = t.column.at(p.Z)
	radius, s := t.frame.radius, t.s.stack.slabs[slab]
	rho, c1, s1 := t.polar(p)
	list := t.modes.list
	cos, sin := make([]float64, len(list)+1), make([]float64, len(list)+1)
	rounds(c1, s1, cos, sin)
	var radial, along float64
	for q, md := range list {
		k := md.kR / radius
		up, down := math.Exp(-k*(p.Z-s.bottomM)), math.Exp(-k*(s.topM-p.Z))
		var pot, turn, rise float64 // by cos, by the other of cos and sin, slope along z
		c, sn := cos[md.m], sin[md.m]
		for gi := range t.modes.groups {
			g := &t.modes.groups[gi]
			w := &g.waves[slab]
			v, dv := 0.0, 0.0
			if x := w.rise[q]; x != 0 {
				v += x * up
				dv -= k * x * up
			}
			if x := w.fall[q]; x != 0 {
				v += x * down
				dv += k * x * down
			}
			if slab == g.sr.slab {
				side := math.Copysign(1, p.Z-g.sr.z0)
				x := (w.direct[q] + side*w.back[q]) * math.Exp(-k*math.Abs(p.Z-g.sr.z0))
				v += x
				dv -= side * k * x
			}
			a := g.cos[q]*c + g.sin[q]*sn
			pot += a * v
			rise += a * dv
			turn += (g.cos[q]*sn - g.sin[q]*c) * v
		}
		x := k * rho
		j, slope := math.Jn(md.m, x), besselSlope(md.m, x)
		phi += j * pot
		radial -= k * slope * pot
		along += float64(md.m) * j / rho * turn
		e.Z -= j * rise
	}
	e.X = radial*c1 - along*s1
	e.Y = radial*s1 + along*c1
	return phi, e
}
