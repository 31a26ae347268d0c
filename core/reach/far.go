package reach

import (
	"math"
	"sort"

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
		var onRings []conduction.Point
		for _, ring := range ranges[n].Rings {
			for k, rho := range ring.ByDirectionM {
				if !math.IsNaN(rho) && (rho == ring.FarthestM || rho == ring.NearestM) {
					sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(len(ring.ByDirectionM)))
					onRings = append(onRings, conduction.Point{X: s.Centre.X + rho*cos, Y: s.Centre.Y + rho*sin, Z: ring.HeightM})
				}
			}
		}
		logX := math.Log(ranges[n].ThresholdVPerM)
		away := func(p conduction.Point) float64 { return between(p, s.Centre) }
		// The rings know thin islands from others, the fan does not, so that
		// all of its places may turn out to be thin: both have their own.
		for _, places := range [][]conduction.Point{starts[n], onRings} {
			for _, p := range s.best(places, away) {
				tops = append(tops, s.outwards(p, n, logX))
			}
		}
		places := append(starts[n], onRings...)
		for _, p := range s.best(places, func(p conduction.Point) float64 { return p.Z }) {
			tops = append(tops, s.upwards(p, n, logX, math.Max(between(p, s.Centre), scale)))
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
	for n := range ranges {
		if r := &ranges[n]; r.LargestM > 0 && !(r.At.Z <= r.HighestM) {
			r.HighestM = r.At.Z
		}
	}
	return nil
}

func between(p, q conduction.Point) float64 {
	return math.Sqrt(sq(p.X-q.X) + sq(p.Y-q.Y) + sq(p.Z-q.Z))
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

// fan asks the field on rays in all directions, and towards each sharp place,
// and returns for each threshold the places at which a ray leaves it for the
// last time, roughly.
func (a *asker) fan(ranges []Range, s Search, scale float64) ([][]conduction.Point, error) {
	var points []conduction.Point
	var ends []int // where each ray's points end
	add := func(d conduction.Vector, near float64) {
		from, to := s.clip(d)
		if !(to > from) {
			return
		}
		least := math.Max(from, math.Min(scale/2, s.MostM/1000))
		ts := []float64{to}
		for t := to / 1.7; t > least; t /= 1.7 {
			ts = append(ts, t)
		}
		ts = append(ts, least)
		for _, f := range []float64{0.8, 0.9, 0.95, 0.98, 1.02, 1.05, 1.1, 1.25} {
			if t := near * f; t > least && t < to {
				ts = append(ts, t)
			}
		}
		sort.Float64s(ts)
		for _, t := range ts {
			points = append(points, s.within(ray{s.Centre, d}.at(t)))
		}
		ends = append(ends, len(points))
	}
	for _, el := range []float64{0, 20, 50, 90} {
		for _, sign := range []float64{1, -1} {
			az := 12
			if el == 90 {
				az = 1
			}
			for k := range az {
				if el == 0 && sign < 0 {
					break
				}
				sinE, cosE := math.Sincos(sign * el * (math.Pi / 180))
				if el == 90 {
					sinE, cosE = sign, 0
				}
				sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(az))
				add(conduction.Vector{X: cosE * cos, Y: cosE * sin, Z: sinE}, 0)
			}
		}
	}
	for _, p := range s.Sharp {
		q := s.within(p)
		if t := between(q, s.Centre); t > scale {
			add(conduction.Vector{X: (q.X - s.Centre.X) / t, Y: (q.Y - s.Centre.Y) / t, Z: (q.Z - s.Centre.Z) / t}, t)
		}
	}
	logs, err := a.logs(points)
	if err != nil {
		return nil, err
	}
	starts := make([][]conduction.Point, len(ranges))
	for n := range ranges {
		logX := math.Log(ranges[n].ThresholdVPerM)
		first := 0
		for _, end := range ends {
			k := end - 1
			for k >= first && logs[k] < logX {
				k--
			}
			if k >= first {
				p := points[k]
				if k+1 < end && finite(logs[k+1]) {
					f := (logs[k] - logX) / (logs[k] - logs[k+1])
					q := points[k+1]
					p = conduction.Point{X: p.X + f*(q.X-p.X), Y: p.Y + f*(q.Y-p.Y), Z: p.Z + f*(q.Z-p.Z)}
				}
				starts[n] = append(starts[n], p)
			}
			first = end
		}
	}
	return starts, nil
}

// best returns a few of the places at which size is largest, or nearly so,
// that do not lie side by side.
func (s Search) best(places []conduction.Point, size func(conduction.Point) float64) []conduction.Point {
	const most = 2
	sorted := append([]conduction.Point(nil), places...)
	sort.SliceStable(sorted, func(i, j int) bool { return size(sorted[i]) > size(sorted[j]) })
	var out []conduction.Point
	for _, p := range sorted {
		if len(out) == most || len(out) > 0 && between(p, s.Centre) < 0.75*between(out[0], s.Centre) {
			break
		}
		near := false
		for _, q := range out {
			near = near || between(p, q) < 0.5*between(q, s.Centre)
		}
		if !near {
			out = append(out, p)
		}
	}
	return out
}

// outwards starts the search for the farthest place from a place.
func (s Search) outwards(p conduction.Point, n int, logX float64) *summit {
	t := between(p, s.Centre)
	d := conduction.Vector{X: (p.X - s.Centre.X) / t, Y: (p.Y - s.Centre.Y) / t, Z: (p.Z - s.Centre.Z) / t}
	top := &summit{ray: ray{s.Centre, d}, n: n, logX: logX, t: t, step: 0.2, fine: 0.005, scale: t}
	if t == 0 {
		top.dir = conduction.Vector{X: 1}
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
	if err := a.settle(tops, s, tol); err != nil {
		return err
	}
	for range mostMoves {
		var open []*summit
		var points []conduction.Point
		for _, top := range tops {
			if top.lost || top.step < top.fine {
				continue
			}
			open = append(open, top)
			for _, r := range top.neighbours() {
				t := top.t + 2*tol*top.scale
				points = append(points, r.at(t), r.at(top.inside(t)))
			}
		}
		if len(open) == 0 {
			return nil
		}
		logs, err := a.logs(s.inWater(points))
		if err != nil {
			return err
		}
		var moved []*summit
		for k, top := range open {
			best, reached := -1, 0.0
			for m, r := range top.neighbours() {
				at := 2 * (4*k + m)
				g := logs[at]
				_, most := s.end(top, r)
				if g >= top.logX && logs[at+1] >= top.logX && top.t+2*tol*top.scale <= most && s.holds(points[at]) && (best < 0 || g > reached) {
					best, reached = m, g
				}
			}
			if best < 0 {
				top.step /= 2
				continue
			}
			top.ray = top.neighbours()[best]
			_, top.most = s.end(top, top.ray)
			top.t += 2 * tol * top.scale
			moved = append(moved, top)
		}
		if err := a.settle(moved, s, tol); err != nil {
			return err
		}
	}
	return nil
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
		states[k] = &state{summit: top, stride: 0.03 * top.scale, from: from}
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

// inside is a place on a summit's ray that is above the threshold too, unless
// what lies before t is thin.
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
