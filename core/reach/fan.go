package reach

import (
	"cmp"
	"math"
	"slices"

	"brinefield/core/conduction"
)

// fan asks the field on rays in all directions, and towards each sharp place
// and upwards from it, and returns for each threshold the places at which a
// ray leaves it for the last time, roughly.
func (a *asker) fan(ranges []Range, s Search, scale float64) ([][]place, error) {
	var points []conduction.Point
	var ends []int // where each ray's points end
	var rays []ray
	add := func(r ray, from, to, near float64) {
		if !(to > from) {
			return
		}
		least := math.Max(from, math.Min(scale/2, s.MostM/1000))
		ts := []float64{to, least}
		for t := to / 1.7; t > least; t /= 1.7 {
			ts = append(ts, t)
		}
		for _, f := range []float64{0.8, 0.9, 0.95, 0.98, 1.02, 1.05, 1.1, 1.25} {
			if t := near * f; t > least && t < to {
				ts = append(ts, t)
			}
		}
		slices.Sort(ts)
		for _, t := range ts {
			points = append(points, s.within(r.at(t)))
		}
		ends, rays = append(ends, len(points)), append(rays, r)
	}
	for _, d := range fanned {
		from, to := s.clip(d)
		add(ray{s.Centre, d}, from, to, 0)
	}
	var seen []conduction.Point
	for _, p := range s.Sharp {
		q := s.within(p)
		if slices.ContainsFunc(seen, func(o conduction.Point) bool { return between(q, o) < s.MostM/100 }) {
			continue
		}
		seen = append(seen, q)
		if t := between(q, s.Centre); t > scale {
			d := conduction.Vector{X: (q.X - s.Centre.X) / t, Y: (q.Y - s.Centre.Y) / t, Z: (q.Z - s.Centre.Z) / t}
			from, to := s.clip(d)
			add(ray{s.Centre, d}, from, to, t)
		}
		add(ray{q, conduction.Vector{Z: 1}}, 0, math.Min(s.HighestM, s.Centre.Z+s.MostM)-q.Z, 0)
	}
	logs, err := a.logs(points)
	if err != nil {
		return nil, err
	}
	starts := make([][]place, len(ranges))
	for n := range ranges {
		logX := math.Log(ranges[n].ThresholdVPerM)
		first := 0
		for k, end := range ends {
			if p, ok := lastAbove(rays[k], points[first:end], logs[first:end], logX); ok {
				starts[n] = append(starts[n], p)
			}
			first = end
		}
	}
	return starts, nil
}

// fanned are the directions of the fan: level, and in steps up and down.
var fanned = func() (out []conduction.Vector) {
	for _, level := range []struct {
		elevation float64
		rays      int
	}{{0, 24}, {18, 16}, {40, 12}, {65, 6}, {-18, 16}, {-40, 12}, {-65, 6}} {
		sinE, cosE := math.Sincos(level.elevation * (math.Pi / 180))
		for k := range level.rays {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(level.rays))
			out = append(out, conduction.Vector{X: cosE * cos, Y: cosE * sin, Z: sinE})
		}
	}
	return append(out, conduction.Vector{Z: 1}, conduction.Vector{Z: -1})
}()

// place is where a search starts: the last place known to be above the
// threshold or one close to it, so that the search does not step over a small
// island, and where the crossing is to be expected, to choose by.
type place struct{ start, guess conduction.Point }

// lastAbove returns where a ray leaves the threshold for the last time, between
// the samples as if the field fell with a power of the distance.
func lastAbove(r ray, points []conduction.Point, logs []float64, logX float64) (place, bool) {
	k := len(points) - 1
	for k >= 0 && logs[k] < logX {
		k--
	}
	if k < 0 {
		return place{}, false
	}
	if k+1 == len(points) || !finite(logs[k+1]) {
		return place{points[k], points[k]}, true
	}
	f := (logs[k] - logX) / (logs[k] - logs[k+1])
	t := between(r.from, points[k])
	guess := t * math.Pow(between(r.from, points[k+1])/t, f)
	return place{r.at(min(guess, (1+3*stride)*t)), r.at(guess)}, true
}

// stride is the first step of the search on a ray, as a share of its length;
// each further one is twice as long.
const stride = 0.03

// best returns where to start from for the few places at which value is
// largest that do not lie side by side, which is within half of size of each
// other.
func best(places []place, value, size func(conduction.Point) float64) []conduction.Point {
	const most = 4
	sorted := slices.Clone(places)
	slices.SortStableFunc(sorted, func(p, q place) int { return cmp.Compare(value(q.guess), value(p.guess)) })
	var out []place
	for _, p := range sorted {
		if !slices.ContainsFunc(out, func(q place) bool { return between(p.guess, q.guess) < size(q.guess)/2 }) {
			out = append(out, p)
		}
		if len(out) == most {
			break
		}
	}
	starts := make([]conduction.Point, len(out))
	for k, p := range out {
		starts[k] = p.start
	}
	return starts
}
