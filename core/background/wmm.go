package background

import (
	"fmt"
	"math"
	"time"

	"brinefield/core/numeric"
)

// The years of the magnetic model.
const (
	FirstYear = 2025.0
	LastYear  = 2030.0
)

const (
	degree       = 12
	radiusKm     = 6371.2         // of the model's sphere
	equatorKm    = 6378.137       // WGS 84
	eccentricity = 0.006694379990 // squared: f(2−f) with f = 1/298.257223563
	lowestKm     = -1
	highestKm    = 850
)

// Magnetic is the Earth's field at one place and time, in nT, and its change in
// a year.
type Magnetic struct{ FieldNT, RateNT Vector }

// Earth returns the Earth's magnetic field by the World Magnetic Model 2025: the
// field of the core, without rocks, storms and iron nearby.
//
// Latitude and longitude are geodetic degrees on WGS 84, north and east;
// heightKm is above the ellipsoid; year is a decimal year.
//
// Errors: a place that is none, a height outside −1 to 850 km, a year outside
// 2025.0 to 2030.0.
//
// Source: The US/UK World Magnetic Model for 2025–2030, technical report,
// equations 7 to 19. Checked against the report's worked example and the
// published test values.
func Earth(latitudeDeg, longitudeDeg, heightKm, year float64) (Magnetic, error) {
	switch {
	case !(latitudeDeg >= -90 && latitudeDeg <= 90):
		return Magnetic{}, fmt.Errorf("a latitude of %g°; -90 to 90 is expected", latitudeDeg)
	case !(longitudeDeg >= -360 && longitudeDeg <= 360):
		return Magnetic{}, fmt.Errorf("a longitude of %g°; -180 to 180 is expected, or 0 to 360", longitudeDeg)
	case !(heightKm >= lowestKm && heightKm <= highestKm):
		return Magnetic{}, fmt.Errorf("a height of %g km; the magnetic model holds from %d to %d km", heightKm, lowestKm, highestKm)
	case !(year >= FirstYear && year <= LastYear):
		return Magnetic{}, fmt.Errorf("the year %.2f; the magnetic model (WMM2025) holds from %.0f to %.0f", year, FirstYear, LastYear)
	}
	s := newSphere(latitudeDeg, longitudeDeg, heightKm)
	t := year - FirstYear
	field := s.sum(func(c *wmmTerm) (g, h float64) { return c.g + t*c.gRate, c.h + t*c.hRate })
	rate := s.sum(func(c *wmmTerm) (g, h float64) { return c.gRate, c.hRate })
	return Magnetic{FieldNT: s.toGeodetic(field), RateNT: s.toGeodetic(rate)}, nil
}

// sphere is a place in the coordinates of the model, with the functions of it
// that every term needs.
type sphere struct {
	sinTurn, cosTurn float64 // of geocentric minus geodetic latitude
	ratio            float64 // model's radius over the place's
	sinM, cosM       [degree + 1]float64
	// p is the Schmidt semi-normalised associated Legendre function of the sine
	// of the geocentric latitude, dp its derivative by the latitude, and q is p
	// over the cosine of the latitude (m ≥ 1), which is finite at the poles.
	p, dp, q [degree + 1][degree + 1]float64
}

func newSphere(latitudeDeg, longitudeDeg, heightKm float64) *sphere {
	sin, cos := numeric.SinCosDeg(latitudeDeg)
	normal := equatorKm / math.Sqrt(1-eccentricity*sin*sin)
	across, along := (normal+heightKm)*cos, (normal*(1-eccentricity)+heightKm)*sin
	r := math.Hypot(across, along)
	sinC, cosC := along/r, across/r
	s := &sphere{ratio: radiusKm / r, sinTurn: sinC*cos - cosC*sin, cosTurn: cosC*cos + sinC*sin}
	for m := range s.sinM {
		s.sinM[m], s.cosM[m] = numeric.SinCosDeg(float64(m) * longitudeDeg)
	}
	s.legendre(sinC, cosC)
	return s
}

// legendre fills the functions by the usual recurrences, each differentiated
// term by term.
func (s *sphere) legendre(sin, cos float64) {
	p, dp, q := &s.p, &s.dp, &s.q
	p[0][0] = 1
	for n := 1; n <= degree; n++ {
		scale := 1.0
		if n > 1 {
			scale = math.Sqrt(float64(2*n-1) / float64(2*n))
		}
		p[n][n] = scale * cos * p[n-1][n-1]
		dp[n][n] = scale * (cos*dp[n-1][n-1] - sin*p[n-1][n-1])
		q[n][n] = scale * p[n-1][n-1]
		for m := range n {
			last, before := float64(2*n-1), 0.0
			if n-2 >= m {
				before = math.Sqrt(float64((n-1)*(n-1) - m*m))
			}
			down := math.Sqrt(float64(n*n - m*m))
			var p2, dp2, q2 float64
			if n >= 2 {
				p2, dp2, q2 = p[n-2][m], dp[n-2][m], q[n-2][m]
			}
			p[n][m] = (last*sin*p[n-1][m] - before*p2) / down
			dp[n][m] = (last*(sin*dp[n-1][m]+cos*p[n-1][m]) - before*dp2) / down
			q[n][m] = (last*sin*q[n-1][m] - before*q2) / down
		}
	}
}

// sum is the gradient of the potential whose coefficients are given, in
// geocentric north, east and down.
func (s *sphere) sum(of func(*wmmTerm) (g, h float64)) Vector {
	var v Vector
	for i := range wmm2025 {
		c := &wmm2025[i]
		g, h := of(c)
		power := math.Pow(s.ratio, float64(c.n+2))
		along := g*s.cosM[c.m] + h*s.sinM[c.m]
		v.North -= power * along * s.dp[c.n][c.m]
		v.East += power * float64(c.m) * (g*s.sinM[c.m] - h*s.cosM[c.m]) * s.q[c.n][c.m]
		v.Down -= power * float64(c.n+1) * along * s.p[c.n][c.m]
	}
	return v
}

// toGeodetic turns a vector from the direction of the Earth's middle to the
// vertical of the ellipsoid.
func (s *sphere) toGeodetic(v Vector) Vector {
	return Vector{
		North: v.North*s.cosTurn - v.Down*s.sinTurn,
		East:  v.East,
		Down:  v.North*s.sinTurn + v.Down*s.cosTurn,
	}
}

// HorizontalNT is the level part, H.
func (m Magnetic) HorizontalNT() float64 { return math.Hypot(m.FieldNT.North, m.FieldNT.East) }

// TotalNT is the magnitude, F.
func (m Magnetic) TotalNT() float64 { return m.FieldNT.Length() }

// DeclinationDeg is the angle from true north to the level part, east positive;
// NaN where there is no level part.
func (m Magnetic) DeclinationDeg() float64 {
	if m.HorizontalNT() == 0 {
		return math.NaN()
	}
	return degrees(math.Atan2(m.FieldNT.East, m.FieldNT.North))
}

// InclinationDeg is the angle below the level.
func (m Magnetic) InclinationDeg() float64 {
	return degrees(math.Atan2(m.FieldNT.Down, m.HorizontalNT()))
}

// Rates are the changes of H and F in nT, of D and I in degrees, in a year; NaN
// or infinite where there is no level part.
func (m Magnetic) Rates() (horizontal, total, declination, inclination float64) {
	f, r := m.FieldNT, m.RateNT
	h, t := m.HorizontalNT(), m.TotalNT()
	horizontal = (f.North*r.North + f.East*r.East) / h
	total = (f.North*r.North + f.East*r.East + f.Down*r.Down) / t
	declination = degrees((f.North*r.East - f.East*r.North) / (h * h))
	inclination = degrees((h*r.Down - f.Down*horizontal) / (t * t))
	return horizontal, total, declination, inclination
}

// DecimalYear is a day as a year and the part of it that has gone by.
func DecimalYear(day time.Time) float64 {
	year := day.Year()
	days := time.Date(year+1, 1, 1, 0, 0, 0, 0, time.UTC).Sub(time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC)).Hours() / 24
	return float64(year) + float64(day.YearDay()-1)/days
}

func degrees(radians float64) float64 { return radians * 180 / math.Pi }
