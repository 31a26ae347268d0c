package exposure

import (
	"math"

	"brinefield/core/study"
)

// firstCrossing finds the pair whose circle of the pass radius the head
// entered first, and when. A track that begins inside circles begins with the
// pair whose centre is nearest.
func firstCrossing(s *study.Study, h *head) (pair int, t float64, found bool) {
	radius := s.Analysis.PassRadiusM
	t = math.Inf(1)
	nearest := math.Inf(1)
	for i := range s.Pairs {
		p := &s.Pairs[i]
		for _, rows := range h.points {
			when, ok := entry(rows, p.CentreXM, p.CentreYM, radius)
			if !ok || when > t+timeTolS {
				continue
			}
			d := math.Hypot(rows[0].x-p.CentreXM, rows[0].y-p.CentreYM)
			if when < t-timeTolS || d < nearest {
				pair, t, nearest, found = i, when, d, true
			}
		}
	}
	return pair, t, found
}

// entry is when a path in straight lines is first within radius of a centre.
func entry(rows []row, cx, cy, radius float64) (t float64, ok bool) {
	for i := range rows {
		bx, by := rows[i].x-cx, rows[i].y-cy
		if i == 0 {
			if math.Hypot(bx, by) <= radius {
				return rows[0].t, true
			}
			continue
		}
		// |a + s(b − a)|² = radius², the smaller root: the way in.
		ax, ay := rows[i-1].x-cx, rows[i-1].y-cy
		dx, dy := bx-ax, by-ay
		qa, qb, qc := dx*dx+dy*dy, ax*dx+ay*dy, ax*ax+ay*ay-radius*radius
		disc := qb*qb - qa*qc
		if qa == 0 || disc < 0 {
			continue
		}
		if s := (-qb - math.Sqrt(disc)) / qa; s >= 0 && s <= 1 {
			return rows[i-1].t + s*(rows[i].t-rows[i-1].t), true
		}
	}
	return 0, false
}
