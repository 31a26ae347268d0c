package exposure

import (
	"math"

	"brinefield/core/study"
)

// row is one measured position of a point of the head. An unknown height lies
// between low and high, and z is then meaningless.
type row struct {
	t           float64
	x, y        float64
	z           float64
	zKnown      bool
	zLow, zHigh float64
}

// at is the row's position when unknown heights lie at the fraction u of their
// range.
func (r *row) at(u float64) vec {
	if r.zKnown {
		return vec{r.x, r.y, r.z}
	}
	return vec{r.x, r.y, r.zLow + u*(r.zHigh-r.zLow)}
}

// head is the path of one pass: the rows of each point of the head that
// counts, in time order, at least one row a point.
type head struct {
	points        [][]row
	heightUnknown bool // in at least one row
}

// first and last are the times of the earliest and the latest row.
func (h *head) first() float64 {
	t := math.Inf(1)
	for _, p := range h.points {
		t = math.Min(t, p[0].t)
	}
	return t
}

func (h *head) last() float64 {
	t := math.Inf(-1)
	for _, p := range h.points {
		t = math.Max(t, p[len(p)-1].t)
	}
	return t
}

// before is the time of the last row earlier than t, of any point that counts.
func (h *head) before(t float64) (float64, bool) {
	found, best := false, 0.0
	for _, p := range h.points {
		for i := len(p) - 1; i >= 0; i-- {
			if p[i].t < t-timeTolS {
				if !found || p[i].t > best {
					found, best = true, p[i].t
				}
				break
			}
		}
	}
	return best, found
}

// headOf collects the rows that count: of all points, or of the one that the
// study's field_at names. Heights that are unknown get their range. The error
// is a sentence about the pass.
func headOf(s *study.Study, track *study.Track) (*head, error) {
	only, one := fieldAt(s)
	h := &head{}
	for i := range track.Points {
		p := &track.Points[i]
		if len(p.Fixes) == 0 || one && p.Name != only {
			continue
		}
		rows := make([]row, len(p.Fixes))
		for k := range p.Fixes {
			r, err := rowOf(s, &p.Fixes[k])
			if err != nil {
				return nil, err
			}
			h.heightUnknown = h.heightUnknown || !r.zKnown
			rows[k] = r
		}
		h.points = append(h.points, rows)
	}
	if len(h.points) == 0 {
		if one {
			return nil, faultf("its track has no row of the point %q, which [analysis] field_at names", only)
		}
		return nil, faultf("its track has no rows")
	}
	return h, nil
}

// fieldAt is the point that the field is taken at; false for all of them.
func fieldAt(s *study.Study) (name string, one bool) {
	name = s.Analysis.FieldAt
	return name, name != "" && name != "largest"
}

func rowOf(s *study.Study, f *study.Fix) (row, error) {
	r := row{t: f.TimeS, x: f.XM, y: f.YM}
	if !isFinite(f.TimeS) || !isFinite(f.XM) || !isFinite(f.YM) {
		return r, faultf("a row of its track has a time or place that is not a finite number")
	}
	switch a := &s.Analysis; {
	case f.HeightM.Known:
		r.z, r.zKnown = f.HeightM.Value, true
	case f.HeightLowM.Known && f.HeightHighM.Known:
		r.zLow, r.zHigh = f.HeightLowM.Value, f.HeightHighM.Value
	case a.HeightLowM.Known && a.HeightHighM.Known:
		r.zLow, r.zHigh = a.HeightLowM.Value, a.HeightHighM.Value
	default:
		return r, faultf("a row of its track at %g s has no height, no range of heights, and [analysis] height_range_cm is not stated", f.TimeS)
	}
	if !isFinite(r.z) || !isFinite(r.zLow) || !isFinite(r.zHigh) || r.zLow > r.zHigh {
		return r, faultf("a row of its track at %g s has a height that is not a number, or a range that ends below its start", f.TimeS)
	}
	return r, nil
}

func isFinite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// polyline is the path of one point of the head at one fraction u: positions
// in straight lines between rows.
type polyline struct {
	t []float64
	p []vec
}

func (line *polyline) set(rows []row, u float64) {
	line.t, line.p = line.t[:0], line.p[:0]
	for i := range rows {
		line.t = append(line.t, rows[i].t)
		line.p = append(line.p, rows[i].at(u))
	}
}

// segment is the index i of the segment from row i to row i+1 that holds t;
// the line has two rows or more.
func (line *polyline) segment(t float64) int {
	lo, hi := 0, len(line.t)-1
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; line.t[mid] <= t {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// at is the position at time t; before the first row it is the first row, and
// after the last the last.
func (line *polyline) at(t float64) vec {
	n := len(line.t)
	switch {
	case t <= line.t[0]+timeTolS:
		return line.p[0]
	case t >= line.t[n-1]-timeTolS:
		return line.p[n-1]
	}
	i := line.segment(t)
	return between(line.p[i], line.p[i+1], (t-line.t[i])/(line.t[i+1]-line.t[i]))
}
