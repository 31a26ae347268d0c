package reach_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"brinefield/core/conduction"
	"brinefield/core/reach"

	"pgregory.net/rapid"
)

// scene is a few dipoles, drawn at random, and where to look.
type scene struct {
	at      []point
	moments []vector
	search  reach.Search
	xs      []float64
}

func drawScene(t *rapid.T) scene {
	number := func(from, to float64, what string) float64 { return rapid.Float64Range(from, to).Draw(t, what) }
	s := scene{at: []point{{}}, moments: []vector{{X: moment}}}
	for range rapid.IntRange(0, 2).Draw(t, "others") {
		s.at = append(s.at, point{X: number(-0.8, 0.8, "x"), Y: number(-0.8, 0.8, "y")})
		// Not so weak that its island may be thin.
		sin, cos := math.Sincos(number(0, 2*math.Pi, "azimuth"))
		size, up := number(0.3, 1, "size")*moment, number(-1, 1, "up")
		s.moments = append(s.moments, vector{X: size * cos, Y: size * sin, Z: size * up})
	}
	s.search = reach.Search{HeightsM: []float64{number(0.03, 0.1, "height"), number(0.1, 0.3, "height")}, Directions: 36, MostM: 3, HighestM: 5, Sharp: s.at}
	s.xs = rapid.SliceOfNDistinct(rapid.Float64Range(2e-7, 1e-5), 1, 4, rapid.ID[float64]).Draw(t, "thresholds")
	slices.Sort(s.xs)
	return s
}

func (s scene) field() reach.Field {
	var parts []reach.Field
	for k := range s.at {
		parts = append(parts, dipole(s.moments[k], s.at[k]))
	}
	return sum(parts...)
}

// moved is the scene turned about the centre and shifted.
func (s scene) moved(angle float64, by point) scene {
	sin, cos := math.Sincos(angle)
	out := scene{search: s.search, xs: s.xs}
	for k, p := range s.at {
		m := s.moments[k]
		out.at = append(out.at, point{X: p.X*cos - p.Y*sin + by.X, Y: p.X*sin + p.Y*cos + by.Y, Z: p.Z + by.Z})
		out.moments = append(out.moments, vector{X: m.X*cos - m.Y*sin, Y: m.X*sin + m.Y*cos, Z: m.Z})
	}
	out.search.Centre, out.search.Sharp = by, out.at
	out.search.LowestM, out.search.HighestM = s.search.LowestM+by.Z, s.search.HighestM+by.Z
	out.search.HeightsM = nil
	for _, z := range s.search.HeightsM {
		out.search.HeightsM = append(out.search.HeightsM, z+by.Z)
	}
	return out
}

// A higher threshold is reached nowhere farther: by direction, in area, in all.
// And where a distance is given, the field falls below the threshold there:
// within 3e-4 of it, or (grazing an edge) within 3e-4 of the field.
func TestMonotoneAndTrue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t)
		f := s.field()
		got, err := reach.Ranges(f, s.xs, s.search)
		if err != nil {
			t.Fatal(err)
		}
		e := func(rho, angle, z float64) float64 {
			sin, cos := math.Sincos(angle)
			return magnitudeOf(f, point{X: rho * cos, Y: rho * sin, Z: z})
		}
		for n, r := range got {
			if r.HighestM < r.At.Z || r.LargestM < r.HighestM-1e-9 {
				t.Fatalf("largest %g m at a height of %g m, highest %g m", r.LargestM, r.At.Z, r.HighestM)
			}
			along := func(f float64) point { return point{X: r.At.X * f, Y: r.At.Y * f, Z: r.At.Z * f} }
			if in, out := magnitudeOf(f, along(1-3e-4)), magnitudeOf(f, along(1+3e-4)); in < r.ThresholdVPerM || out >= r.ThresholdVPerM {
				t.Fatalf("the field about %v is %g and %g, and not %g between", r.At, in, out, r.ThresholdVPerM)
			}
			for h, ring := range r.Rings {
				if ring.AreaM2 < 0 || ring.UnsureM2 < 0 || ring.AreaM2 == 0 && !math.IsNaN(ring.FarthestM) {
					t.Fatalf("area %g m², unsure of %g m², farthest %g m", ring.AreaM2, ring.UnsureM2, ring.FarthestM)
				}
				for k, rho := range ring.ByDirectionM {
					if math.IsNaN(rho) {
						continue
					}
					angle := 2 * math.Pi * float64(k) / 36
					in, at, out := e(rho*(1-3e-4), angle, ring.HeightM), e(rho, angle, ring.HeightM), e(rho*(1+3e-4), angle, ring.HeightM)
					if x := r.ThresholdVPerM; !(in >= x && out < x) && math.Abs(at/x-1) > 3e-4 {
						t.Fatalf("height %g m, direction %d: %g m, but there the field is %g, %g, %g for %g", ring.HeightM, k, rho, in, at, out, x)
					}
					if n > 0 && !(rho <= got[n-1].Rings[h].ByDirectionM[k]*(1+3e-4)) {
						t.Fatalf("height %g m, direction %d: %g m for %g and %g m for %g", ring.HeightM, k, rho, r.ThresholdVPerM, got[n-1].Rings[h].ByDirectionM[k], s.xs[n-1])
					}
				}
				if n > 0 && ring.AreaM2 > got[n-1].Rings[h].AreaM2*(1+1e-3) {
					t.Fatalf("area %g m² for %g, %g m² for %g", ring.AreaM2, r.ThresholdVPerM, got[n-1].Rings[h].AreaM2, s.xs[n-1])
				}
			}
			if n > 0 && (r.LargestM > got[n-1].LargestM*(1+1e-3) || r.HighestM > got[n-1].HighestM*(1+1e-3)) {
				t.Fatalf("largest %g and highest %g m for %g, %g and %g m for %g", r.LargestM, r.HighestM, r.ThresholdVPerM, got[n-1].LargestM, got[n-1].HighestM, s.xs[n-1])
			}
		}
	})
}

func magnitudeOf(f reach.Field, p point) float64 {
	e, err := reach.MagnitudeAt(f, p)
	if err != nil {
		panic(err)
	}
	return e
}

// Turned and shifted, a scene reaches as far. The turn exchanges every
// direction that is looked in, so that a lobe that is missed would show.
func TestTurnedAndShifted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t)
		turn := rapid.IntRange(0, 35).Draw(t, "turn")
		there := s.moved(2*math.Pi*float64(turn)/36, point{
			X: rapid.Float64Range(-50, 50).Draw(t, "east"), Y: rapid.Float64Range(-50, 50).Draw(t, "north"), Z: rapid.Float64Range(-2, 2).Draw(t, "up"),
		})
		a, err := reach.Ranges(s.field(), s.xs, s.search)
		if err != nil {
			t.Fatal(err)
		}
		b, err := reach.Ranges(there.field(), s.xs, there.search)
		if err != nil {
			t.Fatal(err)
		}
		for n := range a {
			same(t, "largest", a[n].LargestM, b[n].LargestM, 3e-3)
			same(t, "highest", a[n].HighestM, b[n].HighestM-there.search.Centre.Z, 3e-3)
			for h := range a[n].Rings {
				// Each is good to 1e-3, but for the tip of a lobe, where the area
				// vanishes faster than the field falls.
				if x, y := a[n].Rings[h].AreaM2, b[n].Rings[h].AreaM2; math.Abs(x-y) > 3e-5 {
					same(t, "area", x, y, 2e-3)
				}
			}
		}
	})
}

func same(t *rapid.T, what string, a, b, tol float64) {
	if math.IsNaN(a) != math.IsNaN(b) || math.Abs(a-b) > tol*math.Abs(a)+1e-6 {
		t.Fatalf("%s: %.8g and %.8g", what, a, b)
	}
}

// Directions turn with the field, one by one: two dipoles, a seventh of a round.
func TestDirectionsTurn(t *testing.T) {
	s := scene{
		at: []point{{}, {X: 0.5, Y: 0.1}}, moments: []vector{{X: moment}, {Y: moment}}, xs: []float64{5e-7},
		search: reach.Search{HeightsM: []float64{0.1}, Directions: 35, MostM: 2, HighestM: 5},
	}
	s.search.Sharp = s.at
	turned := s.moved(2*math.Pi/7, point{X: 3})
	a := ranges(t, s.field(), s.xs, s.search)[0].Rings[0]
	b := ranges(t, turned.field(), s.xs, turned.search)[0].Rings[0]
	for k := range a.ByDirectionM {
		near(t, fmt.Sprint("direction ", k), b.ByDirectionM[(k+5)%35], a.ByDirectionM[k], 2.5e-4)
	}
}

// The same question gives the same bits, and a threshold the same ones in any
// order of the thresholds.
func TestSameBits(t *testing.T) {
	f := sum(dipole(vector{X: moment}, point{}), dipole(vector{Z: moment}, point{X: 0.4}))
	s := still(reach.Search{HeightsM: []float64{0.05, 0.2}, Sharp: []point{{X: 0.4}}})
	a, b := ranges(t, f, []float64{5e-7, 2e-6}, s), ranges(t, f, []float64{2e-6, 5e-7}, s)
	for k := range a {
		x, y := fmt.Sprintf("%v", a[k]), fmt.Sprintf("%v", b[1-k])
		if x != y {
			t.Errorf("threshold %g:\n%s\n%s", a[k].ThresholdVPerM, x, y)
		}
	}
}

// Whatever the field says (holes, zeros, infinities, jumps), the answer is
// made of distances within reach and of NaN, and it comes.
func TestRoughFields(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Float64Range(1, 50).Draw(t, "seed")
		kind := rapid.IntRange(0, 4).Draw(t, "kind")
		f := each(func(p point) vector {
			v := math.Sin(seed*p.X) * math.Cos(seed*p.Y+p.Z) * 1e-6
			switch {
			case kind == 0 && v < 0:
				return vector{X: math.NaN()}
			case kind == 1:
				v = math.Floor(v*3e6) * 1e-6
			case kind == 2 && math.Abs(v) > 8e-7:
				return vector{Y: math.Inf(1)}
			case kind == 3:
				v = 0
			case kind == 4:
				v = 1e-7 / math.Abs(math.Mod(seed*(p.X+p.Y), 1)-0.5)
			}
			return vector{X: v}
		})
		s := reach.Search{
			HeightsM: []float64{0, 0.2}, Directions: 9, MostM: rapid.Float64Range(0.01, 3).Draw(t, "most"), HighestM: rapid.Float64Range(0, 3).Draw(t, "surface"),
			Centre: point{Z: rapid.Float64Range(-0.1, 0.1).Draw(t, "centre")}, Sharp: []point{{X: 0.3}}, MostPoints: 3000, Tolerance: 1e-3,
		}
		got, err := reach.Ranges(f, []float64{1e-7, 5e-7, 1e-6}, s)
		if err != nil {
			t.Fatal(err)
		}
		fine := func(x, most float64) bool { return math.IsNaN(x) || x >= 0 && x <= most*(1+1e-9) }
		for _, r := range got {
			if !(r.LargestM >= 0 && r.LargestM <= s.MostM*(1+1e-9)) || math.IsInf(r.HighestM, 0) || math.IsNaN(r.RelativeError) || math.IsInf(r.RelativeError, 0) {
				t.Fatalf("looking as far as %v: %+v", s.MostM, r)
			}
			for _, ring := range r.Rings {
				if !fine(ring.FarthestM, s.MostM) || !fine(ring.NearestM, s.MostM) || !(ring.AreaM2 >= 0 && ring.AreaM2 <= 1.001*math.Pi*s.MostM*s.MostM) || !(ring.UnsureM2 >= 0) {
					t.Fatalf("%+v", ring)
				}
				for _, rho := range ring.ByDirectionM {
					if !fine(rho, s.MostM) {
						t.Fatalf("%+v", ring)
					}
				}
			}
		}
	})
}

func BenchmarkRanges(b *testing.B) {
	els := conduction.Pair{SeparationM: 0.01}.Electrodes(6e-6)
	s := still(reach.Search{HeightsM: heights, Sharp: []point{els[0].At, els[1].At}})
	f, asked := dipole(vector{X: moment}, point{}), 0
	counted := func(dst []vector, points []point) error { asked += len(points); return f(dst, points) }
	for b.Loop() {
		ranges(b, counted, thresholds, s)
	}
	b.ReportMetric(float64(asked)/float64(b.N), "points/op")
}
