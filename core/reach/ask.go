package reach

import (
	"fmt"
	"math"

	"brinefield/core/conduction"
)

// asker asks the field, counts the points, and gives up when told to.
type asker struct {
	field Field
	stop  func() bool
	asked int
}

// chunk is how many points are asked at once: enough to keep every core busy,
// few enough that a stop is heard soon.
const chunk = 4096

// fields returns the field at points.
func (a *asker) fields(points []conduction.Point) ([]conduction.Vector, error) {
	out := make([]conduction.Vector, len(points))
	for from := 0; from < len(points); from += chunk {
		if a.stop != nil && a.stop() {
			return nil, fmt.Errorf("how far the field reaches: %w", conduction.ErrStopped)
		}
		to := min(from+chunk, len(points))
		if err := a.field(out[from:to], points[from:to]); err != nil {
			return nil, err
		}
	}
	a.asked += len(points)
	return out, nil
}

// logs returns ln|E| at points, −∞ where there is no field.
func (a *asker) logs(points []conduction.Point) ([]float64, error) {
	es, err := a.fields(points)
	if err != nil {
		return nil, err
	}
	out := make([]float64, len(es))
	for k, e := range es {
		out[k] = logOf(e.Norm())
	}
	return out, nil
}

// logOf returns the logarithm of a magnitude, −∞ for one that is no number or
// infinite.
func logOf(magnitude float64) float64 {
	if g := math.Log(magnitude); g < math.Inf(1) {
		return g
	}
	return math.Inf(-1)
}

// ray is a straight line in space, asked by the distance from its start.
type ray struct {
	from conduction.Point
	dir  conduction.Vector // of length 1
}

func (r ray) at(t float64) conduction.Point {
	return conduction.Point{X: r.from.X + t*r.dir.X, Y: r.from.Y + t*r.dir.Y, Z: r.from.Z + t*r.dir.Z}
}

// hunt is the search for a crossing of a threshold on a ray: at in the field
// is at least the threshold, at out it is below.
type hunt struct {
	ray
	logX    float64
	in, out float64
	gIn     float64 // ln|E|/x at in, ≥ 0
	gOut    float64 // at out, < 0 and perhaps −∞
	tol     float64 // of t
	done    bool
	b       brent
}

// solve brings in and out of every hunt together to within its tol, all of
// them at once: each round asks one point of each.
func (a *asker) solve(hunts []*hunt) error {
	for _, h := range hunts {
		h.done = math.Abs(h.out-h.in) <= h.tol
		h.b = newBrent(h.in, h.out, h.gIn, h.gOut)
	}
	for {
		var points []conduction.Point
		var open []*hunt
		for _, h := range hunts {
			if !h.done {
				open = append(open, h)
				points = append(points, h.at(h.b.next(h.tol)))
			}
		}
		if len(open) == 0 {
			return nil
		}
		logs, err := a.logs(points)
		if err != nil {
			return err
		}
		for k, h := range open {
			h.done = h.b.take(logs[k]-h.logX, h.tol)
			h.in, h.out = h.b.ends()
		}
	}
}

// brent is Brent's method for one sign change, one value at a time, so that
// many can run together. Values may be −∞: then it halves.
//
// Source: Brent, Algorithms for minimization without derivatives, 1973,
// chapter 4 (from memory).
type brent struct {
	a, b, c    float64 // b the best, c on the other side of the root, a the best before
	fa, fb, fc float64
	step, last float64 // the step taken, and the one before
	trial      float64
	rounds     int
}

// mostRounds ends a hunt that rounding keeps from ending.
const mostRounds = 100

func newBrent(a, b, fa, fb float64) brent {
	s := brent{a: a, b: b, c: a, fa: fa, fb: fb, fc: fa}
	s.step = b - a
	s.last = s.step
	return s
}

// next returns where the function is wanted.
func (s *brent) next(tol float64) float64 {
	if math.Abs(s.fc) < math.Abs(s.fb) {
		s.a, s.b, s.c = s.b, s.c, s.b
		s.fa, s.fb, s.fc = s.fb, s.fc, s.fb
	}
	half := (s.c - s.b) / 2
	least := tol / 2
	if math.Abs(s.last) < least || math.Abs(s.fa) <= math.Abs(s.fb) || !finite(s.fa, s.fb, s.fc) {
		s.step, s.last = half, half
	} else {
		var p, q float64
		r := s.fb / s.fa
		if s.a == s.c {
			p, q = 2*half*r, 1-r
		} else {
			u, v := s.fa/s.fc, s.fb/s.fc
			p = r * (2*half*u*(u-v) - (s.b-s.a)*(v-1))
			q = (u - 1) * (v - 1) * (r - 1)
		}
		if p > 0 {
			q = -q
		}
		p = math.Abs(p)
		if 2*p < math.Min(3*half*q-math.Abs(least*q), math.Abs(s.last*q)) {
			s.last, s.step = s.step, p/q
		} else {
			s.step, s.last = half, half
		}
	}
	move := s.step
	if math.Abs(move) < least {
		move = math.Copysign(least, half)
	}
	s.trial = s.b + move
	return s.trial
}

// take gives it the value there and reports whether the root is known to tol.
func (s *brent) take(f, tol float64) bool {
	s.rounds++
	s.a, s.fa = s.b, s.fb
	s.b, s.fb = s.trial, f
	if (s.fb >= 0) == (s.fc >= 0) {
		s.c, s.fc = s.a, s.fa
		s.step = s.b - s.a
		s.last = s.step
	}
	return math.Abs(s.c-s.b) <= tol || s.rounds >= mostRounds
}

// ends returns the place where the value is at least 0 and the one where it
// is below.
func (s *brent) ends() (in, out float64) {
	if s.fb >= 0 {
		return s.b, s.c
	}
	return s.c, s.b
}
