package conduction

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"
)

// slab is one layer of the stack in absolute heights; ±Inf where it has no end.
type slab struct{ topM, bottomM, sigma float64 }

func (s slab) thickness() float64 { return s.topM - s.bottomM }

// stack is a medium as the solvers see it: conducting slabs from the top down,
// with air (or nothing) above and an insulator (or nothing) below.
type stack struct {
	slabs []slab
	air   bool // the top of the first slab insulates
	floor bool // the bottom of the last slab insulates
	// contrast[i] = (σ_i − σ_{i+1})/(σ_i + σ_{i+1}) at the interface under slab
	// i; gain = 1 + contrast and loss = 1 − contrast without cancellation.
	contrast, gain, loss []float64

	farOnce sync.Once
	far     float64
}

func newStack(m Medium) *stack {
	st := &stack{air: !math.IsInf(m.DepthM, 1)}
	water := slab{topM: m.DepthM, bottomM: 0, sigma: m.WaterSPerM}
	if m.WaterBelow {
		water.bottomM = math.Inf(-1)
	}
	st.slabs = append(st.slabs, water)
	st.floor = len(m.Layers) == 0 && !m.WaterBelow
	depth := 0.0
	for _, l := range m.Layers {
		if l.SPerM == 0 { // nothing below an insulator carries current
			st.floor = true
			break
		}
		next := slab{topM: -depth, bottomM: -depth - l.ThicknessM, sigma: l.SPerM}
		depth += l.ThicknessM
		if last := &st.slabs[len(st.slabs)-1]; len(st.slabs) > 1 && last.sigma == next.sigma {
			last.bottomM = next.bottomM // equal neighbours are one layer
			continue
		}
		st.slabs = append(st.slabs, next)
	}
	for i := 0; i+1 < len(st.slabs); i++ {
		above, below := st.slabs[i].sigma, st.slabs[i+1].sigma
		// Divide through by the larger: sums of subnormal or huge values stay finite.
		top := math.Max(above, below)
		a, b := above/top, below/top
		st.contrast = append(st.contrast, (a-b)/(a+b))
		st.gain = append(st.gain, 2*a/(a+b))
		st.loss = append(st.loss, 2*b/(a+b))
	}
	return st
}

// farM is the horizontal distance beyond which the current of a source flows level to
// 1e-16: that of the first standing wave falls as e^−k₁ρ. Only in a closed column it does.
func (st *stack) farM() float64 {
	st.farOnce.Do(func() {
		st.far = math.Inf(1)
		if !st.open() {
			slack := float64(len(st.slabs)-1) / 2
			k := (&standing{stack: st}).root(math.Pi, math.Max(0, 1-slack)*math.Pi/st.height(), (1+slack)*math.Pi/st.height())
			st.far = 37 / k
		}
	})
	return st.far
}

// open reports whether current can leave towards infinity: upward through
// unbounded water or downward through a conducting basement.
func (st *stack) open() bool {
	return !st.air || !st.floor
}

// slabAt returns the slab of a height; an interface belongs to the slab above.
func (st *stack) slabAt(z float64) (int, bool) {
	if math.IsNaN(z) || z > st.slabs[0].topM {
		return 0, false
	}
	for i, s := range st.slabs {
		if z >= s.bottomM {
			return i, true
		}
	}
	return 0, false
}

func (st *stack) extent() string {
	top, bottom := st.slabs[0].topM, st.slabs[len(st.slabs)-1].bottomM
	switch {
	case math.IsInf(top, 1) && math.IsInf(bottom, -1):
		return "it has no bounds"
	case math.IsInf(top, 1):
		return fmt.Sprintf("it reaches from %g m upward", bottom)
	case math.IsInf(bottom, -1):
		return fmt.Sprintf("it reaches from %g m downward", top)
	}
	return fmt.Sprintf("it reaches from %g m to %g m", bottom, top)
}

// finiteSlabs counts the slabs with two ends, and returns the thinnest.
func (st *stack) finiteSlabs() (n int, thinnest float64) {
	thinnest = math.Inf(1)
	for _, s := range st.slabs {
		if t := s.thickness(); !math.IsInf(t, 1) {
			n++
			thinnest = math.Min(thinnest, t)
		}
	}
	return n, thinnest
}

// conductance returns Σσd over the finite slabs, in siemens.
func (st *stack) conductance() float64 {
	sum := 0.0
	for _, s := range st.slabs {
		if t := s.thickness(); !math.IsInf(t, 1) {
			sum += s.sigma * t
		}
	}
	return sum
}

// Key returns a text that is equal exactly for media with the same field per
// ampere, apart from the factor 1/WaterSPerM: only ratios of conductivities
// count. It serves as a key for keeping kernels.
func (m Medium) Key() string {
	var b strings.Builder
	num := func(x float64) {
		b.WriteString(strconv.FormatFloat(x, 'x', -1, 64))
		b.WriteByte(' ')
	}
	num(m.DepthM)
	if m.WaterBelow {
		b.WriteString("water-below ")
	}
	for _, l := range m.Layers {
		num(l.ThicknessM)
		num(l.SPerM / m.WaterSPerM)
	}
	if e := m.Enclosure; e != nil {
		b.WriteString("walls ")
		num(e.SizeXM)
		num(e.SizeYM)
		num(e.DiameterM)
		num(e.CentreXM)
		num(e.CentreYM)
	}
	return strings.TrimSpace(b.String())
}
