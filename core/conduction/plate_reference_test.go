package conduction

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

// plateCase is a plate of testdata/plate_fem.json or plate_thin_disc.json;
// sources, columns and error bars are named there.
type plateCase struct {
	Name        string
	Side        float64 `json:"side_m"`
	Diameter    float64 `json:"diameter_m"`
	Thickness   float64 `json:"thickness_m"`
	Top         float64 `json:"top_m"`
	Depth       float64 `json:"water_depth_m"`
	Sediment    float64 `json:"sediment_S_per_m"`
	Water       float64 `json:"water_S_per_m"`
	Separation  float64 `json:"separation_m"`
	Current     float64 `json:"current_A"`
	Points      [][]float64
	thinMeasure bool
}

func plateCases(t testing.TB, file string) []plateCase {
	t.Helper()
	raw, err := os.ReadFile("testdata/" + file)
	if err != nil {
		t.Fatal(err)
	}
	var doc struct{ Cases []plateCase }
	if err := json.Unmarshal(raw, &doc); err != nil {
		t.Fatal(err)
	}
	if len(doc.Cases) == 0 {
		t.Fatalf("%s holds no case", file)
	}
	return doc.Cases
}

// thin is the case without thickness, under water without end.
func (c plateCase) thin() plateCase {
	c.Thickness, c.Depth, c.thinMeasure = 0, math.Inf(1), true
	return c
}

func (c plateCase) medium() Medium {
	return Medium{WaterSPerM: c.Water, DepthM: c.Depth, Layers: []Layer{{math.Inf(1), c.Sediment}}}
}

func (c plateCase) plates() []Plate {
	return []Plate{{SizeXM: c.Side, SizeYM: c.Side, DiameterM: c.Diameter, ThicknessM: c.Thickness, TopM: c.Top}}
}

func (c plateCase) electrodes() []Electrode {
	return Pair{Centre: Point{Z: c.Top}, SeparationM: c.Separation}.Electrodes(c.Current)
}

func (c plateCase) points() []Point {
	out := make([]Point, len(c.Points))
	for k, q := range c.Points {
		out[k] = Point{q[0], q[1], q[2]}
	}
	return out
}

// want is the field of the reference at a point, and its bar |δE|/|E|.
func (c plateCase) want(k int) (Vector, float64) {
	q := c.Points[k]
	if c.thinMeasure {
		return Vector{q[9], q[10], q[11]}, 0
	}
	bar := 0.0
	if len(q) > 7 {
		bar = q[7]
	}
	return Vector{q[4], q[5], q[6]}, bar
}

// relative is |a − b|/|b|.
func relative(a, b Vector) float64 { return a.Sub(b).Norm() / b.Norm() }

func solvePlates(t testing.TB, m Medium, plates []Plate, electrodes []Electrode, tolerance float64, points ...Point) *PlateSolution {
	t.Helper()
	s, err := SolveOnPlates(m, plates, electrodes, PlateOptions{RelativeTolerance: tolerance, Points: points})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func plateBoth(t testing.TB, s *PlateSolution, points []Point) ([]float64, []Vector) {
	t.Helper()
	v, e := make([]float64, len(points)), make([]Vector, len(points))
	if err := s.Both(v, e, points); err != nil {
		t.Fatal(err)
	}
	return v, e
}

// Source: testdata/plate_fem.json. At each point the field is within the bar of
// the finite elements and the tolerance asked for, and the solver's own estimate
// is neither below what it is off by beyond that bar nor more than 20 times it.
func TestPlatesAgainstFiniteElements(t *testing.T) {
	for _, tolerance := range []float64{0.005, 0.001} {
		t.Logf("%-20s tolerance  unknowns  own estimate  largest |δE|/|E|  beyond the bar  potential", "")
		for _, c := range plateCases(t, "plate_fem.json") {
			points := c.points()
			s := solvePlates(t, c.medium(), c.plates(), c.electrodes(), tolerance, points...)
			phi, field := plateBoth(t, s, points)
			worst, beyond, worstPhi := 0.0, 0.0, 0.0
			for k, p := range points {
				want, bar := c.want(k)
				d := relative(field[k], want)
				worst, beyond = math.Max(worst, d), math.Max(beyond, d-bar)
				if d > bar+tolerance {
					t.Errorf("%s, tolerance %g, at %v: |δE|/|E| %.2g, allowed %.2g", c.Name, tolerance, p, d, bar+tolerance)
				}
				// The potential is judged by the field over the distance to the pair: where it is 0
				// for symmetry it has no relative error.
				size := want.Norm() * distance(p, Point{Z: c.Top})
				dphi := (math.Abs(phi[k]-c.Points[k][3]) - c.Points[k][8]) / size
				worstPhi = math.Max(worstPhi, dphi)
				if !(dphi <= tolerance) {
					t.Errorf("%s, tolerance %g, at %v: potential %.6g V, want %.6g V ± %.1g V", c.Name, tolerance, p, phi[k], c.Points[k][3], c.Points[k][8])
				}
			}
			t.Logf("%-20s %9g  %8d  %12.1e  %16.1e  %14.1e  %9.1e", c.Name, tolerance, s.Unknowns(), s.RelativeError(), worst, beyond, worstPhi)
			if !s.Reached() {
				t.Errorf("%s: %.2g reached of %g asked for", c.Name, s.RelativeError(), tolerance)
			}
			if s.RelativeError() < beyond {
				t.Errorf("%s, tolerance %g: own estimate %.2g, but off by %.2g beyond the bar", c.Name, tolerance, s.RelativeError(), beyond)
			}
			if beyond > 0 && s.RelativeError() > 20*worst {
				t.Errorf("%s, tolerance %g: own estimate %.2g for an error of %.2g", c.Name, tolerance, s.RelativeError(), worst)
			}
		}
	}
}

// Squares without thickness in the surface of deep sediment. Source:
// testdata/plate_fem.json, columns thin (boundary integral with constant panels).
func TestThinSquares(t *testing.T) {
	for _, c := range plateCases(t, "plate_fem.json") {
		if c.Diameter > 0 || c.Points[0][9] == 0 {
			continue
		}
		c = c.thin()
		checkThin(t, c, 1e-4, 2e-4)
	}
}

// Source: testdata/plate_thin_disc.json (case A8, a closed form).
func TestThinDisc(t *testing.T) {
	for _, c := range plateCases(t, "plate_thin_disc.json") {
		c.Depth = math.Inf(1)
		checkThin(t, c, 1e-4, 1e-4)
	}
}

func checkThin(t *testing.T, c plateCase, tolerance, allowed float64) {
	t.Helper()
	points := c.points()
	s := solvePlates(t, c.medium(), c.plates(), c.electrodes(), tolerance, points...)
	_, field := plateBoth(t, s, points)
	worst, at := 0.0, Point{}
	for k, p := range points {
		want, _ := c.want(k)
		if d := relative(field[k], want); d > worst {
			worst, at = d, p
		}
	}
	t.Logf("%s, thin: largest |δE|/|E| %.1e at %v, own estimate %.1e, %d unknowns", c.Name, worst, at, s.RelativeError(), s.Unknowns())
	if !(worst <= allowed) {
		t.Errorf("%s, thin: off by %.2g at %v, allowed %g", c.Name, worst, at, allowed)
	}
}
