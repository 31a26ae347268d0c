package reach_test

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"

	"brinefield/core/conduction"
	"brinefield/core/reach"
)

type (
	point  = conduction.Point
	vector = conduction.Vector
)

const (
	sigma  = 4.5    // S/m
	moment = 1.2e-7 // A m
)

// thresholds are 1 to 1000 nV/cm, in V/m.
var thresholds = []float64{1e-7, 2e-7, 5e-7, 1e-6, 2e-6, 5e-6, 1e-5, 1e-4}

var heights = []float64{0, 0.01, 0.02, 0.05, 0.08, 0.1, 0.15, 0.2, 0.25, 0.3}

// dipole is the field of a dipole moment p (A m) in unbounded water:
// (3(p·r̂)r̂ − p)/(4πσr³). Source: any textbook of potential theory.
func dipole(p vector, at point) reach.Field {
	return each(func(q point) vector {
		r := vector{X: q.X - at.X, Y: q.Y - at.Y, Z: q.Z - at.Z}
		n := r.Norm()
		along := 3 * (p.X*r.X + p.Y*r.Y + p.Z*r.Z) / (n * n)
		return r.Scale(along).Sub(p).Scale(1 / (4 * math.Pi * sigma * n * n * n))
	})
}

// bell falls as exp(−r²/w²) from E0 = 1e-6 V/m at a place: it has a largest value.
func bell(at point, w float64) reach.Field {
	return each(func(q point) vector {
		r2 := (q.X-at.X)*(q.X-at.X) + (q.Y-at.Y)*(q.Y-at.Y) + (q.Z-at.Z)*(q.Z-at.Z)
		return vector{Y: 1e-6 * math.Exp(-r2/(w*w))}
	})
}

func each(at func(point) vector) reach.Field {
	return func(dst []vector, points []point) error {
		for k, p := range points {
			dst[k] = at(p)
		}
		return nil
	}
}

func sum(fields ...reach.Field) reach.Field {
	return func(dst []vector, points []point) error {
		clear(dst)
		part := make([]vector, len(dst))
		for _, f := range fields {
			if err := f(part, points); err != nil {
				return err
			}
			for k := range dst {
				dst[k] = dst[k].Add(part[k])
			}
		}
		return nil
	}
}

func magnitude(t testing.TB, f reach.Field, p point) float64 {
	t.Helper()
	e, err := reach.MagnitudeAt(f, p)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// outwards is an independent search on the line from a place in direction
// angle: the first distance at which the field is below x, by bisection of the
// first of many steps with a change; NaN where it is below x at the start.
func outwards(t testing.TB, f reach.Field, from point, angle, x, most float64) float64 {
	t.Helper()
	sin, cos := math.Sincos(angle)
	above := func(rho float64) bool {
		return magnitude(t, f, point{X: from.X + rho*cos, Y: from.Y + rho*sin, Z: from.Z}) >= x
	}
	const least = 1e-6
	if !above(least) {
		return math.NaN()
	}
	in, out := least, least
	for above(out) {
		if in, out = out, out+most/500; out > most {
			return most
		}
	}
	for range 60 {
		if mid := (in + out) / 2; above(mid) {
			in = mid
		} else {
			out = mid
		}
	}
	return in
}

func ranges(t testing.TB, f reach.Field, xs []float64, s reach.Search) []reach.Range {
	t.Helper()
	got, err := reach.Ranges(f, xs, s)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// near fails unless got is want to a relative tolerance; both may be NaN.
func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > tol*math.Abs(want) {
		t.Errorf("%s: got %.8g, want %.8g (to %g)", what, got, want, tol)
	}
}

func still(s reach.Search) reach.Search {
	if s.Directions == 0 {
		s.Directions = 72
	}
	if s.MostM == 0 {
		s.MostM = 2
	}
	if s.HighestM == 0 {
		s.HighestM = 8
	}
	return s
}

// A free dipole: |E| = p/(4πσr³)·√(1 + 3cos²θ). Largest on its axis at
// r = (2p/4πσx)^⅓, highest over its middle at (p/4πσx)^⅓ (z² is proportional
// to (1 + 3cos²θ)^⅓ sin²θ, which is largest at θ = 90°). By direction and
// area: that form by bisection, and ½∮ρ²dα by Gauss–Legendre quadrature.
func TestFreeDipole(t *testing.T) {
	f := dipole(vector{X: moment}, point{})
	for _, r := range ranges(t, f, thresholds, still(reach.Search{HeightsM: heights})) {
		unit := math.Cbrt(moment / (4 * math.Pi * sigma * r.ThresholdVPerM))
		near(t, "largest", r.LargestM, unit*math.Cbrt(2), 2e-4)
		near(t, "highest", r.HighestM, unit, 2e-4)
		near(t, "distance of At", math.Hypot(r.At.X, math.Hypot(r.At.Y, r.At.Z)), r.LargestM, 1e-12)
		near(t, "field at At", magnitude(t, f, r.At), r.ThresholdVPerM, 1e-3)
		if r.Beyond || !r.Found() || r.RelativeError > 1e-4 {
			t.Errorf("threshold %g: beyond %v, found %v, relative error %g", r.ThresholdVPerM, r.Beyond, r.Found(), r.RelativeError)
		}
		for _, ring := range r.Rings {
			from := point{Z: ring.HeightM}
			for k, got := range ring.ByDirectionM {
				near(t, "by direction", got, outwards(t, f, from, float64(k)*math.Pi/36, r.ThresholdVPerM, 2), 1.5e-4)
			}
			if math.IsNaN(ring.FarthestM) {
				if ring.AreaM2 != 0 {
					t.Errorf("an area of %g m² without a distance", ring.AreaM2)
				}
				continue
			}
			near(t, "area", ring.AreaM2, 2*quad.Fixed(func(a float64) float64 {
				rho := outwards(t, f, from, a, r.ThresholdVPerM, 2)
				return rho * rho / 2
			}, 0, math.Pi, 24, quad.Legendre{}, 0), 5e-4)
			near(t, "farthest", ring.FarthestM, ring.ByDirectionM[0], 1.5e-4)
			near(t, "nearest", ring.NearestM, ring.ByDirectionM[18], 1.5e-4)
		}
	}
}

// Two point electrodes 2a apart on an insulating bottom: all the current goes
// into the half-space above, E = I/(2πσ)·Σ ± r/r³. On the axis that is
// 2I·a·r/(πσ(r² − a²)²), and for r ≫ a the field is twice a free dipole's, the
// range ∛2 as far. Source: method of images. One pass must serve all of it.
func TestFlushPair(t *testing.T) {
	const current, a = 6e-6, 0.005
	els := conduction.Pair{SeparationM: 2 * a}.Electrodes(current)
	sol, err := conduction.Solve(conduction.Medium{WaterSPerM: sigma, DepthM: math.Inf(1)}, els, conduction.Options{})
	if err != nil {
		t.Fatal(err)
	}
	asked := 0
	f := func(dst []vector, points []point) error {
		asked += len(points)
		for k, p := range points {
			e, err := sol.FieldAt(p)
			if err != nil {
				e = vector{X: math.NaN()}
			}
			dst[k] = e
		}
		return nil
	}
	got := ranges(t, f, thresholds, still(reach.Search{HeightsM: heights, Sharp: []point{els[0].At, els[1].At}}))
	if asked > 15_000 { // 13 757 when this was written; each crossing by itself would be 40 000
		t.Errorf("%d points of the field asked for 8 thresholds, 10 heights and 72 directions", asked)
	}
	for _, r := range got {
		x := r.ThresholdVPerM
		axis := outwards(t, each(func(p point) vector {
			return vector{X: 2 * current * a * p.X / (math.Pi * sigma * math.Pow(p.X*p.X-a*a, 2))}
		}), point{X: 2 * a}, 0, x, 2) + 2*a
		near(t, "largest", r.LargestM, axis, 2e-4)
		near(t, "along the axis", r.Rings[0].ByDirectionM[0], axis, 1.5e-4)
		near(t, "against a free dipole", r.LargestM, math.Cbrt(2)*math.Cbrt(2*moment/2/(4*math.Pi*sigma*x)), 2*a*a/(axis*axis)+2e-4)
		image := each(func(p point) vector { // the closed form, everywhere
			e := vector{}
			for sign := -1.0; sign <= 1; sign += 2 {
				r := vector{X: p.X - sign*a, Y: p.Y, Z: p.Z}
				e = e.Add(r.Scale(sign * current / (2 * math.Pi * sigma) / math.Pow(r.Norm(), 3)))
			}
			return e
		})
		for _, h := range []int{3, 5, 9} {
			for k := 0; k < 72; k += 5 {
				near(t, "by direction", r.Rings[h].ByDirectionM[k], outwards(t, image, point{Z: heights[h]}, float64(k)*math.Pi/36, x, 2), 1.5e-4)
			}
		}
	}
}

// A pair in water over sediment: an image of strength (σ₁ − σ₂)/(σ₁ + σ₂) at
// the mirrored place. Source: method of images for two half-spaces.
func TestTwoHalfSpaces(t *testing.T) {
	const current, a, above, sediment = 20e-6, 0.025, 0.03, 1.2
	centre := point{X: 0.4, Y: -0.2, Z: above}
	els := conduction.Pair{Centre: centre, SeparationM: 2 * a, AzimuthDeg: 90}.Electrodes(current)
	m := conduction.Medium{WaterSPerM: sigma, DepthM: math.Inf(1), Layers: []conduction.Layer{{ThicknessM: math.Inf(1), SPerM: sediment}}}
	sol, err := conduction.Solve(m, els, conduction.Options{})
	if err != nil {
		t.Fatal(err)
	}
	image := each(func(p point) vector {
		e := vector{}
		for sign := -1.0; sign <= 1; sign += 2 {
			for up, k := range map[float64]float64{above: 1, -above: (sigma - sediment) / (sigma + sediment)} {
				r := vector{X: p.X - centre.X, Y: p.Y - centre.Y - sign*a, Z: p.Z - up}
				e = e.Add(r.Scale(sign * k * current / (4 * math.Pi * sigma) / math.Pow(r.Norm(), 3)))
			}
		}
		return e
	})
	s := still(reach.Search{Centre: centre, HeightsM: []float64{0, 0.1, 0.2}, Directions: 24, Sharp: []point{els[0].At, els[1].At}})
	for _, r := range ranges(t, sol.Fields, []float64{5e-7, 2e-6}, s) {
		for _, ring := range r.Rings {
			for k, got := range ring.ByDirectionM {
				near(t, "by direction", got, outwards(t, image, point{X: centre.X, Y: centre.Y, Z: ring.HeightM}, float64(k)*math.Pi/12, r.ThresholdVPerM, 2), 1.5e-4)
			}
			if ring.FarthestM > r.LargestM*(1+2e-4) {
				t.Errorf("at %g m it reaches %g m, more than the largest, %g m", ring.HeightM, ring.FarthestM, r.LargestM)
			}
		}
		near(t, "field at At", magnitude(t, image, r.At), r.ThresholdVPerM, 1e-3)
	}
}

// Two dipoles 1 m apart: each has its island. Along the line between them the
// reach ends behind the second. Each island is star-shaped about its own
// dipole, so that its area is ½∮ρ²dα about that.
func TestIsland(t *testing.T) {
	second := point{X: 0.9, Y: 0.4}
	f := sum(dipole(vector{X: moment}, point{}), dipole(vector{X: -0.4 * moment, Y: 0.5 * moment}, second))
	const h = 0.05
	angle := math.Atan2(second.Y, second.X)
	// Direction 0 goes through the second dipole: the frame is turned.
	turned := each(func(p point) vector {
		sin, cos := math.Sincos(angle)
		var e [1]vector
		if err := f(e[:], []point{{X: p.X*cos - p.Y*sin, Y: p.X*sin + p.Y*cos, Z: p.Z}}); err != nil {
			t.Fatal(err)
		}
		return e[0]
	})
	far := math.Hypot(second.X, second.Y)
	s := still(reach.Search{HeightsM: []float64{h}, Sharp: []point{{X: far}}})
	for _, r := range ranges(t, turned, []float64{5e-7, 1e-6, 4e-6}, s) {
		ring := r.Rings[0]
		near(t, "behind the second", ring.ByDirectionM[0], far+outwards(t, turned, point{X: far, Z: h}, 0, r.ThresholdVPerM, 2), 1.5e-4)
		near(t, "away from it", ring.ByDirectionM[36], outwards(t, turned, point{Z: h}, math.Pi, r.ThresholdVPerM, 2), 1.5e-4)
		area := 0.0
		for _, c := range []point{{Z: h}, {X: far, Z: h}} {
			area += quad.Fixed(func(a float64) float64 {
				rho := outwards(t, turned, c, a, r.ThresholdVPerM, 2)
				return rho * rho / 2
			}, 0, 2*math.Pi, 200, quad.Legendre{}, 0)
		}
		near(t, "area of both", ring.AreaM2, area, 1e-3)
		if r.LargestM < ring.ByDirectionM[0]*(1-2e-4) {
			t.Errorf("the largest is %g m, but at %g m it reaches %g m", r.LargestM, h, ring.ByDirectionM[0])
		}
	}
}

// A bell has a largest value E0: r = w√ln(E0/x) below, nothing above it.
func TestNothingAboveTheLargestField(t *testing.T) {
	const w = 0.3
	xs := []float64{1.01e-6, 5e-7, 1}
	got := ranges(t, bell(point{Z: 0.1}, w), xs, still(reach.Search{Centre: point{Z: 0.1}, HeightsM: []float64{0.1, 0.3}, Directions: 5}))
	near(t, "largest", got[1].LargestM, w*math.Sqrt(math.Ln2), 2e-4)
	near(t, "highest", got[1].HighestM, 0.1+w*math.Sqrt(math.Ln2), 2e-4)
	rho := math.Sqrt(w*w*math.Ln2 - 0.04)
	near(t, "area", got[1].Rings[1].AreaM2, math.Pi*rho*rho, 5e-4)
	for _, r := range []reach.Range{got[0], got[2]} {
		if r.Found() || r.LargestM != 0 || r.At != (point{Z: 0.1}) || !math.IsNaN(r.HighestM) || r.Beyond {
			t.Errorf("threshold %g: found something: %+v", r.ThresholdVPerM, r)
		}
		for _, ring := range r.Rings {
			if ring.AreaM2 != 0 || !math.IsNaN(ring.FarthestM) || !math.IsNaN(ring.NearestM) || !math.IsNaN(ring.ByDirectionM[4]) {
				t.Errorf("threshold %g: a ring that is not empty: %+v", r.ThresholdVPerM, ring)
			}
		}
	}
}

// An even field reaches as far as one looks, and that is said.
func TestBeyond(t *testing.T) {
	f := each(func(point) vector { return vector{Z: 1e-6} })
	s := reach.Search{HeightsM: []float64{0.3, 3, -1}, Directions: 8, MostM: 0.5, HighestM: 0.4}
	r := ranges(t, f, []float64{1e-7}, s)[0]
	if !r.Beyond {
		t.Error("not said to reach beyond")
	}
	near(t, "largest", r.LargestM, 0.5, 1e-9)
	near(t, "highest", r.HighestM, 0.4, 1e-9)
	near(t, "ring", r.Rings[0].ByDirectionM[3], 0.4, 1e-9) // 3-4-5
	near(t, "area", r.Rings[0].AreaM2, math.Pi*0.16, 1e-9)
	for _, ring := range r.Rings[1:] { // too far off; outside the water
		if ring.AreaM2 != 0 || !math.IsNaN(ring.FarthestM) {
			t.Errorf("a ring at %g m: %+v", ring.HeightM, ring)
		}
	}
}

// An upright cylinder of radius b, in which there is no field, in a bell of
// radius r: its area is missing. Behind a body that straddles the edge there
// is nothing; the reach ends at its near face.
func TestBody(t *testing.T) {
	const w, b = 0.5, 0.1
	free := bell(point{}, w)
	r := w * math.Sqrt(math.Ln2) // 0.416 m at half the largest field
	body := func(x float64) reach.Field {
		return func(dst []vector, points []point) error {
			if err := free(dst, points); err != nil {
				return err
			}
			for k, p := range points {
				if math.Hypot(p.X-x, p.Y) < b {
					dst[k] = vector{X: math.NaN(), Y: math.NaN(), Z: math.NaN()}
				}
			}
			return nil
		}
	}
	s := still(reach.Search{HeightsM: []float64{0}})
	ring := ranges(t, body(0.25), []float64{5e-7}, s)[0].Rings[0]
	want := math.Pi * (r*r - b*b)
	near(t, "area round a body", ring.AreaM2, want, 5e-3)
	if ring.UnsureM2 <= 0 || math.Abs(ring.AreaM2-want) > ring.UnsureM2 {
		t.Errorf("area %g m² for %g m², unsure of only %g m²", ring.AreaM2, want, ring.UnsureM2)
	}
	near(t, "beyond the body", ring.ByDirectionM[0], r, 1.5e-4)
	ring = ranges(t, body(0.4), []float64{5e-7}, s)[0].Rings[0]
	near(t, "up to the body", ring.ByDirectionM[0], 0.3, 1.5e-4)
	near(t, "on the other side", ring.ByDirectionM[36], r, 1.5e-4)
}

func TestStops(t *testing.T) {
	f := dipole(vector{X: moment}, point{})
	calls := 0
	s := still(reach.Search{HeightsM: heights})
	for after := range 12 {
		calls = 0
		s.Stop = func() bool { calls++; return calls > after }
		if _, err := reach.Ranges(f, thresholds, s); !errors.Is(err, conduction.ErrStopped) || calls != after+1 {
			t.Fatalf("stopped after %d questions: error %v, asked %d times", after, err, calls)
		}
	}
	bad := errors.New("no field today")
	if _, err := reach.Ranges(func([]vector, []point) error { return bad }, thresholds, still(reach.Search{})); !errors.Is(err, bad) {
		t.Errorf("the field's own error is lost: %v", err)
	}
}
