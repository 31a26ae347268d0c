package conduction

import "math"

// solve refines until the estimate is within the tolerance.
//
// The estimate is the largest change of the field from the last mesh, times
// what the change before it says of what is still to come: where steps shrink by
// q, the rest of a geometric series is q/(1 − q) of the last. It is taken twice,
// and kept between 0.6 and 1.5; a plate with a thickness adds what facets that are
// taken as a whole may hide from both meshes. docs/physics/plates.md shows how it
// compares with true errors.
func (s *PlateSolution) solve(tolerance float64, opt PlateOptions) error {
	plates, _, floor := effective(s.check.stack, s.plates)
	where, err := locate(plates, s.check.electrodes)
	if err != nil {
		return err
	}
	if len(plates) == 0 {
		s.plain, err = Solve(s.check.medium, s.check.electrodes, Options{})
		if err == nil {
			s.relError = s.plain.RelativeError()
		}
		return err
	}
	judged := s.judged(opt.Points)
	first := 0
	if tolerance <= 2e-3 {
		first = 1
	}
	var last []Vector
	lastChange := math.Inf(1)
	for level := first; level < len(sizes); level++ {
		if opt.Stop != nil && opt.Stop() {
			return ErrStopped
		}
		st := newStage(s.check.medium, s.check.stack, plates, floor, where, level)
		sc, err := st.solve(where, opt.Stop)
		if err != nil {
			return err
		}
		s.scene, s.unknowns = sc, 0
		for _, b := range st.bodies {
			s.unknowns += b.unknowns()
		}
		now := s.ask(judged)
		if last != nil {
			change := change(now, last)
			s.relError = 1.5 * change
			if !math.IsInf(lastChange, 1) {
				s.relError = change * stillToCome(change/lastChange)
			}
			s.relError += hidden(plates)
			if s.relError <= tolerance {
				return nil
			}
			lastChange = change
		}
		last = now
	}
	return nil
}

// hidden is the error that no step between meshes shows: what facets taken as a
// whole leave, and the little of a shield that lies beyond the edge. Measured
// where the field is known.
func hidden(plates []Plate) float64 {
	for _, pl := range plates {
		if pl.ThicknessM > 0 {
			return 2e-4
		}
	}
	return 6e-5
}

// stillToCome is twice the sum of a geometric series beyond its term, within bounds.
func stillToCome(q float64) float64 {
	if !(q < 1) {
		return 1.5
	}
	return math.Min(math.Max(2*q/(1-q), 0.6), 1.5)
}

// change is the largest |δE|/|E|.
func change(now, last []Vector) float64 {
	worst := 0.0
	for k := range now {
		if size := now[k].Norm(); size > 0 {
			worst = math.Max(worst, now[k].Sub(last[k]).Norm()/size)
		}
		if !finite(now[k].X, now[k].Y, now[k].Z) {
			return math.Inf(1)
		}
	}
	return worst
}

type judge struct {
	slab int
	at   Vector
}

// judged are where the error is judged: the points asked for, and places round
// every plate.
func (s *PlateSolution) judged(points []Point) (out []judge) {
	const most = 150
	step := max(1, (len(points)+most-1)/most)
	for k := 0; k < len(points); k += step {
		if slab, at, err := s.checkPoint(points[k]); err == nil {
			out = append(out, judge{slab, at})
		}
	}
	for k := range s.plates {
		pl := &s.plates[k]
		half := pl.extent() / 2
		for n := range 24 {
			// Directions by golden ratios, upward; distances from a third of the plate to
			// three times it.
			up := math.Mod(0.5+float64(n)*0.7548776662466927, 1)
			sin, cos := math.Sincos(2 * math.Pi * math.Mod(float64(n)*0.5698402909980532, 1))
			r := half * math.Pow(3, float64(n%4-1))
			flat := math.Sqrt(1 - up*up)
			p := Point{pl.CentreXM + r*flat*cos, pl.CentreYM + r*flat*sin, pl.TopM + r*(0.1+0.9*up)}
			if slab, at, err := s.checkPoint(p); err == nil {
				out = append(out, judge{slab, at})
			}
		}
	}
	return out
}

func (s *PlateSolution) ask(judged []judge) []Vector {
	out := make([]Vector, len(judged))
	_ = parallelEach((len(judged)+7)/8, func(c int) error {
		for k := 8 * c; k < min(len(judged), 8*c+8); k++ {
			_, out[k] = s.scene.at(judged[k].slab, judged[k].at)
		}
		return nil
	})
	return out
}
