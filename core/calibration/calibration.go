// Package calibration fits what drives a field to potentials that were
// measured in it: the current over the conductivity of the water, where the
// readings or other measurements allow it each of the two alone, and an offset
// that all readings share. Start with [Fit].
//
// A reading is U = (I/σ)·s(σ) + c: I the current, σ the water's conductivity, s
// the shape of the field at the probe's tips in 1/m (package conduction works
// it out; it is a plain list of numbers here), c the offset. Over an insulating
// bottom s does not depend on σ, and then no number of readings tells I and σ
// apart: the fit says so, and never makes one up.
package calibration

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Reading is one measured potential difference between two tips.
type Reading struct {
	V float64
	// SDV is its standard deviation; 0 of all: the scatter tells it.
	SDV float64
	// PlacesPerMetre is the standard deviation of the shape s at this reading, in
	// 1/m, that the uncertain places of its tips make.
	PlacesPerMetre float64
}

// Question is what was measured and how it was designed.
type Question struct {
	Readings []Reading
	Shape    *Shape // of those readings
	// CurrentA and WaterSPerM are those of the design. The current is not 0.
	CurrentA, WaterSPerM float64
	// CurrentSDA and WaterSDSPerM say that those were measured too, with these
	// standard deviations; 0: they were not. That of the current is of its size:
	// an ammeter's reading does not vouch for which wire goes where.
	CurrentSDA, WaterSDSPerM float64
	// Offset says that all readings share an unknown offset.
	Offset bool
}

// Value is an estimate with its standard error and 95 % interval. What cannot
// be told is not a number.
type Value struct{ Value, SE, Low, High float64 }

var unknown = Value{math.NaN(), math.NaN(), math.NaN(), math.NaN()}

// Told reports whether there is an estimate.
func (v Value) Told() bool { return !math.IsNaN(v.Value) }

// Scale says what standard errors rest on.
type Scale int

// The scales.
const (
	Stated    Scale = iota // the readings' own standard deviations
	Widened                // those, times √(χ²/degrees of freedom), as the readings scatter more
	Residuals              // the scatter of the readings alone
)

// Separation says what tells current and conductivity apart.
type Separation int

// The separations.
const (
	ByNothing  Separation = iota // the shape is the same in every water, and neither was measured otherwise
	ByTooLess                    // the shape depends on the water, but less than the readings scatter
	ByShape                      // the shape alone
	ByMeasures                   // a measured current or conductivity, with what the shape tells
)

// Result is a fit.
type Result struct {
	// Factor is the number by which the designed potentials have to be
	// multiplied, from the potentials alone, in the designed water.
	Factor Value
	// Ratio is current over conductivity, in A·m/S. Where current and
	// conductivity are not told apart it is that in the designed water.
	Ratio, CurrentA, WaterSPerM, OffsetV Value
	Separation                           Separation

	Names       []string    // of what Correlation is about
	Correlation [][]float64 // square

	DegreesOfFreedom float64
	ChiSquare        float64 // with the stated standard deviations; not a number without
	ChiSquareP       float64
	ResidualSDV      float64
	Scale            Scale
	Spread           float64 // by which stated standard deviations were widened; 1 where not
	// PriorsP is how well current and conductivity as measured agree with the
	// potentials; not a number unless both were measured.
	PriorsP float64
	Rows    []Row
}

// Row is what the fit says of one reading; not a number where nothing.
type Row struct {
	FittedV, ResidualV float64
	SDV                float64 // as used
	PlacesV            float64 // the part of it of the tips' places
	Standardised       float64
	Leverage           float64
	FactorWithout      float64
	Influence          float64 // in standard errors of the factor
	OutlierP           float64 // as the worst of so many
}

// Errors of a fit.
var (
	// ErrTooFew says that there are fewer readings than what they have to tell.
	ErrTooFew = errors.New("too few readings")
	// ErrNotTold says that the readings do not tell scale and offset apart, or
	// lie where there is no potential.
	ErrNotTold = errors.New("the readings tell nothing of the scale")
)

// Fit is the weighted least squares fit.
//
// Weights are 1/(sd² + (ratio·places)²), renewed with the ratio until they
// stand. Without stated standard deviations sd is the same for all and such
// that the weighted squares add up to the degrees of freedom (with no uncertain
// places: the residual standard deviation), and intervals are Student's; with
// them intervals are normal, widened by √(χ²/df) where that is above 1.
//
// Errors: [ErrTooFew], [ErrNotTold], [ErrNotConverged].
func Fit(q *Question) (*Result, error) {
	base, err := q.settle(mode{})
	if err != nil {
		return nil, err
	}
	main, separation := q.separate(base)
	r := &Result{Separation: separation, CurrentA: unknown, WaterSPerM: unknown, OffsetV: unknown, PriorsP: math.NaN()}
	designed := q.CurrentA / q.WaterSPerM
	factor := base.value(0)
	r.Factor = Value{factor.Value / designed, factor.SE / math.Abs(designed), factor.Low / designed, factor.High / designed}
	if designed < 0 {
		r.Factor.Low, r.Factor.High = r.Factor.High, r.Factor.Low
	}
	r.Ratio = main.value(0)
	if main.free {
		r.CurrentA, r.WaterSPerM = main.current(), main.water()
	}
	if q.Offset {
		r.OffsetV = main.value(len(main.x) - 1)
	}
	r.Names, r.Correlation = main.correlation()
	r.DegreesOfFreedom, r.Scale, r.Spread = main.degrees, main.scale, main.spread
	r.ChiSquare, r.ChiSquareP, r.ResidualSDV = main.chiSquare, main.chiSquareP(), main.residualSD()
	if q.CurrentSDA > 0 && q.WaterSDSPerM > 0 {
		r.PriorsP = q.priorsP(r.Factor, base)
	}
	r.Rows = rows(main, base, designed)
	return r, nil
}

// priorsP is how far the potentials' factor lies from 1, in standard deviations
// of itself and of the design as measured.
func (q *Question) priorsP(factor Value, base *solution) float64 {
	a, b := q.CurrentSDA/q.CurrentA, q.WaterSDSPerM/q.WaterSPerM
	z := math.Abs(math.Abs(factor.Value)-1) / math.Sqrt(factor.SE*factor.SE+a*a+b*b)
	if base.scale == Residuals {
		return 2 * distuv.StudentsT{Sigma: 1, Nu: base.degrees}.Survival(z)
	}
	return 2 * distuv.UnitNormal.Survival(z)
}

// separate fits the conductivity too, where anything tells it.
func (q *Question) separate(base *solution) (*solution, Separation) {
	measured := q.CurrentSDA > 0 || q.WaterSDSPerM > 0
	if q.Shape.constant() && !measured {
		return base, ByNothing
	}
	main, err := q.settle(mode{free: true})
	if err != nil {
		return base, ByTooLess
	}
	if v := main.value(1); v.Low < q.Shape.low() || v.High > q.Shape.high() {
		return base, ByTooLess
	}
	if measured {
		return main, ByMeasures
	}
	return main, ByShape
}

// Scaled is a shape laid through readings with a scale and an offset of its
// own.
type Scaled struct {
	Factor       Value
	OffsetV      Value
	SumOfSquares float64 // weighted
	ResidualSDV  float64
}

// Through lays another shape through readings, with the weights that the
// readings' own SDV give; used to compare settings.
//
// Errors: as [Fit].
func Through(readings []Reading, perMetre []float64, designedAMPerS float64, offset bool) (Scaled, error) {
	fixed := make([]Reading, len(readings))
	for i, r := range readings {
		fixed[i] = Reading{V: r.V, SDV: r.SDV}
	}
	q := &Question{Readings: fixed, Shape: OneShape(perMetre, 1, 1), CurrentA: designedAMPerS, WaterSPerM: 1, Offset: offset}
	r, err := Fit(q)
	if err != nil {
		return Scaled{}, err
	}
	return Scaled{r.Factor, r.OffsetV, r.ChiSquare, r.ResidualSDV}, nil
}
