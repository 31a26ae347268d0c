package background_test

import (
	"math"
	"testing"
	"time"

	"brinefield/core/background"
	"brinefield/core/numeric/numtest"
)

// The published test values of the World Magnetic Model 2025 (the file of test
// values that is given out with the coefficients), printed to 0.1 nT and 0.01°.
func TestPublishedTestPoints(t *testing.T) {
	unknown := math.NaN()
	for _, c := range []struct {
		year, km, lat, lon, x, y, z, d, h, f, i float64
	}{
		{2025.0, 0, 80, 0, 6521.6, 145.9, 54791.5, 1.28, 6523.2, 55178.5, 83.21},
		{2025.0, 0, 0, 120, 39677.8, -109.6, -10580.2, -0.16, 39677.9, 41064.3, -14.93},
		{2025.0, 0, -80, 240, 6117.5, 15751.9, -52022.5, 68.78, 16898.1, 54698.2, -72.00},
		{2025.0, 100, 80, 0, 6216.0, 92.4, 52598.8, 0.85, unknown, unknown, unknown},
		{2025.0, 100, 0, 120, 37688.6, -96.2, -10152.1, -0.15, unknown, unknown, unknown},
		{2025.0, 100, -80, 240, 5907.6, 14780.3, -49540.7, 68.21, unknown, unknown, unknown},
		{2027.5, 0, 80, 0, 6500.8, 294.5, 54869.4, 2.59, 6507.5, 55253.9, 83.24},
		{2027.5, 0, 0, 120, 39701.6, -167.4, -10381.8, -0.24, 39702.0, 41036.9, -14.65},
		{2027.5, 0, -80, 240, 6200.7, 15730.3, -51783.7, 68.49, unknown, unknown, unknown},
		{2027.5, 100, 80, 0, 6196.7, 233.8, 52670.5, 2.16, unknown, unknown, unknown},
		{2027.5, 100, 0, 120, 37711.5, -148.7, -9969.8, -0.23, unknown, unknown, unknown},
		{2027.5, 100, -80, 240, 5984.0, 14760.1, -49317.7, 67.93, unknown, unknown, unknown},
	} {
		m, err := background.Earth(c.lat, c.lon, c.km, c.year)
		if err != nil {
			t.Fatal(err)
		}
		nT, deg := numtest.Tolerance{Abs: 0.0501}, numtest.Tolerance{Abs: 0.00501}
		for _, v := range []struct {
			name      string
			got, want float64
			tol       numtest.Tolerance
		}{
			{"X", m.FieldNT.North, c.x, nT},
			{"Y", m.FieldNT.East, c.y, nT},
			{"Z", m.FieldNT.Down, c.z, nT},
			{"D", m.DeclinationDeg(), c.d, deg},
			{"H", m.HorizontalNT(), c.h, nT},
			{"F", m.TotalNT(), c.f, nT},
			{"I", m.InclinationDeg(), c.i, deg},
		} {
			if !math.IsNaN(v.want) {
				numtest.Check(t, v.name, v.got, v.want, v.tol)
			}
		}
	}
}

// The worked example of the model's technical report (table 3b): 2027.5, 100 km,
// 80° S, 240° E, printed to ten digits. (The high-precision file of test values
// that goes with the model has an X that is off by up to 7e-4 nT from an exact
// sum; this table is not.)
func TestReportsWorkedExample(t *testing.T) {
	m, err := background.Earth(-80, 240, 100, 2027.5)
	if err != nil {
		t.Fatal(err)
	}
	tol := numtest.Tolerance{Abs: 1e-7}
	numtest.Check(t, "X", m.FieldNT.North, 5983.9760496518, tol)
	numtest.Check(t, "Y", m.FieldNT.East, 14760.1359757868, tol)
	numtest.Check(t, "Z", m.FieldNT.Down, -49317.6706154255, tol)
	numtest.Check(t, "H", m.HorizontalNT(), 15927.0079860130, tol)
	numtest.Check(t, "F", m.TotalNT(), 51825.6907172314, tol)
	radians := numtest.Tolerance{Abs: 1e-10}
	numtest.Check(t, "D", m.DeclinationDeg()*math.Pi/180, 1.1856308407, radians)
	numtest.Check(t, "I", m.InclinationDeg()*math.Pi/180, -1.2584221541, radians)
	numtest.Check(t, "X a year", m.RateNT.North, 30.5553533530, tol)
	numtest.Check(t, "Y a year", m.RateNT.East, -8.0494228995, tol)
	numtest.Check(t, "Z a year", m.RateNT.Down, 89.2174069382, tol)
	h, f, d, i := m.Rates()
	numtest.Check(t, "H a year", h, 4.0203361601, tol)
	numtest.Check(t, "F a year", f, -83.6643506802, tol)

	// D and I have no printed rate: the difference of two years, of a field that
	// is linear in time, to second order.
	before, _ := background.Earth(-80, 240, 100, 2027.0)
	after, _ := background.Earth(-80, 240, 100, 2028.0)
	numtest.Check(t, "D a year", d, after.DeclinationDeg()-before.DeclinationDeg(), numtest.Tolerance{Abs: 1e-5})
	numtest.Check(t, "I a year", i, after.InclinationDeg()-before.InclinationDeg(), numtest.Tolerance{Abs: 1e-5})
}

// A worked example of another program's public documentation: 1000 m over Natick,
// Massachusetts, on 4 July 2028, printed to five digits.
func TestNatick(t *testing.T) {
	m, err := background.Earth(42.283, -71.35, 1, background.DecimalYear(time.Date(2028, 7, 4, 0, 0, 0, 0, time.UTC)))
	if err != nil {
		t.Fatal(err)
	}
	nT, deg := numtest.Tolerance{Abs: 0.51}, numtest.Tolerance{Abs: 5.1e-5}
	numtest.Check(t, "X", m.FieldNT.North, 20139, nT)
	numtest.Check(t, "Y", m.FieldNT.East, -4905, nT)
	numtest.Check(t, "Z", m.FieldNT.Down, 46532, nT)
	numtest.Check(t, "H", m.HorizontalNT(), 20727, nT)
	numtest.Check(t, "D", m.DeclinationDeg(), -13.6891, deg)
	numtest.Check(t, "I", m.InclinationDeg(), 65.9899, deg)
}

// At a pole every longitude is the same place: the level part keeps its length,
// and its direction turns with the meridian: at the north pole, what is east on
// the meridian of Greenwich is south on that of 90° E.
func TestPoles(t *testing.T) {
	for _, lat := range []float64{90, -90} {
		at0, err := background.Earth(lat, 0, 0, 2026)
		if err != nil {
			t.Fatal(err)
		}
		at90, _ := background.Earth(lat, 90, 0, 2026)
		tol := numtest.Tolerance{Abs: 1e-7}
		sign := math.Copysign(1, lat)
		numtest.Check(t, "Z", at90.FieldNT.Down, at0.FieldNT.Down, tol)
		numtest.Check(t, "north of 90° E", at90.FieldNT.North, -sign*at0.FieldNT.East, tol)
		numtest.Check(t, "east of 90° E", at90.FieldNT.East, sign*at0.FieldNT.North, tol)
		near, _ := background.Earth(lat*(1-1e-9), 0, 0, 2026)
		numtest.Check(t, "X beside the pole", near.FieldNT.North, at0.FieldNT.North, numtest.Tolerance{Abs: 1e-3})
		numtest.Check(t, "Y beside the pole", near.FieldNT.East, at0.FieldNT.East, numtest.Tolerance{Abs: 1e-3})
	}
}

func TestEarthRefuses(t *testing.T) {
	nan := math.NaN()
	for _, c := range [][4]float64{
		{91, 0, 0, 2026},
		{nan, 0, 0, 2026},
		{0, 361, 0, 2026},
		{0, nan, 0, 2026},
		{0, 0, -2, 2026},
		{0, 0, 851, 2026},
		{0, 0, 0, 2024.999},
		{0, 0, 0, 2030.001},
		{0, 0, 0, nan},
	} {
		if _, err := background.Earth(c[0], c[1], c[2], c[3]); err == nil {
			t.Errorf("Earth(%v) was answered", c)
		}
	}
	for _, year := range []float64{2025, 2030} {
		if _, err := background.Earth(0, 0, 0, year); err != nil {
			t.Errorf("%g: %v", year, err)
		}
	}
}

func TestDecimalYear(t *testing.T) {
	for _, c := range []struct {
		day  string
		want float64
	}{{"2025-01-01", 2025}, {"2030-01-01", 2030}, {"2026-12-31", 2026 + 364.0/365}, {"2028-12-31", 2028 + 365.0/366}} {
		day, _ := time.Parse(time.DateOnly, c.day)
		numtest.Check(t, c.day, background.DecimalYear(day), c.want, numtest.Tolerance{Abs: 1e-12})
	}
}
