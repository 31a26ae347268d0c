package calibration

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// mode says what is fitted beside the ratio and the offset.
type mode struct {
	free   bool // the conductivity, with what was measured otherwise
	spread float64
}

// solution is one fit. Its parameters are current over conductivity, then,
// where it is free, the logarithm of the conductivity, then the offset.
type solution struct {
	x          []float64
	free       bool
	covariance *mat.SymDense
	shape      []float64
	residuals  []float64 // in V
	sd         []float64 // as used, before they were widened
	places     []float64
	columns    *mat.Dense // of the readings: their derivatives over their sd
	leverage   []float64
	degrees    float64
	chiSquare  float64
	scale      Scale
	spread     float64
}

const (
	mostRounds = 100
	gridPoints = 41
)

// settle fits and renews the weights until they stand; where stated standard
// deviations turn out too small it does so again with wider ones.
func (q *Question) settle(m mode) (*solution, error) {
	m.spread = 1
	s, err := q.rounds(m)
	if err != nil || s.scale != Stated || !(s.degrees > 0.5) || s.chiSquare <= s.degrees {
		return s, err
	}
	m.spread = math.Sqrt(s.chiSquare / s.degrees)
	wide, err := q.rounds(m)
	if err != nil {
		return nil, err
	}
	wide.scale, wide.chiSquare, wide.degrees = Widened, s.chiSquare, s.degrees
	return wide, nil
}

func (q *Question) rounds(m mode) (*solution, error) {
	if err := q.enough(); err != nil {
		return nil, err
	}
	n := len(q.Readings)
	largest := 0.0
	for _, r := range q.Readings {
		largest = math.Max(largest, math.Abs(r.V))
	}
	stated := q.Readings[0].SDV > 0
	floor := math.Max(1e-11*largest, 1e-15)
	scatter, ratio := math.Max(0.01*largest, floor), q.CurrentA/q.WaterSPerM
	var x []float64
	var s *solution
	for range mostRounds {
		sd, places := make([]float64, n), make([]float64, n)
		for i, r := range q.Readings {
			own := scatter
			if stated {
				own = r.SDV
			}
			places[i] = math.Abs(ratio) * r.PlacesPerMetre
			sd[i] = math.Hypot(own, places[i])
		}
		var err error
		if s, err = q.fit(m, sd, x, math.Max(largest, floor)); err != nil {
			return nil, err
		}
		s.places = places
		before, was := scatter, ratio
		x, ratio = s.x, s.x[0]
		if !stated {
			s.scale = Residuals
			if s.degrees < 0.5 {
				return nil, fmt.Errorf("%w: their scatter cannot be told", ErrTooFew)
			}
			scatter = math.Max(scatterOf(s.residuals, places, s.degrees), floor)
		}
		if math.Abs(scatter-before) <= 1e-10*before && math.Abs(ratio-was) <= 1e-9*math.Abs(ratio) {
			return s, nil
		}
	}
	return s, nil // the weights go round in small circles: any of them will do
}

// enough reports whether there is a reading for each thing that they tell, and
// whether they lie so that they can.
func (q *Question) enough() error {
	need := 1
	if q.Offset {
		need++
	}
	if n := len(q.Readings); n < need || n == need && q.Readings[0].SDV == 0 {
		return fmt.Errorf("%w: %d", ErrTooFew, n)
	}
	shape := make([]float64, len(q.Readings))
	q.Shape.At(shape, math.Log(q.WaterSPerM))
	least, most, largest := math.Inf(1), math.Inf(-1), 0.0
	for _, s := range shape {
		least, most, largest = math.Min(least, s), math.Max(most, s), math.Max(largest, math.Abs(s))
	}
	if largest == 0 || q.Offset && most-least <= 1e-9*largest {
		return ErrNotTold // the columns of scale and offset are alike
	}
	return nil
}

// scatterOf is the standard deviation, the same for all readings, with which
// the squares of the residuals, over it and over what the places add, sum up to
// the degrees of freedom; 0 where the places explain all.
func scatterOf(residuals, places []float64, degrees float64) float64 {
	sum := func(variance float64) float64 {
		total := 0.0
		for i, r := range residuals {
			if r != 0 {
				total += r * r / (variance + places[i]*places[i])
			}
		}
		return total
	}
	high := sumOfSquares(residuals) / degrees
	if sumOfSquares(places) == 0 {
		return math.Sqrt(high)
	}
	if high == 0 || sum(0) <= degrees {
		return 0
	}
	low := 0.0
	for range 200 {
		middle := (low + high) / 2
		if sum(middle) > degrees {
			low = middle
		} else {
			high = middle
		}
	}
	return math.Sqrt((low + high) / 2)
}

// fit is one fit with fixed standard deviations; from nil it first looks for a
// start. volts is what is large among the readings.
func (q *Question) fit(m mode, sd, from []float64, volts float64) (*solution, error) {
	p := q.problem(m, sd)
	if from == nil {
		from = q.begin(m, sd, volts)
	}
	found, err := LeastSquares(p.n, p.residuals, from, q.sizes(m, volts))
	if err != nil {
		return nil, err
	}
	s := &solution{x: found.X, free: m.free, sd: sd, shape: make([]float64, len(sd)), residuals: make([]float64, len(sd)), spread: m.spread}
	var ok bool
	if s.covariance, ok = found.Covariance(); !ok {
		return nil, ErrNotTold
	}
	q.Shape.At(s.shape, p.water(s.x))
	n := len(sd)
	s.columns = mat.DenseCopyOf(found.Jacobian.Slice(0, n, 0, len(s.x)))
	s.leverage, s.degrees = make([]float64, n), float64(n)
	row := mat.NewVecDense(len(s.x), nil)
	for i := range n {
		s.residuals[i] = found.Residuals[i] * sd[i] * m.spread
		s.chiSquare += found.Residuals[i] * found.Residuals[i]
		row.CopyVec(s.columns.RowView(i))
		s.leverage[i] = math.Min(1, mat.Inner(row, s.covariance, row))
		s.degrees -= s.leverage[i]
	}
	if s.degrees < 1e-9 {
		s.degrees = 0
	}
	return s, nil
}

// problem is the residuals in units of their standard deviations: measured less
// fitted of every reading, then what was measured otherwise.
type problem struct {
	n         int
	water     func(x []float64) float64 // its logarithm
	residuals func(dst, x []float64)
}

func (q *Question) problem(m mode, sd []float64) problem {
	n := len(q.Readings)
	p := problem{n: n, water: func([]float64) float64 { return math.Log(q.WaterSPerM) }}
	current, water := m.free && q.CurrentSDA > 0, m.free && q.WaterSDSPerM > 0
	if m.free {
		p.water = func(x []float64) float64 { return x[1] }
	}
	for _, more := range []bool{current, water} {
		if more {
			p.n++
		}
	}
	shape := make([]float64, n)
	p.residuals = func(dst, x []float64) {
		log := p.water(x)
		q.Shape.At(shape, log)
		offset := 0.0
		if q.Offset {
			offset = x[len(x)-1]
		}
		for i, r := range q.Readings {
			dst[i] = (r.V - x[0]*shape[i] - offset) / (sd[i] * m.spread)
		}
		next := n
		if current {
			dst[next] = (math.Abs(q.CurrentA) - math.Abs(x[0])*math.Exp(log)) / q.CurrentSDA
			next++
		}
		if water {
			dst[next] = (q.WaterSPerM - math.Exp(log)) / q.WaterSDSPerM
		}
	}
	return p
}

// sizes are what is small beside each parameter.
func (q *Question) sizes(m mode, volts float64) []float64 {
	out := []float64{math.Abs(q.CurrentA / q.WaterSPerM)}
	if m.free {
		out = append(out, 1)
	}
	if q.Offset {
		out = append(out, volts)
	}
	return out
}

// begin is a start: the design, or, where the conductivity is free, the best of
// several over its range, each with its own ratio and offset.
func (q *Question) begin(m mode, sd []float64, volts float64) []float64 {
	start := []float64{q.CurrentA / q.WaterSPerM}
	if q.Offset {
		start = append(start, 0)
	}
	if !m.free {
		return start
	}
	full := q.problem(m, sd)
	best, least := []float64(nil), math.Inf(1)
	residuals := make([]float64, full.n)
	for i := range gridPoints {
		log := q.Shape.low() + (q.Shape.high()-q.Shape.low())*float64(i)/(gridPoints-1)
		at := func(x []float64) []float64 { return append([]float64{x[0], log}, x[1:]...) }
		found, err := LeastSquares(full.n, func(dst, x []float64) { full.residuals(dst, at(x)) }, start, q.sizes(mode{}, volts))
		if err != nil {
			continue
		}
		full.residuals(residuals, at(found.X))
		if f := sumOfSquares(residuals); f < least {
			best, least = at(found.X), f
		}
	}
	if best == nil {
		return append([]float64{start[0], math.Log(q.WaterSPerM)}, start[1:]...)
	}
	return best
}

// quantile is how many standard errors the 95 % interval reaches.
func (s *solution) quantile() float64 {
	if s.scale == Residuals {
		return distuv.StudentsT{Sigma: 1, Nu: s.degrees}.Quantile(0.975)
	}
	return distuv.UnitNormal.Quantile(0.975)
}

func (s *solution) value(i int) Value {
	se := math.Sqrt(s.covariance.At(i, i))
	reach := se * s.quantile()
	return Value{s.x[i], se, s.x[i] - reach, s.x[i] + reach}
}

// water is the conductivity; its interval is that of its logarithm.
func (s *solution) water() Value {
	v, log := math.Exp(s.x[1]), s.value(1)
	return Value{v, v * log.SE, math.Exp(log.Low), math.Exp(log.High)}
}

// current is ratio times conductivity. Where the ratio is well away from 0 its
// interval is that of its logarithm, as for the conductivity.
func (s *solution) current() Value {
	water, c := math.Exp(s.x[1]), s.covariance
	a := s.x[0] * water
	se := water * math.Sqrt(math.Max(0, c.At(0, 0)+2*s.x[0]*c.At(0, 1)+s.x[0]*s.x[0]*c.At(1, 1)))
	reach := se * s.quantile()
	if math.Abs(s.x[0]) < 4*math.Sqrt(c.At(0, 0)) {
		return Value{a, se, a - reach, a + reach}
	}
	times := math.Exp(reach / math.Abs(a))
	v := Value{a, se, a / times, a * times}
	if a < 0 {
		v.Low, v.High = v.High, v.Low
	}
	return v
}

// correlation is that of current, water and offset, or of ratio and offset.
func (s *solution) correlation() ([]string, [][]float64) {
	names := []string{"ratio"}
	turn := mat.NewDense(len(s.x), len(s.x), nil) // from parameters to what is told
	for i := range s.x {
		turn.Set(i, i, 1)
	}
	if s.free {
		names = []string{"current", "water"}
		turn.Set(0, 0, 1)
		turn.Set(0, 1, s.x[0])
	}
	if len(s.x) > len(names) {
		names = append(names, "offset")
	}
	var half, full mat.Dense
	half.Mul(turn, s.covariance)
	full.Mul(&half, turn.T())
	out := make([][]float64, len(names))
	for i := range out {
		out[i] = make([]float64, len(names))
		for j := range out[i] {
			out[i][j] = math.Max(-1, math.Min(1, full.At(i, j)/math.Sqrt(full.At(i, i)*full.At(j, j))))
		}
		out[i][i] = 1
	}
	return names, out
}

func (s *solution) chiSquareP() float64 {
	if s.scale == Residuals || s.degrees <= 0 {
		return math.NaN()
	}
	return distuv.ChiSquared{K: s.degrees}.Survival(s.chiSquare)
}

// residualSD is the scatter of one reading about the fit.
func (s *solution) residualSD() float64 {
	if s.degrees <= 0 {
		return math.NaN()
	}
	return math.Sqrt(sumOfSquares(s.residuals) / s.degrees)
}
