package reach

import (
	"cmp"
	"math"
	"slices"

	"brinefield/core/conduction"
)

// summit is the search for the farthest or the highest place of a threshold:
// the place on its ray, farther out than which the field is below it, is moved
// to neighbouring rays as long as those reach farther.
type summit struct {
	ray
	highest bool // vertical rays, asked by height; else rays from the centre
	n       int  // the threshold
	logX    float64
	t, most float64 // where it is, and where the ray ends
	step    float64 // to the neighbours: radians, or metres for vertical rays
	fine    float64 // step at which it is there
	scale   float64 // a distance: errors of t are relative to it
	lost    bool
}

// farthest fills in how far each range reaches in three dimensions, and how
// high, starting from a fan of rays and from the rings.
func (a *asker) farthest(ranges []Range, s Search, scale, tol float64) error {
	starts, err := a.fan(ranges, s, scale)
	if err != nil {
		return err
	}
	var tops []*summit
	for n := range ranges {
		ranges[n].HighestM, ranges[n].At = math.NaN(), s.Centre
		var onRings []place
		for _, ring := range ranges[n].Rings {
			for _, k := range lobes(ring.ByDirectionM) {
				rho := ring.ByDirectionM[k]
				sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(len(ring.ByDirectionM)))
				p := conduction.Point{X: s.Centre.X + rho*cos, Y: s.Centre.Y + rho*sin, Z: ring.HeightM}
				onRings = append(onRings, place{p, p})
			}
		}
		logX := math.Log(ranges[n].ThresholdVPerM)
		away := func(p conduction.Point) float64 { return between(p, s.Centre) }
		// The rings know thin islands from others, the fan does not, so that
		// all of its places may turn out to be thin: both have their own.
		for _, places := range [][]place{starts[n], onRings} {
			for _, p := range best(places, away, away) {
				tops = append(tops, s.outwards(p, n, logX))
			}
		}
		height := func(p conduction.Point) float64 { return p.Z }
		own := func(p conduction.Point) float64 { return math.Max(p.Z-math.Max(s.LowestM, s.Centre.Z-s.MostM), scale) }
		for _, p := range best(append(starts[n], onRings...), height, own) {
			tops = append(tops, s.upwards(p, n, logX, math.Min(math.Max(between(p, s.Centre), scale), own(p))))
		}
	}
	if err := a.climb(tops, s, tol); err != nil {
		return err
	}
	for _, top := range tops {
		r := &ranges[top.n]
		p := s.within(top.at(top.t))
		switch {
		case top.lost:
		case top.highest:
			if !(p.Z <= r.HighestM) {
				r.HighestM = p.Z
			}
		case between(p, s.Centre) > r.LargestM:
			r.LargestM, r.At = between(p, s.Centre), p
			r.Beyond = r.Beyond || r.LargestM >= s.MostM*(1-1e-9)
		}
	}
	// What is above a threshold is above every lower one too.
	falling := make([]*Range, len(ranges))
	for n := range ranges {
		falling[n] = &ranges[n]
	}
	slices.SortStableFunc(falling, func(p, q *Range) int { return cmp.Compare(q.ThresholdVPerM, p.ThresholdVPerM) })
	for n, r := range falling {
		if r.LargestM > 0 && !(r.At.Z <= r.HighestM) {
			r.HighestM = r.At.Z
		}
		if n == 0 {
			continue
		}
		higher := falling[n-1]
		if higher.LargestM > r.LargestM {
			r.LargestM, r.At = higher.LargestM, higher.At
		}
		if higher.HighestM > r.HighestM {
			r.HighestM = higher.HighestM
		}
	}
	return nil
}

func between(p, q conduction.Point) float64 {
	return math.Sqrt(sq(p.X-q.X) + sq(p.Y-q.Y) + sq(p.Z-q.Z))
}

// lobes returns the directions in which a ring reaches no less far than in both
// neighbouring ones.
func lobes(rho []float64) []int {
	var out []int
	for k := range rho {
		before, after := rho[(k+len(rho)-1)%len(rho)], rho[(k+1)%len(rho)]
		if !math.IsNaN(rho[k]) && !(before > rho[k]) && !(after > rho[k]) {
			out = append(out, k)
		}
	}
	return out
}

// within puts a place that rounding moved out of the water back into it.
func (s Search) within(p conduction.Point) conduction.Point {
	p.Z = math.Min(math.Max(p.Z, s.LowestM), s.HighestM)
	return p
}

// clip returns which part of a ray from the centre lies in the water and
// within MostM.
func (s Search) clip(d conduction.Vector) (from, to float64) {
	from, to = 0, s.MostM
	a, b := s.LowestM-s.Centre.Z, s.HighestM-s.Centre.Z
	if d.Z == 0 {
		if a > 0 || b < 0 {
			return 0, 0
		}
		return from, to
	}
	a, b = a/d.Z, b/d.Z
	return math.Max(from, math.Min(a, b)), math.Min(to, math.Max(a, b))
}

// outwards starts the search for the farthest place from a place.
func (s Search) outwards(p conduction.Point, n int, logX float64) *summit {
	top := &summit{ray: ray{s.Centre, conduction.Vector{X: 1}}, n: n, logX: logX, t: between(p, s.Centre), step: 0.2, fine: 0.005}
	top.scale = math.Max(top.t, 1e-6*s.MostM)
	if t := top.t; t > 0 {
		top.dir = conduction.Vector{X: (p.X - s.Centre.X) / t, Y: (p.Y - s.Centre.Y) / t, Z: (p.Z - s.Centre.Z) / t}
	}
	_, top.most = s.clip(top.dir)
	return top
}

// upwards starts the search for the highest place from a place.
func (s Search) upwards(p conduction.Point, n int, logX, scale float64) *summit {
	return &summit{
		ray: ray{conduction.Point{X: p.X, Y: p.Y}, conduction.Vector{Z: 1}}, highest: true, n: n, logX: logX, t: p.Z,
		most: math.Min(s.HighestM, s.Centre.Z+s.MostM), step: 0.2 * scale, fine: 0.005 * scale, scale: scale,
	}
}

// neighbours are the rays beside a summit's, one step away.
func (top *summit) neighbours() [4]ray {
	var out [4]ray
	if top.highest {
		for k, d := range [4][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			out[k] = top.ray
			out[k].from.X += d[0] * top.step
			out[k].from.Y += d[1] * top.step
		}
		return out
	}
	// Two directions across the ray: one level, one in its upright plane.
	d := top.dir
	level := conduction.Vector{X: -d.Y, Y: d.X}
	if n := level.Norm(); n > 1e-9 {
		level = level.Scale(1 / n)
	} else {
		level = conduction.Vector{X: 1}
	}
	upright := conduction.Vector{X: d.Y*level.Z - d.Z*level.Y, Y: d.Z*level.X - d.X*level.Z, Z: d.X*level.Y - d.Y*level.X}
	sin, cos := math.Sincos(top.step)
	for k, v := range [4]conduction.Vector{level, level.Scale(-1), upright, upright.Scale(-1)} {
		out[k] = ray{top.from, d.Scale(cos).Add(v.Scale(sin))}
	}
	return out
}

// climb moves all summits until no neighbour reaches farther.
func (a *asker) climb(tops []*summit, s Search, tol float64) error {
	const mostMoves = 60
	tol /= 10 // so that it does not hide a gain
	if err := a.settle(tops, s, tol); err != nil {
		return err
	}
	prune(tops)
	for range mostMoves {
		var open []*summit
		var points []conduction.Point
		for _, top := range tops {
			if top.lost || top.step < top.fine {
				continue
			}
			open = append(open, top)
			for _, r := range top.neighbours() {
				points = append(points, r.at(top.t+top.gain()))
			}
		}
		if len(open) == 0 {
			return nil
		}
		logs, err := a.logs(s.inWater(points))
		if err != nil {
			return err
		}
		var better []*summit
		var moves []ray
		insides := points[:0:0]
		for k, top := range open {
			best := -1
			for m, r := range top.neighbours() {
				_, most := s.end(top, r)
				g := logs[4*k+m]
				if g >= top.logX && top.t+top.gain() <= most && s.holds(points[4*k+m]) && (best < 0 || g > logs[4*k+best]) {
					best = m
				}
			}
			if best < 0 {
				top.step /= 2
				continue
			}
			r := top.neighbours()[best]
			better, moves, insides = append(better, top), append(moves, r), append(insides, s.within(r.at(top.inside(top.t+top.gain()))))
		}
		if logs, err = a.logs(insides); err != nil {
			return err
		}
		var moved []*summit
		var before []summit
		for k, top := range better {
			if logs[k] < top.logX { // a thin island
				top.step /= 2
				continue
			}
			before = append(before, *top)
			top.t += top.gain()
			top.ray = moves[k]
			_, top.most = s.end(top, top.ray)
			moved = append(moved, top)
		}
		if err := a.settle(moved, s, tol); err != nil {
			return err
		}
		for k, top := range moved {
			if top.lost { // it came into a thin island: back, and more slowly
				*top = before[k]
				top.step /= 2
			}
		}
	}
	return nil
}

// gain is by how much a neighbour must reach farther to be moved to: a slope
// of 3 in 1000.
func (top *summit) gain() float64 {
	if top.highest {
		return 0.003 * top.step
	}
	return 0.003 * top.step * top.scale
}

// prune loses the summits that start beside a better one, or so far below the
// best that they cannot become it.
func prune(tops []*summit) {
	for k, top := range tops {
		for m, other := range tops {
			if top.lost || other.lost || m == k || other.n != top.n || other.highest != top.highest || top.t > other.t || top.t == other.t && k < m {
				continue
			}
			p, q := top.at(top.t), other.at(other.t)
			top.lost = between(p, q) < 0.2*other.scale || !top.highest && top.t < 0.7*other.t
		}
	}
}

// end returns the part of a ray of a summit that may be asked.
func (s Search) end(top *summit, r ray) (from, to float64) {
	if top.highest {
		return math.Max(s.LowestM, s.Centre.Z-s.MostM), top.most
	}
	return s.clip(r.dir)
}

// holds reports whether a place lies in the water, rounding aside.
func (s Search) holds(p conduction.Point) bool {
	slack := 1e-12 * (s.MostM + math.Abs(p.Z))
	return p.Z >= s.LowestM-slack && p.Z <= s.HighestM+slack
}

// inWater puts places into the water: those outside are not used.
func (s Search) inWater(points []conduction.Point) []conduction.Point {
	out := make([]conduction.Point, len(points))
	for k, p := range points {
		out[k] = s.within(p)
	}
	return out
}

// settle finds, on each summit's ray, the crossing next to where it is:
// outwards from a place above the threshold, inwards from one below.
func (a *asker) settle(tops []*summit, s Search, tol float64) error {
	type state struct {
		*summit
		in, out, gIn, gOut, stride, from float64
		hasIn, hasOut, done              bool
	}
	states := make([]*state, len(tops))
	for k, top := range tops {
		from, most := s.end(top, top.ray)
		top.t = math.Min(math.Max(top.t, from), most)
		states[k] = &state{summit: top, stride: stride * top.scale, from: from}
		if top.lost = top.lost || from > most; top.lost {
			states[k].done = true // its ray passes by the water
		}
	}
	for open := true; open; {
		var asked []*state
		var points []conduction.Point
		for _, st := range states {
			if !st.done {
				asked, points = append(asked, st), append(points, s.within(st.at(st.t)))
			}
		}
		logs, err := a.logs(points)
		if err != nil {
			return err
		}
		open = false
		for k, st := range asked {
			g := logs[k] - st.logX
			if g >= 0 {
				st.in, st.gIn, st.hasIn = st.t, g, true
			} else {
				st.out, st.gOut, st.hasOut = st.t, g, true
			}
			switch {
			case st.hasIn && st.hasOut:
				st.done = true
			case st.hasIn && st.t >= st.most:
				st.done = true // above the threshold to the end of the ray
			case st.hasIn:
				st.t = math.Min(st.t+st.stride, st.most)
			case st.t <= st.from:
				st.done, st.lost = true, true
			default:
				st.t = math.Max(st.t-st.stride, st.from)
			}
			st.stride *= 2
			open = open || !st.done
		}
	}
	var hunts []*hunt
	var of []*state
	for _, st := range states {
		if st.hasIn && st.hasOut {
			of = append(of, st)
			hunts = append(hunts, &hunt{ray: st.ray, logX: st.logX, in: st.in, out: st.out, gIn: st.gIn, gOut: st.gOut, tol: tol * st.scale})
		}
	}
	if err := a.solve(hunts); err != nil {
		return err
	}
	for k, st := range of {
		st.t = hunts[k].in
	}
	return a.dropThin(tops, s)
}

// inside is the place on a ray that is above the threshold too, unless what
// lies before t is thin. Height knows no thin islands.
func (top *summit) inside(t float64) float64 {
	if top.highest {
		return t
	}
	return t * (1 - thin)
}

// dropThin loses the summits that ended in a thin island.
func (a *asker) dropThin(tops []*summit, s Search) error {
	var asked []*summit
	var points []conduction.Point
	for _, top := range tops {
		if !top.lost && !top.highest {
			asked, points = append(asked, top), append(points, s.within(top.at(top.inside(top.t))))
		}
	}
	logs, err := a.logs(points)
	if err != nil {
		return err
	}
	for k, top := range asked {
		top.lost = logs[k] < top.logX
	}
	return nil
}
