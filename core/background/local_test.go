package background_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"brinefield/core/background"
	"brinefield/core/numeric/numtest"
)

const nV = 1e-7 // V/m

func level(axis float64) *float64 { return &axis }

// A dipole on an insulating bottom, 6 µA over 1 cm in 19 Ω·cm: the project's
// table of the half-space dipole, |E| at 0°, 45°, 60° and 90° (six digits).
func TestHalfSpaceDipole(t *testing.T) {
	for _, c := range []struct{ r, angle, want float64 }{
		{0.05, 0, 290.299},
		{0.05, 45, 229.501},
		{0.05, 60, 192.014},
		{0.05, 90, 145.149},
		{0.10, 0, 36.2873},
		{0.20, 60, 3.00023},
		{0.30, 90, 0.671988},
		{0.44, 45, 0.336773},
	} {
		d := background.Dipole{MomentAM: 6e-8, AxisDeg: level(0), Sea: background.Sea{WaterSPerM: 1 / 0.19, BottomInsulates: true}}
		sin, cos := math.Sincos(c.angle * math.Pi / 180)
		e, ok := d.FieldVPerM([3]float64{c.r * cos, c.r * sin, 0})
		if !ok {
			t.Fatal("no field")
		}
		numtest.Check(t, "E", e/nV, c.want, numtest.Tolerance{Rel: 3.5e-6})
		// With an axis that is not known it is the axial field at every angle.
		d.AxisDeg = nil
		e, _ = d.FieldVPerM([3]float64{c.r * cos, c.r * sin, 0})
		axial := 1000 * 19 * 6 * 1 / (math.Pi * math.Pow(100*c.r, 3)) // nV/cm, the same table's unit form
		numtest.Check(t, "worst axis", e/nV, axial, numtest.Tolerance{Rel: 1e-12})
		// Open water: half of it.
		d.Sea.BottomInsulates = false
		e, _ = d.FieldVPerM([3]float64{c.r * cos, c.r * sin, 0})
		numtest.Check(t, "open water", e/nV, axial/2, numtest.Tolerance{Rel: 1e-12})
	}
}

// Ranges of dipoles at 5 nV/cm in 0.2 Ω·m over an insulating bottom, as in the
// project's reference list: p = 1e-6 to 1e-3 A·m.
func TestStandoffs(t *testing.T) {
	for _, c := range []struct{ moment, want float64 }{{1e-6, 0.503}, {1e-5, 1.084}, {1e-4, 2.335}, {1e-3, 5.031}} {
		d := background.Dipole{MomentAM: c.moment, Sea: background.Sea{WaterSPerM: 5, BottomInsulates: true}}
		r := d.Standoff(5*nV, 0)
		numtest.Check(t, "standoff", r, c.want, numtest.Tolerance{Abs: 5.1e-4})
		e, _ := d.FieldVPerM([3]float64{r, 0, 0})
		numtest.Check(t, "field there", e/nV, 5, numtest.Tolerance{Rel: 1e-12})
	}
}

// On the bottom of water of depth H under air: the project's table of ratios to
// ρp/(πr³) on the axis (F = ∞), itself checked against a Hankel integral.
func TestDepth(t *testing.T) {
	for _, c := range []struct{ h, r, want float64 }{
		{0.5, 0.1, 0.99884}, {0.5, 0.3, 0.97708}, {0.5, 1, 1.08519}, {1, 0.3, 0.99628}, {1, 1, 0.94360}, {2, 1, 0.98525},
	} {
		d := background.Dipole{MomentAM: 1, AxisDeg: level(30), Sea: background.Sea{WaterSPerM: 5, BottomInsulates: true, DepthM: c.h}}
		sin, cos := math.Sincos(math.Pi / 6)
		e, _ := d.FieldVPerM([3]float64{c.r * cos, c.r * sin, 0})
		numtest.Check(t, "ratio", e*5*math.Pi*math.Pow(c.r, 3), c.want, numtest.Tolerance{Abs: 6e-6})
	}
}

// Where the sum of images hands over to two dimensions, both agree to what the
// latter leaves out, exp(−6π) times a few hundred; and far off the field is p/(2πσHr²).
func TestFarInShallowWater(t *testing.T) {
	d := background.Dipole{MomentAM: 1, AtM: [3]float64{0, 0, 0.3}, Sea: background.Sea{WaterSPerM: 5, BottomInsulates: true, DepthM: 2}}
	for _, axis := range []*float64{nil, level(0), level(90), level(35)} {
		d.AxisDeg = axis
		near, _ := d.FieldVPerM([3]float64{12 * (1 - 1e-9), 0, 1.5})
		far, _ := d.FieldVPerM([3]float64{12 * (1 + 1e-9), 0, 1.5})
		numtest.Check(t, "at six depths", near, far, numtest.Tolerance{Rel: 1e-5})
	}
	e, _ := d.FieldVPerM([3]float64{50, 0, 0})
	numtest.Check(t, "far", e, 1/(2*math.Pi*5*2*50*50), numtest.Tolerance{Rel: 1e-12})
	before, _ := d.GradientVPerM2([3]float64{12 * (1 - 1e-9), 0, 1.5})
	after, _ := d.GradientVPerM2([3]float64{12 * (1 + 1e-9), 0, 1.5})
	numtest.Check(t, "gradient at six depths", before, after, numtest.Tolerance{Rel: 1e-4})
}

// The standoff in a channel: nothing beyond it is above the limit, by a search,
// and it is not below that of the half-space.
func TestStandoffInShallowWater(t *testing.T) {
	for _, moment := range []float64{1e-5, 1e-3, 1e-1} {
		for _, z := range []float64{-0.05, 0, 1, 2} {
			d := background.Dipole{MomentAM: moment, AtM: [3]float64{0, 0, z}, Sea: background.Sea{WaterSPerM: 4, BottomInsulates: true, DepthM: 2}}
			r := d.Standoff(0.5*nV, 0.1)
			if r < d.HalfSpaceStandoff(0.5*nV) {
				t.Errorf("p = %g, z = %g: %g m is below the half-space", moment, z, r)
			}
			for f := 1.0001; f < 20; f *= 1.05 {
				x := math.Sqrt(math.Max(0, math.Pow(f*r, 2)-math.Pow(0.1-z, 2)))
				if e, ok := d.FieldVPerM([3]float64{x, 0, 0.1}); ok && e > 0.5*nV*1.0001 {
					t.Errorf("p = %g, z = %g: %g nV/cm at %g times the standoff", moment, z, e/nV, f)
				}
			}
		}
	}
	// A tenth of a ampere metre in 2 m of water reaches far beyond the cube law.
	d := background.Dipole{MomentAM: 0.1, Sea: background.Sea{WaterSPerM: 4, BottomInsulates: true, DepthM: 2}}
	numtest.Check(t, "square law", d.Standoff(0.5*nV, 0), math.Sqrt(0.1/(2*math.Pi*4*2*0.5*nV)), numtest.Tolerance{Rel: 1e-9})
}

// The gradient is a bound of the difference of fields of every axis, and 3E/r on
// the axis of a dipole on an insulating bottom.
func TestGradient(t *testing.T) {
	for _, sea := range []background.Sea{{WaterSPerM: 5}, {WaterSPerM: 5, BottomInsulates: true}, {WaterSPerM: 5, BottomInsulates: true, DepthM: 1}, {WaterSPerM: 5, DepthM: 1}} {
		for _, axis := range []float64{0, 30, 90} {
			d := background.Dipole{MomentAM: 1, AtM: [3]float64{0, 0, 0.2}, AxisDeg: level(axis), Sea: sea}
			for _, at := range [][3]float64{{0.5, 0.1, 0}, {2, 1, 0.3}, {3.9, 0, 0.1}, {6, 2, 0.1}} {
				bound, ok := d.GradientVPerM2(at)
				if !ok {
					t.Fatal("no gradient")
				}
				const h = 1e-5
				e0, _ := d.FieldVPerM([3]float64{at[0] - h, at[1], at[2]})
				e1, _ := d.FieldVPerM([3]float64{at[0] + h, at[1], at[2]})
				if change := math.Abs(e1-e0) / (2 * h); change > bound*(1+1e-6) {
					t.Errorf("%+v at %v: %g changes by more than %g", sea, at, change, bound)
				}
			}
		}
	}
	d := background.Dipole{MomentAM: 1, Sea: background.Sea{WaterSPerM: 5, BottomInsulates: true}}
	e, _ := d.FieldVPerM([3]float64{2, 0, 0})
	g, _ := d.GradientVPerM2([3]float64{2, 0, 0})
	numtest.Check(t, "on the axis", g, 3*e/2, numtest.Tolerance{Rel: 1e-12})
	if _, ok := d.FieldVPerM(d.AtM); ok {
		t.Error("a field at the dipole")
	}
	if _, ok := d.GradientVPerM2(d.AtM); ok {
		t.Error("a gradient at the dipole")
	}
}

// Two balls far apart: ΔV/(R1+R2) with R = ρ/(4πa), the spreading resistance of
// a ball (textbook): 1 mm in 0.2 Ω·m has 15.915 Ω.
func TestCouple(t *testing.T) {
	c := background.Couple{VoltageV: 0.5, RadiusM: [2]float64{1e-3, 1e-3}, ApartM: 1e9, WaterSPerM: 5}
	numtest.Check(t, "ohm", c.Ohm(), 2*15.9155, numtest.Tolerance{Rel: 1e-5})
	numtest.Check(t, "current", c.CurrentA(), 0.5/(2*15.91549430918954), numtest.Tolerance{Rel: 1e-8})
	// Each lies in the other's field: less resistance, by ρ/(2πd).
	c.ApartM = 0.1
	numtest.Check(t, "ohm near", c.Ohm(), 2*15.91549430918954-0.2/(2*math.Pi*0.1), numtest.Tolerance{Rel: 1e-12})
	// The field does not depend on the water.
	salt := background.Couple{VoltageV: 0.5, RadiusM: c.RadiusM, ApartM: 0.1, WaterSPerM: 2.5}
	numtest.Check(t, "moment over conductivity", c.MomentAM()/5, salt.MomentAM()/2.5, numtest.Tolerance{Rel: 1e-12})
	// 4π cm² of surface is a ball of 1 cm; three quarters painted, one of 0.5 cm.
	numtest.Check(t, "radius", background.BareRadius(4*math.Pi*1e-4, 0), 0.01, numtest.Tolerance{Rel: 1e-12})
	numtest.Check(t, "radius painted", background.BareRadius(4*math.Pi*1e-4, 75), 0.005, numtest.Tolerance{Rel: 1e-12})
	painted := background.Couple{VoltageV: 0.5, RadiusM: [2]float64{0.01, background.BareRadius(1e-3, 100)}, ApartM: 0.1, WaterSPerM: 5}
	if painted.MomentAM() != 0 {
		t.Errorf("a painted metal drives %g A·m", painted.MomentAM())
	}
}

func TestGalvanicTable(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want float64
	}{{"zinc", "copper", 0.67}, {"aluminium", "stainless steel, passive", 0.95}, {"stainless steel, passive", "aluminium", 0.95}, {"brass", "brass", 0.1}} {
		v, err := background.CoupleVoltage(c.a, c.b)
		if err != nil {
			t.Fatal(err)
		}
		numtest.Check(t, c.a+" and "+c.b, v, c.want, numtest.Tolerance{Abs: 1e-12})
	}
	if _, err := background.CoupleVoltage("zinc", "unobtainium"); err == nil {
		t.Error("an unknown metal was answered")
	}
	for _, k := range background.Kinds() {
		if k.From == "" || k.Advice == "" || !(k.MomentAM > 0) {
			t.Errorf("%q lacks something", k.Kind)
		}
	}
}

// A leak is never above what two poles of it make, in any direction, over an
// insulating bottom; sought over the sphere of the other end.
func TestLeakBound(t *testing.T) {
	sea := background.Sea{WaterSPerM: 5, BottomInsulates: true}
	for _, length := range []float64{0.2, 1, 30} {
		l := background.Leak{CurrentA: 90e-9, LengthM: length, Sea: sea}
		for _, r := range []float64{0.1, 0.5, 2, 10} {
			at := [3]float64{r, 0, 0}
			bound, ok := l.FieldVPerM(at)
			gradient, ok2 := l.GradientVPerM2(at)
			if !ok || !ok2 {
				t.Fatal("no bound")
			}
			for a := 0.0; a <= 180; a += 0.5 {
				sin, cos := math.Sincos(a * math.Pi / 180)
				end := [2]float64{length * cos, length * sin}
				if math.Hypot(end[0]-r, end[1]) < r {
					continue // then the other end is the nearer one
				}
				if e := twoPoles(r, end, 90e-9, 5); e > bound*(1+1e-9) {
					t.Errorf("L = %g, r = %g, %g°: %g above the bound %g", length, r, a, e, bound)
				}
				const h = 1e-6
				if change := math.Abs(twoPoles(r+h, end, 90e-9, 5)-twoPoles(r-h, end, 90e-9, 5)) / (2 * h); change > gradient*(1+1e-6) {
					t.Errorf("L = %g, r = %g, %g°: changes by %g, above %g", length, r, a, change, gradient)
				}
			}
		}
		limit := 0.5 * nV
		standoff, _ := l.Standoff(limit, 0)
		e, _ := l.FieldVPerM([3]float64{standoff, 0, 0})
		numtest.Check(t, "at the standoff", e, limit, numtest.Tolerance{Rel: 1e-9})
	}
	if _, ok := (background.Leak{CurrentA: 1, LengthM: 1, Sea: sea}).FieldVPerM([3]float64{}); ok {
		t.Error("a field at the leak")
	}
}

// twoPoles is the field at (r, 0) on an insulating bottom of a pole at the origin
// and its opposite at end, V/m.
func twoPoles(r float64, end [2]float64, currentA, sPerM float64) float64 {
	k := currentA / (2 * math.Pi * sPerM)
	dx, dy := r-end[0], -end[1]
	d := math.Hypot(dx, dy)
	return k * math.Hypot(1/(r*r)-dx/(d*d*d), -dy/(d*d*d))
}

// The cube law: 40 nV/cm at half a metre is 5 at one metre.
func TestMeasured(t *testing.T) {
	m := background.Measured{FieldVPerM: 40 * nV, DistanceM: 0.5}
	e, g := m.At(1)
	numtest.Check(t, "field", e/nV, 5, numtest.Tolerance{Rel: 1e-12})
	numtest.Check(t, "gradient", g, 3*e, numtest.Tolerance{Rel: 1e-12})
	numtest.Check(t, "standoff", m.Standoff(5*nV), 1, numtest.Tolerance{Rel: 1e-12})
	sea := background.Sea{WaterSPerM: 5, BottomInsulates: true}
	d := background.Dipole{MomentAM: m.MomentAM(sea), Sea: sea}
	e, _ = d.FieldVPerM([3]float64{0.5, 0, 0})
	numtest.Check(t, "its dipole", e/nV, 40, numtest.Tolerance{Rel: 1e-12})
	if got := (background.Measured{DistanceM: 1}).MomentAM(sea); got != 0 {
		t.Errorf("no field has the moment %g", got)
	}
}

// Places and depths out of all proportion give a number, an infinite one or
// none, and never anything that is no number. What is far is less than what is
// near.
func TestOddScenes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := func(name string) float64 {
			return math.Pow(10, rapid.Float64Range(-200, 4).Draw(t, name))
		}
		sea := background.Sea{WaterSPerM: size("water"), BottomInsulates: rapid.Bool().Draw(t, "bottom")}
		if rapid.Bool().Draw(t, "surface") {
			sea.DepthM = size("depth")
		}
		at := [3]float64{size("x"), 0, 0}
		d := background.Dipole{MomentAM: size("moment"), AtM: [3]float64{0, 0, math.Min(size("z"), sea.DepthM)}, Sea: sea}
		l := background.Leak{CurrentA: size("current"), LengthM: size("length"), AtM: d.AtM, Sea: sea}
		limit := size("limit")
		free := d.HalfSpaceStandoff(limit)
		leak, leakFree := l.Standoff(limit, 0)
		values := []float64{free, d.Standoff(limit, 0), leak, leakFree}
		for _, source := range []interface {
			FieldVPerM([3]float64) (float64, bool)
			GradientVPerM2([3]float64) (float64, bool)
		}{d, l} {
			if v, ok := source.FieldVPerM(at); ok {
				values = append(values, v)
			}
			if v, ok := source.GradientVPerM2(at); ok {
				values = append(values, v)
			}
		}
		for i, v := range values {
			if math.IsNaN(v) || v < 0 {
				t.Errorf("value %d is %g", i, v)
			}
		}
	})
}
