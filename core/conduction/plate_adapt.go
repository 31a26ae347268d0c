package conduction

import (
	"fmt"
	"math"
	"sync"

	"brinefield/core/numeric"
)

// solve refines until the estimate is within the tolerance.
//
// The estimate is the largest change of the field from the last mesh, which is
// what that one was off by, a little reduced: the mesh at hand is better, by two to
// ten times, but not surely. Of the first two meshes it is half as much again. To it
// comes what both meshes may hide. docs/physics/plates.md shows how it compares
// with true errors.
func (s *PlateSolution) solve(tolerance float64, opt PlateOptions) error {
	plates, floor := effective(s.check.stack, s.plates)
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
	first := firstMesh(tolerance)
	err = s.refine(meshes{
		first: first, count: len(sizes), tolerance: tolerance, where: where, judged: s.judged(opt.Points), stop: opt.Stop,
		lay: func(level int) *stage {
			return newStage(s.check.medium, s.check.stack, plates, floor, nil, where, level)
		},
		estimate: func(st *stage, change float64, level int) float64 {
			factor := 0.9
			if level == first+1 {
				factor = 1.5
			}
			return factor*change + hidden(plates) + st.wallLeft(s.check.medium, plates, level)
		},
	})
	if err == nil && math.IsInf(s.relError, 1) {
		return fmt.Errorf("%w: the equations of %d plates could not be solved: too many of them, or an electrode too close to an edge", ErrPlate, len(plates))
	}
	return err
}

// firstMesh is where to begin for a tolerance.
func firstMesh(tolerance float64) int {
	if tolerance <= 2e-3 {
		return 1
	}
	return 0
}

// meshes are what a field is solved on, ever finer, and how its error is told by
// the change from one to the next.
type meshes struct {
	first, count int
	tolerance    float64
	where        *located
	judged       []judge
	stop         func() bool
	lay          func(level int) *stage
	estimate     func(st *stage, change float64, level int) float64
}

// refine solves mesh after mesh until the estimate is within the tolerance or the meshes
// end, and keeps the last. The error is +Inf where no two could be compared.
func (s *PlateSolution) refine(m meshes) error {
	stop := sticky(m.stop)
	s.relError = math.Inf(1)
	var last []Vector
	for level := m.first; level < m.count; level++ {
		if stop != nil && stop() {
			return ErrStopped
		}
		st := m.lay(level)
		if last != nil && !st.fits() {
			return nil // the mesh before is as good as it gets
		}
		sc, err := st.solve(m.where, stop)
		if err != nil {
			return err
		}
		s.scene, s.unknowns = sc, 0
		for _, b := range st.bodies {
			s.unknowns += b.unknowns()
			b.release()
		}
		now := s.ask(m.judged)
		if last != nil {
			if s.relError = m.estimate(st, change(now, last), level); s.relError <= m.tolerance {
				return nil
			}
		}
		last = now
	}
	return nil
}

// sticky asks until it is told to stop, and then no more.
func sticky(stop func() bool) func() bool {
	if stop == nil {
		return nil
	}
	var mu sync.Mutex
	stopped := false
	return func() bool {
		mu.Lock()
		defer mu.Unlock()
		stopped = stopped || stop()
		return stopped
	}
}

// fits reports whether the matrices of a mesh are of a size that a laptop holds:
// some 400 MB.
func (s *stage) fits() bool {
	sum := 0.0
	for _, b := range s.bodies {
		sum += 8 * float64(b.largest()) * float64(b.largest())
	}
	return sum <= 4e8
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
		out = append(out, s.alongEdge(pl)...)
	}
	return out
}

// alongEdge are places low over the plate, its edge and what is beside it.
func (s *PlateSolution) alongEdge(pl *Plate) (out []judge) {
	sinYaw, cosYaw := numeric.SinCosDeg(pl.YawDeg)
	for n := range 12 {
		sin, cos := numeric.SinCosDeg(30*float64(n) + 7)
		reach := pl.DiameterM / 2
		if pl.DiameterM == 0 {
			reach = math.Min(pl.SizeXM/2/math.Abs(cos), pl.SizeYM/2/math.Abs(sin))
		}
		r := reach * [3]float64{0.65, 1, 1.25}[n%3]
		p := Point{
			pl.CentreXM + r*(cosYaw*cos-sinYaw*sin), pl.CentreYM + r*(sinYaw*cos+cosYaw*sin),
			pl.TopM + pl.extent()*[2]float64{0.05, 0.1}[n%2],
		}
		if slab, at, err := s.checkPoint(p); err == nil {
			out = append(out, judge{slab, at})
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
