package exposure

import (
	"fmt"
	"math"

	"brinefield/core/study"
)

// edgeM is how far outside the water a position may be by rounding alone.
const edgeM = 1e-9

// outsideWhy says why a position is not in the water under a surface at a
// height over z = 0, in metres; empty where it is.
func outsideWhy(s *study.Study, p vec, surface float64) string {
	switch {
	case p.z < -edgeM:
		return "below " + zeroOf(s)
	case p.z > surface+edgeM:
		return fmt.Sprintf("above the surface, %g m over %s", surface, zeroOf(s))
	}
	e := s.Enclosure
	if e == nil {
		return ""
	}
	dx, dy := p.x-e.CentreXM, p.y-e.CentreYM
	if e.DiameterM.Known {
		if math.Hypot(dx, dy) > e.DiameterM.Value/2+edgeM {
			return "outside the tank"
		}
	} else if math.Abs(dx) > e.SizeXM/2+edgeM || math.Abs(dy) > e.SizeYM/2+edgeM {
		return "outside the tank"
	}
	return ""
}

// zeroOf says what heights count from.
func zeroOf(s *study.Study) string {
	if len(s.Plates) > 0 {
		return "the plate's top"
	}
	return "the bottom"
}

// inWater checks that a whole path is in the water. The water is convex, so
// that lines between rows inside it are inside it.
func inWater(s *study.Study, h *head, surface float64) error {
	for _, rows := range h.points {
		for i := range rows {
			for _, u := range [...]float64{0, 1} {
				p := rows[i].at(u)
				if why := outsideWhy(s, p, surface); why != "" {
					return faultf("its head would be %s at %g s (x %.4g m, y %.4g m, height %.4g m)", why, rows[i].t, p.x, p.y, p.z)
				}
			}
		}
	}
	return nil
}
