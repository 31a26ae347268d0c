package calibration_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"brinefield/core/calibration"
	"brinefield/core/numeric"
	"brinefield/core/numeric/numtest"
)

// site is a pair of point electrodes on an insulating plane or on bare sediment,
// 1 cm apart along x, and tips round it.
type site struct {
	plus, minus [][3]float64
}

// tips are n places on a spiral, from 6 to 26 cm, with the other tip 5 cm
// farther out.
func tips(n int) site {
	var s site
	for i := range n {
		angle, r := 0.7*float64(i), 0.06+0.2*float64(i)/float64(n)
		z := 0.02 + 0.03*float64(i%3)
		sin, cos := math.Sincos(angle)
		s.plus = append(s.plus, [3]float64{r * cos, r * sin, z})
		s.minus = append(s.minus, [3]float64{(r + 0.05) * cos, (r + 0.05) * sin, z})
	}
	return s
}

// halfSpace is σ·U/I of a pair on an insulating plane, in 1/m: U = I/(2πσ)·(1/r₊ −
// 1/r₋) at each tip (a source on an insulating plane gives all its current to
// one half of space).
func (s site) halfSpace() []float64 {
	out := make([]float64, len(s.plus))
	at := func(p [3]float64) float64 {
		far := func(x float64) float64 { return math.Sqrt((p[0]-x)*(p[0]-x) + p[1]*p[1] + p[2]*p[2]) }
		return (1/far(0.005) - 1/far(-0.005)) / (2 * math.Pi)
	}
	for i := range out {
		out[i] = at(s.plus[i]) - at(s.minus[i])
	}
	return out
}

// sediment is the same on bare sediment that conducts: a source on the face
// between two media gives U = I/(2π(σ + σₛ)r) in both, so that the shape is that of
// the half space times σ/(σ + σₛ).
func (s site) sediment(water, sediment float64) []float64 {
	out := s.halfSpace()
	for i := range out {
		out[i] *= water / (water + sediment)
	}
	return out
}

func question(shape *calibration.Shape, volts []float64, sd float64) *calibration.Question {
	q := &calibration.Question{Shape: shape, CurrentA: 6e-6, WaterSPerM: 4, Offset: true}
	for _, v := range volts {
		q.Readings = append(q.Readings, calibration.Reading{V: v, SDV: sd})
	}
	return q
}

func volts(shape []float64, ratio, offset float64) []float64 {
	out := make([]float64, len(shape))
	for i, s := range shape {
		out[i] = ratio*s + offset
	}
	return out
}

// Exact potentials of the closed form give back what they were made with, and
// over an insulating plane only current over conductivity.
func TestExactHalfSpace(t *testing.T) {
	shape := tips(12).halfSpace()
	for _, sd := range []float64{0, 1e-8} {
		r, err := calibration.Fit(question(calibration.OneShape(shape, 1, 16), volts(shape, 7e-6/3.8, 2e-5), sd))
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, "ratio", r.Ratio.Value, 7e-6/3.8, numtest.Tolerance{Rel: 1e-8})
		numtest.Check(t, "factor", r.Factor.Value, 7e-6/3.8/(6e-6/4), numtest.Tolerance{Rel: 1e-8})
		numtest.Check(t, "offset", r.OffsetV.Value, 2e-5, numtest.Tolerance{Rel: 1e-8})
		if r.Separation != calibration.ByNothing || r.CurrentA.Told() || r.WaterSPerM.Told() {
			t.Errorf("current %+v and water %+v were told apart over an insulating bottom", r.CurrentA, r.WaterSPerM)
		}
	}
}

// One measured quantity tells the other: I = ratio·σ and σ = I/ratio, whose
// relative variances add up (first order).
func TestAMeasureTellsTheOther(t *testing.T) {
	shape := tips(12).halfSpace()
	u := volts(shape, 7e-6/3.8, 2e-5)
	q := question(calibration.OneShape(shape, 0.04, 400), u, 1e-9)
	q.WaterSDSPerM = 0.02
	r, err := calibration.Fit(q)
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "current", r.CurrentA.Value, 7e-6/3.8*4, numtest.Tolerance{Rel: 1e-7})
	numtest.Check(t, "se of water", r.WaterSPerM.SE, 0.02, numtest.Tolerance{Rel: 1e-4})
	relative := math.Hypot(r.Factor.SE/r.Factor.Value, 0.02/4)
	numtest.Check(t, "se of current", r.CurrentA.SE/r.CurrentA.Value, relative, numtest.Tolerance{Rel: 1e-4})
	if r.Separation != calibration.ByMeasures || math.Abs(r.Correlation[0][1]) < 0.5 {
		t.Errorf("separation %d, correlation %v", r.Separation, r.Correlation)
	}
	q.WaterSDSPerM, q.CurrentSDA = 0, 1e-7
	for _, reversed := range []bool{false, true} {
		if reversed { // the other polarity changes no size
			for i := range q.Readings {
				q.Readings[i].V = 4e-5 - q.Readings[i].V
			}
		}
		if r, err = calibration.Fit(q); err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, "water", r.WaterSPerM.Value, 6e-6/(7e-6/3.8), numtest.Tolerance{Rel: 1e-7})
		if reversed != (r.CurrentA.Value < 0) || reversed != (r.Factor.High < 0) {
			t.Errorf("reversed %t: current %+v, factor %+v", reversed, r.CurrentA, r.Factor)
		}
	}
}

// The interpolated shape is that of the closed form between the conductivities
// where it is known, to the bound that its comment gives.
func TestShapeBetween(t *testing.T) {
	s := tips(9)
	for _, c := range []struct {
		n     int
		ratio float64
		off   float64
	}{{7, 4, 3e-5}, {5, 4, 5e-4}, {3, 1.25, 6e-5}} {
		shape := between(s, c.n, c.ratio)
		got := make([]float64, 9)
		for i := range 50 {
			water := 4 * math.Pow(c.ratio, -1+2*float64(i)/49)
			shape.At(got, math.Log(water))
			for k, want := range s.sediment(water, 1.2) {
				numtest.Check(t, fmt.Sprintf("%d points, %.3g S/m", c.n, water), got[k], want, numtest.Tolerance{Rel: c.off})
			}
		}
	}
}

func between(s site, n int, ratio float64) *calibration.Shape {
	var values [][]float64
	for _, water := range calibration.Conductivities(4, ratio, n) {
		values = append(values, s.sediment(water, 1.2))
	}
	return calibration.Between(4, ratio, values)
}

// On bare sediment of one homogeneous conductivity all potentials go with
// I/(σ + σₛ): current and conductivity are not told apart there either, although
// the shape depends on the water; the fit must not make them up.
func TestBareSedimentTellsNoMore(t *testing.T) {
	s := tips(12)
	u := volts(s.sediment(4, 1.2), 6e-6/4, 0)
	noise := numeric.Stream(3, "bare sediment")
	for i := range u {
		u[i] += 1e-8 * noise.NormFloat64()
	}
	for _, sd := range []float64{0, 1e-8} {
		r, err := calibration.Fit(question(between(s, 7, 4), u, sd))
		if err != nil {
			t.Fatal(err)
		}
		if r.Separation != calibration.ByTooLess || r.CurrentA.Told() || r.WaterSPerM.Told() {
			t.Errorf("sd %g: separation %d, current %+v, water %+v", sd, r.Separation, r.CurrentA, r.WaterSPerM)
		}
		numtest.Check(t, "factor", r.Factor.Value, 1, numtest.Tolerance{Abs: 0.01})
	}
}

// Where places depend on the water in different ways the potentials tell both:
// two shapes, one of the water alone, one of water and bottom.
func TestShapesThatDifferTellBoth(t *testing.T) {
	s := tips(20)
	mixed := func(water float64) []float64 {
		a, b := s.halfSpace(), s.sediment(water, 1.2)
		for i := range a {
			if i%2 == 0 {
				a[i] = b[i]
			}
		}
		return a
	}
	var values [][]float64
	for _, water := range calibration.Conductivities(4, 4, 7) {
		values = append(values, mixed(water))
	}
	r, err := calibration.Fit(question(calibration.Between(4, 4, values), volts(mixed(3), 5e-6/3, 1e-6), 1e-10))
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "water", r.WaterSPerM.Value, 3, numtest.Tolerance{Rel: 1e-3})
	numtest.Check(t, "current", r.CurrentA.Value, 5e-6, numtest.Tolerance{Rel: 1e-3})
	if r.Separation != calibration.ByShape {
		t.Errorf("separation %d", r.Separation)
	}
}

// One reading that is off is found, and the factor without it is that of a fit
// that never saw it.
func TestOneBadReading(t *testing.T) {
	shape := tips(12).halfSpace()
	u := volts(shape, 6e-6/4, 1e-6)
	noise := numeric.Stream(4, "bad reading")
	for i := range u {
		u[i] += 2e-8 * noise.NormFloat64()
	}
	u[4] += 1e-6
	r, err := calibration.Fit(question(calibration.OneShape(shape, 1, 16), u, 0))
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range r.Rows {
		if bad := row.OutlierP < 0.01; bad != (i == 4) {
			t.Errorf("reading %d: outlier p %g", i, row.OutlierP)
		}
	}
	left := append(append([]float64{}, shape[:4]...), shape[5:]...)
	without, err := calibration.Fit(question(calibration.OneShape(left, 1, 16), append(append([]float64{}, u[:4]...), u[5:]...), 0))
	if err != nil {
		t.Fatal(err)
	}
	numtest.Check(t, "factor without it", r.Rows[4].FactorWithout, without.Factor.Value, numtest.Tolerance{Rel: 1e-8})
}

// Intervals cover the truth in 95 of 100 simulated calibrations, with stated and
// with unknown scatter, with tips that are not where they were thought to be,
// and with a measured current. 400 of each with a fixed seed: 95 % ± 4 binomial standard
// errors (4.4 %). With stated standard deviations intervals are only ever
// widened, so that they may cover more.
func TestCoverage(t *testing.T) {
	const many = 400
	s := tips(10)
	shape := s.halfSpace()
	for _, c := range []struct {
		name                  string
		stated, places, prior bool
		low, high             float64
	}{
		{"unknown scatter", false, false, false, 0.906, 0.994},
		{"stated scatter", true, false, false, 0.92, 1},
		{"uncertain places", true, true, false, 0.92, 1},
		{"uncertain places, unknown scatter", false, true, false, 0.906, 1},
		{"measured current", false, false, true, 0.906, 0.994},
	} {
		noise := numeric.Stream(1, "coverage "+c.name)
		factor, water := 0, 0
		for range many {
			q := question(calibration.OneShape(shape, 0.04, 400), volts(shape, 6.6e-6/4, 1e-6), 0)
			for i := range q.Readings {
				r := &q.Readings[i]
				r.V += 5e-8 * noise.NormFloat64()
				if c.stated {
					r.SDV = 5e-8
				}
				if c.places {
					r.PlacesPerMetre = 0.1 * math.Abs(shape[i])
					r.V += 6.6e-6 / 4 * r.PlacesPerMetre * noise.NormFloat64()
				}
			}
			if c.prior {
				q.CurrentSDA = 1e-7
				q.CurrentA = 6.6e-6 + q.CurrentSDA*noise.NormFloat64()
			}
			r, err := calibration.Fit(q)
			if err != nil {
				t.Fatal(err)
			}
			if truth := 6.6e-6 / q.CurrentA; r.Factor.Low <= truth && truth <= r.Factor.High {
				factor++
			}
			if r.WaterSPerM.Low <= 4 && 4 <= r.WaterSPerM.High {
				water++
			}
		}
		for what, n := range map[string]int{"factor": factor, "water": water} {
			if share := float64(n) / many; (share < c.low || share > c.high) && (what == "factor" || c.prior) {
				t.Errorf("%s: the interval of the %s covers %.3f of the time", c.name, what, share)
			}
		}
	}
}

// Too little is an error that says so, and nothing is a number by chance.
func TestTooLittle(t *testing.T) {
	shape := tips(3).halfSpace()
	for _, c := range []struct {
		n    int
		sd   float64
		want error
	}{{1, 0, calibration.ErrTooFew}, {2, 0, calibration.ErrTooFew}, {1, 1e-8, calibration.ErrTooFew}} {
		_, err := calibration.Fit(question(calibration.OneShape(shape[:c.n], 1, 16), volts(shape[:c.n], 1.5e-6, 0), c.sd))
		if !errors.Is(err, c.want) {
			t.Errorf("%d readings: %v", c.n, err)
		}
	}
	same := []float64{0.3, 0.3, 0.3, 0.3}
	if _, err := calibration.Fit(question(calibration.OneShape(same, 1, 16), []float64{1e-6, 2e-6, 1e-6, 2e-6}, 0)); !errors.Is(err, calibration.ErrNotTold) {
		t.Errorf("readings all at places alike: %v", err)
	}
	if _, err := calibration.Fit(question(calibration.OneShape(shape, 1, 16), []float64{0, 0, 0}, 0)); err != nil {
		t.Errorf("readings of nought: %v", err)
	}
}
