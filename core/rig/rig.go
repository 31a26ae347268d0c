package rig

import "math"

// Rig is everything that feeds the pairs.
type Rig struct {
	WaterSPerM, WaterSPerMSD float64

	Supply     Supply
	Limiting   [2]float64 // Ω, in the positive and the negative leg
	LimitingBy float64    // relative tolerance of the limiting resistors, temperature included
	Steps      []Step     // of the ladder, or settings; the largest current first
	StepsBy    float64    // relative tolerance of the steps' resistors, temperature included

	Cable      Cable
	Electrodes Electrodes
	Pairs      []Pair
	AmmeterOhm float64 // of a meter that stays in the positive leg
	Silent     Silence
	DiverOhm   float64
}

// Supply is a battery with a resistance of its own, or a source of constant
// current.
type Supply struct {
	Constant                bool
	VoltageV, FullV, EmptyV float64 // battery, open circuit
	InternalOhm             float64 // battery
	ConstantBy              float64 // constant current: relative tolerance
	ComplianceV             float64 // constant current: the most voltage it gives
}

// Step is one position of the switch.
type Step struct {
	Label  string
	Ohm    []float64 // resistors that this position adds to those of all before
	Ampere float64   // setting of a constant-current supply
}

// Cable is the two cores to each pair. A leak of 0 means none; each sits half
// way along the cable.
type Cable struct {
	LegOhm, LeakOhm, LeakToWaterOhm float64
}

// Silence says what the switch does with the pairs that are not driven.
type Silence string

// The three states. With OpenOne the leg of the negative electrode stays
// connected to that of the driven pair; with Closed a pair's two legs are joined
// to each other and to nothing else.
const (
	OpenBoth Silence = "open_both"
	OpenOne  Silence = "open_one"
	Closed   Silence = "closed"
)

// values is one possible truth about a rig: the nominal one, a corner of the
// tolerances, or a draw.
type values struct {
	sPerM         float64
	polarisationV float64
	emfV          [][2]float64 // of each pair's electrodes; nil: none
	limiting      [2]float64
	steps         [][]float64
	constant      float64 // factor of a constant-current supply's settings
	voltageV      float64
}

func (r *Rig) nominal() values {
	v := values{sPerM: r.WaterSPerM, polarisationV: r.Electrodes.PolarisationV, limiting: r.Limiting, constant: 1, voltageV: r.Supply.VoltageV}
	if r.Supply.Constant {
		v.voltageV = r.Supply.ComplianceV
	}
	for _, s := range r.Steps {
		v.steps = append(v.steps, s.Ohm)
	}
	return v
}

// chain is the resistance of the ladder at a position.
func (v *values) chain(position int) float64 {
	total := 0.0
	for _, step := range v.steps[:position+1] {
		total += sum(step)
	}
	return total
}

// sourceOhm is all that lies between the battery's poles and the switch.
func (r *Rig) sourceOhm(v *values, position int) float64 {
	if r.Supply.Constant {
		return 0
	}
	return r.Supply.InternalOhm + v.limiting[0] + v.limiting[1] + v.chain(position) + r.AmmeterOhm
}

// rails are the two conductors of the switch to which the driven pair's legs
// are tied.
type rails struct{ plus, minus int }

// ends are a pair's legs where they reach the plate, and its contacts.
type ends struct {
	leg, metal [2]int
	contact    [2]int // places in the network's list
}

// wired is a network from the switch to the water.
type wired struct {
	*network
	rails
	driven ends
	silent map[int]ends // those that carry any current
}

// wire builds everything from the switch to the water. Silent pairs that cannot
// carry a current are left out, and with alone all of them.
func (r *Rig) wire(v *values, driven int, silence Silence, alone bool) *wired {
	w := &wired{network: newNetwork(), silent: map[int]ends{}}
	w.plus, w.minus = w.node(), w.node()
	w.driven = r.pairOf(w.network, v, driven)
	r.legs(w.network, [2]int{w.plus, w.minus}, w.driven)
	w.polarise(w.driven.contact[0], v.polarisationV/2)
	w.polarise(w.driven.contact[1], -v.polarisationV/2)
	for k := range r.Pairs {
		if k == driven || alone || silence == OpenBoth && r.Cable.LeakOhm == 0 && r.Cable.LeakToWaterOhm == 0 {
			continue
		}
		e := r.pairOf(w.network, v, k)
		w.silent[k] = e
		switch silence {
		case Closed:
			joint := w.node()
			r.legs(w.network, [2]int{joint, joint}, e)
		case OpenOne:
			r.legs(w.network, [2]int{w.node(), w.minus}, e)
			w.polarise(e.contact[1], -v.polarisationV/2)
		default:
			r.legs(w.network, [2]int{w.node(), w.node()}, e)
		}
	}
	w.water = r.waterOhm(w.contacts, v.sPerM)
	return w
}

func (n *network) polarise(contact int, volt float64) { n.contacts[contact].emfV += volt }

// pairOf adds a pair's two electrodes.
func (r *Rig) pairOf(n *network, v *values, pair int) ends {
	var e ends
	for which := range 2 {
		e.metal[which] = n.node()
		e.leg[which] = e.metal[which]
		e.contact[which] = len(n.contacts)
		c := contact{pair: pair, which: which, node: e.metal[which]}
		if v.emfV != nil {
			c.emfV = v.emfV[pair][which]
		}
		n.contacts = append(n.contacts, c)
	}
	return e
}

// legs are a pair's two cores: half of each on either side of the leaks.
func (r *Rig) legs(n *network, switched [2]int, e ends) {
	c := r.Cable
	if c.LeakOhm == 0 && c.LeakToWaterOhm == 0 {
		for which := range 2 {
			n.resist(switched[which], e.leg[which], c.LegOhm)
		}
		return
	}
	var middle [2]int
	for which := range 2 {
		middle[which] = n.node()
		n.resist(switched[which], middle[which], c.LegOhm/2)
		n.resist(middle[which], e.leg[which], c.LegOhm/2)
		if c.LeakToWaterOhm > 0 {
			n.resist(middle[which], farAway, c.LeakToWaterOhm)
		}
	}
	if c.LeakOhm > 0 {
		n.resist(middle[0], middle[1], c.LeakOhm)
	}
}

// load is what the supply sees from the switch on: a resistance with a voltage
// of its own, and what each contact carries for every ampere and without any.
type load struct {
	*wired
	ohm, openV float64
	perA, own  []float64
	unit       []state // with 1 V on each contact; see offsetUnits
	stepped    *solver
}

// loadOf is the load of a driven pair, after Thévenin: the network is linear,
// and every position of the switch only sets the current that goes into it.
func (r *Rig) loadOf(v *values, driven int, silence Silence, alone bool) (*load, error) {
	w := r.wire(v, driven, silence, alone)
	s, err := w.factor()
	if err != nil {
		return nil, err
	}
	one, err := s.solve(0, 0, injection{w.plus, w.minus, 1})
	if err != nil {
		return nil, err
	}
	open, err := s.solve(0, 1)
	if err != nil {
		return nil, err
	}
	return &load{
		wired: w, ohm: one.volt[w.plus] - one.volt[w.minus], openV: open.volt[w.plus] - open.volt[w.minus],
		perA: one.contacts, own: open.contacts, stepped: s,
	}, nil
}

// supplied is the current that the supply drives into a load, and the voltage
// at the switch. Polarisation can stop it, not turn it round. A supply of
// constant current that reaches its compliance gives what that drives.
func (r *Rig) supplied(l *load, v *values, position int) (ampere, volt float64) {
	if r.Supply.Constant {
		ampere = r.Steps[position].Ampere * v.constant
		if most := (v.voltageV - l.openV) / l.ohm; ampere > most {
			ampere = most
		}
	} else {
		ampere = (v.voltageV - l.openV) / (r.sourceOhm(v, position) + l.ohm)
	}
	ampere = math.Max(ampere, 0)
	return ampere, l.openV + ampere*l.ohm
}

// through is the current through the driven pair: the mean of what leaves its
// positive and what enters its negative electrode. Where leaks leave too little
// voltage for the polarisation, nothing flows: it does not drive back.
func (l *load) through(ampere float64) float64 {
	if ampere == 0 {
		return 0
	}
	return math.Max(0, l.mean(ampere))
}

func (l *load) mean(ampere float64) float64 {
	plus, minus := l.driven.contact[0], l.driven.contact[1]
	return (l.perA[plus]-l.perA[minus])/2*ampere + (l.own[plus]-l.own[minus])/2
}
