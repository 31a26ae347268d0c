package rig

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// farAway is the node of the water far away, whose potential is 0.
const farAway = 0

// network is resistors, sources of voltage and electrodes between nodes.
type network struct {
	nodes     int // with farAway
	resistors []resistor
	sources   []source
	contacts  []contact
	water     [][]float64 // Ω, between contacts
}

type resistor struct {
	a, b int
	ohm  float64
}

// source drives its current out of its plus node.
type source struct {
	plus, minus int
	volt, ohm   float64
}

// contact is a metal electrode: its node, and what its metal has against the
// water beside it while no current flows.
type contact struct {
	pair, which int // which: 0 the positive electrode of the pair, 1 the negative
	node        int
	emfV        float64
}

func newNetwork() *network { return &network{nodes: 1} }

func (n *network) node() int {
	n.nodes++
	return n.nodes - 1
}

// resist puts a resistor between two nodes; 0 Ω joins them.
func (n *network) resist(a, b int, ohm float64) {
	if ohm > 0 {
		n.resistors = append(n.resistors, resistor{a, b, ohm})
	} else {
		n.drive(a, b, 0, 0)
	}
}

// drive puts a source with a resistance of its own between two nodes, and says
// which one it is.
func (n *network) drive(plus, minus int, volt, ohm float64) int {
	n.sources = append(n.sources, source{plus, minus, volt, ohm})
	return len(n.sources) - 1
}

// state is a solved network: potentials of nodes, currents of sources, and
// currents out of contacts into the water.
type state struct {
	volt, sources, contacts []float64
}

// solver is a network's matrix, factored once and asked for many states.
type solver struct {
	n      *network
	lu     blas64.General
	pivots []int
}

var errNetwork = errors.New("the network has no single solution")

// factor sets up modified nodal analysis. The unknowns are the potentials of
// all nodes but farAway, the currents of sources, the currents of contacts.
func (n *network) factor() (*solver, error) {
	v, s := n.nodes-1, len(n.sources)
	size := v + s + len(n.contacts)
	if size == 0 {
		return nil, errNetwork
	}
	a := blas64.General{Rows: size, Cols: size, Stride: size, Data: make([]float64, size*size)}
	add := func(i, j int, x float64) { a.Data[i*size+j] += x }
	for _, r := range n.resistors {
		g := 1 / r.ohm
		for _, end := range [][2]int{{r.a, r.b}, {r.b, r.a}} {
			if end[0] == farAway {
				continue
			}
			add(end[0]-1, end[0]-1, g)
			if end[1] != farAway {
				add(end[0]-1, end[1]-1, -g)
			}
		}
	}
	for k, src := range n.sources {
		if src.plus != farAway {
			add(src.plus-1, v+k, -1)
			add(v+k, src.plus-1, 1)
		}
		if src.minus != farAway {
			add(src.minus-1, v+k, 1)
			add(v+k, src.minus-1, -1)
		}
		add(v+k, v+k, src.ohm)
	}
	for i, c := range n.contacts {
		add(c.node-1, v+s+i, 1)
		add(v+s+i, c.node-1, 1)
		for j := range n.contacts {
			add(v+s+i, v+s+j, -n.water[i][j])
		}
	}
	out := &solver{n: n, lu: a, pivots: make([]int, size)}
	if !lapack64.Getrf(a, out.pivots) {
		return nil, errNetwork
	}
	return out, nil
}

// injection is a current that is led into one node and out of another.
type injection struct {
	into, outOf int
	ampere      float64
}

// solve finds the state with the network's sources of voltage and the contacts'
// own, each scaled, and with injected currents.
func (s *solver) solve(sources, emfs float64, injected ...injection) (state, error) {
	n := s.n
	v, k := n.nodes-1, len(n.sources)
	all := make([]float64, v+k+len(n.contacts))
	for i, src := range n.sources {
		all[v+i] = src.volt * sources
	}
	for i, c := range n.contacts {
		all[v+k+i] = c.emfV * emfs
	}
	for _, in := range injected {
		if in.into != farAway {
			all[in.into-1] += in.ampere
		}
		if in.outOf != farAway {
			all[in.outOf-1] -= in.ampere
		}
	}
	lapack64.Getrs(blas.NoTrans, s.lu, blas64.General{Rows: len(all), Cols: 1, Stride: 1, Data: all}, s.pivots)
	for _, value := range all {
		if math.IsNaN(value) || math.IsInf(value, 0) {
			return state{}, errNetwork
		}
	}
	return state{volt: append([]float64{0}, all[:v]...), sources: all[v : v+k], contacts: all[v+k:]}, nil
}
