package conduction

import "math"

// mirrors holds, for one horizontal wavenumber k, what each slab sees at its
// two faces: the reflection coefficient of all that lies below (down) and
// above (up). gap = 1 − coefficient is carried beside it, because in a closed
// column both tend to 1 as k → 0 and their difference from 1 is the answer.
//
//	R_i = (K_i + R_{i+1}e^{−2kd})/(1 + K_i R_{i+1}e^{−2kd}),  K_i = (σ_i − σ_{i+1})/(σ_i + σ_{i+1})
//
// Only decaying exponentials occur, so that the recursion cannot overflow.
type mirrors struct {
	down, downGap, up, upGap []float64
	half                     []float64 // e^{−kd} of each slab
}

func newMirrors(n int) *mirrors {
	buf := make([]float64, 5*n)
	return &mirrors{buf[:n], buf[n : 2*n], buf[2*n : 3*n], buf[3*n : 4*n], buf[4*n:]}
}

func (m *mirrors) set(st *stack, k float64) {
	n := len(st.slabs)
	for i, s := range st.slabs {
		m.half[i] = math.Exp(-k * s.thickness())
	}
	m.down[n-1], m.downGap[n-1] = 0, 1
	if st.floor {
		m.down[n-1], m.downGap[n-1] = 1, 0
	}
	for i := n - 2; i >= 0; i-- {
		q, qGap := m.echo(st, k, i+1, m.down[i+1], m.downGap[i+1])
		den := onePlus(st.contrast[i], st.gain[i], q, qGap)
		m.down[i] = (st.contrast[i] + q) / den
		m.downGap[i] = st.loss[i] * qGap / den
	}
	m.up[0], m.upGap[0] = 0, 1
	if st.air {
		m.up[0], m.upGap[0] = 1, 0
	}
	for i := 1; i < n; i++ {
		q, qGap := m.echo(st, k, i-1, m.up[i-1], m.upGap[i-1])
		den := onePlus(-st.contrast[i-1], st.loss[i-1], q, qGap)
		m.up[i] = (q - st.contrast[i-1]) / den
		m.upGap[i] = st.gain[i-1] * qGap / den
	}
}

// echo returns q = R·e^{−2kd} of a wave that crosses slab i, is reflected and
// comes back, and 1 − q.
func (m *mirrors) echo(st *stack, k float64, i int, r, rGap float64) (q, qGap float64) {
	q = r * m.half[i] * m.half[i]
	return q, rGap + r*lost(k, st.slabs[i].thickness())
}

// lost is 1 − e^{−2kd}.
func lost(k, d float64) float64 { return -math.Expm1(-2 * k * d) }

// onePlus returns 1 + cq from gain = 1 + c and qGap = 1 − q without
// cancellation where c is close to −1.
func onePlus(c, gain, q, qGap float64) float64 {
	if c < 0 {
		return gain - c*qGap
	}
	return 1 + c*q
}

// wave is what a unit source sends through a slab at one k, beside its direct
// term: rise decays upward from the slab's bottom, fall downward from its top.
//
//	g(k, z) = [e^{−k|z−z0|}] + rise·e^{−k(z−bottom)} + fall·e^{−k(top−z)}
//
// riseD and fallD are their derivatives by the source's height, over k.
type wave struct{ rise, fall, riseD, fallD float64 }

// waveIn returns the wave of a source at height z0 of slab j in slab i.
func (m *mirrors) waveIn(st *stack, k float64, j int, z0 float64, i int) wave {
	s := st.slabs[j]
	ea, ec, ed := math.Exp(-k*(z0-s.bottomM)), math.Exp(-k*(s.topM-z0)), m.half[j]
	rd, ru := m.down[j], m.up[j]
	gap := m.downGap[j] + rd*m.upGap[j] + rd*ru*lost(k, s.thickness())
	w := wave{
		rise:  rd * (ea + ru*ec*ed) / gap,
		riseD: rd * (ru*ec*ed - ea) / gap,
		fall:  ru * (ec + rd*ea*ed) / gap,
		fallD: ru * (ec - rd*ea*ed) / gap,
	}
	switch {
	case i > j:
		return m.sendDown(st, k, j, i, ea+w.fall*ed, -ea+w.fallD*ed)
	case i < j:
		return m.sendUp(st, k, j, i, ec+w.rise*ed, ec+w.riseD*ed)
	}
	return w
}

// sendDown carries a downward wave of amplitude a at the bottom of slab j
// into slab i below.
func (m *mirrors) sendDown(st *stack, k float64, j, i int, a, aD float64) wave {
	var w wave
	for l := j + 1; l <= i; l++ {
		q, qGap := m.echo(st, k, l, m.down[l], m.downGap[l])
		t := st.gain[l-1] / onePlus(st.contrast[l-1], st.gain[l-1], q, qGap)
		w.fall, w.fallD = a*t, aD*t
		a, aD = w.fall*m.half[l], w.fallD*m.half[l]
		w.rise, w.riseD = m.down[l]*a, m.down[l]*aD
	}
	return w
}

// sendUp carries an upward wave of amplitude a at the top of slab j into slab
// i above.
func (m *mirrors) sendUp(st *stack, k float64, j, i int, a, aD float64) wave {
	var w wave
	for l := j - 1; l >= i; l-- {
		q, qGap := m.echo(st, k, l, m.up[l], m.upGap[l])
		t := st.loss[l] / onePlus(-st.contrast[l], st.loss[l], q, qGap)
		w.rise, w.riseD = a*t, aD*t
		a, aD = w.rise*m.half[l], w.riseD*m.half[l]
		w.fall, w.fallD = m.up[l]*a, m.up[l]*aD
	}
	return w
}
