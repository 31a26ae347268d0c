package conduction

import "math"

// image is a mirrored electrode of weight w at height z. dir is +1 where it
// acts on what lies above it, −1 on what lies below; d is the weight of its
// derivative by the electrode's height (see [source.backed]).
type image struct{ z, w, d, dir float64 }

// expansion is the field of a source in one slab: the images nearer than span
// to a point on the axis exactly, and all the rest, which has no singularity
// nearer than that, as a regular harmonic function round that point:
//
//	Σ_l c_l·r^l·P_l(cosθ),  c_l = ∫ [(−1)^l·rise(k)e^{−k(zc−bottom)} + fall(k)e^{−k(top−zc)}] k^l/l! dk
//
// with rise and fall the layered kernel less its images. It holds to about
// 1e-12 for distances up to span/reachRatio.
type expansion struct {
	zc, span float64
	images   []image
	coef     []float64 // c_l·span^l; empty where the images are all there is
	wave     waveSeries
}

const (
	reachRatio = 5.0
	harmonics  = 25
	decades    = 38.0 // e^{−38} = 3e-17
)

// expand builds the expansion of slab i with images up to span from the
// centre; nil where there are too many.
func (sr *source) expand(i int, span float64) *expansion {
	st := sr.stack
	e := &expansion{zc: sr.centre(i), span: span}
	limit := sr.limit
	if span <= 2*sr.base { // the first two are always there, for others to lean on
		limit = 1 << 24
	}
	w, ok := imagesOf(st, sr.slab, sr.z0, i, span, limit)
	if !ok {
		return nil
	}
	s := st.slabs[i]
	if e.wave.rise = within(w.rise, span-(e.zc-s.bottomM)); len(e.wave.rise) > 0 {
		for _, t := range e.wave.rise {
			e.images = append(e.images, image{s.bottomM - t.s, t.w, t.d, 1})
		}
	}
	if e.wave.fall = within(w.fall, span-(s.topM-e.zc)); len(e.wave.fall) > 0 {
		for _, t := range e.wave.fall {
			e.images = append(e.images, image{s.topM + t.s, t.w, t.d, -1})
		}
	}
	if !math.IsInf(span, 1) {
		e.coef = sr.moments(i, e)
	}
	return e
}

// within keeps the terms nearer than reach.
func within(x series, reach float64) series {
	n := 0
	for n < len(x) && (math.IsInf(reach, 1) || x[n].s < reach) {
		n++
	}
	return x[:n]
}

// at evaluates the expansion; direct is added by the caller.
func (e *expansion) at(sr *source, rho2, z float64) unit {
	return e.regular(sr.imageUnit(unit{}, e.images, rho2, z), rho2, z)
}

// regular adds the remainder. With S_l = r^l P_l and Q_l = ∂S_l/(ρ∂ρ), in
// units of span:
//
//	(l+1)S_{l+1} = (2l+1)zS_l − lr²S_{l−1},  ∂S_l/∂z = lS_{l−1}
//	(l+1)Q_{l+1} = (2l+1)zQ_l − lr²Q_{l−1} − 2lS_{l−1}
func (e *expansion) regular(u unit, rho2, z float64) unit {
	return e.regularTo(len(e.coef), u, rho2, z)
}

// regularTo is regular with fewer terms: within span/reachRatio, n of them leave
// about reachRatio^−n.
func (e *expansion) regularTo(n int, u unit, rho2, z float64) unit {
	coef := e.coef[:min(n, len(e.coef))]
	if len(coef) == 0 {
		return u
	}
	inv := 1 / e.span
	zs := (z - e.zc) * inv
	r2 := rho2*inv*inv + zs*zs
	sPrev, s, qPrev, q := 1.0, zs, 0.0, 0.0
	pot, dz, dr := coef[0], 0.0, 0.0
	for l := 1; l < len(coef); l++ {
		c, n := coef[l], float64(l)
		pot += c * s
		dz += c * n * sPrev
		dr += c * q
		over := recip[l+1]
		sNext := ((2*n+1)*zs*s - n*r2*sPrev) * over
		qNext := ((2*n+1)*zs*q - n*r2*qPrev - 2*n*sPrev) * over
		sPrev, s, qPrev, q = s, sNext, q, qNext
	}
	u.pot += pot
	u.z -= dz * inv
	u.rho -= dr * inv * inv
	return u
}

var recip = func() (r [harmonics + 1]float64) {
	for i := 1; i < len(r); i++ {
		r[i] = 1 / float64(i)
	}
	return r
}()

// smallestScale is the wavenumber below which every kernel of the stack is
// smooth: currents spread sideways over at most Σd·σmax/σmin.
func (st *stack) smallestScale() float64 {
	lo, hi, depth := math.Inf(1), 0.0, 0.0
	for _, s := range st.slabs {
		lo, hi = math.Min(lo, s.sigma), math.Max(hi, s.sigma)
		if t := s.thickness(); !math.IsInf(t, 1) {
			depth += t
		}
	}
	return lo / hi / depth
}

// remainder returns what is left of the kernel at k when the images of e are
// taken out, with the electrode's shape: rise and fall at the slab's faces.
func (sr *source) remainder(m *mirrors, i int, e *expansion, k float64) (rise, fall float64) {
	m.set(sr.stack, k)
	w := m.waveIn(sr.stack, k, sr.slab, sr.z0, i)
	for _, t := range e.wave.rise {
		x := math.Exp(-k * t.s)
		w.rise -= t.w * x
		w.riseD -= t.d * x
	}
	for _, t := range e.wave.fall {
		x := math.Exp(-k * t.s)
		w.fall -= t.w * x
		w.fallD -= t.d * x
	}
	if sr.a == 0 {
		return w.rise, w.fall
	}
	shape := sinc(k * sr.a)
	rise, fall = w.rise*shape, w.fall*shape
	if sr.backed {
		back := backKernel(k * sr.a)
		rise += w.riseD * back
		fall += w.fallD * back
	}
	return rise, fall
}

func sinc(x float64) float64 {
	if math.Abs(x) < 1e-4 {
		return 1 - x*x/6
	}
	return math.Sin(x) / x
}

// backKernel is k·M(k) of [backUnit] at u = ka: (2/π)∫₀¹ artanh(x) sin(ux) dx.
func backKernel(u float64) float64 {
	sum := 0.0
	if u < 1 {
		odd, f := 0.0, u
		for l := 1; l < 30; l += 2 {
			odd += 1 / float64(l)
			sum += f * odd / float64(l+1)
			f *= -u * u / float64((l+1)*(l+2))
		}
		return 2 / math.Pi * sum
	}
	// x = tanh v: an even, smooth integrand over the whole line, for which the
	// trapezoidal rule converges exponentially.
	const h = 0.05
	for n := 1; n <= 420; n++ {
		v := h * float64(n)
		sech := 1 / math.Cosh(v)
		sum += v * sech * sech * math.Sin(u*math.Tanh(v))
	}
	return 2 / math.Pi * h * sum
}

// moments integrates the coefficients of the remainder's expansion.
func (sr *source) moments(i int, e *expansion) []float64 {
	st := sr.stack
	s := st.slabs[i]
	kMax := decades / e.span
	ks, ws := panels(0.05*math.Min(kMax, st.smallestScale()), kMax)
	m := newMirrors(len(st.slabs))
	coef := make([]float64, harmonics)
	pool, depth := sr.pool()
	for n, k := range ks {
		rise, fall := sr.remainder(m, i, e, k)
		if rise != 0 {
			rise *= ws[n] * math.Exp(-k*(e.zc-s.bottomM))
		}
		if fall != 0 {
			fall *= ws[n] * math.Exp(-k*(s.topM-e.zc))
		}
		f := 1.0
		coef[0] += rise + fall - ws[n]*pool/k
		for l := 1; l < harmonics; l++ {
			f *= k * e.span / float64(l)
			rise = -rise
			coef[l] += (rise + fall) * f
		}
	}
	coef[0] += pool * math.Log(kMax*depth)
	return coef
}

// pool is a in the part a/k of the kernel of a closed column that diverges as
// k → 0, and the depth L of the column. Integrals of the potential up to kMax
// leave a/k out and add a·ln(kMax·L): what then lacks is a constant, the same
// for all sources per ampere, which vanishes because closed columns take only
// balanced currents.
func (sr *source) pool() (a, depth float64) {
	st := sr.stack
	if st.open() {
		return 0, 1
	}
	for _, s := range st.slabs {
		depth += s.thickness()
	}
	return 2 * st.slabs[sr.slab].sigma / st.conductance(), depth
}
