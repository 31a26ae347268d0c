package rig

import "math"

// SilentCurrent is what flows through a silent pair, in amperes, all at least
// 0.
type SilentCurrent struct {
	Pair, DrivenPair int
	Driven           float64 // through the driven pair: the larger of its two electrodes
	Drive            float64 // what the driven pair sends through the silent one: the larger of its two electrodes
	Offset           float64 // at most, what the open-circuit offsets of all electrodes send through it
	SinglePole       bool    // what its positive electrode carries is less than half of what its negative one does
}

// rounding is the share of a current below which another one is an error of
// arithmetic.
const rounding = 1e-12

// Largest is both with the worst signs.
func (s *SilentCurrent) Largest() float64 { return s.Drive + s.Offset }

// SilentIn is the current of every silent pair in a state of the switch, with
// one pair driven. Electrodes that are tied to the driven pair are taken to be
// polarised like it; those of closed pairs not at all, which is the most that
// can flow. Each electrode's metal has, with either sign, up to half of the
// offset of a pair; the network is linear, so the worst is the sum of sizes.
func (r *Rig) SilentIn(state Silence, position, driven int) ([]SilentCurrent, error) {
	v := r.nominal()
	l, err := r.loadOf(&v, driven, state, false)
	if err != nil {
		return nil, err
	}
	if err := l.offsetUnits(); err != nil {
		return nil, err
	}
	i, _ := r.supplied(l, &v, position)
	offsets := r.offsetShares(l, &v, position)
	var out []SilentCurrent
	for k := range r.Pairs {
		if k == driven {
			continue
		}
		s := SilentCurrent{Pair: k, DrivenPair: driven}
		for _, c := range l.driven.contact {
			s.Driven = math.Max(s.Driven, math.Abs(l.perA[c]*i+l.own[c]))
		}
		if e, carries := l.silent[k]; carries {
			var size, most [2]float64
			for which, c := range e.contact {
				size[which] = math.Abs(l.perA[c]*i + l.own[c])
				for _, share := range offsets {
					most[which] += math.Abs(share[c]) * r.Electrodes.OffsetV / 2
				}
			}
			s.Drive, s.Offset = math.Max(size[0], size[1]), math.Max(most[0], most[1])
			if s.Drive < rounding*s.Driven {
				s.Drive = 0
			}
			s.SinglePole = size[0]+most[0] < (size[1]+most[1])/2
		}
		out = append(out, s)
	}
	return out, nil
}

// offsetShares are, for each contact, the currents that 1 V on its metal sends
// through all contacts, the supply connected: what they are with the switch
// open, and what the voltage at the open switch drives back through the supply.
func (r *Rig) offsetShares(l *load, v *values, position int) [][]float64 {
	out := make([][]float64, len(l.unit))
	for j, one := range l.unit {
		back := 0.0
		if !r.Supply.Constant { // a source of constant current lets no other current pass
			back = -(one.volt[l.plus] - one.volt[l.minus]) / (r.sourceOhm(v, position) + l.ohm)
		}
		out[j] = make([]float64, len(one.contacts))
		for i, c := range one.contacts {
			out[j][i] = c + l.perA[i]*back
		}
	}
	return out
}

// offsetUnits finds the states of a load with 1 V on the metal of each contact
// in turn, the switch open.
func (l *load) offsetUnits() error {
	kept := make([]float64, len(l.contacts))
	for i := range l.contacts {
		kept[i], l.contacts[i].emfV = l.contacts[i].emfV, 0
	}
	defer func() {
		for i := range l.contacts {
			l.contacts[i].emfV = kept[i]
		}
	}()
	l.unit = make([]state, len(l.contacts))
	for i := range l.contacts {
		l.contacts[i].emfV = 1
		one, err := l.stepped.solve(0, 1)
		if err != nil {
			return err
		}
		l.contacts[i].emfV, l.unit[i] = 0, one
	}
	return nil
}

// WorstSilent is, for every pair, its largest current in a state of the switch
// over the pairs that may be driven instead. There must be two pairs.
func (r *Rig) WorstSilent(state Silence, position int) ([]SilentCurrent, error) {
	worst := make([]SilentCurrent, len(r.Pairs))
	seen := make([]bool, len(r.Pairs))
	for driven := range r.Pairs {
		all, err := r.SilentIn(state, position, driven)
		if err != nil {
			return nil, err
		}
		for _, s := range all {
			if !seen[s.Pair] || s.Largest() > worst[s.Pair].Largest() {
				worst[s.Pair], seen[s.Pair] = s, true
			}
		}
	}
	return worst, nil
}

// OffsetThrough is what the offset of a pair drives through it where its legs
// are joined at the switch and nothing is driven.
func (r *Rig) OffsetThrough(pair int) float64 {
	return r.Electrodes.OffsetV / (r.PairOhm(pair) + 2*r.Cable.LegOhm)
}
