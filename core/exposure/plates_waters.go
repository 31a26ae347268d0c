package exposure

import (
	"math"
	"slices"

	"brinefield/core/conduction"
)

// Solving plates takes seconds, and a season may have as many waters as trials:
// casts and tides. What the plates do to the field of a pair, per ampere and
// times the water's conductivity, depends only on the ratios of the bottom's
// conductivities to the water's and on the depth, and smoothly. So where more
// than [ownWaters] waters share the same plates, it is solved for a few media
// ("nodes") at Chebyshev points of the ratio and the depth, and interpolated.

// ownWaters is up to how many waters are each solved by themselves.
const ownWaters = 3

// share is how much of a node's response goes into a trial's.
type share struct {
	node   int
	weight float64
}

// waterMix is the media that are solved and what each of the waters takes of them.
type waterMix struct {
	nodes  []conduction.Medium
	shares [][]share // by water, as given
	own    []bool    // by water: solved for that very water
}

// mixWaters chooses the media to be solved for some waters, of one kind of
// bottom. Equal media, but for a common factor, are one.
func mixWaters(waters []conduction.Medium) waterMix {
	mix := waterMix{shares: make([][]share, len(waters)), own: make([]bool, len(waters))}
	first := make(map[string]int) // by key, the first water that has it
	var distinct []int
	same := make([]int, len(waters))
	for i, m := range waters {
		key := m.Key()
		if j, ok := first[key]; ok {
			same[i] = j
			continue
		}
		first[key], same[i] = i, i
		distinct = append(distinct, i)
	}
	for _, group := range byDepth(waters, distinct) {
		mix.add(waters, group, len(distinct))
	}
	for i, j := range same {
		mix.shares[i], mix.own[i] = mix.shares[j], mix.own[j]
	}
	return mix
}

// deepest is how much deeper than the shallowest a water of one group may be.
// The mirror image of a place above a node's surface (see response.at) is then
// still well above the plate.
const deepest = 1.5

// byDepth parts waters into groups of similar depth.
func byDepth(waters []conduction.Medium, list []int) [][]int {
	order := slices.Clone(list)
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case waters[a].DepthM < waters[b].DepthM:
			return -1
		case waters[a].DepthM > waters[b].DepthM:
			return 1
		}
		return a - b
	})
	var out [][]int
	start := 0
	for i := range order {
		if waters[order[i]].DepthM > deepest*waters[order[start]].DepthM {
			out = append(out, order[start:i])
			start = i
		}
	}
	return append(out, order[start:])
}

// add solves the waters of a group by themselves where they are few, or fewer
// than the nodes would be.
func (mix *waterMix) add(waters []conduction.Medium, group []int, distinct int) {
	g := newWaterGrid(waters, group)
	if distinct <= ownWaters || g.size() >= len(group) {
		slices.Sort(group)
		for _, i := range group {
			mix.shares[i], mix.own[i] = []share{{len(mix.nodes), 1}}, true
			mix.nodes = append(mix.nodes, waters[i])
		}
		return
	}
	from := len(mix.nodes)
	mix.nodes = append(mix.nodes, g.media(waters[group[0]])...)
	for _, i := range group {
		mix.shares[i] = g.weigh(waters[i], from)
	}
}

// waterGrid is a grid of media: up to two ratios of conductivities, and the
// depth. Where the ratios of all waters lie on one line (one sediment on one
// rock under water that changes; or a sediment that keeps its ratio), the
// second follows from the first.
type waterGrid struct {
	axes    [3]chebAxis // of the upper layer's ratio, the lower layer's, the depth
	follows bool        // the second ratio is slope·(first − at0) + at1
	slope   float64
	at      [2]float64
}

// newWaterGrid spans the waters of a group.
func newWaterGrid(waters []conduction.Medium, group []int) *waterGrid {
	g := &waterGrid{}
	var lo, hi [3]float64
	for k := range lo {
		lo[k], hi[k] = math.Inf(1), math.Inf(-1)
	}
	var first, last [2]float64 // the waters of the smallest and the largest first ratio
	for _, i := range group {
		r := ratios(waters[i])
		v := [3]float64{r[0], r[1], waters[i].DepthM}
		if v[0] < lo[0] {
			first = r
		}
		if v[0] > hi[0] {
			last = r
		}
		for k := range v {
			lo[k], hi[k] = math.Min(lo[k], v[k]), math.Max(hi[k], v[k])
		}
	}
	if last[0] > first[0] {
		g.slope, g.at, g.follows = (last[1]-first[1])/(last[0]-first[0]), first, true
		for _, i := range group {
			r := ratios(waters[i])
			g.follows = g.follows && math.Abs(g.second(r[0])-r[1]) <= 1e-9*(1+r[1])
		}
	}
	if g.follows {
		lo[1], hi[1] = 0, 0
	}
	g.axes[0] = newChebAxis(contrast(lo[0]), contrast(hi[0]), contrastSteps[:])
	g.axes[1] = newChebAxis(contrast(lo[1]), contrast(hi[1]), contrastSteps[:])
	g.axes[2] = newChebAxis(math.Log(lo[2]), math.Log(hi[2]), depthSteps[:])
	return g
}

func (g *waterGrid) second(first float64) float64 { return g.slope*(first-g.at[0]) + g.at[1] }

func (g *waterGrid) size() int { return g.axes[0].n * g.axes[1].n * g.axes[2].n }

// ratios are the conductivities of the layers over the water's; 0 where there
// is no such layer.
func ratios(m conduction.Medium) (out [2]float64) {
	for k := range min(len(m.Layers), len(out)) {
		out[k] = m.Layers[k].SPerM / m.WaterSPerM
	}
	return out
}

// contrast is r/(1 + r). What a flat interface reflects is 1 − 2r/(1 + r) of what
// meets it, and the field over a thin sheet on it is linear in r/(1 + r) without
// more (docs/physics/exposure.md): in this variable few points go far.
func contrast(r float64) float64 { return r / (1 + r) }

func fromContrast(c float64) float64 { return c / (1 - c) }

// media are the grid's, after the pattern of one of its waters: of water of 1
// S/m, since only ratios count.
func (g *waterGrid) media(like conduction.Medium) []conduction.Medium {
	var out []conduction.Medium
	for i := range g.axes[0].n {
		for j := range g.axes[1].n {
			for k := range g.axes[2].n {
				r := [2]float64{fromContrast(g.axes[0].node(i)), fromContrast(g.axes[1].node(j))}
				if g.follows {
					r[1] = math.Max(g.second(r[0]), 0)
				}
				m := like
				m.WaterSPerM, m.DepthM, m.Layers = 1, math.Exp(g.axes[2].node(k)), slices.Clone(like.Layers)
				for l := range min(len(m.Layers), len(r)) {
					m.Layers[l].SPerM = r[l]
				}
				out = append(out, m)
			}
		}
	}
	return out
}

// weigh is what a water takes of each node of the grid, which begin at from.
func (g *waterGrid) weigh(m conduction.Medium, from int) []share {
	r := ratios(m)
	a, b, c := g.axes[0].weights(contrast(r[0])), g.axes[1].weights(contrast(r[1])), g.axes[2].weights(math.Log(m.DepthM))
	var out []share
	for _, x := range a {
		for _, y := range b {
			for _, z := range c {
				out = append(out, share{from, x * y * z})
				from++
			}
		}
	}
	return out
}

// contrastSteps and depthSteps say up to which half-range of the contrast, and
// of the logarithm of the depth, one, two … nodes are enough: the error of n
// Chebyshev nodes is f⁽ⁿ⁾·(half)ⁿ/(2ⁿ⁻¹n!), f a share of the field of which the
// depth moves a few hundredths. The test holds the result against trials that
// were solved themselves.
var (
	contrastSteps = [...]float64{5e-5, 0.03, 0.15, 0.25}
	depthSteps    = [...]float64{5e-4, 0.06, 0.25}
)

// chebAxis is Chebyshev points of the first kind on an interval.
type chebAxis struct {
	mid, half float64
	n         int
}

func newChebAxis(lo, hi float64, steps []float64) chebAxis {
	a := chebAxis{mid: (lo + hi) / 2, half: (hi - lo) / 2, n: 1}
	for _, step := range steps {
		if a.half > step {
			a.n++
		}
	}
	return a
}

func (a *chebAxis) node(k int) float64 {
	return a.mid + a.half*math.Cos(math.Pi*(float64(k)+0.5)/float64(a.n))
}

// weights of the nodes in the polynomial through them, at x.
func (a *chebAxis) weights(x float64) []float64 {
	out := make([]float64, a.n)
	for k := range out {
		out[k] = 1
		for j := range a.n {
			if j != k {
				out[k] *= (x - a.node(j)) / (a.node(k) - a.node(j))
			}
		}
	}
	return out
}
